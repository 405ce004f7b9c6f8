"""What a fit of loss factors says of itself, against the normal equations and the bounds given."""

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.physics.converter.blading import characteristic_from_blading, operate
from converter_match.physics.converter.fit import _determined, fit_losses
from tests.blading_examples import blading
from tests.examples import converter


def noisy(shape=None, seed=3, rows=25):
    clean = characteristic_from_blading(shape or blading(), rows=rows)
    random = np.random.default_rng(seed)
    mu = clean.torque_ratio * (1 + 0.004 * random.standard_normal(clean.torque_ratio.size))
    return clean.replace(
        torque_ratio=np.where(clean.torque_ratio > 1.02, mu, clean.torque_ratio),
        capacity=clean.capacity * (1 + 0.004 * random.standard_normal(clean.capacity.size)),
    )


def model(measured, **losses):
    """Residuals by their definition: model less measured, as shares of the largest values."""
    below = measured.speed_ratio < 1
    at = operate(blading().with_losses(**losses), measured.speed_ratio[below])
    mu, c = measured.torque_ratio[below], measured.capacity[below]
    return np.concatenate(
        [(at.torque_ratio - mu) / mu.max(), (at.capacity - c) / c.max()]
    )  # fmt: skip


def test_covariance_is_that_of_the_normal_equations():
    # cov = s^2 (J^T J)^-1 with s^2 = r.r / (n - k), any textbook on least squares; J by central
    # differences of the model itself.
    measured = noisy()
    fit = fit_losses(blading(), measured)
    assert fit.names == ("shock", "friction")

    def at(shock, friction):
        return model(measured, impeller=shock, turbine=shock, stator=shock, friction=friction)

    x, h = fit.values, 1e-5
    jacobian = np.column_stack([
        (at(x[0] + h, x[1]) - at(x[0] - h, x[1])) / (2 * h),
        (at(x[0], x[1] + h) - at(x[0], x[1] - h)) / (2 * h),
    ])  # fmt: skip
    r = at(*x)
    n = r.size // 2
    assert fit.torque_ratio_residual == pytest.approx(r[:n], abs=1e-14)
    assert fit.capacity_residual == pytest.approx(r[n:], abs=1e-14)
    covariance = r @ r / (r.size - 2) * np.linalg.inv(jacobian.T @ jacobian)
    assert fit.covariance == pytest.approx(covariance, rel=1e-5)
    errors = np.sqrt(np.diag(covariance))
    assert fit.standard_errors == pytest.approx(errors, rel=1e-5)
    assert fit.correlation == pytest.approx(covariance / np.outer(errors, errors), rel=1e-5)
    scaled = jacobian / np.linalg.norm(jacobian, axis=0)
    assert fit.condition_number == pytest.approx(np.linalg.cond(scaled), rel=1e-5)
    assert fit.at_bound == ()


def test_scales_and_misfits_are_those_of_the_rows_below_one():
    measured = noisy()
    fit = fit_losses(blading(), measured)
    below = measured.speed_ratio < 1
    assert fit.speed_ratio.tolist() == measured.speed_ratio[below].tolist()
    assert fit.torque_ratio.scale == measured.torque_ratio.max()
    assert fit.capacity.scale == measured.capacity.max()
    assert (fit.torque_ratio.quantity, fit.capacity.quantity) == ("torque ratio", "capacity")
    for misfit, residual in (
        (fit.torque_ratio, fit.torque_ratio_residual),
        (fit.capacity, fit.capacity_residual),
    ):
        worst = np.argmax(np.abs(residual))
        assert misfit.largest == abs(residual[worst])
        assert misfit.at_speed_ratio == fit.speed_ratio[worst]
        assert misfit.rms == pytest.approx(np.sqrt(np.mean(residual**2)), rel=1e-12)


