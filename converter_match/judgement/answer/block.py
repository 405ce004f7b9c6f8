"""One part of an arrangement's answer: facts, a table, notes; as text and as plain data."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from converter_match.notes import Note
from converter_match.units import System, from_si, show

# Unit and suffix of each dimension in plain data, which always names its units.
_PLAIN = {
    "angular_speed": ("rpm", "_rpm"),
    "torque": ("N.m", "_nm"),
    "power": ("kW", "_kw"),
    "energy": ("kJ", "_kj"),
    "force": ("kN", "_kn"),
    "velocity": ("km/h", "_kmh"),
}


@dataclass(frozen=True)
class NoValue:
    """A fact that has no value: plain data have null there, text says why.

    Parameters
    ----------
    words : str
    """

    words: str


@dataclass(frozen=True)
class Heading:
    """What a column or a fact is.

    Parameters
    ----------
    key : str
        In plain data; the unit is appended.
    words : str
        In text.
    dimension : str, optional
        None for a pure number, a word or a truth value.
    form : str
        Number format.
    """

    key: str
    words: str
    dimension: str | None = None
    form: str = ".3f"

    @property
    def plain_key(self) -> str:
        """Key with the unit's suffix."""
        return self.key + (_PLAIN[self.dimension][1] if self.dimension else "")

    def plain(self, value: Any) -> Any:
        """Return the value in the unit of plain data; None where there is none."""
        if isinstance(value, NoValue):
            return None
        if value is None or isinstance(value, str | bool):
            return value
        number = float(value)
        if not math.isfinite(number):
            return None
        return (
            from_si(number, _PLAIN[self.dimension][0], self.dimension) if self.dimension else number
        )

    def text(self, value: Any, system: System) -> str:
        """Return the value in trade units, without the unit."""
        if value is None:
            return "none"
        if isinstance(value, NoValue):
            return value.words
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, str):
            return value
        number = float(value)
        if not math.isfinite(number):
            return "-"
        shown = show(number, self.dimension, system)[0] if self.dimension else number
        text = format(shown, self.form)
        return text.removeprefix("-") if float(text) == 0.0 else text

    def unit(self, system: System) -> str:
        """Return the unit that `text` leaves out."""
        return show(0.0, self.dimension, system)[1] if self.dimension else ""


@dataclass(frozen=True, eq=False)
class Block:
    """One part of the answer.

    Parameters
    ----------
    name : str
        Key in plain data: that of the arrangement's part.
    title : str
    facts : tuple of (Heading, value)
        SI values, or a `NoValue`.
    columns : tuple of Heading
    rows : tuple of tuple
        SI values, one for each column.
    notes : tuple of Note
    detail : object
        The physics behind it, for figures.
    """

    name: str
    title: str
    facts: tuple[tuple[Heading, Any], ...] = ()
    columns: tuple[Heading, ...] = ()
    rows: tuple[tuple[Any, ...], ...] = ()
    notes: tuple[Note, ...] = ()
    detail: object = None

    def to_dict(self) -> dict[str, Any]:
        """Return plain data: facts by key, and ``rows``."""
        plain: dict[str, Any] = {head.plain_key: head.plain(value) for head, value in self.facts}
        if self.columns:
            plain["rows"] = [
                {
                    head.plain_key: head.plain(value)
                    for head, value in zip(self.columns, row, strict=True)
                }
                for row in self.rows
            ]
        return plain

    def text(self, system: System = "si") -> str:
        """Return title, facts and table, readable in a log; the notes go with those of the rest."""
        lines = [self.title]
        for head, value in self.facts:
            unit = "" if value is None or isinstance(value, NoValue) else head.unit(system)
            lines.append(f"  {head.words}: {head.text(value, system)} {unit}".rstrip())
        if self.columns:
            table = [[head.words for head in self.columns]]
            table.append([head.unit(system) or "-" for head in self.columns])
            table += [
                [head.text(value, system) for head, value in zip(self.columns, row, strict=True)]
                for row in self.rows
            ]
            widths = [max(len(row[i]) for row in table) for i in range(len(self.columns))]
            for row in table:
                cells = [cell.rjust(width) for cell, width in zip(row, widths, strict=True)]
                lines.append("  " + "  ".join(cells))
        return "\n".join(lines)


TURBINE = Heading("turbine_speed", "turbine", "angular_speed", ".0f")
WHEELS = (
    Heading("travel_speed", "travel speed", "velocity", ".1f"),
    Heading("tractive_effort", "tractive effort", "force", ".1f"),
)
ENGINE = Heading("engine_speed", "engine", "angular_speed", ".0f")


def plain_rows(*columns: np.ndarray) -> tuple[tuple[object, ...], ...]:
    """Return the rows of a table from its columns, as plain numbers and truth values."""
    return tuple(
        tuple(bool(value) if isinstance(value, np.bool_) else float(value) for value in row)
        for row in zip(*columns, strict=True)
    )
