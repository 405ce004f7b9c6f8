"""What is odd about an engine's data."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from converter_match.components.engine import Engine
from converter_match.library.engine_limits import CHECKED, engine_limits
from converter_match.notes import Note
from converter_match.units import from_si, to_si
from converter_match.units.notes import quantity_note

TORQUE_RISE = (0.05, 0.60)
MEAN_PRESSURE = {  # bar, at peak torque, four-stroke
    "naturally-aspirated": (5.0, 13.0),
    "turbocharged": (7.0, 26.0),
    "turbocharged-aftercooled": (8.0, 32.0),
    None: (5.0, 32.0),
}
POWER_PER_DISPLACEMENT = (6.0, 80.0)  # kW/L
DROOP = (0.03, 0.15)
SPECIFIC_FUEL = (180.0, 350.0)  # g/kWh, full load
LOW_IDLE = (400.0, 1500.0)  # rpm
RATED_SPEED = (500.0, 6000.0)  # rpm
FEW_ROWS = 5
POWER_BEYOND_RATED = 0.05
ACCESSORY_SHARE = 0.30
# Driven while a net rating is measured (ISO 9249, SAE J1349), so already deducted in it.
IN_A_NET_RATING = ("fan", "alternator", "generator", "water pump", "coolant pump", "fuel pump")


def oddities(engine: Engine) -> Iterator[Note]:
    """Yield what is odd about an engine.

    Parameters
    ----------
    engine : Engine

    Yields
    ------
    Note
    """
    for rule in _RULES:
        yield from rule(engine)


def _torque_rise(engine: Engine) -> Iterator[Note]:
    speed, peak = engine.peak_torque
    rated = engine.rated_power / engine.rated_speed
    if rated <= 0:
        yield Note("no-rated-torque", "The full-load torque at rated speed is zero.")
        return
    rise, (low, high) = peak / rated - 1, TORQUE_RISE
    if not low <= rise <= high:
        yield quantity_note(
            "torque-rise-unusual",
            f"Peak torque ({{peak}} at {{speed}}) is {100 * rise:.1f} % above the torque at rated "
            f"speed ({{rated}}); usual is {100 * low:.0f} to {100 * high:.0f} %.",
            peak=(peak, "torque", ".0f"),
            speed=(speed, "angular_speed", ".0f"),
            rated=(rated, "torque", ".0f"),
        )


def _mean_pressure(engine: Engine) -> Iterator[Note]:
    """Judge the mean effective pressure, p = 4 pi T / V (work of two turns, four-stroke)."""
    if engine.displacement is None:
        return
    torque = engine.peak_torque[1]
    found = from_si(4 * math.pi * torque / engine.displacement, "bar", "pressure")
    low, high = MEAN_PRESSURE[engine.aspiration]
    if low <= found <= high:
        return
    pound_foot = to_si(1.0, "lbf.ft", "torque")
    kind = f"{engine.aspiration} " if engine.aspiration else ""
    yield quantity_note(
        "mean-pressure-implausible",
        f"Peak torque {{torque}} from {{displacement}} is a mean effective pressure of {found:.1f} "
        f"bar; a {kind}four-stroke engine has {low:g} to {high:g} bar. If the torque was in lbf.ft "
        f"where N.m was read it is {found * pound_foot:.1f} bar, the other way round "
        f"{found / pound_foot:.1f} bar. Is a unit or the displacement wrong?",
        torque=(torque, "torque", ".0f"),
        displacement=(engine.displacement, "volume", ".3g"),
    )


def _specific_power(engine: Engine) -> Iterator[Note]:
    if engine.displacement is None:
        return
    litres = from_si(engine.displacement, "L", "volume")
    found = from_si(engine.rated_power, "kW", "power") / litres
    low, high = POWER_PER_DISPLACEMENT
    if not low <= found <= high:
        yield quantity_note(
            "specific-power-unusual",
            f"Rated power {{power}} from {{displacement}} is {found:.1f} kW/L; usual is {low:g} to "
            f"{high:g} kW/L.",
            power=(engine.rated_power, "power", ".0f"),
            displacement=(engine.displacement, "volume", ".3g"),
        )


def _rated_speed(engine: Engine) -> Iterator[Note]:
    rated = engine.rated_speed
    if rated not in engine.speed:
        yield quantity_note(
            "no-row-at-rated-speed",
            "The full-load curve has no row at rated speed ({rated}), where the governor takes "
            "over: the corner there is rounded off. Add a row.",
            rated=(rated, "angular_speed", ".0f"),
        )
    below = engine.speed <= rated
    power = engine.torque[below] * engine.speed[below]
    best = int(power.argmax())
    if power[best] > (1 + POWER_BEYOND_RATED) * engine.rated_power:
        yield quantity_note(
            "power-peaks-below-rated-speed",
            "The greatest power ({power} at {speed}) is well above the power at rated speed "
            "({rated_power} at {rated}). Is the rated speed right?",
            power=(float(power[best]), "power", ".0f"),
            speed=(float(engine.speed[best]), "angular_speed", ".0f"),
            rated_power=(engine.rated_power, "power", ".0f"),
            rated=(rated, "angular_speed", ".0f"),
        )


def _speeds(engine: Engine) -> Iterator[Note]:
    droop, (low, high) = engine.high_idle / engine.rated_speed - 1, DROOP
    if not low <= droop <= high:
        yield quantity_note(
            "droop-unusual",
            f"High idle ({{high_idle}}) is {100 * droop:.1f} % above rated speed ({{rated}}); "
            f"usual is {100 * low:.0f} to {100 * high:.0f} %.",
            high_idle=(engine.high_idle, "angular_speed", ".0f"),
            rated=(engine.rated_speed, "angular_speed", ".0f"),
        )
    for code, name, speed, (least, most) in (
        ("low-idle-unusual", "Low idle", engine.low_idle, LOW_IDLE),
        ("rated-speed-unusual", "Rated speed", engine.rated_speed, RATED_SPEED),
    ):
        if not least <= from_si(speed, "rpm", "angular_speed") <= most:
            yield quantity_note(
                code,
                f"{name} is {{speed}}; usual is {least:.0f} to {most:.0f} rpm. Is the unit right?",
                speed=(speed, "angular_speed", ".0f"),
            )


def _fuel(engine: Engine) -> Iterator[Note]:
    table = engine.fuel.specific if engine.fuel else None
    if table is None:
        return
    found = from_si(table.value, "g/kWh", "specific_fuel")
    low, high = SPECIFIC_FUEL
    for row in np.flatnonzero((found < low) | (found > high))[:1].tolist():
        yield quantity_note(
            "fuel-consumption-unusual",
            f"Specific fuel consumption at {{speed}} is {{found}} ({found[row]:.0f} g/kWh); usual "
            f"at full load is {low:.0f} to {high:.0f} g/kWh.",
            speed=(float(table.speed[row]), "angular_speed", ".0f"),
            found=(float(table.value[row]), "specific_fuel", ".3g"),
        )


def _site_data(engine: Engine) -> Iterator[Note]:
    if engine.site_correction.method in ("none", "derate-table"):
        return
    if engine.aspiration is None:
        yield Note(
            "aspiration-missing",
            "The file does not say how the engine breathes (aspiration): no formula can correct "
            "its torque for another site.",
        )
    if engine.reference_air is None:
        yield Note(
            "reference-air-missing",
            "The file does not say for which air the rating holds (reference_air): a correction "
            "for another site has nothing to start from.",
        )


def _basis(engine: Engine) -> Iterator[Note]:
    if engine.rating_basis == "gross" and not engine.accessories:
        yield Note(
            "gross-without-accessories",
            "The rating is gross and no accessory is listed: without fan, alternator and charge "
            "pump the stall speed comes out too high.",
        )
    twice = [
        accessory.name
        for accessory in engine.accessories
        if engine.rating_basis == "net"
        and any(word in accessory.name.casefold() for word in IN_A_NET_RATING)
    ]
    if twice:
        yield Note(
            "deducted-twice",
            f"The rating is net, which usually has {', '.join(twice)} deducted already; listed "
            "as an accessory it is deducted again.",
        )


def _accessories(engine: Engine) -> Iterator[Note]:
    total = sum(
        accessory.power * (engine.rated_speed / accessory.at_speed) ** accessory.exponent
        for accessory in engine.accessories
    )
    if total > ACCESSORY_SHARE * engine.rated_power:
        yield quantity_note(
            "accessories-heavy",
            "The accessories take {total} at rated speed, of {rated} rated power. Is a unit or an "
            "at_speed wrong?",
            total=(float(total), "power", ".0f"),
            rated=(engine.rated_power, "power", ".0f"),
        )


def _rows_enough(engine: Engine) -> Iterator[Note]:
    if engine.speed.size < FEW_ROWS:
        yield Note(
            "few-rows",
            f"The full-load curve has only {engine.speed.size} rows: what lies between them is a "
            "guess.",
        )


def _limits(engine: Engine) -> Iterator[Note]:
    _, unread = engine_limits(engine)
    for key in unread:
        yield Note(
            "engine-limit-unread",
            f"limits.{key} holds {dict(engine.interface)[f'limits.{key}']!r}, which is no "
            f"{CHECKED[key].replace('_', ' ')}: it is not checked.",
        )


_RULES = (
    _limits,
    _torque_rise,
    _mean_pressure,
    _specific_power,
    _rated_speed,
    _speeds,
    _fuel,
    _site_data,
    _basis,
    _accessories,
    _rows_enough,
)
