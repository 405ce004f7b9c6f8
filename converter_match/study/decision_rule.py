"""What a study asks for before it says yes. SI units."""

from __future__ import annotations

import math
from dataclasses import dataclass

from converter_match.errors import InputError


@dataclass(frozen=True, kw_only=True)
class DecisionRule:
    """What probability a decision asks for; the defaults are common practice, no source.

    Parameters
    ----------
    order_probability : float
        Share of the draws in which all required criteria have to hold together for a clear yes.
    reject_probability : float
        Share below which the answer is no.

    Raises
    ------
    InputError
        If one is no share, or the second is above the first.
    """

    order_probability: float = 0.90
    reject_probability: float = 0.50

    def __post_init__(self) -> None:
        for name in ("order_probability", "reject_probability"):
            value = getattr(self, name)
            if not (math.isfinite(value) and 0.0 <= value <= 1.0):
                raise InputError(
                    "out of range",
                    field=f"decision.{name}",
                    found=f"{100 * value:.6g} %",
                    expected="0 to 100 %",
                )
        if self.reject_probability > self.order_probability:
            raise InputError(
                "contradicts order_probability: a study would say yes and no at once",
                field="decision.reject_probability",
                found=f"{100 * self.reject_probability:.6g} %",
                expected=f"at most {100 * self.order_probability:.6g} %",
            )
