"""What stands beside the table: diameter, oil, idle speeds, the kind of stator."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

from converter_match.errors import InputError
from converter_match.library.intake.answers import (
    CHOICES,
    FACTS,
    Answers,
    unit_in_our_words,
)
from converter_match.library.intake.grid import Grid, cell_text
from converter_match.library.intake.layout import Layout
from converter_match.library.intake.numerals import Style, in_two_ways, parse
from converter_match.library.intake.problem import Problem, note, question
from converter_match.library.intake.vocabulary import fact_of
from converter_match.library.intake.words import said
from converter_match.library.toml_text import number_text
from converter_match.units import display_unit, to_si

# Words of a sheet -> the choice they stand for.
_CHOICE_WORDS = {
    "one way": "one-way",
    "one way clutch": "one-way",
    "freewheeling": "one-way",
    "free wheeling": "one-way",
    "fluid coupling": "none",
    "all speed": "speed",
    "min max": "torque",
    "flywheel net": "net",
    "bare engine": "gross",
}
# Below these [SI] a number that can be read in two ways is asked about: 1,700 rpm is not 1.7 rpm.
_LEAST = {"angular_speed": 6.0, "torque": 20.0, "power": 1e3, "length": 0.02}


def facts_of(layout: Layout, answers: Answers) -> tuple[dict[str, str], list[Problem]]:
    """Return the facts that stand around the table, as texts with units, and what was noticed.

    What the user says comes first; a line of the sheet that says otherwise becomes a note.
    """
    read: dict[str, str] = {}
    problems: list[Problem] = []
    for row in layout.remark_rows:
        problems += _note_of(layout.grid, row)
        for label, value in _labelled(layout, row, answers) or _pairs(layout.grid, row):
            name = fact_of(label, layout.kind, answers.words)
            if name is None:
                continue
            text, complaint = _as_fact(name, value, layout.style, answers)
            where = layout.grid.place(row)
            if complaint and name in answers.facts:
                problems.append(
                    note("fact-overruled", where, what="sheet", fact=name, theirs=value,
                         yours=answers.facts[name])
                )  # fmt: skip
            elif complaint:
                problems.append(
                    question(f"fact-{name}", where, sentence="as-said", what=complaint,
                             answer=option_of(name))
                )  # fmt: skip
            elif name in answers.facts:
                if answers.facts[name] != text:
                    yours = answers.facts[name]
                    problems.append(
                        note("fact-overruled", where, what="sheet", fact=name, theirs=text,
                             yours=yours)
                    )  # fmt: skip
            elif name in read and read[name] != text:
                problems.append(
                    question("fact-twice", where, answer=option_of(name), fact=name, here=text,
                             elsewhere=read[name])
                )  # fmt: skip
            else:
                read[name] = text
                line = layout.grid.shown(row)
                problems.append(note("fact-from-sheet", where, fact=name, value=text, line=line))
    return {**read, **answers.facts}, problems


def _note_of(grid: Grid, row: int) -> list[Problem]:
    """Return a note that was exported with a component: "note | code: words"."""
    cells = [cell_text(cell) for cell in grid.rows[row] if cell is not None]
    if len(cells) != 2 or cells[0].casefold() != "note":
        return []
    parts = re.fullmatch(r"([a-z][a-z0-9-]{2,60}): (.+)", cells[1].removeprefix("'"), re.DOTALL)
    if parts is None:
        return []
    return [note(parts[1], sentence="as-said", carried=True, what=parts[2])]


def option_of(fact: str) -> str:
    """Return how a fact is given on the command line."""
    choices = CHOICES.get(fact)
    value = "|".join(choices) if choices else "..."
    return f"to answer: --{fact.replace('_', '-')} {value}"


def _labelled(layout: Layout, row: int, answers: Answers) -> list[tuple[str, str]]:
    """Return (label, value) of a row that is nothing but a known label and what stands beside."""
    cells = [cell_text(cell) for cell in layout.grid.rows[row] if cell is not None]
    if (
        len(cells) not in (2, 3)
        or fact_of(cells[0].rstrip(": "), layout.kind, answers.words) is None
    ):
        return []
    return [(cells[0].rstrip(": "), " ".join(cells[1:]))]


def _pairs(grid: Grid, row: int) -> Iterator[tuple[str, str]]:
    """Yield (label, value): from 'label: value' in one cell, and from cells side by side."""
    cells = [cell_text(cell) for cell in grid.rows[row]]
    joined = " ".join(cell for cell in cells if cell)
    for part in re.split(r"[;|]|,\s+(?=[A-Za-z])", joined):
        sides = re.split(r"\s*[:=]\s*", part, maxsplit=1)
        if len(sides) == 2 and sides[1].strip():
            yield sides[0].strip(), sides[1].strip()
    for place, cell in enumerate(cells[:-1]):
        following = [text for text in cells[place + 1 :] if text]
        if cell and following and ":" not in cell.rstrip(":") and "=" not in cell:
            yield cell.rstrip(": "), " ".join(following[:2])
    if (parts := re.fullmatch(r"([A-Za-z ]+?)\s+(\d[\d.,]*\s*\S*)", joined.strip())) is not None:
        yield parts[1], parts[2]


def _as_fact(name: str, value: str, style: Style, answers: Answers) -> tuple[str, str]:
    """Return (fact as text, complaint)."""
    dimension = FACTS[name]
    if dimension is None:
        if name not in CHOICES:
            # A text that a spreadsheet would take for a formula is exported with an apostrophe.
            return value[1:] if value[:1] == "'" and value[
                1:2
            ] in "=+-@\uff1d\uff0b\uff0d\uff20" else value, ""
        word = " ".join(value.casefold().replace("-", " ").replace("_", " ").split())
        for choice in CHOICES[name]:
            if word == choice.replace("-", " ") or _CHOICE_WORDS.get(word) == choice:
                return choice, ""
        choices = ", ".join(CHOICES[name])
        return "", said("fact-is-none-of", fact=name, value=value, choices=choices)
    number = parse(value, style)
    if number is None:
        return "", said("fact-is-no-number", fact=name, value=value)
    unit = unit_in_our_words(number.unit.strip(), answers)
    try:
        to_si(number.value, unit, dimension)
    except InputError as refusal:
        return "", said("fact-refused", fact=name, value=value, why=refusal)
    least = _LEAST.get(dimension, 0.0)
    if to_si(number.value, unit, dimension) < least and in_two_ways(value.split()[0], style):
        read = f"{number.value:g} {unit}"
        return "", said("fact-unclear", fact=name, value=value, read=read)
    return f"{number_text(number.value)} {unit}".strip(), ""


def fact_si(name: str, text: str) -> tuple[float, str, float]:
    """Return (number, unit, SI value) of a fact.

    Raises
    ------
    InputError
        If the text is not a number above zero with a unit of the fact's dimension.
    """
    dimension = FACTS[name] or ""
    option = f"--{name.replace('_', '-')}"
    unit = display_unit(dimension, "si")
    example = "1.5" if dimension == "ratio" else f"'120 {unit}'"
    number = parse(text, Style(".", True, ""))
    if number is None:
        raise InputError(
            "not a number with its unit",
            field=option,
            found=text,
            expected=f"a number above zero, for example {example}",
        )
    # The sign first: a negative number is wrong in every unit, and in none.
    if not 0.0 < number.value < math.inf:
        raise InputError(
            "out of range",
            field=option,
            found=text,
            expected=f"a number above zero, for example {example}",
        )
    value = to_si(number.value, number.unit, dimension, field=option)
    if name == "torque_band" and value > 0.5:
        raise InputError(
            "out of range", field=option, found=text, expected="a share of the torque, at most 0.5"
        )
    return number.value, number.unit, value
