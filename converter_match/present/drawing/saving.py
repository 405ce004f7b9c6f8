"""Write a figure to a file: all or nothing, the same bytes each time, nothing lost unasked."""

from __future__ import annotations

import os
from io import BytesIO
from pathlib import Path
from typing import Any

from matplotlib import rc_context
from matplotlib.figure import Figure

from converter_match.errors import InputError, did_you_mean
from converter_match.library.atomic import write_bytes

FORMATS = ("svg", "png", "pdf")
# Ids in an SVG come from this and not from chance; letters are drawn as shapes, because the labels
# were placed for this typeface and the reader's machine may not have it.
_SVG: dict[Any, Any] = {"svg.hashsalt": "converter-match", "svg.fonttype": "path"}


def render(figure: Figure, kind: str, *, dpi: float = 150.0) -> bytes:
    """Return a figure as the content of a file; the same figure gives the same bytes.

    Parameters
    ----------
    figure : Figure
    kind : {"svg", "png", "pdf"}
    dpi : float
        Pixels an inch, for PNG.

    Raises
    ------
    InputError
        If the kind is not known.
    """
    if kind not in FORMATS:
        raise InputError(
            "not a figure format",
            found=kind,
            expected=" | ".join(FORMATS),
            hint=did_you_mean(kind, FORMATS),
        )
    # No date, no version of the library: nothing that differs between two runs.
    metadata: dict[str, dict[str, str | None]] = {
        "svg": {"Date": None, "Creator": None},
        "png": {"Software": None},
        "pdf": {"CreationDate": None, "Creator": None, "Producer": None},
    }
    title = str(figure.get_label())
    if title and kind in ("svg", "pdf"):
        metadata[kind]["Title"] = title
    page = BytesIO()
    with rc_context(_SVG):
        ground = figure.get_facecolor()
        figure.savefig(page, format=kind, dpi=dpi, facecolor=ground, metadata=metadata[kind])
    return page.getvalue()


def save(
    figure: Figure, path: str | os.PathLike[str], overwrite: bool = False, *, dpi: float = 150.0
) -> Path:
    """Write a figure to `path`; the suffix decides the format.

    Parameters
    ----------
    figure : Figure
    path : path
        Ends in .svg, .png or .pdf; its folder must exist.
    overwrite : bool
        Whether a file that is there already may be replaced.
    dpi : float
        Pixels an inch, for PNG.

    Returns
    -------
    Path
        The file that was written.

    Raises
    ------
    InputError
        If the suffix is not known, the folder is missing or cannot be written to, or the file is
        there already and `overwrite` is not set. Nothing is left behind then.
    """
    target = Path(path)
    kind = target.suffix.lower().removeprefix(".")
    if kind not in FORMATS:
        raise InputError(
            "the suffix does not name a figure format",
            source=str(target),
            found=target.suffix,
            expected=" | ".join(f".{name}" for name in FORMATS),
        )
    if not target.parent.is_dir():
        raise InputError("there is no such folder", source=str(target.parent))
    write_bytes(render(figure, kind, dpi=dpi), target, overwrite=overwrite)
    return target
