"""What the maker of an engine allows. SI units."""

from __future__ import annotations

from dataclasses import dataclass

from converter_match.components.base import require_positive


@dataclass(frozen=True, kw_only=True)
class EngineLimits:
    """What the engine's maker allows.

    Parameters
    ----------
    speed, torque, power : float, optional
        Highest speed, and highest torque and power at the flywheel [rad/s], [N.m], [W]: a match is
        held against them.
    unread : tuple of (str, str)
        Those of the three that are given and cannot be read as a number with its unit, with what
        stands there: they are not checked.
    others : tuple of (str, str)
        Limits of other kinds, as given: kept, and not checked.
    """

    speed: float | None = None
    torque: float | None = None
    power: float | None = None
    unread: tuple[tuple[str, str], ...] = ()
    others: tuple[tuple[str, str], ...] = ()

    def __post_init__(self) -> None:
        for name in ("speed", "torque", "power"):
            require_positive(getattr(self, name), f"limits.{name}")
