"""Why a cell of a table over turbine speed is blank: which data end, or what stops the engine."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from converter_match.answer.block import Heading
from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.physics.engine.supply import TorqueSupply

BECAUSE = Heading("blank_because", "blank because")


def open_blanks(
    supply: TorqueSupply,
    converter: Converter,
    turbine_speed: FloatArray,
    found: NDArray[np.bool_],
) -> list[str]:
    """Return why there is no match through the converter at turbine speeds; empty where there is.

    Parameters
    ----------
    supply : TorqueSupply
    converter : Converter
    turbine_speed : ndarray, shape (n,)
        [rad/s].
    found : ndarray of bool, shape (n,)
    """
    last = min(converter.domain[1], 1.0)
    # With no torque at all the engine runs at the end of its curve, the turbine no faster.
    spins = turbine_speed > supply.domain[1] * last
    known = np.flatnonzero(found)
    beyond = spins if not known.size else turbine_speed > turbine_speed[known[-1]]
    words = []
    for blank, over in zip(~found, beyond, strict=True):
        reason = "the engine is lugged down"
        if over and last < 1.0:
            reason = f"the converter's data end at speed ratio {last:.3g}"
        elif over:
            reason = "the turbine would drive the engine"
        words.append(reason if blank else "")
    return words


def locked_blanks(
    supply: TorqueSupply, turbine_speed: FloatArray, found: NDArray[np.bool_]
) -> list[str]:
    """Return why turbine and engine cannot be tied at turbine speeds; empty where they can.

    Parameters
    ----------
    supply : TorqueSupply
    turbine_speed : ndarray, shape (n,)
        [rad/s].
    found : ndarray of bool, shape (n,)
    """
    low = supply.domain[0]
    return [
        "" if there else "the engine would run below idle" if speed < low else "above high idle"
        for speed, there in zip(turbine_speed, found, strict=True)
    ]


def ratio_blanks(found: NDArray[np.bool_], lugged: NDArray[np.bool_]) -> list[str]:
    """Return why there is no match at speed ratios; empty where there is.

    Parameters
    ----------
    found : ndarray of bool, shape (n,)
    lugged : ndarray of bool, shape (n,)
        Whether the converter takes more than the engine gives at its lowest speed.
    """
    ends = "torque left at the end of the engine's data"
    return [
        "" if there else "the engine is lugged down" if low else ends
        for there, low in zip(found, lugged, strict=True)
    ]


def joined(**reasons: list[str]) -> list[str]:
    """Return one reason a row from those of several groups of columns, each under its name.

    Examples
    --------
    >>> joined(open=["", "a"], locked=["b", "c"])
    ['locked (b)', 'open (a), locked (c)']
    """
    rows = zip(*reasons.values(), strict=True)
    return [
        ", ".join(
            f"{name.replace('_', '-')} ({word})"
            for name, word in zip(reasons, row, strict=True)
            if word
        )
        for row in rows
    ]


def beside(
    rows: tuple[tuple[object, ...], ...], reasons: list[str]
) -> tuple[tuple[object, ...], ...]:
    """Return rows with the reason for their blanks as a last cell."""
    return tuple((*row, reason) for row, reason in zip(rows, reasons, strict=True))
