"""Limits that the maker of a converter states."""

from __future__ import annotations

from dataclasses import dataclass

from converter_match.components.base import require_positive


@dataclass(frozen=True, kw_only=True)
class ConverterLimits:
    """Limits stated by the maker, SI units; None where not given.

    Parameters
    ----------
    input_torque, input_speed, input_power, oil_temperature : float, optional
        [N.m], [rad/s], [W], [K].
    """

    input_torque: float | None = None
    input_speed: float | None = None
    input_power: float | None = None
    oil_temperature: float | None = None

    def __post_init__(self) -> None:
        for name in ("input_torque", "input_speed", "input_power", "oil_temperature"):
            require_positive(getattr(self, name), f"limits.{name}")
