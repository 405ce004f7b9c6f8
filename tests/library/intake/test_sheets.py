"""The messy sheets of tests/data/sheets: what is asked, what is noticed, what comes out."""

import json
import runpy
import shutil
from pathlib import Path

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.library.intake.mapping import read_mapping
from converter_match.library.intake.reading import intake
from converter_match.library.read import read_component

FOLDER = Path(__file__).resolve().parents[2] / "data" / "sheets"
EXPECTED = json.loads((FOLDER / "expected.json").read_text(encoding="utf-8"))
TRUTH = {name: np.array(values) for name, values in EXPECTED["truth"].items()}
SHEETS = EXPECTED["sheets"]


def answers(said):
    said = dict(said)
    if "map" in said:
        said |= read_mapping(FOLDER / said.pop("map"))
    return said


def first_look(name):
    sheet = SHEETS[name]
    before = {} if sheet["open"] else sheet["answers"]
    return intake(FOLDER / name, **answers(sheet.get("given", before)))


def off(found, name, scale=1.0):
    """Return the largest difference from the truth, as a share."""
    true = scale * TRUTH[name]
    return float(np.max(np.abs(found - true) / np.maximum(np.abs(true), 0.01 * np.abs(true).max())))


def test_there_are_at_least_fifteen_sheets_and_each_is_a_mess_of_its_own():
    messes = {sheet["mess"] for sheet in SHEETS.values()}
    assert len(messes) == len(SHEETS) >= 15


@pytest.mark.parametrize("name", SHEETS)
def test_sheet_asks_what_it_has_to_ask_and_nothing_more(name):
    draft = first_look(name)
    assert draft.kind == SHEETS[name]["kind"]
    assert sorted(problem.code for problem in draft.open) == sorted(SHEETS[name]["open"])
    if draft.open:
        with pytest.raises(InputError, match=draft.open[0].code):
            draft.accept()


@pytest.mark.parametrize("name", SHEETS)
def test_sheet_gives_the_component_that_it_was_made_from(name):
    sheet = SHEETS[name]
    draft = first_look(name).answered(**answers(sheet["answers"]))
    component = draft.accept()
    # The tolerance is what the printed digits leave: two of K, three of the torque ratio.
    scale = sheet.get("scale", 1.0)
    columns = ["speed", "torque"] if sheet["kind"] == "engine" else ["torque_ratio", "capacity"]
    for column in columns:
        assert (
            off(getattr(component, column), column, scale if column == "torque" else 1.0)
            <= (sheet["rtol"])
        )
    if sheet["kind"] == "converter":
        np.testing.assert_allclose(component.speed_ratio, TRUTH["speed_ratio"], atol=1e-6)
    codes = {problem.code for problem in draft.problems}
    assert set(sheet.get("notes", [])) <= codes
    assert [each.row for each in draft.rejected] == sheet.get("rejected", [])
    assert len(draft.remarks) == sheet.get("remarks", len(draft.remarks))


@pytest.mark.parametrize("name", SHEETS)
def test_written_file_reads_back_as_the_component_that_was_accepted(name, tmp_path):
    draft = first_look(name).answered(**answers(SHEETS[name]["answers"]))
    draft.write(tmp_path / "component.toml")
    assert read_component(tmp_path / "component.toml") == draft.accept()


@pytest.mark.parametrize("name", SHEETS)
def test_every_filled_row_is_used_or_listed(name):
    """Nothing is dropped silently: numbers go in, are averaged, are rejected, or are remarks."""
    sheet = SHEETS[name]
    draft = first_look(name).answered(**answers(sheet["answers"]))
    merged = sum(p.code.startswith("point-repeated") for p in draft.problems)
    assert len(draft.sheet.rows) == sheet["rows"]
    assert len(draft.sheet.rows) + len(draft.rejected) + merged == sheet["rows"] + len(
        sheet.get("rejected", [])
    ) + (2 if name == "mixed-order.csv" else 0)


@pytest.mark.slow
def test_sheets_are_what_the_script_makes(tmp_path):
    script = runpy.run_path(str(FOLDER / "make_sheets.py"))
    script["write"](tmp_path)
    for name in [*SHEETS, "expected.json", "german.toml"]:
        if name.endswith(".xlsx"):  # a workbook holds the time at which it was made
            again = intake(tmp_path / name, **answers(SHEETS[name]["answers"]))
            assert again.accept() == first_look(name).answered(
                **answers(SHEETS[name]["answers"])
            ).accept().replace(source=again.accept().source)
        else:
            assert (tmp_path / name).read_bytes() == (FOLDER / name).read_bytes(), name


def test_crlf_and_other_line_ends_change_nothing(tmp_path):
    plain = (FOLDER / "plain.csv").read_text(encoding="utf-8")
    for end in ("\r\n", "\r"):
        path = tmp_path / "plain.csv"
        path.write_bytes(plain.replace("\n", end).encode())
        assert (
            intake(path, stator="one-way").accept()
            == intake(
                shutil.copy(FOLDER / "plain.csv", tmp_path / "plain.csv"), stator="one-way"
            ).accept()
        )
