"""What clutches make of the match: lock-up clutch, impeller clutch."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from converter_match.answer.block import Block, Heading, NoValue, rows_of_arrays
from converter_match.components.arrangement import ImpellerClutch, LockUpClutch, Wheels
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.components.torque_peak import speeds_near_peak
from converter_match.curves import FloatArray
from converter_match.judgement.arrangement import words
from converter_match.judgement.arrangement.blanks import (
    BECAUSE,
    beside,
    joined,
    locked_blanks,
    open_blanks,
)
from converter_match.judgement.arrangement.words import ENGINE, TORQUE_CAPACITY, TURBINE, WHEELS
from converter_match.notes import Note
from converter_match.physics.arrangement.impeller_clutch import (
    ClutchedPoints,
    setting_for_torque,
    through_clutch,
)
from converter_match.physics.arrangement.lockup import Engagement, LockUpRun, engagement, lock_up
from converter_match.physics.dynamics.drive_train import reaches_unity
from converter_match.physics.dynamics.dynamics import LockUpEngagement
from converter_match.physics.engine.supply import TorqueSupply

# Of a torque: equal, but for rounding.
_SAME = 1e-9
# Of an engine speed: another balance.
_APART = 1e-3


def lock_up_block(
    engine: Engine, supply: TorqueSupply, converter: Converter, clutch: LockUpClutch
) -> Block:
    """Return operation with and without lock-up, and the shock of engagement."""
    speeds = np.linspace(0.0, supply.domain[1], 201)
    # By gear, the block shows a gear in which the clutch is allowed to close.
    gear = int(clutch.engage) if clutch.engage_by == "gear" else None
    run = lock_up(supply, converter, clutch, speeds, gear=gear)
    inertia, notes = _engine_side_inertia(engine, converter)
    shock = None
    if not math.isnan(run.closes):
        shock = engagement(
            supply, converter, clutch, turbine_speed=run.closes, engine_inertia=inertia
        )
    if clutch.engage_by == "gear":
        notes.append(words.note("lock-up-by-gear"))
    if inertia is not None and clutch.engagement_time is not None:
        notes += [] if reaches_unity(converter) else [words.note("engagement-not-followed")]
    notes += _lock_up_notes(engine, clutch, run, shock)
    picked = np.linspace(0, speeds.size - 1, 11).astype(int)
    at = speeds[picked]
    blanks = joined(
        open=open_blanks(supply, converter, at, run.open.found[picked]),
        locked=locked_blanks(supply, at, run.locked.found[picked]),
    )
    facts: list[tuple[Heading, Any]] = [
        (Heading("engage_by", "engaged by"), clutch.engage_by),
        (_speed("engage_turbine_speed", "engages at turbine speed"), _known(run.closes)),
        (_speed("release_turbine_speed", "releases at turbine speed"), _known(run.lets_go)),
        (TORQUE_CAPACITY, clutch.torque_capacity),
    ]
    if shock is not None:
        facts += [
            (_speed("engine_speed_step", "speed step at engagement"), shock.speed_step),
            (
                Heading("turbine_torque_before", "turbine torque before", "torque"),
                shock.torque_before,
            ),
            (
                Heading("turbine_torque_after", "turbine torque after", "torque"),
                shock.torque_after,
            ),
            (Heading("engagement_energy", "heat of engagement", "energy", ".1f"), shock.energy),
            (
                Heading(
                    "engagement_energy_with_torque",
                    "with the slip falling in a straight line",
                    "energy",
                    ".1f",
                ),
                shock.energy_with_torque,
            ),
            (
                Heading("engagement_clutch_torque", "clutch torque then", "torque"),
                shock.clutch_torque,
            ),
        ]
        facts += _closing_facts(shock.in_time)
    return Block(
        name="lock_up",
        title="Lock-up clutch, at full load",
        facts=tuple(facts),
        columns=(
            TURBINE,
            Heading("open_turbine_torque", "torque, open", "torque"),
            Heading("locked_turbine_torque", "torque, locked", "torque"),
            Heading("open_output_power", "output, open", "power"),
            Heading("locked_output_power", "output, locked", "power"),
            Heading("open_heat", "heat, open", "power"),
            Heading("locked_heat", "heat, locked", "power"),
            Heading("holds_rising", "engaged, accelerating"),
            Heading("holds_falling", "engaged, decelerating"),
            BECAUSE,
        ),
        rows=beside(
            rows_of_arrays(
                speeds[picked],
                run.open.turbine_torque[picked],
                run.locked.turbine_torque[picked],
                run.open.output_power[picked],
                run.locked.output_power[picked],
                run.open.heat[picked],
                run.locked.heat[picked],
                run.rising[picked],
                run.falling[picked],
            ),
            blanks,
        ),
        notes=tuple(notes),
        detail=run,
    )


def _closing_facts(
    closing: LockUpEngagement | None,
) -> list[tuple[Heading, float | NoValue | None]]:
    """Return what comes of a clutch that builds up its capacity over its time."""
    if closing is None:
        return []
    slips = closing.slips_for
    return [
        (
            Heading("closing_heat", "with its capacity built up in that time", "energy", ".1f"),
            closing.dissipated,
        ),
        (
            Heading("closing_torque", "clutch torque then, at most", "torque"),
            closing.highest_torque,
        ),
        (
            Heading("closing_slips_for", "slips for", "time", ".2f"),
            NoValue("does not stick") if slips is None else slips,
        ),
    ]


def _engine_side_inertia(engine: Engine, converter: Converter) -> tuple[float | None, list[Note]]:
    if engine.inertia is None:
        return None, [words.note("engagement-heat-not-known")]
    notes = [words.note("machine-keeps-its-speed")]
    if converter.impeller_inertia is None:
        notes.append(words.note("impeller-inertia-not-counted"))
    return engine.inertia + (converter.impeller_inertia or 0.0), notes


def _lock_up_notes(
    engine: Engine, clutch: LockUpClutch, run: LockUpRun, shock: Engagement | None
) -> list[Note]:
    notes = []
    held = run.falling & run.locked.found
    torque = run.locked.turbine_torque[held]
    capacity = clutch.torque_capacity
    if capacity is not None and torque.size and float(torque.max()) > capacity:
        highest = float(torque.max())
        notes.append(words.note("lock-up-capacity", torque=highest, capacity=capacity))
    peak = speeds_near_peak(engine)[0]
    if (held & (run.turbine_speed < peak)).any():
        notes.append(words.note("lock-up-heavy-pull", low=run.lets_go, peak=peak))
    if shock is None:
        return [*notes, words.note("no-engagement-at-full-load")]
    if shock.torque_after < shock.torque_before:
        notes.append(
            words.note(
                "lock-up-costs-pull",
                speed=shock.turbine_speed,
                open=shock.torque_before,
                locked=shock.torque_after,
            )
        )
    carried = shock.clutch_torque
    if capacity is not None and carried is not None and carried > capacity:
        notes.append(words.note("lock-up-shock-above-capacity", torque=carried, capacity=capacity))
    return notes


@dataclass(frozen=True)
class ClutchMap:
    """Impeller clutch over setting and turbine speed, for figures.

    Parameters
    ----------
    clutch : ImpellerClutch
    wheels : Wheels or None
    setting : ndarray, shape (m,)
    turbine_speed : ndarray, shape (n,)
    points : ClutchedPoints
        Shape (m, n).
    limited : ClutchedPoints or None
        At the turbine-torque limit, shape (n,).
    opening : ClutchedPoints
        As `points`, which are those of a clutch that closes on an engine at its speed, but of one
        that is opened from full pressure on an engine that came up from idle, or was stalled.
    """

    clutch: ImpellerClutch
    wheels: Wheels | None
    setting: FloatArray
    turbine_speed: FloatArray
    points: ClutchedPoints
    limited: ClutchedPoints | None
    opening: ClutchedPoints

    @property
    def by_history(self) -> NDArray[np.bool_]:
        """Where it makes a difference whether the clutch closes or opens, shape (m, n)."""
        closing, opening = self.points.engine_speed, self.opening.engine_speed
        apart = np.abs(closing - opening) > _APART * closing
        return np.asarray(apart | (np.isfinite(closing) & ~np.isfinite(opening)))


def impeller_clutch_block(
    supply: TorqueSupply, converter: Converter, clutch: ImpellerClutch, wheels: Wheels | None
) -> Block:
    """Return operation over setting and turbine speed, and the setting for a torque limit."""
    top = clutch.engine_speed or supply.domain[1]
    speeds = np.linspace(0.0, 0.95 * top, 41)
    fine = np.linspace(0.025, 1.0, 40)
    picked = np.array([0, 10, 20, 30])
    listed = through_clutch(supply, converter, clutch, clutch.settings, speeds[picked])
    back = through_clutch(supply, converter, clutch, clutch.settings, speeds[picked], "opening")
    rows = list(_clutch_rows(supply, converter, listed, speeds[picked], back.engine_speed, wheels))
    facts: list[tuple[Heading, float | NoValue | None]] = [
        (TORQUE_CAPACITY, clutch.torque_capacity),
        (_speed("held_engine_speed", "engine held at"), clutch.engine_speed),
    ]
    limited = None
    limit = clutch.turbine_torque_limit
    if clutch.tractive_effort_limit is not None and wheels is not None:
        limit = wheels.turbine_torque(clutch.tractive_effort_limit)
    if limit is not None:
        limited = setting_for_torque(supply, converter, clutch, limit, speeds)
        facts += [
            (Heading("turbine_torque_limit", "turbine torque limit", "torque"), limit),
            (
                Heading("setting_at_standstill", "setting that keeps it at standstill"),
                _at_standstill(limited, limit),
            ),
        ]
        at_limit = setting_for_torque(supply, converter, clutch, limit, speeds[picked])
        pairs = zip(at_limit.setting.tolist(), speeds[picked].tolist(), strict=True)
        back_at_limit = [
            float(through_clutch(supply, converter, clutch, *pair, "opening").engine_speed)
            for pair in pairs
        ]
        rows += _clutch_rows(
            supply, converter, at_limit, speeds[picked], np.array(back_at_limit), wheels
        )
    points = through_clutch(supply, converter, clutch, fine, speeds)
    opening = through_clutch(supply, converter, clutch, fine, speeds, "opening")
    full = ClutchMap(clutch, wheels, fine, speeds, points, limited, opening)
    return Block(
        name="impeller_clutch",
        title="Impeller clutch"
        + (" (engine at full throttle)" if clutch.engine_speed is None else "")
        + ("; last rows: at the turbine torque limit" if limited is not None else ""),
        facts=tuple(facts),
        columns=(
            Heading("setting", "setting"),
            TURBINE,
            ENGINE,
            _speed("impeller_speed", "impeller"),
            Heading("clutch_torque", "clutch torque", "torque"),
            Heading("turbine_torque", "turbine torque", "torque"),
            Heading("clutch_heat", "clutch heat", "power"),
            Heading("converter_heat", "converter heat", "power"),
            Heading("power_left", "left for hydraulics", "power"),
            Heading("slipping", "slips"),
            Heading("engine_speed_held", "speed held"),
            _speed("opening_engine_speed", "engine, opening"),
            *(WHEELS if wheels is not None else ()),
            BECAUSE,
        ),
        rows=tuple(rows),
        notes=_clutch_notes(clutch, full),
        detail=full,
    )


def _at_standstill(limited: ClutchedPoints, limit: float) -> float | NoValue:
    """Return the setting that keeps the turbine torque at its limit with the wheels held."""
    torque = limited.turbine_torque
    if not np.isfinite(torque[0]):
        return NoValue("none: does not hold at standstill")
    if torque[0] < limit * (1.0 - _SAME):
        reached = bool(np.nanmax(torque) >= limit * (1.0 - _SAME))
        return NoValue("limit not reached at standstill" if reached else "limit never reached")
    return float(limited.setting[0])


def _clutch_rows(
    supply: TorqueSupply,
    converter: Converter,
    points: ClutchedPoints,
    turbine_speed: FloatArray,
    opening: FloatArray,
    wheels: Wheels | None,
) -> tuple[tuple[object, ...], ...]:
    # What is asked for stands in the row whether the engine runs there or not.
    asked = np.broadcast_to(turbine_speed, points.engine_speed.shape)
    settings, *others = (
        points.setting,
        asked,
        points.engine_speed,
        points.impeller_speed,
        points.torque,
        points.turbine_torque,
        points.clutch_heat,
        points.converter_heat,
        points.power_left,
        points.slipping,
        points.held,
        opening,
    )
    columns = [settings, *others]
    if wheels is not None:
        columns.append(wheels.travel_speed(asked))
        columns.append(wheels.tractive_effort(points.turbine_torque))
    rows = rows_of_arrays(*(values.ravel() for values in columns))
    found = np.isfinite(points.engine_speed).ravel()
    return beside(rows, open_blanks(supply, converter, asked.ravel(), found))


def _clutch_notes(clutch: ImpellerClutch, run: ClutchMap) -> tuple[Note, ...]:
    notes = []
    points = run.points
    if clutch.engine_speed is not None:
        lost = np.isfinite(points.engine_speed) & ~points.held
        if lost.any():
            notes.append(
                words.note(
                    "impeller-clutch-speed-not-held",
                    setting=float(points.setting[lost].min()),
                    speed=clutch.engine_speed,
                    lowest=float(points.engine_speed[lost].min()),
                )
            )
    differs = run.by_history
    if differs.any():
        low = run.opening.engine_speed[differs]
        runs = low[np.isfinite(low)]
        notes.append(
            words.note(
                "impeller-clutch-engine-stays-low",
                setting=_least(run, differs),
                speed=float(runs.min()),
            )
            if runs.size
            else words.note("impeller-clutch-engine-stalls", setting=_least(run, differs))
        )
    if bool(points.slipping[-1, 0]):
        notes.append(words.note("impeller-clutch-slips-at-full", capacity=clutch.torque_capacity))
    hottest = float(np.nanmax(points.clutch_heat))
    notes.append(words.note("impeller-clutch-heat", heat=hottest))
    return tuple(notes)


def _least(run: ClutchMap, where: NDArray[np.bool_]) -> float:
    """Return the lowest setting of some points of a map."""
    return float(run.points.setting[where].min())


def _speed(key: str, words: str) -> Heading:
    return Heading(key, words, "angular_speed")


def _known(value: float) -> float | None:
    return None if math.isnan(value) else value
