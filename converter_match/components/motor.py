"""An electric motor: torque from standstill, for a time and for good, its losses and its heat. SI.

Two torques over speed. The *continuous* one is the duty type S1 of IEC 60034-1: held until the
winding has come to its steady temperature. The *peak* is held for a stated time only: from cold,
which is the duty type S2, or from the steady temperature of the continuous torque. (Definitions of
the standard from memory, in own words.)

There is no idle speed, no governor and no intake air: what is said of an engine by these does not
apply.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np

from converter_match.components.base import (
    Component,
    freeze_tuples,
    in_rpm,
    require_choice,
    require_positive,
)
from converter_match.components.engine import Accessory
from converter_match.components.motor_losses import EfficiencyMap, LossModel
from converter_match.components.winding import Winding
from converter_match.curves import FloatArray, check_points, frozen_array
from converter_match.errors import InputError
from converter_match.notes import Note, assumption

PeakFrom = Literal["cold", "warm"]
Covers = Literal["motor", "motor and controller"]
# A row belongs to the constant-torque stretch if its torque is this close to the highest.
_AS_HIGH = 0.995


@dataclass(frozen=True, kw_only=True)
class Supply:
    """Voltage of the supply at the controller [V].

    Parameters
    ----------
    nominal : float
        At which the torques hold.
    least, most : float, optional
        Between which the motor may be run.
    """

    nominal: float
    least: float | None = None
    most: float | None = None

    def __post_init__(self) -> None:
        for name in ("nominal", "least", "most"):
            require_positive(getattr(self, name), f"voltage.{name}", "a voltage above zero")
        if self.least is not None and self.least > self.nominal:
            raise InputError(
                "above the nominal voltage",
                field="voltage.least",
                found=self.least,
                expected=f"at most the nominal {self.nominal:g} V",
            )
        if self.most is not None and self.most < self.nominal:
            raise InputError(
                "below the nominal voltage",
                field="voltage.most",
                found=self.most,
                expected=f"at least the nominal {self.nominal:g} V",
            )


@dataclass(frozen=True, kw_only=True, eq=False)
class Motor(Component):
    """An electric motor with its controller, frozen and validated.

    Parameters
    ----------
    id, name, source : str
        Identity and where the numbers come from.
    speed : array_like, shape (n,)
        Rows [rad/s]; the first is standstill.
    peak, continuous : array_like, shape (n,)
        Torque at the shaft at the nominal voltage [N.m].
    regenerative : array_like, shape (n,), optional
        Greatest braking torque as a generator [N.m], zero or below.
    speed_limit : float
        Where the controller takes the torque away [rad/s].
    peak_time : float
        How long the peak torque is held [s].
    peak_from : {"cold", "warm"}
        From the temperature of the coolant (duty type S2), or from that of the continuous torque.
    voltage : Supply, optional
    losses : LossModel or EfficiencyMap, optional
        Without, nothing is known of electric power.
    covers : {"motor", "motor and controller"}
        What the losses are of.
    winding : Winding
        Thermal class and temperatures.
    inertia : float, optional
        Of the rotor [kg.m^2].
    accessories : tuple of Accessory
        What the shaft drives beside the converter; always deducted.
    interface : tuple of (str, str)
    given_notes : tuple of Note

    Raises
    ------
    InputError
        Naming the field: no row at standstill, a continuous torque above the peak, a regenerative
        torque that does not brake, a speed limit beyond the rows, voltages out of order.
    """

    id: str
    name: str
    source: str
    speed: FloatArray
    peak: FloatArray
    continuous: FloatArray
    regenerative: FloatArray | None = None
    speed_limit: float
    peak_time: float
    peak_from: PeakFrom = "cold"
    voltage: Supply | None = None
    losses: LossModel | EfficiencyMap | None = None
    covers: Covers = "motor"
    winding: Winding = field(default_factory=Winding)
    inertia: float | None = None
    accessories: tuple[Accessory, ...] = ()
    interface: tuple[tuple[str, str], ...] = ()
    given_notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        require_choice(self.peak_from, "duty.peak_from", ("cold", "warm"))
        require_choice(self.covers, "losses.covers", ("motor", "motor and controller"))
        require_positive(self.speed_limit, "speed_limit")
        require_positive(self.peak_time, "duty.peak_time", "a time above zero")
        require_positive(self.inertia, "inertia")
        freeze_tuples(self, "accessories", "interface", "given_notes")
        object.__setattr__(self, "speed", frozen_array(self.speed, "torque.speed"))
        for name in ("peak", "continuous", "regenerative"):
            if getattr(self, name) is None:
                continue
            rows = frozen_array(getattr(self, name), f"torque.{name}")
            object.__setattr__(self, name, rows)
            check_points(self.speed, rows, name=f"torque.{name}", x_name="torque.speed")
        self._check_rows()
        if self.peak_from == "warm" and not self.winding.headroom > 1.0:
            raise InputError(
                "a peak from the continuous temperature needs a winding that has room above it",
                field="duty.peak_from",
                found="warm",
                expected="thermal.rise_at_continuous below the rise that the class permits, or "
                "peak_from = 'cold'",
            )

    def _check_rows(self) -> None:
        if self.speed[0] != 0.0:
            raise InputError(
                "the rows do not begin at standstill",
                field="torque.speed[0]",
                found=float(self.speed[0]),
                expected="0: a motor has its torque at rest, and nothing is extrapolated to there",
            )
        for name in ("peak", "continuous"):
            for row in np.flatnonzero(getattr(self, name) < 0.0):
                raise InputError(
                    "below zero",
                    field=f"torque.{name}[{row}]",
                    found=float(getattr(self, name)[row]),
                    expected="zero or more; braking is regenerative",
                )
        for row in np.flatnonzero(self.continuous > self.peak * (1.0 + 1e-9)):
            raise InputError(
                "above the peak torque of the same row",
                field=f"torque.continuous[{row}]",
                found=float(self.continuous[row]),
                expected=f"at most {self.peak[row]:g} N.m",
            )
        for name in ("peak", "continuous"):
            if not getattr(self, name)[0] > 0.0:
                raise InputError(
                    "no torque at standstill",
                    field=f"torque.{name}[0]",
                    found=float(getattr(self, name)[0]),
                    expected="a torque above zero",
                )
        if self.regenerative is not None:
            for row in np.flatnonzero(self.regenerative > 0.0):
                raise InputError(
                    "a regenerative torque brakes, so it is below zero",
                    field=f"torque.regenerative[{row}]",
                    found=float(self.regenerative[row]),
                    expected="zero or less",
                )
        if self.speed_limit > self.speed[-1] * (1.0 + 1e-9):
            raise InputError(
                "beyond the last row, where the torque is not known and nothing is extrapolated",
                field="speed_limit",
                found=self.speed_limit,
                expected=f"at most {in_rpm(float(self.speed[-1]))}, or a row at the limit",
            )
        if not np.any(self.continuous > 0.0):
            raise InputError("the torque is zero everywhere", field="torque.continuous")

    def corner_of(self, torque: FloatArray) -> int:
        """Return the row at which a torque begins to fall: the end of its constant stretch.

        Parameters
        ----------
        torque : ndarray, shape (n,)
            `peak` or `continuous`.
        """
        high = np.flatnonzero(torque >= _AS_HIGH * float(torque.max()))
        return int(high[-1])

    @cached_property
    def base_speed(self) -> float:
        """Where the peak torque begins to fall [rad/s]: above it the field is weakened."""
        return float(self.speed[self.corner_of(self.peak)])

    @cached_property
    def overload(self) -> float:
        """(peak / continuous torque)^2 where the peak torque begins to fall."""
        row = self.corner_of(self.peak)
        if not self.continuous[row] > 0.0:
            return math.inf
        return float((self.peak[row] / self.continuous[row]) ** 2)

    @cached_property
    def rated_power(self) -> float:
        """Greatest power of the continuous torque at its rows, up to the speed limit [W]."""
        within = self.speed <= self.speed_limit * (1.0 + 1e-9)
        return float((self.speed * self.continuous)[within].max())

    @cached_property
    def peak_power(self) -> float:
        """Greatest power of the peak torque at its rows, up to the speed limit [W]."""
        within = self.speed <= self.speed_limit * (1.0 + 1e-9)
        return float((self.speed * self.peak)[within].max())

    @cached_property
    def notes(self) -> tuple[Note, ...]:
        """Every assumption that belongs to this motor."""
        notes = [*self.given_notes, *self.winding.notes]
        if self.losses is None:
            notes.append(
                Note(
                    "motor-losses-not-given",
                    "Neither losses nor an efficiency map of the motor are given: nothing is said "
                    "of electric power and energy.",
                )
            )
        elif self.covers == "motor":
            notes.append(
                Note(
                    "controller-losses-left-out",
                    "The losses are those of the motor alone: what its controller loses comes on "
                    "top of the electric power stated.",
                )
            )
        if isinstance(self.losses, EfficiencyMap):
            notes.append(
                assumption(
                    "efficiency-map-edges",
                    "Between the points of the efficiency map the loss is taken along straight "
                    "lines; below, above and beyond them, at standstill as well, that of the edge.",
                )
            )
        if self.losses is not None and self.regenerative is not None:
            notes.append(
                assumption(
                    "generator-losses-as-motor",
                    "As a generator the motor is taken to lose what it loses as a motor at the "
                    "same torque and speed.",
                )
            )
        if self.regenerative is None:
            notes.append(
                assumption(
                    "no-regeneration",
                    "No regenerative torque is given: the motor is taken not to brake.",
                )
            )
        if self.voltage is None:
            notes.append(
                assumption(
                    "voltage-not-given",
                    "No voltage is given: the torques are taken to hold whatever the state of the "
                    "battery.",
                )
            )
        return tuple(notes)
