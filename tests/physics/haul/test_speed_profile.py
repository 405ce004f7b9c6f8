"""The march over a route against closed forms: chains of one or two states with simple efforts.

Newton's second law over distance, ``v dv/dx = (F - R) / M``; any mechanics text.
"""

from dataclasses import replace

import numpy as np
import pytest

from converter_match.components.machine import Slip
from converter_match.constants import GRAVITY
from converter_match.errors import InputError
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.haul.allowed_speed import AllowedSpeed
from converter_match.physics.haul.hunting import hunting
from converter_match.physics.haul.loads import Draws, SegmentLoads
from converter_match.physics.haul.speed_profile import speed_profile
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.wheels.drive_chain import drive_chain
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.rotating import Inertias
from tests.examples import converter, engine
from tests.haul_examples import road
from tests.machines import driveline, machine, surface

MASS = 10_000.0
TOP = 20.0
POINTS = 401
REAL = drive_chain(
    TurbineShaft(engine_supply(engine()), converter()),
    driveline(), machine(), Inertias(2.0, 0.3, 0.2, 80.0),
    RoadLoad.of(machine(), surface(), air_density=1.2),
)  # fmt: skip


def chain(
    *forces,
    rotating=0.0,
    up=np.inf,
    down=-np.inf,
    slip=Slip(),  # noqa: B008
    one_gear=False,
    given=False,
):
    """States whose efforts are functions of tread speed, each a gear unless told otherwise.

    Its shift speeds are those of a file, or the tool's own.
    """
    count = len(forces)
    tread = np.linspace(0.0, TOP, POINTS)
    numbers = np.arange(count)
    return replace(
        REAL,
        drives=tuple(
            replace(d, machine=d.machine.replace(slip=slip)) for d in REAL.drives[:count]
        ),
        up_speed=np.where(numbers < count - 1, up, np.inf),
        down_speed=np.where(numbers > 0, down, -np.inf),
        up_to=np.minimum(numbers + 1, count - 1),
        down_to=np.maximum(numbers - 1, 0),
        up_assumed=np.full(count, not given),
        down_assumed=np.full(count, not given),
        gear_index=np.zeros(count, dtype=int) if one_gear else numbers,
        top=np.full(count, TOP),
        force=np.stack([np.broadcast_to(np.asarray(f(tread), float), POINTS) for f in forces]),
        rotating=np.broadcast_to(np.asarray(rotating, float), (count, POINTS)),
        follows=np.zeros((count, POINTS)),
    )  # fmt: skip


def even(length, count, stops=(), limit=1e6, end=1e6, braking=0.8):
    """What is allowed in segments of one length, at whose ends the march is looked at."""
    stop = np.full(count, np.nan)
    ends = np.broadcast_to(np.asarray(end, float), count).copy()
    for k, time in stops:
        stop[k], ends[k] = time, 0.0
    for k in range(count - 2, -1, -1):
        ends[k] = min(ends[k], np.sqrt(ends[k + 1] ** 2 + 2 * braking * length))
    return AllowedSpeed(
        np.full(count, float(length)), np.broadcast_to(np.asarray(limit, float), count),
        np.minimum(ends, limit), stop, braking,
    )  # fmt: skip


def loads(count, rolling=0.0, climbing=0.0, grip=np.inf, air=0.0, drag=0.0):
    row = [np.broadcast_to(np.asarray(v, float), count) for v in (MASS, rolling, climbing, grip)]
    return SegmentLoads(*row, row[-1], np.zeros(count), air=air, running_drag=drag)


