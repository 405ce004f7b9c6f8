"""What a motor's sheet comes to: the content of a motor file, and what is odd about it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from converter_match.library.intake.answers import Answers
from converter_match.library.intake.columns import Gathered
from converter_match.library.intake.engine_lines import asked_off_the_grid
from converter_match.library.intake.facts import option_of
from converter_match.library.intake.guess import settle_units
from converter_match.library.intake.ordering import in_order
from converter_match.library.intake.problem import Problem, error, note, question
from converter_match.library.intake.sheet import (
    Reading,
    complete_rows,
    head,
    needed,
    numbers,
    quantity,
    too_few_rows,
)
from converter_match.library.intake.table import SheetColumn, SheetTable
from converter_match.library.intake.words import said
from converter_match.library.toml_text import Inline
from converter_match.units import from_si

SCHEMA = "converter-match/motor/1"
POWER_ROUNDING = 0.02
# Column that no motor can do without -> what is said where it is missing.
_NEEDED = {"speed": "no-speed", "peak": "no-peak", "continuous": "no-continuous"}
# Common practice, no source: what a sheet of this trade has; beyond, a unit is wrong as a rule.
_LEAST_OVERLOAD, _MOST_OVERLOAD = 1.2, 4.0
_LEAST_POWER, _MOST_POWER = 1.0, 2000.0  # kW
_SLOWEST, _FASTEST = 500.0, 25000.0  # rpm, of the fastest row
_DUTY = re.compile(r"\b(\d+(?:[.,]\d+)?)\s*(min|s)\b", re.IGNORECASE)


def read_motor_sheet(gathered: Gathered, facts: Mapping[str, str], answers: Answers) -> Reading:
    """Return what a motor's sheet comes to.

    Parameters
    ----------
    gathered : Gathered
        Columns over rows, in the order of the sheet.
    facts : mapping
        What stands beside the table, and what the user says.
    answers : Answers
    """
    problems = list(gathered.problems)
    table = gathered.table
    if len(table.rows) < 2:
        problems.append(too_few_rows(table))
        return Reading(None, table, problems, gathered.rejected)
    table, asked = settle_units(table, facts)
    problems += asked
    wanted = [table.one(role) for role in _NEEDED]
    for (role, code), column in zip(_NEEDED.items(), wanted, strict=True):
        if column is None:
            problems.append(error(code, answer=f"to correct: --column N={role}"))
    known = [column for column in wanted if column is not None]
    if len(known) < len(wanted):
        return Reading(None, table, problems, gathered.rejected)
    brake = table.one("regenerative")
    table, found = complete_rows(gathered, table, known if brake is None else [*known, brake])
    problems += found
    speed = table.one("speed")
    assert speed is not None
    table, found = in_order(table, speed)
    problems += found
    reading = Reading(None, table, problems, gathered.rejected)
    if len(table.rows) < 2:
        problems.append(too_few_rows(table))
        return reading
    speed = table.one("speed")
    assert speed is not None
    slow = np.flatnonzero(speed.values < 0.0).tolist()
    if slow:
        rows = ", ".join(table.row(row) for row in slow)
        problems.append(
            error("speed-below-zero", speed.place, sentence="speed-not-above-zero", rows=rows,
                  answer="to correct: --leave-out ROW")
        )  # fmt: skip
        return reading
    table = _braking(table, problems)
    reading.table = table
    _check(table, problems)
    reading.data = _file(table, facts, problems)
    return reading


def _braking(table: SheetTable, problems: list[Problem]) -> SheetTable:
    """Ask about a regenerative torque of the wrong sign, and turn it where that was agreed to."""
    column = table.one("regenerative")
    if column is None:
        return table
    above = np.flatnonzero(column.values > 0.0)
    below = np.flatnonzero(column.values < 0.0)
    answer = f"to answer: --ignore {column.number}, or write it below zero"
    if above.size and below.size:
        rows = ", ".join(table.row(int(row)) for row in above[:6])
        problems.append(error("regenerative-mixed", column.place, answer=answer, rows=rows))
        return table
    if not above.size:
        return table
    problems.append(
        question("regenerative-sign", column.place, key="regenerative-sign", answer=answer)
    )
    turned = replace(column, values=-column.values + 0.0)
    return table.with_columns(
        turned if each.number == column.number else each for each in table.columns
    )


def _check(table: SheetTable, problems: list[Problem]) -> None:
    """Hold the columns against each other, and their sizes against what is usual."""
    speed, peak, steady = (table.one(role) for role in ("speed", "peak", "continuous"))
    assert speed is not None
    assert peak is not None
    assert steady is not None
    problems += asked_off_the_grid(table, speed)
    if not (speed.unit and peak.unit and steady.unit):
        return
    over = np.flatnonzero(steady.si() > peak.si() * (1.0 + 1e-9))
    if over.size:
        rows = ", ".join(table.row(int(row)) for row in over[:6])
        answer = f"to correct: --column {peak.number}=ROLE, --column {steady.number}=ROLE"
        where = f"{peak.place}, {steady.place}"
        problems.append(error("continuous-above-peak", where, answer=answer, rows=rows))
        return
    _powers(table, problems)
    fastest = float(from_si(float(speed.si().max()), "rpm", "angular_speed"))
    if not _SLOWEST <= fastest <= _FASTEST:
        answer = f"to answer: --unit {speed.number}=UNIT"
        problems.append(
            question("speed-unusual", speed.place, key="speed", answer=answer, fastest=fastest)
        )
    greatest = float((speed.si() * peak.si()).max()) / 1e3
    if not _LEAST_POWER <= greatest <= _MOST_POWER:
        answer = f"to answer: --unit {peak.number}=UNIT"
        problems.append(
            question("motor-power-unusual", peak.place, key="motor-power", answer=answer,
                     power=greatest)
        )  # fmt: skip
    row = int(np.flatnonzero(peak.si() >= 0.995 * peak.si().max())[-1])
    times = float(peak.si()[row] / steady.si()[row]) if steady.values[row] > 0.0 else np.inf
    if not _LEAST_OVERLOAD <= times <= _MOST_OVERLOAD:
        where = f"{peak.place}, {steady.place}"
        answer = f"to answer: --unit {steady.number}=UNIT"
        problems.append(
            question("overload-unusual", where, key="overload", answer=answer, times=times)
        )


def _powers(table: SheetTable, problems: list[Problem]) -> None:
    """Hold each power column against torque times speed; one that names no torque against both."""
    speed = table.one("speed")
    assert speed is not None
    for role, roles in (
        ("peak_power", ("peak",)),
        ("continuous_power", ("continuous",)),
        ("power", ("continuous", "peak")),
    ):
        power = table.one(role)
        if power is None or not power.unit:
            continue
        tried = []
        for name in roles:
            torque = table.one(name)
            assert torque is not None
            with np.errstate(divide="ignore", invalid="ignore"):
                off = power.si() / (torque.si() * speed.si()) - 1.0
            off = np.where(np.isfinite(off), off, 0.0)
            tried.append((float(np.abs(off).max()), off, torque))
        worst, off, torque = min(tried, key=lambda each: each[0])
        if worst <= POWER_ROUNDING:
            problems.append(note("power-agrees", f"{torque.place}, {power.place}"))
            continue
        bad = np.flatnonzero(np.abs(off) > POWER_ROUNDING).tolist()
        listed = "; ".join(f"{table.row(row)} {100 * off[row]:+.1f} %" for row in bad[:6])
        where = f"{torque.place}, {power.place}"
        answer = f"to correct: --unit, --leave-out ROW, or --ignore {power.number}"
        values = {"answer": answer, "rows": listed, "hint": ""}
        if worst > 0.10:
            problems.append(error("power-contradicts", where, **values))
        else:
            problems.append(question("power-off", where, key=f"power:{power.number}", **values))


def _file(
    table: SheetTable, facts: Mapping[str, str], problems: list[Problem]
) -> dict[str, Any] | None:
    speed = table.one("speed")
    assert speed is not None
    data = head(SCHEMA, table.source, facts, problems)
    limit = _speed_limit(table, speed, facts, problems)
    time = _peak_time(table, facts, problems)
    columns = {
        role: column
        for role in ("peak", "continuous", "regenerative")
        if (column := table.one(role)) is not None
    }
    added = _standstill(speed, problems)
    if limit is None or time is None or not speed.unit:
        return None
    if any(not column.unit for column in columns.values()):
        return None
    data["speed_limit"] = limit
    torque = {"speed": _column(speed, 0.0 if added else None)}
    for role, column in columns.items():
        # At standstill nothing is braked.
        first = 0.0 if role == "regenerative" else float(column.values[0])
        torque[role] = _column(column, first if added else None)
    data["torque"] = torque
    duty: dict[str, Any] = {"peak_time": time}
    if "peak_from" in facts:
        duty["peak_from"] = facts["peak_from"]
    else:
        problems.append(note("peak-from-assumed"))
    data["duty"] = duty
    voltage = quantity("nominal_voltage", facts, problems)
    data["voltage"] = None if voltage is None else {"nominal": voltage}
    named = facts.get("thermal_class")
    data["thermal"] = None if named is None else {"thermal_class": named}
    return data


def _standstill(speed: SheetColumn, problems: list[Problem]) -> bool:
    """Return whether a row at 0 has to be added, and ask for it: nothing is until agreed to."""
    if speed.values[0] == 0.0:
        return False
    answer = "to answer: --confirm standstill, or the row at 0 in the sheet"
    problems.append(
        question("standstill-missing", key="standstill", answer=answer, first=speed.shown(0))
    )
    return True


def _speed_limit(
    table: SheetTable, speed: SheetColumn, facts: Mapping[str, str], problems: list[Problem]
) -> Inline | None:
    """Return the speed limit as given, or propose the last row."""
    if "speed_limit" in facts:
        return quantity("speed_limit", facts, problems)
    last = len(table.rows) - 1
    problems.append(
        question("speed-limit-inferred", key="speed-limit", answer=option_of("speed_limit"),
                 speed=speed.shown(last), row=table.row(last))
    )  # fmt: skip
    return Inline(unit=speed.unit, value=float(speed.values[last])) if speed.unit else None


def _peak_time(
    table: SheetTable, facts: Mapping[str, str], problems: list[Problem]
) -> Inline | None:
    """Return how long the peak is held: as given, or as the heading of its column says; or ask."""
    if "peak_time" in facts:
        return quantity("peak_time", facts, problems)
    peak = table.one("peak")
    found = None if peak is None else _DUTY.search(peak.heading)
    if peak is None or found is None:
        needed("peak_time", said("peak-time"), facts, problems)
        return None
    number, unit = found[1], found[2]
    problems.append(
        question("peak-time-inferred", peak.place, key="peak-time", answer=option_of("peak_time"),
                 time=f"{number} {unit}", heading=peak.heading)
    )  # fmt: skip
    return Inline(unit=unit.casefold(), value=float(number.replace(",", ".")))


def _column(column: SheetColumn, first: float | None) -> Inline:
    """Return a column as it stands in a file, with a value before its first where there is one."""
    values = numbers(column.values)
    return Inline(unit=column.unit, values=values if first is None else [first, *values])
