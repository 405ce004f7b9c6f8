"""An engine file: every number of it arrives, and in SI; by hand from the text of the file."""

import numpy as np
import pytest

from converter_match.library.read import read_engine
from converter_match.library.shipped import find

RPM = np.pi / 30


@pytest.fixture(scope="module")
def engine():
    return read_engine(find("engines", "six-cylinder-7l-185kw"))


def test_head_and_full_load_arrive(engine):
    assert engine.displacement == pytest.approx(7e-3)
    speeds = (engine.low_idle, engine.rated_speed, engine.high_idle)
    assert speeds == pytest.approx((800 * RPM, 2200 * RPM, 2380 * RPM))
    assert (engine.rating_basis, engine.governing) == ("gross", "speed")
    assert engine.aspiration == "turbocharged-aftercooled"
    assert (engine.speed[0], engine.speed[-1]) == pytest.approx((800 * RPM, 2200 * RPM))
    assert (engine.torque[0], engine.torque[-1]) == (602.0, 803.0)
    air = engine.reference_air
    assert (air.pressure, air.temperature) == pytest.approx((99e3, 298.15))


def test_fuel_arrives_with_its_idle_rate_heating_value_and_density(engine):
    fuel = engine.fuel
    assert fuel.idle_rate == pytest.approx(1.16 / 3600)
    assert fuel.lower_heating_value == pytest.approx(42.7e6)
    assert fuel.density == 835.0
    table = fuel.specific
    assert (table.speed[1], table.value[1]) == pytest.approx((1000 * RPM, 206e-3 / 3.6e6))
    assert table.value.size == 8


def test_accessories_motoring_and_inertia_arrive(engine):
    fan, *others = engine.accessories
    assert (fan.name, fan.power, fan.exponent) == ("cooling fan", pytest.approx(11e3), 3)
    assert fan.at_speed == pytest.approx(2200 * RPM)
    assert [item.power for item in others] == pytest.approx([1.5e3, 5e3, 4e3])
    assert (engine.motoring.speed[-1], engine.motoring.value[-1]) == pytest.approx(
        (2600 * RPM, 140.0)
    )
    assert engine.inertia == 1.45


def test_site_correction_arrives(engine):
    assert engine.site_correction.method == "diesel-iso-1585"
    assert engine.site_correction.engine_factor == 0.43