class Marched:
    """A profile at the ends of its segments: speed, time and the state at their starts."""

    def __init__(self, profile, count):
        many = profile.length.shape[1]
        self.speed, self.time = np.zeros((count + 1, many)), np.zeros((count, many))
        self.state = np.zeros((count, many), dtype=int)
        self.speed[0] = profile.speed[0]
        self.way = np.zeros((count, many))
        for draw in range(many):
            for k in range(count):
                here = np.flatnonzero(profile.segment[:, draw] == k)
                moves = profile.time[here, draw] > 0.0
                driven = here[moves & ~profile.stands[here, draw]]
                if driven.size:
                    self.speed[k + 1, draw] = profile.speed[driven[-1] + 1, draw]
                    self.state[k, draw] = profile.state[driven[0], draw]
                self.time[k, draw] = profile.time[here, draw].sum()
                self.way[k, draw] = profile.length[here, draw].sum()
        self.last_state = profile.state[-1]
        self.stuck = np.where(
            profile.stuck < 0, -1, profile.segment[profile.stuck, np.arange(many)]
        )
        self.stuck_force, self.shifts = profile.stuck_force, profile.shifts
        self.held = profile.held
        self.steps = profile


def march(states, allowed, asked, draws=None, **changes):
    found = speed_profile(states, allowed, asked, draws or Draws.of(), **changes)
    return Marched(found, allowed.length.size)


def steady(force):
    return lambda tread: force + 0.0 * tread


def test_constant_force_gives_constant_acceleration():
    # v^2 = 2 a x and t = sqrt(2 x / a), with a = (F - c m g - m g sin - F_drag) / (m + m_rot).
    asked = loads(40, rolling=0.02, climbing=0.03, drag=700.0)
    found = march(chain(steady(20e3), rotating=1500.0), even(2.0, 40), asked)
    rate = (20e3 - MASS * GRAVITY * 0.05 - 700.0) / (MASS + 1500.0)
    way = 2.0 * np.arange(41)
    np.testing.assert_allclose(found.speed[:, 0], np.sqrt(2 * rate * way), rtol=1e-9)
    np.testing.assert_allclose(np.cumsum(found.time[:, 0]), np.sqrt(2 * way[1:] / rate), rtol=1e-9)
    assert not found.state.any()
    assert (found.stuck[0], found.shifts[0]) == (-1, 0)
    assert np.isnan(found.stuck_force[0])


def test_each_draw_has_its_own_mass_and_rolling_resistance():
    # The same closed form, draw by draw.
    mass, rolling = np.array([0.5, 1.0, 1.5]), np.array([2.0, 1.0, 0.5])
    found = march(
        chain(steady(20e3), rotating=1500.0), even(2.0, 10), loads(10, 0.02, 0.03, drag=700.0),
        Draws.of(mass, 1.0, rolling),
    )  # fmt: skip
    ground = mass * MASS * GRAVITY * (0.02 * rolling + 0.03) + 700.0
    rate = (20e3 - ground) / (mass * MASS + 1500.0)
    np.testing.assert_allclose(found.speed[-1], np.sqrt(2 * rate * 20.0), rtol=1e-9)


@pytest.mark.slow
def test_air_drag_bends_the_speed_towards_the_balance():
    # v^2 = (F / k) (1 - exp(-2 k x / M)), the solution of M v dv/dx = F - k v^2.
    found = march(chain(steady(8e3)), even(2.0, 600), loads(600, air=40.0))
    way = 2.0 * np.arange(1, 601)
    exact = np.sqrt(8e3 / 40.0 * -np.expm1(-2 * 40.0 * way / MASS))
    np.testing.assert_allclose(found.speed[20:, 0], exact[19:], rtol=2e-4)


def test_force_falling_with_speed_follows_its_closed_form():
    # x = -(M / b) (v + (F / b) ln(1 - b v / F)), from M v dv/dx = F - b v. Half a
    # percent is what the default step promises.
    force, fall = 30e3, 2e3
    found = march(chain(lambda v: force - fall * v), even(0.5, 300), loads(300))
    v = found.speed[60:, 0]
    way = -MASS / fall * (v + force / fall * np.log1p(-fall * v / force))
    np.testing.assert_allclose(way, 0.5 * np.arange(60, 301), rtol=5e-3)


