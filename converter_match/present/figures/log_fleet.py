"""The logs of a fleet as one figure: capacity against the sheet, a line a machine."""

from __future__ import annotations

from matplotlib.figure import Figure

from converter_match.judgement.identify.fleet import LogFleet
from converter_match.present.drawing import style

_WITH = style.Stroke("ink", "solid", 1.6, "o")
_APART = style.Stroke("brick", "solid", 1.6, "D")


def log_fleet_figure(fleet: LogFleet, *, font_scale: float = 1.0) -> Figure:
    """Draw each machine's capacity against the sheet, the farthest from the fleet on top.

    Parameters
    ----------
    fleet : LogFleet
    font_scale : float

    Returns
    -------
    Figure
        Artists: ``span-NAME`` (from the least to the greatest speed ratio's value),
        ``level-NAME``, ``middle``, ``allowed``.
    """
    middle = fleet.middle or 1.0
    names = sorted(fleet.levels, key=lambda name: abs(fleet.levels[name] / middle - 1.0))
    width, height = 9.0, max(3.6, 2.4 + 0.34 * len(names) * font_scale)
    figure = style.new_figure(width, height)
    apart = fleet.standing_apart
    words = f"{len(apart)} stand{'s' if len(apart) == 1 else ''} apart" if fleet.middle else (
        "too few to say which stands apart"
    )  # fmt: skip
    bottom, top = style.frame(
        figure,
        [f"Capacity of {len(names)} machines by their logs: {words}"],
        ["Points: median over the speed ratios; lines: from the least to the greatest of them. "
         "Shaded: within what the fleet scatters. Farthest on top."],
        ["A torque signal that is wrong at every load alike looks like capacity: check by a stall "
         "test before anything is taken apart."],
        font_scale=font_scale,
    )  # fmt: skip
    left = 0.3 + 0.085 * max(8, *(len(name) for name in names)) * font_scale
    ax = figure.add_axes(
        (
            left / width,
            bottom + (0.25 + 0.3 * font_scale) / height,
            1.0 - (left + 0.3) / width,
            top - bottom - (0.35 + 0.45 * font_scale) / height,
        )
    )
    style.dress(ax, font_scale=font_scale)
    style.name_axes(ax, "capacity / sheet (–)", None, font_scale=font_scale)
    by_name = {machine.name: machine.result for machine in fleet.machines}
    if fleet.allowed is not None:
        ax.axvspan(middle * (1 - fleet.allowed), middle * (1 + fleet.allowed),
                   color=style.PALETTE["mist"], alpha=0.8, zorder=0, gid="allowed")  # fmt: skip
        ax.axvline(middle, gid="middle", color=style.SLATE, linewidth=1.0, linestyle=(0, (4, 2)))
    for row, name in enumerate(names):
        result = by_name[name]
        assert result is not None  # it has a level
        stroke = _APART if name in apart else _WITH
        values = [
            node.capacity_against_sheet.value
            for node in result.nodes
            if node.capacity_against_sheet is not None
        ]
        ax.plot([min(values), max(values)], [row, row], gid=f"span-{name}", color=stroke.color,
                linewidth=1.2, alpha=0.6)  # fmt: skip
        ax.plot([fleet.levels[name]], [row], gid=f"level-{name}", **stroke.mark())
    ax.set_ylim(-0.7, len(names) - 0.3)
    ax.set_yticks(range(len(names)), names)
    for text in ax.get_yticklabels():
        text.set(parse_math=False)
    ax.grid(visible=False, axis="y")
    return figure
