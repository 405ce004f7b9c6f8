"""What a site does to an engine: the standards' forms by hand, and every assumption by name."""

from typing import get_args

import numpy as np
import pytest

from converter_match.components.engine import Aspiration, SiteCorrection
from converter_match.components.site import Air, Site
from converter_match.errors import InputError
from converter_match.physics.engine.atmosphere import (
    geopotential,
    pressure_altitude,
    saturation_pressure,
    standard_pressure,
    standard_temperature,
)
from converter_match.physics.engine.site_correction import (
    STANDARD_AIR,
    atmospheric_factor,
    engine_factor,
    iso_3046,
    sae_j1349_spark,
    site_air,
    site_effect,
)
from converter_match.units import note_text, to_si
from tests.examples import engine

REFERENCE = Air(pressure=100e3, temperature=298.15, vapour_pressure=1e3)
THIN = {"air_pressure": 80e3, "air_temperature": 308.15, "relative_humidity": 0.0}


def site(**given):
    return Site(id="s", name="s", source="test", **given)


def at_site(where=None, *, reference=REFERENCE, aspiration="turbocharged", **correction):
    made = engine(
        aspiration=aspiration,
        reference_air=reference,
        site_correction=SiteCorrection(**correction),
    )
    return site_effect(made, site(**(THIN if where is None else where)))


def codes(effect):
    return [note.code for note in effect.notes]


def refusal(build):
    with pytest.raises(InputError) as caught:
        build()
    return caught.value


# --- the air at the site -------------------------------------------------------------------------


def test_air_that_is_stated_is_taken_as_stated():
    air, notes = site_air(site(altitude=2000.0, **THIN | {"relative_humidity": 0.5}), REFERENCE)
    assert (air.pressure, air.temperature) == (80e3, 308.15)
    # Half of the saturation pressure at 35 degC; steam tables: 5.629 kPa (from memory), 0.4 %.
    assert air.vapour_pressure == pytest.approx(0.5 * 5629.0, rel=4e-3)
    assert notes == ()


def test_altitude_gives_pressure_and_temperature_of_the_standard_atmosphere():
    air, notes = site_air(site(altitude=2000.0), REFERENCE)
    # ISO 2533 at 2000 m geometric: 79 501 Pa, 275.15 K, to the digits printed (from memory).
    assert air.pressure == pytest.approx(79_501.0, rel=1e-4)
    assert air.temperature == pytest.approx(275.15, abs=0.01)
    assert air.vapour_pressure == 0.0
    assert [note.code for note in notes] == [
        "pressure-from-altitude",
        "temperature-from-altitude",
        "air-dry",
    ]
    assert {note.kind for note in notes} == {"assumption"}
    assert "79.5 kPa" in note_text(notes[0], "si")
    assert "2000 m" in note_text(notes[0], "si")
    assert "2 °C" in note_text(notes[1], "si")


def test_what_a_site_leaves_open_is_that_of_the_reference_air_and_said():
    air, notes = site_air(site(air_pressure=80e3), REFERENCE)
    assert (air.pressure, air.temperature) == (80e3, 298.15)
    assert [note.code for note in notes] == ["temperature-as-reference", "air-dry"]
    assert "(25 °C)" in note_text(notes[0], "si")
    warm, notes = site_air(site(air_temperature=310.0), REFERENCE)
    assert (warm.pressure, warm.temperature, warm.vapour_pressure) == (100e3, 310.0, 0.0)
    assert [note.code for note in notes] == ["pressure-as-reference"]
    assert "(100.0 kPa)" in note_text(notes[0], "si")
    assert notes[0].kind == "assumption"


# --- the forms, by hand --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("aspiration", "pressure_exponent", "temperature_exponent"),
    [
        ("naturally-aspirated", 1.0, 0.7),
        ("turbocharged", 0.7, 1.5),
        ("turbocharged-aftercooled", 0.7, 1.5),
    ],
)
def test_atmospheric_factor_has_the_exponents_of_its_aspiration(
    aspiration, pressure_exponent, temperature_exponent
):
    # ISO 1585 / UNECE R85: (99 / p_dry)^a ((t + 273) / 298)^b, t in degC.
    air = Air(pressure=83e3, temperature=273.15 + 40.0, vapour_pressure=3e3)
    expected = (99 / 80) ** pressure_exponent * (313 / 298) ** temperature_exponent
    assert atmospheric_factor(air, aspiration) == pytest.approx(expected, rel=1e-14)


