"""The logs of a fleet as one figure: capacity against the sheet, a line a machine."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from converter_match.judgement.identify.fleet import LogFleet
from converter_match.judgement.identify.months import Trend
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
        ``level-NAME``, ``middle``, ``allowed``; with months ``months-NAME`` on the right.
    """
    middle = fleet.middle or 1.0
    names = sorted(fleet.levels, key=lambda name: abs(fleet.levels[name] / middle - 1.0))
    trends = {m.name: m.trend for m in fleet.machines if m.trend and len(m.trend.months) > 1}
    wide = 6.4 if trends else 0.0
    width, height = 9.0 + wide, max(3.6, 2.4 + 0.34 * len(names) * font_scale)
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
            1.0 - (left + 0.3 + wide) / width,
            top - bottom - (0.35 + 0.45 * font_scale) / height,
        )
    )
    style.dress(ax, font_scale=font_scale)
    style.name_axes(ax, "capacity / sheet (–)", None, font_scale=font_scale)
    by_name = {machine.name: machine.told for machine in fleet.machines}
    if fleet.allowed is not None:
        ax.axvspan(middle * (1 - fleet.allowed), middle * (1 + fleet.allowed),
                   color=style.PALETTE["mist"], alpha=0.8, zorder=0, gid="allowed")  # fmt: skip
        ax.axvline(middle, gid="middle", color=style.SLATE, linewidth=1.0, linestyle=(0, (4, 2)))
    for row, name in enumerate(names):
        log = by_name[name]
        assert log is not None  # it has a level
        span = [end for end in (log.least, log.greatest) if end is not None]
        stroke = _APART if name in apart else _WITH
        ax.plot(span, [row, row], gid=f"span-{name}", color=stroke.color,
                linewidth=1.2, alpha=0.6)  # fmt: skip
        ax.plot([fleet.levels[name]], [row], gid=f"level-{name}", **stroke.mark())
    ax.set_ylim(-0.7, len(names) - 0.3)
    ax.set_yticks(range(len(names)), names)
    for text in ax.get_yticklabels():
        text.set(parse_math=False)
    ax.grid(visible=False, axis="y")
    if trends:
        box = ax.get_position()
        begin = (9.0 + 0.75) / width
        months = figure.add_axes((begin, box.y0, 1.0 - begin - 1.3 / width, box.height))
        _draw_months(months, fleet, trends, font_scale)
    return figure


def _draw_months(ax: Axes, fleet: LogFleet, trends: dict[str, Trend], font_scale: float) -> None:
    """Draw each machine's months; those that move or stand apart by name."""
    style.dress(ax, font_scale=font_scale)
    style.name_axes(ax, "month", "capacity / sheet (–)", font_scale=font_scale)
    told = {*fleet.standing_apart, *fleet.moving}
    first = min(trend.months[0].year for trend in trends.values())
    ends = []
    for name, trend in trends.items():
        years = [month.year for month in trend.months]
        levels = [fleet.levels[name] * month.level for month in trend.months]
        stroke = _APART if name in told else _WITH
        ax.plot(years, levels, gid=f"months-{name}", color=stroke.color if name in told
                else style.SLATE, linewidth=1.4 if name in told else 0.8, marker=".",
                zorder=3 if name in told else 2)  # fmt: skip
        if name in told:
            ends.append((years[-1], levels[-1], name))
    for year, level, name in ends:
        ax.annotate(name, (year, level), (6, 0), textcoords="offset points", va="center",
                    annotation_clip=False, gid=f"months-{name}-label",
                    **style.words(8.5 * font_scale, _APART.word_color))  # fmt: skip
    last = max(trend.months[-1].year for trend in trends.values())
    count = round((last - first) * 12) + 1
    every = max(1, -(-count // 6))
    at = [first + k / 12 for k in range(0, count, every)]
    ax.set_xticks(at, [f"{int(year)}-{round((year % 1) * 12 + 0.5):02d}" for year in at])
