"""A converter whose rows were read within a band: what it may be as well.

What lies within the band is told by its four corners: torque ratio and capacity each at their least
and at their most. The speed at which it runs together with an engine moves one way with the
capacity, the turbine torque one way with either, so that the corners hold the extremes.
"""

from __future__ import annotations

import numpy as np

from converter_match.components.converter import Converter
from converter_match.components.converter_estimate import BEST_EFFICIENCY
from converter_match.components.coupling import AT_UNITY
from converter_match.components.reading_band import READING_BAND, ReadingBand
from converter_match.curves import FloatArray
from converter_match.notes import assumption


def with_reading_band(converter: Converter, band: ReadingBand) -> Converter:
    """Return the converter with what it may be as well, its rows having been read within a band.

    Parameters
    ----------
    converter : Converter
        As read.
    band : ReadingBand
        With one share for each of its rows.

    Returns
    -------
    Converter
        With up to four `alternatives`, the corners of the band, and a note that says so. Where the
        stator is on a one-way clutch, the torque ratio does not fall below 1 before the coupling
        point and stays as it is beyond; without a stator it is 1. No corner is more efficient
        before the coupling point than any converter known, unless the rows are so themselves.

    Examples
    --------
    >>> unit = Converter(
    ...     id="x", name="X", source="invented", stator="one-way", speed_ratio=[0.0, 0.85, 0.95],
    ...     torque_ratio=[2.2, 1.0, 1.0], capacity=[0.01, 0.006, 0.003], coupling_speed_ratio=0.85,
    ... )
    >>> band = ReadingBand(torque_ratio=(0.01,) * 3, capacity=(0.02,) * 3)
    >>> least, most = with_reading_band(unit, band).band([0.0, 0.85])["torque_ratio"]
    >>> least.round(3).tolist(), most.round(3).tolist()
    ([2.178, 1.0], [2.222, 1.0])
    """
    ratio, capacity = np.array(band.torque_ratio), np.array(band.capacity)
    corners = []
    for up_ratio in (-1.0, 1.0) if ratio.any() else (0.0,):
        for up_capacity in (-1.0, 1.0) if capacity.any() else (0.0,):
            corners.append(
                converter.replace(
                    torque_ratio=_torque_ratio(converter, up_ratio * ratio),
                    capacity=converter.capacity * (1.0 + up_capacity * capacity),
                )
            )
    if not ratio.any() and not capacity.any():
        return converter
    note = assumption(
        READING_BAND,
        "The rows were read from a picture or given as ranges, the torque ratio within "
        "±{ratio:.2g} %, the capacity within ±{capacity:.2g} % (the widest row of either). Least "
        "and most are what the ends of both bands come to.",
        ratio=100.0 * max(band.torque_ratio),
        capacity=100.0 * max(band.capacity),
    )
    return converter.replace(
        reading_band=band,
        alternatives=tuple(corners),
        given_notes=(*converter.given_notes, note),
    )


def band_kept(converter: Converter, band: ReadingBand | None) -> Converter:
    """Return a converter whose rows were scaled, with the band that they were read within.

    Parameters
    ----------
    converter : Converter
        After the change, with whatever note and alternatives are left of before.
    band : ReadingBand or None
        Of before, in shares, which a scale leaves as they are; None changes nothing.

    Returns
    -------
    Converter
        As a file with these rows and this band reads.
    """
    if band is None:
        return converter
    notes = tuple(note for note in converter.given_notes if note.code != READING_BAND)
    return with_reading_band(converter.replace(alternatives=(), given_notes=notes), band)


def _torque_ratio(converter: Converter, shares: FloatArray) -> FloatArray:
    """Return the torque ratio at one end of its band, such as a converter may have it."""
    nu, mu = converter.speed_ratio, converter.torque_ratio
    if converter.stator == "none":
        return mu
    moved = mu * (1.0 + shares)
    with np.errstate(divide="ignore"):
        best = np.where(nu > 0.0, np.maximum(BEST_EFFICIENCY / np.abs(nu), mu), np.inf)
    moved = np.minimum(moved, best)
    if converter.stator == "one-way":
        coupling = converter.coupling
        beyond = np.abs(mu - 1.0) <= AT_UNITY if coupling is None else nu >= coupling - 1e-9
        beyond &= nu > 0.0
        moved = np.where(beyond, mu, np.maximum(moved, np.minimum(mu, 1.0)))
    return np.asarray(moved)
