"""A run from rest on one page: speed, gear, distance and heat in the converter over time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.wheels.run import RunFromRest
from converter_match.present.drawing import style
from converter_match.present.drawing.empty_panel import empty_panel
from converter_match.present.figures.gear_panel import gear_panel
from converter_match.present.words.note_words import short_words
from converter_match.units import System, from_si, show

_HEIGHTS = (2.0, 1.2, 1.3, 1.5)
_GOAL = style.Stroke("petrol", (0.0, (5.0, 2.0)), 1.2, "")
_RUN = style.Stroke("ink", "solid", 2.0, "")
_HEAT = style.Stroke("plum", "solid", 1.8, "")


def acceleration_figure(
    result: RunFromRest,
    *,
    system: System = "si",
    axes: Sequence[Axes] | None = None,
    font_scale: float = 1.0,
) -> Figure:
    """Draw a full-throttle run from rest over time.

    Parameters
    ----------
    result : RunFromRest
    system : {"si", "us"}
    axes : sequence of four Axes, optional
        Speed, gear, distance, heat in the converter.
    font_scale : float

    Returns
    -------
    Figure
        Gids: ``speed``, ``to-speed``, ``gear-converter``, ``gear-lock-up``, ``distance``, ``heat``.
        Of a machine that does not start there are empty axes that say so.

    Raises
    ------
    InputError
        If the number of axes is not four, or the unit system or font scale cannot be used.
    """
    if axes is None:
        axes = _page(result, system, font_scale)
    if len(axes) != len(_HEIGHTS):
        raise InputError("needs four axes", field="axes", found=len(axes))
    for ax in axes:
        style.dress(ax, font_scale=font_scale)
    if not result.starts:
        return _nothing(axes, result, system, font_scale)
    time = result.run.time
    for ax in axes:
        ax.set_xlim(0.0, float(time[-1]))
    size = style.sizes(font_scale).label
    _speed(axes[0], result, system, size, font_scale)
    _gears(axes[1], result, font_scale)
    _, _, distance, label = _labels(system)
    unit = "ft" if system == "us" else "m"
    way = np.asarray(from_si(result.run.distance, unit, "length"))
    _curve(axes[2], time, way, "distance", distance, _RUN, font_scale)
    heat = np.asarray(show(result.run.heat, "power", system)[0])
    # At full throttle up to a shift and from its end on; nothing is known to lie on a line between.
    heat = np.where(result.run.state < 0, np.nan, heat)
    _curve(axes[3], time, heat, "heat", label, _HEAT, font_scale)
    for ax in axes[:-1]:
        ax.tick_params(labelbottom=False)
    style.name_axes(axes[3], "time (s)", label, font_scale=font_scale)
    return style.figure_of(axes[0])


def _labels(system: System) -> tuple[str, str, str, str]:
    return (
        style.axis_label("speed", "velocity", system),
        "gear engaged",
        f"distance ({'ft' if system == 'us' else 'm'})",
        style.axis_label("heat in the converter", "power", system),
    )


def _nothing(
    axes: Sequence[Axes], result: RunFromRest, system: System, font_scale: float
) -> Figure:
    for ax, label in zip(axes, _labels(system), strict=True):
        ax.set_xticks([])
        below = "time (s)" if ax is axes[-1] else None
        empty_panel(ax, result.no_start, x=below, y=label, font_scale=font_scale)
    return style.figure_of(axes[0])


def _page(result: RunFromRest, system: System, font_scale: float) -> list[Axes]:
    figure = style.new_figure(10.0, 8.0)
    load = f"{result.machine.name}, {result.load}"
    warned = short_words(result.warnings)
    notes = [
        f"Full throttle, {result.method}. "
        + (f"Warnings: {warned}." if warned else "No warnings."),
        f"Source of the machine: {result.machine.source}.",
    ]
    if result.run.grip_limited:
        notes.insert(1, "Where traction limits the effort, the throttle is eased.")
    bottom, top = style.frame(
        figure,
        result.titles,
        [f"{load}; {result.surface.name}, grade {100 * result.grade:g} %", _words(result, system)],
        notes,
        font_scale=font_scale,
    )
    width, height = (float(value) for value in figure.get_size_inches())
    grid = figure.add_gridspec(
        len(_HEIGHTS),
        1,
        height_ratios=_HEIGHTS,
        left=(0.25 + 0.45 * font_scale) / width,
        right=1.0 - 0.3 / width,
        bottom=bottom + (0.2 + 0.35 * font_scale) / height,
        top=top - (0.1 + 0.24 * font_scale) / height,
        hspace=0.36 * font_scale**0.5,
    )
    return [figure.add_subplot(grid[row, 0]) for row in range(len(_HEIGHTS))]


def _words(result: RunFromRest, system: System) -> str:
    if not result.starts:
        return result.no_start
    goal, unit = show(result.to_speed, "velocity", system)
    time, way = result.run.time_to(result.to_speed), result.run.distance_to(result.to_speed)
    if time is None or way is None:
        top = show(float(result.run.speed.max()), "velocity", system)[0]
        return f"{goal:.3g} {unit} is not reached; it gets to {top:.1f} {unit}"
    long = "ft" if system == "us" else "m"
    return f"{goal:.3g} {unit} after {time:.1f} s and {from_si(way, long, 'length'):.0f} {long}"


def _speed(ax: Axes, result: RunFromRest, system: System, size: float, font_scale: float) -> None:
    time = result.run.time
    speed = np.asarray(show(result.run.speed, "velocity", system)[0])
    goal, unit = show(result.to_speed, "velocity", system)
    ax.set_ylim(0.0, 1.2 * float(max(goal, speed.max())))
    across = np.array([0.0, float(time[-1])])
    ax.plot(across, np.full(2, goal), gid="to-speed", **_GOAL.line())
    ax.plot(time, speed, gid="speed", **_RUN.line())
    style.name_axes(ax, None, _labels(system)[0], font_scale=font_scale)
    look = style.letters(size, _GOAL.word_color)
    words = f"target: {goal:.3g} {unit}"
    style.label_line(
        ax, across, np.full(2, goal), words, near=0.2, side=1, gid="to-speed-label", **look
    )


def _gears(ax: Axes, result: RunFromRest, font_scale: float) -> None:
    run = result.run
    driven = (run.state[1:] >= 0) & (np.diff(run.state) == 0)
    gear_panel(
        ax,
        result.chain,
        run.state[1:][driven],
        run.time[:-1][driven],
        run.time[1:][driven],
        font_scale,
    )


def _curve(
    ax: Axes,
    time: FloatArray,
    values: FloatArray,
    gid: str,
    label: str,
    stroke: style.Stroke,
    font_scale: float,
) -> None:
    ax.set_ylim(0.0, 1.1 * float(np.nanmax(values)) or 1.0)
    ax.plot(time, values, gid=gid, **stroke.line())
    style.name_axes(ax, None, label, font_scale=font_scale)