@pytest.mark.parametrize(
    ("charge", "expected"),
    [(10.0, 0.3), (39.99, 0.3), (40.0, 0.3), (50.0, 0.66), (65.0, 1.2), (65.01, 1.2), (90.0, 1.2)],
)
def test_engine_factor_is_a_line_between_its_ends(charge, expected):
    # UNECE R85, annex 5, 5.4.2.2 (second-hand): 0.036 q_c - 1.14 from 40 to 65, 0.3 and 1.2 beyond.
    assert engine_factor(charge) == pytest.approx(expected, rel=1e-12)


def test_engine_factor_at_its_lower_end_is_that_of_the_line():
    assert engine_factor(40.0) == 0.036 * 40.0 - 1.14
    assert engine_factor(65.0) == 0.036 * 65.0 - 1.14


def test_iso_3046_pays_the_friction_from_the_indicated_power():
    # k = 0.9, eta_m = 0.8: 0.9 - 0.7 x 0.1 x 0.25.
    assert iso_3046(0.9, 0.8) == pytest.approx(0.8825, rel=1e-14)
    assert iso_3046(1.0, 0.8) == 1.0


@pytest.mark.parametrize(
    ("aspiration", "typical"),
    [
        ("naturally-aspirated", 0.66),
        ("turbocharged", 0.37),
        ("turbocharged-aftercooled", 0.44),
    ],
)
@pytest.mark.parametrize("given", [None, 0.9])
@pytest.mark.parametrize("method", [None, "diesel-iso-1585"])
def test_diesel_form_is_the_ratio_of_two_atmospheric_factors(method, given, aspiration, typical):
    effect = at_site(aspiration=aspiration, method=method, engine_factor=given)
    f_m = typical if given is None else given
    a, b = (1.0, 0.7) if aspiration == "naturally-aspirated" else (0.7, 1.5)
    # alpha(reference) / alpha(site), dry pressures 99 and 80 kPa, 25 and 35 degC.
    expected = ((80 / 99) ** a * (298 / 308) ** b) ** f_m
    assert effect.torque_factor == pytest.approx(expected, rel=1e-14)
    assert effect.air.pressure == 80e3
    assert effect.method == f"ISO 1585 / UNECE R85 diesel, f_m = {f_m:.2f}"
    assert ("site-method-assumed" in codes(effect)) is (method is None)
    assert ("engine-factor-typical" in codes(effect)) is (given is None)
    assert codes(effect)[-1] == "site-factor-on-whole-curve"
    for note in effect.notes:
        if note.code == "engine-factor-typical":
            assert f"f_m = {typical:.2f}: typical for a {aspiration}" in note_text(note, "si")
            assert note.kind == "assumption"


@pytest.mark.parametrize(
    ("aspiration", "m", "n"),
    [
        ("naturally-aspirated", 1.0, 0.75),
        ("turbocharged", 0.7, 2.0),
        ("turbocharged-aftercooled", 0.7, 1.2),
    ],
)
@pytest.mark.parametrize("given", [None, 0.9])
def test_iso_3046_goes_by_aspiration_and_mechanical_efficiency(given, aspiration, m, n):
    effect = at_site(aspiration=aspiration, method="iso-3046", mechanical_efficiency=given)
    k = (80 / 99) ** m * (298.15 / 308.15) ** n
    eta = 0.8 if given is None else given
    assert effect.torque_factor == pytest.approx(k - 0.7 * (1 - k) * (1 / eta - 1), rel=1e-14)
    assert effect.method == "ISO 3046-1"
    assert ("mechanical-efficiency-typical" in codes(effect)) is (given is None)
    assert "coolant-term-left-out" in codes(effect)
    assert codes(effect)[-1] == "site-factor-on-whole-curve"


