"""What was followed or picked in a picture, drawn over the picture."""

from __future__ import annotations

import os
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from converter_match.errors import InputError
from converter_match.library.intake.draft import Draft, Followed
from converter_match.present.drawing import style

_WIDTH = 9.0
_TALLEST = 9.0
_STROKES: tuple[tuple[str, Any], ...] = (
    (style.PALETTE["petrol"], "-"),
    (style.PALETTE["plum"], (0, (7, 3))),
    (style.PALETTE["brick"], (0, (2, 2))),
)


def chart_path(draft: Draft, *, font_scale: float = 1.0) -> Figure:
    """Draw the path of each curve over the picture that it was read from.

    The picture is drawn pale, so that the path stands out from the line that it should lie on.

    Parameters
    ----------
    draft : Draft
        Of a picture.
    font_scale : float

    Returns
    -------
    Figure

    Raises
    ------
    InputError
        If the draft was not read from a picture, or the picture was not there.
    """
    chart = draft.chart
    if chart is None or chart.image is None:
        raise InputError("was not read from a picture", source=draft.source)
    height, width = chart.image.shape[:2]
    tall = min(_WIDTH * height / width, _TALLEST)
    figure = style.new_figure(_WIDTH, tall + 1.0)
    lines = [f"followed and picked in the picture of {os.path.basename(draft.source)}"]
    bottom, top = style.frame(figure, ["What was read of the chart"], lines, font_scale=font_scale)
    ax = figure.add_axes((0.02, bottom, 0.96, top - bottom))
    ax.imshow(chart.image, alpha=0.45, aspect="equal", interpolation="nearest", gid="picture")
    for row, path in enumerate(chart.paths):
        _draw(ax, path, _STROKES[row % len(_STROKES)], row, font_scale)
    ax.set_xlim(-0.5, width - 0.5)
    ax.set_ylim(height - 0.5, -0.5)
    ax.set_axis_off()
    return figure


def _draw(ax: Axes, path: Followed, stroke: tuple[str, Any], row: int, font_scale: float) -> None:
    colour, dashes = stroke
    u, v = path.pixels[:, 0], path.pixels[:, 1]
    if path.picked:
        ax.plot(u, v, linestyle="none", marker="+", markersize=11, markeredgewidth=1.8,
                color=colour, gid=f"picked-{path.name}")  # fmt: skip
    else:
        ax.plot(u, v, linestyle=dashes, linewidth=1.8, color=colour, gid=f"path-{path.name}")
        ax.plot(u[[0, -1]], v[[0, -1]], linestyle="none", marker="o", markersize=6, color=colour,
                markerfacecolor="white", gid=f"ends-{path.name}")  # fmt: skip
    place = min(len(u) - 1, (1 + row) * len(u) // 4)
    look = style.words(style.sizes(font_scale).label, colour, weight="bold")
    word = "picked" if path.picked else "followed"
    ax.annotate(f"{path.name} ({word})", (u[place], v[place]),
                xytext=(10, 14) if row % 2 == 0 else (-10, -26),
                textcoords="offset points", gid=f"name-{path.name}",
                bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1.5},
                **look)  # fmt: skip
