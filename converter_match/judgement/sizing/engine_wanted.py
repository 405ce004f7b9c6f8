"""The question the other way round: what engine a converter wants.

``T = C(nu) omega^2`` is the torque that holds the converter at a speed. Between that and what the
engine has lies what would have to change.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from converter_match.components.base import in_rpm
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.components.site import Site
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.notes import Note
from converter_match.physics.engine.site_correction import site_effect
from converter_match.physics.engine.supply import TorqueSupply, engine_supply
from converter_match.physics.match.solver import match
from converter_match.units import System, from_si, note_text, quantity_note, show

_POINTS = 241


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


@dataclass(frozen=True, eq=False, kw_only=True)
class TorqueWanted:
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
        On the whole full-load curve, loads unchanged, that gives the wanted stall speed.
    holes : tuple of Hole
        Below the wanted speed: there the engine stops on its way up, though it has the torque at
        the wanted speed. Filling them mends what a factor on the whole curve need not.
    reached : float or None
        Stall speed that an engine coming up from idle reaches with the factor [rad/s].
    answer : Note or None
        In a sentence or two; None where no stall speed is wanted.
    """

    engine_speed: FloatArray
    wanted: FloatArray
    available: FloatArray
    stall_speed: float | None = None
    torque_at_stall: float | None = None
    torque_change: float | None = None
    torque_factor: float | None = None
    holes: tuple[Hole, ...] = ()
    reached: float | None = None
    answer: Note | None = None

    def to_dict(self) -> dict[str, Any]:
        """Return plain data with the unit in each key."""

        def rpm(value: float | None) -> float | None:
            return None if value is None else from_si(value, "rpm", "angular_speed")

        return {
            "stall_speed_rpm": rpm(self.stall_speed),
            "net_torque_wanted_nm": self.torque_at_stall,
            "torque_change_nm": self.torque_change,
            "full_load_torque_factor": self.torque_factor,
            "stall_speed_with_factor_rpm": rpm(self.reached),
            "holes": [
                {
                    "low_rpm": rpm(hole.low),
                    "high_rpm": rpm(hole.high),
                    "deepest_at_rpm": rpm(hole.deepest_at),
                    "missing_torque_nm": hole.missing_torque,
                }
                for hole in self.holes
            ],
            "words": "" if self.answer is None else note_text(self.answer, "si"),
            "curve": [
                {"engine_speed_rpm": rpm(float(w)), "wanted_nm": float(t), "available_nm": float(a)}
                for w, t, a in zip(self.engine_speed, self.wanted, self.available, strict=True)
            ],
        }


def torque_wanted(
    engine: Engine,
    converter: Converter,
    stall_speed: float | None = None,
    *,
    site: Site | None = None,
    hydraulic_torque: float = 0.0,
) -> TorqueWanted:
    """Return the torque a converter wants at stall, and the change that gives a wanted stall speed.

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
    curves: dict[str, Any] = {
        "engine_speed": grid,
        "wanted": capacity * grid**2,
        "available": np.asarray(supply.torque(grid)),
    }
    if stall_speed is None:
        return TorqueWanted(**curves)
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
        return TorqueWanted(
            **curves,
            stall_speed=stall_speed,
            torque_at_stall=needed,
            answer=quantity_note(
                "torque-behind-governor",
                "At {speed} the governor has taken all torque away: no change of the full-load "
                "curve makes the converter stall there. Raise the governed speed, or take a "
                "tighter converter.",
                speed=(stall_speed, "angular_speed", ".0f"),
            ),
        )
    factor = (needed + load) / full
    there = match(supply, converter, 0.0, torque_factor=factor).from_idle()
    reached = float(there.engine_speed) if bool(there.found) else None
    holes = _holes(supply, capacity, factor, stall_speed, grid)
    return TorqueWanted(
        **curves,
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
    """Find where the scaled curve lies below what the converter wants, short of the wanted speed.

    The edges are the intersections themselves; only the deepest place is read on a grid.
    """
    below = grid[grid < stall_speed * (1.0 - 1e-6)]
    if not below.size:
        return ()
    short = capacity * below**2 - supply.net_torque(below, factor)
    short = np.where(short > 1e-9 * np.max(np.abs(short)), short, 0.0)
    inside = short > 0.0
    edges = np.flatnonzero(np.diff(np.concatenate([[0], inside.astype(int), [0]])))
    found = []
    for first, last in zip(edges[::2], edges[1::2] - 1, strict=True):
        row = first + int(np.argmax(short[first : last + 1]))
        found.append(
            Hole(
                low=float(below[first]),
                high=float(below[last]),
                deepest_at=float(below[row]),
                missing_torque=float(short[row]),
            )
        )
    return tuple(found)


def _answer(
    speed: float, needed: float, factor: float, reached: float | None, holes: tuple[Hole, ...]
) -> Note:
    text = (
        "To stall at {speed} the converter wants {needed} net; the full-load curve times "
        f"{factor:.3f} gives that."
    )
    places = {
        "speed": (speed, "angular_speed", ".0f"),
        "needed": (needed, "torque", ".0f"),
    }
    if abs(factor - 1.0) > 0.10:  # common practice, no source
        text += " No setting within a rating changes an engine so much: another size is the remedy."
    if holes:
        deepest = max(holes, key=lambda hole: hole.missing_torque)
        stop = "does not leave idle" if reached is None else "stops at {reached}"
        text += (
            f" But coming up from idle it {stop}: between {{low}} and {{high}} it has too little, "
            "{missing} at {deepest}. The low-speed torque has to be filled by that much."
        )
        places |= {
            "reached": (reached or 0.0, "angular_speed", ".0f"),
            "low": (deepest.low, "angular_speed", ".0f"),
            "high": (deepest.high, "angular_speed", ".0f"),
            "missing": (deepest.missing_torque, "torque", ".0f"),
            "deepest": (deepest.deepest_at, "angular_speed", ".0f"),
        }
    return quantity_note("torque-wanted", text, "warning", **places)


def torque_text(answer: TorqueWanted, system: System = "si") -> str:
    """Return the answer and a short table, readable in a log."""
    lines = [] if answer.answer is None else [note_text(answer.answer, system)]
    speed_unit = show(0.0, "angular_speed", system)[1]
    torque_unit = show(0.0, "torque", system)[1]
    lines.append(f"  engine [{speed_unit}]  wanted at stall [{torque_unit}]  net torque of the "
                 f"engine [{torque_unit}]")  # fmt: skip
    rows = np.unique(np.linspace(0, answer.engine_speed.size - 1, 13).round().astype(int))
    for row in rows:
        speed = show(float(answer.engine_speed[row]), "angular_speed", system)[0]
        want = show(float(answer.wanted[row]), "torque", system)[0]
        has = show(float(answer.available[row]), "torque", system)[0]
        lines.append(f"  {speed:12.0f}  {want:20.0f}  {has:20.0f}")
    return "\n".join(lines)
