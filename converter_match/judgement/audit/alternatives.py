"""Assumptions under which a dealer's number may have come about, each by its name.

An alternative changes what a figure rests on, never the figure itself. One that does not apply to
a case (no site, no driveline) is not there.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields, replace
from itertools import permutations

from converter_match.components.converter import Converter
from converter_match.components.machine import Load
from converter_match.components.tyre import CIRCUMFERENCE_FACTOR, Tyre, tyre_size
from converter_match.judgement.audit import words
from converter_match.judgement.audit.case import Case
from converter_match.judgement.sizing.size import with_capacity_factor
from converter_match.notes import Note
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
    words : Note
        What was assumed otherwise.
    group : str
        Two of one group exclude each other.
    case : Case
        The case under this assumption alone.
    changes : tuple of str
        Fields of the case that it changes.
    sibling : Converter or None
        The converter that was mixed up with this one.
    """

    name: str
    words: Note
    group: str
    case: Case
    changes: tuple[str, ...]
    sibling: Converter | None = None

    def on(self, other: Alternative) -> Case | None:
        """Return the case under this assumption and another; None where they do not combine."""
        if self.group == other.group:
            return None
        both = set(self.changes) & set(other.changes)
        if not both:
            return replace(other.case, **{name: getattr(self.case, name) for name in self.changes})
        siblings = (self.sibling,) if self.sibling else ()
        again = (item for item in alternatives(other.case, siblings) if item.name == self.name)
        return next((item.case for item in again), None)


def alternatives(case: Case, siblings: Iterable[Converter] = ()) -> tuple[Alternative, ...]:
    """Return every named alternative that applies to a case.

    Parameters
    ----------
    case : Case
    siblings : iterable of Converter
        Other converters of the library, with whose torque ratio this one may have been mixed up.
    """
    return (
        *_of_engine(case),
        *_of_capacity(case),
        *_of_driveline(case),
        *_of_machine(case),
        *_of_siblings(case, siblings),
    )


def _otherwise(
    case: Case,
    name: str,
    group: str,
    note: Note,
    other: Case,
    sibling: Converter | None = None,
) -> Alternative:
    names = [field.name for field in fields(Case)]
    changes = tuple(key for key in names if getattr(other, key) is not getattr(case, key))
    return Alternative(
        name=name, words=note, group=group, case=other, changes=changes, sibling=sibling
    )


def _of_engine(case: Case) -> Iterator[Alternative]:
    engine, say = case.engine, words.ALTERNATIVES.note
    deducted = " and ".join(
        (["accessories"] if engine.accessories else [])
        + (["implement pumps"] if case.hydraulic_torque else [])
    )
    if engine.rating_basis == "gross" and deducted:
        note = say("gross-torque-given", deducted=deducted)
        bare = engine.replace(accessories=())
        other = replace(case, engine=bare, hydraulic_torque=0.0)
        yield _otherwise(case, "gross-torque", "basis", note, other)
    elif engine.rating_basis == "net":
        note = say("gross-torque-typical", factor=GROSS_OVER_NET)
        gross = engine.replace(torque=engine.torque * GROSS_OVER_NET)
        yield _otherwise(case, "gross-torque", "basis", note, replace(case, engine=gross))
    if engine.accessories and (case.hydraulic_torque or engine.rating_basis == "net"):
        name = "accessories-left-out"
        bare = engine.replace(accessories=())
        yield _otherwise(case, name, "basis", say(name), replace(case, engine=bare))
    if case.hydraulic_torque:
        name = "pumps-left-out"
        yield _otherwise(case, name, "basis", say(name), replace(case, hydraulic_torque=0.0))
    if case.site is not None and abs(case.effect.torque_factor - 1.0) > 1e-9:
        name = "no-site-correction"
        yield _otherwise(case, name, "site", say(name), replace(case, site=None))


