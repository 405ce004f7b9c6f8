"""A pair, or several on one shaft, with a load that is not a vehicle."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from converter_match.answer.block import Block, Facts, Heading, NoValue
from converter_match.answer.noted import Answer
from converter_match.components.load import LoadLine, ShaftLoad
from converter_match.errors import InputError
from converter_match.judgement.conditions.response import response_notes
from converter_match.judgement.load import words
from converter_match.judgement.load.hanging import Hanging, hanging, hanging_blocks
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.match.spread import decisive_blocks
from converter_match.notes import Note
from converter_match.physics.dynamics.drive_train import DriveTrain
from converter_match.physics.dynamics.dynamics import drive_train
from converter_match.physics.load.equilibria import LoadEquilibria, load_equilibria
from converter_match.physics.load.run_up import LONGEST, RunUp, run_up_from_rest
from converter_match.physics.load.shaft import Unit

_SPEED, _TORQUE = "angular_speed", "torque"
# Below this a converter at steady work is mostly a heater (common practice, no source).
_IN_SLIP = 0.7

_LINES = (
    Heading("layer", "layer"),
    Heading("radius", "radius", "diameter"),
    Heading("torque_at_rest", "load at rest", _TORQUE),
    Heading("breakaway_torque", "breakaway", _TORQUE),
    Heading("stall_torque", "turbine at stall", _TORQUE),
    Heading("pull_at_stall", "pull at stall", "force"),
    Heading("starts", "starts"),
    Heading("turbine_speed", "turbine", _SPEED),
    Heading("load_speed", "load shaft", _SPEED),
    Heading("rope_speed", "rope", "rope_speed"),
)
_POINTS = (
    Heading("layer", "layer"),
    Heading("turbine_speed", "turbine", _SPEED),
    Heading("load_speed", "load shaft", _SPEED),
    Heading("rope_speed", "rope", "rope_speed"),
    Heading("turbine_torque", "turbine torque", _TORQUE),
    Heading("output_power", "output", "power"),
    Heading("heat", "heat", "power"),
    Heading("efficiency", "efficiency"),
    Heading("stable", "stable"),
    Heading("reached", "from rest"),
)
_UNIT = (
    Heading("speed_ratio", "speed ratio"),
    Heading("engine_speed", "engine", _SPEED),
    Heading("input_torque", "input torque", _TORQUE),
)
_OF_A_WINCH = ("layer", "radius", "pull_at_stall", "rope_speed")


@dataclass(frozen=True, eq=False)
class CarriedLine:
    """One line of a load: what it needs, and every point at which it runs.

    Parameters
    ----------
    line : LoadLine
    found : LoadEquilibria
    """

    line: LoadLine
    found: LoadEquilibria

    @property
    def turbine_speed(self) -> float | None:
        """Speed that is come to from rest [rad/s]; None where there is none."""
        row = self.found.reached
        return None if row is None else float(self.found.speed[row])

    @property
    def called(self) -> str:
        """What the line is called in a sentence."""
        return words.WHOLE if self.line.layer is None else words.LAYER.format(layer=self.line.layer)


@dataclass(frozen=True, eq=False, repr=False)
class LoadResult(Answer):
    """A load on the turbine shaft, or on the shaft of several turbines; SI units.

    Parameters
    ----------
    load : ShaftLoad
    carried : tuple of CarriedLine
        One, or one for each layer of rope.
    run_up : RunUp or None
        Of the last line: that of the most torque.
    hanging : tuple of Hanging
        Of a load that is hoisted: what holds each layer, and how it is lowered.
    notes : tuple of Note
    alternatives : tuple of LoadResult
        With each converter that an estimated one may be.
    alone : bool
        Whether it is on the turbine shaft of the match, and not on that of several.
    """

    load: ShaftLoad
    carried: tuple[CarriedLine, ...]
    run_up: RunUp | None
    hanging: tuple[Hanging, ...]
    notes: tuple[Note, ...]
    alternatives: tuple[LoadResult, ...] = ()
    alone: bool = True

    @property
    def starts(self) -> bool:
        """Whether it starts from rest: a winch with every layer."""
        return all(each.found.starts for each in self.carried)

    def decisive(self) -> Facts:
        """Return what a decision rests on, of the line of the most torque; None without."""
        last = self.carried[-1]
        row = last.found.reached
        speed, heat = last.turbine_speed, None
        if row is not None:
            heat = sum(float(unit.heat[row]) for unit in last.found.states.units)
        stall = last.found.stall_torque
        return (
            (Heading("stall_torque", "turbine at stall", _TORQUE), _known(stall)),
            (Heading("turbine_speed", "turbine speed", _SPEED), speed),
            (Heading("heat", "heat", "power"), heat),
        )

    def blocks(self) -> tuple[Block, ...]:
        """Return what the load needs, where it runs, how it starts, and how it is held."""
        of = self.load
        own = tuple((Heading(key, ""), getattr(of, key)) for key in ("id", "name", "source"))
        facts: Facts = (
            *own,
            (Heading("fingerprint", ""), of.fingerprint()),
            (Heading("kind", ""), of.kind),
            (Heading("ratio", "turbine turns for one of the load's shaft"), of.ratio),
            (Heading("efficiency", "efficiency, turbine to load"), of.efficiency),
        )
        title = words.TITLE.format(name=of.name, kind=words.KINDS[of.kind])
        return (
            Block(
                "load",
                title=title,
                facts=facts,
                columns=self._columns(_LINES),
                rows=tuple(self._line(each) for each in self.carried),
                rows_key="lines",
                detail=self,
            ),
            self._points(),
            *self._run_up(),
            *hanging_blocks(self.hanging),
            *decisive_blocks(self, words.ESTIMATE),
        )

    def _columns(self, heads: Sequence[Heading]) -> tuple[Heading, ...]:
        """Return headings; what belongs to a rope stands in text of a winch only."""
        if not self.alone:
            heads = [head.said(head.words.replace("turbine", "shaft")) for head in heads]
            heads = [head.said("load") if head.words == "load shaft" else head for head in heads]
        if self.load.kind == "winch":
            return tuple(heads)
        return tuple(head.said("") if head.key in _OF_A_WINCH else head for head in heads)

    def _line(self, each: CarriedLine) -> tuple[object, ...]:
        line, found, of = each.line, each.found, self.load
        speed = each.turbine_speed
        shaft = None if speed is None else speed / of.ratio
        pull = rope = None
        if line.radius is not None:
            pull = _known(found.stall_torque * of.ratio * of.efficiency / line.radius)
            rope = None if shaft is None else shaft * line.radius
        none = NoValue(words.NOT_REACHED)
        return (
            line.layer, line.radius, float(line(0.0)), line.breakaway, _known(found.stall_torque),
            pull, found.starts, none if speed is None else speed, shaft, rope,
        )  # fmt: skip

    def _points(self) -> Block:
        several = len(self.carried[0].found.states.units) > 1
        own: list[Heading] = []
        for head in _UNIT:
            if not several:
                own.append(head)
                continue
            own.append(Heading(f"{head.key}s", "", head.amount))
            for k in range(len(self.carried[0].found.states.units)):
                own.append(Heading("", f"{head.words} {k + 1}", head.amount))
        rows = []
        for each in self.carried:
            for row in range(each.found.speed.size):
                rows.append((*self._point(each, row), *_unit_cells(each.found, row)))
        return Block(
            "load.equilibria",
            title=words.EQUILIBRIA,
            columns=(*self._columns(_POINTS), *own),
            rows=tuple(rows),
            rows_key="",
        )

    def _point(self, each: CarriedLine, row: int) -> tuple[object, ...]:
        found, line = each.found, each.line
        speed = float(found.speed[row])
        torque = float(found.states.torque[row])
        shaft = speed / self.load.ratio
        given = sum(float(unit.input_power[row]) for unit in found.states.units)
        output = torque * speed
        return (
            line.layer, speed, shaft, None if line.radius is None else shaft * line.radius, torque,
            output, given - output, output / given if given > 0.0 else None,
            bool(found.stable[row]), row == found.reached,
        )  # fmt: skip

    def _run_up(self) -> tuple[Block, ...]:
        run = self.run_up
        if run is None or run.time is None:
            return ()
        facts: Facts = (
            (Heading("layer", ""), self.carried[-1].line.layer),
            (Heading("starts_after", "begins to turn after", "time"), run.starts_at or 0.0),
            (Heading("time", "takes", "time"), run.time),
            (Heading("engine_work", "engine work", "energy"), run.engine_work),
            (Heading("load_work", "work on the load", "energy"), run.load_work),
            (Heading("heat", "heat into the oil", "energy"), run.heat),
        )
        return (Block("load.run_up", title=words.RUN_UP, facts=facts, detail=run.transient),)


def _unit_cells(found: LoadEquilibria, row: int) -> list[object]:
    cells: list[object] = []
    for head in _UNIT:
        values = [float(getattr(unit, head.key)[row]) for unit in found.states.units]
        cells += values if len(values) == 1 else [values, *values]
    return cells


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def over_load(
    match: MatchResult, load: ShaftLoad, units: Sequence[Unit] | None = None
) -> LoadResult:
    """Put a load on the turbine shaft of a pair, or on the shaft of several.

    Parameters
    ----------
    match : MatchResult
    load : ShaftLoad
    units : sequence of Unit, optional
        Pairs that drive one shaft, on which the load is; that of the match alone without.

    Returns
    -------
    LoadResult

    Raises
    ------
    InputError
        If a hanging load pulls the turbine backwards, for which the converter has no data.
    """
    alone = units is None
    driving = units or (Unit(match.supply, match.converter),)
    carried = tuple(CarriedLine(line, load_equilibria(driving, line)) for line in load.lines())
    notes = [*load.notes, words.note("load-at-full-throttle")]
    for each in carried:
        refuse_backwards(each, driving, load)
        notes += _line_notes(each, driving, load)
    run_up, said = _timed(match, load, carried[-1], alone=alone)
    notes += said
    hangs: tuple[Hanging, ...] = ()
    if load.hoists and alone:
        hangs, said = hanging(match, load, [each.line for each in carried])
        notes += said
    elif load.hoists:
        notes.append(words.note("lowering-not-for-several"))
    if load.kind == "winch":
        notes.append(words.note("rope-under-tension"))
    if load.hoists:
        notes.append(words.note("load-hangs"))
    others = tuple(over_load(other, load) for other in match.alternatives if alone)
    return LoadResult(load, carried, run_up, hangs, tuple(dict.fromkeys(notes)), others, alone)


def refuse_backwards(each: CarriedLine, units: Sequence[Unit], load: ShaftLoad) -> None:
    """Refuse a load that drives the turbine where nothing is known of the converter.

    Raises
    ------
    InputError
        Naming the load, and what it may pull.
    """
    lowering, stall = each.line.lowering, each.found.stall_torque
    if lowering is None or not lowering > stall:
        return
    without = [unit.converter for unit in units if unit.converter.domain[0] >= 0.0]
    if without:
        raise InputError(
            f"{each.called} pulls the turbine backwards with {lowering:.0f} N.m, against "
            f"{stall:.0f} N.m at stall, and the converter's data begin at speed ratio 0",
            source=load.id,
            field="winch.line_pull",
            expected=f"at most {100 * stall / lowering:.0f} % of it, more ratio, or a converter "
            "file with rows below speed ratio 0",
        )


def _line_notes(each: CarriedLine, units: Sequence[Unit], load: ShaftLoad) -> list[Note]:
    """Say of one line what there is to be wary of."""
    found, line, called = each.found, each.line, each.called
    notes = []
    if not np.isfinite(found.stall_torque):
        return [words.note("load-start-not-known", load=_first(called))]
    if not found.starts:
        given, needed = found.stall_torque, line.breakaway
        notes.append(
            words.note("load-does-not-start", load=_first(called), needed=needed, given=given)
        )
        if line.lowering is not None and line.lowering > given:
            lowering = line.lowering
            notes.append(
                words.note("load-not-held", load=_first(called), needed=lowering, given=given)
            )
            if not found.stable.any():
                notes.append(words.note("load-falls", load=_first(called)))
    elif found.runs_off:
        fastest = min(min(unit.fastest for unit in units), line.last_speed)
        notes.append(words.note("load-runs-off", load=_first(called), speed=fastest))
    elif found.reached is None:
        notes.append(words.note("load-unsteady", load=_first(called)))
    forward = found.stable & (found.speed > 0.0)
    if forward.sum() > 1:
        count = float(forward.sum())
        notes.append(words.note("load-several-speeds", load=_first(called), count=count))
    if found.reached is not None:
        row = found.reached
        heat = sum(float(unit.heat[row]) for unit in found.states.units)
        given = sum(float(unit.input_power[row]) for unit in found.states.units)
        if heat > (1.0 - _IN_SLIP) * given:
            efficiency = 1.0 - heat / given
            notes.append(
                words.note("load-in-slip", load=_first(called), efficiency=efficiency, heat=heat)
            )
    fallen = np.flatnonzero(~found.stable & (found.speed < 0.0))
    if fallen.size and line.radius is not None:
        speed = abs(float(found.speed[fallen[-1]])) / load.ratio * line.radius
        notes.append(words.note("load-runs-away", load=_first(called), speed=speed))
    return notes


def _first(called: str) -> str:
    return called[0].upper() + called[1:]


def _timed(
    match: MatchResult, load: ShaftLoad, each: CarriedLine, *, alone: bool
) -> tuple[RunUp | None, list[Note]]:
    """Return the start from rest of the line of the most torque, and what is said of it."""
    speed = each.turbine_speed
    if speed is None:
        return None, []
    train = _train(match, load) if alone else "it is followed for one engine and converter only"
    if isinstance(train, str):
        return None, [words.note("run-up-not-timed", why=train)]
    run = run_up_from_rest(train, each.line, speed)
    if run is None:
        return None, [words.note("run-up-too-long", longest=LONGEST)]
    said = [*response_notes(match.engine, None), words.note("run-up-from-idle")]
    said += [] if run.time is not None else [words.note("run-up-not-seen")]
    return run, said


def _train(match: MatchResult, load: ShaftLoad) -> DriveTrain | str:
    """Return what turns, or what is missing to know it."""
    if load.driven_inertia is None:
        return "the load file gives no inertia"
    try:
        return drive_train(match.engine, match.supply, match.converter, load.driven_inertia)
    except InputError as error:
        return f"{error.source} gives no {error.field}"
