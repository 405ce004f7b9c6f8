"""What the gearbox sees: turbine torque, efficiency and heat over turbine speed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.match.result import MatchPoint, MatchResult
from converter_match.present.drawing import style
from converter_match.present.drawing.key_points import (
    WORKING_LEVEL,
    KeyPoint,
    Stretch,
    absences,
    key_points,
    range_absences,
    stretches,
    value_words,
    working_range_words,
)
from converter_match.present.figures.load_lines import load_lines
from converter_match.units import System, show

# Panel, quantity of the locus, dimension, words on the axis.
_PANELS = (
    ("turbine-torque", "turbine_torque", "torque", "turbine torque"),
    ("efficiency", "efficiency", "ratio", "efficiency"),
    ("heat", "heat", "power", "heat into the oil"),
)
_SHADE = 0.22


def turbine_panels(
    result: MatchResult,
    *,
    axes: Sequence[Axes] | None = None,
    system: System = "si",
    font_scale: float = 1.0,
    explain: bool = True,
) -> tuple[Axes, Axes, Axes]:
    """Draw turbine torque, efficiency and heat over turbine speed, one below the other.

    Parameters
    ----------
    result : MatchResult
    axes : sequence of three Axes, optional
        Where to draw; a figure of their own without.
    system : {"si", "us"}
    font_scale : float
    explain : bool
        Whether to say which points do not exist; the overlay says it once, in its engine panel.

    Returns
    -------
    tuple of Axes
        Torque, efficiency, heat. Artists worth finding have a gid: ``turbine-torque-stable-ROW``,
        ``efficiency-stable-ROW``, ``heat-stable-ROW`` (and ``-unstable-``), ``PANEL-stall-point``,
        ``PANEL-coupling-point``, ``PANEL-governed-limit-point``, ``efficiency-best-point``,
        ``working-range-N`` and ``NAME-label``;
        of an estimated converter ``PANEL-band``, the least and the most of it; with a load on the
        shaft ``load-line-N``, ``load-point-N`` and ``load-label-N``.

    Raises
    ------
    InputError
        If the number of axes is not three, or the unit system or font scale cannot be used.
    """
    if axes is None:
        figure = style.new_figure(7.0, 7.0)
        grid = figure.add_gridspec(
            3, 1, height_ratios=(2.2, 1, 1), left=0.1, right=0.97, bottom=0.08, top=0.95, hspace=0.3
        )
        axes = [figure.add_subplot(grid[row, 0]) for row in range(3)]
    if len(axes) != 3:
        raise InputError("needs three axes", field="axes", found=len(axes))
    torque, efficiency, heat = axes
    runs = stretches(result)
    for ax, (_, _, dimension, words) in zip(axes, _PANELS, strict=True):
        style.dress(ax, font_scale=font_scale)
        label = (
            f"{words} (%)" if dimension == "ratio" else style.axis_label(words, dimension, system)
        )
        below = style.axis_label("turbine speed", "angular_speed", system) if ax is heat else None
        style.name_axes(ax, below, label, font_scale=font_scale)
    for ax in (torque, efficiency):
        ax.tick_params(labelbottom=False)
    _set_limits(axes, runs, result, system)
    _draw_ranges(axes, result, system)
    for ax, (panel, name, dimension, _) in zip(axes, _PANELS, strict=True):
        if ax.get_xlim()[0] < 0:
            ax.axvline(0.0, color=style.SLATE, linewidth=0.9, gid=f"{panel}-standstill")
        if ax.get_ylim()[0] < 0:
            ax.axhline(0.0, color=style.SLATE, linewidth=0.9)
        if result.alternatives:
            _draw_spread(ax, result, panel, name, dimension, system)
        for run in runs:
            _draw_run(ax, run, panel, name, dimension, system)
    load_lines(axes[0], result, system, font_scale)
    size = style.sizes(font_scale).label
    _label_ranges(axes[1], result, system, size)
    _mark(axes, result, system, size)
    _label(axes[0], result, runs, system, size, explain=explain)
    return torque, efficiency, heat


def _shown(values: FloatArray, dimension: str, system: System) -> FloatArray:
    if dimension == "ratio":
        return 100.0 * values
    return np.asarray(show(values, dimension, system)[0])


def _drawn(run: Stretch, name: str) -> FloatArray:
    values = run.columns[name]
    if name == "efficiency":
        # An efficiency is the share of engine power that comes out: only where the engine drives.
        nu = run.columns["speed_ratio"]
        return np.where((nu >= 0.0) & (nu <= 1.0), values, np.nan)
    return values


def _set_limits(
    axes: Sequence[Axes], runs: Sequence[Stretch], result: MatchResult, system: System
) -> None:
    speeds = np.concatenate([[0.0], *(run.columns["turbine_speed"] for run in runs)])
    low, high = float(np.nanmin(speeds)), float(np.nanmax(speeds))
    high = high if high > 0 else result.engine.high_idle
    span = high - low
    ends = np.array([low - 0.03 * span if low < 0 else 0.0, high + 0.04 * span])
    for ax, (_, name, dimension, _) in zip(axes, _PANELS, strict=True):
        ax.set_xlim(*_shown(ends, "angular_speed", system))
        if name == "efficiency":
            ax.set_ylim(0.0, 104.0)
            ax.set_yticks([0, 20, 40, 60, 80, 100])
            continue
        values = np.concatenate([[0.0], *(run.columns[name] for run in runs)])
        low, high = float(np.nanmin(values)), float(np.nanmax(values))
        high = high if high > 0 else 1.0
        ax.set_ylim(*_shown(np.array([1.15 * low, 1.3 * high]), dimension, system))


def _draw_run(
    ax: Axes, run: Stretch, panel: str, name: str, dimension: str, system: System
) -> None:
    look = style.STROKES[panel].line()
    if not run.stable:
        look |= {"linestyle": style.UNSTABLE}
    x = _shown(run.columns["turbine_speed"], "angular_speed", system)
    y = _shown(_drawn(run, name), dimension, system)
    ax.plot(x, y, gid=f"{panel}-{run.gid}", zorder=4, **look)


def _draw_spread(
    ax: Axes, result: MatchResult, panel: str, name: str, dimension: str, system: System
) -> None:
    """Shade what lies between the least and the most that an estimated converter may give."""
    speed, *ends = result.spread_over_turbine_speed(name)
    low, high = (_shown(values, dimension, system) for values in ends)
    at = _shown(speed, "angular_speed", system)
    shade = ax.fill_between(at, low, high, color=style.STROKES[panel].color, gid=f"{panel}-band")
    shade.set(alpha=_SHADE, linewidth=0.0, zorder=2)


def _draw_ranges(axes: Sequence[Axes], result: MatchResult, system: System) -> None:
    """Hatch the working range in every panel; a bracket in the efficiency panel says what it is."""
    stroke = style.STROKES["range"]
    level = 100.0 * WORKING_LEVEL
    axes[1].axhline(level, color=stroke.color, linewidth=1.2, linestyle="dashed", gid="level")
    for number, item in enumerate(result.working_range(WORKING_LEVEL)):
        if item.lower is None or item.upper is None:
            continue
        ends = np.array([item.lower.turbine_speed, item.upper.turbine_speed])
        low, high = _shown(ends, "angular_speed", system)
        for ax in axes:
            shade = ax.axvspan(low, high, facecolor="none", edgecolor=stroke.color, hatch="////")
            shade.set(gid=f"working-range-{number}", alpha=0.4, zorder=1, linewidth=0.0)
        # Inside the range the efficiency is above the level: below it there is always room.
        look = style.STROKES["net"].line(marker="|", markersize=9.0, linewidth=1.0, zorder=5)
        axes[1].plot([low, high], [42.0, 42.0], gid=f"working-range-{number}-bracket", **look)


def _label_ranges(ax: Axes, result: MatchResult, system: System, size: float) -> None:
    brackets = [line for line in ax.lines if str(line.get_gid()).endswith("-bracket")]
    for line in brackets:
        gid = str(line.get_gid())
        item = result.working_range(WORKING_LEVEL)[int(gid.split("-")[2])]
        text = working_range_words(item, system)
        look = style.letters(size) | {"gid": gid.replace("bracket", "label")}
        style.label_line(ax, *line.get_data(), text, side=-1, **look)


def _mark(axes: Sequence[Axes], result: MatchResult, system: System, size: float) -> None:
    bold = style.letters(size, bold=True)
    items = key_points(result)
    for item in items:
        point = item.point
        for ax, (panel, name, dimension, _) in zip(axes, _PANELS, strict=True):
            x, y = _place(point, name, dimension, system)
            look = style.STROKES[panel].mark(marker=item.marker)
            ax.plot([x], [y], gid=f"{panel}-{item.gid}-point", **look)
    stars = _best(result)
    spots = [_place(best, "efficiency", "ratio", system) for _, _, best in stars]
    for (gid, _, _), (x, y) in zip(stars, spots, strict=True):
        look = style.STROKES["efficiency"].mark(marker="*", markersize=11.0)
        axes[1].plot([x], [y], gid=f"efficiency-{gid}-point", **look)
    said = [f"{name} {y:.0f} %" for (_, name, _), (_, y) in zip(stars, spots, strict=True)]
    gids = [f"efficiency-{gid}-label" for gid, _, _ in stars]
    style.label_points(axes[1], spots, said, gids, **bold)
    for ax, words, (panel, name, dimension, _) in (
        (axes[0], _torque_words, _PANELS[0]),
        (axes[2], _heat_words, _PANELS[2]),
    ):
        spots = [_place(item.point, name, dimension, system) for item in items]
        said = [words(item, system) for item in items]
        gids = [f"{panel}-{item.gid}-label" for item in items]
        style.label_points(ax, spots, said, gids, **bold)


def _torque_words(item: KeyPoint, system: System) -> str:
    point = item.point
    values: list[tuple[float, str]] = [(point.turbine_torque, "torque")]
    if point.turbine_speed > 0:
        values.insert(0, (point.turbine_speed, "angular_speed"))
    return value_words(item.name, *values, system=system)


def _heat_words(item: KeyPoint, system: System) -> str:
    heat, unit = show(item.point.heat, "power", system)
    return f"{heat:.0f} {unit}"


def _best(result: MatchResult) -> list[tuple[str, str, MatchPoint]]:
    best, held = result.best_loaded, result.best_in_conversion
    marked = []
    if held and (best is None or held.speed_ratio != best.speed_ratio):
        marked.append(("best-held", "stator held", held))
    if best:
        marked.append(("best", "best", best))
    return marked


def _place(point: MatchPoint, name: str, dimension: str, system: System) -> tuple[float, float]:
    x = show(point.turbine_speed, "angular_speed", system)[0]
    value = float(getattr(point, name))
    return x, 100.0 * value if dimension == "ratio" else show(value, dimension, system)[0]


def _label(
    ax: Axes,
    result: MatchResult,
    runs: Sequence[Stretch],
    system: System,
    size: float,
    *,
    explain: bool,
) -> None:
    ink, grey = style.letters(size), style.letters(0.95 * size, style.SLATE)
    said = [*absences(result, system).values()] if explain else []
    said += range_absences(result)
    if not runs:
        said.append("No match at any speed ratio in the data.")
    if said:
        text = "\n".join(style.folded(sentence) for sentence in said)
        style.place_words(ax, text, near=(1.0, 1.0), gid="turbine-torque-absent", **ink)
    if any(not run.stable for run in runs):
        text = "dotted: unstable"
        style.place_words(ax, text, near=(1.0, 0.7), gid="unstable-label", **ink)
    if ax.get_xlim()[0] < 0:
        text = "turbine driven\nbackwards"
        style.place_words(ax, text, near=(0.0, 0.0), gid="backwards-label", **grey)
    if any(np.nanmax(run.columns["speed_ratio"]) > 1.0 for run in runs):
        text = "overrun: the turbine\ndrives the impeller"
        style.place_words(ax, text, near=(1.0, 0.0), gid="overrun-label", **grey)
