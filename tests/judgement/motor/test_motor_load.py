"""A load that is no vehicle behind a motor: affinity laws by hand, what starts, what hangs."""

import math

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.judgement.motor.load import motor_over_load
from converter_match.judgement.motor.solve import solve_motor
from converter_match.library.read import read_converter, read_load, read_motor
from converter_match.library.shipped import shipped
from tests.motors import RPM, motor

LOADER = read_motor(shipped("motors")["loader-650v-120kw"])
TRUCK = read_motor(shipped("motors")["lift-truck-80v-30kw"])
TIGHT = read_converter(shipped("converters")["single-stage-345mm-tight"])
SMALL = read_converter(shipped("converters")["single-stage-260mm"])


def load(name):
    return read_load(shipped("loads")[name])


def codes(answer):
    return {note.code for note in answer.notes}


def test_behind_a_constant_torque_a_pump_turns_with_the_root_of_it():
    # mu(nu) C(nu) = c nu^2 wherever the torque is: the same speed ratio, and speed ~ sqrt(T).
    speed = np.array([0.0, 3000.0, 9000.0]) * RPM
    flat = motor(
        speed=speed, peak=np.full(3, 500.0), continuous=np.full(3, 320.0), regenerative=None,
        speed_limit=9000.0 * RPM,
    )  # fmt: skip
    answer = motor_over_load(solve_motor(flat, TIGHT), load("quarry-drain-pump"))
    peak, steady = (answer.carried[rating][0] for rating in ("peak", "continuous"))
    assert steady.turbine_speed / peak.turbine_speed == pytest.approx(math.sqrt(0.64), rel=1e-6)
    ratios = [each.found.states.units[0].speed_ratio[each.found.reached] for each in (peak, steady)]
    assert ratios[0] == pytest.approx(ratios[1], rel=1e-6)
    assert not answer.fails


def test_layers_that_the_peak_alone_carries_are_named():
    answer = motor_over_load(solve_motor(LOADER, TIGHT), load("yarder-winch"))
    assert {"load-started-on-peak", "load-on-peak-only", "load-hangs", "hanging-with-a-motor"} <= (
        codes(answer)
    )
    rows = answer.to_dict()["load"]["equilibria"]
    assert all(row["share_percent"] <= 100.0 + 1e-6 for row in rows
               if row["torque"] == "continuous")  # fmt: skip
    assert answer.fails


def test_what_pulls_the_turbine_backwards_without_data_is_refused():
    with pytest.raises(InputError, match="pulls the turbine backwards"):
        motor_over_load(solve_motor(TRUCK, SMALL), load("yarder-winch"))


def test_a_load_beside_a_match_stands_in_its_text():
    match = solve_motor(LOADER, TIGHT)
    match = match.with_beside(motor_over_load(match, load("crusher-conveyor")))
    assert "Where the load runs" in match.text()
    assert match.to_dict()["load"]["lines"][0]["starts"]
