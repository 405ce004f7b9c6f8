"""Part load under the two governing habits.

Speed-governed (machines): a setting is a no-load speed; below the governor's onset the engine gives
full torque, above it the torque falls along a droop line to zero at the no-load speed. The droop is
that of the full setting, as a share of speed: ``onset = no-load speed * rated / high idle``.

Torque-governed (road vehicles): the pedal moves the torque between motoring and full load,
``T = p T_full - (1 - p) T_motoring``.
"""

from __future__ import annotations

import numpy as np

from converter_match.components.engine import Engine
from converter_match.curves import Curve
from converter_match.errors import InputError
from converter_match.notes import Note, assumption
from converter_match.physics.engine.supply import TorqueSupply, engine_supply

_DROOP_NOTE = assumption(
    "droop-as-at-full-setting",
    "Below the full setting the governor is taken to droop by the same share of speed as from "
    "high idle to rated speed.",
)
_ROWS_BELOW_ONSET = 200


def governed_curve(engine: Engine, no_load_speed: float) -> Curve:
    """Return the torque curve of a speed-governed engine at a setting below full.

    Parameters
    ----------
    engine : Engine
    no_load_speed : float
        Speed at which the engine settles without load [rad/s]; high idle is the full setting.

    Returns
    -------
    Curve
        Torque [N.m] over engine speed [rad/s], from the first full-load row to the no-load speed.

    Raises
    ------
    InputError
        If the setting is above high idle, or so low that the droop line begins below the first
        full-load row.
    """
    full = engine.full_load
    if no_load_speed > engine.high_idle * (1 + 1e-12):
        raise InputError(
            "the setting is above high idle",
            field="no_load_speed",
            found=no_load_speed,
            expected=f"at most {engine.high_idle:.6g} rad/s",
        )
    onset = no_load_speed * engine.rated_speed / engine.high_idle
    low = full.domain[0]
    if onset <= low:
        raise InputError(
            "the governor's onset lies below the first full-load row",
            field="no_load_speed",
            found=no_load_speed,
            expected=f"above {low * engine.high_idle / engine.rated_speed:.6g} rad/s",
        )
    if no_load_speed >= engine.high_idle * (1 - 1e-12):
        return full
    inner = full.x[full.x < onset * (1 - 1e-12)]
    # A curve that ends at the onset has other slopes than the one that goes on: rows taken from the
    # full curve keep it on that one.
    between = np.linspace(low, onset, _ROWS_BELOW_ONSET)[:-1]
    apart = np.abs(between[:, np.newaxis] - inner).min(axis=1) > 1e-6 * onset
    inner = np.union1d(inner, between[apart])
    speed = np.concatenate([inner, [onset, no_load_speed]])
    torque = np.concatenate([full(inner), [float(full(onset)), 0.0]])
    return Curve(speed, torque, kinks=(float(onset),), name="governed torque", x_name="speed")


def part_load_supply(
    engine: Engine,
    *,
    setting: float,
    torque_factor: float = 1.0,
    hydraulic_torque: float = 0.0,
) -> tuple[TorqueSupply, tuple[Note, ...]]:
    """Return the net torque at part load by the engine's own governing habit.

    Parameters
    ----------
    engine : Engine
    setting : float
        Speed-governed: no-load speed [rad/s]. Torque-governed: pedal, 0 .. 1.
    torque_factor, hydraulic_torque : float
        As in `engine_supply`.

    Returns
    -------
    supply : TorqueSupply
    notes : tuple of Note
        What was assumed: the droop of a setting below full, motoring torque that is not known.

    Raises
    ------
    InputError
        If the setting is out of range.
    """
    if engine.governing == "speed":
        source = governed_curve(engine, setting)
        supply = engine_supply(
            engine, torque_factor=torque_factor, hydraulic_torque=hydraulic_torque, source=source
        )
        below_full = setting < engine.high_idle * (1 - 1e-12)
        return supply, (_DROOP_NOTE,) if below_full else ()
    if not 0.0 < setting <= 1.0:
        raise InputError("pedal out of range", field="setting", found=setting, expected="0 to 1")
    notes: tuple[Note, ...] = ()
    tables: list[Curve] = []
    if engine.motoring is None:
        notes = (
            assumption(
                "motoring-not-known",
                "The motoring torque is not given: at part pedal it is taken as zero, so the "
                "torque is the pedal's share of full load.",
            ),
        )
    elif setting < 1.0:
        motoring = engine.motoring
        tables.append(
            Curve(
                motoring.speed,
                (1.0 - setting) * motoring.value,
                name="motoring torque",
                x_name="speed",
            )
        )
    supply = engine_supply(
        engine,
        torque_factor=torque_factor * setting,
        hydraulic_torque=hydraulic_torque,
        tables=tables,
    )
    return supply, notes
