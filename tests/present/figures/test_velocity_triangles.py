import re

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.physics.converter.velocity_triangles import velocity_triangles
from converter_match.present.drawing import style
from converter_match.present.figures.velocity_triangles import velocity_triangle_panels
from tests.blading_examples import blading

FOOT = 0.3048


def found(ax, gid):
    [artist] = [artist for artist in ax.get_children() if artist.get_gid() == gid]
    return artist


@pytest.mark.parametrize(("system", "unit", "factor"), [("si", "m/s", 1.0), ("us", "ft/s", FOOT)])
@pytest.mark.slow
def test_arrows_are_the_velocities_of_the_result(system, unit, factor):
    result = velocity_triangles(blading(), 0.6, 200.0)
    axes = velocity_triangle_panels(result, system=system)
    for ax, triangle in zip(axes, result.triangles, strict=True):
        absolute = found(ax, f"{triangle.row}-absolute").get_xydata() * factor
        np.testing.assert_allclose(absolute[1], [triangle.swirl, triangle.meridional])
        blade = found(ax, f"{triangle.row}-blade-speed").get_xydata() * factor
        np.testing.assert_allclose(blade[1], [triangle.blade_speed, 0])
        relative = found(ax, f"{triangle.row}-relative").get_xydata() * factor
        np.testing.assert_allclose(blade[1] + np.diff(relative, axis=0)[0], absolute[1])  # u + W
        shock = found(ax, f"{triangle.row}-shock").get_xydata() * factor
        np.testing.assert_allclose(shock[1, 0] - shock[0, 0], triangle.shock)
        assert unit in ax.get_ylabel()
        assert triangle.row in ax.get_ylabel()
    assert unit in axes[-1].get_xlabel()


@pytest.mark.slow
def test_angles_are_true():
    for ax in velocity_triangle_panels(velocity_triangles(blading(), 0.6, 200.0)):
        origin, x, y = ax.transData.transform([(0, 0), (1, 0), (0, 1)])
        assert x[0] - origin[0] == pytest.approx(y[1] - origin[1], rel=1e-6)


@pytest.mark.slow
def test_every_arrow_has_its_name_beside_it():
    [first, *_] = velocity_triangle_panels(velocity_triangles(blading(), 0.6, 200.0))
    for name in ("blade-speed", "absolute", "relative", "next-blade", "shock"):
        assert found(first, f"impeller-{name}-label").get_text()


@pytest.mark.slow
def test_heading_names_the_operation_and_says_that_it_is_an_estimate():
    [first, *_] = velocity_triangle_panels(velocity_triangles(blading(), 0.95, 200.0), system="us")
    said = " ".join(text.get_text() for text in first.get_figure().texts)
    assert "stator freewheels" in said
    assert "gal/min" in said
    assert "Estimate" in said


@pytest.mark.slow
def test_an_estimated_flow_is_given_in_three_digits():
    for speed in (100.0, 200.0, 300.0):
        [first, *_] = velocity_triangle_panels(velocity_triangles(blading(), 0.0, speed))
        said = " ".join(text.get_text() for text in first.get_figure().texts)
        [amount] = re.findall(r"at about (\d+) L/min", said)
        assert len(amount.rstrip("0")) <= 3


@pytest.mark.slow
def test_given_axes_are_used_and_their_number_checked():
    result = velocity_triangles(blading(mounting="none"), 0.5, 200.0)
    axes = list(style.new_figure().subplots(2, 1))
    assert list(velocity_triangle_panels(result, axes=axes)) == axes
    with pytest.raises(InputError, match="one axes for each triangle"):
        velocity_triangle_panels(result, axes=axes[:1])


def test_unknown_unit_system_is_refused():
    with pytest.raises(InputError, match="si or us"):
        velocity_triangle_panels(velocity_triangles(blading(), 0.6, 200.0), system="metric")
