"""A site: the air an engine breathes there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self

from converter_match.components.base import Component, in_celsius, require_positive, require_within
from converter_match.errors import InputError

# Id of a site that is no file's: it has numbers, and no name worth showing.
ON_COMMAND_LINE = "command-line"


@dataclass(frozen=True, kw_only=True)
class Air:
    """Air at the engine's intake.

    Parameters
    ----------
    pressure : float
        Absolute pressure of the (moist) air [Pa].
    temperature : float
        [K].
    vapour_pressure : float
        Partial pressure of water vapour [Pa]; 0 for dry air.
    """

    pressure: float
    temperature: float
    vapour_pressure: float = 0.0

    def __post_init__(self) -> None:
        if not 30e3 <= self.pressure <= 115e3:
            raise InputError(
                "not an air pressure found on land",
                field="air pressure",
                found=f"{self.pressure / 1e3:.4g} kPa",
                expected="30 to 115 kPa absolute",
                hint="is it in another unit, or a gauge pressure?",
            )
        if not 200.0 <= self.temperature <= 340.0:
            raise InputError(
                "not an air temperature found on land",
                field="air temperature",
                found=in_celsius(self.temperature),
                expected="-73 to 67 degC",
            )
        if not 0.0 <= self.vapour_pressure < self.pressure:
            raise InputError(
                "vapour pressure out of range", field="vapour pressure", found=self.vapour_pressure
            )

    @property
    def dry_pressure(self) -> float:
        """Pressure of the dry part of the air [Pa]."""
        return self.pressure - self.vapour_pressure


@dataclass(frozen=True, kw_only=True, eq=False)
class Site(Component):
    """Where the machine works.

    Parameters
    ----------
    id, name, source : str
    altitude : float, optional
        Above sea level [m]. Gives the pressure by the standard atmosphere where no pressure is
        given.
    air_pressure : float, optional
        Absolute, at the site, not reduced to sea level [Pa].
    air_temperature : float, optional
        [K].
    relative_humidity : float, optional
        0 .. 1.

    Raises
    ------
    InputError
        If neither altitude nor pressure nor temperature is given, or a value is out of range.
    """

    id: str
    name: str
    source: str
    altitude: float | None = None
    air_pressure: float | None = None
    air_temperature: float | None = None
    relative_humidity: float | None = None

    def __post_init__(self) -> None:
        if self.altitude is None and self.air_pressure is None and self.air_temperature is None:
            raise InputError(
                "a site needs an altitude, an air pressure or an air temperature", field="altitude"
            )
        if self.altitude is not None and not -500.0 <= self.altitude <= 6000.0:
            raise InputError(
                "altitude out of range",
                field="altitude",
                found=self.altitude,
                expected="-500 to 6000 m",
            )
        require_positive(self.air_pressure, "air_pressure")
        require_within(self.air_pressure, "air_pressure", 30e3, 115e3, "Pa")
        require_positive(self.air_temperature, "air_temperature")
        if self.relative_humidity is not None and not 0.0 <= self.relative_humidity <= 1.0:
            raise InputError(
                "relative humidity out of range",
                field="relative_humidity",
                found=self.relative_humidity,
                expected="0 to 100 percent",
            )

    @classmethod
    def at(
        cls,
        altitude: float | str | None = None,
        air_temperature: float | str | None = None,
        relative_humidity: float | str | None = None,
    ) -> Self:
        """Return a site by its altitude and air, as a person says them.

        Parameters
        ----------
        altitude : float or str, optional
            Above sea level: [m], or a text with its unit.
        air_temperature : float or str, optional
            [K], or a text with its unit.
        relative_humidity : float or str, optional
            0 .. 1, or a text in percent.

        Raises
        ------
        InputError
            If neither altitude nor temperature is given, or one is no such quantity or out of
            range.

        Examples
        --------
        >>> Site.at("2000 m", "35 degC").air_temperature
        308.15
        >>> Site.at("6500 ft").altitude
        1981.2
        """
        # The one door in this room: what is asked for here, a person types. Loaded only then.
        from converter_match.units.written import si_of

        asked = {
            "altitude": (altitude, "length", "m"),
            "air_temperature": (air_temperature, "temperature", "K"),
            "relative_humidity": (relative_humidity, "ratio", ""),
        }
        values = {
            name: None if value is None else si_of(value, dimension, name)
            for name, (value, dimension, _) in asked.items()
        }
        said = [
            value if isinstance(value, str) else f"{value:g} {unit}".rstrip()
            for value, _, unit in asked.values()
            if value is not None
        ]
        return cls(id="at", name=", ".join(said), source="as given", **values)
