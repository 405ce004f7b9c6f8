"""One reading of a stall test: an engine speed, and everything it was read under. SI units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from converter_match.components.base import in_celsius, in_rpm, require_choice
from converter_match.components.gear import Direction
from converter_match.constants import RPM, ZERO_CELSIUS
from converter_match.errors import InputError

Brakes = Literal["held", "let-go", "not-stated"]
Pump = Literal["standby", "relief"]
Test = Literal["converter", "hydraulic", "both", "road", "governed"]
BRAKES: tuple[Brakes, ...] = ("held", "let-go", "not-stated")
PUMPS: tuple[Pump, ...] = ("standby", "relief")
TESTS: tuple[Test, ...] = ("converter", "hydraulic", "both", "road", "governed")
NEUTRAL: tuple[Test, ...] = ("hydraulic", "governed")
"""Tests in neutral: the converter takes nothing."""


@dataclass(frozen=True, kw_only=True)
class StallReading:
    """What was read, and under what.

    Parameters
    ----------
    engine_speed : float
        Settled, at full throttle [rad/s].
    test : {"converter", "hydraulic", "both", "road", "governed"}
        In gear against the brakes; in neutral with the implement pumps at relief; in gear with the
        pumps at relief; driving at full throttle with the converter open; in neutral at full
        throttle with nothing taken (top governed speed).
    gear : str
        As on the selector; empty where not noted.
    direction : {"forward", "reverse"}, optional
    brakes : {"held", "let-go", "not-stated"}
    oil_temperature, air_temperature : float, optional
        [K].
    pump : {"standby", "relief"}
        Follows from the test where not given.
    turbine_speed : float, optional
        Of a road reading [rad/s].

    Raises
    ------
    InputError
        Naming the field: a number no machine has, words that contradict each other.
    """

    engine_speed: float
    test: Test = "converter"
    gear: str = ""
    direction: Direction | None = None
    brakes: Brakes = "not-stated"
    oil_temperature: float | None = None
    air_temperature: float | None = None
    pump: Pump | None = None
    turbine_speed: float | None = None

    def __post_init__(self) -> None:
        require_choice(self.test, "test", TESTS)
        require_choice(self.brakes, "brakes", BRAKES)
        if self.direction is not None:
            require_choice(self.direction, "direction", ("forward", "reverse"))
        if not 200 * RPM <= self.engine_speed <= 8000 * RPM:
            raise InputError(
                "no engine of this kind runs at that speed",
                field="speed",
                found=in_rpm(self.engine_speed),
                expected="200 to 8000 rpm",
            )
        for name, low, high in (
            ("oil_temperature", 233.15, 453.15),
            ("air_temperature", 213.15, 333.15),
        ):
            value = getattr(self, name)
            if value is not None and not low <= value <= high:
                raise InputError(
                    "outside what can be read on a machine",
                    field=name.removesuffix("_temperature"),
                    found=in_celsius(value),
                    expected=f"{low - ZERO_CELSIUS:.0f} to {high - ZERO_CELSIUS:.0f} degC",
                    hint="Celsius and Fahrenheit mixed up?",
                )
        relief = self.test in ("hydraulic", "both")
        if self.pump is None:
            object.__setattr__(self, "pump", "relief" if relief else "standby")
        require_choice(str(self.pump), "pump", PUMPS)
        if self.test != "road" and relief != (self.pump == "relief"):
            raise InputError(
                "the test and the state of the pump contradict each other",
                field="pump",
                found=f"test {self.test}, pump at {self.pump}",
                expected="pump=relief for a hydraulic or a both test, else pump=standby",
            )
        if (self.test == "road") != (self.turbine_speed is not None):
            raise InputError(
                "a road reading needs the turbine speed, and only a road reading has one",
                field="turbine",
                found=f"test {self.test}",
                expected="test=road speed=... turbine=...",
            )
        if self.turbine_speed is not None and not 0 <= self.turbine_speed <= 8000 * RPM:
            raise InputError("out of range", field="turbine", found=self.turbine_speed)

    @property
    def valid(self) -> bool:
        """Whether the machine stood still, so that the reading says something."""
        return self.brakes != "let-go"
