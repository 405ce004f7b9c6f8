"""Notes of the physics room in the reader's units."""

import dataclasses
import re

import pytest

from converter_match.components.site import Site
from converter_match.judgement.match.solve import solve
from converter_match.notes import assumption
from converter_match.physics.engine.fuel import fuel_law
from converter_match.physics.engine.site_correction import site_effect
from converter_match.units import note_text
from tests.examples import converter, engine
from tests.haul_examples import parts

METRIC = re.compile(r"\d (kPa|m|°C|K|N·m|kW)\b")
SITES = (
    {"altitude": 2000.0},
    {"air_pressure": 79495.0, "air_temperature": 308.15},
    {"air_temperature": 308.15},
    {"altitude": 2000.0, "air_temperature": 308.15},
)


def effect(**fields):
    return site_effect(engine(), Site(id="up", name="up", source="test", **fields))


@pytest.mark.parametrize("fields", SITES)
def test_site_notes_hold_nothing_metric_in_us_units(fields):
    notes = effect(**fields).notes
    assert any(note.values for note in notes)
    for note in notes:
        assert not METRIC.search(note_text(note, "us")), note_text(note, "us")


def test_standard_atmosphere_reads_in_inches_of_mercury_feet_and_fahrenheit():
    # ISO 2533 at 2000 m: 79.495 kPa, 275.154 K (2.0 degC, 35.6 degF); 1 inHg = 3.38639 kPa,
    # 1 ft = 0.3048 m (NIST SP 811).
    said = {note.code: note_text(note, "us") for note in effect(altitude=2000.0).notes}
    assert "23.5 inHg" in said["pressure-from-altitude"]
    assert "6562 ft" in said["pressure-from-altitude"]
    assert "36 °F" in said["temperature-from-altitude"]
    si = {note.code: note_text(note, "si") for note in effect(altitude=2000.0).notes}
    assert si["pressure-from-altitude"] == (
        "Air pressure 79.5 kPa: standard atmosphere (ISO 2533) at 2000 m."
    )
    assert "2 °C" in si["temperature-from-altitude"]


def test_whole_answer_in_us_units_has_no_metric_site():
    site = Site(id="up", name="up", source="test", altitude=1500.0)
    said = solve(engine(), converter(), site=site).text("us")
    assert "4921 ft" in said  # 1500 / 0.3048
    assert not METRIC.search(said), METRIC.search(said)


def test_values_of_a_note_are_read_in_the_units_that_the_reader_chose():
    # 1 ft = 0.3048 m, 1 lbf.ft = 1.355818 N.m, 1 hp = 745.6999 W (NIST SP 811)
    note = assumption(
        "a-code",
        "{who}: {h:altitude .1f}, {t:torque .1f}, {p:power .2f}, {share:.2f}",
        who="fan {1}", h=304.8, t=135.5818, p=7456.999, share=0.5,
    )  # fmt: skip
    assert note.kind == "assumption"
    assert note_text(note, "si") == "fan {1}: 304.8 m, 135.6 N·m, 7.46 kW, 0.50"
    assert note_text(note, "us") == "fan {1}: 1000.0 ft, 100.0 lbf·ft, 10.00 hp, 0.50"


def test_fuel_lines_friction_reads_in_pound_feet():
    # With neither motoring torque nor fuel at idle, and with the latter.
    made = dataclasses.replace(parts()[0].engine, motoring=None)
    bare = dataclasses.replace(made, fuel=dataclasses.replace(made.fuel, idle_rate=None))
    notes = [
        note
        for e in (made, bare)
        for note in fuel_law(e).notes
        if "friction" in note_text(note, "si")
    ]
    assert {note.code for note in notes} == {"fuel-willans-idle", "fuel-willans-typical"}
    for note in notes:
        assert "lbf·ft" in note_text(note, "us")
        assert "N·m" in note_text(note, "si")
