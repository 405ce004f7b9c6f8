"""The one look of every figure: colours, strokes, letters, axes and the words around them.

Colours differ in lightness first (CIE L* at least 8 apart), so that a photocopy or an eye that does
not tell red from green still tells them apart; line style and marker say the same once more. Curves
carry their names; there are no legend boxes. The name of the vertical quantity stands level above
its axis, where it can be read without turning the head.

Nothing here touches matplotlib's global state: figures are made without pyplot, and every property
is set on the artist it belongs to.
"""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Text

from converter_match.errors import InputError
from converter_match.present.drawing.callouts import label_points
from converter_match.present.drawing.fonts import FAMILY, LetteredCanvas, LetteredFigure
from converter_match.present.drawing.labels import label_ends, label_line, place_words
from converter_match.present.drawing.saving import render, save
from converter_match.units import System, show

__all__ = [
    "FAMILY",
    "PALETTE",
    "SERIES",
    "SLATE",
    "STROKES",
    "UNSTABLE",
    "Sizes",
    "Stroke",
    "axis_label",
    "dress",
    "folded",
    "frame",
    "label_ends",
    "label_line",
    "label_points",
    "letters",
    "name_axes",
    "new_figure",
    "place_words",
    "render",
    "save",
    "series",
    "sizes",
    "words",
]

PALETTE = MappingProxyType(
    {
        "ink": "#10203a",
        "plum": "#7d1d54",
        "petrol": "#0c6580",
        "brick": "#c84a27",
        "sage": "#7ca566",
        "amber": "#eab94f",
        "mist": "#dde2e6",
    }
)
# For words, guides and grid: not for telling data apart.
SLATE = "#56606d"
# Light colours are good for areas and thick lines; words in them would be faint.
_TOO_LIGHT_FOR_WORDS = ("sage", "amber", "mist")
# Letters are set to whole pixels: the same line is up to a tenth longer at another resolution
# than at the one it is measured at. Lines around a figure are broken so that they fit at any.
_LONGEST = 1.1


@dataclass(frozen=True)
class Stroke:
    """How one kind of curve is drawn.

    Parameters
    ----------
    name : str
        Of the colour, a key of `PALETTE`.
    dash : str or tuple
        A matplotlib line style.
    width : float
        [pt].
    marker : str
        For single points of this kind.
    """

    name: str
    dash: str | tuple[float, tuple[float, ...]]
    width: float
    marker: str

    @property
    def color(self) -> str:
        """The colour as ``#rrggbb``."""
        return PALETTE[self.name]

    @property
    def word_color(self) -> str:
        """A colour for words about this curve that is dark enough to read."""
        return PALETTE["ink"] if self.name in _TOO_LIGHT_FOR_WORDS else self.color

    def line(self, **changes: Any) -> dict[str, Any]:
        """Return the properties of the line, for ``ax.plot``."""
        drawn = {
            "color": self.color,
            "linestyle": self.dash,
            "linewidth": self.width,
            "solid_capstyle": "round",
            "dash_capstyle": "butt",
        }
        return drawn | changes

    def mark(self, **changes: Any) -> dict[str, Any]:
        """Return the properties of a single point, for ``ax.plot``."""
        drawn = {
            "color": self.color,
            "linestyle": "none",
            "marker": self.marker,
            "markersize": 7.0,
            "markeredgecolor": "white",
            "markeredgewidth": 1.0,
            "clip_on": False,
            "zorder": 6,
        }
        return drawn | changes


