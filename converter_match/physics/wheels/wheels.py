"""From the turbine shaft to the ground: tractive effort, speed and losses in a gear.

``F = (T_t - T_drag) i eta / r`` and ``v = omega_t r (1 - slip) / i`` with i the overall ratio and r
the rolling radius. The same radius serves both, so that power is kept: ``F v = P eta`` less drag
and slip.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.components.driveline import Driveline
from converter_match.components.gear import Gear
from converter_match.components.machine import Machine
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.physics.match.turbine import Drive, TurbinePoints, TurbineShaft


@dataclass(frozen=True, eq=False)
class WheelPoints:
    """Points at the wheels in one gear; arrays of one shape.

    Parameters
    ----------
    turbine : TurbinePoints
    wheel_speed : ndarray
        Speed of the tread, before slip [m/s].
    force : ndarray
        Tractive effort at the tread, whatever the ground allows [N]; below zero where drag eats
        more than the turbine gives.
    gearbox_heat : ndarray
        Mesh loss and drag inside the gearbox [W].
    final_heat : ndarray
        Loss behind the gearbox [W].
    """

    turbine: TurbinePoints
    wheel_speed: FloatArray
    force: FloatArray
    gearbox_heat: FloatArray
    final_heat: FloatArray

    @property
    def oil_heat(self) -> FloatArray:
        """Heat into the transmission oil: converter and gearbox [W].

        Axles, hubs and final drives have oil of their own.
        """
        return np.asarray(self.turbine.heat + self.gearbox_heat)

    @property
    def efficiency(self) -> FloatArray:
        """Power at the tread / power into the impeller."""
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = self.force * self.wheel_speed / self.turbine.input_power
        return np.where(self.turbine.input_power > 0.0, ratio, np.nan)

    def road_speed(self, machine: Machine, adhesion: ArrayLike = np.inf) -> FloatArray:
        """Return the speed over ground [m/s] where the ground allows a pull of `adhesion` [N]."""
        limit = np.asarray(adhesion, dtype=np.float64)
        with np.errstate(divide="ignore", invalid="ignore"):
            use = np.where(limit > 0.0, self.force / limit, 1.0)
        # Where there is no match there is no wheel speed either, whatever the slip.
        slip = machine.slip.at(np.where(np.isnan(use), 0.0, use))
        return np.asarray(self.wheel_speed * (1.0 - slip))


def at_wheels(
    points: TurbinePoints, driveline: Driveline, gear: Gear, machine: Machine
) -> WheelPoints:
    """Carry points of the turbine shaft to the wheels in one gear.

    Parameters
    ----------
    points : TurbinePoints
    driveline : Driveline
    gear : Gear
    machine : Machine

    Raises
    ------
    InputError
        If a turbine speed lies beyond the gear's drag table.
    """
    ratio = driveline.overall_ratio(gear)
    radius = machine.rolling_radius
    speed = np.where(np.isfinite(points.turbine_speed), points.turbine_speed, 0.0)
    try:
        drag = gear.drag_torque(speed)
    except InputError as error:
        raise error.located(source=f"{driveline.id}: gear {gear.name!r}") from None
    left = np.asarray(points.turbine_torque - drag)
    # Losses are paid by whoever drives: with the wheels driving they need more than they give.
    meshes = np.where(left >= 0.0, gear.efficiency, 1.0 / gear.efficiency)
    stages = np.where(left >= 0.0, driveline.stage_efficiency, 1.0 / driveline.stage_efficiency)
    power = left * points.turbine_speed
    return WheelPoints(
        turbine=points,
        wheel_speed=np.asarray(points.turbine_speed * radius / ratio),
        force=np.asarray(left * meshes * stages * ratio / radius),
        gearbox_heat=np.asarray(drag * points.turbine_speed + power * (1.0 - meshes)),
        final_heat=np.asarray(power * meshes * (1.0 - stages)),
    )


def force_at_rest(
    turbine_torque: float, driveline: Driveline, gear: Gear, machine: Machine
) -> float:
    """Return the tractive effort with the wheels held [N], whatever the ground allows.

    Parameters
    ----------
    turbine_torque : float
        [N.m]; what the gearbox's drag leaves of it is at least zero.
    driveline : Driveline
    gear : Gear
    machine : Machine
    """
    left = max(turbine_torque - float(gear.drag_torque(np.asarray(0.0))), 0.0)
    ratio = driveline.overall_ratio(gear) / machine.rolling_radius
    return left * gear.efficiency * driveline.stage_efficiency * ratio


@dataclass(frozen=True, eq=False)
class GearDrive:
    """One gear in converter or in lock-up drive at full load.

    Parameters
    ----------
    shaft : TurbineShaft
    driveline : Driveline
    gear : Gear
    machine : Machine
    drive : {"converter", "lock-up"}
    engages, releases : float or ndarray
        Turbine speeds between which a lock-up clutch changes [rad/s]; in converter drive the
        speed above which it does not stay open. Infinite where the gear has no lock-up; those of
        many draws broadcast with the points.
    """

    shaft: TurbineShaft
    driveline: Driveline
    gear: Gear
    machine: Machine
    drive: Drive
    engages: float | FloatArray = float("inf")
    releases: float | FloatArray = float("inf")

    def at(self, parameter: ArrayLike, near: ArrayLike | None = None) -> WheelPoints:
        """Return points at speed ratios, or at engine speeds [rad/s] locked up (any shape).

        Engine speeds `near` which the matches lie make it faster for many draws.
        """
        points = self.shaft.at(self.drive, parameter, near)
        return at_wheels(points, self.driveline, self.gear, self.machine)

    def at_turbine_speed(self, turbine_speed: ArrayLike) -> WheelPoints:
        """Return points at turbine speeds [rad/s] (any shape), as a machine comes up to them."""
        points = self.shaft.at_turbine_speed(self.drive, turbine_speed)
        return at_wheels(points, self.driveline, self.gear, self.machine)

    def of_turbine(self, points: TurbinePoints) -> WheelPoints:
        """Return points of the turbine shaft at the wheels."""
        return at_wheels(points, self.driveline, self.gear, self.machine)

    def curve(self) -> WheelPoints:
        """Return the whole curve, wheel speed rising strictly."""
        return self._curve

    @cached_property
    def jumps_before(self) -> NDArray[np.bool_]:
        """Whether the engine jumps between a point of the curve and the one before it."""
        if self.drive == "converter":
            return self.shaft.jumps_before
        return np.zeros(self.curve().wheel_speed.shape, dtype=bool)

    @cached_property
    def one_to_one(self) -> bool:
        """Whether the parameter of a point tells all of it (see `TurbineShaft.one_to_one`)."""
        return self.drive == "lock-up" or self.shaft.one_to_one

    @cached_property
    def _curve(self) -> WheelPoints:
        points = self.shaft.curve(self.drive)
        return at_wheels(points, self.driveline, self.gear, self.machine)

    def active(self, turbine_speed: ArrayLike) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
        """Return where this drive is the one that the lock-up rule leaves in force."""
        speed = np.asarray(turbine_speed, dtype=np.float64)
        if self.drive == "converter":
            return np.asarray(speed <= self.engages)
        return np.asarray(speed >= self.releases)


def gear_drives(
    shaft: TurbineShaft, driveline: Driveline, machine: Machine
) -> tuple[GearDrive, ...]:
    """Return every drive of every gear: forward from the lowest, then reverse.

    Parameters
    ----------
    shaft : TurbineShaft
    driveline : Driveline
    machine : Machine
    """
    drives = []
    for gear in (*driveline.forward, *driveline.reverse):
        for drive, engages, releases in shaft.drives(gear.lock_up):
            drives.append(GearDrive(shaft, driveline, gear, machine, drive, engages, releases))
    return tuple(drives)
