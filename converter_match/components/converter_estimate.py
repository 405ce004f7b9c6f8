"""A converter of which the stall alone is known: estimated from published shapes.

A stall datum gives the capacity at stall, ``C_0 = T / omega^2``, and the stall torque ratio mu_0.
The rest is the middle of published shapes (`generic_shapes`); beside it stand the converters that
follow each shape by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from converter_match.components.base import in_rpm, require_positive
from converter_match.components.converter import Converter
from converter_match.components.generic_shapes import (
    MEASURED,
    SYNCHRONISM,
    GenericShape,
    regulation_with,
    speed_ratio_at,
)
from converter_match.components.stall_datum import StallDatum
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.notes import Note, assumption

BEST_EFFICIENCY = 0.95
"""Before the coupling point no converter is known to be better; common practice, no source."""
STALL_LAMBDA = (0.5e-3, 10e-3)
"""Performance coefficient at stall beyond which no converter is known; common practice."""
USUAL_OIL = 850.0
"""Oil density [kg/m^3] for the check of the diameter only, where none is given."""
ESTIMATED = "converter-from-stall-datum"
"""Code of the note that goes with every estimate."""
_BETWEEN_ROWS = 0.005  # of efficiency: straight lines between rows are not the curve
# Of the middle; close enough that straight lines between them would do.
_PLACES = np.concatenate([np.linspace(0.0, 1.0, 11), [1.25, 1.5, 1.75, SYNCHRONISM]])


def estimated_converter(
    datum: StallDatum,
    *,
    profile_diameter: float | None = None,
    oil_density: float | None = None,
    given_notes: tuple[Note, ...] = (),
    **more: Any,
) -> Converter:
    """Estimate a converter with a one-way stator from its stall.

    Parameters
    ----------
    datum : StallDatum
    profile_diameter, oil_density : float, optional
        [m], [kg/m^3]: the capacity is held against the diameter where that is known.
    given_notes : tuple of Note
    **more
        The other fields of `Converter`.

    Returns
    -------
    Converter
        The middle of the shapes, with what each shape by itself comes to as `alternatives`.

    Raises
    ------
    InputError
        If no published shape can meet the datum, with the reason.

    Examples
    --------
    >>> datum = StallDatum(engine_speed=251.3, input_torque=406.7, torque_ratio=(2.2, 2.2))
    >>> unit = estimated_converter(datum, id="x", name="X", source="invented", stator="one-way")
    >>> round(float(unit.torque_ratio_at(0.0)), 9), len(unit.alternatives)
    (2.2, 4)
    """
    _check_size(datum, profile_diameter, oil_density)
    given = datum.coupling_speed_ratio
    common = {
        "profile_diameter": profile_diameter,
        "oil_density": oil_density,
        **more,
    }
    ends = tuple(dict.fromkeys(datum.span))
    made: list[Converter] = []
    refused: list[str] = []
    for ratio in ends:
        found = []
        for shape, coupling in _shapes(ratio, given):
            unit = _like(shape, datum.capacity, ratio, coupling, common)
            if unit is None:
                refused.append(f"{shape.name} at torque ratio {ratio:.4g}")
            else:
                found.append(unit)
        if not found:  # with a coupling speed ratio that is given, the same for all
            raise _no_shape(ratio, coupling)
        made += found
    notes = (*given_notes, _note(datum, refused))
    middle = _middle(datum, common, notes)
    return middle.replace(stall_datum=datum, alternatives=tuple(made))


def _shapes(ratio: float, given: float | None) -> list[tuple[GenericShape, float]]:
    """Return every shape with the coupling speed ratio that it is taken at."""
    couplings = [given or _own_coupling(shape, ratio) for shape in MEASURED]
    pairs = list(zip(MEASURED, couplings, strict=True))
    return [*pairs, *((regulation_with(shape, at), at) for shape, at in pairs)]


def _best(shape: GenericShape, ratio: float) -> float:
    """Return the best efficiency before the coupling point over the coupling speed ratio."""
    before = shape.place <= 1.0
    share = shape.torque_share[before]
    return float(np.max(shape.place[before] * (1.0 + (ratio - 1.0) * share)))


def _own_coupling(shape: GenericShape, ratio: float) -> float:
    """Return a shape's coupling speed ratio, lowered where it would be too good a converter."""
    return min(shape.coupling, BEST_EFFICIENCY / _best(shape, ratio))


