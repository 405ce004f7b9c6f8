"""What torque goes into a run from rest: at the converter's impeller, or at the gearbox input."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from converter_match.curves import FloatArray
from converter_match.physics.match.direct import DirectShaft

if TYPE_CHECKING:
    from converter_match.physics.wheels.drive_chain import DriveChain
    from converter_match.physics.wheels.road_load import RoadLoad
    from converter_match.physics.wheels.rotating import Inertias
    from converter_match.physics.wheels.run_rows import Acceleration


def input_torque(
    run: Acceleration, chain: DriveChain, inertias: Inertias, load: RoadLoad, grade: float
) -> FloatArray:
    """Return the torque that the prime mover gives along a run [N.m], shape (n,).

    Parameters
    ----------
    run : Acceleration
    chain, inertias, load
        As the run was made with.
    grade : float
        Rise / run.

    Notes
    -----
    Through an open converter ``T = C(nu) omega^2``. In lock-up, and coupled directly, it is the
    whole torque at the speed; where the grip of the ground cuts the effort, what the road, the mass
    and everything that turns with it take, from the run's own acceleration. Zero in a shift.
    """
    shaft = chain.drives[0].shaft
    driven = run.state >= 0
    torque = np.zeros(run.time.shape)
    locked = driven & chain.locked[run.state]
    open_ = driven & ~locked & (run.engine_speed > 0.0)
    if open_.any() and not isinstance(shaft, DirectShaft):
        converter, speed = shaft.converter, run.engine_speed[open_]
        ratio = np.clip(run.turbine_speed[open_] / speed, 0.0, min(converter.domain[1], 1.0))
        torque[open_] = np.asarray(converter.capacity_at(ratio)) * speed**2
    low, high = shaft.supply.domain
    for state in np.unique(run.state[locked]):
        at = np.flatnonzero(locked & (run.state == state))
        turning = np.clip(run.turbine_speed[at], low, high)
        full = np.asarray(shaft.supply.torque(turning))
        torque[at] = full
        if run.grip_limited and at.size > 2:
            drive, rate = chain.drives[state], _rate(run.time[at], run.speed[at])
            gear, line, machine = drive.gear, drive.driveline, drive.machine
            turns = float(chain.ratio_over_radius[state])
            gain = line.efficiency(gear) * turns
            need = np.asarray(load.resistance(grade, run.speed[at]))
            mass = float(load.mass) + inertias.in_gear(line, gear, machine)
            wanted = (need + mass * rate) / gain + np.asarray(gear.drag_torque(turning))
            torque[at] = np.clip(wanted + inertias.engine * turns * rate, 0.0, full)
    return torque


def _rate(time: FloatArray, speed: FloatArray) -> FloatArray:
    """Return dv/dt [m/s^2] along one stretch; times that repeat have the rate beside them."""
    step = np.maximum(np.diff(time), 1e-12)
    between = np.diff(speed) / step
    return np.asarray(np.append(between, between[-1]))
