"""Units that are not stated: what they probably are and why. A proposal, never a decision.

What tells a unit: another column that says the same thing (power = torque x speed; K and the
torque absorbed), the size of the numbers, the company it keeps on the sheet, and for the capacity
the plausible span of the performance coefficient when the diameter is known.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from converter_match.components.capacity_forms import (
    AS_SPEED,
    AT_SPEED,
    AT_TORQUE,
    FORMS,
    CapacityBasis,
    to_capacity,
)
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.library.intake.answers import CONVERTER_FACTS
from converter_match.library.intake.facts import fact_si
from converter_match.library.intake.problem import Problem, question
from converter_match.library.intake.table import SheetColumn, SheetTable
from converter_match.library.intake.words import said
from converter_match.library.odd.converter import LAMBDA_SPAN
from converter_match.units import to_si

OIL_FOR_CHECKS = 850.0
"""Oil density [kg/m3] taken for plausibility only, where none is given."""
AGREE = 0.02
_CANDIDATES: Mapping[str, tuple[str, ...]] = {
    "k_factor": ("rpm/sqrt(N.m)", "rpm/sqrt(lbf.ft)", "(rad/s)/sqrt(N.m)", "rpm/sqrt(kgf.m)"),
    "torque": ("N.m", "lbf.ft", "kgf.m"),
    "power": ("kW", "hp", "PS"),
    "capacity_coefficient": ("N.m/(rad/s)^2", "N.m/rpm^2", "lbf.ft/rpm^2"),
    "angular_speed": ("rpm", "rad/s", "rev/s"),
    "specific_fuel": ("g/kWh", "lb/(hp.h)"),
}
_US = ("lbf", "lb", "ft", "hp", "bhp", "in", "inch", "degF")
_METRIC = ("N.m", "Nm", "N·m", "kW", "mm", "kg", "degC", "bar")


@dataclass(frozen=True)
class Proposal:
    """A unit for a column, with the reasons."""

    unit: str
    reasons: tuple[str, ...]


def settle_units(table: SheetTable, facts: Mapping[str, str]) -> tuple[SheetTable, list[Problem]]:
    """Return the table with a unit for each column that can be given one, and what was asked.

    Parameters
    ----------
    table : SheetTable
    facts : mapping
        What stands beside the table.

    Returns
    -------
    table : SheetTable
        A proposed unit is in it already, so that every further check can be made at once; the
        question about it stands among the problems.
    problems : list of Problem
    """
    problems: list[Problem] = []
    columns = list(table.columns)
    for index, column in enumerate(columns):
        if column.unit or not column.dimension or not np.isfinite(column.values).any():
            continue
        if column.dimension == "ratio":
            columns[index], asked = _ratio(column)
        else:
            now = table.with_columns(columns)
            columns[index], asked = _proposed(column, _propose(column, now, facts))
        if asked is not None:
            problems.append(asked)
    settled = table.with_columns(columns)
    return settled, problems + _two_systems(settled, facts)


def _two_systems(table: SheetTable, facts: Mapping[str, str]) -> list[Problem]:
    """Ask about a capacity headed in metric units on a sheet that is otherwise in US units.

    K in rpm/sqrt(lbf.ft) is 16 % more than in rpm/sqrt(N.m), and makes 26 % less of the capacity:
    no size of it tells one from the other, only the company that it keeps, or a second column.
    """
    forms = table.having(*FORMS)
    if len(forms) != 1 or forms[0].unit_from not in ("heading", "cells"):
        return []
    [column] = forms
    others = [each.unit for each in table.columns if each is not column and each.unit]
    others += [text.split()[-1] for text in facts.values() if len(text.split()) > 1]
    us = sorted({unit for unit in others if any(sign in _words(unit) for sign in _US)})
    metric = any(sign in _words(unit) for unit in others for sign in _METRIC)
    if not us or metric or not any(sign in _words(column.unit) for sign in _METRIC):
        return []
    other = column.unit.replace("N.m", "lbf.ft").replace("Nm", "lbf.ft").replace("N·m", "lbf.ft")
    return [
        question("units-of-two-systems", column.place, key=f"system:{column.key}",
                 answer=f"to answer: --unit {column.key}={other}", unit=column.unit,
                 others=", ".join(us))
    ]  # fmt: skip


def _proposed(column: SheetColumn, proposal: Proposal | None) -> tuple[SheetColumn, Problem]:
    answer = f"to answer: --unit {column.number}=UNIT"
    if proposal is None:
        candidates = ", ".join(_CANDIDATES[column.dimension])
        return column, question("unit-missing", column.place, answer=answer, units=candidates)
    asked = question(
        "unit-inferred",
        column.place,
        key=f"unit:{column.key}",
        answer=answer,
        unit=proposal.unit,
        why="; ".join(proposal.reasons),
    )
    return replace(column, unit=proposal.unit, unit_from="inferred"), asked


def _ratio(column: SheetColumn) -> tuple[SheetColumn, Problem | None]:
    """Tell shares from percent by size: an efficiency of 85 can only be percent."""
    values = column.values[np.isfinite(column.values)]
    top = float(np.abs(values).max()) if values.size else 0.0
    proposal = None
    if column.role in ("speed_ratio", "efficiency", "slip"):
        if top > 3.0:
            proposal = Proposal("percent", (said("beyond-a-share", top=top),))
    elif column.role == "torque_ratio" and top > 20.0:
        proposal = Proposal("percent", (said("beyond-a-torque-ratio", top=top),))
    elif column.role == "performance_coefficient" and top > 0.1:
        proposal = Proposal("per mille", (said("beyond-lambda", top=top),))
    if proposal is None:
        return replace(column, unit_from="nature"), None
    found, asked = _proposed(column, proposal)
    return found, asked


def _propose(column: SheetColumn, table: SheetTable, facts: Mapping[str, str]) -> Proposal | None:
    left = {unit: list[str]() for unit in _CANDIDATES[column.dimension]}
    if column.role in FORMS:
        _by_other_capacity(column, table, facts, left)
        if len(left) > 1:
            _by_lambda(column, table, facts, left)
    elif column.dimension in ("torque", "power") and table.kind != "converter":
        _by_power(column, table, left)
    if column.dimension == "angular_speed":
        _by_size(column, left, _MOTOR_SPANS if table.kind == "motor" else _SPEED_SPANS)
    elif column.dimension == "specific_fuel":
        _by_size(column, left, _FUEL_SPANS)
    if len(left) > 1:
        _by_company(column, table, facts, left)
    chosen = [(unit, reasons) for unit, reasons in left.items() if reasons]
    if len(left) == 1:
        unit, reasons = next(iter(left.items()))
        return Proposal(unit, tuple(reasons)) if reasons else None
    return Proposal(chosen[0][0], tuple(chosen[0][1])) if len(chosen) == 1 else None


_SPEED_SPANS = {"rpm": (450.0, 8000.0), "rad/s": (100.0, 400.0), "rev/s": (8.0, 100.0)}
_MOTOR_SPANS = {"rpm": (1000.0, 25000.0), "rad/s": (100.0, 999.0), "rev/s": (8.0, 99.0)}
_FUEL_SPANS = {"g/kWh": (150.0, 600.0), "lb/(hp.h)": (0.25, 1.0)}


def _by_size(
    column: SheetColumn, left: dict[str, list[str]], spans: Mapping[str, tuple[float, float]]
) -> None:
    top = float(np.abs(column.values[np.isfinite(column.values)]).max())
    for unit in list(left):
        low, high = spans[unit]
        if low <= top <= high:
            left[unit].append(said("largest-is-usual", top=top))
        else:
            left.pop(unit)


def _keep_agreeing(
    left: dict[str, list[str]], other: FloatArray, in_si: Callable[[str], FloatArray], what: str
) -> None:
    """Keep the candidates with which the column agrees with what another one says."""
    agreeing = {}
    for unit in left:
        known = np.isfinite(other) & (other != 0)
        ratio = in_si(unit)[known] / other[known]
        ratio = ratio[np.isfinite(ratio)]
        if ratio.size >= 2 and float(np.median(np.abs(ratio - 1.0))) <= AGREE:
            agreeing[unit] = [said("agrees-with", what=what)]
    if len(agreeing) == 1:
        left.clear()
        left.update(agreeing)


_SAME_POINT: Mapping[str, tuple[str, ...]] = {
    "torque": ("power",),
    "power": ("torque", "continuous"),
    "peak": ("peak_power",),
    "peak_power": ("peak",),
    "continuous": ("continuous_power", "power"),
    "continuous_power": ("continuous",),
}
"""Torque -> its power, and the other way."""


def _by_power(column: SheetColumn, table: SheetTable, left: dict[str, list[str]]) -> None:
    """Power = torque x speed, where the two others are known."""
    speed = table.one("speed")
    roles = _SAME_POINT.get(column.role, ())
    other = next(iter(table.having(*roles)), None)
    if speed is None or other is None or not speed.unit or not other.unit:
        return
    with np.errstate(divide="ignore", invalid="ignore"):
        meant = other.si() / speed.si() if column.dimension == "torque" else other.si() * speed.si()
        _keep_agreeing(
            left,
            meant,
            lambda unit: np.asarray(to_si(column.values, unit, column.dimension)),
            said("power-of", place=other.place),
        )


def capacity_si(
    column: SheetColumn, unit: str, facts: Mapping[str, str], density: float | None = None
) -> FloatArray | None:
    """Return a capacity column as C [N.m/(rad/s)^2] if it had `unit`; None where it cannot be.

    Parameters
    ----------
    column : SheetColumn
        Of one of the forms.
    unit : str
    facts : mapping
        For the reference speed, diameter and density.
    density : float, optional
        Taken where the facts give none [kg/m^3].
    """
    try:
        speed = _reference(column, "reference_speed", AT_SPEED, facts)
        torque = _reference(column, "reference_torque", AT_TORQUE, facts)
        oil = fact_si("oil_density", facts["oil_density"])[2] if "oil_density" in facts else density
        basis = CapacityBasis(
            reference_speed=speed,
            reference_torque=torque,
            profile_diameter=diameter_of(facts),
            oil_density=oil,
        )
        values = np.asarray(to_si(column.values, unit, column.dimension))
        if column.role in AS_SPEED:
            known = values > 0
            capacity = to_capacity(column.role, np.where(known, values, 1.0), basis)  # type: ignore[arg-type]
            return np.where(known, capacity, np.nan)
        return to_capacity(column.role, values, basis)  # type: ignore[arg-type]
    except InputError:
        return None


def _reference(
    column: SheetColumn, fact: str, forms: Container[str], facts: Mapping[str, str]
) -> float | None:
    """Return the speed or torque that a column holds at, in SI: of its heading, or a fact."""
    if column.role not in forms:
        return None
    if column.reference is not None:
        dimension = CONVERTER_FACTS[fact] or ""
        return float(to_si(column.reference[0], column.reference[1], dimension))
    return fact_si(fact, facts[fact])[2] if fact in facts else None


def diameter_of(facts: Mapping[str, str]) -> float | None:
    """Return the profile diameter [m]; None where it is not known or cannot be read."""
    if "profile_diameter" not in facts:
        return None
    try:
        return fact_si("profile_diameter", facts["profile_diameter"])[2]
    except InputError:
        return None


def _by_other_capacity(
    column: SheetColumn, table: SheetTable, facts: Mapping[str, str], left: dict[str, list[str]]
) -> None:
    for other in table.having(*FORMS):
        if other is column or not other.unit or other.number == column.number:
            continue
        meant = capacity_si(other, other.unit, facts)
        if meant is None:
            continue

        def in_si(unit: str) -> FloatArray:
            capacity = capacity_si(column, unit, facts)
            return np.full(column.values.shape, np.nan) if capacity is None else capacity

        _keep_agreeing(left, meant, in_si, other.place)
        if len(left) == 1:
            return


def _by_lambda(
    column: SheetColumn, table: SheetTable, facts: Mapping[str, str], left: dict[str, list[str]]
) -> None:
    diameter = diameter_of(facts)
    if diameter is None:
        return
    low, high = LAMBDA_SPAN
    row, where = 0, said("in-first-row")
    leading = table.one("speed_ratio")
    if leading is not None and np.isfinite(leading.values).any():
        row = int(np.nanargmin(np.abs(leading.values)))
        nearest = float(leading.values[row])
        where = said("at-stall") if nearest == 0 else said("at-speed-ratio", at=nearest)
    given = fact_si("oil_density", facts["oil_density"])[2] if "oil_density" in facts else None
    density = given or OIL_FOR_CHECKS
    taken = "" if given else said("oil-taken", density=OIL_FOR_CHECKS)
    for unit in list(left):
        capacity = capacity_si(column, unit, facts, density)
        if capacity is None or not np.isfinite(capacity[row]):
            continue
        coefficient = float(capacity[row]) / (density * diameter**5)
        if low <= coefficient <= high:
            left[unit].append(
                said("makes-lambda", value=coefficient, where=where, low=low, high=high,
                     oil=taken)
            )  # fmt: skip
        else:
            left.pop(unit)
    if len(left) > 1:  # several are possible: that is no reason for any
        for reasons in left.values():
            reasons.clear()


def _by_company(
    column: SheetColumn, table: SheetTable, facts: Mapping[str, str], left: dict[str, list[str]]
) -> None:
    """US units keep company with US units on one sheet, metric ones with metric ones."""
    units = [each.unit for each in table.columns if each.unit_from in ("heading", "cells", "you")]
    units += [text.split()[-1] for text in facts.values() if len(text.split()) > 1]
    us = sum(any(sign in _words(unit) for sign in _US) for unit in units)
    metric = sum(any(sign in _words(unit) for sign in _METRIC) for unit in units)
    if bool(us) == bool(metric):
        return
    alike = sorted(
        {unit for unit in units if any(s in _words(unit) for s in (_US if us else _METRIC))}
    )
    system = "US" if us else "metric"
    for unit in list(left):
        belongs_to_us = any(sign in _words(unit) for sign in _US)
        if belongs_to_us == bool(us) and unit in (_US_CHOICE if us else _METRIC_CHOICE):
            left[unit].append(said("in-company", system=system, units=", ".join(alike)))
        else:
            left.pop(unit)


_US_CHOICE = ("rpm/sqrt(lbf.ft)", "lbf.ft", "hp", "lbf.ft/rpm^2", "lb/(hp.h)")
_METRIC_CHOICE = ("rpm/sqrt(N.m)", "N.m", "kW", "N.m/rpm^2", "g/kWh")


def _words(unit: str) -> Sequence[str]:
    text = unit
    for sign in "()[]/*^-·√ ":
        text = text.replace(sign, " ")
    return [*text.split(), *(part for word in text.split() for part in word.split("."))]
