"""The cooler in thin air, against the effectiveness-NTU method."""

import numpy as np
import pytest

from converter_match.components.cooling import Cooler
from converter_match.physics.heat.cooler_air import air_share, in_air

# Standard atmosphere at sea level, ISO 2533.
SEA_LEVEL = 1.225


@pytest.mark.parametrize("transfer_units", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("thinner", [1.0, 0.9, 0.8, 0.7])
def test_heat_is_that_of_the_effectiveness_method_to_a_few_percent(transfer_units, thinner):
    # Q = e C dT, e = 1 - exp(-NTU) with the air's as the lesser capacity flow, C ~ density and
    # U A ~ density^0.6 (finned core). Kays and London; Incropera and DeWitt, both from memory.
    cooler = Cooler.from_conductance(800.0)
    after = transfer_units * thinner ** (0.6 - 1.0)
    exact = thinner * np.expm1(-after) / np.expm1(-transfer_units)
    assert air_share(cooler, thinner * SEA_LEVEL) == pytest.approx(exact, rel=0.04)


def test_cooler_in_its_own_air_is_the_cooler():
    cooler = Cooler.from_conductance(800.0).replace(air_density=1.1)
    assert in_air(cooler, 1.1).heat_at(30.0) == pytest.approx(24e3)
    assert in_air(in_air(cooler, 0.9), 1.1).heat_at(30.0) == pytest.approx(24e3)
    assert in_air(cooler, 0.9).proportional
