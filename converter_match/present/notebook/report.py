"""Sections of a report shown in a notebook, one at a time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from typing import Any

from converter_match.errors import InputError, did_you_mean
from converter_match.present.notebook.picture import picture
from converter_match.present.report.model import (
    Bullets,
    Paragraph,
    Report,
    ReportPicture,
    ReportTable,
    Section,
    Signature,
    SmallTables,
    Subheading,
    Verdicts,
)
from converter_match.present.report.sure import CLAIMS, SURE

# Sections that a report has only where the study gives something for them.
_LEFT_OUT = {
    SURE: "This study gives no tolerances, so nothing was drawn.",
    CLAIMS: "This study gives no claims, so none was checked.",
}


class Shown:
    """A section as a notebook shows it; its pictures carry their captions as text alternative.

    Parameters
    ----------
    section : Section
    """

    def __init__(self, section: Section) -> None:
        self.section = section

    def _repr_html_(self) -> str:
        blocks = (_HTML[type(block)](block) for block in self.section.parts)
        return f"<h3>{escape(self.section.title)}</h3>" + "".join(blocks)

    def __repr__(self) -> str:
        lines = [self.section.title]
        for block in self.section.parts:
            if isinstance(block, ReportTable):
                lines += _table_lines(block)
            elif isinstance(block, SmallTables):
                lines.append(block.caption)
                lines += [line for one in block.tables for line in _table_lines(one)]
            elif isinstance(block, Bullets):
                lines += [f"- {item}" for item in block.items]
            elif isinstance(block, ReportPicture):
                lines.append(f"[picture: {block.caption}]")
            elif isinstance(block, Verdicts):
                lines.append(f"{block.word}. {block.text}")
            elif isinstance(block, Paragraph | Subheading):
                lines.append(block.text)
        return "\n".join(line for line in lines if line)


def section(report: Report, title: str) -> Shown:
    """Show the section of a report that has a title.

    What a study need not have, and so a report of it does not, is answered with a sentence.

    Parameters
    ----------
    report : Report
        From `report`.
    title : str

    Returns
    -------
    Shown

    Raises
    ------
    InputError
        If there is no such section; the titles are named.

    Examples
    --------
    >>> import converter_match as cm
    >>> pages = cm.report(cm.run_study(cm.read("hauler-converter"), draws=0))
    >>> print(str(cm.section(pages, "The decision")).splitlines()[0])
    The decision
    """
    for item in report.sections:
        if item.title == title:
            return Shown(item)
    if title in _LEFT_OUT:
        return Shown(Section(title=title, parts=(Paragraph(text=_LEFT_OUT[title]),)))
    titles = [item.title for item in report.sections]
    raise InputError(
        "the report has no such section",
        found=title,
        expected=" | ".join(titles),
        hint=did_you_mean(title, titles),
    )


def table_html(block: ReportTable) -> str:
    """Return a table as HTML for a notebook."""
    head = _cells("th", block.head, block.left)
    rows = "".join(f"<tr>{_cells('td', row, block.left)}</tr>" for row in block.rows)
    caption = f"<p><b>{escape(block.caption)}</b></p>" if block.caption else ""
    return f"{caption}<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"


def _cells(tag: str, row: Sequence[str], left: Sequence[bool]) -> str:
    scope = ' scope="col"' if tag == "th" else ""
    return "".join(
        f'<{tag}{scope} style="text-align:{"left" if left[column] else "right"}">'
        f"{escape(cell).replace(chr(10), '<br>')}</{tag}>"
        for column, cell in enumerate(row)
    )


def _table_lines(block: ReportTable) -> list[str]:
    rows = (" | ".join(row).replace("\n", ", ") for row in (block.head, *block.rows) if any(row))
    return [block.caption, *rows]


def _small_tables(block: SmallTables) -> str:
    caption = f"<p><b>{escape(block.caption)}</b></p>" if block.caption else ""
    return caption + "".join(map(table_html, block.tables))


def _bullets(block: Bullets) -> str:
    tag = "ol" if block.numbered else "ul"
    return f"<{tag}>" + "".join(f"<li>{escape(item)}</li>" for item in block.items) + f"</{tag}>"


_HTML: dict[type, Callable[[Any], str]] = {
    Paragraph: lambda block: f"<p>{escape(block.text)}</p>",
    Subheading: lambda block: f"<h4>{escape(block.text)}</h4>",
    Verdicts: lambda block: f"<p><b>{escape(block.word)}</b> {escape(block.text)}</p>",
    Bullets: _bullets,
    ReportTable: table_html,
    SmallTables: _small_tables,
    ReportPicture: lambda block: (
        picture(block.figure, block.caption)._repr_html_()
        + f"<p><i>{escape(block.caption)}</i></p>"
    ),
    Signature: lambda block: "",  # signed on paper, not in a notebook
}
