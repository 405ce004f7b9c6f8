"""Fit the loss factors of a blading to a measured characteristic, and say how good the fit is.

Radii and angles are kept; shock and friction factors are moved, within bounds, until torque ratio
and capacity come as near to the measured rows as they can (least squares, torque ratio as a share
of its stall value, capacity as a share of its highest value, so that both weigh alike).

Two factors by default: one shock factor for all rows, one friction factor. The shock factors of
single rows can be asked for, but their effects on a characteristic are nearly alike. Friction
factors of single rows could not be told apart at all: only their sum, weighted by 1 + tan^2 of the
exit angles, enters the equations.

How well a factor is pinned down by the data is part of the answer: standard errors and correlations
come from the Jacobian J at the optimum, ``cov = s^2 (J^T J)^-1``, s^2 the residual variance. They
measure scatter under this model; that the model itself is coarse is not in them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from converter_match.components.base import require_choice
from converter_match.components.blading import BladingGeometry
from converter_match.components.converter import Converter
from converter_match.curves import FloatArray, frozen_array
from converter_match.errors import InputError
from converter_match.notes import Note
from converter_match.physics.converter.blading import BladingPoints, operate

Factor = Literal["shock", "friction", "impeller", "turbine", "stator"]
FACTORS: tuple[Factor, ...] = get_args(Factor)
# Wider than any loss factor met in practice (common practice, no source).
DEFAULT_BOUNDS: Mapping[Factor, tuple[float, float]] = {
    "shock": (0.0, 3.0),
    "impeller": (0.0, 3.0),
    "turbine": (0.0, 3.0),
    "stator": (0.0, 3.0),
    "friction": (0.02, 3.0),
}
# Above this the columns of the Jacobian are nearly dependent, and some mixture of the factors is
# free to move (D. A. Belsley, E. Kuh, R. E. Welsch, Regression Diagnostics, 1980; from memory).
_ILL_CONDITIONED = 30.0
_STRONG_CORRELATION = 0.95


@dataclass(frozen=True)
class Misfit:
    """How far one quantity of the fitted model lies from the measured rows.

    Parameters
    ----------
    quantity : str
    rms, largest : float
        Root mean square and largest absolute difference, as a share of `scale`.
    at_speed_ratio : float
        Where the largest difference is.
    scale : float
        Stall torque ratio, or highest capacity [N.m/(rad/s)^2].
    """

    quantity: str
    rms: float
    largest: float
    at_speed_ratio: float
    scale: float


@dataclass(frozen=True, eq=False)
class BladingFit:
    """A blading whose loss factors were fitted, and the quality of the fit.

    Parameters
    ----------
    geometry : BladingGeometry
        With the fitted factors.
    names : tuple of str
        Factors that were moved.
    values, standard_errors : ndarray, shape (k,)
        Infinite error where the data do not determine the factor at all.
    covariance, correlation : ndarray, shape (k, k)
    condition_number : float
        Of the Jacobian with its columns scaled to unit length; large means that some mixture of
        factors is not determined.
    at_bound : tuple of str
        Factors that ended on a bound.
    torque_ratio, capacity : Misfit
    speed_ratio, torque_ratio_residual, capacity_residual : ndarray, shape (n,)
        Model less measured, as shares of the scales.
    notes : tuple of Note
    """

    geometry: BladingGeometry
    names: tuple[Factor, ...]
    values: FloatArray
    standard_errors: FloatArray
    covariance: FloatArray
    correlation: FloatArray
    condition_number: float
    at_bound: tuple[Factor, ...]
    torque_ratio: Misfit
    capacity: Misfit
    speed_ratio: FloatArray
    torque_ratio_residual: FloatArray
    capacity_residual: FloatArray
    notes: tuple[Note, ...]


def fit_losses(
    geometry: BladingGeometry,
    measured: Converter,
    *,
    factors: Sequence[Factor] | None = None,
    bounds: Mapping[Factor, tuple[float, float]] | None = None,
) -> BladingFit:
    """Return the blading with loss factors fitted to a measured characteristic.

    Parameters
    ----------
    geometry : BladingGeometry
        Its own factors are the start; its stator must be held as the measured one is.
    measured : Converter
        Rows with speed ratio below 1 are used, as many as there are.
    factors : sequence of str, optional
        Which to move: ``shock`` (one for all rows; the default, with ``friction``), or the shock
        factors of single rows, ``impeller``, ``turbine``, ``stator``.
    bounds : mapping, optional
        (lowest, highest) of a factor, where `DEFAULT_BOUNDS` do not suit.

    Returns
    -------
    BladingFit

    Raises
    ------
    InputError
        If the stators differ in kind, a factor is unknown or named twice, bounds are crossed, or
        there are fewer measured numbers than factors.
    """
    kind = "none" if geometry.mounting == "free" else geometry.mounting
    if kind != measured.stator:
        raise InputError(
            "blading and measurement hold the stator in different ways",
            source=measured.id,
            field="stator",
            found=measured.stator,
            expected=kind,
        )
    names = _names(geometry, factors)
    limits = _limits(names, bounds)
    rows = measured.characteristic
    below = rows.speed_ratio < 1.0
    nu = rows.speed_ratio[below]
    mu, capacity = rows.torque_ratio[below], rows.capacity[below]
    mu_scale, capacity_scale = float(np.abs(mu).max()), float(np.abs(capacity).max())
    if 2 * nu.size < len(names) + 2:
        raise InputError(
            "too few measured rows for the factors to be fitted",
            source=measured.id,
            field="speed_ratio",
            found=f"{nu.size} rows below speed ratio 1 for {len(names)} factors",
        )

    def residuals(x: FloatArray) -> FloatArray:
        at = operate(_with(geometry, names, x), nu)
        return np.concatenate(
            [(_torque_ratio(at) - mu) / mu_scale, (at.capacity - capacity) / capacity_scale]
        )

    from scipy.optimize import least_squares  # slow to import: only when something is fitted

    low, high = limits
    start = np.clip(_values(geometry, names), low + 1e-6 * (high - low), high - 1e-6 * (high - low))
    found = least_squares(
        residuals, start, bounds=(low, high), jac="3-point", xtol=1e-13, ftol=1e-13, gtol=1e-13
    )
    x = np.asarray(found.x, dtype=np.float64)
    r = residuals(x)
    n = nu.size
    covariance, correlation, condition = _determined(np.asarray(found.jac), r)
    errors = np.sqrt(np.diag(covariance))
    at_bound = tuple(
        name
        for name, value, a, b in zip(names, x, low, high, strict=True)
        if min(value - a, b - value) < 1e-4 * (b - a)
    )
    return BladingFit(
        geometry=_with(geometry, names, x),
        names=names,
        values=frozen_array(x),
        standard_errors=frozen_array(errors),
        covariance=frozen_array(covariance),
        correlation=frozen_array(correlation),
        condition_number=condition,
        at_bound=at_bound,
        torque_ratio=_misfit("torque ratio", nu, r[:n], mu_scale),
        capacity=_misfit("capacity", nu, r[n:], capacity_scale),
        speed_ratio=frozen_array(nu),
        torque_ratio_residual=frozen_array(r[:n]),
        capacity_residual=frozen_array(r[n:]),
        notes=_notes(names, at_bound, correlation, condition),
    )


def _names(geometry: BladingGeometry, factors: Sequence[Factor] | None) -> tuple[Factor, ...]:
    if factors is None:
        return ("shock", "friction")
    present = tuple(name for name in FACTORS if name != "stator" or geometry.mounting != "none")
    if not factors:
        raise InputError("no factor to fit", field="factors", expected=" | ".join(present))
    for name in factors:
        require_choice(name, "factors", present)
    if len(set(factors)) < len(factors):
        raise InputError("a factor is named twice", field="factors", found=", ".join(factors))
    if "shock" in factors and set(factors) - {"shock", "friction"}:
        raise InputError(
            "'shock' stands for the shock factors of all rows",
            field="factors",
            found=", ".join(factors),
            expected="either 'shock', or rows by name",
        )
    return tuple(factors)


def _limits(
    names: tuple[Factor, ...], bounds: Mapping[Factor, tuple[float, float]] | None
) -> tuple[FloatArray, FloatArray]:
    for name in bounds or {}:
        require_choice(name, "bounds", names)
    pairs = [(bounds or {}).get(name, DEFAULT_BOUNDS[name]) for name in names]
    for name, (low, high) in zip(names, pairs, strict=True):
        if not 0.0 <= low < high <= 10.0 or (name == "friction" and low == 0.0):
            raise InputError(
                "not usable as bounds",
                field=f"bounds.{name}",
                found=f"{low:g} .. {high:g}",
                expected="0 <= lowest < highest <= 10, and friction above zero",
            )
    return np.array([low for low, _ in pairs]), np.array([high for _, high in pairs])


def _values(geometry: BladingGeometry, names: tuple[Factor, ...]) -> FloatArray:
    rows = {"impeller": geometry.impeller, "turbine": geometry.turbine}
    if geometry.stator is not None and geometry.mounting != "none":
        rows["stator"] = geometry.stator
    values = {name: row.shock_factor for name, row in rows.items()}
    values["shock"] = float(np.mean(list(values.values())))
    values["friction"] = geometry.friction_factor
    return np.array([values[name] for name in names])


def _with(geometry: BladingGeometry, names: tuple[Factor, ...], x: FloatArray) -> BladingGeometry:
    given: dict[str, float] = dict(zip(names, x.tolist(), strict=True))
    shock = given.pop("shock", None)
    if shock is not None:
        given |= {"impeller": shock, "turbine": shock}
        if geometry.stator is not None:
            given["stator"] = shock
    return geometry.with_losses(**given)


def _torque_ratio(at: BladingPoints) -> FloatArray:
    """Torque ratio, taken as 1 where nothing circulates: only the capacity is wrong there."""
    return np.where(at.circulates, at.torque_ratio, 1.0)


def _determined(jacobian: FloatArray, residual: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    """Covariance, correlation and condition number from the Jacobian at the optimum."""
    k = jacobian.shape[1]
    _, singular, right = np.linalg.svd(jacobian, full_matrices=False)
    lengths = np.linalg.norm(jacobian, axis=0)
    values = np.linalg.svd(jacobian / np.where(lengths > 0, lengths, 1.0), compute_uv=False)
    condition = float(values[0] / values[-1]) if values[-1] > 0 else float("inf")
    variance = float(residual @ residual) / max(residual.size - k, 1)
    free = singular <= 1e-12 * singular[0]
    if free.any():
        covariance = np.full((k, k), np.inf)
        return covariance, np.full((k, k), np.nan), condition
    inverse = (right.T / singular**2) @ right
    spread = np.sqrt(np.diag(inverse))
    return variance * inverse, inverse / np.outer(spread, spread), condition


def _misfit(quantity: str, nu: FloatArray, residual: FloatArray, scale: float) -> Misfit:
    worst = int(np.argmax(np.abs(residual)))
    return Misfit(
        quantity,
        float(np.sqrt(np.mean(residual**2))),
        float(abs(residual[worst])),
        float(nu[worst]),
        scale,
    )


def _notes(
    names: tuple[Factor, ...],
    at_bound: tuple[Factor, ...],
    correlation: FloatArray,
    condition: float,
) -> tuple[Note, ...]:
    notes = [
        Note(
            "loss-factors-fitted",
            "The loss factors were fitted to the measured characteristic; radii and blade angles "
            "were kept as given.",
            "assumption",
        )
    ]
    if at_bound:
        notes.append(
            Note(
                "loss-factor-at-bound",
                f"Ended on a bound: {', '.join(at_bound)}. The geometry may not be the one that "
                "was measured, or the bounds are too tight.",
            )
        )
    pairs = [
        f"{names[i]} and {names[j]}"
        for i in range(len(names))
        for j in range(i)
        if not abs(correlation[i, j]) < _STRONG_CORRELATION
    ]
    if pairs or condition > _ILL_CONDITIONED:
        which = f" ({'; '.join(pairs)})" if pairs else ""
        notes.append(
            Note(
                "loss-factors-not-separable",
                f"The data do not tell some factors apart{which}: condition number "
                f"{condition:.3g}. Their mixture fits, each by itself means little; fit fewer.",
            )
        )
    return tuple(notes)
