"""The question the other way round: what engine a converter wants.

``T = C(nu) omega^2`` is the torque that holds the converter at a speed. Between that and what the
engine has lies what would have to change.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from converter_match.answer.block import Block, Heading, row_of, rows_of_arrays
from converter_match.answer.noted import Answer
from converter_match.answer.plain import plain
from converter_match.components.base import in_rpm
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.components.site import Site
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.sizing.words import ENGINE_WORDS
from converter_match.notes import Note
from converter_match.physics.engine.site_correction import site_effect
from converter_match.physics.engine.supply import TorqueSupply, engine_supply
from converter_match.physics.match.solver import match
from converter_match.units import note_text

_POINTS = 241
_SHOWN_ROWS = 13
_WANTED = (
    Heading("stall_speed", "", "angular_speed"),
    Heading("net_torque_wanted", "", "torque"),
    Heading("torque_change", "", "torque"),
    Heading("full_load_torque_factor", ""),
    Heading("stall_speed_with_factor", "", "angular_speed"),
)
_WORDS = Heading("words", "")
_HOLE = (
    Heading("low", "from", "angular_speed"),
    Heading("high", "to", "angular_speed"),
    Heading("deepest_at", "largest shortfall at", "angular_speed"),
    Heading("missing_torque", "torque shortfall there", "torque"),
)
_CURVE = (
    Heading("engine_speed", "engine speed", "angular_speed"),
    Heading("wanted", "absorbed by the converter at stall", "torque"),
    Heading("available", "net torque of the engine", "torque"),
)


@dataclass(frozen=True, eq=False, kw_only=True)
class Hole:
    """A stretch of engine speed on which the engine has too little torque to pull through.

    Parameters
    ----------
    low, high : float
        [rad/s].
    deepest_at, missing_torque : float
        Where most is missing [rad/s], and how much [N.m].
    """

    low: float
    high: float
    deepest_at: float
    missing_torque: float


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class TorqueWanted(Answer):
    """What engine torque a converter wants at stall, against what the engine has. SI units.

    Parameters
    ----------
    engine_speed, wanted, available : ndarray, shape (n,)
        Engine speeds [rad/s], ``C omega^2`` and the net torque there [N.m].
    stall_speed : float or None
        Wanted [rad/s].
    torque_at_stall : float or None
        Net torque that the converter wants at that speed [N.m].
    torque_change : float or None
        That less what the engine has there [N.m].
    torque_factor : float or None
        On the whole full-load curve, loads unchanged, that gives the required stall speed.
    holes : tuple of Hole
        Below the required speed: there the engine stops on its way up, though it has the torque at
        the required speed. Filling them corrects what a factor on the whole curve need not.
    reached : float or None
        Stall speed that an engine coming up from idle reaches with the factor [rad/s].
    answer : tuple of Note
        In a sentence or two; empty where no stall speed is wanted.
    """

    notes = ()

    engine_speed: FloatArray
    wanted: FloatArray
    available: FloatArray
    stall_speed: float | None = None
    torque_at_stall: float | None = None
    torque_change: float | None = None
    torque_factor: float | None = None
    holes: tuple[Hole, ...] = ()
    reached: float | None = None
    answer: tuple[Note, ...] = ()

    def blocks(self) -> tuple[Block, ...]:
        """Return the answer, the holes, and the curve: in text a few rows of it."""
        curve = rows_of_arrays(self.engine_speed, self.wanted, self.available)
        shown = np.unique(np.linspace(0, len(curve) - 1, _SHOWN_ROWS).round().astype(int))
        wanted = (self.stall_speed, self.torque_at_stall, self.torque_change, self.torque_factor,
                  self.reached)  # fmt: skip
        return (
            Block(
                "",
                "Or with this converter as it is" if self.answer else "",
                facts=(
                    *zip(_WANTED, wanted, strict=True),
                    (_WORDS, " ".join(note_text(note, "si") for note in self.answer)),
                ),
                above=self.answer,
            ),
            Block(
                "holes",
                "Torque shortfall of the engine" if self.holes else "",
                columns=_HOLE,
                rows=tuple(row_of(hole, _HOLE) for hole in self.holes),
                rows_key="",
            ),
            Block("curve", columns=_CURVE, rows=curve, rows_key="", in_text=False),
            Block("", columns=_CURVE, rows=tuple(curve[row] for row in shown), in_plain=False),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return plain data with the unit in each key."""
        return plain(self.blocks())