UNSTABLE = (0.0, (1.6, 1.2))
STROKES = MappingProxyType(
    {
        "net": Stroke("ink", "solid", 2.0, "s"),
        "gross": Stroke("plum", (0.0, (6.0, 2.2)), 1.5, "^"),
        "absorbed": Stroke("petrol", (0.0, (1.0, 1.1)), 1.2, "d"),
        "locus": Stroke("brick", "solid", 3.6, "o"),
        "turbine-torque": Stroke("brick", "solid", 2.4, "o"),
        "efficiency": Stroke("petrol", "solid", 2.0, "D"),
        "heat": Stroke("plum", "solid", 2.0, "v"),
        "load": Stroke("ink", (0.0, (5.0, 1.8)), 1.6, "P"),
        "range": Stroke("sage", "solid", 1.4, "|"),
    }
)
# For several components in one figure, in the order given.
SERIES = (
    Stroke("ink", "solid", 2.0, "o"),
    Stroke("brick", (0.0, (6.0, 2.0)), 2.0, "s"),
    Stroke("petrol", (0.0, (6.0, 1.6, 1.2, 1.6)), 2.0, "^"),
    Stroke("amber", "solid", 2.6, "D"),
    Stroke("plum", (0.0, (1.2, 1.2)), 2.2, "v"),
    Stroke("sage", (0.0, (3.0, 1.4)), 2.4, "P"),
)


# From the seventh on the colours come again, with other dashes and marks.
_AGAIN = (0.0, (9.0, 1.6, 1.2, 1.6, 1.2, 1.6))
_MARKS_AGAIN = "X*hp<>"


def series(row: int) -> Stroke:
    """Return how one of several components is drawn, counted from 0."""
    stroke = SERIES[row % len(SERIES)]
    if row < len(SERIES):
        return stroke
    return replace(stroke, dash=_AGAIN, marker=_MARKS_AGAIN[row % len(_MARKS_AGAIN)])


@dataclass(frozen=True)
class Sizes:
    """Sizes of letters [pt]."""

    title: float
    subtitle: float
    axis: float
    tick: float
    label: float
    note: float


def sizes(font_scale: float = 1.0) -> Sizes:
    """Return the sizes of letters, all multiplied by `font_scale`.

    Raises
    ------
    InputError
        If the scale is not a number from 0.5 to 3.
    """
    if not (math.isfinite(font_scale) and 0.5 <= font_scale <= 3.0):
        raise InputError(
            "out of range", field="font_scale", found=font_scale, expected="a number from 0.5 to 3"
        )
    points = {"title": 13.0, "subtitle": 9.5, "axis": 9.5, "tick": 9.0, "label": 9.0, "note": 8.0}
    return Sizes(**{name: size * font_scale for name, size in points.items()})


def figure_of(ax: Axes) -> Figure:
    """Return the whole figure that axes belong to."""
    figure = ax.get_figure(root=True)
    assert figure is not None  # axes that are drawn on have one
    return figure


def new_figure(width: float = 11.0, height: float = 7.0) -> Figure:
    """Return an empty figure with a canvas of its own, in memory.

    Parameters
    ----------
    width, height : float
        [in], as print and screen sizes of figures are given.
    """
    figure = LetteredFigure(figsize=(width, height), dpi=100, facecolor="white")
    LetteredCanvas(figure)
    return figure


def words(size: float, color: str = PALETTE["ink"], **changes: Any) -> dict[str, Any]:
    """Return the properties of a text that may hold anything a person typed into a file."""
    return {"fontsize": size, "color": color, "family": FAMILY, "parse_math": False} | changes


def letters(size: float, color: str = PALETTE["ink"], *, bold: bool = False) -> dict[str, Any]:
    """Return the properties of a label, for `label_line`, `label_points` and `place_words`."""
    look: dict[str, Any] = {"size": size, "color": color, "family": FAMILY}
    return look | {"weight": "bold"} if bold else look


def folded(text: str, columns: int = 34) -> str:
    """Break a sentence into lines of at most `columns` letters."""
    return textwrap.fill(text, columns, break_on_hyphens=False)


