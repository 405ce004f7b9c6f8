"""How long a stall hold may last, and how long the oil then needs in neutral."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

from converter_match.judgement.answer.plain import plain
from converter_match.judgement.conditions.air import cooler_air_notes, temperature_around
from converter_match.judgement.conditions.oil import STOP_AT
from converter_match.judgement.stall.setup import StallSetup
from converter_match.notes import Note, assumption
from converter_match.physics.heat.oil import OilCircuit, advance, hold
from converter_match.units import quantity_note

# Common practice, no source: holds of 10 to 30 s. No public limit in seconds was found.
SHORTEST_PRACTICE, LONGEST_PRACTICE = 10.0, 30.0
# Of the calculated time, for what one oil temperature does not tell of the hottest place.
_MARGIN = 0.8
# Where nobody says how warm the oil is: the end of the span that US Army TM 10-3930-671-24 asks for
# before a stall test (82 to 93 degC), which leaves the shortest time.
_WARMEST = 366.15  # K
_COOLED = 2.0  # K above the start counts as cooled
_LEAST_COOL_DOWN = 60.0
_LEAST_HOLD = 3.0  # s; the speed has not settled in less


@dataclass(frozen=True)
class HoldAdvice:
    """How long, SI units.

    Parameters
    ----------
    seconds : float or None
        Longest hold; 0 where the oil is too hot to begin, None where there is no stall to hold.
    set_by : str
        ``oil-limit``, ``common-practice``, ``maker``, ``no-oil-data`` or ``no-stall``.
    heat : float or None
        Into the oil at stall [W]; None where there is no stall.
    rate : float or None
        Rise of the oil temperature, the oil taking all of the heat [K/s].
    to_limit : float or None
        Time to the limit, the oil taking all of the heat [s]; None where not known.
    to_limit_cooled : float or None
        The same with the cooler at work as at speed, and the metal as far as its conductance is
        given, for information [s]; None where not known or never.
    start, limit : float
        Oil temperature [K].
    end : float or None
        Calculated oil temperature after the longest hold, the oil taking all of the heat [K].
    cool_down : float or None
        Calculated time in neutral until the oil is back within 2 K [s]; None where not known.
    notes : tuple of Note
    """

    seconds: float | None
    set_by: str
    heat: float | None
    rate: float | None
    to_limit: float | None
    to_limit_cooled: float | None
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
            "heat_kw": None if self.heat is None else self.heat / 1e3,
            "oil_rise_k_per_s": self.rate,
            "time_to_oil_limit_s": self.to_limit_cooled,
            "time_to_oil_limit_oil_alone_s": self.to_limit,
            "oil_start_degc": plain(self.start, "degc"),
            "oil_limit_degc": plain(self.limit, "degc"),
            "oil_after_hold_degc": plain(self.end, "degc"),
            "cool_down_in_neutral_s": self.cool_down,
        }


def hold_advice(setup: StallSetup, heat: float | None) -> HoldAdvice:
    """Return how long full throttle may be held with a heat at stall [W], None without a stall.

    The shortest time that any fair reading of the data allows: the oil takes all of the heat, from
    the temperature that is given or else from the warmest end of the span that is asked for. A
    thermostat that is still closed, or a dirty cooler, gives nothing in so short a time, and metal
    does not follow. Of the calculated time four fifths are used, since one bulk temperature says
    little of the hottest place; no more than common practice, and never more than the machine
    maker's figure. Without oil data the shortest usual hold stands. A machine that does not come
    up from idle has no stall to hold, and no time is given.

    Notes
    -----
    ``t = C (T_limit - T_start) / Q``, C of the oil alone.
    """
    oil = None if setup.machine is None else setup.machine.oil
    whole = (
        None
        if setup.machine is None
        else OilCircuit.of(setup.machine, temperature_around(setup.effect()))
    )
    capacity = None if oil is None else oil.oil_heat_capacity
    limits = [setup.converter.limits.oil_temperature, oil.temperature_limit if oil else None]
    known = [value for value in limits if value is not None]
    limit = min([*known, STOP_AT])
    start = _WARMEST if setup.oil_temperature is None else setup.oil_temperature
    if heat is None:
        return HoldAdvice(
            seconds=None, set_by="no-stall", heat=None, rate=None, to_limit=None,
            to_limit_cooled=None, start=start, limit=limit, end=None, cool_down=None, notes=(),
        )  # fmt: skip
    notes: list[Note] = [_PRACTICE]
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
    if setup.oil_temperature is None and (capacity is not None or start >= limit):
        notes.append(
            quantity_note(
                "hold-from-warmest-oil",
                "No oil temperature is given: the longest hold is counted from {oil}, the warmest "
                "that US Army TM 10-3930-671-24 asks for before the test.",
                "assumption",
                oil=(start, "temperature", ".0f"),
            )
        )
    to_limit = cooled = end = rest = None
    allowed, set_by = SHORTEST_PRACTICE if start < limit else 0.0, "no-oil-data"
    if capacity is None or whole is None:
        notes.append(_NOT_CALCULATED)
    else:
        notes.append(_OIL_ALONE)
        if setup.machine is not None:
            notes += cooler_air_notes(setup.effect(), setup.machine)
        alone = OilCircuit(capacity, air_temperature=whole.air_temperature)
        to_limit = hold(alone, heat, start, limit).time_to_limit
        cooled = hold(_quick(whole, capacity), heat, start, limit).time_to_limit
        allowed = math.inf if to_limit is None else _MARGIN * to_limit
        set_by = "oil-limit"
        if allowed >= LONGEST_PRACTICE:
            allowed, set_by = LONGEST_PRACTICE, "common-practice"
    if setup.maker_hold is not None and setup.maker_hold < allowed:
        allowed, set_by = setup.maker_hold, "maker"
    seconds = float(math.floor(allowed))
    if capacity is not None and whole is not None:
        end = start + heat * seconds / capacity
        rest = _cool_down(whole, end, start)
        if seconds < _LEAST_HOLD and set_by != "maker":
            notes.append(_TOO_SHORT)
    return HoldAdvice(
        seconds=seconds,
        set_by=set_by,
        heat=heat,
        rate=None if capacity is None else heat / capacity,
        to_limit=to_limit,
        to_limit_cooled=cooled,
        start=start,
        limit=limit,
        end=end,
        cool_down=rest,
        notes=(*notes, *(oil.notes if oil is not None and capacity is not None else ())),
    )


def _quick(circuit: OilCircuit, oil_capacity: float) -> OilCircuit:
    """Return the circuit without the metal where nothing tells how fast metal follows."""
    if circuit.metal_capacity > 0.0:
        return circuit
    return replace(circuit, oil_capacity=oil_capacity)


_PRACTICE = Note(
    "hold-common-practice",
    f"Holds of {SHORTEST_PRACTICE:.0f} to {LONGEST_PRACTICE:.0f} s are common practice, no "
    "source; the machine maker's limit comes first. Four fifths of the calculated time to the "
    "oil limit are used.",
    "caution",
)
_OIL_ALONE = assumption(
    "hold-oil-alone",
    "The longest hold counts on neither cooler nor metal: a closed thermostat or a dirty cooler "
    "may take nothing in so short a time. The time with the cooler at work is for information, not "
    "for use.",
)
_NOT_CALCULATED = assumption(
    "hold-not-calculated",
    "No oil volume is given: the hold is not calculated, the shortest usual one "
    f"({SHORTEST_PRACTICE:.0f} s) stands. Watch the gauge.",
)
_TOO_SHORT = Note(
    "hold-too-short",
    "The oil is at or so near to its limit that there is no time for a hold: cool it first.",
    "limit",
)


def _cool_down(circuit: OilCircuit, oil: float, start: float) -> float | None:
    """Return the time in neutral until the oil is back [s], what neutral makes of heat left out.

    Metal of its own has not followed the oil yet, and takes heat from it; one lump is all as hot as
    the oil.
    """
    if circuit.cooler is None or start + _COOLED <= circuit.air_temperature:
        return None
    time, step, metal = 0.0, 5.0, start
    while oil > start + _COOLED:
        if time > 3600.0:
            return None
        oil, metal = (float(t) for t in advance(circuit, oil, metal, 0.0, step))
        time += step
    return max(time, _LEAST_COOL_DOWN)