def torque_wanted(
    engine: Engine,
    converter: Converter,
    stall_speed: float | None = None,
    *,
    site: Site | None = None,
    hydraulic_torque: float = 0.0,
) -> TorqueWanted:
    """Return the torque a converter wants at stall, and the change for a required stall speed.

    Parameters
    ----------
    engine, converter : Engine, Converter
    stall_speed : float, optional
        Wanted [rad/s]; without one only the curves are given.
    site : Site, optional
    hydraulic_torque : float
        [N.m].

    Raises
    ------
    InputError
        If the speed lies outside the engine's known speeds or the characteristic lacks stall.

    Notes
    -----
    With loads L, ``f T_full(omega) - L(omega) = C omega^2`` gives
    ``f = (C omega^2 + L) / T_full``.
    """
    supply = engine_supply(
        engine,
        torque_factor=site_effect(engine, site).torque_factor,
        hydraulic_torque=hydraulic_torque,
    )
    capacity = float(converter.capacity_at(0.0))
    low, high = supply.domain
    grid = np.union1d(np.linspace(low, high, _POINTS), supply.knots)
    curves = TorqueWanted(
        engine_speed=grid,
        wanted=capacity * grid**2,
        available=np.asarray(supply.torque(grid)),
    )
    if stall_speed is None:
        return curves
    if not low <= stall_speed <= high:
        raise InputError(
            "outside the speeds for which the engine's torque is known",
            field="stall_speed",
            found=in_rpm(stall_speed),
            expected=f"{in_rpm(low)} to {in_rpm(high)}",
        )
    needed = capacity * stall_speed**2
    load = float(supply.load_torque(np.asarray(stall_speed)))
    full = supply.factor * float(supply.source(stall_speed))
    if full <= 0.0:
        return replace(
            curves,
            stall_speed=stall_speed,
            torque_at_stall=needed,
            answer=(ENGINE_WORDS.note("torque-behind-governor", speed=stall_speed),),
        )
    factor = (needed + load) / full
    there = match(supply, converter, 0.0, torque_factor=factor).from_idle()
    reached = float(there.engine_speed) if bool(there.found) else None
    holes = _holes(supply, capacity, factor, stall_speed, grid)
    return replace(
        curves,
        stall_speed=stall_speed,
        torque_at_stall=needed,
        torque_change=needed - float(supply.torque(stall_speed)),
        torque_factor=factor,
        holes=holes,
        reached=reached,
        answer=_answer(stall_speed, needed, factor, reached, holes),
    )


def _holes(
    supply: TorqueSupply, capacity: float, factor: float, stall_speed: float, grid: FloatArray
) -> tuple[Hole, ...]:
    """Find where the scaled curve lies below what the converter wants, short of the required speed.

    The edges are the intersections themselves; only the deepest place is read on a grid.
    """
    below = grid[grid < stall_speed * (1.0 - 1e-6)]
    if not below.size:
        return ()
    short = capacity * below**2 - supply.net_torque(below, factor)
    short = np.where(short > 1e-9 * np.max(np.abs(short)), short, 0.0)
    inside = short > 0.0
    edges = np.flatnonzero(np.diff(np.concatenate([[0], inside.astype(int), [0]])))
    holes = []
    for first, last in zip(edges[::2], edges[1::2] - 1, strict=True):
        row = first + int(np.argmax(short[first : last + 1]))
        holes.append(
            Hole(
                low=float(below[first]),
                high=float(below[last]),
                deepest_at=float(below[row]),
                missing_torque=float(short[row]),
            )
        )
    return tuple(holes)


def _answer(
    speed: float, needed: float, factor: float, reached: float | None, holes: tuple[Hole, ...]
) -> tuple[Note, ...]:
    said = [ENGINE_WORDS.note("torque-wanted", speed=speed, needed=needed, factor=factor)]
    if abs(factor - 1.0) > 0.10:  # common practice, no source
        said.append(ENGINE_WORDS.note("torque-factor-large"))
    if holes:
        deepest = max(holes, key=lambda hole: hole.missing_torque)
        stop = (
            ENGINE_WORDS.note("does-not-leave-idle")
            if reached is None
            else ENGINE_WORDS.note("stops-at", reached=reached)
        )
        said.append(
            ENGINE_WORDS.note(
                "torque-hole",
                stop=stop,
                low=deepest.low,
                high=deepest.high,
                missing=deepest.missing_torque,
                deepest=deepest.deepest_at,
            )
        )
    return tuple(said)