def test_spark_form_is_that_of_sae_j1349():
    effect = at_site(method="sae-j1349-spark", aspiration=None)
    # alpha = 1.180 (990 / p_mbar) sqrt((t + 273) / 298) - 0.18 (second-hand).
    at = 1.18 * (99 / 80) * (308 / 298) ** 0.5 - 0.18
    reference = 1.18 * 1.0 * 1.0 - 0.18
    assert effect.torque_factor == pytest.approx(reference / at, rel=1e-14)
    assert effect.method == "SAE J1349, spark ignition"
    assert codes(effect) == ["site-correction-outside-validity", "site-factor-on-whole-curve"]


def test_engine_that_does_not_follow_the_air_keeps_its_torque():
    effect = at_site(method="none", aspiration=None)
    assert effect.torque_factor == 1.0
    assert effect.air.pressure == 80e3
    assert effect.method == "none, by the engine's data"
    assert codes(effect) == ["no-site-correction"]
    assert effect.notes[0].kind == "assumption"


def test_without_a_site_nothing_is_done():
    effect = site_effect(engine(), None)
    assert (effect.torque_factor, effect.air, effect.notes) == (1.0, None, ())
    assert effect.method.startswith("none")


@pytest.mark.parametrize("method", [None, "diesel-iso-1585", "iso-3046"])
def test_diesel_forms_need_the_aspiration(method):
    error = refusal(lambda: at_site(method=method, aspiration=None))
    assert (error.source, error.field) == ("test-engine", "aspiration")


@pytest.mark.parametrize("method", [None, "sae-j1349-spark", "iso-3046", "none", "derate-table"])
def test_reference_air_that_is_not_given_is_assumed_where_it_is_used(method):
    table = {"derate_altitude": [0.0, 3e3], "derate_factor": [1.0, 0.8]}
    fields = {"method": method} | (table if method == "derate-table" else {})
    effect = at_site({"altitude": 1500.0}, reference=None, **fields)
    assert ("reference-air-standard" in codes(effect)) is (method != "derate-table")
    assert "reference-air-standard" not in codes(at_site({"altitude": 1500.0}, **fields))
    # 99 kPa dry and 25 degC (ISO 1585): 25 + 273.15 K.
    assert (STANDARD_AIR.dry_pressure, STANDARD_AIR.temperature) == (99e3, 298.15)
    same = at_site({"altitude": 1500.0}, reference=STANDARD_AIR, **fields)
    assert effect.torque_factor == same.torque_factor
    for note in effect.notes:
        if note.code == "reference-air-standard":
            assert note.kind == "assumption"


@pytest.mark.parametrize("charged", get_args(Aspiration))
@pytest.mark.parametrize("method", [None, "diesel-iso-1585", "sae-j1349-spark", "iso-3046", "none"])
def test_a_site_in_the_air_that_is_assumed_for_the_engine_changes_nothing(method, charged):
    # Every standard corrects to 99 kPa dry and 25 degC (ISO 1585, 30 CFR 7.87, SAE J1349), where
    # its factor is 1 by definition; 30 CFR 7.87 prints (t + 273) / 298 with t = 25.
    air = {"air_pressure": 99e3, "air_temperature": to_si(25.0, "degC", "temperature")}
    effect = at_site(air, reference=None, method=method, aspiration=charged)
    assert effect.torque_factor == 1.0
    [note] = [note for note in effect.notes if note.code == "reference-air-standard"]
    assert "99 kPa dry and 25 °C" in note_text(note, "si")


def test_each_formula_gives_one_in_the_air_that_is_assumed_for_the_engine():
    for charged in get_args(Aspiration):
        assert atmospheric_factor(STANDARD_AIR, charged) == pytest.approx(1.0, abs=1e-15)
    assert sae_j1349_spark(STANDARD_AIR) == pytest.approx(1.0, abs=1e-15)


