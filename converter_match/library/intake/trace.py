"""Following a curve by its colour: a help for reading a chart, never the last word.

From a starting pixel the curve is followed column by column. In each column the run of pixels of
its colour that lies nearest to where the curve was heading is taken, and its centre of gravity is
the point. Gaps are crossed (a dashed line, a label) up to a limit, and told. Where another line of
the colour crosses, the two make one thick run: nothing is taken there, the direction is held, and
it is told. A start or an end on the line of an axis is moved off it. A path that does not come to
the end that was picked changed over to another line: then the curve is followed from that end, and
if that does not come to the start either, it is told.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.library.intake.image_file import Image

TOLERANCE = 70.0
LONGEST_GAP = 40
_LOOK_BACK = 12
_REACH = 6.0
_THICK_BACK = 60
_FEW = 6
_MERGED = 1.35  # times the usual height of the line: two lines in one run
_CLOSING = 10
_CLOSE = 12.0
_PARTED = 4.0
_LOOK_FAR = 40
_MIXED = 4
_ALONE = 25
_STRAIGHT = 1.5
_COLOURED = 60.0
_PALEST = 0.35
_AXIS_WIDTH = 12
_LINE_OF_AXIS = 40  # rows: a line of a chart is rarely as steep
_ASTRAY = 10.0  # rows from the end that was picked: nobody clicks as far off a line
_ASTRAY_COLUMNS = 3.0  # and columns, on one that is steep there
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
    crossings : tuple of (int, int)
        Columns between which another line of the colour crossed.
    moved : float
        Columns by which the start was moved off the line of an axis.
    astray : float
        Rows between where it came to and the end that was picked; 0 where the two agree.
    """

    pixels: FloatArray
    error: FloatArray
    gaps: tuple[tuple[int, int], ...]
    complete: bool
    crossings: tuple[tuple[int, int], ...] = ()
    moved: float = 0.0
    astray: float = 0.0


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
    colour_at(image, start)
    colour_at(image, stop)
    if colour is None:
        colour = colour_at(image, _off_the_axis(image, start, stop, _step(start, stop)))
    found = _followed(image, start, stop, colour, tolerance, longest_gap)
    if found.complete and found.astray:
        other = _followed(image, stop, start, colour, tolerance, longest_gap)
        if other.complete and not other.astray:
            return other
    return found


def _step(start: tuple[float, float], stop: tuple[float, float]) -> int:
    return 1 if stop[0] >= start[0] else -1


def _followed(
    image: Image,
    start: tuple[float, float],
    stop: tuple[float, float],
    colour: tuple[int, int, int],
    tolerance: float,
    longest_gap: int,
) -> Traced:
    """Follow a curve one way."""
    step = _step(start, stop)
    height, width = image.shape[:2]
    first = start
    start = _off_the_axis(image, start, stop, step)
    last = round(_off_the_axis(image, stop, first, -step)[0])  # nor is the end taken for that line
    own = np.array(colour, dtype=float)
    crossings: list[tuple[int, int]] = []
    thickness: list[float] = []
    others: list[float] = []  # how far off the next line of the colour is
    hidden, alone = -1, 0  # first column of a crossing that goes on; columns of one thin line in it
    points: list[tuple[float, float, float]] = []
    gaps: list[tuple[int, int]] = []
    last_seen = round(start[0]) - step
    position, slope = float(start[1]), 0.0
    complete = True
    for column in range(round(start[0]), last + step, step):
        if not 0 <= column < width:
            break
        expected = position + slope * abs(column - last_seen) if points else float(start[1])
        expected = min(max(expected, -50.0), height + 50.0)
        found = _nearest_run(image[:, column], own, tolerance, expected, slope)
        if found is None:  # of a thin line perhaps nothing but the pale edges is there
            found = _nearest_run(image[:, column], own, tolerance, expected, slope, pale=True)
        if found is None:
            if abs(column - last_seen) > (2 if hidden >= 0 else 1) * longest_gap:
                complete = False
                break
            continue
        row, spread, beside = found
        usual = float(np.median(thickness[-_THICK_BACK:])) if len(thickness) > _FEW else spread
        closing = hidden >= 0 or min(others[-_CLOSING:], default=np.inf) <= _CLOSE
        # The near line has gone into this one; where it still shows, a thick run is a steep one.
        thick = spread > _MERGED * usual + 1.0
        if hidden < 0:
            merged = thick and beside > _CLOSE
        else:  # until the two show apart, or one alone for long
            alone = alone + 1 if not thick and beside > 2.0 * _CLOSE else 0
            merged = alone < _ALONE and not _PARTED <= beside <= 2.0 * _CLOSE
        if closing and merged and len(points) > _FEW:
            if abs(column - last_seen) > 2 * longest_gap:
                complete = False
                break
            if hidden < 0:
                hidden, alone = column, 0
                last_seen, position, slope = _clean_end(points, usual)
            continue
        if hidden >= 0:
            if crossings and abs(last_seen - crossings[-1][1]) <= _CLOSING:
                crossings[-1] = (crossings[-1][0], column)
            elif abs(column - last_seen) > 3:
                crossings.append((last_seen, column))
            hidden = -1
        elif points and abs(column - last_seen) > 3:
            gaps.append((last_seen, column))
        thickness.append(spread)
        others.append(beside)
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
    typical = float(np.median(array[:, 2]))
    error = _COLUMN_ERROR + 0.25 * np.maximum(array[:, 2] - typical, 0.0)
    astray = abs(float(array[-1, 1]) + slope * abs(stop[0] - array[-1, 0]) - stop[1])
    if astray <= _ASTRAY + _ASTRAY_COLUMNS * abs(slope):
        astray = 0.0
    if step < 0:
        array, error = array[::-1], error[::-1]
        gaps, crossings = ([(b, a) for a, b in each[::-1]] for each in (gaps, crossings))
    moved = abs(start[0] - first[0])
    return Traced(
        array[:, :2].copy(), error.copy(), tuple(gaps), complete, tuple(crossings), moved, astray
    )


