"""One heading taken apart: what the column is, its unit, the speed it holds for."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from converter_match.errors import InputError
from converter_match.library.intake.answers import Answers, unit_in_our_words
from converter_match.library.intake.numerals import Style, parse
from converter_match.library.intake.vocabulary import ROLES, Meaning, meaning_of
from converter_match.units import dimensions_of, to_si
from converter_match.units.vocabulary import refused_by_name

_AT_SPEED = re.compile(
    r"[(\[]?\s*(?:\bat\b|@|\bfor\b|\bn\s*=)\s*(?P<number>\d[\d.,' \u00a0\u202f]*)\s*"
    r"(?P<unit>rpm|r/min|rev/min|1/min|min-1|min\^-1|min⁻¹|U/min|tr/min|rad/s|rev/s)"
    r"(?:\s+(?:input|pump|impeller)(?:\s+speed)?)?\s*[)\]]?",
    re.IGNORECASE,
)
_SPEED_ALONE = re.compile(
    r"(?:@\s*)?(?P<number>\d[\d.,' \u00a0\u202f]*)\s*(?P<unit>rpm|r/min|rev/min|1/min|rad/s|rev/s)",
    re.IGNORECASE,
)
_AT_TORQUE = re.compile(
    r"[(\[]?\s*(?:\bat\b|@|\bfor\b|\b[TM]1?\s*=|\bconstant\b)\s*(?:constant\s+)?"
    r"(?:(?:input|pump|impeller)\s+)?(?:torque\s+)?(?:of\s+)?"
    r"(?P<number>\d[\d.,' \u00a0\u202f]*)\s*(?P<unit>[^\s\d)\]\[;,]+)(?P<more>\s+[^\s\d)\]\[(;,]+)?"
    r"(?:\s+(?:input|pump|impeller)(?:\s+torque)?)?\s*[)\]]?",
    re.IGNORECASE,
)
_TIMES = re.compile(
    r"\(?\s*(?:[x×*·]\s*)?"
    r"(?:1[ ,.]?000|10\s*(?:\^|\*\*)?\s*(?P<power>[-⁻]?[1-9²³⁴⁵⁶]))"
    r"\s*[x×*·]?\s*\)?",
    re.IGNORECASE,
)
_TIMES_SIGN = re.compile(r"[x×*·]", re.IGNORECASE)


@dataclass(frozen=True)
class ColumnHeading:
    """What a column's heading says.

    Parameters
    ----------
    text : str
        All of it, from top to bottom.
    meaning : Meaning or None
    unit : str
        As it stands there; empty if none does.
    refused : str
        Why a unit that stands there cannot be taken; empty if it can.
    speed : (float, str) or None
        The reference speed with its unit.
    thousandth : bool
        Whether the numbers are a thousand times the quantity ("× 1000").
    torque : (float, str) or None
        The reference torque with its unit.
    """

    text: str
    meaning: Meaning | None
    unit: str = ""
    refused: str = ""
    speed: tuple[float, str] | None = None
    thousandth: bool = False
    torque: tuple[float, str] | None = None


def read_heading(texts: Sequence[str], kind: str, style: Style, answers: Answers) -> ColumnHeading:
    """Return what the heading of one column says.

    Parameters
    ----------
    texts : sequence of str
        The cells above the numbers, from top to bottom; a merged cell stands above each column.
    kind : {"converter", "engine"}
    style : Style
        How numbers are written.
    answers : Answers
        For words and units of another language.
    """
    whole = " ".join(dict.fromkeys(text for text in texts if text))
    unit = refused = factor = ""
    speed = torque = None
    thousandth = False
    names: list[str] = []
    for text in texts:
        rest = text
        if (parts := _SPEED_ALONE.fullmatch(rest) or _AT_SPEED.search(rest)) is not None:
            number = parse(parts["number"].strip(), style)
            if number is not None:
                speed = (number.value, parts["unit"])
                rest = f"{rest[: parts.start()]} {rest[parts.end() :]}".strip()
        found, rest = _torque(rest, style, answers)
        torque = found or torque
        times = next((t for t in _TIMES.finditer(rest) if _TIMES_SIGN.search(t[0])), None)
        if times is not None:
            thousandth = times["power"] in (None, "3", "³")
            factor = "" if thousandth else f"the factor {times[0].strip()!r} is not understood"
            rest = f"{rest[: times.start()]} {rest[times.end() :]}".strip(" ,")
        name, stated, why = _apart(rest, kind, answers)
        unit, refused = (stated, why) if stated else (unit, refused)
        if name := re.sub(r"\s*(?:\bat|@|\bfor)\s*$", "", name, flags=re.IGNORECASE):
            names.append(name)
    meaning = _meaning(names, kind, answers)
    if torque is not None and meaning is not None and meaning.role == "impeller_speed":
        meaning = Meaning("speed_at_torque", meaning.exact, meaning.rest)
    if meaning is None and unit and kind == "engine":
        meaning = _meaning_of_unit(unit)
    if unit and meaning is not None and not refused:
        refused = _refusal(unit, meaning.role)
    return ColumnHeading(whole, meaning, unit, refused or factor, speed, thousandth, torque)


def _torque(text: str, style: Style, answers: Answers) -> tuple[tuple[float, str] | None, str]:
    """Return the reference torque of a heading and what is left of it: "input speed at 100 N.m"."""
    parts = _AT_TORQUE.search(text)
    if parts is None:
        return None, text
    number = parse(parts["number"].strip(), style)
    for unit, end in (
        (parts["unit"] + (parts["more"] or ""), parts.end()),
        (parts["unit"], parts.end("unit")),
    ):
        ours = unit_in_our_words(unit.strip(), answers)
        if number is not None and "torque" in dimensions_of(ours):
            rest = text[end:].lstrip(" )]") if end != parts.end() else text[end:]
            return (number.value, ours), f"{text[: parts.start()]} {rest}".strip()
    return None, text


def _meaning(names: Sequence[str], kind: str, answers: Answers) -> Meaning | None:
    """Return what the names mean: together, or the lowest that means something by itself."""
    distinct = list(dict.fromkeys(names))
    tries = [" ".join(distinct), *reversed(distinct)]
    meanings = [meaning_of(name, kind, answers.words) for name in tries if name]
    known = [each for each in meanings if each is not None]
    exact = [each for each in known if each.exact]
    if not known:
        return None
    best = exact[0] if exact else known[0]
    if best.exact and len(distinct) > 1:
        others = [name for name in distinct if meaning_of(name, kind, answers.words) is None]
        return Meaning(best.role, True, " ".join(others).casefold())
    return best


def _meaning_of_unit(unit: str) -> Meaning | None:
    for role in ("speed", "torque", "power", "bsfc"):
        if ROLES[role] in dimensions_of(unit):
            return Meaning(role, True)
    return None


def _apart(text: str, kind: str, answers: Answers) -> tuple[str, str, str]:
    """Return (name, unit, why the unit is refused) of one cell."""
    if not text.strip():
        return "", "", ""
    if meaning_of(text, kind, answers.words) and not re.search(r"[(\[/,]", text):
        bare = text.strip()
        known = meaning_of(bare, kind, answers.words)
        if known is not None and known.exact and bare.casefold() not in ("rpm", "hp", "kw", "bhp"):
            return bare, "", ""
    refused = ("", "", "")
    taken: tuple[str, str, str] | None = None
    for name, candidate in _candidates(text):
        unit = unit_in_our_words(candidate, answers)
        dimensions = dimensions_of(unit) if unit else ()
        if dimensions:
            named = meaning_of(name, kind, answers.words)
            if named and ROLES[named.role] in (None, *dimensions):
                return name, unit, ""
            taken = taken or (name, unit, "")
        why = _any_refusal(unit)
        if why and not refused[1]:
            refused = (name, candidate, why)
    return taken or (refused if refused[1] else (text, "", ""))


def _candidates(text: str) -> Iterator[tuple[str, str]]:
    """Yield (name, unit) in the ways in which a unit may stand in a heading."""
    yield "", text.strip("[]{} ")
    for opening, closing in ("[]", "()", "{}"):
        for start in (place for place, sign in enumerate(text) if sign == opening):
            depth = 0
            for end in range(start, len(text)):
                depth += (text[end] == opening) - (text[end] == closing)
                if depth == 0:
                    yield f"{text[:start]} {text[end + 1 :]}".strip(" ,"), text[start + 1 : end]
                    break
    for sign in (" in ", ", ", " - ", " / ", "/", "_", " "):
        start = text.find(sign)
        while start > 0:
            yield text[:start].strip(), text[start + len(sign) :].strip()
            start = text.find(sign, start + 1)


def _any_refusal(unit: str) -> str:
    """Return why a spelling is refused by name in a dimension that columns have; else nothing."""
    for dimension in ("torque", "angular_speed", "power", "specific_fuel"):
        refused = refused_by_name(unit, dimension)
        if refused is not None:
            return str(refused)
    return ""


def _refusal(unit: str, role: str) -> str:
    dimension = ROLES[role]
    if dimension is None:
        return "" if capacity_form_of(unit) else f"{unit!r} is no unit of a capacity"
    try:
        to_si(1.0, unit, dimension)
    except InputError as refusal:
        return str(refusal)
    return ""


def capacity_form_of(unit: str) -> str | None:
    """Return the form of capacity that a unit belongs to; None if to none, or to no single one."""
    forms = {
        "k_factor": "k_factor",
        "torque": "torque_at_speed",
        "power": "power_at_speed",
        "capacity_coefficient": "capacity_coefficient",
    }
    fitting = [forms[name] for name in dimensions_of(unit) if name in forms]
    return fitting[0] if len(fitting) == 1 else None