@pytest.mark.parametrize(
    ("pressure", "outside"), [(109.9e3, False), (110.1e3, True), (90.1e3, False), (89.9e3, True)]
)
def test_correction_beyond_a_tenth_is_called_outside_validity(pressure, outside):
    # Naturally aspirated with f_m = 1 at reference temperature: the factor is p / 99 kPa, and the
    # standard's alpha = 99 kPa / p has to lie within 0.9 .. 1.1: p from 90.0 to 110.0 kPa.
    where = {"air_pressure": pressure, "air_temperature": 298.15}
    effect = at_site(
        where, aspiration="naturally-aspirated", method="diesel-iso-1585", engine_factor=1.0
    )
    assert effect.torque_factor == pytest.approx(pressure / 99e3, rel=1e-12)
    assert ("site-correction-outside-validity" in codes(effect)) is outside
    for note in effect.notes:
        if note.code == "site-correction-outside-validity":
            assert note.kind == "warning"
            assert f"{effect.torque_factor:.3f}" in note_text(note, "si")
            assert "(0.91 to 1.11)" in note_text(note, "si")


# --- the maker's table ---------------------------------------------------------------------------

TABLE = {"derate_altitude": [500.0, 1500.0, 3000.0], "derate_factor": [1.0, 0.94, 0.79]}


@pytest.mark.parametrize(
    ("altitude", "expected"),
    [(-400.0, 1.0), (499.0, 1.0), (500.0, 1.0), (1000.0, 0.97), (1500.0, 0.94), (2250.0, 0.865),
     (3000.0, 0.79)],
)  # fmt: skip
@pytest.mark.parametrize("method", [None, "derate-table"])
def test_maker_s_table_is_straight_between_its_rows_and_flat_below(method, altitude, expected):
    effect = at_site({"altitude": altitude}, method=method, aspiration=None, **TABLE)
    assert effect.torque_factor == pytest.approx(expected, rel=1e-12)
    assert effect.method == "maker's derate table"
    assert effect.air.pressure == pytest.approx(float(standard_pressure(altitude)))
    assert codes(effect)[-2:] == ["derate-altitude-only", "site-factor-on-whole-curve"]
    assert codes(effect)[:2] == ["pressure-from-altitude", "temperature-from-altitude"]
    assert "altitude-from-pressure" not in codes(effect)


def test_maker_s_table_is_not_extrapolated():
    error = refusal(lambda: at_site({"altitude": 3001.0}, method="derate-table", **TABLE))
    assert error.source == "test-engine"
    assert "site altitude" in str(error)


def test_altitude_for_the_table_may_come_from_the_pressure():
    where = {"air_pressure": float(standard_pressure(1000.0))}
    effect = at_site(where, method="derate-table", **TABLE)
    assert effect.torque_factor == pytest.approx(0.97, rel=1e-9)
    [note] = [note for note in effect.notes if note.code == "altitude-from-pressure"]
    assert "Altitude 1000 m" in note_text(note, "si")
    assert note.kind == "assumption"


def test_table_is_not_used_where_another_method_is_named():
    effect = at_site(method="diesel-iso-1585", engine_factor=0.5, **TABLE)
    assert effect.method.startswith("ISO 1585")
    flat = at_site({"altitude": 1500.0}, method="none", **TABLE)
    assert flat.torque_factor == 1.0


# --- the atmosphere ------------------------------------------------------------------------------


def test_atmosphere_takes_whole_and_single_precision_numbers_in_any_shape():
    whole = np.array([[0, 1000], [2000, 5000]])
    for function in (geopotential, standard_temperature, standard_pressure):
        np.testing.assert_allclose(function(whole), function(whole.astype(float)), rtol=1e-15)
        single = np.float32(1234.5)
        np.testing.assert_allclose(function(single), function(1234.5), rtol=1e-14)
    for function, value in ((pressure_altitude, 90_000.5), (saturation_pressure, 300.25)):
        single = np.float32(value)
        np.testing.assert_allclose(function(single), function(float(single)), rtol=1e-14)
    # r z / (r + z), ISO 2533: 10 km geometric is 9984.3 m geopotential.
    assert float(geopotential(10_000.0)) == pytest.approx(9984.293, abs=1e-3)