def _off_the_axis(
    image: Image, start: tuple[float, float], stop: tuple[float, float], step: int
) -> tuple[float, float]:
    """Return the start, moved along to where no vertical line of its colour runs through it."""
    for column in range(round(start[0]), round(start[0]) + step * (_AXIS_WIDTH + 1), step):
        if not 0 <= column < image.shape[1] or (column - stop[0]) * step > 0:
            return start
        own = np.array(colour_at(image, (column, start[1])), dtype=float)
        mask = np.linalg.norm(image[:, column].astype(float) - own, axis=1) <= TOLERANCE
        row = min(max(round(start[1]), 0), image.shape[0] - 1)
        above = row - np.flatnonzero(~mask[:row])[-1] if (~mask[:row]).any() else row
        below = np.flatnonzero(~mask[row:])[0] if (~mask[row:]).any() else image.shape[0] - row
        if above + below < _LINE_OF_AXIS:
            beyond = column + 3 * step  # clear of its edge, which the colour is looked for around
            return start if column == round(start[0]) else (float(beyond), start[1])
    return start


def _nearest_run(
    column: Image,
    own: FloatArray,
    tolerance: float,
    expected: float,
    slope: float,
    *,
    pale: bool = False,
) -> tuple[float, float, float] | None:
    """Return the run of the colour nearest to `expected`; None if it is too far.

    Returns
    -------
    tuple of float
        Its centre, its height, and how many rows lie between it and the next run.
    """
    distance = np.linalg.norm(column.astype(float) - own, axis=1)
    mask = _paler(column, own, tolerance) if pale else distance <= tolerance
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
    if best[0] > _REACH + 2.0 * abs(slope):
        return None
    # Lines, not the noise beside one: about as thick, and of the colour itself.
    lines = [
        run for run in runs if len(run) >= 0.6 * best[2] and distance[run].min() <= 0.5 * tolerance
    ]
    gaps = [max(run[0] - best[1], best[1] - run[-1]) - 0.5 * best[2] for run in lines]
    return best[1], best[2], min((float(gap) for gap in gaps if gap > 0.5), default=np.inf)


def _clean_end(points: list[tuple[float, float, float]], usual: float) -> tuple[int, float, float]:
    """Drop the points in which another line is mixed already; return where the rest heads.

    Returns
    -------
    tuple
        Column and row of the last clean point, and rows a column from there on, by a line through
        many points: across a crossing at a small angle a short look back is too rough.
    """
    steep = abs(points[-1][1] - points[-_MIXED][1]) > _MIXED  # which is thick by itself
    for _ in range(_MIXED if steep else _LOOK_FAR):
        if len(points) > _FEW and points[-1][2] > usual + 0.5:
            points.pop()
    for count in (_LOOK_FAR, _LOOK_BACK, _FEW):  # not back across a corner of the curve
        recent = np.array(points[-count:])
        steps = -np.abs(recent[:, 0] - recent[-1, 0])
        slope, level = np.polyfit(steps, recent[:, 1], 1)
        if float(np.abs(level + slope * steps - recent[:, 1]).max()) < _STRAIGHT:
            break
    return int(recent[-1, 0]), float(level), float(slope)


def _paler(column: Image, own: FloatArray, tolerance: float) -> NDArray[np.bool_]:
    """Return which pixels are of a paler shade of the colour: the edges of a thin line."""
    if float(np.ptp(own)) < _COLOURED:  # the grey of a grid is a paler black
        return np.zeros(len(column), dtype=bool)
    dark, ink = 255.0 - column.astype(float), 255.0 - own
    share = dark @ ink / float(ink @ ink)
    beside = np.linalg.norm(dark - share[:, None] * ink, axis=1)
    return np.asarray((share >= _PALEST) & (beside <= 0.5 * tolerance))


def _heading(points: list[tuple[float, float, float]]) -> float:
    """Return rows a column, from the last points; a column counts one whichever way we go."""
    recent = points[-_LOOK_BACK:]
    if len(recent) < 4:
        return 0.0
    run = abs(recent[-1][0] - recent[0][0])
    return (recent[-1][1] - recent[0][1]) / run if run else 0.0
