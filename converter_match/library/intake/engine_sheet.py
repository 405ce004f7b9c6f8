"""What an engine's sheet comes to: the content of an engine file, and what is odd about it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from converter_match.library.intake.answers import Answers
from converter_match.library.intake.columns import Gathered
from converter_match.library.intake.engine_lines import rows_off
from converter_match.library.intake.facts import fact_si, option_of
from converter_match.library.intake.guess import settle_units
from converter_match.library.intake.ordering import in_order
from converter_match.library.intake.problem import Problem, error, note, question
from converter_match.library.intake.qualifiers import basis_of
from converter_match.library.intake.sheet import (
    Reading,
    complete_rows,
    head,
    needed,
    numbers,
    original,
    quantity,
    too_few_rows,
)
from converter_match.library.intake.smooth import smoothed
from converter_match.library.intake.table import SheetColumn, SheetTable
from converter_match.library.intake.words import said
from converter_match.library.schema.quantity import SECOND
from converter_match.library.toml_text import Inline
from converter_match.units import from_si, to_si

SCHEMA = "converter-match/engine/1"
POWER_ROUNDING = 0.02
"""Power and torque columns are printed to two or three digits; more apart is a contradiction."""


def read_engine_sheet(gathered: Gathered, facts: Mapping[str, str], answers: Answers) -> Reading:
    """Return what an engine's sheet comes to.

    Parameters
    ----------
    gathered : Gathered
        Columns over rows, in the order of the sheet.
    facts : mapping
        What stands beside the table, and what the user says.
    answers : Answers
    """
    problems = list(gathered.problems)
    if len(gathered.table.rows) < 2:
        problems.append(too_few_rows(gathered.table))
        return Reading(None, gathered.table, problems, gathered.rejected)
    table = _one_rating(gathered.table, answers, problems)
    table, asked = settle_units(table, facts)
    problems += asked
    speed, torque, power = table.one("speed"), table.one("torque"), table.one("power")
    if speed is None:
        problems.append(error("no-speed", answer="to correct: --column N=speed"))
    if torque is None and power is None:
        problems.append(
            error(
                "no-torque",
                answer="to correct: --column N=torque or --column N=power",
            )
        )
    if speed is None or (torque is None and power is None):
        return Reading(None, table, problems, gathered.rejected)
    main = torque if torque is not None else power
    assert main is not None
    if torque is not None and power is not None and _gaps(power) < _gaps(torque):
        main = power
    table, found = complete_rows(gathered, table, [speed, main])
    problems += found
    speed, main = _again(table, speed), _again(table, main)
    table, found = in_order(table, speed)
    problems += found
    reading = Reading(None, table, problems, gathered.rejected)
    if len(table.rows) < 2:
        problems.append(too_few_rows(table))
        return reading
    slow = np.flatnonzero(_again(table, speed).values <= 0).tolist()
    if slow:
        rows = ", ".join(table.row(row) for row in slow)
        answer = "to correct: --leave-out ROW"
        problems.append(error("speed-not-above-zero", speed.place, answer=answer, rows=rows))
        return reading
    _check(table, facts, problems)
    reading.data = _file(table, _again(table, main).role, facts, answers, reading)
    return reading


def _gaps(column: SheetColumn) -> int:
    return int(np.isnan(column.values).sum())


def _again(table: SheetTable, column: SheetColumn) -> SheetColumn:
    return next(each for each in table.columns if each.number == column.number)


def _one_rating(table: SheetTable, answers: Answers, problems: list[Problem]) -> SheetTable:
    """Leave one column of each kind: the rating that was chosen, or the only one."""
    table = _without_repeats(table, problems)
    labels: list[str] = []
    for role in ("torque", "power", "bsfc"):
        columns = table.having(role)
        if len(columns) > 1:
            labels += [_label(each) for each in columns]
    distinct = list(dict.fromkeys(labels))
    if not distinct:
        return table
    wanted = answers.rating.casefold().strip() if answers.rating else None
    chosen = next(
        (label for label in distinct if wanted is not None and _same(label, wanted)), None
    )
    if chosen is None:
        listed = ", ".join(repr(label) for label in distinct)
        missing = said("no-such-rating", rating=answers.rating) if answers.rating else ""
        answer = "to answer: --rating NAME"
        problems.append(question("several-ratings", answer=answer, missing=missing, ratings=listed))
        chosen = distinct[0]
    else:
        problems.append(note("rating-chosen", carried=True, rating=chosen))
    kept = []
    for column in table.columns:
        alone = len(table.having(column.role)) == 1
        if alone or column.role == "speed" or _label(column) == chosen:
            kept.append(column)
        else:
            problems.append(note("column-not-used", column.place, sentence="another-rating"))
    return table.with_columns(kept)


def _without_repeats(table: SheetTable, problems: list[Problem]) -> SheetTable:
    """Take one of several columns that say the same in different units."""
    kept: list[SheetColumn] = []
    for column in table.columns:
        first = next((each for each in kept if each.role == column.role), None)
        same = False
        if first is not None and first.unit and column.unit and first.label == column.label:
            with np.errstate(divide="ignore", invalid="ignore"):
                off = np.abs(column.si() / first.si() - 1.0)
            off = off[np.isfinite(off)]
            same = bool(off.size) and float(off.max()) <= POWER_ROUNDING
        if first is not None and same:
            if first.second is None:
                kept[kept.index(first)] = replace(first, second=column)
            problems.append(note("column-repeats", column.place, other=first.place))
        else:
            kept.append(column)
    return table.with_columns(kept)


def _label(column: SheetColumn) -> str:
    return column.label.strip() or f"column {column.number}"


def _same(label: str, wanted: str) -> bool:
    return wanted in (label, label.removeprefix("rating ").strip()) or wanted == f"rating {label}"


def _check(table: SheetTable, facts: Mapping[str, str], problems: list[Problem]) -> None:
    speed, torque, power = table.one("speed"), table.one("torque"), table.one("power")
    assert speed is not None
    if torque is not None and power is not None and torque.unit and power.unit and speed.unit:
        with np.errstate(divide="ignore", invalid="ignore"):
            off = power.si() / (torque.si() * speed.si()) - 1.0
        bad = np.flatnonzero(np.isfinite(off) & (np.abs(off) > POWER_ROUNDING)).tolist()
        if bad:
            median = float(np.median(off[np.isfinite(off)])) + 1.0
            differs = {
                "rows": "; ".join(f"{table.row(row)} {100 * off[row]:+.1f} %" for row in bad[:6]),
                "hint": _slip(median) if len(bad) > 0.8 * off.size else "",
            }
            answer = f"to correct: --unit, --leave-out ROW, or --ignore {power.number}"
            gross = float(np.abs(off[bad]).max()) > 0.10
            where = f"{torque.place}, {power.place}"
            if gross:
                problems.append(error("power-contradicts", where, answer=answer, **differs))
            else:
                problems.append(question("power-off", where, key="power", answer=answer, **differs))
        elif np.isfinite(off).any():
            problems.append(note("power-agrees"))
    problems += rows_off(table, facts)
    if speed.unit:
        fastest = float(from_si(float(speed.si().max()), "rpm", "angular_speed"))
        if not 300 <= fastest <= 10000:
            answer = f"to answer: --unit {speed.number}=UNIT"
            problems.append(
                question("speed-unusual", speed.place, key="speed", answer=answer, fastest=fastest)
            )


def _slip(ratio: float) -> str:
    pound_foot = to_si(1.0, "lbf.ft", "torque")
    horse = to_si(1.0, "hp", "power") / 1000.0
    metric_horse = to_si(1.0, "PS", "power") / 1000.0
    # 1.356 and 1.360 lie so near that the digits of a sheet cannot tell them apart: both are named.
    pairs = (
        (pound_foot, "N.m and lbf.ft"),
        (horse, "hp and kW"),
        (metric_horse, "PS and kW"),
        (horse / metric_horse, "hp and PS"),
    )
    near = [
        words
        for factor, words in pairs
        if min(abs(ratio / factor - 1.0), abs(ratio * factor - 1.0)) < 0.006
    ]
    if near:
        return said("factor-of-units", factor=ratio, units=", or ".join(near))
    return said("factor-throughout", factor=ratio)


def _file(
    table: SheetTable, main: str, facts: Mapping[str, str], answers: Answers, reading: Reading
) -> dict[str, Any] | None:
    problems = reading.problems
    speed, bsfc = table.one("speed"), table.one("bsfc")
    columns = {role: table.one(role) for role in ("torque", "power")}
    assert speed is not None
    data = head(SCHEMA, table.source, facts, problems)
    complete = add_engine_facts(data, table, _with_basis(table, facts, problems), problems)
    if not speed.unit or any(each is not None and not each.unit for each in columns.values()):
        return None
    full_load: dict[str, Any] = {"speed": _column(speed)}
    originals: list[dict[str, Any]] = []
    for role, column in columns.items():
        if column is None or (role != main and (answers.smooth or _gaps(column))):
            continue
        full_load[role] = _column(column)
        if answers.smooth:
            replaced = _smooth(speed, column, facts, reading)
            originals.append(
                original(
                    column.heading, column.unit, "speed", speed.unit, speed.values, column.values
                )
            )
            full_load[role] = Inline(unit=column.unit, values=replaced)
    used = columns[main]
    if used is not None and used.tolerance is not None:
        band = float(f"{_band(used):.2g}")
        full_load["torque_band"] = Inline(value=band)
        problems.append(note("torque-band", band=100 * band))
    elif "torque_band" in facts:
        full_load["torque_band"] = quantity("torque_band", facts, problems)
    if main == "power" and "torque" in full_load:
        full_load.pop("torque")
    data["full_load"] = full_load
    # Not used beside a curve, but held against it.
    data["rating"] = {
        name: quantity(name, facts, problems)
        for name in ("rated_power", "peak_torque", "peak_torque_speed")
    }
    if bsfc is not None and bsfc.unit and not _gaps(bsfc):
        data["fuel"] = {"speed": _column(speed), "bsfc": _column(bsfc)}
    elif bsfc is not None:
        problems.append(note("column-not-written", bsfc.place, sentence="column-with-gaps"))
    data["unsmoothed"] = originals or None
    return data if complete else None


def _with_basis(
    table: SheetTable, facts: Mapping[str, str], problems: list[Problem]
) -> Mapping[str, str]:
    """Return the facts with the rating basis that the headings name, where nothing else does."""
    named = basis_of(table.columns)
    if "rating_basis" in facts or len(named) != 1:
        return facts
    basis = named.pop()
    problems.append(note("basis-from-heading", fact="rating_basis", value=basis))
    return {**facts, "rating_basis": basis}


def _band(column: SheetColumn) -> float:
    """Return the largest reading error as a share, where the values are not small."""
    assert column.tolerance is not None
    full = column.values > 0.3 * float(column.values.max())
    return float(np.max(column.tolerance[full] / column.values[full]))


def add_engine_facts(
    data: dict[str, Any],
    table: SheetTable | None,
    facts: Mapping[str, str],
    problems: list[Problem],
) -> bool:
    """Put what an engine file needs beside its curve into `data`; ask for what is missing.

    Returns
    -------
    bool
        Whether all of it is there.
    """
    complete = True
    for name, what in (
        ("rating_basis", said("rating-basis")),
        ("governing", said("governing")),
    ):
        data[name] = needed(name, what, facts, problems)
        complete &= data[name] is not None
    for name in ("rating_standard", "aspiration"):
        data[name] = facts.get(name)
    data["displacement"] = quantity("displacement", facts, problems)
    for name, what in (
        ("low_idle", said("low-idle")),
        ("rated_speed", said("rated-speed")),
        ("high_idle", said("high-idle")),
    ):
        if name == "rated_speed" and name not in facts and table is not None:
            data[name] = _rated_speed(table, problems)
            complete &= data[name] is not None
            continue
        if name == "high_idle" and name not in facts and table is not None:
            data[name] = _high_idle(table, problems)
            complete &= data[name] is not None
            continue
        needed(name, what, facts, problems)
        data[name] = quantity(name, facts, problems)
        complete &= data[name] is not None
    return complete


def _high_idle(table: SheetTable, problems: list[Problem]) -> Inline | None:
    """Propose the last row as high idle where it gives no torque; ask for it otherwise."""
    speed = table.one("speed")
    load = table.one("torque") or table.one("power")
    answer = option_of("high_idle")
    if speed is None or load is None or not speed.unit or load.values[-1] != 0:
        problems.append(
            question("high_idle-missing", sentence="not-on-sheet", what=said("high-idle"),
                     answer=answer)
        )  # fmt: skip
        return None
    last = len(table.rows) - 1
    problems.append(
        question(
            "high-idle-inferred",
            key="high-idle",
            answer=answer,
            speed=speed.shown(last),
            load=load.role,
            row=table.row(last),
        )
    )
    return Inline(unit=speed.unit, value=float(speed.values[last]))


def _rated_speed(table: SheetTable, problems: list[Problem]) -> Inline | None:
    """Propose the row of greatest power as rated speed."""
    speed, torque, power = table.one("speed"), table.one("torque"), table.one("power")
    assert speed is not None
    if not speed.unit:
        problems.append(
            question(
                "rated_speed-missing",
                sentence="not-on-sheet",
                what=said("rated-speed"),
                answer=option_of("rated_speed"),
            )
        )
        return None
    if power is not None and not _gaps(power):
        row = int(np.argmax(power.values))
    elif torque is not None:
        row = int(np.nanargmax(torque.values * speed.values))
    else:
        return None
    best = power.values if power is not None and not _gaps(power) else None
    tied = [] if best is None else np.flatnonzero(best == best[row]).tolist()
    if len(tied) > 1:  # rounded alike: the greatest of them is not known
        speeds = ", ".join(speed.shown(each) for each in tied)
        problems.append(
            question("rated-speed-tied", answer=option_of("rated_speed"), speeds=speeds)
        )
        return None
    problems.append(
        question(
            "rated-speed-inferred",
            key="rated-speed",
            answer=option_of("rated_speed"),
            speed=speed.shown(row),
            row=table.row(row),
        )
    )
    return Inline(unit=speed.unit, value=float(speed.values[row]))


def _column(column: SheetColumn) -> Inline:
    table, second = Inline(unit=column.unit, values=numbers(column.values)), column.second
    if second is not None and not _gaps(second):
        table[SECOND] = Inline(unit=second.unit, values=numbers(second.values))
    return table


def _smooth(
    speed: SheetColumn, column: SheetColumn, facts: Mapping[str, str], reading: Reading
) -> list[float]:
    """Return a smoothed torque or power column; the corner at rated speed stays."""
    kinks = []
    if "rated_speed" in facts:
        rated = fact_si("rated_speed", facts["rated_speed"])[2]
    else:
        torque = column.si() if column.role == "torque" else column.si() / speed.si()
        rated = float(speed.si()[int(np.argmax(torque * speed.si()))])
    if float(speed.si()[0]) < rated < float(speed.si()[-1]):
        kinks.append(rated)
    values = smoothed(speed.si(), column.si(), kinks)
    reading.residuals[column.role] = (column.si(), values)
    back = np.asarray(from_si(values, column.unit, column.dimension))
    off = float(np.abs(back - column.values).max())
    reading.problems.append(
        note("smoothed", sentence="smoothed-engine", carried=True, what=column.role, off=off,
             unit=column.unit)
    )  # fmt: skip
    return [float(f"{value:.6g}") for value in back]


__all__ = ["SCHEMA", "add_engine_facts", "read_engine_sheet"]
