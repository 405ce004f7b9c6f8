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

from converter_match.components.converter import Converter
from converter_match.components.driveline import Driveline
from converter_match.components.engine import Engine
from converter_match.components.machine import Machine
from converter_match.components.route import Route
from converter_match.components.site import Site
from converter_match.errors import InputError
from converter_match.judgement.answer.plain import plain
from converter_match.judgement.haul.haul import prepare
from converter_match.judgement.match.solve import solve
from converter_match.judgement.sizing.limits import TrialLimits, judged, reason
from converter_match.judgement.sizing.size import with_capacity_factor
from converter_match.notes import Note
from converter_match.physics.haul.route import run_route, totals
from converter_match.units import System, note_text, show

DIAMETERS = (0.9, 1.1)
# Sizes closer than this are one size to anybody who makes them; times closer than this, one time.
_FINE = 1e-3
_SAME_TIME = 1e-3
_GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0
# Names, whether more is better, and what they are called.
AIMS = (
    ("time", False, "route time"),
    ("fuel", False, "fuel"),
    ("heat", False, "heat into the oil"),
    ("stall_torque", True, "turbine torque at stall"),
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
        [s]; None where the machine does not arrive.
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
    not_known : tuple of str
        Limits that could not be looked at, and why.
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
    not_known: tuple[str, ...] = ()
    best: bool = False

    @property
    def keeps(self) -> bool:
        """Whether every limit that could be looked at is kept."""
        return not self.broken

    def to_dict(self) -> dict[str, Any]:
        """Return plain data with the unit in each key."""
        d, s = self.converter.profile_diameter, self.stall_speed
        return {
            "name": self.name,
            "converter": self.converter.id,
            "diameter_ratio": self.diameter_ratio,
            "profile_diameter_mm": None if d is None else 1e3 * d,
            "route_time_s": self.time,
            "fuel_kg": self.fuel,
            "converter_heat_mj": None if self.heat is None else self.heat / 1e6,
            "stall_turbine_torque_nm": self.stall_torque,
            "stall_speed_rpm": plain(s, "rpm"),
            "hottest_oil_degc": plain(self.hottest, "degc"),
            "keeps_limits": self.keeps,
            "broken": [note_text(note, "si") for note in self.broken],
            "not_known": list(self.not_known),
            "pareto": self.best,
        }


@dataclass(frozen=True, eq=False, kw_only=True)
class Trials:
    """Every converter that was tried, the quickest that keeps the limits first.

    Parameters
    ----------
    trials : tuple of Trial
    route : str
    diameters : tuple of float or None
        Lowest and highest that were allowed, as a ratio, where sizes are tried.
    """

    trials: tuple[Trial, ...]
    route: str
    diameters: tuple[float, float] | None = None

    @property
    def winner(self) -> Trial | None:
        """The quickest that keeps the limits; None where none does."""
        first = self.trials[0]
        return first if first.keeps and first.time is not None else None

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "route": self.route,
            "words": self.words(),
            "winner": self.winner.name if self.winner else None,
            "trials": [trial.to_dict() for trial in self.trials],
        }

    def words(self, system: System = "si") -> str:
        """Return the answer in a sentence or two."""
        return _words(self.trials, self.diameters, system)

    def text(self, system: System = "si") -> str:
        """Return the table and the answer, readable in a log."""
        torque = show(0.0, "torque", system)[1]
        speed = show(0.0, "angular_speed", system)[1]
        mass = show(0.0, "mass", system)[1]
        energy = show(0.0, "energy", system)[1]
        heat = show(0.0, "temperature", system)[1]
        width = max(len(trial.name) for trial in self.trials)
        lines = [
            self.words(system),
            f"  {'':{width}}  time [s]  fuel [{mass}]  heat [{energy}]  stall torque [{torque}]  "
            f"stall [{speed}]  oil [{heat}]",
        ]
        for item in self.trials:
            cells = (
                (item.time, None, "8.1f"),
                (item.fuel, "mass", f"{8 + len(mass)}.3f"),
                (item.heat, "energy", f"{7 + len(energy)}.0f"),
                (item.stall_torque, "torque", f"{15 + len(torque)}.0f"),
                (item.stall_speed, "angular_speed", f"{8 + len(speed)}.0f"),
                (item.hottest, "temperature", f"{6 + len(heat)}.0f"),
            )
            row = "  ".join(_cell(value, what, form, system) for value, what, form in cells)
            broken = (note_text(note, system) for note in item.broken)
            said = "; ".join((*broken, *item.not_known))
            mark = "*" if item.best else " "
            lines.append(f"{mark} {item.name:{width}}  {row}" + (f"  {said}" if said else ""))
        lines.append(
            "* no other that keeps the limits is at least as good in time, fuel, heat and stall "
            "torque together"
        )
        return "\n".join(lines)


