"""Bands of a whole test: of healthy machines, as many as stated read inside in every reading.

Five readings, each inside its own 95 % band for 95 of 100 healthy machines, are all inside for
fewer. So each band is widened alike until the share that is inside in all is the one stated.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from converter_match.components.reading import StallReading
from converter_match.curves import FloatArray
from converter_match.judgement.stall.band import Band, band_of, drawn_speeds
from converter_match.judgement.stall.setup import StallSetup

_SEED = 20261
_WIDEST = 0.999  # as far as a coverage goes


def bands_of_test(setup: StallSetup, readings: Sequence[StallReading]) -> tuple[Band, ...]:
    """Return the bands of the readings of one test, as wide as the number of them asks for.

    Parameters
    ----------
    setup : StallSetup
    readings : sequence of StallReading

    Returns
    -------
    tuple of Band
        `coverage` is that of the whole test.
    """
    # The speed that was read has no say in its band, except that on the road it makes the ratio.
    asked = [
        reading
        if reading.turbine_speed is not None
        else replace(reading, engine_speed=setup.engine.rated_speed)
        for reading in readings
    ]
    drawn = {reading: drawn_speeds(setup, reading) for reading in dict.fromkeys(asked)}
    each = coverage_of_each(setup, [drawn[reading] for reading in asked if reading.valid])
    wider = replace(setup, coverage=each)
    known = {
        reading: replace(band_of(wider, reading, speeds), coverage=setup.coverage)
        for reading, speeds in drawn.items()
    }
    return tuple(known[reading] for reading in asked)


def coverage_of_each(setup: StallSetup, drawn: Sequence[FloatArray]) -> float:
    """Return the coverage that each band needs so that all together have that of the setup.

    Parameters
    ----------
    setup : StallSetup
    drawn : sequence of ndarray, shape (n,)
        What the same healthy machines settle at, for each valid reading [rad/s].

    Notes
    -----
    Engine, converter, air, oil, loads and governor are those of one machine in all its readings;
    only what is read off the tachometer is drawn for each by itself.
    """
    rng = np.random.default_rng(_SEED)
    places = []
    for speeds in drawn:
        up = ~setup.stuck(speeds)
        if np.mean(up) < 0.5:  # there is no band to be outside of
            continue
        read = speeds + setup.reading_sigma() * rng.standard_normal(speeds.size)
        places.append(_outwards(np.where(up, read, np.median(read[up]))))
    if len(places) < 2:
        return setup.coverage
    worst = np.max(places, axis=0)
    return float(min(max(np.quantile(worst, setup.coverage), setup.coverage), _WIDEST))


def _outwards(read: FloatArray) -> FloatArray:
    """Return for each draw the coverage of the narrowest band that holds it, shape (n,)."""
    rank = (np.argsort(np.argsort(read)) + 0.5) / read.size
    return np.abs(2.0 * rank - 1.0)
