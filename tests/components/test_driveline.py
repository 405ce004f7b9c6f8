import pickle

import numpy as np
import pytest

from converter_match.components.driveline import DragLaw, DragTable, LockUp, Stage
from converter_match.errors import InputError
from tests.examples import RPM
from tests.machines import DRAG, driveline, gear


def test_gears_are_sorted_by_direction_from_the_lowest():
    chain = driveline(gears=(gear("4", 0.8), gear("R", 3.0, direction="reverse"), gear("1", 4.0)))
    assert [item.name for item in chain.forward] == ["1", "4"]
    assert [item.name for item in chain.reverse] == ["R"]


def test_ratios_and_efficiencies_multiply():
    stages = (
        Stage(name="transfer", ratio=1.5, efficiency=0.98),
        Stage(name="axle", ratio=4.0, efficiency=0.97),
    )
    chain = driveline(stages=stages)
    assert chain.overall_ratio(chain.gears[0]) == pytest.approx(4.0 * 1.5 * 4.0)
    assert chain.efficiency(chain.gears[0]) == pytest.approx(0.96 * 0.98 * 0.97)


def test_value_equality_survives_pickling_and_notices_a_change():
    chain = driveline()
    assert pickle.loads(pickle.dumps(chain)) == chain
    assert chain.replace(shift_time=0.4) != chain


def test_drag_law_and_drag_table_say_the_same():
    speed = np.linspace(0, 2500, 60) * RPM
    table = DragTable(speed=speed, value=DRAG.at(speed))
    there = np.array([0.0, 700.0, 2000.0]) * RPM
    np.testing.assert_allclose(table.at(there), DRAG.at(there), rtol=1e-6)
    assert float(DRAG.at(2000 * RPM)) == pytest.approx(20.0)


def test_nothing_is_extrapolated_beyond_a_drag_table():
    table = DragTable(speed=[0.0, 100.0], value=[1.0, 2.0])
    with pytest.raises(InputError, match="drag torque is not known there"):
        table.at(101.0)


@pytest.mark.parametrize(
    ("build", "message"),
    [
        (lambda: gear(ratio=0.0), r"gear '1'.ratio: out of range; found 0"),
        (lambda: gear(efficiency=96.0), r"efficiency: not an efficiency; found 96; .*write 0.96"),
        (lambda: gear(direction="back"), "expected forward | reverse"),
        (lambda: driveline(gears=()), "at least one gear"),
        (
            lambda: driveline(gears=(gear("1"), gear("1", 2.0))),
            r"gear \(no\. 2\).name: gear no\. 1 has that name",
        ),
        (lambda: driveline(gears=(gear("1"), gear("2"))), "two forward gears have the same ratio"),
        (lambda: driveline(shift_hysteresis=20.0), "a share of the upshift speed"),
        (lambda: driveline(speed_limit=0.0), "speed_limit: out of range"),
        (lambda: Stage(name="axle", ratio=-3.0, efficiency=1.0), "stage 'axle'.ratio"),
        (lambda: DragLaw(torque=-1.0, at_speed=1.0), "drag.torque: out of range; found -1"),
        (lambda: DragTable(speed=[50.0, 100.0], value=[1.0, 2.0]), "must begin at standstill"),
        (lambda: LockUp(engage_speed_ratio=0.8), "lock-up is not allowed"),
        (lambda: LockUp(allowed=True, engage_speed_ratio=1.2), "a speed ratio between 0 and 1"),
        (
            lambda: LockUp(allowed=True, engage_speed_ratio=0.8, release_speed_ratio=0.85),
            "release as soon as it engages",
        ),
        (
            lambda: LockUp(allowed=True, engage_speed_ratio=0.8, release_turbine_speed=100.0),
            "speed ratios or turbine speeds, not both",
        ),
        (
            lambda: gear(upshift_turbine_speed=100.0, downshift_turbine_speed=120.0),
            "left in both directions",
        ),
    ],
)
def test_bad_driveline_is_refused(build, message):
    with pytest.raises(InputError, match=message):
        build()


def test_unknown_gear_names_the_gears():
    with pytest.raises(InputError, match=r"found '4'; expected 1 \| 2 \| 3 \| R"):
        driveline().gear("4")


def codes(chain):
    return {note.code for note in chain.notes}


def test_missing_data_are_listed():
    assert codes(driveline()) == set()
    bare = driveline(gears=(gear(drag=None, lock_up=LockUp(allowed=True)),), stages=())
    assert codes(bare) == {"gear-drag-not-given", "lock-up-rule-not-given", "no-final-drive"}


def test_unusual_step_between_gears_is_named():
    chain = driveline(gears=(gear("1", 4.0), gear("2", 1.2)))
    assert codes(chain) == {"gear-step-unusual"}
    assert any("3.33" in note.message for note in chain.notes)


def test_downshift_that_is_not_below_the_upshift_is_named():
    up = gear("1", 4.0, upshift_turbine_speed=200.0)
    # At the gearbox output: upshift at 50, downshift at 55 rad/s.
    chain = driveline(gears=(up, gear("2", 2.0, downshift_turbine_speed=110.0)))
    assert codes(chain) == {"shift-no-hysteresis"}
    chain = driveline(gears=(up, gear("2", 2.0, downshift_turbine_speed=80.0)))
    assert codes(chain) == set()
