"""The reference of the file formats, written from the file models and the unit tables.

Nothing on these pages is typed: keys, types, units and meanings are those that the reader of the
files goes by.
"""

from __future__ import annotations

import json
import types
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Annotated, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from converter_match.library.schema import FILES, common, json_schema, study
from converter_match.library.schema.spans import PRACTICE, Span, kind_of, sizes_of, spans_of
from converter_match.units import DIMENSIONS, display_unit, label, si_unit, spellings
from converter_match.units.refusals import REFUSALS
from converter_match.units.tables import Row
from converter_match.units.vocabulary import table_of

ROOT = Path(__file__).resolve().parents[2]
PAGES = ROOT / "docs" / "formats"
SCHEMAS = ROOT / "data" / "schemas"
COMMAND = "python -m pytest tests/docs --write-formats"
_HEAD = f"<!-- Written by `{COMMAND}`. Do not edit: a test compares. -->"

# What a page says before its tables: where to read on, and what an example is shipped as.
_READ_ON = {
    "arrangement": ("[Arrangements](../arrangements.md)", "data/arrangements"),
    "blading": ("[From blade angles to a characteristic](../blading.md)", "data/blading"),
    "catalogue": ("[A shortlist](../shortlist.md)", "data/catalogues"),
    "converter": ("[For the repower engineer](../guide-repower.md)", "data/converters"),
    "driveline": ("[At the wheels](../tractive.md)", "data/drivelines"),
    "engine": ("[For the repower engineer](../guide-repower.md)", "data/engines"),
    "load": ("[Loads that are not a vehicle](../loads.md)", "data/loads"),
    "machine": ("[At the wheels](../tractive.md)", "data/machines"),
    "motor": ("[An electric motor](../motors.md)", "data/motors"),
    "motor-study": ("[An electric motor](../motors.md)", "data/motor-studies"),
    "site": ("[For the repower engineer](../guide-repower.md)", "data/sites"),
    "study": ("[A study](../study.md)", "data/studies"),
    "surfaces": ("[At the wheels](../tractive.md)", "data/published/surfaces.csv"),
}
_USUAL = (
    "A number outside its usual span is asked about, in `check` and with every result; where no "
    "basis stands beside it, the span is common practice, no source: "
    "[what is usual](what-is-usual.md)."
)
_HOW = (
    'A quantity is written `{ unit = "rpm", value = 2200 }`, a column of them `{ unit = "rpm", '
    "values = [800, 1400, 2200] }`, a ratio as a table `{ value = 0.86 }` or with a unit "
    "(percent). Plain numbers and lists of numbers stand alone. What the sheet prints in a second "
    'unit stands beside: `{ unit = "kW", value = 129, also = { unit = "hp", value = 173 } }` '
    "([held against the first](what-is-usual.md#the-same-figure-in-two-units))."
)
_PER_SPEED = ("k_factor", "capacity_coefficient")  # too many spellings to list


@dataclass(frozen=True)
class Key:
    """One key of a table of a file."""

    path: str
    name: str
    holds: str
    given: str
    meaning: str


@dataclass(frozen=True)
class Table:
    """One table of a file: ``[full_load]``, ``[[accessory]]``; the top has no name."""

    path: str
    repeated: bool
    says: str
    keys: tuple[Key, ...]

    @property
    def heading(self) -> str:
        if not self.path:
            return "Top of the file"
        return f"`[[{self.path}]]`" if self.repeated else f"`[{self.path}]`"


def model_of(kind: str) -> type[BaseModel]:
    """Return the file model of a kind."""
    module = import_module(f"converter_match.library.schema.{kind.replace('-', '_')}")
    return getattr(module, "".join(part.capitalize() for part in kind.split("-")) + "File")


def tables_of(model: type[BaseModel], path: str = "", repeated: bool = False) -> Iterator[Table]:
    """Yield the tables of a file in the order in which they are written."""
    keys, below = [], []
    for name, field in model.model_fields.items():
        inside = f"{path}.{name}" if path else name
        holds, table, many = _holds(field)
        keys.append(Key(inside, name, holds, _given(field), field.description or ""))
        if table is not None:
            below.append((table, inside, many))
    says = "" if not path else (model.__doc__ or "").strip()
    yield Table(path, repeated, says, tuple(keys))
    for table, inside, many in below:
        yield from tables_of(table, inside, many)


