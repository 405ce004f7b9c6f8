"""The line of a load that is no vehicle, in the panel of what the turbine gives."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from converter_match.components.load import ShaftLoad
from converter_match.judgement.load.load import CarriedLine, LoadResult
from converter_match.judgement.match.result import MatchResult
from converter_match.present.drawing import style
from converter_match.units import System, show

_SAMPLES = 200


def load_lines(ax: Axes, result: MatchResult, system: System, font_scale: float = 1.0) -> None:
    """Draw the torque that a load takes over turbine speed, and where the two run together.

    Parameters
    ----------
    ax : Axes
        Turbine torque over turbine speed, its limits set.
    result : MatchResult
        Drawn is the load that was asked for beside it, if there is one on its own turbine shaft.
    system : {"si", "us"}
    font_scale : float
        Multiplies the letters. The gids are ``load-line-N``, ``load-back-N`` (a hanging load that
        drives the turbine backwards), ``load-point-N``, ``load-unstable-N`` and ``load-label-N``.
    """
    found = [block.detail for block in result.beside if isinstance(block.detail, LoadResult)]
    for answer in found:
        if answer.alone:  # else on the common shaft, not on this turbine's
            carried_lines(ax, answer.load, answer.carried, system, font_scale)


def carried_lines(
    ax: Axes,
    load: ShaftLoad,
    carried: Sequence[CarriedLine],
    system: System,
    font_scale: float = 1.0,
) -> None:
    """Draw the lines of a load and their equilibria; parameters and gids as of `load_lines`.

    Parameters
    ----------
    ax : Axes
    load : ShaftLoad
    carried : sequence of CarriedLine
    system : {"si", "us"}
    font_scale : float
    """
    for row, each in enumerate(carried):
        _draw(ax, row, each, system)
    ends = sorted({0, len(carried) - 1})
    look = style.letters(style.sizes(font_scale).label)
    for row in ends:
        line = next(item for item in ax.lines if item.get_gid() == f"load-line-{row}")
        layer = carried[row].line.layer
        name = load.kind if len(ends) == 1 else f"{load.kind}, layer {layer}"
        style.label_line(
            ax,
            *line.get_data(),
            name if load.kind != "table" else "load",
            side=1 if row else -1,
            gid=f"load-label-{row}",
            **look,
        )


def _draw(ax: Axes, row: int, each: CarriedLine, system: System) -> None:
    """Draw one line and its equilibria."""
    stroke = style.STROKES["load"]
    per_speed = float(show(1.0, "angular_speed", system)[0])
    per_torque = float(show(1.0, "torque", system)[0])
    low, high = (edge / per_speed for edge in ax.get_xlim())
    speed = np.linspace(0.0, min(high, each.line.last_speed), _SAMPLES)
    torque = each.line(speed)
    # What is taller than the panel is left out, or its name would stand outside.
    inside = torque * per_torque <= ax.get_ylim()[1]
    ax.plot(
        speed[inside] * per_speed,
        torque[inside] * per_torque,
        gid=f"load-line-{row}",
        zorder=3,
        **stroke.line(),
    )
    if low < 0.0 and each.line.lowering is not None:
        back = np.array([low, 0.0])
        drives = np.full(2, each.line.lowering) * per_torque
        look = stroke.line(linewidth=1.0)
        ax.plot(back * per_speed, drives, gid=f"load-back-{row}", zorder=3, **look)
    carried_points(ax, row, each, system)


def carried_points(
    ax: Axes, row: int, each: CarriedLine, system: System, *, of: str = "load"
) -> None:
    """Mark where a line of a load runs; gids ``load-point-N`` and ``load-unstable-N``.

    Parameters
    ----------
    ax : Axes
    row : int
    each : CarriedLine
    system : {"si", "us"}
    of : str
        First word of the gids.
    """
    stroke = style.STROKES["load"]
    per_speed = float(show(1.0, "angular_speed", system)[0])
    per_torque = float(show(1.0, "torque", system)[0])
    for name, which in (("point", each.found.stable), ("unstable", ~each.found.stable)):
        if not which.any():
            continue
        look = stroke.mark(markersize=8.0)
        if name == "unstable":
            look |= {"markerfacecolor": "white", "markeredgecolor": stroke.color}
        ax.plot(
            each.found.speed[which] * per_speed,
            each.found.states.torque[which] * per_torque,
            gid=f"{of}-{name}-{row}",
            **look,
        )
