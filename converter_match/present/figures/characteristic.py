"""What a converter does by itself: torque ratio, efficiency and capacity over speed ratio."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure

from converter_match.components.capacity_forms import (
    AS_SPEED,
    AT_SPEED,
    AT_TORQUE,
    DIMENSIONS,
    FORMS,
    WORDS,
    CapacityForm,
)
from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.errors import InputError, did_you_mean
from converter_match.present.drawing import style
from converter_match.present.words.note_words import short_words
from converter_match.units import System, show

_PANELS = ("torque-ratio", "efficiency", "capacity")
_STATORS = {
    "one-way": "stator on a one-way clutch",
    "fixed": "stator fixed",
    "none": "no stator (fluid coupling)",
}
# K grows without bound towards speed ratio 1: the panel shows these multiples of its least value.
_LEAST_K, _MOST_K = 0.6, 2.2
_LETTERS = "ABCDEF"
_SHADE = 0.22
# More rows than a person types are computed, and their marks would hide the curve and its dashes.
_MOST_ROWS = 30


def characteristic(
    converters: Converter | Sequence[Converter],
    *,
    system: System = "si",
    capacity_form: CapacityForm = "k_factor",
    reference_speed: float | None = None,
    reference_torque: float | None = None,
    axes: Sequence[Axes] | None = None,
    font_scale: float = 1.0,
) -> Figure:
    """Draw torque ratio, efficiency and capacity of one converter or several over speed ratio.

    The rows of the data sheet are marked, unless there are more than 30, or the converter is an
    estimate, which has a shaded band instead: the least and the most that it may be (beside the
    rows where these were read within a band). The coupling
    point, where the curves have their kink, is marked and labelled, with the word "found" where the
    sheet does not state it, "estimated" where an estimate has it from its shapes.

    Parameters
    ----------
    converters : Converter or sequence of Converter
        At most six.
    system : {"si", "us"}
    capacity_form : str
        ``k_factor``, ``capacity_coefficient``, ``torque_at_speed``, ``power_at_speed``,
        ``performance_coefficient`` or ``speed_at_torque``.
    reference_speed : float, optional
        For torque or power at a speed [rad/s].
    reference_torque : float, optional
        For the speed at a torque [N.m].
    axes : sequence of three Axes, optional
        Torque ratio, efficiency, capacity; a page is made without.
    font_scale : float

    Returns
    -------
    Figure
        With N the place of the converter in the list, artists worth finding have the gids
        ``torque-ratio-N``, ``efficiency-N``, ``capacity-N``, each also with ``-given`` (the rows),
        ``-band`` (of an estimate), ``-coupling-point`` and ``-label``.

    Raises
    ------
    InputError
        If there are no converters or more than six, the number of axes is not three, the form is
        not known or lacks a datum, or the unit system or font scale cannot be used.
    """
    shown = [converters] if isinstance(converters, Converter) else list(converters)
    if not 1 <= len(shown) <= len(style.SERIES):
        raise InputError(
            "cannot be told apart in one figure",
            field="converters",
            found=len(shown),
            expected=f"1 to {len(style.SERIES)} converters",
        )
    capacity = _Capacity.of(capacity_form, reference_speed, reference_torque, system)
    tables = [_Table(converter, capacity, number) for number, converter in enumerate(shown)]
    if axes is None:
        axes = _page(shown, font_scale)
    if len(axes) != len(_PANELS):
        raise InputError("needs three axes", field="axes", found=len(axes))
    _draw_axes(axes, capacity.label, font_scale)
    _set_limits(axes, tables, capacity_form)
    for table in tables:
        _draw(axes, table, alone=len(tables) == 1)
    _label(axes, tables, style.sizes(font_scale).label)
    figure = axes[0].get_figure()
    while isinstance(figure, SubFigure):
        figure = figure.figure
    assert figure is not None
    return figure


@dataclass(frozen=True)
class _Capacity:
    """How the capacity is shown: its form, the words on the axis, and shown units a SI unit."""

    form: CapacityForm
    reference_speed: float | None
    reference_torque: float | None
    label: str
    factor: float

    @classmethod
    def of(
        cls,
        form: CapacityForm,
        reference_speed: float | None,
        reference_torque: float | None,
        system: System,
    ) -> _Capacity:
        if form not in FORMS:
            raise InputError(
                "not a known choice",
                field="capacity_form",
                found=form,
                expected=" | ".join(FORMS),
                hint=did_you_mean(form, FORMS),
            )
        words, dimension = WORDS[form], DIMENSIONS[form]
        if dimension == "ratio":
            return cls(form, None, None, f"{words} × 1000 (–)", 1000.0)
        if form in AT_SPEED and reference_speed is not None:
            speed, unit = show(reference_speed, "angular_speed", system)
            words += f" at {speed:.0f} {unit}"
        if form in AT_TORQUE and reference_torque is not None:
            torque, unit = show(reference_torque, "torque", system)
            words += f" at {torque:.0f} {unit}"
        label = style.axis_label(words, dimension, system)
        factor = show(1.0, dimension, system)[0]
        return cls(form, reference_speed, reference_torque, label, factor)

    def values(self, converter: Converter, nu: FloatArray) -> FloatArray:
        """Return the shown values; NaN where there is none (capacity zero or below)."""
        known = np.full(nu.shape, True)
        if self.form in AS_SPEED:
            known = np.asarray(converter.capacity_at(nu) > 0)
        values = np.full(nu.shape, np.nan)
        values[known] = self.factor * converter.capacity_in(
            self.form,
            nu[known],
            reference_speed=self.reference_speed,
            reference_torque=self.reference_torque,
        )
        return values


class _Table:
    """Everything that is drawn of one converter: curves, rows of the sheet, the coupling point."""

    def __init__(self, converter: Converter, capacity: _Capacity, number: int) -> None:
        low, high = converter.domain
        self.converter = converter
        self.capacity = capacity
        self.number = number
        # Every row is a member of the grid, so that the kink is drawn as a corner.
        rows = converter.characteristic.speed_ratio
        self.nu = np.union1d(np.linspace(low, high, 400), rows)
        self.curves = self.columns(self.nu)
        self.given = np.asarray(converter.speed_ratio)
        self.marked = self.given.size <= _MOST_ROWS and not converter.estimated

    def columns(self, nu: FloatArray) -> dict[str, FloatArray]:
        return self._columns_of(self.converter, nu)

    def band(self) -> dict[str, tuple[FloatArray, FloatArray]]:
        """Return the least and the most of each panel that an estimate may be."""
        units = (self.converter, *self.converter.alternatives)
        each = [self._columns_of(unit, self.nu) for unit in units]
        stacked = {panel: np.stack([columns[panel] for columns in each]) for panel in _PANELS}
        return {panel: (rows.min(axis=0), rows.max(axis=0)) for panel, rows in stacked.items()}

    def _columns_of(self, converter: Converter, nu: FloatArray) -> dict[str, FloatArray]:
        # An efficiency is the share of engine power that comes out: only where the engine drives.
        driven = (nu >= 0.0) & (nu <= 1.0)
        return {
            "torque-ratio": np.asarray(converter.torque_ratio_at(nu)),
            "efficiency": np.where(driven, 100.0 * converter.efficiency_at(nu), np.nan),
            "capacity": self.capacity.values(converter, nu),
        }

    @property
    def stroke(self) -> style.Stroke:
        return style.SERIES[self.number]


def _page(converters: Sequence[Converter], font_scale: float) -> list[Axes]:
    figure = style.new_figure(8.0, 8.6 * max(1.0, 0.3 + 0.7 * font_scale))
    if len(converters) == 1:
        titles, lines = [converters[0].name], [_STATORS[converters[0].stator]]
    else:
        titles = ["Converter characteristics"]
        lines = [
            f"{letter}: {converter.name}; {_STATORS[converter.stator]}"
            for letter, converter in zip(_LETTERS, converters, strict=False)
        ]
    sources = dict.fromkeys(converter.source for converter in converters)
    notes = [f"Source: {'; '.join(sources)}."]
    measured = [converter for converter in converters if not converter.estimated]
    if any(len(converter.speed_ratio) <= _MOST_ROWS for converter in measured):
        notes[0] += " Hollow marks: rows of the data sheet."
    if len(measured) < len(converters):
        notes[0] += " Shaded: least and most that an estimate may be."
    if any(converter.banded for converter in converters):
        notes[0] += " Shaded: band of the reading error."
    if len(converters) > 1:
        notes[0] += " Diamonds: coupling points (where the torque ratio falls to 1)."
    estimates = short_words(
        note for converter in converters for note in converter.notes if note.kind == "assumption"
    )
    if estimates:
        notes.insert(0, f"Assumed or estimated: {estimates}.")
    bottom, top = style.frame(figure, titles, lines, notes, font_scale=font_scale)
    width, height = (float(value) for value in figure.get_size_inches())
    grid = figure.add_gridspec(
        3,
        1,
        left=(0.2 + 0.42 * font_scale) / width,
        right=1.0 - 0.3 / width,
        bottom=bottom + (0.2 + 0.3 * font_scale) / height,
        top=top - (0.1 + 0.22 * font_scale) / height,
        hspace=0.25 * font_scale**0.5,
    )
    return [figure.add_subplot(grid[row, 0]) for row in range(3)]


def _draw_axes(axes: Sequence[Axes], capacity_label: str, font_scale: float) -> None:
    lowest = axes[-1]
    for ax, name in zip(axes, ("torque ratio (–)", "efficiency (%)", capacity_label), strict=True):
        style.dress(ax, font_scale=font_scale)
        below = "speed ratio (–)" if ax is lowest else None
        style.name_axes(ax, below, name, font_scale=font_scale)
        ax.tick_params(labelbottom=ax is lowest)


def _set_limits(axes: Sequence[Axes], tables: Sequence[_Table], form: CapacityForm) -> None:
    low = min(0.0, *(float(table.nu[0]) for table in tables))
    high = max(1.0, *(float(table.nu[-1]) for table in tables))
    for ax, panel in zip(axes, _PANELS, strict=True):
        ax.set_xlim(low - (0.03 if low < 0 else 0.0), high + 0.03)
        values = np.concatenate([table.curves[panel] for table in tables])
        values = values[np.isfinite(values)]
        if panel == "efficiency":
            ax.set_ylim(0.0, 106.0)
        elif panel == "capacity" and form in AS_SPEED:
            ax.set_ylim(_LEAST_K * float(values.min()), _MOST_K * float(values.min()))
        else:
            ax.set_ylim(1.12 * min(0.0, float(values.min())), 1.18 * float(values.max()))
        if ax.get_ylim()[0] < 0:
            ax.axhline(0.0, color=style.SLATE, linewidth=0.9)
        if low < 0:
            ax.axvline(0.0, color=style.SLATE, linewidth=0.9)


def _draw(axes: Sequence[Axes], table: _Table, *, alone: bool) -> None:
    stroke = table.stroke
    rows = table.columns(table.given)
    coupling = table.converter.coupling
    band = table.band() if table.converter.alternatives else {}
    for ax, panel in zip(axes, _PANELS, strict=True):
        gid = f"{panel}-{table.number}"
        if band:
            least, most = band[panel]
            shade = ax.fill_between(table.nu, least, most, color=stroke.color, gid=f"{gid}-band")
            shade.set(alpha=_SHADE, linewidth=0.0, zorder=2)
        ax.plot(table.nu, table.curves[panel], gid=gid, zorder=4, **stroke.line())
        hollow = stroke.mark(
            markersize=5.0, markerfacecolor="white", markeredgecolor=stroke.color, clip_on=True
        )
        if table.marked:
            ax.plot(table.given, rows[panel], gid=f"{gid}-given", **hollow)
        if coupling is None:
            continue
        if alone:
            ax.axvline(coupling, color=style.SLATE, linewidth=0.9, linestyle=(0.0, (4.0, 3.0)))
        point = table.columns(np.array([coupling]))[panel]
        filled = stroke.mark(marker="D")
        ax.plot([coupling], point, gid=f"{gid}-coupling-point", **filled)


def _label(axes: Sequence[Axes], tables: Sequence[_Table], size: float) -> None:
    first, last = axes[0], axes[-1]
    points, texts, gids = [], [], []
    for table in tables:
        coupling = table.converter.coupling
        if coupling is not None:
            level = float(table.columns(np.array([coupling]))["torque-ratio"][0])
            points.append((coupling, level))
            texts.append(_coupling_words(table, several=len(tables) > 1))
            gids.append(f"torque-ratio-{table.number}-coupling-label")
    style.label_points(first, points, texts, gids, **style.letters(size))
    if len(tables) > 1:
        for ax, panel in zip(axes, _PANELS, strict=True):
            for table in tables:
                x, y, letter = table.nu, table.curves[panel], _LETTERS[table.number]
                look = style.letters(1.15 * size, table.stroke.word_color, bold=True)
                look |= {"near": 0.2 + 0.08 * table.number, "gid": f"{panel}-{table.number}-label"}
                style.label_line(ax, x, y, letter, **look)
    _label_directions(axes[1], size)
    if any(np.isnan(table.curves["capacity"]).any() for table in tables):
        what = WORDS[tables[0].capacity.form]
        text = f"no {what} where no torque\nor negative torque is absorbed"
        grey = style.letters(0.95 * size, style.SLATE)
        style.place_words(last, text, near=(0.0, 1.0), gid="no-k-factor", **grey)


def _label_directions(ax: Axes, size: float) -> None:
    """Say what lies beyond speed ratios 0 and 1."""
    grey = style.letters(0.95 * size, style.SLATE)
    if ax.get_xlim()[0] < 0:
        text = "turbine driven\nbackwards"
        style.place_words(ax, text, near=(0.0, 0.6), gid="backwards-label", **grey)
    if ax.get_xlim()[1] > 1.05:
        text = "overrun: the turbine\ndrives the impeller"
        style.place_words(ax, text, near=(1.0, 0.3), gid="overrun-label", **grey)


def _coupling_words(table: _Table, *, several: bool) -> str:
    converter = table.converter
    value = f"{converter.coupling:.3g}"
    if converter.coupling_speed_ratio is None:
        value += " (found)"
    elif converter.stall_datum is not None and converter.stall_datum.coupling_speed_ratio is None:
        value += " (estimated)"
    if several:
        return f"{_LETTERS[table.number]} {value}"
    name = "torque ratio 1" if converter.stator == "fixed" else "coupling point"
    return f"{name}\n{value}"
