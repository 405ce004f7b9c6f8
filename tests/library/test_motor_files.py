"""Motor files: what arrives in SI, what is refused in the words of the file, what is odd."""

import numpy as np
import pytest

from converter_match.components.motor_losses import EfficiencyMap
from converter_match.errors import InputError
from converter_match.library.check import oddities
from converter_match.library.read import read_component, read_motor
from converter_match.library.shipped import shipped
from converter_match.library.write import write_component
from tests.motors import RPM, motor

NAMES = sorted(shipped("motors"))
FILE = shipped("motors")["lift-truck-80v-30kw"].read_text(encoding="utf-8")


def read_with(folder, *changes):
    text = FILE
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path = folder / "motor.toml"
    path.write_text(text, encoding="utf-8")
    return read_motor(path)


def test_file_arrives_in_si():
    found = read_motor(shipped("motors")["lift-truck-80v-30kw"])
    assert found.speed_limit == pytest.approx(4000 * RPM)
    assert (found.peak[0], found.regenerative[1], found.peak_time) == (240.0, -180.0, 180.0)
    assert found.voltage.least == 64.0
    assert found.winding.limit == pytest.approx(273.15 + 40 + 105)
    assert found.losses.copper_power == 2400.0
    assert found.accessories[0].reference_torque == pytest.approx(1000.0 / (2800 * RPM))


def test_map_of_a_file_is_the_efficiency_at_its_points():
    found = read_motor(shipped("motors")["loader-650v-120kw"])
    assert isinstance(found.losses, EfficiencyMap)
    power = 300.0 * 1500 * RPM
    assert power / (power + found.losses.at(300.0, 1500 * RPM)) == pytest.approx(0.955)


@pytest.mark.parametrize("name", NAMES)
def test_shipped_motor_is_not_odd_and_survives_writing(name, tmp_path):
    found = read_motor(shipped("motors")[name])
    assert "invented" in found.source
    assert oddities(found) == ()
    write_component(found, tmp_path / "written.toml")
    assert read_component(tmp_path / "written.toml") == found


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("values = [0, 500, 1000,", "values = [50, 500, 1000,",
         r"torque\.speed\.values \(row 1\): the rows do not begin at standstill; found '50 rpm'"),
        ("values = [0, -180, -200,", "values = [0, 180, -200,",
         r"torque\.regenerative\.values \(row 2\): .* brakes.*; found '180 N\*m'; expected zero"),
        ("values = [105, 118,", "values = [105, 618,",
         r"torque\.continuous\.values \(row 2\): above the peak torque"),
        ("value = 4000", "value = 4400", r"speed_limit\.value: beyond the last row.*'4400 rpm'"),
        ("value = 64", "value = 84", r"voltage\.least\.value: above the nominal.*'84 V'"),
        ('unit = "V", value = 92', 'unit = "Volt amps", value = 92', "voltage.most"),
        ("peak_from = \"cold\"", "peak_from = \"hot\"", "duty.peak_from"),
        ("thermal_class = \"155\"", "thermal_class = \"F\"", "thermal.thermal_class"),
        ("value = 90 }", "value = 190 }", r"thermal\.rise_at_continuous\.value: above the rise"),
    ],
)  # fmt: skip
def test_what_no_motor_is_gets_one_clear_line(tmp_path, old, new, said):
    with pytest.raises(InputError, match=said) as refused:
        read_with(tmp_path, (old, new))
    assert "\n" not in str(refused.value)


def test_two_kinds_of_losses_are_one_too_many(tmp_path):
    chart = (
        "[efficiency_map]\nspeed = { unit = 'rpm', values = [500, 1000] }\n"
        "torque = { unit = 'N.m', values = [50, 100] }\n"
        "efficiency = [[0.8, 0.8], [0.9, 0.9]]\n\n[thermal]"
    )
    with pytest.raises(InputError, match=r"efficiency_map: there is a table \[losses\] already"):
        read_with(tmp_path, ("[thermal]", chart))


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"continuous": 0.2}, "motor-overload-unusual"),
        ({"peak_time": 7200.0}, "motor-peak-time-long"),
        ({"regenerative": -1.5}, "motor-regenerates-more"),
    ],
)
def test_odd_data_are_pointed_at(changes, code):
    plain = motor()
    assert code not in {note.code for note in oddities(plain)}
    given = {
        name: value * plain.peak if name != "peak_time" else value
        for name, value in changes.items()
    }
    assert code in {note.code for note in oddities(plain.replace(**given))}


def test_rising_power_beyond_the_corner_and_few_rows_are_odd():
    speed = np.array([0.0, 1000.0, 4000.0]) * RPM
    rows = {"speed": speed, "peak": [200.0, 200.0, 100.0], "continuous": [90.0, 90.0, 50.0]}
    codes = {
        note.code for note in oddities(motor(regenerative=None, speed_limit=speed[-1], **rows))
    }
    assert {"motor-power-rises", "motor-few-rows"} <= codes