def test_fitted_geometry_holds_the_values():
    fit = fit_losses(blading(), noisy())
    shock, friction = fit.values
    assert fit.geometry == blading().with_losses(
        impeller=shock, turbine=shock, stator=shock, friction=friction
    )
    single = fit_losses(blading(), noisy(), factors=("turbine", "friction"))
    assert single.names == ("turbine", "friction")
    turbine, friction = single.values
    assert single.geometry == blading().with_losses(turbine=turbine, friction=friction)


def test_a_factor_that_does_nothing_is_not_determined():
    jacobian = np.array([[1.0, 0.0], [2.0, 0.0], [2.0, 0.0]])
    covariance, correlation, condition = _determined(jacobian, np.array([0.1, 0.2, -0.1]))
    assert np.isinf(covariance).all()
    assert np.isnan(correlation).all()
    assert covariance.shape == correlation.shape == (2, 2)
    assert condition == np.inf


def test_condition_does_not_hang_on_the_units_of_a_factor():
    # Columns at right angles, one ten thousand times as long: well determined both.
    jacobian = np.array([[1.0, 0.0], [0.0, 1e4], [0.0, 0.0], [0.0, 0.0]])
    residual = np.array([0.0, 0.0, 3.0, 1.0])
    covariance, correlation, condition = _determined(jacobian, residual)
    assert condition == pytest.approx(1.0)
    assert covariance == pytest.approx(5.0 * np.diag([1.0, 1e-8]))
    assert correlation == pytest.approx(np.eye(2))
    # As many numbers as factors: no residual to speak of, and no division by zero.
    covariance, _, _ = _determined(np.eye(2), np.array([3.0, 4.0]))
    assert covariance == pytest.approx(25.0 * np.eye(2))


@pytest.mark.parametrize(
    ("bounds", "held"),
    [
        ({"shock": (0.0, 0.5)}, ("shock",)),
        ({"shock": (1.3, 3.0)}, ("shock",)),
        ({"friction": (0.4, 3.0)}, ("friction",)),
        ({"shock": (0.0, 0.5), "friction": (0.02, 0.1)}, ("shock", "friction")),
        ({"shock": (0.5, 1.5), "friction": (0.1, 1.0)}, ()),
    ],
)
def test_factor_held_by_a_bound_is_named(bounds, held):
    fit = fit_losses(blading(), characteristic_from_blading(blading(), rows=25), bounds=bounds)
    assert fit.at_bound == held
    for name, value in zip(fit.names, fit.values, strict=True):
        low, high = bounds.get(name, (0.0, 3.0))
        assert low <= value <= high
    notes = {note.code: note for note in fit.notes}
    assert fit.notes[0].kind == "assumption"
    assert ("loss-factor-at-bound" in notes) == bool(held)
    if held:
        assert f"Ended on a bound: {', '.join(held)}." in notes["loss-factor-at-bound"].message


def test_inseparable_factors_are_named_in_pairs():
    planted = blading().with_losses(impeller=0.6, turbine=1.2, stator=0.45, friction=0.4)
    names = ("impeller", "turbine", "stator", "friction")
    fit = fit_losses(blading(), noisy(planted), factors=names)
    [note] = [n for n in fit.notes if n.code == "loss-factors-not-separable"]
    for i, one in enumerate(names):
        for j, other in enumerate(names[:i]):
            strong = abs(fit.correlation[i, j]) >= 0.95
            assert (f"{one} and {other}" in note.message) == strong
    assert f"condition number {fit.condition_number:.3g}" in note.message


@pytest.mark.parametrize(
    ("name", "pair"),
    [
        ("shock", (float(np.nextafter(0.0, -1.0)), 0.5)),
        ("shock", (0.5, 0.5)),
        ("shock", (0.5, float(np.nextafter(10.0, 11.0)))),
        ("shock", (float("nan"), 1.0)),
        ("friction", (0.0, 0.5)),
        ("friction", (0.6, 0.5)),
    ],
)
def test_bounds_that_are_none_are_refused(name, pair):
    with pytest.raises(InputError, match="not usable as bounds") as caught:
        fit_losses(blading(), noisy(), bounds={name: pair})
    assert caught.value.field == f"bounds.{name}"
    assert caught.value.found == f"{pair[0]:g} .. {pair[1]:g}"


