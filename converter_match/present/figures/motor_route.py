"""A motor on a route: speed, and the electric power drawn and returned, over distance."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from converter_match.judgement.motor.route_result import MotorRoute
from converter_match.present.drawing import style
from converter_match.present.figures.motor import flag_words, shown_values
from converter_match.units import System, shown_text
from converter_match.units.amounts import shown

_SPEED, _DRAWN, _BACK = style.SERIES[0], style.SERIES[1], style.SERIES[2]


def motor_route_figure(
    result: MotorRoute, *, system: System = "si", font_scale: float = 1.0
) -> Figure:
    """Draw speed above, electric power below, over distance, with the peak torque.

    Parameters
    ----------
    result : MotorRoute
    system : {"si", "us"}
    font_scale : float
        Multiplies all letters.

    Returns
    -------
    Figure
        Artists worth finding have a gid: ``speed``, ``drawn``, ``returned``.
    """
    run = result.runs["peak"]
    energy = run.energy
    figure = style.new_figure(10.5, 6.6)
    sums = ", ".join(
        f"{name} {shown_text(value, 'electric_energy', system)}"
        for name, value in (("drawn", energy.drawn), ("returned", energy.returned))
    )
    bottom, top = style.frame(
        figure,
        (f"{result.machine.name} on {result.route.name}",),
        [f"{result.drive.setup.motor.name}; {result.drive.title}. With the peak torque: {sums}."],
        [flag_words(result)],
        font_scale=font_scale,
    )
    width, height = (float(value) for value in figure.get_size_inches())
    grid = figure.add_gridspec(
        2,
        1,
        left=(0.2 + 0.42 * font_scale) / width,
        right=1.0 - 0.25 / width,
        bottom=bottom + (0.2 + 0.3 * font_scale) / height,
        top=top - (0.1 + 0.22 * font_scale) / height,
        hspace=0.3 * font_scale**0.5,
    )
    upper, lower = figure.add_subplot(grid[0, 0]), figure.add_subplot(grid[1, 0])
    profile = run.run.profile
    far, unit = shown(profile.distance[:, 0], "distance", system)
    distance = np.asarray(far)
    speed = shown_values(profile.speed[:, 0], "velocity", system)
    _dress(upper, "speed", "velocity", "", system, font_scale)
    upper.plot(distance, speed, gid="speed", **_SPEED.line())
    upper.set_ylim(0.0, 1.2 * float(speed.max()))
    _dress(lower, "electric power", "power", f"distance ({unit})", system, font_scale)
    power = shown_values(run.electric_power, "power", system)
    ends = np.repeat(distance, 2)[1:-1]
    held = np.repeat(power, 2)
    lower.axhline(0.0, color=style.SLATE, linewidth=0.9)
    for name, stroke, values in (
        ("drawn", _DRAWN, np.maximum(held, 0.0)),
        ("returned", _BACK, np.minimum(held, 0.0)),
    ):
        lower.fill_between(ends, values, color=stroke.word_color, alpha=0.35, linewidth=0.0)
        lower.plot(ends, values, gid=name, **stroke.line())
    low, high = float(held.min()), float(held.max())
    lower.set_ylim(min(1.35 * low, -0.15 * high), 1.25 * high)
    size = style.sizes(font_scale).label
    for name, stroke, near in (("drawn", _DRAWN, (0.35, 0.9)), ("returned", _BACK, (0.35, 0.08))):
        look = style.letters(size, stroke.word_color)
        style.place_words(lower, name, near=near, gid=f"{name}-label", **look)
    for ax in (upper, lower):
        ax.set_xlim(0.0, float(distance[-1]))
    return figure


def _dress(ax: Axes, name: str, amount: str, below: str, system: System, font_scale: float) -> None:
    style.dress(ax, font_scale=font_scale)
    style.name_axes(
        ax, below or None, style.axis_label(name, amount, system), font_scale=font_scale
    )
