"""The mapping file: headings, facts and units of another language, in our words."""

from __future__ import annotations

from typing import Any

from converter_match.errors import InputError, did_you_mean
from converter_match.library.files import FilePath, read_toml
from converter_match.library.intake.answers import FACTS
from converter_match.library.intake.vocabulary import ROLES
from converter_match.units import dimensions_of

_TABLES = ("columns", "facts", "units")


def read_mapping(path: FilePath) -> dict[str, dict[str, str]]:
    """Return what a mapping file says, as answers.

    Parameters
    ----------
    path : str or path-like
        TOML with up to three tables: ``[columns]`` heading = role, ``[facts]`` label = fact,
        ``[units]`` unit = unit.

    Returns
    -------
    dict
        ``words`` and ``unit_words``, for `Answers`.

    Raises
    ------
    InputError
        If the file cannot be read, or maps to something that is not known.
    """
    toml = read_toml(path)
    for table in toml.data:
        if table not in _TABLES:
            raise InputError(
                "unknown table",
                source=toml.source,
                field=table,
                expected=", ".join(f"[{name}]" for name in _TABLES),
                hint=did_you_mean(table, _TABLES),
            )
    facts = [*FACTS]
    words = _checked(toml.data, "columns", list(ROLES), toml.source)
    words |= _checked(toml.data, "facts", facts, toml.source)
    units = _checked(toml.data, "units", None, toml.source)
    for word, unit in units.items():
        if not dimensions_of(unit):
            raise InputError("unknown unit", source=toml.source, field=f"units.{word}", found=unit)
    return {"words": words, "unit_words": units}


def _checked(
    data: dict[str, Any], table: str, known: list[str] | None, source: str
) -> dict[str, str]:
    entries = data.get(table, {})
    if not isinstance(entries, dict):
        raise InputError("a table is due here", source=source, field=table, found=entries)
    for word, meant in entries.items():
        field = f"{table}.{word}"
        if not isinstance(meant, str):
            raise InputError("a text is due here", source=source, field=field, found=meant)
        if known is not None and meant not in known:
            raise InputError(
                "leads to nothing that is known",
                source=source,
                field=field,
                found=meant,
                expected=", ".join(known),
                hint=did_you_mean(meant, known),
            )
    return dict(entries)
