"""What to say about a machine's run along a route: assumptions, warnings, limits, cautions."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from converter_match.components.response import TYPICAL, EngineResponse
from converter_match.judgement.conditions.air import air_drag_notes, cooler_air_notes
from converter_match.judgement.conditions.ground import source_notes
from converter_match.judgement.conditions.oil import STOP_AT, starting_oil
from converter_match.judgement.conditions.outlet import (
    OUTLET_STOPS,
    cooler_at_bulk,
    known_oil_in_converter,
    outlet_levels,
    stated_oil_limit,
)
from converter_match.judgement.conditions.response import response_notes
from converter_match.judgement.haul import words
from converter_match.judgement.haul.result import SegmentRow, Standstill
from converter_match.judgement.match.result import MatchResult
from converter_match.notes import Note
from converter_match.physics.engine.fuel import TYPICAL_DENSITY
from converter_match.physics.haul.route import Hauler, RouteRun
from converter_match.physics.haul.speed_profile import LOOKS_AHEAD
from converter_match.physics.heat.oil import UNSETTLED
from converter_match.physics.wheels.road_load import grip_at

# Share of the retarding power required that may fall to the brakes without a word.
_BRAKE_SHARE = 0.02
# A gear held for less than this while the machine gathers speed is nothing to name [s].
_HELD_LONG = 3.0
# Time lost in a slower state, as a share of the whole: what the times of a route are good to.
_COSTS_MUCH = 0.005


def notes_of(
    match: MatchResult,
    ready: Hauler,
    run: RouteRun,
    rows: tuple[SegmentRow, ...],
    stands: Standstill | None,
    *,
    braking: float,
    oil_start: float | None,
) -> tuple[Note, ...]:
    """Return every note of a run, what matters most first."""
    own = [] if stands is None else [_standstill_note(stands)]
    own += _descent_notes(rows)
    own += _hunting_notes(ready, run)
    own += _held_notes(ready, run)
    own += _kept_notes(ready, run)
    own += _oil_notes(ready, run)
    own += _outlet_notes(match, ready, run)
    own += _grip_notes(run)
    own += _braking_notes(run)
    own += source_notes(run.route.surface, ready.machine)
    own += _assumptions(match, ready, run, braking, oil_start)
    carried = [
        *match.engine.notes,
        *match.converter.notes,
        *match.site.notes,
        *ready.driveline.notes,
        *ready.machine.notes,
        *run.route.notes,
        *ready.notes,
    ]
    return tuple(dict.fromkeys([*own, *carried]))


def _standstill_note(stands: Standstill) -> Note:
    sentences = words.STANDSTILL if stands.grip else words.TOO_WEAK
    return sentences.note(
        "cannot-move-on",
        segment=str(stands.segment),
        into=stands.into_segment,
        grade=stands.grade,
        effort=stands.effort,
        need=stands.resistance,
    )


def _descent_notes(rows: tuple[SegmentRow, ...]) -> list[Note]:
    short = [
        (row.retarding_needed, row.retarding_available or 0.0, row.segment)
        for row in rows
        if row.retarding_needed is not None
        and row.retarding_needed > (1 + _BRAKE_SHARE) * (row.retarding_available or 0.0)
        and (row.service_brake_work or 0.0) > 0.0
    ]
    if not short:
        return []
    need, able, worst = max(short, key=lambda entry: entry[0] - entry[1])
    return [
        words.note(
            "service-brakes-carry-descent",
            segments=_listed(segment for *_, segment in short),
            worst=str(worst),
            need=need,
            able=able,
        )
    ]


def _oil_notes(ready: Hauler, run: RouteRun) -> list[Note]:
    if run.oil is None:
        return [words.note("oil-volume-not-given")]
    cooler = ready.cooler
    notes = [] if cooler is not None else [words.note("no-cooler")]
    hottest = float(np.nanmax([run.oil.hottest[0], run.oil.first[:, 0].max()]))
    if hottest >= UNSETTLED:
        return [*notes, words.note("oil-does-not-settle")]
    limit = stated_oil_limit(ready.machine, ready.converter)
    if limit is not None and hottest > limit:
        notes.append(words.note("oil-above-limit", hottest=hottest, limit=limit))
    if hottest >= STOP_AT:
        notes.append(words.note("hot-oil", hottest=hottest, stop=STOP_AT))
    if cooler is not None and not cooler.covers(hottest - ready.air_temperature):
        notes.append(words.note("cooler-held-beyond-table"))
    return notes


def _listed(numbers: Iterable[int]) -> str:
    """Return numbers of segments for a sentence, the first ten of them by name."""
    known = [str(number) for number in dict.fromkeys(numbers)]
    more = f" and {len(known) - 10} more" if len(known) > 10 else ""
    return ", ".join(known[:10]) + more


def _outlet_notes(match: MatchResult, ready: Hauler, run: RouteRun) -> list[Note]:
    inside, assumed = known_oil_in_converter(ready.machine.oil, match.converter)
    if run.oil is None or inside is None or run.outlet is None:
        return [] if run.oil is None else [*assumed]
    notes = [*assumed, outlet_levels()]
    if ready.cooler is not None:
        notes.append(cooler_at_bulk())
    hottest = float(np.nanmax([run.outlet.hottest[0], run.outlet.first[:, 0].max()]))
    stated = ready.machine.oil.outlet_temperature_limit
    if stated is not None and UNSETTLED > hottest > stated:
        notes.append(words.note("outlet-above-limit", hottest=hottest, limit=stated))
    elif UNSETTLED > hottest > OUTLET_STOPS:
        notes.append(words.note("outlet-above-level", hottest=hottest, level=OUTLET_STOPS))
    return notes


def _hunting_notes(ready: Hauler, run: RouteRun) -> list[Note]:
    """Name the climbs on which the gearbox hunts."""
    mine = run.hunting.draw == 0
    if not mine.any():
        return []
    profile, chain = run.profile, ready.chain
    up, down, state = run.hunting.up[mine], run.hunting.down[mine], run.hunting.state[mine]
    clock = np.cumsum(profile.time[:, 0])
    pairs = dict.fromkeys(
        f"{chain.drives[low].gear.name} - {chain.drives[high].gear.name}"
        for low, high in zip(state, profile.state[up, 0], strict=True)
    )
    return [
        words.note(
            "gearbox-hunts",
            gears=", ".join(pairs),
            segments=_listed((profile.segment[up, 0] + 1).tolist()),
            start=float(profile.distance[up[0], 0]),
            count=float(up.size),
            time=float(np.sum(clock[down - 1] - clock[up - 1])),
        )
    ]


def _held_notes(ready: Hauler, run: RouteRun) -> list[Note]:
    """Name the climbs on which a gear is held that its shift speed would leave."""
    profile, chain = run.profile, ready.chain
    rows = np.flatnonzero(profile.held[:, 0] & (profile.time[:, 0] > 0.0))
    segments = dict.fromkeys(int(k) + 1 for k in profile.segment[rows, 0])
    held = {}
    for segment in segments:
        here = rows[profile.segment[rows, 0] == segment - 1]
        if float(profile.time[here, 0].sum()) >= _HELD_LONG:
            held[segment] = dict.fromkeys(chain.drives[k].gear.name for k in profile.state[here, 0])
    if not held:
        return []
    gears = dict.fromkeys(name for names in held.values() for name in names)
    return [words.note("gearbox-would-hunt", segments=_listed(held), gears=", ".join(gears))]


def _kept_notes(ready: Hauler, run: RouteRun) -> list[Note]:
    """Name the stretches on which shift and lock-up speeds keep the machine in a slower state."""
    profile, chain = run.profile, ready.chain
    costs = float(run.hysteresis_costs[:, 0].sum())
    if costs <= _COSTS_MUCH * float(profile.time[:, 0].sum()):
        return []
    rows = np.flatnonzero(profile.costs[:, 0] > 0.0)
    pairs = dict.fromkeys(
        words.FASTER.format(own=chain.names[own], better=chain.names[better])
        for own, better in zip(profile.state[rows, 0], profile.better[rows, 0], strict=True)
    )
    segments = _listed((profile.segment[rows, 0] + 1).tolist())
    return [
        words.note("kept-in-slower-gear", segments=segments, gears=", ".join(pairs), time=costs)
    ]


def _grip_notes(run: RouteRun) -> list[Note]:
    silent = list(dict.fromkeys(s.name for s in run.route.surface if s.traction is None))
    return [words.note("traction-not-given", surfaces=", ".join(silent))] if silent else []


def _response_notes(match: MatchResult, run: RouteRun) -> list[Note]:
    """Say that the engine is ideal, and what one whose torque takes time would lose.

    At a steady resistance the speed stays behind by what the missing torque would have given:
    ``(1 - s) tau`` at each start, times effort over what is left of it to speed up.
    """
    notes = response_notes(match.engine, None)
    usual = TYPICAL.get(match.engine.aspiration or "")
    lost = 0.0 if usual is None else EngineResponse(*usual).lost_time
    if lost > 0.0:
        profile = run.profile
        rests, moves = profile.speed[:-1, 0] == 0.0, profile.length[:, 0] > 0.0
        count = float(np.count_nonzero(rests & moves))
        notes.append(words.note("starts-of-an-ideal-engine", count=count, lost=lost))
    return notes


def _braking_notes(run: RouteRun) -> list[Note]:
    """Hold the braking against what the ground passes on, by the weight that braking moves.

    The engine holds back through the driven wheels alone, service brakes through all of them.
    """
    profile, loads, states = run.profile, run.loads, run.states
    length = profile.length[:, 0]
    moving, speed, where = length > 0.0, profile.speed[:, 0], profile.segment[:, 0]
    rate = np.diff(np.square(speed)) / np.where(moving, 2.0 * length, 1.0)
    mass = loads.mass[where]
    level, whole, moved = (part[where] for part in (loads.grip, loads.whole_grip, loads.moved))
    driven = mass * grip_at(level, whole, moved, rate)
    retards = states.retarding[:, 0]
    every = retards + states.brake_force[:, 0]
    found = []
    for code, force, most in (
        ("retarding-beyond-grip", retards, driven),
        ("braking-beyond-grip", every, whole * mass),
    ):
        over = np.flatnonzero(moving & (force > (1.0 + _BRAKE_SHARE) * most))
        if over.size:
            worst = over[np.argmax(force[over] / np.maximum(most[over], 1.0))]
            found.append(
                words.note(
                    code,
                    segments=_listed((where[over] + 1).tolist()),
                    worst=str(int(where[worst]) + 1),
                    force=float(force[worst]),
                    most=float(most[worst]),
                    rate=float(-rate[worst]),
                )
            )
    return found


def _gear_assumptions(ready: Hauler) -> list[Note]:
    """Say which gears are changed by the tool's own rule."""
    chain = ready.chain
    said: tuple[tuple[str, NDArray[np.bool_], dict[str, float]], ...] = (
        ("upshift-where-it-pays", chain.up_assumed, {"time": LOOKS_AHEAD}),
        ("downshift-where-it-pays", chain.down_assumed, {}),
    )
    notes = []
    for code, assumed, values in said:
        names = dict.fromkeys(chain.drives[k].gear.name for k in np.flatnonzero(assumed))
        if names:
            notes.append(words.note(code, gears=", ".join(names), **values))
    return notes


def _assumptions(
    match: MatchResult, ready: Hauler, run: RouteRun, braking: float, oil_start: float | None
) -> list[Note]:
    notes = [words.note("driven-hard", rate=braking)]
    notes += _response_notes(match, run)
    notes += _gear_assumptions(ready)
    notes += air_drag_notes(match.site, ready.machine)
    notes += cooler_air_notes(match.site, ready.machine)
    if run.oil is not None:
        notes += starting_oil(ready.machine, ready.air_temperature, oil_start)[1]
        if bool(run.oil.arrives[0]) and ready.cooler is not None:
            notes.append(words.note("oil-lap-after-lap", start=float(run.oil.first[0, 0])))
    fuel = match.engine.fuel
    if run.states.fuel is not None and (fuel is None or fuel.density is None):
        notes.append(words.note("fuel-density-typical", density=TYPICAL_DENSITY))
    highest, high_idle = float(run.states.engine_speed.max()), match.engine.high_idle
    if highest > high_idle * 1.05:
        notes.append(words.note("engine-overspeeds", speed=highest, idle=high_idle))
    if bool(np.any(run.states.retarding > 0.0)):
        notes.append(words.note("retarding-gear-chosen"))
    return notes
