"""Driveline, machine and surface files as people write them."""

import re

import numpy as np
import pytest

from converter_match.components.driveline import Driveline
from converter_match.components.machine import Machine
from converter_match.errors import InputError
from converter_match.library.check import oddities
from converter_match.library.read import read_component, read_driveline, read_machine
from converter_match.library.schema import json_schema
from converter_match.library.shipped import find, shipped
from converter_match.library.write import write_component
from tests.examples import RPM

DRIVELINE = """\
schema = "converter-match/driveline/1"
id = "mine"
name = "My gearbox"
source = "name plate"
shift_time = { unit = "ms", value = 400 }

[drag]
speed = { unit = "rpm", values = [0, 1000, 3000] }
torque = { unit = "lbf*ft", values = [4, 8, 20] }

[[gear]]
name = "1"
ratio = 4.0
efficiency = 0.95
lock_up = { engage_turbine_speed = { unit = "rpm", value = 1600 } }

[[gear]]
name = "R"
ratio = -3.8
efficiency = { unit = "percent", value = 94 }
drag = { constant = { unit = "N*m", value = 9 } }

[[stage]]
name = "axle"
ratio = 21.5
efficiency = 0.96
"""
MACHINE = """\
schema = "converter-match/machine/1"
id = "mine"
name = "My loader"
source = "name plate"
mass_empty = { unit = "lb", value = 30000 }
payload = { unit = "short ton", value = 4 }

[tyre]
size = "20.5R25"

[cooler]
rated_heat = { unit = "hp", value = 80 }
oil_temperature = { unit = "degF", value = 230 }
air_temperature = { unit = "degF", value = 100 }

[oil]
volume = { unit = "US gal", value = 9 }
temperature_limit = { unit = "degF", value = 250 }
"""


