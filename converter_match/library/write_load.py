"""A load on the turbine shaft as the tables of its file."""

from __future__ import annotations

from typing import Any

import numpy as np

from converter_match.components.load import Conveyor, FlowMachine, ShaftLoad, Winch
from converter_match.library.exact import many, one, torque_or_power
from converter_match.library.toml_text import Inline


def load_tables(load: ShaftLoad) -> dict[str, Any]:
    """Return the tables of a load, below the head of its file.

    Parameters
    ----------
    load : ShaftLoad
    """
    return {
        "ratio": one(load.ratio, "ratio"),
        "efficiency": one(load.efficiency, "ratio"),
        "inertia": one(load.inertia, "inertia"),
        load.kind: _driven(load),
    }


def _driven(load: ShaftLoad) -> dict[str, Any]:
    driven = load.driven
    if isinstance(driven, Winch):
        return {
            "work": driven.work,
            "line_pull": one(driven.line_pull, "force"),
            "breakaway_pull": one(driven.breakaway_pull, "force"),
            "drum_diameter": one(driven.drum_diameter, "length"),
            "rope_diameter": one(driven.rope_diameter, "length"),
            "layers": driven.layers,
            "lowering_efficiency": one(driven.lowering_efficiency, "ratio"),
        }
    at_rest = one(driven.breakaway_torque, "torque")
    if isinstance(driven, FlowMachine):
        column = torque_or_power(np.array([driven.torque]), np.array([driven.speed]))
        return {
            **{
                key: Inline(unit=table["unit"], value=table["values"][0])
                for key, table in column.items()
            },
            "speed": one(driven.speed, "angular_speed"),
            "breakaway_torque": at_rest,
        }
    if isinstance(driven, Conveyor):
        return {"torque": one(driven.torque, "torque"), "breakaway_torque": at_rest}
    return {
        "speed": many(driven.table.speed, "angular_speed"),
        "torque": many(driven.table.value, "torque"),
        "breakaway_torque": at_rest,
    }
