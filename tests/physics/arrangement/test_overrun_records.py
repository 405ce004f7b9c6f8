"""Overrun and lock-up at the edges of their data, and stability against the definition."""

import numpy as np
import pytest

from converter_match.components.arrangement import LockUpClutch
from converter_match.components.engine import Accessory, SpeedTable
from converter_match.errors import InputError
from converter_match.notes import assumption
from converter_match.physics.arrangement.lockup import engagement, lock_up, locked_points
from converter_match.physics.arrangement.overrun import (
    braking,
    braking_range,
    locked_braking,
    motoring_supply,
    with_overrun,
)
from converter_match.physics.dynamics.drive_train import drawn_to_unity
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.solver import match
from tests.examples import RPM, converter, engine

TABLE = np.array([700, 1200, 1800, 2600]) * RPM
END = float(TABLE[-1])
DRAG = np.array([60.0, 80.0, 115.0, 170.0])
SUPPLY, UNIT = engine_supply(engine()), converter()


def driven_engine(torque=DRAG, **changes):
    fields = {"motoring": SpeedTable(speed=TABLE, value=torque, name="motoring"), "accessories": ()}
    return engine(**(fields | changes))


def straight(slope, last=4.0):
    """A converter whose capacity beyond 1 is -slope (nu - 1)."""
    return UNIT.replace(
        speed_ratio=np.concatenate([UNIT.speed_ratio, [1.0, last]]),
        torque_ratio=np.concatenate([UNIT.torque_ratio, [1.0, 1.0]]),
        capacity=np.concatenate([UNIT.capacity, [0.0, -slope * (last - 1)]]),
        kinks=(1.0,),
    )


# --- equilibrium ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("slip", "stable"), [(0.55, True), (0.9, True), (1.1, False), (1.6, False)]
)
def test_equilibrium_is_stable_down_to_twice_the_engine_speed(slip, stable):
    # Constant drag D, C = -c (nu - 1): w_t = w + D / (c w) has its least value at nu - 1 = 1. With
    # a larger slip a slower engine is dragged less than it needs, and stalls.
    omega = 95.0
    c = 60.0 / (omega**2 * slip)
    supply = motoring_supply(driven_engine([60.0] * 4), overspeed_limit=100.0)
    found = braking(supply, straight(c), (1 + slip) * omega)
    assert float(found.engine_speed) == pytest.approx(omega, rel=1e-9)
    assert bool(found.stable) is stable
    assert float(found.speed_ratio) == pytest.approx(1 + slip, rel=1e-9)
    assert float(found.turbine_speed) == (1 + slip) * omega


def test_drag_that_rises_with_speed_steadies_the_engine():
    # T = -D (w / 95): with C = -c (nu - 1) the net slope adds -D / w, so that the bound is
    # D / w - c w - D / w < 0: stable at any slip.
    slip, omega = 1.3, 95.0
    drag = 60.0 * TABLE / omega
    supply = motoring_supply(driven_engine(drag), overspeed_limit=100.0)
    found = braking(supply, straight(60.0 / (omega**2 * slip)), (1 + slip) * omega)
    assert float(found.engine_speed) == pytest.approx(omega, rel=1e-9)
    assert bool(found.stable)


def test_turbine_speeds_outside_the_range_are_blank_in_every_field():
    supply, unit = motoring_supply(driven_engine()), with_overrun(UNIT, assume=True)
    low, high = braking_range(supply, unit)
    found = braking(supply, unit, [[0.99 * low, 0.5 * (low + high)], [low, 1.01 * high]])
    known = [[False, True], [True, False]]
    for name in ("turbine_speed", "speed_ratio", "engine_speed", "impeller_torque",
                 "turbine_torque"):  # fmt: skip
        assert np.isfinite(getattr(found, name)).tolist() == known
    assert found.stable.tolist() == known


