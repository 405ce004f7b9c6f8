"""The rules by which a log becomes a curve, each on both sides of its bound."""

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import t as student

from converter_match.physics.identify.identify import (
    Steadiness,
    Stretches,
    calm,
    find_kink,
    fit_curve,
    nodes_for,
    stretches,
)
from converter_match.physics.identify.reservoir import Reservoir

# Numbers of the binary system, so that each bound is met exactly.
RULE = Steadiness(
    length=2.0, speed_change=1 / 64, torque_change=1 / 16, torque_scatter=1 / 8, fill=0.75
)
UP, DOWN = np.inf, -np.inf


def pair(torque=512.0, **second):
    """Two stretches at 128 rad/s that are as steady as can be; the second one may be changed."""
    given = {
        "index": 1, "span": 1.25, "engine": 128.0, "turbine": 64.0, "torque": torque,
        "engine_slope": 0.0, "turbine_slope": 0.0, "torque_slope": 0.0, "scatter": 0.0,
    } | second  # fmt: skip

    def both(first, name):
        return np.array([first, given[name]])

    return Stretches(
        np.array([0, given["index"]]),
        {
            "engine speed": both(128.0, "engine"),
            "turbine speed": both(64.0, "turbine"),
            "engine torque": both(torque, "torque"),
        },
        {
            "engine speed": both(0.0, "engine_slope"),
            "turbine speed": both(0.0, "turbine_slope"),
            "engine torque": both(0.0, "torque_slope"),
        },
        {"engine torque": both(0.0, "scatter")},
        both(1.25, "span"),
    )


def steady(**second):
    return calm(pair(**second), RULE, 0.25).tolist()


# Value at the bound, and towards which side it is too much. Speeds may change by 2 rad/s, torque by
# 32 N.m, within a stretch of 2 s and from the one before.
BOUNDS = [
    ("span", 1.25, DOWN),  # and a step of 0.25: 0.75 of the stretch
    ("engine_slope", 1.0, UP),
    ("engine_slope", -1.0, DOWN),
    ("turbine_slope", 1.0, UP),
    ("turbine_slope", -1.0, DOWN),
    ("torque_slope", 16.0, UP),
    ("torque_slope", -16.0, DOWN),
    ("scatter", 64.0, UP),
    ("turbine", 66.0, UP),
    ("turbine", 62.0, DOWN),
]


@pytest.mark.parametrize(("name", "value", "side"), BOUNDS)
def test_steady_up_to_the_bound_and_not_beyond(name, value, side):
    # The first stretch has none before it.
    assert steady(**{name: value}) == [False, True]
    assert steady(**{name: float(np.nextafter(value, side))}) == [False, False]


def test_change_from_the_stretch_before_is_a_share_of_the_value_after():
    # 128 (1 - 1/64)^-1 = 130.03: from 128 up to there the change is 1/64 of where it ends.
    for sign in (1, -1):
        end = 128.0 / (1 - sign / 64)
        assert steady(engine=end - sign * 1e-9) == [False, True]
        assert steady(engine=end + sign * 1e-9) == [False, False]
        end = 512.0 / (1 - sign / 16)
        assert steady(torque=512.0) == [False, True]
        found = calm(pair_of_torque(512.0, end - sign * 1e-9), RULE, 0.25)
        assert found.tolist() == [False, True]
        found = calm(pair_of_torque(512.0, end + sign * 1e-9), RULE, 0.25)
        assert found.tolist() == [False, False]


def pair_of_torque(first, second):
    made = pair()
    made.mean["engine torque"][:] = first, second
    return made


def test_braking_torque_is_judged_by_its_size():
    assert steady(torque=-512.0, torque_slope=16.0) == [False, True]
    assert steady(torque=-512.0, torque_slope=16.5) == [False, False]
    assert steady(torque=-512.0, scatter=64.0) == [False, True]


