"""Worth of readings against closed forms of the two-action problem.

Normal prior, linear gain (Raiffa and Schlaifer, Applied Statistical Decision Theory, 1961, chapters
5 and 11): with gain ``g ~ N(m, s)`` perfect information is worth ``s L(|m| / s)``, and a reading
that lets the expected gain vary by ``s'`` is worth ``s' L(|m| / s')``, where ``L(u) = phi(u) - u
Q(u)`` is the unit normal linear-loss integral.
"""

import numpy as np
import pytest
from scipy.stats import norm, qmc

from converter_match.judgement.evidence.value import (
    Predicted,
    chance_of_order,
    likelihoods,
    perfect_information,
    turning_points,
    worth,
    worth_together,
)

DRAWS = 8_192
# Even draws: what is left is the grid and the folds, a few in a thousand of a gain's deviation.
SLACK = 0.004


def linear_loss(u):
    return norm.pdf(u) - u * norm.sf(u)


def worth_by_formula(mean, spread):
    return spread * linear_loss(abs(mean) / spread)


@pytest.fixture(scope="module")
def scores():
    even = qmc.Sobol(4, seed=7).random(DRAWS)
    return norm.ppf(np.clip(even, 1e-9, 1.0 - 1e-9))


def spread_by_readings(of_gain, noise):
    """Deviation of the expected gain: gain and readings are linear in independent scores."""
    rows, gain = np.array(of_gain["readings"]), np.array(of_gain["gain"])
    covariance = rows @ rows.T + np.diag(np.square(noise))
    cross = rows @ gain
    return float(np.sqrt(cross @ np.linalg.solve(covariance, cross)))


@pytest.mark.parametrize(
    ("u", "printed"),
    # Table of the unit normal linear-loss integral, four figures (from memory).
    [(0.0, 0.3989), (0.5, 0.1978), (1.0, 0.08332), (2.0, 0.008491)],
)
def test_perfect_information_is_worth_what_the_table_prints(scores, u, printed):
    assert perfect_information(scores[:, 0] - u) == pytest.approx(printed, rel=0.006)


@pytest.mark.parametrize("mean", [0.0, 0.5, -1.0, 2.0])
@pytest.mark.parametrize("noise", [0.1, 0.5, 1.0, 2.0])
def test_a_reading_is_worth_the_textbook_formula(scores, mean, noise):
    gain = mean + scores[:, 0]
    spread = spread_by_readings({"gain": [1.0], "readings": [[1.0]]}, [noise])
    one = Predicted(values=scores[:, 0], deviation=noise)
    by_formula = worth_by_formula(mean, spread)
    assert worth(gain, [one]).single[0] == pytest.approx(by_formula, abs=SLACK)


@pytest.mark.parametrize("mean", [0.0, -0.7])
def test_a_pair_is_worth_the_textbook_formula(scores, mean):
    gain = mean + scores[:, 0]
    rows, noise = [[1.0, 0.0], [0.6, 0.8]], [0.7, 0.2]
    readings = [
        Predicted(values=scores[:, :2] @ row, deviation=deviation)
        for row, deviation in zip(rows, noise, strict=True)
    ]
    spread = spread_by_readings({"gain": [1.0, 0.0], "readings": rows}, noise)
    by_formula = worth_by_formula(mean, spread)
    assert worth(gain, readings).pair[0, 1] == pytest.approx(by_formula, abs=SLACK)
    assert worth_together(gain, readings) == pytest.approx(by_formula, abs=0.02)


@pytest.mark.slow
def test_three_readings_are_worth_the_textbook_formula(scores):
    gain = 0.3 + scores[:, 0]
    rows, noise = [[1.0, 0.0, 0.0], [1.0, 0.5, 0.0], [0.0, 1.0, 1.0]], [1.0, 0.5, 0.5]
    readings = [
        Predicted(values=scores[:, :3] @ row, deviation=deviation)
        for row, deviation in zip(rows, noise, strict=True)
    ]
    spread = spread_by_readings({"gain": [1.0, 0.0, 0.0], "readings": rows}, noise)
    # One drawn reading a draw: 0.6 / sqrt(8192), three times.
    assert worth_together(gain, readings) == pytest.approx(worth_by_formula(0.3, spread), abs=0.018)


def test_a_reading_may_be_worth_something_only_beside_another(scores):
    # The gain has the sign of the product; E[sign x | y] = 2 Phi(y / (s sqrt(1 + s^2))) - 1, whose
    # mean size is 2 arctan(1 / s) / pi.
    gain, noise = np.sign(scores[:, 0] * scores[:, 1]), 0.3
    readings = [Predicted(values=scores[:, k], deviation=noise) for k in (0, 1)]
    both = 0.5 * (2.0 / np.pi * np.arctan(1.0 / noise)) ** 2
    found = worth(gain, readings)
    assert found.single == pytest.approx([0.0, 0.0], abs=SLACK)
    # The mean of the drawn signs is off by up to 0.01, and half of that is worth here.
    assert found.pair[0, 1] == pytest.approx(both, abs=0.01)
    assert worth_together(gain, readings) == pytest.approx(both, rel=0.05)