def test_range_runs_from_lowest_to_highest_engine_speed():
    # nu - 1 = D / (c w^2) at either end.
    supply = motoring_supply(driven_engine([60.0] * 4))
    c = 60.0 / (83.0**2 * 0.5)
    low, high = (w * (1 + 60.0 / (c * w**2)) for w in supply.domain)
    assert supply.domain == pytest.approx((800 * RPM, END))
    assert braking_range(supply, straight(c)) == pytest.approx((low, high), rel=1e-9)
    # Or as far as the data go: to speed ratio 1.2, where w = sqrt(D / (0.2 c)).
    at_end = np.sqrt(60.0 / (0.2 * c))
    low = 1.2 * at_end
    assert braking_range(supply, straight(c, last=1.2)) == pytest.approx((low, high), rel=1e-9)


def test_no_data_beyond_one_are_refused_before_anything_is_worked_out():
    for ask in (lambda s: braking_range(s, UNIT), lambda s: braking(s, UNIT, 100.0)):
        with pytest.raises(InputError, match="no data beyond speed ratio 1") as caught:
            ask(motoring_supply(driven_engine()))
        assert caught.value.field == "speed_ratio"


def test_data_that_never_reach_the_drag_name_the_converter():
    with pytest.raises(InputError, match="nowhere in the data") as caught:
        braking_range(motoring_supply(driven_engine()), straight(1e-9, last=1.25))
    wrong = caught.value
    assert (wrong.source, wrong.field) == ("test-converter", "speed_ratio")
    assert wrong.found == "data up to speed ratio 1.25"


# --- what drags -----------------------------------------------------------------------------------


def test_drag_is_the_table_and_what_the_engine_drives():
    pump = Accessory(name="pump", power=5e3, at_speed=2000 * RPM, exponent=1)
    off = Accessory(name="off", power=0.0, at_speed=2000 * RPM, exponent=1)
    supply = motoring_supply(driven_engine(accessories=(pump, off)), hydraulic_torque=30.0)
    extra = 5e3 / (2000 * RPM) + 30.0
    assert supply.torque(TABLE[1:]) == pytest.approx(-(DRAG[1:] + extra), rel=1e-12)
    assert len(supply.laws) == 1
    assert supply.domain == (pytest.approx(800 * RPM), END)
    with pytest.raises(InputError):
        supply.torque(END * (1 + 1e-9))


def test_exhaust_brake_has_a_table_of_its_own():
    made = driven_engine(
        exhaust_brake=SpeedTable(speed=TABLE, value=3 * DRAG, name="exhaust brake")
    )
    assert float(motoring_supply(made).torque(END)) == pytest.approx(-170.0)
    assert float(motoring_supply(made, exhaust_brake=True).torque(END)) == pytest.approx(-510.0)
    for kind, field in ((False, "motoring"), (True, "motoring.exhaust_brake")):
        with pytest.raises(InputError, match="engine braking needs") as caught:
            motoring_supply(engine(), exhaust_brake=kind)
        assert (caught.value.source, caught.value.field) == ("test-engine", field)
        assert caught.value.expected == f"a [{field}] table of speed and torque"


@pytest.mark.parametrize("torque", [float(np.nextafter(0, -1)), -5.0, np.nan, np.inf])
def test_pump_torque_below_zero_or_none_is_refused(torque):
    with pytest.raises(InputError, match="out of range") as caught:
        motoring_supply(driven_engine(), hydraulic_torque=torque)
    assert caught.value.field == "hydraulic_torque"
    assert caught.value.found == pytest.approx(torque, nan_ok=True)
    assert float(motoring_supply(driven_engine(), hydraulic_torque=0.0).torque(END)) == -170.0


