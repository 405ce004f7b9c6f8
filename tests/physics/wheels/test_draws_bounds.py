"""Draws on the road: each factor as its own machine by hand, grip, idle and slip."""

from dataclasses import replace

import numpy as np
import pytest

from converter_match.components.driveline import LockUp
from converter_match.components.machine import Slip
from converter_match.constants import GRAVITY
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.wheels.drawn_drive import DrawnDrive, Guess, followed
from converter_match.physics.wheels.draws import RoadFactors
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.wheels import gear_drives
from tests.draws import steady_state
from tests.examples import RPM, converter, engine
from tests.machines import driveline, gear, machine, surface

HELD = LockUp(allowed=True, engage_turbine_speed=120.0, release_turbine_speed=90.0)
SLIP = Slip(use=np.array([0.0, 0.5, 1.0]), slip=np.array([0.0, 0.03, 0.25]))
OWN, BOX = engine(), converter()
LINE = driveline(gears=(gear("1", 4.0), gear("2", 2.2, lock_up=HELD)))
# Only the driven shafts matter: no clutch rule cuts a drive off.
OPEN, _, LOCKED = (
    replace(d, engages=np.inf, releases=0.0)
    for d in gear_drives(TurbineShaft(engine_supply(OWN), BOX), LINE, machine(slip=SLIP))
)
ROAD = RoadLoad.of(machine(), surface(), load="laden", air_density=1.2)
NAMES = ("torque", "loads", "capacity", "ratio_share", "mass", "rolling_resistance", "air")


def factors(n=1, whole_ratio=False, **changes):
    given = {name: np.broadcast_to(changes.get(name, 1.0), n).astype(float) for name in NAMES}
    return RoadFactors(**given, whole_ratio=whole_ratio)


def accessories(speed):
    rated = 2200 * RPM
    return 11e3 / rated * (speed / rated) ** 2 + 3e3 / rated * (speed / rated) ** 0.4


def gross(speed):
    return float(engine_supply(OWN).torque(speed)) + accessories(speed)


def resistance(speed, grade, change):
    angle = np.arctan(grade)
    rolling = 0.03 * change.get("rolling_resistance", 1.0)
    weight = 20_000.0 * GRAVITY * change.get("mass", 1.0)
    air = 0.5 * 1.2 * 6.3 * change.get("air", 1.0) * speed**2
    return weight * (rolling * np.cos(angle) + np.sin(angle)) + air + 800.0


def slipped(force, grade, change):
    limit = 0.6 * 20_000.0 * GRAVITY * np.cos(np.arctan(grade)) * change.get("mass", 1.0)
    return float(SLIP.at(force / limit))


CHANGES = [
    {}, {"torque": 0.9}, {"loads": 3.0}, {"capacity": 1.1}, {"ratio_share": 0.85}, {"mass": 1.15},
    {"rolling_resistance": 2.0}, {"air": 40.0}, {"torque": 1.05, "loads": 0.5, "air": 5.0},
]  # fmt: skip


@pytest.mark.parametrize("count", [1, 80], ids=["alone", "many"])
@pytest.mark.parametrize("change", CHANGES, ids=str)
@pytest.mark.parametrize("whole", [False, True], ids=["mu-1", "mu"])
def test_open_converter_balances_engine_and_road(change, count, whole):
    grade = 0.12
    found = steady_state(OPEN, ROAD, grade, factors(count, whole, **change))
    assert np.ptp(found.speed) <= 1e-5 * found.speed[0]
    speed, omega = float(found.speed[0]), float(found.engine[0])
    need = resistance(speed, grade, change)
    turbine = speed / (1.0 - slipped(need, grade, change)) * 80.0 / 0.75
    nu = turbine / omega
    impeller = change.get("capacity", 1.0) * float(BOX.capacity_at(nu)) * omega**2
    # The engine side: T factor less loads factor, against what the impeller takes.
    net = change.get("torque", 1.0) * gross(omega) - change.get("loads", 1.0) * accessories(omega)
    assert impeller == pytest.approx(net, rel=1e-4)
    mu, share = float(BOX.torque_ratio_at(nu)), change.get("ratio_share", 1.0)
    mu = mu * share if whole else 1.0 + (mu - 1.0) * share
    drag = 5.0 + 15.0 * turbine / (2000 * RPM)
    push = (mu * impeller - drag) * 80.0 / 0.75 * 0.96 * 0.95
    assert push == pytest.approx(need, rel=1e-4)
    lost = impeller * omega - mu * impeller * turbine
    gearbox = drag * turbine + (mu * impeller - drag) * turbine * 0.04
    assert float(found.heat[0]) == pytest.approx(lost + gearbox, rel=1e-3)


