"""A motor where it works: voltage, coolant, pumps, and what these leave of its torque."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from converter_match.answer.block import Block, Facts, Heading, NoValue, facts_of
from converter_match.components.motor import Motor
from converter_match.components.site import Site
from converter_match.curves import FloatArray
from converter_match.judgement.motor import words
from converter_match.notes import Note
from converter_match.physics.engine.motor import (
    RATINGS,
    SLOWEST,
    Rating,
    electric_power,
    motor_supply,
    top_speed,
    torque_curve,
    voltage_ratio,
)
from converter_match.physics.engine.site_correction import STANDARD_AIR, SiteEffect, site_air
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.heat.winding import (
    derating,
    holding_time,
    permitted,
    time_constant,
)

# m, up to which motors are rated as a rule (IEC 60034-1, from memory).
USUAL_ALTITUDE = 1000.0


@dataclass(frozen=True, eq=False)
class MotorSetup:
    """A motor and what is around it.

    Parameters
    ----------
    motor : Motor
    site : Site, optional
        Where it works: the air that cools it, and that the machine drives through.
    voltage : float, optional
        [V]; the nominal one without.
    hydraulic_torque : float
        Taken at the shaft by implement pumps [N.m].

    Raises
    ------
    InputError
        If the motor cannot be run at the voltage.
    """

    motor: Motor
    site: Site | None = None
    voltage: float | None = None
    hydraulic_torque: float = 0.0

    def __post_init__(self) -> None:
        voltage_ratio(self.motor, self.voltage)

    @cached_property
    def air(self) -> SiteEffect:
        """The air around the machine; it changes nothing of what the motor is rated for."""
        if self.site is None:
            return SiteEffect(1.0, None, "none: air only cools a motor")
        air, notes = site_air(self.site, STANDARD_AIR)
        return SiteEffect(1.0, air, "none: air only cools a motor", tuple(notes), self.site)

    @property
    def coolant(self) -> float | None:
        """What cools the motor [K]; None where only its rating says so."""
        return None if self.air.air is None else self.air.air.temperature

    @cached_property
    def left(self) -> float:
        """Share of the continuous torque that the coolant leaves."""
        return derating(self.motor, self.coolant)

    def supply(self, rating: Rating, *, slowest: float = SLOWEST) -> TorqueSupply:
        """Return the net torque of a rating; see `physics.engine.motor.motor_supply`."""
        return motor_supply(
            self.motor,
            rating,
            voltage=self.voltage,
            hydraulic_torque=self.hydraulic_torque,
            factor=max(self.left, 1e-9) if rating == "continuous" else 1.0,
            slowest=slowest,
        )

    @cached_property
    def loads(self) -> TorqueSupply:
        """The supply from standstill, for what accessories and pumps take at any speed."""
        return self.supply("peak", slowest=0.0)

    @property
    def top_speed(self) -> float:
        """Where the torque is taken away [rad/s]."""
        return top_speed(self.motor, voltage=self.voltage)

    def shaft_torque(self, net: FloatArray, speed: FloatArray) -> FloatArray:
        """Return the torque at the motor's shaft [N.m] for a net one, accessories included."""
        turning = np.clip(speed, *self.loads.domain)
        return np.asarray(net + self.loads.load_torque(turning))

    def share(self, torque: FloatArray, speed: FloatArray) -> FloatArray:
        """Return shaft torque / continuous torque of the rating at the speed; infinite beyond."""
        curve = torque_curve(self.motor, "continuous", voltage=self.voltage)
        known = np.clip(np.nan_to_num(speed), 0.0, self.top_speed)
        able = np.asarray(curve(known))
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(np.isfinite(speed), np.abs(torque) / able, np.nan)

    def held(self, share: FloatArray, *, start: float = 0.0) -> FloatArray:
        """Return how long a share of the continuous torque is held [s]; infinite for good."""
        return holding_time(self.motor, share, start=start, coolant=self.coolant)

    def electric(self, torque: FloatArray, speed: FloatArray) -> FloatArray:
        """Return the electric power [W]; NaN where the motor states no losses."""
        if self.motor.losses is None:
            return np.full(np.shape(torque), np.nan)
        return electric_power(self.motor, torque, speed)

    def require_losses(self) -> None:
        """Refuse a motor that states no losses; raises `InputError`."""
        electric_power(self.motor, 0.0, 0.0)

    @cached_property
    def notes(self) -> tuple[Note, ...]:
        """What is assumed of motor, voltage and coolant, and what is to be wary of."""
        motor, winding = self.motor, self.motor.winding
        notes = [*motor.notes, *self.air.notes]
        coolant = self.coolant
        if coolant is None:
            notes.append(words.note("motor-coolant-rated", coolant=winding.coolant))
        elif winding.limit is not None and permitted(motor, coolant) <= 0.0:
            notes.append(words.note("motor-too-hot", air=coolant, limit=winding.limit))
        elif coolant > winding.coolant and winding.limit is None:
            values = {"air": coolant, "coolant": winding.coolant}
            notes.append(words.note("motor-coolant-hot-class-unknown", **values))
        elif self.left < 1.0:
            values = {"air": coolant, "coolant": winding.coolant, "share": self.left}
            notes.append(words.note("motor-coolant-hot", **values))
        altitude = None if self.site is None else self.site.altitude
        if altitude is not None and altitude > USUAL_ALTITUDE:
            notes.append(words.note("motor-altitude", altitude=altitude, usual=USUAL_ALTITUDE))
        if self.voltage is not None and motor.voltage is not None:
            notes += self._voltage_notes(self.voltage, motor.voltage.nominal)
        if motor.losses is not None:
            notes.append(words.note("battery-left-out", where=motor.covers))
        pumps = [item.name for item in motor.accessories if "pump" in item.name.casefold()]
        if pumps:
            notes.append(words.note("pump-stops-with-the-motor", names=", ".join(pumps)))
        return tuple(notes)

    def _voltage_notes(self, voltage: float, nominal: float) -> list[Note]:
        if voltage == nominal:
            return []
        corner = self.motor.base_speed * voltage / nominal
        values = {"voltage": voltage, "nominal": nominal, "corner": corner}
        notes = [words.note("voltage-moves-corner", **values)]
        if self.top_speed < self.motor.speed_limit * (1.0 - 1e-9):
            notes.append(words.note("voltage-ends-curve", voltage=voltage, top=self.top_speed))
        return notes

    def basis(self) -> Facts:
        """Return what the torque rests on, and what is not asked of a motor."""
        motor = self.motor
        hydraulics = Heading("", "hydraulic torque deducted", "torque")
        names = tuple(item.name for item in motor.accessories)
        voltage: object = NoValue("not given")
        if self.voltage is not None or motor.voltage is not None:
            voltage = self.voltage or (motor.voltage and motor.voltage.nominal)
        return (
            (Heading("", "peak torque"), self._peak_words()),
            (Heading("", "continuous torque"), "duty type S1 (IEC 60034-1)"),
            (Heading("", "voltage", "voltage", ".4g"), voltage),
            (Heading("", "speed limit", "angular_speed"), self.top_speed),
            (Heading("", "accessories deducted"), names or NoValue("none")),
            *(((hydraulics, self.hydraulic_torque),) if self.hydraulic_torque else ()),
            (Heading("", "does not apply"), words.DOES_NOT_APPLY),
        )

    def _peak_words(self) -> Note:
        code = "peak-from-cold" if self.motor.peak_from == "cold" else "peak-from-warm"
        return words.FACTS.note(code, time=self.motor.peak_time)

    def origin(self) -> Block:
        """Return what the motor is, as it stands in plain data."""
        motor, winding = self.motor, self.motor.winding
        tau = time_constant(motor)
        return Block(
            "motor",
            facts=(
                *facts_of(motor, [Heading(key, "") for key in ("id", "name", "source")]),
                (Heading("rated_power", "", "power"), motor.rated_power),
                (Heading("peak_power", "", "power"), motor.peak_power),
                (Heading("base_speed", "", "angular_speed"), motor.base_speed),
                (Heading("top_speed", "", "angular_speed"), self.top_speed),
                (Heading("voltage", "", "voltage"), self.voltage),
                (Heading("peak_time", "", "time"), motor.peak_time),
                (Heading("peak_from", ""), motor.peak_from),
                (Heading("thermal_class", ""), winding.thermal_class),
                (Heading("winding_limit", "", "temperature"), winding.limit),
                (Heading("winding_time_constant", "", "time"), tau if np.isfinite(tau) else None),
                (Heading("coolant_temperature", "", "temperature"), self.coolant),
                (Heading("continuous_torque_left", ""), self.left),
                (Heading("does_not_apply", ""), words.DOES_NOT_APPLY),
                (Heading("fingerprint", ""), motor.fingerprint()),
            ),
            in_text=False,
        )


__all__ = ["RATINGS", "MotorSetup", "Rating"]