def test_half_the_step_is_four_times_as_exact():
    # A method of second order.
    force, fall = 30e3, 2e3

    def error(longest):
        found = march(
            chain(lambda v: force - fall * v), even(100.0, 1), loads(1), start_speed=3.0,
            longest=longest,
        )  # fmt: skip
        v, before = float(found.speed[-1, 0]), 3.0

        def way(speed):
            return -MASS / fall * (speed + force / fall * np.log1p(-fall * speed / force))

        return abs(way(v) - way(before) - 100.0)

    # Not quite: steps are halved by halves, where the bend asks for it.
    assert error(12.5) < error(50.0) / 8


def test_long_steps_settle_on_the_balance_and_do_not_shoot_past_it():
    # Effort that falls steeply: F = R at 4 m/s exactly.
    steep = chain(lambda v: 60e3 - 10e3 * v)
    found = march(steep, even(25.0, 40), loads(40, drag=20e3))
    assert found.speed[-1, 0] == pytest.approx(4.0, rel=1e-6)
    assert found.speed.max() <= 4.0 * (1 + 1e-4)


def test_rotating_mass_that_grows_with_speed_is_carried_along():
    # x = (m v^2 / 2 + c v^3 / 3) / F from (m + c v) v dv/dx = F.
    growing = 300.0 * np.linspace(0.0, TOP, POINTS)
    found = march(chain(steady(20e3), rotating=growing), even(0.5, 200), loads(200))
    v = found.speed[20:, 0]
    way = (MASS * v**2 / 2 + 300.0 * v**3 / 3) / 20e3
    np.testing.assert_allclose(way, 0.5 * np.arange(20, 201), rtol=5e-3)


def test_slip_turns_the_tread_faster_than_the_ground():
    # With a tenth of slip the tread turns v / 0.9, where the effort is less: M v dv/dx =
    # F - b v / 0.9. The first step still counts without slip: a percent there, less later.
    force, fall = 30e3, 2e3
    sliding = chain(lambda v: force - fall * v, slip=Slip(constant=0.1))
    found = march(sliding, even(0.5, 300), loads(300))
    v, b = found.speed[100:, 0], fall / 0.9
    way = -MASS / b * (v + force / b * np.log1p(-b * v / force))
    np.testing.assert_allclose(way, 0.5 * np.arange(100, 301), rtol=5e-3)


def test_slip_follows_the_use_of_the_grip():
    # Half the grip used is a slip of 0.1 by the table; c v is the effort's fall with tread speed.
    table = Slip(use=np.array([0.0, 0.5, 1.0]), slip=np.array([0.0, 0.1, 0.3]))
    found = march(
        chain(lambda v: 40e3 - 4e3 * v, slip=table), even(20.0, 60),
        loads(60, drag=20e3, grip=4.0),
    )  # fmt: skip
    # At the balance 20 kN are pushed, the limit is 4 N/kg times 10 t: use 0.5, tread 5 m/s.
    assert found.speed[-1, 0] == pytest.approx(5.0 * 0.9, rel=1e-4)


def test_grip_holds_the_acceleration_to_what_the_ground_passes_on():
    # (mu N - R) / m: what turns behind the tyre does not count.
    asked = loads(20, rolling=0.02, grip=1.0)
    found = march(chain(steady(20e3), rotating=1500.0), even(2.0, 20), asked)
    rate = 1.0 - 0.02 * GRAVITY
    np.testing.assert_allclose(found.speed[-1, 0], np.sqrt(2 * rate * 40.0), rtol=1e-9)


def test_grip_limit_falls_with_the_air_drag_that_it_has_to_overcome_too():
    # v^2 = (f / k) (1 - exp(-2 k x / m)) with the limit f in place of the effort.
    found = march(
        chain(steady(50e3), rotating=1500.0), even(1.0, 200), loads(200, grip=1.0, air=50.0)
    )
    exact = np.sqrt(MASS / 50.0 * -np.expm1(-2 * 50.0 * 200.0 / MASS))
    assert found.speed[-1, 0] == pytest.approx(exact, rel=2e-4)


