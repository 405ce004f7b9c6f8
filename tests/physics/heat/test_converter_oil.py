"""Oil in the converter beside the bulk: two volumes and the flow between them."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from converter_match.components.cooling import Oil
from converter_match.errors import InputError
from converter_match.physics.heat.converter_oil import ConverterOil
from tests.examples import converter

# J/(m^3 K) of mineral oil: 870 kg/m^3 and 2060 J/(kg K).
PER_VOLUME = 870.0 * 2060.0
LITRE, MINUTE = 1e-3, 60.0


def two(inside=6.0, all_oil=42.0, flow=100.0):
    """Return the volumes of a machine: litres in the converter and in all, litres a minute."""
    oil = Oil(volume=all_oil * LITRE)
    return ConverterOil.of(oil, converter(), flow=flow * LITRE / MINUTE, inside=inside * LITRE)


def integrated(inside, all_oil, flow, heats, times, start, *, cooler=0.0, air=298.15, gears=0.0):
    """Return T_c and T_r [K] at the ends of the steps, by a general integrator."""
    c, r = PER_VOLUME * inside * LITRE, PER_VOLUME * (all_oil - inside) * LITRE
    k = PER_VOLUME * flow * LITRE / MINUTE
    state, found = np.array(start, dtype=float), [list(start)]
    for heat, time in zip(heats, times, strict=True):

        def slope(_, y, heat=heat):
            mean = (c * y[0] + r * y[1]) / (c + r)
            over = k * (y[0] - y[1])
            return [(heat - over) / c, (over + gears - cooler * (mean - air)) / r]

        run = solve_ivp(slope, (0.0, time), state, rtol=1e-10, atol=1e-9)
        state = run.y[:, -1]
        found.append(list(state))
    return np.array(found)


@pytest.mark.parametrize(
    ("inside", "all_oil", "flow", "heat"),
    [(6.0, 42.0, 100.0, 174e3), (3.0, 14.0, 40.0, 38e3), (20.0, 160.0, 500.0, 395e3),
     (5.0, 8.0, 90.0, 120e3)],
)  # fmt: skip
def test_hold_agrees_with_two_volumes_integrated(inside, all_oil, flow, heat):
    oil = two(inside, all_oil, flow)
    for time in (0.5, 3.0, 9.0, 30.0):
        run = integrated(inside, all_oil, flow, [heat], [time], [366.15, 366.15])
        assert oil.after(heat, 366.15, time) == pytest.approx(run[-1, 0], abs=1e-4)


@pytest.mark.parametrize("flow", [5.0, 60.0, 110.0, 600.0])
@pytest.mark.parametrize("all_oil", [8.0, 42.0, 4200.0])
def test_time_to_a_limit_is_when_the_integrated_outlet_is_there(flow, all_oil):
    oil, heat, start, limit = two(6.0, all_oil, flow), 174e3, 366.15, 422.15
    time = oil.time_to(heat, start, limit)
    run = integrated(6.0, all_oil, flow, [heat], [time], [start, start])
    assert run[-1, 0] == pytest.approx(limit, abs=1e-3)


def test_rest_that_stays_as_it_is_has_the_exponential_of_one_volume():
    # Infinite sump: T_c = T_0 + Q/K (1 - e^(-K t / C_c)); at its end Q/K, or never.
    oil = ConverterOil.of(Oil(), converter(), flow=100 * LITRE / MINUTE, inside=6 * LITRE)
    k, c, heat = PER_VOLUME * 100 * LITRE / MINUTE, PER_VOLUME * 6 * LITRE, 150e3
    by_hand = 366.15 + heat / k * -math.expm1(-k * 4.0 / c)
    assert oil.after(heat, 366.15, 4.0) == pytest.approx(by_hand, abs=1e-9)
    assert oil.time_to(heat, 366.15, by_hand) == pytest.approx(4.0)
    assert oil.time_to(heat, 366.15, 366.15 + 1.01 * heat / k) is None


def test_without_a_volume_the_outlet_is_there_at_once():
    oil = ConverterOil.of(Oil(volume=0.042), converter(), flow=100 * LITRE / MINUTE)
    rise = 150e3 / (PER_VOLUME * 100 * LITRE / MINUTE)
    assert oil.after(150e3, 360.0, 1e-6) == pytest.approx(360.0 + rise, abs=1e-3)
    assert oil.time_to(150e3, 360.0, 360.0 + 0.9 * rise) == 0.0
    later = oil.time_to(150e3, 360.0, 365.0 + rise)
    assert later == pytest.approx(5.0 * PER_VOLUME * 0.042 / 150e3)


def test_steps_with_cooler_and_gearbox_heat_agree_with_the_integrator():
    # The mean by the integrator goes in; only the difference is ours.
    rng = np.random.default_rng(7)
    heats, times = rng.uniform(0.0, 200e3, 40), rng.uniform(0.2, 6.0, 40)
    kept = {"cooler": 900.0, "gears": 7e3}
    run = integrated(6.0, 42.0, 100.0, heats, times, [360.0, 350.0], **kept)
    c, r = 6.0, 36.0
    mean = (c * run[:, 0] + r * run[:, 1]) / (c + r)
    oil = two()
    found = oil.outlet(mean, oil.differences(mean, heats, times, start=10.0))
    # Over a step the cooler takes what goes with the mean, here by a straight line: 0.1 K.
    assert found == pytest.approx(run[:, 0], abs=0.1)


def test_steady_rise_is_heat_over_the_capacity_of_the_flow():
    # By hand: 100 L/min of 870 kg/m3 is 1.45 kg/s; 60 kW raise it by 60e3 / (1.45 x 2060) = 20.1 K.
    oil = two()
    assert float(oil.steady_rise(60e3)) == pytest.approx(60e3 / (1.45 * 2060.0))
    mean = np.full(201, 370.0)
    heats, times = np.full(200, 60e3), np.full(200, 1.0)
    # Where the bulk stays, cooler and gears take and give what they like: Q_c / K is left.
    assert oil.differences(mean, heats, times)[-1] == pytest.approx(20.086, abs=0.01)


def test_lap_that_is_driven_again_begins_with_the_difference_it_ends_with():
    oil = two(flow=10.0)
    mean = np.full(4, 370.0)
    heats, times = np.array([90e3, 0.0, 30e3]), np.array([3.0, 2.0, 4.0])
    lap = oil.differences(mean, heats, times, again=True)
    assert lap[0] == pytest.approx(lap[-1], abs=1e-9)
    driven = np.concatenate([np.tile(heats, 90)]), np.tile(times, 90)
    many = oil.differences(np.full(271, 370.0), *driven)
    assert many[-4:] == pytest.approx(lap, abs=1e-6)


def test_draws_stand_side_by_side_and_a_step_of_no_time_changes_nothing():
    oil = two()
    mean = np.full((3, 2), 370.0)
    heats, times = np.array([[60e3, 0.0], [90e3, 90e3]]), np.array([[2.0, 2.0], [0.0, 0.0]])
    found = oil.differences(mean, heats, times, start=np.array([0.0, 5.0]))
    assert found.shape == (3, 2)
    assert (found[1] == found[2]).all()
    assert found[1, 1] < 5.0 < 20.0 > found[1, 0] > 0.0


def test_converter_that_holds_all_the_oil_is_refused():
    full = converter().replace(oil_volume=0.012)
    with pytest.raises(InputError, match="as much oil as the machine has") as caught:
        ConverterOil.of(Oil(volume=0.012), full, flow=1e-3)
    assert caught.value.field == "oil_volume"
