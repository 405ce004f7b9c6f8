"""The figure of a measured run: what is measured, fitted and predicted, each by its line."""

import numpy as np
import pytest

from converter_match.judgement.identify.full_throttle import FirstGear, RoadAssumed
from converter_match.library.published_run import published
from converter_match.present.figures.measured_run import measured_run_figure


@pytest.fixture(scope="module")
def result():
    run, bench = published("full_throttle_run"), published("converter_273mm")
    return FirstGear(run, bench, RoadAssumed(mass=2676.0), (0.75, 7.0)).next_gear(8.0, 14.9)


def line(figure, gid):
    [found] = [item for ax in figure.axes for item in ax.lines if item.get_gid() == gid]
    return found


@pytest.mark.parametrize(("system", "unit"), [("si", 3.6), ("us", 1.0 / 0.44704)])
def test_measured_rows_and_predicted_line_are_drawn_in_the_units_of_the_reader(
    result, system, unit
):
    figure = measured_run_figure(result, system=system)
    run = result.first.run
    assert line(figure, "road-speed").get_ydata() == pytest.approx(run.road_speed * unit)
    drawn = line(figure, "predicted-road-speed")
    assert drawn.get_xdata() == pytest.approx(run.time[result.inside])
    assert drawn.get_ydata() == pytest.approx(result.foretold[0] * unit)
    rpm = 30.0 / np.pi
    assert line(figure, "predicted-engine-speed").get_ydata() == pytest.approx(
        result.foretold[1] * rpm
    )
    name = "km/h" if system == "si" else "mph"
    assert any(name in ax.get_ylabel() for ax in figure.axes)


def test_rows_that_tell_of_the_torque_are_told_from_those_that_do_not(result):
    figure = measured_run_figure(result)
    first = result.first
    told, other = line(figure, "told"), line(figure, "not-told")
    assert told.get_ydata() == pytest.approx(first.efficiencies[first.told])
    assert told.get_color() != other.get_color()
    assert (told.get_xdata() < 0.8).all()
    assert line(figure, "efficiency").get_ydata() == pytest.approx([first.efficiency] * 2)


def test_fitted_torque_goes_over_the_speeds_of_the_first_gear_only(result):
    figure = measured_run_figure(result)
    speeds = result.first.run.engine_speed[result.first.inside] * 30.0 / np.pi
    across = line(figure, "fitted-torque").get_xdata()
    assert across[[0, -1]] == pytest.approx([speeds.min(), speeds.max()])