def test_ceiling_caps_speed_and_the_time_is_that_of_the_capped_speeds():
    ends = np.full(40, 5.0)
    ends[-1] = 2.0
    # From 5 to 2 m/s on the last 2 m: (25 - 4) / (2 x 2) m/s^2.
    most = even(2.0, 40, limit=5.0, end=ends, braking=5.25)
    found = march(chain(steady(20e3)), most, loads(40))
    free = np.sqrt(2 * 2.0 * 2.0 * np.arange(41))
    np.testing.assert_allclose(found.speed[:, 0], np.minimum(free, [5.0, *ends]), rtol=1e-7)
    # 25 / 4 m to 5 m/s at 2 m/s^2, then even, then braking.
    expected = 5.0 / 2.0 + (78.0 - 6.25) / 5.0 + 3.0 / 5.25
    assert found.time.sum() == pytest.approx(expected, rel=1e-7)


def test_start_speed_is_kept_unless_the_ceiling_is_lower():
    rolling = chain(steady(0.0))
    assert march(rolling, even(2.0, 3), loads(3), start_speed=7.0).speed[:, 0] == pytest.approx(7.0)
    slow = march(rolling, even(2.0, 3, limit=4.0), loads(3), start_speed=7.0)
    assert slow.speed[:, 0] == pytest.approx(4.0)
    assert march(rolling, even(2.0, 3), loads(3), start_speed=0.5).speed[0, 0] == 0.5


def test_stop_takes_its_time_and_the_machine_begins_anew_from_rest():
    states = chain(steady(20e3), steady(20e3), up=3.0, down=2.0)
    found = march(states, even(2.0, 10, [(4, 33.0)], braking=2.0), loads(10))
    # Up to v and down from it at 2 m/s^2 on 10 m: v^2 = 2 x 2 x 5, and 2 v / 2 seconds.
    assert found.time[:5, 0].sum() == pytest.approx(np.sqrt(20.0) + 33.0, rel=1e-6)
    assert found.speed[5, 0] == 0.0
    np.testing.assert_allclose(found.speed[5:, 0], np.sqrt(2 * 2.0 * 2.0 * np.arange(6)), rtol=1e-6)
    # Before the stop it had shifted up; from rest it is back in the lowest state, which is no
    # gear change on the way.
    assert found.state[:, 0].tolist() == [0, 0, 1, 1, 1, 0, 0, 1, 1, 1]
    assert found.shifts[0] == 3


