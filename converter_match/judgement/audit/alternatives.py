"""Assumptions under which a dealer's number may have come about, each by its name.

An alternative changes what a figure rests on, never the figure itself. One that does not apply to
a case (no site, no driveline) is not there.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields, replace
from itertools import permutations

from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.components.machine import Load, Machine
from converter_match.components.tyre import CIRCUMFERENCE_FACTOR, Tyre, tyre_size
from converter_match.judgement.audit import words
from converter_match.judgement.audit.case import Case
from converter_match.judgement.sizing.size import with_capacity_factor
from converter_match.notes import Note
from converter_match.physics.stall.settling import REFERENCE_OIL, density_factor
from converter_match.study.doubts import CONFUSED_UNITS, Claim, Misreading
from converter_match.units import to_si

# Gross over net torque of a diesel whose accessories are not listed: common practice, no source.
GROSS_OVER_NET = 1.06
# Speed ratio of a machine that creeps while its stall is read, brakes slipping, and transmission
# oil of a cold start [K]: common practice, no source.
CREEP = (0.05, 0.10)
COLD_OIL = 293.15
# Two engines of one displacement to this share are one engine in two settings.
_SAME_DISPLACEMENT = 0.005
_SAME = 1e-9
# A number as it was typed gives its unit to this, whatever was rounded on the way.
_SAME_UNIT = 1e-6
_NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?")


@dataclass(frozen=True, kw_only=True)
class Others:
    """What else may have been read in place of a combination's own sheets.

    Parameters
    ----------
    siblings : tuple of Converter
        Of the same family, named by the study or the user.
    ratings : tuple of Engine
        Other power settings of the engine, named by the study or the user.
    """

    siblings: tuple[Converter, ...] = ()
    ratings: tuple[Engine, ...] = ()


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
    """

    name: str
    words: Note
    group: str
    case: Case
    changes: tuple[str, ...]

    def on(self, other: Alternative, claim: Claim, others: Others) -> Case | None:
        """Return the case under this assumption and another; None where they do not combine."""
        if self.group == other.group:
            return None
        both = set(self.changes) & set(other.changes)
        if not both:
            return replace(other.case, **{name: getattr(self.case, name) for name in self.changes})
        again = (i for i in alternatives(other.case, claim, others) if i.name == self.name)
        return next((item.case for item in again), None)


def alternatives(case: Case, claim: Claim, others: Others | None = None) -> tuple[Alternative, ...]:
    """Return every named alternative that applies to a case.

    Parameters
    ----------
    case : Case
    claim : Claim
        What it says of its units decides which can have been mixed up.
    others : Others, optional
        Nothing without.
    """
    named = others or Others()
    return (
        *_of_engine(case),
        *_of_ratings(case, named.ratings),
        *_of_capacity(case),
        *_of_reading(case, claim),
        *_of_driveline(case),
        *_of_machine(case),
        *_of_siblings(case, named.siblings),
        *_of_units(case, claim),
    )


def _otherwise(case: Case, name: str, group: str, note: Note, other: Case) -> Alternative:
    names = [field.name for field in fields(Case)]
    changes = tuple(key for key in names if getattr(other, key) is not getattr(case, key))
    return Alternative(name=name, words=note, group=group, case=other, changes=changes)


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
    elif case.working_torque:
        name = "hydraulics-working"
        note = say(name, torque=case.working_torque)
        working = replace(case, hydraulic_torque=case.working_torque)
        yield _otherwise(case, name, "basis", note, working)
    if case.site is not None and abs(case.effect.torque_factor - 1.0) > _SAME:
        name = "no-site-correction"
        yield _otherwise(case, name, "site", say(name), replace(case, site=None))


def _of_ratings(case: Case, ratings: Iterable[Engine]) -> Iterator[Alternative]:
    for one in case.misreadings:
        if one.kind == "engine" and one.id == case.engine.id and isinstance(one.component, Engine):
            name = _slug(one.read, one.given)
            # Only the curve is another; what a pair with it has taken off the engine stays off.
            other = case.engine.replace(speed=one.component.speed, torque=one.component.torque)
            yield _unit(case, name, "rating", "engine", one, replace(case, engine=other))
    for rating in ratings:
        if rating.id == case.engine.id:
            continue
        note = words.ALTERNATIVES.note("other-rating", engine=rating.name)
        name = f"other-rating-{rating.id}"
        yield _otherwise(case, name, "rating", note, replace(case, engine=rating))


