"""What could be wrong, as numbers: what each finding does to torque and capacity at a reading.

Each finding has one unknown of its own (how much torque is lost, how far a clutch slips), drawn
evenly or normally within limits; beside it everything the tolerances leave open. Limits and weights
are common practice, no source, and stand here to be changed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from converter_match.components.converter import Converter
from converter_match.components.reading import StallReading
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.stall.setup import StallSetup
from converter_match.physics.converter.stator import fixed_from_one_way
from converter_match.physics.stall.settling import freewheeling_capacity

# Before any reading: how often each is met in a workshop. Common practice, no source. The order
# follows US Army TM 5-3820-245-14&P and TM 10-3930-671-24: low points to the engine first, far
# below to the converter, high to slip; the engine's weight is such that the low example of the
# latter comes out as printed.
WEIGHTS = {
    "nothing-to-see": 4.0,
    "engine-down": 4.0,
    "clutch-slips": 2.0,
    "oil-low-or-aerated": 1.5,
    "stator-slips": 1.0,
    "stator-seized": 0.5,
    "wrong-converter": 0.5,
    "brakes-give-way": 1.0,
}
ENGINE_LOSS = (0.03, 0.6)
AERATED_CAPACITY = (0.5, 0.95)
SLIP_FROM = 0.03
# "About a third lower on a flat torque curve": K down to 0.67, so C up to 1 / 0.67^2.
PRACTICE_FREE_CAPACITY = 1.0 / 0.67**2
# Speed ratios this far above the coupling point are carried to stall; further on slip is so small
# that other losses rule.
_NEAR_COUPLING = 0.06
# Standard error of ln C of a freewheeling stator, where the estimates leave less.
_LEAST_FREE_SIGMA = 0.12

Touches = Callable[[StallReading], bool]
# unknown (n,), reading -> factor (n,)
Effect = Callable[[FloatArray, StallReading], FloatArray]


def _anything(_: StallReading) -> bool:
    return True


def _one(unknown: FloatArray, _: StallReading) -> FloatArray:
    return np.ones_like(unknown)


@dataclass(frozen=True, eq=False)
class Hypothesis:
    """One thing that could be wrong.

    Parameters
    ----------
    code : str
        A key of `WEIGHTS`, with what it concerns after a colon.
    title : str
        In a mechanic's words.
    weight : float
        Before any reading.
    torque, capacity : callable
        Factors on the engine's torque and the converter's capacity.
    touches : callable
        Whether a reading feels it at all.
    unknown : callable
        From even numbers 0 .. 1 to the unknown of this finding.
    unknown_name : str
        ``torque_factor``, ``capacity_factor``, ``turbine_speed_ratio`` or empty.
    detail : str
        What the reader should know of the estimate.
    """

    code: str
    title: str
    weight: float
    torque: Effect = _one
    capacity: Effect = _one
    touches: Touches = _anything
    unknown: Callable[[FloatArray], FloatArray] = field(default=lambda even: even)
    unknown_name: str = ""
    detail: str = ""

    @property
    def family(self) -> str:
        """The key of `WEIGHTS`."""
        return self.code.partition(":")[0]


def _between(low: float, high: float) -> Callable[[FloatArray], FloatArray]:
    return lambda even: low + (high - low) * even


def _is(unknown: FloatArray, _: StallReading) -> FloatArray:
    return unknown


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
    found = [
        Hypothesis("nothing-to-see", "nothing wrong that this test can see",
                   WEIGHTS["nothing-to-see"]),
        Hypothesis(
            "engine-down",
            "engine down on torque",
            WEIGHTS["engine-down"],
            torque=_is,
            unknown=_between(1.0 - ENGINE_LOSS[1], 1.0 - ENGINE_LOSS[0]),
            unknown_name="torque_factor",
        ),
    ]  # fmt: skip
    if any(reading.test != "hydraulic" for reading in readings):
        found += _slipping(setup, readings)
        found.append(
            Hypothesis(
                "oil-low-or-aerated",
                "oil low or aerated, or charge pressure low: the converter takes less",
                WEIGHTS["oil-low-or-aerated"],
                capacity=_is,
                touches=_in_converter,
                unknown=_between(*AERATED_CAPACITY),
                unknown_name="capacity_factor",
            )
        )
        found += _stator(setup, readings, library)
        found += _other_converters(setup, library)
        if any(r.test in ("converter", "both") and r.brakes == "not-stated" for r in readings):
            found.append(_brakes(setup))
    return tuple(found)


def _in_converter(reading: StallReading) -> bool:
    return reading.test != "hydraulic"


def _at_stall(reading: StallReading) -> bool:
    return reading.test in ("converter", "both")


# --- slip: the turbine turns though the brakes hold ----------------------------------------------


def _slip_capacity(setup: StallSetup) -> Effect:
    def factor(nu: FloatArray, reading: StallReading) -> FloatArray:
        return np.asarray(setup.converter.capacity_at(nu) / setup.stall_capacity)

    return factor


def _slip_to(setup: StallSetup) -> float:
    return min(0.97, setup.converter.domain[1])


def _slipping(setup: StallSetup, readings: Sequence[StallReading]) -> list[Hypothesis]:
    at_stall = [reading for reading in readings if _at_stall(reading)]
    gears = list(dict.fromkeys(r.gear for r in at_stall if r.gear))
    ways = list(dict.fromkeys(r.direction for r in at_stall if r.direction))
    groups: list[tuple[str, str, Touches]] = [
        ("all", "clutches slipping in every gear tried (pressure, or a clutch they share)",
         _at_stall)
    ]  # fmt: skip
    if len(gears) > 1 or (gears and any(not r.gear for r in at_stall)):
        groups += [
            (f"gear {gear}", f"a clutch slipping that gear {gear} uses and the others do not",
             lambda r, gear=gear: _at_stall(r) and r.gear == gear)  # type: ignore[misc]
            for gear in gears
        ]  # fmt: skip
    if len(ways) > 1:
        groups += [
            (way, f"the {way} clutch slipping",
             lambda r, way=way: _at_stall(r) and r.direction == way)  # type: ignore[misc]
            for way in ways
            if sum(1 for r in at_stall if r.direction == way and r.gear)
            > max((sum(1 for r in at_stall if r.gear == g and r.direction == way) for g in gears),
                  default=0)
        ]  # fmt: skip
    share = WEIGHTS["clutch-slips"] / len(groups)
    return [
        Hypothesis(
            f"clutch-slips:{name}",
            title,
            share,
            capacity=_slip_capacity(setup),
            touches=touches,
            unknown=_between(SLIP_FROM, _slip_to(setup)),
            unknown_name="turbine_speed_ratio",
        )
        for name, title, touches in groups
    ]


def _brakes(setup: StallSetup) -> Hypothesis:
    return Hypothesis(
        "brakes-give-way",
        "the brakes gave way and the machine crept: the test is void",
        WEIGHTS["brakes-give-way"],
        capacity=_slip_capacity(setup),
        touches=lambda r: _at_stall(r) and r.brakes == "not-stated",
        unknown=_between(SLIP_FROM, 0.5),
        unknown_name="turbine_speed_ratio",
        detail="it was not noted whether they held",
    )


# --- the stator -----------------------------------------------------------------------------------


def free_capacity_factor(setup: StallSetup) -> tuple[float, float, str] | None:
    """Return ln-mean and ln-sigma of C(0) with a slipping one-way clutch / C(0), and the grounds.

    None where there is no one-way clutch. The coupling range is the converter with its stator
    turning free: carried to stall by `physics.stall.settling.coupling_law` it gives one estimate,
    common
    practice (a third lower) another; the middle of both is taken, and their spread.
    """
    converter = setup.converter
    if converter.stator != "one-way":
        return None
    estimates = [np.log(PRACTICE_FREE_CAPACITY)]
    grounds = "common practice: about a third lower"
    nu_c, last = converter.coupling, converter.domain[1]
    if nu_c is not None and nu_c < last:
        rows = converter.characteristic.speed_ratio
        rows = rows[(rows >= nu_c - 1e-9) & (rows <= nu_c + _NEAR_COUPLING)]
        least, most = freewheeling_capacity(converter.capacity_at, rows)
        estimates += [np.log(least / setup.stall_capacity), np.log(most / setup.stall_capacity)]
        grounds = (
            f"coupling range carried to stall: capacity {least / setup.stall_capacity:.2f} to "
            f"{most / setup.stall_capacity:.2f} times; common practice, a third lower: "
            f"{PRACTICE_FREE_CAPACITY:.2f} times"
        )
    spread = max(float(np.std(estimates)), _LEAST_FREE_SIGMA)
    return float(np.mean(estimates)), spread, grounds


def _stator(
    setup: StallSetup, readings: Sequence[StallReading], library: Sequence[Converter]
) -> list[Hypothesis]:
    found = []
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

        found.append(
            Hypothesis(
                "stator-slips",
                "stator one-way clutch slipping",
                WEIGHTS["stator-slips"],
                capacity=capacity,
                touches=_in_converter,
                unknown=unknown,
                unknown_name="capacity_factor",
                detail=grounds,
            )
        )
    seized = _seized(setup, readings, library)
    return [*found, *([] if seized is None else [seized])]


def seized_converter(setup: StallSetup, library: Sequence[Converter]) -> Converter | None:
    """Return the converter with its stator held at every speed; None where nothing tells how."""
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
        "stator seized: it holds where it should turn free",
        WEIGHTS["stator-seized"],
        capacity=capacity,
        touches=lambda r: r.test == "road" and setup.speed_ratio(r) > nu_c,
        detail=f"course beyond the coupling point borrowed from a fixed stator ({held.id})",
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

    return [
        Hypothesis(
            f"wrong-converter:{other.id}",
            f"another converter is fitted: {other.name}",
            WEIGHTS["wrong-converter"] / len(others),
            capacity=effect(other),
            touches=_in_converter,
        )
        for other in others
    ]
