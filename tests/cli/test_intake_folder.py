"""A folder of sheets in one go."""

import openpyxl
import pytest

from converter_match.cli import main
from converter_match.library.read import read_component

HEADS = ["speed ratio", "torque ratio", "K [rpm/sqrt(N.m)]"]
ROWS = [(0, 2.2, 62.0), (0.2, 1.9, 62.3), (0.4, 1.62, 63.1), (0.6, 1.34, 65.2), (0.8, 1.07, 69.4),
        (0.86, 1, 73.0), (0.9, 1, 83.5), (0.95, 1, 110.5)]  # fmt: skip


@pytest.fixture
def folder(tmp_path):
    home = tmp_path / "sheets"
    home.mkdir()
    text = "\n".join(";".join(map(str, row)) for row in [HEADS, *ROWS])
    (home / "Plain.csv").write_text(f"Stator: one-way\n\n{text}\n", encoding="utf-8")
    (home / "asked.csv").write_text(f"{text}\n", encoding="utf-8")
    book = openpyxl.Workbook()
    book.active.title = "Cover"
    book.active.append(["our sheets, invented"])
    for name in ("Tight", "Loose"):
        page = book.create_sheet(name)
        for row in (["Stator", "one-way"], [], HEADS, *ROWS):
            page.append(list(row))
    book.save(home / "book.xlsx")
    (home / "notes.pdf").write_bytes(b"%PDF-1.4")
    return home


@pytest.mark.slow
def test_a_folder_becomes_a_library_with_one_page_of_questions(folder, tmp_path, capsys):
    target = tmp_path / "library"
    target.mkdir()
    assert main(["intake", str(folder), "--accept", "--out", str(target)]) == 3
    said = capsys.readouterr().out
    assert "asked.csv: converter; 1 open" in said
    assert "stator-inferred" in said
    written = {path.name for path in target.iterdir()}
    assert written == {"plain.toml", "book-tight.toml", "book-loose.toml"}
    assert read_component(target / "plain.toml").coupling == pytest.approx(0.86)
    sheet = str(folder / "asked.csv")
    assert main(["intake", sheet, "--confirm", "stator", "--save-answers"]) == 0
    again = ["intake", str(folder), "--accept", "--out", str(target), "--overwrite"]
    assert main(again) == 0
    assert (target / "asked.toml").is_file()


def test_a_sheet_that_cannot_be_read_is_said_and_the_others_are_read(folder, capsys):
    (folder / "broken.csv").write_text("hello\n", encoding="utf-8")
    assert main(["intake", str(folder), "--stator", "one-way"]) == 2
    said = capsys.readouterr().out
    assert "broken.csv" in said
    assert "Plain.csv: converter; nothing is open" in said


def test_a_folder_without_sheets_is_refused(tmp_path, capsys):
    assert main(["intake", str(tmp_path)]) == 2
    assert "holds no sheets" in capsys.readouterr().err
