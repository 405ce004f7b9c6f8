"""Velocity triangles: what the oil does where it leaves impeller, turbine and stator."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import FancyArrowPatch

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.physics.converter.velocity_triangles import Triangle, VelocityTriangles
from converter_match.present.drawing import style
from converter_match.units import System, from_si, label, show

# Oil velocities are given in m/s; the road's unit of velocity would mean little here.
_UNITS = {"si": "m/s", "us": "ft/s"}
_BLADE, _ABSOLUTE, _RELATIVE, _NEXT = (
    style.SERIES[0],
    style.SERIES[1],
    style.SERIES[2],
    style.SERIES[4],
)


def velocity_triangle_panels(
    result: VelocityTriangles,
    *,
    axes: Sequence[Axes] | None = None,
    system: System = "si",
    font_scale: float = 1.0,
) -> tuple[Axes, ...]:
    """Draw the triangle at each exit, one below the other, to one scale and with true angles.

    Solid: the blade's own speed u. Dashed: absolute velocity V. Dash-dotted: velocity W along the
    blade. Dotted: the direction from which the next row would take the oil without loss, joined to
    V by the shock.

    Parameters
    ----------
    result : VelocityTriangles
    axes : sequence of Axes, optional
        One for each triangle; a figure of their own without.
    system : {"si", "us"}
    font_scale : float

    Returns
    -------
    tuple of Axes
        In the order of the triangles. Artists worth finding have a gid: ``ROW-blade-speed``,
        ``ROW-absolute``, ``ROW-relative``, ``ROW-next-blade``, ``ROW-shock`` and ``...-label``.

    Raises
    ------
    InputError
        If the number of axes is not that of the triangles, or the unit system or font scale cannot
        be used.
    """
    triangles = result.triangles
    show(0.0, "torque", system)  # refuses a system that is not one
    sides = [_sides(triangle, system) for triangle in triangles]
    corners = np.concatenate([np.reshape(list(side.values()), (-1, 2)) for side in sides])
    if axes is None:
        axes = _own_axes(result, corners, system, font_scale)
    if len(axes) != len(triangles):
        raise InputError(
            "needs one axes for each triangle",
            field="axes",
            found=len(axes),
            expected=str(len(triangles)),
        )
    unit = label(_UNITS[system])
    for number, (ax, triangle, side) in enumerate(zip(axes, triangles, sides, strict=True)):
        style.dress(ax, font_scale=font_scale)
        last = number == len(triangles) - 1
        style.name_axes(
            ax,
            f"tangential velocity, forwards in rotation ({unit})" if last else None,
            f"{triangle.row} exit: meridional velocity ({unit})",
            font_scale=font_scale,
        )
        _limit(ax, corners)
        _draw(ax, triangle, side, system, font_scale)
    return tuple(axes)


def velocity_triangles_figure(
    result: VelocityTriangles, *, system: System = "si", font_scale: float = 1.0
) -> Figure:
    """Draw the triangle at each exit on a page of its own; see `velocity_triangle_panels`.

    Parameters
    ----------
    result : VelocityTriangles
    system : {"si", "us"}
    font_scale : float

    Returns
    -------
    Figure
    """
    panels = velocity_triangle_panels(result, system=system, font_scale=font_scale)
    return cast("Figure", panels[0].figure)


def _own_axes(
    result: VelocityTriangles, corners: FloatArray, system: System, font_scale: float
) -> list[Axes]:
    figure = style.new_figure(9.0, 9.0)
    points = result.points
    speed, speed_unit = show(result.impeller_speed, "angular_speed", system)
    held = {"fixed": "fixed stator", "free": "stator turning freely", "none": "no stator"}
    stator = held.get(
        points.geometry.mounting, "stator freewheels" if points.stator_turns else "stator holds"
    )
    flow = abs(float(points.flow)) * result.impeller_speed
    amount, flow_unit = show(flow, "volume_flow", system)
    bottom, top = style.frame(
        figure,
        [f"Velocity triangles: {points.geometry.name}"],
        [
            f"speed ratio {result.speed_ratio:.3g}, impeller at {speed:.0f} {speed_unit}, torque "
            f"ratio {float(points.torque_ratio):.2f}, {stator}, oil going round "
            f"{'backwards ' if points.flow < 0 else ''}at about {_rounded(amount)} {flow_unit}",
        ],
        ["Estimate from a mean-streamline model, not a measurement."],
        font_scale=font_scale,
    )
    grid = figure.add_gridspec(
        len(result.triangles),
        1,
        left=0.07,
        right=0.97,
        bottom=bottom + 0.06,
        top=top - 0.04,
        hspace=0.35,
    )
    return [figure.add_subplot(grid[row, 0]) for row in range(len(result.triangles))]


def _rounded(amount: float) -> str:
    """Return an amount in three digits: an estimate has no more.

    Examples
    --------
    >>> _rounded(19267.4), _rounded(4.0)
    ('19300', '4')
    """
    return f"{float(f'{amount:.3g}'):.15g}"


def _sides(triangle: Triangle, system: System) -> dict[str, FloatArray]:
    """Corner points of every arrow, shape (2, 2), in the unit shown."""
    t = triangle
    height = t.meridional
    pairs = {
        "blade-speed": [(0.0, 0.0), (t.blade_speed, 0.0)],
        "absolute": [(0.0, 0.0), (t.swirl, height)],
        "relative": [(t.blade_speed, 0.0), (t.swirl, height)],
        "next-blade": [(t.next_blade_speed, 0.0), (t.next_swirl, height)],
        "shock": [(t.next_swirl, height), (t.swirl, height)],
    }
    return {
        name: from_si(np.array(ends), _UNITS[system], "velocity") for name, ends in pairs.items()
    }


def _limit(ax: Axes, corners: FloatArray) -> None:
    """Give every panel the same limits, and both directions one scale, so that angles are true."""
    low, high = corners.min(axis=0), corners.max(axis=0)
    span = (high - low) * (1.1, 1.5)  # room for words, above and below most of all
    width, height = ax.bbox.width, ax.bbox.height
    scale = max(span[0] / width, span[1] / height)
    middle = 0.5 * (low + high)
    ax.set_xlim(middle[0] - 0.5 * scale * width, middle[0] + 0.5 * scale * width)
    ax.set_ylim(middle[1] - 0.5 * scale * height, middle[1] + 0.5 * scale * height)
    ax.set_aspect("equal", adjustable="box", anchor="W")


def _draw(
    ax: Axes,
    triangle: Triangle,
    sides: dict[str, FloatArray],
    system: System,
    font_scale: float,
) -> None:
    size = style.sizes(font_scale).label
    speed = _UNITS[system]

    def amount(value: float) -> str:
        return f"{abs(from_si(value, speed, 'velocity')):.1f}"

    t = triangle
    named = {
        "blade-speed": (_BLADE, f"{t.row} blade u = {amount(t.blade_speed)}"),
        "absolute": (_ABSOLUTE, f"oil V = {amount(np.hypot(t.swirl, t.meridional))}"),
        "relative": (
            _RELATIVE,
            f"along the blade W = {amount(np.hypot(t.relative_swirl, t.meridional))}",
        ),
        "next-blade": (_NEXT, f"{t.next_row} entry blade"),
        "shock": (_NEXT, f"shock {amount(t.shock)}"),
    }
    ax.axhline(0.0, color=style.SLATE, linewidth=0.7, zorder=1)
    for name, (stroke, _) in named.items():
        (x0, y0), (x1, y1) = sides[name]
        look = stroke.line(linestyle="solid") if name == "shock" else stroke.line()
        ax.plot([x0, x1], [y0, y1], gid=f"{t.row}-{name}", **look)
        if name != "next-blade" and np.hypot(x1 - x0, y1 - y0) > 0:
            ax.add_patch(
                FancyArrowPatch(
                    (x0, y0),
                    (x1, y1),
                    arrowstyle="<|-|>" if name == "shock" else "-|>",
                    mutation_scale=14.0,
                    linewidth=0.0,
                    color=stroke.color,
                    shrinkA=0.0,
                    shrinkB=0.0,
                    zorder=4,
                )
            )
    notes = style.label_points(
        ax,
        [(float(x), float(y)) for x, y in (sides[name].mean(axis=0) for name in named)],
        [text for _, text in named.values()],
        [f"{t.row}-{name}-label" for name in named],
        size=size,
        family=style.FAMILY,
    )
    for note, (stroke, _) in zip(notes, named.values(), strict=True):
        note.set_color(stroke.word_color)
        if note.arrow_patch is not None:
            note.arrow_patch.set_color(stroke.word_color)
