"""Where the stator lets go: the coupling point of a tabulated characteristic.

With a one-way clutch under the stator the torque ratio falls to 1 at the coupling speed ratio and
stays there; torque ratio and capacity have a kink. If the sheet has no row at the kink, one is
added here, and said so, because an interpolant without it is wrong on both sides.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from converter_match.curves import Curve, FloatArray, frozen_array, real_roots_within
from converter_match.errors import InputError
from converter_match.notes import Note, assumption

# Rows this near to 1 count as 1: the second decimal is what test sheets print (40 CFR 1037.570).
AT_UNITY = 0.005
# How far before the first row at 1 the trend must reach 1 before a row is added for it.
_TREND_LEAD = 0.2


@dataclass(frozen=True)
class ResolvedRows:
    """Rows of a converter with the kink resolved.

    Parameters
    ----------
    speed_ratio, torque_ratio, capacity : ndarray, shape (n,)
        The rows given, plus at most one added at the coupling point.
    coupling : float or None
        Coupling speed ratio; None where the torque ratio does not fall to 1.
    kinks : tuple of float
        Speed ratios at which the slope jumps.
    notes : tuple of Note
        What was found, added or noticed.
    """

    speed_ratio: FloatArray
    torque_ratio: FloatArray
    capacity: FloatArray
    coupling: float | None
    kinks: tuple[float, ...]
    notes: tuple[Note, ...]


def resolve(
    nu: FloatArray, mu: FloatArray, capacity: FloatArray, stator: str, given: float | None
) -> ResolvedRows:
    """Return the characteristic with its coupling point found or checked.

    Parameters
    ----------
    nu, mu, capacity : ndarray, shape (n,)
        Speed ratio, torque ratio, capacity coefficient as given.
    stator : {"one-way", "fixed", "none"}
        Kind of stator.
    given : float or None
        Coupling speed ratio stated in the data.

    Raises
    ------
    InputError
        If a stated coupling speed ratio lies outside the data or contradicts it.
    """
    if stator == "none":
        if given is not None:
            raise InputError(
                "a fluid coupling has no stator that could freewheel, so it has no coupling point",
                field="coupling_speed_ratio",
                found=given,
                expected="no value, or a stator that is one-way or fixed",
            )
        note = Note(
            "no-coupling-point",
            "A fluid coupling has no stator: the torque ratio is 1 everywhere and there is no "
            "coupling point.",
            "assumption",
        )
        return ResolvedRows(nu, mu, capacity, None, (), (note,))
    if stator == "fixed":
        return _fixed(nu, mu, capacity, given)
    rows = _found(nu, mu, capacity) if given is None else _stated(nu, mu, capacity, given)
    return replace(rows, notes=rows.notes + _below_unity(rows))


def _fixed(
    nu: FloatArray, mu: FloatArray, capacity: FloatArray, given: float | None
) -> ResolvedRows:
    """Torque ratio passes through 1 smoothly: a point of interest, but no kink."""
    unity = Curve(nu, mu, name="torque ratio", x_name="speed ratio").crossings(1.0)
    unity = unity[(unity > 0) & (unity < 1)]
    coupling = float(unity[0]) if unity.size else None
    notes: tuple[Note, ...] = ()
    if coupling is not None:
        notes = (
            assumption(
                "unity-torque-ratio-found",
                f"Torque ratio 1 is passed at speed ratio {coupling:.4g}; the stator is fixed, so "
                "it does not freewheel there and the torque ratio goes on falling.",
            ),
        )
    if given is not None and (coupling is None or not abs(given - coupling) <= 0.02):
        raise InputError(
            "the stated coupling speed ratio is not where the torque ratio passes 1",
            field="coupling_speed_ratio",
            found=given,
            expected="no value" if coupling is None else f"about {coupling:.4g}",
        )
    return ResolvedRows(nu, mu, capacity, coupling, (), notes)


def _stated(nu: FloatArray, mu: FloatArray, capacity: FloatArray, given: float) -> ResolvedRows:
    at_end = abs(given - float(nu[-1])) <= 1e-9 and given < 1.0
    if not (at_end or max(float(nu[0]), 0.0) < given < min(float(nu[-1]), 1.0)):
        raise InputError(
            "the coupling speed ratio must lie inside the tabulated range and between 0 and 1",
            field="coupling_speed_ratio",
            found=given,
            expected=f"within {nu[0]:.4g} .. {min(float(nu[-1]), 1.0):.4g}",
        )
    row = int(np.argmin(np.abs(nu - given)))
    if abs(nu[row] - given) > 1e-9:
        row = int(np.searchsorted(nu, given))
        if mu[row - 1] < 1 - 0.02 or mu[row] > 1 + 0.1:
            raise InputError(
                "the torque ratio rows around the stated coupling speed ratio do not bracket 1",
                field="coupling_speed_ratio",
                found=given,
                expected=f"torque ratio near 1 there, not {mu[row - 1]:.4g} .. {mu[row]:.4g}",
            )
        note = assumption(
            "kink-row-added",
            f"The sheet has no row at its coupling speed ratio {given:.4g}: one was added with "
            "torque ratio 1 and the capacity that the rows before it lead to.",
        )
        return _with_row(nu, mu, capacity, given, (note, *_stated_late(nu, mu, given)))
    if abs(mu[row] - 1) > 0.1:
        raise InputError(
            "the torque ratio at the stated coupling speed ratio is not 1",
            field="coupling_speed_ratio",
            found=f"torque ratio {mu[row]:.4g} at speed ratio {given:.4g}",
            expected="torque ratio 1 at the coupling point",
        )
    notes = _stated_late(nu, mu, given)
    if abs(mu[row] - 1) > 0.02:
        notes += (
            Note(
                "coupling-torque-ratio-off",
                f"Torque ratio at the stated coupling speed ratio {given:.4g} is {mu[row]:.4g}, "
                "not 1; the rows were used as given.",
            ),
        )
    return ResolvedRows(nu, mu, capacity, float(nu[row]), _kink_at(nu, row), notes)


def _stated_late(nu: FloatArray, mu: FloatArray, given: float) -> tuple[Note, ...]:
    """Question a coupling point beyond rows at which the torque ratio has fallen to 1 already."""
    before = np.flatnonzero((nu > 0) & (nu < given - 1e-9) & (mu <= 1 + AT_UNITY))
    if not before.size:
        return ()
    row = int(before[0])
    return (
        Note(
            "coupling-stated-late",
            f"The coupling speed ratio is stated as {given:.4g}, but the torque ratio "
            f"has fallen to {mu[row]:.4g} at {nu[row]:.4g} already. The stated one was used: "
            f"check both, since "
            "torque ratio and capacity have their corner at the coupling point.",
        ),
    )


def _found(nu: FloatArray, mu: FloatArray, capacity: FloatArray) -> ResolvedRows:
    """Find the kink of a one-way stator from the torque ratio.

    The first row at 1 is the coupling point, unless the trend of the three rows before it (a
    parabola) reaches 1 clearly earlier, between two rows: then a row is added where it does.
    """
    candidates = np.flatnonzero((nu > 0) & (nu < 1) & (mu <= 1 + AT_UNITY))
    if not candidates.size:
        return ResolvedRows(nu, mu, capacity, None, (), (_not_reached(nu, mu),))
    if candidates[0] == 0 or mu[candidates[0] - 1] <= 1 + AT_UNITY:
        return ResolvedRows(nu, mu, capacity, None, (), (_passed_before(nu, candidates[0]),))
    row = int(candidates[0])
    at = _trend_reaches_unity(nu, mu, row)
    step = nu[row] - nu[row - 1]
    if at is not None and nu[row] - at > max(_TREND_LEAD * step, 0.008):
        note = assumption(
            "coupling-found-between-rows",
            f"Coupling speed ratio found as {at:.4g} from the trend of the torque ratio; the sheet "
            f"has no row there (neighbours {nu[row - 1]:.4g} and {nu[row]:.4g}), so one was added "
            "with torque ratio 1 and the capacity that the rows before it lead to.",
        )
        return _with_row(nu, mu, capacity, at, (note,))
    note = assumption(
        "coupling-found",
        f"Coupling speed ratio found as {nu[row]:.4g}: the first row whose torque ratio has fallen "
        f"to 1 (it is {mu[row]:.4g} there; the row before is at {nu[row - 1]:.4g}).",
    )
    return ResolvedRows(nu, mu, capacity, float(nu[row]), _kink_at(nu, row), (note,))


def _kink_at(nu: FloatArray, row: int) -> tuple[float, ...]:
    """Return a kink at a row; at the last row there is nothing behind it to divide."""
    return (float(nu[row]),) if row < nu.size - 1 else ()


def _trend_reaches_unity(nu: FloatArray, mu: FloatArray, row: int) -> float | None:
    """Where between rows `row` - 1 and `row` the extended torque ratio reaches 1, if it does."""
    first = max(row - 3, 0)
    x, y = nu[first:row], mu[first:row]
    if mu[row] < 1 - AT_UNITY:
        # The sheet goes below 1: the crossing lies between the two rows for certain.
        x, y = nu[row - 1 : row + 1], mu[row - 1 : row + 1]
    if x.size < 2:
        return None
    trend = np.polyfit(x - nu[row - 1], y - 1.0, x.size - 1)
    roots = real_roots_within(trend, float(nu[row] - nu[row - 1]))
    return float(nu[row - 1]) + roots[0] if roots and roots[0] > 0 else None


def _with_row(
    nu: FloatArray, mu: FloatArray, capacity: FloatArray, at: float, notes: tuple[Note, ...]
) -> ResolvedRows:
    """Add a row at the kink; the capacity there follows the rows before, between its neighbours."""
    row = int(np.searchsorted(nu, at))
    before, after = capacity[row - 1], capacity[row]
    led_to = before
    if row >= 2:
        slope = (before - capacity[row - 2]) / (nu[row - 1] - nu[row - 2])
        led_to = before + slope * (at - nu[row - 1])
    led_to = min(max(led_to, min(before, after)), max(before, after))
    return ResolvedRows(
        frozen_array(np.insert(nu, row, at)),
        frozen_array(np.insert(mu, row, 1.0)),
        frozen_array(np.insert(capacity, row, led_to)),
        at,
        (at,),
        notes,
    )


def _not_reached(nu: FloatArray, mu: FloatArray) -> Note:
    return Note(
        "coupling-not-reached",
        f"The torque ratio does not fall to 1 within the data (it is {mu[-1]:.4g} at the last "
        f"speed ratio, {nu[-1]:.4g}): no coupling point is known for this converter.",
    )


def _passed_before(nu: FloatArray, row: int) -> Note:
    return Note(
        "coupling-before-data",
        f"The torque ratio is 1 already at the first rows (up to speed ratio {nu[row]:.4g}): the "
        "coupling point, if there is one, lies before the data.",
    )


def _below_unity(rows: ResolvedRows) -> tuple[Note, ...]:
    """Question rows below 1: a freewheeling stator takes no torque, so mu stays at 1."""
    if rows.coupling is None:
        return ()
    beyond = (rows.speed_ratio > rows.coupling) & (rows.speed_ratio <= 1)
    low = np.flatnonzero(beyond & (rows.torque_ratio < 1 - 0.02))
    if not low.size:
        return ()
    row = int(low[np.argmin(rows.torque_ratio[low])])
    return (
        Note(
            "torque-ratio-below-one",
            f"Beyond the coupling point the torque ratio falls to {rows.torque_ratio[row]:.4g} (at "
            f"speed ratio {rows.speed_ratio[row]:.4g}). A one-way stator would keep it at 1: check "
            "the sheet, and whether the stator is fixed. The rows were used as given.",
        ),
    )
