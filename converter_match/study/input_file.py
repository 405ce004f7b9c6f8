"""A file that went into a study, with what was read."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, kw_only=True)
class InputFile:
    """A file that went into a study.

    Parameters
    ----------
    role : str
        What it was read as, e.g. ``candidate[0].engine``.
    path : str
        As written in the study; the study's own name for itself.
    sha256 : str
        Of its bytes, hexadecimal.
    content : bytes
        What was read: the report keeps a copy, and shows every number as it was typed.
    name : str
        Of the file, without its folder.
    """

    role: str
    path: str
    sha256: str
    content: bytes = field(default=b"", repr=False)
    name: str = ""
