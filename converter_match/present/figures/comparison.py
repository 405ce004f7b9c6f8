"""Tractive effort of the present machine and of every candidate, one over the other."""

from __future__ import annotations

import string
from collections.abc import Mapping

import numpy as np
from matplotlib.axes import Axes

from converter_match.errors import InputError
from converter_match.judgement.decision.comparison import effort_lines
from converter_match.judgement.decision.run import StudyResult
from converter_match.present.drawing import style
from converter_match.study.study import PRESENT
from converter_match.units import System, show

# A stall effort far beyond what matters would squeeze the rest.
_ROOM = 1.06
_LABELLED = 0.30


def letters(result: StudyResult) -> Mapping[str, str]:
    """Return a short name for every combination: ``today``, ``A``, ``B``, ..."""
    names = {}
    candidates = [c.id for c in result.study.candidates]
    for row, name in enumerate(candidates):
        few = row < len(string.ascii_uppercase)
        names[name] = string.ascii_uppercase[row] if few else str(row + 1)
    return {PRESENT: "today", **names} if result.study.present is not None else names


def compared_efforts(
    result: StudyResult,
    *,
    condition: int = 0,
    ax: Axes | None = None,
    system: System = "si",
    font_scale: float = 1.0,
    height: float = 5.4,
    key: bool = True,
) -> Axes:
    """Draw the greatest effort within grip over road speed for every combination.

    Parameters
    ----------
    result : StudyResult
    condition : int
        Which condition of the study, counted from 0.
    ax : Axes, optional
        A figure of its own without.
    system : {"si", "us"}
    font_scale : float
    height : float
        Of a figure of its own, 8 in wide [in].
    key : bool
        Whether to say which letter is which combination; not where that stands beside the figure.

    Returns
    -------
    Axes
        Artists worth finding: ``effort-ID`` for each combination, ``resistance-GRADE``, ``key``.

    Raises
    ------
    InputError
        If there is no such condition, or nothing at the wheels is known.
    """
    names = letters(result)
    drawn = []
    for combination in result.study.combinations:
        lines = effort_lines(result.outcome(combination.id, condition))
        if lines is not None:
            drawn.append((combination, *lines))
    if not drawn:
        raise InputError(
            "nothing at the wheels is known",
            source=result.study.id,
            expected="a driveline, a machine and duty.surface",
        )
    if ax is None:
        figure = style.new_figure(8.0, height)
        ax = figure.add_axes((0.075, 0.59 / height, 0.905, 1.0 - 0.98 / height))
        figure.set_label(f"Tractive effort, {result.study.conditions[condition].name}")
    style.dress(ax, font_scale=font_scale)
    style.name_axes(
        ax,
        style.axis_label("road speed", "velocity", system),
        style.axis_label("traction-limited tractive effort", "force", system),
        font_scale=font_scale,
    )
    top_speed = max(float(speed[np.isfinite(force)].max()) for _, speed, force in drawn)
    top_force = max(float(np.nanmax(force)) for _, _, force in drawn)
    ax.set_xlim(0.0, _shown(1.03 * top_speed, "velocity", system))
    ax.set_ylim(0.0, _shown(_ROOM * top_force, "force", system))
    size = style.sizes(font_scale)
    _resistances(ax, result, condition, top_speed, system, size.note)
    curves = []
    for row, (combination, speed, force) in enumerate(drawn):
        stroke = style.series(row)
        x = np.asarray(show(speed, "velocity", system)[0])
        y = np.asarray(show(force, "force", system)[0])
        # Marks as well as dashes: lines that run together are told apart in grey.
        marks = stroke.mark(markersize=5.0, markeredgewidth=0.6, markevery=(0.03 * row, 0.16))
        del marks["linestyle"]
        ax.plot(x, y, gid=f"effort-{combination.id}", **(marks | stroke.line(zorder=3 + 0.1 * row)))
        curves.append((x, y, names[combination.id], stroke))
    for row, (x, y, text, stroke) in enumerate(curves):
        near = _LABELLED + 0.16 * row
        color = stroke.word_color
        style.label_line(ax, x, y, text, near=near, color=color, size=size.label, weight="bold")
    listed = "\n".join(f"{names[item.id]}: {item.name}" for item, _, _ in drawn)
    if key:
        style.place_words(
            ax, listed, near=(1.0, 1.0), color=style.PALETTE["ink"], size=size.note, gid="key"
        )
    return ax


def _resistances(
    ax: Axes, result: StudyResult, condition: int, top: float, system: System, size: float
) -> None:
    """Draw the resistance on each grade, where all combinations sit in the same machine."""
    at_wheels = (result.outcome(item.id, condition).tractive for item in result.study.combinations)
    known = [item for item in at_wheels if item is not None]
    if len({item.machine.fingerprint() for item in known}) != 1:
        return
    speed = np.linspace(0.0, top, 60)
    for row in known[0].grades:
        force = known[0].road_loads[0].resistance(row.grade, speed)
        x = np.asarray(show(speed, "velocity", system)[0])
        y = np.asarray(show(force, "force", system)[0])
        name = "level" if row.grade == 0.0 else f"{100 * row.grade:g} %"
        ax.plot(x, y, color=style.SLATE, linewidth=0.8, gid=f"resistance-{name}")
        style.label_line(ax, x, y, name, near=0.97, color=style.SLATE, size=size)


def _shown(value: float, dimension: str, system: System) -> float:
    return float(show(value, dimension, system)[0])
