"""What is odd about a converter's sheet: columns that contradict, rows off the line, wrong units.

Each rule is one function; what it finds is a note, a question to confirm, or an error.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from converter_match.components.coupling import resolve
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.library.assemble.columns import (
    COLUMN_GROSS,
    COLUMN_ROUNDING,
    EFFICIENCY_GROSS,
    EFFICIENCY_ROUNDING,
)
from converter_match.library.intake.converter_lines import capacity_off, corner, ratio_off
from converter_match.library.intake.guess import OIL_FOR_CHECKS
from converter_match.library.intake.off_line import off_the_grid
from converter_match.library.intake.problem import Problem, error, note, question
from converter_match.library.intake.words import said
from converter_match.library.odd.converter import LAMBDA_SPAN, STALL_K
from converter_match.units import from_si, note_text, to_si

STALL_RATIO = (1.5, 5.0)
COUPLING_SPAN = (0.65, 0.97)
_SHOWN = 6


@dataclass(frozen=True, kw_only=True)
class Understood:
    """A converter's sheet in SI, as far as it is understood.

    Parameters
    ----------
    rows : tuple of str
        What to call each row.
    speed_ratio : ndarray, shape (n,)
    torque_ratio, capacity, efficiency : ndarray, shape (n,), or None
    others : tuple of (str, str, ndarray)
        Further capacity columns: number, place, capacity [N.m/(rad/s)^2] with NaN for none.
    capacity_place, capacity_key, capacity_unit : str
    stator : str
        Empty if not known.
    coupling : float or None
        As stated.
    diameter, density : float or None
        [m], [kg/m^3].
    """

    rows: tuple[str, ...]
    speed_ratio: FloatArray
    torque_ratio: FloatArray | None
    capacity: FloatArray | None
    efficiency: FloatArray | None
    efficiency_number: int
    others: tuple[tuple[int, str, FloatArray], ...]
    capacity_place: str
    capacity_key: str
    capacity_unit: str
    stator: str
    coupling: float | None
    diameter: float | None
    density: float | None


def check(sheet: Understood) -> list[Problem]:
    """Return everything that is odd about a converter's sheet."""
    return [found for rule in _RULES for found in rule(sheet)]


def efficiency_agrees(sheet: Understood) -> Iterator[Problem]:
    """Compare the efficiency column with speed ratio x torque ratio."""
    eta, mu, nu = sheet.efficiency, sheet.torque_ratio, sheet.speed_ratio
    if eta is None or mu is None:
        return
    inside = np.isfinite(eta) & np.isfinite(mu) & (nu >= 0) & (nu <= 1)
    off = np.where(inside, np.abs(eta - nu * mu), 0.0)
    ignore = f"to correct: --leave-out ROW, or --ignore {sheet.efficiency_number}"
    gross = np.flatnonzero(off > EFFICIENCY_GROSS).tolist()
    if gross:
        yield error(
            "efficiency-contradicts",
            answer=ignore,
            rows=_listed(sheet, gross, lambda r: f"{eta[r]:.3f}, not {nu[r] * mu[r]:.3f}"),
        )
    small = np.flatnonzero((off > EFFICIENCY_ROUNDING) & (off <= EFFICIENCY_GROSS)).tolist()
    if small:
        yield question(
            "efficiency-off",
            key="efficiency",
            answer=ignore,
            rows=_listed(sheet, small, lambda r: f"{eta[r]:.3f}, not {nu[r] * mu[r]:.3f}"),
        )
    if inside.any() and not gross and not small:
        yield note("efficiency-agrees")


def efficiency_below_one(sheet: Understood) -> Iterator[Problem]:
    """Refuse energy from nowhere."""
    nu, mu = sheet.speed_ratio, sheet.torque_ratio
    if mu is None:
        return
    bad = np.flatnonzero((nu >= 0) & (nu <= 1) & (nu * mu > 1 + 1e-9)).tolist()
    if bad:
        yield error(
            "efficiency-above-one",
            answer="to correct: --leave-out ROW, or another --unit or --column",
            rows=_listed(sheet, bad, lambda r: f"{nu[r]:.4g} x {mu[r]:.4g} = {nu[r] * mu[r]:.3f}"),
        )


def capacities_agree(sheet: Understood) -> Iterator[Problem]:
    """Compare further capacity columns with the one that is used: K against torque."""
    used, nu = sheet.capacity, sheet.speed_ratio
    if used is None:
        return
    for number, place, other in sheet.others:
        known = np.isfinite(used) & np.isfinite(other) & (nu < 0.985)
        if not known.any():
            continue
        scale = np.maximum(np.abs(used), np.abs(other))
        off = np.where(known, np.abs(other - used) / np.where(scale > 0, scale, 1.0), 0.0)
        rows = np.flatnonzero(off > COLUMN_ROUNDING).tolist()
        if not rows:
            yield note("capacities-agree", place, other=sheet.capacity_place)
            continue
        both = known & (used != 0)
        ratio = float(np.median(other[both] / used[both])) if both.any() else 1.0
        throughout = len(rows) > 0.8 * int(known.sum())
        share = np.divide(other, used, out=np.full_like(used, np.inf), where=both)
        differs = {
            "other": sheet.capacity_place,
            "rows": _listed(sheet, rows, _percents(share)),
            "hint": _explained(ratio) if throughout else "",
        }
        answer = f"to correct: --unit {number}=UNIT, --leave-out ROW, or --ignore {number}"
        if off.max() > COLUMN_GROSS:
            yield error("capacity-contradicts", place, answer=answer, **differs)
        else:
            key = f"capacity:{number}"
            yield question("capacity-differs", place, key=key, answer=answer, **differs)


