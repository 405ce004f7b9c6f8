"""Back from the turbine shaft to the engine: definitions of nu, mu and C, and the shafts as one."""

import numpy as np
import pytest

from converter_match.components.engine import SpeedTable
from converter_match.physics.arrangement.overrun import (
    braking,
    braking_range,
    motoring_supply,
    with_overrun,
)
from converter_match.physics.arrangement.shaft_demand import ShaftDemand
from tests.examples import RPM, converter, engine

IDLE = 800 * RPM
TABLE = np.array([700, 1200, 1800, 2600]) * RPM
DRAG = np.array([60.0, 80.0, 115.0, 170.0])
OPEN, LOCKED = np.array(False), np.array(True)


def driven_engine(**changes):
    return engine(
        motoring=SpeedTable(speed=TABLE, value=DRAG, name="motoring"), accessories=(), **changes
    )


def mirrored(**changes):
    return with_overrun(converter(**changes), assume=True)


@pytest.mark.parametrize("nu", [0.0, 0.1, 0.25, 0.35, 0.5, 0.8, 0.9, 0.96])
def test_demand_at_a_point_of_the_characteristic_gives_its_engine_back(nu):
    unit, omega = converter(), 170.0
    mu, c = float(unit.torque_ratio_at(nu)), float(unit.capacity_at(nu))
    found = ShaftDemand.of(engine(), unit).at(np.array(nu * omega), mu * c * omega**2, OPEN)
    # Straight lines between 1200 rows: parts in a million of nu, ten times that where C is steep.
    assert float(found.engine_speed) == pytest.approx(omega, rel=2e-5)
    assert float(found.impeller_torque) == pytest.approx(c * omega**2, rel=2e-5)
    assert float(found.turbine_torque) == mu * c * omega**2
    heat = c * omega**3 * (1 - nu * mu)
    assert float(found.heat) == pytest.approx(heat, rel=1e-4, abs=1e-3 * c * omega**3)


def test_look_up_is_nu_over_the_root_of_mu_c_from_stall_to_the_end_of_the_data():
    unit = converter()
    table = ShaftDemand.of(engine(), unit)
    nu = np.linspace(0.0, 0.99, 1201)
    assert table.speed_ratio == pytest.approx(nu, abs=1e-15)
    product = unit.torque_ratio_at(nu) * unit.capacity_at(nu)
    assert table.scaled_speed == pytest.approx(nu / np.sqrt(product), rel=1e-12)
    assert table.converter is unit
    assert table.idle == engine().low_idle


def test_where_nothing_is_absorbed_and_beyond_there_is_no_row():
    table = ShaftDemand.of(driven_engine(), mirrored())
    # Capacity is zero at speed ratio 1 exactly.
    assert table.speed_ratio[-1] == pytest.approx(1199 / 1200)
    assert np.all(np.diff(table.scaled_speed) > 0)


def test_below_idle_the_converter_creeps():
    unit, speeds = converter(), np.array([0.0, 0.4, 0.8]) * IDLE
    table = ShaftDemand.of(engine(), unit)
    nu = np.array([0.0, 0.4, 0.8])
    creep = unit.torque_ratio_at(nu) * unit.capacity_at(nu) * IDLE**2
    assert table.least_torque(speeds, OPEN) == pytest.approx(creep, rel=1e-12)
    found = table.at(speeds, np.zeros(3), np.zeros(3, bool))
    assert found.turbine_torque == pytest.approx(creep, rel=1e-12)
    assert found.engine_speed == pytest.approx(np.full(3, IDLE), rel=2e-5)
    assert np.all(found.engine_speed >= IDLE)
    assert found.impeller_torque == pytest.approx(unit.capacity_at(nu) * IDLE**2, rel=2e-5)


def test_creep_ends_where_the_turbine_is_as_fast_as_the_data_go():
    table = ShaftDemand.of(engine(), converter())
    assert float(table.least_torque(0.99 * IDLE, OPEN)) == 0.0
    assert float(table.least_torque(1.2 * IDLE, OPEN)) == 0.0
    assert float(table.least_torque(0.9899 * IDLE, OPEN)) > 0.0


def test_without_a_motoring_table_nothing_retards_and_that_is_said():
    table = ShaftDemand.of(engine(), converter())
    assert [(note.code, note.kind) for note in table.notes] == [("no-engine-braking", "assumption")]
    assert table.notes[0].message.startswith("The engine's file has no motoring torque")
    for rows in (table.brake_speed, table.brake_torque, table.brake_engine, table.brake_share):
        assert rows.size == 0
    assert table.locked_speed.size == table.locked_torque.size == 0
    assert float(table.least_torque(150.0, LOCKED)) == 0.0
    found = table.at(np.array([150.0, 50.0]), np.array([-300.0, -300.0]), np.array([False, True]))
    assert found.turbine_torque.tolist() == [0.0, 0.0]
    assert found.impeller_torque.tolist() == [0.0, 0.0]
    assert found.heat.tolist() == [0.0, 0.0]
    assert found.engine_speed.tolist() == [150.0, 50.0]


def test_locked_up_the_shafts_are_one():
    table = ShaftDemand.of(driven_engine(), converter())
    found = table.at(np.array([150.0, 150.0]), np.array([500.0, -30.0]), np.array([True, True]))
    assert found.engine_speed.tolist() == [150.0, 150.0]
    assert found.impeller_torque.tolist() == [500.0, -30.0]
    assert found.turbine_torque.tolist() == [500.0, -30.0]
    assert found.heat == pytest.approx([0.0, 0.0], abs=1e-9)


