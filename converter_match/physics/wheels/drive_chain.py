"""The states a machine drives in, and the speeds at which it changes between them.

A state is a gear in converter or lock-up drive. The controller goes by the speed of the turbine, or
what is the same, of the tread. Above its upper speed a state is left for the next, below its lower
one for the one before; the two lie apart, so that no speed makes it change to and fro.

Each state's full-throttle effort and rotating mass are tabulated on an even grid of tread speed,
so that a point costs one look-up, for one machine or for a thousand at once.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from converter_match.components.driveline import Driveline
from converter_match.components.gear import Direction
from converter_match.components.machine import Machine
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.notes import Note, assumption
from converter_match.physics.match.margin import match_margin
from converter_match.physics.match.turbine import ShaftFactors, TurbineShaft
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.rotating import Inertias, engine_follows
from converter_match.physics.wheels.shifting import shift_points
from converter_match.physics.wheels.wheels import GearDrive, at_wheels, gear_drives

POINTS = 321
# Where the driveline's file gives neither downshift nor hysteresis: common practice, no source.
TYPICAL_HYSTERESIS = 0.12
# Torque factors are tabulated at this many places across their range and interpolated between.
_FACTOR_NODES = 9


@dataclass(frozen=True, eq=False)
class DriveChain:
    """States in the order in which a machine passes them; arrays of shape (states,).

    Parameters
    ----------
    drives : tuple of GearDrive
    up_speed, down_speed : ndarray
        Tread speeds at which a state is left [m/s].
    up_to, down_to : ndarray of int
        Where to.
    up_assumed, down_assumed : ndarray of bool
        Whether the gear change there stands at a speed that the driveline's file does not give.
    gear_index : ndarray of int
        Which gear, counted from the lowest.
    top : ndarray
        Tread speed at which the state's curve ends [m/s].
    force : ndarray, shape (states, points)
        Full-throttle effort over shares of `top` [N].
    rotating : ndarray, shape (states, points)
        Mass of the rotating parts [kg].
    follows : ndarray, shape (states, points)
        ``mu d omega_e / d omega_t`` at full throttle.
    notes : tuple of Note
    """

    drives: tuple[GearDrive, ...]
    up_speed: FloatArray
    down_speed: FloatArray
    up_to: NDArray[np.intp]
    down_to: NDArray[np.intp]
    up_assumed: NDArray[np.bool_]
    down_assumed: NDArray[np.bool_]
    gear_index: NDArray[np.intp]
    top: FloatArray
    force: FloatArray
    rotating: FloatArray
    follows: FloatArray
    notes: tuple[Note, ...] = ()

    @property
    def size(self) -> int:
        """Number of states."""
        return len(self.drives)

    @cached_property
    def ratio_over_radius(self) -> FloatArray:
        """Turbine speed / tread speed in each state [rad/m]."""
        return np.array(
            [d.driveline.overall_ratio(d.gear) / d.machine.rolling_radius for d in self.drives]
        )

    @cached_property
    def locked(self) -> NDArray[np.bool_]:
        """Whether each state is locked up."""
        return np.array([drive.drive == "lock-up" for drive in self.drives])

    @cached_property
    def names(self) -> tuple[str, ...]:
        """The gear of each state, with an L behind it where it is locked up."""
        return tuple(f"{d.gear.name}{'L' if d.drive == 'lock-up' else ''}" for d in self.drives)

    @cached_property
    def reverse(self) -> NDArray[np.bool_]:
        """Whether each state drives in reverse."""
        return np.array([drive.gear.direction == "reverse" for drive in self.drives])

    def first(self, direction: Direction) -> int:
        """Return the state in which a machine starts in a direction."""
        return [drive.gear.direction for drive in self.drives].index(direction)

    @property
    def fastest(self) -> float:
        """Highest tread speed of any state that the machine can come into from the first [m/s]."""
        return self.fastest_from(0)

    def fastest_from(self, first: int) -> float:
        """Return the highest tread speed of any state that can be come into from one [m/s]."""
        state, seen = first, [first]
        while np.isfinite(self.up_speed[state]) and int(self.up_to[state]) not in seen:
            if self.up_speed[state] >= self.top[state]:
                break
            state = int(self.up_to[state])
            seen.append(state)
        return float(self.top[state])

    def limited_to(self, gear: str) -> DriveChain:
        """Return the chain that does not shift beyond a gear.

        Raises
        ------
        InputError
            If the chain has no such gear; its gears are named.
        """
        names = [drive.gear.name for drive in self.drives]
        if gear not in names:
            raise InputError(
                "no such gear in this direction",
                field="gear",
                found=gear,
                expected=" | ".join(dict.fromkeys(names)),
            )
        highest = self.gear_index[names.index(gear)]
        leaves = self.gear_index[self.up_to] > highest
        return replace(
            self,
            up_speed=np.where(leaves, np.inf, self.up_speed),
            up_to=np.where(leaves, np.arange(self.size), self.up_to),
        )

    def with_states_of(self, other: DriveChain) -> DriveChain:
        """Return a chain with the states of another behind its own; neither shifts to the other.

        Parameters
        ----------
        other : DriveChain
            Of the other direction.
        """
        joined = {
            name: np.concatenate([getattr(self, name), getattr(other, name)])
            for name in (
                "up_speed",
                "down_speed",
                "up_assumed",
                "down_assumed",
                "top",
                "force",
                "rotating",
                "follows",
            )
        }
        gears = int(self.gear_index.max()) + 1
        return DriveChain(
            drives=(*self.drives, *other.drives),
            up_to=np.concatenate([self.up_to, other.up_to + self.size]),
            down_to=np.concatenate([self.down_to, other.down_to + self.size]),
            gear_index=np.concatenate([self.gear_index, other.gear_index + gears]),
            notes=(*self.notes, *other.notes),
            **joined,
        )

    def settled(self, state: int, speed: float) -> int:
        """Return the state in force at a tread speed [m/s], coming from a state."""
        for _ in range(2 * self.size):
            if speed > self.up_speed[state]:
                state = int(self.up_to[state])
            elif speed < self.down_speed[state]:
                state = int(self.down_to[state])
            else:
                break
        return state


@dataclass(frozen=True)
class _GearChange:
    """Tread speeds between two gears [m/s], and which of them the file does not give."""

    up: float
    down: float
    up_assumed: bool
    down_assumed: bool


def drive_chain(
    shaft: TurbineShaft,
    driveline: Driveline,
    machine: Machine,
    inertias: Inertias,
    load: RoadLoad,
    *,
    direction: str = "forward",
) -> DriveChain:
    """Return the states of the forward or reverse gears and the speeds of their changes.

    Parameters
    ----------
    shaft : TurbineShaft
        At full throttle.
    driveline, machine : Driveline, Machine
    inertias : Inertias
    load : RoadLoad
        For the shift speeds where the file gives none.
    direction : {"forward", "reverse"}

    Raises
    ------
    InputError
        If there is no gear in the direction.
    """
    gears = driveline.forward if direction == "forward" else driveline.reverse
    if not gears:
        raise InputError(f"no {direction} gear", source=driveline.id, field="gear")
    drives = tuple(
        d for d in gear_drives(shaft, driveline, machine) if d.gear.direction == direction
    )
    notes: list[Note] = []
    changes = _gear_changes(drives, driveline, load, direction, notes)
    names = [gear.name for gear in gears]
    gear_index = np.array([names.index(drive.gear.name) for drive in drives])
    converter = {int(g): i for i, g in reversed(list(enumerate(gear_index)))}
    locked = {int(gear_index[i]): i for i, d in enumerate(drives) if d.drive == "lock-up"}
    count = len(drives)
    up_speed, down_speed = np.full(count, np.inf), np.full(count, -np.inf)
    up_to, down_to = np.arange(count), np.arange(count)
    up_assumed, down_assumed = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    for i, drive in enumerate(drives):
        gear = int(gear_index[i])
        tread = machine.rolling_radius / driveline.overall_ratio(drive.gear)
        if gear + 1 < len(gears):
            up_speed[i], up_assumed[i] = changes[gear].up, changes[gear].up_assumed
            up_to[i] = converter[gear + 1]
        if gear > 0:
            down_speed[i] = changes[gear - 1].down
            down_assumed[i] = changes[gear - 1].down_assumed
            down_to[i] = locked.get(gear - 1, converter[gear - 1])
        if drive.drive == "converter" and gear in locked:
            engages = drives[locked[gear]].engages * tread
            if engages <= up_speed[i]:
                up_speed[i], up_to[i] = engages, locked[gear]
        if drive.drive == "lock-up":
            releases = drive.releases * tread
            if releases >= down_speed[i]:
                down_speed[i], down_to[i] = releases, converter[gear]
    top = np.array([float(d.curve().wheel_speed[-1]) for d in drives])
    return DriveChain(
        drives=drives,
        up_speed=up_speed,
        down_speed=np.minimum(down_speed, up_speed),
        up_to=up_to,
        down_to=down_to,
        up_assumed=up_assumed,
        down_assumed=down_assumed,
        gear_index=gear_index,
        top=top,
        force=_table(drives, top, lambda d: d.curve().force),
        rotating=_table(drives, top, lambda d: inertias.with_engine(d, d.curve())),
        follows=_table(drives, top, lambda d: engine_follows(d, d.curve())),
        notes=tuple(notes),
    )


def _table(
    drives: Sequence[GearDrive], top: FloatArray, values: Callable[[GearDrive], FloatArray]
) -> FloatArray:
    share = np.linspace(0.0, 1.0, POINTS)
    rows = [
        np.interp(share * end, d.curve().wheel_speed, values(d))
        for d, end in zip(drives, top, strict=True)
    ]
    return np.stack(rows)


def _gear_changes(
    drives: Sequence[GearDrive],
    driveline: Driveline,
    load: RoadLoad,
    direction: str,
    notes: list[Note],
) -> list[_GearChange]:
    """Tread speeds of the upshift and downshift between neighbouring gears."""
    line = driveline
    if direction == "reverse":
        line = driveline.replace(
            gears=tuple(g.replace(direction="forward") for g in driveline.reverse)
        )
        drives = [replace(d, driveline=line, gear=line.gear(d.gear.name)) for d in drives]
    found: list[_GearChange] = []
    guessed, computed = [], []
    for point in shift_points(drives, [load] * len(drives), line):
        lower = [d for d in drives if d.gear.name == point.lower]
        end = max(float(d.curve().wheel_speed[-1]) for d in lower)
        upshift = point.upshift_speed
        if upshift is None:
            computed.append(point.lower)
            upshift = min(point.best_speed or end, 0.985 * end)
        downshift = point.downshift_speed
        if downshift is None or downshift >= upshift:
            guessed.append(point.upper)
            downshift = upshift * (1.0 - TYPICAL_HYSTERESIS)
        found.append(
            _GearChange(
                upshift, downshift, point.lower in computed[-1:], point.upper in guessed[-1:]
            )
        )
    if computed:
        notes.append(
            assumption(
                "shift-speed-computed",
                f"No upshift speed is given for gear {', '.join(computed)}: it shifts at equal "
                f"tractive effort "
                "of the next gear, at full throttle.",
            )
        )
    if guessed:
        notes.append(
            assumption(
                "downshift-typical",
                f"No downshift is given for gear {', '.join(guessed)}: it comes "
                f"{100 * TYPICAL_HYSTERESIS:.0f} % below the upshift (common practice, no source).",
            )
        )
    return found


def force_for_factors(
    chain: DriveChain,
    torque_factor: FloatArray,
    *,
    span: tuple[float, float] | None = None,
) -> FloatArray:
    """Return full-throttle effort tables for torque factors, shape (draws, states, points).

    Parameters
    ----------
    chain : DriveChain
    torque_factor : ndarray, shape (draws,)
        Each multiplies the engine's torque before loads.
    span : tuple of float, optional
        Lowest and highest of them, or a wider range that machines to be compared share.

    Notes
    -----
    Tabulated at nine factors over the range and interpolated linearly: the effort is so nearly
    linear in the factor that the error stays below 1e-4 of it for a range of +-10 %.
    """
    low, high = span or (float(torque_factor.min()), float(torque_factor.max()))
    if low == high == 1.0:
        return chain.force[np.newaxis]
    nodes = np.linspace(low, high, _FACTOR_NODES) if high > low else np.array([low])
    tables = _force_at_factors(chain, nodes)
    if nodes.size == 1:
        return tables
    place = (torque_factor - low) / (nodes[1] - nodes[0])
    left = np.clip(place.astype(np.intp), 0, nodes.size - 2)
    share = (place - left)[:, np.newaxis, np.newaxis]
    return np.asarray(tables[left] * (1.0 - share) + tables[left + 1] * share)


def _force_at_factors(chain: DriveChain, factors: FloatArray) -> FloatArray:
    """Return the tables of all factors, matched at once, shape (factors, states, points).

    Where an engine has more than one match its curve is followed along the turbine speed, alone.
    """
    shaft = replace(chain.drives[0].shaft, factors=ShaftFactors(torque=factors))
    curves = {
        drive.drive: shaft.at(drive.drive, shaft.grid(drive.drive)[:, np.newaxis])
        for drive in chain.drives
    }
    capacity = np.asarray(shaft.converter.capacity_at(shaft.converter_grid))
    plain = match_margin(shaft.supply, capacity.min(), capacity.max(), torque_factor=factors).single
    tables = np.empty((factors.size, chain.size, POINTS))
    at = np.linspace(0.0, 1.0, POINTS) * chain.top[:, np.newaxis]
    for number in range(factors.size):
        for shafts in curves.values():
            speed = shafts.turbine_speed[:, number]
            plain[number] &= bool(np.all(np.diff(speed[np.isfinite(speed)]) > 0.0))
        if not plain[number]:
            tables[number] = _force_at_factor(chain, float(factors[number]))
    for state, drive in enumerate(chain.drives):
        points = at_wheels(curves[drive.drive], drive.driveline, drive.gear, drive.machine)
        for number in np.flatnonzero(plain).tolist():
            speed, force = points.wheel_speed[:, number], points.force[:, number]
            known = np.isfinite(speed)
            tables[number, state] = np.interp(at[state], speed[known], force[known])
    return tables


def _force_at_factor(chain: DriveChain, factor: float) -> FloatArray:
    shaft = chain.drives[0].shaft
    supply = replace(shaft.supply, factor=shaft.supply.factor * factor)
    other = TurbineShaft(supply, shaft.converter)
    drives = tuple(replace(drive, shaft=other) for drive in chain.drives)
    return _table(drives, chain.top, lambda d: d.curve().force)
