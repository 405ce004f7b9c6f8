"""Engine and converter together, and whatever stands between them."""

from __future__ import annotations

from typing import TYPE_CHECKING, overload

from converter_match.api.door import (
    Quantity,
    duty_of,
    in_si,
    numbers,
    optional,
    pair_of,
    part,
    quantities,
    where_of,
)
from converter_match.errors import InputError
from converter_match.library.files import FilePath

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import ArrayLike

    from converter_match.components.arrangement import Arrangement
    from converter_match.components.blading import BladingGeometry, Mounting
    from converter_match.components.converter import Converter
    from converter_match.components.duty_points import DutyPoints
    from converter_match.components.engine import Engine
    from converter_match.components.motor import Motor
    from converter_match.components.site import Site
    from converter_match.judgement.arrangement.solve import ArrangedResult
    from converter_match.judgement.match.duty import DutyResult
    from converter_match.judgement.match.governed import GovernedLower
    from converter_match.judgement.match.result import MatchResult
    from converter_match.judgement.motor.result import MotorMatch
    from converter_match.physics.converter.velocity_triangles import VelocityTriangles
    from converter_match.physics.match.match_set import MatchSet
    from converter_match.physics.match.turbine_speed import TurbineMatches

_SPEED_RATIO = (-1e3, 1e3)
# Times the no-load speed: no turbine of such a pair turns faster, and rpm read as rad/s does.
_FASTEST = 3.0


@overload
def solve(
    engine: Engine,
    converter: Converter,
    *,
    site: Site | None = None,
    hydraulic_torque: Quantity = 0.0,
    voltage: None = None,
) -> MatchResult: ...


@overload
def solve(
    engine: Motor,
    converter: Converter,
    *,
    site: Site | None = None,
    hydraulic_torque: Quantity = 0.0,
    voltage: Quantity | None = None,
) -> MotorMatch: ...


def solve(
    engine: Engine | Motor,
    converter: Converter,
    *,
    site: Site | None = None,
    hydraulic_torque: Quantity = 0.0,
    voltage: Quantity | None = None,
) -> MatchResult | MotorMatch:
    """Match an engine, or an electric motor, with a converter at full load.

    Parameters
    ----------
    engine : Engine or Motor
    converter : Converter
    site : Site, optional
        Where they work; without one the engine's own reference air, and no correction.
    hydraulic_torque : float or str
        Taken at the flywheel by implement pumps: [N.m], or a text with its unit.
    voltage : float or str, optional
        Of a motor's supply: [V], or a text with its unit; the nominal one without.

    Returns
    -------
    MatchResult or MotorMatch
        Stall, coupling point, working range, governed limit (of a motor its speed limit), every
        point between, and every assumption and warning; of a motor at its peak and at its
        continuous torque.

    Raises
    ------
    InputError
        If one of them is no such part, or the converter's data cannot be matched.

    Examples
    --------
    >>> import converter_match as cm
    >>> engine, converter = cm.read("six-cylinder-7l-185kw", "single-stage-345mm-tight")
    >>> match = cm.solve(engine, converter, site=cm.Site.at("500 m"), hydraulic_torque="50 N.m")
    >>> round(cm.from_si(match.stall.engine_speed, "rpm", "angular_speed"))
    1780
    >>> motor, converter = cm.read("lift-truck-80v-30kw", "single-stage-260mm")
    >>> match = cm.solve(motor, converter, voltage="72 V")
    >>> [round(one.stall.input_torque) for one in (match.peak, match.continuous)]
    [208, 127]
    """
    from converter_match.components.motor import Motor

    if isinstance(engine, Motor):
        from converter_match.components.converter import Converter
        from converter_match.judgement.motor.solve import solve_motor

        volts = None if voltage is None else in_si(voltage, "voltage", "voltage")
        return solve_motor(
            engine,
            part(converter, Converter, "converter"),
            voltage=volts,
            **where_of(site, hydraulic_torque),
        )
    from converter_match.judgement.match.solve import solve

    if voltage is not None:
        raise InputError("goes with a motor only", field="voltage", found=voltage)
    return solve(*pair_of(engine, converter), **where_of(site, hydraulic_torque))