@pytest.mark.parametrize("bounds", [{"shock": (0.0, 10.0)}, {"friction": (1e-9, 10.0)}])
def test_widest_bounds_are_accepted(bounds):
    fit = fit_losses(blading(), characteristic_from_blading(blading(), rows=9), bounds=bounds)
    assert fit.values == pytest.approx([0.9, 0.28], rel=1e-5)


@pytest.mark.parametrize("factors", [("shock",), ("shock", "friction"), ("friction", "shock")])
def test_shock_of_all_rows_goes_alone_or_with_friction(factors):
    fit = fit_losses(blading(), characteristic_from_blading(blading(), rows=9), factors=factors)
    assert fit.names == factors
    truth = {"shock": 0.9, "friction": 0.28}
    assert fit.values == pytest.approx([truth[name] for name in factors], rel=1e-5)


@pytest.mark.parametrize(
    ("factors", "found"),
    [
        (("friction", "friction"), "friction, friction"),
        (("shock", "stator"), "shock, stator"),
        (("shock", "friction", "impeller"), "shock, friction, impeller"),
    ],
)
def test_factors_that_do_not_go_together_are_named(factors, found):
    with pytest.raises(InputError) as caught:
        fit_losses(blading(), noisy(), factors=factors)
    assert (caught.value.field, caught.value.found) == ("factors", found)


def test_coupling_has_no_shock_factor_of_a_stator():
    shape = blading(mounting="none")
    measured = characteristic_from_blading(shape, rows=12)
    with pytest.raises(InputError, match="factors"):
        fit_losses(shape, measured, factors=("stator",))
    with pytest.raises(InputError, match="no factor to fit") as caught:
        fit_losses(shape, measured, factors=())
    assert caught.value.expected == "shock | friction | impeller | turbine"
    with pytest.raises(InputError, match="no factor to fit") as caught:
        fit_losses(blading(), noisy(), factors=())
    assert caught.value.expected == "shock | friction | impeller | turbine | stator"
    fit = fit_losses(shape, measured, factors=("turbine",))
    assert fit.values == pytest.approx([0.9], rel=1e-4)


def test_freely_turning_stator_is_measured_as_a_coupling():
    shape = blading(mounting="free")
    measured = characteristic_from_blading(shape, rows=12)
    assert measured.stator == "none"
    fit = fit_losses(shape.with_losses(friction=0.5), measured)
    assert fit.values == pytest.approx([0.9, 0.28], rel=1e-5)
    with pytest.raises(InputError, match="different ways") as caught:
        fit_losses(shape, noisy())
    wrong = caught.value
    assert (wrong.source, wrong.field, wrong.found, wrong.expected) == (
        "test-blading", "stator", "one-way", "none",
    )  # fmt: skip


def test_rows_must_outnumber_the_factors():
    def measured(*nu):
        return converter(
            speed_ratio=[*nu, 1.0],
            torque_ratio=[*np.interp(nu, [0, 0.9], [2.0, 1.0]), 1.0],
            capacity=[*np.interp(nu, [0, 0.9], [3e-3, 2e-3]), 0.0],
            coupling_speed_ratio=None,
        )

    every = ("impeller", "turbine", "stator", "friction")
    # Two numbers a row, and two more than there are factors: three rows for four factors.
    assert fit_losses(blading(), measured(0.0, 0.4, 0.8), factors=every).names == every
    with pytest.raises(InputError, match="too few measured rows") as caught:
        fit_losses(blading(), measured(0.0, 0.8), factors=every)
    assert (caught.value.source, caught.value.field) == ("test-converter", "speed_ratio")
    assert caught.value.found == "2 rows below speed ratio 1 for 4 factors"
