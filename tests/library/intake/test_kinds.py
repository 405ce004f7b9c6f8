"""Kinds of sheet: OpenDocument, HTML of a browser, Markdown of a mail, encodings, decimal marks."""

import pytest

from converter_match.errors import InputError
from converter_match.library.intake.reading import intake, intake_text

NU = ["0", "0.2", "0.4", "0.6", "0.8", "0.86", "0.95"]
MU = ["2.2", "1.9", "1.62", "1.34", "1.07", "1", "1"]
K = ["62.0", "62.3", "63.1", "65.2", "69.4", "73.0", "110.5"]
HEADS = ["speed ratio", "torque ratio", "K [rpm/sqrt(N.m)]"]
ROWS = list(zip(NU, MU, K, strict=True))
PLAIN = "\n".join(";".join(row) for row in [HEADS, *ROWS]) + "\n"


@pytest.fixture
def plain():
    return intake_text(PLAIN, stator="one-way").accept(id="a", name="a", source="a")


def codes(draft):
    return [problem.code for problem in draft.open]


def same(draft, plain):
    assert codes(draft) == []
    assert draft.accept(id="a", name="a", source="a") == plain


def open_document(path, *, hidden=(), formula=False):
    """Write the sheet with odfpy, numbers as numbers; the outside that this is read against."""
    odf = pytest.importorskip("odf.opendocument")
    from odf.table import Table, TableCell, TableRow
    from odf.text import P

    book = odf.OpenDocumentSpreadsheet()
    page = Table(name="Data")
    for number, row in enumerate([HEADS, *ROWS], start=1):
        line = TableRow(visibility="collapse") if number in hidden else TableRow()
        for text in row:
            if number == 1:
                cell = TableCell(valuetype="string")
            else:
                more = {"formula": "of:=1+1"} if formula else {}
                cell = TableCell(valuetype="float", value=text, **more)
            cell.addElement(P(text=text))
            line.addElement(cell)
        page.addElement(line)
    page.addElement(TableRow(numberrowsrepeated="1048000"))  # as spreadsheet programs fill up
    book.spreadsheet.addElement(page)
    book.save(str(path))
    return path


def test_an_open_document_sheet_is_read(tmp_path, plain):
    path = open_document(tmp_path / "sheet.ods")
    same(intake(path, stator="one-way"), plain)
    path.rename(tmp_path / "sheet.zip")  # what it is called does not count
    same(intake(tmp_path / "sheet.zip", stator="one-way"), plain)


def test_hidden_rows_and_formulas_of_an_open_document_are_named(tmp_path):
    path = open_document(tmp_path / "sheet.ods", hidden=(4,), formula=True)
    draft = intake(path, stator="one-way")
    assert codes(draft) == ["hidden-rows"]
    assert "formulas" in [problem.code for problem in draft.noticed]
    with pytest.raises(InputError, match="no such sheet"):
        intake(path, sheet="Other")


def test_an_open_document_that_is_damaged_or_carries_macros_is_refused(tmp_path):
    import zipfile

    path = open_document(tmp_path / "sheet.ods")
    raw = path.read_bytes()
    path.write_bytes(raw[: len(raw) // 2])
    with pytest.raises(InputError, match="damaged"):
        intake(path)
    path.write_bytes(raw)
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr("Basic/Standard/Module1.xml", "<x/>")
    with pytest.raises(InputError, match="macros"):
        intake(path)


def test_a_table_of_a_browser_is_read(plain):
    # As a browser serialises a page: entities, spans, raised signs, line breaks in heads.
    body = "".join(
        "<tr>" + "".join(f"<td style='text-align:right'>{cell}</td>" for cell in row) + "</tr>"
        for row in ROWS
    )
    page = (
        "<html><head><title>x</title><style>td{color:red}</style></head><body>"
        "<p>Stator: one&#8209;way</p><table class='t'><thead>"
        "<tr><th rowspan='2'>speed<br>ratio</th><th colspan='2'>converter</th></tr>"
        "<tr><th>torque&nbsp;ratio</th><th>K [rpm/sqrt(N&middot;m)]</th></tr></thead>"
        f"<tbody>{body}</tbody></table><script>alert('1;2;3')</script></body></html>"
    )
    same(intake_text(page, stator="one-way"), plain)


def test_a_markdown_table_of_a_mail_is_read(plain):
    lines = ["| " + " | ".join(row) + " |" for row in [[f"**{h}**" for h in HEADS], *ROWS]]
    lines.insert(1, "|:---|---:|:-:|")
    same(intake_text("Hello,\n\n" + "\n".join(lines) + "\n\nRegards\n", stator="one-way"), plain)


def test_an_encoding_is_taken_as_said_and_a_guess_is_said(tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_bytes(f"name;Łódź\n\n{PLAIN}".encode("cp1250"))
    guessed = intake(path, stator="one-way")
    assert any("--encoding" in problem.message for problem in guessed.noticed)
    assert intake(path, stator="one-way", encoding="cp1250").accept().name == "Łódź"
    for wrong in ("no-such", "utf-8"):
        with pytest.raises(InputError):
            intake(path, encoding=wrong)
    path.write_bytes(PLAIN.encode("utf-16-le"))  # without a byte-order mark
    assert "encoding" in [problem.code for problem in intake(path, stator="one-way").noticed]


def test_a_column_with_its_own_decimal_mark_is_read_in_it_and_said():
    # Three digits behind a comma could be thousands; the two digits of others say they are not.
    rows = [
        (nu, mu, k.replace(".", ",") + ("45" if number % 2 == 0 else "4"))
        for number, (nu, mu, k) in enumerate(ROWS)
    ]
    text = "\n".join(";".join(row) for row in [HEADS, *rows]) + "\n"
    draft = intake_text(text, stator="one-way")
    assert codes(draft) == []
    assert draft.sheet.columns[2].values[0] == pytest.approx(62.045)
    assert "decimal-of-column" in [problem.code for problem in draft.noticed]
