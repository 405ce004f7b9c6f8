"""From the torque asked of the gearbox input back to an electric motor, driving or regenerating.

Behind a converter, driving: ``T_t = mu C omega^2`` as for an engine, but a motor has no idle to
keep: it slows to nothing with the turbine. Retarding: beyond speed ratio 1 the converter hands
back ``T = -C(nu) omega^2`` with torque ratio 1, so

    omega_t / sqrt(-T) = nu / sqrt(-C(nu)),

which falls with nu: one look-up gives nu, the motor's speed ``omega_t / nu`` and what is lost in
the oil, ``T (omega_t - omega)``. The most that can be asked is the least of what the motor brakes
with and what the converter transmits as far as its data go.

Coupled directly, the shafts are one but for the reduction.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.notes import Note, assumption
from converter_match.physics.arrangement.overrun import with_overrun
from converter_match.physics.arrangement.overrun_shapes import MIDDLE
from converter_match.physics.arrangement.shaft_demand import Shafts

_ROWS = 1201
_SPEEDS = 241
_OVERRUN_ROWS = 401


@dataclass(frozen=True, eq=False)
class Regeneration:
    """Greatest braking torque of a motor over its speed, after what it drives beside.

    Parameters
    ----------
    speed : ndarray, shape (n,)
        Of the motor, from 0 [rad/s].
    torque : ndarray, shape (n,)
        [N.m], zero or below; what accessories take helps to brake.
    """

    speed: FloatArray
    torque: FloatArray

    def at(self, speed: ArrayLike) -> FloatArray:
        """Return the torque at motor speeds [rad/s]; zero beyond the rows."""
        return np.asarray(np.interp(np.asarray(speed, float), self.speed, self.torque, right=0.0))


@dataclass(frozen=True, eq=False)
class DirectDemand:
    """A motor coupled to the gearbox input through a reduction.

    Parameters
    ----------
    regeneration : Regeneration
    ratio, efficiency : float
        Of the reduction; with the gearbox driving the motor the loss is paid by the gearbox.
    notes : tuple of Note
    """

    regeneration: Regeneration
    ratio: float
    efficiency: float
    notes: tuple[Note, ...] = ()

    @property
    def idle(self) -> float:
        """Speed at standstill [rad/s]: none."""
        return 0.0

    def least_torque(self, turbine_speed: FloatArray, locked: NDArray[np.bool_]) -> FloatArray:
        """Return the greatest retarding torque at the gearbox input [N.m], zero or below."""
        speed = np.asarray(turbine_speed, dtype=np.float64)
        torque = self.regeneration.at(speed * self.ratio)
        return np.asarray(torque * self.ratio / self.efficiency)

    def at(
        self, turbine_speed: FloatArray, torque: FloatArray, locked: NDArray[np.bool_]
    ) -> Shafts:
        """Return the shafts at gearbox input speeds [rad/s] and torques [N.m] asked for."""
        given = np.maximum(torque, self.least_torque(turbine_speed, locked))
        return Shafts(turbine_speed, given, given, np.zeros(np.shape(given)))


@dataclass(frozen=True, eq=False)
class MotorDemand:
    """A motor behind a converter; lock-up states couple it as it is.

    Parameters
    ----------
    converter : Converter
    regeneration : Regeneration
    scaled_speed, speed_ratio : ndarray
        ``nu / sqrt(mu C)`` and nu, driving.
    overrun_scaled, overrun_ratio : ndarray
        ``nu / sqrt(-C)``, rising, and nu, retarding; empty where there are no data.
    brake_speed, brake_torque : ndarray
        Greatest retarding in the open converter over turbine speed [rad/s], [N.m]; empty likewise.
    notes : tuple of Note
    """

    converter: Converter
    regeneration: Regeneration
    scaled_speed: FloatArray
    speed_ratio: FloatArray
    overrun_scaled: FloatArray
    overrun_ratio: FloatArray
    brake_speed: FloatArray
    brake_torque: FloatArray
    notes: tuple[Note, ...] = ()

    @classmethod
    def of(
        cls, converter: Converter, regeneration: Regeneration, *, shape: str = MIDDLE
    ) -> MotorDemand:
        """Tabulate; what is missing for retarding is noted and counts as none.

        Parameters
        ----------
        converter : Converter
        regeneration : Regeneration
        shape : str
            Of the published overrun tables, where the converter's data end at speed ratio 1.
        """
        nu = np.linspace(0.0, min(converter.domain[1], 1.0), _ROWS)
        product = converter.torque_ratio_at(nu) * converter.capacity_at(nu)
        with np.errstate(divide="ignore", invalid="ignore"):
            scaled = np.where(product > 0.0, nu / np.sqrt(np.maximum(product, 1e-300)), np.inf)
        keep = np.isfinite(scaled) & (scaled > np.maximum.accumulate(np.append(-1.0, scaled[:-1])))
        empty = np.empty(0)
        rows, notes = (empty, empty, empty, empty), []
        try:
            extended = with_overrun(converter, assume=True, shape=shape)
            notes = [note for note in extended.notes if note.code == "overrun-assumed"]
            rows = _overrun(extended, regeneration)
        except InputError as error:
            notes = [
                assumption(
                    "no-overrun-braking",
                    "Braking through the open converter counts as none: " + error.problem + ".",
                )
            ]
        return cls(converter, regeneration, scaled[keep], nu[keep], *rows, notes=tuple(notes))

    @property
    def idle(self) -> float:
        """Speed at standstill [rad/s]: none."""
        return 0.0

    def least_torque(self, turbine_speed: FloatArray, locked: NDArray[np.bool_]) -> FloatArray:
        """Return the greatest retarding torque at the turbine [N.m], zero or below; broadcast."""
        speed = np.asarray(turbine_speed, dtype=np.float64)
        held = self.regeneration.at(speed)
        if not self.brake_speed.size:
            return np.where(locked, held, 0.0)
        open_torque = np.interp(speed, self.brake_speed, self.brake_torque)
        return np.where(locked, held, open_torque)

    def at(
        self, turbine_speed: FloatArray, torque: FloatArray, locked: NDArray[np.bool_]
    ) -> Shafts:
        """Return the motor at turbine speeds [rad/s] and torques [N.m] asked for; one shape."""
        speed = turbine_speed
        given = np.maximum(torque, self.least_torque(speed, locked))
        pulls = given > 0.0
        pull = np.where(pulls, given, 1.0)
        nu = np.interp(speed / np.sqrt(pull), self.scaled_speed, self.speed_ratio)
        mu, capacity = (np.asarray(f(nu)) for f in
                        (self.converter.torque_ratio_at, self.converter.capacity_at))  # fmt: skip
        with np.errstate(divide="ignore", invalid="ignore"):
            driving = np.where(nu > 0.3, speed / nu, np.sqrt(pull / (mu * capacity)))
        back = np.where(given < 0.0, -given, 1.0)
        over = np.ones(np.shape(given))
        if self.overrun_scaled.size:
            over = np.interp(speed / np.sqrt(back), self.overrun_scaled, self.overrun_ratio)
        motor = np.where(pulls, driving, np.where(given < 0.0, speed / over, speed))
        impeller = np.where(pulls, pull / mu, given)
        motor, impeller = np.where(locked, speed, motor), np.where(locked, given, impeller)
        return Shafts(motor, impeller, given, np.asarray(impeller * motor - given * speed))


def _overrun(
    converter: Converter, regeneration: Regeneration
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return the look-ups of retarding; see `MotorDemand`.

    Raises
    ------
    InputError
        If the converter transmits nothing beyond speed ratio 1.
    """
    nu = np.linspace(1.0, converter.domain[1], _OVERRUN_ROWS)[1:]
    handed = -np.asarray(converter.capacity_at(nu))
    nu, handed = nu[handed > 0.0], handed[handed > 0.0]
    if nu.size < 2:
        raise InputError("the converter hands back no torque beyond speed ratio 1")
    scaled = nu / np.sqrt(handed)
    falls = scaled <= np.minimum.accumulate(scaled)
    nu, handed, scaled = nu[falls], handed[falls], scaled[falls]
    top = float(regeneration.speed[-1])
    speed = np.linspace(0.0, top * float(nu[-1]), _SPEEDS)
    motor = speed[:, np.newaxis] / nu
    torque = handed * motor**2
    able = torque <= -regeneration.at(motor)
    most = np.where(able, torque, 0.0).max(axis=1)
    return scaled[::-1], nu[::-1], speed, -most
