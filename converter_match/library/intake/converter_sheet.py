"""What a converter's sheet comes to: the content of a converter file, and what is odd about it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from converter_match.components.capacity_forms import AS_SPEED, AT_SPEED, AT_TORQUE, FORMS
from converter_match.components.coupling import AT_UNITY, resolve
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.library.intake import converter_rules
from converter_match.library.intake.answers import Answers
from converter_match.library.intake.columns import Gathered
from converter_match.library.intake.converter_columns import known_fact, one_reference, worked_out
from converter_match.library.intake.facts import fact_si, option_of
from converter_match.library.intake.guess import (
    capacity_si,
    diameter_of,
    settle_units,
)
from converter_match.library.intake.ordering import in_order
from converter_match.library.intake.problem import Problem, error, note, question
from converter_match.library.intake.reading_band import BANDS, reading_bands
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
from converter_match.library.toml_text import Inline
from converter_match.units import to_si

SCHEMA = "converter-match/converter/1"
_SYNCHRONISM = 1e-9


def read_converter_sheet(gathered: Gathered, facts: Mapping[str, str], answers: Answers) -> Reading:
    """Return what a converter's sheet comes to.

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
    table, asked = settle_units(gathered.table, facts)
    problems += asked
    table = one_reference(table, facts, answers, problems)
    table, facts = worked_out(table, facts, problems, smooth=answers.smooth)
    nu = table.one("speed_ratio")
    mu = table.one("torque_ratio")
    forms = [column for column in table.having(*FORMS) if column.unit or _bare(column)]
    stator = _stator(table, mu, facts, answers, problems)
    turbine = table.one("turbine_speed")
    if nu is None and turbine is not None and table.one("impeller_speed") is None:
        answer = option_of("reference_speed")
        problems.append(question("constant-speed-missing", turbine.place, answer=answer))
    elif nu is None:
        problems.append(
            error(
                "no-speed-ratio",
                answer="to correct: --column N=speed_ratio",
            )
        )
    if mu is None and stator != "none":
        problems.append(
            error(
                "no-torque-ratio",
                answer="to correct: --column N=torque_ratio; or --stator none for a fluid coupling",
            )
        )
    if not table.having(*FORMS):
        asked_already = any(each.code == "capacity-form" for each in problems)
        if not asked_already:
            problems.append(
                error(
                    "no-capacity",
                    answer="to correct: --column N=k_factor or another form",
                )
            )
    for column in table.columns:
        problems += _reference_asked(column, table, facts)
    if nu is None:
        return Reading(None, table, problems, gathered.rejected)
    main = _main_capacity(forms)
    required = [column for column in (nu, mu) if column is not None]
    if main is not None and not _blank_only_at_one(nu, main):
        required.append(main)
    table, more = complete_rows(gathered, table, required)
    problems += more
    table, more = in_order(table, _again(table, nu))
    problems += more
    problems += _repeated_roles(table)
    return _assembled(gathered, table, main, stator, facts, answers, problems)


def _bare(column: SheetColumn) -> bool:
    return column.dimension == "ratio"


def _again(table: SheetTable, column: SheetColumn) -> SheetColumn:
    """Return a column as it is in another version of its table."""
    return next(each for each in table.columns if each.number == column.number
                and each.role == column.role)  # fmt: skip


def _stator(
    table: SheetTable,
    mu: SheetColumn | None,
    facts: Mapping[str, str],
    answers: Answers,
    problems: list[Problem],
) -> str:
    """Return the kind of stator: as given, or proposed from the end of the torque-ratio column."""
    if "stator" in facts:
        return facts["stator"]
    nu = table.one("speed_ratio")
    guess, why = "", ""
    if mu is not None and nu is not None:
        ratio = to_si(mu.values, mu.unit, "ratio")
        at = to_si(nu.values, nu.unit, "ratio")
        known = np.isfinite(ratio) & np.isfinite(at) & (at >= 0) & (at <= 1)
        level = known & (np.abs(ratio - 1) <= 2 * AT_UNITY)
        if known.any() and level.sum() == known.sum():
            guess, why = "none", said("ratio-is-one")
        elif known.any() and float(ratio[known].min()) < 0.95:
            guess, why = "fixed", said("ratio-falls-to", ratio=float(ratio[known].min()))
        elif level.sum() >= 2:
            guess, why = "one-way", said("ratio-stays-at-one")
        elif known.any():
            ends = "ratio-ends-at-one" if level.any() else "ratio-ends-before-one"
            guess, why = "one-way", said(ends)
    if not guess:
        problems.append(question("stator-missing", answer=option_of("stator")))
        return ""
    answer = option_of("stator")
    problems.append(question("stator-inferred", key="stator", answer=answer, guess=guess, why=why))
    return guess


