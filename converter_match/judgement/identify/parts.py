"""A machine whose log comes in parts, a day each: what is damaged is named, the rest is used."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import NamedTuple

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.identify.fleet import LeftOut, OfLog, OfMachine
from converter_match.judgement.identify.identify import LogBasis, result_of
from converter_match.judgement.identify.months import trend_of
from converter_match.judgement.identify.so_far import LogSoFar

Opened = tuple[Iterable[Mapping[str, FloatArray]], LogBasis]
"""Pieces of a part, and what is known of the machine."""


class Part(NamedTuple):
    """A part of a machine's log that has not been opened yet.

    Parameters
    ----------
    name : str
        As ``2031-05-04``; empty where it is all there is.
    month : str or None
        As ``2031-05``.
    open : callable
        Opens it; raises an `InputError` where it cannot be read.
    """

    name: str
    month: str | None
    open: Callable[[], Opened]


def of_parts(name: str, parts: Iterable[Part]) -> OfMachine:
    """Return what the parts of one machine's log say together, and month by month.

    Each part is read once, a piece at a time, and used as a whole or not at all.

    Parameters
    ----------
    name : str
        Of the machine.
    parts : iterable of Part
        In order.
    """
    so_far, lost, known, count = LogSoFar(), list[LeftOut](), LogBasis(), 0
    for part in parts:
        count += 1
        try:
            pieces, basis = part.open()
            so_far = so_far.plus(pieces, basis, month=part.month)
        except InputError as error:
            lost.append(LeftOut(name, part.name, str(error)))
        else:
            known = basis
    if len(lost) == count:
        told = lost[0].why if lost else "there is no log"
        return OfMachine(name, None, told, parts=count, left_out=tuple(lost) if count > 1 else ())
    try:
        result = result_of(so_far, known)
    except InputError as error:
        return OfMachine(name, None, str(error), parts=count, left_out=tuple(lost))
    trend = trend_of(so_far.months, result)
    return OfMachine(name, OfLog.of(result), parts=count, left_out=tuple(lost), trend=trend)
