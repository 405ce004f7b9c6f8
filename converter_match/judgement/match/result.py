"""The answer for one engine and one converter: named points, the whole locus, and every note."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from converter_match.answer.block import Block, Facts, Heading, NoValue, facts_of, row_of
from converter_match.answer.noted import AnswerOfPair
from converter_match.answer.plain import plain
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.curves import FloatArray
from converter_match.judgement.conditions.air import site_note
from converter_match.judgement.match import words
from converter_match.judgement.match.indices import index_block, working_indices
from converter_match.judgement.match.spread import (
    characteristic_block,
    over_turbine_speed,
    points_block,
)
from converter_match.notes import Note
from converter_match.physics.engine.site_correction import SiteEffect
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.indices import MatchingIndices
from converter_match.physics.match.solver import MatchSet, OperatingPoints

if TYPE_CHECKING:
    import pandas as pd

OnGovernor = Literal["never", "at-stall", "from-stall"]

POINT = (
    Heading("speed_ratio", "speed ratio"),
    Heading("torque_ratio", "torque ratio"),
    Heading("efficiency", "efficiency"),
    Heading("engine_speed", "engine", "angular_speed"),
    Heading("input_torque", "input torque", "torque"),
    Heading("turbine_speed", "turbine", "angular_speed"),
    Heading("turbine_torque", "turbine torque", "torque"),
    Heading("input_power", "", "power"),
    Heading("output_power", "output", "power"),
    Heading("heat", "heat", "power"),
    Heading("stable", ""),
)
"""What is said of an operating point."""

_IDLE = tuple(
    head for head in POINT if head.key in ("engine_speed", "input_torque", "turbine_torque", "heat")
)


@dataclass(frozen=True)
class MatchPoint:
    """One operating point, SI units.

    Parameters
    ----------
    speed_ratio, torque_ratio, efficiency : float
    engine_speed, turbine_speed : float
        [rad/s].
    input_torque, turbine_torque : float
        [N.m].
    input_power, output_power, heat : float
        [W].
    stable : bool
    """

    speed_ratio: float
    torque_ratio: float
    efficiency: float
    engine_speed: float
    turbine_speed: float
    input_torque: float
    turbine_torque: float
    input_power: float
    output_power: float
    heat: float
    stable: bool

    @classmethod
    def of(cls, points: OperatingPoints) -> MatchPoint | None:
        """Return a single (zero-dimensional) operating point, or None where there is none."""
        if not bool(points.found):
            return None
        names = [name for name in cls.__dataclass_fields__ if name != "stable"]
        values = {name: float(getattr(points, name)) for name in names}
        return cls(**values, stable=bool(points.stable))

    def facts(self) -> Facts:
        """Return what is said of the point, in SI."""
        return facts_of(self, POINT)

    def to_dict(self) -> dict[str, Any]:
        """Return the point with the unit in each key; rpm, N.m and kW."""
        return plain([Block("", facts=self.facts())])


@dataclass(frozen=True)
class NamedPoint:
    """An operating point of a match that has a name.

    Parameters
    ----------
    code : str
        Stable, such as ``stall`` or ``efficiency_80_lower``; see `judgement.match.words.POINTS`.
    words : str
        What it is called for this pair.
    point : MatchPoint or None
        None where engine and converter have no match there.
    """

    code: str
    words: str
    point: MatchPoint | None


@dataclass(frozen=True)
class EfficiencyRange:
    """A stretch of speed ratio on which the efficiency is at or above a level.

    Parameters
    ----------
    level : float
    lower, upper : MatchPoint or None
        Its ends; None where engine and converter have no match there.
    low, high : float
        Speed ratios of the ends.
    ends_with_data : bool
        Whether the upper end is where the characteristic ends, not where the efficiency falls.
    """

    level: float
    low: float
    high: float
    lower: MatchPoint | None
    upper: MatchPoint | None
    ends_with_data: bool


@dataclass(frozen=True)
class IdleInGear:
    """What the converter does in gear at low idle with the turbine held, SI units.

    Parameters
    ----------
    engine_speed, input_torque, turbine_torque, heat : float
        [rad/s], [N.m], [N.m], [W].
    """

    engine_speed: float
    input_torque: float
    turbine_torque: float
    heat: float

    def facts(self) -> Facts:
        """Return what is said of it, in SI."""
        return facts_of(self, _IDLE)


@dataclass(frozen=True, eq=False)
class MatchResult(AnswerOfPair):
    """Everything known about an engine and a converter together.

    Parameters
    ----------
    engine, converter : Engine, Converter
    site : SiteEffect
    supply : TorqueSupply
        Net torque at the impeller.
    hydraulic_torque : float
        [N.m].
    stall, coupling, best_efficiency, best_in_conversion, governed_limit : MatchPoint or None
        As reached by an engine coming up from idle. ``best_in_conversion`` is the best efficiency
        with the stator held, up to the coupling point.
    stall_from_high_idle : MatchPoint or None
        Differs from `stall` when there are several intersections.
    stall_band : tuple of float or None
        Stall speed [rad/s] over the stated uncertainty of the engine's curve, and over the
        reading band of the converter where it has one.
    ranges : tuple of EfficiencyRange
        Working ranges at 70 % and 80 % efficiency.
    idle : IdleInGear or None
        None where the engine cannot hold idle in gear: the torque would be one it does not have.
    locus : MatchSet
        All intersections over a fine grid of speed ratio, axis 0 by rising engine speed.
    notes : tuple of Note
        Assumptions, warnings, exceeded limits and cautions, each with a stable code.
    alternatives : tuple of MatchResult
        With everything that an estimated converter may be as well.
    beside : tuple of Block
        What else was asked of the pair: a duty, lower governor settings.
    """

    engine: Engine
    converter: Converter
    site: SiteEffect
    supply: TorqueSupply
    hydraulic_torque: float
    stall: MatchPoint | None
    coupling: MatchPoint | None
    best_efficiency: MatchPoint | None
    best_in_conversion: MatchPoint | None
    governed_limit: MatchPoint | None
    stall_from_high_idle: MatchPoint | None
    stall_band: tuple[float, float] | None
    ranges: tuple[EfficiencyRange, ...]
    idle: IdleInGear | None
    locus: MatchSet
    notes: tuple[Note, ...]
    alternatives: tuple[MatchResult, ...] = ()
    beside: tuple[Block, ...] = ()

    @cached_property
    def indices(self) -> tuple[MatchingIndices, ...]:
        """Averages over the working ranges at 75 % and 80 % efficiency."""
        limit = None if self.governed_limit is None else self.governed_limit.speed_ratio
        return working_indices(self.engine, self.supply, self.converter, limit)

    @property
    def absorbed_at_idle(self) -> float:
        """What the converter would absorb at low idle with the turbine held, held or not [N.m]."""
        return float(self.converter.capacity_at(0.0)) * self.engine.low_idle**2

    @property
    def on_governor(self) -> OnGovernor:
        """Whether stall itself is on the governor, and all that comes after it as well."""
        if self.stall is None or self.governed_limit != self.stall:
            return "never"
        points = self.locus.from_idle()
        speeds = points.engine_speed[points.found & (points.speed_ratio >= 0.0)]
        if (speeds >= self.engine.rated_speed * (1.0 - 1e-9)).all():
            return "from-stall"
        return "at-stall"

    @property
    def governor_words(self) -> str:
        """What stands in the governed limit's place where stall itself is on the governor.

        Empty where the limit has a place of its own, or there is none.
        """
        return words.ON_GOVERNOR[self.on_governor]

    @property
    def greatest_output(self) -> float:
        """Greatest power that the pair delivers at the turbine, coming up from idle [W]."""
        points = self.locus.from_idle()
        power = points.output_power[points.found & (points.speed_ratio >= 0.0)]
        return float(power.max(initial=0.0))

    def carries_load(self, point: MatchPoint) -> bool:
        """Return whether a point takes any torque; at speed ratio 1 a converter may take none."""
        highest = np.nanmax(np.abs(self.locus.points.input_torque), initial=0.0)
        return bool(abs(point.input_torque) > 1e-6 * highest)

    @property
    def best_loaded(self) -> MatchPoint | None:
        """The best efficiency, None where it is that of no load: nothing is got out there."""
        best = self.best_efficiency
        return best if best is not None and self.carries_load(best) else None

    def working_range(self, level: float = 0.8) -> tuple[EfficiencyRange, ...]:
        """Return the stretches at or above an efficiency level that was computed (0.7, 0.8)."""
        return tuple(item for item in self.ranges if item.level == level)

    @property
    def efficiency_without_load(self) -> bool:
        """Whether the data reach speed ratio 1, where the efficiency is that of no load."""
        return self.best_efficiency is not None and self.best_loaded is None

    def key_points(self) -> tuple[NamedPoint, ...]:
        """Return the named points in the order in which a machine passes them.

        Where the data reach speed ratio 1 and no torque is taken there, that point is left out.
        """
        listed = [self._named("stall", self.stall)]
        for level in (0.7, 0.8):
            for item in self.working_range(level)[:1]:
                listed.append(self._named(f"efficiency_{100 * level:.0f}_lower", item.lower))
        listed.append(self._named("best_in_conversion", self.best_in_conversion))
        listed.append(self._named("coupling", self.coupling))
        for item in self.working_range(0.8)[-1:]:
            code = "no_slip" if item.high == 1.0 else "efficiency_80_upper"
            code = "end_of_data" if item.ends_with_data else code
            if item.upper is None or self.carries_load(item.upper):
                listed.append(self._named(code, item.upper))
            for wider in self.working_range(0.7)[-1:]:
                if wider.high != item.high:
                    listed.append(self._named("efficiency_70_upper", wider.upper))
        listed.append(self._named("governed_limit", self.governed_limit))
        if not self.efficiency_without_load:
            listed.append(self._named("best_efficiency", self.best_efficiency))
        # Which comes first, governor or end of data, differs; what is missing keeps its place.
        there = [(item, item.point) for item in listed if item.point is not None]
        passed = iter(sorted(there, key=lambda pair: pair[1].speed_ratio))
        return tuple(item if item.point is None else next(passed)[0] for item in listed)

    def called(self, code: str) -> str:
        """Return what a named point, one of `judgement.match.words.POINTS`, is for this pair."""
        if code == "governed_limit" and self.on_governor != "never":
            return self.governor_words
        if code == "coupling" and self.converter.stator == "fixed":
            return words.TORQUE_RATIO_ONE
        return words.POINTS[code]

    def _named(self, code: str, point: MatchPoint | None) -> NamedPoint:
        return NamedPoint(code, self.called(code), point)

    def blocks(self) -> tuple[Block, ...]:
        """Return the named points, what the answer rests on, and every point of the locus."""
        torque, speed = Heading("hydraulic_torque", "", "torque"), "angular_speed"
        band = Heading("stall_speed_band", "", speed)
        return (
            self._table(),
            *self._spread(),
            index_block(self.indices),
            *self.origins(),
            Block("", facts=((torque, self.hydraulic_torque),), in_text=False),
            _at("stall", self.stall),
            _at("stall_from_high_idle", self.stall_from_high_idle),
            Block("", facts=((band, self.stall_band),), in_text=False),
            _at("coupling", self.coupling),
            _at("best_efficiency", self.best_efficiency),
            _at("best_efficiency_in_conversion", self.best_in_conversion),
            _range_block(self.ranges),
            _at("governed_limit", self.governed_limit),
            Block(
                "idle_in_gear",
                facts=self.idle.facts() if self.idle else None,
                in_text=False,
            ),
            Block(
                "points",
                columns=(*POINT, Heading("reached_from", "")),
                rows=self._rows(),
                rows_key="",
                in_text=False,
            ),
            *self.beside,
        )

    def _table(self) -> Block:
        none = (NoValue("none"),) * len(POINT)
        below = [words.BELOW.note("no-load")] if self.efficiency_without_load else []
        if self.stall_band:
            low, high = self.stall_band
            code = "stall-band-of-both" if self.converter.banded else "stall-band"
            below.append(words.BELOW.note(code, low=low, high=high))
        return Block(
            "key_points",
            title=f"{self.engine.name}  +  {self.converter.title}",
            facts=self.basis(),
            columns=(Heading("code", ""), Heading("point", "point"), *POINT),
            rows=tuple(
                (item.code, item.words, *(row_of(item.point, POINT) if item.point else none))
                for item in self.key_points()
            ),
            below=tuple(below),
            in_plain=False,
        )

    def _spread(self) -> tuple[Block, ...]:
        """Return least and most over everything that an estimated converter may be."""
        if not self.alternatives:
            return ()
        others = [
            {named.code: named.point for named in other.key_points()} for other in self.alternatives
        ]
        named = [
            (item.code, item.words, [item.point, *(other.get(item.code) for other in others)])
            for item in self.key_points()
        ]
        converter = self.converter
        return points_block(named, banded=converter.banded), characteristic_block(converter)

    def spread_over_turbine_speed(self, key: str) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return turbine speeds [rad/s] with the least and the most of a quantity there, SI.

        Parameters
        ----------
        key : str
            Of an operating point, such as ``turbine_torque``.
        """
        return over_turbine_speed(self.locus, [item.locus for item in self.alternatives], key)

    def basis(self) -> Facts:
        """Return what the torque at the impeller rests on: rating, what is deducted, site."""
        engine = self.engine
        standard = f" ({engine.rating_standard})" if engine.rating_standard else ""
        pumps = () if engine.pumps is None else (engine.pumps.name,)
        accessories = (*(item.name for item in engine.accessories), *pumps)
        hydraulics = Heading("", "hydraulic torque deducted", "torque")
        return (
            (Heading("", "torque basis"), f"{engine.rating_basis}{standard}"),
            (Heading("", "accessories deducted"), accessories or NoValue("none")),
            *(((hydraulics, self.hydraulic_torque),) if self.hydraulic_torque else ()),
            (Heading("", "site"), site_note(self.site)),
        )

    def origins(self) -> tuple[Block, ...]:
        """Return what engine, converter and site are, as they stand in plain data."""
        engine, converter, site = self.engine, self.converter, self.site
        own = [Heading(key, "") for key in ("id", "name", "source")]
        digest = Heading("fingerprint", "")
        rating = [Heading(key, "") for key in ("rating_basis", "rating_standard")]
        return (
            Block(
                "engine",
                facts=(
                    *facts_of(engine, [*own, *rating]),
                    (digest, engine.fingerprint()),
                ),
                in_text=False,
            ),
            Block(
                "converter",
                facts=(
                    *facts_of(converter, [*own, Heading("stator", "")]),
                    (digest, converter.fingerprint()),
                ),
                in_text=False,
            ),
            Block(
                "site",
                facts=(
                    *facts_of(site, [Heading("method", ""), Heading("torque_factor", "")]),
                    (Heading("air_pressure", "", "pressure"), site.air and site.air.pressure),
                    (
                        Heading("air_temperature", "", "temperature"),
                        site.air and site.air.temperature,
                    ),
                ),
                in_text=False,
            ),
        )

    def _rows(self) -> tuple[tuple[Any, ...], ...]:
        """Return every point of the locus, by speed ratio and then engine speed."""
        points = self.locus.points
        ends = {
            "idle": self.locus.from_idle().engine_speed,
            "high idle": self.locus.from_high_idle().engine_speed,
        }
        column, row = np.nonzero(points.found.T)
        values = [getattr(points, head.key)[row, column].tolist() for head in POINT]
        reached = np.stack([speed[column] for speed in ends.values()], axis=-1)
        from_there = reached == points.engine_speed[row, column][:, None]
        return tuple(
            (*numbers, [name for name, there in zip(ends, those, strict=True) if there])
            for *numbers, those in zip(*values, from_there.tolist(), strict=True)
        )

    def to_frame(self, name: str = "points") -> pd.DataFrame:
        """Return the locus as a pandas table, one row a point, units in the column names.

        Parameters
        ----------
        name : str
            Another block with a table, such as ``key_points``.
        """
        return super().to_frame(name)


def _at(name: str, point: MatchPoint | None) -> Block:
    return Block(name, facts=point.facts() if point else None, in_text=False)


def _range_block(ranges: Iterable[EfficiencyRange]) -> Block:
    def at(point: MatchPoint | None) -> dict[str, Any] | None:
        return point.to_dict() if point else None

    keys = ("level", "low_speed_ratio", "high_speed_ratio", "ends_with_data", "lower", "upper")
    return Block(
        "efficiency_ranges",
        columns=tuple(Heading(key, "") for key in keys),
        rows=tuple(
            (item.level, item.low, item.high, item.ends_with_data, at(item.lower), at(item.upper))
            for item in ranges
        ),
        rows_key="",
        in_text=False,
    )
