"""What is read on the commissioning day."""

from __future__ import annotations

from dataclasses import dataclass

from converter_match.components.reading import Brakes


@dataclass(frozen=True, eq=False, kw_only=True)
class AcceptanceReading:
    """What was read on the commissioning day.

    Parameters
    ----------
    quantity : {"stall-speed", "speed-on-grade"}
    value : float
        [rad/s] or [m/s].
    given : str
        As written.
    engine_speed : float, optional
        On the grade [rad/s].
    oil_temperature : float, optional
        [K].
    gear : str
    brakes : {"held", "let-go", "not-stated"}
    """

    quantity: str
    value: float
    given: str = ""
    engine_speed: float | None = None
    oil_temperature: float | None = None
    gear: str = ""
    brakes: Brakes = "not-stated"