def arrange(
    engine: Engine,
    converter: Converter,
    arrangement: Arrangement,
    *,
    site: Site | None = None,
    hydraulic_torque: Quantity = 0.0,
    blading: BladingGeometry | None = None,
) -> ArrangedResult:
    """Match an engine with a converter in an arrangement: clutches, torque divider, stator, pumps.

    Parameters
    ----------
    engine : Engine
    converter : Converter
    arrangement : Arrangement
    site : Site, optional
    hydraulic_torque : float or str
        Taken at the flywheel: [N.m], or a text with its unit.
    blading : BladingGeometry, optional
        Of the converter, such as `blading_for` gives: what its capacity becomes without the stator
        is worked out from the blades then.

    Returns
    -------
    ArrangedResult
        The match as arranged, and what each part of the arrangement does.

    Raises
    ------
    InputError
        If one of them is no such part, or the arrangement needs data that they do not give.

    Examples
    --------
    >>> import converter_match as cm
    >>> parts = cm.read(
    ...     "six-cylinder-15l-400kw", "single-stage-390mm-full-range", "dozer-torque-divider"
    ... )
    >>> dozer = cm.arrange(*parts)
    >>> [block.name for block in dozer.parts]
    ['torque_divider']
    """
    from converter_match.components.arrangement import Arrangement
    from converter_match.components.blading import BladingGeometry
    from converter_match.judgement.arrangement.solve import solve_arranged

    return solve_arranged(
        *pair_of(engine, converter),
        part(arrangement, Arrangement, "arrangement"),
        **where_of(site, hydraulic_torque),
        blading=optional(blading, BladingGeometry, "blading"),
    )


def over_duty(match: MatchResult, duty: DutyPoints | FilePath) -> DutyResult:
    """Run a pair over a duty: shares of the time at turbine speeds or speed ratios.

    Parameters
    ----------
    match : MatchResult
    duty : DutyPoints, str or path-like
        From `read`, a CSV file, or the id of a shipped one.

    Returns
    -------
    DutyResult
        Mean output power, efficiency, heat and fuel, and every point.

    Raises
    ------
    InputError
        If one of them is no such thing, or the shares do not add up to one.

    Examples
    --------
    >>> import converter_match as cm
    >>> match = cm.solve(*cm.read("six-cylinder-7l-185kw", "single-stage-345mm-tight"))
    >>> done = cm.over_duty(match, "loader-loading-shift")
    >>> done.mean_output_power < match.greatest_output
    True
    """
    from converter_match.judgement.match.duty import over_duty
    from converter_match.judgement.match.result import MatchResult

    return over_duty(part(match, MatchResult, "match"), duty_of(duty))


def governed_lower(match: MatchResult, high_idle: Iterable[Quantity]) -> GovernedLower:
    """Match a pair at lower settings of the governor, with fuel, and judge whether it suits.

    Parameters
    ----------
    match : MatchResult
        At the full setting.
    high_idle : iterable of (float or str)
        High idle turned down to: [rad/s], or texts with their unit.

    Returns
    -------
    GovernedLower

    Raises
    ------
    InputError
        If the engine is not governed by speed, or one is no setting of its governor.

    Examples
    --------
    >>> import converter_match as cm
    >>> match = cm.solve(*cm.read("six-cylinder-7l-185kw", "single-stage-345mm-tight"))
    >>> lower = cm.governed_lower(match, ["2200 rpm", "1800 rpm"])
    >>> [not setting.against for setting in lower.settings]
    [True, True, False]
    """
    from converter_match.judgement.match.governed import governed_lower
    from converter_match.judgement.match.result import MatchResult

    speeds = quantities(high_idle, "angular_speed", "high_idle")
    return governed_lower(part(match, MatchResult, "match"), speeds)


def from_blading(blading: BladingGeometry, *, mounting: Mounting | None = None) -> Converter:
    """Estimate the characteristic that blade angles lead to.

    Parameters
    ----------
    blading : BladingGeometry
    mounting : {"one-way", "fixed"}, optional
        Of the stator; as the blading says without.

    Returns
    -------
    Converter
        With a note that says what the estimate leaves out.

    Raises
    ------
    InputError
        If it is no blading, or no oil circulates at stall.

    Examples
    --------
    >>> import converter_match as cm
    >>> cm.from_blading(cm.read("loader-390mm"), mounting="fixed").stator
    'fixed'
    """
    from converter_match.components.blading import BladingGeometry
    from converter_match.physics.converter.blading import characteristic_from_blading

    geometry = part(blading, BladingGeometry, "blading")
    return characteristic_from_blading(geometry, mounting=mounting)


def blading_for(converter: Converter, like: BladingGeometry) -> BladingGeometry:
    """Estimate blades that give the stall torque ratio, capacity and coupling point of a sheet.

    Parameters
    ----------
    converter : Converter
        With a one-way stator, stall and coupling point in its data.
    like : BladingGeometry
        The shape to start from.

    Returns
    -------
    BladingGeometry
        With a note that says it is an estimate.

    Raises
    ------
    InputError
        If one of them is no such part, the sheet lacks one of the three, or no such blades within
        usual angles give them.

    Examples
    --------
    >>> import converter_match as cm
    >>> sheet = cm.read("single-stage-360mm")
    >>> blades = cm.blading_for(sheet, cm.read("loader-390mm"))
    >>> estimate = cm.from_blading(blades)
    >>> round(float(estimate.torque_ratio_at(0.0)), 2), float(sheet.torque_ratio_at(0.0))
    (2.1, 2.1)
    """
    from converter_match.components.blading import BladingGeometry
    from converter_match.components.converter import Converter
    from converter_match.physics.converter.blading_for_sheet import blading_for_sheet

    sheet = part(converter, Converter, "converter")
    return blading_for_sheet(part(like, BladingGeometry, "like"), sheet).geometry


