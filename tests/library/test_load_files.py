"""Load files: what is in them arrives in SI, and what is wrong is said in the file's words."""

import math

import pytest

from converter_match.errors import InputError
from converter_match.library.checked import check_file
from converter_match.library.read import read_load
from converter_match.library.shipped import shipped
from converter_match.library.write import component_text, write_component

RPM = math.pi / 30
HEAD = 'schema = "converter-match/load/1"\nid = "l"\nname = "A load"\nsource = "made up"\n'

POWER = 'power = { unit = "kW", value = 120, also = { unit = "hp", value = 161 } }'


def written(tmp_path, text):
    path = tmp_path / "own.toml"
    path.write_text(HEAD + text, encoding="utf-8")
    return path


def edited(tmp_path, name, *changes):
    text = shipped("loads")[name].read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path = tmp_path / "edited.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_winch_arrives_in_si():
    winch = read_load(shipped("loads")["yarder-winch"])
    assert (winch.kind, winch.hoists, winch.ratio) == ("winch", True, 28.0)
    assert winch.driven.line_pull == 110e3
    assert winch.driven.radii.tolist() == pytest.approx([0.263, 0.289, 0.315, 0.341])


def test_the_power_of_a_pump_becomes_its_torque():
    pump = read_load(shipped("loads")["quarry-drain-pump"]).driven
    assert pump.torque == pytest.approx(120e3 / (1450 * RPM), rel=1e-12)


@pytest.mark.parametrize("name", sorted(shipped("loads")))
def test_a_shipped_load_says_that_it_is_invented_and_survives_writing(name, tmp_path):
    load = read_load(shipped("loads")[name])
    assert "invented" in load.source
    write_component(load, tmp_path / "again.toml")
    assert read_load(tmp_path / "again.toml") == load
    assert check_file(str(shipped("loads")[name])).kind == "load"


def test_what_is_assumed_is_listed_once_and_survives_writing(tmp_path):
    path = written(tmp_path, '[conveyor]\ntorque = { unit = "N*m", value = 90 }\n')
    load = read_load(path)
    codes = [note.code for note in load.notes]
    assert codes == ["load-ratio-assumed", "load-efficiency-assumed", "load-breakaway-assumed"]
    write_component(load, tmp_path / "again.toml")
    assert read_load(tmp_path / "again.toml") == load
    assert component_text(load).count("load-breakaway-assumed") == 1


@pytest.mark.parametrize(
    ("name", "change", "says"),
    [
        ("yarder-winch", ('drum_diameter = { unit = "mm", value = 500 }\n', ""),
         "winch.drum_diameter: layers of rope without a drum"),
        ("yarder-winch", ("layers = 4", "layers = 0"), "winch.layers"),
        ("yarder-winch", ("value = 121", "value = 100"), "winch.breakaway_pull.value"),
        ("yarder-winch", ('"hoist"', '"lift"'), "hoist"),
        ("yarder-winch", ("[winch]", "[wench]"), "wench"),
        ("yarder-winch", ("value = 0.86", "value = 86"), "efficiency"),
        ("yarder-winch", ('unit = "kN", value = 110', 'unit = "kg", value = 110'), "line_pull"),
        ("mud-mixer", ("values = [0, 20,", "values = [10, 20,"), "table.speed.values (row 1)"),
        ("mud-mixer", ("[4.2, 2.6", "[4.2, -2.6"), "table.torque.values (row 2)"),
        ("quarry-drain-pump", (f"{POWER}\n", ""), "pump.torque"),
        ("quarry-drain-pump", ("value = 120,", "value = -120,"), "pump.power"),
        ("crusher-conveyor", ("[conveyor]", '[table]\nspeed = { unit = "rpm", values = [0, 9] }\n'
         'torque = { unit = "N*m", values = [1, 1] }\n[conveyor]'), "several loads in one file"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_with_file_and_field(tmp_path, name, change, says):
    with pytest.raises(InputError) as refused:
        read_load(edited(tmp_path, name, change))
    said = str(refused.value)
    assert says in said
    assert "edited.toml" in said
    assert "\n" not in said


def test_a_file_without_a_load_is_refused(tmp_path):
    with pytest.raises(InputError, match=r"\[winch\], \[pump\], \[propeller\]"):
        read_load(written(tmp_path, "ratio = 2\n"))
