"""Shares of the variance against closed forms, the Ishigami function and SALib."""

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.judgement.uncertainty.sampling import Uncertain, unit_draws
from converter_match.judgement.uncertainty.sensitivity import (
    first_order_from_draws,
    linear_shares,
    sensitivity,
    sobol_indices,
)

A, B = 7.0, 0.1


def ishigami(u):
    # T. Ishigami and T. Homma, 1990; indices in closed form below
    x = np.pi * (2 * u - 1)
    return np.sin(x[:, 0]) + A * np.sin(x[:, 1]) ** 2 + B * x[:, 2] ** 4 * np.sin(x[:, 0])


V1 = 0.5 * (1 + B * np.pi**4 / 5) ** 2
V2 = A**2 / 8
V13 = B**2 * np.pi**8 * (1 / 18 - 1 / 50)
V = V1 + V2 + V13
FIRST = np.array([V1, V2, 0.0]) / V
TOTAL = np.array([V1 + V13, V2, V13]) / V


def test_sobol_indices_of_the_ishigami_function():
    first, total = sobol_indices(ishigami, 3, draws=8192)
    assert first == pytest.approx(FIRST, abs=4e-3)
    assert total == pytest.approx(TOTAL, abs=4e-3)


def test_sobol_indices_agree_with_salib():
    from SALib.analyze import sobol as analyse
    from SALib.sample import sobol as sample

    problem = {"num_vars": 3, "names": ["a", "b", "c"], "bounds": [[0, 1]] * 3}
    theirs = analyse.analyze(
        problem, ishigami(sample.sample(problem, 8192, calc_second_order=False, seed=2)),
        calc_second_order=False, seed=2, num_resamples=20,
    )  # fmt: skip
    first, total = sobol_indices(ishigami, 3, draws=8192)
    assert first == pytest.approx(theirs["S1"], abs=8e-3)
    assert total == pytest.approx(theirs["ST"], abs=8e-3)


WEIGHTS = np.array([3.0, -2.0, 0.5])
INPUTS = [
    Uncertain(name="a", half_width=0.1),
    Uncertain(name="b", half_width=0.2, distribution="normal"),
    Uncertain(name="c", half_width=0.3, distribution="triangular"),
]
PARTS = (WEIGHTS * [0.1 / 3**0.5, 0.1, 0.3 / 6**0.5]) ** 2  # closed form of the variances


def drawn(u):
    return np.stack([item.from_unit(u[:, k]) for k, item in enumerate(INPUTS)], axis=1)


def test_the_linear_case_has_the_shares_of_the_closed_form():
    u = unit_draws(8192, 3)
    x = drawn(u)
    y = 5.0 + x @ WEIGHTS
    slopes, explained = linear_shares(x, y)
    assert slopes == pytest.approx(WEIGHTS, rel=1e-10)
    assert explained == pytest.approx(1.0, abs=1e-12)
    found = sensitivity(
        [i.name for i in INPUTS], [i.deviation for i in INPUTS],
        [i.half_width for i in INPUTS], x, y, lambda v: 5.0 + drawn(v) @ WEIGHTS,
    )  # fmt: skip
    assert found.method == "linear"
    by_name = {share.name: share for share in found.shares}
    for name, part in zip("abc", PARTS / PARTS.sum(), strict=True):
        assert by_name[name].first == pytest.approx(part, rel=1e-9)
    assert [share.name for share in found.shares] == ["b", "a", "c"]
    assert found.deviation == pytest.approx(PARTS.sum() ** 0.5, rel=1e-3)
    first, total = sobol_indices(lambda v: 5.0 + drawn(v) @ WEIGHTS, 3, draws=4096)
    assert first == pytest.approx(PARTS / PARTS.sum(), abs=5e-3)
    assert total == pytest.approx(PARTS / PARTS.sum(), abs=5e-3)


def test_the_linear_case_agrees_with_the_package_uncertainties():
    from uncertainties import ufloat

    a, b, c = (ufloat(0.0, item.deviation) for item in INPUTS)
    theirs = 5.0 + 3.0 * a - 2.0 * b + 0.5 * c
    u = unit_draws(1 << 15, 3)
    assert np.std(5.0 + drawn(u) @ WEIGHTS) == pytest.approx(theirs.std_dev, rel=1e-3)
    shares = {k: v**2 for k, v in theirs.error_components().items()}
    whole = sum(shares.values())
    assert sorted(v / whole for v in shares.values()) == pytest.approx(
        sorted(PARTS / PARTS.sum()), rel=1e-9
    )


def test_where_linear_is_not_good_enough_sobol_takes_over():
    u = unit_draws(4096, 3)
    found = sensitivity(["a", "b", "c"], [0.3] * 3, [1.0] * 3, u, ishigami(u), ishigami, draws=2048)
    assert found.method == "sobol"
    assert found.linear < 0.99
    assert [share.name for share in found.shares] == ["a", "b", "c"]
    assert found.shares[0].total == pytest.approx(TOTAL[0], abs=0.03)


def test_shares_from_draws_that_are_there_are_close_to_the_closed_form():
    u = unit_draws(8192, 3)
    y = drawn(u) @ WEIGHTS
    # A normal is not quite a cubic of its own probability.
    assert first_order_from_draws(u, y) == pytest.approx(PARTS / PARTS.sum(), abs=0.02)


def test_an_answer_that_does_not_vary_depends_on_nothing():
    u = unit_draws(256, 2)
    found = sensitivity(["a", "b"], [1, 1], [1, 1], u, np.full(256, 7.0), lambda v: v[:, 0])
    assert found.method == "none"
    assert all(share.total == 0.0 for share in found.shares)
    first, total = sobol_indices(lambda v: np.ones(len(v)), 2, draws=64)
    assert not first.any()
    assert not total.any()


def test_draws_without_an_answer_have_no_sobol_indices():
    with pytest.raises(InputError, match="does not exist for some draws"):
        sobol_indices(lambda v: np.where(v[:, 0] > 0.5, np.nan, 1.0), 2, draws=64)
