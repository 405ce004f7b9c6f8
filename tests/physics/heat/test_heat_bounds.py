"""Oil circuits: what belongs to them, their bounds, and holds in closed form."""

import math

import numpy as np
import pytest

from converter_match.components.machine import Cooler, Oil
from converter_match.errors import InputError
from converter_match.physics.heat.oil import OilCircuit, advance, hold
from tests.machines import machine

AIR = 300.0
UA = Cooler.from_conductance(800.0)
TABLE = Cooler(difference=[0, 20, 40, 60, 80, 110], heat=[0, 9e3, 22e3, 38e3, 56e3, 80e3])
OIL = {"density": 870.0, "specific_heat": 2000.0, "volume": 0.05, "temperature_limit": 390.0}


def circuit_of(own):
    return OilCircuit.of(own, AIR, own.cooler)


@pytest.mark.parametrize("capacity", [0.0, -1.0, math.inf, math.nan])
def test_heat_capacity_that_cannot_be_is_refused(capacity):
    with pytest.raises(InputError, match="out of range") as error:
        OilCircuit(capacity, air_temperature=AIR)
    assert error.value.field == "oil_capacity"
    assert error.value.expected == "a heat capacity above zero"


@pytest.mark.parametrize(("metal", "conductance"), [(1e5, 0.0), (0.0, 100.0)])
def test_metal_lump_needs_both_of_its_numbers(metal, conductance):
    with pytest.raises(InputError, match="needs both its capacity and a conductance") as error:
        OilCircuit(9e4, metal, conductance, air_temperature=AIR)
    assert (error.value.field, error.value.found) == ("metal_capacity", metal)


def test_smallest_capacities_are_taken():
    assert OilCircuit(1e-3, 1e-3, 1e-3, air_temperature=AIR).metal_capacity == 1e-3


def test_circuit_of_a_machine_has_one_lump_unless_the_conductance_is_known():
    # 0.05 m^3 of 870 kg/m^3 and 2000 J/(kg.K): 87 kJ/K; 300 kg of metal at 500 J/(kg.K): 150 kJ/K.
    metal = {"metal_mass": 300.0, "metal_specific_heat": 500.0}
    one = circuit_of(machine(oil=Oil(**OIL, **metal)))
    assert (one.oil_capacity, one.metal_capacity, one.conductance) == pytest.approx((237e3, 0, 0))
    two = circuit_of(machine(oil=Oil(**OIL, **metal, metal_conductance=900.0)))
    assert (two.oil_capacity, two.metal_capacity, two.conductance) == pytest.approx(
        (87e3, 150e3, 900.0)
    )
    for circuit in (one, two):
        assert circuit.cooler == machine().cooler
        assert circuit.air_temperature == AIR
    bare = circuit_of(machine(oil=Oil(**OIL), cooler=None))
    assert (bare.oil_capacity, bare.cooler) == (pytest.approx(87e3), None)
    assert circuit_of(machine(oil=Oil(temperature_limit=390.0))) is None


def test_secant_conductance_is_heat_over_difference():
    circuit = OilCircuit(9e4, cooler=TABLE, air_temperature=AIR)
    found = circuit.cooler_conductance(AIR + np.array([20.0, 60.0, 110.0]))
    np.testing.assert_allclose(found, [450.0, 38e3 / 60, 80e3 / 110])
    # Half a kelvin stands for no difference, and for oil colder than the air.
    near = circuit.cooler_conductance(AIR + np.array([0.5, 0.2, 0.0, -30.0]))
    np.testing.assert_allclose(near, near[0])
    assert near[0] == pytest.approx(float(TABLE.heat_at(0.5)) / 0.5)
    none = OilCircuit(9e4, air_temperature=AIR).cooler_conductance(np.full((2, 3), 350.0))
    np.testing.assert_array_equal(none, np.zeros((2, 3)))


def test_oil_without_a_cooler_warms_in_a_straight_line():
    oil, metal = advance(OilCircuit(9e4, air_temperature=AIR), 320.0, 0.0, 45e3, [0.0, 10.0, 60.0])
    np.testing.assert_allclose(oil, [320.0, 325.0, 350.0])
    np.testing.assert_allclose(metal, oil)


def test_given_conductance_takes_the_place_of_the_coolers():
    # T = T_inf + (T_0 - T_inf) exp(-G t / C) with T_inf = T_air + Q / G.
    circuit = OilCircuit(9e4, cooler=UA, air_temperature=AIR)
    oil, _ = advance(circuit, 340.0, 340.0, 30e3, 120.0, 500.0)
    final = AIR + 60.0
    assert float(oil) == pytest.approx(final + (340.0 - final) * math.exp(-500.0 * 120.0 / 9e4))


def test_two_lumps_keep_their_energy_and_level_out():
    # No heat in or out: the mean by capacity stays, the difference falls with h (1/C_o + 1/C_m).
    circuit = OilCircuit(8e4, 2.4e5, 900.0, air_temperature=AIR)
    time = np.array([0.0, 30.0, 200.0])
    oil, metal = advance(circuit, 380.0, 320.0, 0.0, time)
    np.testing.assert_allclose(8e4 * oil + 2.4e5 * metal, 8e4 * 380.0 + 2.4e5 * 320.0)
    np.testing.assert_allclose(
        oil - metal, 60.0 * np.exp(-900.0 * (1 / 8e4 + 1 / 2.4e5) * time), rtol=1e-9
    )


