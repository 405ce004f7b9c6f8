"""An awkward published characteristic: pump and turbine torque as quadratic forms of the speeds.

T = a wp^2 + b wp wt + c wt^2, A. J. Kotwicki, SAE 820393 (1982), repeated in R. Rajamani, Vehicle
Dynamics and Control (second-hand; two copies agree in converter mode). Its pump torque is not
monotone in speed ratio, and its torque ratio reaches 1 before the published switch at 0.9.
"""

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq, minimize_scalar

from converter_match.components.engine import Accessory
from converter_match.errors import InputError
from converter_match.physics.matching import match
from converter_match.physics.supply import engine_supply
from tests.examples import RPM, converter, engine

TABLE = Path(__file__).resolve().parents[2] / "data" / "published" / "quadratic_model.csv"


def form(torque, phase):
    """Coefficients a, b, c of a quadratic form as published."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        found = {
            row["term"]: float(row["coefficient"])
            for row in csv.DictReader(file)
            if (row["torque"], row["phase"]) == (torque, phase)
        }
    terms = ("pump_speed^2", "pump_speed*turbine_speed", "turbine_speed^2")
    return np.array([found[term] for term in terms])


PUMP, TURBINE = form("pump", "converter"), form("turbine", "converter")


def per_speed_squared(coefficients, nu):
    a, b, c = coefficients
    return a + b * nu + c * nu**2


def torque_ratio(nu):
    return per_speed_squared(TURBINE, nu) / per_speed_squared(PUMP, nu)


def sampled(step=0.05, **changes):
    """The model in converter mode, as a test sheet would give it."""
    nu = np.round(np.arange(0.0, 0.9 + step / 2, step), 10)
    fields = {
        "speed_ratio": nu,
        "torque_ratio": torque_ratio(nu),
        "capacity": per_speed_squared(PUMP, nu),
        "coupling_speed_ratio": None,
    }
    return converter(**fields | changes)


def small_engine():
    """A car engine, since that is what the model describes; round numbers."""
    return engine(
        torque=[110, 130, 145, 155, 152, 145, 135, 122],
        accessories=(Accessory(name="fan", power=1e3, at_speed=2200 * RPM, exponent=3),),
    )


def solved(nu):
    """Engine speed at a speed ratio by scipy, from the published form itself."""
    made = small_engine()

    def excess(omega):
        fan = 1e3 / (2200 * RPM) * (omega / (2200 * RPM)) ** 2
        return float(made.full_load(omega)) - fan - per_speed_squared(PUMP, nu) * omega**2

    return brentq(excess, made.low_idle, made.high_idle, xtol=1e-12)


def test_coefficients_are_as_published():
    assert PUMP.tolist() == [3.4325e-3, 2.2210e-3, -4.6041e-3]
    assert TURBINE.tolist() == [5.7656e-3, 0.3107e-3, -5.4323e-3]


def test_k_has_a_minimum_at_a_speed_ratio_of_about_a_quarter():
    # Computed: capacity is highest, so K lowest, at nu = -b / (2 c) = 0.24.
    unit = sampled()
    lowest = minimize_scalar(
        lambda nu: float(unit.capacity_in("k_factor", nu)), bounds=(0.0, 0.6), method="bounded"
    ).x
    assert lowest == pytest.approx(-PUMP[1] / (2 * PUMP[2]), abs=0.05)  # to a row of the sheet
    assert round(-PUMP[1] / (2 * PUMP[2]), 2) == 0.24
    finer = sampled(0.01)
    nu = np.linspace(0, 0.9, 901)
    assert nu[np.argmax(finer.capacity_at(nu))] == pytest.approx(0.24, abs=0.01)


def test_torque_ratio_reaches_one_before_the_published_switch():
    # Computed: the two forms are equal at nu = 0.883.
    a, b, c = TURBINE - PUMP
    exact = (-b - np.sqrt(b * b - 4 * a * c)) / (2 * c)
    assert round(exact, 3) == 0.883
    # With a fixed stator the curve passes 1 there, in the last interval of the sheet; with a
    # one-way stator the kink is put there on a straight line. Good to a few thousandths either way.
    assert sampled(stator="fixed").coupling == pytest.approx(exact, abs=1e-3)
    one_way = sampled()
    assert one_way.coupling == pytest.approx(exact, abs=3e-3)
    codes = [note.code for note in one_way.notes]
    assert codes == ["coupling-found-between-rows", "torque-ratio-below-one"]


def test_torques_that_step_at_the_switch_cannot_be_given_as_two_rows_at_one_speed_ratio():
    # At nu = 0.9 both torques step to the coupling form, whose coefficient b is from memory (the
    # copies disagree): a curve that is not single-valued is refused, not averaged.
    before = per_speed_squared(PUMP, 0.9)
    after = per_speed_squared(form("both", "coupling"), 0.9)
    assert abs(after / before - 1) > 0.02
    with pytest.raises(InputError, match="speed_ratio repeats at row 20"):
        sampled(
            speed_ratio=np.append(sampled().speed_ratio, 0.9),
            torque_ratio=np.append(sampled().torque_ratio, 1.0),
            capacity=np.append(sampled().capacity, after),
        )


def test_match_at_the_rows_is_that_of_the_model_solved_directly():
    unit = sampled()
    at = unit.speed_ratio
    points = match(engine_supply(small_engine()), unit, at).from_idle()
    np.testing.assert_allclose(points.engine_speed, [solved(nu) for nu in at], rtol=1e-12)
    turbine = per_speed_squared(TURBINE, at) * points.engine_speed**2
    np.testing.assert_allclose(points.turbine_torque, turbine, rtol=1e-12)


@pytest.mark.parametrize("step", [0.1, 0.05, 0.01])
def test_match_between_the_rows_is_as_good_as_the_interpolation(step):
    # Next to the highest capacity a shape-preserving cubic is only good to second order: at most
    # step^2 / 8 times C'' = 2 c, a share of C that moves the speed by at most half as much.
    nu = np.linspace(0.0, 0.85, 86)
    points = match(engine_supply(small_engine()), sampled(step), nu).from_idle()
    expected = np.array([solved(x) for x in nu])
    bound = 0.5 * step**2 / 8 * abs(2 * PUMP[2]) / per_speed_squared(PUMP, nu)
    assert np.all(np.abs(points.engine_speed / expected - 1) <= bound + 1e-12)
    if step == 0.05:  # the grid of test sheets: a match is good to a tenth of a percent
        assert bound.max() < 1e-3


def test_engine_is_pulled_down_first_and_runs_up_afterwards():
    # The dip of K: between stall and nu = 0.24 the converter gets tighter.
    nu = np.linspace(0.0, 0.9, 91)
    speed = match(engine_supply(small_engine()), sampled(0.01), nu).from_idle().engine_speed
    lowest = int(np.argmin(speed))
    assert nu[lowest] == pytest.approx(0.24, abs=0.01)
    assert speed[lowest] < speed[0] - 1 * RPM
    assert np.all(np.diff(speed[: lowest + 1]) < 0)
    assert np.all(np.diff(speed[lowest:]) > 0)
