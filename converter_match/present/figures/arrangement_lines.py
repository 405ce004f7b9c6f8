"""Curves over one axis with their names on them: what most panels of an arrangement are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.match.branches import parted
from converter_match.present.drawing import style
from converter_match.units import System, show

Quantity = tuple[str, str]
"""Words on an axis, and a dimension; ``number`` for pure numbers, ``ratio`` for percent."""


@dataclass(frozen=True, eq=False)
class Line:
    """One curve.

    Parameters
    ----------
    gid : str
    words : str
        Written on it; empty for none.
    values : ndarray, shape (n,)
        SI; NaN makes a gap.
    look : Stroke
    near : float
        Where along the curve its words should stand, 0 .. 1.
    side : {-1, 0, 1}
        Words below the curve, on it, or above it.
    jumps : ndarray of bool, shape (n,), optional
        Whether the engine jumps between a point and the one before it: nothing runs there, and the
        curve is broken.
    """

    gid: str
    words: str
    values: FloatArray
    look: style.Stroke
    near: float = 0.5
    side: int = 1
    jumps: NDArray[np.bool_] | None = None


def two_axes(axes: Sequence[Axes] | None) -> tuple[Axes, Axes]:
    """Return the two axes given, or two of a new figure.

    Raises
    ------
    InputError
        If the number of axes is not two.
    """
    if axes is None:
        figure = style.new_figure(11.0, 4.2)
        grid = figure.add_gridspec(1, 2, left=0.06, right=0.985, bottom=0.14, top=0.9, wspace=0.16)
        axes = [figure.add_subplot(grid[0, column]) for column in range(2)]
    if len(axes) != 2:
        raise InputError("needs two axes", field="axes", found=len(axes))
    return axes[0], axes[1]


def in_units(values: FloatArray, dimension: str, system: System) -> FloatArray:
    """Return SI values in the units of the figure; shares in percent."""
    if dimension == "number":
        return np.asarray(values, dtype=np.float64)
    if dimension == "ratio":
        return 100.0 * np.asarray(values, dtype=np.float64)
    return np.asarray(show(values, dimension, system)[0])


def draw_band(
    ax: Axes,
    x: FloatArray,
    over: Quantity,
    band: FloatArray,
    dimension: str,
    *,
    system: System,
) -> None:
    """Shade what lies between the least and the most of several answers.

    Parameters
    ----------
    ax : Axes
    x : ndarray, shape (n,)
        SI.
    over : (str, str)
        Words and dimension of the horizontal axis.
    band : ndarray, shape (2, n)
        Least and most; SI.
    dimension : str
        Of the vertical axis.
    system : {"si", "us"}
    """
    low, high = (in_units(values, dimension, system) for values in band)
    at = in_units(x, over[1], system)
    ax.fill_between(at, low, high, gid="band", color=style.PALETTE["mist"], linewidth=0.0)


def draw_lines(
    ax: Axes,
    x: FloatArray,
    over: Quantity,
    lines: Sequence[Line],
    quantity: Quantity,
    *,
    system: System,
    font_scale: float,
    from_zero: bool = True,
) -> None:
    """Draw curves over one axis, each with its name on it.

    Parameters
    ----------
    ax : Axes
    x : ndarray, shape (n,)
        SI.
    over, quantity : (str, str)
        Words and dimension of the horizontal and the vertical axis.
    lines : sequence of Line
    system : {"si", "us"}
    font_scale : float
    from_zero : bool
        Whether the vertical axis has to show zero.
    """
    style.dress(ax, font_scale=font_scale)
    at = in_units(x, over[1], system)
    drawn = [
        (line, *_broken(line, at, in_units(line.values, quantity[1], system))) for line in lines
    ]
    known = np.isfinite(np.stack([line.values for line in lines])).any(axis=0)
    every = np.concatenate([values[np.isfinite(values)] for _, _, values in drawn])
    every = np.append(every, 0.0) if from_zero or not every.size else every
    low, high = float(every.min()), float(every.max())
    room = 0.08 * (high - low or 1.0)
    ends = at[known] if known.any() else at
    start = min(float(ends[0]), 0.0) if over[1] == "number" else float(ends[0])
    ax.set_xlim(start, float(ends[-1]))
    if from_zero:
        ax.set_ylim(low - room if low < 0 else 0.0, high + room if high > 0 else 0.0)
    else:
        ax.set_ylim(low - 2.0 * room, high + 2.0 * room)
    if low < 0 < high:
        ax.axhline(0.0, color=style.SLATE, linewidth=0.9)
    style.name_axes(ax, _axis(over, system), _axis(quantity, system), font_scale=font_scale)
    for line, place, values in drawn:
        ax.plot(place, values, gid=line.gid, **line.look.line())
    size = style.sizes(font_scale).label
    for line, place, values in drawn:
        if line.words:
            look = style.letters(size, line.look.word_color, bold=True)
            gid = f"{line.gid}-label"
            style.label_line(
                ax, place, values, line.words, near=line.near, side=line.side, gid=gid, **look
            )


def _broken(line: Line, at: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    if line.jumps is None:
        return at, values
    before = np.flatnonzero(line.jumps)
    return parted(at, before), parted(values, before)


def _axis(quantity: Quantity, system: System) -> str:
    words, dimension = quantity
    if dimension == "number":
        return f"{words} (–)"
    if dimension == "ratio":
        return f"{words} (%)"
    return style.axis_label(words, dimension, system)
