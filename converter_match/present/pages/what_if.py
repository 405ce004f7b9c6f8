"""What if: a page with sliders for torque, capacity, altitude and pump load of a pair.

The package computes the table and measures how far a look-up in it is off; the page looks up.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from converter_match.judgement.match.what_if import (
    CAPACITY_FACTORS,
    TORQUE_FACTORS,
    WhatIf,
)
from converter_match.present.pages.frame import framed, off_text, script, short
from converter_match.present.pages.words import WHAT_IF
from converter_match.units import System, note_text
from converter_match.units.amounts import AMOUNTS, shown, shown_text
from converter_match.version import __version__

_UNITS = {"speed": "angular_speed", "torque": "torque", "power": "power"}
_FIGURES = (
    ("stall-speed", "speed"),
    ("stall-torque", "torque"),
    ("stall-heat", "power"),
    ("coupling-speed", "speed"),
    ("coupling-turbine", "speed"),
    ("coupling-torque", "torque"),
    ("most-power", "power"),
)


def what_if_page(table: WhatIf, *, system: System = "si", where: str = "") -> str:
    """Return the page of a pair: HTML that needs no network and no Python where it is read.

    Parameters
    ----------
    table : WhatIf
    system : {"si", "us"}
    where : str
        Where the pair works, if there is more to say than its names.
    """
    result = table.result
    pair = f"{result.engine.name} with {result.converter.title}{where and f': {where}'}"
    notes = [(note.kind, note_text(note, system)) for note in (*table.notes, *result.assumptions)]
    return framed(
        WHAT_IF["heading"],
        pair,
        ("drawWhatIf", script("what_if")),
        what_if_data(table, system=system),
        notes=notes,
        footer=(
            WHAT_IF["off"].format(
                version=__version__,
                rows=table.engine_speed.size,
                tried=table.tried,
                off=off_text(table.off),
            ),
            f"{WHAT_IF['sheets']} {WHAT_IF['diameter']}",
            "; ".join(dict.fromkeys((result.engine.source, result.converter.source))),
        ),
    )


def what_if_data(table: WhatIf, *, system: System = "si") -> dict[str, Any]:
    """Return table, sliders and words of the page as plain data; the table is in SI.

    Parameters
    ----------
    table : WhatIf
    system : {"si", "us"}
    """
    nu, corner = table.speed_ratio, table.result.converter.coupling
    return {
        "table": {
            "nu": _list(nu),
            "mu": _list(table.torque_ratio),
            "capacity": _list(table.capacity),
            "speed": _list(table.engine_speed),
            "torque": list(table.torque_ends),
            "pump": list(table.pump_ends),
            "offered": [[_list(row) for row in rows] for rows in table.offered],
            "altitude": _list(table.altitude),
            "air": _list(table.air_factor),
            "now": short(table.altitude_now),
            "rated": short(table.result.engine.rated_speed),
            "coupling": None if corner is None else int(np.argmin(np.abs(nu - corner))),
            "doubtful": table.doubtful_above,
        },
        "doubtful": ""
        if table.doubtful_above is None
        else shown_text(table.doubtful_above, "altitude", system),
        "sliders": list(_sliders(table, system)),
        "figures": [
            {"key": key, "unit": unit, "words": WHAT_IF[f"figure-{key}"]}
            for key, unit in _FIGURES
            if corner is not None or not key.startswith("coupling")
        ],
        "units": {key: _unit(kind, system) for key, kind in _UNITS.items()},
        "words": dict(WHAT_IF),
    }


def _sliders(table: WhatIf, system: System) -> list[dict[str, Any]]:
    sized = table.result.converter.profile_diameter is not None
    made = [
        _slider("torque", "said-torque", TORQUE_FACTORS, 100.0, 1.0),
        _slider(
            "capacity", "said-capacity-size" if sized else "said-capacity", CAPACITY_FACTORS, 100, 1
        ),
    ]
    if table.altitude.size:
        label, scale, _ = _unit("altitude", system)
        ends = (float(table.altitude[0]), float(table.altitude[-1]))
        made.append(
            _slider("altitude", f"{{value}} {label}", ends, scale, 50 if scale == 1 else 100)
        )
    label, scale, _ = _unit("torque", system)
    made.append(_slider("pump", f"{{value}} {label}", table.pump_ends, scale, 5.0))
    return made


def _slider(
    key: str, said: str, ends: tuple[float, float], scale: float, step: float
) -> dict[str, Any]:
    low, high = (end * scale for end in ends)
    return {
        "key": key,
        "words": WHAT_IF[f"slide-{key}"],
        "said": WHAT_IF.get(said, said),
        "low": round(low / step) * step,
        "high": int(high / step + 1e-9) * step,
        "step": step,
        "scale": scale,
        "digits": 0,
    }


def _unit(kind: str, system: System) -> tuple[str, float, int]:
    """Return the label of a unit, what SI is multiplied by, and digits behind the point."""
    one, label = shown(1.0, kind, system)
    form = AMOUNTS[kind]
    return label, float(one), form.digits if system == "si" else form.us_digits


def _list(values: Any) -> list[float | None]:
    return [short(value) for value in values]
