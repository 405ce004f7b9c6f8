"""How a transmission gets rid of heat: its cooler, and what stores the heat. SI units."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.base import LATER, Component, in_celsius, require_positive
from converter_match.curves import Curve, FloatArray, check_points, frozen_array
from converter_match.errors import InputError
from converter_match.notes import Note, assumption

# Seen in public data for mineral transmission oil; used where the file does not say, and noted.
TYPICAL_OIL_DENSITY = 870.0  # kg/m^3
TYPICAL_OIL_SPECIFIC_HEAT = 2060.0  # J/(kg.K), at about 50 degC
STEEL_SPECIFIC_HEAT = 470.0  # J/(kg.K), from memory
# Common practice, no source: what charge pumps of transmissions deliver, with room on both sides.
_FLOWS = (1e-3 / 60.0, 2000e-3 / 60.0)  # m^3/s


@dataclass(frozen=True, kw_only=True, eq=False)
class Cooler(Component):
    """Heat a transmission-oil cooler carries away against the oil-to-air temperature difference.

    Parameters
    ----------
    difference : array_like, shape (n,)
        Oil in less air in [K], from 0.
    heat : array_like, shape (n,)
        [W], from 0, rising.
    proportional : bool
        Whether the heat is proportional to the difference (a rating, or a UA value) and so known
        beyond the last row.
    air_density : float, optional
        Of the air in which this heat is carried away [kg/m^3].
    """

    difference: FloatArray
    heat: FloatArray
    proportional: bool = False
    air_density: float | None = field(default=None, metadata={LATER: True})

    def __post_init__(self) -> None:
        difference, heat = frozen_array(self.difference), frozen_array(self.heat)
        check_points(difference, heat, name="cooler.heat", x_name="cooler.difference")
        if difference[0] != 0.0 or heat[0] != 0.0:
            raise InputError(
                "the cooler's curve must begin with no heat at no temperature difference",
                field="cooler.difference",
                found=f"{heat[0]:.4g} W at {difference[0]:.4g} K",
                expected="a first row of 0 and 0",
            )
        if np.any(np.diff(heat) <= 0):
            row = int(np.argmax(np.diff(heat) <= 0)) + 1
            raise InputError(
                "the heat does not rise with the temperature difference",
                field=f"cooler.heat[{row}]",
                found=float(heat[row]),
                expected=f"more than {heat[row - 1]:.6g} W",
            )
        require_positive(self.air_density, "cooler.air_density")
        object.__setattr__(self, "difference", difference)
        object.__setattr__(self, "heat", heat)

    @classmethod
    def from_conductance(cls, conductance: float, difference: float = 60.0) -> Cooler:
        """Return a cooler of constant conductance UA [W/K]; `difference` [K] is only its span."""
        require_positive(conductance, "cooler.conductance")
        return cls(
            difference=np.array([0.0, difference]),
            heat=np.array([0.0, conductance * difference]),
            proportional=True,
        )

    @classmethod
    def from_rating(cls, heat: float, oil_temperature: float, air_temperature: float) -> Cooler:
        """Return a cooler from its rated heat [W] at an oil and an air temperature [K].

        Raises
        ------
        InputError
            If the oil is not warmer than the air.
        """
        require_positive(heat, "cooler.rated_heat")
        if not oil_temperature > air_temperature:
            raise InputError(
                "the oil must be warmer than the air at the cooler's rating",
                field="cooler.oil_temperature",
                found=in_celsius(oil_temperature),
                expected=f"above {in_celsius(air_temperature)}",
            )
        span = oil_temperature - air_temperature
        return cls.from_conductance(heat / span, span)

    @cached_property
    def _curve(self) -> Curve:
        return Curve(self.difference, self.heat, name="cooler heat", x_name="oil-to-air difference")

    def heat_at(self, difference: ArrayLike) -> FloatArray:
        """Return the heat carried away [W] at an oil-to-air `difference` [K] (any shape).

        Below zero none is carried away. Beyond a table's last row its last value is held, which is
        on the safe side; `covers` says whether that happens.
        """
        span = np.maximum(np.asarray(difference, dtype=np.float64), 0.0)
        if self.proportional:
            return np.asarray(span * (self.heat[-1] / self.difference[-1]))
        return np.asarray(self._curve(np.minimum(span, self.difference[-1])))

    def covers(self, difference: float) -> bool:
        """Return whether the cooler's data reach to an oil-to-air difference [K]."""
        return self.proportional or difference <= float(self.difference[-1])


