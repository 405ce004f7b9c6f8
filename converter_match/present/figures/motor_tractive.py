"""A machine with a motor at its wheels: effort for a time and for good, against the grades."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from converter_match.judgement.motor.tractive_result import MotorTractive
from converter_match.present.drawing import style
from converter_match.present.figures.motor import flag_words, shown_values
from converter_match.units import System, show

_STROKE = {"peak": style.SERIES[1], "continuous": style.SERIES[0]}
_GRIP = style.Stroke("plum", (0.0, (8.0, 2.0, 1.2, 2.0)), 1.5, "^")
_ABOVE_GRIP = 1.25


def motor_tractive_figure(
    result: MotorTractive, *, system: System = "si", font_scale: float = 1.0
) -> Figure:
    """Draw the effort of the best gear over speed at both torques, with resistance on grades.

    Parameters
    ----------
    result : MotorTractive
    system : {"si", "us"}
    font_scale : float
        Multiplies all letters.

    Returns
    -------
    Figure
        Artists worth finding have a gid: ``effort-peak``, ``effort-continuous``, ``adhesion``,
        ``resistance-GRADE``.
    """
    figure = style.new_figure(9.5, 6.4)
    mass, unit = show(result.machine.mass(result.load), "mass", system)
    bottom, top = style.frame(
        figure,
        (f"{result.machine_words} ({mass:.0f} {unit})",),
        [
            f"{result.drive.setup.motor.name}; {result.drive.title}; {result.driveline.name}. "
            "The best gear at each speed.",
        ],
        [
            "Pulling up a grade says nothing about brakes or stability: the machine maker's limits "
            "and the rules of the site come first.",
            flag_words(result),
        ],
        font_scale=font_scale,
    )
    width, height = (float(value) for value in figure.get_size_inches())
    left, low = (0.2 + 0.42 * font_scale) / width, bottom + (0.2 + 0.3 * font_scale) / height
    high = top - (0.1 + 0.22 * font_scale) / height
    ax = figure.add_axes((left, low, 1.0 - 0.25 / width - left, high - low))
    _effort_panel(ax, result, system, font_scale)
    return figure


def _effort_panel(ax: Axes, result: MotorTractive, system: System, font_scale: float) -> None:
    style.dress(ax, font_scale=font_scale)
    style.name_axes(
        ax,
        style.axis_label("road speed", "velocity", system),
        style.axis_label("tractive effort", "force", system),
        font_scale=font_scale,
    )
    size = style.sizes(font_scale).label
    grip = float(result.road_loads[0].adhesion(0.0))
    cover = result.envelopes["peak"]
    highest = min(1.1 * float(np.nanmax(cover.effort)), _ABOVE_GRIP * grip)
    fastest = max(float(each.speed[-1]) for each in result.envelopes.values())
    ax.set_xlim(0.0, 1.04 * float(show(fastest, "velocity", system)[0]))
    ax.set_ylim(0.0, float(show(highest, "force", system)[0]))
    drawn = []
    for rating, each in result.envelopes.items():
        x, y = (
            shown_values(each.speed, "velocity", system),
            shown_values(each.effort, "force", system),
        )
        ax.plot(x, y, gid=f"effort-{rating}", **_STROKE[rating].line())
        drawn.append((x, y, f"{rating} torque", _STROKE[rating].word_color, 0.25))
    if grip < highest:
        level = float(show(grip, "force", system)[0])
        ax.axhline(level, gid="adhesion", **_GRIP.line())
        flat = np.full(2, level)
        ends = np.array([0.0, float(ax.get_xlim()[1])])
        drawn.append((ends, flat, "adhesion limit on the level", _GRIP.word_color, 0.7))
    speeds = np.linspace(0.0, fastest, 60)
    for row in result.grades:
        resistance = result.road_loads[0].resistance(row.grade, speeds)
        x, y = shown_values(speeds, "velocity", system), shown_values(resistance, "force", system)
        name = f"{100 * row.grade:g} %"
        ax.plot(x, y, color=style.SLATE, linewidth=0.9, gid=f"resistance-{name}")
        drawn.append((x, y, "level" if row.grade == 0.0 else name, style.SLATE, 0.96))
    for x, y, text, color, near in drawn:
        style.label_line(ax, x, y, text, near=near, color=color, size=size)
