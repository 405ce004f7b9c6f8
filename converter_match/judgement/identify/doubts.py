"""What a log says that a converter cannot do, and what hints at work that nobody logged."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from converter_match.components.driveline import Driveline
from converter_match.components.gear import Gear
from converter_match.components.stall_datum import POSSIBLE_TORQUE_RATIO
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.identify.words import WORDS
from converter_match.notes import Note
from converter_match.physics.identify.identify import Fitted, Stretches

# More power out than in by so much, in so many of the samples, is no scatter: common practice, no
# source; torque and grade signals are wrong by several percent each.
_POWER, _SAMPLES = 1.10, 0.10
# Below it no speed ratio is large enough for an efficiency to mean much.
_TURNING = 0.1
# Less than this of the impeller's torque, below the coupling range, is not what a stator does.
_LEAST_RATIO, _BELOW = 0.8, 0.8
# Samples no faster than this stand; at stall the capacity scatters by less than this factor.
_STANDS, _ONE_NUMBER = 0.005, 1.25
# A tail of samples so far above the curve, and so much longer than the one below, is pump work.
_TAIL, _LONGER = 0.06, 2.0


def one_gear(cut: Stretches) -> NDArray[np.bool_]:
    """Return which stretches are in one gear, lock-up neither opening nor closing, shape (n,)."""
    whole = np.ones(cut.index.shape, dtype=bool)
    for name in ("gear", "lock-up"):
        if name in cut.mean:
            still = (np.abs(cut.slope[name]) < 1e-6) & (cut.scatter[name] < 1e-6)
            whole &= still & (np.abs(cut.mean[name] - np.round(cut.mean[name])) < 0.02)
    return whole


def gears_of(
    mean: Mapping[str, FloatArray], driveline: Driveline, named: str | None
) -> Iterator[tuple[Gear, NDArray[np.intp]]]:
    """Yield each gear with the samples that were driven in it.

    Parameters
    ----------
    mean : mapping
        Of the samples; ``gear``, where it was logged, counts from 1, reverse from -1, 0 neutral.
    driveline : Driveline
    named : str or None
        The gear of the whole log where it was not logged.

    Raises
    ------
    InputError
        If a gear was logged that the driveline does not have.
    """
    if "gear" not in mean:
        if named is not None:
            yield driveline.gear(named), np.arange(mean["turbine speed"].size)
        return
    numbers = np.round(mean["gear"])
    for number in np.unique(numbers[numbers != 0.0]):
        yield _gear(driveline, int(number)), np.flatnonzero(numbers == number)


def _gear(driveline: Driveline, number: int) -> Gear:
    direction = "forward" if number > 0 else "reverse"
    own = [gear for gear in driveline.gears if gear.direction == direction]
    for gear in own:
        if gear.name == str(number):
            return gear
    if abs(number) > len(own):
        raise InputError(
            "the log has a gear that the driveline does not have",
            source=driveline.id,
            field="gear",
            found=number,
            expected=f"1 to {len(own)}" if number > 0 else f"-1 to -{len(own)}",
        )
    return own[abs(number) - 1]


def check_energy(nu: FloatArray, torque_ratio: FloatArray, columns: Collection[str]) -> None:
    """Refuse a torque ratio by which the turbine would give more than the impeller takes.

    Parameters
    ----------
    nu, torque_ratio : ndarray, shape (n,)
        Of the samples; NaN where the torque ratio is not known.
    columns : collection of str
        Of the log.

    Raises
    ------
    InputError
        Saying how much, and what is likely.
    """
    known = np.isfinite(torque_ratio)
    turning = known & (nu > _TURNING)
    if turning.sum() < 12:
        turning = known
    if known.sum() < 12:
        return
    power = nu[turning] * torque_ratio[turning]
    torque = torque_ratio[known]
    over = float(np.mean(power > _POWER))
    great = float(np.mean(torque > POSSIBLE_TORQUE_RATIO[1]))
    if over <= _SAMPLES and great <= _SAMPLES:
        return
    by_grade = "turbine torque" not in columns
    hint = "turbine torque or engine torque in another unit?"
    if by_grade:
        hint = "is the mass right, and the grade?" if "gear" in columns else (
            "was all of it in that one gear? log the gear as a column"
        )  # fmt: skip
    found = (
        f"{np.quantile(power, 0.95):.2f} times the power in one of twenty stretches"
        if over > _SAMPLES
        else f"a torque ratio of {np.quantile(torque, 0.95):.1f} in one of twenty stretches"
    )
    raise InputError(
        "the turbine gives more than any converter can: this breaks energy",
        field="grade, gear" if by_grade else "turbine torque",
        found=found,
        expected="no more power at the turbine than at the impeller, and a torque ratio of at most "
        f"{POSSIBLE_TORQUE_RATIO[1]:g}",
        hint=hint,
    )


def check_turbine(nu: FloatArray, capacity: FloatArray) -> None:
    """Refuse a turbine that stands still while the torque says that it turned.

    Parameters
    ----------
    nu, capacity : ndarray, shape (n,)
        Of the samples.

    Raises
    ------
    InputError
        If all samples are at stall, and the capacity, there one number, is many.
    """
    if np.quantile(nu, 0.98) > _STANDS:
        return
    low, high = (float(q) for q in np.quantile(capacity, [0.1, 0.9]))
    if high > _ONE_NUMBER * low:
        raise InputError(
            "the turbine signal is dead: it says stall throughout, where capacity is one number",
            field="turbine speed",
            found=f"a capacity that differs by {100 * (high / low - 1.0):.0f} %",
            expected="a turbine speed that follows the machine, or nothing but stall holds",
        )


def doubts(
    nu: FloatArray,
    capacity: FloatArray,
    torque_ratio: FloatArray,
    fitted: Fitted,
    columns: Collection[str],
) -> list[Note]:
    """Return what the samples make one doubt, as notes.

    Parameters
    ----------
    nu, capacity, torque_ratio : ndarray, shape (n,)
        Of the samples.
    fitted : Fitted
        The capacity's curve.
    columns : collection of str
        Of the log.
    """
    notes = []
    low = np.isfinite(torque_ratio) & (nu < _BELOW)
    if low.sum() >= 12 and float(np.mean(torque_ratio[low] < _LEAST_RATIO)) > _SAMPLES:
        notes.append(WORDS.note("torque-ratio-below-one", least=_LEAST_RATIO))
    if "pump torque" not in columns:
        tail = _tail(nu, capacity, fitted)
        if tail is not None:
            notes.append(WORDS.note("pump-work-suspected", tail=tail))
    return notes


def _tail(nu: FloatArray, capacity: FloatArray, fitted: Fitted) -> float | None:
    """Return by what share one sample of twenty lies above the curve, if that is one-sided."""
    node, value = fitted.node[fitted.covered], fitted.value[fitted.covered]
    if node.size < 2:
        return None
    # Only where the curve is known on both sides, and not so steep that a hundredth of speed ratio
    # is a tail by itself.
    index = np.flatnonzero(fitted.covered)
    after = np.clip(np.searchsorted(node, nu), 1, node.size - 1)
    inside = (nu >= node[0]) & (nu <= min(node[-1], _BELOW)) & (np.diff(index)[after - 1] == 1)
    if inside.sum() < 40:
        return None
    off = capacity[inside] / np.interp(nu[inside], node, value) - 1.0
    below, above = (float(q) for q in np.quantile(off, [0.05, 0.95]))
    return above if above > _TAIL and above > _LONGER * max(-below, 0.0) else None
