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

from converter_match.components.converter import Converter
from converter_match.components.engine import Accessory
from converter_match.curves import Curve
from converter_match.errors import InputError
from converter_match.physics.dynamics.drive_train import Commands, DriveTrain
from converter_match.physics.dynamics.simulation import Start, simulate
from converter_match.physics.engine.supply import TorqueSupply, engine_supply
from converter_match.physics.match.solver import match
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
MODEL = {
    "topic": "Quadratic converter model",
    "source": "A. J. Kotwicki, SAE 820393 (1982), repeated in R. Rajamani, Vehicle Dynamics and "
    "Control; two copies agree in converter mode",
}


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


def test_k_has_a_minimum_at_a_speed_ratio_of_about_a_quarter(published_case):
    # Computed: capacity is highest, so K lowest, at nu = -b / (2 c) = 0.24.
    unit = sampled()
    lowest = minimize_scalar(
        lambda nu: float(unit.capacity_in("k_factor", nu)), bounds=(0.0, 0.6), method="bounded"
    ).x
    assert lowest == pytest.approx(-PUMP[1] / (2 * PUMP[2]), abs=0.05)  # to a row of the sheet
    assert round(-PUMP[1] / (2 * PUMP[2]), 2) == 0.24
    finer = sampled(0.01)
    nu = np.linspace(0, 0.9, 901)
    published_case(
        **MODEL, tag="computed", quantity="speed ratio at the least K", inputs="rows every 0.01",
        published=0.24, ours=nu[np.argmax(finer.capacity_at(nu))], tolerance=0.01,
        why="one row of the sheet",
    )  # fmt: skip


def test_torque_ratio_reaches_one_before_the_published_switch(published_case):
    # Computed: the two forms are equal at nu = 0.883.
    a, b, c = TURBINE - PUMP
    exact = (-b - np.sqrt(b * b - 4 * a * c)) / (2 * c)
    assert round(exact, 3) == 0.883
    # With a fixed stator the curve passes 1 there, in the last interval of the sheet; with a
    # one-way stator the kink is put there on a straight line. Good to a few thousandths either way.
    one_way = sampled()
    for stator, unit, tolerance in (
        ("fixed", sampled(stator="fixed"), 1e-3), ("one-way", one_way, 3e-3)
    ):  # fmt: skip
        published_case(
            **MODEL, tag="computed", quantity="speed ratio at torque ratio 1",
            inputs=f"rows every 0.05, {stator} stator", published=0.883, ours=unit.coupling,
            tolerance=tolerance, why="interpolation in the last interval of the sheet",
        )  # fmt: skip
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


def test_match_at_the_rows_is_that_of_the_model_solved_directly(published_case):
    unit = sampled()
    at = unit.speed_ratio
    points = match(engine_supply(small_engine()), unit, at).from_idle()
    published_case(
        **MODEL, tag="computed", quantity="engine speed at the match [rad/s]",
        inputs="19 speed ratios, 0 to 0.9; the published form solved by scipy's brentq",
        published=[solved(nu) for nu in at], ours=points.engine_speed, relative=1e-12,
        why="tolerance of brentq",
    )  # fmt: skip
    turbine = per_speed_squared(TURBINE, at) * points.engine_speed**2
    np.testing.assert_allclose(points.turbine_torque, turbine, rtol=1e-12)


@pytest.mark.parametrize("step", [0.1, 0.05, 0.01])
def test_match_between_the_rows_is_as_good_as_the_interpolation(step, published_case):
    # Next to the highest capacity a shape-preserving cubic is only good to second order: at most
    # step^2 / 8 times C'' = 2 c, a share of C that moves the speed by at most half as much.
    nu = np.linspace(0.0, 0.85, 86)
    points = match(engine_supply(small_engine()), sampled(step), nu).from_idle()
    expected = np.array([solved(x) for x in nu])
    bound = 0.5 * step**2 / 8 * abs(2 * PUMP[2]) / per_speed_squared(PUMP, nu)
    assert np.all(np.abs(points.engine_speed / expected - 1) <= bound + 1e-12)
    if step == 0.05:  # the grid of test sheets: a match is good to a tenth of a percent
        published_case(
            **MODEL, tag="computed", quantity="engine speed between the rows [rad/s]",
            inputs="86 speed ratios, 0 to 0.85, from rows every 0.05; the form solved by brentq",
            published=expected, ours=points.engine_speed, relative=float(bound.max()),
            why="bound of the interpolation, step² C''/8, halved for speed",
        )  # fmt: skip
        assert bound.max() < 1e-3


