"""Columns of a converter sheet that are made of others: ratios of speeds and of torques."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from converter_match.components.capacity_forms import AT_SPEED, AT_TORQUE, FORMS
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.library.intake.answers import CONVERTER_FACTS, Answers
from converter_match.library.intake.facts import fact_si, option_of
from converter_match.library.intake.problem import Problem, note, question
from converter_match.library.intake.table import SheetColumn, SheetTable
from converter_match.units import to_si

_SAME = 1e-6
_NEAR_STALL = 0.5
"""Rows beyond this speed ratio say nothing of stall."""


def worked_out(
    table: SheetTable, facts: Mapping[str, str], problems: list[Problem], *, smooth: bool
) -> tuple[SheetTable, Mapping[str, str]]:
    """Return the table with the columns that follow from others, and the facts in its headings.

    Parameters
    ----------
    table : SheetTable
        With units, as far as they are known.
    facts : mapping
        What stands beside the table.
    problems : list of Problem
        What was worked out is added.
    smooth : bool
        Whether the file will hold smoothed columns, so that it has to be told what they were.
    """
    facts = _with_constant_speed(table, facts, problems)
    table = _derived(table, facts, problems)
    table = _at_constant_torque(table, problems)
    return _from_efficiency(table, facts, problems, smooth=smooth), facts


def one_reference(
    table: SheetTable, facts: Mapping[str, str], answers: Answers, problems: list[Problem]
) -> SheetTable:
    """Return the table with the reference that the user gives; ask where the sheet has two.

    Parameters
    ----------
    table : SheetTable
    facts : mapping
        What stands beside the table, and what the user says.
    answers : Answers
    problems : list of Problem
        Added to.
    """
    columns = []
    for column in table.columns:
        fact = "reference_torque" if column.role in AT_TORQUE else "reference_speed"
        used = column.role in (*AT_TORQUE, *AT_SPEED, "turbine_speed")
        if column.reference is not None and used and known_fact(fact, facts) is not None:
            here = f"{column.reference[0]:.12g} {column.reference[1]}"
            dimension = CONVERTER_FACTS[fact] or ""
            own = to_si(column.reference[0], column.reference[1], dimension)
            apart = abs(float(own) / fact_si(fact, facts[fact])[2] - 1.0) > _SAME
            if fact in answers.facts:
                column = replace(column, reference=None)
                if apart:
                    problems.append(
                        note("fact-overruled", column.place, what="heading", fact=fact,
                             theirs=here, yours=facts[fact])
                    )  # fmt: skip
            elif apart:
                problems.append(
                    question("reference-twice", column.place, answer=option_of(fact), here=here,
                             elsewhere=facts[fact])
                )  # fmt: skip
        columns.append(column)
    return table.with_columns(columns)


def _from_efficiency(
    table: SheetTable, facts: Mapping[str, str], problems: list[Problem], *, smooth: bool
) -> SheetTable:
    """Add the torque ratio where the sheet gives the efficiency alone: mu = eta / nu.

    At stall both are zero: the limit is the slope of the efficiency there, which a parabola
    through the torque ratios of the next three rows gives. It is proposed, not taken.
    """
    eta, nu = table.one("efficiency"), table.one("speed_ratio")
    if eta is None or nu is None or table.one("torque_ratio") is not None:
        return table
    share = np.asarray(to_si(nu.values, nu.unit, "ratio"))
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = _gaps(np.asarray(to_si(eta.values, eta.unit, "ratio")) / share)
    problems.append(note("torque-ratio-from-efficiency", carried=smooth, column=eta.place))
    stalled = share == 0.0
    if stalled.any():
        told = known_fact("stall_torque_ratio", facts)
        ratio[stalled] = _at_stall(share, ratio) if told is None else told
        if told is None:
            answer = option_of("stall_torque_ratio")
            limit = float(ratio[stalled][0])
            problems.append(
                question("stall-ratio-unknown", key="stall-ratio", answer=answer, limit=limit)
                if np.isfinite(limit)
                else question("stall-ratio-unknown", sentence="stall-ratio-open", answer=answer)
            )
    error = eta.tolerance
    if error is not None:
        with np.errstate(divide="ignore", invalid="ignore"):
            part = np.where(eta.values != 0.0, error / eta.values, np.nan)
        known = np.flatnonzero(np.isfinite(part))
        error = np.abs(ratio) * np.interp(np.arange(part.size), known, part[known])
    made = replace(eta, role="torque_ratio", values=ratio, unit="", tolerance=error)
    return table.with_columns([*table.columns, made])


def _at_stall(nu: FloatArray, ratio: FloatArray) -> float:
    """Return the limit of the torque ratio at stall; NaN where fewer than three rows lead to it."""
    known = np.flatnonzero((nu > 0.0) & np.isfinite(ratio))
    rows = known[np.argsort(nu[known])][:3]
    if rows.size < 3 or nu[rows[-1]] > _NEAR_STALL:
        return float("nan")
    return float(f"{np.polyfit(nu[rows], ratio[rows], 2)[-1]:.4g}")


def _with_constant_speed(
    table: SheetTable, facts: Mapping[str, str], problems: list[Problem]
) -> Mapping[str, str]:
    """Return the facts with the constant input speed that stands with the turbine speed."""
    turbine = table.one("turbine_speed")
    if turbine is None or turbine.reference is None or "reference_speed" in facts:
        return facts
    speed = f"{turbine.reference[0]:.12g} {turbine.reference[1]}"
    line = turbine.heading
    problems.append(note("fact-from-sheet", fact="reference_speed", value=speed, line=line))
    return {**facts, "reference_speed": speed}


def _at_constant_torque(table: SheetTable, problems: list[Problem]) -> SheetTable:
    """Take the impeller speed for the capacity where nothing else tells it: constant torque."""
    speed = table.one("impeller_speed")
    if speed is None or table.having(*FORMS) or not speed.unit:
        return table
    problems.append(note("speed-at-constant-torque", speed.place, carried=True))
    return table.with_columns([*table.columns, replace(speed, role="speed_at_torque")])


def _derived(table: SheetTable, facts: Mapping[str, str], problems: list[Problem]) -> SheetTable:
    """Add speed ratio and torque ratio where the sheet gives what they are made of."""
    columns = list(table.columns)
    slip, speeds = table.one("slip"), table.having("impeller_speed", "turbine_speed")
    if table.one("speed_ratio") is None:
        if slip is not None:
            slipping = to_si(slip.values, slip.unit, "ratio")
            columns.append(
                replace(
                    slip,
                    role="speed_ratio",
                    values=np.round(1.0 - slipping, 12),
                    unit="",
                    tolerance=None,
                )
            )
            problems.append(note("speed-ratio-from-slip", carried=True, column=slip.place))
        elif len(speeds) >= 2 and all(each.unit for each in speeds[:2]):
            with np.errstate(divide="ignore", invalid="ignore"):
                ratio = _gaps(speeds[1].si() / speeds[0].si())
            columns.append(
                replace(speeds[1], role="speed_ratio", values=ratio, unit="", tolerance=None)
            )
            problems.append(note("speed-ratio-from-speeds", carried=True))
        elif (share := _at_constant_speed(table, facts)) is not None:
            columns.append(
                replace(speeds[0], role="speed_ratio", values=share, unit="", tolerance=None)
            )
            speed = facts["reference_speed"]
            problems.append(note("speed-ratio-at-constant-speed", carried=True, speed=speed))
    torques = table.having("torque_at_speed", "turbine_torque")
    if (
        table.one("torque_ratio") is None
        and len(torques) >= 2
        and torques[-1].role != torques[0].role
    ):
        if torques[0].unit and torques[-1].unit:
            with np.errstate(divide="ignore", invalid="ignore"):
                ratio = _gaps(torques[-1].si() / torques[0].si())
            error = _of_quotient(torques[-1], torques[0], ratio)
            columns.append(
                replace(torques[-1], role="torque_ratio", values=ratio, unit="", tolerance=error)
            )
            problems.append(note("torque-ratio-from-torques", carried=True))
    return table.with_columns(columns)


def _of_quotient(above: SheetColumn, below: SheetColumn, ratio: FloatArray) -> FloatArray | None:
    """Return the reading error of a quotient: the shares of both add up at worst."""
    if above.tolerance is None and below.tolerance is None:
        return None
    share = np.zeros(ratio.size)
    for column in (above, below):
        if column.tolerance is not None:
            with np.errstate(divide="ignore", invalid="ignore"):
                share = share + np.nan_to_num(column.tolerance / np.abs(column.values))
    return np.asarray(share * np.abs(ratio))


def _at_constant_speed(table: SheetTable, facts: Mapping[str, str]) -> FloatArray | None:
    """Return turbine speed over the constant input speed; None where either is not known."""
    turbine, speed = table.one("turbine_speed"), known_fact("reference_speed", facts)
    if turbine is None or not turbine.unit or speed is None or table.one("impeller_speed"):
        return None
    return np.asarray(turbine.si() / speed)


def _gaps(ratio: FloatArray) -> FloatArray:
    """Return a ratio with a gap where it was divided by zero."""
    return np.where(np.isfinite(ratio), ratio, np.nan)


def known_fact(name: str, facts: Mapping[str, str]) -> float | None:
    """Return a fact in SI; None where it is not known or cannot be read."""
    if name not in facts:
        return None
    try:
        return fact_si(name, facts[name])[2]
    except InputError:
        return None  # said where the fact is written into the file
