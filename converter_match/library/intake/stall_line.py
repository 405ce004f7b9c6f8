"""What is known of a converter's stall, in words: "stalls at 2400 rpm behind 300 lbf.ft, ...".

The converter behind it is an estimate, made when the file is read
(`converter_match.components.converter_estimate`), with its band.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from converter_match.components.converter import Converter
from converter_match.errors import InputError
from converter_match.library.intake.answers import Answers, unit_in_our_words
from converter_match.library.intake.converter_sheet import SCHEMA
from converter_match.library.intake.draft import Draft, draft_of, on_saved
from converter_match.library.intake.facts import fact_si, option_of
from converter_match.library.intake.numerals import parse, style_of
from converter_match.library.intake.problem import Problem, note, question
from converter_match.library.intake.sheet import Reading, head, needed, quantity
from converter_match.library.intake.spec_line import LONGEST_LINE, answered, require_line
from converter_match.library.intake.table import SheetColumn, SheetTable
from converter_match.library.intake.words import said
from converter_match.library.toml_text import number_text
from converter_match.units import dimensions_of, to_si

_MOST_LINES = 12
_NUMBER = r"\d(?:[\d.,'\u00a0\u202f]*\d)?|\.\d+"
_TOKEN = re.compile(rf"(?<![\w.,])(?P<minus>[-\u2212])?(?P<value>{_NUMBER})(?![\w]*\d)")
_RANGE = re.compile(r"\s*(?:\.{2,3}|\u2026|-|\u2013|\bto\b|\bor\b)\s*", re.IGNORECASE)
_STALL = re.compile(r"\bstall(?:s|ed|ing)?\b", re.IGNORECASE)
_RATIO = re.compile(
    r"\b(?:torque ratio|stall (?:torque )?ratio|ratio|multiplication|multiplies|TR)\b",
    re.IGNORECASE,
)
_COUPLING = re.compile(r"\b(?:coupling|couples|lock(?:s|ing)? point)\b", re.IGNORECASE)
_TURBINE = re.compile(r"\b(?:turbine|output|secondary)\b", re.IGNORECASE)
_STATORS = (
    (re.compile(r"\bone[- ]way\b|\bfree[- ]?wheel\w*", re.IGNORECASE), "one-way"),
    (re.compile(r"\bfixed (?:stator|reactor)\b", re.IGNORECASE), "fixed"),
    (re.compile(r"\bfluid coupling\b", re.IGNORECASE), "none"),
)
_TO_ONE = re.compile(r"(?<=\d)\s*:\s*1\b(?![.,]?\d)")
_AGREE = 0.02
_SIZES = {"length": "profile_diameter", "density": "oil_density"}


@dataclass(frozen=True)
class _Said:
    """A number on the line: what leads to it, it or its two ends, and its unit."""

    label: str
    values: tuple[float, ...]
    unit: str
    text: str
    minus: bool = False

    @property
    def dimensions(self) -> tuple[str, ...]:
        return dimensions_of(self.unit) if self.unit else ()


def tells_a_stall(text: str) -> bool:
    """Return whether a text says how a converter stalls, and holds no table.

    Examples
    --------
    >>> tells_a_stall("stalls at 2400 rpm behind 300 lbf.ft, torque ratio 2.2")
    True
    >>> tells_a_stall("185 kW @ 2200 rpm; 1010 N.m @ 1400 rpm")
    False
    """
    lines = [line for line in text.splitlines() if line.strip()]
    if not 1 <= len(lines) <= _MOST_LINES or len(text) > LONGEST_LINE or not _STALL.search(text):
        return False
    rows = [line for line in lines if not re.sub(rf"{_NUMBER}|[\s;,|.%-]", "", line)]
    if rows:
        return False
    known = {name for item in _numbers(text, Answers()) for name in item.dimensions}
    return "angular_speed" in known


def intake_stall(line: str = "", called: str = "spec line", **more: Any) -> Draft:
    """Read what is known of a converter's stall.

    Parameters
    ----------
    line : str
        Such as ``"stalls at 2400 rpm behind 300 lbf.ft, torque ratio 2.1 .. 2.3, diameter 12 in"``.
        What it does not say may be given by name.
    called : str
        What to call it in messages.
    **more
        As in `converter_match.library.intake.reading.intake`: ``stall_speed="2400 rpm"``,
        ``stall_torque="300 lbf.ft"``, ``stall_torque_ratio="2.2"``, ...

    Returns
    -------
    Draft
        Its table is the middle of the estimate.

    Raises
    ------
    InputError
        If an answer cannot be taken, or the line is too long or says nothing about a stall.

    Examples
    --------
    >>> draft = intake_stall("stalls at 2400 rpm behind 300 lbf.ft, torque ratio 2.2")
    >>> unit = draft.accept(id="known", name="Known by its stall", source="invented")
    >>> float(unit.torque_ratio_at(0.0)), unit.estimated
    (2.2, True)
    """
    require_line(line, called)
    return _draft(line, called, Answers(kind="converter").plus(**more)).with_known_keys()


def _draft(line: str, source: str, answers: Answers) -> Draft:
    problems: list[Problem] = on_saved(answers)
    on_line = _facts(line, answers, problems)
    if line.strip() and not on_line and not any(problem.is_open for problem in problems):
        raise InputError(
            "says nothing about a converter's stall",
            source=source,
            found=line,
            expected="such as 'stalls at 2400 rpm behind 300 lbf.ft, torque ratio 2.2'",
        )
    facts = answered(on_line, answers, problems)
    data = head(SCHEMA, source, facts, problems)
    if "stator" not in facts:
        problems.append(note("stall-stator-assumed", carried=True))
    data["stator"] = facts.get("stator", "one-way")
    for name in ("profile_diameter", "oil_density", "coupling_speed_ratio"):
        data[name] = quantity(name, facts, problems)
    datum: dict[str, Any] = {}
    for name, key, what in (
        ("stall_speed", "engine_speed", said("stall-speed")),
        ("stall_torque", "input_torque", said("stall-torque")),
    ):
        needed(name, what, facts, problems)
        datum[key] = quantity(name, facts, problems)
    ratio = _torque_ratio(facts, problems)
    complete = None not in datum.values() and not any(problem.is_open for problem in problems)
    data["stall_datum"] = datum | ratio
    table = SheetTable(source, "converter", (), ())
    reading = Reading(data if complete else None, table, problems)
    draft = draft_of(
        reading,
        "converter",
        source,
        answers,
        lambda answers: _draft(line, source, answers),
        remarks=tuple(" ".join(part.split()) for part in line.splitlines() if part.strip()),
    )
    unit = draft.trial()
    return replace(draft, sheet=_rows(unit, source) if isinstance(unit, Converter) else None)


def _torque_ratio(facts: Mapping[str, str], problems: list[Problem]) -> dict[str, Any]:
    """Return the torque ratio at stall as it stands in a file: a number, a range, or nothing."""
    ends = [f"stall_torque_ratio_{end}" for end in ("least", "most")]
    if all(name in facts for name in ends):
        return {"torque_ratio_range": [fact_si(name, facts[name])[2] for name in ends]}
    for name in ends:
        if name in facts:
            problems.append(question("range-one-ended", answer=option_of(name), fact=name))
    if "stall_torque_ratio" in facts:
        name = "stall_torque_ratio"
        return {"torque_ratio": fact_si(name, facts[name])[2]}
    return {}


def _facts(line: str, answers: Answers, problems: list[Problem]) -> dict[str, str]:
    facts: dict[str, str] = {}
    for pattern, value in _STATORS:
        if pattern.search(line):
            facts["stator"] = value
            line = pattern.sub(" ", line)
    turbine: _Said | None = None
    for item in _numbers(line, answers):
        name = _name_of(item)
        if item.minus and name:
            if name not in answers.facts:
                key = f"minus:{name}"
                problems.append(
                    question("minus-sign", key=key, answer=option_of(name), words=item.text)
                )
        elif name == "turbine_torque":
            turbine = item
        elif name:
            _keep(name, item, facts, answers, problems)
        else:
            problems.append(note("words-not-used", words=item.text))
    _from_turbine(turbine, facts, problems)
    for name, value in facts.items():
        problems.append(note("fact-from-line", fact=name, value=value))
    return facts


def _name_of(item: _Said) -> str:
    """Return the fact that a number on the line is; empty for none."""
    known = item.dimensions
    if "angular_speed" in known:
        return "stall_speed"
    if "torque" in known:
        return "turbine_torque" if _TURBINE.search(item.label) else "stall_torque"
    for dimension, name in _SIZES.items():
        if dimension in known:
            return name
    if item.unit:
        return ""
    if _COUPLING.search(item.label):
        return "coupling_speed_ratio"
    return "stall_torque_ratio" if _RATIO.search(item.label) else ""


def _keep(
    name: str, item: _Said, facts: dict[str, str], answers: Answers, problems: list[Problem]
) -> None:
    texts = [f"{number_text(value)} {item.unit}".strip() for value in item.values]
    if len(texts) == 2 and name == "stall_torque_ratio":
        facts["stall_torque_ratio_least"], facts["stall_torque_ratio_most"] = texts
    elif len(texts) == 2:
        if name not in answers.facts:
            problems.append(
                question("range-not-taken", answer=option_of(name), fact=name, words=item.text)
            )
    elif name in facts and facts[name] != texts[0]:
        if name in answers.facts:
            return
        problems.append(
            question("fact-twice", sentence="fact-given-twice", answer=option_of(name), fact=name,
                     first=facts[name], second=texts[0])
        )  # fmt: skip
    else:
        facts[name] = texts[0]


def _from_turbine(turbine: _Said | None, facts: dict[str, str], problems: list[Problem]) -> None:
    """Take the torque ratio from turbine torque and input torque, or hold it against them."""
    if turbine is None:
        return
    if "stall_torque" not in facts or len(turbine.values) > 1:
        problems.append(note("words-not-used", words=turbine.text))
        return
    torque = float(to_si(turbine.values[0], turbine.unit, "torque"))
    ratio = torque / fact_si("stall_torque", facts["stall_torque"])[2]
    given = [
        fact_si(name, facts[name])[2] for name in facts if name.startswith("stall_torque_ratio")
    ]
    if not given:
        facts["stall_torque_ratio"] = f"{ratio:.6g}"
        problems.append(note("torque-ratio-from-torques", carried=True))
        return
    off = max(min(given) / ratio, ratio / max(given)) - 1.0
    if off > _AGREE:
        problems.append(
            question("twin-value-differs", key="twin:torque_ratio", apart=100 * off,
                     one=f"torque ratio {given[0]:.4g}", other=f"{ratio:.4g} of the torques")
        )  # fmt: skip


def _numbers(line: str, answers: Answers) -> Iterator[_Said]:
    """Yield every number of the line with what leads to it, ranges as one."""
    line = _TO_ONE.sub(" torque ratio", line)
    found = list(_TOKEN.finditer(line))
    style = style_of([each["value"] for each in found], answers.decimal)
    start, row = 0, 0
    while row < len(found):
        first = found[row]
        label, end = line[start : first.start()], first.end()
        number = parse(first["value"], style)
        unit, end = _unit_after(line, end, answers)
        values: tuple[float, ...] = () if number is None else (number.value,)
        if row + 1 < len(found):
            second = found[row + 1]
            between = line[end : second.start()] + (second["minus"] or "")
            other = parse(second["value"], style)
            after, stop = _unit_after(line, second.end(), answers)
            if values and other is not None and _RANGE.fullmatch(between) and unit in ("", after):
                values, unit, end = (values[0], other.value), after, stop
                row += 1
        text = " ".join(line[start:end].split()).strip(" ,;")
        if not unit and not _RATIO.search(label) and not _COUPLING.search(label):
            label += _until_next(line, end, found, row)  # "2.2 torque ratio"
        if values:
            yield _Said(label, values, unit, text, first["minus"] is not None)
        start, row = end, row + 1


def _until_next(line: str, end: int, found: list[re.Match[str]], row: int) -> str:
    stop = found[row + 1].start() if row + 1 < len(found) else len(line)
    return re.split(r"[,;\n]", line[end:stop])[0]


def _unit_after(line: str, end: int, answers: Answers) -> tuple[str, int]:
    """Return the unit that follows a number, and where it ends; empty where none does."""
    words = re.match(r"\s*([^\s\d;,]+)(\s+[^\s\d;,]+)?", line[end:])
    if words is None:
        return "", end
    for last in (2, 1):
        if words[last] is None:
            continue
        spelt = line[end + words.start(1) : end + words.end(last)].rstrip(".:")
        unit = unit_in_our_words(spelt, answers)
        # A dash, which stands for no unit elsewhere, is the sign of a range here.
        if re.search(r"[^\W\d]", spelt) and dimensions_of(unit):
            return unit, end + words.end(last)
    return "", end


def _rows(unit: Converter, source: str) -> SheetTable:
    """Return the middle of the estimate as a table, with how far the band goes as tolerance."""
    nu = unit.speed_ratio
    band = unit.band(nu)
    columns = [SheetColumn(1, "speed ratio", "speed_ratio", nu)]
    for number, (role, key, si_unit) in enumerate(
        (("torque_ratio", "torque_ratio", ""),
         ("capacity_coefficient", "capacity", "N.m/(rad/s)^2")), start=2
    ):  # fmt: skip
        values = getattr(unit, key)
        least, most = band[key]
        tolerance = np.maximum(most - values, values - least)
        heading = f"{key.replace('_', ' ')} (estimated)"
        columns.append(SheetColumn(number, heading, role, values, si_unit, tolerance=tolerance))
    return SheetTable(source, "converter", tuple(columns), tuple(range(1, nu.size + 1)), "point")
