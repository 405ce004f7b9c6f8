import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.components.engine import Accessory
from converter_match.curves import Curve
from converter_match.errors import InputError
from converter_match.physics.engine.supply import PowerLaw, TorqueSupply, engine_supply
from tests.examples import RPM, engine

LOW, HIGH = 800 * RPM, 2380 * RPM


@st.composite
def accessory_lists(draw):
    exponents = st.one_of(st.sampled_from([0, 1, 2, 3, 4, 5]), st.floats(0.0, 5.0))
    return tuple(
        Accessory(
            name=f"load {i}",
            power=draw(st.floats(0.0, 2e4)),
            at_speed=draw(st.floats(1500, 2500)) * RPM,
            exponent=float(draw(exponents)),
        )
        for i in range(draw(st.integers(0, 4)))
    )


@st.composite
def load_tables(draw):
    tables = []
    for _ in range(draw(st.integers(0, 2))):
        inner = draw(st.lists(st.floats(0.4, 2.9), min_size=1, max_size=5, unique=True))
        x = np.unique(np.concatenate([[0.3], np.round(inner, 2), [3.0]])) * 1000 * RPM
        tenths = draw(st.lists(st.integers(0, 1500), min_size=x.size, max_size=x.size))
        tables.append(Curve(x, np.array(tenths) / 10, name="pump", x_name="speed"))
    return tuple(tables)


def term_by_term(made, omega, factor=1.0, hydraulic=0.0, tables=()):
    """Net torque written out as the definition says, one term after the other."""
    total = factor * made.full_load(omega) - hydraulic
    for item in made.accessories:
        power = item.power * (omega / item.at_speed) ** item.exponent
        total = total - power / omega
    for table in tables:
        total = total - table(omega)
    return total


@given(accessory_lists(), load_tables(), st.floats(0.5, 1.2), st.floats(0, 400))
def test_merged_cubics_are_the_sum_of_the_terms(accessories, tables, factor, hydraulic):
    made = engine(accessories=accessories)
    supply = engine_supply(made, torque_factor=factor, hydraulic_torque=hydraulic, tables=tables)
    omega = np.linspace(LOW, HIGH, 500)
    expected = term_by_term(made, omega, factor, hydraulic, tables)
    # Torques of order 1000 N.m, so 1e-9 N.m is rounding.
    np.testing.assert_allclose(supply.torque(omega), expected, rtol=0, atol=1e-9)
    np.testing.assert_allclose(supply.with_slope(omega)[0], expected, rtol=0, atol=1e-9)


@given(accessory_lists(), load_tables())
def test_slope_is_the_derivative(accessories, tables):
    supply = engine_supply(engine(accessories=accessories), tables=tables)
    edges = supply.knots
    omega = 0.5 * (edges[1:] + edges[:-1])
    step = 1e-4 * np.diff(edges)
    numeric = (supply.torque(omega + step) - supply.torque(omega - step)) / (2 * step)
    # Rounding of a torque of 1000 N.m, about 2e-13, over the step.
    atol = 1e-6 + 4e-13 / step.min()
    np.testing.assert_allclose(supply.with_slope(omega)[1], numeric, rtol=1e-5, atol=atol)


@pytest.mark.parametrize(("exponent", "apart"), [(1, 0), (2, 0), (3, 0), (4, 0), (0, 1), (2.5, 1)])
def test_only_laws_that_are_no_cubics_are_kept_apart(exponent, apart):
    accessory = Accessory(name="a", power=1e4, at_speed=200.0, exponent=exponent)
    supply = engine_supply(engine(accessories=(accessory,)))
    assert len(supply.other_laws) == apart


def test_power_law_of_an_accessory_takes_its_power_at_its_speed():
    law = PowerLaw.of(Accessory(name="fan", power=11e3, at_speed=220.0, exponent=3))
    assert law(np.array(220.0)) == pytest.approx(11e3 / 220.0)
    # Affinity law: power with the cube of speed, so an eighth at half speed.
    assert law(np.array(110.0)) * 110.0 == pytest.approx(11e3 / 8)
    step = 1e-4
    numeric = (law(np.array(150 + step)) - law(np.array(150 - step))) / (2 * step)
    assert law.slope(np.array(150.0)) == pytest.approx(numeric, rel=1e-8)


