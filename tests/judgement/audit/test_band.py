"""Our own doubt: the band against an independent Monte Carlo, and what it does to a verdict."""

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import norm, qmc, triang, uniform

from converter_match.judgement.audit.audit import audit_study
from converter_match.judgement.audit.band import band
from converter_match.judgement.audit.case import Missing
from converter_match.judgement.audit.figures import figure, readings
from converter_match.study.study import CLAIM_DIMENSIONS, Tolerance
from converter_match.units import note_text
from tests.audit_examples import claim
from tests.examples import RPM, engine
from tests.study_examples import combination, study

# Torque falls by 0.2 N.m a rpm in a straight line, so that no interpolation is in the way.
LINE = (1100.0, 0.2)
TOLERANCES = (
    Tolerance(quantity="engine-torque", half_width=0.04),
    Tolerance(quantity="k-factor", half_width=0.03, distribution="normal"),
    Tolerance(quantity="accessories", half_width=0.2, distribution="triangular"),
    Tolerance(quantity="torque-ratio", half_width=0.02),
    Tolerance(quantity="mass", half_width=0.05),
)


def doubtful(*claims, **changes):
    speed = np.array([800.0, 1500.0, 2200.0])
    own = combination(engine=engine(speed=speed * RPM, torque=LINE[0] - LINE[1] * speed))
    return study(own, claims=claims, **({"tolerances": TOLERANCES} | changes))


def stall_speeds(count):
    """Draw stall speeds [rpm] with scipy only: T(n) (1 + t) - loads (1 + a) = (n / K (1 + k))^2."""
    units = qmc.LatinHypercube(3, rng=np.random.default_rng(11)).random(count)
    torque = uniform.ppf(units[:, 0], loc=-0.04, scale=0.08)
    k = norm.ppf(units[:, 1], scale=0.015)
    accessory = triang.ppf(units[:, 2], 0.5, loc=-0.2, scale=0.4)
    fan, pump, rated = 11e3, 3e3, 2200 * RPM

    def loads(n):
        share = n / 2200
        return fan / rated * share**2 + pump / rated * share**0.4

    def left(n, t, dk, a):
        net = (LINE[0] - LINE[1] * n) * (1 + t) - loads(n) * (1 + a)
        return net - (n / (60.0 * (1 + dk))) ** 2

    rows = zip(torque, k, accessory, strict=True)
    return np.array([brentq(left, 900, 2199, args=row) for row in rows])


def test_band_of_a_stall_speed_is_that_of_an_independent_monte_carlo():
    speeds = stall_speeds(4000)
    low, high = band(doubtful(), claim("stall-speed", 1.0, combination="new"))
    wanted = np.quantile(speeds, [0.025, 0.975])
    # 4000 draws know the ends of the band to about a percent of its width.
    assert np.array([low, high]) / RPM == pytest.approx(wanted, abs=0.02 * np.ptp(wanted))
    inside = np.mean((speeds >= low / RPM) & (speeds <= high / RPM))
    assert inside == pytest.approx(0.95, abs=0.01)


@pytest.mark.slow
def test_a_claim_inside_the_band_is_not_distinguishable_and_one_outside_disagrees():
    wanted = claim("stall-speed", 1.0, combination="new", tolerance=0.001)
    low, high = band(doubtful(), wanted)
    speeds = (0.999 * low, 1.001 * low, 0.999 * high, 1.001 * high)
    claims = [claim("stall-speed", value, combination="new", tolerance=0.001) for value in speeds]
    result = audit_study(doubtful(*claims))
    verdicts = [item.verdict for item in result.claims]
    assert verdicts == ["disagrees", "not distinguishable", "not distinguishable", "disagrees"]
    first = audit_study(doubtful(claims[1]))
    assert not first.fails
    assert "1 not distinguishable" in first.text()
    [row] = first.to_dict()["claims"]
    assert row["verdict"] == "not distinguishable"
    assert row["ours_low"] < row["claimed"] < row["ours_high"]
    assert row["explanations"] == []
    assert "cannot be told from our figure" in note_text(first.claims[0].sentence("B"), "si")


def test_without_tolerances_our_own_doubt_counts_for_nothing_and_that_is_said():
    wanted = claim("stall-speed", 1.0, combination="new", tolerance=0.001)
    low, _ = band(doubtful(), wanted)
    near = claim("stall-speed", 1.001 * low, combination="new", tolerance=0.001)
    result = audit_study(doubtful(near, tolerances=()))
    assert result.claims[0].verdict == "disagrees"
    assert result.claims[0].band is None
    assert "own-doubt-not-given" in [note.code for note in result.assumptions]


def test_a_figure_that_the_tolerances_do_not_move_is_said_to_be_taken_as_exact():
    wanted = claim("coupling-speed-ratio", 0.5, combination="new")
    result = audit_study(doubtful(wanted))
    assert result.claims[0].band is None
    assert "own-doubt-not-drawn" in [note.code for note in result.assumptions]


DETAILS = {
    "tractive-effort": {"gear": "2", "speed": 2.0},
    "speed-on-grade": {"grade": 0.06},
    "top-speed": {"gear": "1"},
}


@pytest.mark.parametrize("quantity", [name for name in CLAIM_DIMENSIONS])
def test_our_figure_lies_inside_its_own_band(quantity):
    asked = doubtful()
    wanted = claim(quantity, 1.0, combination="new", **DETAILS.get(quantity, {}))
    from converter_match.judgement.audit.audit import case_of

    case = case_of(asked, wanted)
    for reading in readings(case, wanted):
        try:
            ours = figure(case, wanted, reading)
        except Missing:
            continue
        found = band(asked, wanted, reading)
        if quantity == "coupling-speed-ratio" or reading == "whole-table":
            assert found is None  # nothing that is drawn moves it
        else:
            assert found[0] < ours < found[1]


def test_a_wider_torque_ratio_widens_the_band_of_the_torque_ratio_by_hand():
    asked = doubtful(tolerances=(Tolerance(quantity="torque-ratio", half_width=0.02),))
    low, high = band(asked, claim("stall-torque-ratio", 1.0, combination="new"))
    # uniform within 2.2 (1 +- 0.02): 95 % of it
    assert (low, high) == pytest.approx((2.2 * (1 - 0.019), 2.2 * (1 + 0.019)), rel=1e-4)


@pytest.mark.slow
def test_the_band_is_the_interval_of_the_study_s_own_draws():
    from converter_match.judgement.uncertainty.uncertainty import uncertainty

    asked = doubtful()
    drawn = uncertainty(asked, sensitivities=False).of("new")
    for name in ("stall-speed", "stall-heat", "steepest-grade", "top-speed"):
        figure_ = drawn.figure(name)
        found = band(asked, claim(name, 1.0, combination="new"))
        assert found == pytest.approx((figure_.low, figure_.high), rel=1e-12)
