"""A loader's short cycle: what it takes, and what continuous work does to the oil."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np

from converter_match.answer.noted import Noted, note_lines
from converter_match.components.driveline import Driveline
from converter_match.components.machine import Machine
from converter_match.components.route import ShortCycle
from converter_match.judgement.answer.amounts import fuel_of_load, fuel_rate, production
from converter_match.judgement.answer.plain import plain
from converter_match.judgement.conditions.air import (
    air_drag_notes,
    cooler_air_notes,
    density_around,
    temperature_around,
)
from converter_match.judgement.conditions.ground import ground_notes, surface_rows
from converter_match.judgement.conditions.oil import STOP_AT, starting_oil
from converter_match.judgement.match.result import MatchResult
from converter_match.notes import Note, assumption
from converter_match.physics.engine.fuel import TYPICAL_DENSITY, fuel_law
from converter_match.physics.haul.short_cycle import PhaseRun, run_cycle
from converter_match.physics.heat.oil import OilCircuit, hold
from converter_match.physics.wheels.rotating import Inertias
from converter_match.units import System, from_si, note_plain, quantity_note, show

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False, kw_only=True)
class CycleResult(Noted):
    """A short cycle, SI units.

    Parameters
    ----------
    match : MatchResult
    driveline, machine, cycle
        What was driven.
    phases : tuple of PhaseRun
    fuel_density : float
        [kg/m^3].
    balance : float or None
        Oil temperature of continuous work [K]; None where not known or beyond the cooler's data.
    time_to_limit : float or None
        Of continuous work until the oil is at its limit [s]; None where it never gets there or
        that is not known.
    notes : tuple of Note
    """

    match: MatchResult
    driveline: Driveline
    machine: Machine
    cycle: ShortCycle
    phases: tuple[PhaseRun, ...]
    fuel_density: float
    balance: float | None
    time_to_limit: float | None
    notes: tuple[Note, ...]

    @property
    def time(self) -> float:
        """Of one cycle [s]."""
        return sum(run.time for run in self.phases)

    @property
    def fuel(self) -> float | None:
        """Of one cycle [kg]."""
        known = [run.fuel for run in self.phases if run.fuel is not None]
        return sum(known) if len(known) == len(self.phases) else None

    @property
    def oil_heat(self) -> float:
        """Into the transmission oil in one cycle [J]."""
        return sum(run.oil_heat for run in self.phases)

    def summary(self) -> dict[str, float | None]:
        """Return the cycle in numbers, units in the keys; None where not known."""
        arrives = all(run.arrives for run in self.phases)
        tonnes = self.machine.payload / 1e3 if arrives else 0.0
        hours = self.time / 3600.0
        litres = None if self.fuel is None else 1e3 * self.fuel / self.fuel_density
        return {
            "time_s": self.time,
            "production_t_per_h": tonnes / hours if tonnes and hours else None,
            "fuel_l": litres,
            "fuel_l_per_h": litres / hours if litres is not None and hours else None,
            "fuel_l_per_t": litres / tonnes if litres is not None and tonnes else None,
            "oil_heat_kj": self.oil_heat / 1e3,
            "mean_oil_heat_kw": self.oil_heat / self.time / 1e3 if self.time else None,
            "oil_of_continuous_work_degc": plain(self.balance, "degc"),
            "time_to_oil_limit_min": (
                None if self.time_to_limit is None else self.time_to_limit / 60.0
            ),
        }

    def rows(self) -> list[dict[str, Any]]:
        """Return the phases, units in the keys."""
        return [
            {
                "phase": run.phase.name,
                "kind": run.phase.kind,
                "time_s": run.time,
                "fuel_g": None if run.fuel is None else 1e3 * run.fuel,
                "oil_heat_kj": run.oil_heat / 1e3,
                "mean_engine_speed_rpm": from_si(run.engine_speed, "rpm", "angular_speed"),
                "top_speed_kmh": from_si(run.top_speed, "km/h", "velocity"),
                "push_kn": None if run.force is None else run.force / 1e3,
                "grip_limited": run.grip_limited,
                "arrives": run.arrives,
            }
            for run in self.phases
        ]

    def to_dict(self) -> dict[str, Any]:
        """Return the result as plain data that JSON can carry."""
        return {
            "engine": self.match.engine.id,
            "converter": self.match.converter.id,
            "driveline": self.driveline.id,
            "machine": self.machine.id,
            "cycle": {"id": self.cycle.id, "name": self.cycle.name, "source": self.cycle.source},
            "surfaces": surface_rows([self.cycle.surface]),
            "summary": self.summary(),
            "phases": self.rows(),
            "warnings": [note_plain(note) for note in self.warnings],
            "assumptions": [note_plain(note) for note in self.assumptions],
        }

    def to_frame(self) -> pd.DataFrame:
        """Return the phases as a pandas table."""
        import pandas as pd

        return pd.DataFrame(self.rows())

    def text(self, system: System = "si") -> str:
        """Return phases, cycle and every note, readable in a log."""
        units = [show(0.0, d, system)[1] for d in ("energy", "angular_speed", "velocity", "force")]
        table = [
            ["phase", "time", "fuel", "oil heat", "engine", "top speed", "push"],
            ["", "s", "g", *units],
        ]
        for run in self.phases:
            push = "-" if run.force is None else f"{show(run.force, 'force', system)[0]:.0f}"
            table.append(
                [
                    run.phase.name,
                    f"{run.time:.1f}",
                    "-" if run.fuel is None else f"{1e3 * run.fuel:.0f}",
                    f"{show(run.oil_heat, 'energy', system)[0]:.0f}",
                    f"{show(run.engine_speed, 'angular_speed', system)[0]:.0f}",
                    f"{show(run.top_speed, 'velocity', system)[0]:.1f}",
                    push + (" (grip)" if run.grip_limited else ""),
                ]
            )
        widths = [max(len(row[i]) for row in table) for i in range(len(table[0]))]
        lines = [
            f"{self.match.engine.name}  +  {self.match.converter.name}",
            f"{self.machine.name}; {self.driveline.name}",
            f"Cycle: {self.cycle.name}",
            "",
        ]
        for row in table:
            cells = [row[0].ljust(widths[0])]
            cells += [c.rjust(w) for c, w in zip(row[1:], widths[1:], strict=True)]
            lines.append("  ".join(cells).rstrip())
        lines += ["", *self._summary_lines(system)]
        lines += note_lines(self.notes, system)
        return "\n".join(lines)

    def _summary_lines(self, system: System) -> list[str]:
        s = self.summary()
        lines = [f"one cycle: {self.time:.1f} s"]
        rate, hourly, per_load = s["production_t_per_h"], s["fuel_l_per_h"], s["fuel_l_per_t"]
        if rate is not None:
            lines.append(production(rate, system))
        if hourly is not None:
            lines.append(fuel_rate(hourly, system))
        if per_load is not None:
            lines.append(fuel_of_load(per_load, system))
        heat, unit = show(self.oil_heat / self.time, "power", system)
        lines.append(f"mean heat into the oil: {heat:.1f} {unit}")
        if self.balance is not None:
            value, unit = show(self.balance, "temperature", system)
            lines.append(f"oil in continuous work: {value:.0f} {unit}")
        return lines

    def __repr__(self) -> str:
        return self.text()

    def _repr_html_(self) -> str:
        return f"<pre>{escape(self.text())}</pre>"


def work_cycle(
    match: MatchResult,
    driveline: Driveline,
    machine: Machine,
    cycle: ShortCycle,
    *,
    oil_start: float | None = None,
) -> CycleResult:
    """Run a loader through a short cycle.

    Parameters
    ----------
    match : MatchResult
        Its site holds here too; hydraulics come from the phases.
    driveline, machine, cycle : Driveline, Machine, ShortCycle
    oil_start : float, optional
        Oil temperature at the start of continuous work [K].

    Raises
    ------
    InputError
        If a phase cannot be set up.
    """
    density = density_around(match.site)
    outside = temperature_around(match.site)
    phases = run_cycle(
        match.engine,
        match.converter,
        driveline,
        machine,
        cycle,
        torque_factor=match.site.torque_factor,
        air_density=density,
        air_temperature=outside,
    )
    time = sum(run.time for run in phases)
    mean = sum(run.oil_heat for run in phases) / time
    circuit = OilCircuit.of(machine, outside)
    balance = reached = None
    limit = machine.oil.temperature_limit
    notes: list[Note] = _phase_notes(phases)
    if circuit is not None and limit is not None:
        start, assumed = starting_oil(machine, outside, oil_start)
        notes += assumed
        answer = hold(circuit, mean, start, limit)
        balance, reached = answer.balance, answer.time_to_limit
        if reached is not None:
            notes.append(
                quantity_note(
                    "oil-above-limit",
                    "Cycle after cycle the transmission oil reaches its limit of {limit} after "
                    f"{reached / 60:.0f} min: the cooler does not carry {{heat}}.",
                    "limit",
                    limit=(limit, "temperature", ".0f"),
                    heat=(mean, "power", ".0f"),
                )
            )
        if balance is not None and balance >= STOP_AT:
            notes.append(
                quantity_note(
                    "hot-oil",
                    "The oil would go to {hottest}. One army manual (TM 9-2320-283-10) stops the "
                    "vehicle at {stop} or more. Hot oil burns people: the machine maker's "
                    "procedure comes first.",
                    "caution",
                    hottest=(balance, "temperature", ".0f"),
                    stop=(STOP_AT, "temperature", ".0f"),
                )
            )
    fuel = match.engine.fuel
    law = fuel_law(match.engine)
    notes += [
        assumption(
            "cycle-driven-hard",
            "Each drive starts and ends at rest, at full throttle up to its speed limit; while "
            "standing with pumps at work the engine runs at rated speed, else at low idle. Pump "
            "torque is the same at every speed.",
        ),
        *ground_notes(cycle.surface, machine),
        *air_drag_notes(match.site, machine),
        *cooler_air_notes(match.site, machine),
        *match.engine.notes,
        *match.converter.notes,
        *match.site.notes,
        *driveline.notes,
        *machine.notes,
        *Inertias.of(match.engine, match.converter, driveline, machine).notes,
        *(law.notes if law else ()),
    ]
    return CycleResult(
        match=match,
        driveline=driveline,
        machine=machine,
        cycle=cycle,
        phases=phases,
        fuel_density=TYPICAL_DENSITY if fuel is None or fuel.density is None else fuel.density,
        balance=balance,
        time_to_limit=reached,
        notes=tuple(dict.fromkeys(notes)),
    )


def _phase_notes(phases: tuple[PhaseRun, ...]) -> list[Note]:
    notes = []
    for run in phases:
        if not run.arrives:
            notes.append(
                Note(
                    "cannot-move-on",
                    f"The machine comes to a stand in the phase {run.phase.name!r} on "
                    f"{100 * run.phase.grade:.1f} %: effort or grip do not suffice.",
                    "limit",
                )
            )
        if run.grip_limited and run.force is not None and np.isfinite(run.force):
            notes.append(
                quantity_note(
                    "crowd-limited-by-grip",
                    f"In the phase {run.phase.name!r} the wheels would spin at full throttle: the "
                    "ground allows {force}.",
                    force=(run.force, "force", ".0f"),
                )
            )
    return notes
