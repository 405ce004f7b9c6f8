"""The figure of a route shows what the result knows."""

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.judgement.haul.haul import haul
from converter_match.judgement.match.solve import solve
from converter_match.library.read import read_converter, read_engine
from converter_match.library.route_csv import find_route, read_route
from converter_match.library.shipped import find
from converter_match.present.drawing import style
from converter_match.present.figures.route import route_figure
from tests.haul_examples import parts


def result(name):
    return haul(*parts(), read_route(find_route(name)))


def by_gid(figure, gid):
    return [a for a in figure.findobj() if getattr(a, "get_gid", lambda: None)() == gid]


@pytest.mark.parametrize(("system", "factor"), [("si", 3.6), ("us", 3600 / 1609.344)])
@pytest.mark.slow
def test_speed_curve_is_the_run(system, factor):
    shown = result("quarry-to-crusher")
    figure = route_figure(shown, system=system)
    [line] = by_gid(figure, "speed")
    assert np.allclose(line.get_ydata(), factor * shown.run.profile.speed[:, 0])
    [oil] = by_gid(figure, "oil-temperature")
    kelvin = shown.run.oil.settled[:, 0]
    expected = kelvin - 273.15 if system == "si" else kelvin * 1.8 - 459.67
    assert np.allclose(oil.get_ydata(), expected)
    # The road below: its length times the sine of its slope, in the unit that the axis names.
    [height] = by_gid(figure, "height")
    unit, metres = ("m", 1.0) if system == "si" else ("ft", 0.3048)
    assert height.axes.get_ylabel() == f"height above the start ({unit})"
    slope = np.sin(np.arctan(shown.route.grade))
    assert np.allclose(np.diff(height.get_ydata()), shown.route.length * slope / metres)


@pytest.mark.slow
def test_standstill_is_marked():
    figure = route_figure(result("too-steep"))
    assert len(by_gid(figure, "standstill")) == 5


@pytest.mark.slow
def test_axes_carry_units():
    figure = route_figure(result("quarry-to-crusher"))
    names = [ax.get_ylabel() for ax in figure.axes] + [figure.axes[-1].get_xlabel()]
    for unit in ("(m)", "(km/h)", "(kW)", "(°C)", "(km)"):
        assert any(unit in name for name in names), unit


def test_number_of_axes_is_checked():
    with pytest.raises(InputError, match="needs five axes"):
        route_figure(result("too-steep"), axes=[])


@pytest.mark.slow
def test_a_machine_that_does_not_start_is_said_not_to_on_every_panel():
    match = solve(
        read_engine(find("engines", "four-cylinder-2l5-45kw")),
        read_converter(find("converters", "single-stage-420mm")),
    )
    shown = haul(match, *parts()[1:], read_route(find_route("quarry-to-crusher")))
    figure = route_figure(shown)
    words = "does not start: insufficient tractive effort"
    for ax in figure.axes[1:]:
        assert words in [text.get_text() for text in ax.texts]
    assert not by_gid(figure, "speed")
    assert not by_gid(figure, "oil-temperature")
    # And nothing is written beside the axes.
    style.render(figure, "png", dpi=60)
    for ax in figure.axes:
        for text in ax.texts:
            assert ax.bbox.x0 <= text.get_window_extent().x0
            assert ax.bbox.y0 <= text.get_window_extent().y0
