"""What kind of file this is, by its first lines: for `check`, and for a hint where another was due.

TOML files say it themselves in their schema line; tables are known by the columns in their head.
"""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass

from converter_match.library.files import FilePath

_LOOKED_AT = 65_536  # bytes
_UNIT = re.compile(r"[\[\(][^\]\)]*[\]\)]?")
_SCHEMA = re.compile(r"""^\s*schema\s*=\s*["']converter-match/([\w-]+)/\d+["']""", re.MULTILINE)


@dataclass(frozen=True)
class FileKind:
    """A kind of file that some verb reads.

    Parameters
    ----------
    name : str
        One or two words.
    called : str
        What a person calls it, with its article.
    goes_to : str
        Where it is read: verb and option.
    columns : frozenset of str
        For a table: all of these stand in its head.
    """

    name: str
    called: str
    goes_to: str
    columns: frozenset[str] = frozenset()


# The first whose columns are all there; those with fewer and commoner columns stand last.
TABLES = (
    FileKind(
        "stall log",
        "a log of stall tests",
        "stall --log",
        frozenset({"machine", "engine speed rpm", "expected low rpm"}),
    ),
    FileKind(
        "surfaces",
        "a table of surfaces",
        "tractive, route, accelerate and size --surfaces",
        frozenset({"surface", "quantity", "value"}),
    ),
    FileKind("route", "a haul route", "route and size --route", frozenset({"length", "grade"})),
    FileKind("cycle", "a short cycle", "route --cycle", frozenset({"phase", "kind"})),
    FileKind("duty", "a duty", "solve --duty, or a study", frozenset({"share", "turbine speed"})),
    FileKind("duty", "a duty", "solve --duty, or a study", frozenset({"share", "speed ratio"})),
    FileKind("fuel map", "a fuel map", "route --fuel-map", frozenset({"speed", "torque", "rate"})),
    FileKind("fuel map", "a fuel map", "route --fuel-map", frozenset({"speed", "torque", "bsfc"})),
    FileKind(
        "machine log",
        "a machine's log",
        "identify",
        frozenset({"time", "engine speed", "engine torque"}),
    ),
    FileKind(
        "readings", "readings of a stall test", "stall --readings", frozenset({"engine speed"})
    ),
)
SHEET = FileKind("sheet", "a dealer's sheet, perhaps", "intake")
CHART = FileKind("chart", "the description of a chart", "intake")
MAPPING = FileKind("mapping", "a mapping of headings", "intake --map")
SURFACES = FileKind("surfaces", "a file of surfaces", TABLES[1].goes_to)
_PACKED = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
_PICTURES = (b"\x89PNG", b"\xff\xd8\xff", b"%PDF")


def recognise(path: FilePath) -> FileKind | None:
    """Return the kind of a file, or None where it cannot be told (or there is no such file).

    Parameters
    ----------
    path : str or path-like

    Returns
    -------
    FileKind or None
        A schema line is believed as it stands, and may name what does not exist.

    Examples
    --------
    >>> from converter_match.library.route_csv import find_route
    >>> recognise(find_route("quarry-to-crusher")).name
    'route'
    """
    try:
        if not os.path.isfile(path):
            return None
        with open(path, "rb") as file:
            raw = file.read(_LOOKED_AT)
    except (OSError, ValueError):
        return None
    if raw.startswith(_PACKED):
        return SHEET
    if raw.startswith(_PICTURES):
        return FileKind("picture", "a picture", "intake, described in a small TOML file")
    return _of_text(raw.decode("utf-8-sig", errors="replace"))


def _of_text(text: str) -> FileKind | None:
    stated = _SCHEMA.search(text)
    if stated:
        name = stated[1]
        article = "an" if name[0] in "aeiou" else "a"
        return FileKind(name, f"{article} {name} file", _schema_goes_to(name))
    lines = [line for line in text.splitlines() if line.strip() and line.lstrip()[0] != "#"]
    head = lines[0] if lines else ""
    found = {_folded(cell) for cell in re.split(r"[;,\t]", head)}
    for kind in TABLES:
        if kind.columns <= found:
            return kind
    try:
        keys = set(tomllib.loads(text))
    except (tomllib.TOMLDecodeError, ValueError, RecursionError):
        return SHEET if _is_table(lines) else None
    if "curve" in keys or {"image", "x"} <= keys:
        return CHART
    return MAPPING if keys and keys <= {"columns", "facts", "units"} else None


def _is_table(lines: list[str]) -> bool:
    """Whether the first lines have the same number of cells, more than one."""
    counts = [{line.count(mark) for line in lines[:4]} for mark in ";,\t"]
    return len(lines) > 1 and any(len(each) == 1 and each != {0} for each in counts)


def _schema_goes_to(name: str) -> str:
    elsewhere = {
        "catalogue": "shortlist",
        "study": "study, audit and size --study",
        "motor-study": "study",
        "surfaces": SURFACES.goes_to,
        "blading": "read_blading, in Python",
        "arrangement": "solve --arrangement, or a study",
    }
    return elsewhere.get(name, f"--{name}")


def _folded(cell: str) -> str:
    return " ".join(_UNIT.sub(" ", cell).replace("_", " ").casefold().split()).strip("'\"")


def other_kind_hint(path: FilePath, columns: Iterable[str] = ()) -> str | None:
    """Return what a file seems to be, where something else was due.

    Parameters
    ----------
    path : str or path-like
    columns : iterable of str
        Of the table that was due: a file whose own columns are all among them is no other kind.

    Returns
    -------
    str or None
        None where the kind cannot be told, or is the one that was due.

    Examples
    --------
    >>> from converter_match.library.route_csv import find_route
    >>> other_kind_hint(find_route("quarry-to-crusher"))
    'it looks like a haul route, which goes to: route and size --route'
    """
    kind = recognise(path)
    if kind is None or kind is SHEET or (kind.columns and kind.columns <= set(columns)):
        return None
    return seems(kind)


def seems(kind: FileKind) -> str:
    """Return what a file of this kind seems to be, and where it goes."""
    return f"it looks like {kind.called}, which goes to: {kind.goes_to}"
