"""What is written reads back as the same component, in the units of the sheet."""

import os
import stat
import tomllib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from converter_match.components.converter_estimate import estimated_converter
from converter_match.components.engine import Fuel, SiteCorrection, SpeedTable
from converter_match.components.site import Air, Site
from converter_match.components.stall_datum import StallDatum
from converter_match.errors import InputError
from converter_match.library.files import TomlFile
from converter_match.library.read import KINDS, read_component, read_converter, read_engine
from converter_match.library.shipped import shipped
from converter_match.library.toml_text import Inline, number_text, toml_text
from converter_match.library.write import component_text, write_component, write_text
from converter_match.notes import assumption
from tests.examples import RPM, converter, engine
from tests.library.sheets import NAMES


def written(component, folder):
    path = folder / "written.toml"
    write_component(component, path, overwrite=True)
    return read_component(path)


@pytest.mark.parametrize(("kind", "name"), NAMES)
def test_shipped_component_survives_to_the_last_bit(kind, name, tmp_path):
    component = read_component(shipped(kind)[name])
    assert written(component, tmp_path) == component


@pytest.mark.parametrize(
    ("kind", "name", "table", "unit", "first"),
    [
        ("converters", "single-stage-325mm", "capacity", "rpm/sqrt(lbf.ft)", 99.5),
        ("converters", "single-stage-310mm", "capacity", "rpm/sqrt(N.m)", 96.2),
        ("converters", "single-stage-260mm", "capacity", "N.m", 41.3),
        ("converters", "fluid-coupling-360mm", "capacity", "kW", 114.2),
        ("engines", "four-cylinder-4l5-125hp", "torque", "lbf.ft", 227),
        ("engines", "six-cylinder-10l5-138kw", "power", "kW", 41.8),
    ],
)
def test_sheet_comes_back_in_its_own_units(kind, name, table, unit, first):
    data = tomllib.loads(component_text(read_component(shipped(kind)[name])))
    column = data["characteristic" if kind == "converters" else "full_load"][table]
    assert (column["unit"], column["values"][0]) == (unit, first)


def test_estimate_stays_labelled_as_one(tmp_path):
    larger = converter().scaled(profile_diameter=0.36)
    again = written(larger, tmp_path)
    assert again == larger
    assert "scaled-by-diameter" in [note.code for note in again.notes]
    assert again.capacity == pytest.approx(converter().capacity * (0.36 / 0.345) ** 5)


def test_engine_with_everything_survives(tmp_path):
    speed = np.array([700.0, 1500.3, 2400.7]) * RPM
    full = engine(
        reference_air=Air(pressure=98765.4, temperature=298.15, vapour_pressure=1013.2),
        displacement=0.0070001,
        motoring=SpeedTable(speed=speed, value=[60.0, 80.1, 1 / 3], name="motoring"),
        exhaust_brake=SpeedTable(speed=speed, value=[1, 2, 3], name="motoring.exhaust_brake"),
        fuel=Fuel(
            specific=SpeedTable(speed=speed, value=[6e-8, 5.5e-8, 5.9e-8], name="fuel.bsfc"),
            idle_rate=3.1e-4,
            lower_heating_value=42.7e6,
            density=835.0,
        ),
        inertia=1.4500001,
        torque_band=0.06,
        rating_standard="ISO 14396",
        site_correction=SiteCorrection(
            method="derate-table",
            engine_factor=0.3,
            mechanical_efficiency=0.85,
            derate_altitude=[0.0, 1234.5],
            derate_factor=[1.0, 0.9],
        ),
        interface=(("housing", "SAE 2"), ("odd key, with ü", 'says "3/8" \\ ½\n'),
                   ("limits.tilt", "30 deg")),
        given_notes=(assumption("a-note", "Something to know."),),
        accessories=(),
    )  # fmt: skip
    assert written(full, tmp_path) == full


def test_smallest_site_survives(tmp_path):
    site = Site(id="x", name="x", source="x", air_temperature=271.3)
    assert written(site, tmp_path) == site


@pytest.mark.slow
@given(
    st.lists(st.floats(0.001, 0.1), min_size=5, max_size=5),
    st.floats(0.1, 1.0),
    st.floats(500.0, 1500.0),
)
def test_any_numbers_survive(capacity, diameter, density):
    component = converter(
        speed_ratio=[0, 0.3, 0.6, 0.86, 0.95],
        torque_ratio=[2.2, 1.8, 1.43, 1.0, 1.0],
        capacity=capacity,
        profile_diameter=diameter,
        oil_density=density,
    )
    text = component_text(component)
    data = tomllib.loads(text)
    assert data["profile_diameter"]["value"] > 0
    again = _read_text(text)
    assert again == component