def _cell(value: float | None, dimension: str | None, form: str, system: System) -> str:
    if value is None:
        return format("-", f">{form.split('.')[0]}")
    return format(show(value, dimension, system)[0] if dimension else value, form)


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

    Raises
    ------
    InputError
        If there is no converter, or the data of engine, driveline, machine and route do not go
        together. A converter that does not go with them is a trial that failed, and says why.
    """
    named = list(converters)
    if not named:
        raise InputError("no converters to try", field="converters", expected="at least one")
    keep = limits or TrialLimits()
    rows = []
    for row, (name, converter) in enumerate(named):
        rows.append(
            _trial(name, None, engine, converter, driveline, machine, route, keep, site,
                   hydraulic_torque)
        )  # fmt: skip
        if progress:
            progress(row + 1, len(named))
    return _ranked(rows, route)


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
) -> Trials:
    """Return the size of a family that is quickest along a route within heat and limits.

    Parameters
    ----------
    engine, converter, driveline, machine, route
        The converter gives the family.
    diameters : tuple of float
        Lowest and highest profile diameter, as a ratio to that of the converter.
    limits, site, hydraulic_torque, progress
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
    keep = limits or TrialLimits()
    tried: dict[float, Trial] = {}
    whole = steps + refinements

    def attempt(ratio: float) -> Trial:
        if ratio not in tried:
            size = converter if ratio == 1.0 else with_capacity_factor(converter, ratio**5)
            tried[ratio] = _trial(f"diameter x {ratio:.4f}", ratio, engine, size, driveline,
                                  machine, route, keep, site, hydraulic_torque)  # fmt: skip
            if progress:
                progress(min(len(tried), whole), whole)
        return tried[ratio]

    grid = np.linspace(low, high, steps)
    # The size that is there already, exactly, where the grid passes by it.
    if low < 1.0 < high:
        grid[int(np.argmin(np.abs(grid - 1.0)))] = 1.0
    costs = [_cost(attempt(float(ratio))) for ratio in grid]
    best = int(np.argmin(costs))
    if np.isfinite(costs[best]):
        a, b = float(grid[max(best - 1, 0)]), float(grid[min(best + 1, steps - 1)])
        c, d = b - _GOLDEN * (b - a), a + _GOLDEN * (b - a)
        while len(tried) < whole and b - a > _FINE:
            if _cost(attempt(c)) <= _cost(attempt(d)):
                b, d = d, c
                c = b - _GOLDEN * (b - a)
            else:
                a, c = c, d
                d = a + _GOLDEN * (b - a)
    return _ranked(list(tried.values()), route, (low, high))


def _cost(trial: Trial) -> float:
    return trial.time if trial.keeps and trial.time is not None else math.inf


def _trial(
    name: str,
    ratio: float | None,
    engine: Engine,
    converter: Converter,
    driveline: Driveline,
    machine: Machine,
    route: Route,
    limits: TrialLimits,
    site: Site | None,
    hydraulic_torque: float,
) -> Trial:
    base: dict[str, Any] = {"name": name, "converter": converter, "diameter_ratio": ratio}
    try:
        match = solve(engine, converter, site=site, hydraulic_torque=hydraulic_torque)
        ready = prepare(match, driveline, machine, route)
        run = run_route(ready, route)
    except InputError as error:
        return Trial(**base, broken=(reason("does-not-go-together", str(error)),))
    whole = totals(run)
    arrives = int(whole.stuck_segment[0]) < 0
    hottest = None if whole.hottest is None else float(whole.hottest[0])
    broken, unknown = judged(match, driveline, machine, hottest, limits)
    if not arrives:
        segment = int(whole.stuck_segment[0]) + 1
        broken.insert(0, reason("cannot-move-on", f"does not arrive: stands in segment {segment}"))
    stall = match.stall
    return Trial(
        **base,
        time=float(whole.time[0]) if arrives else None,
        fuel=None if whole.fuel is None or not arrives else float(whole.fuel[0]),
        heat=float(whole.ledger.converter[0]) if arrives else None,
        stall_torque=None if stall is None else stall.turbine_torque,
        stall_speed=None if stall is None else stall.engine_speed,
        hottest=hottest,
        broken=tuple(broken),
        not_known=tuple(unknown),
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
        [[getattr(row, name) for name, *_ in AIMS] for row in fine], [more for _, more, _ in AIMS]
    )
    marked = {id(row): flag for row, flag in zip(fine, flags, strict=True)}
    done = [replace(row, best=marked.get(id(row), False)) for row in rows]
    done.sort(key=lambda row: (_cost(row), row.time is None, row.time or 0.0))
    return Trials(trials=tuple(done), route=route.name, diameters=diameters)


def _words(rows: tuple[Trial, ...], diameters: tuple[float, float] | None, system: System) -> str:
    first = rows[0]
    if not np.isfinite(_cost(first)):
        first_reasons = (note_text(note, system) for row in rows for note in row.broken[:1])
        why = "; ".join(dict.fromkeys(first_reasons))
        what = "such size" if diameters else "such converter"
        return f"There is no {what}: none of those tried keeps every limit ({why})."
    text = f"Quickest within heat and limits: {first.name}, {first.time:.1f} s."
    alike = [row for row in rows if _cost(row) <= _cost(first) * (1 + _SAME_TIME)]
    if len(alike) > 1:
        ratios = [row.diameter_ratio for row in alike if row.diameter_ratio is not None]
        which = (
            f"from x {min(ratios):.3f} to x {max(ratios):.3f}"
            if ratios
            else ", ".join(row.name for row in alike[1:])
        )
        text += (
            f" Within {100 * _SAME_TIME:g} % of that time: {which}. Choose among those by the "
            "other columns."
        )
    if diameters and first.diameter_ratio is not None:
        ratio = first.diameter_ratio
        edge = min(abs(ratio - end) for end in diameters)
        if edge < 1e-3 * (diameters[1] - diameters[0]):
            text += " It lies at the end of the range asked for: beyond it may be a quicker one."
        if abs(ratio - 1.0) > 0.10 + 1e-9:
            text += (
                f" The diameter changes by {100 * (ratio - 1):+.1f} %: beyond about 10 % (common "
                "practice) the similarity law is a stretch."
            )
        text += " An estimate by similarity; sizes are made in steps."
    return text
