"""A file that another file names: beside it, or a shipped one by its id."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from converter_match.errors import NO_SUCH_FILE, InputError, did_you_mean, place_text
from converter_match.library.names import refuse_far


def found_beside(
    written: str, folder: Path, search: Callable[[str | Path], Path], *,
    source: str, field: str, what: str,
) -> Path:  # fmt: skip
    """Return the file that is meant by what is written in another one.

    Parameters
    ----------
    written : str
        A path, seen from the folder, or what else `search` takes.
    folder : Path
        In which the file lies that names it.
    search : callable
        Returns a path; raises an `InputError` or `ValueError` where there is none.
    source, field : str
        Who names it, and where.
    what : str
        What kind of file that is, for the message.

    Raises
    ------
    InputError
        If there is none, or it lies on another computer.
    """
    refuse_far(written, source=source, field=field)
    beside = folder / written
    try:
        return search(beside if os.path.exists(beside) else written)
    except (InputError, ValueError) as error:
        hint = error.hint if isinstance(error, InputError) else None
        raise InputError(
            f"no such file beside the {what}, and not the id of a shipped one",
            source=source,
            field=field,
            found=written,
            hint=_near(folder, written) or hint,
            code=NO_SUCH_FILE,
        ) from None


@contextmanager
def named_by(source: str, field: str, path: Path) -> Iterator[None]:
    """Say of what is wrong with a file who asked for it.

    The file that is wrong stands first; who names it is the way to it.

    Parameters
    ----------
    source, field : str
        Who names it, and where.
    path : Path
        The file that is read.
    """
    try:
        yield
    except InputError as error:
        asked = f"(named by {source}, {place_text(field)})"
        raise error.changed(source=f"{error.source or path} {asked}") from None


def _near(folder: Path, written: str) -> str | None:
    """Name files near the one that is missing."""
    turned = written.replace("\\", "/")
    if turned != written and os.path.exists(folder / turned):
        return f"write '{turned}': Windows reads that as well"
    try:
        names = [path.name for path in sorted((folder / written).parent.iterdir())][:1000]
    except (OSError, ValueError):
        return None
    return did_you_mean(Path(written).name, names)
