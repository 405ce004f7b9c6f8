"""What is odd about a converter's data."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.notes import Note
from converter_match.units import from_si, to_si
from converter_match.units.notes import quantity_note

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
        yield Note(
            "no-stall-row",
            f"The rows begin at speed ratio {first:.4g}: without a row at 0 the stall speed cannot "
            "be found, since nothing is extrapolated.",
        )


def _stall_capacity(converter: Converter) -> Iterator[Note]:
    """Judge lambda = C / (rho D^5) at stall; the classic slip is N.m for lbf.ft."""
    diameter, density = converter.profile_diameter, converter.oil_density
    if diameter is None or density is None or converter.domain[0] > 0:
        return
    capacity = float(converter.capacity_at(0.0))
    found = capacity / (density * diameter**5)
    low, high = LAMBDA_AT_STALL
    least, most = LAMBDA_SPAN
    if low <= found <= high:
        return
    pound_foot = to_si(1.0, "lbf.ft", "torque")
    fitting = (capacity / (density * TYPICAL_LAMBDA)) ** 0.2
    in_nm, in_lbf_ft = (
        from_si(capacity**-0.5, unit, "k_factor") for unit in ("rpm/sqrt(N.m)", "rpm/sqrt(lbf.ft)")
    )
    yield quantity_note(
        "stall-capacity-implausible",
        f"Capacity at stall (K {in_nm:.1f} rpm/sqrt(N.m) = {in_lbf_ft:.1f} rpm/sqrt(lbf.ft)) makes "
        f"a performance coefficient of {found:.3g} with a diameter of {{diameter}}; usual is "
        f"{least:g} to {most:g}, odd is less than {low:g} or more than {high:g}. If torque was in "
        f"lbf.ft where N.m was read it is {found * pound_foot:.3g}, the other way round "
        f"{found / pound_foot:.3g}. A diameter of about {{fitting}} would fit. Is a unit, "
        "the diameter or a reference speed wrong?",
        diameter=(diameter, "length", ".4g"),
        fitting=(fitting, "length", ".3g"),
    )


def _stall_torque_ratio(converter: Converter) -> Iterator[Note]:
    if converter.stator == "none" or converter.domain[0] > 0:
        return
    found = float(converter.torque_ratio_at(0.0))
    low, high = TORQUE_RATIO_AT_STALL
    if not low <= found <= high:
        yield Note(
            "stall-torque-ratio-unusual",
            f"The torque ratio at stall is {found:.3g}; usual is {low:g} to {high:g}.",
        )


def _torque_ratio_falls(converter: Converter) -> Iterator[Note]:
    nu, mu = converter.speed_ratio, converter.torque_ratio
    inside = (nu[:-1] >= 0) & (nu[1:] <= 1)
    for row in np.flatnonzero(inside & (np.diff(mu) > ROUNDING))[:1].tolist():
        yield Note(
            "torque-ratio-rises",
            f"The torque ratio rises from {mu[row]:.4g} at speed ratio {nu[row]:.4g} to "
            f"{mu[row + 1]:.4g} at {nu[row + 1]:.4g}; it should fall. Is a row misread?",
        )


def _below_one(converter: Converter) -> Iterator[Note]:
    if converter.stator != "one-way":
        return
    nu, mu = converter.speed_ratio, converter.torque_ratio
    for row in np.flatnonzero((nu <= 1) & (mu < 1 - BELOW_ONE))[:1].tolist():
        yield Note(
            "torque-ratio-below-one",
            f"The torque ratio is {mu[row]:.4g} at speed ratio {nu[row]:.4g}, but a stator on a "
            "one-way clutch lets go where it comes down to 1. Is the stator fixed?",
        )


def _row_at_kink(converter: Converter) -> Iterator[Note]:
    coupling = converter.coupling
    added = converter.characteristic.speed_ratio.size > converter.speed_ratio.size
    if added and coupling is not None:
        yield Note(
            "no-row-at-coupling-point",
            f"The sheet has no row at its coupling point (speed ratio {coupling:.4g}), where the "
            "torque ratio and the capacity have their corner. A row was added there; a measured "
            "one is better.",
        )


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
            yield Note(
                "capacity-wiggles",
                f"The capacity at speed ratio {nu[piece][row]:.4g} is "
                f"{100 * off[row - 1]:+.1f} % (of the largest) off the line of its neighbours, and "
                "the row beside it is off the other way. Is a row misread?",
            )
            return


def _off_chord(x: FloatArray, y: FloatArray) -> FloatArray:
    """Return how far each inner point lies from the straight line between its neighbours."""
    share = (x[1:-1] - x[:-2]) / (x[2:] - x[:-2])
    return np.asarray(y[1:-1] - (y[:-2] + share * (y[2:] - y[:-2])))


def _rows_enough(converter: Converter) -> Iterator[Note]:
    nu = converter.speed_ratio
    count = int(np.count_nonzero((nu >= 0) & (nu <= 1)))
    if count < FEW_ROWS:
        yield Note(
            "few-rows",
            f"There are only {count} rows between speed ratio 0 and 1: what lies between them is "
            "a guess.",
        )
    last = converter.domain[1]
    if last < LAST_ROW:
        yield Note(
            "ends-early",
            f"The rows end at speed ratio {last:.4g}: beyond it nothing is known, and light load "
            "and cruising lie there.",
        )


def _peak_efficiency(converter: Converter) -> Iterator[Note]:
    if converter.stator == "none" or converter.domain[1] <= 0:
        return
    end = converter.coupling if converter.stator == "one-way" else None
    at, best = converter.best_efficiency(0.0, end if end is not None else 1.0)
    low, high = PEAK_EFFICIENCY
    if not low <= best <= high:
        yield Note(
            "peak-efficiency-unusual",
            f"The best efficiency up to the coupling point is {best:.3f} (at speed ratio "
            f"{at:.3g}); usual is {low:g} to {high:g}.",
        )


def _synchronism(converter: Converter) -> Iterator[Note]:
    low, high = converter.domain
    if converter.stator == "fixed" or not low <= 1.0 <= high:
        return
    share = abs(float(converter.capacity_at(1.0))) / float(np.abs(converter.capacity).max())
    if share > CAPACITY_AT_SYNCHRONISM:
        yield Note(
            "capacity-at-synchronism",
            f"At speed ratio 1 the capacity is still {100 * share:.0f} % of its largest value; "
            "with turbine and impeller at one speed hardly any torque is passed on.",
        )


def _oil(converter: Converter) -> Iterator[Note]:
    density = converter.oil_density
    low, high = OIL_DENSITY
    if density is not None and not low <= density <= high:
        yield quantity_note(
            "oil-density-unusual",
            "The oil density is {density}; transmission oil has {low} to {high}. Capacity and "
            "scaling follow it in proportion.",
            density=(density, "density", ".4g"),
            low=(low, "density", ".3g"),
            high=(high, "density", ".3g"),
        )


_RULES = (
    _stall_row,
    _stall_capacity,
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