def test_overspeed_limit_lies_within_the_table():
    for limit in (END, END * (1 + 0.9e-9)):
        assert motoring_supply(driven_engine(), overspeed_limit=limit).domain[1] == limit
    with pytest.raises(InputError, match="above the motoring table") as caught:
        motoring_supply(driven_engine(), overspeed_limit=END * (1 + 2e-9))
    wrong = caught.value
    assert (wrong.source, wrong.field) == ("test-engine", "overspeed_limit")
    assert wrong.found == wrong.expected.removeprefix("at most ") == "2600 rpm"
    # Between rows the table is read there; rows above are gone.
    limited = motoring_supply(driven_engine(), overspeed_limit=1800 * RPM)
    assert limited.domain[1] == 1800 * RPM
    assert limited.source.x.size == 3
    assert float(limited.torque(1800 * RPM)) == pytest.approx(-115.0)


@pytest.mark.parametrize("limit", [700 * RPM, 600 * RPM])
def test_overspeed_limit_below_the_table_is_refused(limit):
    with pytest.raises(InputError, match="below the motoring table") as caught:
        motoring_supply(driven_engine(), overspeed_limit=limit)
    wrong = caught.value
    assert (wrong.source, wrong.field) == ("test-engine", "overspeed_limit")
    assert wrong.expected == "above 700 rpm"


# --- assumed data ---------------------------------------------------------------------------------


def test_assumed_rows_and_what_belongs_to_the_converter():
    before = assumption("of-the-converter", "Something assumed before.")
    unit = converter(given_notes=(before,))
    found = with_overrun(unit, assume=True, shape="guideline sample")
    beyond = [1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.7, 1.8, 1.9, 2.0]
    share = [0, 0.132, 0.263, 0.316, 0.368, 0.421, 0.474, 0.526, 0.579, 0.632, 0.684]
    assert found.speed_ratio.tolist() == [*unit.speed_ratio, *beyond]
    assert found.torque_ratio.tolist() == [*unit.torque_ratio, *[1.0] * 11]
    assert found.capacity[:8].tolist() == unit.capacity.tolist()
    assert found.capacity[8:] == pytest.approx(-unit.capacity[0] * np.array(share), rel=1e-12)
    assert found.coupling_speed_ratio == 0.86
    assert [n.code for n in found.given_notes] == ["of-the-converter", "overrun-assumed"]
    assert "published tables" in found.given_notes[-1].message


def test_data_that_end_at_one_are_not_yet_overrun():
    unit = UNIT.replace(
        speed_ratio=[*UNIT.speed_ratio, 1.0],
        torque_ratio=[*UNIT.torque_ratio, 1.0],
        capacity=[*UNIT.capacity, 0.0],
    )
    with pytest.raises(InputError, match="no data beyond speed ratio 1"):
        with_overrun(unit)
    found = with_overrun(unit, assume=True)
    assert np.count_nonzero(found.speed_ratio == 1.0) == 1
    assert found.domain[1] == 2.0


def test_fluid_coupling_is_mirrored_from_half_speed_on():
    nu = np.array([0.0, 0.4, 0.5, 0.7, 0.9])
    unit = converter(
        stator="none", speed_ratio=nu, torque_ratio=np.ones(5), capacity=0.02 * (1 - nu**4),
        coupling_speed_ratio=None,
    )  # fmt: skip
    found = with_overrun(unit, assume=True)
    assert found.speed_ratio == pytest.approx([*nu, 1.0, 1 / 0.9, 1 / 0.7, 2.0])
    mirrored = -0.02 * (1 - np.array([0.9, 0.7, 0.5]) ** 4) / np.array([0.9, 0.7, 0.5]) ** 2
    assert found.capacity[5:] == pytest.approx([0.0, *mirrored], rel=1e-12)
    assert "turbine and impeller changing places" in found.given_notes[-1].message


