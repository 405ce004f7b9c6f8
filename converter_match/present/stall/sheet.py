"""The sheet for a stall test, on paper and in a notebook: one page, cautions first."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from pathlib import Path

from converter_match.errors import InputError
from converter_match.judgement.stall.expectation import StallExpectation
from converter_match.present.pages.page_template import template
from converter_match.present.stall.content import Sheet, sheet_of
from converter_match.units import System

_FORMATS = (".html", ".pdf")


@dataclass(frozen=True)
class SheetPage:
    """The sheet as a notebook shows it: in a frame of its own, so that styles stay inside.

    Parameters
    ----------
    sheet : Sheet
    """

    sheet: Sheet

    def _repr_html_(self) -> str:
        title, page = escape(self.sheet.title), escape(sheet_html(self.sheet))
        style = "width:100%;max-width:860px;height:1120px;border:1px solid #8a939d"
        return f'<iframe title="{title}" style="{style}" srcdoc="{page}"></iframe>'

    def __repr__(self) -> str:
        sheet = self.sheet
        parts = [sheet.title, "CAUTION", *(f"- {line}" for line in sheet.items(sheet.cautions))]
        for block in (sheet.subject, sheet.expected):
            parts += [f"{name}: {text}" for name, text in sheet.pairs(block)]
        return "\n".join(parts)


def sheet_html(sheet: Sheet) -> str:
    """Return the sheet as one HTML page that prints on one side of A4 or Letter."""
    return template("stall_sheet.html.j2").render(sheet=sheet)


def save_sheet(
    expectation: StallExpectation,
    path: str | Path,
    *,
    machine_name: str = "",
    system: System = "si",
    overwrite: bool = False,
) -> Path:
    """Write the sheet; the suffix decides the format, .html or .pdf.

    Raises
    ------
    InputError
        As `write_sheet`.
    """
    sheet = sheet_of(expectation, machine_name=machine_name, system=system)
    return write_sheet(sheet, path, overwrite=overwrite)


def write_sheet(sheet: Sheet, path: str | Path, *, overwrite: bool = False) -> Path:
    """Write a sheet; the suffix decides the format, .html or .pdf.

    Parameters
    ----------
    sheet : Sheet
    path : path
    overwrite : bool

    Raises
    ------
    InputError
        If the suffix is neither, the file is there already, or cannot be written.
    """
    target = Path(path)
    if target.suffix.lower() not in _FORMATS:
        raise InputError(
            "the suffix does not name a format of the sheet",
            source=str(target),
            found=target.suffix,
            expected=" | ".join(_FORMATS),
        )
    if target.suffix.lower() == ".html":
        from converter_match.library.atomic import write_text

        write_text(sheet_html(sheet), target, overwrite=overwrite)
        return target
    from converter_match.present.drawing.saving import save
    from converter_match.present.stall.sheet_pdf import sheet_figure

    return save(sheet_figure(sheet), target, overwrite)
