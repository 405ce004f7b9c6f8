"""Panels of an arrangement's drive: stator, torque divider, lock-up."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from converter_match.judgement.arrangement.drive import DividedRun
from converter_match.physics.arrangement.lockup import LockUpRun
from converter_match.physics.match.side_by_side import SideBySide
from converter_match.present.drawing import style
from converter_match.present.figures.arrangement_lines import Line, draw_lines, two_axes
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
    jumps_of = (pair.first_jumps, pair.second_jumps)
    looks = (style.SERIES[0], style.SERIES[1])
    for ax, quantity, dimension, words in (
        (left, "turbine_torque", "torque", "turbine torque"),
        (right, "efficiency", "ratio", "efficiency"),
    ):
        lines = [
            Line(gid, name, getattr(points, quantity), look, near, jumps=jumps)
            for gid, name, points, jumps, look, near in zip(
                ("first", "second"), names, both, jumps_of, looks, (0.3, 0.45), strict=True
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
    over = ("output speed / engine speed", "number")
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
    locked = run.locked.turbine_torque >= 0.0  # past the governor droop line it no longer drives
    for ax, quantity, dimension, words in (
        (left, "turbine_torque", "torque", "turbine torque"),
        (right, "heat", "power", "heat into the oil"),
    ):
        held = np.where(locked, getattr(run.locked, quantity), np.nan)
        lines = [
            Line(
                "open",
                "open",
                getattr(run.open, quantity),
                style.SERIES[0],
                0.3,
                jumps=run.jumps_before,
            ),
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
    for gid, word, speed in (
        ("engage", "engages", run.closes),
        ("release", "releases", run.lets_go),
    ):
        if np.isnan(speed):
            continue
        at = float(show(speed, "angular_speed", system)[0])
        for ax in (left, right):
            ax.axvline(at, color=style.SLATE, linewidth=0.9, linestyle="dotted", gid=gid)
        low, high = left.get_ylim()
        upright = np.full(2, at), np.array([low, high])
        style.label_line(left, *upright, word, near=0.12, gid=f"{gid}-label", **look)
    return left, right
