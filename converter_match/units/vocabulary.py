"""Looking a spelling up, and saying what is wrong with one that cannot be taken."""

from __future__ import annotations

from functools import cache
from types import MappingProxyType

from converter_match.errors import InputError, did_you_mean
from converter_match.units.mechanical import MECHANICAL
from converter_match.units.refusals import REFUSALS, Refusal
from converter_match.units.spelling import normalise
from converter_match.units.tables import Dimension, Row
from converter_match.units.thermal import THERMAL

_TABLES = MappingProxyType({**MECHANICAL, **THERMAL})

DIMENSIONS: tuple[str, ...] = tuple(_TABLES)
"""Names of the quantities that have units; each is an argument to `to_si` and its neighbours."""


def table_of(name: str) -> Dimension:
    """Return the table of one dimension, or raise `InputError` for a name that has none."""
    table = _TABLES.get(name)
    if table is None:
        raise InputError(
            "unknown dimension",
            found=name,
            hint=did_you_mean(str(name), DIMENSIONS) or f"known: {', '.join(DIMENSIONS)}",
        )
    return table


# Both are made when a dimension is first asked for: the import stays cheap. Most units are written
# as listed, so the folding of all the spellings, which takes longest, is left for the others.
@cache
def _rows_as_written(name: str) -> dict[str, Row]:
    return {text: row for row in table_of(name).rows for text in row.names()}


@cache
def _rows_by_key(name: str) -> dict[str, Row]:
    return {normalise(text): row for row in table_of(name).rows for text in row.names()}


@cache
def _refusals_by_key(name: str) -> dict[str, Refusal]:
    return {
        normalise(text): refusal
        for refusal in REFUSALS.get(name, ())
        for text in refusal.spellings.split(",")
    }


def spellings(dimension: str) -> tuple[str, ...]:
    """Return every spelling of a dimension, the SI unit first.

    Forms that differ only in the product sign, in the sign of a power or in white space are named
    once: ``lb.ft`` stands for ``lb-ft``, ``lb*ft`` and ``lb ft`` as well.

    Parameters
    ----------
    dimension : str
        One of `DIMENSIONS`.

    Returns
    -------
    tuple of str
        Spellings that `to_si` takes.

    Raises
    ------
    InputError
        If there is no such dimension.

    Examples
    --------
    >>> spellings("angle")[:2]
    ('rad', 'radian')
    """
    return tuple(text for row in table_of(dimension).rows for text in row.names())


def si_unit(dimension: str) -> str:
    """Return the SI unit in which a dimension is kept inside the library.

    Parameters
    ----------
    dimension : str
        One of `DIMENSIONS`.

    Returns
    -------
    str
        Its spelling.

    Raises
    ------
    InputError
        If there is no such dimension.

    Examples
    --------
    >>> si_unit("k_factor"), si_unit("torque")
    ('(rad/s)/sqrt(N.m)', 'N.m')
    """
    return spellings(dimension)[0]


def dimensions_of(unit: str) -> tuple[str, ...]:
    """Return the dimensions in which a spelling is accepted; empty when there is none.

    Parameters
    ----------
    unit : str
        A unit as a person wrote it.

    Returns
    -------
    tuple of str
        Names out of `DIMENSIONS`.

    Examples
    --------
    >>> dimensions_of("kW"), dimensions_of("furlong")
    (('power',), ())
    """
    as_written = tuple(name for name in DIMENSIONS if unit in _rows_as_written(name))
    if as_written:
        return as_written
    key = normalise(unit)
    return tuple(name for name in DIMENSIONS if key in _rows_by_key(name))


def look_up(unit: str, dimension: str, source: str | None, field: str | None) -> Row:
    """Return the row of a spelling, or raise `InputError` that names what could be meant.

    Parameters
    ----------
    unit : str
        A unit as a person wrote it.
    dimension : str
        One of `DIMENSIONS`.
    source, field : str or None
        Where the unit stands, for the message.

    Returns
    -------
    Row
        Factor and offset of the unit.

    Raises
    ------
    InputError
        If the spelling is unknown, ambiguous, or of another dimension.
    """
    table = table_of(dimension)
    if not isinstance(unit, str):
        raise InputError(
            "a unit must be text",
            source=source,
            field=field,
            found=unit,
            expected=_expected(table),
        )
    row = _rows_as_written(dimension).get(unit)
    if row is not None:
        return row
    key = normalise(unit)
    row = _rows_by_key(dimension).get(key)
    if row is not None:
        return row
    refused = refused_by_name(unit, dimension)
    if refused is not None:
        raise refused.located(source=source, field=field)
    shown = " ".join(unit.split())
    if not key:
        raise InputError("no unit given", source=source, field=field, expected=_expected(table))
    others = [_TABLES[name].noun for name in dimensions_of(unit)]
    if others:
        raise InputError(
            f"{shown!r} is {_article(others[0])} {' or '.join(others)} unit",
            source=source,
            field=field,
            expected=_expected(table),
        )
    raise InputError(
        f"unknown {table.noun} unit",
        source=source,
        field=field,
        found=shown,
        expected=_expected(table),
        hint=did_you_mean(shown, (table.si, table.us, *spellings(dimension))),
    )


def refused_by_name(unit: str, dimension: str) -> InputError | None:
    """Return why a spelling is refused though people write it; None where it is not.

    Parameters
    ----------
    unit : str
    dimension : str
        One of `DIMENSIONS`.

    Examples
    --------
    >>> refused_by_name("rpm", "angular_speed") is None
    True
    """
    refusal = _refusals_by_key(dimension).get(normalise(unit))
    if refusal is None:
        return None
    return InputError(
        f"{' '.join(unit.split())!r} {refusal.problem}",
        expected=refusal.expected,
        hint=refusal.hint,
    )


def _expected(table: Dimension) -> str:
    return f"{_article(table.noun)} {table.noun} unit such as {table.examples}"


def _article(noun: str) -> str:
    return "an" if noun[0] in "aeiou" else "a"
