"""Weight that an acceleration moves, on a route: against an own integration and the other verb."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from converter_match.components.machine import Balance, Slip
from converter_match.components.surface import Surface
from converter_match.judgement.haul.haul import haul
from converter_match.judgement.wheels.acceleration import acceleration
from tests.haul_examples import parts, road
from tests.machines import gear

LENGTH, TRACTION, ROLLING = 60.0, 0.35, 0.03
G = 9.80665


def truck(axle, height):
    """The shipped hauler driven on one axle, in its first gear, without slip, and its ground."""
    match, line, body = parts()
    balance = Balance(
        driven_axle=axle, driven_share_empty=0.55, driven_share_laden=0.6, wheelbase=3.0,
        gravity_height_empty=height, gravity_height_laden=height,
    )  # fmt: skip
    no_slip = Slip(use=np.array([0.0, 1.0]), slip=np.array([0.0, 0.0]))
    body = body.replace(balance=balance, slip=no_slip, running_drag=0.0)
    line = line.replace(gears=(gear("1", 4.0),), speed_limit=None)
    ground = Surface(name="wet clay", rolling_resistance=ROLLING, traction=TRACTION)
    return match, line, body, ground


def by_hand(axle, height, until):
    """Time [s] for a way at the grip: N by moments about the other axle's contact line."""
    sign = 1.0 if axle == "rear" else -1.0

    def rate(_, y):
        # m a = mu N - R,  N = m g share + sign m a h / L
        pull = TRACTION * 0.6 * G - ROLLING * G
        return [y[1], pull / (1.0 - TRACTION * sign * height / 3.0)]

    def there(_, y):
        return y[0] - until

    there.terminal = True
    run = solve_ivp(rate, (0.0, 60.0), [0.0, 0.0], events=there, rtol=1e-9, max_step=0.1)
    return float(run.t[-1])


@pytest.mark.slow
@pytest.mark.parametrize("axle", ["rear", "front"])
def test_a_start_at_the_grip_moves_weight_on_a_route_as_it_does_in_acceleration(axle):
    match, line, body, ground = truck(axle, 1.5)
    trip = haul(match, line, body, road(0.0, LENGTH, surface=(ground,))).run
    run = acceleration(match, line, body, ground, to_speed=20.0 / 3.6).run
    assert run.grip_limited
    # As long as the wheels would spin, all three are one uniform acceleration.
    ways, times = (np.cumsum(each[:, 0]) for each in (trip.profile.length, trip.profile.time))
    last = int(np.searchsorted(ways, 0.5)) - 1
    way, by_route = float(ways[last]), float(times[last])
    assert way > 0.1
    assert by_hand(axle, 1.5, way) == pytest.approx(by_route, rel=0.005)
    # Between rows of the run the square of time is a straight line over the way.
    clock = float(np.sqrt(np.interp(way, run.distance, run.time**2)))
    assert clock == pytest.approx(by_route, rel=0.005)
    # A tenth of what it moves would be seen.
    assert abs(by_hand(axle, 1e-9, way) / by_route - 1.0) > 0.05
