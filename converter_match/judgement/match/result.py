"""The answer for one engine and one converter: named points, the whole locus, and every note."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from converter_match.answer.noted import Noted
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.judgement.answer.plain import plain as in_unit
from converter_match.notes import Note
from converter_match.physics.engine.site_correction import SiteEffect
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.solver import MatchSet, OperatingPoints
from converter_match.units import System, from_si, note_plain, show

if TYPE_CHECKING:
    import pandas as pd

    from converter_match.judgement.match.text import MatchText


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

    def to_dict(self) -> dict[str, float | bool]:
        """Return the point with the unit in each key; rpm, N.m and kW."""
        return {
            "speed_ratio": self.speed_ratio,
            "torque_ratio": self.torque_ratio,
            "efficiency": self.efficiency,
            "engine_speed_rpm": from_si(self.engine_speed, "rpm", "angular_speed"),
            "turbine_speed_rpm": from_si(self.turbine_speed, "rpm", "angular_speed"),
            "input_torque_nm": self.input_torque,
            "turbine_torque_nm": self.turbine_torque,
            "input_power_kw": self.input_power / 1e3,
            "output_power_kw": self.output_power / 1e3,
            "heat_kw": self.heat / 1e3,
            "stable": self.stable,
        }


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

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "level": self.level,
            "low_speed_ratio": self.low,
            "high_speed_ratio": self.high,
            "ends_with_data": self.ends_with_data,
            "lower": self.lower.to_dict() if self.lower else None,
            "upper": self.upper.to_dict() if self.upper else None,
        }


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

    def to_dict(self) -> dict[str, float]:
        """Return plain data; rpm, N.m and kW."""
        return {
            "engine_speed_rpm": from_si(self.engine_speed, "rpm", "angular_speed"),
            "input_torque_nm": self.input_torque,
            "turbine_torque_nm": self.turbine_torque,
            "heat_kw": self.heat / 1e3,
        }


@dataclass(frozen=True, eq=False)
class MatchResult(Noted):
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
        Stall speed [rad/s] over the stated uncertainty of the engine's curve.
    ranges : tuple of EfficiencyRange
        Working ranges at 70 % and 80 % efficiency.
    idle : IdleInGear or None
        None where the engine cannot hold idle in gear: the torque would be one it does not have.
    locus : MatchSet
        All intersections over a fine grid of speed ratio, axis 0 by rising engine speed.
    notes : tuple of Note
        Assumptions, warnings, exceeded limits and cautions, each with a stable code.
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

    @property
    def absorbed_at_idle(self) -> float:
        """What the converter would absorb at low idle with the turbine held, held or not [N.m]."""
        return float(self.converter.capacity_at(0.0)) * self.engine.low_idle**2

    @property
    def governor_words(self) -> str:
        """What stands in the governed limit's place where stall itself is on the governor.

        Empty where the limit has a place of its own, or there is none.
        """
        stall = self.stall
        if stall is None or self.governed_limit != stall:
            return ""
        points = self.locus.from_idle()
        speeds = points.engine_speed[points.found & (points.speed_ratio >= 0.0)]
        if (speeds >= self.engine.rated_speed * (1.0 - 1e-9)).all():
            return "on the governor from stall on"
        return "on the governor at stall"

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

    def rows(self) -> Iterator[dict[str, Any]]:
        """Yield every point of the locus, by speed ratio and then engine speed, with its unit."""
        from_idle = self.locus.from_idle().engine_speed
        from_high = self.locus.from_high_idle().engine_speed
        points = self.locus.points
        for column in range(points.engine_speed.shape[1]):
            for row in range(points.engine_speed.shape[0]):
                point = MatchPoint.of(points.at((row, column)))
                if point is None:
                    continue
                reached = [
                    name
                    for name, speed in (("idle", from_idle), ("high idle", from_high))
                    if speed[column] == point.engine_speed
                ]
                yield {**point.to_dict(), "reached_from": reached}

    def to_dict(self) -> dict[str, Any]:
        """Return the result as plain data that JSON can carry (NaN never appears)."""

        def plain(point: MatchPoint | None) -> dict[str, Any] | None:
            return point.to_dict() if point else None

        return {
            "engine": {
                "id": self.engine.id,
                "name": self.engine.name,
                "rating_basis": self.engine.rating_basis,
                "rating_standard": self.engine.rating_standard,
                "source": self.engine.source,
                "fingerprint": self.engine.fingerprint(),
            },
            "converter": {
                "id": self.converter.id,
                "name": self.converter.name,
                "stator": self.converter.stator,
                "source": self.converter.source,
                "fingerprint": self.converter.fingerprint(),
            },
            "site": {
                "method": self.site.method,
                "torque_factor": self.site.torque_factor,
                "air_pressure_kpa": self.site.air.pressure / 1e3 if self.site.air else None,
                "air_temperature_degc": (
                    in_unit(self.site.air.temperature, "degc") if self.site.air else None
                ),
            },
            "hydraulic_torque_nm": self.hydraulic_torque,
            "stall": plain(self.stall),
            "stall_from_high_idle": plain(self.stall_from_high_idle),
            "stall_speed_band_rpm": (
                [from_si(speed, "rpm", "angular_speed") for speed in self.stall_band]
                if self.stall_band
                else None
            ),
            "coupling": plain(self.coupling),
            "best_efficiency": plain(self.best_efficiency),
            "best_efficiency_in_conversion": plain(self.best_in_conversion),
            "efficiency_ranges": [item.to_dict() for item in self.ranges],
            "governed_limit": plain(self.governed_limit),
            "idle_in_gear": self.idle.to_dict() if self.idle else None,
            "warnings": [note_plain(note) for note in self.warnings],
            "assumptions": [note_plain(note) for note in self.assumptions],
            "points": list(self.rows()),
        }

    def to_frame(self) -> pd.DataFrame:
        """Return the locus as a pandas table, one row a point, units in the column names."""
        import pandas as pd

        return pd.DataFrame(list(self.rows()))

    def key_points(self) -> tuple[tuple[str, MatchPoint | None], ...]:
        """Return the named points in the order in which a machine passes them.

        Where the data reach speed ratio 1 and no torque is taken there, that point is left out.
        """
        named: list[tuple[str, MatchPoint | None]] = [("stall", self.stall)]
        for level in (0.7, 0.8):
            for item in self.working_range(level)[:1]:
                named.append((f"{100 * level:.0f} % efficiency, lower", item.lower))
        named.append(("best with stator held", self.best_in_conversion))
        named.append(("coupling point", self.coupling))
        for item in self.working_range(0.8)[-1:]:
            name = "80 % efficiency, upper"
            if item.ends_with_data:
                name = "end of data, above 80 %"
            elif item.high == 1.0:
                name = "speed ratio 1, no slip"
            if item.upper is None or self.carries_load(item.upper):
                named.append((name, item.upper))
            for wider in self.working_range(0.7)[-1:]:
                if wider.high != item.high:
                    named.append(("70 % efficiency, upper", wider.upper))
        named.append((self.governor_words or "governed limit", self.governed_limit))
        if self.best_loaded or not self.best_efficiency:
            named.append(("best efficiency", self.best_efficiency))
        # Which comes first, governor or end of data, differs; what is missing keeps its place.
        passed = iter(
            sorted(
                ((name, point) for name, point in named if point is not None),
                key=lambda item: item[1].speed_ratio,
            )
        )
        return tuple((name, None) if point is None else next(passed) for name, point in named)

    @property
    def no_load_words(self) -> str:
        """What is said of the efficiency at no load, where the data reach it; else empty."""
        if self.best_efficiency is None or self.best_loaded is not None:
            return ""
        return (
            "best efficiency: it nears 100 % as the load goes to nothing at speed ratio 1; that "
            "point gives no power and is left out"
        )

    def hydraulics(self, system: System = "si") -> str:
        """Return how much hydraulic torque is deducted, to follow other words; empty for none."""
        if not self.hydraulic_torque:
            return ""
        taken, unit = show(self.hydraulic_torque, "torque", system)
        return f"; hydraulic torque deducted: {taken:.0f} {unit}"

    def in_units(self, system: System) -> MatchText:
        """Return the table of the named points with every note, in a unit system."""
        from converter_match.judgement.match.text import MatchText

        return MatchText(self, system)

    def text(self, system: System = "si") -> str:
        """Return a table of the named points and every note, readable in a log."""
        return self.in_units(system).text()

    def __repr__(self) -> str:
        return self.text()

    def _repr_html_(self) -> str:
        return self.in_units("si")._repr_html_()
