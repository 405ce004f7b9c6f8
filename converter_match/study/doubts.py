"""How well a study's inputs are known, and what others claim. SI units."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, get_args

from converter_match.components.base import require_choice
from converter_match.components.engine import Engine
from converter_match.components.machine import Load, Machine
from converter_match.errors import InputError

Distribution = Literal["uniform", "normal", "triangular"]


DISTRIBUTIONS: tuple[Distribution, ...] = get_args(Distribution)


TOLERANCE_DIMENSIONS: Mapping[str, str] = MappingProxyType(
    {
        "engine-torque": "ratio",
        "k-factor": "ratio",
        "torque-ratio": "ratio",
        "accessories": "ratio",
        "pumps": "ratio",
        "air-pressure": "ratio",
        "air-temperature": "temperature_difference",
        "mass": "ratio",
        "rolling-resistance": "ratio",
        "rolling-radius": "ratio",
    }
)
"""What a tolerance can be given for, and the dimension of its half width."""


CLAIM_DIMENSIONS: Mapping[str, str] = MappingProxyType(
    {
        "stall-speed": "angular_speed",
        "stall-input-torque": "torque",
        "stall-turbine-torque": "torque",
        "stall-torque-ratio": "ratio",
        "stall-k-factor": "k_factor",
        "stall-heat": "power",
        "coupling-speed-ratio": "ratio",
        "coupling-engine-speed": "angular_speed",
        "coupling-turbine-speed": "angular_speed",
        "best-efficiency": "ratio",
        "tractive-effort": "force",
        "steepest-grade": "weight_share",
        "speed-on-grade": "velocity",
        "top-speed": "velocity",
    }
)
"""What a dealer's claim can be about, and its dimension."""


CONFUSED_UNITS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "power": ("hp", "PS"),
        "mass": ("t", "short ton", "long ton"),
        "velocity": ("km/h", "mph"),
    }
)
"""Units of one dimension that are taken for one another, because one name serves for them all."""

SCATTER = 0.5
"""Share of the variance of a tolerance that is scatter between units of one type, the rest being
error of the sheet, which all of them share (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Tolerance:
    """Tolerance of an input.

    Parameters
    ----------
    quantity : str
        A key of `TOLERANCE_DIMENSIONS`.
    half_width : float
        Share of the value (0.03 is +-3 %), or [K] for the air temperature. For a normal
        distribution twice the standard deviation, so that about 95 % lie inside.
    distribution : {"uniform", "normal", "triangular"}
    shared : bool
        Whether one draw holds for every combination, whatever its parts.
    of : str, optional
        Which part it is for: the id of a component, or of a combination for the part that stands
        there. Without one it holds for every part that no other row names.
    shift : float
        By how much the middle of the band lies off the data, share or [K]: -0.04 for a worn engine
        that gives 4 % less.
    scatter : float, optional
        Share of the variance, 0 to 1, that is scatter between units of one type; `SCATTER` without
        one.

    Raises
    ------
    InputError
        If a number is out of range, the quantity is not known, or `shared` and `of` contradict
        each other.
    """

    quantity: str
    half_width: float
    distribution: Distribution = "uniform"
    shared: bool = False
    of: str | None = None
    shift: float = 0.0
    scatter: float | None = None

    def __post_init__(self) -> None:
        require_choice(self.quantity, "tolerance.quantity", tuple(TOLERANCE_DIMENSIONS))
        require_choice(self.distribution, "tolerance.distribution", DISTRIBUTIONS)
        relative = TOLERANCE_DIMENSIONS[self.quantity] == "ratio"
        most, words = (0.5, "50 percent") if relative else (60.0, "60 K")
        if not (math.isfinite(self.half_width) and self.half_width >= 0.0):
            raise InputError(
                "a tolerance cannot be below zero",
                field="tolerance.half_width",
                found=self.half_width,
                expected="the half width of a band, zero or more",
            )
        if self.half_width > most:
            raise InputError(
                "a tolerance wider than anything that is known at all",
                field="tolerance.half_width",
                found=self.half_width,
                expected=f"at most {words}",
            )
        if not abs(self.shift) <= most:
            raise InputError(
                "a shift wider than anything that is known at all",
                field="tolerance.shift",
                found=self.shift,
                expected=f"-{words} to {words}",
            )
        if self.scatter is not None and not 0.0 <= self.scatter <= 1.0:
            raise InputError(
                "out of range", field="tolerance.scatter", found=self.scatter, expected="0 to 1"
            )
        if self.shared and self.of is not None:
            raise InputError(
                "contradicts shared: a tolerance of one part is not one draw for all",
                field="tolerance.of",
                found=self.of,
            )

    @property
    def split(self) -> float:
        """Share of the variance that is scatter between units of one type."""
        return SCATTER if self.scatter is None else self.scatter


@dataclass(frozen=True, kw_only=True)
class Correlation:
    """Two tolerances that go together.

    Parameters
    ----------
    first, second : str
        Quantities that have a tolerance.
    coefficient : float
        Of rank correlation, -1 to 1.
    """

    first: str
    second: str
    coefficient: float

    def __post_init__(self) -> None:
        if not -1.0 <= self.coefficient <= 1.0:
            raise InputError(
                "out of range",
                field="correlation.coefficient",
                found=self.coefficient,
                expected="-1 to 1",
            )
        if self.first == self.second:
            raise InputError(
                "a quantity goes with itself", field="correlation.between", found=self.first
            )


@dataclass(frozen=True, kw_only=True)
class Misreading:
    """What a component file says if a unit in it is taken for another.

    Parameters
    ----------
    kind : {"engine", "converter", "machine"}
    id : str
        Of the component.
    given, read : str
        What stands in the file, and what it is taken for.
    component : Engine or Machine, optional
        As it is read then.
    capacity_factor : float, optional
        Of a converter: factor on the capacity.
    """

    kind: str
    id: str
    given: str
    read: str
    component: Engine | Machine | None = None
    capacity_factor: float | None = None


@dataclass(frozen=True, kw_only=True)
class Claim:
    """A number that somebody else gives for a combination.

    Parameters
    ----------
    quantity : str
        A key of `CLAIM_DIMENSIONS`.
    value : float
        SI.
    given : str
        As written, unit included.
    combination : str
        Id of a combination.
    source : str
        Who says so.
    tolerance : float, optional
        Share of the value within which the claim counts as met.
    site : str, optional
        Id of a site; without one the claim is taken for the engine's reference air.
    hydraulic_torque : float
        [N.m].
    gear : str, optional
    grade : float, optional
        Rise / run.
    speed : float, optional
        [m/s].
    speed_given : str
        The same as written, unit included.
    load : {"laden", "empty"}, optional
    """

    quantity: str
    value: float
    given: str
    combination: str
    source: str = ""
    tolerance: float | None = None
    site: str | None = None
    hydraulic_torque: float = 0.0
    gear: str | None = None
    grade: float | None = None
    speed: float | None = None
    speed_given: str = ""
    load: Load | None = None

    def __post_init__(self) -> None:
        require_choice(self.quantity, "claim.quantity", tuple(CLAIM_DIMENSIONS))
        if self.tolerance is not None and not 0.0 <= self.tolerance <= 0.5:
            raise InputError(
                "a tolerance cannot be below zero" if self.tolerance < 0 else "out of range",
                field="claim.tolerance",
                found=self.tolerance,
                expected="0 to 50 percent",
            )

    @property
    def dimension(self) -> str:
        """Dimension of the value."""
        return CLAIM_DIMENSIONS[self.quantity]
