"""An estimated converter is drawn with its band; its rows are not marked as those of a sheet."""

import numpy as np
import pytest

from converter_match.components.converter_estimate import estimated_converter
from converter_match.components.stall_datum import StallDatum
from converter_match.judgement.match.solve import solve
from converter_match.present.figures.characteristic import characteristic
from converter_match.present.figures.overlay import overlay
from tests.examples import RPM, converter, engine


@pytest.fixture(scope="module")
def unit():
    datum = StallDatum(engine_speed=1900 * RPM, input_torque=880.0, torque_ratio=(2.1, 2.3))
    return estimated_converter(datum, id="known", name="Known", source="test", stator="one-way")


def artist(figure, gid):
    found = [item for ax in figure.axes for item in ax.findobj(lambda a: a.get_gid() == gid)]
    assert len(found) == 1, gid
    return found[0]


def gids(figure):
    return {str(item.get_gid()) for ax in figure.axes for item in ax.findobj() if item.get_gid()}


def words(figure):
    texts = figure.findobj(lambda a: hasattr(a, "get_text"))
    return " ".join(" ".join(text.get_text() for text in texts).split())


def ends(shade, at):
    """Least and most of a shaded band at a place on the horizontal axis."""
    [path] = shade.get_paths()
    x, y = path.vertices.T
    near = y[np.isclose(x, at, atol=1e-9)]
    return float(near.min()), float(near.max())


def test_characteristic_shades_the_band_and_marks_no_rows(unit):
    figure = characteristic(unit)
    assert ends(artist(figure, "torque-ratio-0-band"), 0.0) == pytest.approx((2.1, 2.3))
    assert not any("given" in gid for gid in gids(figure))
    said = words(figure)
    assert "Shaded: least and most that an estimate may be." in said
    assert "Hollow marks" not in said
    assert "estimated from its stall alone" in said
    assert "(estimated)" in said


def test_characteristic_of_a_sheet_has_no_band():
    figure = characteristic(converter())
    assert not any("band" in gid for gid in gids(figure))
    assert "Shaded" not in words(figure)


@pytest.mark.slow
def test_overlay_shades_what_the_estimate_leaves_open(unit):
    result = solve(engine(), unit)
    figure = overlay(result)
    least, most = ends(artist(figure, "turbine-torque-band"), 0.0)
    # At stall the input is known, so turbine torque goes with the torque ratio.
    assert (least, most) == pytest.approx(
        (2.1 * result.stall.input_torque, 2.3 * result.stall.input_torque), rel=1e-6
    )
    assert {"efficiency-band", "heat-band"} <= gids(figure)
    assert "Shaded: least and most that the estimated converter may give." in words(figure)
