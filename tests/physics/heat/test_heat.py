"""Oil temperature against closed forms and scipy's solve_ivp."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from converter_match.components.machine import Cooler
from converter_match.errors import InputError
from converter_match.physics.heat.oil import AffineSteps, OilCircuit, advance, hold

AIR = {"air_temperature": 298.15}


def reference(circuit, heat, start, time):
    """Both temperatures by scipy, from the differential equations as they stand."""

    def rates(_, y):
        oil, metal = y
        cooled = 0.0
        if circuit.cooler is not None:
            cooled = float(circuit.cooler.heat_at(oil - circuit.air_temperature))
        exchange = circuit.conductance * (oil - metal)
        second = exchange / circuit.metal_capacity if circuit.metal_capacity else 0.0
        return [(heat - cooled - exchange) / circuit.oil_capacity, second]

    found = solve_ivp(rates, (0, time), [start, start], rtol=1e-10, atol=1e-9)
    return found.y[:, -1]


CIRCUITS = {
    "one lump, cooler": OilCircuit(9e4, cooler=Cooler.from_conductance(800.0), **AIR),
    "two lumps": OilCircuit(7e4, 2.2e5, 900.0, **AIR),
    "two lumps, cooler": OilCircuit(7e4, 2.2e5, 900.0, Cooler.from_conductance(1100.0), **AIR),
}


@pytest.mark.parametrize("name", CIRCUITS)
@pytest.mark.parametrize("time", [3.0, 60.0, 1800.0])
def test_closed_form_agrees_with_solve_ivp(name, time):
    circuit = CIRCUITS[name]
    oil, metal = advance(circuit, 330.0, 330.0, 80e3, time)
    expected = reference(circuit, 80e3, 330.0, time)
    assert float(oil) == pytest.approx(expected[0], abs=1e-4)
    if circuit.metal_capacity:
        assert float(metal) == pytest.approx(expected[1], abs=1e-4)


@pytest.mark.parametrize("name", CIRCUITS)
def test_time_to_limit_is_when_solve_ivp_is_there(name):
    circuit = CIRCUITS[name]
    answer = hold(circuit, 150e3, 350.0, 393.0)
    oil, _ = reference(circuit, 150e3, 350.0, answer.time_to_limit)
    assert oil == pytest.approx(393.0, abs=1e-3)


def test_tabulated_cooler_is_stepped_to_the_same_time_as_solve_ivp():
    cooler = Cooler(difference=[0, 20, 40, 60, 80, 110], heat=[0, 9e3, 22e3, 38e3, 56e3, 80e3])
    circuit = OilCircuit(8e4, cooler=cooler, **AIR)
    answer = hold(circuit, 100e3, 350.0, 393.0)
    oil, _ = reference(circuit, 100e3, 350.0, answer.time_to_limit)
    assert oil == pytest.approx(393.0, abs=0.02)


def test_heat_that_the_cooler_carries_at_the_limit_never_reaches_it():
    circuit = CIRCUITS["one lump, cooler"]
    carried = 800.0 * (393.15 - circuit.air_temperature)
    assert hold(circuit, 0.999 * carried, 350.0, 393.15).time_to_limit is None
    assert hold(circuit, 1.01 * carried, 350.0, 393.15).time_to_limit is not None
    balance = hold(circuit, 0.5 * carried, 350.0, 393.15).balance
    assert balance == pytest.approx(circuit.air_temperature + 0.5 * carried / 800.0)


def test_march_of_equal_steps_is_one_long_step():
    circuit = CIRCUITS["two lumps, cooler"]
    heat, time = np.full((50, 1), 6e4), np.full((50, 1), 2.0)
    above = 340.0 - circuit.air_temperature
    steps = AffineSteps.of(
        circuit, heat, time, np.full((50, 1), float(circuit.cooler_conductance(np.array(340.0))))
    )
    oil = steps.march(np.full((2, 1), above)) + circuit.air_temperature
    once = advance(circuit, 340.0, 340.0, 6e4, 100.0)
    assert oil[-1, 0] == pytest.approx(float(once[0]), abs=1e-9)


@given(heat=st.floats(0, 4e5), start=st.floats(250, 400), time=st.floats(0, 1e5))
def test_oil_stays_between_start_air_and_balance(heat, start, time):
    circuit = CIRCUITS["one lump, cooler"]
    oil, _ = advance(circuit, start, start, heat, time)
    balance = circuit.air_temperature + heat / 800.0
    low, high = sorted([start, balance])
    # Colder than the air the cooler does not warm the oil: only the heat does.
    assert low - 1e-9 <= float(oil) <= high + heat * time / 9e4 * (start < 298.65) + 1e-9


def test_negative_heat_is_refused():
    with pytest.raises(InputError, match=r"heat: out of range; found -1"):
        hold(OilCircuit(9e4, **AIR), -1.0, 350.0, 390.0)


def test_metal_without_conductance_is_refused():
    with pytest.raises(InputError, match="needs both its capacity and a conductance"):
        OilCircuit(9e4, 1e5, 0.0, **AIR)
