"""Coolers and oil by hand: what is carried away, what is stored, what is refused."""

import numpy as np
import pytest

from converter_match.components.cooling import Cooler, Oil
from converter_match.errors import InputError
from converter_match.units import note_text


def refusal(build):
    with pytest.raises(InputError) as caught:
        build()
    return caught.value


def curve(**changes):
    rows = {"difference": [0.0, 40.0, 80.0], "heat": [0.0, 30e3, 50e3]}
    return Cooler(**(rows | changes))


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"difference": [1.0, 40.0, 80.0]}, "cooler.difference"),
        ({"heat": [1.0, 30e3, 50e3]}, "cooler.difference"),
        ({"heat": [0.0, -1.0, 50e3]}, "cooler.heat[1]"),
        ({"heat": [0.0, 30e3, 30e3]}, "cooler.heat[2]"),
        ({"heat": [0.0, 30e3, 29e3]}, "cooler.heat[2]"),
        ({"heat": [0.0, 30e3]}, "cooler.heat"),
        ({"heat": [0.0, 30e3, np.nan]}, "cooler.heat"),
        ({"difference": [0.0, 80.0, 40.0]}, "cooler.difference"),
    ],
)
def test_curve_that_cannot_be_is_refused_by_its_row(changes, field):
    assert refusal(lambda: curve(**changes)).field == field


def test_row_that_falls_is_found_though_another_rises_little():
    error = refusal(lambda: curve(heat=[0.0, 0.5, 0.5]))
    assert (error.field, error.found) == ("cooler.heat[2]", 0.5)
    # Half a watt more is more.
    assert float(curve(heat=[0.0, 0.5, 1.0]).heat_at(80.0)) == 1.0


def test_rating_spread_over_its_temperature_difference_is_the_conductance():
    rated = Cooler.from_rating(60e3, 383.0, 313.0)
    assert rated.proportional
    np.testing.assert_allclose(rated.difference, [0.0, 70.0])
    np.testing.assert_allclose(rated.heat, [0.0, 60e3])
    assert rated == Cooler.from_conductance(60e3 / 70.0, 70.0)
    by_conductance = Cooler.from_conductance(800.0)
    np.testing.assert_allclose(by_conductance.difference, [0.0, 60.0])
    np.testing.assert_allclose(by_conductance.heat, [0.0, 48e3])


def test_nothing_is_carried_away_by_warmer_air_and_a_table_holds_its_last_value():
    made = curve()
    found = made.heat_at([[-20.0, 0.0, 40.0], [80.0, 81.0, 500.0]])
    np.testing.assert_array_equal(found, [[0.0, 0.0, 30e3], [50e3, 50e3, 50e3]])
    assert 15e3 < float(made.heat_at(20.0)) < 30e3
    in_proportion = Cooler.from_conductance(500.0).heat_at([-5.0, 0.0, 0.5, 300.0])
    np.testing.assert_allclose(in_proportion, [0.0, 0.0, 250.0, 150e3])


def test_a_table_reaches_to_its_last_row_and_a_rating_everywhere():
    made = curve()
    assert made.covers(80.0)
    assert not made.covers(80.0 + 1e-12)
    assert Cooler.from_conductance(500.0).covers(1e3)


def test_cooler_is_a_value_and_cannot_be_changed_from_outside():
    made = curve()
    assert not made.proportional
    assert made == curve()
    assert made != curve(proportional=True)
    assert not made.heat.flags.writeable
    assert not made.difference.flags.writeable


def test_heat_capacities_are_mass_times_specific_heat():
    oil = Oil(volume=0.05, density=850.0, specific_heat=2000.0, metal_mass=300.0)
    assert oil.oil_heat_capacity == pytest.approx(0.05 * 850.0 * 2000.0)
    assert oil.metal_heat_capacity == pytest.approx(300.0 * 470.0)
    assert Oil(metal_mass=300.0, metal_specific_heat=500.0).metal_heat_capacity == 150e3
    assert Oil().metal_heat_capacity == 0.0
    assert Oil().oil_heat_capacity is None
    # Typical of mineral oil: 870 kg/m3 and 2.06 kJ/(kg K).
    assert Oil(volume=0.05).oil_heat_capacity == pytest.approx(0.05 * 870.0 * 2060.0)


@pytest.mark.parametrize(
    ("given", "named"),
    [
        ({"density": 850.0, "specific_heat": 2000.0}, ()),
        ({"density": 850.0}, ("specific heat 2.06",)),
        ({"specific_heat": 2000.0}, ("density 870",)),
        ({}, ("density 870", "specific heat 2.06")),
    ],
)
def test_typical_values_are_named_where_they_stand_in(given, named):
    notes = Oil(volume=0.05, **given).notes
    assert [note.code for note in notes] == ["oil-typical"] * bool(named)
    for note in notes:
        assert note.kind == "assumption"
        for words in ("density 870", "specific heat 2.06"):
            assert (words in note_text(note, "si")) is (words in named)
    assert Oil(**given).notes == ()


@pytest.mark.parametrize("litres_a_minute", [0.5, 2500.0])
def test_charge_flow_that_no_transmission_has_is_refused(litres_a_minute):
    with pytest.raises(InputError, match="charge flow") as caught:
        Oil(charge_flow=litres_a_minute / 60e3)
    assert caught.value.field == "oil.charge_flow"
    assert f"{litres_a_minute:g} L/min" in caught.value.found
    assert Oil(charge_flow=100 / 60e3).notes[0].code == "oil-typical"


def test_outlet_limit_is_a_temperature_of_oil():
    with pytest.raises(InputError, match=r"oil\.outlet_temperature_limit"):
        Oil(outlet_temperature_limit=150.0)


def test_fields_that_came_later_leave_fingerprints_as_they_were():
    from tests.machines import machine

    given = machine(oil=Oil(volume=0.04, temperature_limit=393.15))
    same = machine(oil=Oil(volume=0.04, temperature_limit=393.15, charge_flow=None))
    assert given.fingerprint() == same.fingerprint()
    assert (
        given.fingerprint()
        != machine(oil=Oil(volume=0.04, temperature_limit=393.15, charge_flow=2e-3)).fingerprint()
    )
