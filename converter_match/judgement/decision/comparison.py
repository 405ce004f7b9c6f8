"""Candidates beside the present machine: figure by figure, with sign and size, and in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from converter_match.judgement.verdict.criteria_match import braking_power
from converter_match.judgement.verdict.criteria_wheels import creep_effort, speed_on
from converter_match.judgement.verdict.measure import amount
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.study.study import PRESENT, Study
from converter_match.units import System

# Below this share two figures are called the same: no such data are better than that.
SAME = 0.01


@dataclass(frozen=True, kw_only=True)
class Figure:
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
    """

    key: str
    title: str
    dimension: str
    better: int
    condition: str
    values: tuple[tuple[str, float | None], ...]

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

    def judged(self, combination: str) -> str:
        """Return ``better``, ``worse``, ``same``, ``other`` (no direction) or empty (not known)."""
        share = self.share(combination)
        if share is None:
            return ""
        if abs(share) < SAME:
            return "same"
        return "other" if not self.better else "better" if share * self.better > 0 else "worse"

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "key": self.key,
            "title": self.title,
            "dimension": self.dimension,
            "unit": "SI",
            "better": {1: "more", -1: "less", 0: None}[self.better],
            "condition": self.condition,
            "values": dict(self.values),
            "difference": {name: self.difference(name) for name, _ in self.values},
            "share": {name: self.share(name) for name, _ in self.values},
        }


@dataclass(frozen=True, kw_only=True)
class GearShare:
    """Effort of one gear against that of the present gear of the same name.

    Parameters
    ----------
    gear : str
    least, most : float
        Shares over the road speeds that both reach.
    """

    gear: str
    least: float
    most: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Comparison:
    """Every figure in every condition.

    Parameters
    ----------
    names : tuple of (str, str)
        Id and name of every combination.
    figures : tuple of Figure
    gears : tuple of (str, str, tuple of GearShare)
        Combination, condition, and the effort of each gear both have.
    """

    names: tuple[tuple[str, str], ...]
    figures: tuple[Figure, ...]
    gears: tuple[tuple[str, str, tuple[GearShare, ...]], ...]

    @property
    def conditions(self) -> tuple[str, ...]:
        """Names of the conditions, in order."""
        return tuple(dict.fromkeys(item.condition for item in self.figures))

    def in_condition(self, condition: str) -> tuple[Figure, ...]:
        """Return the figures of one condition."""
        return tuple(item for item in self.figures if item.condition == condition)

    def words(
        self,
        combination: str,
        judged: str,
        system: System = "si",
        *,
        condition: str | None = None,
    ) -> tuple[str, ...]:
        """Return words for each figure that is ``better``, ``worse`` or ``other``.

        Where a figure goes the same way in several conditions, or for several grades, the largest
        change is told.

        Parameters
        ----------
        combination : str
        judged : {"better", "worse", "other"}
        system : {"si", "us"}
        condition : str, optional
            Only this one.
        """
        found: dict[str, tuple[float, str]] = {}
        several = condition is None and len(self.conditions) > 1
        for item in self.figures:
            share = item.share(combination)
            if item.judged(combination) != judged or share is None:
                continue
            if condition not in (None, item.condition):
                continue
            text = _sentence(item, combination, system, several)
            family = "speed_on" if item.key.startswith("speed_on") else item.key
            if family not in found or abs(share) > found[family][0]:
                found[family] = abs(share), text
        ranked = sorted(found.values(), key=lambda pair: -pair[0])
        return tuple(text for _, text in ranked)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "figures": [item.to_dict() for item in self.figures],
            "effort_by_gear": [
                {
                    "combination": name,
                    "condition": condition,
                    "gears": [vars(item) for item in gears],
                }
                for name, condition, gears in self.gears
            ],
        }


