"""Answers kept beside the sheet, so that reading it again asks nothing that was answered.

::

    schema = "converter-match/intake-answers/1"
    sheet = "sheet.csv"              # beside this file
    fingerprint = "sha256:..."       # of the sheet that the answers were given for
    confirm = ["stator"]
    leave_out = [12]
    [units]
    3 = "rpm/sqrt(lbf.ft)"
    [facts]
    profile_diameter = "345 mm"
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from converter_match.errors import InputError
from converter_match.library.atomic import write_text
from converter_match.library.files import FilePath, read_toml
from converter_match.library.intake.answers import Answers
from converter_match.library.toml_text import toml_text

SCHEMA = "converter-match/intake-answers/1"
ENDING = ".answers.toml"
_HEAD = ("schema", "sheet", "fingerprint")


@dataclass(frozen=True)
class Saved:
    """Answers that were saved, and whether they were given for the sheet as it is now."""

    answers: Answers
    file: str
    fits: bool


def answers_path(sheet: FilePath) -> Path:
    """Return where the answers about a sheet are kept: beside it, under its name."""
    return Path(f"{os.fspath(sheet)}{ENDING}")


def save_answers(answers: Answers, sheet: FilePath) -> Path:
    """Write what was said about a sheet beside it; what was saved before is replaced.

    Parameters
    ----------
    answers : Answers
    sheet : str or path-like

    Returns
    -------
    Path
        Of the file.

    Raises
    ------
    InputError
        If the sheet cannot be read, the file cannot be written, or another kind of file has its
        name.
    """
    target = answers_path(sheet)
    if target.exists():
        _read(target)  # anything else under this name is not replaced
    data: dict[str, Any] = {
        "schema": SCHEMA,
        "sheet": Path(os.fspath(sheet)).name,
        "fingerprint": _fingerprint(sheet),
    }
    for each in fields(Answers):
        value = getattr(answers, each.name)
        if each.name != "saved" and value not in (None, (), {}, False, ""):
            data[each.name] = list(value) if isinstance(value, tuple) else value
    write_text(toml_text(data), target, overwrite=True)
    return target


def saved_answers(sheet: FilePath) -> Saved | None:
    """Return what was saved beside a sheet; None where nothing was.

    Raises
    ------
    InputError
        If the file there cannot be read.
    """
    path = answers_path(sheet)
    if not path.is_file():
        return None
    data = _read(path)
    given = {key: value for key, value in data.items() if key not in _HEAD}
    return Saved(_answers(given, path), path.name, data["fingerprint"] == _fingerprint(sheet))


def with_saved(known: Answers, sheet: FilePath) -> Answers:
    """Return the answers with those that were saved beside the sheet; what is said now counts.

    Answers that were given for another version of the sheet are not used, which the draft says.

    Parameters
    ----------
    known : Answers
    sheet : str or path-like
    """
    saved = saved_answers(sheet)
    if saved is None:
        return known
    if not saved.fits:
        return replace(known, saved=f"!{saved.file}")
    changes: dict[str, Any] = {"saved": saved.file}
    for each in fields(Answers):
        old, new = getattr(saved.answers, each.name), getattr(known, each.name)
        if isinstance(new, Mapping):
            changes[each.name] = {**old, **new}
        elif isinstance(new, tuple):
            changes[each.name] = tuple(dict.fromkeys([*old, *new]))
        elif each.name != "saved":
            changes[each.name] = old if new in (None, False) else new
    return replace(known, **changes)


def _fingerprint(sheet: FilePath) -> str:
    try:
        with open(sheet, "rb") as stream:
            return f"sha256:{hashlib.file_digest(stream, 'sha256').hexdigest()}"
    except OSError as error:
        raise InputError(
            f"cannot be read ({error.strerror or error})", source=os.fspath(sheet)
        ) from None


def _read(path: Path) -> dict[str, Any]:
    toml = read_toml(path)
    if toml.data.get("schema") != SCHEMA:
        raise InputError(
            "is no file of answers about a sheet",
            source=toml.source,
            field="schema",
            found=toml.data.get("schema"),
            expected=SCHEMA,
        )
    if not isinstance(toml.data.get("fingerprint"), str):
        raise InputError("missing", source=toml.source, field="fingerprint")
    return toml.data


def _answers(given: dict[str, Any], path: Path) -> Answers:
    """Return the answers of a file, each of the type that it has."""
    known = {each.name for each in fields(Answers)} - {"saved"}
    for key in given:
        if key not in known:
            raise InputError("unknown key", source=str(path), field=key)
    try:
        return Answers().plus(**given)
    except InputError as refusal:
        raise refusal.located(source=str(path)) from None