def frame(
    figure: Figure,
    titles: Sequence[str],
    lines: Sequence[str] = (),
    footnotes: Sequence[str] = (),
    *,
    font_scale: float = 1.0,
) -> tuple[float, float]:
    """Write titles, lines under them and footnotes, wrapped to the width of the figure.

    Parameters
    ----------
    figure : Figure
    titles : sequence of str
        What is shown together; on one line with a plus between where there is room.
    lines, footnotes : sequence of str
    font_scale : float

    Returns
    -------
    (bottom, top) : tuple of float
        What is left between them, as shares of the figure's height.
    """
    size = sizes(font_scale)
    width, height = (float(value) for value in figure.get_size_inches())
    left, room = 0.25 / width, (width - 0.5) * figure.dpi / _LONGEST
    gap = 0.05 / height
    joined = " + ".join(titles)
    figure.set_label(joined)
    title = figure.text(left, 1.0, joined, **words(size.title, weight="bold"))
    fits = title.get_window_extent().width <= room
    title.remove()
    heads = [joined] if fits else [titles[0], *(f"+ {name}" for name in titles[1:])]
    top = 1.0 - 0.16 / height
    styled = [(text, "title", words(size.title, weight="bold")) for text in heads]
    styled += [(text, "subtitle", words(size.subtitle, SLATE)) for text in lines]
    for text, gid, look in styled:
        if gid == "subtitle" and text == lines[0]:
            top -= gap
        artist = figure.text(left, top, text, ha="left", va="top", gid=gid, **look)
        top -= _wrap(artist, room) / height + gap
    bottom = 0.12 / height
    for text in reversed(footnotes):
        look = words(size.note, SLATE)
        artist = figure.text(left, bottom, text, ha="left", va="bottom", gid="footnote", **look)
        bottom += _wrap(artist, room) / height + 0.5 * gap
    return bottom, top


def _wrap(artist: Text, room: float) -> float:
    """Break a text into lines that fit into `room` [px]; return its height [in]."""
    dpi = _dpi(artist)
    text = re.sub(r"[ \t\r\n]+", " ", artist.get_text())  # a no-break space stays
    artist.set_text(text)
    width = artist.get_window_extent().width
    columns = max(int(len(text) * room / width), 8) if width > room else len(text)
    while width > room and columns > 8:
        artist.set_text(textwrap.fill(text, columns, break_on_hyphens=False))
        width = artist.get_window_extent().width
        columns -= 2
    return float(artist.get_window_extent().height / dpi)


def dress(ax: Axes, *, font_scale: float = 1.0) -> None:
    """Give axes the look of the house: two spines, ticks inward, a faint grid behind the data."""
    size = sizes(font_scale)
    ax.set_facecolor("white")
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        ax.spines[side].set(color=SLATE, linewidth=0.9)
    ax.tick_params(
        which="major",
        direction="in",
        length=4.0,
        width=0.9,
        color=SLATE,
        labelcolor=PALETTE["ink"],
        labelsize=size.tick,
        labelfontfamily=FAMILY,
    )
    ax.tick_params(axis="x", pad=5.0)  # clear of the lowest number on the other axis
    ax.grid(visible=True, color=PALETTE["mist"], linewidth=0.7, linestyle="solid", alpha=0.8)
    ax.set_axisbelow(True)


def axis_label(quantity: str, dimension: str, system: System) -> str:
    """Return the words on an axis: the quantity and, in brackets, its unit.

    Examples
    --------
    >>> axis_label("turbine torque", "torque", "us"), axis_label("speed ratio", "ratio", "si")
    ('turbine torque (lbf·ft)', 'speed ratio (–)')
    """
    _, unit = show(0.0, dimension, system)
    return f"{quantity} ({unit or '–'})"


def name_axes(ax: Axes, x: str | None, y: str | None, *, font_scale: float = 1.0) -> None:
    """Write the names of the axes; that of the vertical one stands level above it."""
    look = words(sizes(font_scale).axis)
    if x is not None:
        ax.set_xlabel(x, **look)
        ax.xaxis.set_label_coords(1.0, -(0.11 + 0.15 * font_scale) / max(_height(ax), 0.5))
        ax.xaxis.label.set(ha="right", va="top")
    if y is not None:
        ax.set_ylabel(y, rotation=0, ha="left", va="bottom", weight="bold", **look)
        ax.yaxis.set_label_coords(0.0, 1.0 + 0.06 / max(_height(ax), 0.5))


def _height(ax: Axes) -> float:
    """Height of the axes [in]."""
    return float(ax.bbox.height / _dpi(ax))


def _dpi(artist: Artist) -> float:
    """Pixels an inch of the figure that an artist belongs to."""
    figure = artist.get_figure()
    return 100.0 if figure is None else float(figure.dpi)
