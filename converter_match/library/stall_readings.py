"""Readings of a stall test: words on a command line, or rows of a table."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import TypeVar

from converter_match.components.gear import DIRECTIONS
from converter_match.components.reading import BRAKES, PUMPS, TESTS, StallReading
from converter_match.errors import InputError, did_you_mean
from converter_match.library.files import FilePath
from converter_match.library.table_csv import CsvColumn, read_table
from converter_match.units.written import written_to_si

# Word on the command line -> (field, dimension, unit where none is written).
_NUMBERS = {
    "speed": ("engine_speed", "angular_speed", "rpm"),
    "turbine": ("turbine_speed", "angular_speed", "rpm"),
    "oil": ("oil_temperature", "temperature", "degC"),
    "air": ("air_temperature", "temperature", "degC"),
}
_TEXTS = ("test", "gear", "direction", "brakes", "pump")
Choice = TypeVar("Choice", bound=str)
_SPLIT = re.compile(r"(?:^|[\s,;]+)(?=[A-Za-z_]+\s*=)")
COLUMNS = (
    CsvColumn("engine speed", "angular_speed"),
    CsvColumn("test", None, required=False),
    CsvColumn("gear", None, required=False),
    CsvColumn("direction", None, required=False),
    CsvColumn("brakes", None, required=False),
    CsvColumn("pump", None, required=False),
    CsvColumn("oil temperature", "temperature", required=False, blank=math.nan),
    CsvColumn("air temperature", "temperature", required=False, blank=math.nan),
    CsvColumn("turbine speed", "angular_speed", required=False, blank=math.nan),
)


def parse_reading(text: str, *, source: str = "reading") -> StallReading:
    """Return the reading that a line of ``key=value`` words states.

    Parameters
    ----------
    text : str
        Such as ``gear=3 speed=1750 oil=85degC brakes=held``; speeds in rpm and temperatures in
        degC where no unit is written.
    source : str
        Named in messages.

    Raises
    ------
    InputError
        Naming the word: unknown, written twice, without a value, not a number, out of range.

    Examples
    --------
    >>> parse_reading("gear=3 speed=1750 brakes=held").gear
    '3'
    """
    numbers: dict[str, float] = {}
    texts: dict[str, str] = {}
    known = [*_NUMBERS, *_TEXTS]
    for part in (piece for piece in _SPLIT.split(text) if piece.strip()):
        key, sign, value = (piece.strip() for piece in part.partition("="))
        if not sign or not value:
            raise InputError(
                "not a word of the form key=value",
                source=source,
                found=part.strip(),
                expected="for example 'gear=3 speed=1750 oil=85degC brakes=held'",
            )
        if key not in known:
            raise InputError(
                "unknown word",
                source=source,
                found=key,
                expected=", ".join(known),
                hint=did_you_mean(key, known),
            )
        name = _NUMBERS[key][0] if key in _NUMBERS else key
        if name in numbers or name in texts:
            raise InputError("written twice", source=source, field=key, found=text)
        if key in _NUMBERS:
            numbers[name] = _quantity(value, key, source)
        else:
            texts[name] = value
    if "engine_speed" not in numbers:
        raise InputError(
            "no engine speed", source=source, field="speed", found=text, expected="speed=1750"
        )
    return _reading(numbers, texts, source)


def _reading(numbers: Mapping[str, float], texts: Mapping[str, str], source: str) -> StallReading:
    """Return a reading from what is stated of it; errors name the source."""
    try:
        return StallReading(
            engine_speed=numbers["engine_speed"],
            test=_choice(texts.get("test", StallReading.test), "test", TESTS),
            gear=texts.get("gear", StallReading.gear),
            direction=(
                _choice(texts["direction"], "direction", DIRECTIONS)
                if "direction" in texts
                else None
            ),
            brakes=_choice(texts.get("brakes", StallReading.brakes), "brakes", BRAKES),
            oil_temperature=numbers.get("oil_temperature"),
            air_temperature=numbers.get("air_temperature"),
            pump=_choice(texts["pump"], "pump", PUMPS) if "pump" in texts else None,
            turbine_speed=numbers.get("turbine_speed"),
        )
    except InputError as error:
        raise error.located(source=source) from None


def _quantity(value: str, key: str, source: str) -> float:
    _, dimension, unit = _NUMBERS[key]
    return written_to_si(value, dimension, unit, source=source, field=key)


def _choice(text: str, field: str, choices: tuple[Choice, ...]) -> Choice:
    for choice in choices:
        if choice == text:
            return choice
    raise InputError(
        "not a known choice",
        field=field,
        found=text,
        expected=" | ".join(choices),
        hint=did_you_mean(text, choices),
    )


def read_readings(path: FilePath) -> tuple[StallReading, ...]:
    """Read readings from a CSV file, one a row, units in the head.

    Parameters
    ----------
    path : str or path-like
        Columns: ``engine speed [rpm]`` and, where noted, ``test``, ``gear``, ``direction``,
        ``brakes``, ``pump``, ``oil temperature [degC]``, ``air temperature [degC]``, ``turbine
        speed [rpm]``; empty cells are not noted.

    Raises
    ------
    InputError
        Naming file, line and column.
    """
    table = read_table(path, COLUMNS)
    readings = []
    for row, line in enumerate(table.lines):
        numbers = {
            name.replace(" ", "_"): column[row]
            for name, column in table.numbers.items()
            if not math.isnan(column[row])
        }
        texts = {name: column[row] for name, column in table.texts.items() if column[row]}
        readings.append(_reading(numbers, texts, f"{table.source}: line {line}"))
    return tuple(readings)
