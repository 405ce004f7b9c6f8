"""A load that hangs in the rope: what throttle holds it at rest, and how it is lowered.

At rest the turbine gives ``mu(0) C(0) omega_e^2``. Friction in gear and drum helps to hold: the
load rests between the torque with which it drives the turbine and that which hoists it, so between
two engine speeds,

    omega_e = sqrt(T / (mu(0) C(0))).

Lowered against the converter, the load drives the turbine backwards at a speed ratio nu below
zero; steadily so at ``omega_e = sqrt(T / (mu(nu) C(nu)))``, with the turbine at ``nu omega_e``.
Engine and load then both work on the oil: heat = T_i omega_e + T |omega_t|.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from converter_match.answer.block import Block, Heading
from converter_match.components.load import LoadLine, ShaftLoad
from converter_match.curves import FloatArray
from converter_match.judgement.load import words
from converter_match.judgement.match.result import MatchResult
from converter_match.notes import Note

_SPEED = "angular_speed"
_HOLDING = (
    Heading("layer", "layer"),
    Heading("sinks_below", "sinks below engine", _SPEED),
    Heading("rises_above", "rises above engine", _SPEED),
    Heading("share_of_full_load", "of full load torque", "share"),
    Heading("heat", "heat at most", "power"),
    Heading("at_idle", "at low idle", choices=words.AT_IDLE),
)
_LOWERING = (
    Heading("layer", "layer"),
    Heading("speed_ratio", "speed ratio", form=".2f"),
    Heading("engine_speed", "engine", _SPEED),
    Heading("turbine_speed", "turbine", _SPEED),
    Heading("rope_speed", "rope", "rope_speed"),
    Heading("turbine_torque", "turbine torque", "torque"),
    Heading("input_torque", "engine torque", "torque"),
    Heading("heat", "heat", "power"),
    Heading("possible", "engine can"),
)


@dataclass(frozen=True, eq=False)
class Hanging:
    """One layer of a hanging load, SI units.

    Parameters
    ----------
    layer : int or None
    sinks_below, rises_above : float
        Engine speeds between which the load rests [rad/s].
    share : float or None
        Of the engine's net full-load torque that the upper of them takes; None outside its curve.
    heat : float
        At the upper one [W].
    at_idle : str
        What the load does at low idle in gear: a key of `words.AT_IDLE`.
    lowering : tuple of ndarray, shape (n,)
        Speed ratio, engine speed, turbine speed, rope speed, turbine torque, input torque, heat,
        and whether the engine can give that; empty without data below speed ratio 0.
    """

    layer: int | None
    sinks_below: float
    rises_above: float
    share: float | None
    heat: float
    at_idle: str
    lowering: tuple[FloatArray, ...]


def hanging(
    match: MatchResult, load: ShaftLoad, lines: Sequence[LoadLine]
) -> tuple[tuple[Hanging, ...], list[Note]]:
    """Return what holds a hanging load, layer by layer, and how it is lowered.

    Parameters
    ----------
    match : MatchResult
    load : ShaftLoad
    lines : sequence of LoadLine
        Of its layers.
    """
    low = match.converter.domain[0]
    rows = match.converter.characteristic.speed_ratio
    nu = rows[rows < 0.0]
    notes = [words.note("lowering-heats-oil" if low < 0.0 else "lowering-not-known")]
    return tuple(_layer(match, load, line, nu) for line in lines), notes


def _layer(match: MatchResult, load: ShaftLoad, line: LoadLine, nu: FloatArray) -> Hanging:
    assert line.lowering is not None  # of a load that hangs
    assert line.radius is not None
    converter, engine = match.converter, match.engine
    capacity = float(converter.capacity_at(0.0))
    per = float(converter.torque_ratio_at(0.0)) * capacity
    sinks, rises = (float(np.sqrt(torque / per)) for torque in (line.lowering, line.breakaway))
    at_idle = "rests"
    if match.idle is None:
        at_idle = "unknown"
    elif rises < engine.low_idle:
        at_idle = "rises"
    elif sinks > engine.low_idle:
        at_idle = "sinks"
    # Fastest first: the lowest speed ratio comes last.
    nu = nu[::-1]
    taken = converter.capacity_at(nu)
    speed = np.sqrt(line.lowering / (converter.torque_ratio_at(nu) * taken))
    turbine, torque = nu * speed, taken * speed**2
    share = _share(match, rises, capacity * rises**2)
    can = np.array(
        [
            (of := _share(match, float(w), float(t))) is not None and of <= 1.0
            for w, t in zip(speed, torque, strict=True)
        ],
        dtype=float,
    )
    rope = turbine / load.ratio * line.radius
    heat = torque * speed - line.lowering * turbine
    drives = np.full(nu.shape, line.lowering)
    return Hanging(
        line.layer,
        sinks,
        rises,
        share,
        capacity * rises**3,
        at_idle,
        (nu, speed, turbine, rope, drives, torque, heat, can),
    )


def _share(match: MatchResult, speed: float, torque: float) -> float | None:
    """Return a torque as a share of the net full-load torque; None outside the engine's curve."""
    low, high = match.supply.domain
    if not low <= speed <= high:
        return None
    most = float(match.supply.torque(speed))
    return torque / most if most > 0.0 else None


def hanging_blocks(layers: Sequence[Hanging]) -> tuple[Block, ...]:
    """Return what holds each layer, and how it is lowered, as blocks."""
    if not layers:
        return ()
    rows = tuple(
        (each.layer, each.sinks_below, each.rises_above, each.share, each.heat, each.at_idle)
        for each in layers
    )
    lowered = tuple(
        (each.layer, *cells[:-1], bool(cells[-1]))
        for each in layers
        for cells in zip(*(column.tolist() for column in each.lowering), strict=True)
    )
    blocks = [Block("load.holding", words.HOLDING, columns=_HOLDING, rows=rows, rows_key="")]
    if lowered:
        blocks.append(
            Block("load.lowering", words.LOWERING, columns=_LOWERING, rows=lowered, rows_key="")
        )
    return tuple(blocks)
