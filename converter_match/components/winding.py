"""How hot a motor's winding may get, and how fast it does. SI units.

Thermal classes are those of IEC 60085, the rises that a class permits above a coolant of 40 degC
(by the resistance method) those of IEC 60034-1 for machines of the common kind; both from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, get_args

from converter_match.components.base import in_celsius, require_choice, require_positive
from converter_match.constants import ZERO_CELSIUS
from converter_match.errors import InputError
from converter_match.notes import Note, assumption

ThermalClass = Literal["105", "120", "130", "155", "180"]
THERMAL_CLASSES: tuple[ThermalClass, ...] = get_args(ThermalClass)
# K, by resistance: classes A, E, B, F, H of IEC 60034-1 (from memory).
PERMITTED_RISE = MappingProxyType(
    {"105": 60.0, "120": 75.0, "130": 80.0, "155": 105.0, "180": 125.0}
)
RATED_COOLANT = ZERO_CELSIUS + 40.0


@dataclass(frozen=True, kw_only=True)
class Winding:
    """Temperatures of a winding.

    Parameters
    ----------
    thermal_class : {"105", "120", "130", "155", "180"}, optional
        By the temperature [degC] that names it: A, E, B, F, H.
    rise_at_continuous : float, optional
        Steady rise above the coolant at the continuous torque [K]; without, the whole rise that
        the class permits.
    coolant : float
        For which the continuous torque holds [K].
    time_constant : float, optional
        Of the winding's rise [s]; without, it follows from the time at peak torque.
    """

    thermal_class: ThermalClass | None = None
    rise_at_continuous: float | None = None
    coolant: float = RATED_COOLANT
    time_constant: float | None = None

    def __post_init__(self) -> None:
        if self.thermal_class is not None:
            require_choice(self.thermal_class, "thermal.class", THERMAL_CLASSES)
        require_positive(self.rise_at_continuous, "thermal.rise_at_continuous", "a rise above zero")
        require_positive(self.time_constant, "thermal.time_constant", "a time above zero")
        if not ZERO_CELSIUS - 60.0 <= self.coolant <= ZERO_CELSIUS + 100.0:
            raise InputError(
                "out of range",
                field="thermal.coolant",
                found=in_celsius(self.coolant),
                expected="-60 to 100 degC",
            )
        permitted, own = self.permitted_rise, self.rise_at_continuous
        if own is not None and permitted is not None and own > permitted:
            raise InputError(
                "above the rise that the thermal class permits",
                field="thermal.rise_at_continuous",
                found=own,
                expected=f"at most {permitted:g} K with class {self.thermal_class}",
            )

    @property
    def permitted_rise(self) -> float | None:
        """What the class permits above the coolant [K]; None without a class."""
        return None if self.thermal_class is None else PERMITTED_RISE[self.thermal_class]

    @property
    def continuous_rise(self) -> float | None:
        """Steady rise at the continuous torque [K]; None where nothing is known of it."""
        own = self.rise_at_continuous
        return self.permitted_rise if own is None else own

    @property
    def limit(self) -> float | None:
        """Temperature that the winding may come to [K]; None without a class."""
        rise = self.permitted_rise
        return None if rise is None else self.coolant + rise

    @property
    def headroom(self) -> float:
        """Permitted rise over the steady rise at the continuous torque; 1 where not known."""
        permitted, own = self.permitted_rise, self.continuous_rise
        return 1.0 if permitted is None or own is None else permitted / own

    @property
    def notes(self) -> tuple[Note, ...]:
        """What is assumed of it."""
        notes = []
        if self.thermal_class is None:
            notes.append(
                assumption(
                    "thermal-class-not-given",
                    "No thermal class of the winding is given: the continuous torque is taken to "
                    "bring it just to its limit, and no temperature is stated.",
                )
            )
        elif self.rise_at_continuous is None:
            notes.append(
                assumption(
                    "whole-rise-used",
                    "No rise at the continuous torque is given: it is taken to use the whole "
                    "{rise:temperature_difference .0f} that thermal class {name} permits above "
                    "the coolant.",
                    rise=PERMITTED_RISE[self.thermal_class],
                    name=self.thermal_class,
                )
            )
        if self.time_constant is None:
            notes.append(
                assumption(
                    "winding-time-constant-from-peak",
                    "No time constant of the winding is given: it follows from the time at peak "
                    "torque, the winding being one body whose heat goes with the square of the "
                    "torque.",
                )
            )
        return tuple(notes)
