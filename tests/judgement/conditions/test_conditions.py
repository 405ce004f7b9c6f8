"""What is taken for the air, the ground and the oil around a machine, and when it is said."""

import pytest

from converter_match.components.machine import Oil, Slip, Tracks
from converter_match.components.site import Air
from converter_match.judgement.conditions.air import (
    air_drag_notes,
    cooler_air_notes,
    cooler_flow_notes,
    density_around,
    temperature_around,
)
from converter_match.judgement.conditions.ground import (
    ground_notes,
    low_resistance_notes,
    source_notes,
)
from converter_match.judgement.conditions.oil import STOP_AT, starting_oil
from converter_match.physics.engine.site_correction import NO_SITE, SiteEffect
from converter_match.units import note_text
from tests.machines import machine, surface

HIGH = SiteEffect(0.9, Air(pressure=79495.0, temperature=275.15), "test")


def codes(notes):
    return [note.code for note in notes]


def test_air_of_the_site_sets_density_and_temperature():
    # ISO 2533 at 2000 m: 79.495 kPa, 275.15 K, 1.0065 kg/m^3; at sea level 1.225 kg/m^3.
    assert density_around(HIGH) == pytest.approx(1.0065, rel=1e-3)
    assert density_around(NO_SITE) == pytest.approx(1.225, rel=1e-4)
    assert temperature_around(HIGH) == 275.15
    assert temperature_around(NO_SITE) == pytest.approx(273.15 + 25.0)


def test_what_is_taken_for_the_air_is_said_only_where_it_is_taken_and_matters():
    bare = machine(cooler=None, frontal_area=None, drag_coefficient=None)
    assert codes(air_drag_notes(NO_SITE, machine())) == ["air-density-standard"]
    assert codes(cooler_air_notes(NO_SITE, machine())) == ["cooler-air-temperature"]
    assert codes(cooler_flow_notes(machine())) == ["cooler-flow-at-stall"]
    assert air_drag_notes(HIGH, machine()) == air_drag_notes(NO_SITE, bare) == []
    assert cooler_air_notes(HIGH, bare) == cooler_air_notes(NO_SITE, bare) == []
    # Up there the air is thinner than that of the cooler's data, which do not say what it was.
    thin = ["cooler-in-thin-air", "cooler-air-standard"]
    assert codes(cooler_air_notes(HIGH, machine())) == thin
    assert cooler_flow_notes(bare) == []


@pytest.mark.parametrize(
    ("asked", "working", "start", "said"),
    [(350.0, 360.0, 350.0, []), (None, 360.0, 360.0, []), (None, None, 290.0, ["oil-starts-cold"])],
)
def test_oil_starts_as_asked_then_as_it_works_then_as_the_air(asked, working, start, said):
    truck = machine(oil=Oil(volume=0.04, working_temperature=working))
    found, notes = starting_oil(truck, 290.0, asked)
    assert (found, codes(notes)) == (start, said)


def test_oil_at_which_to_stop_is_that_of_the_manual():
    # US Army TM 9-2320-283-10: 149 degC.
    assert pytest.approx(149.0 + 273.15) == STOP_AT


def test_ground_without_a_traction_coefficient_says_so():
    assert "traction-not-known" in codes(ground_notes(surface(traction=None), machine()))
    assert codes(ground_notes(surface(), machine())) == []
    plain = machine(slip=Slip())
    [note] = ground_notes(surface(traction=None), plain)
    assert "slip is taken" not in note_text(note, "si").lower()
    [note] = ground_notes(surface(traction=None), machine())
    assert "slip is taken" in note_text(note, "si").lower()


@pytest.mark.parametrize(("rolling", "questioned"), [(0.0029, True), (0.003, False), (0.03, False)])
def test_rolling_resistance_of_no_ground_is_questioned(rolling, questioned):
    ground = surface(rolling_resistance=rolling)
    expected = ["rolling-resistance-low"] if questioned else []
    assert codes(low_resistance_notes([ground])) == expected
    assert codes(ground_notes(ground, machine())) == expected
    sourced = surface(rolling_resistance=rolling, source="a handbook")
    assert codes(ground_notes(sourced, machine())) == [*expected, "surface-from-table"]


def test_each_surface_is_named_once_with_its_values_source_and_vehicle():
    one = surface(source="a handbook", vehicle="wheeled machine")
    other = surface(name="sand", rolling_resistance=0.25, traction=None)
    again = surface(source="a handbook", vehicle="wheeled machine")
    notes = source_notes([one, other, one, again], machine())
    assert codes(notes) == ["surface-from-table"] * 2
    first, second = (note_text(note, "si") for note in notes)
    assert "'earth': rolling resistance 3 %" in first
    assert "traction coefficient 0.6; source: a handbook" in first
    assert "It holds for: wheeled machine." in first
    assert "'sand': rolling resistance 25 %" in second
    assert "traction coefficient not given; source: not stated" in second
    assert "It holds for" not in second


def test_values_for_wheels_are_questioned_on_tracks_only():
    ground = surface(source="a handbook", vehicle="wheeled machine")
    crawler = machine(running_gear=Tracks(sprocket_radius=0.45))
    assert "surface-for-other-vehicle" in codes(source_notes([ground], crawler))
    assert "surface-for-other-vehicle" not in codes(source_notes([ground], machine()))
    anybody = surface(source="a handbook")
    assert "surface-for-other-vehicle" not in codes(source_notes([anybody], crawler))
