import numpy as np
import pytest

from converter_match.components.arrangement import (
    Arrangement,
    HydraulicSharing,
    ImpellerClutch,
    LockUpClutch,
    OverrunDuty,
    PartLoadDuty,
    TorqueDivider,
    Wheels,
)
from converter_match.components.engine import SpeedTable
from converter_match.components.planetary import Planetary
from converter_match.errors import InputError

SPEED = np.array([80.0, 240.0])


def table(low, high):
    return SpeedTable(speed=SPEED, value=[low, high], name="pump torque")


def test_release_above_engagement_is_refused():
    with pytest.raises(InputError, match=r"lock_up\.release: .*let go above"):
        LockUpClutch(engage_by="speed-ratio", engage=0.8, release=0.9)
    assert LockUpClutch(engage_by="speed-ratio", engage=0.8, release=0.8).release == 0.8


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"engage_by": "speed ratio", "engage": 0.9, "release": 0.8}, "did you mean 'speed-ratio'"),
        ({"engage_by": "speed-ratio", "engage": 1.2, "release": 0.8}, "at most 1"),
        ({"engage_by": "gear", "engage": 2.5, "release": 2}, "number of a gear"),
        ({"engage_by": "gear", "engage": 2, "release": 0}, "release"),
        (
            {"engage_by": "gear", "engage": 2, "release": 2, "torque_capacity": -5.0},
            "torque_capacity: .*found -5",
        ),
        (
            {"engage_by": "gear", "engage": 2, "release": 2, "engagement_time": 0.0},
            "engagement_time",
        ),
    ],
)
def test_impossible_lock_up_is_refused(fields, words):
    with pytest.raises(InputError, match=words):
        LockUpClutch(**fields)


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"torque_capacity": -100.0}, r"impeller_clutch\.torque_capacity: .*found -100"),
        ({"torque_capacity": 0.0}, "torque_capacity"),
        ({"torque_capacity": 100.0, "settings": (0.5, 1.2)}, r"settings \(row 2\)"),
        ({"torque_capacity": 100.0, "settings": ()}, "no setting"),
        ({"torque_capacity": 100.0, "engine_speed": float("nan")}, "engine_speed"),
        ({"torque_capacity": 100.0, "turbine_torque_limit": -1.0}, "turbine_torque_limit"),
    ],
)
def test_impossible_impeller_clutch_is_refused(fields, words):
    with pytest.raises(InputError, match=words):
        ImpellerClutch(**fields)


def test_wheels_turn_turbine_figures_into_effort_and_travel_speed():
    wheels = Wheels(overall_ratio=50.0, rolling_radius=0.75, efficiency=0.9)
    # F = T i eta / r and v = omega r / i, by definition.
    assert float(wheels.tractive_effort(1000.0)) == pytest.approx(1000 * 50 * 0.9 / 0.75)
    assert float(wheels.travel_speed(200.0)) == pytest.approx(200 * 0.75 / 50)
    assert wheels.turbine_torque(60e3) == pytest.approx(1000.0)
    with pytest.raises(InputError, match=r"wheels\.efficiency"):
        Wheels(overall_ratio=50.0, rolling_radius=0.75, efficiency=1.1)
    with pytest.raises(InputError, match=r"wheels\.overall_ratio"):
        Wheels(overall_ratio=0.0, rolling_radius=0.75, efficiency=0.9)


def test_limit_of_effort_needs_the_wheels_and_is_given_once():
    clutch = ImpellerClutch(torque_capacity=900.0, tractive_effort_limit=60e3)
    with pytest.raises(InputError, match="wheels: a limit of tractive effort"):
        Arrangement(id="a", name="a", source="test", impeller_clutch=clutch)
    with pytest.raises(InputError, match="given twice"):
        ImpellerClutch(
            torque_capacity=900.0, tractive_effort_limit=60e3, turbine_torque_limit=900.0
        )


def test_pumps_that_take_more_at_standby_than_at_relief_are_refused():
    with pytest.raises(InputError, match=r"hydraulic_sharing\.standby: .*standby <= partial"):
        HydraulicSharing(standby=table(50, 60), relief=table(100, 55))
    with pytest.raises(InputError, match="no state is given"):
        HydraulicSharing()
    found = HydraulicSharing(standby=table(20, 25), relief=table(100, 110))
    assert [name for name, _ in found.states] == ["standby", "relief"]


def test_settings_of_part_load_are_checked():
    with pytest.raises(InputError, match=r"pedals \(row 2\)"):
        PartLoadDuty(pedals=(0.5, 1.1))
    with pytest.raises(InputError, match="no setting"):
        PartLoadDuty()
    with pytest.raises(InputError, match="overspeed_limit"):
        OverrunDuty(overspeed_limit=-1.0)


def test_arrangement_refuses_what_cannot_stand_together():
    names = {"id": "a", "name": "a", "source": "test"}
    with pytest.raises(InputError, match="the arrangement is empty"):
        Arrangement(**names)
    with pytest.raises(InputError, match="not modelled"):
        Arrangement(
            **names,
            impeller_clutch=ImpellerClutch(torque_capacity=500.0),
            torque_divider=TorqueDivider(planetary=Planetary(ratio=2.5)),
        )
    with pytest.raises(InputError, match="stall_capacity_factor"):
        Arrangement(**names, stator="one-way", stall_capacity_factor=2.0)


def test_arrangements_compare_by_content():
    def made(capacity):
        return Arrangement(
            id="a",
            name="a",
            source="test",
            impeller_clutch=ImpellerClutch(torque_capacity=capacity),
            hydraulic_sharing=HydraulicSharing(standby=table(20, 25)),
        )

    assert made(500.0) == made(500.0)
    assert hash(made(500.0)) == hash(made(500.0))
    assert made(500.0) != made(501.0)
    assert made(500.0).parts == ("impeller_clutch", "hydraulic_sharing")
