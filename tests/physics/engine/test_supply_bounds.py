"""Bounds of supply, match and blading equations, and which field a refusal names."""

import numpy as np
import pytest

from converter_match.components.engine import Accessory
from converter_match.curves import Curve
from converter_match.errors import InputError
from converter_match.physics.converter.blading import operate
from converter_match.physics.converter.equations import (
    backward,
    circuit_of,
    element_torques,
    energy_quadratic,
    energy_residual,
    loss_powers,
    shock_speeds,
    swirl_moments,
)
from converter_match.physics.converter.velocity_triangles import velocity_triangles
from converter_match.physics.engine.supply import (
    PowerLaw,
    TorqueSupply,
    cubic_with_slope,
    engine_supply,
)
from converter_match.physics.match.solver import engine_speeds, match, match_in_blocks
from tests.blading_examples import blading
from tests.examples import converter, engine, hole_engine

FLAT = Curve([100.0, 200.0], [500.0, 500.0])


# --- supply ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("factor", [0.0, -1.0, np.nan, np.inf])
def test_torque_factor_is_a_number_above_zero(factor):
    with pytest.raises(InputError, match="out of range") as caught:
        engine_supply(engine(), torque_factor=factor)
    assert caught.value.field == "torque_factor"
    assert caught.value.found == pytest.approx(factor, nan_ok=True)
    assert engine_supply(engine(), torque_factor=5e-324).factor == 5e-324


@pytest.mark.parametrize("torque", [float(np.nextafter(0, -1)), float(np.nextafter(1e9, 2e9)),
                                    np.nan])  # fmt: skip
def test_pump_torque_is_zero_or_more_and_of_an_engine(torque):
    with pytest.raises(InputError, match="out of range") as caught:
        engine_supply(engine(), hydraulic_torque=torque)
    assert caught.value.field == "hydraulic_torque"
    assert caught.value.found == pytest.approx(torque, nan_ok=True)
    for good in (0.0, 1e9):
        assert engine_supply(engine(), hydraulic_torque=good).constant == good


def test_supply_holds_what_it_was_made_of():
    off = Accessory(name="off", power=0.0, at_speed=200.0, exponent=3)
    fan = Accessory(name="fan", power=9e3, at_speed=200.0, exponent=3)
    made = engine(accessories=(off, fan))
    table = Curve([50.0, 300.0], [10.0, 20.0])
    supply = engine_supply(made, torque_factor=0.9, hydraulic_torque=30.0, tables=[table])
    assert supply.source is made.full_load
    assert (supply.factor, supply.constant, supply.low) == (0.9, 30.0, made.low_idle)
    assert supply.laws == (PowerLaw(45.0, 200.0, 2.0),)
    assert supply.tables == (table,)


@pytest.mark.parametrize("low", [200.0, 201.0])
def test_supply_needs_a_stretch_of_speeds(low):
    with pytest.raises(InputError, match="no speed in common") as caught:
        TorqueSupply(source=FLAT, low=low)
    assert caught.value.field == "speed"
    assert caught.value.found == f"{low:.5g} .. 200 rad/s"
    assert TorqueSupply(source=FLAT, low=199.0).domain == (199.0, 200.0)
    assert TorqueSupply(source=FLAT, low=50.0).domain == (100.0, 200.0)


@pytest.mark.parametrize("omega", [100.0 * (1 - 1e-7), 200.0 * (1 + 1e-7), np.nan])
def test_torque_is_known_up_to_the_very_ends(omega):
    supply = TorqueSupply(source=FLAT)
    for ask in (supply.torque, supply.with_slope):
        with pytest.raises(InputError, match="nothing is extrapolated") as caught:
            ask([150.0, omega])
        assert caught.value.field == "engine speed"
        assert caught.value.found == f"{omega:.6g} rad/s"
        assert caught.value.expected == "100 .. 200 rad/s"
    assert supply.torque([100.0, 200.0]).tolist() == [500.0, 500.0]


def test_a_speed_past_an_end_by_rounding_has_the_torque_of_the_end():
    # A balance at idle or at high idle is worked out to the last digits but one.
    past = [np.nextafter(100.0, 0.0), np.nextafter(200.0, np.inf)]
    assert TorqueSupply(source=FLAT).torque(past) == pytest.approx([500.0] * 2, rel=1e-12)