def _percents(share: FloatArray) -> Callable[[int], str]:
    return lambda row: (
        f"{100 * (share[row] - 1):+.1f} %" if np.isfinite(share[row]) else said("not-zero")
    )


def _explained(ratio: float) -> str:
    """Name the slip that a constant ratio between two capacity columns gives away."""
    pound_foot = to_si(1.0, "lbf.ft", "torque")
    for factor, words in (
        (pound_foot, "N.m and lbf.ft"),
        (to_si(1.0, "kgf.m", "torque"), "N.m and kgf.m"),
        (to_si(1.0, "hp", "power") / to_si(1.0, "PS", "power"), "hp and PS"),
    ):
        for candidate in (factor, 1 / factor):
            if abs(ratio / candidate - 1) < 0.01 and abs(candidate - 1) > 0.02:
                return said("factor-of-units", factor=ratio, units=words)
    return said("factor-throughout", factor=ratio)


def stall_ratio_usual(sheet: Understood) -> Iterator[Problem]:
    """Question a stall torque ratio outside the usual span."""
    if sheet.torque_ratio is None or sheet.stator == "none":
        return
    row = int(np.argmin(np.abs(sheet.speed_ratio)))
    if abs(sheet.speed_ratio[row]) > 1e-9:
        nearest = float(sheet.speed_ratio[row])
        yield question("no-stall-row", key="no-stall-row", nearest=nearest)
        return
    ratio = float(sheet.torque_ratio[row])
    low, high = STALL_RATIO
    if not low <= ratio <= high:
        yield question("stall-ratio-unusual", sheet.rows[row], key="stall-ratio", ratio=ratio,
                       low=low, high=high)  # fmt: skip


def torque_ratio_falls(sheet: Understood) -> Iterator[Problem]:
    """Question a torque ratio that rises with speed ratio by more than printed digits."""
    nu, mu = sheet.speed_ratio, sheet.torque_ratio
    if mu is None:
        return
    inside = (nu[:-1] >= 0) & (nu[1:] <= 1)
    for row in np.flatnonzero(inside & (np.diff(mu) > 0.01)).tolist():
        where = f"{sheet.rows[row]} to {sheet.rows[row + 1]}"
        answer = "to answer: --leave-out ROW"
        key = f"rise:{sheet.rows[row + 1].split()[-1]}"
        yield question("torque-ratio-rises", where, key=key, answer=answer, before=mu[row],
                       after=mu[row + 1])  # fmt: skip


def kink_plausible(sheet: Understood) -> Iterator[Problem]:
    """Say where the coupling point was found, and question an unusual one."""
    mu, c = sheet.torque_ratio, sheet.capacity
    if mu is None or c is None or sheet.stator != "one-way":
        return
    if not (np.isfinite(mu).all() and np.isfinite(c).all()):
        return
    try:
        rows = resolve(sheet.speed_ratio, mu, c, "one-way", sheet.coupling)
    except InputError as refusal:
        answer = "to correct: --coupling-speed-ratio ..."
        yield error("coupling-point", sentence="as-said", answer=answer, what=refusal)
        return
    for each in rows.notes:
        yield note(each.code, sentence="as-said", what=note_text(each, "si"))
    low, high = COUPLING_SPAN
    if rows.coupling is not None and not low <= rows.coupling <= high:
        at = rows.coupling
        yield question("coupling-unusual", key="coupling", at=at, low=low, high=high)


def rows_on_the_line(sheet: Understood) -> Iterator[Problem]:
    """Question rows that lie off the line of the others: capacity and torque ratio."""
    nu, mu, c = sheet.speed_ratio, sheet.torque_ratio, sheet.capacity
    if mu is not None and np.isfinite(mu).all() and sheet.stator != "none":
        for row, off in ratio_off(nu, mu, sheet.stator, sheet.coupling):
            yield _off(sheet, row, "torque ratio", off)
    if c is not None and np.isfinite(c).all():
        for row, off in capacity_off(nu, mu, c, sheet.stator, sheet.coupling):
            yield _off(sheet, row, "capacity", off)


