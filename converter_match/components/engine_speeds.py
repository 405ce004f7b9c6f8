"""The speeds of an engine hang together: idle, rated speed, and the rows of its torque."""

from __future__ import annotations

from converter_match.components.base import in_rpm
from converter_match.curves import FloatArray
from converter_match.errors import InputError


def check_speed_order(low_idle: float, rated_speed: float, high_idle: float) -> None:
    """Refuse idle and rated speeds that are not in order.

    Parameters
    ----------
    low_idle, rated_speed, high_idle : float
        [rad/s].

    Raises
    ------
    InputError
        Naming the speed.
    """
    if not low_idle < rated_speed:
        raise InputError(
            "low idle must be below the rated speed",
            field="low_idle",
            found=in_rpm(low_idle),
            expected=f"below {in_rpm(rated_speed)}",
        )
    if not rated_speed < high_idle:
        raise InputError(
            "high idle must be above the rated speed",
            field="high_idle",
            found=in_rpm(high_idle),
            expected=f"above {in_rpm(rated_speed)}",
        )


def check_reach(speed: FloatArray, rated_speed: float, high_idle: float) -> None:
    """Refuse rows that do not reach the rated speed, or go beyond the engine.

    Parameters
    ----------
    speed : ndarray, shape (n,)
        Of the full-load rows [rad/s].
    rated_speed, high_idle : float
        [rad/s].

    Raises
    ------
    InputError
        Naming the row.
    """
    if speed[0] >= rated_speed:
        raise InputError(
            "the full-load curve begins at or above the rated speed",
            field="full_load.speed",
            found=f"first row at {in_rpm(speed[0])}",
            expected=f"rows below {in_rpm(rated_speed)}",
        )
    # A sheet rounds its speeds: a millionth short of rated is not short.
    if speed[-1] < rated_speed * (1 - 1e-9):
        raise InputError(
            "the full-load curve stops short of the rated speed and nothing is extrapolated",
            field="full_load.speed",
            found=f"last row at {in_rpm(speed[-1])}",
            expected=f"rows up to {in_rpm(rated_speed)}",
        )
    if speed[0] <= 0 or speed[-1] > high_idle * (1 + 1e-9):
        row = speed[0] if speed[0] <= 0 else speed[-1]
        raise InputError(
            "a full-load row outside the engine's speed range",
            field="full_load.speed",
            found=in_rpm(row),
            expected=f"above 0 and at most high idle, {in_rpm(high_idle)}",
        )
