"""The ground under the machine: what it costs to roll on it and what it lets a wheel pull."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from converter_match.components.base import Component
from converter_match.errors import InputError

QUANTITIES: Mapping[str, str] = MappingProxyType(
    {"rolling_resistance": "rolling_resistance", "traction_coefficient": "traction"}
)
"""What a table calls a quantity of a surface -> field of `Surface` and key of a TOML file."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Surface(Component):
    """A surface.

    Parameters
    ----------
    name : str
    rolling_resistance : float
        Force / weight, on the level.
    traction : float, optional
        Highest pull / weight on driven wheels; None where not known: nothing then limits the pull.
    source : str
        Where the numbers come from.
    vehicle : str
        What they hold for, e.g. ``wheeled machine``; empty if not stated.

    Raises
    ------
    InputError
        If a number is out of range.
    """

    name: str
    rolling_resistance: float
    traction: float | None = None
    source: str = ""
    vehicle: str = ""

    def __post_init__(self) -> None:
        if not (math.isfinite(self.rolling_resistance) and 0.0 <= self.rolling_resistance <= 0.6):
            raise InputError(
                "not a rolling resistance",
                field="rolling_resistance",
                found=self.rolling_resistance,
                expected="a share of the weight from 0 to 0.6",
                hint="percent and lb/ton need their unit",
            )
        if self.traction is not None and not 1e-3 <= self.traction <= 1.5:
            raise InputError(
                "not a traction coefficient",
                field="traction",
                found=self.traction,
                expected="0.001 to 1.5",
            )
