"""What is already drawn on some axes, as a chart of what it would cost to cover it.

The canvas is cut into small square cells. Each cell carries a cost: high where words or marks
stand, moderate where a curve passes, by its width, and high outside the frame. What it costs to put
a label somewhere is the sum over the cells it would cover.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from functools import cached_property
from itertools import cycle

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.lines import Line2D
from matplotlib.text import Annotation, Text
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

CELL = 3.0
"""Side of a cell, and distance between samples of what is drawn [px]."""
PAD = 3.0
"""Clear space around words [px]."""

# Cost of a cell of each kind; of a line times its width [pt] squared, so that a thin guide gives
# way well before a thick curve does.
_WORDS, _MARK, _LINE, _OUTSIDE = 60.0, 60.0, 0.9, 60.0
_MARK_RADIUS = 4.3
_NOTHING = ("None", "none", " ", "", None)
# Cells around the frame, all outside: words that reach further still cost no less.
_MARGIN = 4


@dataclass(frozen=True)
class Box:
    """A rectangle on the canvas [px], turned by `angle` [rad] about its centre."""

    x: float
    y: float
    width: float
    height: float
    angle: float = 0.0

    @property
    def samples(self) -> FloatArray:
        """Points that fill the rectangle and the clear space around it, shape (n, 2)."""
        across, up = (
            np.linspace(-0.5, 0.5, max(int(np.ceil(length / CELL)) + 1, 2)) * length
            for length in (self.width + 2 * PAD, self.height + 2 * PAD)
        )
        grid = np.stack(np.meshgrid(across, up), axis=-1).reshape(-1, 2)
        cos, sin = np.cos(self.angle), np.sin(self.angle)
        turned = grid @ np.array([[cos, sin], [-sin, cos]])
        return np.asarray(turned + np.array([self.x, self.y]))

    def holds(self, points: FloatArray) -> NDArray[np.bool_]:
        """Return which of `points`, shape (n, 2), lie inside the rectangle itself."""
        dx, dy = points[:, 0] - self.x, points[:, 1] - self.y
        cos, sin = np.cos(self.angle), np.sin(self.angle)
        along, up = dx * cos + dy * sin, dy * cos - dx * sin
        return np.asarray(
            (np.abs(along) <= 0.5 * self.width) & (np.abs(up) <= 0.5 * self.height), dtype=bool
        )


@dataclass(frozen=True, eq=False)
class Ground:
    """Costs of the cells of a canvas, shape (rows, columns), cell (0, 0) at `origin` [px]."""

    fixed: FloatArray
    lines: FloatArray
    origin: tuple[float, float]

    def cost(self, points: FloatArray, *, line_factor: float = 1.0) -> FloatArray:
        """Return the cost of covering `points`, shape (..., n, 2), summed over n."""
        rows, columns = self._cells(points)
        return np.asarray(self._total(line_factor)[rows, columns].sum(axis=-1))

    def without(self, path: FloatArray) -> Ground:
        """Return the same ground without the curve that runs along `path`, shape (n, 2)."""
        lines = self.lines.copy()
        for dx in (-CELL, 0.0, CELL):
            for dy in (-CELL, 0.0, CELL):
                lines[self._cells(path + np.array([dx, dy]))] = 0.0
        return Ground(self.fixed, lines, self.origin)

    def _cells(self, points: FloatArray) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        place = np.floor((points - np.array(self.origin)) / CELL).astype(np.intp)
        rows, columns = self.fixed.shape
        return np.clip(place[..., 1], 0, rows - 1), np.clip(place[..., 0], 0, columns - 1)

    def _total(self, line_factor: float) -> FloatArray:
        return self._sum if line_factor == 1.0 else self.fixed + line_factor * self.lines

    @cached_property
    def _sum(self) -> FloatArray:
        return self.fixed + self.lines


def ground_of(ax: Axes, *, but: Collection[Text] = ()) -> Ground:
    """Return the ground of some axes as drawn so far, but for texts that have no place yet."""
    frame = ax.bbox
    columns, rows = (int(np.ceil(size / CELL)) for size in (frame.width, frame.height))
    origin = (frame.x0 - _MARGIN * CELL, frame.y0 - _MARGIN * CELL)
    shape = (rows + 2 * _MARGIN, columns + 2 * _MARGIN)
    fixed = np.full(shape, _OUTSIDE)
    fixed[_MARGIN:-_MARGIN, _MARGIN:-_MARGIN] = 0.0
    lines = np.zeros(shape)
    empty = Ground(fixed, lines, origin)
    inside = np.zeros(shape, dtype=bool)
    inside[_MARGIN:-_MARGIN, _MARGIN:-_MARGIN] = True

    def add(target: FloatArray, points: FloatArray, cost: float) -> None:
        if points.size:
            cells = empty._cells(points)
            keep = inside[cells]
            # A cell holds the dearest thing in it once, however many samples fall into it.
            spot = (cells[0][keep], cells[1][keep])
            target[spot] = np.maximum(target[spot], cost)

    for text in ax.texts:
        if text in but or not text.get_visible() or not text.get_text():
            continue
        box = box_of(text)
        add(fixed, box.samples, _WORDS)
        if isinstance(text, Annotation) and text.arrow_patch is not None:
            point = ax.transData.transform(text.xy)
            leader = np.array([(box.x, box.y), point])
            add(fixed, resampled(leader), _WORDS)
    ring = _MARK_RADIUS * pixels_per_point(ax) * _disc()
    for line in ax.lines:
        if not line.get_visible():
            continue
        path = _on_canvas(line)
        if line.get_linestyle() not in _NOTHING:
            add(lines, resampled(path), _LINE * float(line.get_linewidth()) ** 2)
        if line.get_marker() not in _NOTHING:
            spots = path[np.isfinite(path).all(axis=1)]
            add(fixed, (spots[:, np.newaxis] + ring).reshape(-1, 2), _MARK)
    for bars in ax.collections:
        if not isinstance(bars, LineCollection) or not bars.get_visible():
            continue
        segments, widths = bars.get_segments(), cycle(np.atleast_1d(bars.get_linewidth()))
        for segment, width in zip(segments, widths, strict=False):
            path = bars.get_transform().transform(np.asarray(segment, dtype=np.float64))
            if len(path) and np.isfinite(path).all():
                add(lines, _across(path, float(width) * pixels_per_point(ax)), _LINE * width**2)
    return Ground(fixed, lines, origin)


def _across(path: FloatArray, width: float) -> FloatArray:
    """Return points all over a straight bar of some width [px]."""
    along = path[-1] - path[0]
    length = float(np.hypot(*along)) or 1.0
    aside = np.array([-along[1], along[0]]) / length
    steps = np.linspace(-0.5, 0.5, max(2, int(np.ceil(width / CELL)) + 1)) * width
    return np.concatenate([resampled(path + step * aside) for step in steps])


def box_of(text: Text) -> Box:
    """Return the rectangle on the canvas that a text fills, its turn included."""
    if isinstance(text, Annotation):
        text.get_window_extent()  # brings the place of the words up to date
    bounds = Text.get_window_extent(text)  # without the leader
    x, y = 0.5 * (bounds.x0 + bounds.x1), 0.5 * (bounds.y0 + bounds.y1)
    return Box(x, y, *extent(text), angle=float(np.radians(text.get_rotation())))


def extent(text: Text) -> tuple[float, float]:
    """Return width and height of the words as if they were not turned [px]."""
    turn = text.get_rotation()
    text.set_rotation(0.0)
    bounds = Text.get_window_extent(text)
    text.set_rotation(turn)
    return float(bounds.width), float(bounds.height)


def overlaps(texts: Iterable[Text]) -> list[tuple[str, str]]:
    """Return the words of every two texts that stand on each other: none, on a good figure."""
    boxes = [(text.get_text(), box_of(text)) for text in texts]
    found = []
    for i, (first, one) in enumerate(boxes):
        for second, other in boxes[i + 1 :]:
            shared = one.samples[one.holds(one.samples)]
            if other.holds(shared).any():
                found.append((first, second))
    return found


def pixels_per_point(ax: Axes) -> float:
    """Return how many pixels of the canvas make one point of a font size."""
    return float(ax.figure.dpi) / 72.0


def visible_path(ax: Axes, x: FloatArray, y: FloatArray) -> FloatArray | None:
    """Return the longest stretch of a curve inside the frame, resampled on the canvas."""
    finite = np.isfinite(x) & np.isfinite(y)
    path = np.full((x.size, 2), np.nan)
    path[finite] = ax.transData.transform(np.column_stack([x[finite], y[finite]]))
    path = resampled(path, keep_gaps=True)
    low, high = np.array(ax.bbox.p0) - 0.5, np.array(ax.bbox.p1) + 0.5
    with np.errstate(invalid="ignore"):
        keep = ((path >= low) & (path <= high)).all(axis=1)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], keep, [False]]).astype(int)))
    runs = [path[start:end] for start, end in edges.reshape(-1, 2)]
    longest = max(runs, key=len, default=np.empty((0, 2)))
    return longest if len(longest) >= 2 else None


def resampled(path: FloatArray, *, keep_gaps: bool = False) -> FloatArray:
    """Return points no further than a cell apart along a path on the canvas, shape (n, 2)."""
    if len(path) < 2:
        return path[np.isfinite(path).all(axis=1)]
    start, stride = path[:-1], np.diff(path, axis=0)
    length = np.nan_to_num(np.hypot(*stride.T), nan=CELL)
    # A stride far longer than any canvas belongs to a curve that leaves the figure.
    count = np.ceil(np.clip(length, CELL, 8000.0) / CELL).astype(int)
    which = np.repeat(np.arange(count.size), count)
    share = (np.arange(which.size) - np.repeat(np.cumsum(count) - count, count)) / count[which]
    points = np.concatenate([start[which] + share[:, np.newaxis] * stride[which], path[-1:]])
    return points if keep_gaps else points[np.isfinite(points).all(axis=1)]


def _on_canvas(line: Line2D) -> FloatArray:
    vertices = np.asarray(line.get_path().vertices, dtype=float)
    return np.asarray(line.get_transform().transform(vertices), dtype=float)


def _disc() -> FloatArray:
    angles = np.radians(np.arange(0, 360, 45))
    rim = np.column_stack([np.cos(angles), np.sin(angles)])
    return np.concatenate([np.zeros((1, 2)), 0.5 * rim, rim])
