"""Which size, which converter, which engine: questions asked the other way round."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from converter_match.api.door import (
    Quantity,
    in_si,
    named_quantities,
    pair_of,
    part,
    route_of,
    where_of,
)
from converter_match.errors import InputError
from converter_match.library.files import FilePath

if TYPE_CHECKING:
    from converter_match.components.converter import Converter
    from converter_match.components.driveline import Driveline
    from converter_match.components.engine import Engine
    from converter_match.components.machine import Machine
    from converter_match.components.route import Route
    from converter_match.components.site import Site
    from converter_match.judgement.sizing.engine_wanted import TorqueWanted
    from converter_match.judgement.sizing.limits import TrialLimits
    from converter_match.judgement.sizing.size import Size
    from converter_match.judgement.sizing.trials import Trials

# Limit of a trial -> its dimension.
_LIMITS = {
    "oil_temperature": "temperature",
    "input_torque": "torque",
    "input_power": "power",
    "turbine_torque": "torque",
    "stall_speed_least": "angular_speed",
    "stall_speed_most": "angular_speed",
}


def size(
    engine: Engine,
    converter: Converter,
    engine_speed: Quantity,
    *,
    speed_ratio: float = 0.0,
    efficiency: Quantity | None = None,
    site: Site | None = None,
    hydraulic_torque: Quantity = 0.0,
) -> Size:
    """Find the size of converter with which the engine settles at a wanted speed.

    Parameters
    ----------
    engine : Engine
    converter : Converter
        Gives the family: torque ratio and the shape of the capacity.
    engine_speed : float or str
        Wanted: [rad/s], or a text with its unit.
    speed_ratio : float
        At which it is wanted; 0 is stall.
    efficiency : float or str, optional
        In place of a speed ratio: where, from stall, this efficiency is first reached; 0 to 1, or a
        text in percent.
    site : Site, optional
    hydraulic_torque : float or str
        Taken at the flywheel: [N.m], or a text with its unit.

    Returns
    -------
    Size
        Profile diameter, converter and match; a reason in words where there is no such size.

    Raises
    ------
    InputError
        If the speed is not above zero, the speed ratio lies outside the converter's data, or both
        a speed ratio and an efficiency are given.

    Examples
    --------
    >>> import converter_match as cm
    >>> engine, converter = cm.read("six-cylinder-7l-185kw", "single-stage-345mm-tight")
    >>> sized = cm.size(engine, converter, "1900 rpm")
    >>> round(1000 * sized.diameter)
    335
    """
    from converter_match.judgement.sizing.size import size_for_efficiency, size_for_speed

    speed = in_si(engine_speed, "angular_speed", "engine_speed")
    speed_ratio = in_si(speed_ratio, "ratio", "speed_ratio")
    pair, where = pair_of(engine, converter), where_of(site, hydraulic_torque)
    if efficiency is None:
        return size_for_speed(*pair, speed, speed_ratio=speed_ratio, **where)
    if speed_ratio != 0.0:
        raise InputError(
            "wanted at a speed ratio and at an efficiency",
            field="efficiency",
            expected="one or the other",
        )
    level = in_si(efficiency, "ratio", "efficiency")
    return size_for_efficiency(*pair, speed, level=level, **where)


def engine_wanted(
    engine: Engine,
    converter: Converter,
    stall_speed: Quantity | None = None,
    *,
    site: Site | None = None,
    hydraulic_torque: Quantity = 0.0,
) -> TorqueWanted:
    """Find what engine torque a converter wants at stall, against what the engine has.

    Parameters
    ----------
    engine : Engine
    converter : Converter
    stall_speed : float or str, optional
        Wanted with the converter as it is: [rad/s], or a text with its unit.
    site : Site, optional
    hydraulic_torque : float or str
        Taken at the flywheel: [N.m], or a text with its unit.

    Returns
    -------
    TorqueWanted
        The torque that is missing or left, and speeds at which the engine is too weak to pull
        through.

    Raises
    ------
    InputError
        If one of them is no such part, or the speed lies outside the engine's.

    Examples
    --------
    >>> import converter_match as cm
    >>> engine, converter = cm.read("six-cylinder-7l-185kw", "single-stage-345mm-tight")
    >>> wanted = cm.engine_wanted(engine, converter, "1900 rpm")
    >>> wanted.torque_factor > 1
    True
    """
    from converter_match.judgement.sizing.engine_wanted import torque_wanted

    speed = None if stall_speed is None else in_si(stall_speed, "angular_speed", "stall_speed")
    return torque_wanted(*pair_of(engine, converter), speed, **where_of(site, hydraulic_torque))


def try_on_route(
    engine: Engine,
    converters: Iterable[Converter],
    driveline: Driveline,
    machine: Machine,
    route: Route | FilePath,
    *,
    limits: Mapping[str, Quantity] | None = None,
    site: Site | None = None,
    hydraulic_torque: Quantity = 0.0,
) -> Trials:
    """Run converters along a route behind one engine, and rank them.

    Parameters
    ----------
    engine : Engine
    converters : iterable of Converter
    driveline : Driveline
    machine : Machine
    route : Route, str or path-like
        A route, its file, or the id of a shipped one.
    limits : mapping, optional
        To be kept, beside those of the components: ``oil_temperature``, ``input_torque``,
        ``input_power``, ``turbine_torque``, ``stall_speed_least``, ``stall_speed_most``.
    site : Site, optional
    hydraulic_torque : float or str
        Taken at the flywheel: [N.m], or a text with its unit.

    Returns
    -------
    Trials
        The quickest that keeps the limits first; `figures.trials` draws them.

    Raises
    ------
    InputError
        If one of them is no such part, there is no such route or limit, or there is no converter.

    Examples
    --------
    >>> import converter_match as cm
    >>> engine, line, truck = cm.read(
    ...     "six-cylinder-9l-240kw", "six-speed-hauler", "articulated-hauler-25t"
    ... )
    >>> few = cm.read("single-stage-390mm-full-range", "single-stage-420mm")
    >>> trials = cm.try_on_route(engine, few, line, truck, "quarry-to-crusher")
    >>> len(trials.trials)
    2
    """
    from converter_match.components.converter import Converter
    from converter_match.components.driveline import Driveline
    from converter_match.components.engine import Engine
    from converter_match.components.machine import Machine
    from converter_match.judgement.sizing.trials import try_converters

    tried = [part(each, Converter, "converters") for each in converters]
    return try_converters(
        part(engine, Engine, "engine"),
        [(each.id, each) for each in tried],
        part(driveline, Driveline, "driveline"),
        part(machine, Machine, "machine"),
        route_of(route),
        limits=_limits(limits),
        **where_of(site, hydraulic_torque),
    )


def size_on_route(
    engine: Engine,
    converter: Converter,
    driveline: Driveline,
    machine: Machine,
    route: Route | FilePath,
    *,
    diameters: tuple[Quantity, Quantity] | None = None,
    limits: Mapping[str, Quantity] | None = None,
    site: Site | None = None,
    hydraulic_torque: Quantity = 0.0,
) -> Trials:
    """Find the size of a family that is quickest along a route within heat and limits.

    Parameters
    ----------
    engine : Engine
    converter : Converter
        Gives the family; its profile diameter has to be known.
    driveline : Driveline
    machine : Machine
    route : Route, str or path-like
        A route, its file, or the id of a shipped one.
    diameters : tuple of two float or str, optional
        Profile diameters to stay within: [m], or texts with their unit; 10 % either way without.
    limits, site, hydraulic_torque
        As for `try_on_route`.

    Returns
    -------
    Trials
        The quickest that keeps the limits first; `figures.trials` draws them.

    Raises
    ------
    InputError
        If one of them is no such part, the diameter of the converter is not known, or as
        `try_on_route`.

    Examples
    --------
    >>> import converter_match as cm
    >>> parts = cm.read(
    ...     "six-cylinder-9l-240kw", "single-stage-390mm-full-range", "six-speed-hauler",
    ...     "articulated-hauler-25t",
    ... )
    >>> trials = cm.size_on_route(*parts, "quarry-to-crusher", diameters=("370 mm", "410 mm"))
    >>> 0.370 <= trials.winner.converter.profile_diameter <= 0.410
    True
    """
    from converter_match.components.driveline import Driveline
    from converter_match.components.machine import Machine
    from converter_match.judgement.sizing.trials import DIAMETERS, best_size

    drives, family = pair_of(engine, converter)
    span = DIAMETERS
    if diameters is not None:
        if family.profile_diameter is None:
            raise InputError(
                "its diameter is not known, so no range of diameters can be kept",
                source=family.id,
                field="profile_diameter",
            )
        low, high = (
            in_si(each, "length", "diameters") / family.profile_diameter for each in diameters
        )
        span = (low, high)
    return best_size(
        drives,
        family,
        part(driveline, Driveline, "driveline"),
        part(machine, Machine, "machine"),
        route_of(route),
        diameters=span,
        limits=_limits(limits),
        **where_of(site, hydraulic_torque),
    )


def _limits(given: Mapping[str, Quantity] | None) -> TrialLimits:
    from converter_match.judgement.sizing.limits import TrialLimits

    return TrialLimits(**named_quantities(given, _LIMITS, "limits"))
