"""An engine that runs while impeller and turbine stand still, behind an open impeller clutch."""

import numpy as np
import pytest

from converter_match.physics.dynamics.drive_train import (
    Commands,
    DriveTrain,
    Schedule,
    drawn_to_unity,
)
from converter_match.physics.dynamics.simulation import Start, simulate
from converter_match.physics.engine.supply import engine_supply
from tests.examples import RPM, converter, engine


@pytest.mark.parametrize("load", [0.0, 50.0])
def test_converter_at_rest_behind_an_open_clutch_stays_at_rest_until_the_clutch_closes(load):
    train = DriveTrain(
        supply=engine_supply(engine()),
        converter=drawn_to_unity(converter()),
        engine_inertia=2.0,
        impeller_inertia=0.5,
        output_inertia=40.0,
    )
    open_until = 1.0
    clutch = Schedule(np.array([0.0, open_until, 1.5, 4.0]), np.array([0.0, 0.0, 900.0, 900.0]))
    course = simulate(
        train,
        Commands(load=Schedule.constant(load), impeller_clutch=clutch),
        Start(800 * RPM, 0.0, impeller_speed=0.0),
        4.0,
    )
    assert course.stopped is None
    still = course.time <= open_until
    np.testing.assert_array_equal(course.impeller_speed[still], 0.0)
    np.testing.assert_array_equal(course.turbine_speed[still], 0.0)
    # The engine runs up alone, on its own torque: I (w1 - w0) is the torque summed over time.
    impulse = np.trapezoid(course.engine_torque[still], course.time[still])
    gained = 2.0 * (course.engine_speed[still][-1] - course.engine_speed[0])
    assert gained == pytest.approx(impulse, rel=1e-3)  # trapezoids
    assert course.turbine_speed[-1] > 0.5 * course.engine_speed[-1]
    account = course.energy
    assert abs(account.missing) < 1e-6 * abs(account.engine_work)