def same_displacement(engine: Engine, others: Iterable[Engine]) -> tuple[Engine, ...]:
    """Return other engines that may be other power settings of one, by their displacement."""
    own = engine.displacement
    if own is None:
        return ()
    return tuple(
        other
        for other in others
        if other.displacement is not None
        and abs(other.displacement / own - 1.0) <= _SAME_DISPLACEMENT
    )


def _of_capacity(case: Case) -> Iterator[Alternative]:
    say, own = words.ALTERNATIVES.note, case.converter
    for one in case.misreadings:
        if one.kind == "converter" and one.id == own.id and one.capacity_factor is not None:
            other = with_capacity_factor(own, one.capacity_factor)
            name = f"reference-speed-{one.read.split()[0]}"
            note = say("reference-speed", printed=one.given, read=one.read)
            yield _otherwise(case, name, "capacity", note, replace(case, converter=other))
    denser = with_capacity_factor(own, float(density_factor(COLD_OIL)))
    note = say("cold-oil", cold=COLD_OIL, warm=REFERENCE_OIL)
    yield _otherwise(case, "cold-oil", "oil", note, replace(case, converter=denser))


def _of_reading(case: Case, claim: Claim) -> Iterator[Alternative]:
    if not claim.quantity.startswith("stall-"):
        return
    for nu in CREEP:
        if nu <= case.converter.domain[1]:
            note = words.ALTERNATIVES.note("crept", speed_ratio=nu)
            name = f"crept-at-{nu:.2f}"
            yield _otherwise(case, name, "creep", note, replace(case, creep=nu))


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
    for one in case.misreadings:
        if machine is None or one.kind != "machine" or one.id != machine.id:
            continue
        if isinstance(one.component, Machine):
            read = one.component
            other = machine.replace(mass_empty=read.mass_empty, payload=read.payload)
            name = _slug(one.read, one.given)
            yield _unit(case, name, "mass", "machine", one, replace(case, machine=other))
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
    """Yield the case with the sheet of each other converter of the family."""
    for sibling in siblings:
        if sibling == case.converter:
            continue
        note = words.ALTERNATIVES.note("sibling", sibling=sibling.name)
        name = f"sister-{sibling.id}"  # scripts rely on it
        yield _otherwise(case, name, "capacity", note, replace(case, converter=sibling))


def _of_units(case: Case, claim: Claim) -> Iterator[Alternative]:
    """Yield the case with a unit of the claim itself taken for another of the same name."""
    for given, read, factor in _confused(claim.given, claim.value, claim.dimension):
        note = words.ALTERNATIVES.note("claim-unit", given=given, read=read)
        other = replace(case, printed=case.printed * factor)
        yield _otherwise(case, f"claim-{_slug(given, read)}", "unit", note, other)
    if claim.speed:
        for given, read, factor in _confused(claim.speed_given, claim.speed, "velocity"):
            note = words.ALTERNATIVES.note("claim-speed", given=given, read=read)
            other = replace(case, speed_read=case.speed_read / factor)
            yield _otherwise(case, f"speed-{_slug(given, read)}", "speed", note, other)


def _confused(text: str, value: float, dimension: str) -> Iterator[tuple[str, str, float]]:
    """Yield (unit printed, unit meant, the one over the other) of a number as it was typed."""
    number = _NUMBER.search(text)
    if number is None or not float(number[0]):
        return
    typed = value / float(number[0])
    units = CONFUSED_UNITS.get(dimension, ())
    for given, read in permutations(units, 2):
        one = to_si(1.0, given, dimension)
        if abs(typed / one - 1.0) < _SAME_UNIT:
            yield given, read, one / to_si(1.0, read, dimension)


def _unit(
    case: Case, name: str, group: str, sheet: str, one: Misreading, other: Case
) -> Alternative:
    note = words.ALTERNATIVES.note("sheet-unit", sheet=sheet, given=one.given, read=one.read)
    return _otherwise(case, name, group, note, other)


def _slug(read: str, given: str) -> str:
    return "-for-".join(re.sub(r"[^a-z0-9]+", "-", unit.casefold()) for unit in (read, given))