def test_engine_is_pulled_down_first_and_runs_up_afterwards():
    # The dip of K: between stall and nu = 0.24 the converter gets tighter.
    nu = np.linspace(0.0, 0.9, 91)
    speed = match(engine_supply(small_engine()), sampled(0.01), nu).from_idle().engine_speed
    lowest = int(np.argmin(speed))
    # Where K is least, which makes a row of its own; to a step of the grid.
    assert nu[lowest] == pytest.approx(0.24, abs=0.01 + 1e-12)
    assert speed[lowest] < speed[0] - 1 * RPM
    assert np.all(np.diff(speed[: lowest + 1]) < 0)
    assert np.all(np.diff(speed[lowest:]) > 0)


def test_model_gives_the_same_course_in_time(published_case):
    """The converter sampled from the published formula, against the formula itself integrated by a
    classical Runge-Kutta rule: another representation and another integrator.
    """
    model = {"pump": PUMP, "turbine": TURBINE}
    nu = np.linspace(0.0, 0.88, 177)  # the published converter mode ends at 0.9

    def torque(name, w_p, w_t):
        a, b, c = model[name]
        return a * w_p**2 + b * w_p * w_t + c * w_t**2

    sampled = Converter(
        id="quadratic", name="quadratic model", source="SAE 820393", stator="one-way",
        speed_ratio=nu, capacity=torque("pump", 1.0, nu),
        torque_ratio=torque("turbine", 1.0, nu) / torque("pump", 1.0, nu),
    )  # fmt: skip
    j1, j2, drag, duration = 0.25, 1.2, 0.0042, 6.0
    engine_torque = (160.0, -0.1)  # N.m, N.m.s

    def slope(w):
        w_p, w_t = w
        return np.array([
            (engine_torque[0] + engine_torque[1] * w_p - torque("pump", w_p, w_t)) / j1,
            (torque("turbine", w_p, w_t) - drag * w_t**2) / j2,
        ])  # fmt: skip

    steps, w = 6000, np.array([90.0, 0.0])
    h = duration / steps
    course_of_formula = [w]
    for _ in range(steps):
        k1 = slope(w)
        k2 = slope(w + h / 2 * k1)
        k3 = slope(w + h / 2 * k2)
        k4 = slope(w + h * k3)
        w = w + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
        course_of_formula.append(w)
    course_of_formula = np.array(course_of_formula)
    line = Curve([60.0, 600.0], [154.0, 100.0], name="torque", x_name="speed")
    course = simulate(
        DriveTrain(TorqueSupply(line), sampled, j1 - 0.05, 0.05, j2),
        Commands(load_per_speed_squared=drag),
        Start(90.0),
        duration,
        samples=121,
    )
    assert course.stopped is None
    assert 0.5 < course.speed_ratio[-1] < 0.88
    every = steps // (course.time.size - 1)
    # Shape-preserving interpolation between 177 points of a parabola leaves parts in ten million.
    for shaft, ours, formula in (
        ("engine", course.engine_speed, course_of_formula[::every, 0]),
        ("turbine", course.turbine_speed, course_of_formula[::every, 1]),
    ):
        published_case(
            **MODEL, tag="computed", quantity=f"{shaft} speed over time [rad/s]",
            inputs="run-up of 6 s, 121 times; the form itself by a classical Runge-Kutta rule",
            published=formula, ours=ours, tolerance=5e-4,
            why="interpolation between 177 rows: parts in ten million of 250 rad/s",
        )  # fmt: skip
