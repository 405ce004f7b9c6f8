"""What a sheet says once its columns are known: numbers by role, with their units and rows."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from converter_match.curves import FloatArray
from converter_match.library.intake.answers import Kind
from converter_match.library.intake.vocabulary import ROLES
from converter_match.units import to_si


@dataclass(frozen=True, eq=False)
class SheetColumn:
    """One column.

    Parameters
    ----------
    number : int
        Its number in the sheet, from 1.
    heading : str
    role : str
        A key of `vocabulary.ROLES`.
    values : ndarray, shape (n,)
        As written; NaN where the cell is empty.
    unit : str
        Empty where none is known, and for a ratio without one.
    unit_from : str
        Where it comes from: ``heading``, ``cells``, ``you``, ``inferred``, ``nature``.
    label : str
        Of a rating.
    reference : (float, str) or None
        Impeller speed of a torque or power column, or impeller torque of a speed column, with its
        unit.
    tolerance : ndarray, shape (n,), optional
        Half width of the reading error, in `unit`.
    second : SheetColumn, optional
        The column that says the same in another unit.
    """

    number: int
    heading: str
    role: str
    values: FloatArray
    unit: str = ""
    unit_from: str = ""
    label: str = ""
    reference: tuple[float, str] | None = None
    tolerance: FloatArray | None = None
    second: SheetColumn | None = None

    @property
    def key(self) -> str:
        """How questions about the column are told apart."""
        return str(self.number)

    @property
    def place(self) -> str:
        """The column, as said in a message."""
        return f"column {self.number} ({self.heading!r})"

    @property
    def dimension(self) -> str:
        """Dimension of the role; a capacity without a form has none yet."""
        return ROLES[self.role] or ""

    def si(self) -> FloatArray:
        """Return the values in SI units."""
        with np.errstate(over="ignore"):
            return np.asarray(to_si(self.values, self.unit, self.dimension))

    def shown(self, row: int) -> str:
        """Return a value as it stands in the sheet, with its unit."""
        return f"{self.values[row]:.6g} {self.unit}".rstrip()

    def take(self, order: FloatArray | list[int]) -> SheetColumn:
        """Return the column with other rows."""
        rows = np.asarray(order, dtype=int)
        tolerance = None if self.tolerance is None else self.tolerance[rows]
        second = None if self.second is None else self.second.take(order)
        return replace(self, values=self.values[rows], tolerance=tolerance, second=second)


@dataclass(frozen=True, eq=False)
class SheetTable:
    """The columns that are used, over the rows that are used.

    Parameters
    ----------
    source : str
    kind : {"converter", "engine", "motor"}
    columns : tuple of SheetColumn
    rows : tuple of int
        Number of each row in the sheet, from 1.
    row_word : str
        What rows are called in the sheet: those of a turned one are its columns.
    """

    source: str
    kind: Kind
    columns: tuple[SheetColumn, ...]
    rows: tuple[int, ...]
    row_word: str = field(default="row")

    def having(self, *roles: str) -> list[SheetColumn]:
        """Return the columns of these roles, in the order of the roles."""
        return [column for role in roles for column in self.columns if column.role == role]

    def one(self, role: str) -> SheetColumn | None:
        """Return the first column of a role; None if there is none."""
        found = self.having(role)
        return found[0] if found else None

    def row(self, index: int) -> str:
        """Return what to call a row."""
        return f"{self.row_word} {self.rows[index]}"

    def take(self, order: list[int]) -> SheetTable:
        """Return the table with other rows."""
        return replace(
            self,
            columns=tuple(column.take(order) for column in self.columns),
            rows=tuple(self.rows[index] for index in order),
        )

    def with_columns(self, columns: Iterable[SheetColumn]) -> SheetTable:
        """Return the table with other columns."""
        return replace(self, columns=tuple(columns))
