"""Following a curve by its colour: a help for reading a chart, never the last word.

From a starting pixel the curve is followed column by column. In each column the run of pixels of
its colour that lies nearest to where the curve was heading is taken, and its centre of gravity is
the point. Gaps are crossed (a dashed line, a label, a crossing curve) up to a limit, and told.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.library.intake.image_file import Image

TOLERANCE = 70.0
LONGEST_GAP = 40
_LOOK_BACK = 12
_REACH = 6.0
_COLUMN_ERROR = 1.0  # lines are two or three pixels thick, and pale or noisy at their edges


@dataclass(frozen=True, eq=False)
class Traced:
    """A curve as it was followed.

    Parameters
    ----------
    pixels : ndarray, shape (n, 2)
        Column and row of each point.
    error : ndarray, shape (n,)
        How well the row is known [px].
    gaps : tuple of (int, int)
        Columns between which nothing of the colour was found.
    complete : bool
        Whether the end was reached.
    """

    pixels: FloatArray
    error: FloatArray
    gaps: tuple[tuple[int, int], ...]
    complete: bool


def colour_at(image: Image, pixel: tuple[float, float]) -> tuple[int, int, int]:
    """Return the colour of the curve at a picked pixel: the least pale of its neighbours."""
    column, row = round(pixel[0]), round(pixel[1])
    height, width = image.shape[:2]
    if not (0 <= column < width and 0 <= row < height):
        raise InputError(
            "a pixel outside the picture",
            found=f"({column}, {row})",
            expected=f"0 .. {width - 1}, 0 .. {height - 1}",
        )
    patch = image[max(row - 2, 0) : row + 3, max(column - 2, 0) : column + 3].reshape(-1, 3)
    light = patch.astype(float)
    # Farthest from white, yet typical: the median of the third that is farthest.
    far = np.argsort(np.linalg.norm(255.0 - light, axis=1))[-max(3, len(patch) // 3) :]
    red, green, blue = np.median(light[far], axis=0)
    return round(red), round(green), round(blue)


def trace(
    image: Image,
    start: tuple[float, float],
    stop: tuple[float, float],
    *,
    colour: tuple[int, int, int] | None = None,
    tolerance: float = TOLERANCE,
    longest_gap: int = LONGEST_GAP,
) -> Traced:
    """Follow a curve by its colour from one pixel to the column of another.

    Parameters
    ----------
    image : ndarray of uint8, shape (height, width, 3)
    start, stop : (column, row)
        Pixels on the curve at its two ends.
    colour : (red, green, blue), optional
        That at `start` if not given.
    tolerance : float
        Distance in colour, of 442 at most, that still counts as the curve.
    longest_gap : int
        Columns without the colour that are crossed.

    Returns
    -------
    Traced

    Raises
    ------
    InputError
        If a pixel lies outside the picture, or nothing of the colour is found.
    """
    own = np.array(colour_at(image, start) if colour is None else colour, dtype=float)
    colour_at(image, stop)
    step = 1 if stop[0] >= start[0] else -1
    height, width = image.shape[:2]
    points: list[tuple[float, float, float]] = []
    gaps: list[tuple[int, int]] = []
    last_seen = round(start[0]) - step
    position, slope = float(start[1]), 0.0
    complete = True
    for column in range(round(start[0]), round(stop[0]) + step, step):
        if not 0 <= column < width:
            break
        expected = position + slope * abs(column - last_seen) if points else float(start[1])
        expected = min(max(expected, -50.0), height + 50.0)
        found = _nearest_run(image[:, column], own, tolerance, expected, slope)
        if found is None:
            if abs(column - last_seen) > longest_gap:
                complete = False
                break
            continue
        if points and abs(column - last_seen) > 3:
            gaps.append((last_seen, column))
        row, spread = found
        points.append((float(column), row, spread))
        last_seen, position = column, row
        slope = _heading(points)
    if len(points) < 3:
        raise InputError(
            "nothing of this colour was found to follow",
            found=f"colour ({own[0]:.0f}, {own[1]:.0f}, {own[2]:.0f}) from "
            f"({start[0]:.0f}, {start[1]:.0f})",
            hint="pick a pixel in the middle of the line, or raise the tolerance",
        )
    array = np.array(points)
    thick = float(np.median(array[:, 2]))
    error = _COLUMN_ERROR + 0.25 * np.maximum(array[:, 2] - thick, 0.0)
    if step < 0:
        array, error = array[::-1], error[::-1]
    return Traced(array[:, :2].copy(), error.copy(), tuple(gaps), complete)


def _nearest_run(
    column: Image, own: FloatArray, tolerance: float, expected: float, slope: float
) -> tuple[float, float] | None:
    """Return (centre, height) of the run of the colour nearest to `expected`; None if too far."""
    distance = np.linalg.norm(column.astype(float) - own, axis=1)
    mask = distance <= tolerance
    if not mask.any():
        return None
    rows = np.flatnonzero(mask)
    runs = np.split(rows, np.flatnonzero(np.diff(rows) > 2) + 1)
    best: tuple[float, float, float] | None = None
    for run in runs:
        weight = np.maximum(1.0 - distance[run] / (tolerance + 1.0), 1e-3)
        centre = float(np.sum(weight * run) / np.sum(weight))
        inside = run[0] - 1 <= expected <= run[-1] + 1
        off = 0.0 if inside else min(abs(expected - run[0]), abs(expected - run[-1]))
        if best is None or off < best[0]:
            best = (off, centre, float(run[-1] - run[0] + 1))
    assert best is not None
    return None if best[0] > _REACH + 2.0 * abs(slope) else (best[1], best[2])


def _heading(points: list[tuple[float, float, float]]) -> float:
    """Return rows a column, from the last points; a column counts one whichever way we go."""
    recent = points[-_LOOK_BACK:]
    if len(recent) < 4:
        return 0.0
    run = abs(recent[-1][0] - recent[0][0])
    return (recent[-1][1] - recent[0][1]) / run if run else 0.0
