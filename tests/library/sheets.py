"""Files to read in the tests: shipped ones with a few words changed."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from converter_match.errors import InputError
from converter_match.library.read import read_component
from converter_match.library.shipped import shipped

CONVERTER = ("converters", "single-stage-345mm-tight")
LOOSE = ("converters", "single-stage-345mm-loose")
ENGINE = ("engines", "six-cylinder-7l-185kw")
POWER_ENGINE = ("engines", "six-cylinder-10l5-138kw")
RATING_LINE = ("engines", "four-cylinder-3l6-74kw-rating-line")
SITE = ("sites", "timber-valley-hot-humid")
NAMES = [(kind, name) for kind in ("converters", "engines", "sites") for name in shipped(kind)]


def text_of(sheet: tuple[str, str]) -> str:
    kind, name = sheet
    return shipped(kind)[name].read_text(encoding="utf-8")


def changed(sheet: tuple[str, str], *changes: tuple[str, str]) -> str:
    """Return the text of a shipped file, each change made once."""
    text = text_of(sheet)
    for old, new in changes:
        assert old in text, f"{old!r} is not in {sheet}"
        text = text.replace(old, new, 1)
    return text


def saved(folder: Path, content: str | bytes, name: str = "sheet.toml") -> Path:
    path = folder / name
    path.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
    return path


def refusal(
    folder: Path, content: str | bytes, read: Callable[[Path], Any] = read_component
) -> InputError:
    """Return what a reader says to a bad file: one line that begins with the file's name."""
    path = saved(folder, content)
    with pytest.raises(InputError) as caught:
        read(path)
    error = caught.value
    assert error.source == str(path)
    assert str(error).startswith(f"{path}: ")
    assert "\n" not in str(error)
    return error


def changed_file(folder: Path, path: Path, old: str, new: str, to: str = "changed.toml") -> Path:
    """Return a copy of a file with some words changed wherever they stand."""
    text = path.read_text(encoding="utf-8")
    assert old in text, f"{old!r} is not in {path}"
    return saved(folder, text.replace(old, new), to)


def printed_once(text: str) -> str:
    """Return the text of a shipped file without what it says twice.

    The figures in a second unit, and the rating beside a full-load curve.
    """
    once = re.sub(r", also = \{[^{}]*\}", "", text)
    return re.sub(r"\[rating\]\n(?:.+\n)+\n", "", once) if "[full_load]" in once else once
