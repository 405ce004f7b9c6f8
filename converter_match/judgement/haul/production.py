"""What a cycle moves, and what fuel it takes for that: per hour and per load."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from converter_match.answer.block import Heading
from converter_match.judgement.haul import words

PRODUCTION = Heading("production", "production", "production")
FUEL_FLOW = Heading("fuel", "fuel", "fuel_flow")
FUEL_OF_LOAD = Heading("fuel", "fuel for the load moved", "fuel_of_load")
_VOLUME = Heading("fuel", "", "volume")


@dataclass(frozen=True)
class Production:
    """Load and fuel of one cycle, SI units; None where it is not known or nothing is moved.

    Parameters
    ----------
    load : float
        Moved to its place in one cycle [kg].
    time : float
        Of one cycle [s].
    fuel : float or None
        Of one cycle [kg].
    fuel_density : float
        [kg/m^3].
    """

    load: float
    time: float
    fuel: float | None
    fuel_density: float

    @property
    def rate(self) -> float | None:
        """What is moved in a time [kg/s]."""
        return self.load / self.time if self.load and self.time else None

    @property
    def fuel_volume(self) -> float | None:
        """Of one cycle [m^3]."""
        return None if self.fuel is None else self.fuel / self.fuel_density

    @property
    def fuel_flow(self) -> float | None:
        """Fuel in a time [m^3/s]."""
        volume = self.fuel_volume
        return volume / self.time if volume is not None and self.time else None

    @property
    def fuel_of_load(self) -> float | None:
        """Fuel for what is moved [m^3/kg]."""
        volume = self.fuel_volume
        return volume / self.load if volume is not None and self.load else None

    def facts(self) -> tuple[tuple[Heading, Any], ...]:
        """Return rates and fuel; a figure that is not known stands in plain data only."""
        given = (
            (PRODUCTION, self.rate),
            (_VOLUME, self.fuel_volume),
            (FUEL_FLOW, self.fuel_flow),
            (FUEL_OF_LOAD, self.fuel_of_load),
        )
        known = tuple((head if value is not None else head.said(""), value)
                      for head, value in given)  # fmt: skip
        no_fuel = ((Heading("", "fuel"), words.NO_FUEL),) if self.fuel is None else ()
        return known + no_fuel
