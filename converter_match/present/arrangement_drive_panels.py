"""Panels of an arrangement's drive: stator, torque divider, lock-up, impeller clutch."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from converter_match.curves import FloatArray
from converter_match.judgement.arrangement_clutch import ClutchMap
from converter_match.judgement.arrangement_drive import DividedRun
from converter_match.physics.lockup import LockUpRun
from converter_match.physics.side_by_side import SideBySide
from converter_match.present import style
from converter_match.present.arrangement_lines import Line, draw_lines, in_units, two_axes
from converter_match.units import System, show

_STATOR_WORDS = {"one-way": "one-way stator", "fixed": "fixed stator", "none": "fluid coupling"}


def stator_panels(
    pair: SideBySide,
    *,
    axes: Sequence[Axes] | None = None,
    system: System = "si",
    font_scale: float = 1.0,
) -> tuple[Axes, Axes]:
    """Draw turbine torque and efficiency of two characteristics over turbine speed.

    Parameters
    ----------
    pair : SideBySide
    axes : sequence of two Axes, optional
    system : {"si", "us"}
    font_scale : float

    Returns
    -------
    tuple of Axes
        Torque, efficiency; lines have the gids ``first`` and ``second``.

    Raises
    ------
    InputError
        If the number of axes is not two, or the unit system or font scale cannot be used.
    """
    left, right = two_axes(axes)
    names = [_STATOR_WORDS[each.stator] for each in (pair.first, pair.second)]
    both = (pair.first_points, pair.second_points)
    looks = (style.SERIES[0], style.SERIES[1])
    for ax, quantity, dimension, words in (
        (left, "turbine_torque", "torque", "turbine torque"),
        (right, "efficiency", "ratio", "efficiency"),
    ):
        lines = [
            Line(gid, name, getattr(points, quantity), look, near)
            for gid, name, points, look, near in zip(
                ("first", "second"), names, both, looks, (0.3, 0.45), strict=True
            )
        ]
        draw_lines(
            ax,
            pair.turbine_speed,
            ("turbine speed", "angular_speed"),
            lines,
            (words, dimension),
            system=system,
            font_scale=font_scale,
        )
    return left, right


def divider_panels(
    run: DividedRun,
    *,
    axes: Sequence[Axes] | None = None,
    system: System = "si",
    font_scale: float = 1.0,
) -> tuple[Axes, Axes]:
    """Draw the combined characteristic and the power on each path over the output's speed ratio.

    Parameters
    ----------
    run : DividedRun
    axes : sequence of two Axes, optional
    system : {"si", "us"}
    font_scale : float

    Returns
    -------
    tuple of Axes
        Characteristic (gids ``torque-ratio``, ``efficiency``, ``inner-torque-ratio``), power split
        (gids ``output``, ``mechanical``, ``hydraulic-out``, ``heat``).

    Raises
    ------
    InputError
        If the number of axes is not two, or the unit system or font scale cannot be used.
    """
    left, right = two_axes(axes)
    ratio = run.output_ratio
    torque_ratio = run.combined.torque_ratio_at(ratio)
    inner = np.full(ratio.shape, np.nan)
    known = (ratio >= max(run.inner.domain[0], 0.0)) & (ratio <= run.inner.domain[1])
    inner[known] = run.inner.torque_ratio_at(ratio[known])
    over = ("output speed / engine speed", "ratio")
    draw_lines(
        left,
        ratio,
        over,
        [
            Line("torque-ratio", "torque ratio", torque_ratio, style.SERIES[0], 0.25),
            Line("inner-torque-ratio", "converter alone", inner, style.SERIES[2], 0.3),
            Line("efficiency", "efficiency", ratio * torque_ratio, style.SERIES[1], 0.5),
        ],
        ("torque ratio, efficiency", "number"),
        system=system,
        font_scale=font_scale,
    )
    draw_lines(
        right,
        ratio,
        over,
        [
            Line("output", "output", run.split.output, style.SERIES[0], 0.6),
            Line("mechanical", "through the gears", run.split.mechanical, style.SERIES[1], 0.75),
            Line(
                "hydraulic-out", "from the turbine", run.split.hydraulic_out, style.SERIES[2], 0.5
            ),
            Line("heat", "heat", run.split.heat, style.SERIES[4], 0.3),
        ],
        ("power", "power"),
        system=system,
        font_scale=font_scale,
    )
    return left, right


def lock_up_panels(
    run: LockUpRun,
    *,
    axes: Sequence[Axes] | None = None,
    system: System = "si",
    font_scale: float = 1.0,
) -> tuple[Axes, Axes]:
    """Draw torque and heat over turbine speed, open and locked up, with the hysteresis.

    Parameters
    ----------
    run : LockUpRun
    axes : sequence of two Axes, optional
    system : {"si", "us"}
    font_scale : float

    Returns
    -------
    tuple of Axes
        Torque, heat; gids ``open``, ``locked``, ``engage``, ``release``.

    Raises
    ------
    InputError
        If the number of axes is not two, or the unit system or font scale cannot be used.
    """
    left, right = two_axes(axes)
    locked = run.locked.turbine_torque >= 0.0  # past the governed run-out it no longer drives
    for ax, quantity, dimension, words in (
        (left, "turbine_torque", "torque", "turbine torque"),
        (right, "heat", "power", "heat into the oil"),
    ):
        held = np.where(locked, getattr(run.locked, quantity), np.nan)
        lines = [
            Line("open", "open", getattr(run.open, quantity), style.SERIES[0], 0.3),
            Line("locked", "locked up", held, style.SERIES[1], 0.6),
        ]
        draw_lines(
            ax,
            run.turbine_speed,
            ("turbine speed", "angular_speed"),
            lines,
            (words, dimension),
            system=system,
            font_scale=font_scale,
        )
    look = style.letters(style.sizes(font_scale).label, style.SLATE)
    for gid, word, speed in (("engage", "closes", run.closes), ("release", "lets go", run.lets_go)):
        if np.isnan(speed):
            continue
        at = float(show(speed, "angular_speed", system)[0])
        for ax in (left, right):
            ax.axvline(at, color=style.SLATE, linewidth=0.9, linestyle="dotted", gid=gid)
        low, high = left.get_ylim()
        upright = np.full(2, at), np.array([low, high])
        style.label_line(left, *upright, word, near=0.12, gid=f"{gid}-label", **look)
    return left, right


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
        Turbine torque, with the setting that keeps it at its limit (gid ``limit``); power left for
        the hydraulics and heat in the clutch (gids ``power-left``, ``clutch-heat``).

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
        f"left for hydraulics, clutch heat ({power})",
    )
    for ax, head in zip((left, right), heads, strict=True):
        style.dress(ax, font_scale=font_scale)
        ax.grid(visible=False)
        ax.set_xlim(float(x[0]), float(x[-1]))
        ax.set_ylim(0.0, 100.0)
        below = style.axis_label(along[0], along[1], system)
        style.name_axes(ax, below, f"clutch setting (%); lines: {head}", font_scale=font_scale)
    _contours(left, x, y, in_units(pull[2], pull[1], system), 0, "torque", size)
    # Without slip the engine's speed belongs to the converter and not to the clutch.
    left_over = np.where(points.slipping, in_units(points.power_left, "power", system), np.nan)
    _contours(right, x, y, left_over, 0, "power-left", size, words="left ")
    heat = np.where(points.slipping, in_units(points.clutch_heat, "power", system), np.nan)
    _contours(right, x, y, heat, 1, "clutch-heat", size, words="heat ")
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
    if run.limited is not None:
        keeps = np.where(run.limited.setting < 1.0, 100.0 * run.limited.setting, np.nan)
        thick = style.SERIES[1]
        left.plot(x, keeps, gid="limit", **thick.line(linewidth=3.0, linestyle="solid"))
        look = style.letters(size.label, thick.word_color, bold=True)
        style.label_line(left, x, keeps, "wheels at their limit", near=0.45, side=-1, **look)
    return left, right


def _contours(
    ax: Axes,
    x: FloatArray,
    y: FloatArray,
    values: FloatArray,
    series: int,
    gid: str,
    size: style.Sizes,
    words: str = "",
) -> None:
    if not np.isfinite(values).any() or float(np.nanmax(values)) <= 0.0:
        return
    look = style.SERIES[series]
    drawn = ax.contour(
        x,
        y,
        np.ma.masked_invalid(values),
        levels=6,
        colors=[look.color],
        linewidths=1.2,
        linestyles="solid" if series == 0 else "dashed",
    )
    drawn.set_gid(gid)
    ax.clabel(drawn, fmt=lambda level: f"{words}{level:.0f}", fontsize=size.label)
