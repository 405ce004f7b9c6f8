"""An uploaded file is put into its folder, and into no other."""

from __future__ import annotations

import os
import unicodedata
from pathlib import Path

from converter_match.errors import InputError
from converter_match.library.atomic import write_bytes
from converter_match.library.files import FilePath
from converter_match.library.intake.workbook import SIZE_LIMIT
from converter_match.library.names import is_device

_LONGEST_NAME = 120
ENDINGS = (
    ".csv",
    ".tsv",
    ".txt",
    ".xlsx",
    ".ods",
    ".html",
    ".htm",
    ".md",
    ".png",
    ".jpg",
    ".jpeg",
    ".pdf",
    ".toml",
)


def save_upload(name: str, content: bytes, folder: FilePath, *, overwrite: bool = False) -> Path:
    """Write an uploaded file into a folder.

    Parameters
    ----------
    name : str
        As the browser gave it: a plain file name, with none of a path in it.
    content : bytes
    folder : str or path-like
        Must be there.
    overwrite : bool
        Whether a file that is there may be replaced.

    Returns
    -------
    Path
        Of the file, inside `folder`.

    Raises
    ------
    InputError
        If the name leads elsewhere or is none that a sheet has, the content is too large, or the
        file is there already.
    """
    refused = _why_not(name)
    if refused:
        raise InputError(
            f"a name that is not taken: {refused}",
            source="upload",
            found=name,
            expected=f"a plain file name ending in {', '.join(ENDINGS)}",
        )
    if len(content) > SIZE_LIMIT:
        raise InputError(
            "is too large",
            source=name,
            found=f"{len(content) / 1e6:.1f} MB",
            expected=f"at most {SIZE_LIMIT / 1e6:.0f} MB",
        )
    home = Path(os.path.realpath(folder))
    if not home.is_dir():
        raise InputError("there is no such folder", source=os.fspath(folder))
    target = home / name
    # Last line of defence, a link under that name included: what is written lies in the folder.
    if Path(os.path.realpath(target)).parent != home:
        raise InputError("leads out of its folder", source="upload", found=name)
    write_bytes(content, target, overwrite=overwrite)
    return target


def _why_not(name: str) -> str:
    if not name.strip():
        return "it is empty"
    if "/" in name or "\\" in name or ":" in name:
        return "it holds a path"
    if name.startswith(".") or name.strip() != name or name.endswith("."):
        return "it begins or ends with a point or a space"
    if any(unicodedata.category(sign) in ("Cc", "Cf", "Cs") for sign in name):
        return "it holds control characters"
    if len(name.encode("utf-8", "surrogatepass")) > _LONGEST_NAME:
        return "it is too long"
    if is_device(name):
        return "it is the name of a device"
    if not name.casefold().endswith(ENDINGS):
        return "it has another ending"
    return ""
