"""Site correction and the standard atmosphere against published figures."""

import csv
from pathlib import Path

import ambiance
import fluids.atmosphere
import numpy as np
import pytest

from converter_match.components.site import Air
from converter_match.physics.engine.atmosphere import (
    pressure_altitude,
    saturation_pressure,
    standard_pressure,
    standard_temperature,
)
from converter_match.physics.engine.fuel import iso_3046_consumption
from converter_match.physics.engine.site_correction import (
    atmospheric_factor,
    engine_factor,
    iso_1585_diesel,
    iso_3046,
    sae_j1349_spark,
)
from converter_match.physics.wheels.road_load import air_density

AIR, POWER = {"topic": "Standard atmosphere and air"}, {"topic": "Engine power at the site"}
ALTITUDES = np.array([-400.0, 0.0, 250.0, 1000.0, 2000.0, 3000.0, 4000.0, 5500.0])


def test_atmosphere_agrees_with_the_reference_package_ambiance(published_case):
    # ambiance implements the ICAO/ISO 2533 standard atmosphere; it prints 5-6 digits of constants.
    reference = ambiance.Atmosphere(ALTITUDES)
    for quantity, ours, theirs, relative in (
        ("pressure [Pa]", standard_pressure(ALTITUDES), reference.pressure, 2e-6),
        ("temperature [K]", standard_temperature(ALTITUDES), reference.temperature, 1e-6),
    ):
        published_case(
            **AIR, source="reference package ambiance (ICAO, ISO 2533)", tag="computed",
            quantity=quantity, inputs="-400 to 5500 m, 8 altitudes", published=theirs, ours=ours,
            relative=relative, why="the package's constants have 5 to 6 digits", program=True,
        )  # fmt: skip


def test_atmosphere_agrees_with_the_reference_package_fluids(published_case):
    # fluids implements the 1976 U.S. Standard Atmosphere, the same below 11 km.
    heights = ALTITUDES[1:]
    reference = [fluids.atmosphere.ATMOSPHERE_1976(altitude) for altitude in heights]
    for quantity, ours, theirs, relative in (
        ("pressure [Pa]", standard_pressure(heights), [air.P for air in reference], 5e-6),
        ("temperature [K]", standard_temperature(heights), [air.T for air in reference], 1e-6),
    ):
        published_case(
            **AIR, source="reference package fluids (1976 U.S. Standard Atmosphere)",
            tag="computed", quantity=quantity, inputs="0 to 5500 m, 7 altitudes",
            published=theirs, ours=ours, relative=relative, why="digits of the constants",
            program=True,
        )  # fmt: skip


def test_atmosphere_at_geopotential_kilometres_is_that_of_iso_2533(published_case):
    # ISO 2533 at 0/1000/2000/3000 m geopotential: from memory, verified by the packages above.
    radius = 6_356_766.0
    geopotential = np.array([0.0, 1000.0, 2000.0, 3000.0])
    geometric = radius * geopotential / (radius - geopotential)
    printed_kpa = [101.325, 89.875, 79.495, 70.109]
    printed_k = [288.15, 281.65, 275.15, 268.65]
    # Half a unit in the last printed digit.
    for quantity, ours, printed, tolerance in (
        ("pressure [kPa]", standard_pressure(geometric) / 1e3, printed_kpa, 0.0006),
        ("temperature [K]", standard_temperature(geometric), printed_k, 0.005),
    ):
        published_case(
            **AIR, source="ISO 2533", tag="memory", quantity=quantity,
            inputs="0, 1000, 2000, 3000 m geopotential", published=printed, ours=ours,
            tolerance=tolerance, why="half of the last digit",
        )  # fmt: skip