def _of_capacity(case: Case) -> Iterator[Alternative]:
    say = words.ALTERNATIVES.note
    for name, factor in (("k-unit-lbf-ft", 1.0 / _UNIT), ("k-unit-n-m", _UNIT)):
        other = with_capacity_factor(case.converter, factor)
        yield _otherwise(case, name, "capacity", say(name), replace(case, converter=other))
    for printed, read in permutations(REFERENCE_SPEEDS, 2):
        other = with_capacity_factor(case.converter, (printed / read) ** 2)
        name = f"reference-speed-{printed}-as-{read}"
        note = say("reference-speed", printed=printed, read=read)
        yield _otherwise(case, name, "capacity", note, replace(case, converter=other))


def _of_driveline(case: Case) -> Iterator[Alternative]:
    line, say = case.driveline, words.ALTERNATIVES.note
    if line is None:
        return
    gears = tuple(gear.replace(efficiency=1.0, drag=None) for gear in line.gears)
    stages = tuple(replace(stage, efficiency=1.0) for stage in line.stages)
    name = "mechanical-efficiency-left-out"
    lossless = line.replace(gears=gears, stages=stages)
    yield _otherwise(case, name, "efficiency", say(name), replace(case, driveline=lossless))
    for k, stage in enumerate(line.stages):
        rest = line.replace(stages=(*line.stages[:k], *line.stages[k + 1 :]))
        note = say("stage-missing", stage=stage.name, ratio=stage.ratio)
        name = f"stage-missing-{stage.name}"
        yield _otherwise(case, name, "ratio", note, replace(case, driveline=rest))


def _of_machine(case: Case) -> Iterator[Alternative]:
    machine, say = case.machine, words.ALTERNATIVES.note
    if machine is not None and isinstance(machine.running_gear, Tyre):
        tyre = machine.running_gear
        free = _free_radius(tyre)
        if free is not None and abs(free / tyre.rolling_radius - 1.0) > 1e-6:
            name = "free-tyre-radius"
            note = say(name, difference=free / tyre.rolling_radius - 1.0)
            other = machine.replace(running_gear=tyre.replace(rolling_radius=free))
            yield _otherwise(case, name, "radius", note, replace(case, machine=other))
    if machine is not None and machine.payload > 0.0:
        load: Load = "empty" if case.load == "laden" else "laden"
        note = say("other-load", other=load, load=case.load)
        yield _otherwise(case, f"{load}-machine", "load", note, replace(case, load=load))
    if case.surface is not None and case.surface.traction is not None:
        name = "grip-left-out"
        bare = case.surface.replace(traction=None)
        yield _otherwise(case, name, "grip", say(name), replace(case, surface=bare))


def _free_radius(tyre: Tyre) -> float | None:
    if tyre.size:
        return 0.5 * tyre_size(tyre.size).free_diameter
    if tyre.construction is None:
        return None
    # Rolling circumference / free diameter, ETRTO (second-hand).
    return tyre.rolling_radius * math.pi / CIRCUMFERENCE_FACTOR[tyre.construction]


def _of_siblings(case: Case, siblings: Iterable[Converter]) -> Iterator[Alternative]:
    own = case.converter
    low, high = own.domain
    if own.stator == "none" or not low <= 0.0 <= high:
        return
    mu = float(own.torque_ratio_at(0.0))
    if mu <= 1.0:
        return
    seen = {round(mu, 4)}
    for sibling in siblings:
        if sibling.stator != own.stator or not sibling.domain[0] <= 0.0 <= sibling.domain[1]:
            continue
        its = float(sibling.torque_ratio_at(0.0))
        if its <= 1.0 or round(its, 4) in seen:
            continue
        seen.add(round(its, 4))
        # The same shape, from the sibling's stall torque ratio down to 1.
        curve = 1.0 + (own.torque_ratio - 1.0) * (its - 1.0) / (mu - 1.0)
        try:
            mixed = own.replace(torque_ratio=curve)
        except ValueError:  # more efficiency than there is: nobody printed that
            continue
        note = words.ALTERNATIVES.note("sibling", other=its, sibling=sibling.id, own=mu)
        name = f"sister-{sibling.id}"  # scripts rely on it
        yield _otherwise(case, name, "sibling", note, replace(case, converter=mixed), sibling)
