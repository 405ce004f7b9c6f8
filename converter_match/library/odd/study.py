"""What is odd about a study's own numbers: its duty, its limits, its tolerances."""

from __future__ import annotations

import math
from collections.abc import Iterator

from converter_match.constants import GRAVITY
from converter_match.library.odd.shares import grade_oddities
from converter_match.library.odd.words import SHARES
from converter_match.notes import Note
from converter_match.study.study import TOLERANCE_DIMENSIONS, Study
from converter_match.units import to_si

# Common practice, no source.
HEAT_PER_POWER = (0.02, 1.5)
TORQUE_SHARE = (0.025, 1.0)
TINY_TOLERANCE = 0.001
HALF_WIDTH = {  # of a tolerance: share, [K] for the air
    "engine-torque": (0.005, 0.15),
    "k-factor": (0.005, 0.15),
    "torque-ratio": (0.005, 0.12),
    "accessories": (0.03, 0.5),
    "pumps": (0.03, 0.5),
    "air-pressure": (0.002, 0.05),
    "air-temperature": (1.0, 25.0),
    "mass": (0.005, 0.2),
    "rolling-resistance": (0.03, 0.5),
    "rolling-radius": (0.002, 0.06),
}
# Of the criterion's own number.
THRESHOLD = {
    "least": (0.5, 1.5),
    "most": (0.5, 1.6),
    "margin": (0.15, 6.0),
    "efficiency": (0.7, 1.2),
    "up_to": (0.3, 3.0),
}
DEVIATION = (0.0015, 0.06)  # of an instrument and its repeat, share of the reading
# Quantity of a reading or claim -> what its size is held against, and how many times that.
READINGS = {
    "stall-speed": ("speed", 0.25, 1.15),
    "speed-on-grade": ("road", 0.1, 20.0),
    "top-speed": ("road", 0.8, 25.0),
    "pull": ("weight", 0.05, 1.2),
    "tractive-effort": ("weight", 0.02, 1.2),
    "engine-torque": ("torque", 0.2, 1.3),
    "weight": ("mass", 0.25, 1.4),
    "rolling-radius": ("radius", 0.8, 1.25),
    "torque-ratio": ("one", 0.8, 6.0),
    "stall-torque-ratio": ("one", 1.0, 6.0),
    "stall-input-torque": ("torque", 0.3, 1.2),
    "stall-turbine-torque": ("torque", 0.6, 6.0),
    "stall-heat": ("power", 0.1, 1.2),
    "coupling-speed-ratio": ("one", 0.5, 1.0),
    "coupling-engine-speed": ("speed", 0.3, 1.2),
    "coupling-turbine-speed": ("speed", 0.25, 1.2),
    "best-efficiency": ("one", 0.7, 0.98),
    "steepest-grade": ("one", 0.03, 1.0),
}


def oddities(study: Study) -> Iterator[Note]:
    """Yield what is odd about a study, its components left out.

    Parameters
    ----------
    study : Study

    Yields
    ------
    Note
    """
    duty, engines = study.duty, [item.engine for item in study.combinations]
    if duty.continuous_grade is not None:
        yield from grade_oddities("duty.continuous_grade", [duty.continuous_grade])
    yield from grade_oddities("the steepest of duty.grades", duty.grades)
    power = max(engine.rated_power for engine in engines)
    low, high = (share * power for share in HEAT_PER_POWER)
    if study.limits.heat is not None and not low <= study.limits.heat <= high:
        heat = study.limits.heat
        yield SHARES.note("heat-limit-unusual", heat=heat, power=power, low=low, high=high)
    torque, most = duty.hydraulic_torque, min(engine.peak_torque[1] for engine in engines)
    least, largest = TORQUE_SHARE
    if torque and not least * most <= torque <= largest * most:
        yield SHARES.note("hydraulic-torque-unusual", torque=torque, most=most)
    yield from _tolerances(study)
    yield from _thresholds(study)
    yield from _limits(study)
    yield from _readings(study)


