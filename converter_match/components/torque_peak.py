"""Where an engine has nearly its highest torque."""

from __future__ import annotations

import numpy as np

from converter_match.components.engine import Engine

# Share of the peak; common practice, no source.
NEAR_PEAK = 0.99
_ROUNDING = 1e-9


def speeds_near_peak(engine: Engine, share: float = NEAR_PEAK) -> tuple[float, float]:
    """Return the lowest and highest speed [rad/s] with nearly the highest full-load torque.

    Where the torque is level, or has two peaks, the row that is highest is so by a last digit; the
    speeds from which and up to which it is near the peak move little with it.

    Parameters
    ----------
    engine : Engine
    share : float
        Of the peak, that the torque has at least.

    Examples
    --------
    >>> from converter_match.library.read import read_engine
    >>> from converter_match.library.shipped import shipped
    >>> engine = read_engine(shipped("engines")["six-cylinder-7l-185kw"])
    >>> low, high = speeds_near_peak(engine)
    >>> bool(low < engine.peak_torque[0] < high)
    True
    """
    low, high = max(engine.low_idle, float(engine.full_load.domain[0])), engine.rated_speed
    speed, peak = engine.peak_torque
    level = share * peak
    ends = np.concatenate([[low, high], engine.full_load.crossings(level)])
    ends = ends[(ends >= low) & (ends <= high)]
    near = np.append(ends[engine.full_load(ends) >= level * (1.0 - _ROUNDING)], speed)
    return float(near.min()), float(near.max())
