"""A folder of sheets becomes a folder of component files: one look, one page of questions."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from converter_match.errors import InputError
from converter_match.library.files import FilePath
from converter_match.library.intake.answers_file import ENDING
from converter_match.library.intake.draft import Draft
from converter_match.library.intake.reading import intake, sheet_names

SHEETS = (".csv", ".tsv", ".txt", ".xlsx", ".ods", ".html", ".htm", ".md")
MOST_SHEETS = 200


@dataclass(frozen=True)
class Brought:
    """One sheet of a folder: what was understood of it, or why it cannot be read.

    Parameters
    ----------
    file : Path
    sheet : str
        Of a workbook with several; empty otherwise.
    draft : Draft or None
    refusal : str
    """

    file: Path
    sheet: str
    draft: Draft | None
    refusal: str = ""

    @property
    def name(self) -> str:
        """The name of the component's file, from those of file and sheet."""
        words = f"{self.file.stem} {self.sheet}".casefold()
        return (re.sub(r"[^a-z0-9]+", "-", words).strip("-") or "sheet") + ".toml"

    @property
    def title(self) -> str:
        """What to call it on the page of questions."""
        return f"{self.file.name}, sheet {self.sheet!r}" if self.sheet else self.file.name


def bring_folder(folder: FilePath, *, fresh: bool = False, **answers: Any) -> tuple[Brought, ...]:
    """Read every sheet of a folder, each sheet of a workbook by itself.

    Parameters
    ----------
    folder : str or path-like
    fresh : bool
        Whether to leave answers aside that were saved beside the sheets.
    **answers
        What holds for all of them; what is said of one is saved beside it.

    Returns
    -------
    tuple of Brought
        In the order of the names.

    Raises
    ------
    InputError
        If it is no folder, holds no sheet, or too many.
    """
    home = Path(os.fspath(folder))
    if not home.is_dir():
        raise InputError("there is no such folder", source=str(home))
    files = sorted(
        path
        for path in home.iterdir()
        if path.is_file() and path.name.casefold().endswith(SHEETS)
        and not path.name.endswith(ENDING) and not path.name.startswith((".", "~"))
    )  # fmt: skip
    if not 1 <= len(files) <= MOST_SHEETS:
        raise InputError(
            f"is a folder that holds {'too many' if files else 'no'} sheets",
            source=str(home),
            found=f"{len(files)} files",
            expected=f"1 to {MOST_SHEETS} of {', '.join(SHEETS)}",
        )
    return tuple(brought for path in files for brought in _of(path, fresh, answers))


def _of(path: Path, fresh: bool, answers: dict[str, Any]) -> list[Brought]:
    try:
        names = sheet_names(path)
    except InputError as refusal:
        return [Brought(path, "", None, str(refusal))]
    found = []
    for name in names:
        try:
            said = {**answers, "sheet": name} if name else answers
            sheet = name if len(names) > 1 else ""
            found.append(Brought(path, sheet, intake(path, fresh=fresh, **said)))
        except InputError as refusal:
            found.append(Brought(path, name, None, str(refusal)))
    # A cover sheet of a workbook holds no table: where another one does, that is no fault.
    held = [each for each in found if each.draft is not None]
    return held or found[:1]
