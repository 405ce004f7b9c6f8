"""A motor on a gearbox input: behind a converter, or through a reduction and no converter."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from converter_match.components.converter import Converter
from converter_match.components.driveline import Driveline
from converter_match.components.machine import Machine
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.motor import words
from converter_match.judgement.motor.setup import RATINGS, MotorSetup, Rating
from converter_match.notes import Note
from converter_match.physics.engine.motor import reduced
from converter_match.physics.match.direct import DirectShaft
from converter_match.physics.match.turbine import TurbinePoints, TurbineShaft
from converter_match.physics.wheels.wheels import GearDrive, gear_drives

# Of a stage of helical gears (common practice, no source).
STAGE_EFFICIENCY = 0.98


@dataclass(frozen=True, eq=False)
class MotorDrive:
    """What turns the gearbox input.

    Parameters
    ----------
    setup : MotorSetup
    converter : Converter, optional
        Between motor and gearbox; without, the motor is coupled directly.
    ratio : float
        Of the reduction in the converter's place; 1 for none.
    efficiency : float, optional
        Of that reduction; without, that of one stage, or 1 where there is none.

    Raises
    ------
    InputError
        If ratio or efficiency is out of range, or there is a converter and a reduction as well.
    """

    setup: MotorSetup
    converter: Converter | None = None
    ratio: float = 1.0
    efficiency: float | None = None
    eta: float = field(init=False)

    def __post_init__(self) -> None:
        if not 0.1 <= self.ratio <= 100.0:
            raise InputError(
                "out of range", field="ratio", found=self.ratio, expected="a reduction, 0.1 to 100"
            )
        if self.converter is not None and (self.ratio != 1.0 or self.efficiency is not None):
            raise InputError(
                "a reduction stands in the converter's place, not beside it",
                field="ratio",
                found=self.ratio,
                expected="a converter, or a reduction",
            )
        given = self.efficiency
        if given is not None and not 0.5 <= given <= 1.0:
            raise InputError("out of range", field="efficiency", found=given, expected="0.5 to 1")
        assumed = 1.0 if self.ratio == 1.0 else STAGE_EFFICIENCY
        object.__setattr__(self, "eta", assumed if given is None else given)

    @property
    def direct(self) -> bool:
        """Whether there is no converter."""
        return self.converter is None

    @property
    def title(self) -> str:
        """What stands between motor and gearbox."""
        if self.converter is not None:
            return self.converter.title
        return words.DIRECT if self.ratio == 1.0 else words.REDUCTION.format(ratio=self.ratio)

    @cached_property
    def _shafts(self) -> dict[Rating, TurbineShaft]:
        shafts: dict[Rating, TurbineShaft] = {}
        for rating in RATINGS:
            if self.converter is not None:
                shafts[rating] = TurbineShaft(self.setup.supply(rating), self.converter)
            else:
                supply = self.setup.supply(rating, slowest=0.0)
                shafts[rating] = DirectShaft(reduced(supply, self.ratio, self.eta))
        return shafts

    def shaft(self, rating: Rating) -> TurbineShaft:
        """Return the torque at the gearbox input at one of the motor's torques."""
        return self._shafts[rating]

    def gears(
        self, rating: Rating, driveline: Driveline, machine: Machine
    ) -> tuple[GearDrive, ...]:
        """Return every drive of every gear: forward from the lowest, then reverse.

        Coupled directly there is one a gear, and no lock-up to speak of.
        """
        return gear_drives(self.shaft(rating), driveline, machine)

    def at_motor(self, points: TurbinePoints) -> tuple[FloatArray, FloatArray]:
        """Return speed [rad/s] and torque at the motor's shaft [N.m], accessories included."""
        speed = points.engine_speed * self.ratio
        net = points.input_torque / (self.ratio * self.eta)
        return np.asarray(speed), self.setup.shaft_torque(net, speed)

    @property
    def notes(self) -> tuple[Note, ...]:
        """What is assumed of motor and reduction."""
        own = () if self.converter is None else self.converter.notes
        if self.direct and self.efficiency is None and self.ratio != 1.0:
            own = (words.note("reduction-efficiency", efficiency=self.eta),)
        return (*self.setup.notes, *own)
