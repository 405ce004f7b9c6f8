"""One heading taken apart: what the column is, its unit, the speed it holds for."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from converter_match.errors import InputError
from converter_match.library.intake.answers import Answers, unit_in_our_words
from converter_match.library.intake.numerals import Style, in_two_ways, parse
from converter_match.library.intake.vocabulary import (
    ROLES,
    Meaning,
    folded,
    may_have,
    meaning_of,
)
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
    r"(?:1[ ,.]?000\b|100\b|10\s*(?:\^|\*\*)?\s*(?P<power>[-⁻]?[1-9¹²³⁴⁵⁶])(?![\d.,])|10\b)"
    r"\s*[x×*·]?\s*\)?",
    re.IGNORECASE,
)
_TIMES_SIGN = re.compile(r"[x×*·]", re.IGNORECASE)
_RAISED = str.maketrans("¹²³⁴⁵⁶⁻", "123456-")
# "N.m at (1000 rpm)^2": a capacity coefficient, told for a thousand turns a minute.
_AT_THOUSAND = re.compile(
    r"(?:\bat\b|@|\bper\b|/)\s*\(\s*1[ ,.]?000\s*(?P<unit>rpm|r/min|rev/min|1/min|min-1|U/min)"
    r"\s*\)\s*(?:\^\s*2|²|2|squared)",
    re.IGNORECASE,
)
_TOLD_BY_UNIT = ("k_factor", "capacity_coefficient")
_NO_UNIT_BEFORE = re.compile(r"(?:sqrt|√|root|[/*·^.])\s*$", re.IGNORECASE)


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
    factor : float
        Of the heading ("x 1000"); 1 if it has none.
    factor_text : str
        As it stands there.
    given_factor : float
        What the numbers are to be multiplied by for the unit to be `unit`, where the heading
        leaves no doubt; 1 otherwise.
    unclear : str
        The reference as it stands there, where it can be read in two ways.
    torque : (float, str) or None
        The reference torque with its unit.
    name : str
        What is left without unit, factor and reference.
    """

    text: str
    meaning: Meaning | None
    unit: str = ""
    refused: str = ""
    speed: tuple[float, str] | None = None
    factor: float = 1.0
    factor_text: str = ""
    given_factor: float = 1.0
    unclear: str = ""
    torque: tuple[float, str] | None = None
    name: str = ""


def read_heading(texts: Sequence[str], kind: str, style: Style, answers: Answers) -> ColumnHeading:
    """Return what the heading of one column says.

    Parameters
    ----------
    texts : sequence of str
        The cells above the numbers, from top to bottom; a merged cell stands above each column.
    kind : {"converter", "engine", "motor"}
    style : Style
        How numbers are written.
    answers : Answers
        For words and units of another language.
    """
    whole = " ".join(dict.fromkeys(text for text in texts if text))
    unit = refused = factor_text = unclear = ""
    speed = torque = None
    factor = given = 1.0
    names: list[str] = []
    for text in texts:
        rest = text
        if (parts := _AT_THOUSAND.search(rest)) is not None:
            given = 1e-6
            rest = f"{rest[: parts.start()].rstrip()}/{parts['unit']}^2{rest[parts.end() :]}"
        speeds = [_SPEED_ALONE.fullmatch(rest)] if _SPEED_ALONE.fullmatch(rest) else []
        speeds = speeds or list(_AT_SPEED.finditer(rest))
        # With two speeds in one heading neither is taken; both stay among the words left over.
        if len(speeds) == 1 and (parts := speeds[0]) is not None:
            number = parse(parts["number"].strip(), style)
            if number is not None:
                speed = (number.value, parts["unit"])
                unclear = parts["number"].strip() if in_two_ways(parts["number"], style) else ""
                rest = f"{rest[: parts.start()]} {rest[parts.end() :]}".strip()
        found, rest = _torque(rest, style, answers)
        torque = found or torque
        times = next((t for t in _TIMES.finditer(rest) if _TIMES_SIGN.search(t[0])), None)
        if times is not None:
            factor, factor_text = _size_of(times), times[0].strip(" ()")
            rest = f"{rest[: times.start()]} {rest[times.end() :]}".strip(" ,")
        name, stated, why = _apart(rest, kind, answers)
        unit, refused = (stated, why) if stated else (unit, refused)
        if name := re.sub(r"\s*(?:\bat|@|\bfor)\s*$", "", name, flags=re.IGNORECASE):
            names.append(name)
    meaning = _meaning(names, kind, answers)
    if torque is not None and meaning is not None and meaning.role == "impeller_speed":
        meaning = Meaning("speed_at_torque", meaning.exact, meaning.rest)
    by_unit = _meaning_of_unit(unit, kind, " ".join(names)) if unit else None
    if by_unit is not None and (meaning is None or not may_have(meaning.role, unit)):
        meaning = by_unit
    if unit and meaning is not None and not refused:
        refused = _refusal(unit, meaning.role)
    return ColumnHeading(
        whole, meaning, unit, refused, speed, factor, factor_text, given, unclear, torque,
        " ".join(dict.fromkeys(names)),
    )  # fmt: skip


def _size_of(times: re.Match[str]) -> float:
    """Return the number of a factor: "x 10^3", "x 1 000", "x 10"."""
    if times["power"] is not None:
        return float(10.0 ** int(times["power"].translate(_RAISED)))
    return float(re.sub(r"\D", "", times[0]))


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
        others = []
        for name in distinct:
            own = meaning_of(name, kind, answers.words)
            others.append(name if own is None else own.rest)
        return Meaning(best.role, True, " ".join(filter(None, others)).casefold())
    return best


def _meaning_of_unit(unit: str, kind: str, name: str) -> Meaning | None:
    """Return what a unit alone tells: on an engine's sheet most do, of a converter two do."""
    if kind == "converter":
        form = capacity_form_of(unit)
        return Meaning(form, False, folded(name)) if form in _TOLD_BY_UNIT else None
    for role in ("speed",) if kind == "motor" else ("speed", "torque", "power", "bsfc"):
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
                if depth == 0 and _NO_UNIT_BEFORE.search(text[:start]):
                    break  # the bracket belongs to a larger unit: rpm/sqrt(N.m)
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