def test_standing_engine_is_never_steady_and_gaps_break_the_row():
    made = pair(turbine=0.0, engine=0.0)
    for name in ("engine speed", "turbine speed"):
        made.mean[name][:] = 0.0
    assert calm(made, RULE, 0.25).tolist() == [False, False]
    assert steady(index=2) == [False, False]


def test_sums_of_short_stretches():
    # One row; two rows, through which a line goes exactly; three rows 0, 1, 0 about their mean of
    # 1/3: squares 1/9 + 4/9 + 1/9 = 2/3 with 3 - 2 = 1 degree of freedom.
    time = np.array([0.5, 1.25, 1.75, 3.25, 3.5, 3.75])
    value = np.array([7.0, 1.0, 2.0, 0.0, 1.0, 0.0])
    found = stretches({"time": time, "a": value, "b": 2 * value}, 1.0)
    assert found.index.tolist() == [0, 1, 3]
    assert found.span.tolist() == [0.0, 0.5, 0.5]
    assert set(found.mean) == set(found.slope) == set(found.scatter) == {"a", "b"}
    for name, factor in (("a", 1.0), ("b", 2.0)):
        assert found.mean[name] == pytest.approx(factor * np.array([7.0, 1.5, 1 / 3]))
        assert found.slope[name] == pytest.approx(factor * np.array([0.0, 2.0, 0.0]), abs=1e-14)
        scatter = factor * np.array([0.0, 0.0, np.sqrt(2 / 3)])
        assert found.scatter[name] == pytest.approx(scatter, abs=1e-7)


def test_stretches_go_by_the_length_and_count_from_time_zero():
    time = np.arange(-1.0, 4.0, 0.5)
    found = stretches({"time": time, "a": time}, 2.0)
    assert found.index.tolist() == [-1, 0, 1]
    assert found.mean["a"] == pytest.approx([-0.75, 0.75, 2.75])
    assert found.slope["a"] == pytest.approx([1.0, 1.0, 1.0])


# --- samples kept ---------------------------------------------------------------------------------


def rows(nu, **more):
    nu = np.asarray(nu, dtype=np.float64)
    count = np.arange(float(nu.size))
    return {"nu": nu, "capacity": count, "torque_ratio": 10 + count, "oil": 20 + count,
            "episode": 30 + count} | more  # fmt: skip


def test_nothing_added_gives_nothing_of_each_name():
    empty = Reservoir(names=("nu", "a")).samples()
    assert set(empty) == {"nu", "a"}
    assert all(value.size == 0 for value in empty.values())


def test_samples_come_back_under_their_names_within_the_range():
    kept = Reservoir()
    nu = [float(np.nextafter(-0.3, -1)), -0.3, 0.5, float(np.nextafter(1.2, 0)), 1.2]
    kept = kept.plus(rows(nu))
    assert kept.seen == 5
    found = kept.samples()
    order = np.argsort(found["nu"])
    assert found["nu"][order].tolist() == nu[1:4]
    assert found["capacity"][order].tolist() == [1, 2, 3]
    assert found["torque_ratio"][order].tolist() == [11, 12, 13]
    assert found["oil"][order].tolist() == [21, 22, 23]
    assert found["episode"][order].tolist() == [31, 32, 33]


def test_each_bin_has_its_own_room():
    kept = Reservoir(low=0.0, high=1.0, width=0.25, room=3)
    kept = kept.plus(rows(np.concatenate([np.full(9, 0.2), np.full(9, 0.26), np.full(2, 0.9)])))
    kept = kept.plus(rows([0.8]))
    nu = np.sort(kept.samples()["nu"])
    assert nu.tolist() == [0.2, 0.2, 0.2, 0.26, 0.26, 0.26, 0.8, 0.9, 0.9]
    assert kept.seen == 21


