"""What an arrangement asks of the engine beside full load: pumps, engine braking, part load."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from converter_match.answer.block import Block, Heading, NoValue
from converter_match.components.arrangement import (
    HydraulicSharing,
    OverrunDuty,
    PartLoadDuty,
    Wheels,
)
from converter_match.components.base import in_rpm
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.arrangement import words
from converter_match.judgement.arrangement.blanks import BECAUSE, beside, ratio_blanks
from converter_match.judgement.arrangement.words import (
    ENGINE,
    HEAT,
    INPUT_TORQUE,
    OUTPUT,
    TURBINE,
    TURBINE_TORQUE,
    WHEELS,
)
from converter_match.notes import Note
from converter_match.physics.arrangement.overrun import (
    Braking,
    braking,
    braking_range,
    locked_braking,
    motoring_supply,
    overrun_spread,
    with_overrun,
)
from converter_match.physics.engine.hydraulic_sharing import SharedSupply, shared_supplies
from converter_match.physics.match.part_load_map import (
    IdleCreep,
    PartLoadMap,
    default_settings,
    idle_creep,
    part_load_map,
)
from converter_match.physics.match.solver import OperatingPoints, match
from converter_match.physics.match.turbine_speed import matches_at_turbine_speed


@dataclass(frozen=True)
class SharingRun:
    """Full load over turbine speed in each state of the implement pumps, for figures.

    Parameters
    ----------
    turbine_speed : ndarray, shape (n,)
    states : tuple of (str, OperatingPoints)
        Shape (n,) each; from least to most pump torque.
    jumps_before : tuple of ndarray of bool
        Of each state: whether the engine jumps between a turbine speed and the one before it.
    """

    turbine_speed: FloatArray
    states: tuple[tuple[str, OperatingPoints], ...]
    jumps_before: tuple[NDArray[np.bool_], ...]


def hydraulic_block(
    engine: Engine,
    converter: Converter,
    sharing: HydraulicSharing,
    *,
    torque_factor: float,
    hydraulic_torque: float,
    wheels: Wheels | None,
) -> Block:
    """Return stall and coupling point in each state of the implement pumps."""
    states = shared_supplies(
        engine, sharing, torque_factor=torque_factor, hydraulic_torque=hydraulic_torque
    )
    where = [("stall", 0.0)]
    if converter.coupling is not None:
        where.append(("coupling point", converter.coupling))
    rows: list[tuple[object, ...]] = []
    blanks: list[str] = []
    notes: list[Note] = []
    for name, nu in where:
        without = float(match(states[0].supply, converter, nu).from_idle().turbine_torque)
        for state in states:
            matches = match(state.supply, converter, nu)
            point = matches.from_idle()
            omega = float(point.engine_speed)
            pump = float("nan")
            if state.pump is not None and np.isfinite(omega):
                pump = float(state.pump.curve(omega))
            elif state.pump is None:
                pump = 0.0
            rows.append(
                (
                    state.state,
                    name,
                    omega,
                    pump,
                    float(point.input_torque),
                    float(point.turbine_torque),
                    float(point.turbine_torque) / without,
                    pump * omega,
                    float(point.heat),
                    *_at_wheels(wheels, point),
                )
            )
            blanks += ratio_blanks(*np.atleast_1d(point.found, ~matches.pulls_away))
            if name == "stall" and not np.isfinite(omega):
                notes.append(words.note(f"engine-pulled-down-at-{state.state}"))
    return Block(
        name="hydraulic_sharing",
        title="Hydraulics: what the pumps leave for the wheels",
        columns=(
            Heading("state", "pumps"),
            Heading("at", "at"),
            ENGINE,
            Heading("pump_torque", "pump torque", "torque"),
            INPUT_TORQUE,
            TURBINE_TORQUE,
            Heading("share_left", "share left"),
            Heading("pump_power", "pump power", "power"),
            HEAT,
            *(WHEELS if wheels is not None else ()),
            BECAUSE,
        ),
        rows=beside(tuple(rows), blanks),
        notes=tuple(notes),
        detail=_sharing_run(converter, states),
    )


def _at_wheels(wheels: Wheels | None, point: OperatingPoints) -> tuple[float, ...]:
    if wheels is None:
        return ()
    speed = wheels.travel_speed(point.turbine_speed)
    return float(speed), float(wheels.tractive_effort(point.turbine_torque))


def _sharing_run(converter: Converter, states: tuple[SharedSupply, ...]) -> SharingRun:
    speeds = np.linspace(0.0, states[0].supply.domain[1], 241)
    found = [matches_at_turbine_speed(state.supply, converter, speeds) for state in states]
    return SharingRun(
        speeds,
        tuple((state.state, each.reached()) for state, each in zip(states, found, strict=True)),
        tuple(each.jumps_before() for each in found),
    )


@dataclass(frozen=True)
class OverrunRun:
    """Engine braking through the open converter and locked up, for figures.

    Parameters
    ----------
    turbine_speed : ndarray, shape (n,)
    open, locked : Braking
        Shape (n,).
    spread : tuple of Braking
        Open, with each of the tables that overrun is assumed from; empty where it is given.
    exhaust_brake : bool
    """

    turbine_speed: FloatArray
    open: Braking
    locked: Braking
    spread: tuple[Braking, ...]
    exhaust_brake: bool

    def band(
        self, values: Callable[[Braking], FloatArray], *, none_below: bool = False
    ) -> FloatArray:
        """Return the least and the most over the tables and their middle, shape (2, n).

        Where a table has no balance at a turbine speed, it is left out there; with `none_below`,
        for what retards, it counts as nothing below the speeds of its balances.
        """
        of_each = []
        for item in (self.open, *self.spread):
            given = values(item)
            below = np.logical_and.accumulate(np.isnan(given))
            of_each.append(np.where(below, 0.0, given) if none_below else given)
        return np.stack([np.fmin.reduce(of_each), np.fmax.reduce(of_each)])


def overrun_block(
    engine: Engine,
    converter: Converter,
    duty: OverrunDuty,
    *,
    assume: bool,
    hydraulic_torque: float,
) -> Block:
    """Return engine braking over turbine speed, open and locked up.

    Raises
    ------
    InputError
        Without motoring data, or without overrun data and the permission to assume them.
    """
    reached = with_overrun(converter, assume=assume)
    supply = motoring_supply(
        engine,
        exhaust_brake=duty.exhaust_brake,
        hydraulic_torque=hydraulic_torque,
        overspeed_limit=duty.overspeed_limit,
    )
    low, high = braking_range(supply, reached)
    speeds = np.linspace(low, high, 101)
    others = overrun_spread(converter)
    run = OverrunRun(
        speeds,
        open=braking(supply, reached, speeds),
        locked=locked_braking(supply, speeds),
        spread=tuple(braking(supply, item, speeds) for item in others),
        exhaust_brake=duty.exhaust_brake,
    )
    columns, rows = _overrun_table(run)
    ranges = [braking_range(supply, item) for item in (reached, *others)]
    notes = [note for note in reached.notes if note not in converter.notes]
    top = supply.domain[1]
    above = top > engine.high_idle * (1 + 1e-9)
    notes.append(
        words.note(
            "overrun-highest-speed",
            turbine=min(end for _, end in ranges),
            engine=top,
            end=words.OVERSPEED_LIMIT if duty.overspeed_limit else words.DATA_END,
            already=words.ABOVE_HIGH_IDLE if above else "",
        )
    )
    if others:
        notes.append(words.note("overrun-band"))
    notes.append(words.note("overrun-no-holding"))
    return Block(
        name="overrun",
        title="Overrun: engine braking"
        + (" with the exhaust brake" if duty.exhaust_brake else "")
        + f", stator {reached.stator}",
        facts=(
            (Heading("exhaust_brake", "exhaust brake"), duty.exhaust_brake),
            (Heading("lowest_turbine_speed", "retards from turbine speed", "angular_speed"), low),
            (Heading("highest_turbine_speed", "up to turbine speed", "angular_speed"), high),
            *_range_bands(ranges),
        ),
        columns=columns,
        rows=rows,
        notes=tuple(notes),
        detail=run,
    )


def _range_bands(ranges: Sequence[tuple[float, float]]) -> tuple[tuple[Heading, Any], ...]:
    """Return from and up to which turbine speed the tables have the engine brake; none for one."""
    if len(ranges) < 2:
        return ()
    said = (("lowest", "retards from"), ("highest", "up to"))
    return tuple(
        (
            Heading(f"{which}_turbine_speed_band", f"{words}, by the tables", "angular_speed"),
            (min(ends), max(ends)),
        )
        for (which, words), ends in zip(said, zip(*ranges, strict=True), strict=True)
    )


def _overrun_table(run: OverrunRun) -> tuple[tuple[Heading, ...], tuple[tuple[Any, ...], ...]]:
    """Return columns and rows at nine of the turbine speeds, with bands where there are some."""
    opened, locked = run.open, run.locked
    table: list[tuple[Heading, FloatArray]] = [
        (TURBINE, run.turbine_speed),
        (Heading("speed_ratio", "speed ratio"), opened.speed_ratio),
        (ENGINE, opened.engine_speed),
        (TURBINE_TORQUE, opened.turbine_torque),
        (Heading("retarding_power", "retarding power", "power"), opened.retarding_power),
        (Heading("heat", "converter heat", "power"), opened.heat),
        (Heading("locked_turbine_torque", "torque, locked", "torque"), locked.turbine_torque),
        (
            Heading("locked_retarding_power", "retarding power, locked", "power"),
            locked.retarding_power,
        ),
    ]
    if run.spread:
        table += [
            (
                Heading("engine_speed_band", "engine speed, by the tables", "angular_speed"),
                run.band(lambda item: item.engine_speed),
            ),
            (
                Heading("retarding_power_band", "retarding power, by the tables", "power"),
                run.band(lambda item: item.retarding_power, none_below=True),
            ),
            (
                Heading("heat_band", "converter heat, by the tables", "power"),
                run.band(lambda item: item.heat),
            ),
        ]
    picked = np.linspace(0, run.turbine_speed.size - 1, 9).astype(int)
    return (
        tuple(heading for heading, _ in table),
        tuple(tuple(_cell(values[..., row]) for _, values in table) for row in picked),
    )


def _cell(value: FloatArray) -> float | tuple[float, ...]:
    return float(value) if value.ndim == 0 else tuple(value.tolist())


@dataclass(frozen=True)
class PartLoadRun:
    """Part-load map and idle, for figures.

    Parameters
    ----------
    map : PartLoadMap
    creep : IdleCreep
    """

    map: PartLoadMap
    creep: IdleCreep


def part_load_block(
    engine: Engine,
    converter: Converter,
    duty: PartLoadDuty,
    *,
    torque_factor: float,
    hydraulic_torque: float,
    wheels: Wheels | None,
) -> Block:
    """Return the match over part-load settings, and creep and holding torque at idle.

    Raises
    ------
    InputError
        If the settings are not those of the engine's governing habit.
    """
    settings = _settings(engine, duty)
    low, high = max(converter.domain[0], 0.0), min(converter.domain[1], 1.0)
    corner = [] if converter.coupling is None else [converter.coupling]
    nu = np.union1d(np.linspace(low, high, 101), corner)
    common = {"torque_factor": torque_factor, "hydraulic_torque": hydraulic_torque}
    run = part_load_map(engine, converter, settings, nu, **common)
    creep = idle_creep(engine, converter, nu, **common)
    listed = sorted({0.0, 0.5, 0.8, *corner})
    columns = [int(np.argmin(np.abs(nu - value))) for value in listed if low <= value <= high]
    points = run.points
    speed_governed = engine.governing == "speed"
    rows: list[tuple[object, ...]] = []
    blanks: list[str] = []
    for row, setting in enumerate(run.setting):
        blanks += ratio_blanks(points.found[row, columns], run.lugged[row, columns])
        for column in columns:
            rows.append(
                (
                    float(setting),
                    float(nu[column]),
                    float(points.engine_speed[row, column]),
                    float(points.turbine_speed[row, column]),
                    float(points.turbine_torque[row, column]),
                    float(points.output_power[row, column]),
                    float(points.heat[row, column]),
                    bool(run.at_idle[row, column]),
                )
            )
    notes = list(run.notes)
    # At speed ratio 0, as the holding torque is.
    held = bool(creep.can_hold[0])
    holding: float | NoValue = creep.holding_torque
    if held:
        notes.append(words.note("creep-at-idle", torque=creep.holding_torque))
    else:
        notes.append(words.note("idle-not-held-in-gear"))
        holding = NoValue("none, the engine does not hold idle in gear")
    return Block(
        name="part_load",
        title="Part load: " + ("governor settings" if speed_governed else "pedal settings"),
        facts=(
            (Heading("governing", "governing"), engine.governing),
            (
                Heading("creep_turbine_torque", "turbine torque at idle in gear", "torque"),
                holding,
            ),
            *_holding_at_wheels(wheels, holding),
        ),
        columns=(
            Heading("no_load_speed", "no-load speed", "angular_speed")
            if speed_governed
            else Heading("pedal", "pedal"),
            Heading("speed_ratio", "speed ratio"),
            ENGINE,
            TURBINE,
            TURBINE_TORQUE,
            OUTPUT,
            HEAT,
            Heading("at_idle", "held at idle"),
            BECAUSE,
        ),
        rows=beside(tuple(rows), blanks),
        notes=tuple(notes),
        detail=PartLoadRun(run, creep),
    )


def _holding_at_wheels(
    wheels: Wheels | None, holding: float | NoValue
) -> tuple[tuple[Heading, float | NoValue], ...]:
    if wheels is None:
        return ()
    head = Heading("holding_wheel_torque", "brake torque at the wheels to hold it", "torque", ".0f")
    if isinstance(holding, NoValue):
        return ((head, holding),)
    return ((head, holding * wheels.overall_ratio),)


def _settings(engine: Engine, duty: PartLoadDuty) -> tuple[float, ...]:
    wanted = duty.no_load_speeds if engine.governing == "speed" else duty.pedals
    if wanted and engine.governing == "speed":
        # Said here in rpm, with the place in the file; the physics speaks SI.
        lowest = engine.full_load.domain[0] * engine.high_idle / engine.rated_speed
        for row, setting in enumerate(wanted):
            if not lowest < setting <= engine.high_idle * (1 + 1e-9):
                raise InputError(
                    "no such setting of the governor",
                    field=f"part_load.no_load_speed[{row}]",
                    found=in_rpm(setting),
                    expected=f"above {in_rpm(lowest)} and at most {in_rpm(engine.high_idle)}",
                )
        return tuple(min(setting, engine.high_idle) for setting in wanted)
    if wanted:
        return wanted
    due = "no_load_speed" if engine.governing == "speed" else "pedal"
    usual = default_settings(engine)
    raise InputError(
        f"the engine is {engine.governing}-governed, so a setting is a {due.replace('_', '-')}",
        field="part_load",
        expected=f"{due}, for example {len(usual)} values up to the full setting",
    )
