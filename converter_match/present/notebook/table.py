"""Some columns of a result as a table for a notebook, or some facts of several side by side.

A block of an answer knows what its figures are, so that words, unit and digits come from its
headings. Rows of plain data, of results that are no answers yet, carry their units in their keys
(``top_speed_kmh``).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from converter_match.answer.block import Block, Heading
from converter_match.answer.console import Column, aligned
from converter_match.answer.html import table as html_table
from converter_match.errors import InputError, did_you_mean
from converter_match.units import System, display_unit, from_si, to_si

_TONS, _GALLONS = ("t", "short ton", "mass"), ("L", "US gal", "volume")


@dataclass(frozen=True)
class _Unit:
    """A unit as a table shows it, and the one that stands in its place in the US.

    Parameters
    ----------
    label : str
    digits : int
        Behind the point.
    us_label : str
        Empty where the unit is the same.
    us_digits : int
    over, under : tuple of str
        (unit of the key, US unit, dimension) above and below the line of a fraction.
    """

    label: str
    digits: int
    us_label: str = ""
    us_digits: int = 0
    over: tuple[str, str, str] | None = None
    under: tuple[str, str, str] | None = None

    def shown_in(self, system: System) -> tuple[str, int]:
        """Return label and digits in a unit system."""
        if system == "us" and self.us_label:
            return self.us_label, self.us_digits
        return self.label, self.digits

    def value(self, value: float, system: System) -> float:
        """Return a value in the unit that `shown_in` names."""
        if system == "us" and self.over is not None:
            value = _changed(value, self.over)
            if self.under is not None:
                value /= _changed(1.0, self.under)
        return value


def _changed(value: float, units: tuple[str, str, str]) -> float:
    unit, us_unit, dimension = units
    return from_si(to_si(value, unit, dimension), us_unit, dimension)


# Ending of a key: unit and digits behind the point. Longer endings first.
_UNITS = {
    "_t_per_h": _Unit("t/h", 0, "short tons/h", 0, _TONS),
    "_l_per_h": _Unit("L/h", 1, "US gal/h", 1, _GALLONS),
    "_l_per_t": _Unit("L/t", 2, "US gal/short ton", 3, _GALLONS, _TONS),
    "_k_per_s": _Unit("K/s", 1, "°F/s", 1, ("K", "degF", "temperature_difference")),
    "_percent": _Unit("%", 1),
    "_kmh": _Unit("km/h", 1, "mph", 1, ("km/h", "mph", "velocity")),
    "_rpm": _Unit("rpm", 0),
    "_degc": _Unit("°C", 0, "°F", 0, ("degC", "degF", "temperature")),
    "_min": _Unit("min", 1),
    "_kw": _Unit("kW", 1, "hp", 1, ("kW", "hp", "power")),
    "_kn": _Unit("kN", 1, "lbf", 0, ("kN", "lbf", "force")),
    "_kj": _Unit("kJ", 0, "BTU", 0, ("kJ", "BTU", "energy")),
    "_mj": _Unit("MJ", 1, "BTU", 0, ("MJ", "BTU", "energy")),
    "_nm": _Unit("N·m", 0, "lbf·ft", 0, ("N.m", "lbf.ft", "torque")),
    "_km": _Unit("km", 2, "mi", 2, ("km", "mi", "length")),
    "_kg": _Unit("kg", 2, "lb", 2, ("kg", "lb", "mass")),
    "_mm": _Unit("mm", 0, "in", 1, ("mm", "in", "length")),
    "_m": _Unit("m", 0, "ft", 0, ("m", "ft", "length")),
    "_s": _Unit("s", 1),
    "_t": _Unit("t", 1, "short tons", 1, _TONS),
    "_l": _Unit("L", 1, "US gal", 1, _GALLONS),
}
_BARE = _Unit("", 2)  # a whole number, such as a count, has no digits behind the point


class NotebookTable:
    """A table as a notebook shows it; numbers stand to the right.

    Parameters
    ----------
    head, units : tuple of str
    rows : tuple of tuple of str
    """

    def __init__(
        self, head: tuple[str, ...], units: tuple[str, ...], rows: tuple[tuple[str, ...], ...]
    ) -> None:
        self.head, self.units, self.rows = head, units, rows

    def _repr_html_(self) -> str:
        return html_table(self.head, self.units, self.rows)

    def __repr__(self) -> str:
        cells = zip(*self.rows, strict=True)
        columns = zip(self.head, self.units, cells, strict=True)
        return "\n".join(
            aligned(
                [
                    Column(head, unit, own, left=i == 0)
                    for i, (head, unit, own) in enumerate(columns)
                ]
            )
        )


def table(
    rows: Block | Sequence[Mapping[str, Any]],
    columns: Sequence[str] = (),
    *,
    system: System = "si",
) -> NotebookTable:
    """Return a table with a column for each of some keys.

    Parameters
    ----------
    rows : Block, or sequence of mapping
        A part of an answer (``answer.table("gears")``), or rows of one's own.
    columns : sequence of str
        Keys, in the order wanted; those of a block without their units. Of a block all that stand
        in text, where none is named.
    system : {"si", "us"}
        In whose units figures are shown.

    Raises
    ------
    InputError
        If there are no rows, a row has no such key (the nearest one is named), or there is no such
        unit system.

    Examples
    --------
    >>> speed = Heading("top_speed", "top speed", "velocity")
    >>> gears = Block("gears", columns=(Heading("gear", "gear"), speed), rows=(("1", 2.0867),))
    >>> table(gears, ["gear", "top_speed"])
    gear  top speed
               km/h
    1           7.5
    >>> table(gears, ["gear", "top_speed"], system="us")
    gear  top speed
                mph
    1           4.7
    """
    _require_known(system)
    if isinstance(rows, Block):
        return _of_block(rows, columns, system)
    if not rows:
        raise InputError("a table needs rows", field="rows")
    for key in columns:
        _require(key, rows[0])
    named = [_words(key) for key in columns]
    return NotebookTable(
        tuple(name for name, _ in named),
        tuple(unit.shown_in(system)[0] for _, unit in named),
        tuple(
            tuple(
                _shown(row.get(key), unit, system)
                for key, (_, unit) in zip(columns, named, strict=True)
            )
            for row in rows
        ),
    )


def _of_block(block: Block, columns: Sequence[str], system: System) -> NotebookTable:
    if not block.rows:
        raise InputError("a table needs rows", field="rows")
    places = {head.key: place for place, head in enumerate(block.columns) if head.key}
    wanted = columns or [head.key for head in block.columns if head.key and head.words]
    for key in wanted:
        _require(key, places)
    heads = [block.columns[places[key]] for key in wanted]
    return NotebookTable(
        tuple(_said(head) for head in heads),
        tuple(head.unit(system) for head in heads),
        tuple(
            tuple(_cell(head, row[places[head.key]], system) for head in heads)
            for row in block.rows
        ),
    )


def beside(
    cases: Mapping[str, Block | Mapping[str, Any]], keys: Sequence[str], *, system: System = "si"
) -> NotebookTable:
    """Return a table with a row for each of some keys and a column for each case.

    Parameters
    ----------
    cases : mapping of str to Block or mapping
        What each column is called, and its facts: a part of an answer, or figures of one's own.
    keys : sequence of str
    system : {"si", "us"}
        As in `table`.

    Raises
    ------
    InputError
        If there are no cases, a case has no such key (the nearest one is named), or there is no
        such unit system.

    Examples
    --------
    >>> time = Heading("time", "cycle time", "minutes")
    >>> old, new = Block("", facts=((time, 819.6),)), Block("", facts=((time, None),))
    >>> beside({"old": old, "new": new}, ["time"])
                 old  new
    cycle time  13.7    –  min
    """
    _require_known(system)
    if not cases:
        raise InputError("a table needs cases", field="cases")
    rows = []
    for key in keys:
        cells = []
        for case in cases.values():
            if isinstance(case, Block):
                facts = {head.key: (head, value) for head, value in case.facts or ()}
                _require(key, facts)
                head, value = facts[key]
                name, label = _said(head), head.unit(system)
                cells.append(_cell(head, value, system))
            else:
                _require(key, case)
                name, unit = _words(key)
                label = unit.shown_in(system)[0]
                cells.append(_shown(case[key], unit, system))
        rows.append((name, *cells, label))
    head_row = ("", *cases, "")
    return NotebookTable(head_row, ("",) * len(head_row), tuple(rows))


def _said(head: Heading) -> str:
    return head.words or head.key.replace("_", " ")


def _cell(head: Heading, value: Any, system: System) -> str:
    text = head.text(value, system)
    return "–" if text == "-" else text


def _require(key: str, row: Mapping[str, Any]) -> None:
    if key not in row:
        raise InputError(
            "no such figure", found=key, expected=" | ".join(row), hint=did_you_mean(key, row)
        )


def _require_known(system: System) -> None:
    display_unit("force", system)  # says what is expected


def _words(key: str) -> tuple[str, _Unit]:
    """Return the words for a key, and its unit."""
    for ending, unit in _UNITS.items():
        if key.endswith(ending):
            return key.removesuffix(ending).replace("_", " "), unit
    return key.replace("_", " "), _BARE


def _shown(value: Any, unit: _Unit, system: System) -> str:
    if value is None or value != value:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    label, digits = unit.shown_in(system)
    if not isinstance(value, float) and not (isinstance(value, int) and label != unit.label):
        return str(value)
    if unit.label == "" and float(value).is_integer():
        return f"{value:.0f}"
    text = f"{unit.value(value, system):.{digits}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text
