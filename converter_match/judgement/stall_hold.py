"""How long a stall hold may last, and how long the oil then needs in neutral."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

from converter_match.components.machine import Machine
from converter_match.judgement.oil_limit import STOP_AT
from converter_match.judgement.plain_data import plain
from converter_match.judgement.stall_setup import StallSetup
from converter_match.judgement.surroundings import COOLER_AT_STALL, temperature_around
from converter_match.notes import Note, assumption
from converter_match.physics.heat import OilCircuit, advance, hold
from converter_match.units import quantity_note

# Common practice, no source: holds of 10 to 30 s. No public limit in seconds was found.
SHORTEST_PRACTICE, LONGEST_PRACTICE = 10.0, 30.0
# Of the calculated time, for what one oil temperature does not tell of the hottest place.
_MARGIN = 0.8
_COOLED = 2.0  # K above the start counts as cooled
_LEAST_COOL_DOWN = 60.0


@dataclass(frozen=True)
class HoldAdvice:
    """How long, SI units.

    Parameters
    ----------
    seconds : float
        Longest hold; 0 where the oil is too hot to begin.
    set_by : str
        ``oil-limit``, ``common-practice`` or ``no-oil-data``.
    heat : float
        Into the oil at stall [W].
    rate : float or None
        First rise of the oil temperature [K/s].
    to_limit : float or None
        Calculated time to the limit [s]; None where not known or never.
    start, limit : float
        Oil temperature [K].
    end : float or None
        Calculated oil temperature after the longest hold [K].
    cool_down : float or None
        Calculated time in neutral until the oil is back within 2 K [s]; None where not known.
    notes : tuple of Note
    """

    seconds: float
    set_by: str
    heat: float
    rate: float | None
    to_limit: float | None
    start: float
    limit: float
    end: float | None
    cool_down: float | None
    notes: tuple[Note, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return plain data with the unit in each key."""
        return {
            "longest_hold_s": self.seconds,
            "set_by": self.set_by,
            "heat_kw": self.heat / 1e3,
            "oil_rise_k_per_s": self.rate,
            "time_to_oil_limit_s": self.to_limit,
            "oil_start_degc": plain(self.start, "degc"),
            "oil_limit_degc": plain(self.limit, "degc"),
            "oil_after_hold_degc": plain(self.end, "degc"),
            "cool_down_in_neutral_s": self.cool_down,
        }


def hold_advice(setup: StallSetup, heat: float) -> HoldAdvice:
    """Return how long full throttle may be held with a heat at stall [W].

    In so short a time metal does not follow, unless its conductance is given: the oil is taken to
    warm alone. Of the calculated time to the oil limit four fifths are used, since one bulk
    temperature says little of the hottest place, and no more than common practice. Without oil data
    the shortest usual hold stands.
    """
    oil = None if setup.machine is None else setup.machine.oil
    air = temperature_around(setup.effect())
    whole = None if setup.machine is None else OilCircuit.of(setup.machine, air)
    circuit = None if whole is None else _quick(whole, setup.machine)
    limits = [setup.converter.limits.oil_temperature, oil.temperature_limit if oil else None]
    known = [value for value in limits if value is not None]
    limit = min([*known, STOP_AT])
    notes: list[Note] = [_practice()]
    if not known:
        notes.append(
            quantity_note(
                "oil-limit-not-given",
                "Neither machine nor converter states an oil temperature limit: {limit} is taken, "
                "at which US Army TM 9-2320-283-10 says to stop.",
                "assumption",
                limit=(limit, "temperature", ".0f"),
            )
        )
    if circuit is None or whole is None:
        notes.append(
            assumption(
                "hold-not-calculated",
                "No oil volume is given: the hold is not calculated, the shortest usual one "
                f"({SHORTEST_PRACTICE:.0f} s) stands. Watch the gauge.",
            )
        )
        seconds = 0.0 if setup.oil >= limit else SHORTEST_PRACTICE
        return HoldAdvice(
            seconds, "no-oil-data", heat, None, None, setup.oil, limit, None, None, tuple(notes)
        )
    if circuit.cooler is not None:
        notes.append(COOLER_AT_STALL)
    found = hold(circuit, heat, setup.oil, limit)
    allowed = math.inf if found.time_to_limit is None else _MARGIN * found.time_to_limit
    seconds = float(math.floor(min(allowed, LONGEST_PRACTICE)))
    set_by = "common-practice" if allowed >= LONGEST_PRACTICE else "oil-limit"
    after, metal = (float(t) for t in advance(circuit, setup.oil, setup.oil, heat, seconds))
    if seconds < 3.0:
        notes.append(
            Note(
                "hold-too-short",
                "The oil is at or so near to its limit that there is no time for a hold: cool it "
                "first.",
                "limit",
            )
        )
    return HoldAdvice(
        seconds,
        set_by,
        heat,
        found.first_rate,
        found.time_to_limit,
        setup.oil,
        limit,
        after,
        _cool_down(whole, after, metal, setup.oil),
        (*notes, *setup.machine.oil.notes) if setup.machine else tuple(notes),
    )


def _quick(circuit: OilCircuit, machine: Machine | None) -> OilCircuit:
    """Return the circuit without the metal where nothing tells how fast metal follows."""
    oil = None if machine is None else machine.oil.oil_heat_capacity
    if oil is None or circuit.metal_capacity > 0.0:
        return circuit
    return replace(circuit, oil_capacity=oil)


def _practice() -> Note:
    return Note(
        "hold-common-practice",
        f"Holds of {SHORTEST_PRACTICE:.0f} to {LONGEST_PRACTICE:.0f} s are common practice, no "
        "source; the machine maker's limit comes first. Four fifths of the calculated time to the "
        "oil limit are used, the oil warming alone.",
        "caution",
    )


def _cool_down(circuit: OilCircuit, oil: float, metal: float, start: float) -> float | None:
    """Return the time in neutral until the oil is back [s], what neutral makes of heat left out."""
    if circuit.cooler is None or start + _COOLED <= circuit.air_temperature:
        return None
    time, step = 0.0, 5.0
    while oil > start + _COOLED:
        if time > 3600.0:
            return None
        oil, metal = (float(t) for t in advance(circuit, oil, metal, 0.0, step))
        time += step
    return max(time, _LEAST_COOL_DOWN)
