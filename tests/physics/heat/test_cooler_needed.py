"""The cooler that is needed: read backwards from a heat and two temperatures, and from a lap."""

import numpy as np
import pytest

from converter_match.components.cooling import Cooler
from converter_match.physics.heat.continuous import conductance_needed
from converter_match.physics.heat.converter_oil import ConverterOil
from converter_match.physics.heat.laps import conductance_for_laps, oil_laps, outlet_laps
from converter_match.physics.heat.oil import UNSETTLED, OilCircuit

AIR, LIMIT = 298.15, 393.15
ARRIVES = np.ones(1, dtype=bool)


def circuit(capacity=75e3, cooler=None, **changes):
    return OilCircuit(capacity, cooler=cooler, air_temperature=AIR, **changes)


def test_cooler_for_a_heat_is_the_heat_over_the_difference():
    # 62 kW at 110 degC oil and 40 degC air: 62 / 70 kW/K. In US units: 3526 BTU/min at 126 degF of
    # difference are 28.0 BTU/(min degF); 1 BTU is 1055.056 J.
    needed = float(conductance_needed(62e3, 383.15, 313.15))
    assert needed == pytest.approx(62e3 / 70)
    assert needed / (1055.056 / 60 * 1.8) == pytest.approx(3526 / 126, rel=1e-4)
    assert conductance_needed(5e3, 300.0, 300.0) == np.inf
    assert conductance_needed(0.0, 300.0, 310.0) == 0.0


def test_lap_of_even_heat_needs_the_cooler_of_that_heat():
    heat, time = np.full(20, 40e3), np.full(20, 30.0)
    assert conductance_for_laps(circuit(), heat, time, LIMIT) == pytest.approx(40e3 / 95, rel=2e-3)


@pytest.mark.parametrize("two", [False, True])
def test_with_the_cooler_that_is_needed_the_hottest_oil_is_at_its_limit(two):
    rng = np.random.default_rng(3)
    heat, time = rng.uniform(0.0, 120e3, 60), rng.uniform(1.0, 40.0, 60)
    metal = {"metal_capacity": 200e3, "conductance": 3e3} if two else {}
    needed = conductance_for_laps(circuit(**metal), heat, time, LIMIT)
    mean = float(heat @ time) / float(time.sum())
    assert needed > mean / (LIMIT - AIR)
    fitted = circuit(cooler=Cooler.from_conductance(needed), **metal)
    laps = oil_laps(fitted, heat[:, None], time[:, None], LIMIT, ARRIVES)
    assert float(laps.settled.max()) == pytest.approx(LIMIT, abs=0.05)


def test_no_cooler_is_enough_for_hot_air_or_a_burst_that_the_oil_cannot_take():
    heat, time = np.array([400e3, 0.0]), np.array([60.0, 1000.0])
    assert conductance_for_laps(circuit(), heat, time, AIR - 1.0) is None
    # A burst of four hundred times the mean: a cooler of a hundred times the mean is the largest.
    burst = np.array([5.0, 2000.0])
    assert conductance_for_laps(circuit(2e3), heat, burst, AIR + 1.0) is None
    assert conductance_for_laps(circuit(), 0.0 * heat, time, LIMIT) == 0.0


def test_outlet_of_laps_lies_above_the_bulk_while_there_is_heat_and_falls_back_without():
    inside = ConverterOil(inside=9e3, rest=66e3, exchange=3e3)
    heat = np.array([[60e3]] * 30 + [[0.0]] * 30)
    time = np.full((60, 1), 2.0)
    fitted = circuit(cooler=Cooler.from_conductance(800.0))
    laps = oil_laps(fitted, heat, time, 350.0, ARRIVES)
    outlet = outlet_laps(inside, laps, heat, time)
    # Long enough for the steady rise of 60 kW / 3 kW/K = 20 K, of which the share of the rest.
    over = (outlet.settled - laps.settled)[:, 0]
    assert outlet.first[0] == laps.first[0]
    # While the bulk warms at 0.8 K/s less of it goes through: below 20 K, above 10 K.
    assert 10.0 < over[30] < 20.0
    assert over[60] == pytest.approx(over[0], abs=1e-9)
    assert abs(over[60]) < 1.5
    lost = oil_laps(circuit(cooler=Cooler.from_conductance(1e-9)), heat, time, 350.0, ARRIVES)
    assert (outlet_laps(inside, lost, heat, time).settled == UNSETTLED).all()
