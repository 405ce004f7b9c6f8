"""A claim as a person writes it: ``stall speed=1880 rpm; tolerance=1 %``."""

from __future__ import annotations

from typing import Any

from converter_match.errors import InputError, did_you_mean
from converter_match.study.study import CLAIM_DIMENSIONS, Claim
from converter_match.units.written import written_to_si

# What a claim may go on to say -> dimension (None for a word), and the unit where none is written.
_DETAILS = {"gear": None, "grade": "weight_share", "speed": "velocity", "tolerance": "ratio"}
_UNITS = {"weight_share": "%", "velocity": "km/h", "ratio": "%"}


def parse_claim(text: str, *, combination: str, by: str = "", source: str = "claim") -> Claim:
    """Return the claim that a line states.

    Parameters
    ----------
    text : str
        ``NAME=VALUE UNIT``, where it goes on ``; gear=1; grade=8 %; speed=5 km/h; tolerance=1 %``.
    combination : str
        Id of what the claim is about.
    by : str
        Who says so.
    source : str
        What the line is called in messages.

    Raises
    ------
    InputError
        Naming the part of the line: not of that form, a quantity that is not looked at, a number
        that is out of range.

    Examples
    --------
    >>> parse_claim("stall speed=1870 rpm; tolerance=1 %", combination="new-engine").given
    '1870 rpm'
    """
    head, *rest = (part.strip() for part in text.split(";"))
    name, equals, value = (part.strip() for part in head.partition("="))
    quantity = "-".join(name.split()).casefold()
    if not equals or not value:
        raise InputError(
            "not a claim",
            source=source,
            found=text,
            expected="NAME=VALUE UNIT, for example 'stall speed=1880 rpm'",
        )
    if quantity not in CLAIM_DIMENSIONS:
        raise InputError(
            "unknown quantity",
            source=source,
            found=name,
            expected=" | ".join(CLAIM_DIMENSIONS),
            hint=did_you_mean(quantity, CLAIM_DIMENSIONS),
        )
    dimension = CLAIM_DIMENSIONS[quantity]
    plain = "1" if dimension == "ratio" else "%" if dimension == "weight_share" else ""
    place = f"{source} {quantity}"
    number = written_to_si(value, dimension, plain, source=place)
    if number <= 0.0:
        raise InputError("out of range", source=place, found=value, expected="a number above zero")
    details, written = _details(rest, place)
    try:
        return Claim(
            quantity=quantity,
            value=number,
            given=value,
            combination=combination,
            source=by,
            **details,
        )
    except InputError as error:
        key = (error.field or "").rpartition(".")[2]
        if key not in written:
            raise error.located(source=place) from None
        # Said as it was written: beyond the reading all numbers are SI, which nobody wrote.
        raise InputError(
            error.problem,
            source=f"{place}: {key}",
            found=written[key],
            expected=error.expected,
            hint=error.hint,
        ) from None


def _details(parts: list[str], place: str) -> tuple[dict[str, Any], dict[str, str]]:
    """Return what a claim goes on to say, in SI units and as it was written."""
    found: dict[str, Any] = {}
    written: dict[str, str] = {}
    for part in parts:
        key, equals, value = (piece.strip() for piece in part.partition("="))
        if not equals or key not in _DETAILS:
            raise InputError(
                "not known here",
                source=place,
                found=part,
                expected="gear=, grade=, speed= or tolerance=",
                hint=did_you_mean(key, _DETAILS),
            )
        dimension = _DETAILS[key]
        if dimension is None:
            found[key] = value
            continue
        number = written_to_si(value, dimension, _UNITS[dimension], source=f"{place}: {key}")
        if (key == "speed" and number <= 0.0) or (key == "grade" and abs(number) > 1.0):
            expected = "a number above zero" if key == "speed" else "-100 to 100 %"
            raise InputError(
                "out of range", source=f"{place}: {key}", found=value, expected=expected
            )
        found[key], written[key] = number, value
        if key == "speed":
            found["speed_given"] = value
    return found, written
