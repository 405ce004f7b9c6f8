"""Fuel at full load as the sheet says, a straight line below it, and ISO 3046."""

import dataclasses

import numpy as np
import pytest

from converter_match.components.fuel_map import FuelMap
from converter_match.errors import InputError
from converter_match.physics.engine.fuel import fuel_law
from tests.haul_examples import parts

RPM = np.pi / 30


@pytest.fixture(scope="module")
def engine():
    return parts()[0].engine


@pytest.fixture(scope="module")
def law(engine):
    return fuel_law(engine)


def test_full_load_burns_what_the_sheet_says(engine, law):
    # Definition of brake-specific consumption: 197 g/kWh at 1300 rpm in the engine's own file.
    omega = 1300 * RPM
    torque = float(engine.full_load(omega))
    assert float(law.rate(torque, omega)) == pytest.approx(
        197e-3 / 3.6e6 * torque * omega, rel=2e-3
    )


def test_fuel_is_linear_in_torque_and_none_at_the_motoring_torque(engine, law):
    omega = 1500 * RPM
    drag = float(engine.motoring.curve(omega))
    assert float(law.rate(-drag, omega)) == pytest.approx(0.0, abs=1e-5)
    rates = law.rate(np.array([0.0, 300.0, 600.0]), omega)
    assert rates[2] - rates[1] == pytest.approx(rates[1] - rates[0], rel=1e-9)
    assert float(law.rate(-2 * drag, omega)) == 0.0


def test_fuel_at_idle_is_near_the_stated_idle_rate(engine, law):
    # The line is not told the idle rate when there is a motoring table: an independent check of
    # the invented sheet, to the accuracy of a Willans line.
    assert float(law.rate(0.0, engine.low_idle)) == pytest.approx(1.25 / 3600, rel=0.25)


def test_without_motoring_table_the_line_meets_the_idle_rate(engine):
    bare = engine.replace(motoring=None, exhaust_brake=None)
    law = fuel_law(bare)
    assert float(law.rate(0.0, bare.low_idle)) == pytest.approx(bare.fuel.idle_rate, rel=1e-6)
    assert "fuel-willans-idle" in {note.code for note in law.notes}


def test_without_either_a_typical_friction_is_taken_and_said(engine):
    fuel = dataclasses.replace(engine.fuel, idle_rate=None)
    law = fuel_law(engine.replace(motoring=None, exhaust_brake=None, fuel=fuel))
    assert "fuel-willans-typical" in {note.code for note in law.notes}


def test_engine_without_consumption_has_no_fuel_law(engine):
    assert fuel_law(engine.replace(fuel=None)) is None


def test_map_is_bilinear_inside_and_gives_way_to_the_line_outside(engine, law):
    grid = FuelMap([100.0, 200.0], [0.0, 1000.0], [[1e-3, 5e-3], [2e-3, 9e-3]])
    mapped = fuel_law(engine, grid)
    assert float(mapped.rate(500.0, 150.0)) == pytest.approx(np.mean([1e-3, 5e-3, 2e-3, 9e-3]))
    assert float(mapped.rate(500.0, 80.0)) == float(law.rate(500.0, 80.0))


def test_map_that_is_no_full_grid_is_refused():
    with pytest.raises(InputError, match="not a full grid"):
        FuelMap([100.0, 200.0], [0.0, 1000.0], [[1e-3, 5e-3]])
