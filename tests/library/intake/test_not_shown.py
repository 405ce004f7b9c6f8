"""What ODS and HTML do not show, or show as taken back, is named: as odfpy and mails write it.

Attributes: OASIS Open Document Format 1.2, part 1, 19.749 (visibility), 20.365
(text-line-through-style); HTML and CSS as a browser shows them.
"""

import time

import pytest

from converter_match.library.intake.html_table import html_rows
from converter_match.library.intake.reading import intake, intake_text

HEADS = ("speed ratio", "torque ratio", "K [rpm/sqrt(Nm)]", "efficiency")
ROWS = [
    (nu, ratio, k, round(nu * ratio, 4))
    for nu, ratio, k in zip(
        (0.0, 0.2, 0.4, 0.6, 0.8, 0.86, 0.95),
        (2.20, 1.92, 1.64, 1.36, 1.08, 1.0, 1.0),
        (62.0, 62.2, 62.8, 63.9, 66.0, 67.0, 95.0),
        strict=True,
    )
]
FACTS = {"stator": "one-way", "coupling_speed_ratio": "0.86"}


def codes(draft):
    return sorted({problem.code for problem in draft.open})


def spreadsheet(path, *, column=None, struck=None, span=None, parent=False):
    """Write the sheet with odfpy; which column is hidden, which cell struck through, and how."""
    odf = pytest.importorskip("odf.opendocument")
    from odf.style import Style, TextProperties
    from odf.table import Table, TableCell, TableColumn, TableRow
    from odf.text import P, Span

    book = odf.OpenDocumentSpreadsheet()
    line = Style(name="gone", family="table-cell")
    line.addElement(TextProperties(textlinethroughstyle="solid", textlinethroughtype="single"))
    book.automaticstyles.addElement(line)
    common = Style(name="Withdrawn", family="table-cell")  # a parent is never an automatic style
    common.addElement(TextProperties(textlinethroughstyle="solid"))
    book.styles.addElement(common)
    child = Style(name="child", family="table-cell", parentstylename="Withdrawn")
    book.automaticstyles.addElement(child)
    back = Style(name="back", family="table-cell", parentstylename="Withdrawn")
    back.addElement(TextProperties(textlinethroughstyle="none"))
    book.automaticstyles.addElement(back)
    piece = Style(name="piece", family="text")
    piece.addElement(TextProperties(textlinethroughstyle="solid"))
    book.automaticstyles.addElement(piece)
    page = Table(name="Data")
    if column is not None:
        page.addElement(TableColumn(numbercolumnsrepeated=column))
        page.addElement(TableColumn(visibility="collapse"))
    for number, row in enumerate([HEADS, *ROWS]):
        made = TableRow()
        for place, value in enumerate(row):
            told = {"valuetype": "string"} if number == 0 else {"valuetype": "float",
                                                                "value": value}  # fmt: skip
            if struck == (number, place):
                told["stylename"] = child if parent else line
            elif number > 0:
                told["stylename"] = back
            cell = TableCell(**told)
            text = P(text="" if span == (number, place) else str(value))
            if span == (number, place):
                text.addElement(Span(stylename=piece, text=str(value)))
            cell.addElement(text)
            made.addElement(cell)
        page.addElement(made)
    book.spreadsheet.addElement(page)
    book.save(str(path))
    return path


def test_a_hidden_column_of_an_open_document_is_named(tmp_path):
    assert codes(intake(spreadsheet(tmp_path / "plain.ods"), **FACTS)) == []
    draft = intake(spreadsheet(tmp_path / "hidden.ods", column=3), **FACTS)
    assert codes(draft) == ["hidden-columns"]
    assert "efficiency" in draft.open[0].where
    assert codes(draft.answered(ignore="4")) == []


@pytest.mark.parametrize("how", [{"struck": (4, 1)}, {"struck": (4, 1), "parent": True},
                                 {"span": (4, 1)}])  # fmt: skip
def test_a_cell_struck_through_in_an_open_document_is_named(tmp_path, how):
    draft = intake(spreadsheet(tmp_path / "struck.ods", **how), **FACTS)
    assert codes(draft) == ["struck-through"]
    assert "row 5" in draft.open[0].where
    assert codes(draft.answered(leave_out=5)) == []


def page(row="<tr>", cell="<td>", inner="{}", at=(4, 1), head="", table="<table>"):
    """Return the sheet as a page, one row and one cell of it other than the rest."""
    lines = []
    for number, values in enumerate([HEADS, *ROWS]):
        cells = ""
        for place, value in enumerate(values):
            here = number == at[0] and at[1] in (place, None)
            cells += f"{cell if here else '<td>'}{inner.format(value) if here else value}</td>"
        lines.append(f"{row if number == at[0] else '<tr>'}{cells}</tr>")
    return f"<html><head>{head}</head><body>{table}{''.join(lines)}</table></body></html>"


@pytest.mark.parametrize(
    ("how", "code"),
    [
        ({"row": "<tr style='display: none'>"}, "hidden-rows"),
        ({"row": "<tr hidden>"}, "hidden-rows"),
        ({"row": "<tr style='color:red;VISIBILITY:collapse'>"}, "hidden-rows"),
        ({"cell": "<td style='display:none'>"}, "hidden-rows"),
        ({"inner": "<span style='display:none'>{}</span>"}, "hidden-rows"),
        ({"inner": "<s>{}</s>"}, "struck-through"),
        ({"inner": "<del><b>{}</b></del>"}, "struck-through"),
        ({"cell": "<td style='text-decoration: line-through'>"}, "struck-through"),
        ({"row": "<tr style='text-decoration-line:line-through'>", "at": (4, None)},
         "struck-through"),
        ({"table": "<table><col><col><col><col style='visibility:collapse'>"}, "hidden-columns"),
        ({"head": "<style>.x { display : none }</style>"}, "html-hides"),
        ({"inner": "<i>{}</i>"}, None),
    ],
)  # fmt: skip
def test_what_a_page_hides_or_strikes_is_named(how, code):
    draft = intake_text(page(**how), **FACTS)
    assert codes(draft) == ([code] if code else [])
    if code in ("hidden-rows", "struck-through"):
        assert "6" in draft.open[0].text()  # the place where the table begins is a row too
        assert codes(draft.answered(leave_out=6)) == []


def test_what_stands_beside_a_struck_cell_is_not_struck():
    # Nothing closes the cells, as mails are written; the mark ends with its cell all the same.
    rows = "".join(f"<tr><td>{a}<td>{b}<td>{c}" for a, b, c, _ in ROWS)
    text = rows.replace("<td>1.36", "<td><s>1.36")
    heads = "<tr>" + "".join(f"<td>{head}" for head in HEADS[:3])
    draft = intake_text(f"<table>{heads}{text}</table>", **FACTS)
    assert codes(draft) == ["struck-through"]
    assert len(draft.open) == 1


def test_a_page_of_nothing_but_open_elements_is_read_in_time_that_goes_with_its_length():
    spent = []
    for many in (1000, 4000):
        start = time.process_time()
        html_rows("<table><tr><td>" + "<b>x</i>" * many, "page")
        spent.append(time.process_time() - start)
    assert spent[1] < 12 * max(spent[0], 0.01)  # four times as long; sixteen if it were squared