@pytest.mark.parametrize("exponent", [0.0, 1.0, 2.0, 3.0, 0.5, 4.0])
def test_load_of_any_exponent_with_factor_constant_and_table_by_hand(exponent):
    supply = TorqueSupply(
        source=FLAT,
        factor=0.8,
        constant=20.0,
        laws=(PowerLaw(50.0, 150.0, exponent),),
        tables=(Curve([80.0, 120.0, 220.0], [8.0, 12.0, 22.0]),),
    )
    omega = np.array([100.0, 115.0, 160.0, 200.0])
    load = 20.0 + 50.0 * (omega / 150.0) ** exponent + omega / 10
    assert supply.load_torque(omega) == pytest.approx(load, rel=1e-12)
    assert supply.torque(omega) == pytest.approx(400.0 - load, rel=1e-12)
    torque, slope = supply.scaled_with_slope(omega, 1.1)
    assert torque == pytest.approx(440.0 - load, rel=1e-12)
    steep = -(50.0 * exponent / 150.0 * (omega / 150.0) ** (exponent - 1) + 0.1)
    assert slope == pytest.approx(steep, rel=1e-9)
    assert supply.net_torque(omega, 1.1) == pytest.approx(440.0 - load, rel=1e-12)
    assert supply.knots.tolist() == [100.0, 120.0, 200.0]


def test_nodes_cut_each_stretch_between_knots_into_even_cells():
    supply = TorqueSupply(source=Curve([100.0, 120.0, 200.0], [1.0, 2.0, 3.0]))
    assert supply.nodes(2).tolist() == [100.0, 110.0, 120.0, 160.0, 200.0]
    assert supply.nodes(1).tolist() == [100.0, 120.0, 200.0]
    pieces = supply.piece_of(np.array([100.0, 119.0, 120.0, 200.0]))
    assert pieces.tolist() == [0, 0, 1, 1]


def test_cubic_less_laws_with_its_slope():
    # 2 t^3 + 3 t^2 + 5 t + 7 at t = 2 is 45, its slope 41; less 4 (w / 12)^2 at w = 12, slope 2/3.
    torque, slope = cubic_with_slope(
        np.array([[2.0], [3.0], [5.0], [7.0]]), np.array([10.0]), np.array([12.0]),
        (PowerLaw(4.0, 12.0, 2.0),),
    )  # fmt: skip
    assert torque == pytest.approx([41.0])
    assert slope == pytest.approx([41.0 - 2 / 3])


# --- match ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["capacity_factor", "torque_ratio_factor", "torque_factor"])
@pytest.mark.parametrize("value", [0.0, -1.0, np.nan, np.inf])
def test_factor_that_is_none_is_named(name, value):
    with pytest.raises(InputError, match=f"not a usable {name.replace('_', ' ')}") as caught:
        match(engine_supply(engine()), converter(), 0.5, **{name: [1.0, value]})
    assert caught.value.field == name
    assert caught.value.found == pytest.approx(value, nan_ok=True)
    assert caught.value.expected == "numbers above zero"


def test_capacity_that_is_no_number_is_named():
    with pytest.raises(InputError, match="not finite") as caught:
        engine_speeds(engine_supply(engine()), [0.01, np.nan])
    assert caught.value.field == "capacity"
    with pytest.raises(InputError, match="out of range") as caught:
        next(match_in_blocks(engine_supply(engine()), converter(), 0.5, points=0))
    assert (caught.value.field, caught.value.found) == ("points", 0)


def test_flat_engine_by_hand():
    # 500 = C w^2: w = sqrt(500 / C), within 100 .. 200 rad/s.
    supply = TorqueSupply(source=FLAT)
    speed, stable = engine_speeds(supply, [500 / 150**2, 500 / 99**2, 500 / 201**2])
    assert speed == pytest.approx(np.array([[150.0, np.nan, np.nan]]), nan_ok=True)
    assert stable.tolist() == [[True, False, False]]
    speed, _ = engine_speeds(supply, 500 / 150**2, [0.81, 1.0, 1.21])
    assert speed == pytest.approx(np.array([[135.0, 150.0, 165.0]]))
    many = np.linspace(0.5, 1.7, 50)
    speed, stable = engine_speeds(supply, 500 / 150**2, many)
    assert speed == pytest.approx(np.array([150.0 * np.sqrt(many)]), rel=1e-12)
    assert stable.all()


