"""A full-throttle run from rest as rows: what is gathered on the way, and what is read from it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from converter_match.curves import FloatArray
from converter_match.physics.wheels.drive_chain import DriveChain
from converter_match.physics.wheels.eased import eased

Ending = Literal["reached", "balance", "no-start", "end-of-gears", "end-of-data"]


@dataclass(frozen=True, eq=False)
class Acceleration:
    """A run from rest; arrays of shape (n,).

    Parameters
    ----------
    time, speed, distance : ndarray
        [s], [m/s] over ground, [m].
    engine_speed, turbine_speed : ndarray
        [rad/s].
    heat : ndarray
        In the converter [W]; where the grip cuts the effort that of the torque that is passed, at
        the engine speed that passes it. Zero in lock-up and while a shift interrupts the drive.
    state : ndarray of int
        Index into the chain; -1 while a shift interrupts the drive.
    ending : str
        ``reached``; ``balance``: effort and resistance meet below the speed asked for;
        ``no-start``: the machine does not move; ``end-of-gears``: the last gear ends below it;
        ``end-of-data``: the converter's data end, with effort left, before an upshift.
    grip_limited : bool
        Whether the grip cuts the effort anywhere on the way.
    """

    time: FloatArray
    speed: FloatArray
    distance: FloatArray
    engine_speed: FloatArray
    turbine_speed: FloatArray
    heat: FloatArray
    state: np.ndarray[tuple[int], np.dtype[np.intp]]
    ending: Ending
    grip_limited: bool = False

    def time_to(self, speed: float) -> float | None:
        """Return the time to a speed [s]; None where it is not reached."""
        return self._first(speed, self.time)

    def distance_to(self, speed: float) -> float | None:
        """Return the distance to a speed [m]; None where it is not reached."""
        return self._first(speed, self.distance)

    def _first(self, speed: float, values: FloatArray) -> float | None:
        above = np.flatnonzero(self.speed >= speed * (1 - 1e-12))
        if not above.size:
            return None
        k = int(above[0])
        if k == 0:
            return float(values[0])
        span = self.speed[k] - self.speed[k - 1]
        share = (speed - self.speed[k - 1]) / span if span > 0 else 1.0
        return float(values[k - 1] + min(share, 1.0) * (values[k] - values[k - 1]))


class RunRows:
    """Rows gathered on the way of a run.

    Parameters
    ----------
    chain : DriveChain
    """

    def __init__(self, chain: DriveChain) -> None:
        self.chain = chain
        self.rows: list[tuple[float, float, float, float, float, float, int]] = []

    def add(
        self,
        time: FloatArray,
        speed: FloatArray,
        way: FloatArray,
        engine: FloatArray,
        turbine: FloatArray,
        passed: FloatArray,
        state: int,
    ) -> None:
        """Add rows; `passed` is the turbine torque where the grip sets it [N.m], else NaN."""
        rows = zip(time, speed, way, engine, turbine, passed, strict=True)
        self.rows += [(*(float(value) for value in row), state) for row in rows]  # type: ignore[misc]

    def add_one(
        self, time: float, speed: float, way: float, engine: float, turbine: float, state: int
    ) -> None:
        """Add a row at full throttle, or without drive."""
        self.rows.append((time, speed, way, engine, turbine, math.nan, state))

    def done(self, ending: Ending, grip_limited: bool) -> Acceleration:
        """Return the run with its heat, and the engine where the throttle is eased."""
        time, speed, way, engine, turbine, passed, column = np.array(self.rows).T
        state = column.astype(np.intp)
        heat = self._heat(engine, turbine, state)
        cut = np.flatnonzero(np.isfinite(passed) & (state >= 0) & ~self.chain.locked[state])
        if cut.size:
            converter = self.chain.drives[0].shaft.converter
            engine[cut], heat[cut] = eased(converter, turbine[cut], passed[cut])
        return Acceleration(time, speed, way, engine, turbine, heat, state, ending, grip_limited)

    def _heat(
        self,
        engine: FloatArray,
        turbine: FloatArray,
        state: np.ndarray[tuple[int], np.dtype[np.intp]],
    ) -> FloatArray:
        """Return C omega_e^2 (omega_e - mu omega_t), what goes in less what comes out [W]."""
        heat = np.zeros(engine.shape)
        open_ = (state >= 0) & ~self.chain.locked[state] & np.isfinite(engine) & (engine > 0.0)
        if not open_.any():  # coupled directly there is no converter
            return heat
        converter = self.chain.drives[0].shaft.converter
        w_e, w_t = engine[open_], turbine[open_]
        nu = np.clip(w_t / w_e, 0.0, min(converter.domain[1], 1.0))
        impeller = np.asarray(converter.capacity_at(nu)) * w_e**2
        heat[open_] = impeller * (w_e - np.asarray(converter.torque_ratio_at(nu)) * w_t)
        return heat
