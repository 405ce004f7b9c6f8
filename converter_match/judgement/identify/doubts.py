"""What a log says that a converter cannot do, and what hints at work that nobody logged."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from converter_match.components.driveline import Driveline
from converter_match.components.engine import Engine
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
_FEWEST = 50  # samples
# One lbf.ft in N.m (NIST SP 811, appendix B.8). A signal at full load is within some percent of the
# engine's curve, and a capacity without loads that nobody logged within a tenth of the sheet.
_POUND_FOOT, _OFF_LOAD, _OFF_LEVEL = 1.3558179483, 0.06, 0.10
_FULL = 0.85  # of the curve: so much, and the unit is right
_STEPS = 400


@dataclass(frozen=True, eq=False)
class LoadSeen:
    """How much of the full load of an engine a log has, over all its pieces.

    Parameters
    ----------
    engine : Engine
    counts : ndarray of int, shape (_STEPS,)
        Samples by their share of full load.
    """

    engine: Engine
    counts: NDArray[np.int64] = field(default_factory=lambda: np.zeros(_STEPS, dtype=np.int64))

    def plus(self, speed: FloatArray, torque: FloatArray) -> LoadSeen:
        """Return it with samples: engine speed [rad/s] and torque [N.m], shape (n,)."""
        engine = self.engine
        inside = (speed >= engine.speed[0]) & (speed <= engine.rated_speed)
        share = torque[inside] / engine.full_load(speed[inside])
        at = np.clip(share * (_STEPS / 2.0), 0, _STEPS - 1).astype(np.int64)
        return replace(self, counts=self.counts + np.bincount(at, minlength=_STEPS))

    @property
    def top(self) -> float | None:
        """Share of full load that one sample of fifty is above; None for too few samples."""
        total = int(self.counts.sum())
        if total < _FEWEST:
            return None
        place = int(np.searchsorted(np.cumsum(self.counts), 0.98 * total))
        return (place + 0.5) / (_STEPS / 2.0)


def torque_unit_doubt(unit: float | None, top: float | None, level: float | None) -> Note | None:
    """Return whether the torque of a log looks as if it had another unit than its head says.

    Parameters
    ----------
    unit : float or None
        That of the head [N.m]; None for percent, or where nothing is known of it.
    top : float or None
        The most that the log has of the engine's full load, as a share.
    level : float or None
        Capacity over that of the sheet.

    Notes
    -----
    lbf.ft under a head of N.m are read as 0.74 times the torque, N.m under one of lbf.ft as 1.36
    times. A machine that is never at full load looks alike, so that this is a question.
    """
    if unit is None or not any(abs(unit / one - 1.0) < 0.01 for one in (1.0, _POUND_FOOT)):
        return None
    metric = unit < 1.1
    slip = 1.0 / _POUND_FOOT if metric else _POUND_FOOT
    head, meant = ("N.m", "lbf.ft") if metric else ("lbf.ft", "N.m")
    said: dict[str, float | str] = {"head": head, "meant": meant, "slip": slip}
    if top is not None and abs(top / slip - 1.0) < _OFF_LOAD:
        return WORDS.note("torque-unit-doubted", **said, share=top)
    sound = top is not None and metric and top > _FULL
    if level is not None and not sound and abs(level / slip - 1.0) < _OFF_LEVEL:
        return WORDS.note("torque-unit-doubted-by-sheet", **said, share=level)
    return None


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