@dataclass(frozen=True, kw_only=True)
class Oil:
    """The transmission oil and the metal that warms with it.

    Parameters
    ----------
    volume : float, optional
        Oil in circulation [m^3].
    density, specific_heat : float, optional
        [kg/m^3], [J/(kg.K)]; typical values of mineral oil where not given, and noted.
    metal_mass : float, optional
        Metal that follows the oil temperature [kg].
    metal_specific_heat : float
        [J/(kg.K)].
    metal_conductance : float, optional
        Between oil and metal [W/K], for a second temperature; without it both are one.
    temperature_limit : float, optional
        Highest oil temperature [K].
    working_temperature : float, optional
        Usual oil temperature at the start of a hold or a route [K].
    charge_flow : float, optional
        Through the converter, from its inlet to its outlet, with the engine at working speed
        [m^3/s].
    outlet_temperature_limit : float, optional
        Highest oil temperature at the converter's outlet, for a short time [K].
    """

    volume: float | None = None
    density: float | None = None
    specific_heat: float | None = None
    metal_mass: float | None = None
    metal_specific_heat: float = STEEL_SPECIFIC_HEAT
    metal_conductance: float | None = None
    temperature_limit: float | None = None
    working_temperature: float | None = None
    charge_flow: float | None = field(default=None, metadata={LATER: True})
    outlet_temperature_limit: float | None = field(default=None, metadata={LATER: True})

    def __post_init__(self) -> None:
        for name in self.__dataclass_fields__:
            require_positive(getattr(self, name), f"oil.{name}")
        self._check_flow()
        for name in ("temperature_limit", "working_temperature", "outlet_temperature_limit"):
            value = getattr(self, name)
            if value is not None and not 230.0 <= value <= 500.0:
                raise InputError(
                    "not a temperature of transmission oil",
                    field=f"oil.{name}",
                    found=in_celsius(value),
                    expected="-43 to 227 degC",
                )
        limit, working = self.temperature_limit, self.working_temperature
        if limit is not None and working is not None and not working < limit:
            raise InputError(
                "the working temperature is not below the limit",
                field="oil.working_temperature",
                found=in_celsius(working),
                expected=f"below {in_celsius(limit)}",
            )

    def _check_flow(self) -> None:
        low, high = _FLOWS
        if self.charge_flow is not None and not low <= self.charge_flow <= high:
            raise InputError(
                "not a charge flow of a transmission",
                field="oil.charge_flow",
                found=f"{self.charge_flow * 60e3:.4g} L/min",
                expected="1 to 2000 L/min through the converter",
            )

    @property
    def volume_heat_capacity(self) -> float:
        """Density times specific heat [J/(m^3.K)], typical where not given."""
        density = TYPICAL_OIL_DENSITY if self.density is None else self.density
        specific = TYPICAL_OIL_SPECIFIC_HEAT if self.specific_heat is None else self.specific_heat
        return density * specific

    @property
    def oil_heat_capacity(self) -> float | None:
        """Heat capacity of the oil alone [J/K]; None without a volume."""
        return None if self.volume is None else self.volume * self.volume_heat_capacity

    @property
    def metal_heat_capacity(self) -> float:
        """Heat capacity of the metal [J/K]; zero when no mass is given."""
        return 0.0 if self.metal_mass is None else self.metal_mass * self.metal_specific_heat

    @property
    def notes(self) -> tuple[Note, ...]:
        """Typical values that stand in for missing data."""
        if self.volume is None and self.charge_flow is None:
            return ()
        typical = {}
        if self.density is None:
            typical["density {density:density .3g}"] = "density", TYPICAL_OIL_DENSITY
        if self.specific_heat is None:
            heat = "specific heat {heat:specific_heat .3g}"
            typical[heat] = "heat", TYPICAL_OIL_SPECIFIC_HEAT
        if not typical:
            return ()
        words = f"Typical of mineral oil: {', '.join(typical)}."
        return (assumption("oil-typical", words, **dict(typical.values())),)
