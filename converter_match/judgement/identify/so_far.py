"""What has been seen of a log so far: samples of the characteristic, bounded in number, as a value.

A log, or a part of one, that is added gives another `LogSoFar`. So a part that turns out to be
damaged half-way leaves nothing behind: what was there before it is still at hand.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from converter_match.components.driveline import Driveline
from converter_match.components.gear import Gear
from converter_match.components.machine import Machine
from converter_match.constants import SEA_LEVEL_DENSITY
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.identify.basis import LogBasis
from converter_match.judgement.identify.doubts import LoadSeen, gears_of, one_gear
from converter_match.physics.engine.supply import TorqueSupply, engine_supply
from converter_match.physics.identify.identify import LOCKED, Stretches, calm, stretches
from converter_match.physics.identify.reservoir import Reservoir
from converter_match.physics.stall.settling import REFERENCE_OIL, density_factor
from converter_match.physics.wheels.road_load import RoadLoad

# Converter data are compared in warm oil: colder rows shift the capacity and are left out [K].
COLDEST = 323.15
MONTH_ROOM = 60
"""Samples of a month that are kept in each bin of speed ratio."""
# Change of speed ratio from one stretch to the next that makes another episode of it.
_MOVED = 0.01
# A lock-up clutch whose signal is above this share of closed is not open.
_OPEN = 0.02


@dataclass(frozen=True, eq=False)
class LogSoFar:
    """What has been seen of a log.

    Parameters
    ----------
    reservoir : Reservoir
        Of all of it.
    months : mapping of str to Reservoir
        Of the parts by month, such as ``2031-05``.
    counts : Counter
        Stretches, and how many were left out why.
    columns : frozenset of str
        That were there.
    episode : int
        Number of the last stretch of steady driving.
    load : LoadSeen or None
        Shares of the engine's full load, where that is known.
    """

    reservoir: Reservoir = field(default_factory=Reservoir)
    months: Mapping[str, Reservoir] = field(default_factory=dict)
    counts: Counter[str] = field(default_factory=Counter)
    columns: frozenset[str] = frozenset()
    episode: int = 0
    load: LoadSeen | None = None

    def plus(
        self,
        pieces: Iterable[Mapping[str, FloatArray]],
        known: LogBasis,
        *,
        step: float | None = None,
        month: str | None = None,
    ) -> LogSoFar:
        """Return it with a log, or a part of one, added.

        Parameters
        ----------
        pieces : iterable of dict
            As `identify` takes them.
        known : LogBasis
        step : float, optional
            Usual step in time [s]; that of the first piece if not given.
        month : str, optional
            In which all of it lies, where the months are wanted one by one.

        Raises
        ------
        InputError
            If it has other columns than what came before.
        """
        supply = (
            None
            if known.engine is None
            else engine_supply(known.engine, hydraulic_torque=known.hydraulic_torque)
        )
        load = self.load
        if load is None and known.engine is not None:
            load = LoadSeen(known.engine)
        reservoir, counts, episode = self.reservoir, Counter(self.counts), self.episode
        of_month = None if month is None else self.months.get(month, Reservoir(room=MONTH_ROOM))
        last_index, last_ratio = -10, -10.0
        columns: set[str] = set(self.columns)
        for block in _whole_stretches(pieces, known.steadiness.length):
            if self.columns and set(block) != self.columns:
                raise InputError(
                    "has other columns than what came before",
                    found=", ".join(sorted(block)),
                    expected=", ".join(sorted(self.columns)),
                )
            columns |= set(block)
            if step is None:
                step = float(np.median(np.diff(block["time"]))) if block["time"].size > 1 else 0.1
            cut = stretches(block, known.steadiness.length)
            steady = calm(cut, known.steadiness, step) & one_gear(cut)
            counts += Counter(stretches=steady.size, steady=int(steady.sum()))
            # An episode ends where a stretch is not steady or the speed ratio has moved on; its
            # number goes on over the pieces.
            at = np.flatnonzero(steady)
            if not at.size:
                continue
            index = cut.index[at]
            ratio = cut.mean["turbine speed"][at] / cut.mean["engine speed"][at]
            moved = np.abs(np.diff(ratio, prepend=last_ratio)) > _MOVED
            breaks = (np.diff(index, prepend=last_index) != 1) | moved
            last_ratio = float(ratio[-1])
            number = episode + np.cumsum(breaks)
            episode, last_index = int(number[-1]), int(index[-1])
            if load is not None:
                load = load.plus(cut.mean["engine speed"][at], cut.mean["engine torque"][at])
            samples, left_out = _samples(cut, at, known, supply)
            counts += left_out
            samples["episode"] = number.astype(float)
            use = samples.pop("use").astype(bool)
            chosen = {name: values[use] for name, values in samples.items()}
            reservoir = reservoir.plus(chosen)
            of_month = None if of_month is None else of_month.plus(chosen)
        months = (
            self.months if month is None or of_month is None else {**self.months, month: of_month}
        )
        return replace(self, reservoir=reservoir, months=months, counts=counts,
                       columns=frozenset(columns), episode=episode, load=load)  # fmt: skip


def _whole_stretches(
    pieces: Iterable[Mapping[str, FloatArray]], length: float
) -> Iterator[dict[str, FloatArray]]:
    """Move the rows of the last, unfinished stretches of each piece to the next one.

    One finished stretch goes along, because the one after it is judged by it.
    """
    rest: dict[str, FloatArray] = {}
    for piece in pieces:
        joined = {
            name: np.concatenate([rest[name], values]) if rest else np.asarray(values)
            for name, values in piece.items()
        }
        if not joined["time"].size:
            continue
        number = np.floor(joined["time"] / length)
        cut = int(np.searchsorted(number, number[-1]))
        keep_from = int(np.searchsorted(number, number[max(cut - 1, 0)]))
        if cut > 0:
            yield {name: values[:cut] for name, values in joined.items()}
        rest = {name: values[keep_from:] for name, values in joined.items()}
        if cut == 0:
            rest = joined
    if rest:
        yield rest


def _samples(
    cut: Stretches,
    at: NDArray[np.intp],
    known: LogBasis,
    supply: TorqueSupply | None,
) -> tuple[dict[str, FloatArray], Counter[str]]:
    """Return the samples at some stretches, with what to `use`, and how many are left out why."""
    mean = {name: values[at] for name, values in cut.mean.items()}
    slope = {name: values[at] for name, values in cut.slope.items()}
    engine, turbine, torque = mean["engine speed"], mean["turbine speed"], mean["engine torque"]
    for taken in ("friction torque", "pump torque"):
        torque = torque - mean.get(taken, np.zeros_like(torque))
    ok = np.ones(at.size, dtype=bool)
    if supply is not None:
        low, high = supply.domain
        ok = (engine >= low) & (engine <= high)
        torque = torque - supply.load_torque(np.clip(engine, low, high))
    if known.inertia is not None:
        torque = torque - known.inertia * slope["engine speed"]
    nu = turbine / engine
    locked = np.abs(nu - 1.0) < 1.0 - LOCKED
    if "lock-up" in mean:
        locked = locked | (mean["lock-up"] > _OPEN)
    if "gear" in mean:
        ok = ok & (mean["gear"] != 0.0)  # in neutral nothing is steady but by chance
    oil = mean.get("oil temperature", np.full(at.size, np.nan))
    cold = oil < COLDEST
    driven = torque <= 0
    left_out = Counter(
        outside=int((~ok).sum()),
        locked=int(locked.sum()),
        cold=int(cold.sum()),
        driven=int((driven & ~locked).sum()),
    )
    capacity = torque / engine**2
    warm = np.where(np.isfinite(oil), oil, REFERENCE_OIL)
    capacity = capacity / density_factor(warm)
    with np.errstate(divide="ignore", invalid="ignore"):
        mu = _turbine_torque(mean, slope, known) / torque
    samples = {
        "nu": nu,
        "capacity": capacity,
        "torque_ratio": mu,
        "oil": oil,
        "use": ok & ~locked & ~cold & ~driven,
    }
    return samples, left_out


def _turbine_torque(
    mean: Mapping[str, FloatArray], slope: Mapping[str, FloatArray], known: LogBasis
) -> FloatArray:
    """From its column; else from grade and mass, ``(F r / (i eta)) + drag``; else not known."""
    if "turbine torque" in mean:
        return mean["turbine torque"]
    speed = mean["turbine speed"]
    torque = np.full(speed.shape, np.nan)
    if "grade" not in mean or known.machine is None or known.driveline is None:
        return torque
    for gear, rows in gears_of(mean, known.driveline, known.gear):
        own, change = (
            {name: values[rows] for name, values in part.items()} for part in (mean, slope)
        )
        torque[rows] = _in_gear(own, change, known, known.machine, known.driveline, gear)
    return torque


def _in_gear(
    mean: Mapping[str, FloatArray],
    slope: Mapping[str, FloatArray],
    known: LogBasis,
    machine: Machine,
    driveline: Driveline,
    gear: Gear,
) -> FloatArray:
    speed = mean["turbine speed"]
    ratio, efficiency = driveline.overall_ratio(gear), driveline.efficiency(gear)
    radius, mass = machine.rolling_radius, machine.mass("laden" if known.laden else "empty")
    load = RoadLoad(
        mass=mass,
        rolling_resistance=known.rolling_resistance,
        drag_area=machine.drag_area,
        air_density=SEA_LEVEL_DENSITY,
        running_drag=machine.running_drag,
    )
    road = speed * radius / ratio
    resistance = load.resistance(mean["grade"], road)
    push = mass * slope["turbine speed"] * radius / ratio
    torque = (resistance + push) * radius / (ratio * efficiency) + gear.drag_torque(speed)
    # Standing, the ground holds back whatever the turbine gives.
    return np.where(road > 0.1, torque, np.nan)
