"""Motors for tests, from closed forms: nobody's data."""

import numpy as np

from converter_match.components.motor import Motor
from converter_match.components.motor_losses import LossModel

RPM = np.pi / 30.0


def motor(**changes):
    """Return a motor with 200 N.m to 1500 rpm and constant power to 4500; half of it for good."""
    weak = np.linspace(1500.0, 4500.0, 61)
    speed = np.concatenate([[0.0, 500.0, 1000.0], weak]) * RPM
    peak = np.concatenate([[200.0] * 3, 200.0 * 1500.0 / weak])
    return Motor(
        **{
            "id": "test-motor",
            "name": "Motor for tests",
            "source": "closed form",
            "speed": speed,
            "peak": peak,
            "continuous": 0.5 * peak,
            "regenerative": -0.8 * peak,
            "speed_limit": 4500.0 * RPM,
            "peak_time": 120.0,
            "losses": LossModel(standing=100.0, copper_power=1500.0, copper_torque=100.0),
        }
        | changes
    )
