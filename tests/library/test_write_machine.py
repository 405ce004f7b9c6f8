"""Machine, driveline and arrangement files are written so that they read back the same."""

import pytest

from converter_match.components.arrangement import HydraulicSharing
from converter_match.components.cooling import Cooler
from converter_match.components.engine import SpeedTable
from converter_match.components.gear import DragLaw, DragTable, LockUp
from converter_match.components.machine import Balance, Slip, Tracks
from converter_match.components.tyre import Tyre
from converter_match.errors import InputError
from converter_match.library.read import read_arrangement, read_component, read_driveline
from converter_match.library.shipped import shipped
from converter_match.library.write import component_text, write_component
from tests.examples import RPM

KINDS = ("arrangements", "drivelines", "machines")
SHIPPED = [(kind, name) for kind in KINDS for name in shipped(kind)]


def back(component, folder):
    path = folder / "written.toml"
    write_component(component, path, overwrite=True)
    return read_component(path)


def machine():
    return read_component(shipped("machines")["wheel-loader-17t"])


def driveline():
    return read_driveline(shipped("drivelines")["four-speed-loader"])


def arrangement(body, folder, **changes):
    path = folder / "arrangement.toml"
    path.write_text(
        'schema = "converter-match/arrangement/1"\nid = "a"\nname = "A"\nsource = "invented"\n'
        + body,
        encoding="utf-8",
    )
    return read_arrangement(path).replace(**changes)


@pytest.mark.parametrize(("kind", "name"), SHIPPED)
def test_shipped_file_survives_to_the_last_bit(kind, name, tmp_path):
    component = read_component(shipped(kind)[name])
    again = back(component, tmp_path)
    assert again == component
    assert again.notes == component.notes
    # What was written once is written the same again.
    assert component_text(again) == component_text(component)


@pytest.mark.parametrize(
    "drag",
    [
        DragLaw(constant=3.1, torque=12.5, at_speed=2000.3 * RPM, exponent=1.7),
        DragLaw(constant=4.0, torque=0.0, at_speed=1.0),
        DragLaw(constant=0.0, torque=0.0, at_speed=1.0),
        DragTable(speed=[0.0, 100.1, 250.0], value=[1.0, 1 / 3, 7.0]),
        None,
    ],
)
def test_drag_of_one_gear_or_of_all_survives(drag, tmp_path):
    whole = driveline()
    every = whole.replace(gears=tuple(gear.replace(drag=drag) for gear in whole.gears))
    assert back(every, tmp_path) == every
    first, *others = whole.gears
    single = whole.replace(gears=(first.replace(drag=drag), *others))
    assert back(single, tmp_path) == single


@pytest.mark.parametrize(
    "rule",
    [
        LockUp(allowed=True),
        LockUp(allowed=True, engage_speed_ratio=0.8, release_speed_ratio=0.7),
        LockUp(allowed=True, engage_turbine_speed=180.0, release_turbine_speed=1 / 3 + 150),
    ],
)
def test_lock_up_of_a_gear_survives_also_without_a_rule(rule, tmp_path):
    whole = driveline()
    first, *others = whole.gears
    changed = whole.replace(gears=(first.replace(lock_up=rule), *others), shift_time=0.35)
    assert back(changed, tmp_path) == changed


@pytest.mark.parametrize(
    "changes",
    [
        {"running_gear": Tracks(sprocket_radius=0.4321)},
        {"running_gear": Tyre(rolling_radius=0.777)},
        {"running_gear": Tyre.from_size("23.5R25")},
        {"running_gear": Tyre.from_size("23.5R25", 0.60), "payload": 0.0},
        {"slip": Slip(constant=0.04)},
        {"slip": Slip()},
        {"cooler": None},
        {"cooler": Cooler.from_conductance(871.3)},
        {"cooler": Cooler.from_rating(61e3, 383.15, 311.15)},
        {"cooler": Cooler(difference=[0.0, 40.0, 81.7], heat=[0.0, 33e3, 60e3])},
        {"balance": Balance(driven_axle="front", driven_share_empty=0.55, driven_share_laden=0.7)},
        {"balance": Balance(wheelbase=3.3, gravity_height_empty=1.1, gravity_height_laden=1.4)},
        {"interface": (("spline", "24 teeth"),)},
    ],
)
def test_machine_of_another_build_survives(changes, tmp_path):
    changed = machine().replace(**changes)
    assert back(changed, tmp_path) == changed


@pytest.mark.parametrize(
    "body",
    [
        '[lock_up]\nengage_by = "gear"\nengage = 3\nrelease = 2\n',
        '[lock_up]\nengage_by = "turbine-speed"\nengage = { unit = "rpm", value = 1500 }\n'
        'release = { unit = "rpm", value = 1300 }\n',
        "[part_load]\npedal = [0.25, 0.5, 1.0]\n",
        "[torque_divider]\nratio = { value = 2.4 }\n",
        "[overrun]\n",
        'stator = "none"\nstall_capacity_factor = 1.3\n[permission]\nstator = true\n',
    ],
)
def test_arrangement_of_another_kind_survives(body, tmp_path):
    given = arrangement(body, tmp_path)
    again = back(given, tmp_path)
    assert again == given
    assert again.notes == given.notes


@pytest.mark.parametrize(
    ("component", "says"),
    [
        (lambda folder: machine().replace(cooler=Cooler(difference=[0.0, 61.2345], heat=[0.0, 1e4],
                                                        proportional=True)), "from_rating"),
        (lambda folder: machine().replace(running_gear=Tyre(rolling_radius=0.7, size="23.5R25")),
         "read back as another"),
        (lambda folder: arrangement(
            "[overrun]\n", folder, hydraulic_sharing=HydraulicSharing(
                standby=SpeedTable(speed=[80.0, 250.0], value=[1.0, 2.0], name="standby"),
                relief=SpeedTable(speed=[80.0, 251.0], value=[3.0, 4.0], name="relief"))),
         "one column of speeds"),
    ],
)  # fmt: skip
def test_what_no_file_can_say_is_refused_and_nothing_written(component, says, tmp_path):
    path = tmp_path / "written.toml"
    with pytest.raises(InputError, match=says):
        write_component(component(tmp_path), path)
    assert not path.exists()


def test_teeth_and_ratio_that_contradict_each_other_are_refused_with_their_field(tmp_path):
    body = "[torque_divider]\nsun_teeth = 30\nring_teeth = 75\nratio = { value = %s }\n"
    # 75 / 30 = 2.5; a ratio rounded on a sheet (2.51) is no contradiction, 2.6 is.
    assert arrangement(body % 2.51, tmp_path).torque_divider.planetary.ratio == 2.5
    with pytest.raises(
        InputError,
        match=r"arrangement.toml: torque_divider.ratio: the ratio contradicts the tooth counts; "
        r".*2\.6.*75 / 30 = 2\.5, or no ratio",
    ):
        arrangement(body % 2.6, tmp_path)
