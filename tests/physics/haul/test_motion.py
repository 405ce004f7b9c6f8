"""Motion over a way against quadrature of its definition (scipy)."""

import math

import numpy as np
import pytest
from scipy.integrate import quad

from converter_match.physics.haul.motion import square_after, time_of

# Start speed, acceleration there, its slope over the square of speed, way: towards a balance and
# away from it, below and above, from rest, slowing down, and nearly steady.
CASES = (
    (6.2, 2.7e-2, -1e-2, 50.0),
    (6.2, -2.7e-2, -1e-2, 50.0),
    (3.0, 0.5, 5e-3, 40.0),
    (8.0, -0.5, 1e-3, 20.0),
    (8.0, -0.2, 2e-2, 20.0),
    (0.0, 1.5, -2e-2, 25.0),
    (0.0, 1.5, 0.0, 25.0),
    (5.0, 0.0, -1e-2, 30.0),
    (5.0, 0.3, 1e-14, 30.0),
)


@pytest.mark.parametrize(("speed", "rate", "slope", "way"), CASES)
def test_time_is_the_integral_of_one_over_the_speed_along_the_way(speed, rate, slope, way):
    # v^2 from its own differential equation d(v^2)/dx = 2 (a + l (v^2 - v_0^2)), solved by hand.
    def square(x):
        grown = x if slope == 0.0 else np.expm1(2.0 * slope * x) / (2.0 * slope)
        return speed**2 + 2.0 * rate * grown

    # In the root of the way, so that a start from rest is no pole: dt = 2 u du / v.
    def integrand(u):
        return 2.0 * u / np.sqrt(square(u * u)) if u > 0.0 else np.sqrt(2.0 / rate)

    begins = speed > 0.0
    expected = quad(lambda x: 1.0 / np.sqrt(square(x)), 0.0, way)[0] if begins else (
        quad(integrand, 0.0, np.sqrt(way))[0]
    )  # fmt: skip
    motion = (speed**2, rate, slope, way)
    end = math.sqrt(square_after(*motion))
    assert end**2 == pytest.approx(square(way), rel=1e-9)
    assert time_of(*motion, speed, end) == pytest.approx(expected, rel=1e-7)


def test_time_in_long_steps_is_that_in_short_ones():
    # On which the acceleration falls to 1/e, as on the way to a speed that a climb is kept at.
    whole = (36.0, 0.07, -0.01, 50.0)
    time, speed = 0.0, 6.0
    for _ in range(100):
        piece = (speed**2, 0.07 - 0.01 * (speed**2 - 36.0), -0.01, 0.5)
        last = math.sqrt(square_after(*piece))
        time += time_of(*piece, speed, last)
        speed = last
    end = math.sqrt(square_after(*whole))
    assert time_of(*whole, 6.0, end) == pytest.approx(time, rel=1e-9)
