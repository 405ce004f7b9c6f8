"""Converters tried on a route: which is quickest within heat and limits, and which are no worse.

Route time has no closed form in the size, so sizes are tried: a grid first, then a golden-section
search around the best that keeps the limits. Every trial is kept and shown.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from converter_match.answer.block import Block, Heading
from converter_match.answer.noted import Answer
from converter_match.answer.plain import plain
from converter_match.components.converter import SCALING_COMFORT, Converter
from converter_match.components.driveline import Driveline
from converter_match.components.engine import Engine
from converter_match.components.machine import Machine
from converter_match.components.route import Route
from converter_match.components.site import Site
from converter_match.errors import InputError
from converter_match.judgement.haul.haul import prepare
from converter_match.judgement.match.solve import solve
from converter_match.judgement.sizing.limits import TrialLimits, judged
from converter_match.judgement.sizing.size import with_capacity_factor
from converter_match.judgement.sizing.words import TRIAL_WORDS
from converter_match.notes import Note
from converter_match.physics.haul.route import run_route, totals
from converter_match.tasks.plain import digest
from converter_match.tasks.sweep import Store, sweep
from converter_match.tasks.workers import HERE, Workers
from converter_match.units import note_text

DIAMETERS = (0.9, 1.1)
# Sizes closer than this are one size to anybody who makes them; times closer than this, one time.
_FINE = 1e-3
_SAME_TIME = 1e-3
_GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0
# Names, and whether more is better.
AIMS = (("time", False), ("fuel", False), ("heat", False), ("stall_torque", True))
_COLUMNS = (
    Heading("name", "converter"),
    Heading("converter", ""),
    Heading("diameter_ratio", ""),
    Heading("profile_diameter", "", "length"),
    Heading("route_time", "route time", "time"),
    Heading("fuel", "fuel", "mass", ".3f"),
    Heading("", "heat", "energy"),
    Heading("converter_heat", "", "work"),
    Heading("stall_turbine_torque", "turbine torque at stall", "torque"),
    Heading("stall_speed", "stall speed", "angular_speed"),
    Heading("hottest_oil", "maximum oil temperature", "temperature"),
    Heading("keeps_limits", ""),
    Heading("broken", ""),
    Heading("not_known", ""),
    Heading("pareto", "Pareto-optimal"),
)


@dataclass(frozen=True, eq=False, kw_only=True)
class Trial:
    """One converter on one route. SI units; None where not known.

    Parameters
    ----------
    name : str
    converter : Converter
    diameter_ratio : float or None
        To the converter that was given, where sizes are tried.
    time : float or None
        [s]; None where the machine does not complete the route.
    fuel : float or None
        [kg].
    heat : float or None
        Into the transmission oil by the converter [J].
    stall_torque : float or None
        Of the turbine [N.m].
    stall_speed : float or None
        [rad/s].
    hottest : float or None
        Oil [K].
    broken : tuple of Note
        Limits that are not kept; the reason why there is no answer among them.
    not_known : tuple of Note
        Limits that could not be looked at.
    best : bool
        Whether no other trial that keeps the limits is at least as good in everything.
    """

    name: str
    converter: Converter
    diameter_ratio: float | None = None
    time: float | None = None
    fuel: float | None = None
    heat: float | None = None
    stall_torque: float | None = None
    stall_speed: float | None = None
    hottest: float | None = None
    broken: tuple[Note, ...] = ()
    not_known: tuple[Note, ...] = ()
    best: bool = False

    @property
    def keeps(self) -> bool:
        """Whether every limit that could be looked at is kept."""
        return not self.broken

    def row(self) -> tuple[Any, ...]:
        """Return the trial as a row of the table of trials."""
        return (
            self.name,
            self.converter.id,
            self.diameter_ratio,
            self.converter.profile_diameter,
            self.time,
            self.fuel,
            self.heat,
            self.heat,
            self.stall_torque,
            self.stall_speed,
            self.hottest,
            self.keeps,
            self.broken,
            self.not_known,
            self.best,
        )


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Trials(Answer):
    """Every converter that was tried, the quickest that keeps the limits first.

    Parameters
    ----------
    trials : tuple of Trial
    route : str
    diameters : tuple of float or None
        Lowest and highest that were allowed, as a ratio, where sizes are tried.
    """

    notes = ()
    trials: tuple[Trial, ...]
    route: str
    diameters: tuple[float, float] | None = None

    @property
    def winner(self) -> Trial | None:
        """The quickest that keeps the limits; None where none does."""
        first = self.trials[0]
        return first if first.keeps and first.time is not None else None

    @property
    def answer(self) -> tuple[Note, ...]:
        """The answer in a few sentences."""
        first = self.trials[0]
        if self.winner is None:
            code = "no-such-size" if self.diameters else "no-such-converter"
            reasons = dict.fromkeys(note for row in self.trials for note in row.broken[:1])
            return (TRIAL_WORDS.note(code, why=tuple(reasons)),)
        time = _cost(first)
        said = [TRIAL_WORDS.note("quickest", name=first.name, time=time)]
        alike = [row for row in self.trials if _cost(row) <= time * (1 + _SAME_TIME)]
        if len(alike) > 1:
            ratios = [row.diameter_ratio for row in alike if row.diameter_ratio is not None]
            which = ", ".join(row.name for row in alike[1:])
            said.append(
                TRIAL_WORDS.note(
                    "as-quick-sizes", same=_SAME_TIME, low=min(ratios), high=max(ratios)
                )
                if ratios
                else TRIAL_WORDS.note("as-quick-converters", same=_SAME_TIME, which=which)
            )
        if self.diameters and first.diameter_ratio is not None:
            said += _on_diameter(first.diameter_ratio, self.diameters)
        return tuple(said)

    def blocks(self) -> tuple[Block, ...]:
        """Return the answer, the table of trials, and what each does not keep."""
        told = (
            TRIAL_WORDS.note("of-trial", trial=row.name, what=(*row.broken, *row.not_known))
            for row in self.trials
            if row.broken or row.not_known
        )
        return (
            Block(
                "",
                facts=(
                    (Heading("route", ""), self.route),
                    (Heading("words", ""), " ".join(note_text(n, "si") for n in self.answer)),
                    (Heading("winner", ""), self.winner.name if self.winner else None),
                ),
                above=self.answer,
            ),
            Block(
                "trials",
                columns=_COLUMNS,
                rows=tuple(row.row() for row in self.trials),
                rows_key="",
                below=(TRIAL_WORDS.note("unbeaten"),),
                items=tuple(told),
            ),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return plain(self.blocks())


def _on_diameter(ratio: float, diameters: tuple[float, float]) -> list[Note]:
    """Return what has to be said of the diameter of the quickest size."""
    said = []
    edge = min(abs(ratio - end) for end in diameters)
    if edge < 1e-3 * (diameters[1] - diameters[0]):
        said.append(TRIAL_WORDS.note("at-end-of-range"))
    if abs(ratio - 1.0) > SCALING_COMFORT + 1e-9:
        change = ratio - 1.0
        said.append(TRIAL_WORDS.note("winner-stretched", change=change, comfort=SCALING_COMFORT))
    return [*said, TRIAL_WORDS.note("by-similarity")]


def try_converters(
    engine: Engine,
    converters: Iterable[tuple[str, Converter]],
    driveline: Driveline,
    machine: Machine,
    route: Route,
    *,
    limits: TrialLimits | None = None,
    site: Site | None = None,
    hydraulic_torque: float = 0.0,
    progress: Callable[[int, int], None] | None = None,
    workers: Workers = HERE,
    store: Store | None = None,
) -> Trials:
    """Run converters along a route, rank them, and mark those that no other beats in everything.

    Parameters
    ----------
    engine, driveline, machine, route : Engine, Driveline, Machine, Route
    converters : iterable of (str, Converter)
        With a name for each.
    limits : TrialLimits, optional
    site : Site, optional
    hydraulic_torque : float
        [N.m].
    progress : callable, optional
        Called with (done, of how many).
    workers : Workers
        Whoever works, the result is the same.
    store : Store, optional
        Where what comes of a converter is kept, and taken from the next time.

    Raises
    ------
    InputError
        If there is no converter, or the data of engine, driveline, machine and route do not go
        together. A converter that does not go with them is a trial that failed, and says why.
    """
    named = list(converters)
    if not named:
        raise InputError("no converters to try", field="converters", expected="at least one")
    ground = _Ground(
        engine, driveline, machine, route, limits or TrialLimits(), site, hydraulic_torque
    )

    def told(done: int, of: int, _: str) -> None:
        if progress and done:
            progress(done, of)

    pieces = [(name, None, item) for name, item in named]
    found = sweep(
        _trial, pieces, shared=ground, workers=workers, progress=told, store=store,
        keys=_keys(ground, pieces, store), names=[name for name, *_ in pieces],
    ).all()  # fmt: skip
    return _ranked(list(found), route)


def best_size(
    engine: Engine,
    converter: Converter,
    driveline: Driveline,
    machine: Machine,
    route: Route,
    *,
    diameters: tuple[float, float] = DIAMETERS,
    limits: TrialLimits | None = None,
    site: Site | None = None,
    hydraulic_torque: float = 0.0,
    steps: int = 11,
    refinements: int = 12,
    progress: Callable[[int, int], None] | None = None,
    workers: Workers = HERE,
    store: Store | None = None,
) -> Trials:
    """Return the size of a family that is shortest time along a route within heat and limits.

    Parameters
    ----------
    engine, converter, driveline, machine, route
        The converter gives the family.
    diameters : tuple of float
        Lowest and highest profile diameter, as a ratio to that of the converter.
    limits, site, hydraulic_torque, progress, workers, store
        As in `try_converters`.
    steps, refinements : int
        Sizes on the grid, and further ones around the best of them.

    Raises
    ------
    InputError
        If the range is none, or as `try_converters`.
    """
    low, high = diameters
    if not (math.isfinite(low) and math.isfinite(high) and 0.5 <= low < high <= 2.0):
        raise InputError(
            "not a range of diameters",
            field="diameters",
            found=f"{low:g} .. {high:g}",
            expected="two ratios to the present diameter, rising, within 0.5 .. 2",
        )
    if steps < 3:
        raise InputError("too few sizes", field="steps", found=steps, expected="3 or more")
    ground = _Ground(
        engine, driveline, machine, route, limits or TrialLimits(), site, hydraulic_torque
    )
    tried: dict[float, Trial] = {}
    whole = steps + refinements

    def told(done: int, _of: int, _: str) -> None:
        if progress and done:
            progress(min(len(tried) + done, whole), whole)

    def attempt(*ratios: float) -> list[float]:
        """Return what sizes cost; those that were not tried yet are tried."""
        new = [ratio for ratio in ratios if ratio not in tried]
        pieces = [
            (
                f"diameter x {ratio:.4f}",
                ratio,
                converter if ratio == 1.0 else with_capacity_factor(converter, ratio**5),
            )
            for ratio in new
        ]
        found = sweep(
            _trial, pieces, shared=ground, workers=workers, progress=told, store=store,
            keys=_keys(ground, pieces, store), names=[name for name, *_ in pieces],
        ).all()  # fmt: skip
        tried.update(zip(new, found, strict=True))
        return [_cost(tried[ratio]) for ratio in ratios]

    grid = np.linspace(low, high, steps)
    # The size that is there already, exactly, where the grid passes by it.
    if low < 1.0 < high:
        grid[int(np.argmin(np.abs(grid - 1.0)))] = 1.0
    costs = attempt(*map(float, grid))
    best = int(np.argmin(costs))
    if np.isfinite(costs[best]):
        a, b = float(grid[max(best - 1, 0)]), float(grid[min(best + 1, steps - 1)])
        c, d = b - _GOLDEN * (b - a), a + _GOLDEN * (b - a)
        while len(tried) < whole and b - a > _FINE:
            at_c, at_d = attempt(c, d)
            if at_c <= at_d:
                b, d = d, c
                c = b - _GOLDEN * (b - a)
            else:
                a, c = c, d
                d = a + _GOLDEN * (b - a)
    return _ranked(list(tried.values()), route, (low, high))


def _cost(trial: Trial) -> float:
    return trial.time if trial.keeps and trial.time is not None else math.inf


@dataclass(frozen=True, eq=False)
class _Ground:
    """What all trials share."""

    engine: Engine
    driveline: Driveline
    machine: Machine
    route: Route
    limits: TrialLimits
    site: Site | None
    hydraulic_torque: float


def _keys(
    ground: _Ground, pieces: Sequence[tuple[str, float | None, Converter]], store: Store | None
) -> list[str] | None:
    """Return what each trial depends on, beside versions; None where nothing is kept."""
    return None if store is None else [digest(ground, piece) for piece in pieces]


def _trial(ground: _Ground, piece: tuple[str, float | None, Converter]) -> Trial:
    """Try one converter."""
    name, ratio, converter = piece
    engine, driveline, machine = ground.engine, ground.driveline, ground.machine
    route, limits = ground.route, ground.limits
    trial = Trial(name=name, converter=converter, diameter_ratio=ratio)
    try:
        match = solve(engine, converter, site=ground.site, hydraulic_torque=ground.hydraulic_torque)
        ready = prepare(match, driveline, machine, route)
        run = run_route(ready, route)
    except InputError as error:
        return replace(trial, broken=(TRIAL_WORDS.note("does-not-go-together", why=str(error)),))
    whole = totals(run)
    arrives = int(whole.stuck_segment[0]) < 0
    hottest = None if whole.hottest is None else float(whole.hottest[0])
    broken, unknown = judged(match, driveline, machine, hottest, limits)
    if not arrives:
        segment = int(whole.stuck_segment[0]) + 1
        broken = (TRIAL_WORDS.note("cannot-move-on", segment=segment), *broken)
    stall = match.stall
    return replace(
        trial,
        time=float(whole.time[0]) if arrives else None,
        fuel=None if whole.fuel is None or not arrives else float(whole.fuel[0]),
        heat=float(whole.ledger.converter[0]) if arrives else None,
        stall_torque=None if stall is None else stall.turbine_torque,
        stall_speed=None if stall is None else stall.engine_speed,
        hottest=hottest,
        broken=broken,
        not_known=unknown,
    )


def pareto(values: Sequence[Sequence[float | None]], more_is_better: Sequence[bool]) -> list[bool]:
    """Return which rows no other row beats: at least as good in everything, better in something.

    A column in which any value is not known is left out: it cannot be compared.

    Parameters
    ----------
    values : sequence of rows
    more_is_better : sequence of bool
        For each column.
    """
    if not values:
        return []
    known = [k for k in range(len(more_is_better)) if all(row[k] is not None for row in values)]
    signs = [-1.0 if more_is_better[k] else 1.0 for k in known]
    cost = np.array(
        [[s * float(row[k] or 0.0) for k, s in zip(known, signs, strict=True)] for row in values]
    ).reshape(len(values), len(known))
    as_good = np.all(cost[:, np.newaxis] <= cost, axis=2)
    better = np.any(cost[:, np.newaxis] < cost, axis=2)
    beaten = np.asarray(np.any(as_good & better, axis=0))
    return [not flag for flag in beaten.tolist()]


def _ranked(
    rows: list[Trial], route: Route, diameters: tuple[float, float] | None = None
) -> Trials:
    fine = [row for row in rows if row.keeps and row.time is not None]
    flags = pareto(
        [[getattr(row, name) for name, _ in AIMS] for row in fine], [more for _, more in AIMS]
    )
    marked = {id(row): flag for row, flag in zip(fine, flags, strict=True)}
    done = [replace(row, best=marked.get(id(row), False)) for row in rows]
    done.sort(key=lambda row: (_cost(row), row.time is None, row.time or 0.0))
    return Trials(trials=tuple(done), route=route.name, diameters=diameters)
