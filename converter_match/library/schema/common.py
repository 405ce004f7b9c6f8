"""What the file models share: strict tables, quantities, texts, notes."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    model_validator,
)
from pydantic_core import core_schema

from converter_match.errors import InputError
from converter_match.library.paths import moved
from converter_match.library.schema.quantity import (
    SECOND,
    FreeEntries,
    GivenColumn,
    GivenQuantity,
    form_of,
    read_column,
    read_free_entry,
    read_quantity,
)
from converter_match.notes import Note
from converter_match.units import display_unit

_LONGEST_TEXT = 4000


class FileTable(BaseModel):
    """A table of a file: unknown keys are refused, and no type is bent into another."""

    # Keys of files are named as the trade names them: ``model_error`` is one.
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, protected_namespaces=())


class _Plain:
    """A field that is read by one of our functions instead of by pydantic."""

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, core: object, handler: object) -> dict[str, Any]:
        return self.json()

    def read(self, raw: object) -> Any:
        raise NotImplementedError

    def json(self) -> dict[str, Any]:
        raise NotImplementedError


@dataclass(frozen=True)
class One(_Plain):
    """Marks a field that holds one quantity of a dimension."""

    dimension: str
    bare: bool = False

    def read(self, raw: object) -> GivenQuantity:
        """Return the quantity."""
        return read_quantity(raw, self.dimension, bare=self.bare)

    def form(self) -> str:
        """Return how the field is written."""
        return form_of("value", self.dimension)

    def json(self) -> dict[str, Any]:
        """Return the JSON Schema of the field."""
        return _json_table(self.dimension, "value", {"type": "number"}, self.bare)


@dataclass(frozen=True)
class Many(_Plain):
    """Marks a field that holds a column of a dimension."""

    dimension: str
    bare: bool = False
    table: bool = True

    def read(self, raw: object) -> GivenColumn:
        """Return the column."""
        if isinstance(raw, dict) and not self.table:
            raise InputError("a list of numbers is due here", found=raw)
        return read_column(raw, self.dimension, bare=self.bare)

    def form(self) -> str:
        """Return how the field is written."""
        return "a list of numbers" if self.bare else form_of("values", self.dimension)

    def json(self) -> dict[str, Any]:
        """Return the JSON Schema of the field."""
        numbers = {"type": "array", "items": {"type": "number"}}
        if not self.table:
            return numbers
        return _json_table(self.dimension, "values", numbers, self.bare)


@dataclass(frozen=True)
class AsGiven(_Plain):
    """Marks a table with free keys whose entries are kept as they were given."""

    def read(self, raw: object) -> FreeEntries:
        """Return (key, entry as text) in the order of the file."""
        if not isinstance(raw, dict):
            raise InputError("a table is due here", found=raw)
        read = {}
        for key, entry in raw.items():
            try:
                read[key] = read_free_entry(entry)
            except InputError as error:
                raise moved(error, f"{key}.{error.field}" if error.field else key) from None
        found = FreeEntries((key, text) for key, (text, _) in read.items())
        found.quantities = {key: given for key, (_, given) in read.items() if given is not None}
        return found

    def json(self) -> dict[str, Any]:
        """Return the JSON Schema of the field."""
        quantity = _json_table("length", "value", {"type": "number"}, False)
        quantity["properties"]["unit"].pop("examples")  # the second figure has the same table
        entry = {"anyOf": [{"type": "string"}, {"type": "integer"}, quantity]}
        return {"type": "object", "additionalProperties": entry}


@dataclass(frozen=True)
class AsSecond(_Plain):
    """Marks the second figures of a table that is itself a quantity; it reads them."""

    def read(self, raw: object) -> Any:
        """Return what was written."""
        return raw

    def json(self) -> dict[str, Any]:
        """Return the JSON Schema of the field."""
        numbers = {"type": "array", "items": {"type": "number"}}
        keys = {"unit": {"type": "string"}, "values": numbers}
        return json_of_second(
            {
                "type": "object",
                "properties": keys,
                "required": ["values"],
                "additionalProperties": False,
            }
        )


@dataclass(frozen=True)
class OneOrMore:
    """Marks a list of tables that may be written as a single table."""

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_before_validator_function(
            lambda raw: [raw] if isinstance(raw, dict) else raw, handler(source)
        )

    def __get_pydantic_json_schema__(
        self, core: Any, handler: Callable[[Any], dict[str, Any]]
    ) -> dict[str, Any]:
        many = handler(core)
        return {"anyOf": [many["items"], many]}


def _json_table(dimension: str, key: str, number: dict[str, Any], bare: bool) -> dict[str, Any]:
    ratio = dimension == "ratio"
    unit: dict[str, Any] = {"type": "string"}
    if not ratio:
        shown_in = (display_unit(dimension, "si"), display_unit(dimension, "us"))
        unit["examples"] = list(dict.fromkeys(shown_in))
    second: dict[str, Any] = {
        "type": "object",
        "properties": {"unit": unit, key: number},
        "required": [key] if ratio else ["unit", key],
        "additionalProperties": False,
    }
    table = {**second, "properties": second["properties"] | {SECOND: json_of_second(second)}}
    return {"anyOf": [number, table]} if bare else table


def json_of_second(table: dict[str, Any]) -> dict[str, Any]:
    """Return the JSON Schema of the same figure in other units, from that of one of them."""
    return {"anyOf": [table, {"type": "array", "items": table}]}


def _text(text: str) -> str:
    if not text.strip():
        raise InputError("is empty", found=text, expected="a text")
    if len(text) > _LONGEST_TEXT:
        raise InputError(
            "is too long", found=f"{len(text)} characters", expected=f"at most {_LONGEST_TEXT}"
        )
    # TOML itself refuses control characters, but lets them in as escapes.
    if any(unicodedata.category(sign) == "Cc" and sign not in "\n\t" for sign in text):
        raise InputError("holds control characters", found=text, expected="a text")
    return text


def _one_line(text: str) -> str:
    if "\n" in text or "\t" in text:
        raise InputError("holds a line break or a tab", found=text, expected="one line of text")
    return text


Text = Annotated[str, AfterValidator(_text)]
Line = Annotated[str, AfterValidator(_text), AfterValidator(_one_line)]
Speed = Annotated[GivenQuantity, One("angular_speed")]
Torque = Annotated[GivenQuantity, One("torque")]
Power = Annotated[GivenQuantity, One("power")]
Length = Annotated[GivenQuantity, One("length")]
Density = Annotated[GivenQuantity, One("density")]
Temperature = Annotated[GivenQuantity, One("temperature")]
Volume = Annotated[GivenQuantity, One("volume")]
Pressure = Annotated[GivenQuantity, One("pressure")]
Inertia = Annotated[GivenQuantity, One("inertia")]
Ratio = Annotated[GivenQuantity, One("ratio")]
Number = Annotated[GivenQuantity, One("ratio", bare=True)]
SpeedColumn = Annotated[GivenColumn, Many("angular_speed")]
TorqueColumn = Annotated[GivenColumn, Many("torque")]
PowerColumn = Annotated[GivenColumn, Many("power")]
LengthColumn = Annotated[GivenColumn, Many("length")]
NumberColumn = Annotated[GivenColumn, Many("ratio", bare=True)]
PlainList = Annotated[GivenColumn, Many("ratio", bare=True, table=False)]
Also = Annotated[Any, AsSecond()]
FreeTable = Annotated[tuple[tuple[str, str], ...], AsGiven()]


class NoteTable(FileTable):
    """Something a reader of the numbers has to know, kept with them."""

    code: Line = Field(description="lower-case words with hyphens")
    message: Text = Field(description="text of the note")
    kind: Literal["assumption", "warning", "limit", "caution"] = Field(
        default="assumption", description="kind of note"
    )

    def note(self) -> Note:
        """Return the note."""
        return Note(self.code, self.message, self.kind)


class OriginalTable(FileTable):
    """A column as it came, kept beside the one that smoothing put in its place; not used."""

    column: Line = Field(description="what the sheet called it")
    unit: str = Field(default="", description="on the sheet")
    at: Line = Field(description="key of the column that the values stand against")
    at_unit: str = Field(default="", description="on the sheet")
    positions: PlainList = Field(description="values of that column, one a row")
    values: PlainList = Field(description="one number per row")

    @model_validator(mode="after")
    def _rows_agree(self) -> OriginalTable:
        if len(self.values) != len(self.positions):
            raise InputError(
                "values and positions must have the same number of rows",
                field="values",
                found=f"{len(self.values)} values for {len(self.positions)} positions",
            )
        return self


class ComponentFile(FileTable):
    """The head of every component file."""

    id: Line = Field(description="short name, unique within a study")
    name: Line = Field(description="display name")
    source: Text = Field(description="where the numbers come from")
    note: list[NoteTable] = Field(default=[], description="notes for the reader")
    unsmoothed: list[OriginalTable] = Field(
        default=[], description="columns as they came, where smoothed ones are used; kept, not used"
    )

    def notes(self) -> tuple[Note, ...]:
        """Return the notes that the file carries, and what is asked about its numbers."""
        from converter_match.library.schema.spans import questions

        return (*(table.note() for table in self.note), *questions(self))


def check_rows(x_name: str, x: GivenColumn, **columns: GivenColumn | None) -> None:
    """Refuse columns of unequal length and rows that do not increase, in the sheet's own units.

    Parameters
    ----------
    x_name : str
        Key of the column that must increase.
    x : GivenColumn
        That column.
    **columns : GivenColumn or None
        The others by key; None is one that was not given.

    Raises
    ------
    InputError
        With the path inside the table as its field.
    """
    if len(x) < 2:
        raise InputError("needs at least two rows", field=x_name + x.place, found=f"{len(x)} rows")
    for name, column in columns.items():
        if column is not None and len(column) != len(x):
            raise InputError(
                f"{name} and {x_name} must have the same number of rows",
                field=name + column.place,
                found=f"{len(column)} values of {name} for {len(x)} of {x_name}",
            )
    for row in range(1, len(x)):
        if x.values[row] <= x.values[row - 1]:
            repeats = x.values[row] == x.values[row - 1]
            raise InputError(
                f"row {row + 1} {'repeats' if repeats else 'does not increase'}",
                field=f"{x_name}{x.place}[{row}]",
                found=f"{x.given(row)} after {x.given(row - 1)}",
                expected=f"values of {x_name} that increase from row to row",
            )
