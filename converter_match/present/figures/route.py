"""A haul route on one page: road, speed, gears, engine, heat and oil temperature over distance."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.haul.result import RouteResult
from converter_match.present.drawing import style
from converter_match.present.drawing.empty_panel import empty_panel
from converter_match.present.figures.gear_panel import gear_panel
from converter_match.present.words.note_words import short_words
from converter_match.units import System, from_si, show, shown_text

_PLACES = 21  # of a segment, for the speed allowed in it
_HEIGHTS = (1.0, 2.0, 1.2, 1.5, 1.3)
_LIMIT = style.Stroke("petrol", (0.0, (5.0, 2.0)), 1.3, "")
_SPEED = style.Stroke("ink", "solid", 2.0, "")
_HEAT = style.Stroke("plum", "solid", 1.6, "")
_BRAKE = style.Stroke("brick", (0.0, (1.2, 1.0)), 1.8, "")
_OIL = style.Stroke("brick", "solid", 2.0, "")
_FIRST = style.Stroke("brick", (0.0, (5.0, 2.0)), 1.2, "")


def route_figure(
    result: RouteResult,
    *,
    system: System = "si",
    axes: Sequence[Axes] | None = None,
    font_scale: float = 1.0,
) -> Figure:
    """Draw a machine's run along a route over distance.

    Parameters
    ----------
    result : RouteResult
    system : {"si", "us"}
    axes : sequence of five Axes, optional
        Height of the road with grades, speed, gear, power into heat and brakes, oil temperature.
    font_scale : float

    Returns
    -------
    Figure
        Gids: ``height``, ``speed``, ``allowed-speed``, ``gear-converter``, ``gear-lock-up``,
        ``oil-heat``, ``brake-power``, ``oil-temperature`` (lap after lap),
        ``oil-first-lap``, ``oil-limit``, ``standstill``. Of a
        machine that does not start there are the road and the speed allowed, and words that say
        so (``no-start``).

    Raises
    ------
    InputError
        If the number of axes is not five, or the unit system or font scale cannot be used.
    """
    if axes is None:
        axes = _page(result, system, font_scale)
    if len(axes) != len(_HEIGHTS):
        raise InputError("needs five axes", field="axes", found=len(axes))
    for ax in axes:
        style.dress(ax, font_scale=font_scale)
    place = _Place(result, system)
    size = style.sizes(font_scale).label
    _road(axes[0], place, size, font_scale)
    _speed(axes[1], place, size, font_scale)
    _gears(axes[2], place, font_scale)
    _power(axes[3], place, size, font_scale)
    _oil(axes[4], place, size, font_scale)
    for ax in axes:
        ax.set_xlim(0.0, place.length)
        if place.stand is not None:
            ax.axvline(place.stand, color=style.PALETTE["brick"], linewidth=1.2, gid="standstill")
    for ax in axes[:-1]:
        ax.tick_params(labelbottom=False)
    if place.stand is not None and result.starts:
        style.label_points(
            axes[1],
            [(place.stand, 0.8 * axes[1].get_ylim()[1])],
            [style.folded("stops", 12)],
            ["standstill-label"],
            **style.letters(size, style.PALETTE["brick"]),
        )
    return style.figure_of(axes[0])


class _Place:
    """The steps of a run in the units of the figure."""

    def __init__(self, result: RouteResult, system: System) -> None:
        self.result, self.system = result, system
        run = result.run
        unit = "mi" if system == "us" else "km"
        self.unit = unit
        self.ends = self.long(run.profile.distance[:, 0])
        self.length = float(self.long(np.array(result.route.total_length)))
        stands = result.standstill
        self.stand = None if stands is None else float(self.long(np.array(stands.distance)))
        last = int(run.profile.stuck[0])
        self.count = run.profile.length.shape[0] if last < 0 else last + 1
        self.middle = 0.5 * (self.ends[:-1] + self.ends[1:])[: self.count]
        self.moving = (run.profile.length[:, 0] > 0.0)[: self.count]

    def allowed(self) -> tuple[FloatArray, FloatArray]:
        """Return places along the whole road, and the speed allowed there [m/s]."""
        allowed = self.result.run.allowed
        share = np.linspace(0.0, 1.0, _PLACES)[:, np.newaxis]
        ends = np.cumsum(allowed.length)
        left = allowed.length * (1.0 - share)
        speed = allowed.at(np.arange(ends.size), left)
        return self.long((ends - left).T.ravel()), speed.T.ravel()

    def long(self, metres: FloatArray) -> FloatArray:
        return np.asarray(from_si(metres, self.unit, "length"))

    def shown(self, values: FloatArray, dimension: str) -> FloatArray:
        return np.asarray(show(values, dimension, self.system)[0])

    def label(self, words: str, dimension: str) -> str:
        return style.axis_label(words, dimension, self.system)


def _page(result: RouteResult, system: System, font_scale: float) -> list[Axes]:
    figure = style.new_figure(10.0, 10.0)
    machine = result.hauler.machine
    said = [f"{result.route.name}; {machine.name}", _cycle_words(result, system)]
    warned = short_words(result.warnings)
    notes = [f"Warnings: {warned}." if warned else "No warnings."]
    notes.append(f"Source of the route: {result.route.source}; of the machine: {machine.source}.")
    bottom, top = style.frame(
        figure,
        (result.match.engine.name, result.match.converter.title),
        said,
        notes,
        font_scale=font_scale,
    )
    width, height = (float(value) for value in figure.get_size_inches())
    grid = figure.add_gridspec(
        len(_HEIGHTS),
        1,
        height_ratios=_HEIGHTS,
        left=(0.25 + 0.45 * font_scale) / width,
        right=1.0 - 0.3 / width,
        bottom=bottom + (0.2 + 0.35 * font_scale) / height,
        top=top - (0.1 + 0.24 * font_scale) / height,
        hspace=0.34 * font_scale**0.5,
    )
    return [figure.add_subplot(grid[row, 0]) for row in range(len(_HEIGHTS))]


def _cycle_words(result: RouteResult, system: System) -> str:
    if not result.starts:
        return result.no_start
    words = [shown_text(result.time, "minutes", system)]
    moved = result.production
    for value, amount in ((moved.rate, "production"), (moved.fuel_flow, "fuel_flow")):
        if value is not None:
            words.append(shown_text(value, amount, system))
    if result.standstill is not None:
        words.append("does not complete the route")
    return ", ".join(words)


def _road(ax: Axes, place: _Place, size: float, font_scale: float) -> None:
    route = place.result.route
    edges = np.concatenate([[0.0], np.cumsum(route.length)])
    rise = np.concatenate([[0.0], np.cumsum(route.length * np.sin(np.arctan(route.grade)))])
    unit = "ft" if place.system == "us" else "m"
    height = np.asarray(from_si(rise, unit, "length"))
    along = place.long(edges)
    low, high = float(height.min()), float(height.max())
    room = max(high - low, 1.0)
    ax.set_ylim(low - 0.1 * room, high + 0.35 * room)
    ax.fill_between(along, height, low - 0.1 * room, color=style.PALETTE["mist"], linewidth=0)
    ax.plot(along, height, gid="height", **_SPEED.line(linewidth=1.6))
    style.name_axes(ax, None, f"height above the start ({unit})", font_scale=font_scale)
    ax.set_xlim(0.0, place.length)
    ways = zip(route.load, route.directions, strict=True)
    said = [load if way == "forward" else f"{load}, in reverse" for load, way in ways]
    starts = [k for k, words in enumerate(said) if k == 0 or words != said[k - 1]]
    for k, first in enumerate(starts):
        end = starts[k + 1] if k + 1 < len(starts) else len(said)
        middle = 0.5 * (along[first] + along[end])
        ax.text(
            middle,
            high + 0.3 * room,
            said[first],
            ha="center",
            va="top",
            **style.words(size, style.SLATE),
        )


def _speed(ax: Axes, place: _Place, size: float, font_scale: float) -> None:
    run = place.result.run
    speed = place.shown(run.profile.speed[: place.count + 1, 0], "velocity")
    along, most = place.allowed()
    allowed = place.shown(most, "velocity")
    ax.set_ylim(0.0, 1.25 * float(max(allowed.max(), speed.max())))
    ax.set_xlim(0.0, place.length)
    ends = place.ends
    ax.plot(along, allowed, gid="allowed-speed", **_LIMIT.line())
    style.name_axes(ax, None, place.label("speed", "velocity"), font_scale=font_scale)
    style.label_line(
        ax, along, allowed, "allowed, with braking ahead", near=0.4, side=1,
        **style.letters(size, _LIMIT.word_color),
    )  # fmt: skip
    if not place.result.starts:
        look = style.letters(size, style.PALETTE["brick"], bold=True)
        style.place_words(ax, place.result.no_start, near=(0.0, 0.4), gid="no-start", **look)
        return
    ax.plot(ends[: place.count + 1], speed, gid="speed", **_SPEED.line())
    style.label_line(
        ax, ends[: place.count + 1], speed, "driven", near=0.2, side=-1,
        **style.letters(size, _SPEED.word_color, bold=True),
    )  # fmt: skip


def _gears(ax: Axes, place: _Place, font_scale: float) -> None:
    if not place.result.starts:
        empty_panel(ax, place.result.no_start, y="gear engaged", font_scale=font_scale)
        return
    chain = place.result.hauler.chain
    state = place.result.run.states.state[: place.count, 0]
    moving, ends = place.moving, place.ends[: place.count + 1]
    ax.set_xlim(0.0, place.length)
    gear_panel(ax, chain, state[moving], ends[:-1][moving], ends[1:][moving], font_scale)


def _power(ax: Axes, place: _Place, size: float, font_scale: float) -> None:
    run = place.result.run
    label = place.label("power turned into heat", "power")
    if not place.result.starts:
        empty_panel(ax, place.result.no_start, y=label, font_scale=font_scale)
        return
    heat = place.shown(run.states.oil_heat[: place.count, 0], "power")
    time = np.where(run.profile.time > 0.0, run.profile.time, 1.0)
    brake = place.shown((run.ledger.brakes / time)[: place.count, 0], "power")
    pick = place.moving
    ax.set_ylim(0.0, 1.35 * float(max(heat[pick].max(), brake[pick].max(), 1.0)))
    ax.set_xlim(0.0, place.length)
    style.name_axes(ax, None, label, font_scale=font_scale)
    curves = (
        ("oil-heat", heat, "into the transmission oil", _HEAT),
        ("brake-power", brake, "in the service brakes", _BRAKE),
    )
    for gid, values, _, stroke in curves:
        ax.plot(place.middle[pick], values[pick], gid=gid, **stroke.line())
    for gid, values, words, stroke in curves:
        if values[pick].max() > 0.01 * ax.get_ylim()[1]:
            top = int(np.argmax(values[pick]))
            style.label_points(
                ax,
                [(float(place.middle[pick][top]), float(values[pick][top]))],
                [words],
                [f"{gid}-label"],
                **style.letters(size, stroke.word_color),
            )


def _oil(ax: Axes, place: _Place, size: float, font_scale: float) -> None:
    run = place.result.run
    below = f"distance ({place.unit})"
    label = place.label("oil temperature", "temperature")
    if run.oil is None or not place.result.starts:
        why = place.result.no_start or "oil volume not known"
        empty_panel(ax, why, x=below, y=label, font_scale=font_scale)
        return
    first = place.shown(run.oil.first[: place.count + 1, 0], "temperature")
    settled = run.oil.counted[: place.count + 1, 0]
    repeats = place.result.hottest_oil is not None and place.result.standstill is None
    oil = place.shown(settled, "temperature") if repeats else first
    limit = place.result.hauler.machine.oil.temperature_limit
    low, high = float(min(oil.min(), first.min())), float(max(oil.max(), first.max()))
    shown_limit = None
    if limit is not None:
        shown_limit = float(show(limit, "temperature", place.system)[0])
        high = max(high, shown_limit)
    room = max(high - low, 10.0)
    ax.set_ylim(low - 0.15 * room, high + 0.3 * room)
    ax.set_xlim(0.0, place.length)
    ends = place.ends[: place.count + 1]
    ax.plot(ends, oil, gid="oil-temperature", **_OIL.line())
    if repeats:
        ax.plot(ends, first, gid="oil-first-lap", **_FIRST.line())
        for values, words, near, stroke in (
            (oil, "lap after lap", 0.55, _OIL),
            (first, "first lap", 0.3, _FIRST),
        ):
            style.label_line(
                ax, ends, values, words, near=near, side=1,
                **style.letters(size, stroke.word_color),
            )  # fmt: skip
    if shown_limit is not None:
        across = np.array([0.0, place.length])
        ax.plot(across, np.full(2, shown_limit), gid="oil-limit", **_LIMIT.line(color=style.SLATE))
        style.label_line(
            ax, across, np.full(2, shown_limit), "limit", near=0.9, side=1,
            **style.letters(size, style.SLATE),
        )  # fmt: skip
    style.name_axes(ax, below, label, font_scale=font_scale)
