"""A converter estimated from its stall: exact there, a band beyond, and refused where it cannot be.

The usual stall torque ratio, the best efficiency and the performance coefficients that bound an
estimate are common practice, no source.
"""

import numpy as np
import pytest

from converter_match.components.converter_estimate import (
    BEST_EFFICIENCY,
    ESTIMATED,
    estimated_converter,
)
from converter_match.components.generic_shapes import MEASURED, place_of, speed_ratio_at
from converter_match.components.stall_datum import USUAL_TORQUE_RATIO, StallDatum
from converter_match.errors import InputError
from tests.examples import RPM

NU = np.linspace(0.0, 1.0, 201)


def estimate(ratio=(2.2, 2.2), coupling=None, speed=2400 * RPM, torque=406.7, **more):
    datum = StallDatum(
        engine_speed=speed, input_torque=torque, torque_ratio=ratio, coupling_speed_ratio=coupling
    )
    fields = {"id": "known", "name": "Known by its stall", "source": "test", "stator": "one-way"}
    return estimated_converter(datum, **(fields | more))


def test_stall_is_met_exactly_by_the_middle_and_by_every_shape():
    unit = estimate()
    for each in (unit, *unit.alternatives):
        assert each.capacity_at(0.0) == pytest.approx(406.7 / (2400 * RPM) ** 2, rel=1e-12)
        assert each.torque_ratio_at(0.0) == pytest.approx(2.2, rel=1e-12)


def test_three_capacities_and_two_torque_ratios_make_four_alternatives():
    # Two tables were measured whole; the regulation's capacity goes with the torque ratio of each.
    assert len(estimate().alternatives) == 4
    assert len(estimate((2.1, 2.3)).alternatives) == 8


def test_middle_lies_in_the_band_and_the_band_is_open_beyond_stall():
    unit = estimate()
    band = unit.band(NU)
    for name, at in (("torque_ratio", unit.torque_ratio_at), ("capacity", unit.capacity_at)):
        least, most = band[name]
        assert np.all(least <= at(NU))
        assert np.all(at(NU) <= most)
        inside = (NU > 0.05) & (NU < 0.85)
        assert np.all((most - least)[inside] > 0.003 * at(NU)[inside])


def test_nothing_is_absorbed_at_speed_ratio_one():
    unit = estimate()
    for each in (unit, *unit.alternatives):
        assert each.capacity_at(1.0) == 0.0


def test_places_put_coupling_point_and_synchronism_of_every_converter_over_each_other():
    nu = np.array([0.0, 0.4, 0.8, 0.9, 1.0])
    assert place_of(nu, 0.8) == pytest.approx([0.0, 0.5, 1.0, 1.5, 2.0])
    assert speed_ratio_at(place_of(nu, 0.8), 0.8) == pytest.approx(nu)


def test_a_coupling_speed_ratio_that_is_given_is_that_of_every_shape():
    unit = estimate(coupling=0.8)
    assert [each.coupling for each in (unit, *unit.alternatives)] == pytest.approx([0.8] * 5)


def test_without_torque_ratio_the_usual_span_is_taken_and_said():
    unit = estimate(None)
    least, most = unit.band(0.0)["torque_ratio"]
    assert (float(least), float(most)) == pytest.approx(USUAL_TORQUE_RATIO)
    [note] = [each for each in unit.notes if each.code == ESTIMATED]
    assert "common practice, no source" in note.message
    assert note.kind == "assumption"


def test_a_high_stall_ratio_couples_earlier_so_that_no_shape_is_better_than_any_converter():
    # Closed form: eta = nu_c x (1 + (mu_0 - 1) g(x)) over the place x, proportional to nu_c.
    unit = estimate((3.4, 3.4))
    shape = MEASURED[1]
    before = shape.place <= 1.0
    x, g = shape.place[before], shape.torque_share[before]
    expected = BEST_EFFICIENCY / np.max(x * (1.0 + 2.4 * g))
    assert unit.alternatives[1].coupling == pytest.approx(expected, rel=1e-12)
    assert expected < shape.coupling
    for each in unit.alternatives:
        assert each.best_efficiency(0.0, each.coupling)[1] <= BEST_EFFICIENCY + 0.006


def test_a_stall_ratio_and_coupling_that_no_shape_can_meet_together_are_refused():
    # x (1 + 2.4 g) at nu_c = 0.95 would be an efficiency above 1 on either shape.
    with pytest.raises(InputError, match="no known shape can meet") as refused:
        estimate((3.4, 3.4), coupling=0.95)
    assert "3.4" in str(refused.value)
    assert "0.95" in str(refused.value)


@pytest.mark.parametrize("ratio", [1.0, 0.8, 4.01, 22.0])
def test_a_torque_ratio_that_no_converter_has_is_refused(ratio):
    with pytest.raises(InputError, match="no known shape") as refused:
        estimate((ratio, ratio))
    assert refused.value.field == "stall_datum.torque_ratio"


def test_shapes_that_are_left_out_are_named():
    unit = estimate((2.6, 2.6), coupling=0.93)  # the drive table would be better than any converter
    [note] = unit.notes
    assert "drive table" in dict(note.values)["refused"]
    assert len(unit.alternatives) < 4


def test_a_range_upside_down_is_refused():
    with pytest.raises(InputError, match="upside down"):
        estimate((2.3, 2.1))


def test_a_stall_that_the_diameter_cannot_hold_is_refused_with_the_coefficient():
    # lambda = T / (rho omega^2 D^5), by hand: 406.7 / (850 x 251.33^2 x 0.150^5) = 0.1.
    with pytest.raises(InputError, match="no known converter of this diameter") as refused:
        estimate(profile_diameter=0.150)
    assert "performance coefficient 0.1" in str(refused.value)
    assert estimate(profile_diameter=0.300).profile_diameter == 0.300


def test_another_characteristic_has_no_alternatives_and_a_change_to_all_keeps_them():
    unit = estimate()
    assert unit.replace(capacity=2.0 * unit.capacity).alternatives == ()
    doubled = unit.changed(lambda each: each.replace(capacity=2.0 * each.capacity))
    assert len(doubled.alternatives) == 4
    assert doubled.band(NU)["capacity"][1] == pytest.approx(2.0 * unit.band(NU)["capacity"][1])


def test_scaling_by_similarity_scales_the_band():
    unit = estimate(profile_diameter=0.300)
    larger = unit.scaled(profile_diameter=0.330)
    expected = (0.330 / 0.300) ** 5 * np.array(unit.band(0.5)["capacity"])
    assert np.array(larger.band(0.5)["capacity"]) == pytest.approx(expected, rel=1e-12)
