"""The match of a machine that comes up from standstill, over turbine speed, broken at jumps.

Over the speed ratio the locus holds every match; a machine passes them by turbine speed. Where each
speed ratio has one match and the turbine speeds up along them, the two are the same.
"""

from __future__ import annotations

import numpy as np

from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.judgement.match import words
from converter_match.judgement.match.result import MatchResult
from converter_match.notes import Note
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.match_set import MatchSet, OperatingPoints
from converter_match.physics.match.turbine_speed import passage

_SPEEDS = 361


def jump_notes(supply: TorqueSupply, converter: Converter) -> list[Note]:
    """Return at which turbine speeds the engine jumps, speeding up and slowed down.

    Parameters
    ----------
    supply : TorqueSupply
    converter : Converter
    """
    top = supply.domain[1] * min(converter.domain[1], 1.0)
    speeds = np.linspace(0.0, top, _SPEEDS)
    notes = []
    for coming in ("up", "down"):
        run = passage(supply, converter, speeds, coming)
        at = np.flatnonzero(run.jumps_before)
        # Where a machine jumps on its way: the far side of the gap as it comes to it.
        for row in at:
            first, then = (row - 1, row) if coming == "up" else (row, row - 1)
            notes.append(
                words.note(
                    f"jumps-coming-{coming}",
                    turbine=float(run.points.turbine_speed[first]),
                    before=float(run.points.engine_speed[first]),
                    after=float(run.points.engine_speed[then]),
                )
            )
    return notes


def coming_up_curve(result: MatchResult) -> OperatingPoints:
    """Return what a machine passes from standstill at full load, by rising turbine speed.

    Parameters
    ----------
    result : MatchResult

    Returns
    -------
    OperatingPoints
        Shape (n,); a row of NaN stands where the engine jumps, so that a line drawn along it is
        broken there.

    Examples
    --------
    >>> from converter_match.judgement.match.solve import solve
    >>> from converter_match.library.read import read_converter, read_engine
    >>> from converter_match.library.shipped import find
    >>> pair = solve(
    ...     read_engine(find("engines", "six-cylinder-7l-185kw")),
    ...     read_converter(find("converters", "single-stage-345mm-tight")),
    ... )
    >>> float(coming_up_curve(pair).speed_ratio[0])
    0.0
    """
    return coming_up(result.supply, result.converter, result.locus)


def coming_up(supply: TorqueSupply, converter: Converter, locus: MatchSet) -> OperatingPoints:
    """Return the same of a locus by itself, as of a motor at one of its torques.

    Parameters
    ----------
    supply : TorqueSupply
    converter : Converter
    locus : MatchSet
        Of the two, over the speed ratio.
    """
    points = locus.from_idle()
    drives = points.found & (points.speed_ratio >= 0.0) & (points.speed_ratio <= 1.0)
    rows = np.flatnonzero(drives)
    speed = points.turbine_speed[rows]
    if bool(np.all(locus.count[rows] == 1)) and bool(np.all(np.diff(speed) > 0.0)):
        return points.at((rows,))  # type: ignore[arg-type]
    top = supply.domain[1] * min(converter.domain[1], 1.0)
    speeds = np.unique(np.concatenate([np.linspace(0.0, top, _SPEEDS), speed]))
    run = passage(supply, converter, speeds)
    return broken(run.points, np.flatnonzero(run.jumps_before))


def broken(
    points: OperatingPoints, before: np.ndarray[tuple[int], np.dtype[np.intp]]
) -> OperatingPoints:
    """Return points with a row of NaN before each of some rows."""
    return OperatingPoints(
        parted(points.speed_ratio, before),
        parted(points.torque_ratio, before),
        parted(points.engine_speed, before),
        parted(points.input_torque, before),
        np.insert(points.stable, before, False),
    )


def parted(values: FloatArray, before: np.ndarray[tuple[int], np.dtype[np.intp]]) -> FloatArray:
    """Return values (n,) with a NaN before each of some rows: a line along them is broken there."""
    return np.asarray(np.insert(values, before, np.nan))
