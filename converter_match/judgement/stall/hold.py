"""How long a stall may be held, and how long the oil then needs in neutral: the one answer.

What anybody may act upon is the shortest time that any fair reading of the data allows. Times with
cooler and metal at work come from the same heat, start and limit, and are for information.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from converter_match.answer.block import Block, Facts, Heading, NoValue
from converter_match.answer.noted import Answer
from converter_match.components.machine import Oil
from converter_match.judgement.conditions.air import (
    cooler_air_notes,
    cooler_around,
    cooler_flow_notes,
    temperature_around,
)
from converter_match.judgement.conditions.oil import STOP_AT
from converter_match.judgement.conditions.outlet import (
    OilInConverter,
    oil_in_converter,
    outlet_levels,
    outlet_limit,
    stated_oil_limit,
)
from converter_match.judgement.stall import words
from converter_match.judgement.stall.band import Band, band_of, drawn_speeds
from converter_match.judgement.stall.estimate import stall_estimate
from converter_match.judgement.stall.notes import setup_notes, stuck_notes
from converter_match.judgement.stall.setup import StallSetup
from converter_match.notes import Note
from converter_match.physics.dynamics.dynamics import STALL_CAUTION
from converter_match.physics.heat.oil import OilCircuit, advance, hold

# Common practice, no source: holds of 10 to 30 s. No public limit in seconds was found.
SHORTEST_PRACTICE, LONGEST_PRACTICE = 10.0, 30.0
# Of the calculated time, for what one oil temperature does not tell of the hottest place.
MARGIN = 0.8
# Where nobody says how warm the oil is: the end of the span that US Army TM
# 10-3930-671-24 calls for before a stall test (82 to 93 degC), which leaves the shortest time.
WARMEST = 366.15  # K
_COOLED = 2.0  # K above the start counts as cooled
_SHORTEST_COOL_DOWN = 60.0
_SHORTEST_HOLD = 3.0  # s; the speed has not settled in less

SetBy = Literal[
    "oil-limit", "converter-outlet", "common-practice", "maker", "no-oil-data", "no-stall"
]
LONGEST_HOLD = Heading("longest_hold", "longest hold", "time", ".0f")
HEAT = Heading("heat", "heat into the oil at that speed", "power", ".0f")
OIL_RISE = Heading("oil_rise", "rise of the oil alone", "heating_rate")
OIL_START = Heading("oil_start", "oil at the start", "temperature")
OIL_LIMIT = Heading("oil_limit", "oil temperature limit", "temperature")
TO_LIMIT = Heading("time_to_oil_limit_oil_alone", "time to the limit, oil alone", "time", ".0f")
COOL_DOWN = Heading("cool_down_in_neutral", "cool-down in neutral, or longer", "time", ".0f")
_STALL_SPEED = Heading("stall_speed", "stall speed as on the sheets", "angular_speed")
_ITS_OIL = Heading("stall_speed_oil_temperature", "that speed is with the oil at", "temperature")
_HEAT_AT = Heading("heat_at_speed", "highest stall speed expected", "angular_speed")
_OF_STALL = (_STALL_SPEED, _ITS_OIL, _HEAT_AT, HEAT, OIL_RISE)
_SET_BY = Heading("set_by", "")
_SET_BY_WORDS = Heading("", "set by")
OUTLET_LIMIT = Heading("outlet_limit", "converter outlet limit", "temperature")
_TO_OUTLET = Heading(
    "time_to_outlet_limit", "time to the limit at the converter outlet", "time", ".0f"
)
_OUTLET_AFTER = Heading(
    "outlet_after_hold", "converter outlet after the longest hold", "temperature"
)
_OUTLET_LEAST = Heading("outlet_after_hold_least", "", "temperature")
_OUTLET_SPAN = Heading("", "converter outlet after the longest hold", "temperature")
_FLOW = Heading("charge_flow", "charge flow through the converter", "volume_flow")
_FLOW_ASSUMED = Heading("charge_flow_assumed", "")
_OF_OUTLET = (OUTLET_LIMIT, _TO_OUTLET, _OUTLET_AFTER, _OUTLET_LEAST, _FLOW, _FLOW_ASSUMED)
_OIL_AFTER = Heading("oil_after_hold", "oil after the longest hold", "temperature")
_COOLED_TIME = Heading("time_to_oil_limit", "time to the limit, cooler at work", "time", ".0f")
_METAL_TIME = Heading("time_to_limit", "time to the limit, {taking}", "time", ".0f")
_METAL_ALONE = TO_LIMIT.keyed("time_to_limit_oil_alone").said("")
_STOP = Heading("", "stop value of US Army TM 9-2320-283-10", "temperature")
_STOP_TIME = Heading("time_to_149_degc", "time to the stop value, {taking}", "time", ".0f")
_FIRST_RISE = Heading("first_rise", "first rise, {taking}", "heating_rate", ".2f")
_BALANCE = Heading("balance", "oil temperature that the cooler can hold", "temperature")
_NEVER = NoValue("not reached")
_NO_STALL = NoValue("none: there is no stall to hold; do not test")


@dataclass(frozen=True, kw_only=True)
class WarmUp:
    """What heat, start and limit of a hold do with cooler and metal at work, for information.

    Parameters
    ----------
    first_rate : float
        Rise of the oil at the start [K/s].
    to_limit_cooled : float or None
        Time to the limit with the cooler, and the metal as far as its conductance is given [s];
        None where it is never reached.
    to_limit : float or None
        The same with all of the metal, as warm as the oil where no conductance is given [s].
    to_stop : float or None
        Likewise to 149 degC [s].
    balance : float or None
        Oil temperature at which cooler and heat agree [K]; None without a cooler, or beyond its
        data.
    """

    first_rate: float
    to_limit_cooled: float | None
    to_limit: float | None
    to_stop: float | None
    balance: float | None


@dataclass(frozen=True, kw_only=True)
class OutletInHold:
    """The oil at the converter's outlet in a hold, SI units.

    Parameters
    ----------
    oil : OilInConverter
    limit : float
        Highest temperature there [K].
    to_limit : float or None
        Time to it with the least that flow and volume may be [s]; None where it is never reached.
    end : tuple of float
        Least and most that it may be after the longest hold [K].
    """

    oil: OilInConverter
    limit: float
    to_limit: float | None
    end: tuple[float, float]


@dataclass(frozen=True, eq=False, kw_only=True)
class StallHold(Answer):
    """How long a stall may be held, SI units.

    Parameters
    ----------
    setup : StallSetup
    band : Band
        Expected stall speed.
    seconds : float or None
        Longest hold; 0 where the oil is too hot to begin, None where there is no stall to hold.
    set_by : str
        ``oil-limit``, ``converter-outlet``, ``common-practice``, ``maker``, ``no-oil-data`` or
        ``no-stall``.
    heat : float or None
        Into the oil at stall [W]; None where there is no stall.
    heat_at : float or None
        Engine speed at which that is [rad/s].
    start, limit : float
        Oil temperature [K].
    rate : float or None
        Rise of the oil temperature, the oil taking all of the heat [K/s].
    to_limit : float or None
        Time to the limit, the oil taking all of the heat [s]; None where not known.
    end : float or None
        Calculated oil temperature after the longest hold, the oil taking all of the heat [K].
    cool_down : float or None
        Calculated time in neutral until the oil is back within 2 K [s]; None where not known.
    outlet : OutletInHold or None
        Of the oil in the converter; None where there is no stall.
    warm_up : WarmUp or None
        For information; None where not known.
    notes : tuple of Note
    """

    setup: StallSetup
    band: Band
    seconds: float | None
    set_by: SetBy
    start: float
    limit: float
    heat: float | None = None
    heat_at: float | None = None
    rate: float | None = None
    to_limit: float | None = None
    end: float | None = None
    cool_down: float | None = None
    outlet: OutletInHold | None = None
    warm_up: WarmUp | None = None
    notes: tuple[Note, ...] = ()

    def blocks(self) -> Sequence[Block]:
        """Return what the hold is of, the longest hold, and the times for information."""
        setup = self.setup
        machine = setup.machine
        ids = (
            (Heading("engine", ""), setup.engine.id),
            (Heading("converter", ""), setup.converter.id),
            (Heading("machine", ""), machine.id if machine else None),
            (Heading("", "machine"), machine.name if machine else "not given"),
        )
        title = f"{setup.engine.name}  +  {setup.converter.title}"
        return (
            Block("", above=(words.STALL_TEST,), in_plain=False),
            Block("", title, facts=ids),
            *stall_estimate(setup),
            *self.parts(""),
        )

    def parts(self, name: str) -> tuple[Block, ...]:
        """Return the longest hold and the times for information, as parts of an answer.

        Parameters
        ----------
        name : str
            Key in plain data; empty for the top.
        """
        return (
            Block(name, "Longest hold", facts=self._hold_facts()),
            Block(
                name,
                "For information, not for use",
                facts=self._warm_up_facts(),
                in_text=self.warm_up is not None,
            ),
        )

    def _hold_facts(self) -> Facts:
        by = words.SET_BY[self.set_by]
        if self.seconds is None:
            return (
                (LONGEST_HOLD, _NO_STALL),
                (_SET_BY, self.set_by),
                *((head.said(""), None) for head in _OF_STALL),
                (OIL_START.said(""), self.start),
                (OIL_LIMIT.said(""), self.limit),
                *(
                    (head.said(""), None)
                    for head in (TO_LIMIT, _METAL_ALONE, _OIL_AFTER, COOL_DOWN)
                ),
                *self._outlet_facts(),
            )
        return (
            (LONGEST_HOLD, self.seconds),
            (_SET_BY, self.set_by),
            (_SET_BY_WORDS, by),
            (_STALL_SPEED, self.band.middle),
            (_ITS_OIL, self.setup.oil),
            (_HEAT_AT, self.heat_at),
            (HEAT, self.heat),
            _if_known(OIL_RISE, self.rate),
            (OIL_START, self.start),
            (OIL_LIMIT, self.limit),
            _if_known(TO_LIMIT, self.to_limit),
            (_METAL_ALONE, self.to_limit),
            _if_known(_OIL_AFTER, self.end),
            *self._outlet_facts(),
            _if_known(COOL_DOWN, self.cool_down),
        )

    def _outlet_facts(self) -> Facts:
        outlet = self.outlet
        if outlet is None:
            return tuple((head.said(""), None) for head in _OF_OUTLET)
        low, high = outlet.oil.flow
        least, most = outlet.end
        return (
            (OUTLET_LIMIT, outlet.limit),
            (_TO_OUTLET, _NEVER if outlet.to_limit is None else outlet.to_limit),
            (_OUTLET_AFTER.said("") if least < most else _OUTLET_AFTER, most),
            (_OUTLET_LEAST, least),
            *(((_OUTLET_SPAN, outlet.end),) if least < most else ()),
            (_FLOW.said("") if low < high else _FLOW, low),
            *(((_FLOW.keyed(""), outlet.oil.flow),) if low < high else ()),
            (_FLOW_ASSUMED, low < high),
        )

    def _warm_up_facts(self) -> Facts:
        run = self.warm_up
        if run is None:
            heads = (_COOLED_TIME, _METAL_TIME, _STOP_TIME, _FIRST_RISE, _BALANCE)
            return tuple((head, None) for head in heads)
        cooled = self.setup.machine is not None and self.setup.machine.cooler is not None
        taking = "cooler and metal at work" if cooled else "metal taking its share"

        def of(head: Heading, time: float | None) -> tuple[Heading, float | NoValue]:
            return head.said(head.words.format(taking=taking)), _NEVER if time is None else time

        return (
            of(_COOLED_TIME if cooled else _COOLED_TIME.said(""), run.to_limit_cooled),
            of(_METAL_TIME, run.to_limit),
            (_STOP, STOP_AT),
            of(_STOP_TIME, run.to_stop),
            of(_FIRST_RISE, run.first_rate),
            _if_known(_BALANCE, run.balance),
        )


def _if_known(head: Heading, value: float | None) -> tuple[Heading, float | None]:
    """Return a fact that text leaves out where there is no value."""
    return (head.said("") if value is None else head), value


def stall_hold(setup: StallSetup) -> StallHold:
    """Return how long full throttle may be held at stall, with every assumption behind it.

    Parameters
    ----------
    setup : StallSetup

    Returns
    -------
    StallHold
        It fails where there is no time for a hold, or no stall.
    """
    band = band_of(setup, None, drawn_speeds(setup, None))
    answer = hold_in_band(setup, band)
    notes = (words.STALL_TEST, STALL_CAUTION, *answer.notes, words.TOWING, *setup_notes(setup))
    notes += tuple(stuck_notes({"converter": band}))
    return replace(answer, notes=tuple(dict.fromkeys(notes)))


def hold_in_band(setup: StallSetup, band: Band) -> StallHold:
    """Return how long full throttle may be held where the stall speed lies in a band.

    The shortest time that any fair reading of the data allows: the heat is that at the upper end of
    the band, or of the maker's span where that reaches further, since nobody stops below it, and
    the oil takes all of it, from the temperature that is given or else from the warmest end of the
    span that is asked for, or from the machine's working temperature if that is warmer. A
    thermostat that is still closed, or a dirty cooler, gives nothing in so short a time, and metal
    does not follow. The oil in the converter is hotter than the rest, and at its own limit sooner:
    the shorter of both times counts, with the least that charge flow and volume may be where they
    are not given. Of the calculated time four fifths are used; no more than common practice, and
    never more than the machine maker's figure. Without oil data no more than the shortest customary
    hold stands. A machine that cannot accelerate from idle has no stall to hold, and no time is
    given.

    Parameters
    ----------
    setup : StallSetup
    band : Band
        Of the converter stall.

    Notes
    -----
    ``t = C (T_limit - T_start) / Q``, C of the oil alone, ``Q = C(0) omega^3``; at the outlet of
    the converter by `physics.heat.converter_oil`.
    """
    oil = None if setup.machine is None else setup.machine.oil
    start, start_note = _start(setup)
    stated = stated_oil_limit(setup.machine, setup.converter)
    limit = STOP_AT if stated is None else min(stated, STOP_AT)
    if band.high is None:
        return StallHold(
            setup=setup, band=band, seconds=None, set_by="no-stall", start=start, limit=limit
        )
    # The upper end: the oil is not to be hotter than thought.
    published = 0.0 if setup.published is None else setup.published[1]
    fastest = max(band.high, published)
    heat = setup.capacity() * fastest**3
    notes = [
        words.note("hold-common-practice", shortest=SHORTEST_PRACTICE, longest=LONGEST_PRACTICE)
    ]
    if stated is None:
        notes.append(words.note("oil-limit-not-given", limit=limit))
    capacity = None if oil is None else oil.oil_heat_capacity
    if start_note is not None and (capacity is not None or start >= limit):
        notes.append(start_note)
    unit = setup.inside or setup.converter
    inside = oil_in_converter(oil or Oil(), unit, setup.engine.rated_power)
    most, outlet_notes = outlet_limit(oil)
    to_outlet = inside.hottest.time_to(heat, start, most)
    to_bulk = None if capacity is None else oil_alone(heat, start, limit, capacity)
    seconds, set_by = _longest(setup, start >= limit, to_bulk, to_outlet)
    if start >= limit:
        notes.append(words.note("oil-over-limit-at-start", start=start, limit=limit))
    answer = StallHold(
        setup=setup,
        band=band,
        seconds=seconds,
        set_by=set_by,
        start=start,
        limit=limit,
        heat=heat,
        heat_at=fastest,
        outlet=OutletInHold(
            oil=inside,
            limit=most,
            to_limit=to_outlet,
            end=(
                inside.coolest.after(heat, start, seconds),
                inside.hottest.after(heat, start, seconds),
            ),
        ),
    )
    notes += [*outlet_notes, *inside.notes, outlet_levels()]
    if seconds < _SHORTEST_HOLD and set_by != "maker":
        notes.append(words.note("hold-too-short"))
    if setup.machine is None or capacity is None:
        notes.append(words.note("hold-not-calculated", shortest=SHORTEST_PRACTICE))
        return replace(answer, notes=tuple(notes))
    of_heat = "hold-heat" if fastest == band.high else "hold-heat-published"
    notes += [words.note("hold-oil-alone"), words.note(of_heat, speed=fastest)]
    air = setup.effect()
    notes += [*cooler_flow_notes(setup.machine), *cooler_air_notes(air, setup.machine)]
    if setup.machine.oil.metal_conductance is None and setup.machine.oil.metal_mass is not None:
        notes.append(words.note("metal-follows-oil"))
    whole = OilCircuit.of(setup.machine, temperature_around(air), cooler_around(air, setup.machine))
    assert whole is not None  # its oil has a heat capacity
    end = start + heat * seconds / capacity
    return replace(
        answer,
        rate=heat / capacity,
        to_limit=to_bulk,
        end=end,
        cool_down=_cool_down(whole, end, start),
        warm_up=_warm_up(whole, heat, start, limit, capacity),
        notes=(*notes, *setup.machine.oil.notes),
    )


def _start(setup: StallSetup) -> tuple[float, Note | None]:
    """Return the oil temperature at the start [K], and what was assumed for it."""
    if setup.oil_temperature is not None:
        return setup.oil_temperature, None
    working = None if setup.machine is None else setup.machine.oil.working_temperature
    if working is not None and working > WARMEST:
        return working, words.note("hold-from-working-oil", oil=working)
    return WARMEST, words.note("hold-from-warmest-oil", oil=WARMEST)


def _longest(
    setup: StallSetup, hot: bool, to_bulk: float | None, to_outlet: float | None
) -> tuple[float, SetBy]:
    """Return the longest hold in whole seconds, and what sets it."""
    allowed: float
    set_by: SetBy
    if hot:
        allowed, set_by = 0.0, "oil-limit"
    elif to_bulk is None:
        allowed, set_by = SHORTEST_PRACTICE, "no-oil-data"
    else:
        allowed, set_by = MARGIN * to_bulk, "oil-limit"
        if allowed >= LONGEST_PRACTICE:
            allowed, set_by = LONGEST_PRACTICE, "common-practice"
    if to_outlet is not None and MARGIN * to_outlet < allowed:
        allowed, set_by = MARGIN * to_outlet, "converter-outlet"
    if setup.maker_hold is not None and setup.maker_hold < allowed:
        allowed, set_by = setup.maker_hold, "maker"
    return float(math.floor(allowed)), set_by


def oil_alone(heat: float, start: float, limit: float, capacity: float) -> float:
    """Return the time to the limit if the oil alone took the heat [s]."""
    return max(capacity * (limit - start) / heat, 0.0)


def _warm_up(
    whole: OilCircuit, heat: float, start: float, limit: float, oil_capacity: float
) -> WarmUp:
    # Where nothing tells how fast metal follows, it may not follow at all in so short a time.
    quick = whole if whole.metal_capacity > 0.0 else replace(whole, oil_capacity=oil_capacity)
    run = hold(whole, heat, start, limit)
    return WarmUp(
        first_rate=run.first_rate,
        to_limit_cooled=hold(quick, heat, start, limit).time_to_limit,
        to_limit=run.time_to_limit,
        to_stop=hold(whole, heat, start, STOP_AT).time_to_limit,
        balance=run.balance,
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
    return max(time, _SHORTEST_COOL_DOWN)
