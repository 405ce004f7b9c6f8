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
# Found under the name of the other kind as well, but no part of its library: an adjustable
# converter is not tried in the place of one that is not.
_ALSO = {"converters": "adjustable"}
_TABLES = ("routes", "cycles", "duties", "logs")  # kinds whose files are tables


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


def shipped(kind: str | None = None) -> dict[str, Path]:
    """Return the shipped files of a kind.

    Parameters
    ----------
    kind : str, optional
        Name of a folder: ``engines``, ``converters``, ``sites``, ``routes``, ...; the files of
        every kind without one.

    Returns
    -------
    dict
        id -> path, in alphabetical order. A shipped file is named after its id; no two of any kind
        have the same.

    Raises
    ------
    InputError
        If there is no such kind.

    Examples
    --------
    >>> list(shipped("sites"))[0]
    'harbour-cold-morning'
    >>> shipped()["quarry-to-crusher"].name
    'quarry-to-crusher.csv'
    """
    kinds = _kinds()
    if kind is None:
        return {id: path for files in kinds.values() for id, path in files.items()}
    if kind not in kinds:
        raise InputError(
            "no shipped files of this kind",
            found=kind,
            expected=" | ".join(kinds),
            hint=did_you_mean(kind, kinds),
        )
    return kinds[kind]


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


def _kinds() -> dict[str, dict[str, Path]]:
    """Return the shipped files that a person reads, by kind and id."""
    kinds = {}
    for folder in sorted(path for path in data_folder().iterdir() if path.is_dir()):
        pattern = "*.csv" if folder.name in _TABLES else "*.toml"
        files = {path.stem: path for path in sorted(folder.glob(pattern))}
        if files:
            kinds[folder.name] = files
    return kinds


def find(kind: str | None, id_or_path: FilePath) -> Path:
    """Return the file that is meant by a path or by the id of a shipped file.

    Parameters
    ----------
    kind : str or None
        Name of a folder, as for `shipped`; None for a file of any kind.
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
    >>> find(None, "quarry-to-crusher").name
    'quarry-to-crusher.csv'
    """
    given = os.fspath(id_or_path)
    try:
        if os.path.exists(given):
            return Path(given)
    except ValueError:  # a NUL in the name
        pass
    known = shipped(kind)
    if kind in _ALSO:
        known = known | shipped(_ALSO[kind])
    if given in known:
        return known[given]
    endings = (".toml", ".csv") if kind is None else (".csv",) if kind in _TABLES else (".toml",)
    meant = (what_was_meant(given, kind, known, ending) for ending in endings)
    ids = (
        f"shipped: {', '.join(known)}" if kind else "in Python, cm.shipped() names the shipped ones"
    )
    one = f"one of the shipped {kind}" if kind else "a shipped one"
    raise InputError(
        f"no such file, and not the id of {one}",
        source=given,
        expected="a path or an id",
        hint=next((said for said in meant if said), ids),
        code=NO_SUCH_FILE,
    )


def what_was_meant(
    given: str, kind: str | None, known: Iterable[str], ending: str = ".toml"
) -> str | None:
    """Say what may be meant by a name that is neither a file nor an id of a kind.

    Parameters
    ----------
    given : str
    kind : str or None
        Name of a folder, as for `shipped`; None where any kind will do.
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
        or (of_another_kind(Path(given).stem, kind) if kind else None)
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