def _reference_asked(
    column: SheetColumn, table: SheetTable, facts: Mapping[str, str]
) -> list[Problem]:
    if column.role in AT_TORQUE:
        if column.reference is not None or "reference_torque" in facts:
            return []
        answer = option_of("reference_torque")
        return [question("reference-torque-missing", column.place, answer=answer)]
    if column.role not in AT_SPEED or column.reference is not None:
        return []
    own = table.one("impeller_speed")
    if own is not None and own.unit:
        return []
    if "reference_speed" in facts:
        return []
    answer = option_of("reference_speed")
    return [question("reference-speed-missing", column.place, answer=answer)]


def _main_capacity(forms: list[SheetColumn]) -> SheetColumn | None:
    """Return the capacity column to use: stated units before proposed ones, full before gappy."""
    if not forms:
        return None
    return min(
        forms,
        key=lambda column: (
            column.unit_from == "inferred",
            int(np.isnan(column.values).sum()),
            FORMS.index(column.role),
            column.number,
        ),
    )


def _blank_only_at_one(nu: SheetColumn, main: SheetColumn) -> bool:
    """K is infinite at speed ratio 1, and sheets leave the cell empty there."""
    blank = np.isnan(main.values)
    share = to_si(nu.values, nu.unit, "ratio")
    at_one = np.abs(share - 1.0) <= _SYNCHRONISM
    return bool(main.role in AS_SPEED and blank.any() and np.all(at_one[blank]))


def _repeated_roles(table: SheetTable) -> list[Problem]:
    questions = []
    for role in ("speed_ratio", "torque_ratio", "efficiency"):
        columns = [each for each in table.having(role)]
        if len(columns) > 1:
            listed = " and ".join(each.place for each in columns)
            questions.append(
                question(
                    "column-twice",
                    role=role,
                    columns=listed,
                    key=f"twice:{role}",
                    answer=f"to answer: --ignore {' or '.join(each.key for each in columns)}",
                )
            )
    return questions


def _capacity_of(
    column: SheetColumn, table: SheetTable, facts: Mapping[str, str]
) -> FloatArray | None:
    """Return a column as C [N.m/(rad/s)^2]; with the impeller speed of each row where given."""
    speed = table.one("impeller_speed")
    own = column.role in AT_SPEED and column.reference is None
    if own and speed is not None and speed.unit:
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(column.si() / speed.si() ** AT_SPEED[column.role])
    capacity = capacity_si(column, column.unit, facts)
    if capacity is not None and column.role in AS_SPEED:
        capacity = np.where(np.isposinf(column.values), 0.0, capacity)
    return capacity


