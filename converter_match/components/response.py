"""How fast an engine's torque is there when it is asked for: a limit of its response.

A part of the full-load torque is there at once; the rest, for which the turbocharger has to spin up
or the fuel limiter waits for air, follows as a first-order rise,

    T(t) = T_full (s + (1 - s) (1 - exp(-t / tau))),

from the moment at which full throttle is asked of an engine that ran at light load. A share s of 1
is an ideal engine.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType

from converter_match.components.base import require_positive
from converter_match.errors import InputError


@dataclass(frozen=True)
class EngineResponse:
    """A limit of the engine's response.

    Parameters
    ----------
    share : float
        Of the torque before loads that is there at once, above 0 and at most 1.
    time : float
        Time constant of the rise of the rest [s].
    typical : bool
        Whether the two are usual ones of the engine's aspiration, and not its own.

    Raises
    ------
    InputError
        If a number is out of range.
    """

    share: float
    time: float
    typical: bool = False

    def __post_init__(self) -> None:
        if not 0.0 < self.share <= 1.0:
            raise InputError(
                "out of range",
                field="response.share",
                found=self.share,
                expected="a share above 0 and at most 1",
            )
        require_positive(self.time, "response.time", "a time above zero, s")

    @property
    def lost_time(self) -> float:
        """Time of full torque that is lost each time it is asked for [s], ``(1 - s) tau``.

        The integral of what is missing of the torque, over the torque.
        """
        return (1.0 - self.share) * self.time

    def torque_factor(self, time: float) -> float:
        """Return the share of the full-load torque that is there after a time [s].

        Examples
        --------
        >>> round(EngineResponse(share=0.6, time=1.0).torque_factor(1.0), 3)
        0.853
        """
        return 1.0 - (1.0 - self.share) * math.exp(-max(time, 0.0) / self.time)


# Common practice, no source: what turbocharged diesels of mobile machines show at working speeds.
# Older ones and large ones are slower, those with more than one charger or variable vanes faster.
TYPICAL = MappingProxyType(
    {
        "naturally-aspirated": (1.0, 0.1),
        "turbocharged": (0.6, 0.8),
        "turbocharged-aftercooled": (0.6, 0.8),
    }
)


def typical_response(aspiration: str | None, source: str) -> EngineResponse:
    """Return the usual response of engines of an aspiration.

    Parameters
    ----------
    aspiration : str or None
    source : str
        The engine, for the message.

    Raises
    ------
    InputError
        If the aspiration is not known, or there is no usual response of it.
    """
    known = None if aspiration is None else TYPICAL.get(aspiration)
    if known is None:
        raise InputError(
            "a usual response is known by the aspiration only",
            source=source,
            field="aspiration",
            found=aspiration,
            expected=" | ".join(TYPICAL),
            hint="give the share and the time",
        )
    return EngineResponse(*known, typical=True)
