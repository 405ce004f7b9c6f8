"""Many machines followed up from rest at once, against a brute-force scan of each."""

import numpy as np
import pytest

from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.following import Machines
from tests.examples import converter, hole_engine

SUPPLY = engine_supply(hole_engine())
TIGHT = converter(capacity=1.7 * converter().capacity)
# A capacity that rises before it falls, as of a converter whose K-factor dips.
HUMP = TIGHT.replace(capacity=TIGHT.capacity * np.array([1, 1.05, 1.1, 1.12, 1, 1, 1, 1]))


def excess(unit, torque, capacity, omega, turbine):
    nu = np.clip(turbine / omega, 0.0, unit.domain[1])
    taken = capacity * unit.capacity_at(nu) * omega**2
    return torque * SUPPLY.source(omega) - SUPPLY.load_torque(omega) - taken


def scanned(unit, torque, capacity, speeds):
    """Where the engine is at rising turbine speeds: the nearest change of sign, on 4000 places."""
    grid = np.linspace(*SUPPLY.domain, 4000)
    now, path = 0, []
    for turbine in speeds:
        spare = excess(unit, torque, capacity, grid, turbine) > 0.0
        spare[grid < turbine / unit.domain[1]] = True  # no data there: on to where there are
        if spare[now]:
            ahead = np.flatnonzero(~spare[now:])
            now = now + int(ahead[0]) if ahead.size else grid.size - 1
        else:
            below = np.flatnonzero(spare[:now])
            now = int(below[-1]) + 1 if below.size else 0
        path.append(grid[now])
    return np.array(path)


@pytest.mark.parametrize("unit", [TIGHT, HUMP], ids=["falling", "hump"])
@pytest.mark.slow
def test_machines_pass_what_a_brute_force_scan_of_each_passes(unit):
    rng = np.random.default_rng(7)
    torque, capacity = 1.0 + rng.uniform(-0.06, 0.06, 40), 1.0 + rng.uniform(-0.1, 0.1, 40)
    many = Machines(SUPPLY, unit, torque, capacity).up_from_rest(np.full(40, np.nan))
    jumps = 0
    for k in (0, 16, 32):
        runs = np.isfinite(many.engine_speed[:, k])
        turbine, engine = many.turbine_speed[runs, k], many.engine_speed[runs, k]
        assert np.all(np.diff(turbine) >= 0.0)
        # Every point is a balance, to 1e-9 of the torque.
        left = excess(unit, torque[k], capacity[k], engine, turbine)
        assert np.abs(left).max() < 1e-9 * 1000.0
        own = np.linspace(0.0, turbine[-1], 801)
        path = scanned(unit, torque[k], capacity[k], own)
        place = own[1:][np.abs(np.diff(path)) > 5.0]
        broken = turbine[many.broken[runs, k] & (turbine > 0.0)]
        # Nothing else is a break. Two matches nearer than a cell of the grid, 1.3 rad/s, are not
        # told apart, which moves a jump by some tenths of a rad/s; a step of the scan is 0.3.
        assert broken == pytest.approx(place, abs=0.8)
        jumps += broken.size
        away = np.abs(turbine[:, np.newaxis] - np.append(place, -1e3)).min(axis=1) > 0.8
        expected = np.interp(turbine[away], own, path)
        # A cell of the scan is 0.04 rad/s.
        np.testing.assert_allclose(engine[away], expected, atol=0.12)
    assert jumps >= 3


def test_an_engine_without_torque_for_the_converter_is_lugged_down():
    weak = Machines(SUPPLY, TIGHT, np.array([0.1]), np.array([1.0]))
    assert np.isnan(weak.next_to(np.zeros(1), np.full(1, np.nan))).all()
