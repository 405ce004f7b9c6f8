"""Numbers as people write them: decimal commas, thousands marks, percent, footnote marks."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Decimal = Literal[".", ","]

_SPACES = " \u00a0\u2007\u2009\u202f'\u2019"
_BODY = re.compile(
    rf"(?P<sign>[+-]?)(?P<body>\d[\d.,{_SPACES}]*\d|\d[.,]?|[.,]\d+)(?P<power>[eE][+-]?\d{{1,3}})?"
    r"(?P<rest>.*)",
    re.DOTALL,
)
# A raised digit behind a letter or a sign is a power: cm³, min⁻¹.
_MARKS = re.compile(r"(?:[*†‡§#]+|(?<=[\d\s.,%])[¹²³]+|\((?:\d|[a-z])\)|(?<=\d)\s+\d\))$")
_MINUS = str.maketrans("−‒–", "---")
_NOTHING = frozenset(
    {"", "-", "--", "---", "n/a", "na", "n.a.", "nan", "none", "…", "...", ".", "/"}
)
_INFINITE = frozenset({"∞", "inf", "infinity", "infinite"})


@dataclass(frozen=True)
class Style:
    """How a sheet writes its numbers.

    Parameters
    ----------
    decimal : {".", ","}
    sure : bool
        False where every number could be read in two ways, such as 1,234.
    reason : str
    """

    decimal: Decimal
    sure: bool
    reason: str


@dataclass(frozen=True)
class Numeral:
    """A number with what stood beside it.

    Parameters
    ----------
    value : float
    unit : str
        Written behind the number; empty if none.
    mark : str
        A footnote mark that was taken off.
    mixed : bool
        Whether it is written in the other style than the rest of the sheet.
    """

    value: float
    unit: str = ""
    mark: str = ""
    mixed: bool = False


def is_nothing(text: str) -> bool:
    """Return whether a text stands for an empty cell."""
    return text.strip().translate(_MINUS).casefold() in _NOTHING


def style_of(texts: Iterable[str], told: Decimal | None = None) -> Style:
    """Return how the numbers of a sheet are written.

    Parameters
    ----------
    texts : iterable of str
        Cells; those that are no numbers are passed over.
    told : {".", ","}, optional
        What the user says.

    Returns
    -------
    Style

    Examples
    --------
    >>> style_of(["0,85", "1.700"]).decimal, style_of(["1,700", "2.2"]).decimal
    (',', '.')
    >>> style_of(["1,700", "1,800"]).sure
    False
    """
    if told is not None:
        return Style(told, True, "as you said")
    votes: dict[str, list[str]] = {".": [], ",": []}
    unclear: list[str] = []
    for text in texts:
        parts = _BODY.fullmatch(_cleaned(text))
        if parts is None or not re.search(r"[.,]", parts["body"]):
            continue
        verdict = _evidence(parts["body"])
        if verdict is None:
            unclear.append(text.strip())
        else:
            votes[verdict].append(text.strip())
    points, commas = len(votes["."]), len(votes[","])
    if points or commas:
        decimal: Decimal = "," if commas > points else "."
        example = votes[decimal][0]
        return Style(
            decimal, True, f"decimal {'comma' if decimal == ',' else 'point'}, as in {example}"
        )
    if unclear:
        return Style(".", False, f"{unclear[0]} can be read in two ways")
    return Style(".", True, "no decimals")


def _evidence(body: str) -> Decimal | None:
    """Return the decimal mark that a number gives away; None if it could be either."""
    points, commas = body.count("."), body.count(",")
    if points and commas:
        return "." if body.rfind(".") > body.rfind(",") else ","
    if not points and not commas:
        return None
    mark: Decimal
    other: Decimal
    mark, other = (".", ",") if points else (",", ".")
    if points + commas > 1:
        return other
    whole, fraction = body.split(mark)
    if len(fraction) != 3 or whole in ("", "0") or len(re.sub(r"\D", "", whole)) > 3:
        return mark
    if re.search(rf"[{_SPACES}]", whole):
        return mark
    return None


def parse(text: str, style: Style) -> Numeral | None:
    """Return the number that a cell holds; None if it holds none.

    Parameters
    ----------
    text : str
    style : Style
        Of the sheet. A number that can only be read in the other style is read in it, and marked.

    Examples
    --------
    >>> comma = Style(",", True, "")
    >>> parse("1 234,5", comma).value, parse("85 %", comma), parse("2.15*", comma).mixed
    (1234.5, Numeral(value=85.0, unit='%', mark='', mixed=False), True)
    """
    cleaned = _cleaned(text)
    if cleaned.casefold() in _INFINITE:
        return Numeral(float("inf"))
    mark = ""
    parts = _BODY.fullmatch(cleaned)
    if parts is None:
        return None
    rest = parts["rest"].strip()
    marked = _MARKS.search(cleaned)
    if marked and marked.start() > 0:
        mark = marked[0].strip()
        parts = _BODY.fullmatch(cleaned[: marked.start()].rstrip())
        if parts is None:
            return None
        rest = parts["rest"].strip()
    if rest and not re.match(r"[^\W\d_]|[%‰°µ(\[/]", rest):
        return None
    other: Decimal = "," if style.decimal == "." else "."
    value = _value(parts["body"], style.decimal)
    mixed = False
    if value is None:
        if _evidence(parts["body"]) != other:
            return None
        value, mixed = _value(parts["body"], other), True
        if value is None:
            return None
    number = float(f"{parts['sign']}{value}{parts['power'] or ''}")
    return Numeral(number, rest.strip("()[] "), mark, mixed)


def in_two_ways(text: str, style: Style) -> bool:
    """Return whether a number that was read with a decimal mark could be one of thousands.

    Examples
    --------
    >>> comma = Style(",", True, "")
    >>> in_two_ways("1,700", comma), in_two_ways("1.700", comma), in_two_ways("0,860", comma)
    (True, False, False)
    """
    parts = _BODY.fullmatch(_cleaned(text))
    if parts is None or style.decimal not in parts["body"]:
        return False
    return _evidence(parts["body"]) is None


def _value(body: str, decimal: Decimal) -> str | None:
    thousands = "," if decimal == "." else r"\."
    mark = re.escape(decimal)
    if not re.fullmatch(rf"\d*(?:{mark}\d*)?", body) and not re.fullmatch(
        rf"\d{{1,3}}(?:[{thousands}{_SPACES}]\d{{3}})+(?:{mark}\d*)?", body
    ):
        return None
    plain = re.sub(rf"[{thousands}{_SPACES}]", "", body)
    return plain.replace(",", ".") if re.search(r"\d", plain) else None


def _cleaned(text: str) -> str:
    return text.strip().lstrip("'").strip().translate(_MINUS)


_RANGE = re.compile(
    r"(?P<low>[\d.,]*\d)\s*(?:\.{2,3}|\u2026|\u2013|-|\bto\b)\s*(?P<high>[\d.,]*\d)(?P<rest>.*)",
    re.IGNORECASE | re.DOTALL,
)


def parse_range(text: str, style: Style) -> tuple[Numeral, float] | None:
    """Return the middle of a range in a cell, with half its width; None if it holds none.

    Examples
    --------
    >>> parse_range("2.1 .. 2.3", Style(".", True, ""))
    (Numeral(value=2.2, unit='', mark='', mixed=False), 0.1)
    """
    parts = _RANGE.fullmatch(text.strip())
    if parts is None:
        return None
    low, high = (parse(parts[end], style) for end in ("low", "high"))
    whole = parse(parts["high"] + parts["rest"], style)
    if low is None or high is None or whole is None or not low.value < high.value:
        return None
    middle, half = 0.5 * (low.value + high.value), 0.5 * (high.value - low.value)
    return Numeral(round(middle, 12), whole.unit), round(half, 12)


def holds_number(text: str, style: Style) -> bool:
    """Return whether a cell holds a number, or a range of them."""
    return parse(text, style) is not None or parse_range(text, style) is not None