def test_factor_multiplies_the_engine_and_not_the_loads():
    made = engine()
    omega = np.linspace(LOW, HIGH, 50)
    full = engine_supply(made, hydraulic_torque=100.0)
    thin = engine_supply(made, hydraulic_torque=100.0, torque_factor=0.8)
    lost = full.torque(omega) - thin.torque(omega)
    np.testing.assert_allclose(lost, 0.2 * made.full_load(omega), atol=1e-9)


def test_net_torque_broadcasts_over_factors():
    supply = engine_supply(engine())
    omega, factor = np.linspace(LOW, HIGH, 7), np.array([[0.8], [1.0]])
    both = supply.net_torque(omega, factor)
    assert both.shape == (2, 7)
    np.testing.assert_array_equal(both[1], supply.torque(omega))


def test_torque_is_exactly_zero_at_high_idle_and_exact_at_the_rows():
    # A rounding error there would lose the match of a converter that absorbs nothing at nu = 1.
    made = engine(accessories=())
    assert engine_supply(made).torque(made.high_idle) == 0.0
    np.testing.assert_array_equal(engine_supply(made).torque(made.speed), made.torque)


@pytest.mark.parametrize("shape", [(), (0,), (4,), (2, 3)])
def test_shape_is_kept(shape):
    supply = engine_supply(engine())
    omega = np.full(shape, 150.0)
    assert supply.torque(omega).shape == shape
    assert all(part.shape == shape for part in supply.with_slope(omega))


def test_domain_is_what_all_terms_have_in_common():
    assert engine_supply(engine()).domain == (LOW, HIGH)
    assert engine_supply(engine(low_idle=700 * RPM)).domain == (LOW, HIGH)
    assert engine_supply(engine(low_idle=900 * RPM)).domain == (900 * RPM, HIGH)
    short = Curve([1000 * RPM, 2000 * RPM], [10, 20])
    assert engine_supply(engine(), tables=[short]).domain == (1000 * RPM, 2000 * RPM)
    with pytest.raises(InputError, match="no speed in common"):
        engine_supply(engine(), tables=[Curve([2500 * RPM, 2600 * RPM], [10, 20])])


@pytest.mark.parametrize("omega", [799 * RPM, 2381 * RPM, np.nan, [150.0, 1000.0]], ids=str)
def test_nothing_is_extrapolated(omega):
    supply = engine_supply(engine())
    for ask in (supply.torque, supply.with_slope):
        with pytest.raises(InputError, match="engine speed: the engine torque is not known there"):
            ask(omega)


def test_another_source_replaces_the_full_load_curve():
    flat = Curve([LOW, HIGH], [500.0, 500.0])
    supply = engine_supply(engine(accessories=()), source=flat, hydraulic_torque=50.0)
    np.testing.assert_allclose(supply.torque([LOW, 150.0, HIGH]), 450.0)


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"torque_factor": 0.0}, "torque_factor: out of range; found 0"),
        ({"torque_factor": np.nan}, "torque_factor: out of range"),
        ({"hydraulic_torque": -1.0}, "hydraulic_torque: out of range; found -1"),
        ({"hydraulic_torque": np.inf}, "hydraulic_torque: out of range"),
    ],
)
def test_bad_factors_are_refused(fields, message):
    with pytest.raises(InputError, match=message):
        engine_supply(engine(), **fields)


def test_knots_hold_every_row_inside_the_domain_once():
    table = Curve(np.array([500, 1000, 1500, 3000]) * RPM, [1, 2, 3, 4])
    supply = TorqueSupply(source=engine().full_load, tables=(table,), low=900 * RPM)
    expected = np.array([900, 1000, 1200, 1400, 1500, 1600, 1800, 2000, 2200, 2380]) * RPM
    np.testing.assert_allclose(supply.knots, expected, rtol=1e-14)