def _like(
    shape: GenericShape, capacity: float, ratio: float, coupling: float, common: dict[str, Any]
) -> Converter | None:
    """Return the converter that follows a shape; None where it would be better than any known."""
    nu = speed_ratio_at(shape.place, coupling)
    mu = 1.0 + (ratio - 1.0) * shape.torque_share
    if coupling * _best(shape, ratio) > BEST_EFFICIENCY + _BETWEEN_ROWS:
        return None
    corners = speed_ratio_at(np.array(shape.corners), coupling)
    return Converter(
        **{**common, "name": f"{common['name']}, by the {shape.name}"},
        speed_ratio=nu,
        torque_ratio=mu,
        capacity=capacity * shape.capacity_share,
        coupling_speed_ratio=coupling,
        kinks=tuple(corners.tolist()),
    )


def _middle(datum: StallDatum, common: dict[str, Any], notes: tuple[Note, ...]) -> Converter:
    """Return the mean of the shapes at their places, beyond the coupling point with mu = 1."""
    given = datum.coupling_speed_ratio
    ratio = 0.5 * sum(datum.span)
    couplings = {shape: given or _own_coupling(shape, ratio) for shape in MEASURED}
    fitting = [
        shape
        for shape, coupling in couplings.items()
        if _like(shape, datum.capacity, ratio, coupling, common) is not None
    ]
    if not fitting:  # the ends of a range may fit a shape each
        raise _no_shape(ratio, min(couplings.values()))
    coupling = float(np.mean([couplings[shape] for shape in fitting]))
    shapes = [*MEASURED, regulation_with(MEASURED[0], coupling)]
    share = _mean([np.interp(_PLACES, s.place, s.torque_share) for s in fitting])
    capacity = _mean([np.interp(_PLACES, s.place, s.capacity_share) for s in shapes])
    return Converter(
        **common,
        speed_ratio=speed_ratio_at(_PLACES, coupling),
        torque_ratio=1.0 + (ratio - 1.0) * np.where(_PLACES < 1.0, share, 0.0),
        capacity=datum.capacity * capacity,
        coupling_speed_ratio=coupling,
        given_notes=notes,
    )


def _mean(rows: Sequence[FloatArray]) -> FloatArray:
    return np.asarray(np.mean(rows, axis=0))


def _check_size(datum: StallDatum, diameter: float | None, density: float | None) -> None:
    """Refuse a capacity that no converter of the diameter has: lambda = C / (rho D^5)."""
    if diameter is None:
        return
    require_positive(diameter, "profile_diameter")
    value = datum.capacity / ((density or USUAL_OIL) * diameter**5)
    low, high = STALL_LAMBDA
    if low <= value <= high:
        return
    raise InputError(
        "no known converter of this diameter stalls so",
        field="stall_datum",
        found=f"{in_rpm(datum.engine_speed)} at {datum.input_torque:.4g} N.m with a profile "
        f"diameter of {1000 * diameter:.4g} mm: performance coefficient {value:.2g}",
        expected=f"{low:g} to {high:g}",
        hint="is the torque in N.m or lbf.ft, and the diameter that of the flow circuit?",
    )


def _no_shape(ratio: float, coupling: float) -> InputError:
    return InputError(
        "no known shape can meet this stall datum: it would deliver more than any converter does",
        field="stall_datum.torque_ratio",
        found=f"torque ratio {ratio:.4g} at stall and coupling speed ratio {coupling:.4g}",
        expected=f"an efficiency of at most {BEST_EFFICIENCY:g} before the coupling point",
        hint="a high stall ratio goes with a low coupling speed ratio: is it right?",
    )


def _note(datum: StallDatum, refused: list[str]) -> Note:
    least, most = datum.span
    parts = [
        "ESTIMATE, not data: of this converter only the stall is known "
        "({speed:angular_speed .0f} at {torque:torque .0f}). Torque ratio and capacity beyond "
        "stall are the middle of three published characteristics, and the band is what each of "
        "them by itself comes to; at speed ratio 1 nothing is absorbed."
    ]
    if datum.torque_ratio is None:
        parts.append(
            "The stall torque ratio is not given: {least:.2f} to {most:.2f} is taken, as is usual "
            "of single-stage converters (common practice, no source)."
        )
    elif least != most:
        parts.append("The stall torque ratio is given as {least:.2f} to {most:.2f}.")
    if datum.coupling_speed_ratio is None:
        parts.append(
            "The coupling speed ratio is that of the shapes, lower where they would be better "
            "than any known converter."
        )
    if refused:
        parts.append("Left out, since it would be better than any known converter: {refused}.")
    parts.append("Get the maker's characteristic before ordering.")
    return assumption(
        ESTIMATED,
        " ".join(parts),
        speed=datum.engine_speed,
        torque=datum.input_torque,
        least=least,
        most=most,
        refused="; ".join(refused),
    )
