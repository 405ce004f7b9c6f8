"""An engine's spec line becomes a draft: rated power, peak torque, speeds, governor.

The curve between the two given points is an estimate, made when the file is read
(`converter_match.components.rating`), with its band of uncertainty stated.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from converter_match.components.engine import Engine
from converter_match.errors import InputError
from converter_match.library.intake.answers import Answers
from converter_match.library.intake.draft import Draft, draft_of
from converter_match.library.intake.engine_sheet import SCHEMA, add_engine_facts
from converter_match.library.intake.facts import option_of
from converter_match.library.intake.numerals import Style, parse, style_of
from converter_match.library.intake.problem import Problem, note, question
from converter_match.library.intake.sheet import Reading, head, needed, quantity
from converter_match.library.intake.spec_line import answered, require_line
from converter_match.library.intake.table import SheetColumn, SheetTable
from converter_match.library.intake.vocabulary import fact_of
from converter_match.library.intake.words import said
from converter_match.units import dimensions_of, from_si, to_si

_NUMBER = r"\d[\d.,' \u00a0\u202f]*"
_AT = re.compile(
    rf"(?P<label>.*?)(?P<value>{_NUMBER})\s*(?P<unit>[^\d\s@][^@]*?)\s*(?:@|\bat\b)\s*"
    rf"(?P<speed>{_NUMBER})\s*(?P<speed_unit>[^\d\s][^()]*?)?\s*",
    re.IGNORECASE,
)
_ALONE = re.compile(rf"(?P<label>[^\d]*?)[:=\s]\s*(?P<value>{_NUMBER})\s*(?P<unit>[^\d\s].*)?")
_BRACKET = re.compile(rf"\(\s*(?P<value>{_NUMBER})\s*(?P<unit>[^()]+?)\s*\)")
_STANDARD = re.compile(
    r"\b(?:ISO|SAE|ECE|DIN|UNECE)\s*(?:J|R)?\s*\d{2,5}(?:[-/]\d+)?\b", re.IGNORECASE
)
_GOVERNED = r"(?: governor| governed)?"
_WORDS: tuple[tuple[str, str, str], ...] = (
    (rf"\b(?:speed[ -]governed|all[ -]speed{_GOVERNED}|speed governor)\b", "governing", "speed"),
    (r"\bgoverning:? speed\b", "governing", "speed"),
    (rf"\b(?:torque[ -]governed|min[ -/]?max{_GOVERNED}|torque governor)\b", "governing", "torque"),
    (r"\bgoverning:? torque\b", "governing", "torque"),
    (r"\bgross\b", "rating_basis", "gross"),
    (r"\bnet\b", "rating_basis", "net"),
    (r"\bturbo\w* (?:and )?(?:after|inter)cooled\b", "aspiration", "turbocharged-aftercooled"),
    (r"\bnaturally[ -]aspirated\b", "aspiration", "naturally-aspirated"),
    (r"\bturbo(?:charged)?\b", "aspiration", "turbocharged"),
)
# A dash with a blank behind it, or with a letter before it, is none.
_MINUS_SIGN = re.compile(r"(?:^|[\s:=(@])[-\u2212\u2012\u2013]\.?\d")
_AGREE = 0.01


def intake_rating(line: str = "", called: str = "spec line", **more: Any) -> Draft:
    """Read an engine's spec line.

    Parameters
    ----------
    line : str
        Such as ``"185 kW @ 2200 rpm; 1010 N.m @ 1400 rpm; low idle 800 rpm; high idle 2380 rpm;
        speed governed; gross"``. What it does not say may be given by name.
    called : str
        What to call it in messages.
    **more
        As in `converter_match.library.intake.reading.intake`: ``rated_power="185 kW"``,
        ``peak_torque="1010 N.m"``, ``peak_torque_speed="1400 rpm"``, ...

    Returns
    -------
    Draft
        Its table is the estimated curve, with the band of uncertainty as tolerance.

    Raises
    ------
    InputError
        If an answer cannot be taken, the line is longer than any spec line, or nothing in it is of
        a spec line.

    Examples
    --------
    >>> draft = intake_rating("185 kW @ 2200 rpm; 1010 N.m @ 1400 rpm; low idle 800 rpm; "
    ...                       "high idle 2380 rpm; speed governed; gross")
    >>> engine = draft.accept(id="spec", name="From a spec line", source="invented")
    >>> round(engine.rated_power / 1e3), engine.torque_band
    (185, 0.06)
    """
    require_line(line, called)
    return _draft(line, called, Answers(kind="engine").plus(**more)).with_known_keys()


def _draft(line: str, source: str, answers: Answers) -> Draft:
    problems: list[Problem] = []
    on_line = _facts(line, answers, problems)
    if line.strip() and not on_line:
        raise InputError(
            "not a spec line",
            source=source,
            found=line,
            expected="such as '185 kW @ 2200 rpm; 1010 N.m @ 1400 rpm; high idle 2380 rpm'",
        )
    facts = answered(on_line, answers, problems)
    data = head(SCHEMA, source, facts, problems)
    complete = add_engine_facts(data, None, facts, problems)
    rating: dict[str, Any] = {}
    for name, what in (
        ("rated_power", said("rated-power")),
        ("peak_torque", said("peak-torque")),
        ("peak_torque_speed", said("peak-torque-speed")),
    ):
        needed(name, what, facts, problems)
        rating[name] = quantity(name, facts, problems)
        complete &= rating[name] is not None
    data["rating"] = rating
    table = SheetTable(source, "engine", (), ())
    reading = Reading(data if complete else None, table, problems)
    draft = draft_of(
        reading, "engine", source, answers, lambda answers: _draft(line, source, answers)
    )
    engine = draft.trial()
    if isinstance(engine, Engine):
        return replace(draft, sheet=_curve(engine, facts, source))
    return replace(draft, sheet=None)


def _facts(line: str, answers: Answers, problems: list[Problem]) -> dict[str, str]:
    style = style_of(re.findall(_NUMBER, line), answers.decimal)
    facts: dict[str, str] = {}
    rest = line
    if (standard := _STANDARD.search(rest)) is not None:
        facts["rating_standard"] = " ".join(standard[0].split())
        rest = rest.replace(standard[0], " ")
    for pattern, name, value in _WORDS:
        if name not in facts and (place := re.search(pattern, rest, re.IGNORECASE)):
            facts[name] = value
            rest = rest.replace(place[0], " ")
    for part in re.split(r"[;\n|]|,\s+(?=\D)|,\s+(?=\d[\d.,]*\s*[^\d\s,]*\s*(?:@|at\b))", rest):
        text = part.strip(" ,.")
        if not text:
            continue
        if _MINUS_SIGN.search(text):
            problems.append(_with_minus(text, style, answers))
        elif not _take(text, facts, style, answers, problems):
            problems.append(note("words-not-used", words=text))
    for name, value in facts.items():
        problems.append(note("fact-from-line", fact=name, value=value))
    return facts


def _with_minus(text: str, style: Style, answers: Answers) -> Problem:
    """Say that a part of the line is not used, and ask about it if it would have been."""
    meant: dict[str, str] = {}
    _take(text, meant, style, answers, [])
    asked = [name for name in meant if name not in answers.facts]
    if not asked:
        return note("words-not-used", sentence="minus-not-used", words=text)
    key, answer = f"minus:{asked[0]}", option_of(asked[0])
    return question("minus-sign", key=key, answer=answer, words=text)


def _take(
    text: str, facts: dict[str, str], style: Style, answers: Answers, problems: list[Problem]
) -> bool:
    """Take one part of the line; return whether it said something."""
    twin = _BRACKET.search(text)
    plain = f"{text[: twin.start()]} {text[twin.end() :]}".strip() if twin else text
    if (parts := _AT.fullmatch(plain)) is not None:
        power = _quantity(parts["value"], parts["unit"], style)
        speed = _quantity(parts["speed"], parts["speed_unit"] or "rpm", style)
        if power is not None and speed is not None:
            number, unit = power
            dimensions = dimensions_of(unit)
            for dimension, names in (
                ("power", ("rated_power", "rated_speed")),
                ("torque", ("peak_torque", "peak_torque_speed")),
            ):
                if dimension in dimensions:
                    _keep(facts, names[0], f"{number:.12g} {unit}", problems)
                    _keep(facts, names[1], f"{speed[0]:.12g} {speed[1]}", problems)
                    if twin is not None:
                        _compare(number, unit, twin, dimension, style, problems)
                    return True
    if (parts := _ALONE.fullmatch(plain)) is not None:
        name = fact_of(parts["label"], "engine", answers.words)
        alone = _quantity(parts["value"], parts["unit"] or "rpm", style)
        if name is not None and alone is not None:
            _keep(facts, name, f"{alone[0]:.12g} {alone[1]}", problems)
            return True
    return False


def _keep(facts: dict[str, str], name: str, value: str, problems: list[Problem]) -> None:
    if name in facts and facts[name] != value:
        problems.append(
            question("fact-twice", sentence="fact-given-twice", answer=option_of(name), fact=name,
                     first=facts[name], second=value)
        )  # fmt: skip
        return
    facts[name] = value


def _quantity(value: str, unit: str, style: Style) -> tuple[float, str] | None:
    number = parse(value.strip(), style)
    text = unit.strip(" .,")
    return None if number is None or not dimensions_of(text) else (number.value, text)


def _compare(
    number: float,
    unit: str,
    twin: re.Match[str],
    dimension: str,
    style: Style,
    problems: list[Problem],
) -> None:
    """Compare a value with the one in brackets behind it: 185 kW (252 PS)."""
    other = _quantity(twin["value"], twin["unit"], style)
    if other is None or dimension not in dimensions_of(other[1]):
        return
    one, two = to_si(number, unit, dimension), to_si(other[0], other[1], dimension)
    if abs(two / one - 1) <= _AGREE:
        return
    problems.append(
        question(
            "twin-value-differs",
            key=f"twin:{dimension}",
            one=f"{number:.6g} {unit}",
            other=f"{other[0]:.6g} {other[1]}",
            apart=100 * abs(two / one - 1),
        )
    )


def _curve(engine: Engine, facts: Mapping[str, str], source: str) -> SheetTable:
    """Return the estimated curve as a table, with its band as tolerance."""
    unit = facts["peak_torque"].split(maxsplit=1)[-1]
    torque = np.asarray(from_si(engine.torque, unit, "torque"))
    band = engine.torque_band * torque
    speed = np.asarray(from_si(engine.speed, "rpm", "angular_speed"))
    columns = (
        SheetColumn(1, "speed", "speed", speed, "rpm"),
        SheetColumn(2, "torque (estimated)", "torque", torque, unit, tolerance=band),
    )
    return SheetTable(source, "engine", columns, tuple(range(1, speed.size + 1)), "point")