def test_refusal_says_what_would_help():
    short = converter(
        speed_ratio=[0, 0.4], torque_ratio=[2.2, 1.7], capacity=[0.02, 0.018],
        coupling_speed_ratio=None,
    )  # fmt: skip
    held = short.replace(stator="fixed")
    # Without a coupling point nothing is known between the last row and speed ratio 1.
    for unit, assume, words, expected in (
        (UNIT, False, "nothing is extrapolated", "rows above 1, or the permission overrun"),
        (short, True, "nothing is extrapolated", "rows above 1, or the permission overrun"),
        (held, True, "with a fixed stator they cannot be derived", "rows above 1"),
    ):
        with pytest.raises(InputError, match=words) as caught:
            with_overrun(unit, assume=assume)
        wrong = caught.value
        assert (wrong.source, wrong.field) == ("test-converter", "speed_ratio")
        assert wrong.found == f"data up to {unit.domain[1]:.4g}"
        assert wrong.expected == expected


# --- locked up ------------------------------------------------------------------------------------


def test_locked_braking_holds_at_the_very_ends_and_not_beyond():
    supply = motoring_supply(driven_engine())
    low, high = supply.domain
    speeds = [np.nextafter(low, 0), low, 1800 * RPM, high, np.nextafter(high, 1e9)]
    found = locked_braking(supply, speeds)
    inside = [False, True, True, True, False]
    assert found.stable.tolist() == inside
    for name in ("turbine_speed", "engine_speed", "speed_ratio", "turbine_torque"):
        assert np.isfinite(getattr(found, name)).tolist() == inside
    assert found.turbine_torque[2:4] == pytest.approx([-115.0, -170.0])
    assert found.impeller_torque[1:4].tolist() == found.turbine_torque[1:4].tolist()
    assert found.speed_ratio[1:4].tolist() == [1.0, 1.0, 1.0]
    assert found.engine_speed[1:4].tolist() == speeds[1:4]
    assert found.retarding_power[3] == pytest.approx(170.0 * high)


def test_locked_points_hold_at_the_very_ends_and_not_beyond():
    low, high = SUPPLY.domain
    speeds = [np.nextafter(low, 0), low, 150.0, high, np.nextafter(high, 1e9)]
    found = locked_points(SUPPLY, speeds)
    inside = [False, True, True, True, False]
    assert found.stable.tolist() == found.found.tolist() == inside
    for name in ("speed_ratio", "torque_ratio", "input_torque"):
        assert np.isfinite(getattr(found, name)).tolist() == inside
    assert found.engine_speed[1:4].tolist() == speeds[1:4]
    assert found.input_torque[2] == float(SUPPLY.torque(150.0))


def test_clutch_holds_from_its_speed_on_and_where_the_engine_runs():
    low, high = SUPPLY.domain
    clutch = LockUpClutch(engage_by="turbine-speed", engage=150.0, release=50.0)
    speeds = np.array([60.0, low, np.nextafter(150.0, 0), 150.0, high, high + 1])
    run = lock_up(SUPPLY, UNIT, clutch, speeds)
    assert run.turbine_speed.tolist() == speeds.tolist()
    assert run.rising.tolist() == [False, False, False, True, True, False]
    assert run.falling.tolist() == [False, True, True, True, True, False]
    # It lets go where the engine would have to run below idle.
    assert (run.closes, run.lets_go) == (150.0, low)
    for falling, holds in ((False, run.rising), (True, run.falling)):
        driven = run.driven(falling=falling)
        for name in ("speed_ratio", "torque_ratio", "engine_speed", "input_torque", "stable"):
            expected = np.where(holds, getattr(run.locked, name), getattr(run.open, name))
            np.testing.assert_array_equal(getattr(driven, name), expected)
    both = LockUpClutch(engage_by="turbine-speed", engage=150.0, release=120.0)
    run = lock_up(SUPPLY, UNIT, both, [float(np.nextafter(120.0, 0)), 120.0])
    assert run.falling.tolist() == [False, True]
    assert run.lets_go == 120.0
    for engage, closes in ((high, high), (float(np.nextafter(high, 1e9)), np.nan)):
        late = LockUpClutch(engage_by="turbine-speed", engage=engage, release=50.0)
        assert lock_up(SUPPLY, UNIT, late, speeds).closes == pytest.approx(closes, nan_ok=True)


