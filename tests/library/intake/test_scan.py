"""A table read off a picture: every cell is asked about, and what is in doubt by itself.

Here a stand-in reads the words, so that what it reads can be wrong on purpose; the package itself
is asked in `test_scan_read`.
"""

import json
import re
import sys
from dataclasses import replace

import numpy as np
import pytest

from converter_match.cli import main
from converter_match.errors import InputError
from converter_match.library.intake import reading
from converter_match.library.intake.answers import Answers
from converter_match.library.intake.answers_file import save_answers
from converter_match.library.intake.ocr import Word
from converter_match.library.intake.reading import draft_of_scan, intake_scan
from converter_match.library.intake.scan import scan_of
from converter_match.present.notebook.scan import scan_page

TABLE = [
    ("speed ratio", "torque ratio", "K [rpm/sqrt(Nm)]"),
    ("0.00", "2.20", "62.0"),
    ("0.20", "1.92", "62.2"),
    ("0.40", "1.64", "62.8"),
    ("0.60", "1.36", "63.9"),
    ("0.80", "1.08", "66.0"),
    ("0.86", "1.00", "67.0"),
    ("0.95", "1.00", "95.0"),
]
FACTS = Answers().plus(stator="one-way", coupling_speed_ratio="0.86")
ACROSS, DOWN, HEIGHT = 200, 40, 20


class StandIn:
    """Reads a cell by itself as the table has it, or as told."""

    def __init__(self, table, told=None):
        self.table, self.told, self.asked = table, told or {}, []

    def words(self, image):
        return image, words_of(self.table)

    def cell(self, snippet):
        row, column = int(snippet[0, 0, 0]), int(snippet[0, 0, 1])
        self.asked.append((row, column))
        text = self.told.get((row, column), self.table[row][column])
        return (text, 0.99) if isinstance(text, str) else text


def picture(rows=8, columns=3):
    """Return a picture in which every pixel says which cell it belongs to; ink in each."""
    image = np.full((rows * DOWN, columns * ACROSS, 3), 255, dtype=np.uint8)
    for row in range(rows):
        for column in range(columns):
            place = np.s_[row * DOWN : (row + 1) * DOWN, column * ACROSS : (column + 1) * ACROSS]
            image[place][..., 0], image[place][..., 1] = row, column
            image[place][10:14, :90, 2] = 0
    return image


def words_of(table, sure=0.99):
    return tuple(
        Word(text, (column * ACROSS + 20, row * DOWN + 10, column * ACROSS + 20 + 9 * len(text),
                    row * DOWN + 10 + HEIGHT), sure)
        for row, cells in enumerate(table)
        for column, text in enumerate(cells)
        if text
    )  # fmt: skip


def scanned(read=(), again=(), table=TABLE):
    """Return the scan of the table with some cells read otherwise, as a whole and by themselves."""
    whole = [list(cells) for cells in table]
    for (row, column), text in dict(read).items():
        whole[row][column] = text
    told = {place: text for place, text in dict(read).items() if text} | dict(again)
    return scan_of("scan.png", picture(len(table)), words_of(whole), StandIn(table, told))


def codes(draft):
    return [problem.code for problem in draft.open]


def doubts(scan):
    return {cell.name: cell.doubts for cell in scan.cells if cell.doubts}


def test_nothing_is_taken_off_a_picture_without_a_yes():
    scan = scanned()
    draft = draft_of_scan(scan, FACTS)
    assert codes(draft) == ["scan-unconfirmed"]
    with pytest.raises(InputError, match="read off a picture by a machine"):
        draft.accept()
    unit = draft.accept(confirm=scan.key)
    assert unit.torque_ratio.tolist() == [float(row[1]) for row in TABLE[1:]]
    assert any("read off a picture" in note.message for note in unit.given_notes)


def test_a_yes_to_one_reading_is_none_to_another():
    scan, other = scanned(), scanned(read={(2, 1): "1.97"}, again={(2, 1): "1.97"})
    assert scan.key != other.key
    with pytest.raises(InputError, match="no question of this sheet has this key"):
        draft_of_scan(other, FACTS.plus(confirm=scan.key)).with_known_keys()


@pytest.mark.parametrize(
    ("place", "read", "again", "proposed", "why"),
    [
        ((2, 0), "O.2O", "0.20", "0.20", "letters"),
        ((3, 1), "l.64", "1.64", "1.64", "letters"),
        ((4, 2), "63.9", "68.9", "63.9", "by itself it is '68.9'"),
        ((4, 2), "6S.9", "65.9", "65.9", "letters"),
        ((3, 1), "164", "164", "164", "decimals"),
        ((3, 1), "", "1.64", "1.64", "only when this place was read by itself"),
        ((3, 1), "1.64", ("1.64", 0.7), "1.64", "70 % confidence"),
        ((3, 1), "n/a", "n/a", "n/a", "no number"),
        ((0, 1), "torque ratlo", "torque ratio", "torque ratlo", "by itself"),
    ],
)
def test_a_cell_in_doubt_is_asked_about_by_itself(place, read, again, proposed, why):
    scan = scanned(read={place: read}, again={place: again})
    name = f"R{place[0] + 1}C{place[1] + 1}"
    found = doubts(scan)
    assert list(found) == [name]
    assert why in "; ".join(found[name])
    [cell] = [cell for cell in scan.cells if cell.name == name]
    assert cell.text == proposed
    draft = draft_of_scan(scan, FACTS.plus(confirm=scan.key))
    [asked] = [problem for problem in draft.open if problem.code == "scan-doubt"]
    assert asked.key == f"cell:{name}={proposed}"
    corrected = draft.answered(cells={name.lower(): TABLE[place[0]][place[1]]})
    assert codes(corrected) == []
    assert corrected.accept().torque_ratio.tolist() == [float(row[1]) for row in TABLE[1:]]