def test_points_carry_the_factors_they_were_matched_with():
    supply = TorqueSupply(source=FLAT)
    unit = converter(capacity=np.full(8, 500 / 150**2))
    found = match(
        supply, unit, 0.4, capacity_factor=1.44, torque_ratio_factor=1.1, torque_factor=1.21
    ).from_idle()
    # w = 150 sqrt(1.21 / 1.44) = 137.5; T = 1.21 x 500; mu = 1.1 x 1.7.
    assert float(found.engine_speed) == pytest.approx(137.5, rel=1e-12)
    assert float(found.input_torque) == pytest.approx(605.0, rel=1e-12)
    assert float(found.torque_ratio) == pytest.approx(1.87, rel=1e-12)
    assert float(found.speed_ratio) == 0.4
    assert float(found.turbine_speed) == pytest.approx(55.0, rel=1e-12)
    assert float(found.turbine_torque) == pytest.approx(605.0 * 1.87, rel=1e-12)
    assert float(found.efficiency) == pytest.approx(0.4 * 1.87, rel=1e-12)
    assert float(found.input_power) == pytest.approx(605.0 * 137.5, rel=1e-12)
    assert float(found.output_power) == pytest.approx(605.0 * 1.87 * 55.0, rel=1e-12)
    assert float(found.heat) == pytest.approx(605.0 * 137.5 * (1 - 0.748), rel=1e-12)


@pytest.mark.parametrize(
    ("at_low", "at_high", "idle", "high_idle"),
    # Engine torque 500 against C w^2 at 100 and at 200 rad/s.
    [(499.0, 1996.0, True, True), (500.0, 2000.0, False, True), (124.0, 496.0, True, False),
     (125.0, 500.0, True, True)],
)  # fmt: skip
def test_ends_say_whether_the_engine_gets_away_and_whether_it_is_held(
    at_low, at_high, idle, high_idle
):
    unit = converter(capacity=np.full(8, at_low / 100**2))
    found = match(TorqueSupply(source=FLAT), unit, [0.0, 0.5])
    assert at_high == 4 * at_low
    assert found.pulls_away.tolist() == [idle] * 2
    assert found.held_back.tolist() == [high_idle] * 2
    assert found.from_idle().found.tolist() == [idle and high_idle] * 2


def test_count_and_either_way_of_reaching_three_intersections():
    supply = engine_supply(hole_engine())
    found = match(supply, converter(capacity=np.full(8, 0.0385)), 0.0)
    assert int(found.count) == 3
    rows = np.flatnonzero(found.points.found)
    speeds = found.points.engine_speed[rows]
    assert np.all(np.diff(speeds) > 0)
    assert found.points.stable[rows].tolist() == [True, False, True]
    assert not np.delete(found.points.stable, rows).any()
    assert float(found.from_idle().engine_speed) == speeds[0]
    assert float(found.from_high_idle().engine_speed) == speeds[2]
    assert bool(found.from_idle().stable)
    picked = found.points.at(int(rows[1]))
    assert (float(picked.engine_speed), bool(picked.stable)) == (speeds[1], False)


# --- blading --------------------------------------------------------------------------------------


def test_rows_of_the_circuit_by_hand():
    impeller, turbine, stator = circuit_of(blading()).rows
    assert [r.name for r in (impeller, turbine, stator)] == ["impeller", "turbine", "stator"]
    assert [r.exit_radius for r in (impeller, turbine, stator)] == [0.106, 0.064, 0.062]
    # Each is fed where the one before ends.
    assert [r.entry_radius for r in (impeller, turbine, stator)] == [0.062, 0.106, 0.064]
    exits = np.tan(np.radians([5, -54, 52]))
    entries = np.tan(np.radians([-28, 42, 2]))
    assert [r.exit_tan for r in (impeller, turbine, stator)] == pytest.approx(exits)
    assert [r.entry_tan for r in (impeller, turbine, stator)] == pytest.approx(entries)
    other = backward(circuit_of(blading()))
    assert other.names == ("impeller", "stator", "turbine")
    assert [r.exit_radius for r in other.rows] == [0.062, 0.064, 0.106]
    assert [r.entry_radius for r in other.rows] == [0.106, 0.062, 0.064]
    assert [r.exit_tan for r in other.rows] == pytest.approx(-entries[[0, 2, 1]])
    assert [r.entry_tan for r in other.rows] == pytest.approx(-exits[[0, 2, 1]])
    assert (other.friction_factor, other.flow_area, other.density) == (0.28, 0.010, 840.0)


