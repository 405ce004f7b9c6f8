"""What a machine does on a haul route: the cycle, segment by segment and step by step."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np

from converter_match.answer.noted import Noted, note_lines
from converter_match.components.route import Route
from converter_match.judgement.answer.amounts import fuel_of_load, fuel_rate, production
from converter_match.judgement.answer.plain import plain
from converter_match.judgement.conditions.ground import surface_rows
from converter_match.judgement.match.result import MatchResult
from converter_match.notes import Note
from converter_match.physics.haul.route import Hauler, RouteRun, RouteTotals
from converter_match.units import System, from_si, note_plain, show

if TYPE_CHECKING:
    import pandas as pd

# A table of more segments than this is for a file, not for a log.
_MOST_ROWS = 60


@dataclass(frozen=True, kw_only=True)
class Standstill:
    """Where a machine comes to a stand and cannot move on, SI units.

    Parameters
    ----------
    segment : int
        Counted from 1.
    distance : float
        From the start of the route [m].
    into_segment : float
        From the start of the segment [m].
    grade : float
        Rise / run.
    effort, resistance : float
        What it can put on the ground from rest, and what it would need [N].
    grip : bool
        Whether the ground, not the engine, sets the effort.
    """

    segment: int
    distance: float
    into_segment: float
    grade: float
    effort: float
    resistance: float
    grip: bool


@dataclass(frozen=True, kw_only=True)
class SegmentRow:
    """One segment as it was driven, SI units; None where nothing was driven in it.

    Parameters
    ----------
    segment : int
        Counted from 1.
    length, grade, speed_limit : float
        [m], rise / run, [m/s] (infinite for none).
    surface, load : str
    time : float or None
        Stops at its end included [s].
    mean_speed, top_speed : float or None
        While moving [m/s].
    states : tuple of str
        Gears in order of use, ``L`` for lock-up.
    fuel : float or None
        [kg].
    converter_heat, brake_work : float or None
        [J].
    oil_end : float or None
        [K].
    retarding_needed, retarding_available : float or None
        Power to hold its speed on the descent, and what the engine can take of it through the
        driveline in the best gear [W]; None where the machine does not run away by itself.
    """

    segment: int
    length: float
    grade: float
    speed_limit: float
    surface: str
    load: str
    time: float | None
    mean_speed: float | None
    top_speed: float | None
    states: tuple[str, ...]
    fuel: float | None
    converter_heat: float | None
    brake_work: float | None
    oil_end: float | None
    retarding_needed: float | None
    retarding_available: float | None

    def to_dict(self) -> dict[str, Any]:
        """Return plain data with the unit in each key."""
        return {
            "segment": self.segment,
            "length_m": self.length,
            "grade_percent": 100.0 * self.grade,
            "surface": self.surface,
            "load": self.load,
            "speed_limit_kmh": plain(self.speed_limit, "kmh"),
            "time_s": self.time,
            "mean_speed_kmh": plain(self.mean_speed, "kmh"),
            "top_speed_kmh": plain(self.top_speed, "kmh"),
            "gears": list(self.states),
            "fuel_kg": self.fuel,
            "converter_heat_kj": _thousandth(self.converter_heat),
            "service_brake_work_kj": _thousandth(self.brake_work),
            "oil_end_degc": plain(self.oil_end, "degc"),
            "retarding_needed_kw": plain(self.retarding_needed, "kw"),
            "retarding_available_kw": plain(self.retarding_available, "kw"),
        }


@dataclass(frozen=True, eq=False, kw_only=True)
class RouteResult(Noted):
    """A machine on a route.

    Parameters
    ----------
    match : MatchResult
        Engine, converter, site and hydraulics.
    hauler : Hauler
    route : Route
    run : RouteRun
        Every step.
    totals : RouteTotals
    segments : tuple of SegmentRow
        Up to where the machine arrives or stands.
    standstill : Standstill or None
    fuel_density : float or None
        [kg/m^3].
    notes : tuple of Note
    """

    match: MatchResult
    hauler: Hauler
    route: Route
    run: RouteRun
    totals: RouteTotals
    segments: tuple[SegmentRow, ...]
    standstill: Standstill | None
    fuel_density: float | None
    notes: tuple[Note, ...]

    @property
    def time(self) -> float:
        """Of the whole cycle, stops included [s]."""
        return float(self.totals.time[0])

    @property
    def distance(self) -> float:
        """Way made [m]."""
        profile = self.run.profile
        way = 0.5 * (profile.speed[:-1, 0] + profile.speed[1:, 0]) * profile.time[:, 0]
        return float(way.sum())

    @property
    def fuel(self) -> float | None:
        """[kg]."""
        return None if self.totals.fuel is None else float(self.totals.fuel[0])

    @property
    def payload(self) -> float:
        """Mass moved to its end in one cycle [kg]; 0 where the machine does not arrive."""
        if self.standstill is not None:
            return 0.0
        return self.route.trips * self.hauler.machine.payload

    @property
    def no_start(self) -> str:
        """What keeps the machine from making any way at all; empty where it makes some."""
        stands = self.standstill
        if stands is None or stands.distance > 0.0:
            return ""
        return f"does not start: {'too little grip' if stands.grip else 'too weak'}"

    @property
    def balance(self) -> float | None:
        """Engine work less everything it went into, over the sum of the magnitudes.

        None where there was no work.
        """
        ledger = self.totals.ledger
        turnover = float(ledger.turnover[0])
        return float((ledger.engine - ledger.spent)[0]) / turnover if turnover else None

    def summary(self) -> dict[str, float | None]:
        """Return the cycle in numbers, the unit in each key; None where not known.

        Of a machine that does not start nothing is known but that it makes no way.
        """
        found = self._summary()
        if self.no_start:
            known = {"distance_km", "payload_t"}
            found = {key: value if key in known else None for key, value in found.items()}
        return found

    def _summary(self) -> dict[str, float | None]:
        hours = self.time / 3600.0
        fuel, payload, density = self.fuel, self.payload, self.fuel_density
        litres = None if fuel is None or density is None else 1e3 * fuel / density
        tonnes = payload / 1e3
        ledger = self.totals.ledger
        moving = self.run.profile.time[~self.run.steps.is_stop, 0].sum()
        locked = self.hauler.chain.locked[self.run.states.state[:, 0]]
        way = self.run.steps.length * (self.run.profile.time[:, 0] > 0)
        hottest, oil = self.totals.hottest, self.run.oil
        return {
            "distance_km": self.distance / 1e3,
            "time_min": self.time / 60.0,
            "mean_speed_moving_kmh": 3.6 * self.distance / moving if moving else None,
            "cycles_per_hour": 1.0 / hours if hours and self.standstill is None else None,
            "payload_t": tonnes,
            "production_t_per_h": tonnes / hours if tonnes and hours else None,
            "fuel_kg": fuel,
            "fuel_l": litres,
            "fuel_l_per_h": litres / hours if litres is not None and hours else None,
            "fuel_l_per_t": litres / tonnes if litres is not None and tonnes else None,
            "engine_work_mj": float(ledger.engine[0]) / 1e6,
            "converter_heat_mj": float(ledger.converter[0]) / 1e6,
            "service_brake_work_mj": float(ledger.brakes[0]) / 1e6,
            "oil_start_degc": None if oil is None else plain(oil[0, 0], "degc"),
            "hottest_oil_degc": None if hottest is None else plain(hottest[0], "degc"),
            "gear_changes": float(self.totals.shifts[0]),
            "lock_up_share_of_distance": float(way[locked].sum() / way.sum()) if way.sum() else 0.0,
        }

    def rows(self) -> Iterator[dict[str, Any]]:
        """Yield every step, units in the keys."""
        run, chain = self.run, self.hauler.chain
        way = run.steps.distance
        last = run.profile.stuck[0] if run.profile.stuck[0] >= 0 else run.steps.length.size - 1
        clock = np.cumsum(run.profile.time[:, 0])
        fuel = None if run.states.fuel is None else np.cumsum(run.states.fuel[:, 0])
        for k in range(int(last) + 1):
            segment = int(run.steps.segment[k])
            drive = chain.drives[run.states.state[k, 0]]
            stands = bool(run.steps.is_stop[k])
            yield {
                "distance_m": float(way[k + 1]),
                "segment": segment + 1,
                "time_s": float(clock[k]),
                "grade_percent": 100.0 * float(self.route.grade[segment]),
                "speed_kmh": from_si(float(run.profile.speed[k + 1, 0]), "km/h", "velocity"),
                "allowed_speed_kmh": from_si(float(run.ceiling[k + 1]), "km/h", "velocity"),
                "gear": "neutral" if stands else drive.gear.name,
                "lock_up": bool(chain.locked[run.states.state[k, 0]]) and not stands,
                "engine_speed_rpm": from_si(
                    float(run.states.engine_speed[k, 0]), "rpm", "angular_speed"
                ),
                "engine_torque_nm": float(run.states.engine_torque[k, 0]),
                "converter_heat_kw": float(run.states.converter_heat[k, 0]) / 1e3,
                "oil_heat_kw": float(run.states.oil_heat[k, 0]) / 1e3,
                "oil_degc": None if run.oil is None else plain(run.oil[k + 1, 0], "degc"),
                "service_brake_force_kn": float(run.states.brake_force[k, 0]) / 1e3,
                "fuel_kg": None if fuel is None else float(fuel[k]),
            }

    def to_dict(self) -> dict[str, Any]:
        """Return the result as plain data that JSON can carry."""
        stands = self.standstill
        names = self.totals.ledger.__dataclass_fields__
        return {
            "engine": self.match.engine.id,
            "converter": self.match.converter.id,
            "driveline": self.hauler.driveline.id,
            "machine": self.hauler.machine.id,
            "route": {
                "id": self.route.id,
                "name": self.route.name,
                "source": self.route.source,
                "segments": int(self.route.length.size),
                "length_m": self.route.total_length,
            },
            "surfaces": surface_rows(self.route.surface),
            "site": self.match.site.method,
            "arrives": stands is None,
            "standstill": None
            if stands is None
            else {
                "segment": stands.segment,
                "distance_m": stands.distance,
                "into_segment_m": stands.into_segment,
                "grade_percent": 100.0 * stands.grade,
                "effort_kn": stands.effort / 1e3,
                "resistance_kn": stands.resistance / 1e3,
                "limited_by": "grip" if stands.grip else "effort",
            },
            "cycle": self.summary(),
            "energy_mj": {
                name: None if self.no_start else float(getattr(self.totals.ledger, name)[0]) / 1e6
                for name in names
            },
            "energy_imbalance": self.balance,
            "segments": [row.to_dict() for row in self.segments],
            "warnings": [note_plain(note) for note in self.warnings],
            "assumptions": [note_plain(note) for note in self.assumptions],
        }

    def to_frame(self) -> pd.DataFrame:
        """Return every step as a pandas table, units in the column names."""
        import pandas as pd

        return pd.DataFrame(list(self.rows()))

    def text(self, system: System = "si") -> str:
        """Return the cycle, the segments and every note, readable in a log."""
        lines = [
            f"{self.match.engine.name}  +  {self.match.converter.name}",
            f"{self.hauler.machine.name}; {self.hauler.driveline.name}",
            f"Route: {self.route.name} ({self.route.length.size} segments)",
            "",
            *self._cycle_lines(system),
            "",
            *self._segment_lines(system),
        ]
        lines += note_lines(self.notes, system)
        return "\n".join(lines)

    def _cycle_lines(self, system: System) -> list[str]:
        if self.no_start:
            return [self.no_start]
        cycle = self.summary()
        speed = cycle["mean_speed_moving_kmh"]
        way_unit = "mi" if system == "us" else "km"
        way = from_si(self.distance, way_unit, "length")
        said = [
            ("distance", f"{way:.2f} {way_unit}"),
            ("time, stops included", f"{self.time / 60:.1f} min"),
        ]
        if speed is not None:
            value, unit = show(speed / 3.6, "velocity", system)
            said.append(("mean speed while moving", f"{value:.1f} {unit}"))
        if cycle["production_t_per_h"] is not None:
            said.append(("production", production(cycle["production_t_per_h"], system)))
        if cycle["fuel_l_per_h"] is not None:
            said += self._fuel_lines(cycle, system)
        elif cycle["fuel_kg"] is None:
            said.append(("fuel", "not known: no consumption in the engine's file"))
        for name, key in (
            ("work of the engine", "engine_work_mj"),
            ("heat in the converter", "converter_heat_mj"),
            ("work of the service brakes", "service_brake_work_mj"),
        ):
            value, unit = show(1e6 * (cycle[key] or 0.0), "energy", system)
            said.append((name, f"{round(value) + 0} {unit}"))  # no work is not "-0"
        if self.totals.hottest is not None:
            value, unit = show(float(self.totals.hottest[0]), "temperature", system)
            start = " (the start)" if cycle["hottest_oil_degc"] == cycle["oil_start_degc"] else ""
            said.append(("hottest oil", f"{value:.0f} {unit}{start}"))
        said.append(("gear changes", f"{self.totals.shifts[0]}"))
        share = 100 * (cycle["lock_up_share_of_distance"] or 0.0)
        said.append(("distance in lock-up", f"{share:.0f} %"))
        width = max(len(name) for name, _ in said)
        return [f"{name.ljust(width)}  {value}" for name, value in said]

    def _fuel_lines(self, cycle: dict[str, float | None], system: System) -> list[tuple[str, str]]:
        per_hour, per_tonne = cycle["fuel_l_per_h"], cycle["fuel_l_per_t"]
        assert per_hour is not None
        said = [("fuel", fuel_rate(per_hour, system))]
        if per_tonne is not None:
            said.append(("fuel for the load moved", fuel_of_load(per_tonne, system)))
        return said

    def _segment_lines(self, system: System) -> list[str]:
        if len(self.segments) > _MOST_ROWS:
            return [
                f"{len(self.segments)} segments are too many to list here: see the CSV or the JSON."
            ]
        head, body = self._table(system)
        table = [*head, *body]
        widths = [max(len(row[i]) for row in table) for i in range(len(head[0]))]
        return [
            "  ".join(c.rjust(w) for c, w in zip(row, widths, strict=True)).rstrip()
            for row in table
        ]

    def _table(self, system: System) -> tuple[list[list[str]], list[list[str]]]:
        speed_unit = show(0.0, "velocity", system)[1]
        heat_unit = show(0.0, "temperature", system)[1]
        energy_unit, power_unit = show(0.0, "energy", system)[1], show(0.0, "power", system)[1]
        long = "ft" if system == "us" else "m"
        head = [
            ["", "length", "grade", "load", "mean", "top", "time", "gears", "converter", "oil"],
            ["", long, "%", "", speed_unit, speed_unit, "s", "", energy_unit, heat_unit],
        ]
        head[0] += ["brakes", "to hold back", "engine can"]
        head[1] += [energy_unit, power_unit, power_unit]

        def of(value: float | None, dimension: str, digits: int = 0) -> str:
            if value is None:
                return "-"
            return f"{show(value, dimension, system)[0] + 0.0:.{digits}f}"

        body = []
        for row in self.segments:
            length = from_si(row.length, "ft", "length") if system == "us" else row.length
            gears = row.states if len(row.states) < 6 else (*row.states[:2], "..", row.states[-1])
            body.append(
                [
                    str(row.segment),
                    f"{length:.0f}",
                    f"{100 * row.grade:.1f}",
                    row.load,
                    of(row.mean_speed, "velocity", 1),
                    of(row.top_speed, "velocity", 1),
                    of(row.time, "time"),
                    " ".join(gears),
                    of(row.converter_heat, "energy"),
                    of(row.oil_end, "temperature"),
                    of(row.brake_work, "energy"),
                    of(row.retarding_needed, "power"),
                    of(row.retarding_available, "power"),
                ]
            )
        return head, body

    def __repr__(self) -> str:
        return self.text()

    def _repr_html_(self) -> str:
        return f"<pre>{escape(self.text())}</pre>"


def _thousandth(value: float | None) -> float | None:
    return None if value is None else value / 1e3