# --- holds ---------------------------------------------------------------------------------------


def test_hold_without_a_cooler_lasts_capacity_times_rise_over_heat():
    answer = hold(OilCircuit(9e4, air_temperature=AIR), 150e3, 350.0, 390.0)
    assert answer.time_to_limit == pytest.approx(9e4 * 40.0 / 150e3)
    assert answer.first_rate == pytest.approx(150e3 / 9e4)
    assert answer.balance is None
    assert (answer.heat, answer.start, answer.limit) == (150e3, 350.0, 390.0)


def test_hold_with_a_proportional_cooler_follows_its_logarithm():
    answer = hold(OilCircuit(9e4, cooler=UA, air_temperature=AIR), 150e3, 350.0, 390.0)
    final = AIR + 150e3 / 800.0
    expected = 9e4 / 800.0 * math.log((final - 350.0) / (final - 390.0))
    assert answer.time_to_limit == pytest.approx(expected, rel=1e-12)
    assert answer.first_rate == pytest.approx((150e3 - 800.0 * 50.0) / 9e4)
    assert answer.balance == pytest.approx(final)


def test_hold_with_two_lumps_and_no_cooler_follows_the_two_exponentials():
    # T_o = T_0 + Q t / C + (Q / k C_o) (C_m / C) (1 - e^-kt), k = h (1/C_o + 1/C_m), C the sum.
    c_o, c_m, h, q = 8e4, 2.4e5, 900.0, 150e3
    answer = hold(OilCircuit(c_o, c_m, h, air_temperature=AIR), q, 350.0, 390.0)
    t = answer.time_to_limit
    k = h * (1 / c_o + 1 / c_m)
    rise = q * t / (c_o + c_m) + q / (k * c_o) * c_m / (c_o + c_m) * (1 - math.exp(-k * t))
    assert rise == pytest.approx(40.0, rel=1e-9)
    assert answer.first_rate == pytest.approx(q / c_o)


def test_two_lumps_that_take_more_than_a_day_never_get_there():
    circuit = OilCircuit(8e4, 2.4e5, 900.0, air_temperature=AIR)
    day = 24 * 3600.0
    assert hold(circuit, 3.2e5 * 40.0 / (0.4 * day), 350.0, 390.0).time_to_limit == pytest.approx(
        0.4 * day, rel=0.01
    )
    assert hold(circuit, 3.2e5 * 40.0 / (3 * day), 350.0, 390.0).time_to_limit is None


def test_oil_at_its_limit_may_be_held_no_time():
    circuit = OilCircuit(9e4, cooler=UA, air_temperature=AIR)
    assert hold(circuit, 1e3, 390.0, 390.0).time_to_limit == 0.0
    assert hold(circuit, 1e3, 395.0, 390.0).time_to_limit == 0.0


def test_no_heat_never_warms():
    for cooler in (None, UA, TABLE):
        circuit = OilCircuit(9e4, cooler=cooler, air_temperature=AIR)
        assert hold(circuit, 0.0, 350.0, 390.0).time_to_limit is None


@pytest.mark.parametrize("cooler", [UA, TABLE], ids=["proportional", "table"])
def test_heat_is_held_for_ever_up_to_what_the_cooler_takes_at_the_limit(cooler):
    circuit = OilCircuit(9e4, cooler=cooler, air_temperature=AIR)
    carried = float(cooler.heat_at(90.0))
    assert hold(circuit, carried, 350.0, 390.0).time_to_limit is None
    assert hold(circuit, carried * 1.001, 350.0, 390.0).time_to_limit > 100.0


def test_table_that_is_a_straight_line_is_the_proportional_cooler():
    line = Cooler(difference=[0, 50, 150], heat=[0, 40e3, 120e3])
    stepped = hold(OilCircuit(9e4, cooler=line, air_temperature=AIR), 150e3, 350.0, 390.0)
    exact = hold(OilCircuit(9e4, cooler=UA, air_temperature=AIR), 150e3, 350.0, 390.0)
    # Constant conductance makes every step exact; the last one ends on a straight line.
    assert stepped.time_to_limit == pytest.approx(exact.time_to_limit, rel=1e-4)
    assert stepped.first_rate == pytest.approx(exact.first_rate)
    assert stepped.balance is None  # beyond its last row, 120 kW
    near = hold(OilCircuit(9e4, cooler=line, air_temperature=AIR), 60e3, 350.0, 390.0)
    assert near.balance == pytest.approx(AIR + 75.0, abs=0.01)


def test_table_with_a_metal_lump_is_the_proportional_cooler_with_it():
    line = Cooler(difference=[0, 50, 150], heat=[0, 40e3, 120e3])
    times = [
        hold(OilCircuit(7e4, 2e5, 900.0, cooler, air_temperature=AIR), 200e3, 340.0, 390.0)
        .time_to_limit
        for cooler in (line, UA)
    ]  # fmt: skip
    assert times[0] == pytest.approx(times[1], rel=1e-3)


@pytest.mark.parametrize("heat", [-1.0, -1e-9, math.inf, math.nan])
def test_heat_that_is_no_heat_is_refused(heat):
    with pytest.raises(InputError, match="out of range") as error:
        hold(OilCircuit(9e4, air_temperature=AIR), heat, 350.0, 390.0)
    assert (error.value.field, error.value.expected) == ("heat", "zero or more")
