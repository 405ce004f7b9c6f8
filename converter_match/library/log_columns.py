"""Which column or signal of a log is what: by our own headings, or by a map that a person keeps."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from converter_match.errors import InputError, did_you_mean
from converter_match.library.files import FilePath, read_toml
from converter_match.units import dimensions_of, to_si

# Name -> dimension. A torque may also be a share of a reference torque.
COLUMNS: Mapping[str, str] = {
    "time": "time",
    "engine speed": "angular_speed",
    "turbine speed": "angular_speed",
    "engine torque": "torque",
    "turbine torque": "torque",
    "oil temperature": "temperature",
    "grade": "weight_share",
    "friction torque": "torque",
    "pump torque": "torque",
    "gear": "ratio",
    "lock-up": "ratio",
}
REQUIRED = ("time", "engine speed", "turbine speed", "engine torque")
# Numbers of a gear (0 neutral, below zero reverse), and 0 or 1: they have no unit.
BARE = ("gear", "lock-up")
ISO = "iso"
EPOCH: Mapping[str, float] = {"epoch s": 1.0, "epoch ms": 1e-3, "epoch us": 1e-6, "epoch ns": 1e-9}
"""Times that are counted from 1970, by what stands in place of their unit [s]."""
SCHEMA = "converter-match/log-columns/1"


class Taken(NamedTuple):
    """A column or signal of a file.

    Parameters
    ----------
    name : str
        As in the file.
    unit : str
        Empty where the file itself tells.
    """

    name: str
    unit: str


ColumnMap = Mapping[str, Taken]
"""What it is for us -> the column or signal of the file."""


def split_heading(text: str) -> Taken:
    """Return name and unit of a heading such as ``EngSpeed [rpm]``.

    Examples
    --------
    >>> split_heading("EngSpeed [rpm]")
    Taken(name='EngSpeed', unit='rpm')
    """
    name, _, rest = text.partition("[")
    return Taken(name.strip(), rest.rpartition("]")[0].strip())


def own_name(text: str) -> str:
    """Return a name as our headings are written: small letters, words set apart.

    Examples
    --------
    >>> own_name("EngineSpeed"), own_name("engine_speed"), own_name("Lock-up")
    ('engine speed', 'engine speed', 'lock-up')
    """
    apart = re.sub(r"(?<=[a-z0-9])(?=[A-Z])", " ", text.strip())
    return " ".join(apart.replace("_", " ").casefold().split())


def is_share(role: str, unit: str) -> bool:
    """Return whether a column is a torque as a share of a reference torque."""
    return role.endswith("torque") and "ratio" in dimensions_of(unit)


def check_unit(role: str, unit: str, *, source: str, field: str, reference: bool) -> None:
    """Refuse a unit that the column cannot have.

    Parameters
    ----------
    role, unit : str
    source, field : str
        For the message.
    reference : bool
        Whether the torque that is 100 percent is known.

    Raises
    ------
    InputError
    """
    if role in BARE or (role == "time" and unit in (ISO, *EPOCH)):
        return
    if not unit:
        raise InputError(
            "the column names no unit", source=source, field=field, found=role,
            expected=f"{role} [unit]",
        )  # fmt: skip
    if is_share(role, unit):
        if not reference:
            raise InputError(
                "a torque in percent needs the torque that is 100 percent",
                source=source,
                field=f"{field}, {role}",
                found=unit,
                expected="a reference torque (--reference-torque)",
            )
        return
    to_si(1.0, unit, COLUMNS[role], source=source, field=f"{field}, {role}")


def taken_from(
    signals: Mapping[str, str], wanted: ColumnMap, *, source: str, timed: bool
) -> dict[str, Taken]:
    """Return which signal of a file is what, and in which unit.

    Parameters
    ----------
    signals : mapping
        Name in the file -> unit, empty where the file gives none.
    wanted : mapping
        A person's map; where it is empty, our own headings are looked for.
    source : str
        For messages.
    timed : bool
        Whether every signal has times of its own: then no column is the time.

    Raises
    ------
    InputError
        If a signal of the map is not there, or what is needed is not found.
    """
    taken: dict[str, Taken] = {}
    if wanted:
        for role, (name, unit) in wanted.items():
            if role == "time" and timed:
                continue
            if name not in signals:
                raise InputError(
                    "the log has no such column",
                    source=source,
                    field=role,
                    found=name,
                    expected=_few(signals),
                    hint=did_you_mean(name, signals),
                )
            taken[role] = Taken(name, unit or signals[name])
    else:
        for name, unit in signals.items():
            bare = split_heading(name)
            role = own_name(bare.name)
            if role in COLUMNS and role not in taken and not (timed and role == "time"):
                taken[role] = Taken(name, bare.unit or unit)
    missing = [role for role in REQUIRED if role not in taken and not (timed and role == "time")]
    if missing:
        raise InputError(
            f"missing column{'s' if len(missing) > 1 else ''}: {', '.join(missing)}",
            source=source,
            found=_few(signals),
            expected=f"a column for each of {', '.join(REQUIRED)}",
            hint="say which is which: --column 'engine speed=NAME [rpm]'",
        )
    return taken


def _few(names: Iterable[str]) -> str:
    known = list(names)
    more = f" and {len(known) - 20} more" if len(known) > 20 else ""
    return ", ".join(known[:20]) + more


def parse_column(text: str, *, source: str) -> tuple[str, Taken]:
    """Return what ``engine speed=EngSpeed [rpm]`` says.

    Raises
    ------
    InputError
        If it has another form, or it is none of our columns.

    Examples
    --------
    >>> parse_column("engine speed=EngSpeed [rpm]", source="--column")
    ('engine speed', Taken(name='EngSpeed', unit='rpm'))
    """
    role, sign, rest = (part.strip() for part in text.partition("="))
    if not sign or not rest:
        raise InputError(
            "does not say which column it is", source=source, found=text,
            expected="'engine speed=NAME [rpm]'",
        )  # fmt: skip
    return _role(role, source=source, field=None), split_heading(rest)


def _role(text: str, *, source: str, field: str | None) -> str:
    role = own_name(text)
    if role not in COLUMNS:
        raise InputError(
            "unknown column", source=source, field=field, found=text,
            expected=", ".join(COLUMNS), hint=did_you_mean(role, COLUMNS),
        )  # fmt: skip
    return role


def read_column_map(path: FilePath) -> dict[str, Taken]:
    """Read a map that `column_map_text` wrote, or a person by that pattern.

    Parameters
    ----------
    path : str or path-like
        TOML: the schema line, and a table ``[columns]`` of lines such as
        ``"engine speed" = "EngSpeed [rpm]"``.

    Raises
    ------
    InputError
        Naming file and key.
    """
    file = read_toml(path)
    if file.data.get("schema") != SCHEMA:
        raise InputError(
            "not a map of a log's columns", source=file.source, field="schema",
            found=file.data.get("schema"), expected=f'schema = "{SCHEMA}"',
        )  # fmt: skip
    table = file.data.get("columns")
    if not isinstance(table, dict) or not table:
        raise InputError(
            "no columns", source=file.source, field="columns",
            expected='lines such as "engine speed" = "EngSpeed [rpm]"',
        )  # fmt: skip
    found = {}
    for key, value in table.items():
        role = _role(key, source=file.source, field="columns")
        if not isinstance(value, str) or not value.strip():
            raise InputError(
                "not a heading", source=file.source, field=f"columns.{key}", found=value,
                expected='a text such as "EngSpeed [rpm]"',
            )  # fmt: skip
        found[role] = split_heading(value)
    return found


def column_map_text(taken: ColumnMap) -> str:
    """Return a map as TOML.

    Parameters
    ----------
    taken : mapping
    """
    import tomlkit

    document = tomlkit.document()
    document["schema"] = SCHEMA
    document["columns"] = {
        role: f"{name} [{unit}]" if unit else name for role, (name, unit) in taken.items()
    }
    return tomlkit.dumps(document)


def stem(path: FilePath) -> str:
    """Return the name of a file without what says that it is packed, in small letters."""
    return os.fspath(path).casefold().removesuffix(".gz")
