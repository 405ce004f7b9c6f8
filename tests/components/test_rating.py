"""The curve estimated from a rating line."""

import numpy as np
import pytest

from converter_match.components.engine import Engine
from converter_match.errors import InputError
from tests.examples import RPM


def rated(**changes):
    line = {
        "rated_power": 138e3,
        "rated_speed": 2200 * RPM,
        "peak_torque": 1000.0,
        "peak_torque_speed": 1300 * RPM,
        "low_idle": 800 * RPM,
        "high_idle": 2380 * RPM,
        "rating_basis": "gross",
        "governing": "speed",
    }
    return Engine.from_rating(**(line | changes))


def test_the_curve_passes_through_both_given_points():
    engine = rated()
    assert engine.full_load(1300 * RPM) == pytest.approx(1000.0, rel=1e-12)
    assert engine.rated_power == pytest.approx(138e3, rel=1e-12)
    assert engine.peak_torque == pytest.approx((1300 * RPM, 1000.0))


@pytest.mark.parametrize("peak", [600.0, 700.0, 850.0, 1000.0])
def test_no_speed_gives_more_than_the_rated_power(peak):
    engine = rated(peak_torque=peak)
    speed = np.linspace(800, 2200, 1000) * RPM
    power = engine.full_load(speed) * speed
    # Interpolation between rows that lie on the power limit may bulge above it by a trace.
    assert power.max() <= 138e3 * 1.002


def test_a_rating_line_that_contradicts_itself_is_refused():
    with pytest.raises(InputError, match="peak_torque"):
        rated(peak_torque=500.0)
    with pytest.raises(InputError, match="peak_torque_speed"):
        rated(peak_torque_speed=2300 * RPM)
