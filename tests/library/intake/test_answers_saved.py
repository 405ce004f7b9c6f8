"""Answers end questions, and are found again beside the sheet."""

import json
from pathlib import Path

import pytest

from converter_match.cli import main
from converter_match.errors import InputError
from converter_match.library.intake.answers_file import answers_path, save_answers
from converter_match.library.intake.reading import intake

FOLDER = Path(__file__).resolve().parents[2] / "data" / "sheets"
SHEETS = json.loads((FOLDER / "expected.json").read_text(encoding="utf-8"))["sheets"]
TEXT = "SR;TR;K\n0;2,20;62,0\n0,4;1,62;63,0\n0,6;1,35;65\n0,86;1;73,0\n0,95;1;110\n"


@pytest.fixture
def sheet(tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_text(TEXT, encoding="utf-8")
    return path


@pytest.mark.parametrize("name", SHEETS)
@pytest.mark.slow
def test_every_question_names_what_answers_it(name):
    from converter_match.library.intake.mapping import read_mapping

    for problem in intake(FOLDER / name, **read_mapping(FOLDER / "german.toml")).open:
        assert problem.key or problem.answer, problem.text()


def test_answers_saved_beside_the_sheet_are_used_and_said(sheet):
    said = {"units": {"K": "rpm/sqrt(N.m)"}, "confirm": ["stator"], "profile_diameter": "345 mm"}
    draft = intake(sheet, **said)
    assert draft.open == ()
    save_answers(draft.answers, sheet)
    again = intake(sheet)
    assert again.open == ()
    assert again.accept() == draft.accept()
    assert "answers-saved" in [problem.code for problem in again.noticed]
    assert len(intake(sheet, fresh=True).open) == 2
    # What is said now counts before what was saved.
    other = intake(sheet, profile_diameter="350 mm").accept()
    assert other.profile_diameter == pytest.approx(0.35)


def test_answers_for_another_version_of_the_sheet_are_not_used(sheet):
    save_answers(intake(sheet, stator="one-way").answers, sheet)
    sheet.write_text(TEXT.replace("1,62", "1,63"), encoding="utf-8")
    draft = intake(sheet)
    assert "stator-inferred" in [problem.code for problem in draft.open]
    assert "answers-not-used" in [problem.code for problem in draft.noticed]


def test_nothing_but_answers_is_replaced(sheet):
    answers_path(sheet).write_text('schema = "another"\n', encoding="utf-8")
    with pytest.raises(InputError, match="no file of answers"):
        save_answers(intake(sheet, fresh=True).answers, sheet)
    assert answers_path(sheet).read_text(encoding="utf-8") == 'schema = "another"\n'


@pytest.mark.parametrize(
    ("line", "field"),
    [("confirm = 3", "confirm"), ("colour = 1", "colour"), ("table = 'a'", "table")],
)
def test_a_damaged_file_of_answers_is_refused_by_its_key(sheet, line, field):
    save_answers(intake(sheet).answers, sheet)
    path = answers_path(sheet)
    path.write_text(path.read_text(encoding="utf-8") + line + "\n", encoding="utf-8")
    with pytest.raises(InputError, match=field):
        intake(sheet)


def test_the_command_line_saves_them_and_asks_nothing_the_second_time(sheet, capsys):
    first = ["intake", str(sheet), "--unit", "K=rpm/sqrt(N.m)", "--confirm", "stator"]
    assert main([*first, "--save-answers"]) == 0
    assert main(["intake", str(sheet)]) == 0
    assert "sheet.csv.answers.toml" in capsys.readouterr().out
    assert main(["intake", str(sheet), "--fresh"]) == 3


def test_an_answer_to_a_line_that_cannot_be_read_closes_its_question(tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_text(f"Profile diameter: three hundred\n\n{TEXT}", encoding="utf-8")
    assert "fact-profile_diameter" in [problem.code for problem in intake(path).open]
    answered = intake(path, profile_diameter="345 mm")
    assert "fact-profile_diameter" not in [problem.code for problem in answered.open]
