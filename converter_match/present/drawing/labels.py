"""Put words on a figure where they hide nothing.

A label stands on or beside what it names, so that nobody has to match colours with a legend. Where
exactly is chosen among candidates: the one that covers the least of what is already drawn, near
the preferred place, wins. Draw the lines first, then label; each label avoids those before it.

Places are chosen for the layout at the time of the call. Set axis limits before, not after.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patheffects import withStroke
from matplotlib.text import Text
from numpy.typing import ArrayLike

from converter_match.present.drawing.fonts import FAMILY
from converter_match.present.drawing.ground import (
    PAD,
    Box,
    FloatArray,
    extent,
    ground_of,
    pixels_per_point,
    visible_path,
)

# What words along a curve cost: a pixel beyond the end of the curve, a pixel of bend under them,
# standing upright, and standing at the other end of the curve from the preferred place.
_OVERHANG, _BEND, _STEEP, _AWAY = 3.0, 3.0, 25.0, 60.0
# A white ground under words, where a halo would let dashes look like hyphens.
PATCH = {"boxstyle": "square,pad=0.12", "facecolor": "white", "edgecolor": "none"}


def label_line(
    ax: Axes,
    x: ArrayLike,
    y: ArrayLike,
    text: str,
    *,
    near: float = 0.5,
    side: int = 0,
    drop: bool = False,
    color: str = "black",
    size: float = 9.0,
    gid: str | None = None,
    **font: Any,
) -> Text | None:
    """Write `text` along a curve, on it or beside it, where it covers the least.

    Parameters
    ----------
    ax : Axes
        Its limits must be final.
    x, y : array_like, shape (n,)
        The curve, in data coordinates; NaN makes a gap.
    text : str
    near : float
        Preferred place as a share of the visible length of the curve, 0 .. 1.
    side : {-1, 0, 1}
        Below the curve, on it (the line is interrupted), or above it.
    drop : bool
        Whether to write nothing rather than cover other words or a mark.
    color, size, gid
        Of the text; size in points.
    **font
        Further text properties.

    Returns
    -------
    Text or None
        None where no part of the curve is visible, or there was no room.
    """
    path = visible_path(ax, np.asarray(x, dtype=float), np.asarray(y, dtype=float))
    if path is None:
        return None
    words = _text(ax, text, color, size, gid, font)
    ground = ground_of(ax, but=[words])
    if side == 0:
        words.set_bbox(PATCH)
        ground = ground.without(path)
    width, height = extent(words)
    steps = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    length = float(steps[-1])
    best, lowest = Box(0.0, 0.0, width, height), np.inf
    for middle in np.linspace(0.0, length, max(int(length / 5.0), 2) + 1):
        # The words lie along the chord of the piece of curve that they cover.
        ends = np.clip([middle - 0.5 * width, middle + 0.5 * width], 0.0, length)
        chord = _at(path, steps, ends)
        angle = _upright(float(np.arctan2(*(chord[1] - chord[0])[::-1])))
        anchor = _at(path, steps, np.array([middle]))[0]
        up = np.array([-np.sin(angle), np.cos(angle)])
        bend = (_at(path, steps, np.linspace(ends[0], ends[1], 9)) - anchor) @ up
        shift = 0.5 * float(bend.max() + bend.min())
        if side:
            shift = float(bend.max() if side > 0 else bend.min()) + side * (0.5 * height + 2 * PAD)
        place = anchor + shift * up
        box = Box(float(place[0]), float(place[1]), width, height, angle)
        cost = float(ground.cost(box.samples))
        cost += _AWAY * abs(middle / length - near) + _BEND * float(np.ptp(bend))
        cost += _OVERHANG * max(width - float(ends[1] - ends[0]), 0.0)
        cost += _STEEP * abs(float(np.sin(angle)))
        if drop and float(ground.cost(box.samples, line_factor=0.0)) > 0:
            cost = np.inf
        if cost < lowest:
            best, lowest = box, cost
    if not np.isfinite(lowest):
        words.remove()
        return None
    words.set_position(tuple(ax.transData.inverted().transform((best.x, best.y))))
    words.set_rotation(float(np.degrees(best.angle)))
    return words


def label_ends(
    ax: Axes,
    ends: Sequence[tuple[float, float]],
    texts: Sequence[str],
    gids: Sequence[str],
    *,
    way: Literal["up", "right"] = "up",
    caption: str = "",
    color: str = "black",
    size: float = 9.0,
    **font: Any,
) -> list[Text]:
    """Write a label beyond the end of each curve of a family; neighbours make room.

    Parameters
    ----------
    ax : Axes
        Its limits must be final.
    ends : sequence of (float, float), length n
        Where the curves end, in data coordinates: all at one height, or all at one side.
    texts, gids : sequence of str, length n
    way : {"up", "right"}
        Whether the labels stand in a row above the ends or in a column beside them.
    caption : str
        What the labels are; written in front of the row (or behind it), or on top of the column.
    color, size
        Of the text; size in points.
    **font
        Further text properties.

    Returns
    -------
    list of Text
        The labels, in the order given; without the caption.
    """
    if not ends:
        return []
    labels = [
        _text(ax, text, color, size, gid, font) for text, gid in zip(texts, gids, strict=True)
    ]
    extents = np.array([extent(words) for words in labels])
    scale = pixels_per_point(ax)
    spots = np.asarray(ax.transData.transform(np.array(ends, dtype=float)), dtype=float)
    along, across = (0, 1) if way == "up" else (1, 0)
    gap = (4.0 if way == "up" else 1.0) * scale
    room = np.asarray(ax.bbox.get_points())[:, along]
    places = spots.copy()
    places[:, along] = make_room(spots[:, along], extents[:, along] + gap, *room)
    places[:, across] = spots[:, across].max() + 7.0 * scale + 0.5 * extents[:, across]
    to_data = ax.transData.inverted()
    for words, spot, place, size_of in zip(labels, spots, places, extents, strict=True):
        words.set_position(tuple(to_data.transform(place)))
        foot = place.copy()
        foot[across] -= 0.5 * size_of[across] + scale
        # A level leader in front of a number would look like a minus sign.
        if way == "up" or abs(foot[1] - spot[1]) > 2.0 * scale:
            leader = to_data.transform(np.array([spot, foot]))
            gid = f"{words.get_gid()}-leader"
            ax.plot(*leader.T, color=color, linewidth=0.8, gid=gid, zorder=2.5)
    if caption:
        words = _text(ax, caption, color, size, f"{gids[0]}-caption", font)
        place = _caption_place(ax, np.array(extent(words)), places, extents, gap, way)
        words.set_position(tuple(to_data.transform(place)))
    return labels


def _caption_place(
    ax: Axes,
    size: FloatArray,
    places: FloatArray,
    extents: FloatArray,
    gap: float,
    way: Literal["up", "right"],
) -> FloatArray:
    """Return where the middle of a caption of labels at `places` goes on the canvas."""
    if way == "right":
        top = int(np.argmax(places[:, 1]))
        right = places[top, 0] + 0.5 * extents[top, 0]
        return np.array(
            [right - 0.5 * size[0], places[top, 1] + 0.5 * (extents[top, 1] + size[1]) + gap]
        )
    first, last = int(np.argmin(places[:, 0])), int(np.argmax(places[:, 0]))
    x = places[first, 0] - 0.5 * (extents[first, 0] + size[0]) - 2 * gap
    if x - 0.5 * size[0] < ax.bbox.x0:
        x = places[last, 0] + 0.5 * (extents[last, 0] + size[0]) + 2 * gap
    return np.array([x, places[first, 1]])


def make_room(wanted: ArrayLike, widths: ArrayLike, low: float, high: float) -> FloatArray:
    """Move intervals apart so that none overlap, as little as possible, inside low .. high.

    Parameters
    ----------
    wanted, widths : array_like, shape (n,)
        Centre and width of each interval; their order is kept.
    low, high : float

    Returns
    -------
    ndarray, shape (n,)
        Centres. Where the room is too small the intervals overlap evenly.

    Examples
    --------
    >>> make_room([10.0, 11.0, 50.0], [8.0, 8.0, 8.0], 0.0, 100.0).tolist()
    [6.5, 14.5, 50.0]
    """
    centre, width = np.asarray(wanted, dtype=float), np.asarray(widths, dtype=float)
    width = width * min(1.0, (high - low) / width.sum())
    order = np.argsort(centre, kind="stable")
    # Groups that touch: members, left end of the group, its width.
    groups: list[tuple[list[int], float, float]] = []
    for i in order:
        members, start, total = [int(i)], float(centre[i] - 0.5 * width[i]), float(width[i])
        start = min(max(start, low), high - total)
        while groups and groups[-1][1] + groups[-1][2] > start:
            before, its_start, its_total = groups.pop()
            # The joint start that moves the members least on average.
            shift = (its_start * len(before) + (start - its_total) * len(members)) / (
                len(before) + len(members)
            )
            members, total = before + members, its_total + total
            start = min(max(shift, low), high - total)
        groups.append((members, start, total))
    placed = np.empty_like(centre)
    for members, start, _ in groups:
        for i in members:
            placed[i] = start + 0.5 * width[i]
            start += width[i]
    return placed


def place_words(
    ax: Axes,
    text: str,
    *,
    near: tuple[float, float] = (0.0, 1.0),
    color: str = "black",
    size: float = 9.0,
    gid: str | None = None,
    **font: Any,
) -> Text:
    """Write a block of words in the emptiest part of the axes.

    Parameters
    ----------
    ax : Axes
        Its limits must be final.
    text : str
        May hold line breaks.
    near : (float, float)
        Preferred place as shares of the width and height of the axes.
    color, size, gid
        Of the text; size in points.
    **font
        Further text properties.
    """
    words = _text(ax, text, color, size, gid, font)
    words.set(bbox=PATCH, transform=ax.transAxes, multialignment="left")
    width, height = extent(words)
    ground = ground_of(ax, but=[words])
    low = np.array(ax.bbox.p0) + 3 * PAD + 0.5 * np.array([width, height])
    high = np.array(ax.bbox.p1) - 3 * PAD - 0.5 * np.array([width, height])
    shares = np.stack(np.meshgrid(*[np.linspace(0.0, 1.0, 25)] * 2), axis=-1).reshape(-1, 2)
    middles = low + shares * (high - low)
    shape = Box(0.0, 0.0, width, height).samples
    cost = ground.cost(middles[:, np.newaxis] + shape)
    cost = cost + 8.0 * np.hypot(*(shares - np.array(near)).T)
    best = middles[int(np.argmin(cost))]
    words.set_position(tuple(ax.transAxes.inverted().transform(best)))
    return words


def _text(
    ax: Axes, text: str, color: str, size: float, gid: str | None, font: dict[str, Any]
) -> Text:
    words = ax.text(
        0.0,
        0.0,
        text,
        ha="center",
        va="center",
        color=color,
        fontsize=size,
        family=FAMILY,
        parse_math=False,
        rotation_mode="anchor",
        zorder=8,
        path_effects=[withStroke(linewidth=3.0, foreground="white")],
    )
    words.set(**font)
    words.set_gid(gid)
    return words


def _at(path: FloatArray, steps: FloatArray, where: FloatArray) -> FloatArray:
    return np.column_stack([np.interp(where, steps, path[:, i]) for i in (0, 1)])


def _upright(angle: float) -> float:
    """Turn a direction so that words along it are not upside down."""
    if angle > 0.5 * np.pi + 1e-9:
        return angle - float(np.pi)
    if angle <= -0.5 * np.pi + 1e-9:
        return angle + float(np.pi)
    return angle