def velocity_triangles(
    blading: BladingGeometry, speed_ratio: float, impeller_speed: Quantity
) -> VelocityTriangles:
    """Work out the velocities of the oil at the exits of impeller, turbine and stator.

    Parameters
    ----------
    blading : BladingGeometry
    speed_ratio : float
        Turbine speed / impeller speed.
    impeller_speed : float or str
        [rad/s], or a text with its unit.

    Returns
    -------
    VelocityTriangles
        Drawn by `figures.velocity_triangles`.

    Raises
    ------
    InputError
        If it is no blading, or the speed is not above zero.

    Examples
    --------
    >>> import converter_match as cm
    >>> triangles = cm.velocity_triangles(cm.read("loader-390mm"), 0.0, "1800 rpm")
    >>> [each.row for each in triangles.triangles]
    ['impeller', 'turbine', 'stator']
    """
    from converter_match.components.blading import BladingGeometry
    from converter_match.physics.converter.velocity_triangles import velocity_triangles

    geometry = part(blading, BladingGeometry, "blading")
    speed = in_si(impeller_speed, "angular_speed", "impeller_speed")
    ratio = float(numbers(in_si(speed_ratio, "ratio", "speed_ratio"), "speed_ratio", *_SPEED_RATIO))
    return velocity_triangles(geometry, ratio, speed)


def points_at_turbine_speed(match: MatchResult, turbine_speed: ArrayLike) -> TurbineMatches:
    """Find every point at which the turbine has a given speed, over arrays.

    Parameters
    ----------
    match : MatchResult
    turbine_speed : array-like of float, any shape
        [rad/s].

    Returns
    -------
    TurbineMatches
        All matches, axis 0 by rising engine speed: which are stable at that turbine speed, which
        one a machine runs at that has come up from standstill (`coming_up`), and which one that is
        being slowed down (`coming_down`); `TurbineMatches.reached` picks one of the two. SI units.

    Raises
    ------
    InputError
        If it is no match, or a speed is beyond three times the engine's no-load speed.

    Examples
    --------
    >>> import converter_match as cm
    >>> match = cm.solve(*cm.read("six-cylinder-7l-185kw", "single-stage-345mm-tight"))
    >>> found = cm.points_at_turbine_speed(match, [0.0, 150.0])
    >>> found.count.tolist()
    [1, 1]
    >>> cm.from_si(found.reached("up").engine_speed, "rpm", "angular_speed").round().tolist()
    [1806.0, 1892.0]
    """
    from converter_match.judgement.match.result import MatchResult
    from converter_match.physics.match.turbine_speed import matches_at_turbine_speed

    pair = part(match, MatchResult, "match")
    fastest = _FASTEST * pair.engine.high_idle
    speeds = numbers(turbine_speed, "turbine_speed", -fastest, fastest, "rad/s")
    return matches_at_turbine_speed(pair.supply, pair.converter, speeds)


def points(match: MatchResult, speed_ratio: ArrayLike) -> MatchSet:
    """Find every point at which engine and converter run together, over arrays.

    Parameters
    ----------
    match : MatchResult
    speed_ratio : array-like of float, any shape
        Turbine speed / engine speed, within the converter's data.

    Returns
    -------
    MatchSet
        All intersections, axis 0 by rising engine speed, which of them are stable;
        `MatchSet.from_idle` is the one that an engine coming up from idle takes. SI units.

    Raises
    ------
    InputError
        If it is no match, or a speed ratio lies outside the data.

    Examples
    --------
    >>> import converter_match as cm
    >>> match = cm.solve(*cm.read("six-cylinder-7l-185kw", "single-stage-345mm-tight"))
    >>> found = cm.points(match, [0.0, 0.5]).from_idle()
    >>> cm.from_si(found.engine_speed, "rpm", "angular_speed").round().tolist()
    [1806.0, 1831.0]
    """
    from converter_match.judgement.match.result import MatchResult
    from converter_match.physics.match.solver import match as intersections

    pair = part(match, MatchResult, "match")
    ratios = numbers(speed_ratio, "speed_ratio", *_SPEED_RATIO)
    return intersections(pair.supply, pair.converter, ratios)
