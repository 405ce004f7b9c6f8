"""Fitting loss factors: planted factors come back, and what the data cannot tell is said."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from converter_match.errors import InputError
from converter_match.physics.converter.blading import characteristic_from_blading
from converter_match.physics.converter.fit import fit_losses
from tests.blading_examples import blading
from tests.examples import converter


def with_noise(clean, share, seed=7):
    """The same rows with independent errors, as a test sheet would have."""
    random = np.random.default_rng(seed)
    mu = clean.torque_ratio * (1 + share * random.standard_normal(clean.torque_ratio.size))
    return clean.replace(
        torque_ratio=np.where(clean.torque_ratio > 1.02, mu, clean.torque_ratio),
        capacity=clean.capacity * (1 + share * random.standard_normal(clean.capacity.size)),
    )


@pytest.mark.slow
@given(st.floats(0.3, 1.6), st.floats(0.1, 0.9), st.sampled_from(["one-way", "fixed", "none"]))
@settings(max_examples=15)
def test_planted_factors_are_recovered(shock, friction, mounting):
    start = blading(mounting=mounting)
    planted = start.with_losses(impeller=shock, turbine=shock, stator=shock, friction=friction)
    fit = fit_losses(start, characteristic_from_blading(planted, rows=25))
    np.testing.assert_allclose(fit.values, [shock, friction], rtol=1e-6)
    assert fit.torque_ratio.largest < 1e-8
    assert fit.capacity.largest < 1e-8


def test_shock_and_friction_of_a_converter_are_told_apart():
    fit = fit_losses(blading(), with_noise(characteristic_from_blading(blading(), rows=25), 0.004))
    assert [note.code for note in fit.notes] == ["loss-factors-fitted"]
    assert fit.condition_number < 10


def test_factors_of_single_rows_are_recovered_from_perfect_data_but_called_inseparable():
    planted = blading().with_losses(impeller=0.6, turbine=1.2, stator=0.45, friction=0.4)
    fit = fit_losses(
        blading(),
        characteristic_from_blading(planted, rows=25),
        factors=("impeller", "turbine", "stator", "friction"),
    )
    np.testing.assert_allclose(fit.values, [0.6, 1.2, 0.45, 0.4], rtol=1e-5)
    assert abs(fit.correlation[0, 1]) > 0.95
    assert "loss-factors-not-separable" in {note.code for note in fit.notes}


@pytest.mark.slow
def test_standard_errors_cover_the_truth_when_the_data_scatter():
    planted = blading().with_losses(impeller=0.8, turbine=0.8, stator=0.8, friction=0.35)
    clean = characteristic_from_blading(planted, rows=25)
    misses = []
    for seed in range(20):
        fit = fit_losses(blading(), with_noise(clean, 0.004, seed))
        misses.append((fit.values - [0.8, 0.35]) / fit.standard_errors)
        # Errors of 0.4 % put in; what is left over cannot be much more, scales being the maxima.
        assert fit.torque_ratio.rms < 0.006
        assert fit.capacity.rms < 0.006
    # In units of the standard error the misses scatter by about 1, give or take 1/sqrt(2 x 40).
    assert 0.66 < np.sqrt(np.mean(np.square(misses))) < 1.34


def test_misfit_says_where_it_is_largest():
    fit = fit_losses(blading(), with_noise(characteristic_from_blading(blading(), rows=25), 0.01))
    worst = np.argmax(np.abs(fit.capacity_residual))
    assert fit.capacity.at_speed_ratio == fit.speed_ratio[worst]
    assert fit.capacity.largest == np.abs(fit.capacity_residual[worst])
    assert fit.capacity.rms == pytest.approx(np.sqrt(np.mean(fit.capacity_residual**2)))


def test_another_converter_than_the_one_measured_ends_on_a_bound_and_says_so():
    # The 345 mm test converter against blading of 245 mm: five times too little capacity.
    fit = fit_losses(blading(), converter())
    assert fit.at_bound
    assert fit.capacity.rms > 0.2
    assert "loss-factor-at-bound" in {note.code for note in fit.notes}


def test_fitted_blading_keeps_radii_and_angles():
    fit = fit_losses(blading(), characteristic_from_blading(blading(friction_factor=0.4), rows=25))
    assert fit.geometry.with_losses(impeller=0.9, turbine=0.9, stator=0.9, friction=0.28) == (
        blading()
    )


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"factors": ()}, "no factor"),
        ({"factors": ("shok",)}, "factors.*did you mean 'shock'"),
        ({"factors": ("friction", "friction")}, "named twice"),
        ({"factors": ("shock", "turbine")}, "all rows"),
        ({"bounds": {"shock": (1.0, 0.5)}}, r"bounds\.shock"),
        ({"bounds": {"friction": (0.0, 0.5)}}, r"bounds\.friction"),
        ({"bounds": {"turbine": (0.0, 0.5)}}, "bounds"),
    ],
)
def test_bad_request_is_refused(arguments, words):
    with pytest.raises(InputError, match=words):
        fit_losses(blading(), characteristic_from_blading(blading()), **arguments)


def test_stators_of_different_kind_are_refused():
    with pytest.raises(InputError, match="different ways"):
        fit_losses(blading(), characteristic_from_blading(blading(), mounting="fixed"))


def test_too_few_rows_are_refused():
    few = converter(
        speed_ratio=[0.0, 0.5],
        torque_ratio=[2.2, 1.5],
        capacity=[3e-3, 2.5e-3],
        coupling_speed_ratio=None,
    )
    with pytest.raises(InputError, match="too few measured rows"):
        fit_losses(blading(), few, factors=("impeller", "turbine", "stator", "friction"))