def test_shipped_atmosphere_table_is_reproduced(published_case):
    # Its lines of ISO 2533 make their rows above, in one list.
    folder = Path(__file__).parents[2] / "data" / "published"
    with (folder / "standard_atmosphere.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert len(rows) >= 6
    for row in rows:
        altitude = float(row["altitude_m"])
        if row["altitude_kind"] == "geopotential":
            altitude = 6_356_766.0 * altitude / (6_356_766.0 - altitude)
        # Half a unit in the last printed digit of pressure and temperature.
        for quantity, printed, ours in (
            ("pressure [kPa]", row["pressure_kpa"], standard_pressure(altitude) / 1e3),
            ("temperature [K]", row["temperature_k"], standard_temperature(altitude)),
        ):
            assert ours == pytest.approx(float(printed), abs=0.51 * last_digit(printed))
            if row["altitude_kind"] == "geopotential":
                continue
            published_case(
                **AIR, source=row["source"], tag=row["tag"], quantity=quantity,
                inputs=f"{row['altitude_m']} m {row['altitude_kind']}",
                published=float(printed), ours=ours, tolerance=0.51 * last_digit(printed),
                why="half of the last digit",
            )  # fmt: skip


def last_digit(text: str) -> float:
    return 10.0 ** -len(text.partition(".")[2])


def test_pressure_altitude_is_the_inverse_of_the_standard_pressure():
    assert pressure_altitude(standard_pressure(ALTITUDES)) == pytest.approx(ALTITUDES, abs=1e-6)


def test_saturation_pressure_from_the_triple_point_to_40_degrees(published_case):
    # Steam tables: 611.7 Pa at 0.01 degC, 3.169 kPa at 25 degC, 7.385 kPa at 40 degC (from memory).
    kelvin = np.array([273.16, 298.15, 313.15])
    # The Magnus form states 0.4 %.
    published_case(
        **AIR, source="steam tables", tag="memory", quantity="saturation pressure of water [Pa]",
        inputs="0.01, 25, 40 °C", published=[611.7, 3169.0, 7385.0],
        ours=saturation_pressure(kelvin), relative=4e-3, why="what the Magnus form states",
    )  # fmt: skip


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
def test_atmospheric_factor_is_that_of_30_cfr_7_87(aspiration, expected, published_case):
    air = Air(pressure=92e3, temperature=308.15, vapour_pressure=2e3)
    published_case(
        **POWER, source="30 CFR 7.87; the same form in ISO 1585 and UNECE R85", tag="computed",
        quantity="atmospheric factor f_a", inputs=f"90 kPa dry, 35 °C, {aspiration}",
        published=expected, ours=atmospheric_factor(air, aspiration), relative=1e-12,
        why="double precision; the formula was seen, the figure calculated from it",
    )  # fmt: skip


def test_atmospheric_factor_is_one_in_the_reference_air(published_case):
    # 99 kPa dry, 25 degC: 30 CFR 7.87, ISO 1585.
    air = Air(pressure=100e3, temperature=298.15, vapour_pressure=1e3)
    published_case(
        **POWER, source="30 CFR 7.87; ISO 1585", tag="seen", quantity="atmospheric factor f_a",
        inputs="reference air: 99 kPa dry, 25 °C", published=1.0,
        ours=atmospheric_factor(air, "turbocharged"), relative=1e-12, why="double precision",
    )  # fmt: skip
    assert iso_1585_diesel(air, "naturally-aspirated", 0.7) == pytest.approx(1.0, rel=1e-12)


def test_engine_factor_of_unece_r85(published_case):
    # UNECE R85 annex 5, 5.4.2.2 (second-hand): 0.036 q_c - 1.14, 0.3 below 40, 1.2 above 65.
    published_case(
        **POWER, source="UNECE R85 annex 5, 5.4.2.2", tag="second-hand",
        quantity="engine factor f_m", inputs="q_c = 30, 40, 50, 65, 70 mg/(L·cycle)",
        published=[0.3, 0.3, 0.66, 1.2, 1.2], ours=[engine_factor(q) for q in (30, 40, 50, 65, 70)],
        tolerance=1e-12, why="double precision",
    )  # fmt: skip


def test_iso_3046_worked_example(published_case):
    # Worked example printed in GOST 10150-2014 p. 34: k = 1.056, eta_m = 0.85 -> alpha = 1.063,
    # 991 kW -> 1053 kW. Tolerances are half the last printed digit.
    alpha = iso_3046(1.056, 0.85)
    worked = {**POWER, "source": "ISO 3046-1, worked example in GOST 10150-2014 p. 34"}
    published_case(
        **worked, tag="seen", quantity="power adjustment α", inputs="k = 1.056, η_m = 0.85",
        published=1.063, ours=alpha, tolerance=5e-4, why="half of the last digit",
    )  # fmt: skip
    published_case(
        **worked, tag="seen", quantity="adjusted power [kW]", inputs="991 kW, α as above",
        published=1053, ours=991 * alpha, tolerance=0.5, why="half of the last digit",
    )  # fmt: skip


def test_sae_j1349_spark_ignition_form(published_case):
    # Second-hand: 1.180 [(990/p_mbar) ((T_c+273)/298)^0.5] - 0.18. In its reference air the form
    # gives exactly 1.
    assert sae_j1349_spark(Air(pressure=99e3, temperature=298.15)) == pytest.approx(1.0, abs=1e-12)
    air = Air(pressure=90e3, temperature=308.15)
    expected = 1.180 * (990 / 900) * (308 / 298) ** 0.5 - 0.18
    published_case(
        **POWER, source="SAE J1349, spark ignition: 1.180 (990/p) √(T/298) - 0.18",
        tag="second-hand", quantity="power correction factor", inputs="90 kPa dry, 35 °C",
        published=expected, ours=sae_j1349_spark(air), relative=1e-12, why="double precision",
    )  # fmt: skip


def test_iso_3046_consumption_follows_k_over_alpha(published_case):
    # b = b_ref (LHV_ref / LHV) k / alpha, on the printed pair k = 1.056, alpha = 1.063.
    for inputs, ours, published in (
        ("k = 1.056, α = 1.063, same fuel", iso_3046_consumption(200.0, 1.056, 1.063), 198.683),
        ("k = α = 1, heating value 42.0 for 42.7 MJ/kg",
         iso_3046_consumption(200.0, 1.0, 1.0, 42.7 / 42.0), 203.333),
    ):  # fmt: skip
        published_case(
            **POWER, source="ISO 3046-1, as two research codes have it", tag="second-hand",
            quantity="fuel consumption [g/kWh] of an engine of 200 g/kWh", inputs=inputs,
            published=published, ours=ours, tolerance=1e-3, why="the last digit",
        )  # fmt: skip


def test_air_density_of_the_standard_atmosphere(published_case):
    published_case(
        **AIR, source="ISO 2533", tag="memory", quantity="air density [kg/m³]",
        inputs="101325 Pa, 288.15 K", published=1.225,
        ours=float(air_density(101_325.0, 288.15)), tolerance=5e-4, why="half of the last digit",
    )  # fmt: skip
