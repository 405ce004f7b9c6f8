"""The impeller clutch as two maps over travel speed and clutch setting."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from contourpy import contour_generator
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator

from converter_match.curves import FloatArray
from converter_match.judgement.arrangement.clutch import ClutchMap
from converter_match.present.drawing import style
from converter_match.present.drawing.labels import PATCH
from converter_match.present.figures.arrangement_lines import in_units, two_axes
from converter_match.units import System, show

_LEVELS = 6
# Shorter than this on the canvas [px] a piece of a contour is an accident of the grid.
_SHORTEST = 24.0


def clutch_map(
    run: ClutchMap,
    *,
    axes: Sequence[Axes] | None = None,
    system: System = "si",
    font_scale: float = 1.0,
) -> tuple[Axes, Axes]:
    """Draw the impeller clutch over setting and turbine speed as maps with contour lines.

    Parameters
    ----------
    run : ClutchMap
    axes : sequence of two Axes, optional
    system : {"si", "us"}
    font_scale : float

    Returns
    -------
    tuple of Axes
        Turbine torque (gid ``torque``), with the setting that keeps it at its limit (gid
        ``limit``); power left for the hydraulics and heat in the clutch (gids ``power-left``,
        ``clutch-heat``). The words on a line have its gid, its level and ``-label``. Where it
        depends on whether the clutch closes or opens, both are dotted (gid ``by-history``).

    Raises
    ------
    InputError
        If the number of axes is not two, or the unit system or font scale cannot be used.
    """
    left, right = two_axes(axes)
    points = run.points
    if run.wheels is None:
        along = ("turbine speed", "angular_speed", run.turbine_speed)
        pull = ("turbine torque", "torque", points.turbine_torque)
    else:
        along = ("travel speed", "velocity", run.wheels.travel_speed(run.turbine_speed))
        effort = run.wheels.tractive_effort(points.turbine_torque)
        pull = ("tractive effort", "force", effort)
    x = in_units(along[2], along[1], system)
    y = 100.0 * run.setting
    size = style.sizes(font_scale)
    power = show(0.0, "power", system)[1]
    heads = (
        style.axis_label(pull[0], pull[1], system),
        f"spare power, clutch heat ({power})",
    )
    for ax, head in zip((left, right), heads, strict=True):
        style.dress(ax, font_scale=font_scale)
        ax.grid(visible=False)
        ax.set_xlim(float(x[0]), float(x[-1]))
        ax.set_ylim(0.0, 100.0)
        below = style.axis_label(along[0], along[1], system)
        style.name_axes(ax, below, f"clutch setting (%); lines: {head}", font_scale=font_scale)
    maps = [_contours(left, x, y, in_units(pull[2], pull[1], system), 0, "torque")]
    # Without slip the engine's speed belongs to the converter and not to the clutch.
    left_over = np.where(points.slipping, in_units(points.power_left, "power", system), np.nan)
    maps.append(_contours(right, x, y, left_over, 0, "power-left"))
    heat = np.where(points.slipping, in_units(points.clutch_heat, "power", system), np.nan)
    maps.append(_contours(right, x, y, heat, 1, "clutch-heat"))
    # At full pressure, what the clutch carries without slipping is what it needs to carry.
    needed = 100.0 * points.torque[-1] / run.clutch.torque_capacity
    needed = np.where(points.slipping[-1], np.nan, needed)
    if np.isfinite(needed).any():
        for ax in (left, right):
            ax.fill_between(
                x,
                needed,
                100.0,
                facecolor="none",
                edgecolor=style.PALETTE["sage"],
                hatch="////",
                linewidth=0.0,
                alpha=0.5,
                gid="no-slip",
            )
            ax.plot(x, needed, gid="slip-limit", **style.STROKES["range"].line())
        look = style.letters(size.label)
        style.label_line(left, x, needed, "no slip above", near=0.9, side=-1, **look)
    _shade_history(left, right, x, y, run, size)
    if run.limited is not None:
        keeps = np.where(run.limited.setting < 1.0, 100.0 * run.limited.setting, np.nan)
        thick = style.SERIES[1]
        left.plot(x, keeps, gid="limit", **thick.line(linewidth=3.0, linestyle="solid"))
        look = style.letters(size.label, thick.word_color, bold=True)
        words = style.label_line(left, x, keeps, "turbine torque limit", near=0.45, side=-1, **look)
        if words is not None:
            words.set_bbox(PATCH)  # a contour may run along under them
    for ax, family, word in zip((left, right, right), maps, ("", "spare ", "heat "), strict=True):
        _name_levels(ax, family, word, size)
    return left, right


def _contours(
    ax: Axes, x: FloatArray, y: FloatArray, values: FloatArray, series: int, gid: str
) -> list[tuple[float, Line2D]]:
    """Draw contour lines; return the longest line of each level with the level."""
    if not np.isfinite(values).any() or float(np.nanmax(values)) <= 0.0:
        return []
    stroke = style.SERIES[series]
    look = stroke.line(linewidth=1.2, linestyle="solid" if series == 0 else (0.0, (4.0, 1.6)))
    maker = contour_generator(x, y, np.ma.masked_invalid(values))
    spots = []
    for level in MaxNLocator(_LEVELS).tick_values(0.0, float(np.nanmax(values)))[1:]:
        pieces = [np.asarray(piece) for piece in maker.lines(float(level))]
        lengths = [_on_canvas(ax, piece) for piece in pieces]
        kept = [
            (length, ax.plot(*piece.T, gid=gid, **look)[0])
            for length, piece in zip(lengths, pieces, strict=True)
            if length >= _SHORTEST
        ]
        if kept:
            spots.append((float(level), max(kept, key=lambda pair: pair[0])[1]))
    return spots


def _shade_history(
    left: Axes, right: Axes, x: FloatArray, y: FloatArray, run: ClutchMap, size: style.Sizes
) -> None:
    """Dot where an engine that was pulled down before runs otherwise than the map says."""
    where = run.by_history
    if not where.any():
        return
    edge = style.SLATE
    for ax in (left, right):
        shade = ax.contourf(x, y, where.astype(float), [0.5, 1.5], colors="none", hatches=["."])
        shade.set(gid="by-history", edgecolor=edge, linewidth=0.0)
        border = ax.contour(x, y, where.astype(float), [0.5], colors=edge, linewidths=1.2)
        border.set(gid="by-history-border")
    text = "dotted: the map is for an engine at its speed;\none pulled down before stays low here"
    look = style.letters(size.label)
    style.place_words(left, text, near=(0.5, 1.0), gid="by-history-label", **look)


def _on_canvas(ax: Axes, piece: FloatArray) -> float:
    """Length of a line [px]."""
    return float(np.hypot(*np.diff(ax.transData.transform(piece), axis=0).T).sum())


def _name_levels(
    ax: Axes, family: Sequence[tuple[float, Line2D]], word: str, size: style.Sizes
) -> None:
    """Write its level on each line, where it covers no other words."""
    for level, line in family:
        gid = f"{line.get_gid()}-{level:g}-label"
        look = style.letters(size.label, str(line.get_color()))
        x, y = (np.asarray(data, dtype=float) for data in line.get_data())
        style.label_line(ax, x, y, f"{word}{level:g}", near=0.5, drop=True, gid=gid, **look)
