"""Assumptions under which a dealer's number may have come about, each by its name.

An alternative changes what a figure rests on, never the figure itself. One that does not apply to
a case (no site, no driveline) is not there.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from converter_match.components.converter import Converter
from converter_match.components.tyre import CIRCUMFERENCE_FACTOR, Tyre, tyre_size
from converter_match.judgement.audit.case import Case
from converter_match.judgement.sizing.size import with_capacity_factor
from converter_match.units import to_si

# Speeds at which makers print the primary torque [rpm]: common practice, no source.
REFERENCE_SPEEDS = (1000, 1700, 2000)
# Gross over net torque of a diesel whose accessories are not listed: common practice, no source.
GROSS_OVER_NET = 1.06
# The one unit's number read as the other's: capacity goes with K^-2.
_UNIT = (to_si(1.0, "rpm/sqrt(lbf.ft)", "k_factor") / to_si(1.0, "rpm/sqrt(N.m)", "k_factor")) ** 2


@dataclass(frozen=True, eq=False, kw_only=True)
class Alternative:
    """One thing that may have been assumed otherwise.

    Parameters
    ----------
    name : str
        Stable.
    words : str
    group : str
        Two of one group exclude each other.
    case : Case
        The case under this assumption alone.
    changes : tuple of str
        Fields of the case that it changes.
    sister : Converter or None
        The converter that was mixed up with this one.
    """

    name: str
    words: str
    group: str
    case: Case
    changes: tuple[str, ...]
    sister: Converter | None = None

    def on(self, other: Alternative) -> Case | None:
        """Return the case under this assumption and another; None where they do not combine."""
        if self.group == other.group:
            return None
        both = set(self.changes) & set(other.changes)
        if not both:
            return replace(other.case, **{name: getattr(self.case, name) for name in self.changes})
        again = [item for item in alternatives(other.case, (self.sister,) if self.sister else ())
                 if item.name == self.name]  # fmt: skip
        return again[0].case if again else None


def alternatives(case: Case, sisters: Iterable[Converter] = ()) -> tuple[Alternative, ...]:
    """Return every named alternative that applies to a case.

    Parameters
    ----------
    case : Case
    sisters : iterable of Converter
        Of the library, with whose torque ratio this one may have been mixed up.
    """
    found: list[Alternative] = []

    def add(name: str, group: str, words: str, sister: Converter | None = None, **changes: object
            ) -> None:  # fmt: skip
        found.append(
            Alternative(
                name=name,
                words=words,
                group=group,
                case=replace(case, **changes),  # type: ignore[arg-type]
                changes=tuple(changes),
                sister=sister,
            )
        )

    _of_engine(case, add)
    for factor, words in (
        (1.0 / _UNIT, "K in rpm/sqrt(N.m) read as rpm/sqrt(lbf.ft)"),
        (_UNIT, "K in rpm/sqrt(lbf.ft) read as rpm/sqrt(N.m)"),
    ):
        name = "k-unit-lbf-ft" if factor > 1.0 else "k-unit-n-m"
        add(name, "capacity", words, converter=with_capacity_factor(case.converter, factor))
    for printed in REFERENCE_SPEEDS:
        for read in REFERENCE_SPEEDS:
            if printed != read:
                add(
                    f"reference-speed-{printed}-as-{read}",
                    "capacity",
                    f"primary torque at {printed} rpm read as at {read} rpm",
                    converter=with_capacity_factor(case.converter, (printed / read) ** 2),
                )
    _of_wheels(case, add)
    _of_sisters(case, sisters, add)
    return tuple(found)


def _of_engine(case: Case, add: Callable[..., None]) -> None:
    engine = case.engine
    deducted = " and ".join(
        (["accessories"] if engine.accessories else [])
        + (["implement pumps"] if case.hydraulic_torque else [])
    )
    if engine.rating_basis == "gross" and deducted:
        add(
            "gross-torque", "basis", f"gross torque instead of net: {deducted} not deducted",
            engine=engine.replace(accessories=()), hydraulic_torque=0.0,
        )  # fmt: skip
    elif engine.rating_basis == "net":
        add(
            "gross-torque", "basis",
            f"gross torque instead of net (taken as {GROSS_OVER_NET} times the net one, common "
            "practice)",
            engine=engine.replace(torque=engine.torque * GROSS_OVER_NET),
        )  # fmt: skip
    if engine.accessories and (case.hydraulic_torque or engine.rating_basis == "net"):
        add(
            "accessories-left-out", "basis", "accessories left out",
            engine=engine.replace(accessories=()),
        )  # fmt: skip
    if case.hydraulic_torque:
        add("pumps-left-out", "basis", "implement pumps left out", hydraulic_torque=0.0)
    if case.site is not None and abs(case.effect.torque_factor - 1.0) > 1e-9:
        add("no-site-correction", "site", "no site correction: the engine's reference air",
            site=None)  # fmt: skip


def _of_wheels(case: Case, add: Callable[..., None]) -> None:
    line, machine = case.driveline, case.machine
    if line is not None:
        gears = tuple(gear.replace(efficiency=1.0, drag=None) for gear in line.gears)
        stages = tuple(replace(stage, efficiency=1.0) for stage in line.stages)
        add(
            "mechanical-efficiency-left-out", "efficiency",
            "mechanical efficiency and drag of the driveline left out",
            driveline=line.replace(gears=gears, stages=stages),
        )  # fmt: skip
        for k, stage in enumerate(line.stages):
            rest = (*line.stages[:k], *line.stages[k + 1 :])
            add(
                f"stage-missing-{stage.name}", "ratio",
                f"overall ratio without the {stage.name} ({stage.ratio:g})",
                driveline=line.replace(stages=rest),
            )  # fmt: skip
    if machine is not None and isinstance(machine.running_gear, Tyre):
        tyre = machine.running_gear
        free = _free_radius(tyre)
        if free is not None and abs(free / tyre.rolling_radius - 1.0) > 1e-6:
            add(
                "free-tyre-radius", "radius",
                "free radius of the tyre instead of the rolling one "
                f"({100 * (free / tyre.rolling_radius - 1):+.1f} %)",
                machine=machine.replace(running_gear=tyre.replace(rolling_radius=free)),
            )  # fmt: skip
    if machine is not None and machine.payload > 0.0:
        other = "empty" if case.load == "laden" else "laden"
        add(f"{other}-machine", "load", f"{other} machine instead of {case.load}", load=other)
    if case.surface is not None and case.surface.traction is not None:
        add("grip-left-out", "grip", "grip of the ground left out",
            surface=case.surface.replace(traction=None))  # fmt: skip


def _free_radius(tyre: Tyre) -> float | None:
    if tyre.size:
        return 0.5 * tyre_size(tyre.size).free_diameter
    if tyre.construction is None:
        return None
    # Rolling circumference / free diameter, ETRTO (second-hand).
    return tyre.rolling_radius * math.pi / CIRCUMFERENCE_FACTOR[tyre.construction]


def _of_sisters(case: Case, sisters: Iterable[Converter], add: Callable[..., None]) -> None:
    own = case.converter
    low, high = own.domain
    if own.stator == "none" or not low <= 0.0 <= high:
        return
    mu = float(own.torque_ratio_at(0.0))
    if mu <= 1.0:
        return
    seen = {round(mu, 4)}
    for sister in sisters:
        if sister.stator != own.stator or not sister.domain[0] <= 0.0 <= sister.domain[1]:
            continue
        its = float(sister.torque_ratio_at(0.0))
        if its <= 1.0 or round(its, 4) in seen:
            continue
        seen.add(round(its, 4))
        # The same shape, from the sister's stall torque ratio down to 1.
        curve = 1.0 + (own.torque_ratio - 1.0) * (its - 1.0) / (mu - 1.0)
        try:
            mixed = own.replace(torque_ratio=curve)
        except ValueError:  # more efficiency than there is: nobody printed that
            continue
        add(
            f"sister-{sister.id}", "sister",
            f"stall torque ratio {its:.2f} of the sister {sister.id!r} instead of {mu:.2f}",
            sister, converter=mixed,
        )  # fmt: skip
