"""Candidates beside the present machine: figure by figure, with sign and size."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal, NamedTuple

import numpy as np

from converter_match.answer.block import Block, Heading, NoValue, Quantity
from converter_match.answer.noted import PartOfAnswer
from converter_match.judgement.decision import words
from converter_match.judgement.decision.gear_effort import GearShare, gear_shares
from converter_match.judgement.haul.result import RouteResult
from converter_match.judgement.match.duty import DutyResult
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.verdict.criteria_match import braking_power
from converter_match.judgement.verdict.criteria_wheels import creep_effort, speed_on
from converter_match.judgement.verdict.measure import TIMES, figure_value, unit_of
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.judgement.verdict.words import grade_words
from converter_match.judgement.wheels.result import TractiveResult
from converter_match.notes import Note
from converter_match.study.study import PRESENT, Study

Change = Literal["better", "worse", "same", "other"]

# Below this share two figures are called the same: no such data are better than that.
SAME = 0.01


@dataclass(frozen=True, kw_only=True)
class ComparedFigure:
    """One figure of every combination in one condition, SI units.

    Parameters
    ----------
    key, title : str
    dimension : str
    better : int
        1 where more is better, -1 where less is, 0 where neither is.
    condition : str
    values : tuple of (str, float or None)
        Combination id -> value; None where it is not known or there is no such thing.
    family : str
        Of the figures of one family (a speed on each grade) only the largest change is told.
    spans : tuple of (str, (float, float))
        Combination id -> least and most, of those whose converter is an estimate.
    """

    key: str
    title: str
    dimension: str
    better: int
    condition: str
    values: tuple[tuple[str, float | None], ...]
    family: str = ""
    spans: tuple[tuple[str, tuple[float, float]], ...] = ()

    def __getitem__(self, combination: str) -> float | None:
        return dict(self.values)[combination]

    def difference(self, combination: str) -> float | None:
        """Return value less present value; None where one is not known."""
        own, present = self[combination], dict(self.values).get(PRESENT)
        return None if own is None or present is None else own - present

    def share(self, combination: str) -> float | None:
        """Return the difference as a share of the present value."""
        difference, present = self.difference(combination), dict(self.values).get(PRESENT)
        return None if difference is None or not present else difference / abs(present)

    def judged(self, combination: str) -> Change | Literal[""]:
        """Return ``better``, ``worse``, ``same``, ``other`` (no direction) or empty (not known)."""
        share = self.share(combination)
        if share is None:
            return ""
        if abs(share) < SAME:
            return "same"
        return "other" if not self.better else "better" if share * self.better > 0 else "worse"

    def shown(self, combination: str, *, change: bool = False) -> Quantity | NoValue | None:
        """Return the value as it is shown, with its change, if asked for."""
        value = self[combination]
        if value is None:
            return None
        # A share of a temperature says nothing, and today's share of itself neither.
        compared = change and combination != PRESENT and self.dimension != "temperature"
        return figure_value(value, self.dimension, self.share(combination) if compared else None)

    def shown_span(self, combination: str) -> Quantity | None:
        """Return what an estimated converter leaves open; None where it is none."""
        span = dict(self.spans).get(combination)
        if span is None or not np.all(np.isfinite(span)):
            return None
        like = figure_value(span[0], self.dimension)
        return replace(like, value=span) if isinstance(like, Quantity) else None

    def change(self, combination: str, *, where: bool = False) -> Note:
        """Return in words what changes, and in which condition if asked for."""
        before, after = self.shown(PRESENT), self.shown(combination, change=True)
        assert before is not None
        assert after is not None
        said = {"title": self.title} | ({"condition": self.condition} if where else {})
        code = "change-in" if where else "change"
        return words.CHANGES.note(code, before=before, after=after, **said)

    def row(self) -> tuple[Any, ...]:
        """Return the row of plain data."""
        return (
            self.key,
            self.title,
            "ratio" if self.dimension == TIMES else self.dimension,
            unit_of(self.dimension),
            {1: "more", -1: "less", 0: None}[self.better],
            self.condition,
            dict(self.values),
            {name: self.difference(name) for name, _ in self.values},
            {name: self.share(name) for name, _ in self.values},
            dict(self.spans),
        )


_FIGURE = tuple(
    Heading(key, "")
    for key in (
        *("key", "title", "dimension", "unit", "better", "condition"),
        *("values", "difference", "share", "estimate"),
    )
)
GEARS = (
    Heading("combination", "combination"),
    Heading("condition", "condition"),
    Heading("gear", "gear"),
    Heading("least_share", "min.", "share"),
    Heading("most_share", "max.", "share"),
)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Comparison(PartOfAnswer):
    """Every figure in every condition.

    Parameters
    ----------
    names : tuple of (str, str)
        Id and name of every combination.
    figures : tuple of ComparedFigure
    gears : tuple of (str, str, tuple of GearShare)
        Combination, condition, and the effort of each gear both have.
    looked_at : tuple of str
        Names of the conditions, in order, also of one that there is no figure in.
    """

    names: tuple[tuple[str, str], ...]
    figures: tuple[ComparedFigure, ...]
    gears: tuple[tuple[str, str, tuple[GearShare, ...]], ...]
    looked_at: tuple[str, ...] = ()

    @property
    def conditions(self) -> tuple[str, ...]:
        """Names of the conditions, in order."""
        return tuple(dict.fromkeys((*self.looked_at, *(item.condition for item in self.figures))))

    def in_condition(self, condition: str) -> tuple[ComparedFigure, ...]:
        """Return the figures of one condition."""
        return tuple(item for item in self.figures if item.condition == condition)

    def changes(
        self, combination: str, judged: Change, *, condition: str | None = None
    ) -> tuple[Note, ...]:
        """Return each figure that is ``better``, ``worse`` or ``other`` in words, largest first.

        Where a figure goes the same way in several conditions, or for several grades, the largest
        change is told.

        Parameters
        ----------
        combination : str
        judged : {"better", "worse", "other"}
        condition : str, optional
            Only this one.
        """
        largest: dict[str, tuple[float, ComparedFigure]] = {}
        for item in self.figures:
            share = item.share(combination)
            if item.judged(combination) != judged or share is None:
                continue
            if condition not in (None, item.condition):
                continue
            family = item.family or item.key
            if family not in largest or abs(share) > largest[family][0]:
                largest[family] = abs(share), item
        several = condition is None and len(self.conditions) > 1
        ranked = sorted(largest.values(), key=lambda pair: -pair[0])
        return tuple(item.change(combination, where=several) for _, item in ranked)

    def blocks(self) -> tuple[Block, ...]:
        """Return the figures, condition by condition, and the effort by gear."""
        by_gear = (
            (name, condition, [vars(item) for item in gears])
            for name, condition, gears in self.gears
        )
        heads = (*GEARS[:2], Heading("gears", ""))
        return (
            Block(
                "comparison",
                columns=_FIGURE,
                rows=tuple(item.row() for item in self.figures),
                rows_key="figures",
                in_text=False,
            ),
            Block(
                "comparison",
                columns=heads,
                rows=tuple(by_gear),
                rows_key="effort_by_gear",
                in_text=False,
            ),
            *(self.condition_table(condition) for condition in self.conditions),
        )

    def condition_table(self, condition: str, names: Mapping[str, str] | None = None) -> Block:
        """Return the figures of one condition, a column for each combination.

        Parameters
        ----------
        condition : str
        names : mapping of str to str, optional
            Combination id -> head of its column; the id by default.
        """
        ids = [name for name, _ in self.names]
        rows: list[tuple[Any, ...]] = []
        for item in self.in_condition(condition):
            rows.append((item.title, *(item.shown(name, change=True) for name in ids)))
            spans = [item.shown_span(name) for name in ids]
            if any(spans):
                rows.append((words.LEFT_OPEN, *spans))
        heads = [Heading(name, (names or {}).get(name, name)) for name in ids]
        columns = (Heading("figure", "figure"), *heads)
        return Block("", title=condition, columns=columns, rows=tuple(rows), in_plain=False)

    def gear_table(self, names: Mapping[str, str]) -> Block:
        """Return the effort of each gear as a share of today's, least and most.

        Parameters
        ----------
        names : mapping of str to str
            Combination id -> head of its column.
        """
        shares: dict[tuple[str, str], dict[str, Quantity]] = {}
        for name, condition, gears in self.gears:
            for item in gears:
                by = shares.setdefault((condition, item.gear), {})
                by[name] = Quantity((item.least, item.most), "share")
        others = [name for name, _ in self.names if name != PRESENT]
        return Block(
            "",
            title="Effort of each gear as a share of the present effort in the same gear, "
            "minimum and maximum "
            "over the road speeds that both reach",
            columns=(*GEARS[1:3], *(Heading(name, names[name]) for name in others)),
            rows=tuple((*at, *(by.get(name) for name in others)) for at, by in shares.items()),
            in_plain=False,
        )

    def gear_rows(self) -> Block:
        """Return the effort by gear, a row for each."""
        rows = tuple(
            (name, condition, item.gear, item.least, item.most)
            for name, condition, gears in self.gears
            for item in gears
        )
        return Block("effort_by_gear", columns=GEARS, rows=rows, rows_key="")


def compare(study: Study, outcomes: Sequence[tuple[Outcome, ...]]) -> Comparison:
    """Put the figures of every combination side by side.

    Parameters
    ----------
    study : Study
    outcomes : sequence of tuple of Outcome
        One tuple for each combination, one outcome for each condition.
    """
    figures: list[ComparedFigure] = []
    gears = []
    for row, condition in enumerate(study.conditions):
        column = [items[row] for items in outcomes]
        known = [{entry.key: entry for entry in _figures(study, item)} for item in column]
        others = [_alternatives(study, item) for item in column]
        for key in dict.fromkeys(key for entries in known for key in entries):
            entry = next(entries[key] for entries in known if key in entries)
            values = tuple(
                (item.combination.id, entries[key].value if key in entries else None)
                for item, entries in zip(column, known, strict=True)
            )
            if any(value is not None for _, value in values):
                figures.append(
                    ComparedFigure(
                        key=key,
                        title=entry.title,
                        dimension=entry.dimension,
                        better=entry.better,
                        condition=condition.name,
                        values=values,
                        family=entry.family,
                        spans=tuple(
                            (name, (min(value, *more), max(value, *more)))
                            for (name, value), each in zip(values, others, strict=True)
                            if value is not None and (more := each.get(key))
                        ),
                    )
                )
        present = column[0] if column[0].combination.id == PRESENT else None
        if present is not None:
            for item in column[1:]:
                shares = gear_shares(item, present)
                if shares:
                    gears.append((item.combination.id, condition.name, shares))
    return Comparison(
        names=tuple((items[0].combination.id, items[0].combination.name) for items in outcomes),
        figures=tuple(figures),
        gears=tuple(gears),
        looked_at=tuple(item.name for item in study.conditions),
    )


def _alternatives(study: Study, item: Outcome) -> dict[str, list[float]]:
    """Return the figures with each converter that an estimate may be, where they are known."""
    values: dict[str, list[float]] = {}
    for other in item.alternatives:
        for entry in _figures(study, other):
            if entry.value is not None:
                values.setdefault(entry.key, []).append(entry.value)
    return values


class _Entry(NamedTuple):
    """A figure of one combination in one condition."""

    key: str
    title: str
    dimension: str
    better: int
    value: float | None
    family: str = ""


# Figure, dimension, and whether more is better (1) or less (-1).
_AVERAGES = (
    ("mean_output_power", "power", 1),
    ("mean_efficiency", "ratio", 1),
    ("span", TIMES, 1),
    ("mean_specific_fuel", "specific_fuel", -1),
)
_DUTY = (
    ("mean_output_power", "power", 1),
    ("mean_efficiency", "ratio", 1),
    ("work_efficiency", "ratio", 1),
    ("mean_heat", "power", -1),
    ("mean_fuel", "fuel_rate", -1),
    ("mean_specific_fuel", "specific_fuel", -1),
)


def _entry(
    name: str, dimension: str, better: int, value: float | None, key: str = "", **said: str
) -> _Entry:
    """Return an entry whose title stands in the words of this room."""
    title = words.FIGURES[name].format(**said)
    family = name if {"grade", "level"} & set(said) else ""
    return _Entry(key or name, title, dimension, better, value, family)


def _of(thing: object, name: str) -> float | None:
    """Return an attribute of a point or row that may not be there."""
    value = getattr(thing, name, None)
    return None if value is None else float(value)


def _figures(study: Study, item: Outcome) -> Iterator[_Entry]:
    """Yield the figures of one combination in one condition; none where nothing is known."""
    if item.missing:
        return
    match, engine = item.match, item.combination.engine
    stall, coupling = match.stall, match.coupling
    yield _entry("stall_speed", "angular_speed", 0, _of(stall, "engine_speed"))
    yield _entry("stall_turbine_torque", "torque", 1, _of(stall, "turbine_torque"))
    yield _entry("stall_heat", "power", -1, _of(stall, "heat"))
    yield _entry("coupling_engine_speed", "angular_speed", 0, _of(coupling, "engine_speed"))
    yield _entry("net_power", "power", 1, item.greatest_power)
    yield _entry("usable_power", "power", 1, item.usable_power(0.8))
    yield _entry("high_idle", "angular_speed", 0, engine.high_idle)
    yield _entry("creep", "force", -1, creep_effort(item))
    yield _entry("braking", "power", 1, braking_power(item))
    yield from _on_average(match)
    if item.duty is not None:
        yield from _over_duty(item.duty)
    if item.tractive is not None:
        yield from _at_wheels(study, item, item.tractive)
    for run in item.routes:
        if run is not None:
            yield from _on_route(run)


def _on_average(match: MatchResult) -> Iterator[_Entry]:
    """Yield the indices of the working range, from each level of efficiency."""
    for index in match.indices:
        level = f"{100 * index.level:.0f}"
        for name, dimension, better in _AVERAGES:
            value = _of(index, name)
            yield _entry(name, dimension, better, value, f"{name}_{level}", level=level)


def _over_duty(duty: DutyResult) -> Iterator[_Entry]:
    for name, dimension, better in _DUTY:
        value = _of(duty, name)
        yield _entry(f"duty_{name}", dimension, better, value)


def _at_wheels(study: Study, item: Outcome, wheels: TractiveResult) -> Iterator[_Entry]:
    pulls = [
        row.greatest_drawbar
        for row in wheels.gears
        if row.direction == "forward" and row.greatest_drawbar
    ]
    yield _entry("greatest_pull", "force", 1, max(pulls, default=None))
    start = wheels.steepest_start
    yield _entry("steepest_start", "weight_share", 1, _of(start, "steepest_start"))
    yield _entry("top_speed", "velocity", 1, wheels.top_speed.speed)
    for grade in sorted(set(study.duty.grades) - {0.0}):
        key, said = f"speed_on_{100 * grade:g}", grade_words(grade)
        yield _entry("speed_on", "velocity", 1, speed_on(item, grade), key, grade=said)
    steady = study.duty.continuous_grade
    if steady is not None:
        row = next(row for row in wheels.grades if row.grade == steady)
        yield _entry("continuous_heat", "power", -1, row.heat, grade=grade_words(steady))


def _on_route(run: RouteResult) -> Iterator[_Entry]:
    key, name = run.route.id, run.route.name
    arrives = run.standstill is None
    time, fuel = (run.time, run.fuel) if arrives else (None, None)
    yield _entry("time", "time", -1, time, f"time_{key}", route=name)
    yield _entry("fuel", "mass", -1, fuel, f"fuel_{key}", route=name)
    hottest = run.totals.hottest
    if hottest is not None:
        yield _entry("oil", "temperature", -1, float(hottest[0]), f"oil_{key}", route=name)


def effort_lines(outcome: Outcome) -> tuple[np.ndarray, np.ndarray] | None:
    """Return road speed [m/s] and greatest effort [N] of an outcome; None where not known."""
    if outcome.tractive is None or outcome.missing:
        return None
    cover = outcome.tractive.envelope
    return cover.speed, cover.force