def test_default_bins_are_a_hundredth_wide_and_hold_250():
    kept = Reservoir()
    kept = kept.plus(
        rows(np.concatenate([np.full(400, 0.501), np.full(400, 0.509), np.full(400, 0.512)]))
    )
    nu = kept.samples()["nu"]
    assert (nu < 0.51).sum() == 250
    assert (nu > 0.51).sum() == 250


def test_same_log_gives_the_same_choice_and_another_seed_another():
    def choice(seed):
        kept = Reservoir(room=20, seed=seed)
        for _ in range(3):
            kept = kept.plus(rows(np.full(100, 0.5)))
        return np.sort(kept.samples()["capacity"]).tolist()

    assert choice(7) == choice(7)
    assert choice(7) != choice(8)


def test_the_choice_does_not_hang_on_how_the_samples_come():
    def kept(*cuts):
        whole, reservoir = rows(np.full(300, 0.5)), Reservoir(room=20)
        for part in np.split(np.arange(300), cuts):
            reservoir = reservoir.plus({name: values[part] for name, values in whole.items()})
        return reservoir.samples()["capacity"].tolist()

    assert kept() == kept(100, 101, 250)


def test_adding_leaves_the_reservoir_as_it_was():
    empty = Reservoir()
    one = empty.plus(rows([0.5]))
    one.plus(rows([0.6]))
    assert empty.samples()["nu"].size == 0
    assert one.samples()["nu"].tolist() == [0.5]


# --- nodes and windows ----------------------------------------------------------------------------


def test_nodes_are_closer_together_beyond_the_kink():
    tenths = [round(0.05 * k, 2) for k in range(17)]
    close = [0.84, 0.86, 0.88, 0.9, 0.92, 0.94, 0.96, 0.98]
    assert nodes_for(None).tolist() == tenths + close
    assert nodes_for(0.865).tolist() == [*tenths, 0.865, 0.88, 0.9, 0.92, 0.94, 0.96, 0.98]
    assert nodes_for(0.8125).tolist() == [*tenths[:-1], 0.8125, *close]
    assert nodes_for(0.93).tolist() == [*tenths, 0.85, 0.9, 0.93, 0.96, 0.98]


EVEN = np.arange(1000) / 1000 + 0.0005


def counted(nodes, kink=None, **more):
    who = np.arange(1000.0) % 10
    return fit_curve(EVEN, np.ones(1000), who, np.array(nodes), kink=kink, **more)


@pytest.mark.parametrize(
    ("nodes", "kink", "samples"),
    [
        # Between the neighbours; 0.02 beyond the first and last node.
        ([0.3, 0.4, 0.6], None, [120, 300, 220]),
        ([0.5], None, [40]),
        # A node on the kink leans on the lower side, 0.06 of it at least.
        ([0.5, 0.7, 0.8], 0.7, [220, 200, 120]),
        ([0.68, 0.7, 0.8], 0.7, [40, 60, 120]),
        # No sample from the other side.
        ([0.6, 0.72, 0.76], 0.7, [120, 60, 60]),
    ],
)
def test_samples_are_those_between_the_neighbours_on_this_side_of_the_kink(nodes, kink, samples):
    fitted = counted(nodes, kink)
    assert fitted.samples.tolist() == samples
    assert fitted.episodes.tolist() == [10] * len(nodes)
    assert fitted.samples.dtype == fitted.episodes.dtype == np.intp
    assert fitted.node.tolist() == nodes
    assert fitted.covered.all()


