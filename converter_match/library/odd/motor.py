"""What is odd about a motor's data."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from converter_match.components.motor import Motor
from converter_match.library.odd.words import MOTOR
from converter_match.notes import Note

FEW_ROWS = 5
OVERLOAD = (1.2, 4.0)  # peak over continuous torque at the corner
POWER_BEYOND_CORNER = 0.15
EFFICIENCY = (0.70, 0.98)  # at the greatest continuous power
LONGEST_PEAK = 3600.0  # s


def oddities(motor: Motor) -> Iterator[Note]:
    """Yield what is odd about a motor.

    Parameters
    ----------
    motor : Motor

    Yields
    ------
    Note
    """
    for rule in _RULES:
        yield from rule(motor)


def _rows(motor: Motor) -> Iterator[Note]:
    if motor.speed.size < FEW_ROWS:
        yield MOTOR.note("motor-few-rows", rows=int(motor.speed.size), few=FEW_ROWS)


def _overload(motor: Motor) -> Iterator[Note]:
    share = float(np.sqrt(motor.overload))
    low, high = OVERLOAD
    if not low <= share <= high:
        yield MOTOR.note("motor-overload-unusual", share=share, low=low, high=high)


def _power(motor: Motor) -> Iterator[Note]:
    corner = motor.corner_of(motor.peak)
    at_corner = float(motor.speed[corner] * motor.peak[corner])
    highest = motor.peak_power
    if corner and highest > at_corner * (1.0 + POWER_BEYOND_CORNER):
        yield MOTOR.note("motor-power-rises", corner=at_corner, highest=highest)


def _efficiency(motor: Motor) -> Iterator[Note]:
    if motor.losses is None:
        return
    power = motor.speed * motor.continuous
    row = int(np.argmax(power))
    lost = float(motor.losses.at(motor.continuous[row], motor.speed[row]))
    share = float(power[row]) / (float(power[row]) + lost)
    low, high = EFFICIENCY
    if not low <= share <= high:
        values = {"share": share, "low": low, "high": high}
        yield MOTOR.note("motor-efficiency-unusual", speed=float(motor.speed[row]), **values)


def _peak_time(motor: Motor) -> Iterator[Note]:
    if motor.peak_time > LONGEST_PEAK and motor.overload > OVERLOAD[0] ** 2:
        yield MOTOR.note("motor-peak-time-long", time=motor.peak_time)


def _regeneration(motor: Motor) -> Iterator[Note]:
    if motor.regenerative is None:
        return
    more = np.flatnonzero(-motor.regenerative > 1.25 * motor.peak)
    if more.size:
        row = int(more[0])
        yield MOTOR.note(
            "motor-regenerates-more",
            speed=float(motor.speed[row]),
            back=float(-motor.regenerative[row]),
            peak=float(motor.peak[row]),
        )


_RULES = (_rows, _overload, _power, _efficiency, _peak_time, _regeneration)
