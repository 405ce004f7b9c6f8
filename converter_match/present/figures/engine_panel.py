"""Engine torque and what the converter absorbs, over engine speed: where they cross, they run."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.match.result import MatchResult
from converter_match.present.drawing import style
from converter_match.present.drawing.ground import pixels_per_point
from converter_match.present.drawing.key_points import (
    NET_WORDS,
    absences,
    key_points,
    rating_words,
    stretches,
    value_words,
)
from converter_match.units import System, show

DEFAULT_RATIOS = (0.0, 0.2, 0.4, 0.6, 0.8, 0.95)
# Where the absorption curves end, as shares of the panel: beyond, their speed ratios are written.
_SIDE, _TOP = 0.93, 0.93
# Parabolas nearer than this in speed ratio would carry their labels on top of each other.
_SAME = 0.025
# Marks are 7 pt wide: nearer than this [pt] they stand on each other.
_ONE_SPOT = 6.0
_FOOT = 0.15


def chosen_ratios(result: MatchResult, speed_ratios: Sequence[float] | None = None) -> list[float]:
    """Return the speed ratios whose absorption curves are drawn, rising, without duplicates.

    Parameters
    ----------
    result : MatchResult
    speed_ratios : sequence of float, optional
        By default 0, 0.2, 0.4, 0.6, 0.8, 0.95 as far as there are data, and the coupling point.

    Raises
    ------
    InputError
        If a given speed ratio lies outside the converter's data.
    """
    low, high = result.converter.domain
    if speed_ratios is not None:
        for nu in speed_ratios:
            if not low <= nu <= high:
                raise InputError(
                    "the converter is not known there and nothing is extrapolated",
                    field="speed_ratios",
                    found=float(nu),
                    expected=f"a value within {low:.4g} .. {high:.4g}",
                )
        return sorted({float(nu) for nu in speed_ratios})
    coupling = result.converter.coupling
    kept = [] if coupling is None else [coupling]
    for nu in DEFAULT_RATIOS:
        if low <= nu <= high and all(abs(nu - other) >= _SAME for other in kept):
            kept.append(nu)
    return sorted(kept)


def engine_panel(
    result: MatchResult,
    *,
    ax: Axes | None = None,
    system: System = "si",
    speed_ratios: Sequence[float] | None = None,
    font_scale: float = 1.0,
) -> Axes:
    """Draw engine torque, absorption parabolas and the match locus over engine speed.

    Parameters
    ----------
    result : MatchResult
    ax : Axes, optional
        Where to draw; a figure of its own without.
    system : {"si", "us"}
    speed_ratios : sequence of float, optional
        See `chosen_ratios`.
    font_scale : float

    Returns
    -------
    Axes
        Artists worth finding have a gid: ``gross``, ``net``, ``torque-band``, ``absorption-NU``,
        ``locus-stable-ROW``, ``locus-unstable-ROW``, ``stall-point``, ``coupling-point``,
        ``governed-limit-point``, ``low-idle``, ``rated-speed``, ``high-idle`` and ``NAME-label``.

    Raises
    ------
    InputError
        If a speed ratio, the unit system or the font scale cannot be used.
    """
    if ax is None:
        ax = style.new_figure(8.0, 6.0).add_axes((0.08, 0.1, 0.89, 0.82))
    style.dress(ax, font_scale=font_scale)
    style.name_axes(
        ax,
        style.axis_label("engine and impeller speed", "angular_speed", system),
        style.axis_label("torque", "torque", system),
        font_scale=font_scale,
    )
    ratios = chosen_ratios(result, speed_ratios)
    _set_limits(ax, result, ratios, system)
    _draw_engine(ax, result, system)
    _draw_parabolas(ax, result, ratios, system)
    _draw_locus(ax, result, system)
    _draw_speeds(ax, result, system)
    _draw_points(ax, result, system)
    _label(ax, result, ratios, system, style.sizes(font_scale).label)
    return ax


def _speeds(result: MatchResult) -> FloatArray:
    """Engine speeds at which torque is evaluated: a fine grid and every knot, so kinks show."""
    low, high = result.supply.source.domain
    return np.union1d(np.linspace(low, high, 300), result.supply.source.x)


def _gross(result: MatchResult) -> tuple[FloatArray, FloatArray]:
    omega = _speeds(result)
    return omega, np.asarray(result.supply.factor * result.supply.source(omega))


def _net(result: MatchResult) -> tuple[FloatArray, FloatArray]:
    omega = _speeds(result)
    low, high = result.supply.domain
    omega = np.union1d(omega[(omega >= low) & (omega <= high)], [low, high])
    return omega, result.supply.torque(omega)


def _capacities(result: MatchResult, ratios: Sequence[float]) -> FloatArray:
    return np.atleast_1d(result.converter.capacity_at(np.asarray(ratios, dtype=float)))


def _set_limits(ax: Axes, result: MatchResult, ratios: Sequence[float], system: System) -> None:
    engine = result.engine
    top = float(_gross(result)[1].max()) * (1.0 + engine.torque_band)
    torques = result.locus.points.input_torque
    lowest = min(0.0, float(_net(result)[1].min()), float(np.nanmin(torques, initial=0.0)))
    if any(capacity < 0 for capacity in _capacities(result, ratios)):
        lowest = min(lowest, -0.3 * top)
    if result.stall is None:
        # What the engine cannot hold must be in the picture, within reason.
        top = max(top, min(1.1 * result.absorbed_at_idle, 3.0 * top))
    low, high = 0.72 * engine.low_idle, 1.09 * engine.high_idle
    ax.set_xlim(*show(np.array([low, high]), "angular_speed", system)[0])
    ax.set_ylim(*show(np.array([1.15 * lowest, 1.28 * top]), "torque", system)[0])


def _draw_engine(ax: Axes, result: MatchResult, system: System) -> None:
    omega, torque = _gross(result)
    speed = show(omega, "angular_speed", system)[0]
    band = result.engine.torque_band
    if band:
        low, high = (show(torque * f, "torque", system)[0] for f in (1.0 - band, 1.0 + band))
        shade = ax.fill_between(speed, low, high, color=style.PALETTE["mist"], linewidth=0.0)
        shade.set_gid("torque-band")
    gross = show(torque, "torque", system)[0]
    ax.plot(speed, gross, gid="gross", zorder=3, **style.STROKES["gross"].line())
    omega, torque = _net(result)
    speed, net = show(omega, "angular_speed", system)[0], show(torque, "torque", system)[0]
    ax.plot(speed, net, gid="net", zorder=3.5, **style.STROKES["net"].line())


def _draw_parabolas(ax: Axes, result: MatchResult, ratios: Sequence[float], system: System) -> None:
    # T = C(nu) omega^2, over the whole panel: absorption knows no idle and no governor.
    # Each ends a little inside the frame, where its speed ratio is written.
    low, high = ax.get_xlim()
    high = low + _SIDE * (high - low)
    top = _TOP * ax.get_ylim()[1]
    per_speed = show(1.0, "angular_speed", system)[0]
    per_torque = show(1.0, "torque", system)[0]
    for nu, capacity in zip(ratios, _capacities(result, ratios), strict=True):
        end = high
        if capacity > 0:
            end = min(high, per_speed * float(np.sqrt(top / per_torque / capacity)))
        speed = np.linspace(min(low, 0.9 * end), end, 240)
        torque = per_torque * capacity * (speed / per_speed) ** 2
        look = style.STROKES["absorbed"].line()
        ax.plot(speed, torque, gid=f"absorption-{nu:.4g}", zorder=2.5, **look)


def _draw_locus(ax: Axes, result: MatchResult, system: System) -> None:
    for run in stretches(result):
        look = style.STROKES["locus"].line()
        if not run.stable:
            look |= {"linestyle": style.UNSTABLE}
        x = show(run.columns["engine_speed"], "angular_speed", system)[0]
        y = show(run.columns["input_torque"], "torque", system)[0]
        ax.plot(x, y, gid=f"locus-{run.gid}", zorder=4, **look)


def _draw_speeds(ax: Axes, result: MatchResult, system: System) -> None:
    engine = result.engine
    for gid, omega in (
        ("low-idle", engine.low_idle),
        ("rated-speed", engine.rated_speed),
        ("high-idle", engine.high_idle),
    ):
        speed = show(omega, "angular_speed", system)[0]
        dash = (0.0, (4.0, 3.0))
        ax.axvline(speed, gid=gid, zorder=2, color=style.SLATE, linewidth=0.9, linestyle=dash)


def _draw_points(ax: Axes, result: MatchResult, system: System) -> None:
    stroke = style.STROKES["locus"]
    if result.stall and result.stall_band:
        speeds = show(np.array(result.stall_band), "angular_speed", system)[0]
        torque = show(result.stall.input_torque, "torque", system)[0]
        look = style.STROKES["net"].line(marker="|", markersize=10.0, linewidth=1.2, zorder=5.5)
        ax.plot(speeds, [torque, torque], gid="stall-band", **look)
    for item in key_points(result):
        x = show(item.point.engine_speed, "angular_speed", system)[0]
        y = show(item.point.input_torque, "torque", system)[0]
        ax.plot([x], [y], gid=f"{item.gid}-point", **stroke.mark(marker=item.marker))
    if result.stall is None:
        x = show(result.engine.low_idle, "angular_speed", system)[0]
        y = show(result.absorbed_at_idle, "torque", system)[0]
        look = style.STROKES["absorbed"].mark(marker="X")
        ax.plot([x], [y], gid="idle-in-gear-point", **look)


# --- words ---------------------------------------------------------------------------------------


def _label(
    ax: Axes, result: MatchResult, ratios: Sequence[float], system: System, size: float
) -> None:
    _label_parabolas(ax, ratios, size)
    _label_speeds(ax, result, system, size)
    _label_points(ax, result, system, size)
    _label_engine(ax, result, size)
    said = "\n".join(style.folded(text) for text in absences(result, system).values())
    if said:
        style.place_words(ax, said, near=(0.2, 0.75), gid="absent", **style.letters(size))


def _label_parabolas(ax: Axes, ratios: Sequence[float], size: float) -> None:
    """Write each speed ratio where its curve ends: at the top of the panel, or at its side."""
    ends = {nu: _end(ax, f"absorption-{nu:.4g}") for nu in ratios}
    above = [nu for nu in ratios if ends[nu][1] >= _TOP * ax.get_ylim()[1] * (1 - 1e-6)]
    beside = [nu for nu in ratios if nu not in above]
    look = style.letters(size, style.STROKES["absorbed"].word_color)
    ways: tuple[tuple[list[float], Literal["up", "right"]], ...]
    ways = ((above, "up"), (beside, "right"))
    for members, side in ways:
        style.label_ends(
            ax,
            [ends[nu] for nu in members],
            [_ratio_words(nu) for nu in members],
            [f"absorption-{nu:.4g}-label" for nu in members],
            way=side,
            caption="speed ratio" if members is (above or beside) else "",
            **look,
        )


def _ratio_words(nu: float) -> str:
    return f"{nu:.2f}".rstrip("0").rstrip(".")


def _label_points(ax: Axes, result: MatchResult, system: System, size: float) -> None:
    named: dict[str, tuple[str, tuple[tuple[float, str], ...]]] = {}
    for item in key_points(result):
        values = (item.point.engine_speed, "angular_speed"), (item.point.input_torque, "torque")
        named[item.gid] = item.name, values
    if result.stall is None:
        asked = ((result.absorbed_at_idle, "torque"),)
        named["idle-in-gear"] = "absorbed in gear at idle", asked
    spots = {gid: _end(ax, f"{gid}-point") for gid in named}
    texts = {}
    for together in _close(ax, {g: at for g, at in spots.items() if at[1] <= ax.get_ylim()[1]}):
        # Points on one spot share one label: two would cover each other and what they point at.
        between = "\n" if len(together) == 1 else ", "
        said = [value_words(named[g][0], *named[g][1], system=system, between=between)
                for g in together]  # fmt: skip
        if result.stall_band and "stall" in together:
            low, unit = show(result.stall_band[0], "angular_speed", system)
            high, _ = show(result.stall_band[1], "angular_speed", system)
            said[together.index("stall")] += f"\n({low:.0f} to {high:.0f} {unit})"
        texts[together[0]] = "\n".join(said)
    style.label_points(
        ax,
        [spots[gid] for gid in texts],
        list(texts.values()),
        [f"{gid}-label" for gid in texts],
        **style.letters(size, bold=True),
    )


def _close(ax: Axes, spots: dict[str, tuple[float, float]]) -> list[list[str]]:
    """Return the gids of points that cannot be told apart in this panel, together."""
    groups: list[list[str]] = []
    shown = {gid: np.asarray(ax.transData.transform(at)) for gid, at in spots.items()}
    near = _ONE_SPOT * pixels_per_point(ax)
    for gid, at in shown.items():
        for group in groups:
            if np.hypot(*(at - shown[group[0]])) < near:
                group.append(gid)
                break
        else:
            groups.append([gid])
    return groups


def _label_speeds(ax: Axes, result: MatchResult, system: System, size: float) -> None:
    unit = show(0.0, "angular_speed", system)[1]
    highest = float(np.nanmax(result.locus.points.input_torque, initial=0.0))
    # Where all that happens is at the foot of the panel, the room there is for its labels.
    low = show(highest, "torque", system)[0] < _FOOT * ax.get_ylim()[1]
    for gid, name, near in (
        ("low-idle", "low idle", 0.95),
        ("rated-speed", "rated", 0.75 if low else 0.1),
        ("high-idle", "high idle", 0.75 if low else 0.1),
    ):
        speed = _line(ax, gid)[0][0]
        text = f"{name} {speed:.0f} {unit}"
        look = style.letters(0.95 * size, style.SLATE) | {"gid": f"{gid}-label"}
        style.label_line(ax, [speed, speed], ax.get_ylim(), text, near=near, **look)


def _label_engine(ax: Axes, result: MatchResult, size: float) -> None:
    for gid, text, side in (("gross", rating_words(result), 1), ("net", NET_WORDS, -1)):
        look = style.letters(size, style.STROKES[gid].word_color) | {"gid": f"{gid}-label"}
        style.label_line(ax, *_line(ax, gid), text, near=0.1, side=side, **look)
    runs = [str(line.get_gid()) for line in ax.lines]
    runs = [gid for gid in runs if gid.startswith("locus-stable")]
    if runs:
        longest = max(runs, key=lambda gid: np.isfinite(_line(ax, gid)[0]).sum())
        look = style.letters(size, style.STROKES["locus"].word_color, bold=True)
        _label_locus(ax, *_line(ax, longest), look)


def _label_locus(ax: Axes, x: FloatArray, y: FloatArray, look: dict[str, Any]) -> None:
    text, gid = "the pair runs here", "locus-label"
    if style.label_line(ax, x, y, text, side=-1, drop=True, gid=gid, **look) is None:
        spot = _far_from_marks(ax, np.column_stack([x, y])[np.isfinite(x)])
        style.label_points(ax, [spot], [text], [gid], **look)


def _far_from_marks(ax: Axes, path: FloatArray) -> tuple[float, float]:
    """Return the point of a curve, well inside its ends, that is furthest from every mark."""
    shown = ax.transData.transform(path)
    steps = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(shown, axis=0).T))])
    inner = (steps >= 0.15 * steps[-1]) & (steps <= 0.7 * steps[-1])
    if inner.any():  # a run of two or three points may have none well inside
        path, shown = path[inner], shown[inner]
    marks = [_end(ax, str(line.get_gid())) for line in ax.lines if _is_mark(line)]
    away = np.array([0.0])
    if marks:
        apart = shown[:, np.newaxis] - ax.transData.transform(np.array(marks))
        away = np.hypot(apart[..., 0], apart[..., 1]).min(axis=1)
    x, y = path[int(np.argmax(away))]
    return float(x), float(y)


def _is_mark(line: Line2D) -> bool:
    return str(line.get_gid()).endswith("-point")


def _line(ax: Axes, gid: str) -> tuple[FloatArray, FloatArray]:
    for line in ax.lines:
        if line.get_gid() == gid:
            return np.asarray(line.get_xdata(), float), np.asarray(line.get_ydata(), float)
    raise LookupError(gid)


def _end(ax: Axes, gid: str) -> tuple[float, float]:
    x, y = _line(ax, gid)
    return float(x[-1]), float(y[-1])
