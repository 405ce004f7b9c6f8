import re

import pytest

from converter_match import InputError
from converter_match.cli import main
from converter_match.present.lesson.demo import lesson
from converter_match.present.lesson.handout import handout, write_handout


@pytest.fixture(scope="module")
def demo():
    return lesson()


@pytest.fixture(scope="module")
def reports(demo):
    return [handout(demo, answers=answers) for answers in (False, True)]


def parts(report):
    return [block for section in report.sections for block in section.parts]


def plain(report):
    return "\n".join(block.text for block in parts(report) if hasattr(block, "text"))


@pytest.mark.slow
def test_the_handout_asks_and_only_the_answer_sheet_answers(demo, reports):
    asked, answered = (plain(report) for report in reports)
    for item in demo.exercises:
        assert f"\n{item.question}\nI predict" in asked
        assert f"{item.question}\nAnswer: {item.answer_text}." in answered
    for item in demo.predictions:
        assert f"\n{item.question}" in asked
        assert f"Answer: {item.answer}. {item.why}" in answered
    assert "Answer:" not in asked
    assert asked.count("I predict") == len(demo.exercises) + len(demo.predictions)


@pytest.mark.slow
@pytest.mark.parametrize(
    "pair",
    [
        ("six-cylinder-7l-185kw", "single-stage-345mm-tight"),
        ("six-cylinder-9l-240kw", "single-stage-360mm"),
        ("six-cylinder-10l5-138kw", "single-stage-310mm"),
    ],
)
def test_nothing_on_the_pupils_sheet_gives_an_answer_away(pair):
    chosen = lesson(*pair)
    page = handout(chosen)
    said = plain(page)
    assert not [part for part in parts(page) if part.kind == "table"]
    # Of figures, only the parts with their names, and the curves to choose from.
    names = [picture.name for picture in page.pictures]
    assert names[0] == "parts"
    assert all(name.startswith("question-") for name in names[1:])
    for item in chosen.exercises:
        if item.shown:
            number = re.escape(f"{item.shown:{item.form}}")
            assert not re.search(rf"(?<![\d.]){number}(?![\d]|\.\d)", said), item.key
    for item in chosen.predictions:
        assert item.why not in said
    for item in chosen.misconceptions:
        assert f"“{item.belief}”" in said
        assert item.truth not in said


def test_the_handout_cautions_where_stall_is_spoken_of(reports):
    for report in reports:
        assert "wheels chocked" in plain(report)
        assert "The machine maker" in plain(report)


def test_the_handout_shows_every_misconception_with_its_table(demo, reports):
    [believed] = [item for item in reports[1].sections if item.title == "Common misconceptions"]
    tables = [block for block in believed.parts if block.kind == "table"]
    assert [block.rows for block in tables] == [item.rows for item in demo.misconceptions]


@pytest.mark.slow
def test_another_engine_prints_other_numbers(reports):
    assert plain(handout(lesson("six-cylinder-9l-240kw"))) != plain(reports[0])


@pytest.mark.slow
def test_the_verb_writes_pages_and_leaves_what_is_there(tmp_path, capsys):
    folder = tmp_path / "monday"
    assert main(["lesson", "--out", str(folder), "--answers", "--units", "us"]) == 0
    names = {"handout.html", "handout.pdf", "answers.html", "answers.pdf", "slider.html"}
    assert {path.name for path in folder.iterdir()} == names
    assert (folder / "handout.pdf").read_bytes().startswith(b"%PDF-")
    page = (folder / "handout.html").read_text(encoding="utf-8")
    assert "lbf·ft" in page
    assert page.count('role="img"') == 4  # the parts, and three times the curves to choose from
    capsys.readouterr()
    (folder / "handout.html").write_text("my notes", encoding="utf-8")
    assert main(["lesson", "--out", str(folder)]) == 2
    assert "is there already" in capsys.readouterr().err
    assert (folder / "handout.html").read_text(encoding="utf-8") == "my notes"


def test_a_converter_that_cannot_carry_the_lesson_leaves_nothing_behind(tmp_path, capsys):
    folder = tmp_path / "monday"
    assert main(["lesson", "--out", str(folder), "--converter", "fluid-coupling-360mm"]) == 2
    assert "coupling point" in capsys.readouterr().err
    assert not folder.exists()


def test_a_file_in_the_place_of_the_folder_is_named(demo, tmp_path):
    (tmp_path / "monday").write_text("", encoding="utf-8")
    with pytest.raises(InputError, match="monday: is not a folder"):
        write_handout(demo, tmp_path / "monday")
