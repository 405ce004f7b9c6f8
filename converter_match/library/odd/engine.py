"""What is odd about an engine's data."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from converter_match.components.engine import Engine
from converter_match.library.odd.words import ENGINE
from converter_match.notes import Note
from converter_match.units import from_si, to_si

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
ROW_OFF = (0.85, 1.25)  # of the nearer of its neighbours
POWER_BEYOND_RATED = 0.05
ACCESSORY_SHARE = 0.30
RATED_POWER = (3.0, 5000.0)  # kW
INERTIA = (0.02, 100.0)  # kg.m2
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
        yield ENGINE.note("no-rated-torque")
        return
    rise, (low, high) = peak / rated - 1, TORQUE_RISE
    if not low <= rise <= high:
        yield ENGINE.note(
            "torque-rise-unusual",
            peak=peak,
            speed=speed,
            rated=rated,
            rise=rise,
            low=low,
            high=high,
        )


def _mean_pressure(engine: Engine) -> Iterator[Note]:
    """Judge the mean effective pressure, p = 4 pi T / V (work of two turns, four-stroke)."""
    if engine.displacement is None:
        return
    torque = engine.peak_torque[1]
    pressure = from_si(4 * math.pi * torque / engine.displacement, "bar", "pressure")
    low, high = MEAN_PRESSURE[engine.aspiration]
    if low <= pressure <= high:
        return
    pound_foot = to_si(1.0, "lbf.ft", "torque")
    kind = f"{engine.aspiration} " if engine.aspiration else ""
    yield ENGINE.note(
        "mean-pressure-implausible",
        torque=torque,
        displacement=engine.displacement,
        value=pressure,
        kind=kind,
        low=low,
        high=high,
        if_lbf_ft=pressure * pound_foot,
        if_nm=pressure / pound_foot,
    )


def _specific_power(engine: Engine) -> Iterator[Note]:
    if engine.displacement is None:
        return
    litres = from_si(engine.displacement, "L", "volume")
    specific = from_si(engine.rated_power, "kW", "power") / litres
    low, high = POWER_PER_DISPLACEMENT
    if not low <= specific <= high:
        yield ENGINE.note(
            "specific-power-unusual",
            power=engine.rated_power,
            displacement=engine.displacement,
            value=specific,
            low=low,
            high=high,
        )


def _rated_speed(engine: Engine) -> Iterator[Note]:
    rated = engine.rated_speed
    if rated not in engine.speed:
        yield ENGINE.note("no-row-at-rated-speed", rated=rated)
    below = engine.speed <= rated
    power = engine.torque[below] * engine.speed[below]
    best = int(power.argmax())
    if power[best] > (1 + POWER_BEYOND_RATED) * engine.rated_power:
        yield ENGINE.note(
            "power-peaks-below-rated-speed",
            power=float(power[best]),
            speed=float(engine.speed[best]),
            rated_power=engine.rated_power,
            rated=rated,
        )


def _rows_off(engine: Engine) -> Iterator[Note]:
    """Look for a row well below, or above, both its neighbours: boost comes up, and stays."""
    torque = engine.torque
    inner, before, after = torque[1:-1], torque[:-2], torque[2:]
    least, most = ROW_OFF
    off = (inner < least * np.minimum(before, after)) | (inner > most * np.maximum(before, after))
    for row in np.flatnonzero(off)[:1].tolist():
        yield ENGINE.note(
            "torque-row-off",
            speed=float(engine.speed[row + 1]),
            torque=float(inner[row]),
            before=float(before[row]),
            after=float(after[row]),
        )


def _speeds(engine: Engine) -> Iterator[Note]:
    droop, (low, high) = engine.high_idle / engine.rated_speed - 1, DROOP
    if not low <= droop <= high:
        yield ENGINE.note(
            "droop-unusual",
            high_idle=engine.high_idle,
            rated=engine.rated_speed,
            droop=droop,
            low=low,
            high=high,
        )
    for code, speed, (lowest, highest) in (
        ("low-idle-unusual", engine.low_idle, LOW_IDLE),
        ("rated-speed-unusual", engine.rated_speed, RATED_SPEED),
    ):
        if not lowest <= from_si(speed, "rpm", "angular_speed") <= highest:
            yield ENGINE.note(code, speed=speed, low=lowest, high=highest)


def _sizes(engine: Engine) -> Iterator[Note]:
    low, high = (to_si(end, "kW", "power") for end in RATED_POWER)
    if not low <= engine.rated_power <= high:
        yield ENGINE.note("rated-power-unusual", power=engine.rated_power, low=low, high=high)
    least, most = INERTIA
    if engine.inertia is not None and not least <= engine.inertia <= most:
        yield ENGINE.note("inertia-unusual", inertia=engine.inertia, low=least, high=most)


def _fuel(engine: Engine) -> Iterator[Note]:
    table = engine.fuel.specific if engine.fuel else None
    if table is None:
        return
    metric = from_si(table.value, "g/kWh", "specific_fuel")
    low, high = SPECIFIC_FUEL
    for row in np.flatnonzero((metric < low) | (metric > high))[:1].tolist():
        yield ENGINE.note(
            "fuel-consumption-unusual",
            speed=float(table.speed[row]),
            value=float(table.value[row]),
            metric=metric[row],
            low=low,
            high=high,
        )


def _site_data(engine: Engine) -> Iterator[Note]:
    if engine.site_correction.method in ("none", "derate-table"):
        return
    if engine.aspiration is None:
        yield ENGINE.note("aspiration-missing")
    if engine.reference_air is None:
        yield ENGINE.note("reference-air-missing")


def _basis(engine: Engine) -> Iterator[Note]:
    if engine.rating_basis == "gross" and not engine.accessories:
        yield ENGINE.note("gross-without-accessories")
    twice = [
        accessory.name
        for accessory in engine.accessories
        if engine.rating_basis == "net"
        and any(word in accessory.name.casefold() for word in IN_A_NET_RATING)
    ]
    if twice:
        yield ENGINE.note("deducted-twice", names=", ".join(twice))


def _accessories(engine: Engine) -> Iterator[Note]:
    total = sum(
        accessory.power * (engine.rated_speed / accessory.at_speed) ** accessory.exponent
        for accessory in engine.accessories
    )
    if total > ACCESSORY_SHARE * engine.rated_power:
        yield ENGINE.note("accessories-heavy", total=float(total), rated=engine.rated_power)


def _rows_enough(engine: Engine) -> Iterator[Note]:
    if engine.speed.size < FEW_ROWS:
        yield ENGINE.note("few-rows", count=engine.speed.size)


def _limits(engine: Engine) -> Iterator[Note]:
    for key, text in engine.limits.unread:
        yield ENGINE.note("engine-limit-unread", key=key, text=repr(text))


_RULES = (
    _limits,
    _torque_rise,
    _mean_pressure,
    _specific_power,
    _rated_speed,
    _rows_off,
    _speeds,
    _sizes,
    _fuel,
    _site_data,
    _basis,
    _accessories,
    _rows_enough,
)
