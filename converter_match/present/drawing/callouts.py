"""Write what a point means beside it, joined by a thin line, so that nothing is hidden.

Every label has a choice of places around its point. What a place covers is known from the ground;
what two labels do to each other is known for every pair of places. The labels settle together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice, permutations
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.text import Annotation

from converter_match.present.drawing.fonts import FAMILY
from converter_match.present.drawing.ground import (
    CELL,
    PAD,
    Box,
    FloatArray,
    Ground,
    extent,
    ground_of,
    pixels_per_point,
)
from converter_match.present.drawing.labels import PATCH

# Labels of points: directions, distances [pt], and what a point of distance costs.
_WAYS = np.radians(np.arange(0, 360, 15))
_REACHES = np.array([10, 14, 19, 25, 32, 41, 52, 66, 84, 106, 132])
_FAR = 0.7
# A leader over a curve is worse than words over it: it looks like a curve itself.
_CROSSING = 4.0
# How many places each label considers, and what it costs to stand on another, per pixel, or to have
# a leader under words or across a leader.
_KEPT = 120
_ON_EACH_OTHER, _ON_LEADER = 100.0, 150.0
# The leader is hidden by the mark so far from the point [pt].
_MARK_SIZE = 7.0


def label_points(
    ax: Axes,
    points: Sequence[tuple[float, float]],
    texts: Sequence[str],
    gids: Sequence[str],
    *,
    color: str = "black",
    size: float = 9.0,
    **font: Any,
) -> list[Annotation]:
    """Write a text near each point, joined to it by a thin line, where it covers the least.

    The points are labelled together: each gives way to the others in turn.

    Parameters
    ----------
    ax : Axes
        Its limits must be final.
    points : sequence of (float, float), length n
        In data coordinates.
    texts, gids : sequence of str, length n
    color, size
        Of the text; size in points.
    **font
        Further text properties.

    Returns
    -------
    list of Annotation
    """
    notes = [
        ax.annotate(
            text,
            point,
            xytext=(0, 0),
            textcoords="offset points",
            ha="center",
            va="center",
            color=color,
            fontsize=size,
            family=FAMILY,
            gid=gid,
            parse_math=False,
            zorder=9,
            bbox=PATCH,
            arrowprops={
                "arrowstyle": "-",
                "color": color,
                "linewidth": 0.8,
                "shrinkA": 1,
                "shrinkB": 4,
            },
        )
        for point, text, gid in zip(points, texts, gids, strict=True)
    ]
    for note in notes:
        note.set(**font)
    ground = ground_of(ax, but=notes)
    options = [_options(ax, note, ground) for note in notes]
    for note, offset in zip(notes, _settled(options), strict=True):
        note.set_position(tuple(offset / pixels_per_point(ax)))
    return notes


@dataclass(frozen=True, eq=False)
class _Options:
    """Places for one label: offsets of its middle from the point [px], (k, 2), and what they cost.

    `tip` is where the leader meets the words, `size` their width and height with clear space.
    """

    point: FloatArray
    offset: FloatArray
    tip: FloatArray
    size: FloatArray
    cost: FloatArray


def _options(ax: Axes, note: Annotation, ground: Ground) -> _Options:
    size = np.array(extent(note))
    scale = pixels_per_point(ax)
    point = np.asarray(ax.transData.transform(note.xy), dtype=float)
    angles, reaches = (grid.ravel() for grid in np.meshgrid(_WAYS, scale * _REACHES))
    ways = np.column_stack([np.cos(angles), np.sin(angles)])
    tip = ways * reaches[:, np.newaxis]
    # The words touch the end of the leader with the side or corner that faces the point.
    offset = tip + 0.5 * size * np.clip(1.6 * ways, -1.0, 1.0)
    shape = Box(0.0, 0.0, *size).samples
    cost = ground.cost(point + offset[:, np.newaxis] + shape) + _FAR * reaches / scale
    # The leader shows only beyond the mark.
    bare = np.minimum(_MARK_SIZE * scale / reaches, 1.0)[:, np.newaxis]
    along = bare + (1.0 - bare) * np.linspace(0.0, 1.0, 40)
    leader = point + along[:, :, np.newaxis] * tip[:, np.newaxis]
    cells = (1.0 - bare[:, 0]) * reaches / CELL
    cost = cost + cells / 40.0 * ground.cost(leader, line_factor=_CROSSING)
    best = np.argsort(cost, kind="stable")[:_KEPT]
    return _Options(point, offset[best], tip[best], size + 2 * PAD, cost[best])


def _settled(options: Sequence[_Options]) -> list[FloatArray]:
    """Choose a place for every label so that the sum of all costs, clashes included, is low.

    Each in turn takes its best place given the others, from every order of going first.
    """
    clash = {
        (i, j): _clash(options[i], options[j])
        for i, j in permutations(range(len(options)), 2)
        if i < j
    }

    def between(i: int, j: int) -> FloatArray:
        return clash[i, j] if i < j else clash[j, i].T

    best: dict[int, int] = {}
    lowest = np.inf
    for order in islice(permutations(range(len(options))), 24):
        chosen: dict[int, int] = {}
        total = np.inf
        for _ in range(4):
            for i in order:
                rivals = [between(i, j)[:, k] for j, k in chosen.items() if j != i]
                chosen[i] = int(np.argmin(options[i].cost + sum(rivals)))
            total = sum(float(options[i].cost[k]) for i, k in chosen.items())
            total += sum(float(table[chosen[i], chosen[j]]) for (i, j), table in clash.items())
        if total < lowest:
            best, lowest = dict(chosen), total
    return [options[i].offset[best[i]] for i in range(len(options))]


def _clash(one: _Options, other: _Options) -> FloatArray:
    """Return what each place of one label costs beside each place of another, shape (k, m)."""
    middle, its_middle = one.point + one.offset, other.point + other.offset
    apart = np.abs(middle[:, np.newaxis] - its_middle)
    shared = np.clip(0.5 * (one.size + other.size) - apart, 0.0, None).prod(axis=-1)
    cost = _ON_EACH_OTHER * np.sqrt(shared)
    cost += _ON_LEADER * _crosses(one, its_middle, other.size)
    cost += _ON_LEADER * _crosses(other, middle, one.size).T
    return np.asarray(cost + _ON_LEADER * _cross(one, other))


def _crosses(one: _Options, middles: FloatArray, size: FloatArray) -> FloatArray:
    """Return which leaders of `one` run under words of `size` at `middles`, shape (k, m)."""
    along = np.linspace(0.0, 1.0, 10)[:, np.newaxis]
    leader = one.point + along * one.tip[:, np.newaxis]
    inside = np.abs(leader[:, np.newaxis] - middles[:, np.newaxis]) < 0.5 * size
    return np.asarray(inside.all(axis=-1).any(axis=-1), dtype=float)


def _cross(one: _Options, other: _Options) -> FloatArray:
    """Return which leaders of two labels cross, shape (k, m)."""
    way, its_way = one.tip[:, np.newaxis], other.tip[np.newaxis]
    between = other.point - one.point
    turn = way[..., 0] * its_way[..., 1] - way[..., 1] * its_way[..., 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = (between[0] * its_way[..., 1] - between[1] * its_way[..., 0]) / turn
        its_share = (between[0] * way[..., 1] - between[1] * way[..., 0]) / turn
        meet = (share > 0) & (share < 1) & (its_share > 0) & (its_share < 1)
    return np.asarray(meet, dtype=float)
