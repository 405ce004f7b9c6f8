"""What could be wrong, as numbers: what each finding does to torque and capacity at a reading.

Each finding has one unknown of its own (how much torque is lost, how far a clutch slips), drawn
evenly or normally within limits; beside it everything the tolerances leave open. Limits and weights
are common practice, no source, and stand here to be changed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from converter_match.components.converter import Converter
from converter_match.components.reading import NEUTRAL, StallReading
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.stall import words
from converter_match.judgement.stall.hypothesis import (
    Effect,
    Hypothesis,
    Touches,
    every_reading,
    identity,
)
from converter_match.judgement.stall.setup import StallSetup
from converter_match.notes import Note
from converter_match.physics.arrangement.torque_divider import free_stator_factor
from converter_match.physics.converter.stator import fixed_from_one_way
from converter_match.physics.stall.free_stator import PRACTICE, free_stator

# Before any reading: how often each is met in a workshop. Common practice, no source. The order
# follows US Army TM 5-3820-245-14&P and TM 10-3930-671-24: low points to the engine first, far
# below to the converter, high to slip; the engine's weight is such that the low example of the
# latter comes out as printed.
WEIGHTS = {
    "nothing-to-see": 2.0,
    "engine-down": 2.0,
    "clutch-slips": 1.2,
    "oil-low-or-aerated": 1.2,
    "stator-slips": 0.4,
    "stator-seized": 0.5,
    "wrong-converter": 1.0,
    "brakes-give-way": 1.0,
    "load-stuck-on": 0.8,
    "tachometer-off": 0.8,
}
# Evenly up to half: an engine that has lost more hardly brings a machine to its test. One in fifty
# lies beyond.
ENGINE_LOSS, GREAT_LOSS, GREAT_LOSS_SHARE = (0.03, 0.5), 0.7, 0.02
AERATED_CAPACITY = (0.5, 0.95)
SLIP_FROM = 0.03

# Of the engine's greatest torque.
OTHER_SIZE_CODE = "another-size"
STUCK_LOAD = (0.03, 0.5)
# Of the speed; less is within the tolerance of a reading.
TACHOMETER = (0.02, 0.12)
# Another profile diameter / that of the sheet, of a series that shares housings: common practice,
# no source. Capacity goes with its fifth power.
OTHER_SIZE = (0.02, 0.10)


def _between(low: float, high: float) -> Callable[[FloatArray], FloatArray]:
    return lambda even: low + (high - low) * even


def _engine_left(even: FloatArray) -> FloatArray:
    """Return shares of the torque that are left, as `ENGINE_LOSS` has them."""
    share = (0.0, 1.0 - GREAT_LOSS_SHARE, 1.0)
    return 1.0 - np.interp(even, share, (*ENGINE_LOSS, GREAT_LOSS))


def _mostly_small(low: float, high: float) -> Callable[[FloatArray], FloatArray]:
    """Return amounts that are the rarer the larger they are, the largest of them hardly ever.

    With t from 0 to 1 between the ends their density is 3 (1 - t)^2: common practice, no source.
    """
    return lambda even: low + (high - low) * (1.0 - np.cbrt(1.0 - even))


def _of(
    whole: float, share: Callable[[FloatArray], FloatArray]
) -> Callable[[FloatArray], FloatArray]:
    return lambda even: whole * share(even)


def hypotheses(
    setup: StallSetup, readings: Sequence[StallReading], library: Sequence[Converter] = ()
) -> tuple[Hypothesis, ...]:
    """Return everything that these readings could tell apart.

    Parameters
    ----------
    setup : StallSetup
    readings : sequence of StallReading
        Valid ones only.
    library : sequence of Converter
        What may have been fitted instead.

    Raises
    ------
    InputError
        If there is no reading.
    """
    if not readings:
        raise InputError("no reading to judge", field="reading", expected="at least one reading")
    candidates = [
        Hypothesis("nothing-to-see", words.note("nothing-to-see"), WEIGHTS["nothing-to-see"]),
        Hypothesis(
            "engine-down",
            words.note("engine-down"),
            WEIGHTS["engine-down"],
            torque=identity,
            unknown=_engine_left,
            unknown_name="torque_factor",
        ),
    ]
    candidates += _instrument_and_loads(setup, readings)
    if any(reading.test not in NEUTRAL for reading in readings):
        candidates += _slipping(setup, readings)
        candidates.append(
            Hypothesis(
                "oil-low-or-aerated",
                words.note("oil-low-or-aerated"),
                WEIGHTS["oil-low-or-aerated"],
                capacity=identity,
                touches=_in_converter,
                unknown=_between(*AERATED_CAPACITY),
                unknown_name="capacity_factor",
            )
        )
        candidates += _stator(setup, readings, library)
        candidates += _other_converters(setup, library)
        if any(r.test in ("converter", "both") and r.brakes == "not-stated" for r in readings):
            candidates += _brakes(setup, readings)
    return tuple(candidates)


def _in_converter(reading: StallReading) -> bool:
    return reading.test not in NEUTRAL


def _at_stall(reading: StallReading) -> bool:
    return reading.test in ("converter", "both")


# --- slip: the turbine turns though the brakes hold ----------------------------------------------


def _slip_capacity(setup: StallSetup) -> Effect:
    def factor(nu: FloatArray, reading: StallReading) -> FloatArray:
        return np.asarray(setup.converter.capacity_at(nu) / setup.stall_capacity)

    return factor


def _slip_to(setup: StallSetup) -> float:
    return min(0.97, setup.converter.domain[1])


def _in_gear(gear: str) -> Touches:
    return lambda reading: _at_stall(reading) and reading.gear == gear


def _in_direction(direction: str) -> Touches:
    return lambda reading: _at_stall(reading) and reading.direction == direction


def _slipping(setup: StallSetup, readings: Sequence[StallReading]) -> list[Hypothesis]:
    at_stall = [reading for reading in readings if _at_stall(reading)]
    gears = list(dict.fromkeys(r.gear for r in at_stall if r.gear))
    directions = list(dict.fromkeys(r.direction for r in at_stall if r.direction))
    groups: list[tuple[str, Note, Touches]] = [("all", words.note("clutch-slips"), _at_stall)]
    if len(gears) > 1 or (gears and any(not r.gear for r in at_stall)):
        groups += [
            (f"gear {gear}", words.note("clutch-slips-gear", gear=gear), _in_gear(gear))
            for gear in gears
        ]
    if len(directions) > 1:
        groups += [
            (
                direction,
                words.note("clutch-slips-direction", direction=direction),
                _in_direction(direction),
            )
            for direction in directions
            if _several_gears(at_stall, direction, gears)
        ]
    share = WEIGHTS["clutch-slips"] / len(groups)
    return [
        Hypothesis(
            f"clutch-slips:{name}",
            what,
            share,
            capacity=_slip_capacity(setup),
            touches=touches,
            unknown=_between(SLIP_FROM, _slip_to(setup)),
            unknown_name="turbine_speed_ratio",
        )
        for name, what, touches in groups
    ]


def _several_gears(at_stall: Sequence[StallReading], direction: str, gears: Sequence[str]) -> bool:
    """Return whether readings of a direction are of more than one gear: else it is the gear's."""
    of_direction = [r.gear for r in at_stall if r.direction == direction and r.gear]
    return len(of_direction) > max((of_direction.count(gear) for gear in gears), default=0)


