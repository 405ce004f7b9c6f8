"""How long a stall may be held before the oil is at its limit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from converter_match.answer.noted import Noted, note_lines
from converter_match.components.machine import Machine
from converter_match.errors import InputError
from converter_match.judgement.answer.plain import plain
from converter_match.judgement.conditions.air import (
    COOLER_AT_STALL,
    cooler_air_notes,
    temperature_around,
)
from converter_match.judgement.conditions.oil import STOP_AT, starting_oil
from converter_match.judgement.match.result import MatchResult
from converter_match.notes import Note, assumption
from converter_match.physics.dynamics.dynamics import STALL_CAUTION
from converter_match.physics.heat.oil import Hold, OilCircuit, hold
from converter_match.units import System, from_si, note_plain, quantity_note, show


@dataclass(frozen=True, eq=False, kw_only=True)
class StallHold(Noted):
    """A stall held at full throttle.

    Parameters
    ----------
    match : MatchResult
    machine : Machine
    answer : Hold
        Up to the oil's limit.
    time_to_stop : float or None
        Until the oil is at 149 degC [s]; None where it never is.
    time_oil_alone : float
        To the limit if neither metal nor cooler took any heat: the least it can be [s].
    notes : tuple of Note
    """

    match: MatchResult
    machine: Machine
    answer: Hold
    time_to_stop: float | None
    time_oil_alone: float
    notes: tuple[Note, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, units in the keys."""
        stall, answer = self.match.stall, self.answer
        assert stall is not None
        return {
            "engine": self.match.engine.id,
            "converter": self.match.converter.id,
            "machine": self.machine.id,
            "stall_speed_rpm": from_si(stall.engine_speed, "rpm", "angular_speed"),
            "heat_kw": answer.heat / 1e3,
            "oil_start_degc": plain(answer.start, "degc"),
            "oil_limit_degc": plain(answer.limit, "degc"),
            "first_rise_k_per_s": answer.first_rate,
            "time_to_limit_s": answer.time_to_limit,
            "time_to_limit_oil_alone_s": self.time_oil_alone,
            "time_to_149_degc_s": self.time_to_stop,
            "balance_degc": plain(answer.balance, "degc"),
            "warnings": [note_plain(note) for note in self.warnings],
            "assumptions": [note_plain(note) for note in self.assumptions],
        }

    def text(self, system: System = "si") -> str:
        """Return the hold and every note, readable in a log."""
        stall, answer = self.match.stall, self.answer
        assert stall is not None

        def of(value: float, dimension: str, form: str = ".0f") -> str:
            number, unit = show(value, dimension, system)
            return f"{number:{form}} {unit}"

        def after(time: float | None, where: float) -> str:
            if where <= answer.start:
                return "already there"
            return "never" if time is None else f"after {time:.0f} s"

        least = "" if answer.limit <= answer.start else " (the least)"
        alone = f"{after(self.time_oil_alone, answer.limit)}{least}"
        rise, unit = show(answer.first_rate, "temperature_difference", system)
        lines = [
            f"{self.match.engine.name}  +  {self.match.converter.name}",
            f"{self.machine.name}, held at stall",
            "",
            f"stall {of(stall.engine_speed, 'angular_speed')}, heat {of(answer.heat, 'power')}",
            f"oil from {of(answer.start, 'temperature')}, first rising {rise:.2f} {unit}/s",
            f"limit if the oil alone took the heat: {alone}",
        ]
        for name, time, where in (
            ("limit", answer.time_to_limit, answer.limit),
            ("stop value of one army manual", self.time_to_stop, STOP_AT),
        ):
            lines.append(f"{name}, {of(where, 'temperature')}: {after(time, where)}")
        lines += note_lines(self.notes, system)
        return "\n".join(lines)

    def __repr__(self) -> str:
        return self.text()


def stall_hold(
    match: MatchResult, machine: Machine, *, oil_start: float | None = None
) -> StallHold:
    """Return how long a stall may be held at full throttle.

    Parameters
    ----------
    match : MatchResult
        With a stall match.
    machine : Machine
        With oil volume and temperature limit; the cooler counts if there is one.
    oil_start : float, optional
        [K]; the machine's working temperature without.

    Raises
    ------
    InputError
        If there is no stall match, or volume or limit are not given.
    """
    if match.stall is None:
        raise InputError("there is no stall match to hold", source=match.converter.id)
    outside = temperature_around(match.site)
    circuit = OilCircuit.of(machine, outside)
    limit = machine.oil.temperature_limit
    for field, value in (("oil.volume", circuit), ("oil.temperature_limit", limit)):
        if value is None:
            raise InputError("needed for a stall hold", source=machine.id, field=field)
    assert circuit is not None
    assert limit is not None
    start, assumed = starting_oil(machine, outside, oil_start)
    heat = match.stall.heat
    notes: list[Note] = [STALL_CAUTION, *assumed]
    if start >= limit:
        notes.append(
            quantity_note(
                "oil-over-limit-at-start",
                "The oil is at {start} at the start, its limit is {limit}: there is no time for a "
                "hold. Let it cool down in neutral first.",
                "limit",
                start=(start, "temperature", ".0f"),
                limit=(limit, "temperature", ".0f"),
            )
        )
    if match.stall.engine_speed and machine.cooler is not None:
        notes.append(COOLER_AT_STALL)
    notes += cooler_air_notes(match.site, machine)
    capacity = machine.oil.oil_heat_capacity
    assert capacity is not None
    if machine.oil.metal_conductance is None and machine.oil.metal_mass is not None:
        notes.append(
            assumption(
                "metal-follows-oil",
                "No conductance between oil and metal is given: all of the metal is taken to warm "
                "up with the oil, which a short hold does not give it time for. Go by the time of "
                "the oil alone.",
            )
        )
    return StallHold(
        match=match,
        machine=machine,
        answer=hold(circuit, heat, start, limit),
        time_to_stop=hold(circuit, heat, start, STOP_AT).time_to_limit,
        time_oil_alone=max(capacity * (limit - start) / heat, 0.0),
        notes=(*notes, *machine.oil.notes),
    )