def _assembled(
    gathered: Gathered,
    table: SheetTable,
    main: SheetColumn | None,
    stator: str,
    facts: Mapping[str, str],
    answers: Answers,
    problems: list[Problem],
) -> Reading:
    nu, mu = table.one("speed_ratio"), table.one("torque_ratio")
    eta = table.one("efficiency")
    assert nu is not None
    reading = Reading(None, table, problems, gathered.rejected)
    if len(table.rows) < 2:
        problems.append(too_few_rows(table))
        return reading
    share = nu.si()
    capacity = None
    if main is not None:
        main = _again(table, main)
        capacity = _capacity_of(main, table, facts)
        if main.role in AS_SPEED and capacity is not None:
            infinite = (np.abs(share - 1) <= _SYNCHRONISM) & np.isnan(main.values)
            capacity = np.where(infinite, 0.0, capacity)
        if main.role == "performance_coefficient" and capacity is None:
            for name in ("profile_diameter", "oil_density"):
                needed(name, said("lambda-needs", fact=name), facts, problems)
    others = []
    for column in table.having(*FORMS):
        if main is None or column.number == main.number or not (column.unit or _bare(column)):
            continue
        meant = _capacity_of(column, table, facts)
        if meant is not None:
            others.append((column.number, column.place, meant))
    torque_ratio = None if mu is None else mu.si()
    if mu is None and stator == "none":
        torque_ratio = np.ones(share.size)
    sheet = converter_rules.Understood(
        rows=tuple(table.row(index) for index in range(len(table.rows))),
        speed_ratio=share,
        torque_ratio=torque_ratio,
        capacity=capacity,
        efficiency=None if eta is None or (mu and mu.number == eta.number) else eta.si(),
        efficiency_number=0 if eta is None else eta.number,
        others=tuple(others),
        capacity_place="" if main is None else main.place,
        capacity_key="" if main is None else main.key,
        capacity_unit="" if main is None else main.unit,
        stator=stator,
        coupling=known_fact("coupling_speed_ratio", facts),
        diameter=diameter_of(facts),
        density=known_fact("oil_density", facts),
    )
    problems += converter_rules.check(sheet)
    if main is None or capacity is None or torque_ratio is None or not stator:
        return reading
    reading.data = _file(table, main, sheet, facts, answers, reading)
    return reading


def _file(
    table: SheetTable,
    main: SheetColumn,
    sheet: converter_rules.Understood,
    facts: Mapping[str, str],
    answers: Answers,
    reading: Reading,
) -> dict[str, Any]:
    """Return the content of the converter file, in the sheet's own units."""
    problems = reading.problems
    nu, mu, eta = table.one("speed_ratio"), table.one("torque_ratio"), table.one("efficiency")
    assert nu is not None
    assert sheet.capacity is not None
    data = head(SCHEMA, table.source, facts, problems)
    data["stator"] = sheet.stator
    for name in ("profile_diameter", "oil_density", "coupling_speed_ratio"):
        data[name] = quantity(name, facts, problems)
    rows: dict[str, Any] = {"speed_ratio": _column(nu)}
    tables = [_capacity_table(main, table, sheet.capacity, facts, problems)]
    if mu is not None:
        rows |= _torque_ratio(mu, eta, nu)
    originals: list[dict[str, Any]] = []
    if answers.smooth:
        ratio, capacity = _smooth(sheet, reading)
        at_unit = nu.unit
        if mu is not None:
            came = eta if eta is not None and eta.number == mu.number else mu
            originals.append(
                original(came.heading, came.unit, "speed_ratio", at_unit, nu.values, came.values)
            )
            rows.pop("stall_torque_ratio", None)
            rows["torque_ratio"] = [float(f"{value:.6g}") for value in ratio]
        if np.isfinite(main.values).all():
            originals.append(
                original(main.heading, main.unit, "speed_ratio", at_unit, nu.values, main.values)
            )
        tables = [_smoothed_table(tables[0], sheet.capacity, capacity)]
    else:
        for column in table.having(*FORMS):
            if column.number == main.number or not (column.unit or _bare(column)):
                continue
            meant = _capacity_of(column, table, facts)
            if np.isfinite(column.values).all() and meant is not None:
                tables.append(_capacity_table(column, table, meant, facts, []))
            else:
                problems.append(
                    note("column-not-written", column.place, sentence="column-compared-only")
                )
        if eta is not None and np.isfinite(eta.values).all():
            rows["efficiency"] = _column(eta)
    rows["capacity"] = tables[0] if len(tables) == 1 else tables
    bands = reading_bands(table, main, mu)
    rows |= bands
    if bands:
        off, load = (100 * max(bands.get(name, (0.0,))) for name in BANDS)
        problems.append(note("rows-band", torque_ratio_band=off, capacity_band=load))
    data["characteristic"] = rows
    data["unsmoothed"] = originals or None
    return data


