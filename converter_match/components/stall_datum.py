"""What is known of a converter whose stall alone is known.

"Stalls at 2400 rpm behind 300 lbf.ft, torque ratio 2.2": `converter_estimate` makes a converter of
it.
"""

from __future__ import annotations

from dataclasses import dataclass

from converter_match.components.base import require_positive
from converter_match.errors import InputError

USUAL_TORQUE_RATIO = (1.8, 2.6)
"""Stall torque ratio of usual single-stage converters; common practice, no source."""
POSSIBLE_TORQUE_RATIO = (1.0, 4.0)
"""Beyond, no single-stage converter is known; common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class StallDatum:
    """What is known of a converter's stall, SI units.

    Parameters
    ----------
    engine_speed : float
        Speed of the impeller at stall [rad/s].
    input_torque : float
        Torque that it absorbs there [N.m]: the net torque of the engine.
    torque_ratio : (float, float), optional
        Least and most of the stall torque ratio, the same number twice where it is known;
        `USUAL_TORQUE_RATIO` where it is not.
    coupling_speed_ratio : float, optional
        That of the shapes where it is not given.

    Raises
    ------
    InputError
        For a speed or torque that is not above zero, a range that is upside down, a torque ratio
        that no converter has, a coupling speed ratio outside 0 .. 1.
    """

    engine_speed: float
    input_torque: float
    torque_ratio: tuple[float, float] | None = None
    coupling_speed_ratio: float | None = None

    def __post_init__(self) -> None:
        require_positive(self.engine_speed, "stall_datum.engine_speed")
        require_positive(self.input_torque, "stall_datum.input_torque")
        at = self.coupling_speed_ratio
        if at is not None and not 0.0 < at < 1.0:
            raise InputError(
                "the coupling speed ratio must lie between 0 and 1",
                field="coupling_speed_ratio",
                found=at,
            )
        if self.torque_ratio is None:
            return
        low, high = POSSIBLE_TORQUE_RATIO
        for value in self.torque_ratio:
            require_positive(value, "stall_datum.torque_ratio")
            if not low < value <= high:
                raise InputError(
                    "no known shape of a converter has this torque ratio at stall",
                    field="stall_datum.torque_ratio",
                    found=f"{value:.4g}",
                    expected=f"above {low:g} and at most {high:g}: turbine torque / impeller "
                    "torque with the turbine held",
                )
        if self.torque_ratio[0] > self.torque_ratio[1]:
            raise InputError(
                "the range is upside down",
                field="stall_datum.torque_ratio",
                found=f"{self.torque_ratio[0]:.4g} .. {self.torque_ratio[1]:.4g}",
                expected="least before most",
            )

    @property
    def capacity(self) -> float:
        """Capacity coefficient at stall, T / omega^2 [N.m/(rad/s)^2]."""
        return self.input_torque / self.engine_speed**2

    @property
    def span(self) -> tuple[float, float]:
        """Least and most of the stall torque ratio, as given or as usual."""
        return self.torque_ratio or USUAL_TORQUE_RATIO
