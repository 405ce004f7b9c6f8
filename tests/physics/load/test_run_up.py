"""A load that is started from rest: closed form, energy, and a breakaway torque."""

import numpy as np
import pytest

from converter_match.components.load import LoadLine
from converter_match.curves import Curve
from converter_match.physics.dynamics.drive_train import DriveTrain
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.load.equilibria import load_equilibria
from converter_match.physics.load.run_up import quasi_steady_time, run_up_from_rest
from converter_match.physics.load.shaft import Unit
from tests.examples import converter
from tests.load_examples import CAPACITY, SPEED, TORQUE, made
from tests.study_examples import flat_engine

INERTIA = 8.0


def train(engine_inertia=2.0, unit=None, output=INERTIA):
    return DriveTrain(
        engine_supply(flat_engine(TORQUE)),
        unit or made(lambda nu: 2.0 - nu),
        engine_inertia,
        0.1 * engine_inertia,
        output,
    )


@pytest.mark.slow
def test_with_a_light_engine_the_run_up_is_an_exponential():
    # J omega' = T (2 - omega / omega_e) - T_L: time constant J omega_e / T, 95 % after ln 20 of it.
    line = LoadLine(constant=1200.0, breakaway=1200.0)
    steady = SPEED * (2.0 - 1200.0 / TORQUE)
    run = run_up_from_rest(train(engine_inertia=0.05), line, steady)
    constant = INERTIA * SPEED / TORQUE
    # The engine comes up from idle first, and lags a little: some hundredths of a second.
    assert run.time == pytest.approx(constant * np.log(20.0), abs=0.05)
    assert quasi_steady_time(train(), line, 0.95 * steady) == pytest.approx(
        constant * np.log(20.0), rel=2e-3
    )


@pytest.mark.slow
@pytest.mark.parametrize(
    "line",
    [
        LoadLine(constant=600.0, breakaway=900.0),
        LoadLine(squared=0.04),
        LoadLine(table=Curve([0.0, 60.0, 198.0], [700.0, 300.0, 900.0]), breakaway=700.0),
    ],
    ids=["conveyor", "pump", "table"],
)
def test_the_energy_of_a_run_up_closes(line):
    pair = train(unit=converter())
    unit = Unit(pair.supply, pair.converter)
    found = load_equilibria([unit], line)
    run = run_up_from_rest(pair, line, float(found.speed[found.reached]))
    account = run.transient.energy
    assert abs(account.missing) < 1e-6 * account.engine_work
    # Where it ends is where the load runs.
    assert run.transient.turbine_speed[-1] == pytest.approx(found.speed[found.reached], rel=0.05)
    # Until 95 %: what the engine gave is in the load, the oil and what turns.
    at = np.flatnonzero(run.transient.time >= run.time)[0]
    moving = run.transient.kinetic_energy[at] - run.transient.kinetic_energy[0]
    assert run.engine_work == pytest.approx(run.load_work + run.heat + moving, rel=0.02)


@pytest.mark.slow
def test_a_load_stays_at_rest_until_the_turbine_gives_its_breakaway_torque():
    line = LoadLine(constant=1000.0, breakaway=1400.0)
    run = run_up_from_rest(train(), line, SPEED * (2.0 - 1000.0 / TORQUE))
    course = run.transient
    at = int(np.flatnonzero(course.time >= run.starts_at)[0])
    # At rest the turbine gives 2 C omega^2.
    assert 2.0 * CAPACITY * course.engine_speed[at] ** 2 == pytest.approx(1400.0, rel=1e-6)
    assert np.all(course.turbine_speed[course.time < run.starts_at] == 0.0)
    # Once it turns it takes less.
    assert course.load_torque[-1] == 1000.0


def test_a_run_up_that_takes_minutes_is_not_followed():
    line = LoadLine(constant=600.0)
    assert run_up_from_rest(train(output=1e5), line, 100.0) is None
