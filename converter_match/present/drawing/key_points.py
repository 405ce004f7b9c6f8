"""What the match figures mark, and what they say where there is nothing to mark.

Both panels of the overlay name the same points in the same words, so the words stand here once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from converter_match.curves import FloatArray
from converter_match.judgement.match.result import EfficiencyRange, MatchPoint, MatchResult
from converter_match.physics.match.match_set import crossed
from converter_match.units import System, show

WORKING_LEVEL = 0.8
NET_WORDS = "net at the impeller"
NBSP = "\N{NO-BREAK SPACE}"


@dataclass(frozen=True)
class KeyPoint:
    """A point of a match that a figure marks.

    Parameters
    ----------
    gid : str
        Name of the mark in the figure, without the suffix ``-point``.
    name : str
        As written beside the mark.
    marker : str
    point : MatchPoint
    """

    gid: str
    name: str
    marker: str
    point: MatchPoint


@dataclass(frozen=True, eq=False)
class Stretch:
    """A run of the match locus on one intersection, all stable or all unstable.

    Parameters
    ----------
    gid : str
    stable : bool
    columns : dict of str to ndarray, shape (n,)
        SI quantities by the names of `OperatingPoints`; NaN makes a gap, as between two branches.
    """

    gid: str
    stable: bool
    columns: dict[str, FloatArray]


def key_points(result: MatchResult) -> list[KeyPoint]:
    """Return the points to mark: stall (both, where they differ), coupling, governed limit."""
    stall, high, limit = result.stall, result.stall_from_high_idle, result.governed_limit
    marked = []
    if stall:
        said = result.called("stall") + (", on the governor" if limit == stall else "")
        marked.append(KeyPoint("stall", said, "o", stall))
    if high and (stall is None or high.engine_speed != stall.engine_speed):
        said = result.called("stall_from_high_idle")
        marked.append(KeyPoint("stall-from-high-idle", said, "s", high))
    if result.coupling:
        marked.append(KeyPoint("coupling", result.called("coupling"), "D", result.coupling))
    # Where stall itself is on the governor, the two are one point and one mark is enough.
    if limit and result.on_governor == "never":
        marked.append(KeyPoint("governed-limit", result.called("governed_limit"), "^", limit))
    return marked


def rating_words(result: MatchResult) -> str:
    """Return what the curve before any load is called: the rating's basis, the site's factor.

    Examples
    --------
    >>> from converter_match.judgement.match.solve import solve
    >>> from converter_match.library.read import read_converter, read_engine
    >>> from converter_match.library.shipped import find
    >>> engine = read_engine(find("engines", "four-cylinder-2l5-45kw"))
    >>> rating_words(solve(engine, read_converter(find("converters", "single-stage-260mm"))))
    'net, as rated'
    """
    basis, factor = result.engine.rating_basis, result.supply.factor
    return f"{basis}, as rated" if factor == 1.0 else f"{basis} × {factor:.3f}"


def absences(result: MatchResult, system: System) -> dict[str, str]:
    """Return, for every point that does not exist, why; keyed by gid."""
    said = {}
    if result.stall is None:
        said["stall"] = _no_stall(result, system)
    if result.coupling is None:
        said["coupling"] = _no_coupling(result)
    if result.governed_limit is None:
        said["governed-limit"] = "No governed limit: rated speed is not reached within the data."
    return said


def _no_stall(result: MatchResult, system: System) -> str:
    if any(note.code == "cannot-hold-idle" for note in result.notes):
        torque, unit = show(result.absorbed_at_idle, "torque", system)
        return (
            "No stall point from idle: the engine cannot hold the converter at low idle, where it "
            f"absorbs {torque:.0f}{NBSP}{unit}."
        )
    return "No stall point: the curves do not meet at a speed for which the engine is known."


def _no_coupling(result: MatchResult) -> str:
    converter = result.converter
    if converter.stator == "none":
        return "No coupling point: a fluid coupling has no stator."
    if converter.coupling is None:
        return "No coupling point: torque ratio 1 is not reached within the data."
    name = result.called("coupling")
    return f"No match from idle at the {name}, speed ratio {converter.coupling:.2f}."


def working_range_words(item: EfficiencyRange, system: System) -> str:
    """Return the words on the bracket over a working range."""
    share = f"{100 * item.level:.0f} % efficiency or better"
    if item.lower is None or item.upper is None:
        return share
    low, unit = show(item.lower.turbine_speed, "angular_speed", system)
    high, _ = show(item.upper.turbine_speed, "angular_speed", system)
    end = " (end of data)" if item.ends_with_data else ""
    return f"{share}\n{low:.0f} to {high:.0f} {unit}{end}"


def range_absences(result: MatchResult) -> list[str]:
    """Return what there is to say where a working range cannot be drawn from end to end."""
    ranges = result.working_range(WORKING_LEVEL)
    if not ranges:
        return [f"Efficiency does not reach {100 * WORKING_LEVEL:.0f}{NBSP}% within the data."]
    said = []
    for item in ranges:
        missing = [
            f"{nu:.2f}"
            for nu, point in ((item.low, item.lower), (item.high, item.upper))
            if point is None
        ]
        if missing:
            said.append(
                f"{100 * item.level:.0f}{NBSP}% range not drawn: no match from idle at speed ratio "
                + " and ".join(missing)
                + "."
            )
    return said


def stretches(result: MatchResult) -> list[Stretch]:
    """Return the match locus cut into stable and unstable runs, one a row of the locus."""
    points = result.locus.points
    names = ("engine_speed", "input_torque", "turbine_speed", "turbine_torque", "heat")
    columns = {name: np.asarray(getattr(points, name)) for name in names}
    columns["speed_ratio"] = np.where(points.found, points.speed_ratio, np.nan)
    columns["efficiency"] = points.efficiency
    runs = []
    unstable = np.where(points.stable, np.nan, points.engine_speed)
    for row in range(points.found.shape[0]):
        # From one branch to the next there is no line: nothing runs between.
        ends = np.flatnonzero(crossed(points.engine_speed[row], unstable))
        for stable in (True, False):
            keep = points.found[row] & (points.stable[row] == stable)
            if keep.any():
                kind = "stable" if stable else "unstable"
                kept = {
                    name: np.insert(np.where(keep, value[row], np.nan), ends, np.nan)
                    for name, value in columns.items()
                }
                runs.append(Stretch(f"{kind}-{row}", stable, kept))
    return runs


def value_words(name: str, *values: tuple[float, str], system: System, between: str = ", ") -> str:
    r"""Return a point's name and, on the next line, its values with their units.

    Examples
    --------
    >>> value_words("stall", (193.7, "angular_speed"), (905.0, "torque"), system="si")
    'stall\n1850 rpm, 905 N·m'
    """
    parts = []
    for value, dimension in values:
        number, unit = show(value, dimension, system)
        parts.append(f"{number:{'.1f' if abs(number) < 20 else '.0f'}} {unit}")
    return f"{name}\n{between.join(parts)}"