@pytest.mark.parametrize("count", [1, 80], ids=["alone", "many"])
@pytest.mark.parametrize("change", [c for c in CHANGES if "capacity" not in c], ids=str)
def test_locked_up_balances_engine_and_road(change, count):
    grade = 0.03
    found = steady_state(LOCKED, ROAD, grade, factors(count, **change))
    speed, omega = float(found.speed[0]), float(found.engine[0])
    need = resistance(speed, grade, change)
    turbine = speed / (1.0 - slipped(need, grade, change)) * 44.0 / 0.75
    assert turbine == pytest.approx(omega, rel=1e-5)
    net = change.get("torque", 1.0) * gross(omega) - change.get("loads", 1.0) * accessories(omega)
    drag = 5.0 + 15.0 * omega / (2000 * RPM)
    push = (net - drag) * 44.0 / 0.75 * 0.96 * 0.95
    # High up the governor's droop is steep: a torque to a thousandth.
    assert push == pytest.approx(need, rel=2e-3)
    gearbox = drag * omega + (net - drag) * omega * 0.04
    assert float(found.heat[0]) == pytest.approx(gearbox, rel=5e-3)


def test_without_grip_or_below_idle_no_speed_is_held():
    # The push on 12 % is 32 kN: a limit below it, and one above.
    need = resistance(2.0, 0.12, {})
    for share, holds in ((0.97, False), (1.06, True)):
        slippery = replace(
            ROAD, traction=share * need / (20_000.0 * GRAVITY * np.cos(np.arctan(0.12)))
        )
        found = steady_state(OPEN, slippery, 0.12, factors(40))
        assert np.isfinite(found.speed).all() == holds
        for values in (found.engine, found.heat):
            np.testing.assert_array_equal(np.isfinite(values), np.isfinite(found.speed))


def test_drive_that_is_not_in_force_holds_nothing():
    early = replace(LOCKED, releases=1e4)
    assert np.isnan(steady_state(early, ROAD, 0.03, factors(3)).speed).all()
    cut = replace(OPEN, engages=1.0)
    assert np.isnan(steady_state(cut, ROAD, 0.12, factors(3)).speed).all()


def test_some_draws_may_hold_where_others_do_not():
    torque = np.where(np.arange(90) % 3 == 0, 0.2, 1.0)
    found = steady_state(OPEN, ROAD, 0.12, factors(90, torque=torque))
    np.testing.assert_array_equal(np.isfinite(found.speed), torque == 1.0)


def test_wide_draws_together_are_the_draws_alone():
    rng = np.random.default_rng(11)
    drawn = RoadFactors(*(1 + rng.uniform(-0.25, 0.25, 300) for _ in NAMES))
    for drive, grade in ((OPEN, 0.1), (LOCKED, 0.02)):
        together = steady_state(drive, ROAD, grade, drawn)
        for row in range(0, 300, 37):
            alone = steady_state(drive, ROAD, grade, drawn.picked(np.array([row])))
            for name in ("speed", "engine", "heat"):
                assert getattr(together, name)[row] == pytest.approx(
                    getattr(alone, name)[0], rel=1e-4, nan_ok=True
                )


def test_factors_are_counted_and_picked_with_their_kind():
    drawn = RoadFactors(*(np.arange(1.0, 5.0) + k for k in range(7)), whole_ratio=True)
    some = drawn.picked(np.array([3, 0]))
    assert (drawn.size, some.size, some.whole_ratio) == (4, 2, True)
    for k, name in enumerate(NAMES):
        assert getattr(some, name).tolist() == [4.0 + k, 1.0 + k]
    assert drawn.torque_ratio(2.0 * np.ones(4)).tolist() == [8.0, 10.0, 12.0, 14.0]
    share = replace(drawn, whole_ratio=False)
    assert share.torque_ratio(2.0 * np.ones(4)).tolist() == [5.0, 6.0, 7.0, 8.0]


def test_air_counts_in_what_the_grip_has_to_carry():
    # On the level at speed, with 40 times the usual air: more than a quarter of the push.
    change = {"air": 40.0}
    free = steady_state(LOCKED, ROAD, 0.0, factors(3, **change))
    need = resistance(float(free.speed[0]), 0.0, change)
    # Slipping by a quarter, as at the limit of grip, the machine is slower, and the air takes less.
    least = resistance(0.75 * float(free.speed[0]), 0.0, change)
    assert resistance(0.0, 0.0, change) < 0.85 * need < least
    for share, holds in ((0.85, False), (1.2, True)):
        slippery = replace(ROAD, traction=share * need / (20_000.0 * GRAVITY))
        found = steady_state(LOCKED, slippery, 0.0, factors(3, **change))
        assert np.isfinite(found.speed).all() == holds


def test_a_draw_led_to_the_end_of_a_drive_stays_within_it():
    # place + (end - place) is not the end for every floating-point number.
    idle = np.nextafter(800 * RPM, 0.0)
    speed = OWN.speed.copy()
    speed[0] = idle
    shaft = TurbineShaft(engine_supply(engine(low_idle=idle, speed=speed)), BOX)
    drives = gear_drives(shaft, LINE, machine(slip=SLIP))
    locked = replace(drives[2], engages=np.inf, releases=0.0)
    count = 500
    places = np.linspace(idle, float(shaft.grid("lock-up")[-1]), count)
    assert np.any(places + (idle - places) < idle)
    draws = DrawnDrive(locked, ROAD, 0.5, factors(count))
    alike = np.ones(count)
    found = followed(draws, Guess(places, places.copy(), -alike, alike))
    assert np.isnan(found.speed).all()