def test_moments_torques_and_losses_by_hand():
    # At u = 6 m/s; speeds 150, 90 and 0 rad/s.
    circuit, flow, speeds = circuit_of(blading()), 0.06, (150.0, 90.0, 0.0)
    r = np.array([0.106, 0.064, 0.062])
    out, into = np.tan(np.radians([5, -54, 52])), np.tan(np.radians([-28, 42, 2]))
    moment = r * (r * np.array(speeds) + 6.0 * out)
    assert swirl_moments(circuit, flow, speeds) == pytest.approx(list(moment))
    torque = 840.0 * 0.06 * (moment - np.roll(moment, 1))
    assert element_torques(circuit, flow, speeds) == pytest.approx(tuple(torque))
    before = np.roll(speeds, 1)
    shock = np.roll(r, 1) * (before - speeds) + 6.0 * (np.roll(out, 1) - into)
    assert shock_speeds(circuit, flow, speeds) == pytest.approx(tuple(shock))
    lost, rubbed = loss_powers(circuit, flow, speeds)
    assert lost == pytest.approx(0.5 * 0.9 * 840.0 * 0.06 * shock**2)
    assert rubbed == pytest.approx(0.5 * 0.28 * 840.0 * 0.06 * 36.0 * (1 + out**2))
    # The quadratic is head lost less head put in: minus the residual, whatever u.
    lines = [(np.array(w), np.array(0.5 * k)) for k, w in enumerate(speeds)]
    a, b, c = energy_quadratic(circuit, lines)
    for u in (0.0, 2.0, 6.0):
        at = [w + k * u for w, k in lines]
        residual = float(energy_residual(circuit, u * 0.010, at))
        assert float(a * u * u + b * u + c) == pytest.approx(-residual, rel=1e-10, abs=1e-9)


@pytest.mark.parametrize("mounting", ["fixed", "none"])
def test_triangles_by_hand(mounting):
    result = velocity_triangles(blading(), 0.5, 200.0, mounting=mounting)
    at = operate(blading(), 0.5, mounting=mounting)
    u = float(at.flow) * 200.0 / 0.010
    assert (result.speed_ratio, result.impeller_speed) == (0.5, 200.0)
    assert float(result.points.flow) == float(at.flow)
    places = {"impeller": (0.106, 200.0, 5, -28), "turbine": (0.064, 100.0, -54, 42),
              "stator": (0.062, 0.0, 52, 2)}  # fmt: skip
    order = ["impeller", "turbine", "stator"][: len(result.triangles)]
    assert [t.row for t in result.triangles] == order
    assert len(order) == (2 if mounting == "none" else 3)
    for k, triangle in enumerate(result.triangles):
        after = order[(k + 1) % len(order)]
        radius, speed, out, _ = places[triangle.row]
        _, next_speed, _, into = places[after]
        assert (triangle.next_row, triangle.radius) == (after, radius)
        assert triangle.meridional == pytest.approx(u)
        assert triangle.blade_speed == pytest.approx(radius * speed)
        assert triangle.swirl == pytest.approx(radius * speed + u * np.tan(np.radians(out)))
        assert triangle.next_blade_speed == pytest.approx(radius * next_speed)
        entry = radius * next_speed + u * np.tan(np.radians(into))
        assert triangle.next_swirl == pytest.approx(entry)
        assert triangle.shock == pytest.approx(triangle.swirl - entry)
        assert triangle.relative_swirl == pytest.approx(u * np.tan(np.radians(out)))


@pytest.mark.parametrize(
    ("nu", "speed", "field", "found"),
    [(0.5, 0.0, "impeller_speed", 0.0), (0.5, np.inf, "impeller_speed", np.inf),
     (1.0, 200.0, "speed_ratio", 1.0)],
)  # fmt: skip
def test_triangles_that_are_none_name_the_field(nu, speed, field, found):
    with pytest.raises(InputError) as caught:
        velocity_triangles(blading(mounting="none"), nu, speed)
    assert (caught.value.field, caught.value.found) == (field, found)
    assert velocity_triangles(blading(), 0.5, 1e-300).impeller_speed == 1e-300
