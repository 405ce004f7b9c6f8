"""A working copy of the shipped notebooks that never costs a person their changes.

A file that is not there is copied. A file that is still as it was shipped may be brought up to a
newer version. A file that a person changed is left alone, and the shipped version is put beside it
when it is newer. What was shipped is remembered in a small list in the folder.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from converter_match.errors import InputError
from converter_match.library.atomic import write_text

MANIFEST = ".shipped-notebooks.json"
START = "start.ipynb"
_MOST_BYTES = 20_000_000


@dataclass(frozen=True)
class Copied:
    """What was done with each notebook.

    Parameters
    ----------
    folder : Path
    new, renewed, kept, beside : tuple of str
        Copied for the first time; brought up to date; left as the person changed them; shipped
        versions put beside a changed one.
    """

    folder: Path
    new: tuple[str, ...]
    renewed: tuple[str, ...]
    kept: tuple[str, ...]
    beside: tuple[str, ...]


def notebook_folder() -> Path:
    """Return the folder of the shipped notebooks.

    Raises
    ------
    InputError
        If the package was installed without them.
    """
    package = Path(str(resources.files("converter_match")))
    for folder in (package / "_notebooks", package.parent / "notebooks"):
        if (folder / START).is_file():
            return folder
    raise InputError("the package was installed without its notebooks", source=str(package))


def copy_notebooks(folder: str | Path, shipped: Path | None = None) -> Copied:
    """Copy the shipped notebooks into a working folder, keeping a person's changes.

    Parameters
    ----------
    folder : path
        Made if it does not exist.
    shipped : Path, optional
        Where the shipped notebooks are; for tests.

    Raises
    ------
    InputError
        If the folder cannot be made or written to.
    """
    source = shipped or notebook_folder()
    target = Path(folder)
    try:
        target.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            f"cannot be made ({error.strerror or error})",
            source="working folder",
            found=str(target),
        ) from None
    known = _remembered(target)
    done: dict[str, list[str]] = {"new": [], "renewed": [], "kept": [], "beside": []}
    for notebook in sorted(source.glob("*.ipynb")):
        text = notebook.read_text(encoding="utf-8")
        name, own = notebook.name, target / notebook.name
        if not own.exists():
            write_text(text, own)
            done["new"].append(name)
        elif _digest(own.read_bytes()[:_MOST_BYTES]) == _digest(text.encode()):
            pass
        elif _digest(own.read_bytes()[:_MOST_BYTES]) in known.get(name, []):
            write_text(text, own, overwrite=True)
            done["renewed"].append(name)
        else:
            done["kept"].append(name)
            if _digest(text.encode()) not in known.get(name, []):
                newer = _free_name(target, notebook.stem)
                write_text(text, newer)
                done["beside"].append(newer.name)
        known.setdefault(name, [])
        if _digest(text.encode()) not in known[name]:
            known[name].append(_digest(text.encode()))
    write_text(json.dumps(known, indent=1) + "\n", target / MANIFEST, overwrite=True)
    return Copied(target, **{key: tuple(names) for key, names in done.items()})


def _digest(content: bytes) -> str:
    # Git may have changed the line ends on the way to a person's machine.
    return hashlib.sha256(content.replace(b"\r\n", b"\n")).hexdigest()


def _remembered(folder: Path) -> dict[str, list[str]]:
    """Return the digests of every version shipped into this folder; none when the list is lost."""
    try:
        found = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    if not isinstance(found, dict):
        return {}
    return {
        str(name): [str(digest) for digest in digests]
        for name, digests in found.items()
        if isinstance(digests, list)
    }


def _free_name(folder: Path, stem: str) -> Path:
    for number in range(1, 1000):
        path = folder / f"{stem}-as-shipped-{number}.ipynb"
        if not path.exists():
            return path
    raise InputError("too many versions of one notebook", source=str(folder), found=stem)
