"""The files that come with the package, by kind and id."""

from __future__ import annotations

import os
from collections.abc import Iterable
from importlib import resources
from pathlib import Path
from typing import Any

from converter_match.errors import NO_SUCH_FILE, InputError, did_you_mean, nearest
from converter_match.library.files import FilePath
from converter_match.library.read import read_component

_MOST_FILES = 1000


def data_folder() -> Path:
    """Return the folder of the shipped data.

    Returns
    -------
    Path
        ``converter_match/_data`` in an installed package, ``data`` beside the package in a
        checkout.

    Raises
    ------
    InputError
        If the package was installed without its data.

    Examples
    --------
    >>> (data_folder() / "engines").is_dir()
    True
    """
    package = Path(str(resources.files("converter_match")))
    for folder in (package / "_data", package.parent / "data"):
        if (folder / "engines").is_dir():
            return folder
    raise InputError("the package was installed without its data", source=str(package))


def shipped(kind: str) -> dict[str, Path]:
    """Return the shipped files of a kind.

    Parameters
    ----------
    kind : str
        Name of a folder: ``engines``, ``converters``, ``sites``, ...

    Returns
    -------
    dict
        id -> path, in alphabetical order. A shipped file is named after its id.

    Raises
    ------
    InputError
        If there is no such kind.

    Examples
    --------
    >>> list(shipped("sites"))[0]
    'harbour-cold-morning'
    """
    folder = data_folder()
    kinds = sorted(path.name for path in folder.iterdir() if any(path.glob("*.toml")))
    if kind not in kinds:
        raise InputError(
            "no shipped files of this kind",
            found=kind,
            expected=" | ".join(kinds),
            hint=did_you_mean(kind, kinds),
        )
    return {path.stem: path for path in sorted((folder / kind).glob("*.toml"))}


def read_all(kind: str) -> list[Any]:
    """Return every shipped component of a kind, in the order of their ids.

    Raises
    ------
    InputError
        As `shipped`.

    Examples
    --------
    >>> [site.id for site in read_all("sites")][0]
    'harbour-cold-morning'
    """
    return [read_component(path) for path in shipped(kind).values()]


def find(kind: str, id_or_path: FilePath) -> Path:
    """Return the file that is meant by a path or by the id of a shipped file.

    Parameters
    ----------
    kind : str
        Name of a folder, as for `shipped`.
    id_or_path : str or path-like
        A path that exists wins; else it is looked up among the ids.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        If it is neither, naming the nearest ids and the nearest files in that folder.

    Examples
    --------
    >>> find("converters", "single-stage-345mm-tight").name
    'single-stage-345mm-tight.toml'
    """
    given = os.fspath(id_or_path)
    try:
        if os.path.exists(given):
            return Path(given)
    except ValueError:  # a NUL in the name
        pass
    known = shipped(kind)
    if given in known:
        return known[given]
    raise InputError(
        f"no such file, and not the id of one of the shipped {kind}",
        source=given,
        expected="a path or an id",
        hint=what_was_meant(given, kind, known) or f"shipped: {', '.join(known)}",
        code=NO_SUCH_FILE,
    )


def what_was_meant(
    given: str, kind: str, known: Iterable[str], ending: str = ".toml"
) -> str | None:
    """Say what may be meant by a name that is neither a file nor an id of a kind.

    Parameters
    ----------
    given : str
    kind : str
        Name of a folder, as for `shipped`.
    known : iterable of str
        Ids of the shipped files of this kind.
    ending : str
        Of the files of this kind.

    Returns
    -------
    str or None
        A file that lacks only its ending, an id of another kind, or the nearest ids and files.
    """
    return (
        _without_its_ending(given, ending)
        or of_another_kind(Path(given).stem, kind)
        or _near(given, known, ending)
    )


def _without_its_ending(given: str, ending: str) -> str | None:
    try:
        there = os.path.isfile(given + ending)
    except ValueError:  # a NUL in the name
        return None
    return f"the file '{given}{ending}' is there: give the name with its ending" if there else None


def _near(given: str, known: Iterable[str], ending: str) -> str | None:
    """Name the nearest ids and the nearest files of the kind in the folder that was meant."""
    folder = Path(given).parent
    names = {id: id for id in known}
    try:
        with os.scandir(folder) as entries:
            files = [entry.name for entry, _ in zip(entries, range(_MOST_FILES), strict=False)]
    except (OSError, ValueError):
        files = []
    for name in sorted(files):
        if name.endswith(ending):
            names.setdefault(Path(name).stem, str(folder / name))
    found = [names[stem] for stem in nearest(Path(given).stem, names)]
    return f"did you mean {' or '.join(map(repr, found))}?" if found else None


def of_another_kind(name: str, wanted: str) -> str | None:
    """Say where an id belongs that is one of another kind: two options may have changed places."""
    for folder in sorted(path for path in data_folder().iterdir() if path.is_dir()):
        if folder.name == wanted:
            continue
        ids = {path.stem for path in folder.iterdir() if path.suffix in (".toml", ".csv")}
        if name in ids:
            return f"that is the id of one of the shipped {folder.name}: options interchanged?"
    return None
