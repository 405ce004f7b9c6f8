"""Two engines, converters or pairs on one shaft: who gives what, over the speed of the shaft."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from converter_match.answer.block import Block, Heading
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.components.parallel import Couples, Parallel
from converter_match.components.site import Site
from converter_match.curves import FloatArray
from converter_match.judgement.arrangement import words
from converter_match.notes import Note
from converter_match.physics.engine.site_correction import site_effect
from converter_match.physics.engine.supply import TorqueSupply, engine_supply
from converter_match.physics.load.parallel import combined_converters, combined_supply, geared
from converter_match.physics.load.shaft import Unit, shaft_states

_ROWS = np.linspace(0.0, 0.95, 20)
_UNEVEN = 0.1  # of an even share: beyond, one of the two is the one to look at

_SHAFT = (
    Heading("shaft_speed", "shaft", "angular_speed"),
    Heading("shaft_torque", "shaft torque", "torque"),
    words.OUTPUT,
    words.HEAT,
    Heading("efficiency", "efficiency"),
)
_CALLED = {
    "pairs": ("pair", "shaft"),
    "engines": ("engine", "impeller"),
    "converters": ("converter", "shaft"),
}


@dataclass(frozen=True, eq=False)
class ParallelRun:
    """Two of something on one shaft at full load, over its speed; arrays (n,), NaN without a match.

    Parameters
    ----------
    couples : {"pairs", "engines", "converters"}
    units : tuple of Unit
        What drives the shaft: two pairs, or one of what is combined.
    speed : ndarray
        Of the shaft [rad/s].
    torque, output, heat : ndarray
        On the shaft [N.m], [W], [W].
    engine_speeds : tuple of ndarray
        Of each engine [rad/s].
    parts : tuple of ndarray
        What each of the two gives: on the shaft, of ``engines`` at the impeller [N.m].
    """

    couples: Couples
    units: tuple[Unit, ...]
    speed: FloatArray
    torque: FloatArray
    output: FloatArray
    heat: FloatArray
    engine_speeds: tuple[FloatArray, ...]
    parts: tuple[FloatArray, FloatArray]


def parallel_run(
    engine: Engine,
    supply: TorqueSupply,
    converter: Converter,
    of: Parallel,
    site: Site | None,
) -> ParallelRun:
    """Return what two on one shaft give, coming up from standstill.

    Parameters
    ----------
    engine, converter : Engine, Converter
        The first of each.
    supply : TorqueSupply
        Net torque of the first engine.
    of : Parallel
    site : Site, optional
        Whose air the second engine breathes as well.

    Raises
    ------
    InputError
        If the site correction of the second engine lacks a datum, or the two do not go together.
    """
    second = of.engine or engine
    other = engine_supply(second, torque_factor=site_effect(second, site).torque_factor)
    (r1, r2), (e1, e2) = of.ratio, of.efficiency
    both = (converter, of.converter or converter)
    units: tuple[Unit, ...]
    if of.couples == "pairs":
        units = (Unit(supply, both[0], r1, e1), Unit(other, both[1], r2, e2))
    elif of.couples == "engines":
        units = (Unit(combined_supply([geared(supply, r1, e1), geared(other, r2, e2)]), converter),)
    else:
        units = (Unit(supply, combined_converters(*both), r1, 1.0),)
    fastest = min(unit.fastest for unit in units)
    speed = fastest * _ROWS
    states = shaft_states(units, speed)
    row = np.argmax(states.coming_up, axis=0)
    row = np.where(states.coming_up.any(axis=0), row, len(states.torque))
    up = states.picked(row)
    torque = up.torque
    if of.couples == "pairs":
        engine_speeds = tuple(unit.engine_speed for unit in up.units)
        parts = (
            r1 * e1 * up.units[0].turbine_torque,
            r2 * e2 * up.units[1].turbine_torque,
        )
    elif of.couples == "engines":
        impeller = up.units[0].engine_speed
        engine_speeds = (r1 * impeller, r2 * impeller)
        parts = (
            _net(geared(supply, r1, e1), impeller),
            _net(geared(other, r2, e2), impeller),
        )
    else:
        point = up.units[0]
        engine_speeds = (point.engine_speed,)
        nu = np.where(point.found, point.speed_ratio, 0.0)
        parts = (
            r1 * e1 * both[0].torque_ratio_at(nu) * both[0].capacity_at(nu) * point.engine_speed**2,
            r2 * e2 * both[1].torque_ratio_at(nu) * both[1].capacity_at(nu) * point.engine_speed**2,
        )
        torque = parts[0] + parts[1]
    taken = sum(unit.input_power for unit in up.units)
    output = torque * speed
    return ParallelRun(
        of.couples, units, speed, torque, output, np.asarray(taken - output), engine_speeds, parts
    )


def _net(supply: TorqueSupply, speed: FloatArray) -> FloatArray:
    known = np.isfinite(speed)
    return np.where(known, supply.net_torque(np.where(known, speed, supply.domain[0])), np.nan)


def parallel_block(
    engine: Engine,
    supply: TorqueSupply,
    converter: Converter,
    of: Parallel,
    site: Site | None,
) -> Block:
    """Return what two on one shaft give, as a block of the arrangement.

    Parameters
    ----------
    engine, supply, converter, of, site
        As for `parallel_run`.
    """
    run = parallel_run(engine, supply, converter, of, site)
    what, where = _CALLED[of.couples]
    engines = [
        Heading("", f"engine {k + 1}", "angular_speed") for k in range(len(run.engine_speeds))
    ]
    share = [Heading("", f"of {what} {k + 1}", "share") for k in range(2)]
    columns = (
        *_SHAFT,
        Heading("engine_speeds", "", "angular_speed"),
        *engines,
        Heading("shares", "", "share"),
        *share,
    )
    rows = []
    given = run.output + run.heat
    for row in np.flatnonzero(np.isfinite(run.torque)):
        speeds = [float(each[row]) for each in run.engine_speeds]
        total = float(run.parts[0][row] + run.parts[1][row])
        shares = [float(part[row]) / total if total else None for part in run.parts]
        rows.append(
            (
                float(run.speed[row]), float(run.torque[row]), float(run.output[row]),
                float(run.heat[row]), float(run.output[row] / given[row]),
                speeds, *speeds, shares, *shares,
            )
        )  # fmt: skip
    stall = float(run.torque[0])
    return Block(
        "parallel",
        title=words.PARALLEL[of.couples],
        facts=(
            (Heading("couples", ""), of.couples),
            (Heading("stall_torque", "shaft torque at stall", "torque"), stall),
            (Heading("ratio", ""), list(of.ratio)),
        ),
        columns=columns,
        rows=tuple(rows),
        notes=_notes(run, of, what, where),
        detail=run,
    )


def _notes(run: ParallelRun, of: Parallel, what: str, where: str) -> tuple[Note, ...]:
    notes = [words.NOTES.note("parallel-stiff")]
    if of.couples != "converters":
        notes.append(words.NOTES.note("parallel-first-drives-pumps"))
    if not np.isfinite(run.torque[0]):
        notes.append(words.NOTES.note("parallel-no-stall"))
        return tuple(notes)
    total = float(run.parts[0][0] + run.parts[1][0])
    first = float(run.parts[0][0]) / total
    if abs(first - 0.5) > 0.5 * _UNEVEN:
        notes.append(
            words.NOTES.note(
                "parallel-uneven", what=what, where=where, first=first, second=1.0 - first
            )
        )
    if of.couples == "pairs":
        ends = [unit.fastest for unit in run.units]
        if abs(ends[0] / ends[1] - 1.0) > 0.01:
            notes.append(words.NOTES.note("parallel-ends", speed=min(ends)))
    return tuple(notes)
