"""The machine at its wheels: effort against speed, grades against speed, heat against grade."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes

from converter_match.curves import FloatArray
from converter_match.judgement.match.branches import parted
from converter_match.judgement.wheels.result import TractiveResult
from converter_match.physics.heat.continuous import heat_on_grades
from converter_match.present.drawing import style
from converter_match.present.drawing.empty_panel import empty_panel
from converter_match.units import System, show

ENVELOPE = style.Stroke("amber", "solid", 7.0, "o")
CONVERTER = style.Stroke("ink", "solid", 1.7, "o")
LOCK_UP = style.Stroke("petrol", (0.0, (5.0, 1.6)), 1.7, "s")
GRIP = style.Stroke("plum", (0.0, (8.0, 2.0, 1.2, 2.0)), 1.5, "^")
POINT = style.Stroke("brick", "solid", 1.8, "o")
_STROKES = {"converter": CONVERTER, "lock-up": LOCK_UP}
# A first gear that pulls far more than the ground takes would squeeze everything else.
_ABOVE_GRIP = 1.3


def effort_panel(
    result: TractiveResult,
    *,
    ax: Axes | None = None,
    system: System = "si",
    font_scale: float = 1.0,
) -> Axes:
    """Draw tractive effort over speed for every forward gear, with resistance on each grade.

    Parameters
    ----------
    result : TractiveResult
    ax : Axes, optional
        Where to draw; a figure of its own without.
    system : {"si", "us"}
    font_scale : float
        Multiplies all letters.

    Returns
    -------
    Axes
        Artists worth finding have a gid: ``envelope``, ``effort-GEAR-DRIVE`` (in force) and
        ``idle-GEAR-DRIVE`` (not in force), ``adhesion``, ``resistance-GRADE``, ``held-points``,
        ``unstable-points``, ``other-points``.
    """
    ax = _axes(ax, 8.0, 6.0)
    style.dress(ax, font_scale=font_scale)
    style.name_axes(
        ax,
        style.axis_label("road speed", "velocity", system),
        style.axis_label("tractive effort", "force", system),
        font_scale=font_scale,
    )
    size = style.sizes(font_scale).label
    cover = result.envelope
    grip = float(result.road_loads[0].adhesion(0.0))
    highest = float(np.nanmax(cover.effort))
    top = min(1.08 * highest, _ABOVE_GRIP * grip)
    # Effort that falls short of every resistance is seen to do so.
    least = min(float(result.road_loads[0].resistance(row.grade, 0.0)) for row in result.grades)
    top = max(top, 1.2 * least)
    ax.set_xlim(0.0, float(_speed(1.04 * cover.speed[-1], system)))
    ax.set_ylim(0.0, float(_force(top, system)))
    ax.plot(
        _speed(cover.speed, system),
        _force(cover.force, system),
        gid="envelope",
        **ENVELOPE.line(alpha=0.55, zorder=1.5, solid_capstyle="butt"),
    )
    names = _draw_gears(ax, result, grip, system)
    if np.isfinite(grip):
        ax.axhline(float(_force(grip, system)), gid="adhesion", **GRIP.line())
    speeds = np.linspace(0.0, cover.speed[-1], 60)
    lines = []
    for row in result.grades:
        resistance = result.road_loads[0].resistance(row.grade, speeds)
        x, y = _speed(speeds, system), _force(resistance, system)
        name = _percent(row.grade)
        ax.plot(x, y, color=style.SLATE, linewidth=0.9, gid=f"resistance-{name}")
        lines.append((x, y, "level" if row.grade == 0.0 else name))
    _draw_points(ax, result, system)
    for x, y, text, stroke in names:
        style.label_line(ax, x, y, text, near=0.25, color=stroke.word_color, size=size)
    for x, y, text in lines:
        style.label_line(ax, x, y, text, near=0.97, color=style.SLATE, size=size)
    if np.isfinite(grip):
        ends = np.array([0.0, float(ax.get_xlim()[1])])
        words = "adhesion limit on the level"
        flat = np.full(2, _force(grip, system))
        style.label_line(
            ax, ends, flat, words, near=0.7, side=1, color=GRIP.word_color, size=size, gid="grip"
        )
    style.place_words(
        ax,
        _key(result),
        near=(1.0, 1.0),
        color=style.SLATE,
        size=style.sizes(font_scale).note,
        gid="key",
    )
    return ax


def gradeability_panel(
    result: TractiveResult,
    *,
    ax: Axes | None = None,
    system: System = "si",
    font_scale: float = 1.0,
) -> Axes:
    """Draw the grade that can be climbed over speed, with the grades asked for.

    Parameters
    ----------
    result : TractiveResult
    ax : Axes, optional
    system : {"si", "us"}
    font_scale : float

    Returns
    -------
    Axes
        Artists worth finding: ``gradeability``, ``grade-points``; ``why-empty`` where no gear
        pulls even on the level.
    """
    ax = _axes(ax, 6.0, 4.0)
    style.dress(ax, font_scale=font_scale)
    below, label = (
        style.axis_label("road speed", "velocity", system),
        "gradeability (%)",
    )
    if not bool(np.any(result.gradeability >= 0.0)):
        empty_panel(
            ax,
            "none: insufficient tractive effort on the level",
            x=below,
            y=label,
            font_scale=font_scale,
        )
        ax.set_xticks([])
        return ax
    style.name_axes(ax, below, label, font_scale=font_scale)
    size = style.sizes(font_scale).label
    grades = np.where(np.isfinite(result.gradeability), 100.0 * result.gradeability, np.nan)
    x = _speed(result.envelope.speed, system)
    held = [row for row in result.grades if row.speed is not None]
    top = max(float(np.nanmax(grades)), 1.0)
    ax.set_xlim(0.0, float(x[-1]) * 1.04)
    ax.set_ylim(0.0, 1.12 * top)
    ax.plot(x, grades, gid="gradeability", **CONVERTER.line(linewidth=2.0))
    points = [(float(_speed(row.speed or 0.0, system)), 100.0 * row.grade) for row in held]
    unit = show(0.0, "velocity", system)[1]
    if not points:
        return ax
    ax.plot(*np.array(points).T, gid="grade-points", **POINT.mark())
    texts = [
        f"{_percent(row.grade)}: {point[0]:.1f} {unit} in {row.gear}"
        + (" locked" if row.drive == "lock-up" else "")
        for row, point in zip(held, points, strict=True)
    ]
    gids = [f"grade-{_percent(row.grade)}" for row in held]
    style.label_points(ax, points, texts, gids, color=style.PALETTE["ink"], size=size)
    return ax


def heat_panel(
    result: TractiveResult,
    *,
    ax: Axes | None = None,
    system: System = "si",
    font_scale: float = 1.0,
) -> Axes:
    """Draw the heat into the transmission oil over the grade that is climbed, gear by gear.

    Parameters
    ----------
    result : TractiveResult
    ax : Axes, optional
    system : {"si", "us"}
    font_scale : float

    Returns
    -------
    Axes
        Artists worth finding: ``heat-GEAR-DRIVE``, ``cooler``, ``cooled-points``; ``why-empty``
        where no gear holds a steady speed on the level or uphill.
    """
    ax = _axes(ax, 6.0, 4.0)
    style.dress(ax, font_scale=font_scale)
    label = style.axis_label("heat into the transmission oil", "power", system)
    size = style.sizes(font_scale).label
    capacity = result.cooler_capacity
    drawn, most, steepest = [], 0.0, 0.1
    for drive, load, row in zip(result.drives, result.road_loads, result.gears, strict=True):
        if row.direction != "forward":
            continue
        heats = heat_on_grades(drive, load, capacity)
        shown = heats.holds & (heats.grade >= 0.0)
        if not shown.any():
            continue
        x = np.where(shown, 100.0 * heats.grade, np.nan)
        y = np.where(shown, np.asarray(show(heats.heat, "power", system)[0]), np.nan)
        drawn.append((x, y, row))
        most, steepest = max(most, np.nanmax(y)), max(steepest, np.nanmax(x))
    if not drawn:
        why = "no gear holds a steady speed on the level or uphill"
        empty_panel(ax, why, x="grade (%)", y=label, font_scale=font_scale)
        ax.set_xticks([])
        return ax
    style.name_axes(ax, "grade (%)", label, font_scale=font_scale)
    most = most if most > 0.0 else 1.0
    limit = None if capacity is None else show(capacity, "power", system)[0]
    ax.set_xlim(0.0, 1.04 * steepest)
    ax.set_ylim(0.0, min(1.1 * most, 2.2 * limit) if limit else 1.1 * most)
    for x, y, row in drawn:
        stroke = _STROKES[row.drive]
        ax.plot(x, y, gid=f"heat-{row.gear}-{row.drive}", **stroke.line(linewidth=1.4))
    if limit is not None:
        ax.axhline(limit, gid="cooler", **GRIP.line())
        marks = [row for _, _, row in drawn if row.cooled_limited_by == "cooler"]
        points = [(100.0 * row.steepest_cooled, limit) for row in marks if row.steepest_cooled]
        if points:
            ax.plot(*np.array(points).T, gid="cooled-points", **POINT.mark(markersize=6.0))
        style.label_line(
            ax,
            np.array([0.0, 1.04 * steepest]),
            np.full(2, limit),
            "cooling capacity, oil at its limit",
            near=0.8,
            side=1,
            color=GRIP.word_color,
            size=size,
        )
    for x, y, row in drawn:
        if row.drive == "converter":
            look = style.letters(size, CONVERTER.word_color) | {"gid": f"gear-{row.gear}"}
            on_it = style.label_line(ax, x, y, row.gear, near=0.8, drop=True, **look)
            if on_it is None:  # a gear for the level alone runs up beside the axis
                style.label_line(ax, x, y, row.gear, near=0.8, side=-1, drop=True, **look)
    # Locked up there is little heat and the curves lie together: one name for all of them.
    locked = [(x, y) for x, y, row in drawn if row.drive == "lock-up"]
    if locked:
        x, y = max(locked, key=lambda curve: float(np.nanmax(curve[0])))
        style.label_line(
            ax, x, y, "locked up", near=0.9, side=-1, color=LOCK_UP.word_color, size=size
        )
    return ax


_Named = list[tuple[FloatArray, FloatArray, str, style.Stroke]]


def _draw_gears(ax: Axes, result: TractiveResult, grip: float, system: System) -> _Named:
    named: _Named = []
    for drive in result.drives:
        if drive.gear.direction != "forward":
            continue
        curve = drive.curve()
        # Where the engine jumps from one match to another, nothing runs between.
        breaks = np.flatnonzero(drive.jumps_before)
        x = parted(_speed(curve.road_speed(result.machine, grip), system), breaks)
        y = parted(_force(curve.force, system), breaks)
        active = np.insert(drive.active(curve.turbine.turbine_speed), breaks, False)
        stroke = _STROKES[drive.drive]
        name = f"{drive.gear.name}-{drive.drive}"
        if not active.all():
            ax.plot(
                x,
                np.where(active, np.nan, y),
                gid=f"idle-{name}",
                **stroke.line(linewidth=0.7, linestyle=(0.0, (1.0, 2.0))),
            )
        shown = np.where(active, y, np.nan)
        ax.plot(x, shown, gid=f"effort-{name}", **stroke.line())
        slowed = drive.shaft.slowed_down if drive.drive == "converter" else None
        if slowed is not None:
            down = drive.of_turbine(slowed)
            ax.plot(
                _speed(down.road_speed(result.machine, grip), system),
                np.where(drive.active(slowed.turbine_speed), _force(down.force, system), np.nan),
                gid=f"slowed-{name}",
                **stroke.line(linewidth=1.0, linestyle=(0.0, (3.0, 2.0))),
            )
        text = drive.gear.name + (" locked" if drive.drive == "lock-up" else "")
        named.append((x, shown, text, stroke))
    return named


def _draw_points(ax: Axes, result: TractiveResult, system: System) -> None:
    points = result.points
    forward = np.array([drive.gear.direction == "forward" for drive in result.drives])
    ahead = forward[points.drive]
    x, y = _speed(points.speed, system), _force(points.wheels.force, system)
    groups = (
        ("held-points", points.held, POINT.mark(clip_on=True)),
        (
            "unstable-points",
            ~points.stable & points.active,
            POINT.mark(
                markerfacecolor="white", markeredgecolor=POINT.color, markersize=5.5, clip_on=True
            ),
        ),
        (
            "slowed-down-points",
            points.could_be_held & ~points.held,
            POINT.mark(marker="v", markersize=6.5, clip_on=True),
        ),
        (
            "other-points",
            points.stable & ~points.could_be_held,
            POINT.mark(color=style.SLATE, marker="x", markersize=4.5, markeredgecolor=style.SLATE),
        ),
    )
    for gid, chosen, look in groups:
        ax.plot(x[ahead & chosen], y[ahead & chosen], gid=gid, **look | {"clip_on": True})


def _key(result: TractiveResult) -> str:
    said = ["number: gear; broad: envelope", "dot: steady point"]
    if any(drive.drive == "lock-up" for drive in result.drives):
        said.append("dotted, cross: not active under the lock-up rule")
    if bool(np.any(~result.points.stable & result.points.active)):
        said.append("ring: unstable")
    if any(drive.shaft.slowed_down is not None for drive in result.drives):
        said.append("thin dashes, triangle: only slowed down")
    return "\n".join(said)


def _axes(ax: Axes | None, width: float, height: float) -> Axes:
    if ax is not None:
        return ax
    figure = style.new_figure(width, height)
    return figure.add_axes((0.1, 0.13, 0.86, 0.77))


def _percent(grade: float) -> str:
    return f"{100.0 * grade:g} %"


def _speed(values: FloatArray | float, system: System) -> FloatArray:
    return np.asarray(show(np.asarray(values, dtype=np.float64), "velocity", system)[0])


def _force(values: FloatArray | float, system: System) -> FloatArray:
    return np.asarray(show(np.asarray(values, dtype=np.float64), "force", system)[0])
