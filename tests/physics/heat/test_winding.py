"""How long a winding stands an overload, against the thermal law of overload relays."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from converter_match.components.winding import Winding
from converter_match.physics.heat.winding import (
    derating,
    holding_time,
    permitted,
    rise_after,
    time_constant,
)
from tests.motors import motor


def test_peak_from_cold_is_held_for_the_time_of_the_sheet():
    given = motor()  # peak is twice the continuous torque, for 120 s
    assert float(holding_time(given, 2.0)) == pytest.approx(120.0)
    # t = tau ln(I^2 / (I^2 - I_b^2)), cold curve of IEC 60255-149 (from memory).
    assert time_constant(given) == pytest.approx(120.0 / math.log(4.0 / 3.0))


def test_hot_curve_is_that_of_a_relay():
    # t = tau ln((I^2 - I_p^2) / (I^2 - I_b^2)) with I_p the load before (IEC 60255-149, from
    # memory): 1.5 times the continuous torque after long work at 0.8 of it.
    given = motor(winding=Winding(time_constant=600.0))
    expected = 600.0 * math.log((2.25 - 0.64) / (2.25 - 1.0))
    assert float(holding_time(given, 1.5, start=0.64)) == pytest.approx(expected)


def test_continuous_torque_is_held_for_good_and_no_more_from_its_own_warmth():
    given = motor()
    assert holding_time(given, [0.3, 1.0]).tolist() == [math.inf, math.inf]
    assert float(holding_time(given, 1.01, start=1.0)) == 0.0


def test_peak_from_warm_gives_the_time_of_the_sheet_from_there():
    winding = Winding(thermal_class="155", rise_at_continuous=70.0)
    given = motor(winding=winding, peak_from="warm")
    assert float(holding_time(given, 2.0, start=1.0)) == pytest.approx(120.0)
    assert float(holding_time(given, 2.0)) > 120.0


def test_hot_coolant_takes_from_the_continuous_torque():
    given = motor(winding=Winding(thermal_class="155"))
    hot = 273.15 + 40.0 + 105.0 * 0.36
    assert permitted(given, hot) == pytest.approx(0.64)
    assert derating(given, hot) == pytest.approx(0.8)  # heat goes with the square
    assert derating(given, 273.15) == 1.0
    assert derating(given, 273.15 + 150.0) == 0.0


def test_steps_of_rise_follow_the_equation():
    given = motor(winding=Winding(time_constant=300.0))
    square, time = np.array([4.0, 0.25, 1.0]), np.array([60.0, 200.0, 30.0])
    rises = rise_after(given, square, time, start=0.2)
    now = 0.2
    for q, span, after in zip(square, time, rises[1:], strict=True):
        run = solve_ivp(lambda _, y, q=q: (q - y) / 300.0, (0.0, span), [now], rtol=1e-10)
        now = float(run.y[0, -1])
        assert after == pytest.approx(now, rel=1e-6)
