"""What a catalogue search keeps, as a page to filter and sort that needs nothing else."""

from __future__ import annotations

import base64

from markupsafe import Markup

from converter_match.answer.block import NoValue
from converter_match.answer.remarks import odd_block
from converter_match.judgement.catalogue.result import Shortlist
from converter_match.present.drawing.saving import render
from converter_match.present.figures.shortlist import shortlist_figure
from converter_match.present.pages.page_template import template
from converter_match.units import System, note_text

_DPI = 110.0


def sifting_page(shortlist: Shortlist, system: System = "si") -> str:
    """Return a web page with the table of what is kept, its figure, the reasons and the notes.

    Every text is escaped. The page works by itself: its few lines of script are inside, and it asks
    nobody for anything.

    Parameters
    ----------
    shortlist : Shortlist
    system : {"si", "us"}
    """
    block = shortlist.table("kept")
    columns = [k for k, head in enumerate(block.columns) if any(row[k] for row in block.rows)]
    heads = [block.columns[k] for k in columns]
    rows = []
    for row in block.rows:
        cells = []
        for k, head in zip(columns, heads, strict=True):
            value = row[k]
            number = value if isinstance(value, int | float) else ""
            cells.append((head.text(value, system) if value is not None else "–", number))
        rows.append(cells)
    reasons = shortlist.table("reasons")
    return template("sifting.html.j2").render(
        name=shortlist.catalogue.name,
        counts=(shortlist.catalogue.count, len(shortlist.kept), len(shortlist.front)),
        heads=[(head.words or head.key.replace("_", " "), head.unit(system)) for head in heads],
        rows=rows,
        reasons=[
            [head.text(value, system) for head, value in zip(reasons.columns, row, strict=True)
             if head.words and not isinstance(value, NoValue)]
            for row in reasons.rows
        ],
        odd=[note_text(note, system) for note in odd_block(shortlist.catalogue.odd).items],
        notes=[(note.kind, note_text(note, system)) for note in shortlist.notes],
        picture=_picture(shortlist, system),
    )  # fmt: skip


def _picture(shortlist: Shortlist, system: System) -> Markup:
    if len(shortlist.aims) < 2:
        return Markup("")
    code = base64.b64encode(render(shortlist_figure(shortlist, system=system), "png", dpi=_DPI))
    alternative = "What is kept, by what it is compared by"
    return Markup('<img alt="{}" src="data:image/png;base64,{}">').format(
        alternative, code.decode("ascii")
    )