def capacity_falls_beyond(sheet: Understood) -> Iterator[Problem]:
    """Refuse a K that falls beyond the coupling point, over more than one row."""
    nu, mu, c = sheet.speed_ratio, sheet.torque_ratio, sheet.capacity
    if mu is None or c is None or sheet.stator != "one-way" or not np.isfinite(c).all():
        return
    first = corner(nu, mu, sheet.coupling)
    if first is None:
        return
    beyond = np.flatnonzero((np.arange(nu.size) > first) & (nu < 1.0) & (c > 0.0))
    if beyond.size >= 2 and np.all(c[beyond] > 1.02 * c[first]):
        before, after = (
            float(from_si(value**-0.5, "rpm/sqrt(N.m)", "k_factor"))
            for value in (float(c[first]), float(c[beyond[-1]]))
        )
        answer = "to correct: --leave-out ROW, or read it again"
        yield error("capacity-rises-beyond", sheet.capacity_place, answer=answer, before=before,
                    after=after, at=float(nu[first]))  # fmt: skip


def steps_even(sheet: Understood) -> Iterator[Problem]:
    """Question a speed ratio that breaks the even steps of the others."""
    for row, middle in off_the_grid(sheet.speed_ratio):
        number = sheet.rows[row].split()[-1]
        yield question("row-off-the-grid", sheet.rows[row], key=f"grid:{number}",
                       answer=f"to answer: --leave-out {number}", what="speed ratio",
                       value=f"{sheet.speed_ratio[row]:.4g}", middle=f"{middle:.4g}")  # fmt: skip


def _off(sheet: Understood, row: int, what: str, off: float) -> Problem:
    number = sheet.rows[row].split()[-1]
    key = f"outlier:{what.split()[0]}:{number}"
    answer = f"to answer: --leave-out {number}"
    return question("row-off-the-line", sheet.rows[row], key=key, answer=answer, what=what,
                    off=100 * off)  # fmt: skip


def size_at_stall(sheet: Understood) -> Iterator[Problem]:
    """Question the size of the capacity where no diameter tells more of it."""
    c = sheet.capacity
    if c is None or sheet.diameter is not None or sheet.speed_ratio[0] > 0:
        return
    capacity = float(c[int(np.argmin(np.abs(sheet.speed_ratio)))])
    if not 0.0 < capacity < np.inf:
        return
    k = float(from_si(capacity**-0.5, "rpm/sqrt(N.m)", "k_factor"))
    low, high = STALL_K
    if not low <= k <= high:
        answer = f"to answer: --unit {sheet.capacity_key}=UNIT"
        yield question("stall-k-unusual", sheet.capacity_place, key="stall-k", answer=answer, k=k,
                       low=low, high=high)  # fmt: skip


def lambda_plausible(sheet: Understood) -> Iterator[Problem]:
    """Question the unit of the capacity by the performance coefficient at stall."""
    c, diameter = sheet.capacity, sheet.diameter
    if c is None or diameter is None or sheet.speed_ratio[0] > 0:
        return
    row = int(np.argmin(np.abs(sheet.speed_ratio)))
    density = sheet.density or OIL_FOR_CHECKS
    coefficient = float(c[row]) / (density * diameter**5)
    if not np.isfinite(coefficient):
        return
    low, high = LAMBDA_SPAN
    taken = "" if sheet.density else said("oil-taken-for-check", density=OIL_FOR_CHECKS)
    values: dict[str, Any] = {"value": coefficient, "low": low, "high": high, "oil": taken}
    if low <= coefficient <= high:
        yield note("lambda-usual", **values)
        return
    others = []
    pound_foot = to_si(1.0, "lbf.ft", "torque")
    torque_units: tuple[tuple[str, str, float], ...] = (
        ("lbf.ft", "N.m", pound_foot),
        ("kgf.m", "N.m", to_si(1.0, "kgf.m", "torque")),
    )
    if "lb" in sheet.capacity_unit.casefold():
        torque_units = (("N.m", "lbf.ft", 1.0 / pound_foot),)
    diameter_units = (("in", "mm", 25.4**-5), ("mm", "in", 25.4**5))
    for meant, read, factor in (*torque_units, *diameter_units):
        if low <= coefficient * factor <= high:
            others.append(
                said("other-unit-makes", meant=meant, read=read, value=coefficient * factor)
            )
    fitting = (float(c[row]) / (density * 3e-3)) ** 0.2
    yield question(
        "unit-probably-wrong",
        sheet.capacity_place,
        key="lambda",
        answer=f"to answer: --unit {sheet.capacity_key}=UNIT, or --profile-diameter ...",
        hint="; ".join(others) or said("diameter-fits", diameter=1000 * fitting),
        **values,
    )


def _listed(sheet: Understood, rows: list[int], say: Callable[[int], str]) -> str:
    parts = [f"{sheet.rows[row]} {say(row)}" for row in rows[:_SHOWN]]
    more = said("and-more-rows", count=len(rows) - _SHOWN) if len(rows) > _SHOWN else ""
    return "; ".join(parts) + more


_RULES = (
    efficiency_agrees,
    efficiency_below_one,
    capacities_agree,
    stall_ratio_usual,
    torque_ratio_falls,
    kink_plausible,
    rows_on_the_line,
    capacity_falls_beyond,
    steps_even,
    lambda_plausible,
    size_at_stall,
)