@pytest.fixture
def file(tmp_path):
    def write(text, name="mine.toml"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_driveline_file_in_mixed_units(file):
    chain = read_driveline(file(DRIVELINE))
    assert chain.shift_time == pytest.approx(0.4)
    assert chain.overall_ratio(chain.gear("1")) == pytest.approx(86.0)
    assert float(chain.gear("1").drag_torque(1000 * RPM)) == pytest.approx(8 * 1.3558179)
    assert float(chain.gear("R").drag_torque(1000 * RPM)) == 9.0
    assert (chain.gear("R").direction, chain.gear("R").ratio) == ("reverse", 3.8)
    assert chain.gear("1").lock_up.rule == "turbine-speed"
    assert chain.gear("R").lock_up.rule == "not-allowed"


BARE = """
schema = "converter-match/driveline/1"
id = "bare"
name = "Gears without a drag"
source = "round numbers for a test"
[[gear]]
name = "1"
ratio = 3.0
efficiency = 0.96
[limits]
turbine_torque = { unit = "N*m", value = 2000 }
"""


def test_drag_that_is_not_given_is_the_fall_back_of_the_regulation(file):
    # (EU) 2017/2400 Annex VI, appendix 8: T_d0 = T_d1000 = 0.015 T_max with more than two friction
    # shift elements, so 30 N.m at rest and 30 more per 1000 rpm.
    chain = read_driveline(file(BARE))
    drag = chain.gear("1").drag_torque(np.array([0.0, 1000.0, 2400.0]) * RPM)
    assert drag == pytest.approx([30.0, 60.0, 102.0])
    assert [n.kind for n in chain.notes if n.code == "gear-drag-assumed"] == ["assumption"]
    assert "gear-drag-not-given" not in {note.code for note in chain.notes}


@pytest.mark.parametrize(
    ("old", "new", "noted"),
    [
        ("[limits]", "[drag]\nconstant = { unit = 'N*m', value = 0 }\n[limits]", None),
        ("[[gear]]", "assume_drag = false\n[[gear]]", "gear-drag-not-given"),
        ("turbine_torque = {", "input_power = { unit = 'kW', value = 200 } # {",
         "gear-drag-not-given"),
    ],
)  # fmt: skip
def test_drag_is_not_assumed_where_it_is_given_refused_or_without_a_rating(file, old, new, noted):
    chain = read_driveline(file(BARE.replace(old, new)))
    assert float(chain.gear("1").drag_torque(1000 * RPM)) == 0.0
    codes = {note.code for note in chain.notes if note.code.startswith("gear-drag")}
    assert codes == ({noted} if noted else set())


def test_assumed_drag_survives_writing_and_reading(file, tmp_path):
    chain = read_driveline(file(BARE))
    path = tmp_path / "again.toml"
    write_component(chain, path)
    again = read_driveline(path)
    speed = np.linspace(0.0, 2400.0, 5) * RPM
    assert again.gear("1").drag_torque(speed) == pytest.approx(chain.gear("1").drag_torque(speed))
    assert "gear-drag-assumed" in {note.code for note in again.notes}


def test_machine_file_in_customary_units(file):
    loader = read_machine(file(MACHINE))
    assert loader.mass("laden") == pytest.approx(38_000 * 0.45359237)
    assert float(loader.cooler.heat_at((230 - 100) / 1.8)) == pytest.approx(80 * 745.6998716)
    assert {note.code for note in loader.notes} >= {"tyre-radius-estimated", "all-wheels-driven"}


@pytest.mark.parametrize("kind", ["drivelines", "machines"])
def test_shipped_files_can_be_read_and_are_not_odd(kind):
    files = shipped(kind)
    assert len(files) >= 4
    for name, path in files.items():
        component = read_component(path)
        assert isinstance(component, Driveline if kind == "drivelines" else Machine)
        assert component.id == name
        assert "invented" in component.source
        assert oddities(component) == ()


DRIVELINE_FAULTS = [
    ("ratio = 4.0", "ratio = 0.0", "gear (no. 1).ratio: out of range; found '0'"),
    ("ratio = 4.0", 'direction = "reverse"\nratios = 4.0', "did you mean 'ratio'"),
    ("efficiency = 0.95", "efficiency = 95", "gear (no. 1).efficiency: not an efficiency"),
    ('name = "R"', 'name = "1"', "gear (no. 2).name: gear no. 1 has that name already"),
    (
        "ratio = -3.8",
        'ratio = -3.8\ndirection = "forward"',
        "gear (no. 2).ratio: a forward gear with",
    ),
    ("values = [0, 1000, 3000]", "values = [500, 1000, 3000]", "drag.speed"),
    ("values = [4, 8, 20]", "values = [4, -8, 20]", "drag.torque.values (row 2)"),
    ('unit = "ms", value', 'unit = "m", value', "shift_time.unit"),
    (
        "engage_turbine_speed",
        "release_turbine_speed",
        "a release without an engagement",
    ),
    ('"1"\nratio', "1\nratio", "gear (no. 1).name"),
]


@pytest.mark.parametrize(("right", "wrong", "message"), DRIVELINE_FAULTS)
def test_driveline_fault_is_named_with_file_and_field(file, right, wrong, message):
    path = file(DRIVELINE.replace(right, wrong, 1))
    with pytest.raises(InputError, match=re.escape(message)) as caught:
        read_driveline(path)
    assert str(caught.value).startswith(str(path))
    assert "\n" not in str(caught.value)


MACHINE_FAULTS = [
    ("value = 30000", "value = 30", "mass_empty.value: no such machine"),
    ('unit = "short ton"', 'unit = "ton"', "payload.unit: 'ton' does not say which ton"),
    ('size = "20.5R25"', 'size = "20.5 radial"', "tyre.size: not a tyre size that can be read"),
    ("[tyre]\n", "[tracks]\n", "tracks"),
    ("[cooler]\n", "[cooler]\nconductance = { unit = \"W/K\", value = 900 }\n", "several forms"),
    ("value = 230", "value = 90", "cooler.oil_temperature.value: the oil must be warmer"),
    ("value = 250", "value = 950", "oil.temperature_limit.value: not a temperature"),
    ("[oil]", "[balance]\ndriven_axle = \"rear\"\n[oil]", "balance.driven_share_empty: missing"),
    ("[oil]", "[slip]\nuse = [0, 1]\n[oil]", "slip.slip: missing"),
    ("[oil]", "[slip]\nvalue = 1.5\n[oil]", "slip.value: out of range"),
]  # fmt: skip


@pytest.mark.parametrize(("right", "wrong", "message"), MACHINE_FAULTS)
def test_machine_fault_is_named_with_file_and_field(file, right, wrong, message):
    path = file(MACHINE.replace(right, wrong, 1))
    with pytest.raises(InputError, match=re.escape(message)) as caught:
        read_machine(path)
    assert str(caught.value).startswith(str(path))
    assert "\n" not in str(caught.value)


def test_loaded_radius_stands_in_with_a_note(file):
    path = file(MACHINE.replace('size = "20.5R25"', 'loaded_radius = { unit = "mm", value = 690 }'))
    loader = read_machine(path)
    assert loader.rolling_radius == pytest.approx(0.69)
    assert "loaded-radius-as-rolling" in {note.code for note in loader.notes}


def test_laden_values_that_are_missing_are_those_of_the_empty_machine(file):
    balance = (
        '[balance]\ndriven_axle = "rear"\ndriven_share_empty = { value = 0.5 }\n'
        'wheelbase = { unit = "m", value = 3 }\ngravity_height_empty = { unit = "m", value = 1 }\n'
    )
    truck = read_machine(file(MACHINE + balance))
    assert truck.balance.driven_share("laden") == 0.5
    assert truck.balance.transfer("laden") == pytest.approx(1 / 3)
    assert {note.code for note in truck.notes} >= {
        "driven-share-laden-not-given",
        "gravity-height-laden-not-given",
    }


@pytest.mark.parametrize(
    ("kind", "right", "wrong", "code"),
    [
        ("driveline", "ratio = 21.5", "ratio = 215", "overall-ratio-unusual"),
        ("driveline", "efficiency = 0.96", "efficiency = 0.5", "efficiency-unusual"),
        ("driveline", "ratio = -3.8", "ratio = -0.9", "reverse-ratio-unusual"),
        ("driveline", "values = [4, 8, 20]", "values = [4, 80, 200]", "drag-torque-high"),
        ("driveline", 'unit = "ms"', 'unit = "s"', "shift-time-long"),
        ("machine", "value = 9 }", "value = 900 }", "oil-volume-unusual"),
        ("machine", "value = 80 }", "value = 8000 }", "cooler-size-unusual"),
        ("machine", "value = 250", "value = 350", "oil-limit-unusual"),
    ],
)
def test_odd_data_are_named(file, kind, right, wrong, code):
    text = {"driveline": DRIVELINE, "machine": MACHINE}[kind]
    assert oddities(read_component(file(text))) == ()
    assert code in {
        note.code for note in oddities(read_component(file(text.replace(right, wrong))))
    }


@pytest.mark.parametrize("kind", ["driveline", "machine", "surfaces"])
def test_json_schema_of_the_new_kinds(kind):
    assert json_schema(kind)["additionalProperties"] is False


def test_wrong_kind_of_file_is_named():
    with pytest.raises(InputError, match="another kind"):
        read_machine(find("drivelines", "four-speed-loader"))
