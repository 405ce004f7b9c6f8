"""The quantities of a spec line, in the order in which they stand: read once, from left to right.

A number takes the longest unit that follows it; numbers of one dimension side by side ("185 kW (248
hp)") are one quantity told twice; two ends of a range are one quantity. Time grows with the length
of the line, no more.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from converter_match.library.intake.answers import Answers, unit_in_our_words
from converter_match.library.intake.numerals import Decimal, Style, in_two_ways, parse, style_of
from converter_match.units import dimensions_of, to_si

NUMBER = r"\d{1,3}(?:[ \u00a0\u202f]\d{3})+(?![\d])(?:[.,]\d+)?|\d+(?:[.,'\u2019]\d+)*"
_TOKEN = re.compile(rf"(?P<sign>[-\u2212\u2012\u2013])?(?P<value>{NUMBER})")
_GLUED = re.compile(r"(?:[^\W\d]|[^\W\d]-|[.,]\d*)$")  # part of a name: D-185, J1995
_MINUS_BEFORE = re.compile(r"(?:^|[\s:=(@])$")
_BETWEEN_ENDS = re.compile(
    r"\s*(?:\.{2,3}|\u2026|[-\u2013\u2014\u2212~]|\bto\b|\bbis\b|\bà\b|\ba\b|\be\b|\bet\b|\by\b|"
    r"\band\b|\bund\b|\bor\b)\s*",
    re.IGNORECASE,
)
_TWIN = re.compile(r"\s*(?:[(/=]|\bor\b|\bbzw\.?|\bou\b|\bo\b)?\s*", re.IGNORECASE)
_LONGEST_UNIT = 24
_WANTED = frozenset({"power", "torque", "angular_speed", "volume", "ratio", "length", "density"})
# Spellings of brochures that are no units of their own.
_SPELLINGS = {
    "tr/mn": "tr/min", "1/min": "r/min", "/min": "r/min", "u/min": "U/min", "t/min": "r/min",
    "omw/min": "r/min",
    "ch": "ch", "cv": "cv", "litros": "L", "litro": "L", "liter": "L", "ltr": "L", "lts": "L",
    "mkg": "mkg", "nm": "Nm", "ccm": "cm3", "cu.in": "in3",
}  # fmt: skip
# Below these [SI] a number with three digits behind its mark is one of thousands: no engine turns
# at 2.3 rpm, gives 1.085 N.m or has 4.5 cm3.
_LEAST = {"angular_speed": 6.0, "torque": 20.0, "power": 500.0, "volume": 2e-4}


@dataclass(frozen=True)
class LineQuantity:
    """A number of the line, or the two ends of a range, with its unit and what leads to it.

    Parameters
    ----------
    label : str
        The words between it and the quantity before.
    values : tuple of float
        One number, or the two ends of a range.
    unit : str
        Empty if none follows.
    start, end : int
        Where it stands in the line.
    minus : bool
        Whether a minus sign stands before it.
    twins : tuple of (float, str)
        The same told in other units beside it.
    """

    label: str
    values: tuple[float, ...]
    unit: str
    start: int
    end: int
    minus: bool = False
    twins: tuple[tuple[float, str], ...] = ()

    @property
    def dimension(self) -> str:
        """What it measures; empty without a unit."""
        known = [each for each in dimensions_of(self.unit) if each in _WANTED] if self.unit else []
        return known[0] if known else ""

    @property
    def text(self) -> str:
        """The quantity as a fact is written."""
        return " .. ".join(f"{value:.12g}" for value in self.values) + f" {self.unit}".rstrip()


def quantities(line: str, answers: Answers) -> list[LineQuantity]:
    """Return the quantities of a line.

    Parameters
    ----------
    line : str
    answers : Answers
        For the decimal mark, and units of another language.

    Examples
    --------
    >>> for found in quantities("185 kW (248 hp) @ 2,200 rpm", Answers()):
    ...     print(found.values, found.unit, found.twins)
    (185.0,) kW ((248.0, 'hp'),)
    (2200.0,) rpm ()
    """
    style = style_of((each["value"] for each in _TOKEN.finditer(line)), answers.decimal)
    found: list[LineQuantity] = []
    for each in _singles(line, style, answers):
        before = found[-1] if found else None
        if before is not None and (joined := _joined(before, each, line)) is not None:
            found[-1] = joined
        else:
            found.append(each)
    return found


def _singles(line: str, style: Style, answers: Answers) -> Iterator[LineQuantity]:
    start = place = 0
    while (token := _TOKEN.search(line, place)) is not None:
        first = token.start("value")
        before = line[max(token.start() - 3, 0) : token.start()]
        place = token.end()
        if _GLUED.search(before if token["sign"] is None else before + token["sign"]):
            continue
        number = parse(token["value"], style)
        if number is None:
            continue
        unit, end = _unit_after(line, token.end(), answers)
        minus = token["sign"] is not None and _MINUS_BEFORE.search(before) is not None
        value = _plausible(number.value, token["value"], unit, style)
        # The sign stays among the words: it may be the dash of a range.
        yield LineQuantity(line[start:first], (value,), unit, first, end, minus)
        start = place = max(end, token.end())


def _plausible(value: float, text: str, unit: str, style: Style) -> float:
    """Return a number of thousands where the other reading is of a size that no engine has."""
    if value >= 1000.0 or not in_two_ways(text, replace(style, decimal=_mark(text, style))):
        return value
    for dimension in dimensions_of(unit) if unit else ():
        if dimension in _LEAST and float(to_si(value, unit, dimension)) < _LEAST[dimension]:
            return round(1000.0 * value, 9)
    return value


def _mark(text: str, style: Style) -> Decimal:
    return "," if "," in text else "." if "." in text else style.decimal


def _unit_after(line: str, end: int, answers: Answers) -> tuple[str, int]:
    """Return the longest unit that follows a number, and where it ends."""
    start = end
    while start < len(line) and line[start] in " \u00a0\u202f":
        start += 1
    ahead = line[start : start + _LONGEST_UNIT]
    for length in range(len(ahead), 0, -1):
        spelt = ahead[:length]
        if spelt[-1].isspace() or (length < len(ahead) and _goes_on(spelt[-1], ahead[length])):
            continue
        unit = _SPELLINGS.get(spelt.casefold().strip("."), spelt)
        unit = unit_in_our_words(unit, answers)
        if spelt[-1] == "." and dimensions_of(unit[:-1]):
            continue  # the end of a sentence
        if re.search(r"[^\W\d]|%", spelt) and _WANTED & set(dimensions_of(unit)):
            return unit, start + length
    return "", end


def _goes_on(last: str, following: str) -> bool:
    """Return whether two signs belong to one word."""
    return (last.isalnum() and following.isalnum()) or following in "²³⁻¹^"


def _joined(before: LineQuantity, each: LineQuantity, line: str) -> LineQuantity | None:
    """Return two neighbours as one: ends of a range, or one quantity told twice; else None."""
    between = line[before.end : each.start]
    known, own = before.dimension, each.dimension
    single = len(before.values) == 1
    same = own != "" and known in ("", own)
    if single and same and not before.twins and _BETWEEN_ENDS.fullmatch(between):
        low, high = before.values[0], each.values[0]
        if known == "" and low < high:
            return replace(each, label=before.label, values=(low, high), start=before.start,
                           minus=before.minus)  # fmt: skip
        if before.unit == each.unit and low < high:
            return replace(before, values=(low, high), end=each.end)
    if known == own != "" and single and not each.minus and _TWIN.fullmatch(between):
        told = (each.values[0], each.unit)
        if own in ("power", "torque") and each.unit != before.unit:
            return replace(before, twins=(*before.twins, told), end=each.end)
    return None


__all__ = ["NUMBER", "LineQuantity", "quantities"]
