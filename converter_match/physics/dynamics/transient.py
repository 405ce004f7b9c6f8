"""What comes out of a simulation in time: speeds, torques, energies, and what happened when."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np

from converter_match.curves import FloatArray, frozen_array
from converter_match.notes import Note
from converter_match.physics.dynamics.drive_train import DriveTrain


@dataclass(frozen=True)
class Happening:
    """Something that changed how the parts hang together.

    Parameters
    ----------
    time : float
        [s].
    code : str
        ``impeller-clutch-sticks``, ``impeller-clutch-slips``, ``lock-up-sticks``,
        ``lock-up-slips``, ``turbine-stops``, ``turbine-starts``.
    """

    time: float
    code: str


@dataclass(frozen=True)
class EnergyAccount:
    """Where the engine's work went between start and end [J].

    Parameters
    ----------
    engine_work : float
        Net of what the engine's accessories take.
    load_work : float
    converter_heat, impeller_clutch_heat, lock_up_heat : float
    kinetic_change : float
        Of all three inertias.
    """

    engine_work: float
    load_work: float
    converter_heat: float
    impeller_clutch_heat: float
    lock_up_heat: float
    kinetic_change: float

    @property
    def missing(self) -> float:
        """Engine work less all it went into [J]; zero but for the error of the integration."""
        return self.engine_work - (
            self.load_work
            + self.converter_heat
            + self.impeller_clutch_heat
            + self.lock_up_heat
            + self.kinetic_change
        )


@dataclass(frozen=True, eq=False)
class Transient:
    """A course in time; arrays of shape (n,). At an event a time stands twice: before and after.

    Parameters
    ----------
    train : DriveTrain
    time : ndarray
        [s].
    engine_speed, impeller_speed, turbine_speed : ndarray
        [rad/s].
    engine_torque, impeller_torque, turbine_torque, load_torque : ndarray
        Net engine torque, hydraulic torque at impeller and turbine, torque that resists when the
        turbine turns [N.m].
    impeller_clutch_torque, lock_up_torque : ndarray
        Carried by the clutches [N.m]; where there is no impeller clutch, by the shaft in its place.
    engine_work, load_work, converter_heat, impeller_clutch_heat, lock_up_heat : ndarray
        Since the start [J].
    happenings : tuple of Happening
    stopped : Note or None
        Why the simulation ended before its time, if it did.
    notes : tuple of Note
        Assumptions of the converter data, and `stopped`.
    """

    train: DriveTrain
    time: FloatArray
    engine_speed: FloatArray
    impeller_speed: FloatArray
    turbine_speed: FloatArray
    engine_torque: FloatArray
    impeller_torque: FloatArray
    turbine_torque: FloatArray
    load_torque: FloatArray
    impeller_clutch_torque: FloatArray
    lock_up_torque: FloatArray
    engine_work: FloatArray
    load_work: FloatArray
    converter_heat: FloatArray
    impeller_clutch_heat: FloatArray
    lock_up_heat: FloatArray
    happenings: tuple[Happening, ...]
    stopped: Note | None
    notes: tuple[Note, ...]

    def __post_init__(self) -> None:
        for item in fields(self):
            value = getattr(self, item.name)
            if isinstance(value, np.ndarray):
                object.__setattr__(self, item.name, frozen_array(value))

    @property
    def speed_ratio(self) -> FloatArray:
        """Turbine speed / impeller speed; 0 where both stand."""
        turning = self.impeller_speed > 0
        return np.divide(
            self.turbine_speed,
            self.impeller_speed,
            out=np.zeros_like(self.time),
            where=turning,
        )

    @cached_property
    def kinetic_energy(self) -> FloatArray:
        """Of all three inertias [J]."""
        train = self.train
        return np.asarray(
            0.5 * train.engine_inertia * self.engine_speed**2
            + 0.5 * train.impeller_inertia * self.impeller_speed**2
            + 0.5 * train.output_inertia * self.turbine_speed**2
        )

    @cached_property
    def energy(self) -> EnergyAccount:
        """The account from start to end."""
        return EnergyAccount(
            engine_work=float(self.engine_work[-1]),
            load_work=float(self.load_work[-1]),
            converter_heat=float(self.converter_heat[-1]),
            impeller_clutch_heat=float(self.impeller_clutch_heat[-1]),
            lock_up_heat=float(self.lock_up_heat[-1]),
            kinetic_change=float(self.kinetic_energy[-1] - self.kinetic_energy[0]),
        )

    def first(self, code: str) -> float | None:
        """Return the time at which something happened for the first time [s], or None."""
        times = [happening.time for happening in self.happenings if happening.code == code]
        return times[0] if times else None
