"""One size for two required matches: a converter has one diameter, and two wishes may part.

Each match has a capacity factor of its own, ``C_wanted / C(nu)`` (`judgement.sizing.size`). Between
the two, the larger of both misses is least where they are alike: there the common size is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from converter_match.answer.block import Block, Heading, NoValue
from converter_match.answer.noted import Answer
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.components.site import Site
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.sizing.size import Size
from converter_match.judgement.sizing.words import WORDS
from converter_match.notes import Note
from converter_match.physics.engine.site_correction import site_effect
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.solver import match

# Two speeds closer than this are called the same: no sheet is better (common practice, no source).
ALIKE = 0.01
# Factors tried between the two, and once more between the best and its neighbours.
_TRIED = 401

_TARGET = (
    Heading("wanted", "required"),
    Heading("engine_speed", "required speed", "angular_speed"),
    Heading("reached", "with the common size", "angular_speed"),
    Heading("miss", "miss", "weight_share", "+.1f"),
    Heading("own_diameter", "its own size", "diameter"),
)


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class CommonSize(Answer):
    """The size that comes closest to several required matches at once. SI units.

    Parameters
    ----------
    targets : tuple of Size
        Each with the size of its own.
    capacity_factor, diameter_ratio : float or None
        On the capacity, and the diameter, of the given converter; None where a target has no size,
        or none lies in the range of diameters.
    diameter : float or None
        Profile diameter [m], where the given converter's is known.
    reached : tuple of float or None
        Engine speed that each target gets [rad/s]; None where the engine does not get there.
    notes : tuple of Note
        A limit where the targets contradict each other.
    """

    targets: tuple[Size, ...]
    capacity_factor: float | None = None
    diameter_ratio: float | None = None
    diameter: float | None = None
    reached: tuple[float | None, ...] = ()
    notes: tuple[Note, ...] = ()

    @property
    def misses(self) -> tuple[float | None, ...]:
        """Reached over required speed less one, for each target."""
        return tuple(
            None if speed is None else speed / target.engine_speed - 1.0
            for target, speed in zip(self.targets, self.reached, strict=False)
        )

    @property
    def possible(self) -> bool:
        """Whether one size gives every target within a hundredth."""
        known = [abs(miss) for miss in self.misses if miss is not None]
        return len(known) == len(self.targets) and max(known) <= ALIKE

    def blocks(self) -> tuple[Block, ...]:
        """Return the common size, and what each target gets of it."""
        nothing = NoValue("none")
        facts = (
            (Heading("possible", ""), self.possible),
            (Heading("capacity_factor", "capacity factor", form=".4f"), self.capacity_factor),
            (Heading("diameter_ratio", ""), self.diameter_ratio),
            (Heading("profile_diameter", "profile diameter", "diameter"), self.diameter or nothing),
        )
        reached = self.reached or (None,) * len(self.targets)
        misses = self.misses or (None,) * len(self.targets)
        rows = tuple(
            (target.wanted, target.engine_speed, speed, miss, target.diameter)
            for target, speed, miss in zip(self.targets, reached, misses, strict=True)
        )
        return (
            Block("", title="One size for both", facts=facts, columns=_TARGET, rows=rows,
                  rows_key="targets"),
        )  # fmt: skip


def common_size(
    engine: Engine,
    converter: Converter,
    targets: Sequence[Size],
    *,
    ratios: tuple[float, float] | None = None,
    site: Site | None = None,
    hydraulic_torque: float = 0.0,
) -> CommonSize:
    """Return the size of the smallest largest miss of several targets.

    Parameters
    ----------
    engine, converter : Engine, Converter
        As the targets were sized with.
    targets : sequence of Size
        From `judgement.sizing.size`; at least two.
    ratios : tuple of float, optional
        Smallest and largest diameter that may be, to that of the converter.
    site, hydraulic_torque
        As in `judgement.sizing.size.size_for_speed`.

    Raises
    ------
    InputError
        If there is one target only.
    """
    if len(targets) < 2:
        raise InputError(
            "one target has its own size", field="targets", found=len(targets), expected="two"
        )
    given = tuple(targets)
    own = [item.capacity_factor for item in given if item.capacity_factor is not None]
    if len(own) < len(given):
        return CommonSize(targets=given, notes=(WORDS.note("no-common-size"),))
    supply = engine_supply(
        engine,
        torque_factor=site_effect(engine, site).torque_factor,
        hydraulic_torque=hydraulic_torque,
    )
    low, high = np.log(min(own)), np.log(max(own))
    if ratios is not None:
        least, most = (5.0 * np.log(ratio) for ratio in ratios)  # C ~ D^5
        low, high = (float(np.clip(end, least, most)) for end in (low, high))

    def speeds(factors: FloatArray) -> FloatArray:
        return np.stack(
            [
                match(supply, converter, item.speed_ratio, capacity_factor=factors)
                .from_idle()
                .engine_speed
                for item in given
            ]
        )

    wanted = np.array([item.engine_speed for item in given])[:, np.newaxis]

    def best(start: float, end: float) -> tuple[FloatArray, int]:
        factors = np.exp(np.linspace(start, end, _TRIED))
        miss = np.max(np.abs(speeds(factors) / wanted - 1.0), axis=0)
        return factors, int(np.argmin(np.where(np.isnan(miss), np.inf, miss)))

    factors, row = best(low, high)
    beside = factors[[max(row - 1, 0), min(row + 1, _TRIED - 1)]]
    factors, row = best(*(float(end) for end in np.log(beside)))
    factor = float(factors[row])
    reached = tuple(
        float(speed) if np.isfinite(speed) else None for speed in speeds(factors[[row]])[:, 0]
    )
    took = converter.profile_diameter
    found = CommonSize(
        targets=given,
        capacity_factor=factor,
        diameter_ratio=factor**0.2,
        diameter=None if took is None else took * factor**0.2,
        reached=reached,
    )
    return _said(found)


def _said(found: CommonSize) -> CommonSize:
    """Return a common size with what is said of it."""
    code = "targets-agree" if found.possible else "targets-contradict"
    known = [abs(miss) for miss in found.misses if miss is not None]
    values: dict[str, Any] = {"alike": ALIKE}
    if code == "targets-contradict" and len(known) == len(found.targets):
        values["miss"] = max(known)
    elif code == "targets-contradict":
        code = "no-common-match"
        values = {}
    return CommonSize(**(vars(found) | {"notes": (WORDS.note(code, **values),)}))
