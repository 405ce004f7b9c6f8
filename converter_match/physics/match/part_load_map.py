"""The match over part-load settings, and what the converter does in gear at idle.

Each setting is a torque curve of its own (`physics.engine.part_load`), matched over the speed
ratio. Where
the converter would pull the engine below low idle, its idle governor takes over: it feeds the
engine up to full load to keep it at low idle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.notes import Note
from converter_match.physics.engine.part_load import part_load_supply
from converter_match.physics.engine.supply import TorqueSupply, engine_supply
from converter_match.physics.match.match_set import crossed
from converter_match.physics.match.solver import OperatingPoints, match


@dataclass(frozen=True)
class PartLoadMap:
    """Matches over setting and speed ratio.

    Parameters
    ----------
    governing : {"speed", "torque"}
    setting : ndarray, shape (m,)
        No-load speed [rad/s], or pedal 0 .. 1.
    speed_ratio : ndarray, shape (n,)
    points : OperatingPoints
        Shape (m, n); NaN where the engine cannot hold the converter.
    at_idle : ndarray of bool, shape (m, n)
        Where the idle governor holds the engine at low idle.
    lugged : ndarray of bool, shape (m, n)
        Whether the converter takes more than the engine gives at its lowest speed.
    jumps_before : ndarray of bool, shape (m, n)
        Whether the engine jumps between a speed ratio and the one before it.
    notes : tuple of Note
        Assumptions made.
    """

    governing: str
    setting: FloatArray
    speed_ratio: FloatArray
    points: OperatingPoints
    at_idle: NDArray[np.bool_]
    lugged: NDArray[np.bool_]
    jumps_before: NDArray[np.bool_]
    notes: tuple[Note, ...]


@dataclass(frozen=True)
class IdleCreep:
    """In gear at low idle; arrays over speed ratio.

    Parameters
    ----------
    points : OperatingPoints
        Shape (n,).
    can_hold : ndarray of bool, shape (n,)
        Whether the engine has the torque to stay at low idle.
    """

    points: OperatingPoints
    can_hold: NDArray[np.bool_]

    @property
    def holding_torque(self) -> float:
        """Brake torque at the turbine shaft that keeps the machine standing [N.m].

        The turbine torque at stall; multiply by the overall ratio for the wheels. Losses between
        turbine and wheels would help the brake and are not counted on.
        """
        row = int(np.argmin(np.abs(self.points.speed_ratio)))
        return float(self.points.turbine_torque[row])


def part_load_map(
    engine: Engine,
    converter: Converter,
    settings: Sequence[float],
    speed_ratio: ArrayLike,
    *,
    torque_factor: float = 1.0,
    hydraulic_torque: float = 0.0,
) -> PartLoadMap:
    """Return the match over part-load settings and speed ratio.

    Parameters
    ----------
    engine : Engine
        Its governing habit decides what a setting is.
    converter : Converter
    settings : sequence of float
        No-load speeds [rad/s], or pedals above 0 and up to 1.
    speed_ratio : array_like, shape (n,)
    torque_factor, hydraulic_torque : float
        As in `physics.engine.supply.engine_supply`.

    Raises
    ------
    InputError
        If there is no setting, or one is out of range.
    """
    if not len(settings):
        raise InputError("no setting is given", field="settings")
    nu = np.atleast_1d(np.asarray(speed_ratio, dtype=np.float64))
    full = engine_supply(engine, torque_factor=torque_factor, hydraulic_torque=hydraulic_torque)
    rows, idle, lugged, jumps, notes = [], [], [], [], dict[str, Note]()
    for setting in settings:
        supply, made = part_load_supply(
            engine,
            setting=float(setting),
            torque_factor=torque_factor,
            hydraulic_torque=hydraulic_torque,
        )
        notes |= {note.code: note for note in made}
        found = match(supply, converter, nu)
        points, at_idle = _kept_at_idle(full, converter, found.from_idle())
        lugged.append(~found.pulls_away & ~at_idle)
        unstable = np.where(found.points.stable, np.nan, found.points.engine_speed)
        jumps.append(crossed(points.engine_speed, unstable))
        rows.append(points)
        idle.append(at_idle)
    names = ("speed_ratio", "torque_ratio", "engine_speed", "input_torque", "stable")
    stacked = OperatingPoints(*(np.stack([getattr(row, name) for row in rows]) for name in names))
    return PartLoadMap(
        governing=engine.governing,
        setting=np.asarray(settings, dtype=np.float64),
        speed_ratio=nu,
        points=stacked,
        at_idle=np.stack(idle),
        lugged=np.stack(lugged),
        jumps_before=np.stack(jumps),
        notes=tuple(notes.values()),
    )


def idle_creep(
    engine: Engine,
    converter: Converter,
    speed_ratio: ArrayLike = 0.0,
    *,
    torque_factor: float = 1.0,
    hydraulic_torque: float = 0.0,
) -> IdleCreep:
    """Return what the converter does in gear with the engine held at low idle by its governor.

    Parameters
    ----------
    engine : Engine
    converter : Converter
        Torque ``C omega_idle^2`` in, ``mu`` times that out.
    speed_ratio : array_like, shape (n,)
    torque_factor, hydraulic_torque : float
        As in `physics.engine.supply.engine_supply`; they decide whether the engine can hold idle.

    Raises
    ------
    InputError
        If a speed ratio lies outside the converter's data.
    """
    nu = np.atleast_1d(np.asarray(speed_ratio, dtype=np.float64))
    supply = engine_supply(engine, torque_factor=torque_factor, hydraulic_torque=hydraulic_torque)
    idle = supply.domain[0]
    torque = converter.capacity_at(nu) * idle**2
    can_hold = float(supply.torque(idle)) >= torque
    points = OperatingPoints(
        nu, converter.torque_ratio_at(nu), np.full(nu.shape, idle), torque, can_hold
    )
    return IdleCreep(points, can_hold)


def default_settings(engine: Engine, count: int = 5) -> tuple[float, ...]:
    """Return evenly spaced settings up to the full one.

    Speed-governed: no-load speeds from a third of the way up between low and high idle, but not so
    low that the droop line would begin below the full-load rows. Torque-governed: pedals.

    Parameters
    ----------
    engine : Engine
    count : int
    """
    if engine.governing == "torque":
        return tuple(float(value) for value in np.linspace(1.0 / count, 1.0, count))
    lowest = engine.full_load.domain[0] * engine.high_idle / engine.rated_speed * 1.02
    start = max(engine.low_idle + (engine.high_idle - engine.low_idle) / 3.0, lowest)
    return tuple(float(value) for value in np.linspace(start, engine.high_idle, count))


def _kept_at_idle(
    full: TorqueSupply, converter: Converter, points: OperatingPoints
) -> tuple[OperatingPoints, NDArray[np.bool_]]:
    idle = full.domain[0]
    torque = converter.capacity_at(points.speed_ratio) * idle**2
    at_idle = ~points.found & (float(full.torque(idle)) >= torque) & (torque >= 0)
    return (
        OperatingPoints(
            points.speed_ratio,
            points.torque_ratio,
            np.where(at_idle, idle, points.engine_speed),
            np.where(at_idle, torque, points.input_torque),
            points.stable | at_idle,
        ),
        at_idle,
    )