def compare(study: Study, outcomes: Sequence[tuple[Outcome, ...]]) -> Comparison:
    """Put the figures of every combination side by side.

    Parameters
    ----------
    study : Study
    outcomes : sequence of tuple of Outcome
        One tuple for each combination, one outcome for each condition.
    """
    figures: list[Figure] = []
    gears = []
    for row, condition in enumerate(study.conditions):
        column = [items[row] for items in outcomes]
        known = [dict(_figures(study, item)) for item in column]
        keys = list(dict.fromkeys(key for item in known for key in item))
        for key in keys:
            title, dimension, better = next(item[key][:3] for item in known if key in item)
            values = tuple(
                (item.combination.id, found[key][3] if key in found else None)
                for item, found in zip(column, known, strict=True)
            )
            if all(value is None for _, value in values):
                continue
            figures.append(
                Figure(
                    key=key,
                    title=title,
                    dimension=dimension,
                    better=better,
                    condition=condition.name,
                    values=values,
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
    )


def gear_shares(own: Outcome, present: Outcome) -> tuple[GearShare, ...]:
    """Return the effort of every forward gear that both have, over the speeds that both reach."""
    if own.tractive is None or present.tractive is None:
        return ()
    mine = {(d.gear.name, d.drive): i for i, d in enumerate(own.tractive.drives)}
    found = []
    for i, drive in enumerate(present.tractive.drives):
        key = drive.gear.name, drive.drive
        if drive.gear.direction != "forward" or key not in mine:
            continue
        curves = []
        for result, index in ((present.tractive, i), (own.tractive, mine[key])):
            curve = result.drives[index].curve()
            grip = float(result.road_loads[index].adhesion(0.0))
            speed = curve.road_speed(result.machine, grip)
            curves.append((speed, np.minimum(curve.force, grip)))
        # At the governor every curve falls to nothing, and a share of nothing says nothing.
        top = 0.95 * min(float(speed.max()) for speed, _ in curves)
        grid = np.linspace(0.0, top, 200)
        before, after = (np.interp(grid, speed, force) for speed, force in curves)
        good = before > 0.02 * before.max()
        share = after[good] / before[good]
        name = drive.gear.name + (" locked up" if drive.drive == "lock-up" else "")
        found.append(GearShare(gear=name, least=float(share.min()), most=float(share.max())))
    return tuple(found)


_Entry = tuple[str, str, int, float | None]


def _of(thing: object, name: str) -> float | None:
    """Return an attribute of a point or row that may not be there."""
    value = getattr(thing, name, None)
    return None if value is None else float(value)


def _figures(study: Study, item: Outcome) -> list[tuple[str, _Entry]]:
    """Return key -> (title, dimension, better, value) of one combination in one condition."""
    match, engine = item.match, item.combination.engine
    stall, coupling = match.stall, match.coupling
    usable = item.usable_power(0.8)
    found: list[tuple[str, _Entry]] = [
        ("stall_speed", ("stall speed", "angular_speed", 0, _of(stall, "engine_speed"))),
        ("stall_turbine_torque",
         ("turbine torque at stall", "torque", 1, _of(stall, "turbine_torque"))),
        ("stall_heat", ("heat at stall", "power", -1, _of(stall, "heat"))),
        ("coupling_engine_speed",
         ("engine speed at the coupling point", "angular_speed", 0,
          _of(coupling, "engine_speed"))),
        ("net_power", ("greatest net power", "power", 1, item.greatest_power)),
        ("usable_power", ("net power taken up at 80 % efficiency or better", "power", 1, usable)),
        ("high_idle", ("high idle", "angular_speed", 0, engine.high_idle)),
        ("creep", ("push in gear at low idle", "force", -1, creep_effort(item))),
        ("braking", ("power the driven engine takes up", "power", 1, braking_power(item))),
    ]  # fmt: skip
    wheels = item.tractive
    if wheels is not None:
        start = wheels.steepest_start
        found += [
            ("greatest_pull", ("greatest drawbar pull", "force", 1,
                               max((row.greatest_drawbar for row in wheels.gears
                                    if row.direction == "forward" and row.greatest_drawbar),
                                   default=None))),
            ("steepest_start", ("steepest grade to start on", "weight_share", 1,
                                _of(start, "steepest_start"))),
            ("top_speed", ("top speed on the level", "velocity", 1, wheels.top_speed.speed)),
        ]  # fmt: skip
        for grade in sorted(set(study.duty.grades) - {0.0}):
            name = f"speed on {100 * grade:g} %"
            found.append(
                (f"speed_on_{100 * grade:g}", (name, "velocity", 1, speed_on(item, grade)))
            )
        steady = study.duty.continuous_grade
        if steady is not None:
            row = next(row for row in wheels.grades if row.grade == steady)
            name = f"heat into the oil on {100 * steady:g} %"
            found.append(("continuous_heat", (name, "power", -1, row.heat)))
    for run in item.routes:
        if run is None:
            continue
        key, name = run.route.id, run.route.name
        arrives = run.standstill is None
        found.append((f"time_{key}", (f"time, {name}", "time", -1, run.time if arrives else None)))
        found.append((f"fuel_{key}", (f"fuel, {name}", "mass", -1, run.fuel if arrives else None)))
        hottest = run.totals.hottest
        if hottest is not None:
            found.append((f"oil_{key}", (f"hottest oil, {name}", "temperature", -1,
                                         float(hottest[0]))))  # fmt: skip
    return found


def _sentence(item: Figure, combination: str, system: System, several: bool) -> str:
    own, present, share = item[combination], item[PRESENT], item.share(combination)
    assert own is not None
    assert present is not None
    assert share is not None
    before, after = (amount(value, item.dimension, system) for value in (present, own))
    where = f" ({item.condition})" if several else ""
    if before.rsplit(" ", 1)[1:] == after.rsplit(" ", 1)[1:]:
        before = before.rsplit(" ", 1)[0]
    return f"{item.title}: {before} → {after} ({100 * share:+.0f} %){where}"


def effort_lines(outcome: Outcome) -> tuple[np.ndarray, np.ndarray] | None:
    """Return road speed [m/s] and greatest effort [N] of an outcome; None without wheels."""
    if outcome.tractive is None:
        return None
    cover = outcome.tractive.envelope
    return cover.speed, cover.force


__all__ = ["SAME", "Comparison", "Figure", "GearShare", "compare", "effort_lines"]