def _brakes(setup: StallSetup, readings: Sequence[StallReading]) -> list[Hypothesis]:
    """Return that the machine crept: in every hold alike, or in those of one gear."""

    def unnoted(reading: StallReading) -> bool:
        return _at_stall(reading) and reading.brakes == "not-stated"

    def in_gear(gear: str) -> Touches:
        return lambda reading: unnoted(reading) and reading.gear == gear

    gears = list(dict.fromkeys(r.gear for r in readings if unnoted(r) and r.gear))
    groups: list[tuple[str, Touches]] = [("", unnoted)]
    if len(gears) > 1:
        groups += [(f":gear {gear}", in_gear(gear)) for gear in gears]
    return [
        Hypothesis(
            f"brakes-give-way{name}",
            words.note("brakes-give-way"),
            WEIGHTS["brakes-give-way"] / len(groups),
            capacity=_slip_capacity(setup),
            touches=touches,
            unknown=_between(SLIP_FROM, 0.5),
            unknown_name="turbine_speed_ratio",
            detail=words.note("brakes-not-noted"),
        )
        for name, touches in groups
    ]


# --- what is not the drive ------------------------------------------------------------------------


def _either_side(least: float, most: float) -> Callable[[FloatArray], FloatArray]:
    """Return factors from 1 - most to 1 - least and from 1 + least to 1 + most, evenly."""

    def factors(even: FloatArray) -> FloatArray:
        both = 2.0 * even - 1.0
        return np.asarray(1.0 + np.sign(both) * (least + (most - least) * np.abs(both)))

    return factors