@pytest.mark.parametrize("wrong", ["62.82", "6.28", "628", "82.8"])
def test_a_digit_that_both_readings_have_wrong_is_asked_about_by_its_size(wrong):
    scan = scanned(read={(3, 2): wrong})
    draft = draft_of_scan(scan, FACTS.plus(confirm=scan.key))
    assert draft.open
    assert any("row 4" in problem.text() for problem in draft.open)


def test_a_blank_place_without_ink_is_no_cell_and_a_row_without_it_is_asked_about():
    image = picture()
    image[3 * DOWN : 4 * DOWN, 2 * ACROSS :, 2] = 255
    image[3 * DOWN : 4 * DOWN, 2 * ACROSS :, :2] = 255
    whole = [list(cells) for cells in TABLE]
    whole[3][2] = ""
    scan = scan_of("scan.png", image, words_of(whole), StandIn(TABLE))
    assert "R4C3" not in [cell.name for cell in scan.cells]
    assert "row-rejected" in codes(draft_of_scan(scan, FACTS.plus(confirm=scan.key)))


def test_a_table_that_is_not_understood_still_shows_its_cells_and_is_mended_by_one(tmp_path):
    scan = scanned(read={(0, 0): "spd rto", (0, 1): "trq rto", (0, 2): "x"})
    draft = draft_of_scan(scan, FACTS.plus(confirm=scan.key))
    assert "scan-not-understood" in codes(draft)
    assert "no row of headings" in draft.errors[0].message
    assert scan_page(draft).count("<img ") == 24
    told = dict(zip(("R1C1", "R1C2", "R1C3"), TABLE[0], strict=True))
    assert codes(draft.answered(cells=told)) == []


def test_a_cell_that_is_corrected_has_to_be_there():
    with pytest.raises(InputError, match=re.escape("such as R4C2")) as refused:
        draft_of_scan(scanned(), FACTS.plus(cells={"R44C2": "1"}))
    assert "R44C2" in str(refused.value)


def test_a_picture_without_columns_of_numbers_is_refused():
    table = [("a picture", "of", "words")] * 3
    with pytest.raises(InputError, match="no columns of numbers"):
        scan_of("scan.png", picture(3), words_of(table), StandIn(table))


def test_the_page_shows_every_cell_beside_its_snippet_and_needs_nothing_else():
    scan = scanned(read={(2, 0): "O.2O"})
    page = scan_page(draft_of_scan(scan, FACTS))
    assert page.count("<img ") == len(scan.cells) == 24
    assert page.count("data:image/png;base64,") == 24
    assert not re.search(r"(?:src|href)=['\"](?!data:)", page)
    assert page.count("class=doubt") == 1
    assert scan.key in page
    settled = scan_page(draft_of_scan(scan, FACTS.plus(cells={"R3C1": "0.20"})))
    assert "class=doubt" not in settled
    assert "as you said" in settled


@pytest.fixture
def cli(tmp_path, monkeypatch):
    """A picture, and the verb with a stand-in for the package."""
    from PIL import Image

    path = tmp_path / "scan.png"
    Image.fromarray(picture()).save(path)
    monkeypatch.setattr(reading, "Reader", lambda source: StandIn(TABLE))
    return path


def test_the_command_line_takes_cells_once_they_are_agreed_to_and_keeps_the_answers(
    cli, tmp_path, capsys
):
    page, out = tmp_path / "cells.html", tmp_path / "unit.toml"
    facts = ["--stator", "one-way", "--coupling-speed-ratio", "0.86"]
    call = ["intake", str(cli), "--ocr", *facts, "--accept", "--out", str(out)]
    assert main([*call, "--snippets", str(page), "--json"]) == 3
    told = json.loads(capsys.readouterr().out)
    assert not out.exists()
    assert page.read_text(encoding="utf-8").count("<img ") == 24
    [asked] = [row for row in told["problems"] if row["code"] == "scan-unconfirmed"]
    yes = ["--confirm", asked["confirm"], "--cell", "r4c2=1.65", "--save-answers"]
    assert main([*call, *yes]) == 0
    assert out.exists()
    out.unlink()
    assert main(call) == 0  # the answers stand beside the picture
    assert "1.65" in out.read_text(encoding="utf-8")


def test_answers_about_cells_survive_their_file(cli):
    given = FACTS.plus(cells={"R4C2": "1.65"}, page=1)
    save_answers(given, cli)
    assert intake_scan(cli).answers.cells == {"R4C2": "1.65"}
    assert replace(intake_scan(cli).answers, saved="") == given


@pytest.mark.parametrize(
    ("more", "message"),
    [
        (["--cell", "R4C2=1"], "add --ocr"),
        (["--page", "2"], "add --ocr"),
        (["--ocr", "--cell", "4,2=1"], "needs a cell and a text"),
        (["--ocr", "--page", "0"], "not a page's number"),
        (["--ocr", "--snippets", "a.txt"], "not a kind of page"),
    ],
)
def test_options_that_do_not_go_together_are_refused(cli, more, message, capsys):
    assert main(["intake", str(cli), *more]) == 2
    assert message in capsys.readouterr().err


def test_without_the_package_one_message_names_the_extra(cli, monkeypatch, capsys):
    monkeypatch.undo()
    monkeypatch.setitem(sys.modules, "rapidocr_onnxruntime", None)
    assert main(["intake", str(cli), "--ocr"]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert 'converter-match[ocr]"' in said


def test_a_picture_given_without_the_option_names_it(cli, capsys):
    assert main(["intake", str(cli)]) == 2
    assert "--ocr" in capsys.readouterr().err