def _torque_ratio(mu: SheetColumn, eta: SheetColumn | None, nu: SheetColumn) -> dict[str, Any]:
    """Return the torque ratio for the file, which makes it of the efficiency where that is all."""
    if eta is None or mu.number != eta.number:
        return {"torque_ratio": _column(mu)}
    stalled = mu.values[nu.values == 0.0]
    return {"stall_torque_ratio": float(stalled[0])} if stalled.size else {}


def _column(column: SheetColumn) -> Any:
    if column.unit:
        return Inline(unit=column.unit, values=numbers(column.values))
    return numbers(column.values)


def _capacity_table(
    column: SheetColumn,
    table: SheetTable,
    capacity: FloatArray,
    facts: Mapping[str, str],
    problems: list[Problem],
) -> Inline:
    """Return a capacity column as it stands in a file."""
    speed = table.one("impeller_speed")
    by_row = column.role in AT_SPEED and column.reference is None
    by_row = by_row and speed is not None and bool(speed.unit)
    if by_row or not np.isfinite(column.values).all():
        if not by_row:
            problems.append(note("capacity-zero-at-one", column.place, carried=True))
        unit = "N.m/(rad/s)^2"
        return Inline(form="capacity_coefficient", unit=unit, values=numbers(capacity))
    entry = Inline(form=column.role)
    if column.unit:
        entry["unit"] = column.unit
    for fact, roles in (("reference_speed", AT_SPEED), ("reference_torque", AT_TORQUE)):
        if column.role in roles:
            number, unit = column.reference or fact_si(fact, facts[fact])[:2]
            entry[fact] = Inline(unit=unit, value=number)
    entry["values"] = numbers(column.values)
    return entry


def _smoothed_table(table: Inline, before: FloatArray, after: FloatArray) -> Inline:
    """Return a capacity table with smoothed numbers in the form and unit of the original."""
    values = np.asarray(table["values"])
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(before != 0, after / before, 1.0)
    scaled = values / np.sqrt(ratio) if table["form"] in AS_SPEED else values * ratio
    moved = [
        float(f"{new:.6g}") if old != 0 else 0.0
        for new, old in zip(scaled.tolist(), before.tolist(), strict=True)
    ]
    return Inline(table, values=moved)


def _smooth(sheet: converter_rules.Understood, reading: Reading) -> tuple[FloatArray, FloatArray]:
    """Return smoothed torque ratio and capacity; corners and monotony stay."""
    nu, mu, c = sheet.speed_ratio, sheet.torque_ratio, sheet.capacity
    assert mu is not None
    assert c is not None
    kinks: list[float] = []
    level = None
    if sheet.stator == "one-way":
        try:
            rows = resolve(nu, mu, c, "one-way", sheet.coupling)
        except InputError:
            rows = None
        if rows is not None and rows.coupling is not None:
            first = float(nu[int(np.searchsorted(nu, rows.coupling - 1e-12))])
            if abs(first - rows.coupling) < 1e-9:
                kinks, level = [first], (first, 1.0)
            else:  # the corner lies between two rows, and no fit goes across it
                before = float(nu[int(np.searchsorted(nu, rows.coupling)) - 1])
                kinks = [before, first]
    if nu[0] < 0 < nu[-1] and 0.0 in nu:
        kinks.append(0.0)
    if nu[-1] > 1 and 1.0 in nu:
        kinks.append(1.0)
    ratio = smoothed(nu, mu, kinks, falling=True, level_beyond=level)
    capacity = smoothed(nu, c, kinks)
    reading.residuals["torque ratio"] = (mu, ratio)
    reading.residuals["capacity"] = (c, capacity)
    off_ratio = float(np.abs(ratio - mu).max())
    off_capacity = float(np.abs(capacity - c).max() / np.abs(c).max())
    reading.problems.append(
        note("smoothed", sentence="smoothed-converter", carried=True, ratio=off_ratio,
             capacity=100 * off_capacity)
    )  # fmt: skip
    return ratio, capacity
