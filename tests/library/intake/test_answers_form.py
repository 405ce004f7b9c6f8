"""What is said about a sheet from Python or in a saved file has a form, or is named."""

import pytest

from converter_match.errors import InputError
from converter_match.library.intake.answers import Answers
from converter_match.library.intake.answers_file import save_answers
from converter_match.library.intake.reading import intake, intake_text

SHEET = "SR;TR;K [rpm/sqrt(N.m)]\n0;2.2;62\n0.5;1.5;63\n0.8;1;67\n0.9;1;80\n"


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("kind", "gearbox"), ("columns", "3=k_factor"), ("columns", {"3": None}),
        ("columns", {1.5: "k_factor"}), ("columns", {True: "k_factor"}), ("units", ["3"]),
        ("ignore", {"3": 1}), ("ignore", 2.5), ("leave_out", "3"), ("leave_out", 3.0),
        ("leave_out", [None]), ("leave_out", 0), ("confirm", 3), ("decimal", "comma"),
        ("encoding", 5), ("sheet", 5), ("rating", 3), ("factors", {"3": "0.1"}),
        ("factors", {"3": True}), ("factors", {"3": float("nan")}), ("factors", {"3": 0.0}),
        ("factors", [("3", 1)]), ("cells", {"R4C2": 0.85}), ("table", "2"), ("table", 0),
        ("page", -1), ("page", 1.0), ("smooth", "no"), ("facts", "stator"), ("words", 3),
        ("unit_words", "Nm"), ("saved", 3),
    ],
)  # fmt: skip
def test_what_has_another_form_is_named(name, value):
    with pytest.raises(InputError, match="not what is due here") as caught:
        intake_text(SHEET, **{name: value})
    assert (caught.value.field, caught.value.found) == (name, value)
    assert caught.value.expected


def test_one_of_a_list_may_stand_by_itself_and_a_column_by_its_number():
    said = Answers().plus(ignore=4, leave_out=7, confirm="stator", columns={3: "k_factor"})
    assert (said.ignore, said.leave_out, said.confirm) == (("4",), (7,), ("stator",))
    assert said.columns == {"3": "k_factor"}
    more = said.plus(ignore=("5", 4), leave_out={9}, units={"3": "rpm/sqrt(N.m)"}, factors={3: 2})
    assert (more.ignore, more.leave_out, more.factors) == (("4", "5"), (7, 9), {"3": 2.0})
    assert more.columns == {"3": "k_factor"}


def test_a_fact_that_is_a_number_is_in_si():
    said = Answers().plus(reference_speed=178.0, coupling_speed_ratio=0.8)
    assert said.facts == {"reference_speed": "178.0 rad/s", "coupling_speed_ratio": "0.8"}


def test_a_factor_that_was_said_stays_in_the_file():
    tenth = SHEET.replace(";62", ";620").replace(";63", ";630").replace(";67", ";670")
    draft = intake_text(tenth.replace(";80", ";800"), stator="one-way", factors={3: 0.1})
    assert "factor-told" in {note.code for note in draft.accept().notes}
    assert draft.accept().capacity_at(0.0) == intake_text(
        SHEET, stator="one-way"
    ).accept().capacity_at(0.0)


@pytest.mark.parametrize(
    "line", ['factors = "3"', 'leave_out = ["3"]', "confirm = 3", 'decimal = "comma"', "table = 0"]
)
def test_a_saved_answer_of_another_form_is_named_with_its_file(line, tmp_path):
    sheet = tmp_path / "sheet.csv"
    sheet.write_text(SHEET, encoding="utf-8")
    draft = intake(sheet, stator="one-way", leave_out=5)
    saved = save_answers(draft.answers, sheet)
    text = saved.read_text(encoding="utf-8")
    assert "leave_out" in text
    key = line.split()[0]
    kept = [one for one in text.splitlines() if not one.startswith(key)]
    at = next(row for row, one in enumerate(kept) if one.startswith("fingerprint"))
    saved.write_text("\n".join([*kept[: at + 1], line, *kept[at + 1 :]]), encoding="utf-8")
    with pytest.raises(InputError, match="not what is due here") as caught:
        intake(sheet)
    assert (caught.value.source, caught.value.field) == (str(saved), key)
