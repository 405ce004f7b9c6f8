"""What an engine's sheet comes to: the content of an engine file, and what is odd about it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from converter_match.library.intake.answers import Answers
from converter_match.library.intake.columns import Gathered
from converter_match.library.intake.converter_rules import outliers
from converter_match.library.intake.facts import fact_si, option_of
from converter_match.library.intake.guess import settle_units
from converter_match.library.intake.ordering import in_order
from converter_match.library.intake.problem import Problem, error, note, question
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
from converter_match.library.toml_text import Inline
from converter_match.units import from_si, to_si

SCHEMA = "converter-match/engine/1"
POWER_ROUNDING = 0.02
"""Power and torque columns are printed to two or three digits; more apart is a contradiction."""
_OUTLIER = 0.05


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
        problems.append(
            error("no-speed", "no column holds the speed", answer="to mend: --column N=speed")
        )
    if torque is None and power is None:
        problems.append(
            error(
                "no-torque",
                "no column holds torque or power",
                answer="to mend: --column N=torque or --column N=power",
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
        message = f"speeds must be above zero ({rows})"
        answer = "to mend: --leave-out ROW"
        problems.append(error("speed-not-above-zero", message, speed.place, answer=answer))
        return reading
    _check(table, problems)
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
        message = f"several ratings stand side by side: {listed}; the first is shown"
        if answers.rating:
            message = f"there is no rating {answers.rating!r}; " + message
        answer = "to answer: --rating NAME"
        problems.append(question("several-ratings", message, answer=answer))
        chosen = distinct[0]
    else:
        message = f"Of several ratings {chosen!r} was taken."
        problems.append(note("rating-chosen", message, carried=True))
    kept = []
    for column in table.columns:
        alone = len(table.having(column.role)) == 1
        if alone or column.role == "speed" or _label(column) == chosen:
            kept.append(column)
        else:
            problems.append(note("column-not-used", "another rating", column.place))
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
            message = f"says the same as {first.place} in another unit; compared, not written"
            problems.append(note("column-repeats", message, column.place))
        else:
            kept.append(column)
    return table.with_columns(kept)


def _label(column: SheetColumn) -> str:
    return column.label.strip() or f"column {column.number}"


def _same(label: str, wanted: str) -> bool:
    return wanted in (label, label.removeprefix("rating ").strip()) or wanted == f"rating {label}"


def _check(table: SheetTable, problems: list[Problem]) -> None:
    speed, torque, power = table.one("speed"), table.one("torque"), table.one("power")
    assert speed is not None
    if torque is not None and power is not None and torque.unit and power.unit and speed.unit:
        with np.errstate(divide="ignore", invalid="ignore"):
            off = power.si() / (torque.si() * speed.si()) - 1.0
        bad = np.flatnonzero(np.isfinite(off) & (np.abs(off) > POWER_ROUNDING)).tolist()
        if bad:
            median = float(np.median(off[np.isfinite(off)])) + 1.0
            said = "; ".join(f"{table.row(row)} {100 * off[row]:+.1f} %" for row in bad[:6])
            hint = _slip(median) if len(bad) > 0.8 * off.size else ""
            message = f"power differs from torque x speed: {said}{hint}"
            answer = f"to mend: --unit, --leave-out ROW, or --ignore {power.number}"
            gross = float(np.abs(off[bad]).max()) > 0.10
            where = f"{torque.place}, {power.place}"
            if gross:
                problems.append(error("power-contradicts", message, where, answer=answer))
            else:
                message += ": use the torque?"
                problems.append(question("power-off", message, where, key="power", answer=answer))
        elif np.isfinite(off).any():
            problems.append(note("power-agrees", "Power agrees with torque x speed."))
    main = torque if torque is not None else power
    assert main is not None
    if main.unit and speed.unit:
        values = main.si() if main.role == "torque" else main.si() / speed.si()
        peak = float(values.max())
        full = values > 0.5 * peak  # the governed run-out is steep, and no outlier
        for row, share in outliers(speed.si()[full], values[full], (), _OUTLIER):
            index = int(np.flatnonzero(full)[row])
            if index >= int(np.argmax(speed.si() * values)):
                continue
            number = table.rows[index]
            message = (
                f"the torque is {100 * share:+.1f} % (of the largest) off the line of its "
                "neighbours: a misread row? Keep it as it is?"
            )
            answer = f"to answer: --leave-out {number}"
            key = f"outlier:torque:{number}"
            problems.append(
                question("row-off-the-line", message, table.row(index), key=key, answer=answer)
            )
        low = float(from_si(float(speed.si().max()), "rpm", "angular_speed"))
        if not 300 <= low <= 10000:
            message = f"the fastest row is at {low:.5g} rpm: is the unit of the speed right?"
            answer = f"to answer: --unit {speed.number}=UNIT"
            problems.append(
                question("speed-unusual", message, speed.place, key="speed", answer=answer)
            )


def _slip(ratio: float) -> str:
    pound_foot = to_si(1.0, "lbf.ft", "torque")
    horse = to_si(1.0, "hp", "power") / 1000.0
    metric_horse = to_si(1.0, "PS", "power") / 1000.0
    for factor, words in (
        (pound_foot, "N.m and lbf.ft"),
        (horse, "hp and kW"),
        (metric_horse, "PS and kW"),
        (horse / metric_horse, "hp and PS"),
    ):
        for candidate in (factor, 1.0 / factor):
            if abs(ratio / candidate - 1.0) < 0.006:
                return f"; the factor {ratio:.4g} is that between {words}: a unit is wrong"
    return f"; the factor is about {ratio:.3g} throughout"


def _file(
    table: SheetTable, main: str, facts: Mapping[str, str], answers: Answers, reading: Reading
) -> dict[str, Any] | None:
    problems = reading.problems
    speed, bsfc = table.one("speed"), table.one("bsfc")
    columns = {role: table.one(role) for role in ("torque", "power")}
    assert speed is not None
    data = head(SCHEMA, table.source, facts, problems)
    complete = add_engine_facts(data, table, facts, problems)
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
        message = f"The reading error is kept as a band of +-{100 * band:.2g} % of the torque."
        problems.append(note("torque-band", message))
    if main == "power" and "torque" in full_load:
        full_load.pop("torque")
    data["full_load"] = full_load
    if bsfc is not None and bsfc.unit and not _gaps(bsfc):
        data["fuel"] = {"speed": _column(speed), "bsfc": _column(bsfc)}
    elif bsfc is not None:
        problems.append(note("column-not-written", "has gaps or no unit", bsfc.place))
    data["unsmoothed"] = originals or None
    return data if complete else None


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
        ("rating_basis", "whether the rating is gross (bare) or net (fan, pump and so on driven)"),
        ("governing", "whether the governor holds speed (machines) or torque (road vehicles)"),
    ):
        found = needed(name, what, facts, problems)
        data[name] = found
        complete &= found is not None
    for name in ("rating_standard", "aspiration"):
        data[name] = facts.get(name)
    data["displacement"] = quantity("displacement", facts, problems)
    for name, what in (
        ("low_idle", "low idle"),
        ("rated_speed", "the rated speed"),
        ("high_idle", "high idle (the speed without load at full throttle)"),
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
        message = "high idle (the speed without load at full throttle) is not on the sheet"
        problems.append(question("high_idle-missing", message, answer=answer))
        return None
    last = len(table.rows) - 1
    message = (
        f"high idle is not on the sheet by name; {speed.shown(last)}, where the last row has no "
        f"{load.role} left ({table.row(last)})?"
    )
    problems.append(question("high-idle-inferred", message, key="high-idle", answer=answer))
    return Inline(unit=speed.unit, value=float(speed.values[last]))


def _rated_speed(table: SheetTable, problems: list[Problem]) -> Inline | None:
    """Propose the row of greatest power as rated speed."""
    speed, torque, power = table.one("speed"), table.one("torque"), table.one("power")
    assert speed is not None
    if not speed.unit:
        problems.append(
            question(
                "rated_speed-missing",
                "the rated speed is not on the sheet",
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
    found = Inline(unit=speed.unit, value=float(speed.values[row]))
    message = (
        f"the rated speed is not on the sheet; {speed.shown(row)}, where power is greatest "
        f"({table.row(row)})?"
    )
    problems.append(
        question(
            "rated-speed-inferred", message, key="rated-speed", answer=option_of("rated_speed")
        )
    )
    return found


def _column(column: SheetColumn) -> Inline:
    return Inline(unit=column.unit, values=numbers(column.values))


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
    message = (
        f"Smoothed on each side of rated speed: the {column.role} was moved by at most {off:.3g} "
        f"{column.unit}. The points as they came are kept in the file under [[unsmoothed]]."
    )
    reading.problems.append(note("smoothed", message, carried=True))
    return [float(f"{value:.6g}") for value in back]


__all__ = ["SCHEMA", "add_engine_facts", "read_engine_sheet"]
