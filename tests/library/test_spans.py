"""Every number of a file has its span; slips are refused or asked about, and good files are not."""

import tomllib
import types
from typing import Annotated, Union, get_args, get_origin

import pytest
from pydantic import BaseModel

import converter_match as cm
from converter_match.cli import main
from converter_match.errors import InputError
from converter_match.library.checked import check_file
from converter_match.library.odd.doubts import throws_doubt
from converter_match.library.schema import FILES, common, study
from converter_match.library.schema.spans import sizes_of, spans_of
from converter_match.library.shipped import data_folder, find
from converter_match.notes import ASKED, Note
from converter_match.units.vocabulary import dimensions_of
from tests.docs.formats import model_of

SHIPPED = sorted(data_folder().glob("*/*.toml"))


def numbers_of(model, path=""):
    """Yield path and dimension of every number that a file may hold; None where it depends."""
    for name, field in model.model_fields.items():
        here = f"{path}.{name}" if path else name
        annotation, marks = field.annotation, list(field.metadata)
        if get_origin(annotation) in (Union, types.UnionType):
            [annotation] = [part for part in get_args(annotation) if part is not type(None)]
        if get_origin(annotation) is Annotated:
            annotation, *inner = get_args(annotation)
            marks += inner
        quantity = next((m for m in marks if isinstance(m, common.One | common.Many)), None)
        if quantity is not None:
            yield here, quantity.dimension
        elif any(isinstance(m, study.Unread) for m in marks) or annotation in (object, int, float):
            yield here, "ratio" if annotation in (int, float) else None
        else:
            [annotation] = get_args(annotation) if get_origin(annotation) is list else [annotation]
            if get_origin(annotation) is Annotated:  # a list of rows
                mark = next((m for m in get_args(annotation) if isinstance(m, common.Many)), None)
                if mark is not None:
                    yield here, mark.dimension
                annotation = get_args(annotation)[0]
            if isinstance(annotation, type) and issubclass(annotation, BaseModel):
                yield from numbers_of(annotation, here)


@pytest.mark.parametrize("kind", FILES)
def test_every_number_of_a_schema_has_its_row_and_no_row_is_for_another(kind):
    rows, numbers = spans_of(kind), dict(numbers_of(model_of(kind)))
    assert set(numbers) - set(rows) == set(), "add a row to library/schema/span_tables.py"
    assert set(rows) - set(numbers) - {"unsmoothed.positions", "unsmoothed.values"} == set()
    for path, span in rows.items():
        if not span.unit:
            assert span.usual is None, path
            assert span.possible is None, path
            assert span.basis, path
            continue
        if numbers[path] is not None:
            assert numbers[path] in dimensions_of(span.unit), path
        assert span.usual is not None, path
        low, high = span.usual
        assert low < high, path
        if span.possible is not None:
            least, most = span.possible
            assert least <= low < high <= most, path


@pytest.mark.parametrize("kind", FILES)
def test_sizes_name_numbers_of_their_file(kind):
    paths = {path for path, _ in numbers_of(model_of(kind))}
    for sizes in sizes_of(kind):
        assert {path for path, *_ in sizes.terms if not path.startswith("@")} <= paths
        assert sizes.usual[0] < sizes.usual[1]


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_shipped_file_is_asked_nothing(path):
    checked = check_file(str(path))
    assert [note.code for _, note in checked.odd if throws_doubt(note)] == []


def engine_file(tmp_path, old, new):
    text = find("engines", "six-cylinder-7l-185kw").read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "engine.toml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    return path


def test_impossible_density_of_fuel_is_refused_with_the_slip_that_explains_it(tmp_path):
    path = engine_file(tmp_path, '"kg/m**3", value = 835', '"kg/m**3", value = 0.835')
    with pytest.raises(InputError) as refused:
        cm.read(path)
    error = refused.value
    assert (error.field, error.found) == ("fuel.density.value", "0.835 kg/m**3")
    assert "300 to 1200 kg/m**3" in error.expected
    assert error.hint == "1000 times as much would be usual"


def test_temperature_in_kelvin_is_said_to_be_one_in_celsius(tmp_path):
    text = find("machines", "wheel-loader-17t").read_text(encoding="utf-8")
    path = tmp_path / "machine.toml"
    path.write_text(
        text.replace('temperature_limit = { unit = "degC"', 'temperature_limit = { unit = "K"'),
        encoding="utf-8",
    )
    with pytest.raises(InputError, match="degC read as K"):
        cm.read(path)


def test_unusual_number_is_asked_about_in_check_and_in_every_result(tmp_path, capsys):
    path = engine_file(tmp_path, "value = 1.16 }", "value = 11.6 }")
    engine = cm.read(path)
    [note] = [note for note in engine.notes if note.code in ASKED]
    assert dict(note.values)["field"] == "fuel.idle_rate"
    [(_, same)] = check_file(str(path)).odd
    assert same == note
    converter = cm.read("single-stage-345mm-tight")
    assert note in cm.solve(engine, converter).notes
    assert main(["check", str(path)]) == 0
    said = capsys.readouterr().out
    assert "fuel.idle_rate[kg/h] / displacement[L] is 1.66" in " ".join(said.split())


def test_row_that_stands_out_from_its_neighbours_is_asked_about(tmp_path):
    path = engine_file(tmp_path, "1004, 998", "1004, 99.8")
    codes = [note.code for note in cm.read(path).notes]
    assert "row-out-of-line" in codes


def test_question_is_asked_again_and_not_written_into_the_file(tmp_path):
    engine = cm.read(engine_file(tmp_path, "value = 1.16 }", "value = 11.6 }"))
    copy = tmp_path / "copy.toml"
    cm.write(engine, copy)
    assert "note" not in tomllib.loads(copy.read_text(encoding="utf-8"))
    assert cm.read(copy) == engine


def test_zero_is_no_slip(tmp_path):
    path = engine_file(tmp_path, "exponent = 3", "exponent = 0")
    assert not [
        note for note in cm.read(path).notes
        if note.code == "number-unusual" and "exponent" in dict(note.values)["field"]
    ]  # fmt: skip


STUDY = """
schema = "converter-match/study/1"
id = "one"
name = "One engine for one converter"
source = "a test"
[[candidate]]
id = "new"
engine = "{engine}"
converter = "single-stage-345mm-tight"
"""


def decision_of(tmp_path, engine):
    path = tmp_path / "study.toml"
    path.write_text(STUDY.format(engine=engine), encoding="utf-8")
    return cm.run_study(cm.read(path), draws=0).decision


def test_nothing_is_ordered_on_data_that_are_in_doubt(tmp_path):
    clean = decision_of(tmp_path, "six-cylinder-7l-185kw")
    slipped = engine_file(tmp_path, "value = 1.16 }", "value = 11.6 }")
    doubted = decision_of(tmp_path, slipped.name)
    steps = [note.code for note in doubted.before_ordering]
    assert "settle-data" in steps
    assert "settle-data" not in [note.code for note in clean.before_ordering]
    assert doubted.code != "order"


def test_what_is_only_a_pity_throws_no_doubt():
    assert not throws_doubt(Note("no-row-at-rated-speed", "x"))
    assert throws_doubt(Note("capacity-columns-differ", "x"))
