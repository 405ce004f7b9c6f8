import csv

import numpy as np
import openpyxl
import pytest

from converter_match.errors import InputError
from converter_match.library.intake.export import export_component
from converter_match.library.intake.reading import intake
from converter_match.library.read import read_component, read_site
from converter_match.library.shipped import shipped
from converter_match.notes import Note

FILES = [(kind, name) for kind in ("converters", "engines") for name in shipped(kind)]


@pytest.mark.slow
@pytest.mark.parametrize("ending", ["csv", "xlsx"])
@pytest.mark.parametrize(("kind", "name"), FILES)
def test_shipped_component_comes_back_from_its_sheet(tmp_path, kind, name, ending):
    component = read_component(shipped(kind)[name])
    export_component(component, tmp_path / f"sheet.{ending}")
    draft = intake(tmp_path / f"sheet.{ending}")
    assert [problem.text() for problem in draft.open] == []
    again = draft.accept()
    words = ("id", "name", "source")
    assert [getattr(again, word) for word in words] == [getattr(component, word) for word in words]
    columns = (
        ("speed", "torque") if kind == "engines" else ("speed_ratio", "torque_ratio", "capacity")
    )
    for column in columns:
        # CSV to the last bit; a workbook keeps sixteen digits.
        np.testing.assert_allclose(
            getattr(again, column), getattr(component, column), rtol=0 if ending == "csv" else 2e-15
        )
    facts = {
        "engines": ("low_idle", "rated_speed", "high_idle", "displacement", "rating_basis"),
        "converters": ("stator", "profile_diameter", "oil_density", "coupling_speed_ratio"),
    }[kind]
    for fact in facts:
        expected = getattr(component, fact)
        if isinstance(expected, float) and ending == "xlsx":  # a speed is put on its row
            expected = pytest.approx(expected, rel=2e-15)
        assert getattr(again, fact) == expected


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", '=HYPERLINK("x")'])
def test_text_that_a_spreadsheet_would_run_is_written_as_text(tmp_path, name):
    component = read_component(shipped("converters")["single-stage-260mm"]).replace(name=name)
    export_component(component, tmp_path / "a.csv")
    export_component(component, tmp_path / "a.xlsx")
    with (tmp_path / "a.csv").open(encoding="utf-8", newline="") as file:
        cells = [cell for row in csv.reader(file) for cell in row]
    assert not any(cell.startswith(("=", "+", "@")) for cell in cells)
    assert not any(cell.startswith("-") and not cell[1:2].isdigit() for cell in cells)
    book = openpyxl.load_workbook(tmp_path / "a.xlsx")
    assert all(cell.data_type != "f" for row in book.active.iter_rows() for cell in row)
    for ending in ("csv", "xlsx"):
        assert intake(tmp_path / f"a.{ending}").accept().name == name.strip()


def test_export_says_what_a_sheet_has_no_place_for(tmp_path):
    component = read_component(shipped("converters")["single-stage-345mm-tight"])
    assert "limits" in export_component(component, tmp_path / "a.csv")
    with pytest.raises(InputError, match="is there already"):
        export_component(component, tmp_path / "a.csv")
    with pytest.raises(InputError, match="not a kind of sheet"):
        export_component(component, tmp_path / "a.ods")
    with pytest.raises(InputError, match="there is no sheet for this"):
        export_component(read_site(next(iter(shipped("sites").values()))), tmp_path / "b.csv")


def test_notes_and_the_torque_band_come_back(tmp_path):
    notes = (Note("reading-error", "torque was read from a picture; about ±6 N.m at worst"),)
    engine = read_component(shipped("engines")["six-cylinder-7l-185kw"])
    engine = engine.replace(given_notes=notes, torque_band=0.031)
    unit = read_component(shipped("converters")["single-stage-260mm"]).replace(given_notes=notes)
    for component in (engine, unit):
        for ending in ("csv", "xlsx"):
            path = tmp_path / f"{component.id}.{ending}"
            assert "given notes" not in export_component(component, path)
            again = intake(path).accept()
            assert [(n.code, n.message) for n in again.given_notes] == [
                (n.code, n.message) for n in notes
            ]
            if component is engine:
                assert again.torque_band == pytest.approx(0.031, rel=1e-12)


def test_a_full_width_sign_begins_no_formula_either(tmp_path):
    component = read_component(shipped("converters")["single-stage-260mm"])
    for sign in "\uff1d\uff0b\uff0d\uff20":
        path = tmp_path / f"{ord(sign)}.csv"
        export_component(component.replace(name=f"{sign}1+1"), path)
        assert f"name,'{sign}1+1" in path.read_text(encoding="utf-8")
        assert intake(path).accept().name == f"{sign}1+1"