def test_locked_up_the_engine_holds_back_with_its_drag():
    table = ShaftDemand.of(driven_engine(), converter())
    assert table.locked_speed == pytest.approx(np.linspace(IDLE, 2600 * RPM, 161), rel=1e-12)
    # A row of the motoring table; below idle none; above its end the last row, no more.
    speeds = np.array([1800 * RPM, 0.9 * IDLE, 3000 * RPM])
    held = table.least_torque(speeds, np.ones(3, bool))
    assert held == pytest.approx([-115.0, 0.0, -170.0], rel=1e-3)
    found = table.at(speeds, np.full(3, -1e4), np.ones(3, bool))
    assert found.turbine_torque == pytest.approx(held, rel=1e-12)


def test_exhaust_brake_counts_where_there_is_one_and_pumps_drag_as_well():
    brake = SpeedTable(speed=TABLE, value=3 * DRAG, name="exhaust brake")
    table = ShaftDemand.of(driven_engine(exhaust_brake=brake), converter(), hydraulic_torque=25.0)
    assert float(table.least_torque(2600 * RPM, LOCKED)) == pytest.approx(-(3 * 170.0 + 25.0))
    plain = ShaftDemand.of(driven_engine(), converter(), hydraulic_torque=25.0)
    assert float(plain.least_torque(2600 * RPM, LOCKED)) == pytest.approx(-(170.0 + 25.0))
    alone = ShaftDemand.of(engine(exhaust_brake=brake, accessories=()), converter())
    assert float(alone.least_torque(2600 * RPM, LOCKED)) == pytest.approx(-3 * 170.0)


def test_open_converter_retards_as_the_equilibrium_of_overrun_says():
    table = ShaftDemand.of(driven_engine(), mirrored())
    supply = motoring_supply(driven_engine())
    low, high = braking_range(supply, mirrored())
    assert (table.brake_speed[0], table.brake_speed[-1]) == pytest.approx((low, high), rel=1e-12)
    assert table.brake_speed.size > 150
    speeds = np.linspace(low, high, 12)[1:-1]
    exact = braking(supply, mirrored(), speeds)
    assert np.isfinite(exact.turbine_torque).all()
    found = table.at(speeds, np.full(10, -1e4), np.zeros(10, bool))
    # Straight lines over 160 parts of the range.
    assert found.turbine_torque == pytest.approx(exact.turbine_torque, rel=1e-4)
    assert found.engine_speed == pytest.approx(exact.engine_speed, rel=1e-4)
    assert found.impeller_torque == pytest.approx(exact.impeller_torque, rel=1e-4)
    assert found.heat == pytest.approx(exact.heat, rel=1e-2)
    assert np.all(found.heat > 0)


def test_part_of_the_retarding_is_shared_like_the_whole():
    table = ShaftDemand.of(driven_engine(), mirrored())
    speed = np.array(1500 * RPM)
    whole = table.at(speed, np.array(-1e4), OPEN)
    half = table.at(speed, 0.5 * whole.turbine_torque, OPEN)
    assert float(half.turbine_torque) == pytest.approx(0.5 * float(whole.turbine_torque))
    assert float(half.impeller_torque) == pytest.approx(0.5 * float(whole.impeller_torque))
    assert float(half.engine_speed) == float(whole.engine_speed)


def test_fixed_stator_shares_the_retarding_between_turbine_and_stator():
    # In overrun the turbine of a held stator takes mu times the impeller's torque: mu = 1.5 from
    # speed ratio 1.1 on, so the engine sees two thirds.
    unit = converter(
        stator="fixed",
        speed_ratio=[0, 0.4, 0.8, 0.9, 1.0, 1.06, 1.1, 1.2, 1.3],
        torque_ratio=[2.2, 1.7, 1.08, 0.9, 0.7, 1.5, 1.5, 1.5, 1.5],
        capacity=[0.02, 0.018, 0.013, 0.009, 0.004, -0.0002, -0.001, -0.018, -0.026],
        coupling_speed_ratio=None,
    )
    table = ShaftDemand.of(driven_engine(), unit)
    assert table.notes == ()
    found = table.at(np.array(1500 * RPM), np.array(-1e4), OPEN)
    assert float(found.impeller_torque) == pytest.approx(float(found.turbine_torque) / 1.5)


def test_mirrored_overrun_is_noted_and_measured_overrun_is_not():
    assumed = ShaftDemand.of(driven_engine(), converter())
    assert [(n.code, n.kind) for n in assumed.notes] == [("overrun-assumed", "assumption")]
    assert assumed.brake_speed.size > 0
    assert ShaftDemand.of(driven_engine(), mirrored()).notes == ()


def test_fixed_stator_without_data_beyond_one_brakes_locked_up_only_and_says_why():
    unit = converter(
        stator="fixed",
        speed_ratio=[0, 0.4, 0.8, 0.9],
        torque_ratio=[2.2, 1.7, 1.08, 0.9],
        capacity=[0.02, 0.018, 0.013, 0.009],
        coupling_speed_ratio=None,
    )
    table = ShaftDemand.of(driven_engine(), unit)
    assert [(n.code, n.kind) for n in table.notes] == [("no-overrun-braking", "assumption")]
    assert table.notes[0].message.startswith(
        "Braking through the open converter counts as none: there are no data beyond"
    )
    assert table.brake_speed.size == 0
    assert float(table.least_torque(1800 * RPM, OPEN)) == 0.0
    assert float(table.least_torque(1800 * RPM, LOCKED)) == pytest.approx(-115.0, rel=1e-3)
