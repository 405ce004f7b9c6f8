"""Readings that could be taken before the decision, and what they take."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Protocol

from converter_match.components.base import require_choice
from converter_match.components.surface import Surface
from converter_match.errors import InputError
from converter_match.study.losses import COSTS, Cost
from converter_match.study.measurement import KINDS, Measurement, Stands, check_possible
from converter_match.study.names import refer

USUAL: Mapping[str, tuple[float, Cost]] = MappingProxyType(
    {
        "stall-speed": (0.007, "minutes"),
        "speed-on-grade": (0.02, "hours"),
        "top-speed": (0.01, "minutes"),
        "pull": (0.02, "hours"),
        "time-to-speed": (0.03, "minutes"),
        "engine-torque": (0.01, "dear"),
        "weight": (0.005, "minutes"),
        "rolling-radius": (0.005, "minutes"),
        "fuel-rate": (0.015, "dear"),
        "temperature-rise": (0.1, "minutes"),
        "k-factor": (0.01, "dear"),
        "torque-ratio": (0.01, "dear"),
    }
)
"""Standard deviation of instrument and repeat, as a share of what would be read, and what a reading
takes (common practice, no source)."""


LEAST_DEVIATION: Mapping[str, float] = MappingProxyType(
    {"temperature-rise": 1.5, "time-to-speed": 0.2}
)
"""No usual reading is better than this, SI (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class PossibleReading:
    """A reading that could be taken.

    Parameters
    ----------
    item : Measurement
        Without a value.
    cost : {"minutes", "hours", "dear"}
        Class of what it takes.
    share : float or None
        Its standard deviation as a share of what it would show; None for that of the item.
    least : float
        Its standard deviation at least, where it is such a share, SI.

    Raises
    ------
    InputError
        If it has a value, or the cost is not known.
    """

    item: Measurement
    cost: Cost
    share: float | None = None
    least: float = 0.0

    def __post_init__(self) -> None:
        require_choice(self.cost, "possible.cost", COSTS)
        if self.item.value is not None:
            raise InputError(
                "a reading that was taken is a [[measurement]]",
                field="possible.value",
                found=self.item.given or self.item.value,
                expected="the key left out",
            )


@dataclass(frozen=True, kw_only=True)
class NotPossible:
    """Usual readings that cannot be taken here.

    Parameters
    ----------
    quantity : str
        A key of `measurement.KINDS`.
    combination : str
        Id of the combination on which they cannot be taken.
    """

    quantity: str
    combination: str

    def __post_init__(self) -> None:
        require_choice(self.quantity, "possible.quantity", tuple(KINDS))


class _Rows(Protocol):
    """What a study says of possible readings."""

    @property
    def possible(self) -> tuple[PossibleReading, ...]:
        """Those it adds, or gives another deviation or cost."""

    @property
    def not_possible(self) -> tuple[NotPossible, ...]:
        """Those it takes out."""


def check_all_possible(
    study: _Rows, combinations: Sequence[Stands], surface: Surface | None
) -> None:
    """Refuse possible readings that their combinations cannot give, or that are listed twice.

    Parameters
    ----------
    study : Study
    combinations : sequence of Combination
    surface : Surface or None
        Of the duty.

    Raises
    ------
    InputError
        Naming the row.
    """
    by_id = {item.id: item for item in combinations}
    for row, one in enumerate(study.possible):
        place = f"possible[{row}]"
        refer(one.item.combination, list(by_id), f"{place}.combination", "combination")
        check_possible(one.item, by_id[one.item.combination], surface, place)
        if any(one.item.use == before.item.use for before in study.possible[:row]):
            raise InputError(
                "is listed already", field=f"{place}.quantity", found=one.item.quantity,
                expected="one row for each reading",
            )  # fmt: skip
    for out in study.not_possible:
        refer(out.combination, list(by_id), "possible.combination", "combination")