def _instrument_and_loads(setup: StallSetup, readings: Sequence[StallReading]) -> list[Hypothesis]:
    peak = float(setup.engine.peak_torque[1])
    low, high = STUCK_LOAD
    relief = setup.relief_torque
    loads: list[tuple[str, Note, Touches, float]] = [
        ("", words.note("load-stuck-on"), every_reading, high)
    ]
    if relief is not None and any(r.pump == "relief" for r in readings):
        loads.append(
            (":pumps", words.note("pumps-stuck-on"), lambda r: r.pump == "standby", relief / peak)
        )
    share = WEIGHTS["load-stuck-on"] / len(loads)
    found = [
        Hypothesis(
            f"load-stuck-on{name}",
            what,
            share,
            load=identity,
            touches=touches,
            unknown=_of(peak, _mostly_small(min(low, 0.5 * most), most)),
            unknown_name="load_nm",
        )
        for name, what, touches, most in loads
    ]
    found.append(
        Hypothesis(
            "tachometer-off",
            words.note("tachometer-off"),
            WEIGHTS["tachometer-off"],
            shown=identity,
            unknown=_either_side(*TACHOMETER),
            unknown_name="tachometer_factor",
        )
    )
    return found


# --- the stator -----------------------------------------------------------------------------------


def free_capacity_factor(setup: StallSetup) -> tuple[float, float, Note] | None:
    """Return ln-mean and ln-sigma of C(0) with a slipping one-way clutch / C(0), and the grounds.

    None where there is no one-way clutch. The coupling range is the converter with its stator
    turning free: carried to stall by `physics.stall.settling.coupling_law` it gives one estimate,
    common practice (a third lower) another; the middle of both is taken, and their spread.
    """
    converter = setup.inside or setup.converter
    if converter.stator != "one-way":
        return None
    found = free_stator(converter)
    grounds = words.note("free-stator-by-practice")
    if found.low is not None and found.high is not None:
        grounds = words.note(
            "free-stator-estimates", low=found.low, high=found.high, practice=PRACTICE
        )
    gears = 1.0 if setup.divider is None else free_stator_factor(converter, setup.divider)
    return float(np.log(found.factor) + np.log(gears)), found.sigma, grounds


