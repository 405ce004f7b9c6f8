"""A table that was read off a picture: every cell beside the piece of the picture it came from."""

from __future__ import annotations

import base64
import io
from html import escape

from PIL import Image as Pictures

from converter_match.library.intake.answers import Answers
from converter_match.library.intake.draft import Draft
from converter_match.library.intake.scan import Scan, ScanCell, corrections

_HEIGHT = 34  # pixels of a snippet on the page
_STYLE = """
body { font: 16px/1.4 system-ui, sans-serif; margin: 2em; color: #14213d; background: #fff; }
table { border-collapse: collapse; }
th, td { border: 1px solid #8a93a6; padding: .4em .7em; vertical-align: top; text-align: left; }
img { display: block; height: 34px; max-width: 22em; border: 1px solid #c9cedb; }
.text { font: 600 1.15em ui-monospace, monospace; }
.doubt { border: 3px solid #8a1c1c; }
.why, .sure { font-size: .85em; }
code { background: #eef0f5; padding: 0 .25em; }
"""


def scan_page(draft: Draft) -> str:
    """Return a page of HTML that needs nothing beside it: the cells, and what to agree to.

    Parameters
    ----------
    draft : Draft
        Of a table that was read off a picture.
    """
    assert draft.scan is not None
    title = f"Read off a picture: {escape(draft.source)}"
    cells = scan_table(draft.scan, draft.answers)
    open_ones = "".join(f"<li>{escape(problem.text())}</li>" for problem in draft.open)
    return (
        f"<!doctype html><html lang='en'><head><meta charset='utf-8'><title>{title}</title>"
        f"<style>{_STYLE}</style></head><body><h1>{title}</h1>{cells}"
        f"<h2>Open</h2><ul>{open_ones or '<li>nothing</li>'}</ul></body></html>"
    )


def scan_table(scan: Scan, answers: Answers) -> str:
    """Return the cells as a table of HTML: snippet, what was read, how sure, and what is in doubt.

    Parameters
    ----------
    scan : Scan
    answers : Answers
        Corrected cells are shown as corrected.
    """
    width = max(cell.column for cell in scan.cells)
    by_place = {(cell.row, cell.column): cell for cell in scan.cells}
    head = "".join(f"<th scope='col'>C{column}</th>" for column in range(1, width + 1))
    rows = []
    for row in range(1, max(cell.row for cell in scan.cells) + 1):
        cells = "".join(
            _cell(scan, by_place.get((row, column)), answers) for column in range(1, width + 1)
        )
        rows.append(f"<tr><th scope='row'>R{row}</th>{cells}</tr>")
    told = (
        "<p>Compare each text with the picture above it. A thick frame marks what is in doubt by "
        "itself. Wrong: <code>--cell R4C2=0.85</code>. All others right: "
        f"<code>--confirm {escape(scan.key)}</code>.</p>"
    )
    return f"{told}<table><tr><th></th>{head}</tr>{''.join(rows)}</table>"


def _cell(scan: Scan, cell: ScanCell | None, answers: Answers) -> str:
    if cell is None:
        return "<td></td>"
    told = corrections(answers).get(cell.name)
    settled = told is not None or answers.agreed(cell.key)
    doubt = bool(cell.doubts) and not settled
    text = cell.text if told is None else told
    parts = [
        f"<img alt='the picture of this cell' src='data:image/png;base64,{_png(scan, cell)}'>",
        f"<span class='text'>{escape(text) or '(blank)'}</span>",
        f"<div class='sure'>{cell.name}, {100 * cell.sure:.0f} %</div>",
    ]
    if told is not None:
        parts.append("<div class='why'>as you said</div>")
    if doubt:
        why = "; ".join(cell.doubts)
        parts.append(
            f"<div class='why'>in doubt: {escape(why)}<br>right: "
            f"<code>--confirm {escape(cell.key)}</code></div>"
        )
    return f"<td{' class=doubt' if doubt else ''}>{''.join(parts)}</td>"


def _png(scan: Scan, cell: ScanCell) -> str:
    piece = Pictures.fromarray(scan.snippet(cell))
    if piece.height > 2 * _HEIGHT:  # a large scan would make a page of many megabytes
        piece.thumbnail((piece.width, 2 * _HEIGHT))
    stream = io.BytesIO()
    piece.save(stream, "PNG")
    return base64.b64encode(stream.getvalue()).decode("ascii")
