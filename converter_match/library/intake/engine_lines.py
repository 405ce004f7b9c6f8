"""Rows of an engine's sheet that lie off the line of the others."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.library.intake.facts import fact_si
from converter_match.library.intake.off_line import Allowed, off_the_grid, off_the_line
from converter_match.library.intake.problem import Problem, question
from converter_match.library.intake.table import SheetColumn, SheetTable

TORQUE = Allowed(0.10, 0.10, level=True)
GOVERNED_SHARE = 0.2
"""Of the torque at rated speed by which a governed row may be off the droop line."""


def rows_off(table: SheetTable, facts: Mapping[str, str]) -> list[Problem]:
    """Return questions about rows off a smooth torque curve, or off even steps of speed.

    Parameters
    ----------
    table : SheetTable
        In order of speed, with units.
    facts : mapping
        For the rated speed, where it is given.
    """
    speed, main = table.one("speed"), table.one("torque") or table.one("power")
    if speed is None or main is None or not speed.unit or not main.unit:
        return []
    n = speed.si()
    torque = main.si() if main.role == "torque" else main.si() / n
    known = np.flatnonzero(np.isfinite(torque))
    rated = _rated(n, torque, facts)
    full = known[n[known] <= rated * (1.0 + 1e-6)]
    found = [(int(full[row]), off) for row, off in
             off_the_line(n[full], torque[full], TORQUE)]  # fmt: skip
    found += _governed(n, torque, rated)
    problems = []
    for row, off in found:
        number = table.rows[row]
        problems.append(
            question("row-off-the-line", table.row(row), key=f"outlier:torque:{number}",
                     answer=f"to answer: --leave-out {number}", what="torque", off=100 * off)
        )  # fmt: skip
    return problems + asked_off_the_grid(table, speed)


def asked_off_the_grid(table: SheetTable, speed: SheetColumn) -> list[Problem]:
    """Return questions about rows that break the even steps of speed.

    Parameters
    ----------
    table : SheetTable
        In order of speed.
    speed : SheetColumn
        Its speeds.
    """
    problems = []
    for row, middle in off_the_grid(speed.values):
        number = table.rows[row]
        problems.append(
            question("row-off-the-grid", table.row(row), key=f"grid:{number}",
                     answer=f"to answer: --leave-out {number}", what="speed",
                     value=speed.shown(row), middle=f"{middle:.6g} {speed.unit}")
        )  # fmt: skip
    return problems


def _rated(n: FloatArray, torque: FloatArray, facts: Mapping[str, str]) -> float:
    """Return the speed up to which the curve is one line: rated speed, as given or as it seems."""
    if "rated_speed" in facts:
        try:
            return fact_si("rated_speed", facts["rated_speed"])[2]
        except InputError:
            pass  # said where the fact is written into the file
    # A single wrong row does not move the middle of three.
    padded = np.concatenate([torque[:1], torque, torque[-1:]])
    calm = np.median(np.stack([padded[:-2], padded[1:-1], padded[2:]]), axis=0)
    return float(n[int(np.nanargmax(calm * n))])


def _governed(n: FloatArray, torque: FloatArray, rated: float) -> list[tuple[int, float]]:
    """Return rows off the straight line from rated torque to the last row, which has none left."""
    beyond = np.flatnonzero((n > rated * (1.0 + 1e-6)) & np.isfinite(torque))
    before = np.flatnonzero((n <= rated * (1.0 + 1e-6)) & np.isfinite(torque))
    if beyond.size < 2 or not before.size or torque[beyond[-1]] > 0.1 * torque[before[-1]]:
        return []
    first, last = before[-1], beyond[-1]
    line = np.interp(n[beyond[:-1]], [n[first], n[last]], [torque[first], torque[last]])
    off = (torque[beyond[:-1]] - line) / torque[first]
    return [(int(beyond[k]), float(off[k])) for k in np.flatnonzero(np.abs(off) > GOVERNED_SHARE)]