def _holds(field: FieldInfo) -> tuple[str, type[BaseModel] | None, bool]:
    """Return what a key holds in words, and the model of the table where it is one."""
    annotation, marks = field.annotation, list(field.metadata)
    if get_origin(annotation) in (Union, types.UnionType):
        [annotation] = [part for part in get_args(annotation) if part is not type(None)]
    if get_origin(annotation) is Annotated:
        annotation, *inner = get_args(annotation)
        marks = [*marks, *inner]
    for mark in marks:
        if isinstance(mark, common.One):
            return _one(mark), None, False
        if isinstance(mark, common.Many):
            return _column(mark), None, False
        if isinstance(mark, common.AsGiven):
            return "table of keys of your own: text, whole number, or a quantity", None, False
        if isinstance(mark, common.AsSecond):
            return "`{ unit = ..., values = [...] }`, or a list of them", None, False
        if isinstance(mark, study.Unread):
            return "number, or `{ unit = ..., value = ... }`", None, False
    if get_origin(annotation) is Literal:
        return " \\| ".join(f"`{choice}`" for choice in get_args(annotation)), None, False
    if get_origin(annotation) is list:
        [item] = get_args(annotation)
        if isinstance(item, type) and issubclass(item, BaseModel):
            alone = any(isinstance(mark, common.OneOrMore) for mark in marks)
            return ("table, or a list of them" if alone else "repeated table"), item, not alone
        return "list of texts", None, False
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return "table", annotation, False
    plain = {str: "text", bool: "`true` \\| `false`", int: "whole number", object: "see meaning"}
    return plain[annotation], None, False


def _one(mark: common.One) -> str:
    if mark.bare:
        return "number"
    if mark.dimension == "ratio":
        return f"[ratio](units.md#{_anchor('ratio')}), as a table"
    return _unit_link(mark.dimension)


def _column(mark: common.Many) -> str:
    if mark.bare:
        return "list of numbers"
    return f"column of {_unit_link(mark.dimension)}"


def _unit_link(dimension: str) -> str:
    return f"[{table_of(dimension).noun}](units.md#{_anchor(dimension)})"


def _anchor(dimension: str) -> str:
    return table_of(dimension).noun.lower().replace(" ", "-")


def _given(field: FieldInfo) -> str:
    if field.is_required():
        return "required"
    default = field.get_default()
    if isinstance(default, bool):
        return f"`{str(default).lower()}` if not given"
    if isinstance(default, str) and default:
        return f"`{default}` if not given"
    return "optional"


def format_page(kind: str) -> str:
    """Return the page of one kind of file."""
    read_on, example = _READ_ON[kind]
    head = [
        f"# {kind.capitalize()} file",
        "",
        _HEAD,
        "",
        f'First line: `schema = "converter-match/{kind}/1"`. In use: {read_on}. Examples: '
        f"`{example}`. For an editor: `data/schemas/{kind}-{FILES[kind]}.schema.json`, or "
        f"`converter-match schema {kind}`.",
        "",
        _HOW,
        "",
        _USUAL,
    ]
    return "\n".join([*head, *_table_lines(model_of(kind), short=True)]) + "\n"


def common_page() -> str:
    """Return the page of what every component file may have."""
    head = [
        "# What every component file has",
        "",
        _HEAD,
        "",
        "Studies have the first three keys, and no notes of their own.",
        "",
        _HOW,
    ]
    return "\n".join([*head, *_table_lines(common.ComponentFile, short=False)]) + "\n"


def _table_lines(model: type[BaseModel], *, short: bool) -> list[str]:
    lines = []
    spans = spans_of(kind_of(model))
    shared = ("note", "unsmoothed") if short else ()
    for table in tables_of(model):
        if table.path in shared:
            continue
        lines += ["", f"## {table.heading}", ""]
        if table.says:
            lines += [table.says, ""]
        lines += ["| key | meaning | holds | usual | given |", "|---|---|---|---|---|"]
        for key in table.keys:
            name = f"`{key.name}`"
            if key.path in shared:
                name = f"[{name}](every-file.md)"
            usual = usual_text(spans[key.path]) if key.path in spans else ""
            lines.append(f"| {name} | {key.meaning} | {key.holds} | {usual} | {key.given} |")
    return lines


