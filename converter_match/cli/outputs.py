"""Files to be written: refused before any work is done, and never what the command reads."""

from __future__ import annotations

import argparse
import os
import tomllib
import unicodedata
from collections.abc import Iterator
from pathlib import Path

from converter_match.cli.options import COMPONENT_OPTIONS
from converter_match.errors import InputError
from converter_match.library.atomic import refuse_what_is_no_file
from converter_match.library.names import refuse_device

# Options that name a file to be written, and the suffixes it may have.
_PICTURE = (".png", ".svg", ".pdf")
_OUTPUTS: dict[str, tuple[str, ...]] = {
    "csv": (),
    "every": (),
    "table": (".html",),
    "save_columns": (".toml",),
    "figure": _PICTURE,
    "arrangement_figure": _PICTURE,
    "trend": _PICTURE,
    "fleet": _PICTURE,
    "sheet": (".html", ".pdf"),
}
_FORMATS = {
    "sheet": "a format of the sheet",
    "save_columns": "a file of columns",
    "table": "a page",
}
# Looked at when they are written: whether they are there, and what is in them, matters by the verb.
_WRITTEN_LATER = ("out", "export", "log")
# What names a file to be read, and the folder of shipped files whose ids it takes as well.
_INPUTS: dict[str, str | None] = {
    **COMPONENT_OPTIONS,
    "route": "routes",
    "cycle": "cycles",
    "surfaces": None,
    "fuel_map": None,
    "study": "studies",
    "catalogue": "catalogues",
    "map": None,
    "readings": None,
    "log": None,
    "columns": None,
    "database": None,
    "file": "studies",
}
_INPUT_FOLDERS = ("converters", "library", "machines")
_POSITIONAL = {"file": "FILE", "log": "LOG", "catalogue": "FILE"}


def check_outputs(args: argparse.Namespace) -> None:
    """Refuse what cannot be written before anything is computed or written.

    Of two files asked for, one would else be left behind when the other turns out to be impossible.

    Raises
    ------
    InputError
        If a name has the wrong suffix, is taken, a folder, in no folder, asked for twice, or that
        of a file which the command reads.
    """
    _refuse_inputs(args)
    taken: dict[str, str] = {}
    for name, suffixes in _OUTPUTS.items():
        given = getattr(args, name, None)
        if not given or not _is_written(name, args):
            continue
        option, path = _option(name), Path(given)
        if suffixes and path.suffix.lower() not in suffixes:
            what = _FORMATS.get(name, "a figure format")
            raise InputError(
                f"the suffix does not name {what}",
                source=given,
                field=option,
                found=path.suffix,
                expected=" | ".join(suffixes),
            )
        # Before anything is asked of the path: Windows answers for a device with an error.
        refuse_device(given, source=given, field=option)
        try:
            there, housed = path.exists(), path.parent.is_dir()
            whole = path.resolve()
        except (OSError, ValueError):  # a name that no file can have: said when it is written
            continue
        refuse_what_is_no_file(whole, source=given, field=option)
        if not housed:
            raise InputError("there is no such folder", source=str(path.parent), field=option)
        if not os.access(whole.parent, os.W_OK):
            raise InputError(
                "the folder cannot be written to: it is read-only, or permission is denied",
                source=str(path.parent),
                field=option,
            )
        if there and not args.overwrite:
            raise InputError(
                "is there already",
                source=given,
                field=option,
                expected="a new name",
                hint="nothing is overwritten without being asked; give another name, or add "
                "--overwrite",
            )
        if taken.setdefault(_one_name(whole), option) != option:
            raise _asked_for_twice(given, option, taken[_one_name(whole)])
    for name in _WRITTEN_LATER:
        given = getattr(args, name, None)
        if isinstance(given, str) and _is_written(name, args):
            option, place = _option(name), _resolved(given)
            refuse_device(given, source=given, field=option)
            if place is not None and taken.setdefault(_one_name(place), option) != option:
                raise _asked_for_twice(given, option, taken[_one_name(place)])


def _one_name(path: Path) -> str:
    """Return what two names have in common that are one file on Windows and macOS."""
    return unicodedata.normalize("NFC", str(path)).casefold()


def _is_written(name: str, args: argparse.Namespace) -> bool:
    """Whether an option of this name names a file to write; --out may be a folder."""
    if name in ("sheet", "log"):
        return hasattr(args, "fleet")  # of ``stall``
    if name == "table":
        return not hasattr(args, "accept")  # which table of a sheet, of ``intake``
    return name != "out" or hasattr(args, "accept")


def _option(name: str) -> str:
    return f"--{name.replace('_', '-')}"


def _asked_for_twice(given: str, option: str, other: str) -> InputError:
    return InputError(
        f"is named by {other} too",
        source=given,
        field=option,
        expected="two names that differ in more than capitals: they are one on Windows and macOS",
    )


def _refuse_inputs(args: argparse.Namespace) -> None:
    """Refuse to replace what the command reads, whatever may be overwritten."""
    for name in (*_OUTPUTS, *_WRITTEN_LATER):
        given = getattr(args, name, None)
        if not isinstance(given, str) or not _is_written(name, args) or not os.path.lexists(given):
            continue
        for path, reader in _read_by(args):
            if _are_same(path, Path(given)):
                raise InputError(
                    f"is what {reader} reads",
                    source=given,
                    field=_option(name),
                    expected="another name",
                    hint="a command replaces nothing that it reads, with --overwrite neither",
                )


def _read_by(args: argparse.Namespace) -> Iterator[tuple[Path, str]]:
    """Yield the files that a command reads, and what named them."""
    for name, kind, given in _given(args):
        reader = _POSITIONAL.get(name, _option(name))
        path = _resolved(given)
        if path is not None and path.is_file():
            yield path, reader
            yield from ((picture, reader) for picture in _picture_of(path))
        elif kind is not None:
            from converter_match.library.shipped import data_folder

            for suffix in (".toml", ".csv"):
                yield data_folder() / kind / f"{given}{suffix}", reader
    for name in _INPUT_FOLDERS:
        named = getattr(args, name, None)
        folder = _resolved(named) if isinstance(named, str) else None
        if folder is not None and folder.is_dir():
            files = folder.rglob("*") if name == "machines" else folder.glob("*.toml")
            yield from ((path, _option(name)) for path in files)


def _given(args: argparse.Namespace) -> Iterator[tuple[str, str | None, str]]:
    """Yield each name of a file to be read: its option, its folder of shipped ones, itself."""
    for name, kind in _INPUTS.items():
        given = getattr(args, name, None)
        if name == "log" and _is_written(name, args):
            continue
        for one in given if isinstance(given, list) else [given]:
            if isinstance(one, str):
                yield name, kind, one


def _picture_of(path: Path) -> Iterator[Path]:
    """Yield the picture that the description of a chart names."""
    if path.suffix.lower() != ".toml":
        return
    try:
        with path.open("rb") as file:
            named = tomllib.load(file).get("image")
    except (OSError, ValueError, RecursionError):  # said when it is read
        return
    picture = _resolved(path.parent / named) if isinstance(named, str) else None
    if picture is not None:
        yield picture


def _resolved(name: str | Path) -> Path | None:
    try:
        return Path(name).resolve()
    except (OSError, ValueError):  # a name that no file can have
        return None


def _are_same(one: Path, other: Path) -> bool:
    """Whether two names mean one file, through links and whatever case the system heeds."""
    try:
        return os.path.samefile(one, other)
    except (OSError, ValueError):  # one is not there yet
        return False
