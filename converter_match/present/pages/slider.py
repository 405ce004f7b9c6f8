"""One slider from stall to the governor: a web page that needs nothing else, and its numbers.

The package computes the rows, in the reader's units; the page draws straight lines between them.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from converter_match.curves import FloatArray
from converter_match.judgement.conditions.outlet import OUTLET_STOPS
from converter_match.judgement.lesson.states import ROWS_OF_BLADES, FullLoadStates
from converter_match.judgement.match.result import MatchPoint
from converter_match.present.pages.frame import framed, off_text, script, short
from converter_match.present.pages.words import SLIDER
from converter_match.units import System, note_text
from converter_match.units.amounts import AMOUNTS, shown
from converter_match.units.conversion import from_si
from converter_match.version import __version__

# What a value of the page is, and its digits behind the point; velocities of oil have units of
# their own, for those of the road would mean little here.
_SPEED, _TORQUE, _POWER = "angular_speed", "torque", "power"
_OF = {
    "engine_speed": _SPEED,
    "turbine_speed": _SPEED,
    "stator_speed": _SPEED,
    "input_torque": _TORQUE,
    "stator_torque": _TORQUE,
    "turbine_torque": _TORQUE,
    "input_power": _POWER,
    "output_power": _POWER,
    "heat": _POWER,
    "oil_settles": "temperature",
    "outlet_above": "temperature_difference",
    "oil_rate": "heating_rate",
}
_RATIOS = {"torque_ratio": 2, "efficiency": 3}
_OIL_SPEED = {"si": ("m/s", "m/s"), "us": ("ft/s", "ft/s")}
_TURN = {"si": "m²/s", "us": "ft²/s"}
_CURVE_POINTS = 121
_OIL_SCALE = (293.15, 473.15)  # K: the thermometer; hotter is an arrow
_TABLE = (
    ("speed ratio", "speed_ratio", "", ".3f"),
    ("torque ratio", "torque_ratio", "", ".2f"),
    ("efficiency", "efficiency", "", ".3f"),
    ("engine", "engine_speed", _SPEED, ""),
    ("turbine", "turbine_speed", _SPEED, ""),
    ("input torque", "input_torque", _TORQUE, ""),
    ("turbine torque", "turbine_torque", _TORQUE, ""),
    ("from the engine", "input_power", _POWER, ""),
    ("to the gearbox", "output_power", _POWER, ""),
    ("to the oil", "heat", _POWER, ""),
)


def slider_page(states: FullLoadStates, *, system: System = "si", where: str = "") -> str:
    """Return the page of a pair: HTML that needs no network and no Python where it is read.

    Parameters
    ----------
    states : FullLoadStates
    system : {"si", "us"}
    where : str
        Where the pair works, if there is more to say than its names.
    """
    result = states.result
    pair = f"{result.engine.name} with {result.converter.title}{where and f': {where}'}"
    said = [(note.kind, note_text(note, system)) for note in states.notes]
    assumed = [(note.kind, note_text(note, system)) for note in result.assumptions]
    return framed(
        SLIDER["heading"],
        pair,
        ("drawSlider", script()),
        slider_data(states, system=system),
        notes=(*said, *assumed),
        footer=(
            SLIDER["keys"],
            SLIDER["off"].format(
                version=__version__,
                rows=states.speed_ratio.size,
                tried=states.tried,
                off=off_text(states.off),
            ),
            "; ".join(dict.fromkeys((result.engine.source, result.converter.source))),
            SLIDER["caution"],
        ),
        table=_table(states, system),
    )


def slider_data(states: FullLoadStates, *, system: System = "si") -> dict[str, Any]:
    """Return the numbers and words of the page, in the reader's units, as plain data.

    Parameters
    ----------
    states : FullLoadStates
    system : {"si", "us"}
    """
    result, engine = states.result, states.result.engine
    rows, amounts = {}, {}
    for name, values in states.values.items():
        numbers, unit, digits = _shown(name, values, system)
        rows[name] = [short(value) for value in numbers]
        amounts[name] = (unit, digits)
    amounts["turn"] = (_TURN[system], 2)
    speed = np.linspace(*result.supply.domain, _CURVE_POINTS)
    speed = np.unique(np.append(speed, [engine.rated_speed, *result.supply.knots]))
    speed = speed[speed <= result.supply.domain[1]]
    torque = np.maximum(result.supply.torque(speed), 0.0)
    data: dict[str, Any] = {
        "nu": [short(value) for value in states.speed_ratio],
        "rows": rows,
        "amounts": amounts,
        "stops": [
            {"code": item.code, "words": item.words, "nu": short(item.point.speed_ratio)}
            for item in states.stops
            if item.point is not None
        ],
        "coupling": None if states.coupling is None else short(states.coupling),
        "stator": result.converter.stator,
        "blades": states.blading is not None and states.blading.stator is not None,
        "radii": _radii(states, system),
        "engine": {
            "speed": [short(value) for value in np.asarray(shown(speed, _SPEED, system)[0])],
            "torque": [short(value) for value in np.asarray(shown(torque, _TORQUE, system)[0])],
        },
        "oil": _oil(states, system),
        "alerts": [
            note_text(note, system) for note in states.notes if note.kind in ("limit", "warning")
        ],
        "words": dict(SLIDER),
    }
    return data


def _shown(name: str, values: FloatArray, system: System) -> tuple[FloatArray, str, int]:
    if name in _RATIOS:
        return values, "", _RATIOS[name]
    if name not in _OF:
        unit, label = _OIL_SPEED[system]
        return np.asarray(from_si(values, unit, "velocity")), label, 1
    numbers, label = shown(values, _OF[name], system)
    kind = AMOUNTS[_OF[name]]
    digits = kind.digits if system == "si" else kind.us_digits
    return np.asarray(numbers), label, 2 if name == "oil_rate" else digits


def _radii(states: FullLoadStates, system: System) -> dict[str, float | None]:
    blading = states.blading
    if blading is None:
        return {}
    metres = {name: getattr(blading, f"{name}_exit_radius") for name in ROWS_OF_BLADES}
    unit = "m" if system == "si" else "ft"
    return {
        name: None if value is None else short(from_si(float(value), unit, "length"))
        for name, value in metres.items()
    }


def _oil(states: FullLoadStates, system: System) -> dict[str, Any]:
    def said(kelvin: float) -> float | None:
        return short(float(shown(kelvin, "temperature", system)[0]))

    machine = states.machine
    start = None if machine is None else machine.oil.working_temperature
    low, high = (said(value) for value in _OIL_SCALE)
    limit = states.oil_limit
    step = 20 if system == "si" else 40
    assert low is not None
    assert high is not None
    return {
        "limit": None if limit is None else said(min(limit, OUTLET_STOPS)),
        "start": None if start is None else said(start),
        "bottom": low,
        "top": high,
        "ticks": [value for value in range(0, 500, step) if low <= value <= high],
    }


def _table(states: FullLoadStates, system: System) -> dict[str, Any]:
    head = [""]
    for title, _, kind, _ in _TABLE:
        head.append(f"{title} ({shown(0.0, kind, system)[1]})" if kind else title)
    rows = [
        [item.words, *(_cell(item.point, key, kind, form, system) for _, key, kind, form in _TABLE)]
        for item in states.stops
        if item.point is not None
    ]
    return {"title": SLIDER["named-points"], "head": head, "rows": rows}


def _cell(point: MatchPoint, key: str, kind: str, form: str, system: System) -> str:
    value = float(getattr(point, key))
    if not kind:
        return f"{value:{form}}"
    digits = AMOUNTS[kind].digits if system == "si" else AMOUNTS[kind].us_digits
    return f"{float(f'{float(shown(value, kind, system)[0]):.10g}'):.{digits}f}"
