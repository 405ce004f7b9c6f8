"""A reading of the commissioning day as a person writes it: ``stall speed=2060 rpm; gear=2``."""

from __future__ import annotations

from typing import Any, get_args

from converter_match.components.reading import Brakes
from converter_match.errors import InputError, did_you_mean
from converter_match.study.acceptance import AcceptanceReading
from converter_match.units.written import written_to_si

_VALUES = {"stall-speed": ("angular_speed", "rpm"), "speed-on-grade": ("velocity", "")}
# What a reading may go on to say -> its field, dimension and unit where none need be written.
_NUMBERS = {
    "oil": ("oil_temperature", "temperature", ""),
    "engine": ("engine_speed", "angular_speed", "rpm"),
}
_KEYS = (*_NUMBERS, "gear", "brakes")


def parse_acceptance(text: str, *, source: str = "reading") -> AcceptanceReading:
    """Return the reading that a line states.

    Parameters
    ----------
    text : str
        ``stall speed=2060 rpm; gear=2; oil=85 degC; brakes=held``, or ``speed on grade=8.4 km/h;
        engine=2105 rpm``.
    source : str
        What the line is called in messages.

    Raises
    ------
    InputError
        Naming the part of the line.

    Examples
    --------
    >>> parse_acceptance("speed on grade=9 km/h; engine=2100 rpm").value
    2.5
    """
    head, *rest = (piece.strip() for piece in text.split(";"))
    name, _, value = (piece.strip() for piece in head.partition("="))
    quantity = "-".join(name.casefold().split())
    if quantity not in _VALUES or not value:
        raise InputError(
            "not a reading of the acceptance", source=source, found=head,
            expected="'stall speed=2060 rpm' or 'speed on grade=8.4 km/h'",
            hint=did_you_mean(quantity, _VALUES),
        )  # fmt: skip
    given: dict[str, Any] = {}
    for piece in rest:
        key, _, said = (part.strip() for part in piece.partition("="))
        if key in _NUMBERS and said:
            field, dimension, unit = _NUMBERS[key]
            given[field] = _above_zero(said, dimension, unit, f"{source}: {key}")
        elif key == "gear" and said:
            given["gear"] = said
        elif key == "brakes" and said in get_args(Brakes):
            given["brakes"] = said
        else:
            raise InputError(
                "not known here", source=source, found=piece,
                expected="oil=85 degC, engine=2100 rpm, gear=2, brakes=held or brakes=let-go",
                hint=did_you_mean(key, _KEYS),
            )  # fmt: skip
    return AcceptanceReading(
        quantity=quantity,
        value=_above_zero(value, *_VALUES[quantity], f"{source}: {quantity}"),
        given=value,
        **given,
    )


def _above_zero(text: str, dimension: str, unit: str, source: str) -> float:
    number = written_to_si(text, dimension, unit, source=source)
    if number <= 0.0:
        raise InputError("out of range", source=source, found=text, expected="a number above zero")
    return number
