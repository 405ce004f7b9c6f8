"""Where the fuel line comes from, case by case, with flat tables that can be worked by hand."""

import numpy as np
import pytest

from converter_match.components.engine import Fuel, SpeedTable
from converter_match.components.fuel_map import FuelMap
from converter_match.physics.engine.fuel import (
    TYPICAL_DENSITY,
    TYPICAL_FRICTION_SHARE,
    fuel_law,
    iso_3046_consumption,
)
from converter_match.units import note_text
from tests.examples import RPM, engine

B = 210e-3 / 3.6e6  # 210 g/kWh in kg/J


def table(speeds, values, name="fuel"):
    return SpeedTable(name=name, speed=np.array(speeds) * RPM, value=np.array(values, float))


WIDE = table([800, 2200], [B, B])
MOTORED = table([800, 2380], [80.0, 238.0], "motoring")  # 0.1 N.m for each rpm


def own(specific=WIDE, idle=None, motoring=None):
    return engine(fuel=Fuel(specific=specific, idle_rate=idle), motoring=motoring)


def codes(law):
    return [note.code for note in law.notes]


def by_hand(torque, full, friction, omega):
    """m = b T_f / (T_f + T_m) (T + T_m) omega."""
    return B * full / (full + friction) * max(torque + friction, 0.0) * omega


@pytest.mark.parametrize(("rpm", "full"), [(1000, 850.0), (1400, 1000.0), (2200, 803.0)])
@pytest.mark.parametrize("torque", [-400.0, -50.0, 0.0, 300.0, 803.0])
def test_line_through_full_load_and_the_motoring_torque(rpm, full, torque):
    law = fuel_law(own(motoring=MOTORED))
    expected = by_hand(torque, full, 0.1 * rpm, rpm * RPM)
    assert float(law.rate(torque, rpm * RPM)) == pytest.approx(expected, rel=2e-3)
    assert codes(law) == ["fuel-willans"]
    assert "straight line at each speed from full load to none" in note_text(law.notes[0], "si")


def test_faster_than_the_sheet_the_indicated_consumption_is_held():
    law = fuel_law(own(motoring=MOTORED))
    indicated = B * 803.0 / (803.0 + 220.0)
    omega = 2380 * RPM
    assert float(law.rate(0.0, omega)) == pytest.approx(indicated * 238.0 * omega, rel=1e-3)


def test_friction_from_the_fuel_at_idle_burns_that_at_idle():
    # T_m = m_dot (T_f + T_m) / (b T_f omega) at 800 rpm, where full load is 700 N.m.
    idle = 4e-4
    law = fuel_law(own(idle=idle))
    share = idle / (B * 800 * RPM) / 700.0
    friction = share * 700.0 / (1 - share)
    np.testing.assert_allclose(law.friction, friction, rtol=1e-9)
    assert float(law.rate(0.0, 800 * RPM)) == pytest.approx(idle, rel=1e-9)
    assert codes(law) == ["fuel-willans-idle"]
    assert f"the fuel line's friction, {friction:.0f} N·m at every speed" in note_text(
        law.notes[0], "si"
    )


def test_fuel_at_idle_that_asks_for_most_of_the_torque_is_not_carried_further():
    # More than half of full load: the step from brake to indicated work is left out.
    idle = 0.6 * 700.0 * B * 800 * RPM
    np.testing.assert_allclose(fuel_law(own(idle=idle)).friction, 420.0, rtol=1e-9)


def test_typical_friction_is_a_share_of_the_peak_torque():
    law = fuel_law(own())
    assert TYPICAL_FRICTION_SHARE == 0.09
    np.testing.assert_allclose(law.friction, 90.0, rtol=1e-3)
    assert codes(law) == ["fuel-willans-typical"]
    assert "9 % of the peak torque, 90 N·m, is taken as friction" in note_text(law.notes[0], "si")
    assert float(law.rate(0.0, 1400 * RPM)) == pytest.approx(
        by_hand(0.0, 1000.0, 90.0, 1400 * RPM), rel=2e-3
    )


@pytest.mark.parametrize("speeds", [(900, 2200), (800, 2100), (1000, 2000)])
def test_table_short_of_idle_or_rated_speed_is_held_and_said(speeds):
    law = fuel_law(own(table(speeds, [B, B]), motoring=MOTORED))
    assert codes(law) == ["fuel-willans", "fuel-held-beyond-table"]
    low = speeds[0]
    friction = 0.1 * low
    full = float(engine().full_load(low * RPM))
    held = B * full / (full + friction)
    assert float(law.rate(200.0, 800 * RPM)) == pytest.approx(
        held * (200.0 + 80.0) * 800 * RPM, rel=1e-6
    )
    assert all(note.kind == "assumption" for note in law.notes)


def test_table_beyond_rated_speed_is_used_up_to_it():
    # A row in the governor's range is no full load.
    wide = table([800, 2200, 2300], [B, B, 9 * B])
    law = fuel_law(own(wide, motoring=MOTORED))
    assert codes(law) == ["fuel-willans"]
    held = B * 803.0 / (803.0 + 220.0)
    assert law.indicated.max() <= held * 1.2
    assert float(np.interp(2300 * RPM, law.speed, law.indicated)) == pytest.approx(held, rel=1e-3)


def test_engine_without_consumption_burns_by_the_map_alone():
    grid = FuelMap([100.0, 200.0], [0.0, 1000.0], [[1e-3, 5e-3], [2e-3, 9e-3]])
    for fuel in (None, Fuel(idle_rate=4e-4)):
        law = fuel_law(engine(fuel=fuel), grid)
        assert float(law.rate(0.0, 100.0)) == pytest.approx(1e-3)
        assert float(law.rate(500.0, 240.0)) == 0.0
        assert codes(law) == ["fuel-map-only"]
        assert note_text(law.notes[0], "si").startswith("Fuel comes from a map alone: outside it")
        assert law.speed.tolist() == [800 * RPM, 2380 * RPM]
        assert fuel_law(engine(fuel=fuel)) is None


def test_map_of_an_engine_with_a_table_is_used_inside_its_grid_only():
    grid = FuelMap([100.0, 200.0], [0.0, 1000.0], [[1e-3, 5e-3], [2e-3, 9e-3]])
    law, line = fuel_law(own(motoring=MOTORED), grid), fuel_law(own(motoring=MOTORED))
    torque, speed = np.array([0.0, 1000.0, 500.0]), np.array([100.0, 200.0, 220.0])
    found = law.rate(torque, speed)
    assert found[:2] == pytest.approx([1e-3, 9e-3])
    assert found[2] == float(line.rate(500.0, 220.0))


def test_iso_3046_consumption_by_hand():
    # b = b_r (LHV_r / LHV) k / alpha, ISO 3046-1.
    assert iso_3046_consumption(B, 0.9, 0.88) == pytest.approx(B * 0.9 / 0.88)
    assert iso_3046_consumption(B, 0.9, 0.88, 1.02) == pytest.approx(B * 1.02 * 0.9 / 0.88)


def test_density_of_diesel_is_within_its_standard():
    # EN 590: 820 to 845 kg/m^3.
    assert 820.0 <= TYPICAL_DENSITY <= 845.0
