"""The parts of a converter, named on a section of our own: half of it, above the shaft."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Wedge

from converter_match.present.drawing import style

_OUTER, _INNER = 1.0, 0.4
_AXIS = -1.75
# From the top, in the direction in which the oil goes round: against the clock.
_ROWS = {"turbine": (93.0, 235.0, 1), "stator": (239.0, 301.0, 4), "impeller": (-55.0, 87.0, 2)}


def converter_section(*, font_scale: float = 1.0) -> Figure:
    """Draw a section of a converter with a stator on a one-way clutch, its parts named.

    Parameters
    ----------
    font_scale : float

    Returns
    -------
    Figure
        Names have the gid ``part-NAME``.
    """
    figure = style.new_figure(6.4, 4.3)
    ax = figure.add_axes((0.02, 0.02, 0.96, 0.96))
    ax.set_axis_off()
    ax.set_aspect("equal")
    ax.set_xlim(-2.6, 3.1)
    ax.set_ylim(-2.15, 1.55)
    ink, slate = style.SERIES[0], style.SLATE
    for first, last, series in _ROWS.values():
        stroke = style.SERIES[series]
        ax.add_patch(
            Wedge(
                (0.0, 0.0),
                _OUTER,
                first,
                last,
                width=_OUTER - _INNER,
                facecolor=stroke.color,
                edgecolor=stroke.color,
                alpha=0.25,
            )
        )
        for angle in np.radians(np.arange(first + 12.0, last, 22.0)):
            ax.plot(
                [_INNER * np.cos(angle), _OUTER * np.cos(angle)],
                [_INNER * np.sin(angle), _OUTER * np.sin(angle)],
                color=stroke.color,
                linewidth=1.0,
            )
    _shell(ax, ink.color)
    _oil(ax, slate)
    _names(ax, style.sizes(font_scale).label)
    return figure


def _shell(ax: Axes, ink: str) -> None:
    around = np.radians(np.linspace(-62.0, 222.0, 120))
    ax.plot(1.13 * np.cos(around), 1.13 * np.sin(around), color=ink, linewidth=4.0)
    thick: dict[str, Any] = {"linewidth": 4.0, "solid_joinstyle": "round"}
    start, end = around[-1], around[0]
    ax.plot(
        [1.13 * np.cos(start), -1.5, -1.5, -2.0],
        [1.13 * np.sin(start), -1.05, _AXIS + 0.08, _AXIS + 0.08],
        color=ink,
        **thick,
    )
    ax.plot([1.13 * np.cos(end), 0.85, 1.5], [1.13 * np.sin(end), -1.22, -1.22], color=ink, **thick)
    turbine, stator = style.SERIES[1].color, style.SERIES[4].color
    ax.plot([-0.55, -0.55, 2.0], [-0.82, _AXIS + 0.12, _AXIS + 0.12], color=turbine, **thick)
    ax.plot([0.0, 0.0], [-1.0, _AXIS + 0.42], color=stator, linewidth=4.0)
    ax.plot([-0.2, 2.0], [_AXIS + 0.3, _AXIS + 0.3], color=stator, linewidth=3.0)
    ax.add_patch(Circle((0.0, _AXIS + 0.42), 0.1, facecolor="white", edgecolor=stator, linewidth=2))
    ax.plot([-2.3, 2.3], [_AXIS, _AXIS], color=style.SLATE, linewidth=0.8, linestyle="dashdot")


def _oil(ax: Axes, slate: str) -> None:
    middle = 0.5 * (_INNER + _OUTER)
    for degrees in (30.0, 150.0, 270.0):
        first, last = np.radians([degrees - 14.0, degrees + 14.0])
        ax.annotate(
            "",
            (middle * np.cos(last), middle * np.sin(last)),
            (middle * np.cos(first), middle * np.sin(first)),
            arrowprops={"arrowstyle": "-|>", "color": slate, "linewidth": 1.6},
        )


def _names(ax: Axes, size: float) -> None:
    named = {
        "cover": ((-2.5, -0.75), (-1.45, -1.1)),
        "engine": ((-2.5, _AXIS + 0.22), None),
        "turbine": ((-2.5, 0.55), (-0.7, 0.3)),
        "impeller": ((1.5, 0.75), (0.7, 0.35)),
        "stator": ((1.5, -0.35), (0.2, -0.75)),
        "one-way clutch": ((-1.25, -2.05), (-0.06, _AXIS + 0.36)),
        "drive of the charge pump": ((1.55, -1.12), None),
        "housing": ((2.1, _AXIS + 0.24), None),
        "turbine shaft, to the gearbox": ((0.75, _AXIS - 0.28), (1.6, _AXIS + 0.08)),
        "oil": ((0.0, 0.0), None),
    }
    for name, (place, target) in named.items():
        line = None
        if target is not None:
            line = {"arrowstyle": "-", "color": style.SLATE, "linewidth": 0.8}
        ax.annotate(
            name,
            target or place,
            place,
            fontsize=size,
            family=style.FAMILY,
            va="center",
            ha="center" if name == "oil" else "left",
            arrowprops=line,
            gid=f"part-{name}",
        )
