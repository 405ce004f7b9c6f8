"""What a wrong decision costs, and what a reading costs, in one unit that the study chooses."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from converter_match.errors import InputError

Cost = Literal["minutes", "hours", "dear"]
COSTS: tuple[Cost, ...] = get_args(Cost)
"""Classes of what a reading takes, the cheapest first."""
COST_SHARES: Mapping[str, float] = MappingProxyType({"minutes": 0.002, "hours": 0.02, "dear": 0.2})
"""Cost of a reading as a share of what a good order is worth (common practice, no source)."""

NIL = 0.01
"""Below this share of a missed order knowing everything counts as worth nothing (common practice,
no source)."""
_SUREST = 0.999
_ROUNDING = 0.005


@dataclass(frozen=True, kw_only=True)
class Losses:
    """Losses of a study, in any one unit.

    To order is better than not to where the required criteria hold together with at least the
    probability ``wrong_order / (wrong_order + missed_order)``: so a share of draws that is asked
    for before ordering says how much worse a wrong order is than a missed one.

    Parameters
    ----------
    wrong_order : float
        Ordered, and a required criterion does not hold.
    missed_order : float
        Not ordered, though all would have held.
    minutes, hours, dear : float
        Cost of a reading of each class.

    Raises
    ------
    InputError
        If a loss is not finite or below zero, or a missed order costs nothing.
    """

    wrong_order: float
    missed_order: float
    minutes: float
    hours: float
    dear: float

    def __post_init__(self) -> None:
        for name, value in (("wrong_order", self.wrong_order), *self.costs.items()):
            if not (math.isfinite(value) and value >= 0.0):
                raise InputError(
                    "a loss cannot be below zero",
                    field=f"losses.{name}",
                    found=value,
                    expected="zero or more, in the unit of the other losses",
                )
        if not (math.isfinite(self.missed_order) and self.missed_order > 0.0):
            raise InputError(
                "with nothing lost by not ordering nothing would ever be ordered",
                field="losses.missed_order",
                found=self.missed_order,
                expected="above zero, in the unit of the other losses",
            )

    @classmethod
    def given(
        cls,
        order_probability: float,
        *,
        wrong_order: float | None = None,
        missed_order: float | None = None,
        **costs: float,
    ) -> Losses:
        """Return losses with what is not given by the order threshold and common practice.

        Parameters
        ----------
        order_probability : float
            Share of draws asked for before ordering; above 99.9 % it is counted as 99.9 %, since
            certainty would make a missed order worth nothing.
        wrong_order, missed_order : float, optional
            The second is 1 without.
        **costs : float
            Those of `COSTS` that are given.

        Examples
        --------
        >>> losses = Losses.given(0.9)
        >>> round(losses.wrong_order, 6), losses.missed_order, losses.hours
        (9.0, 1.0, 0.02)
        """
        missed = 1.0 if missed_order is None else missed_order
        asked = min(order_probability, _SUREST)
        wrong = asked / (1.0 - asked) * missed if wrong_order is None else wrong_order
        paid = {name: share * missed for name, share in COST_SHARES.items()} | costs
        return cls(wrong_order=wrong, missed_order=missed, **paid)

    @property
    def costs(self) -> Mapping[Cost, float]:
        """Cost of a reading by its class, the cheapest class first."""
        return {"minutes": self.minutes, "hours": self.hours, "dear": self.dear}

    @property
    def threshold(self) -> float:
        """Probability from which on ordering is the better choice."""
        return self.wrong_order / (self.wrong_order + self.missed_order)

    def gain(self, holds: NDArray[np.bool_]) -> NDArray[np.float64]:
        """Return what ordering is worth above not ordering, in each draw.

        Parameters
        ----------
        holds : ndarray of bool, shape (n,)
        """
        return np.where(holds, self.missed_order, -self.wrong_order)

    def nil(self, worth: float) -> bool:
        """Return whether a worth is too small for any decision: below `NIL` of a missed order."""
        return worth <= NIL * self.missed_order

    def check_threshold(self, order_probability: float) -> None:
        """Refuse losses by which another probability would be asked for than the study asks for.

        Raises
        ------
        InputError
            Naming both.
        """
        if abs(self.threshold - min(order_probability, _SUREST)) > _ROUNDING:
            raise InputError(
                "contradicts order_probability: by these losses an order is the better choice from "
                f"{100 * self.threshold:.3g} % on",
                field="losses.wrong_order",
                found=self.wrong_order,
                expected=f"{100 * order_probability:.6g} %, or one of the two left out",
            )
