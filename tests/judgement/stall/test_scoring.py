"""Shares of the findings against likelihoods worked out by hand, and the draws behind them."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import chi2, norm

from converter_match.components.reading import StallReading
from converter_match.judgement.stall.diagnosis import diagnose
from converter_match.judgement.stall.draws import (
    COUNT,
    NUISANCES,
    log_likelihoods,
    log_mean,
    normal_draws,
    uniform_draws,
    weighted_quantiles,
)
from converter_match.judgement.stall.hypotheses import (
    AERATED_CAPACITY,
    ENGINE_LOSS,
    WEIGHTS,
    free_capacity_factor,
)
from converter_match.judgement.stall.inversion import invert, together
from converter_match.judgement.stall.setup import Tolerances
from converter_match.physics.stall.settling import settling_speed
from tests.examples import RPM, converter
from tests.judgement.stall.test_stall import setup, shown

# Nothing is left open but the reading itself: then likelihoods have closed forms.
SURE = Tolerances(
    engine_torque=1e-9,
    capacity=1e-9,
    loads=1e-9,
    relief=1e-9,
    air=1e-9,
    oil_temperature=1e-9,
    governor=1e-9,
)


def share_of(diagnosis, family):
    return next(f.share for f in diagnosis.findings if f.family == family)


def any_size(given, reads, sigma):
    """Mean density of readings over diameters 2 to 10 % smaller or larger; C goes with D^5."""
    off = np.linspace(0.02, 0.10, 2001)
    sizes = np.concatenate([1 - off[::-1], 1 + off])
    speeds = settling_speed(given.supply(), given.capacity() * sizes**5)
    return np.mean(np.prod([norm.pdf(read, speeds, sigma) for read in reads], axis=0))


def at(speed, **fields):
    return StallReading(engine_speed=speed, brakes="held", **fields)


# --- likelihoods ----------------------------------------------------------------------------------


@pytest.mark.parametrize("offset", [0.0, -15.0, 20.0])
def test_share_is_weight_times_the_normal_density_of_the_reading(offset):
    given = setup(tolerances=SURE)
    other = converter(id="other", capacity=1.1 * converter().capacity)
    healthy = float(settling_speed(given.supply(), given.capacity()))
    swapped = float(settling_speed(given.supply(), 1.1 * given.capacity()))
    read = healthy + offset * RPM
    diagnosis = diagnose(given, [at(read)], [other])
    # 95 of 100 readings are within 20 rpm: sigma = 20 / 1.96. Half of the weight of another
    # converter is that of the one on the shelf, half that of any other size.
    sigma = 20.0 * RPM / 1.96
    shelf = norm.pdf(read, swapped, sigma)
    wrong = 0.5 * WEIGHTS["wrong-converter"] * (shelf + any_size(given, [read], sigma))
    odds = WEIGHTS["nothing-to-see"] * norm.pdf(read, healthy, sigma) / wrong
    shares = share_of(diagnosis, "nothing-to-see"), share_of(diagnosis, "wrong-converter")
    # 1.96 is printed with three digits; a mean of 2048 even draws is good to a few percent.
    assert math.log(shares[0] / shares[1]) == pytest.approx(math.log(odds), abs=0.06)


@pytest.mark.parametrize("lost", [0.06, 0.15, 0.4])
def test_finding_with_an_unknown_counts_by_the_mean_over_all_it_allows(lost):
    given = setup(tolerances=SURE)
    supply, sigma = given.supply(), 20.0 * RPM / 1.96
    healthy = float(settling_speed(supply, given.capacity()))
    reading = shown(given, 1.0 - lost)
    diagnosis = diagnose(given, [reading])
    # Engine down: f even up to a loss of half, one in fifty beyond. With f(w) = (C w^2 + L) / T,
    # the mean of the normal density over f is an integral over speed.
    w = np.linspace(700 * RPM, healthy, 200_001)
    w = w[w >= supply.domain[0]]
    f = (given.capacity() * w * w + supply.load_torque(w)) / supply.source(w)
    allowed = 0.98 * ((1 - ENGINE_LOSS[1] <= f) & (f <= 1 - ENGINE_LOSS[0]))
    density = norm.pdf(reading.engine_speed, w, sigma) * np.gradient(f, w) * allowed
    down = np.trapezoid(density, w) / (ENGINE_LOSS[1] - ENGINE_LOSS[0])
    sound = norm.pdf(reading.engine_speed, healthy, sigma)
    odds = WEIGHTS["engine-down"] * down / (WEIGHTS["nothing-to-see"] * sound)
    shares = share_of(diagnosis, "engine-down"), share_of(diagnosis, "nothing-to-see")
    # A mean of 2048 even draws: good to a few percent.
    assert math.log(shares[0] / shares[1]) == pytest.approx(math.log(odds), abs=0.06)


def test_aerated_oil_is_scored_over_its_own_range_of_capacity():
    given = setup(tolerances=SURE)
    supply, sigma = given.supply(), 20.0 * RPM / 1.96
    reading = shown(given, g=0.8, gear="1")
    diagnosis = diagnose(given, [reading])
    w = np.linspace(1500 * RPM, 2370 * RPM, 200_001)
    g = (supply.source(w) - supply.load_torque(w)) / (given.capacity() * w * w)
    allowed = (AERATED_CAPACITY[0] <= g) & (g <= AERATED_CAPACITY[1])
    density = norm.pdf(reading.engine_speed, w, sigma) * np.abs(np.gradient(g, w)) * allowed
    aerated = np.trapezoid(density, w) / (AERATED_CAPACITY[1] - AERATED_CAPACITY[0])
    best = next(f for f in diagnosis.findings if f.code == "oil-low-or-aerated")
    assert best.log_likelihood == pytest.approx(math.log(aerated), abs=0.06)
    middle, low, high = best.unknown
    # Closed form: g is read with the error of the speed, dg/dw sigma.
    half = 1.645 * sigma * abs(np.interp(reading.engine_speed, w, np.gradient(g, w)))
    assert middle == pytest.approx(0.8, abs=0.1 * half)
    assert (low, high) == pytest.approx((0.8 - half, 0.8 + half), abs=0.2 * half)


@pytest.mark.parametrize("turning", [0.1, 0.3, 0.45])
@pytest.mark.parametrize(
    ("family", "slowest", "fastest"), [("brakes-give-way", 0.03, 0.5), ("clutch-slips", 0.03, 0.97)]
)
def test_turning_turbine_is_scored_by_the_capacity_at_every_speed_ratio_it_may_have(
    turning, family, slowest, fastest
):
    # Speed ratio even between its ends; at each the engine settles where its torque is C(nu) w^2.
    # Nothing else is left open, so that the likelihood is the mean of the normal density.
    given = setup(tolerances=SURE)
    supply, sigma = given.supply(), 20.0 * RPM / 1.96

    def settles(nu):
        taken = float(given.converter.capacity_at(nu))
        return brentq(
            lambda w: float(supply.torque(np.asarray(w))) - taken * w**2, 1200 * RPM, 2379 * RPM
        )

    # Solved at every hundredth or so; in between a straight line is good to a tenth of a rpm.
    known = np.linspace(slowest, fastest, 101)
    nu = np.linspace(slowest, fastest, 4001)
    density = norm.pdf(settles(turning), np.interp(nu, known, [settles(k) for k in known]), sigma)
    reading = StallReading(engine_speed=settles(turning), gear="1")
    found = next(f for f in diagnose(given, [reading]).findings if f.family == family)
    # 1.96 is printed with three digits, and the mean is of even draws: good to a percent or two.
    assert found.log_likelihood == pytest.approx(math.log(np.mean(density)), abs=0.03)
    share = np.cumsum(density) / np.sum(density)
    assert found.unknown == pytest.approx(np.interp([0.5, 0.05, 0.95], share, nu), abs=0.01)


@pytest.mark.slow
def test_two_holds_of_one_test_count_as_a_product():
    given = setup(tolerances=SURE)
    other = converter(id="other", capacity=1.03 * converter().capacity)
    healthy = float(settling_speed(given.supply(), given.capacity()))
    reads = [healthy - 5 * RPM, healthy - 12 * RPM]
    both = diagnose(given, [at(w) for w in reads], [other])
    each = [diagnose(given, [at(w)], [other]) for w in reads]
    prior = math.log(WEIGHTS["nothing-to-see"] / (0.5 * WEIGHTS["wrong-converter"]))

    def odds(diagnosis):
        wrong = next(f for f in diagnosis.findings if f.family == "wrong-converter")
        shelf = dict(wrong.entries)["other"]
        return math.log(share_of(diagnosis, "nothing-to-see") / shelf) - prior

    assert odds(both) == pytest.approx(sum(odds(one) for one in each), rel=1e-6)


@pytest.mark.slow
def test_weights_of_the_same_fault_are_shared_among_what_it_may_concern():
    given = setup()
    readings = [shown(given, gear="1"), shown(given, gear="2"), shown(given, gear="R")]
    library = [
        converter(id=name, capacity=k * converter().capacity) for name, k in (("a", 2), ("b", 3))
    ]
    diagnosis = diagnose(given, readings, library)
    slipping = [f for f in diagnosis.findings if f.family == "clutch-slips"]
    # All, each of three gears, forward; not reverse, which has a single gear to show it.
    assert {f.code.partition(":")[2] for f in slipping} == {
        "all", "gear 1", "gear 2", "gear R", "forward"
    }  # fmt: skip
    assert sum(f.weight for f in slipping) == pytest.approx(WEIGHTS["clutch-slips"])
    wrong = next(f for f in diagnosis.findings if f.family == "wrong-converter")
    assert wrong.weight == pytest.approx(WEIGHTS["wrong-converter"])


def test_brakes_are_only_suspected_where_nobody_noted_them():
    given = setup()
    for brakes, suspected in (("not-stated", True), ("held", False)):
        reading = StallReading(engine_speed=1900 * RPM, gear="1", brakes=brakes)
        families = {f.family for f in diagnose(given, [reading]).findings}
        assert ("brakes-give-way" in families) is suspected
    neutral = StallReading(engine_speed=2240 * RPM, test="hydraulic")
    families = {f.family for f in diagnose(given, [neutral]).findings}
    # In neutral only the engine can be told from the tachometer: nothing else is asked.
    assert families == {"nothing-to-see", "engine-down", "load-stuck-on", "tachometer-off"}


def test_freewheeling_stator_lies_between_its_estimates():
    given = setup()
    mean, sigma, _ = free_capacity_factor(given)
    # Coupling range extrapolated to stall by sqrt(1 - nu^2) (1 - 0.3 nu), rows from the coupling
    # point 0.86 to 0.92; and a third lower on a flat torque curve.
    c = given.converter.characteristic
    rows = (c.speed_ratio >= 0.86) & (c.speed_ratio <= 0.92)
    law = np.sqrt(1 - c.speed_ratio**2) * (1 - 0.3 * c.speed_ratio)
    at_stall = (c.capacity / law)[rows] / c.capacity[0]
    estimates = np.log([1 / 0.67**2, at_stall.min(), at_stall.max()])
    assert mean == pytest.approx(np.mean(estimates))
    assert sigma == pytest.approx(max(np.std(estimates), 0.12))
    assert free_capacity_factor(setup(converter=converter(stator="fixed"))) is None


# --- one pair of factors --------------------------------------------------------------------------


def test_largest_misfit_is_that_of_the_chi_square_table():
    given = setup()
    readings = [shown(given, gear="2"), shown(given, test="hydraulic"),
                shown(given, gear="2", test="both"), shown(given, gear="2")]  # fmt: skip
    # Any handbook table of chi-square, upper one percent: 6.635 with one degree of freedom, 9.210
    # with two. Two readings leave none to spare.
    assert together(given, readings[:3]).largest == pytest.approx(6.635, abs=5e-4)
    assert together(given, readings).largest == pytest.approx(9.210, abs=5e-4)
    assert together(given, readings[:2]).largest is None
    assert chi2.isf(0.01, 1) == pytest.approx(6.635, abs=5e-4)


def test_interval_of_a_road_reading_goes_with_the_speed_ratio():
    # By hand: with nothing open but the tachometer, g = (T - L) / (C(w_t / w) w^2) at the
    # two speeds within which the true one lies. The turbine's speed is known.
    given = setup(tolerances=SURE)
    turbine = 1700 * RPM
    road = StallReading(engine_speed=1950 * RPM, turbine_speed=turbine, test="road")
    supply = given.supply(road)
    density = given.capacity(road) / float(given.converter.capacity_at(turbine / road.engine_speed))

    def factor(speed):
        taken = density * float(given.converter.capacity_at(turbine / speed)) * speed**2
        return float(supply.torque(np.asarray(speed))) / taken

    by_hand = sorted(factor(road.engine_speed + sign * 20.0 * RPM) for sign in (-1, 1))
    found = invert(given, road).capacity_factor
    assert found[0] == pytest.approx(factor(road.engine_speed), rel=1e-6)
    assert found[1:] == pytest.approx(by_hand, rel=2e-3)


def test_readings_on_the_road_and_of_one_kind_separate_nothing():
    given = setup()
    road = StallReading(engine_speed=2200 * RPM, turbine_speed=2090 * RPM, test="road")
    one = shown(given, gear="2")
    assert together(given, [one, one, road]) is None
    assert together(given, [one, shown(given, test="hydraulic"), road]) is not None


# --- the draws ------------------------------------------------------------------------------------


def test_draws_are_even_normal_and_the_same_each_time():
    even, normal = uniform_draws(), normal_draws()
    assert even.shape == (NUISANCES + 1, COUNT)
    # Moments of the even and the normal distribution; a Sobol sequence is even to about 1 / n.
    assert even.mean(axis=1) == pytest.approx([0.5] * 8, abs=1e-3)
    assert even.var(axis=1) == pytest.approx([1 / 12] * 8, abs=1e-3)
    assert normal.mean(axis=1) == pytest.approx([0.0] * 7, abs=5e-3)
    assert normal.var(axis=1) == pytest.approx([1.0] * 7, abs=2e-2)
    assert np.abs(np.corrcoef(normal) - np.eye(7)).max() < 0.02
    uniform_draws.cache_clear()
    assert np.array_equal(even, uniform_draws())


def test_likelihood_of_readings_is_the_product_of_their_densities():
    read, predicted = np.array([100.0, 200.0]), np.array([[101.0, 104.0], [199.0, 207.0]])
    logs = log_likelihoods(read, predicted, 2.0)
    by_hand = norm.logpdf(read[:, np.newaxis], predicted, 2.0).sum(axis=0)
    assert logs == pytest.approx(by_hand)
    assert log_mean(logs) == pytest.approx(math.log(np.exp(by_hand).mean()))
    assert log_mean(logs - 5000.0) == pytest.approx(log_mean(logs) - 5000.0)
    assert log_mean(np.array([-np.inf, -np.inf])) == -np.inf


def test_weighted_quantiles_are_those_of_the_weighted_values():
    values = np.array([3.0, 1.0, 2.0, 4.0])
    even = np.zeros(4)
    assert weighted_quantiles(values, even, np.array([0.5]))[0] == pytest.approx(2.5)
    # All of the weight on one value.
    heavy = np.log(np.array([1e-12, 1e-12, 1.0, 1e-12]))
    assert weighted_quantiles(values, heavy, np.array([0.5]))[0] == pytest.approx(2.0)
    # A normal weight over an even grid: median and 5 %, 95 % of the normal distribution.
    grid = np.linspace(-6, 6, 4001)
    quantiles = weighted_quantiles(grid, -0.5 * (grid - 1.0) ** 2, np.array([0.05, 0.5, 0.95]))
    assert quantiles == pytest.approx([1 - 1.645, 1.0, 1 + 1.645], abs=2e-3)