def test_a_reading_of_the_nuisance_alone_is_worth_nothing_and_much_beside_the_other(scores):
    gain = scores[:, 0]
    rows, noise = [[1.0, 3.0], [0.0, 1.0]], [0.4, 0.1]
    readings = [
        Predicted(values=scores[:, :2] @ row, deviation=deviation)
        for row, deviation in zip(rows, noise, strict=True)
    ]
    found = worth(gain, readings)
    spread = spread_by_readings({"gain": [1.0, 0.0], "readings": rows}, noise)
    assert found.single[1] == pytest.approx(0.0, abs=1e-12)
    assert found.pair[0, 1] == pytest.approx(worth_by_formula(0.0, spread), rel=0.01)
    assert found.pair[0, 1] > 2.5 * found.single[0]


def test_a_reading_that_tells_nothing_is_worth_nothing(scores):
    # To decide by the draws that are judged by it would find 0.003 here, of noise alone.
    gain = np.where(scores[:, 0] > -1.28, 1.0, -9.0)
    idle = Predicted(values=scores[:, 1], deviation=0.1)
    also = Predicted(values=scores[:, 2], deviation=0.1)
    found = worth(gain, [idle, also])
    assert found.single[0] < 0.002
    assert found.pair[0, 1] < 0.006
    assert worth_together(gain, [idle, also, also]) < 0.006


@pytest.mark.parametrize("gain", [1.0, -9.0])
def test_where_every_draw_says_the_same_nothing_is_worth_anything(scores, gain):
    gains = np.full(DRAWS, gain)
    reading = Predicted(values=scores[:, 0], deviation=0.1)
    assert perfect_information(gains) == 0.0
    assert worth(gains, [reading]).single[0] == pytest.approx(0.0, abs=1e-12)
    assert worth_together(gains, [reading]) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.slow
def test_no_reading_is_worth_more_than_knowing_everything(scores):
    gain = np.where(scores[:, 0] + 0.3 * scores[:, 1] > -1.2, 1.0, -9.0)
    readings = [Predicted(values=scores[:, 0], deviation=d) for d in (0.02, 0.2, 1.0)]
    found, most = worth(gain, readings), perfect_information(gain)
    assert np.all(found.pair <= most)
    assert list(found.single) == sorted(found.single, reverse=True)
    assert worth_together(gain, readings) <= most


def test_weighted_draws_are_worth_what_even_draws_are(scores):
    # Draws from a prior half as wide again, weighted back to the unit normal.
    wide = 1.5 * scores[:, 0]
    weights = norm.pdf(wide) / norm.pdf(wide, scale=1.5)
    reading = Predicted(values=wide, deviation=0.5)
    by_formula = worth_by_formula(0.4, spread_by_readings({"gain": [1], "readings": [[1]]}, [0.5]))
    assert perfect_information(wide + 0.4, weights) == pytest.approx(linear_loss(0.4), rel=0.01)
    assert worth(wide + 0.4, [reading], weights).single[0] == pytest.approx(by_formula, abs=SLACK)


def test_that_there_is_no_reading_is_a_reading_too(scores):
    # A machine that does not climb the grade gives no speed there, and that settles the matter.
    gain = np.where(scores[:, 0] > 0.0, 1.0, -1.0)
    climbs = Predicted(values=np.where(scores[:, 0] > 0.0, 3.0, np.nan), deviation=0.1)
    assert worth(gain, [climbs]).single[0] == pytest.approx(perfect_information(gain), rel=1e-9)
    assert likelihoods(climbs)[1].sum(axis=0) == pytest.approx(np.ones(DRAWS))


def test_ordering_is_as_likely_as_the_reading_that_leads_to_it(scores):
    # E[g | y] = m + y / (1 + s^2) > 0; y is normal with deviation sqrt(1 + s^2).
    mean, noise = 0.5, 0.8
    reading = Predicted(values=scores[:, 0], deviation=noise)
    turn = -mean * (1.0 + noise**2)
    likely = norm.sf(turn / np.sqrt(1.0 + noise**2))
    gain = mean + scores[:, 0]
    # A node of the grid is an eighth of the spread of the readings wide.
    assert chance_of_order(gain, [reading]) == pytest.approx(likely, abs=0.04)
    [(at, above)] = turning_points(gain, reading)
    assert above
    assert at == pytest.approx(turn, abs=0.02)
    nothing = Predicted(values=np.full(DRAWS, 2.0), deviation=0.1)
    assert chance_of_order(gain, [reading, nothing]) == pytest.approx(
        chance_of_order(gain, [reading]), abs=0.04
    )


def test_a_reading_that_cannot_change_the_choice_has_no_turning_point(scores):
    assert turning_points(scores[:, 0] + 9.0, Predicted(values=scores[:, 0], deviation=0.5)) == ()
