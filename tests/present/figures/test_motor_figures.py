"""Figures of a motor are drawn from its results, with units on the axes."""

import numpy as np
import pytest

from converter_match.judgement.motor.drive import MotorDrive
from converter_match.judgement.motor.load import motor_over_load
from converter_match.judgement.motor.route import motor_route
from converter_match.judgement.motor.setup import MotorSetup
from converter_match.judgement.motor.solve import solve_motor
from converter_match.judgement.motor.tractive import motor_tractive
from converter_match.library.read import (
    read_converter,
    read_driveline,
    read_load,
    read_machine,
    read_motor,
)
from converter_match.library.route_csv import find_route, read_route
from converter_match.library.shipped import shipped
from converter_match.library.surfaces import find_surface, read_surfaces
from converter_match.present.figures.motor import flag_words, motor_figure
from converter_match.present.figures.motor_route import motor_route_figure
from converter_match.present.figures.motor_tractive import motor_tractive_figure

MOTOR = read_motor(shipped("motors")["lift-truck-80v-30kw"])
CONVERTER = read_converter(shipped("converters")["single-stage-260mm"])
LINE = read_driveline(shipped("drivelines")["two-speed-lift-truck"])
MACHINE = read_machine(shipped("machines")["lift-truck-5t"])
ROAD = find_surface("concrete or asphalt", read_surfaces())


def line(figure, gid):
    found = [item for ax in figure.axes for item in ax.lines if item.get_gid() == gid]
    assert len(found) == 1, gid
    return np.asarray(found[0].get_xdata(), float), np.asarray(found[0].get_ydata(), float)


def test_foot_of_a_figure_says_assumptions_and_warnings_and_leaves_cautions_to_the_text():
    said = flag_words(solve_motor(MOTOR, CONVERTER))
    assert said.startswith("Assumed: ")
    assert "Warnings: pumps stand still with the motor." in said
    assert "stall overloads" not in said


@pytest.mark.slow
@pytest.mark.parametrize(("system", "unit"), [("si", "N·m"), ("us", "lbf·ft")])
def test_match_of_a_motor_shows_both_torques_and_their_stall_points(system, unit):
    result = solve_motor(MOTOR, CONVERTER)
    figure = motor_figure(result, system=system)
    assert f"({unit})" in figure.axes[0].get_ylabel()
    factor = 1.0 if system == "si" else 1.3558179483
    for rating, highest in (("peak", 240.0), ("continuous", 130.0)):
        assert line(figure, rating)[1].max() * factor == pytest.approx(highest, rel=1e-6)
        x, y = line(figure, f"{rating}-stall-point")
        point = getattr(result, rating).stall
        assert x[0] == pytest.approx(point.engine_speed * 30 / np.pi)
        assert y[0] * factor == pytest.approx(point.input_torque)
    words = {text.get_text() for ax in figure.axes for text in ax.texts}
    assert {"peak torque", "continuous torque"} <= words


@pytest.mark.slow
def test_effort_of_a_motor_is_that_of_its_envelopes():
    result = motor_tractive(MotorDrive(MotorSetup(MOTOR), ratio=1.6), LINE, MACHINE, ROAD)
    figure = motor_tractive_figure(result)
    for rating, cover in result.envelopes.items():
        x, y = line(figure, f"effort-{rating}")
        assert x == pytest.approx(cover.speed * 3.6)
        assert y == pytest.approx(cover.effort / 1e3, nan_ok=True)
    assert "(kN)" in figure.axes[0].get_ylabel()


@pytest.mark.slow
def test_power_on_a_route_is_drawn_above_and_returned_below_zero():
    drive = MotorDrive(MotorSetup(MOTOR), ratio=1.6)
    route = read_route(find_route("timber-stack-to-kiln"))
    result = motor_route(drive, LINE, MACHINE, route)
    figure = motor_route_figure(result)
    power = result.runs["peak"].electric_power / 1e3
    assert line(figure, "drawn")[1].max() == pytest.approx(power.max())
    assert line(figure, "returned")[1].min() == pytest.approx(power.min())
    assert line(figure, "speed")[0][-1] == pytest.approx(400.0)
    assert "(kW)" in figure.axes[1].get_ylabel()


@pytest.mark.slow
def test_line_of_a_load_stands_in_the_panel_of_the_turbine_with_both_torques():
    motor = read_motor(shipped("motors")["loader-650v-120kw"])
    match = solve_motor(motor, read_converter(shipped("converters")["single-stage-345mm-tight"]))
    found = motor_over_load(match, read_load(shipped("loads")["mud-mixer"]))
    figure = motor_figure(match.with_beside(found))
    x, y = line(figure, "load-point-0")
    each = found.carried["peak"][0]
    assert y[0] == pytest.approx(float(each.line(each.turbine_speed)), rel=1e-6)
    assert x[0] > line(figure, "load-continuous-point-0")[0][0]
