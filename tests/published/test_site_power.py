"""Site correction and the standard atmosphere against published figures."""

import csv
from pathlib import Path

import ambiance
import fluids.atmosphere
import numpy as np
import pytest

from converter_match.components.site import Air
from converter_match.physics.atmosphere import (
    pressure_altitude,
    saturation_pressure,
    standard_pressure,
    standard_temperature,
)
from converter_match.physics.site_correction import (
    atmospheric_factor,
    engine_factor,
    iso_1585_diesel,
    iso_3046,
    sae_j1349_spark,
)

ALTITUDES = np.array([-400.0, 0.0, 250.0, 1000.0, 2000.0, 3000.0, 4000.0, 5500.0])


def test_atmosphere_agrees_with_the_reference_package_ambiance():
    # ambiance implements the ICAO/ISO 2533 standard atmosphere; it prints 5-6 digits of constants.
    reference = ambiance.Atmosphere(ALTITUDES)
    assert standard_pressure(ALTITUDES) == pytest.approx(reference.pressure, rel=2e-6)
    assert standard_temperature(ALTITUDES) == pytest.approx(reference.temperature, rel=1e-6)


def test_atmosphere_agrees_with_the_reference_package_fluids():
    # fluids implements the 1976 U.S. Standard Atmosphere, the same below 11 km.
    for altitude in ALTITUDES[1:]:
        reference = fluids.atmosphere.ATMOSPHERE_1976(altitude)
        assert standard_pressure(altitude) == pytest.approx(reference.P, rel=5e-6)
        assert standard_temperature(altitude) == pytest.approx(reference.T, rel=1e-6)


def test_atmosphere_at_geopotential_kilometres_is_that_of_iso_2533():
    # ISO 2533 at 0/1000/2000/3000 m geopotential: from memory, verified by the packages above.
    radius = 6_356_766.0
    geopotential = np.array([0.0, 1000.0, 2000.0, 3000.0])
    geometric = radius * geopotential / (radius - geopotential)
    printed_kpa = [101.325, 89.875, 79.495, 70.109]
    printed_k = [288.15, 281.65, 275.15, 268.65]
    # Half a unit in the last printed digit.
    assert standard_pressure(geometric) / 1e3 == pytest.approx(printed_kpa, abs=0.0006)
    assert standard_temperature(geometric) == pytest.approx(printed_k, abs=0.005)


def test_shipped_atmosphere_table_is_reproduced():
    folder = Path(__file__).parents[2] / "data" / "published"
    with (folder / "standard_atmosphere.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert len(rows) >= 6
    for row in rows:
        altitude = float(row["altitude_m"])
        if row["altitude_kind"] == "geopotential":
            altitude = 6_356_766.0 * altitude / (6_356_766.0 - altitude)
        # Half a unit in the last printed digit of pressure and temperature.
        assert standard_pressure(altitude) / 1e3 == pytest.approx(
            float(row["pressure_kpa"]), abs=0.51 * last_digit(row["pressure_kpa"])
        )
        assert standard_temperature(altitude) == pytest.approx(
            float(row["temperature_k"]), abs=0.51 * last_digit(row["temperature_k"])
        )
        assert row["source"]


def last_digit(text: str) -> float:
    return 10.0 ** -len(text.partition(".")[2])


def test_pressure_altitude_is_the_inverse_of_the_standard_pressure():
    assert pressure_altitude(standard_pressure(ALTITUDES)) == pytest.approx(ALTITUDES, abs=1e-6)


def test_saturation_pressure_at_the_boiling_and_triple_point():
    # Steam tables: 611.7 Pa at 0.01 degC, 3.169 kPa at 25 degC, 7.385 kPa at 40 degC (from memory).
    kelvin = np.array([273.16, 298.15, 313.15])
    # The Magnus form states 0.4 %.
    assert saturation_pressure(kelvin) == pytest.approx([611.7, 3169.0, 7385.0], rel=4e-3)


@pytest.mark.parametrize(
    ("aspiration", "expected"),
    [
        # 30 CFR 7.87: f_a = (99/p_dry) ((T+273)/298)^0.7 naturally aspirated,
        # (99/p_dry)^0.7 ((T+273)/298)^1.5 turbocharged; here at 90 kPa dry and 35 degC.
        ("naturally-aspirated", (99 / 90) * (308 / 298) ** 0.7),
        ("turbocharged", (99 / 90) ** 0.7 * (308 / 298) ** 1.5),
        ("turbocharged-aftercooled", (99 / 90) ** 0.7 * (308 / 298) ** 1.5),
    ],
)
def test_atmospheric_factor_is_that_of_30_cfr_7_87(aspiration, expected):
    air = Air(pressure=92e3, temperature=308.15, vapour_pressure=2e3)
    assert atmospheric_factor(air, aspiration) == pytest.approx(expected, rel=1e-12)


def test_atmospheric_factor_is_one_in_the_reference_air():
    # 99 kPa dry, 25 degC: 30 CFR 7.87, ISO 1585.
    air = Air(pressure=100e3, temperature=298.15, vapour_pressure=1e3)
    assert atmospheric_factor(air, "turbocharged") == pytest.approx(1.0, rel=1e-12)
    assert iso_1585_diesel(air, "naturally-aspirated", 0.7) == pytest.approx(1.0, rel=1e-12)


def test_engine_factor_of_unece_r85():
    # UNECE R85 annex 5, 5.4.2.2 (second-hand): 0.036 q_c - 1.14, 0.3 below 40, 1.2 above 65.
    assert engine_factor(30.0) == 0.3
    assert engine_factor(70.0) == 1.2
    assert engine_factor(40.0) == pytest.approx(0.3, abs=1e-12)
    assert engine_factor(65.0) == pytest.approx(1.2, abs=1e-12)
    assert engine_factor(50.0) == pytest.approx(0.66, abs=1e-12)


def test_iso_3046_worked_example():
    # Worked example printed in GOST 10150-2014 p. 34: k = 1.056, eta_m = 0.85 -> alpha = 1.063,
    # 991 kW -> 1053 kW. Tolerances are half the last printed digit.
    alpha = iso_3046(1.056, 0.85)
    assert alpha == pytest.approx(1.063, abs=5e-4)
    assert 991 * alpha == pytest.approx(1053, abs=0.5)


def test_sae_j1349_spark_ignition_form():
    # Second-hand: 1.180 [(990/p_mbar) ((T_c+273)/298)^0.5] - 0.18. In its reference air the form
    # gives exactly 1.
    assert sae_j1349_spark(Air(pressure=99e3, temperature=298.15)) == pytest.approx(1.0, abs=1e-12)
    air = Air(pressure=90e3, temperature=308.15)
    expected = 1.180 * (990 / 900) * (308 / 298) ** 0.5 - 0.18
    assert sae_j1349_spark(air) == pytest.approx(expected, rel=1e-12)