def _read_text(text):
    return KINDS["converter"].assemble(TomlFile("text", tomllib.loads(text), text))


# --- files ---------------------------------------------------------------------------------------


def test_nothing_is_overwritten_without_being_asked(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text("mine")
    with pytest.raises(InputError, match=r"mine\.toml: is there already"):
        write_component(converter(), path)
    assert path.read_text() == "mine"
    write_component(converter(), path, overwrite=True)
    assert read_converter(path) == converter()
    assert os.listdir(tmp_path) == ["mine.toml"]


def test_nothing_is_left_half_written(tmp_path, monkeypatch):
    path = tmp_path / "mine.toml"
    path.write_text("mine")

    def full_disk(descriptor):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full_disk)
    with pytest.raises(InputError, match="cannot be written: no space left"):
        write_component(converter(), path, overwrite=True)
    assert path.read_text() == "mine"
    assert os.listdir(tmp_path) == ["mine.toml"]


def test_text_that_no_file_can_hold_leaves_nothing(tmp_path):
    with pytest.raises(InputError, match="cannot be written"):
        write_text("\ud800", tmp_path / "a.toml")
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize(
    ("where", "said"), [(".", "is a folder"), ("none/a.toml", "cannot be written: no such file")]
)
def test_place_that_cannot_be_written(tmp_path, where, said):
    with pytest.raises(InputError, match=said):
        write_component(converter(), tmp_path / where)


@pytest.mark.skipif(os.name != "posix", reason="permissions of another kind")
def test_file_has_the_permissions_of_any_new_file(tmp_path):
    write_component(converter(), tmp_path / "a.toml")
    (tmp_path / "b.toml").touch()
    modes = {stat.S_IMODE((tmp_path / name).stat().st_mode) for name in ("a.toml", "b.toml")}
    assert len(modes) == 1


@pytest.mark.skipif(os.name != "posix", reason="links of another kind")
def test_link_stays_a_link(tmp_path):
    (tmp_path / "real.toml").write_text("old")
    (tmp_path / "link.toml").symlink_to("real.toml")
    write_component(converter(), tmp_path / "link.toml", overwrite=True)
    assert (tmp_path / "link.toml").is_symlink()
    assert read_converter(tmp_path / "real.toml") == converter()


def test_what_has_no_file_format_is_refused():
    with pytest.raises(InputError, match="no file format"):
        component_text("a text")


def test_component_that_no_file_may_hold_is_not_written(tmp_path):
    with pytest.raises(InputError, match=r"this engine: id: is empty"):
        write_component(engine(id=" "), tmp_path / "a.toml")
    assert os.listdir(tmp_path) == []


# --- TOML text -----------------------------------------------------------------------------------

TEXTS = st.text(st.characters(exclude_categories=["Cs"]))
NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
VALUES = st.one_of(TEXTS, NUMBERS, st.lists(NUMBERS), st.dictionaries(TEXTS, NUMBERS).map(Inline))
TABLES = st.dictionaries(TEXTS, VALUES, min_size=1)


@pytest.mark.slow
@settings(max_examples=25)  # making up the data is what takes the time
@given(TABLES | st.dictionaries(TEXTS, TABLES | st.lists(TABLES, min_size=1), min_size=1))
def test_toml_text_reads_back_as_the_same_data(data):
    assert tomllib.loads(toml_text(data)) == data


@given(NUMBERS)
def test_number_text_is_exact(number):
    [back] = tomllib.loads(f"a = {number_text(number)}").values()
    assert float(back) == number


def test_engine_read_twice_is_one_engine():
    path = shipped("engines")["six-cylinder-7l-185kw"]
    assert read_engine(path) == read_engine(path)


@pytest.mark.parametrize(
    ("ratio", "said"),
    [((2.1, 2.3), ("torque_ratio_range", [2.1, 2.3])), ((2.2, 2.2), ("torque_ratio", 2.2))],
)
def test_an_estimate_keeps_what_is_known_of_its_torque_ratio(tmp_path, ratio, said):
    datum = StallDatum(engine_speed=1900 * RPM, input_torque=880.0, torque_ratio=ratio)
    estimate = estimated_converter(datum, id="a", name="A", source="test", stator="one-way")
    table = tomllib.loads(component_text(estimate))["stall_datum"]
    assert {key: value for key, value in table.items() if "ratio" in key} == dict([said])
    assert written(estimate, tmp_path).stall_datum == datum
