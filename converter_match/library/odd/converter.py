"""What is odd about a converter's data."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.library.odd.words import CONVERTER
from converter_match.notes import Note
from converter_match.units import from_si, to_si

# Performance coefficient at stall, common practice, no source: of usual converters, which intake
# asks about (a yes is enough); and beyond which a file is called odd for good.
LAMBDA_SPAN = (1e-3, 7e-3)
LAMBDA_AT_STALL = (0.5e-3, 10e-3)
TYPICAL_LAMBDA = 3e-3
TORQUE_RATIO_AT_STALL = (1.5, 5.0)
PEAK_EFFICIENCY = (0.70, 0.92)
OIL_DENSITY = (750.0, 950.0)  # kg/m^3
FEW_ROWS = 5
LAST_ROW = 0.9
# Torque ratios are printed to two decimals (40 CFR 1037.570), so a hundredth may be rounding.
ROUNDING = 0.01
BELOW_ONE = 0.02
WIGGLE, WIGGLE_BESIDE = 0.03, 0.01
CAPACITY_AT_SYNCHRONISM = 0.05
PROFILE_DIAMETER = (0.15, 1.0)  # m
STALL_K = (15.0, 400.0)  # rpm/sqrt(N.m)
REFERENCE_SPEED = (500.0, 4000.0)  # rpm


def oddities(converter: Converter) -> Iterator[Note]:
    """Yield what is odd about a converter.

    Parameters
    ----------
    converter : Converter

    Yields
    ------
    Note
    """
    for rule in _RULES:
        yield from rule(converter)


def _stall_row(converter: Converter) -> Iterator[Note]:
    first = converter.domain[0]
    if first > 0:
        yield CONVERTER.note("no-stall-row", first=first)


def _stall_capacity(converter: Converter) -> Iterator[Note]:
    """Judge lambda = C / (rho D^5) at stall; the classic slip is N.m for lbf.ft."""
    diameter, density = converter.profile_diameter, converter.oil_density
    if diameter is None or density is None or converter.domain[0] > 0:
        return
    capacity = float(converter.capacity_at(0.0))
    coefficient = capacity / (density * diameter**5)
    low, high = LAMBDA_AT_STALL
    least, most = LAMBDA_SPAN
    if low <= coefficient <= high:
        return
    pound_foot = to_si(1.0, "lbf.ft", "torque")
    fitting = (capacity / (density * TYPICAL_LAMBDA)) ** 0.2
    in_nm, in_lbf_ft = (
        from_si(capacity**-0.5, unit, "k_factor") for unit in ("rpm/sqrt(N.m)", "rpm/sqrt(lbf.ft)")
    )
    yield CONVERTER.note(
        "stall-capacity-implausible",
        in_nm=in_nm,
        in_lbf_ft=in_lbf_ft,
        value=coefficient,
        diameter=diameter,
        least=least,
        most=most,
        low=low,
        high=high,
        if_lbf_ft=coefficient * pound_foot,
        if_nm=coefficient / pound_foot,
        fitting=fitting,
    )


def _diameter(converter: Converter) -> Iterator[Note]:
    diameter, (low, high) = converter.profile_diameter, PROFILE_DIAMETER
    if diameter is not None and not low <= diameter <= high:
        yield CONVERTER.note("profile-diameter-unusual", diameter=diameter, low=low, high=high)


def _stall_k(converter: Converter) -> Iterator[Note]:
    """Judge K at stall where diameter or oil, which would say more, is missing."""
    whole = converter.profile_diameter is not None and converter.oil_density is not None
    if whole or converter.domain[0] > 0:
        return
    k = float(converter.capacity_at(0.0)) ** -0.5
    low, high = (to_si(end, "rpm/sqrt(N.m)", "k_factor") for end in STALL_K)
    if not low <= k <= high:
        yield CONVERTER.note("stall-k-unusual", k=k, low=low, high=high)


def reference_speed_oddities(speed: float | None) -> tuple[Note, ...]:
    """Return what is odd about the impeller speed of a torque or power column [rad/s].

    A converter that has been read holds its capacity only; the speed is looked at in its file.
    """
    low, high = (to_si(end, "rpm", "angular_speed") for end in REFERENCE_SPEED)
    if speed is None or low <= speed <= high:
        return ()
    return (CONVERTER.note("reference-speed-unusual", speed=speed, low=low, high=high),)


def _stall_torque_ratio(converter: Converter) -> Iterator[Note]:
    if converter.stator == "none" or converter.domain[0] > 0:
        return
    ratio = float(converter.torque_ratio_at(0.0))
    low, high = TORQUE_RATIO_AT_STALL
    if not low <= ratio <= high:
        yield CONVERTER.note("stall-torque-ratio-unusual", ratio=ratio, low=low, high=high)


def _torque_ratio_falls(converter: Converter) -> Iterator[Note]:
    nu, mu = converter.speed_ratio, converter.torque_ratio
    inside = (nu[:-1] >= 0) & (nu[1:] <= 1)
    for row in np.flatnonzero(inside & (np.diff(mu) > ROUNDING))[:1].tolist():
        yield CONVERTER.note(
            "torque-ratio-rises", before=mu[row], at=nu[row], after=mu[row + 1], then=nu[row + 1]
        )


def _below_one(converter: Converter) -> Iterator[Note]:
    if converter.stator != "one-way":
        return
    nu, mu = converter.speed_ratio, converter.torque_ratio
    for row in np.flatnonzero((nu <= 1) & (mu < 1 - BELOW_ONE))[:1].tolist():
        yield CONVERTER.note("torque-ratio-below-one", ratio=mu[row], at=nu[row])


def _row_at_kink(converter: Converter) -> Iterator[Note]:
    coupling = converter.coupling
    added = converter.characteristic.speed_ratio.size > converter.speed_ratio.size
    if added and coupling is not None:
        yield CONVERTER.note("no-row-at-coupling-point", at=coupling)


def _capacity_runs_smoothly(converter: Converter) -> Iterator[Note]:
    """Look for rows off the line of their neighbours to one side, with the next to the other.

    The capacity may rise and then fall (K has a minimum on many converters): that bends one way
    throughout. A misread row bends the curve to and fro.
    """
    rows = converter.characteristic
    nu, c = rows.speed_ratio, rows.capacity
    scale = float(np.abs(c).max())
    corners = sorted({float(nu[0]), *rows.kinks, *(x for x in (1.0,) if x in nu), float(nu[-1])})
    for low, high in pairwise(corners):
        piece = (nu >= low) & (nu <= high)
        off = _off_chord(nu[piece], c[piece]) / scale
        beside = np.minimum(np.abs(off[:-1]), np.abs(off[1:])) > WIGGLE_BESIDE
        far = np.maximum(np.abs(off[:-1]), np.abs(off[1:])) > WIGGLE
        worst = np.flatnonzero((off[:-1] * off[1:] < 0) & beside & far)
        if worst.size:
            pair = int(worst[0])
            row = 1 + pair + int(abs(off[pair + 1]) > abs(off[pair]))
            yield CONVERTER.note("capacity-wiggles", at=nu[piece][row], off=off[row - 1])
            return


def _off_chord(x: FloatArray, y: FloatArray) -> FloatArray:
    """Return how far each inner point lies from the straight line between its neighbours."""
    share = (x[1:-1] - x[:-2]) / (x[2:] - x[:-2])
    return np.asarray(y[1:-1] - (y[:-2] + share * (y[2:] - y[:-2])))


def _rows_enough(converter: Converter) -> Iterator[Note]:
    nu = converter.speed_ratio
    count = int(np.count_nonzero((nu >= 0) & (nu <= 1)))
    if count < FEW_ROWS:
        yield CONVERTER.note("few-rows", count=count)
    last = converter.domain[1]
    if last < LAST_ROW:
        yield CONVERTER.note("ends-early", last=last)


def _peak_efficiency(converter: Converter) -> Iterator[Note]:
    if converter.stator == "none" or converter.domain[1] <= 0:
        return
    end = converter.coupling if converter.stator == "one-way" else None
    at, best = converter.best_efficiency(0.0, end if end is not None else 1.0)
    low, high = PEAK_EFFICIENCY
    if not low <= best <= high:
        yield CONVERTER.note("peak-efficiency-unusual", best=best, at=at, low=low, high=high)


def _synchronism(converter: Converter) -> Iterator[Note]:
    low, high = converter.domain
    if converter.stator == "fixed" or not low <= 1.0 <= high:
        return
    share = abs(float(converter.capacity_at(1.0))) / float(np.abs(converter.capacity).max())
    if share > CAPACITY_AT_SYNCHRONISM:
        yield CONVERTER.note("capacity-at-synchronism", share=share)


def _oil(converter: Converter) -> Iterator[Note]:
    density = converter.oil_density
    low, high = OIL_DENSITY
    if density is not None and not low <= density <= high:
        yield CONVERTER.note("oil-density-unusual", density=density, low=low, high=high)


_RULES = (
    _stall_row,
    _diameter,
    _stall_capacity,
    _stall_k,
    _stall_torque_ratio,
    _torque_ratio_falls,
    _below_one,
    _row_at_kink,
    _capacity_runs_smoothly,
    _rows_enough,
    _peak_efficiency,
    _synchronism,
    _oil,
)
