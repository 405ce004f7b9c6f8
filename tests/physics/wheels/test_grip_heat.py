"""Heat of a run that the grip limits: that of the torque which is passed, by an own integration.

As long as the wheels would spin the driver eases the throttle so that the ground gets what it
holds; the engine speed that passes just that follows from the converter alone. Where the engine at
full throttle cannot give it any more, the run goes on at full throttle.
"""

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from converter_match.judgement.wheels.acceleration import acceleration
from converter_match.physics.wheels.rotating import Inertias
from tests.physics.haul.test_route_grip import TRACTION, G, truck

TO, STEP = 6.0 / 3.6, 2e-3


class ByHand:
    """The hauler on one driven axle in first gear, engine and machine as two masses."""

    def __init__(self, axle):
        self.parts = match, line, body, ground = truck(axle, 1.5)
        [gear] = line.gears
        self.supply, self.unit = match.supply, match.converter
        inertias = Inertias.of(match.engine, match.converter, line, body)
        self.engine = inertias.engine
        self.ratio = line.overall_ratio(gear) / body.rolling_radius
        self.gain = line.efficiency(gear) * self.ratio
        self.mass = body.mass("laden")
        self.whole = self.mass + inertias.in_gear(line, gear, body)
        self.drag = gear.drag_torque
        road = acceleration(match, line, body, ground, to_speed=TO).road
        self.resists = lambda v: float(road.resistance(0.0, v))
        moved = TRACTION * (0.5 if axle == "rear" else -0.5)
        self.most = lambda v: (
            (TRACTION * 0.6 * G * self.mass - self.resists(v)) / (self.mass * (1.0 - moved))
        )

    def torques(self, omega, v):
        """Turbine and impeller torque [N.m]."""
        nu = min(v * self.ratio / omega, self.unit.domain[1])
        taken = float(self.unit.capacity_at(nu)) * omega**2
        return float(self.unit.torque_ratio_at(nu)) * taken, taken

    def eased(self, v):
        """Engine speed at which the ground gets what it holds."""
        turbine = (self.resists(v) + self.whole * self.most(v)) / self.gain
        turbine += float(self.drag(np.asarray(v * self.ratio)))
        low = max(30.0, v * self.ratio / self.unit.domain[1] * 1.0001)
        return brentq(lambda omega: self.torques(omega, v)[0] - turbine, low, 400.0)

    def run(self):
        """Time to the speed [s], heat in the converter [J], and heat at full throttle till then."""
        v = time = heat = 0.0
        omega = self.eased(0.0)
        while True:
            turbine, impeller = self.torques(omega, v)
            after = self.eased(v + self.most(v) * STEP)
            needs = impeller + self.engine * (after - omega) / STEP
            if needs > float(self.supply.net_torque(np.asarray(omega))):
                break
            heat += (impeller * omega - turbine * v * self.ratio) * STEP
            v, time, omega = v + self.most(v) * STEP, time + STEP, after

        def rate(_, y):
            turbine, impeller = self.torques(y[0], y[1])
            pull = (turbine - float(self.drag(np.asarray(y[1] * self.ratio)))) * self.gain
            gains = min((pull - self.resists(y[1])) / self.whole, self.most(y[1]))
            left = float(self.supply.net_torque(np.asarray(y[0]))) - impeller
            return [left / self.engine, gains, impeller * y[0] - turbine * y[1] * self.ratio]

        def there(_, y):
            return y[1] - TO

        there.terminal = True
        run = solve_ivp(rate, (time, 20.0), [omega, v, heat], events=there, rtol=1e-8)
        return float(run.t[-1]), float(run.y[2, -1])


@pytest.mark.slow
@pytest.mark.parametrize("axle", ["rear", "front"])
def test_heat_and_time_of_a_run_at_the_grip_are_those_of_a_driver_who_eases_the_throttle(axle):
    by_hand = ByHand(axle)
    time, heat = by_hand.run()
    for method in ("dynamic", "quasi-steady"):
        run = acceleration(*by_hand.parts, to_speed=TO, method=method).run
        assert run.grip_limited
        # The dynamic engine is followed at full throttle, and is ahead when the grip is enough.
        assert run.time[-1] == pytest.approx(time, rel=0.03)
        assert np.trapezoid(run.heat, run.time) == pytest.approx(heat, rel=0.015)
    # At full throttle from the start it would be more by far.
    stall = by_hand.parts[0].stall
    assert stall.heat * time > 2.0 * heat
