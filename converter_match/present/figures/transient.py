"""A course in time on one page: speeds, torques, and where the heat has gone."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from converter_match.errors import InputError
from converter_match.physics.dynamics.transient import Transient
from converter_match.present.drawing import style
from converter_match.present.figures.arrangement_lines import Line, draw_lines
from converter_match.present.words.note_words import short_words
from converter_match.units import System, note_text

# A part that takes part so little is not drawn: a clutch that is not there, a wheel that stands.
_LEAST = 1e-9
_HAPPENED = {
    "impeller-clutch-sticks": "impeller clutch sticks",
    "impeller-clutch-slips": "impeller clutch slips",
    "lock-up-sticks": "lock-up sticks",
    "lock-up-slips": "lock-up slips",
    "turbine-stops": "turbine stops",
    "turbine-starts": "turbine starts",
}


def transient_figure(
    course: Transient,
    title: str,
    *,
    system: System = "si",
    axes: Sequence[Axes] | None = None,
    font_scale: float = 1.0,
) -> Figure:
    """Draw speeds, torques and heat of a simulation over time.

    Parameters
    ----------
    course : Transient
    title : str
        What happens, in a few words.
    system : {"si", "us"}
    axes : sequence of three Axes, optional
        Speeds, torques, heat since the start.
    font_scale : float

    Returns
    -------
    Figure
        Gids of the speeds: ``engine-speed``, ``impeller-speed``, ``turbine-speed``; of the torques:
        ``engine-torque``, ``turbine-torque``, ``impeller-clutch-torque``, ``lock-up-torque``; of
        the heat: ``converter-heat``, ``impeller-clutch-heat``, ``lock-up-heat``; ``happening`` at
        every change. What does not take part is left out.

    Raises
    ------
    InputError
        If the number of axes is not three, or the unit system or font scale cannot be used.
    """
    if axes is None:
        axes = _page(course, title, system, font_scale)
    if len(axes) != 3:
        raise InputError("needs three axes", field="axes", found=len(axes))
    engine, brick, petrol, plum = (style.SERIES[i] for i in (0, 1, 2, 4))
    # Without an impeller clutch its torque is that of the shaft in its place, and one with it.
    slips = bool(np.any(np.abs(course.engine_speed - course.impeller_speed) > _LEAST))
    torque = course.impeller_clutch_torque
    speeds = [
        Line("turbine-speed", "turbine", course.turbine_speed, brick, 0.35, -1),
    ]
    torques = [
        Line("engine-torque", "engine", course.engine_torque, engine, 0.3, -1),
        Line("turbine-torque", "converter, turbine side", course.turbine_torque, brick, 0.6, -1),
        Line("lock-up-torque", "lock-up clutch", course.lock_up_torque, plum, 0.8, -1),
    ]
    if slips:
        speeds.insert(0, Line("impeller-speed", "impeller", course.impeller_speed, petrol, 0.5, -1))
        torques.append(Line("impeller-clutch-torque", "impeller clutch", torque, petrol, 0.8, -1))
    name = "engine" if slips else "engine and impeller"
    speeds.insert(0, Line("engine-speed", name, course.engine_speed, engine, 0.6, -1))
    heats = [
        Line("converter-heat", "converter", course.converter_heat, brick, 0.6),
        Line("impeller-clutch-heat", "impeller clutch", course.impeller_clutch_heat, petrol, 0.7),
        Line("lock-up-heat", "lock-up clutch", course.lock_up_heat, plum, 0.8),
    ]
    panels = (
        (speeds, ("speed", "angular_speed")),
        (torques, ("torque", "torque")),
        (heats, ("heat since the start", "energy")),
    )
    for ax, (lines, quantity) in zip(axes, panels, strict=True):
        taking_part = [line for line in lines if np.any(np.abs(line.values) > _LEAST)]
        draw_lines(
            ax,
            course.time,
            ("time", "time"),
            taking_part or lines[:1],
            quantity,
            system=system,
            font_scale=font_scale,
        )
        for happening in course.happenings:
            ax.axvline(
                happening.time,
                color=style.SLATE,
                linewidth=0.9,
                linestyle="dotted",
                gid="happening",
            )
    for ax in axes[:-1]:
        ax.tick_params(labelbottom=False)
        ax.set_xlabel("")
    _name_happenings(axes[0], course, style.sizes(font_scale).label)
    return style.figure_of(axes[0])


def _name_happenings(ax: Axes, course: Transient, size: float) -> None:
    look = style.letters(size, style.SLATE)
    low, high = ax.get_ylim()
    for happening in course.happenings:
        upright = np.full(2, happening.time), np.array([low, high])
        words = _HAPPENED.get(happening.code, happening.code)
        style.label_line(ax, *upright, words, near=0.2, gid="happening-label", drop=True, **look)


def _page(course: Transient, title: str, system: System, font_scale: float) -> list[Axes]:
    figure = style.new_figure(8.0, 7.6)
    cautions = [note_text(note, system) for note in course.notes if note.kind == "caution"]
    stopped = [] if course.stopped is None else [note_text(course.stopped, system)]
    assumed = short_words(note for note in course.notes if note.kind == "assumption")
    source = course.train.converter.source
    bottom, top = style.frame(
        figure,
        (title,),
        [course.train.converter.name, *stopped],
        [
            *cautions,
            f"Assumed: {assumed}." if assumed else "Full throttle.",
            f"Source of the converter: {source}.",
        ],
        font_scale=font_scale,
    )
    width, height = (float(value) for value in figure.get_size_inches())
    grid = figure.add_gridspec(
        3,
        1,
        left=(0.25 + 0.5 * font_scale) / width,
        right=1.0 - 0.3 / width,
        bottom=bottom + (0.2 + 0.35 * font_scale) / height,
        top=top - (0.1 + 0.24 * font_scale) / height,
        hspace=0.34 * font_scale**0.5,
    )
    return [figure.add_subplot(grid[row, 0]) for row in range(3)]
