"""What an estimated converter leaves open: least and most over everything that it may be."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Protocol

import numpy as np

from converter_match.answer.block import Block, Estimate, Facts, Heading, NoValue
from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.judgement.match import words
from converter_match.physics.match.solver import MatchSet

SPREAD = (
    Heading("speed_ratio", "speed ratio"),
    Heading("torque_ratio", "torque ratio"),
    Heading("efficiency", "efficiency"),
    Heading("engine_speed", "engine", "angular_speed"),
    Heading("input_torque", "input torque", "torque"),
    Heading("turbine_speed", "turbine", "angular_speed"),
    Heading("turbine_torque", "turbine torque", "torque"),
    Heading("output_power", "output", "power"),
    Heading("heat", "heat", "power"),
)
"""What is given as least and most."""
_NAMED = (Heading("code", ""), Heading("point", "point"), Heading("found_in", "in"))
_CHARACTERISTIC = (
    Heading("speed_ratio", "speed ratio"),
    Heading("torque_ratio", "torque ratio"),
    Heading("efficiency", "efficiency"),
    Heading("capacity", "capacity", "capacity"),
)
_ROWS = np.round(np.linspace(0.0, 1.0, 11), 10)


def points_block(
    named: Sequence[tuple[str, str, Sequence[object | None]]], *, banded: bool = False
) -> Block:
    """Return least and most of every named point.

    Parameters
    ----------
    named : sequence of (code, words, points)
        With the point in the middle and in every alternative; None where there is none.
    banded : bool
        Whether the alternatives are the ends of a reading band.
    """
    rows = []
    for code, called, points in named:
        there = [point for point in points if point is not None]
        found = f"{len(there)} of {len(points)}"
        rows.append((code, called, found, *(_span(there, head.key) for head in SPREAD)))
    return Block(
        "estimate",
        title=words.BAND if banded else words.ESTIMATE,
        columns=(*_NAMED, *SPREAD),
        rows=tuple(rows),
        rows_key="points",
    )


def _span(points: Iterable[object], key: str) -> tuple[float, float] | NoValue:
    values = [float(getattr(point, key)) for point in points]
    return (min(values), max(values)) if values else NoValue("none")


class Decided(Protocol):
    """An answer with what it comes to, and the answers of what an estimated converter may be."""

    @property
    def alternatives(self) -> Sequence[Decided]:
        """Answers with each converter that the estimate may be; none where it is no estimate."""

    def decisive(self) -> Facts:
        """Return the figures that a decision rests on; None where there is none."""


def decisive_blocks(
    answer: Decided, name: str = "estimate", *, banded: bool = False
) -> tuple[Block, ...]:
    """Return the decisive figures with least and most over what an estimated converter may be.

    Nothing where the converter is neither an estimate nor read within a band.

    Parameters
    ----------
    answer : Decided
        With the converter in the middle.
    name : str
        Of the block in plain data.
    banded : bool
        Whether the alternatives are the ends of a reading band.
    """
    if not answer.alternatives:
        return ()
    others = [
        {head.plain_key: value for head, value in one.decisive()} for one in answer.alternatives
    ]
    facts: Facts = ()
    for head, value in answer.decisive():
        values = [value, *(other.get(head.plain_key) for other in others)]
        known = [float(item) for item in values if item is not None]
        if not known:
            facts += ((head, NoValue("none")),)
            continue
        middle = float("nan") if value is None else float(value)
        found = "" if len(known) == len(values) else f" (in {len(known)} of {len(values)})"
        facts += ((head.said(head.words + found), Estimate(middle, min(known), max(known))),)
    title = words.DECISIVE_BAND if banded else words.DECISIVE
    return (Block(name, title=title, facts=facts),)


def characteristic_block(converter: Converter) -> Block:
    """Return least and most of an estimated characteristic, for plain data."""
    low, high = converter.domain
    nu = _ROWS[(_ROWS >= low) & (_ROWS <= high)]
    band = converter.band(nu)
    return Block(
        "estimate",
        columns=_CHARACTERISTIC,
        rows=tuple(
            (float(at), *((float(low[row]), float(high[row])) for low, high in band.values()))
            for row, at in enumerate(nu)
        ),
        rows_key="characteristic",
        in_text=False,
    )


def over_turbine_speed(
    locus: MatchSet, alternatives: Sequence[MatchSet], key: str
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return turbine speeds with the least and the most that an estimate may give there.

    Parameters
    ----------
    locus : MatchSet
        Of the middle.
    alternatives : sequence of MatchSet
    key : str
        A quantity of an operating point, such as ``turbine_torque``.

    Returns
    -------
    speed, least, most : ndarray, shape (n,)
        SI; only where every one of them has a match from idle.
    """
    lines = [_line(each, key) for each in (locus, *alternatives)]
    if any(speed.size == 0 for speed, _ in lines):
        return np.empty(0), np.empty(0), np.empty(0)
    low = max(float(speed[0]) for speed, _ in lines)
    high = min(float(speed[-1]) for speed, _ in lines)
    at = lines[0][0]
    at = np.union1d(at[(at >= low) & (at <= high)], [low, high])
    values = np.stack([np.interp(at, speed, value) for speed, value in lines])
    return at, values.min(axis=0), values.max(axis=0)


def _line(locus: MatchSet, key: str) -> tuple[FloatArray, FloatArray]:
    points = locus.from_idle()
    kept = points.found & (points.speed_ratio >= 0.0)
    speed, value = points.turbine_speed[kept], np.asarray(getattr(points, key))[kept]
    order = np.argsort(speed, kind="stable")
    return speed[order], value[order]
