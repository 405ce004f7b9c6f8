"""What to say about a machine's run along a route: assumptions, warnings, limits, cautions."""

from __future__ import annotations

import numpy as np

from converter_match.judgement.conditions.air import air_drag_notes, cooler_air_notes
from converter_match.judgement.conditions.ground import source_notes
from converter_match.judgement.conditions.oil import STOP_AT, starting_oil
from converter_match.judgement.haul.result import SegmentRow, Standstill
from converter_match.judgement.match.result import MatchResult
from converter_match.notes import Note, assumption
from converter_match.physics.engine.fuel import TYPICAL_DENSITY
from converter_match.physics.haul.route import Hauler, RouteRun
from converter_match.units import from_si, quantity_note

# Share of the power to hold back that may fall to the brakes without a word.
_BRAKE_SHARE = 0.02


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
    found: list[Note] = []
    if stands is not None:
        found.append(_standstill_note(stands))
    found += _descent_notes(rows)
    found += _oil_notes(ready, run)
    found += _grip_notes(run)
    found += source_notes(run.route.surface, ready.machine)
    found += _assumptions(match, ready, run, braking, oil_start)
    carried = [
        *match.engine.notes,
        *match.converter.notes,
        *match.site.notes,
        *ready.driveline.notes,
        *ready.machine.notes,
        *run.route.notes,
        *ready.notes,
    ]
    return tuple(dict.fromkeys([*found, *carried]))


def _standstill_note(stands: Standstill) -> Note:
    why = (
        "the ground lets the wheels pull no more than {effort}"
        if stands.grip
        else "from rest the machine pulls no more than {effort}"
    )
    return quantity_note(
        "cannot-move-on",
        f"The machine comes to a stand in segment {stands.segment}, {stands.into_segment:.0f} m "
        f"({from_si(stands.into_segment, 'ft', 'length'):.0f} ft) into it, on "
        f"{100 * stands.grade:.1f} %: {why}; {{need}} are needed there. The route ends here.",
        "limit",
        effort=(stands.effort, "force", ".1f"),
        need=(stands.resistance, "force", ".1f"),
    )


def _descent_notes(rows: tuple[SegmentRow, ...]) -> list[Note]:
    carried = [
        row
        for row in rows
        if row.retarding_needed is not None
        and row.retarding_needed > (1 + _BRAKE_SHARE) * (row.retarding_available or 0.0)
        and (row.brake_work or 0.0) > 0.0
    ]
    if not carried:
        return []
    worst = max(carried, key=lambda r: (r.retarding_needed or 0) - (r.retarding_available or 0))
    listed = ", ".join(str(row.segment) for row in carried[:10])
    more = f" and {len(carried) - 10} more" if len(carried) > 10 else ""
    return [
        quantity_note(
            "service-brakes-carry-descent",
            f"Downhill the engine cannot hold the machine at the speed it runs, and the service "
            f"brakes carry the rest: segment {listed}{more}. Worst is segment {worst.segment}: "
            "{need} are needed, the engine takes {able} at best. Brakes that carry a descent fade "
            "and burn: go slower, in a lower gear, or carry less; the machine maker's table of "
            "grades and speeds and the site's rules come first.",
            "caution",
            need=(worst.retarding_needed or 0.0, "power", ".0f"),
            able=(worst.retarding_available or 0.0, "power", ".0f"),
        )
    ]


def _oil_notes(ready: Hauler, run: RouteRun) -> list[Note]:
    if run.oil is None:
        return [
            assumption(
                "oil-volume-not-given",
                "The machine's file gives no oil volume: the oil temperature is not computed.",
            )
        ]
    found = []
    hottest = float(run.oil[:, 0].max())
    limits = [
        value
        for value in (
            ready.machine.oil.temperature_limit,
            ready.converter.limits.oil_temperature,
        )
        if value is not None
    ]
    if limits and hottest > min(limits):
        found.append(
            quantity_note(
                "oil-above-limit",
                "The transmission oil reaches {hottest}, above its limit of {limit}.",
                "limit",
                hottest=(hottest, "temperature", ".0f"),
                limit=(min(limits), "temperature", ".0f"),
            )
        )
    if hottest >= STOP_AT:
        found.append(
            quantity_note(
                "hot-oil",
                "The oil would reach {hottest}. One army manual (TM 9-2320-283-10) stops the "
                "vehicle at {stop} or more: neutral, engine at 1500 rpm, shut down if it is not "
                "below that within 3 minutes. Hot oil burns people: the machine maker's procedure "
                "comes first.",
                "caution",
                hottest=(hottest, "temperature", ".0f"),
                stop=(STOP_AT, "temperature", ".0f"),
            )
        )
    cooler = ready.machine.cooler
    if cooler is None:
        found.append(
            assumption(
                "no-cooler",
                "The machine's file gives no cooler: the oil keeps all heat that it gets.",
            )
        )
    elif not cooler.covers(hottest - ready.air_temperature):
        found.append(
            assumption(
                "cooler-held-beyond-table",
                "The oil gets hotter than the cooler's table reaches: its last value is held, "
                "which is on the safe side.",
            )
        )
    return found


def _grip_notes(run: RouteRun) -> list[Note]:
    silent = list(dict.fromkeys(s.name for s in run.route.surface if s.traction is None))
    if not silent:
        return []
    return [
        assumption(
            "traction-not-given",
            f"No traction coefficient is given for {', '.join(silent)}: nothing limits the pull "
            "there.",
        )
    ]


def _assumptions(
    match: MatchResult, ready: Hauler, run: RouteRun, braking: float, oil_start: float | None
) -> list[Note]:
    found = [
        quantity_note(
            "driven-hard",
            "The machine is driven at full throttle up to the speed allowed, slows down ahead of "
            "limits and stops at {rate}, stands in neutral, and holds a gear on a climb that the "
            "next gear cannot hold. Bends, traffic and the driver's care are in the speed limits, "
            "or nowhere.",
            "assumption",
            rate=(braking, "acceleration", ".1f"),
        )
    ]
    found += air_drag_notes(match.site, ready.machine)
    found += cooler_air_notes(match.site, ready.machine)
    if run.oil is not None:
        found += starting_oil(ready.machine, ready.air_temperature, oil_start)[1]
    fuel = match.engine.fuel
    if run.states.fuel is not None and (fuel is None or fuel.density is None):
        found.append(
            assumption(
                "fuel-density-typical",
                f"Fuel density {TYPICAL_DENSITY:.0f} kg/m³, typical of diesel fuel, for litres.",
            )
        )
    engine_limit = run.states.engine_speed.max()
    if engine_limit > match.engine.high_idle * 1.05:
        found.append(
            quantity_note(
                "engine-overspeeds",
                "On a descent the engine is driven to {speed}, above its high idle of {idle}.",
                "caution",
                speed=(float(engine_limit), "angular_speed", ".0f"),
                idle=(match.engine.high_idle, "angular_speed", ".0f"),
            )
        )
    if bool(np.any(run.states.retarding > 0.0)):
        found.append(
            assumption(
                "retarding-gear-chosen",
                "On a descent the driver is taken to be in the gear in which the engine holds "
                "back most without overspeeding.",
            )
        )
    return found
