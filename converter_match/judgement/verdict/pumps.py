"""What the implement pumps of a combination take from its engine in a condition of a study."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from converter_match.components.engine import Engine
from converter_match.errors import InputError
from converter_match.judgement.verdict.words import PUMPS, PUMPS_SAID, missing
from converter_match.notes import Note
from converter_match.physics.engine.hydraulic_sharing import pump_curve
from converter_match.study.study import Combination, Condition

# What an accessory is called that may be the pumps of the table.
_IMPLEMENT = ("implement", "hydraulic")
Source = Literal["arrangement", "duty", "none"]


@dataclass(frozen=True, eq=False)
class PumpLoad:
    """An engine with its pumps in one state.

    Parameters
    ----------
    engine : Engine
        With the pump table of the arrangement, where there is one.
    hydraulic_torque : float
        Constant torque of the duty [N.m]; 0 beside a table.
    source : {"arrangement", "duty", "none"}
        Where the torque comes from.
    missing : str
        The datum without which nothing is known of the combination here; empty where none is.
    notes : tuple of Note
    """

    engine: Engine
    hydraulic_torque: float = 0.0
    source: Source = "none"
    missing: str = ""
    notes: tuple[Note, ...] = ()


def pump_load(combination: Combination, condition: Condition) -> PumpLoad:
    """Return what the pumps take: by the table of the arrangement, else by the duty.

    A condition of a study says whether any combination has a table; one made for a claim has the
    torque of the claim alone. The states are those that any combination of the study has a torque
    for. Of another one the torque at standby is taken as none, and that at work is the constant
    torque of the duty; what neither gives is not known.

    Parameters
    ----------
    combination : Combination
    condition : Condition

    Raises
    ------
    InputError
        If the table does not cover the engine's speeds; nothing is extrapolated.
    """
    engine, state = combination.engine, condition.pumps
    table = combination.pump_table(state) if condition.by_table else None
    name = combination.name
    if table is not None:
        assert combination.arrangement is not None
        try:
            pump_curve(engine, table, "partial" if state == "working" else state)
        except InputError as error:
            raise error.located(source=combination.arrangement.id) from None
        loaded = engine.replace(pumps=table.replace(name=PUMPS_SAID[state]))
        notes = [
            PUMPS.note("pumps-may-count-twice", name=name, accessory=item.name)
            for item in engine.accessories
            if any(word in item.name.casefold() for word in _IMPLEMENT)
        ]
        if condition.hydraulic_torque:
            torque = condition.hydraulic_torque
            notes.append(PUMPS.note("pumps-by-table", name=name, torque=torque))
        if engine.motoring is not None or engine.exhaust_brake is not None:
            notes.append(PUMPS.note("pumps-do-not-brake", name=name))
        return PumpLoad(loaded, source="arrangement", notes=tuple(notes))
    torque = condition.hydraulic_torque
    if torque:
        said = [PUMPS.note("pumps-by-duty", name=name, torque=torque)] if condition.by_table else []
        return PumpLoad(engine, torque, "duty", notes=tuple(said))
    if state == "standby":
        said = [PUMPS.note("standby-taken-as-none", name=name)] if condition.by_table else []
        return PumpLoad(engine, notes=tuple(said))
    lacking = missing("pump-torque", state=PUMPS_SAID[state], name=name)
    return PumpLoad(engine, missing=lacking, notes=(PUMPS.note("pumps-not-known", what=lacking),))
