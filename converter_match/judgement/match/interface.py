"""Whether what two component files say of a joint is the same, and where it is not."""

from __future__ import annotations

import re

from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.errors import InputError
from converter_match.judgement.match import words
from converter_match.notes import Note
from converter_match.units import dimensions_of, to_si

_QUANTITY = re.compile(r"\s*([+-]?\d+(?:\.\d+)?)\s+(\S.*?)\s*")
# Two roundings of one dimension, as 50 mm and 1.9685 in: closer than any fit of this trade.
_ROUNDING = 2e-4

JOINT = ("housing", "flywheel", "pilot_diameter", "pilot_depth", "rotation", "ring_gear", "balance")
"""Keys of the ``[interface]`` tables that engine and converter have to agree in."""


def differing(engine: Engine, converter: Converter) -> list[Note]:
    """Return a note on what the two files differ in; none where they do not.

    Parameters
    ----------
    engine, converter : Engine, Converter
        What only one of them gives is not compared.
    """
    ours, theirs = dict(engine.interface), dict(converter.interface)
    items = [
        f"{words.BOLT_ON[key][0]} (engine {ours[key]}, converter {theirs[key]})"
        for key in JOINT
        if key in ours and key in theirs and not same_designation(ours[key], theirs[key])
    ]
    return [words.note("interface-differs", items="; ".join(items))] if items else []


def same_designation(left: str, right: str) -> bool:
    """Return whether two designations or quantities are the same, case and spaces aside.

    Examples
    --------
    >>> same_designation("SAE 2", "sae  2"), same_designation("50 mm", "1.9685 in")
    (True, True)
    >>> same_designation("SAE 2", "SAE 3"), same_designation("50 mm", "51 mm")
    (False, False)
    """
    if " ".join(left.casefold().split()) == " ".join(right.casefold().split()):
        return True
    sizes = [_quantity(text) for text in (left, right)]
    if sizes[0] is None or sizes[1] is None or sizes[0][1] != sizes[1][1]:
        return False
    first, second = sizes[0][0], sizes[1][0]
    return abs(first - second) <= _ROUNDING * max(abs(first), abs(second))


def _quantity(text: str) -> tuple[float, str] | None:
    """Return an entry that is a number with a unit in SI, with its dimension."""
    parts = _QUANTITY.fullmatch(text)
    if parts is None:
        return None
    known = dimensions_of(parts[2])
    if not known:
        return None
    try:
        return to_si(float(parts[1]), parts[2], known[0]), known[0]
    except InputError:
        return None
