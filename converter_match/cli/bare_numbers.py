"""A number without its unit, where ``--units us`` leaves two units that it could be in.

Without ``--units us`` a plain number is in the unit that the help names, which is metric. With it
nobody can tell whether 2000 is metres or feet, and neither is guessed.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import NamedTuple

from converter_match.errors import InputError


class Pair(NamedTuple):
    """The unit of a plain number, and the one beside it in the US."""

    metric: str
    us: str


_CELSIUS, _SPEED = Pair("degC", "degF"), Pair("km/h", "mph")
TWO_UNITS: Mapping[str, Pair] = MappingProxyType(
    {
        "M": Pair("m", "ft"),
        "MM": Pair("mm", "in"),
        "MM,MM": Pair("mm", "in"),
        "C": _CELSIUS,
        "NM": Pair("N.m", "lbf.ft"),
        "KMH": _SPEED,
        "M/S2": Pair("m/s2", "ft/s2"),
        "L": Pair("L", "in3"),
        "KW": Pair("kW", "hp"),
        "KG/M3": Pair("kg/m3", "lb/ft3"),
    }
)
"""Options by their metavar, whose numbers the two systems read differently."""
ONE_UNIT = frozenset(
    {"RPM", "PCT", "PCT,...", "PERCENT", "RATIO", "MU", "S", "LOW..HIGH", "N", "V"}
)
"""Metavars of numbers in a unit that both systems share, or none."""

_NUMBER = r"([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)"
_BARE = re.compile(rf"\s*{_NUMBER}\s*")
# Words inside an option: a number that nothing follows, or the next word.
_WORDS: Mapping[str, tuple[tuple[str, re.Pattern[str], Pair], ...]] = MappingProxyType(
    {
        "CLAIM": (("speed", re.compile(rf";\s*speed\s*=\s*{_NUMBER}\s*(?=$|;)"), _SPEED),),
        "WORDS": tuple(
            (
                word,
                re.compile(rf"(?:^|[\s,;]){word}\s*=\s*{_NUMBER}\s*(?=$|[,;]|\w+\s*=)"),
                _CELSIUS,
            )
            for word in ("oil", "air")
        ),
    }
)


def refuse_bare_numbers(verb: argparse.ArgumentParser, args: argparse.Namespace) -> None:
    """Refuse a number without a unit that could be in two, where ``--units us`` is given.

    Parameters
    ----------
    verb : ArgumentParser
        Of the verb: the metavar of an option says what its numbers are in.
    args : Namespace

    Raises
    ------
    InputError
        Naming the option, and both ways of writing the number.
    """
    if getattr(args, "units", "si") != "us":
        return
    for action in verb._actions:
        given = getattr(args, action.dest, None)
        metavar = action.metavar if isinstance(action.metavar, str) else ""
        for text in given if isinstance(given, list) else [given]:
            if not isinstance(text, str) or not action.option_strings:
                continue
            for where, number, units in _bare(metavar, text):
                raise InputError(
                    "a number without its unit could be metric or US",
                    source=f"{action.option_strings[0]}{where}",
                    found=number,
                    expected=f"'{number} {units.us}' or '{number} {units.metric}'",
                )


def _bare(metavar: str, text: str) -> Iterator[tuple[str, str, Pair]]:
    """Yield the word, the number and its two units of every number that is bare."""
    units = TWO_UNITS.get(metavar)
    if units is not None:
        for part in text.split(","):
            found = _BARE.fullmatch(part)
            # Nothing is nothing in every unit but a temperature's.
            if found and (units is _CELSIUS or float(found[1]) != 0.0):
                yield "", found[1], units
    for word, pattern, pair in _WORDS.get(metavar, ()):
        for found in pattern.finditer(text):
            yield f": {word}", found[1], pair