def test_too_few_samples_or_witnesses_give_no_value():
    x, y = np.linspace(0.45, 0.55, 24), np.ones(24)
    nodes = np.array([0.4, 0.5, 0.6])

    def covered(size, episodes, **more):
        chosen = np.linspace(0, 23, size).astype(int)
        who = np.arange(float(size)) % episodes
        fitted = fit_curve(x[chosen], y[chosen], who, nodes, **more)
        assert (fitted.samples[1], fitted.episodes[1]) == (size, episodes)
        return bool(fitted.covered[1])

    assert covered(12, 4)
    assert not covered(11, 4)
    assert not covered(12, 3)
    assert not covered(24, 3)
    # A node that has too few does not take the others with it.
    beside = fit_curve(x, y, np.arange(24.0) % 4, np.array([0.1, 0.2, 0.5, 0.6]))
    assert beside.covered.tolist() == [False, False, True, False]
    assert covered(9, 3, fewest=9, fewest_episodes=3)
    assert not covered(9, 3, fewest=10, fewest_episodes=3)
    assert not covered(9, 3, fewest=9, fewest_episodes=4)


# --- degree ---------------------------------------------------------------------------------------


def fitted_at_half(x, y, episodes=10):
    return fit_curve(x, y(x), np.arange(float(x.size)) % episodes, np.array([0.45, 0.5, 0.55]))


def parabola(x):
    return 2.0 + 3.0 * (x - 0.5) + 40.0 * (x - 0.5) ** 2


def test_parabola_is_met_exactly_where_the_samples_bear_one():
    x = np.linspace(0.451, 0.549, 60)
    fitted = fitted_at_half(x, parabola, episodes=8)
    assert fitted.value[1] == pytest.approx(2.0, abs=1e-9)
    # With seven witnesses, or in three of six places, a straight line has to do.
    line = fitted_at_half(x, parabola, episodes=7)
    assert line.value[1] > 2.005
    places = np.concatenate([np.linspace(a, a + 0.01, 20) for a in (0.453, 0.486, 0.537)])
    assert abs(fitted_at_half(places, parabola).value[1] - 2.0) > 1e-3
    four = np.concatenate([places, np.linspace(0.518, 0.53, 20)])
    assert fitted_at_half(four, parabola).value[1] == pytest.approx(2.0, abs=1e-9)


def test_straight_line_is_met_exactly_from_two_places_well_apart():
    def line(x):
        return 2.0 + 3.0 * (x - 0.5)

    apart = np.concatenate([np.linspace(0.47, 0.48, 20), np.linspace(0.52, 0.53, 20)])
    assert fitted_at_half(apart, line).value[1] == pytest.approx(2.0, abs=1e-9)
    # Places next to each other say nothing of a slope, nor do a few strays elsewhere.
    beside = np.concatenate([np.linspace(0.485, 0.499, 40), np.linspace(0.501, 0.515, 40)])
    assert np.isnan(fitted_at_half(beside, line).value[1])
    strays = np.concatenate([beside, [0.46, 0.54]])
    assert np.isnan(fitted_at_half(strays, line).value[1])


@pytest.mark.parametrize("side", [-1, 1])
def test_nothing_is_said_of_a_node_beside_its_samples(side):
    def fitted(nearest):
        x = 0.5 + side * np.linspace(nearest, 0.049, 60)
        return fitted_at_half(x, lambda x: 2.0 + 3.0 * (x - 0.5)).value[1]

    assert np.isnan(fitted(0.008))
    assert fitted(0.002) == pytest.approx(2.0, abs=1e-9)


# --- value and band -------------------------------------------------------------------------------


