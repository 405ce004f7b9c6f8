"""What a heading says beside its quantity and unit: no word of it is dropped unasked."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from converter_match.components.capacity_forms import AT_SPEED, AT_TORQUE
from converter_match.curves import FloatArray
from converter_match.library.intake.answers import Answers, chosen_for
from converter_match.library.intake.headings import ColumnHeading
from converter_match.library.intake.layout import Layout
from converter_match.library.intake.problem import Problem, note, question
from converter_match.library.intake.table import SheetColumn
from converter_match.library.intake.vocabulary import ROLES, folded, meaning_of
from converter_match.library.intake.words import said

# Words that change nothing of what a column holds.
_PLAIN = frozenset(
    "a an the of and in is to by with value values data curve converter factor coefficient engine "
    "shaft flywheel crankshaft full load max maximum measured test table column unit units mean "
    "average constant no number torque speed power ratio k characteristic hydrodynamic at".split()
)
_RATINGS = frozenset(
    "rating ratings rated gross net continuous intermittent standby prime heavy medium light duty "
    "basis".split()
)
# What makes a column another quantity than its name says.
_ANOTHER = re.compile(
    r"\b(?:(?:part|half|partial|no) load|\d+(?:[.,]\d+)? ?%(?: load| throttle)?|part throttle|"
    r"wheels?|turbine|drive ?shaft|propshaft|axle|gearbox|transmission|output|coast\w*|"
    r"overrun\w*|motoring|braking|reverse)\b|\d ?%"
)
# The duty types of IEC 60034-1, and for how long: what the two torques of a motor are.
_DUTY = {
    "peak": re.compile(r"\bs2\b|\b\d+ ?(?:min|s)\b"),
    "continuous": re.compile(r"\bs1\b"),
}
_HARMLESS = {
    "converter": frozenset({"input", "pump", "impeller"}),
    "engine": _RATINGS,
    "motor": frozenset({"shaft", "motor", "duty", "type", "electric", "mechanical"}),
}
_BASIS = {"net": "net", "gross": "gross"}


def qualified(columns: Sequence[SheetColumn], layout: Layout, answers: Answers) -> list[Problem]:
    """Return what headings say beside quantity, unit, factor and reference, as questions.

    Parameters
    ----------
    columns : sequence of SheetColumn
        Those that are used.
    layout : Layout
    answers : Answers
        A column that was told by the user is not asked about.
    """
    problems: list[Problem] = []
    left: dict[str, list[SheetColumn]] = {}
    for column in columns:
        heading = layout.headings[column.number - 1]
        if chosen_for(answers.columns, column.number - 1, heading.text) is not None:
            continue
        ratings = layout.kind == "engine" and column.role != "speed"
        several = ratings and sum(each.role == column.role for each in columns) > 1
        words = "" if several else left_over(heading, column.role, layout.kind)
        if words:
            left.setdefault(words, []).append(column)
        problems += _on_conditions(column, heading, layout.kind)
    for words, those in left.items():
        listed = ", ".join(each.place for each in those)
        numbers = "-".join(each.key for each in those)
        other = _ANOTHER.search(words)
        problems.append(
            question(
                "heading-words-left",
                listed,
                sentence="heading-says-another" if other else "heading-words-left",
                key=f"heading:{numbers}",
                answer=f"to answer: --column {those[0].key}=ROLE, or --ignore {those[0].key}",
                words=words,
                role=those[0].role.replace("_", " "),
            )
        )
    return problems


def left_over(heading: ColumnHeading, role: str, kind: str) -> str:
    """Return the words of a heading that are not understood; empty if there are none.

    Parameters
    ----------
    heading : ColumnHeading
    role : str
        What the column is.
    kind : {"converter", "engine", "motor"}
    """
    if heading.meaning is None or not heading.meaning.rest:
        return ""
    words = folded(heading.meaning.rest)
    if kind == "motor" and role in _DUTY:
        words = _DUTY[role].sub(" ", words).strip()
        if not words:
            return ""
    other = _ANOTHER.search(words)
    own = role.split("_")[0] if role in ("turbine_speed", "turbine_torque") else ""
    if other and own not in other[0].split():
        return heading.meaning.rest
    same = meaning_of(words, kind)
    if same is not None and same.exact and same.role == heading.meaning.role:
        return ""
    harmless = _PLAIN | _HARMLESS[kind]
    strange = []
    for word in words.split():
        alone = meaning_of(word, kind)
        known = alone is not None and alone.exact and alone.role == heading.meaning.role
        if not known and word not in harmless:
            strange.append(word)
    rated = kind == "engine" and words.startswith("rating")
    return "" if not strange or rated else heading.meaning.rest


def basis_of(columns: Sequence[SheetColumn]) -> set[str]:
    """Return which rating bases the headings of torque and power name."""
    return {
        _BASIS[word]
        for column in columns
        if column.role in ("torque", "power")
        for word in folded(column.heading).split()
        if word in _BASIS
    }


def _on_conditions(column: SheetColumn, heading: ColumnHeading, kind: str) -> list[Problem]:
    """Name a speed or a torque in a heading that the column has no use for."""
    used = column.reference if column.role in (*AT_SPEED, *AT_TORQUE, "turbine_speed") else None
    for what in (heading.speed, heading.torque):
        if what is None or what == used:
            continue
        condition = f"{what[0]:g} {what[1]}"
        if kind == "converter":
            return [note("condition-noted", column.place, condition=condition)]
        answer = f"to answer: --column {column.key}=ROLE, or --ignore {column.key}"
        key = f"condition:{column.key}"
        return [question("condition-not-used", column.place, key=key, answer=answer,
                         condition=condition, role=column.role)]  # fmt: skip
    return []


def scaled(
    column: SheetColumn, heading: ColumnHeading, answers: Answers, problems: list[Problem]
) -> SheetColumn:
    """Return a column with its numbers multiplied as the user or the heading says.

    Parameters
    ----------
    column : SheetColumn
    heading : ColumnHeading
    answers : Answers
    problems : list of Problem
        Added to: what a factor was taken for.
    """
    told = chosen_for(answers.factors, column.number - 1, heading.text)
    factor = heading.given_factor
    if told is not None:
        factor *= told
        problems.append(note("factor-told", column.place, carried=True, factor=told))
    elif heading.factor_text and not column.unit.startswith("per"):
        if ROLES[column.role] == "ratio":
            factor /= heading.factor
        else:
            factor *= heading.factor
        first = float(column.values[0]) if column.values.size else 1.0
        problems.append(
            question(
                "heading-factor",
                column.place,
                key=f"factor:{column.key}",
                answer=f"to answer: --factor {column.key}=NUMBER",
                text=heading.factor_text,
                first=first,
                becomes=said("number-with-unit", value=first * factor, unit=column.unit).strip(),
            )
        )
    if heading.given_factor != 1.0:
        problems.append(note("per-thousand-squared", column.place))
    if factor == 1.0:
        return column
    tolerance = None if column.tolerance is None else abs(factor) * column.tolerance
    values = column.values * factor
    return replace(column, values=_clean(values), tolerance=tolerance)


def _clean(values: FloatArray) -> FloatArray:
    """Return numbers without the last digits that a product of decimals leaves."""
    return np.array([float(f"{value:.12g}") for value in values])