def test_rule_at_a_speed_ratio_without_a_match_never_closes():
    # Held down at stall, let go further up: no match at 0.1.
    tight = converter(capacity=[0.3, 0.25, 0.02, 0.018, 0.013, 0.012, 0.005, 0.001])
    clutch = LockUpClutch(engage_by="speed-ratio", engage=0.1, release=0.1)
    run = lock_up(SUPPLY, tight, clutch, [100.0, 200.0])
    assert np.isnan(run.closes)
    assert not run.rising.any()


def test_rules_that_cannot_be_read_name_the_field():
    by_gear = LockUpClutch(engage_by="gear", engage=2, release=2)
    with pytest.raises(InputError) as caught:
        lock_up(SUPPLY, UNIT, by_gear, [100.0])
    assert caught.value.field == "gear"
    with pytest.raises(InputError) as caught:
        engagement(SUPPLY, UNIT, by_gear)
    assert caught.value.field == "turbine_speed"
    beyond = LockUpClutch(engage_by="speed-ratio", engage=0.991, release=0.8)
    with pytest.raises(InputError) as caught:
        lock_up(SUPPLY, UNIT, beyond, [100.0])
    wrong = caught.value
    assert (wrong.source, wrong.field, wrong.found) == ("test-converter", "lock_up.engage", 0.991)
    at_end = LockUpClutch(engage_by="speed-ratio", engage=0.99, release=0.8)
    assert np.isfinite(lock_up(SUPPLY, UNIT, at_end, [100.0]).closes)
    for name in ("engine_inertia", "driven_inertia"):
        with pytest.raises(InputError) as caught:
            engagement(SUPPLY, UNIT, at_end, **{name: 0.0})
        assert caught.value.field == name


def test_engagement_by_hand():
    clutch = LockUpClutch(engage_by="gear", engage=2, release=2, engagement_time=0.4)
    plain = match(SUPPLY, UNIT, 0.9).from_idle()
    speed = float(plain.turbine_speed)
    shock = engagement(
        SUPPLY, UNIT, clutch, turbine_speed=speed, engine_inertia=2.0, driven_inertia=6.0
    )
    omega, torque = float(plain.engine_speed), float(plain.input_torque)
    step = omega - speed
    assert shock.turbine_speed == speed
    assert shock.engine_speed == pytest.approx(omega, rel=1e-9)
    assert shock.speed_step == pytest.approx(step, rel=1e-8)
    assert shock.torque_before == pytest.approx(torque, rel=1e-8)  # past the coupling point
    assert shock.torque_after == pytest.approx(float(SUPPLY.torque(speed)), rel=1e-12)
    # J J2 / (J + J2) = 1.5.
    assert shock.energy == pytest.approx(0.75 * step**2, rel=1e-7)
    # The machine keeping its speed: what the engine has beyond the converter, over the slip.
    slip = np.linspace(0.0, step, 4001)
    whole = drawn_to_unity(UNIT)
    omega = speed + slip
    spare = SUPPLY.torque(omega) - whole.capacity_at(np.minimum(speed / omega, 1.0)) * omega**2
    heat = step**2 + 0.4 / step * np.trapezoid(spare * slip, slip)
    assert shock.energy_with_torque == pytest.approx(heat, rel=1e-5)
    assert shock.clutch_torque == pytest.approx(spare[0] + 2.0 * step / 0.4, rel=1e-7)
    untimed = LockUpClutch(engage_by="gear", engage=2, release=2)
    shock = engagement(SUPPLY, UNIT, untimed, turbine_speed=speed, engine_inertia=2.0)
    assert shock.energy == pytest.approx(step**2, rel=1e-7)
    assert (shock.energy_with_torque, shock.clutch_torque) == (None, None)
    # Locked but no match, or the other way round: no engagement.
    assert engagement(SUPPLY, UNIT, untimed, turbine_speed=50.0) is None
    assert engagement(SUPPLY, UNIT, untimed, turbine_speed=1e3) is None
