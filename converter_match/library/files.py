"""A file becomes text, and text a dictionary: bounded, and refused with one clear message."""

from __future__ import annotations

import os
import re
import stat
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from converter_match.errors import NO_SUCH_FILE, InputError, nearest
from converter_match.library.commas import syntax_comma_hint
from converter_match.library.delimited import MARK

FilePath = str | os.PathLike[str]

SIZE_LIMIT = 2_000_000
"""A component file has a few thousand bytes; a thousand times as many is another kind of file."""

_SIGNATURES = (
    (b"PK\x03\x04", "a spreadsheet or ZIP archive"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet or word-processor file"),
    (b"%PDF", "a PDF"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
)
# A chain of more keys than this costs tomllib memory that grows with its square.
_LONGEST_KEY_CHAIN = 30
_KEY_CHAIN = re.compile(
    r"""(?<![\w"'-])(?:(?:[A-Za-z0-9_-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){"""
    f"{_LONGEST_KEY_CHAIN}}}"
)
_PLACE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")


@dataclass(frozen=True)
class TomlFile:
    """A file that could be parsed.

    Parameters
    ----------
    source : str
        The path as the person gave it.
    data : dict
        Its content, keys in the order of the file.
    text : str
        Its text: what was written, where parsing no longer tells.
    """

    source: str
    data: dict[str, Any]
    text: str = field(repr=False)


def read_text(path: FilePath, what: str = "a component file (TOML text)") -> str:
    """Return the text of a file of modest size.

    Parameters
    ----------
    path : str or path-like
        Where the file is. The size is looked at before anything is read.
    what : str
        What the file should be, for the message.

    Returns
    -------
    str
        The text as it stands in the file, without a byte-order mark.

    Raises
    ------
    InputError
        If there is no such file, it is a folder or a device, it is empty, larger than
        `SIZE_LIMIT` or binary, or it is not UTF-8.
    """
    return _decoded(read_bytes(path), os.fspath(path), what)


def ordinary(path: FilePath, limit: int, what: str) -> str:
    """Return the name of a file that is an ordinary one of modest size; nothing is read.

    Parameters
    ----------
    path : str or path-like
    limit : int
        Most bytes that are taken.
    what : str
        What the file should be, for the message.

    Raises
    ------
    InputError
        If there is no such file, it is a folder or a device, or it is larger than `limit`.
    """
    source = os.fspath(path)
    try:
        status = os.stat(source)
    except FileNotFoundError:
        raise InputError(
            "no such file", source=source, hint=neighbours(source), code=NO_SUCH_FILE
        ) from None
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        raise InputError(f"cannot be opened: {_why(error)}", source=source) from None
    if stat.S_ISDIR(status.st_mode):
        raise InputError("is a folder", source=source, expected="a file")
    if not stat.S_ISREG(status.st_mode):
        raise InputError("is a device or a pipe", source=source, expected="an ordinary file")
    if status.st_size > limit:
        raise InputError(
            "is too large",
            source=source,
            found=f"{status.st_size / 1e6:.1f} MB",
            expected=f"{what} of at most {limit / 1e6:.0f} MB",
        )
    return source


def read_bytes(path: FilePath, limit: int = SIZE_LIMIT, what: str = "a text file") -> bytes:
    """Return the bytes of an ordinary file of modest size.

    Parameters
    ----------
    path : str or path-like
        Where the file is. The size is looked at before anything is read.
    limit : int
        Most bytes that are taken.
    what : str
        What the file should be, for the message.

    Returns
    -------
    bytes

    Raises
    ------
    InputError
        If there is no such file, it is a folder or a device, or it is larger than `limit`.
    """
    source = ordinary(path, limit, what)
    try:
        with open(source, "rb") as file:
            raw = file.read(limit + 1)  # it may have grown meanwhile
    except OSError as error:
        raise InputError(f"cannot be read: {_why(error)}", source=source) from None
    return raw


def read_toml(path: FilePath) -> TomlFile:
    """Return the content of a TOML file.

    Parameters
    ----------
    path : str or path-like
        Where the file is.

    Returns
    -------
    TomlFile
        Content and text.

    Raises
    ------
    InputError
        As `read_text`; also for text that is not TOML, naming line and column.
    """
    source = os.fspath(path)
    text = read_text(path)
    chain = _KEY_CHAIN.search(text)
    if chain is not None:
        raise InputError(
            "keys nested too deeply",
            source=source,
            field=f"line {text.count(chr(10), 0, chain.start()) + 1}",
            expected=f"at most {_LONGEST_KEY_CHAIN} keys joined by dots",
        )
    try:
        return TomlFile(source, tomllib.loads(text), text)
    except tomllib.TOMLDecodeError as error:
        raise _syntax(str(error), text, source) from None
    except RecursionError:
        raise InputError("brackets nested too deeply", source=source) from None
    except ValueError as error:  # a whole number of thousands of digits
        raise InputError(f"not valid TOML: {_first_clause(error)}", source=source) from None


def expect_schema(toml: TomlFile, schema: str, what: str) -> None:
    """Refuse a file whose schema line is not the one of its kind.

    Raises
    ------
    InputError
        Naming file and field; ``what`` is what it should have been.
    """
    if toml.data.get("schema") != schema:
        raise InputError(
            f"not a {what}",
            source=toml.source,
            field="schema",
            found=toml.data.get("schema"),
            expected=f'the line schema = "{schema}"',
        )


def _decoded(raw: bytes, source: str, what: str) -> str:
    if not raw.removeprefix(MARK.encode()).strip():
        raise InputError("is empty", source=source, expected=what)
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise InputError("is UTF-16 text", source=source, hint="save as UTF-8")
    for signature, packed in _SIGNATURES:
        if raw.startswith(signature):
            raise InputError(
                f"is {packed}, not text",
                source=source,
                expected=f"{what}, UTF-8",
                hint="`converter-match intake` reads dealers' sheets and pictures of curves",
            )
    if b"\0" in raw:
        raise InputError(
            "is binary, not text",
            source=source,
            found=f"a zero byte at position {raw.index(0)}",
            expected=f"{what}, UTF-8",
        )
    try:
        return raw.decode("utf-8").removeprefix(MARK)
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise InputError(
            "is not UTF-8 text",
            source=source,
            field=f"line {line}",
            found=f"byte 0x{raw[error.start]:02x}",
            hint="save as UTF-8",
        ) from None


def _syntax(message: str, text: str, source: str) -> InputError:
    place = _PLACE.search(message)
    what = message[: place.start()] if place else message
    lines = text.splitlines() or [""]
    if place is None or place[1] is None:
        where, line = f"line {len(lines)} (end of file)", lines[-1]
    else:
        where = f"line {place[1]}, column {place[2]}"
        line = lines[min(int(place[1]), len(lines)) - 1]
    return InputError(
        f"not valid TOML: {what[:1].lower()}{what[1:]}",
        source=source,
        field=where,
        found=line.strip(),
        hint=_syntax_hint(line, what),
    )


def _syntax_hint(line: str, what: str) -> str | None:
    comma = syntax_comma_hint(line)
    if comma:
        return comma
    if line.lstrip().startswith("[[") and what.startswith("Cannot"):
        return "every table of a repeated kind stands in double brackets, the first one too"
    if re.search(r"[=\[{,]\s*[“”„‘’«»]", line):
        return 'curly quotes: write straight ones, "..."'
    if point := re.search(r"=\s*([+-]?)\.(\d+)", line):
        return f"write {point[1]}0.{point[2]}"
    word = re.search(r"=\s*([A-Za-z][\w-]*)", line)
    if word and word[1] not in ("true", "false", "inf", "nan"):
        return f'text stands in quotes: "{word[1]}"'
    return None


def neighbours(source: str) -> str | None:
    """Name files in the same folder whose names look like the one that is missing."""
    path = Path(source)
    try:
        with os.scandir(path.parent) as entries:
            names = [entry.name for entry, _ in zip(entries, range(1000), strict=False)]
    except (OSError, ValueError):
        return f"there is no folder {str(path.parent)!r} either"
    # The same suffix makes no two names alike.
    alike = {Path(name).stem: name for name in names if Path(name).suffix == path.suffix}
    if alike:
        found = [alike[stem] for stem in nearest(path.stem, alike)]
    else:
        found = list(nearest(path.name, names))
    return f"did you mean {' or '.join(map(repr, found))}?" if found else None


def _why(error: Exception) -> str:
    if isinstance(error, OSError) and error.strerror:
        return error.strerror.lower()
    return str(error)


def _first_clause(error: Exception) -> str:
    return str(error).split(";")[0]
