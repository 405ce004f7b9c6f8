"""Stall speeds and their inversion."""

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.library.read import read_converter
from converter_match.library.shipped import shipped
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.stall.settling import (
    ReadingCondition,
    capacity_factor_for,
    coupling_law,
    density_factor,
    elasticity,
    freewheeling_capacity,
    separate,
    settling_speed,
    torque_factor_for,
)
from tests.examples import RPM, converter, engine, hole_engine

C0 = float(converter().capacity_at(0.0))


@pytest.mark.parametrize("hydraulic", [0.0, 120.0])
def test_inversion_gives_back_the_torque_that_made_the_reading(hydraulic):
    supply = engine_supply(engine(), hydraulic_torque=hydraulic)
    planted = np.linspace(0.6, 1.1, 26)
    read = settling_speed(supply, C0, planted)
    assert torque_factor_for(supply, C0, read) == pytest.approx(planted, rel=1e-12)


def test_inversion_gives_back_the_capacity_that_made_the_reading():
    supply = engine_supply(engine(), torque_factor=0.93, hydraulic_torque=60.0)
    planted = np.linspace(0.7, 1.6, 26)
    read = settling_speed(supply, C0 * planted)
    assert capacity_factor_for(supply, C0, read) == pytest.approx(planted, rel=1e-12)


def test_every_pair_on_the_curve_of_explanations_makes_the_same_reading():
    supply = engine_supply(engine(), hydraulic_torque=60.0)
    read = float(settling_speed(supply, C0, 0.9))
    g = np.linspace(0.8, 1.3, 11)
    f = torque_factor_for(supply, C0, read, g)
    assert settling_speed(supply, C0 * g, f) == pytest.approx(read, rel=1e-12)


def test_elasticity_predicts_what_a_little_less_torque_does():
    # d / (2 - e) for a relative change d of the net torque: section on the match in any hand
    # calculation; second order in d, so 1 % of torque leaves about 1e-4.
    supply = engine_supply(engine(accessories=()))
    stall = float(settling_speed(supply, C0))
    less = float(settling_speed(supply, C0, 0.99))
    assert less / stall - 1 == pytest.approx(
        -0.01 / (2 - float(elasticity(supply, stall))), abs=1e-4
    )


def test_combined_tests_without_noise_give_both_factors_exactly():
    plain = engine_supply(engine())
    relief = engine_supply(engine(), hydraulic_torque=300.0)
    f, g = 0.88, 1.07
    conditions = (
        ReadingCondition(plain, C0, float(settling_speed(plain, C0 * g, f)), 1.0),
        ReadingCondition(
            relief, C0, float(settling_speed(relief, C0 * g, f, from_high_idle=True)), 1.0
        ),
    )
    found = separate(conditions)
    assert (found.torque_factor, found.capacity_factor) == pytest.approx((f, g), rel=1e-9)
    assert found.surplus == 0


def test_separation_has_the_errors_it_states():
    plain = engine_supply(engine())
    relief = engine_supply(engine(), hydraulic_torque=300.0)
    sigma, f, g = 3.0 * RPM, 0.88, 1.07
    speeds = [
        float(settling_speed(plain, C0 * g, f)),
        float(settling_speed(relief, C0 * g, f, from_high_idle=True)),
    ]
    rng = np.random.default_rng(11)
    off = []
    for _ in range(400):
        noisy = [
            ReadingCondition(s, C0, w + sigma * rng.standard_normal(), sigma)
            for s, w in zip((plain, relief), speeds, strict=True)
        ]
        found = separate(tuple(noisy))
        off.append(((found.torque_factor - f) / found.torque_sigma,
                    (found.capacity_factor - g) / found.capacity_sigma))  # fmt: skip
    # 400 draws: the standard deviation of a standard normal is known to about 3.5 %.
    assert np.std(off, axis=0) == pytest.approx([1.0, 1.0], abs=0.12)


def test_one_kind_of_reading_cannot_be_separated():
    supply = engine_supply(engine())
    read = float(settling_speed(supply, C0))
    assert separate((ReadingCondition(supply, C0, read, 1.0),) * 2) is None
    assert separate((ReadingCondition(supply, C0, read, 1.0),)) is None


def test_reading_at_high_idle_says_nothing_and_is_refused():
    supply = engine_supply(engine())
    with pytest.raises(InputError, match="governor leaves no torque"):
        torque_factor_for(supply, C0, supply.domain[1])
    with pytest.raises(InputError, match="nothing is extrapolated"):
        torque_factor_for(supply, C0, 1.2 * supply.domain[1])


def test_an_engine_that_cannot_leave_idle_is_said_to_hang_there():
    supply = engine_supply(engine())
    assert float(settling_speed(supply, 50 * C0)) == supply.domain[0]


def test_neutral_and_stall_can_be_asked_for_together():
    supply = engine_supply(engine())
    together = settling_speed(supply, [C0, 0.0, C0], [0.9, 1.0, 1.0])
    alone = [float(settling_speed(supply, c, f)) for c, f in ((C0, 0.9), (0.0, 1.0), (C0, 1.0))]
    assert together.tolist() == pytest.approx(alone, rel=1e-12)


def test_coming_up_and_coming_down_differ_where_there_are_three_intersections():
    # A torque hole: c_e rises again above it.
    supply = engine_supply(hole_engine())
    between = [float(supply.torque(n * RPM)) / (n * RPM) ** 2 for n in (1100, 1350)]
    capacity = 0.5 * sum(between)
    up = float(settling_speed(supply, capacity))
    down = float(settling_speed(supply, capacity, from_high_idle=True))
    assert down > 1.1 * up


def test_oil_density_falls_by_the_volume_expansion():
    # Expansion of mineral oil 6.5 to 7e-4 per kelvin: from memory.
    assert float(density_factor(363.15)) == 1.0
    ratio = float(density_factor(343.15)) / float(density_factor(363.15)) - 1
    assert 20 * 6.5e-4 < ratio < 20 * 7.0e-4 * 1.02


def test_coupling_law_is_the_energy_balance_of_radial_blades():
    # Head less shock losses, written out with numbers; friction takes the rest with Q^2.
    m, r2, w_p = 0.3, 1.0, 1.0
    r1 = np.sqrt(m)
    nu = np.linspace(0, 1, 50)
    w_t = nu * w_p
    head = w_p * (r2**2 * w_p - r1**2 * w_t) - w_t * (r2**2 * w_p - r1**2 * w_t)
    shock = 0.5 * (r2 * (w_p - w_t)) ** 2 + 0.5 * (r1 * (w_p - w_t)) ** 2
    flow = np.sqrt(np.maximum(head - shock, 0.0))
    torque = flow * (r2**2 * w_p - r1**2 * w_t)
    assert coupling_law(nu, m) == pytest.approx(torque / torque[0], abs=1e-7)


def test_freewheeling_estimate_meets_common_practice_of_a_third():
    # "Stall about a third lower with a freewheeling stator": common practice, no source; on a flat
    # curve K falls to 0.67. The row next to the coupling point, where losses beside shock and
    # friction weigh least, must come near it for each shipped one-way converter.
    ratios = {}
    for name, path in shipped("converters").items():
        c = read_converter(path)
        if c.stator == "one-way" and c.coupling is not None:
            near = np.array([c.coupling])
            _, most = freewheeling_capacity(c.capacity_at, near)
            ratios[name] = (float(c.capacity_at(0.0)) / most) ** 0.5
    assert len(ratios) >= 5
    assert all(abs(ratio - 0.67) < 0.06 for ratio in ratios.values()), ratios
