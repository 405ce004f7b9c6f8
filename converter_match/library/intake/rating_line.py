"""An engine's spec line becomes a draft: rated power, peak torque, speeds, governor.

The curve between the two given points is an estimate, made when the file is read
(`converter_match.components.rating`), with its band of uncertainty stated.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from converter_match.components.engine import Engine
from converter_match.errors import InputError
from converter_match.library.intake.answers import ENGINE_FACTS, Answers
from converter_match.library.intake.draft import Draft, draft_of
from converter_match.library.intake.engine_sheet import SCHEMA, add_engine_facts
from converter_match.library.intake.facts import fact_si, option_of
from converter_match.library.intake.line_scan import LineQuantity, quantities
from converter_match.library.intake.problem import Problem, note, question
from converter_match.library.intake.sheet import Reading, head, needed, quantity
from converter_match.library.intake.spec_line import answered, require_line
from converter_match.library.intake.table import SheetColumn, SheetTable
from converter_match.library.intake.vocabulary import fact_of
from converter_match.library.intake.words import said
from converter_match.library.schema.quantity import SECOND
from converter_match.library.schema.second_figures import differ
from converter_match.library.toml_text import Inline
from converter_match.units import from_si, to_si

_STANDARD = re.compile(
    r"\b(?:ISO|SAE|ECE|DIN|UNECE)\s*(?:J|R)?\s*\d{2,5}(?:[-/]\d+)?\b", re.IGNORECASE
)
_GOVERNED = r"(?: governor| governed)?"
_WORDS: tuple[tuple[str, str, str], ...] = (
    (rf"\b(?:speed[ -]governed|all[ -]speed{_GOVERNED}|speed governor)\b", "governing", "speed"),
    (r"\bgoverning:? speed\b", "governing", "speed"),
    (rf"\b(?:torque[ -]governed|min[ -/]?max{_GOVERNED}|torque governor)\b", "governing", "torque"),
    (r"\bgoverning:? torque\b", "governing", "torque"),
    (r"\b(?:gross|brutto|brute?|brut[ao])\b", "rating_basis", "gross"),
    (r"\b(?:net|netto|nett?[aeo]|l[ií]quid[ao])\b", "rating_basis", "net"),
    (r"\bturbo\w* (?:and )?(?:after|inter)cooled\b", "aspiration", "turbocharged-aftercooled"),
    (r"\bnaturally[ -]aspirated\b", "aspiration", "naturally-aspirated"),
    (r"\bturbo(?:charged)?\b", "aspiration", "turbocharged"),
)
# What a label says a speed is, in the languages of brochures; the first that fits counts.
_SPEEDS = (
    (re.compile(r"\b(?:high|fast|no[ -]?load|max\w*|obere|régime max)\b.*\b(?:idle|idling|speed|"
                r"leerlauf\w*|ralent[ií])|\bno[ -]?load\b|\bleerlauf\w* (?:max|oben)",
                re.IGNORECASE), "high_idle"),
    (re.compile(r"\b(?:idle|idling|leerlauf\w*|ralenti|ralentí|marcha lenta)\b", re.IGNORECASE),
     "low_idle"),
)  # fmt: skip
_BREAK = re.compile(r"[;\n|]")
_JOINS = re.compile(
    r"(?:@|\b(?:at|bei|à|a|entre|von|de|from|between|zwischen)\b)\s*$|^[\s)]*/\s*$", re.IGNORECASE
)
_OTHER = re.compile(
    r"\b(?:power|torque|output|leistung|nennleistung|drehmoment|puissance|couple|potencia|par|"
    r"potência|potenza|coppia)\b",
    re.IGNORECASE,
)
_ONLY_AT = re.compile(r"\s*(?:@|at|bei|à|a|/|\bto\b)\s*", re.IGNORECASE)
# Words that say nothing beyond the quantity they stand with.
_PLAIN = frozenset(
    "rated rating power torque peak max maximum maxi maximal maximale maxima máximo máxima máx "
    "nominal nominale nominelle output engine motor moteur at bei à a @ and und et y e with con "
    "mit speed rpm low high idle idling no load par couple drehmoment leistung nennleistung "
    "puissance potencia potência torsion displacement hubraum cylindrée cilindrada leerlauf "
    "ralenti ralentí régime von de entre from between to bis the of gross net".split()
)
_SLOWEST = 60.0
"""A number without a unit that is smaller is no engine speed in rpm."""
_FASTEST = 6000.0 * 2.0 * np.pi / 60.0  # [rad/s]; common practice, no source
_PAIRS = {"power": ("rated_power", "rated_speed"), "torque": ("peak_torque", "peak_torque_speed")}


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
    on = _facts(line, answers, problems)
    on_line = on.facts
    if line.strip() and not on_line:
        raise InputError(
            "not a spec line",
            source=source,
            found=line,
            expected="such as '185 kW @ 2200 rpm; 1010 N.m @ 1400 rpm; high idle 2380 rpm'",
        )
    facts = answered(on_line, answers, problems)
    problems += _too_fast(on_line, answers)
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
        twins = on.twins.get(name)
        if twins and rating[name] is not None and facts[name] == on_line.get(name):
            second = [Inline(unit=unit, value=number) for number, unit in twins]
            rating[name][SECOND] = second[0] if len(second) == 1 else second
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


def _too_fast(facts: Mapping[str, str], answers: Answers) -> list[Problem]:
    """Ask about speeds that no engine of this trade has: "2300 1/min" loses its space in a copy."""
    found = []
    for name in ("low_idle", "peak_torque_speed", "rated_speed", "high_idle"):
        if name not in facts or name in answers.facts:
            continue
        value, unit, speed = fact_si(name, facts[name])
        if speed <= _FASTEST:
            continue
        run_on = said("one-run-on", less=f"{(value - 1) / 10:.6g}") if value % 10 == 1 else ""
        found.append(
            question("speed-too-fast", key=f"speed:{name}", answer=option_of(name), fact=name,
                     value=f"{value:.6g} {unit}", run_on=run_on)
        )  # fmt: skip
    return found


@dataclass(frozen=True)
class _Line:
    """A line being read: what it says so far, and what is to be asked about it."""

    text: str
    answers: Answers
    problems: list[Problem]
    facts: dict[str, str] = field(default_factory=dict)
    # What stands beside a fact in other units, and agrees with it.
    twins: dict[str, tuple[tuple[float, str], ...]] = field(default_factory=dict)

    def keep(self, name: str, value: str) -> None:
        """Take a fact; ask where the line says another as well, and the user has not said it."""
        if name not in self.facts or self.facts[name] == value:
            self.facts[name] = value
        elif name not in self.answers.facts:
            self.problems.append(
                question("fact-twice", sentence="fact-given-twice", answer=option_of(name),
                         fact=name, first=self.facts[name], second=value)
            )  # fmt: skip

    def take(self, name: str, item: LineQuantity) -> None:
        """Take a quantity for a fact, or ask about it."""
        item = item if item.unit else replace(item, unit="rpm")
        if not item.minus and len(item.values) == 1:
            self.keep(name, item.text)
        elif name not in self.answers.facts:
            answer = option_of(name)
            self.problems.append(
                question("minus-sign", key=f"minus:{name}", answer=answer, words=self.clause(item))
                if item.minus
                else question("range-not-taken", answer=answer, fact=name, words=item.text)
            )

    def clause(self, item: LineQuantity) -> str:
        """Return the part of the line, between its breaks, in which a quantity stands."""
        before = _BREAK.split(self.text[: item.start])[-1]
        after = _BREAK.split(self.text[item.end :])[0]
        return f"{before}{self.text[item.start : item.end]}{after}".strip(" ,.")


def _facts(line: str, answers: Answers, problems: list[Problem]) -> _Line:
    rest = line
    on = _Line(line, answers, problems)
    if (standard := _STANDARD.search(rest)) is not None:
        on.facts["rating_standard"] = " ".join(standard[0].split())
        rest = rest.replace(standard[0], " " * len(standard[0]))
    for pattern, name, value in _WORDS:
        if (place := re.search(pattern, rest, re.IGNORECASE)) is None:
            continue
        if name == "rating_basis":  # with its quantity it tells which of two it is: it stays
            on.keep(name, value)
        else:
            on.facts.setdefault(name, value)
            rest = rest.replace(place[0], " " * len(place[0]))
    items = quantities(rest, answers)
    used = _paired(rest, items, on)
    for words in _left(rest, items, used):
        problems.append(note("words-not-used", words=words))
    for name, value in on.facts.items():
        problems.append(note("fact-from-line", fact=name, value=value))
    return on


def _paired(line: str, items: Sequence[LineQuantity], on: _Line) -> set[int]:
    """Give every quantity its name; return the numbers of those that are used."""
    used: set[int] = set()
    row = 0
    while row < len(items):
        item = items[row]
        names = _PAIRS.get(item.dimension)
        row += 1
        if names is None:
            if name := _single(item, on.answers):
                on.take(name, item)
                used.add(row - 1)
            continue
        used.add(row - 1)
        on.take(names[0], item)
        _compare(names[0], item, on)
        before = items[row - 2] if row > 1 and row - 2 not in used else None
        if before is not None and _leads(line, before, item):
            on.take(names[1], before)
            used.add(row - 2)
            continue
        if row < len(items) and _belongs(line, item, items[row], on.answers):
            if not item.minus:  # what belongs to a number that is not taken is not taken either
                on.take(names[1], items[row])
            used.add(row)
            row += 1
    return used


def _belongs(line: str, item: LineQuantity, following: LineQuantity, answers: Answers) -> bool:
    """Return whether the next quantity is the speed at which this one holds."""
    between = line[item.end : following.start]
    if _BREAK.search(between) or _OTHER.search(between) or following.minus:
        return False
    if not following.unit:
        return (
            following.values[0] >= _SLOWEST and _ONLY_AT.fullmatch(between.lstrip(" )")) is not None
        )
    if following.dimension != "angular_speed" or _single(following, answers):
        return False
    # Side by side only, or with the word for it: what a speed in a list belongs to is a guess.
    return _JOINS.search(between) is not None or not re.search(r"[^\s()]", between)


def _leads(line: str, before: LineQuantity, item: LineQuantity) -> bool:
    """Return whether the quantity before is the speed of this one: "at 1400 rpm: 410 N.m"."""
    colon = re.fullmatch(r"\s*[:=]\s*", line[before.end : item.start]) is not None
    return colon and before.dimension == "angular_speed"


def _single(item: LineQuantity, answers: Answers) -> str:
    """Return the fact that a quantity by itself is; empty for none."""
    if item.dimension == "volume":
        return "displacement"
    if item.dimension not in ("", "angular_speed"):
        return ""
    label = re.split(r"[;\n|,]", item.label)[-1].strip(" :=.-()\u2013")
    words = label.split()
    for count in range(min(len(words), 5), 0, -1):
        name = fact_of(" ".join(words[-count:]), "engine", answers.words)
        if name is not None and ENGINE_FACTS[name] == "angular_speed":
            return name
    return next((name for pattern, name in _SPEEDS if pattern.search(label)), "")


def _compare(name: str, item: LineQuantity, on: _Line) -> None:
    """Compare a value with the same in other units beside it: 185 kW (252 PS)."""
    if name in on.answers.facts or len(item.values) > 1:
        return
    agreeing = []
    for number, unit in item.twins:
        one, two = (item.values[0], item.unit), (number, unit)
        if differ(one, two, item.dimension):
            first, second = (float(to_si(*each, item.dimension)) for each in (one, two))
            on.problems.append(
                question("twin-value-differs", key=f"twin:{item.dimension}",
                         answer=option_of(name), one=f"{item.values[0]:.6g} {item.unit}",
                         other=f"{number:.6g} {unit}", apart=100 * abs(second / first - 1))
            )  # fmt: skip
        else:
            agreeing.append(two)
    on.twins[name] = tuple(agreeing)


def _left(line: str, items: Sequence[LineQuantity], used: set[int]) -> list[str]:
    """Return the stretches of the line that said nothing, clause by clause."""
    kept = list(line)
    for row, item in enumerate(items):
        if row in used:
            kept[item.start : item.end] = "\0" * (item.end - item.start)
    stretches = re.split(r"[;\n|,\0()]", "".join(kept))
    found = []
    for stretch in stretches:
        words = re.findall(r"[^\s:=./-]+", stretch)
        if any(word.casefold() not in _PLAIN and len(word) > 1 for word in words):
            found.append(" ".join(stretch.split()).strip(" .:-"))
    return [words for words in found if words]


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
