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
    with pytest.raises(InputError, match=r"lock_up\.release: .*release above"):
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


NAMES = {"id": "a", "name": "a", "source": "test"}


def refusal(build):
    with pytest.raises(InputError) as caught:
        build()
    return caught.value


def clutch(**fields):
    return ImpellerClutch(**({"torque_capacity": 900.0} | fields))


DIVIDER = TorqueDivider(planetary=Planetary(ratio=2.5))


@pytest.mark.parametrize(
    ("build", "field"),
    [
        (lambda: LockUpClutch(engage_by="ratio", engage=0.9, release=0.8), "lock_up.engage_by"),
        (lambda: LockUpClutch(engage_by="gear", engage=2.5, release=2), "lock_up.engage"),
        (lambda: LockUpClutch(engage_by="gear", engage=2, release=1.5), "lock_up.release"),
        (lambda: LockUpClutch(engage_by="gear", engage=2, release=3), "lock_up.release"),
        (lambda: LockUpClutch(engage_by="speed-ratio", engage=1.1, release=0.5), "lock_up.engage"),
        (
            lambda: clutch(turbine_torque_limit=1.0, tractive_effort_limit=1.0),
            "impeller_clutch.tractive_effort_limit",
        ),
        (lambda: clutch(settings=()), "impeller_clutch.settings"),
        (lambda: clutch(settings=(0.1, 0.2, float("nan"))), "impeller_clutch.settings[2]"),
        (lambda: HydraulicSharing(), "hydraulic_sharing"),
        (lambda: PartLoadDuty(), "part_load"),
        (lambda: Arrangement(**NAMES, stator="oneway"), "stator"),
        (lambda: Arrangement(**NAMES, stall_capacity_factor=2.0), "stall_capacity_factor"),
        (
            lambda: Arrangement(**NAMES, stator="fixed", stall_capacity_factor=2.0),
            "stall_capacity_factor",
        ),
        (lambda: Arrangement(**NAMES), None),
        (lambda: Arrangement(**NAMES, impeller_clutch=clutch(tractive_effort_limit=1.0)), "wheels"),
        (
            lambda: Arrangement(**NAMES, impeller_clutch=clutch(), torque_divider=DIVIDER),
            "impeller_clutch",
        ),
    ],
)
def test_what_cannot_be_is_refused_by_its_key_in_the_file(build, field):
    assert refusal(build).field == field


def test_lock_up_by_speed_or_gear_may_lie_above_one():
    for watched in ("turbine-speed", "gear"):
        made = LockUpClutch(engage_by=watched, engage=3, release=2)
        assert (made.engage, made.release) == (3, 2)
    speed = LockUpClutch(engage_by="turbine-speed", engage=150.5, release=120.25)
    assert (speed.torque_capacity, speed.engagement_time) == (None, None)


def test_settings_become_a_tuple_of_numbers():
    made = clutch(settings=np.array([0, 1], dtype=int))
    assert made.settings == (0.0, 1.0)
    assert all(type(value) is float for value in made.settings)
    assert clutch().settings == (0.2, 0.4, 0.6, 0.8, 1.0)
    duty = PartLoadDuty(no_load_speeds=[100, 200], pedals=[1])
    assert (duty.no_load_speeds, duty.pedals) == ((100.0, 200.0), (1.0,))
    assert all(type(value) is float for value in (*duty.no_load_speeds, *duty.pedals))
    assert PartLoadDuty(no_load_speeds=(150.0,)).pedals == ()


def test_one_limit_of_the_impeller_clutch_is_enough():
    assert clutch(turbine_torque_limit=700.0).tractive_effort_limit is None
    assert clutch(tractive_effort_limit=7e4).turbine_torque_limit is None
    wheels = Wheels(overall_ratio=50.0, rolling_radius=0.75, efficiency=0.9)
    made = Arrangement(**NAMES, impeller_clutch=clutch(tractive_effort_limit=7e4), wheels=wheels)
    assert made.parts == ("impeller_clutch",)
    Arrangement(**NAMES, impeller_clutch=clutch(turbine_torque_limit=700.0))


def test_wheels_take_arrays_of_any_kind():
    wheels = Wheels(overall_ratio=40.0, rolling_radius=0.5, efficiency=0.8)
    single = np.float32([0.1, 0.7])
    effort, speed = wheels.tractive_effort(single), wheels.travel_speed(single)
    np.testing.assert_allclose(effort, single.astype(float) * 64.0, rtol=1e-15)
    np.testing.assert_allclose(speed, single.astype(float) / 80.0, rtol=1e-15)


def ramp(speed, value):
    return SpeedTable(speed=speed, value=value, name="pump torque")


@pytest.mark.parametrize(("more", "where"), [((100.0, 55.0), "standby"), ((100.0, 60.0), None)])
def test_pump_states_may_be_equal_and_not_the_other_way_round(more, where):
    def made():
        return HydraulicSharing(standby=table(50, 60), partial=table(*more))

    if where is None:
        assert [name for name, _ in made().states] == ["standby", "partial"]
    else:
        assert refusal(made).field == "hydraulic_sharing.standby"


def test_each_pump_state_is_held_against_the_next():
    error = refusal(
        lambda: HydraulicSharing(standby=table(5, 6), partial=table(90, 95), relief=table(80, 99))
    )
    assert error.field == "hydraulic_sharing.partial"


def test_pump_states_are_compared_where_both_are_known_between_their_rows_too():
    # Standby peaks at 60 N.m between the rows of the other: 60 against 55 there.
    peak = ramp([80.0, 160.0, 240.0], [10.0, 60.0, 10.0])
    error = refusal(lambda: HydraulicSharing(standby=peak, relief=table(55, 55)))
    assert error.field == "hydraulic_sharing.standby"
    # 160 rad/s is 1527.9 rpm.
    assert "60 N.m against 55 N.m at 1527.9 rpm" in error.found
    # The other way about, a dip of relief between the rows of standby.
    dip = ramp([80.0, 160.0, 240.0], [90.0, 40.0, 90.0])
    assert (
        "1527.9 rpm" in refusal(lambda: HydraulicSharing(standby=table(55, 55), relief=dip)).found
    )
    # Where only one is known nothing is compared.
    HydraulicSharing(
        standby=ramp([80.0, 120.0], [99.0, 20.0]), relief=ramp([120.0, 240.0], [20.0, 20.0])
    )
    HydraulicSharing(
        standby=ramp([200.0, 240.0], [20.0, 99.0]), relief=ramp([120.0, 200.0], [20.0, 20.0])
    )


def test_parts_are_listed_in_their_fixed_order():
    made = Arrangement(
        **NAMES,
        part_load=PartLoadDuty(pedals=(0.5,)),
        overrun=OverrunDuty(overspeed_limit=300.0),
        torque_divider=DIVIDER,
        lock_up=LockUpClutch(engage_by="gear", engage=2, release=2),
        stator="none",
        stall_capacity_factor=2.0,
    )
    assert made.parts == ("stator", "lock_up", "torque_divider", "overrun", "part_load")
    assert made.notes == ()