def _tolerances(study: Study) -> Iterator[Note]:
    for item in study.tolerances:
        share = TOLERANCE_DIMENSIONS[item.quantity] in ("ratio", "weight_share")
        what = f"the tolerance of {item.quantity}"
        low, high = HALF_WIDTH.get(item.quantity, (0.0, math.inf))
        if share and 0.0 < item.half_width < TINY_TOLERANCE:
            yield SHARES.note("tolerance-tiny", what=what, share=item.half_width)
        elif item.half_width and not low <= item.half_width <= high:
            yield SHARES.note(
                "tolerance-unusual", what=what, value=item.half_width, low=low, high=high
            )
        if item.shift and abs(item.shift) > high:
            yield SHARES.note(
                "tolerance-unusual",
                what=f"the shift of {item.quantity}",
                value=item.shift,
                low=-high,
                high=high,
            )


def _thresholds(study: Study) -> Iterator[Note]:
    """Hold the numbers that a study gives its criteria against the criteria's own."""
    for choice in study.criteria:
        given = dict(choice.thresholds)
        for one in choice.spec.thresholds:
            value, (least, most) = given[one.name], THRESHOLD[one.name]
            if value and one.default and not least <= value / one.default <= most:
                yield SHARES.note(
                    "threshold-unusual",
                    what=f"{one.name} of the criterion {choice.name}",
                    value=value,
                    usual=one.default,
                )


def _limits(study: Study) -> Iterator[Note]:
    """Hold limits of a study against the engines that it compares."""
    engines = [item.engine for item in study.combinations]
    torque = max(engine.peak_torque[1] for engine in engines)
    power = max(engine.rated_power for engine in engines)
    speed = max(engine.rated_speed for engine in engines)
    for key, of, scale, (low, high) in (
        ("input_torque", "the greatest engine torque", torque, (0.3, 6.0)),
        ("input_power", "the greatest rated power", power, (0.3, 6.0)),
        ("input_speed", "the rated speed", speed, (0.6, 3.0)),
        ("turbine_torque", "the greatest engine torque", torque, (0.6, 12.0)),
        ("turbine_speed", "the rated speed", speed, (0.5, 3.0)),
        ("engine_speed", "the rated speed", speed, (0.7, 2.0)),
        ("stall_speed_least", "the rated speed", speed, (0.3, 1.1)),
        ("stall_speed_most", "the rated speed", speed, (0.3, 1.3)),
    ):
        limit = getattr(study.limits, key)
        if limit is not None and not low <= limit / scale <= high:
            yield SHARES.note(
                "limit-unusual",
                what=f"limits.{key}",
                share=limit / scale,
                of=of,
                low=low,
                high=high,
            )


def _readings(study: Study) -> Iterator[Note]:
    """Hold readings and claims against the size of what they are about."""
    low, high = DEVIATION
    for row, item in enumerate(study.measurements):
        what = f"measurement[{row}] ({item.quantity})"
        if item.value:
            share = item.deviation / abs(item.value)
            if not low <= share <= high:
                yield SHARES.note("deviation-unusual", what=what, share=share, low=low, high=high)
            yield from _sized(study, item.combination, item.quantity, item.value, what)
        if item.mass is not None:
            yield from _sized(study, item.combination, "weight", item.mass, f"the mass of {what}")
    for row, claim in enumerate(study.claims):
        what = f"claim[{row}] ({claim.quantity})"
        yield from _sized(study, claim.combination, claim.quantity, claim.value, what)


def _sized(
    study: Study, combination: str, quantity: str, value: float, what: str
) -> Iterator[Note]:
    item = study.combination(combination)
    machine = item.machine
    laden = None if machine is None else machine.mass_empty + machine.payload
    scales: dict[str, tuple[str, float]] = {
        "speed": ("the rated speed of its engine", item.engine.rated_speed),
        "torque": ("the greatest torque of its engine", item.engine.peak_torque[1]),
        "power": ("the rated power of its engine", item.engine.rated_power),
        "one": ("unity", 1.0),
        "road": ("a walking pace of 5 km/h", to_si(5.0, "km/h", "velocity")),
    }
    if machine is not None and laden is not None:
        scales["mass"] = ("the laden mass", laden)
        scales["weight"] = ("the laden weight", laden * GRAVITY)
        scales["radius"] = ("the rolling radius of the machine", machine.rolling_radius)
    kind, low, high = READINGS.get(quantity, ("", 0.0, math.inf))
    if kind in scales and not low <= abs(value) / scales[kind][1] <= high:
        of, scale = scales[kind]
        yield SHARES.note(
            "limit-unusual", what=what, share=abs(value) / scale, of=of, low=low, high=high
        )
