"""Loads that are no vehicle, and converters that can be adjusted."""

from __future__ import annotations

from typing import TYPE_CHECKING, overload

from converter_match.api.door import Quantity, in_si, load_of, part
from converter_match.library.files import FilePath

if TYPE_CHECKING:
    from converter_match.components.converter import Converter
    from converter_match.components.load import ShaftLoad
    from converter_match.judgement.arrangement.solve import ArrangedResult
    from converter_match.judgement.load.family import OverSettings
    from converter_match.judgement.load.load import LoadResult
    from converter_match.judgement.match.result import MatchResult
    from converter_match.judgement.motor.load import MotorLoad
    from converter_match.judgement.motor.result import MotorMatch


@overload
def over_load(match: MatchResult | ArrangedResult, load: ShaftLoad | FilePath) -> LoadResult: ...


@overload
def over_load(match: MotorMatch, load: ShaftLoad | FilePath) -> MotorLoad: ...


def over_load(
    match: MatchResult | ArrangedResult | MotorMatch, load: ShaftLoad | FilePath
) -> LoadResult | MotorLoad:
    """Put a load that is no vehicle on the turbine shaft: winch, pump, propeller, conveyor, table.

    Parameters
    ----------
    match : MatchResult, ArrangedResult or MotorMatch
        Of an arrangement with two on one shaft the load is on that shaft.
    load : ShaftLoad, str or path-like
        From `read`, a file, or the id of a shipped one.

    Returns
    -------
    LoadResult or MotorLoad
        Every speed at which it runs and whether it is stable, whether it starts and how long that
        takes; of a hanging load what throttle holds it, and how it is lowered. Behind the match in
        `match.with_beside(...)` it stands in the overlay.

    Raises
    ------
    InputError
        If it is no match or no load, or a hanging load pulls the turbine backwards, for which the
        converter has no data.

    Examples
    --------
    >>> import converter_match as cm
    >>> match = cm.solve(*cm.read("six-cylinder-7l-185kw", "single-stage-345mm-tight"))
    >>> done = cm.over_load(match, "quarry-drain-pump")
    >>> done.starts, round(cm.from_si(done.carried[0].turbine_speed, "rpm", "angular_speed"))
    (True, 1924)
    """
    from converter_match.judgement.arrangement.solve import ArrangedResult
    from converter_match.judgement.load.load import over_load
    from converter_match.judgement.match.result import MatchResult
    from converter_match.judgement.motor.result import MotorMatch

    if isinstance(match, MotorMatch):
        from converter_match.judgement.motor.load import motor_over_load

        return motor_over_load(match, load_of(load))
    if isinstance(match, ArrangedResult):
        return over_load(match.match, load_of(load), match.units)
    return over_load(part(match, MatchResult, "match"), load_of(load))


def at_setting(converter: Converter, setting: Quantity) -> Converter:
    """Set an adjustable converter: stator angle, filling, or whatever its family is over.

    Parameters
    ----------
    converter : Converter
    setting : float
        In the unit of its family, ``converter.adjustment.unit``.

    Returns
    -------
    Converter
        At that setting, with a note where it is interpolated.

    Raises
    ------
    InputError
        If it is no converter, is not adjustable, or there are no data for the setting.

    Examples
    --------
    >>> import converter_match as cm
    >>> converter = cm.read("adjustable-stator-365mm")
    >>> round(cm.at_setting(converter, 20).coupling, 3)
    0.767
    """
    from converter_match.components.converter import Converter
    from converter_match.components.converter_family import at_setting

    return at_setting(part(converter, Converter, "converter"), in_si(setting, "ratio", "setting"))


def over_settings(match: MatchResult, load: ShaftLoad | FilePath | None = None) -> OverSettings:
    """Match a pair at every setting of its adjustable converter.

    Parameters
    ----------
    match : MatchResult
        In whose air, and with whose hydraulics, the others run.
    load : ShaftLoad, str or path-like, optional
        On the turbine shaft: the speed that it comes to at each setting.

    Returns
    -------
    OverSettings

    Raises
    ------
    InputError
        If it is no match, no load, or the converter is not adjustable.

    Examples
    --------
    >>> import converter_match as cm
    >>> match = cm.solve(*cm.read("six-cylinder-7l-185kw", "adjustable-stator-365mm"))
    >>> [one.setting for one in cm.over_settings(match).each]
    [0.0, 15.0, 30.0]
    """
    from converter_match.judgement.load.family import over_settings
    from converter_match.judgement.match.result import MatchResult

    return over_settings(part(match, MatchResult, "match"), None if load is None else load_of(load))