def test_machine_that_cannot_hold_a_climb_rolls_out_on_it():
    # v^2 / 2 = (R - F) / m x; the second draw is light enough to go on.
    climb = np.r_[np.zeros(4), np.full(4, 0.5), np.zeros(1)]
    found = march(
        chain(steady(20e3)), even(5.0, 9, [(7, 12.0)], braking=50.0), loads(9, climbing=climb),
        Draws.of([1.0, 0.5]), start_speed=1.0,
    )  # fmt: skip
    v = np.sqrt(1.0 + 2 * 2.0 * 20.0)
    slows = 0.5 * GRAVITY - 2.0
    way = v**2 / (2 * slows)
    last = 4 + int(way // 5)
    assert found.stuck.tolist() == [last, -1]
    into = way - 5.0 * (last - 4)
    before = np.sqrt(v**2 - 2 * slows * 5.0 * (last - 4))
    # The speed below which a machine counts as standing, 0.02 m/s, is the only rounding.
    assert found.way[last, 0] == pytest.approx(into, rel=1e-3)
    assert found.time[last, 0] == pytest.approx(2 * into / before, rel=1e-2)
    assert found.stuck_force[0] == pytest.approx(20e3)
    assert np.isnan(found.stuck_force[1])
    assert np.all(found.speed[last + 2 :, 0] == 0.0)
    assert np.all(found.time[last + 1 :, 0] == 0.0)
    assert np.all(found.time[:, 1] > 0.0)
    assert found.time[7, 1] > 12.0


def test_machine_without_grip_is_stuck_with_what_the_ground_passes_on():
    found = march(chain(steady(20e3)), even(5.0, 3), loads(3, rolling=0.1, grip=0.5))
    assert found.stuck[0] == 0
    assert found.stuck_force[0] == pytest.approx(0.5 * MASS)
    assert not found.way.any()
    assert not found.time.any()


def test_way_made_before_sticking_is_no_longer_than_the_step():
    # Held back by almost nothing it would roll on for ever: here it makes the step at most.
    found = march(chain(steady(0.0)), even(1.0, 2), loads(2, drag=5000.0), start_speed=1.001)
    # v^2 / (2 a) = 1.002 m.
    assert found.stuck[0] == 1
    assert found.way.sum() == pytest.approx(1.001**2, rel=1e-3)


def test_whoever_would_come_to_a_stand_takes_the_lower_gear():
    weak = chain(steady(60e3), steady(5e3), up=4.0, down=0.1)
    found = march(weak, even(5.0, 4), loads(4, climbing=0.4), start_speed=5.0)
    assert found.stuck[0] == -1
    # Upper gear down to the 4 m/s at which the lower would be left, then that: 60 kN carry 39 kN.
    slows, rate = 0.4 * GRAVITY - 0.5, 6.0 - 0.4 * GRAVITY
    way = (25.0 - 16.0) / (2 * slows)
    assert found.state[:2, 0].tolist() == [1, 0]
    np.testing.assert_allclose(
        found.speed[1, 0], min(np.sqrt(16.0 + 2 * rate * (5.0 - way)), 20.0), rtol=1e-6
    )


def test_shift_costs_the_impulse_of_its_time():
    # Momentum: M v = F (t - t_shift), whatever the steps are.
    for step, count in ((20.0, 3), (1.0, 60)):
        states = chain(steady(20e3), steady(20e3), up=5.0, down=4.0, given=True)
        found = march(states, even(step, count), loads(count), shift_time=0.8)
        time = float(found.time.sum())
        assert found.shifts[0] == 1
        assert MASS * found.speed[-1, 0] == pytest.approx(20e3 * (time - 0.8), rel=1e-3)


def test_gear_that_locks_up_at_once_still_takes_its_time_to_shift():
    both = chain(steady(20e3), steady(20e3), steady(20e3), up=5.0, down=4.0, given=True)
    states = replace(both, gear_index=np.array([0, 1, 1]))
    found = march(states, even(1.0, 60), loads(60), shift_time=0.8)
    assert (found.shifts[0], found.state[-1, 0]) == (1, 2)
    time = float(found.time.sum())
    assert MASS * found.speed[-1, 0] == pytest.approx(20e3 * (time - 0.8), rel=1e-3)


def test_change_to_lock_up_in_the_same_gear_interrupts_nothing():
    states = chain(steady(20e3), steady(20e3), up=5.0, down=4.0, one_gear=True)
    found = march(states, even(2.0, 40), loads(40), shift_time=0.8)
    assert found.shifts[0] == 0
    assert found.state[-1, 0] == 1
    assert found.speed[-1, 0] == pytest.approx(np.sqrt(2 * 2.0 * 80.0), rel=1e-9)


def test_only_the_draw_that_shifts_is_interrupted():
    states = chain(steady(20e3), steady(20e3), up=11.0, down=4.0, given=True)
    found = march(states, even(1.0, 40), loads(40), Draws.of([1.0, 2.0]), shift_time=0.5)
    assert found.shifts.tolist() == [1, 0]
    assert found.speed[-1, 1] == pytest.approx(np.sqrt(2 * 1.0 * 40.0), rel=1e-9)


def ends_at(speed):
    """20 kN that are gone within the last metre a second before a speed."""
    return lambda tread: 20e3 * np.clip(speed - tread, 0.0, 1.0)


def test_gear_is_held_where_the_next_could_not_keep_the_speed():
    # The upper gear pulls 5 kN against a climb of 10 kN: it would come back at once.
    for upper, shifted in ((5e3, False), (15e3, True)):
        states = chain(ends_at(6.0), steady(upper), up=5.0, down=4.0)
        found = march(states, even(2.0, 40), loads(40, drag=10e3))
        assert bool(found.state[-1, 0] == 1) is shifted
        assert found.shifts[0] == int(shifted)


def test_lock_up_of_the_next_gear_may_be_what_keeps_the_speed():
    # States 0 | 1 and 2 (one gear): 1 is too weak, but its lock-up, in force at that speed, is not.
    three = chain(ends_at(6.0), steady(5e3), steady(15e3), up=5.0)
    three = replace(
        three, gear_index=np.array([0, 1, 1]), down_speed=np.array([-np.inf, 3.0, 3.5]),
        up_speed=np.array([5.0, 4.5, np.inf]),
    )  # fmt: skip
    found = march(three, even(2.0, 40), loads(40, drag=10e3))
    assert found.state[-1, 0] == 2
    assert found.shifts[0] == 1
    later = replace(three, up_speed=np.array([5.0, 15.0, np.inf]))
    assert march(later, even(2.0, 40), loads(40, drag=10e3)).shifts[0] == 0


def test_downshift_comes_below_its_speed():
    # The lower gear pulls no more, so that nothing speaks for it before.
    states = chain(steady(8e3), steady(8e3), up=9.0, down=4.0)
    found = march(states, even(1.0, 120), loads(120, drag=12e3), start_speed=9.5).steps
    moves = found.time[:, 0] > 0.0
    speed, state = found.speed[:-1, 0][moves], found.state[moves, 0]
    np.testing.assert_array_equal(state, np.where(speed > 4.0 * (1 + 1e-8), 1, 0))
    assert found.shifts[0] == 1


@pytest.mark.slow
def test_shift_speeds_of_a_file_rule_though_another_gear_would_pay():
    # 8 kN lose against 12 kN, 20 kN do not: yet the lower gear is taken at its 4 m/s, no sooner,
    # and left at 9 m/s for the gear that cannot hold the climb. That gearbox hunts.
    states = chain(steady(20e3), steady(8e3), up=9.0, down=4.0, given=True)
    found = march(states, even(1.0, 400), loads(400, drag=12e3), start_speed=9.5).steps
    moves = found.time[:, 0] > 0.0
    state, speed = found.state[moves, 0], found.speed[:-1, 0][moves]
    at = speed[1:][np.diff(state) != 0]
    assert found.shifts[0] >= 4
    hunts = hunting(states, even(1.0, 400), loads(400, drag=12e3), found)
    # Down, up, down, up, ...: every shift up but one still going on is undone.
    assert hunts.counts(1)[0] == (found.shifts[0] - 1) // 2
    assert set(hunts.state.tolist()) == {0}
    np.testing.assert_allclose(at[::2], 4.0, rtol=1e-6)
    np.testing.assert_allclose(at[1::2], 9.0, rtol=1e-6)
    assert not found.held.any()


@pytest.mark.parametrize(("way", "shifts"), [(60.0, 0), (1500.0, 1)])
def test_next_gear_is_taken_only_where_it_is_ahead_at_the_end_of_the_stretch(way, shifts):
    # From 8 m/s on the low gear loses 2 kN a m/s, the next one nothing: 26 kN against 20 kN. The
    # shift costs R t / m = 2 m/s and the time to win them back at 0.6 m/s^2: not before some
    # 10.4 m/s, by hand, is it ahead 10 s on; v = 11 - 3 e^(-t / 5 s) has those after 76 m.
    low = lambda v: 26e3 - 2e3 * np.maximum(v - 8.0, 0.0)  # noqa: E731
    states = chain(low, steady(26e3), up=8.0, down=0.1)
    found = march(
        states, even(way, 1), loads(1, drag=20e3), start_speed=7.9, shift_time=1.0,
    )  # fmt: skip
    assert found.shifts[0] == shifts


def test_lower_gear_is_taken_on_a_climb_as_soon_as_it_pulls_more_and_is_allowed():
    # 8 kN lose against 12 kN, 20 kN do not: below 9 m/s the lower gear has them, and it is held.
    states = chain(steady(20e3), steady(8e3), up=9.0, down=4.0)
    found = march(states, even(1.0, 120), loads(120, drag=12e3), start_speed=9.5)
    assert found.shifts[0] == 1
    assert found.speed[1:, 0].min() >= 9.0 * (1 - 1e-6)
    assert found.held.any()


def test_engine_pushes_no_machine_beyond_the_end_of_its_curve():
    # The curve ends at 20 m/s: a machine that is faster is not made faster still.
    found = march(chain(lambda v: 1e3 * v), even(1.0, 3), loads(3), start_speed=25.0)
    assert found.speed[-1, 0] == pytest.approx(25.0, rel=1e-12)


def test_draws_with_their_own_torque_have_their_own_effort():
    # More torque, sooner there; the middle one is the machine as it is.
    asked = loads(30, rolling=0.03, drag=800.0)
    together = march(REAL, even(2.0, 30), asked, Draws.of(1.0, [0.9, 1.0, 1.1]))
    assert np.all(np.diff(together.time.sum(axis=0)) < 0)
    for k, factor in enumerate((0.9, 1.0, 1.1)):
        alone = march(REAL, even(2.0, 30), asked, Draws.of(1.0, factor))
        # Tabulated at these very factors: equal but for rounding.
        np.testing.assert_allclose(together.speed[:, k], alone.speed[:, 0], rtol=1e-9)


# --- what the steps ask for ----------------------------------------------------------------------


def test_loads_of_a_route_are_those_of_its_segments():
    rough, firm = surface(name="mud", rolling_resistance=0.12, traction=0.3), surface()
    open_ = surface(name="open", traction=None)
    route = road(
        [0.1, -0.05, 0.0], [30.0, 40.0, 50.0], surface=(rough, firm, open_)
    ).replace(load=("laden", "empty", "empty"))  # fmt: skip
    found = SegmentLoads.of(route, machine(), 1.1)
    angle = np.arctan([0.1, -0.05, 0.0])
    np.testing.assert_array_equal(found.mass, [20e3, 15e3, 15e3])
    np.testing.assert_allclose(found.rolling, np.array([0.12, 0.03, 0.03]) * np.cos(angle))
    np.testing.assert_allclose(found.climbing, np.sin(angle))
    # All wheels driven: mu g cos(a).
    grip = np.array([0.3, 0.6, np.inf]) * GRAVITY * np.cos(angle)
    np.testing.assert_allclose(found.grip, grip)
    assert found.air == pytest.approx(0.5 * 1.1 * 7.0 * 0.9)
    assert found.running_drag == 800.0


@pytest.mark.parametrize("speed", [0.0, 3.0, 12.0])
def test_a_step_resists_as_the_road_load_of_its_segment_does_at_every_speed(speed):
    rough, firm = surface(name="mud", rolling_resistance=0.12, traction=0.3), surface()
    route = road([0.1, -0.05], [30.0, 40.0], surface=(rough, firm)).replace(load=("laden", "empty"))
    loads = SegmentLoads.of(route, machine(), 1.1)
    road_loads = [
        RoadLoad.of(machine(), ground, load=load, air_density=1.1)
        for ground, load in zip(route.surface, route.load, strict=True)
    ]
    whole = np.array(
        [
            float(load.resistance(grade, speed))
            for load, grade in zip(road_loads, route.grade, strict=True)
        ]
    )
    pace = np.full(2, speed)
    found = loads.resistance(slice(None), loads.mass, 1.0, pace)
    np.testing.assert_allclose(found, whole, rtol=1e-12)
    parts = loads.parts(np.arange(2), loads.mass, 1.0, pace)
    summed = sum(parts) + loads.running_drag
    np.testing.assert_allclose(summed, whole, rtol=1e-12)


@pytest.mark.parametrize("name", ["mass", "torque", "rolling_resistance"])
@pytest.mark.parametrize("value", [0.0, -1.0, np.inf, np.nan, [[1.0, 2.0]]])
def test_factor_of_a_draw_that_cannot_be_is_refused_by_name(name, value):
    with pytest.raises(InputError, match="not usable factors; expected a list of numbers") as error:
        Draws.of(**{name: value})
    assert error.value.field in (name, "mass")
    if np.ndim(value) == 0:
        assert error.value.field == name


def test_draws_are_as_many_as_the_longest_list_and_can_be_picked():
    draws = Draws.of([1.0, 1.1, 1.2], 0.9, [2.0, 3.0, 4.0])
    assert draws.size == 3
    part = draws.picked(slice(1, 3))
    assert (part.mass.tolist(), part.torque.tolist()) == ([1.1, 1.2], [0.9, 0.9])
    assert part.rolling_resistance.tolist() == [3.0, 4.0]
    assert (Draws.of().mass, Draws.of().torque, Draws.of().rolling_resistance) == (1.0, 1.0, 1.0)


def test_upper_gear_that_only_just_keeps_the_speed_is_not_taken():
    # Effort equal to the resistance: the speed would be kept by nothing.
    states = chain(steady(20e3), steady(10e3), up=5.0, down=4.0)
    found = march(states, even(2.0, 40), loads(40, drag=10e3))
    assert found.shifts[0] == 0


def test_effort_that_falls_with_slip_and_speed_is_carried_through_long_steps():
    # Half of slip makes the tread twice as fast: 60 kN less 10 kN for each m/s of it meets 20 kN
    # at 2 m/s over ground. Only the first step counts without slip.
    sliding = chain(lambda v: 60e3 - 10e3 * v, slip=Slip(constant=0.5))
    found = march(sliding, even(25.0, 20), loads(20, drag=20e3))
    assert found.speed[-1, 0] == pytest.approx(2.0, rel=1e-6)
    assert found.speed[2:].max() <= 2.0 * (1 + 1e-3)


def test_climb_that_slows_the_machine_within_a_step_follows_newton():
    # v^2 = v0^2 - 2 s (R - F) / M: nothing is left after 10 m but the root of 1.
    states = chain(steady(20e3))
    found = march(
        states, even(10.0, 1), loads(1, drag=20e3 + 0.5 * MASS), start_speed=np.sqrt(11.0)
    )
    assert found.speed[-1, 0] == pytest.approx(1.0, rel=1e-6)
    # Effort that grows as the machine slows catches it where newton's first guess says it stands.
    caught = march(
        chain(lambda v: 40e3 - 8e3 * v), even(60.0, 6), loads(6, drag=24e3), start_speed=6.0
    )
    assert caught.stuck[0] == -1
    assert caught.speed[-1, 0] == pytest.approx(2.0, rel=1e-3)


def test_draws_try_their_own_lower_gears():
    # The heavier draw needs the lower gear, the lighter one does not.
    states = chain(steady(60e3), steady(22e3), up=4.0, down=0.1)
    found = march(
        states, even(5.0, 3), loads(3, climbing=0.35), Draws.of([0.5, 1.0]), start_speed=4.5
    )
    assert found.stuck.tolist() == [-1, -1]
    assert found.shifts.tolist() == [0, 1]
    light = 4.4 - 0.35 * GRAVITY
    assert found.speed[1, 0] == pytest.approx(np.sqrt(4.5**2 + 2 * light * 5.0), rel=1e-6)
    # Down to 4 m/s in the upper gear, where the lower one is allowed.
    upper, lower = 2.2 - 0.35 * GRAVITY, 6.0 - 0.35 * GRAVITY
    way = (16.0 - 4.5**2) / (2 * upper)
    assert found.speed[1, 1] == pytest.approx(np.sqrt(16.0 + 2 * lower * (5.0 - way)), rel=1e-6)