def _stator(
    setup: StallSetup, readings: Sequence[StallReading], library: Sequence[Converter]
) -> list[Hypothesis]:
    candidates = []
    free = free_capacity_factor(setup)
    if free is not None:
        mean, sigma, grounds = free

        def unknown(even: FloatArray) -> FloatArray:
            from scipy.special import ndtri

            return np.asarray(np.exp(mean + sigma * ndtri(even)))

        nu_c = setup.converter.coupling

        def capacity(g: FloatArray, reading: StallReading) -> FloatArray:
            # Above the coupling point it turns free anyway.
            nu = setup.speed_ratio(reading)
            share = 1.0 if nu_c is None else max(0.0, 1.0 - nu / nu_c)
            return np.asarray(1.0 + (g - 1.0) * share)

        candidates.append(
            Hypothesis(
                "stator-slips",
                words.note("stator-slips"),
                WEIGHTS["stator-slips"],
                capacity=capacity,
                touches=_in_converter,
                unknown=unknown,
                unknown_name="capacity_factor",
                detail=grounds,
            )
        )
    seized = _seized(setup, readings, library)
    return [*candidates, *([] if seized is None else [seized])]


def seized_converter(setup: StallSetup, library: Sequence[Converter]) -> Converter | None:
    """Return the converter with its stator held at every speed; None where nothing tells how.

    Behind a torque divider both are what the engine drives, gears and all: these make the same
    speed ratio of the same one inside, so that the course beyond the coupling point is borrowed
    there as it would be inside, but for the torque ratio of the other at that point.
    """
    if setup.converter.stator != "one-way":
        return None
    for other in library:
        if other.stator == "fixed":
            try:
                return fixed_from_one_way(setup.converter, beyond=other)
            except InputError:
                continue
    return None


def _seized(
    setup: StallSetup, readings: Sequence[StallReading], library: Sequence[Converter]
) -> Hypothesis | None:
    nu_c = setup.converter.coupling
    if nu_c is None or setup.converter.stator != "one-way":
        return None
    on_road = [r for r in readings if r.test == "road" and setup.speed_ratio(r) > nu_c]
    held = seized_converter(setup, library)
    if not on_road or held is None:
        return None

    def capacity(even: FloatArray, reading: StallReading) -> FloatArray:
        nu = setup.speed_ratio(reading)
        known = min(nu, held.domain[1])
        factor = float(held.capacity_at(known)) / float(setup.converter.capacity_at(nu))
        # The course beyond the coupling point is borrowed from another converter: within a third.
        return np.asarray(factor * (0.75 + 0.5 * even))

    return Hypothesis(
        "stator-seized",
        words.note("stator-seized"),
        WEIGHTS["stator-seized"],
        capacity=capacity,
        touches=lambda r: r.test == "road" and setup.speed_ratio(r) > nu_c,
        detail=words.note("course-borrowed", converter=held.id),
    )


# --- the wrong part -------------------------------------------------------------------------------


def _other_converters(setup: StallSetup, library: Sequence[Converter]) -> list[Hypothesis]:
    others = [
        other
        for other in library
        if other.id != setup.converter.id and other.domain[0] <= 0.0 <= other.domain[1]
    ]

    def effect(other: Converter) -> Effect:
        def factor(even: FloatArray, reading: StallReading) -> FloatArray:
            nu = setup.speed_ratio(reading)
            if not other.domain[0] <= nu <= other.domain[1]:
                return np.ones_like(even)
            ratio = float(other.capacity_at(nu)) / float(setup.converter.capacity_at(nu))
            return np.full(even.shape, ratio)

        return factor

    # Half for what the library holds, half for a size that nobody has a file of.
    half = 0.5 if others else 1.0
    size = Hypothesis(
        f"wrong-converter:{OTHER_SIZE_CODE}",
        words.note("wrong-size"),
        WEIGHTS["wrong-converter"] * half,
        capacity=identity,
        touches=_in_converter,
        unknown=lambda even: _either_side(*OTHER_SIZE)(even) ** 5,
        unknown_name="capacity_factor",
    )
    return [
        size,
        *(
            Hypothesis(
                f"wrong-converter:{other.id}",
                words.note("wrong-converter-named", name=other.name),
                WEIGHTS["wrong-converter"] * half / len(others),
                capacity=effect(other),
                touches=_in_converter,
            )
            for other in others
        ),
    ]