def usual_text(span: Span) -> str:
    """Return what is said of a number's size in the table of its key."""
    unit = "" if span.unit == "1" else f" {label(span.unit)}" if span.unit else ""
    said = [] if span.usual is None else [f"{span.usual[0]:.6g} to {span.usual[1]:.6g}{unit}"]
    if span.possible is not None:
        said.append(f"refused outside {span.possible[0]:.6g} to {span.possible[1]:.6g}")
    if span.basis != PRACTICE:
        said.append(span.basis)
    return "; ".join(said).replace("docs/evidence.md", "[evidence](../evidence.md)")


def columns_table() -> str:
    """Return the table of what is usual in the columns of routes, short cycles and duties."""
    lines = ["| table | column | usual |", "|---|---|---|"]
    for kind in ("route", "cycle", "duty"):
        for path, span in spans_of(kind).items():
            if not path.startswith("unsmoothed"):
                lines.append(f"| {kind} | `{path}` | {usual_text(span)} |")
    return "\n".join(lines)


def sizes_table() -> str:
    """Return the table of the numbers that are held against each other."""
    lines = ["| file | sizes | usual | where |", "|---|---|---|---|"]
    for kind in FILES:
        for sizes in sizes_of(kind):
            where = ""
            if sizes.where is not None:
                where = f"`{sizes.where[0]}` {sizes.where[1]:g} to {sizes.where[2]:g}"
            usual = f"{sizes.usual[0]:g} to {sizes.usual[1]:g}"
            lines.append(f"| {kind} | `{sizes.text.replace('@', '')}` | {usual} | {where} |")
    return "\n".join(lines)


def units_page() -> str:
    """Return the page of the units and their spellings."""
    lines = [
        "# Units and their spellings",
        "",
        _HEAD,
        "",
        "Inside, everything is SI. A file, an option or a column may use any of these; what is not "
        "here is refused, and the message names what could be meant. Forms that differ only in the "
        "product sign, the sign of a power, or white space are the same: `lb.ft` stands for "
        "`lb-ft`, `lb*ft` and `lb ft`, `kg/m3` for `kg/m**3` and `kg/m^3`.",
    ]
    for dimension in DIMENSIONS:
        table = table_of(dimension)
        shown = dict.fromkeys(display_unit(dimension, system) for system in ("si", "us"))
        lines += [
            "",
            f"## {table.noun[0].upper()}{table.noun[1:]}",
            "",
            f"Kept in `{si_unit(dimension)}`; shown in "
            f"{' or '.join(_shown(unit) for unit in shown)}.",
            "",
        ]
        if dimension in _PER_SPEED:
            lines += [_PER_SPEED_WORDS[dimension], ""]
        lines += ["| 1 of these | is in SI | spellings |", "|---|---|---|"]
        lines += [_unit_row(row, dimension) for row in table.rows]
        for refusal in REFUSALS.get(dimension, ()):
            said = ", ".join(f"`{text.strip()}`" for text in refusal.spellings.split(","))
            lines += ["", f"Refused: {said}: {refusal.problem}. Write {refusal.expected}."]
    return "\n".join(lines) + "\n"


_PER_SPEED_WORDS = {
    "k_factor": "Any angular speed over the square root of any torque, each in any of its "
    "spellings; one of each is listed.",
    "capacity_coefficient": "Any torque over the square of any angular speed, each in any of its "
    "spellings; one of each is listed.",
}


def _shown(unit: str) -> str:
    return label(unit) if unit != "1" else "plain numbers"


def _unit_row(row: Row, dimension: str) -> str:
    names = [name for name in row.names() if name]
    listed = names[:1] if dimension in _PER_SPEED else names
    said = ", ".join(f"`{name}`" for name in listed)
    if "" in row.names():
        said += ", or none at all"
    value = f"{row.factor:.9g}"
    if row.offset:
        value = f"(number + {row.offset:g}) × {row.factor:.9g}"
    return f"| `{names[0]}` | {value} | {said} |"


def schema_text(kind: str) -> str:
    """Return the JSON Schema of a kind of file as it is written for editors."""
    return json.dumps(json_schema(kind), indent=2, ensure_ascii=True) + "\n"


def files() -> dict[Path, str]:
    """Return every generated file with its text."""
    found = {PAGES / f"{kind}.md": format_page(kind) for kind in FILES}
    found[PAGES / "every-file.md"] = common_page()
    found[PAGES / "units.md"] = units_page()
    found |= {SCHEMAS / f"{kind}-{FILES[kind]}.schema.json": schema_text(kind) for kind in FILES}
    return found


assert set(_READ_ON) == set(FILES), "a kind of file without its page"
assert all(spellings(dimension) for dimension in DIMENSIONS)
