"""Arrangement files: what is in them arrives in SI; what is wrong is said in words of the file."""

import math
import tomllib

import jsonschema
import pytest

from converter_match.components.arrangement import Arrangement
from converter_match.components.planetary import CLASSIC
from converter_match.errors import InputError
from converter_match.library.read import read_arrangement, read_component
from converter_match.library.schema import json_schema
from converter_match.library.shipped import shipped

RPM = math.pi / 30
HEAD = 'schema = "converter-match/arrangement/1"\nid = "a"\nname = "A"\nsource = "test"\n'


def read(tmp_path, body):
    path = tmp_path / "mine.toml"
    path.write_text(HEAD + body, encoding="utf-8")
    return read_arrangement(path)


@pytest.mark.parametrize("name", shipped("arrangements"))
def test_shipped_arrangement_can_be_read_and_says_that_it_is_invented(name):
    path = shipped("arrangements")[name]
    found = read_component(path)
    assert isinstance(found, Arrangement)
    assert found.id == name
    assert "invented" in found.source
    validator = jsonschema.Draft202012Validator(json_schema("arrangement"))
    assert list(validator.iter_errors(tomllib.loads(path.read_text(encoding="utf-8")))) == []


def test_every_part_arrives_in_si(tmp_path):
    found = read(
        tmp_path,
        """
stator = "none"
stall_capacity_factor = 2.25
[lock_up]
engage_by = "turbine-speed"
engage = { unit = "rpm", value = 1500 }
release = { unit = "rev/s", value = 20 }
torque_capacity = { unit = "lbf*ft", value = 1000 }
engagement_time = { unit = "s", value = 0.4 }
[impeller_clutch]
torque_capacity = { unit = "N*m", value = 900 }
engine_speed = { unit = "rpm", value = 1800 }
settings = { unit = "percent", values = [25, 50] }
[hydraulic_sharing]
speed = { unit = "rpm", values = [700, 2400] }
standby = { unit = "N*m", values = [20, 30] }
relief = { unit = "N*m", values = [200, 300] }
[overrun]
exhaust_brake = true
overspeed_limit = { unit = "rpm", value = 2400 }
[part_load]
no_load_speed = { unit = "rpm", values = [1000, 2000] }
pedal = [0.25, 1.0]
[wheels]
overall_ratio = 40
rolling_radius = { unit = "mm", value = 700 }
efficiency = { unit = "percent", value = 90 }
[permission]
overrun = true
""",
    )
    assert found.stator == "none"
    assert found.stall_capacity_factor == 2.25
    assert found.lock_up.engage == pytest.approx(1500 * RPM)
    assert found.lock_up.release == pytest.approx(20 * 2 * math.pi)
    # 1 lbf.ft = 0.45359237 kg x 9.80665 m/s2 x 0.3048 m, by definition.
    assert found.lock_up.torque_capacity == pytest.approx(1000 * 0.45359237 * 9.80665 * 0.3048)
    assert found.impeller_clutch.settings == (0.25, 0.5)
    assert found.hydraulic_sharing.relief.value.tolist() == [200.0, 300.0]
    assert found.overrun.overspeed_limit == pytest.approx(2400 * RPM)
    assert found.part_load.pedals == (0.25, 1.0)
    assert found.wheels.rolling_radius == pytest.approx(0.7)
    assert found.wheels.efficiency == pytest.approx(0.9)
    assert found.permissions.overrun
    assert not found.permissions.negative_speed_ratio


def test_torque_divider_by_ratio_has_the_classic_connection(tmp_path):
    whole = read(tmp_path, "[torque_divider]\nratio = { value = 2.5 }\n")
    found = whole.torque_divider
    assert (found.planetary.ratio, found.connection) == (2.5, CLASSIC)
    [said] = [note for note in whole.notes if note.code == "connection-assumed"]
    assert str(CLASSIC) in said.message
    assert said.kind == "assumption"


def test_a_stated_connection_is_not_called_assumed():
    notes = read_arrangement(shipped("arrangements")["dozer-torque-divider"]).notes
    assert "connection-assumed" not in {note.code for note in notes}


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("", "the arrangement is empty"),
        ("[torque_divider]\nsun_teeth = 0\nring_teeth = 75\n", r"torque_divider\.sun_teeth"),
        ("[torque_divider]\nratio = { value = 0.4 }\n", r"torque_divider\.ratio.*above 1"),
        ("[torque_divider]\n", r"torque_divider\.ratio"),
        (
            '[torque_divider]\nratio = 2\nconnection = "engine -> sun"\n',
            r"torque_divider\.connection",
        ),
        (
            '[impeller_clutch]\ntorque_capacity = { unit = "N*m", value = -900 }\n',
            r"impeller_clutch\.torque_capacity\.value: .*found '-900 N\*m'",
        ),
        (
            '[impeller_clutch]\ntorque_capacity = { unit = "N*m", value = 900 }\n'
            'settings = { unit = "percent", values = [50, 120] }\n',
            r"impeller_clutch\.settings\.values \(row 2\): .*found '120 percent'",
        ),
        (
            '[lock_up]\nengage_by = "speed-ratio"\nengage = { value = 0.8 }\n'
            "release = { value = 0.9 }\n",
            r"lock_up\.release\.value: .*release above the point where it engages",
        ),
        (
            '[lock_up]\nengage_by = "turbine-speed"\nengage = { value = 0.8 }\n'
            "release = { value = 0.7 }\n",
            r"lock_up\.engage",
        ),
        (
            '[lock_up]\nengage_by = "speed-ratio"\nengage = { unit = "rpm", value = 900 }\n'
            "release = { value = 0.7 }\n",
            r"lock_up\.engage\.unit",
        ),
        ('[lock_up]\nengage_by = "gear"\nengage = 2\n', r"lock_up\.release"),
        ('[lockup]\nengage_by = "gear"\n', "did you mean 'lock_up'"),
        (
            '[hydraulic_sharing]\nspeed = { unit = "rpm", values = [700, 2400] }\n'
            'standby = { unit = "N*m", values = [20, 30, 40] }\n',
            r"hydraulic_sharing\.standby",
        ),
        (
            '[hydraulic_sharing]\nspeed = { unit = "rpm", values = [700, 2400] }\n'
            'standby = { unit = "N*m", values = [20, -30] }\n',
            r"hydraulic_sharing\.standby\.values \(row 2\)",
        ),
        ('[overrun]\nexhaust_brake = "yes"\n', r"overrun\.exhaust_brake"),
        ("[part_load]\npedal = [0.5, 1.5]\n", r"part_load\.pedal \(row 2\)"),
        (
            "[permission]\noverun = true\n[part_load]\npedal = [0.5, 1.0]\n",
            "did you mean 'overrun'",
        ),
        ('stator = "fix"\n', "stator"),
        ("stall_capacity_factor = 2.0\n[overrun]\n", "stall_capacity_factor"),
    ],
)
def test_what_is_wrong_is_said_with_file_and_field(tmp_path, body, words):
    with pytest.raises(InputError, match=words) as caught:
        read(tmp_path, body)
    assert "mine.toml" in str(caught.value)