@pytest.mark.parametrize(("coverage", "witnesses"), [(0.95, 8), (0.8, 8), (0.95, 20)])
def test_band_of_a_mean_against_the_closed_form(coverage, witnesses):
    # Witnesses with errors +d and -d in turn, three samples each, all at the node. Then the mean is
    # the value; the median absolute deviation is d, so that each u is 1 / (4.685 x 1.4826); and the
    # jackknife over m witnesses leaves (w / psi') d / sqrt(m - 1), with w = (1 - u^2)^2 and
    # psi' = (1 - u^2)(1 - 5 u^2), against d / sqrt(m - 1) for a plain mean.
    d = 0.01
    who = np.repeat(np.arange(float(witnesses)), 3)
    y = 1.0 + d * np.where(who % 2 == 0, 1.0, -1.0)
    fitted = fit_curve(np.full(y.size, 0.5), y, who, np.array([0.5]), coverage=coverage)
    u2 = 1 / (4.685 * 1.4826) ** 2
    sigma = (1 - u2) / (1 - 5 * u2) * d / np.sqrt(witnesses - 1)
    half = sigma * student.ppf(0.5 + 0.5 * coverage, witnesses - 1)
    assert fitted.value[0] == pytest.approx(1.0, abs=1e-12)
    assert fitted.low[0] == pytest.approx(1.0 - half, abs=1e-9)
    assert fitted.high[0] == pytest.approx(1.0 + half, abs=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_value_at_a_node_is_tukeys_biweight(seed):
    # Root of sum psi((y - b) / (4.685 s)), s = 1.4826 times the median absolute deviation about the
    # median; lopsided data, so that mean, median and biweight all differ.
    y = 1.0 + 0.02 * np.random.default_rng(seed).exponential(size=61)
    y[:3] += 0.5
    spread = 1.4826 * np.median(np.abs(y - np.median(y)))

    def psi(b):
        u = np.clip((y - b) / (4.685 * spread), -1, 1)
        return float((u * (1 - u * u) ** 2).sum())

    expected = brentq(psi, np.median(y) - spread, np.median(y) + 2 * spread, xtol=1e-14)
    fitted = fit_curve(np.full(61, 0.5), y, np.arange(61.0), np.array([0.5]))
    # The weights are iterated until they change by less than a millionth.
    assert fitted.value[0] == pytest.approx(expected, abs=1e-6 * spread)
    # Another unit, the same curve.
    scaled = fit_curve(np.full(61, 0.5), 1e-3 * y, np.arange(61.0), np.array([0.5]))
    assert scaled.value[0] == pytest.approx(1e-3 * fitted.value[0], rel=1e-9)
    assert scaled.high[0] == pytest.approx(1e-3 * fitted.high[0], rel=1e-6)


# --- coupling point -------------------------------------------------------------------------------


def bent(place, count=600, seed=2, low=0.45, high=0.98):
    rng = np.random.default_rng(seed)
    x = np.sort(rng.uniform(low, high, count))
    y = 0.02 * (1 - 0.2 * (x - 0.5) - 3.0 * np.maximum(x - place, 0.0))
    return x, y * (1 + 0.002 * rng.standard_normal(count))


@pytest.mark.parametrize("place", [0.75, 0.86, 0.9])
def test_bend_is_found_at_its_place_whatever_the_unit(place):
    x, y = bent(place, count=300)
    about = {"low": round(place - 0.03, 3), "high": round(place + 0.03, 3)}
    found = find_kink(x, y, **about)
    assert found == pytest.approx(place, abs=0.0051)
    assert find_kink(x, 1e3 * y, **about) == found
    wild = y.copy()
    wild[::17] *= 1.4
    assert find_kink(x, wild, **about) == pytest.approx(place, abs=0.0101)


def test_bend_is_looked_for_between_the_given_speed_ratios_only():
    x, y = bent(0.8)
    assert find_kink(x, y, low=0.75, high=0.85) == pytest.approx(0.8, abs=0.0051)
    found = find_kink(x, y, low=0.70, high=0.75)
    assert found is None or found <= 0.75


def test_few_samples_tell_no_bend():
    x, y = bent(0.86, count=59, low=0.75, high=0.95)
    assert find_kink(x, y) is None
    x, y = bent(0.86, count=60, low=0.75, high=0.95)
    assert find_kink(x, y) == pytest.approx(0.86, abs=0.0051)
    # Samples beyond 0.985, or far below the search, do not count.
    more = np.concatenate([x[:59], np.full(50, 0.99), np.full(50, 0.5)])
    assert find_kink(more, np.concatenate([y[:59], np.full(100, 0.02)])) is None
