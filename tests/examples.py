"""Components built by hand for the tests: round numbers, no claim to be anybody's product."""

from __future__ import annotations

from typing import Any

import numpy as np

from converter_match.components.converter import Converter
from converter_match.components.engine import Accessory, Engine

RPM = np.pi / 30
# Engine, converter and arrangement of the demo data that belong together.
ARRANGED = (
    ("six-cylinder-15l-400kw", "single-stage-420mm", "dozer-torque-divider"),
    ("six-cylinder-9l-240kw", "single-stage-390mm-full-range", "winch-output-split"),
    ("six-cylinder-9l-240kw", "single-stage-380mm-tight", "log-loader-hydraulics"),
    ("six-cylinder-7l-185kw", "single-stage-345mm-tight", "log-loader-impeller-clutch"),
    ("six-cylinder-9l-240kw", "single-stage-380mm-tight", "ore-hauler-lock-up"),
    ("four-cylinder-2l5-45kw", "single-stage-260mm", "lift-truck-part-load"),
    ("six-cylinder-7l-185kw", "single-stage-345mm-tight", "stator-taken-out"),
    ("six-cylinder-7l-185kw", "fixed-stator-400mm-high-ratio", "stator-set-free"),
)


def engine(**changes: Any) -> Engine:
    fields: dict[str, Any] = {
        "id": "test-engine",
        "name": "Test engine",
        "source": "round numbers for a test",
        "rating_basis": "gross",
        "governing": "speed",
        "aspiration": "turbocharged",
        "low_idle": 800 * RPM,
        "rated_speed": 2200 * RPM,
        "high_idle": 2380 * RPM,
        "speed": np.array([800, 1000, 1200, 1400, 1600, 1800, 2000, 2200]) * RPM,
        "torque": [700, 850, 950, 1000, 980, 940, 880, 803],
        "accessories": (
            Accessory(name="fan", power=11e3, at_speed=2200 * RPM, exponent=3),
            Accessory(name="charge pump", power=3e3, at_speed=2200 * RPM, exponent=1.4),
        ),
    }
    return Engine(**(fields | changes))


def hole_engine(**changes: Any) -> Engine:
    """An engine whose boost comes late: a torque hole that gives three intersections."""
    return engine(
        low_idle=700 * RPM,
        speed=np.array([700, 900, 1000, 1100, 1200, 1350, 1500, 1800, 2200]) * RPM,
        torque=[500, 540, 540, 545, 600, 850, 1000, 980, 850],
        accessories=(),
        **changes,
    )


def with_row(item: Engine, rpm: float) -> Engine:
    """The engine with one more row, read off its own curve."""
    speed = np.union1d(item.speed, rpm * RPM)
    return item.replace(speed=speed, torque=item.full_load(speed))


def converter(**changes: Any) -> Converter:
    # K in rpm/sqrt(N.m), written as C = 1/K^2 in SI.
    k = np.array([60, 61, 62.5, 66, 75, 82, 130, 280]) * RPM
    fields: dict[str, Any] = {
        "id": "test-converter",
        "name": "Test converter",
        "source": "round numbers for a test",
        "stator": "one-way",
        "speed_ratio": [0, 0.2, 0.4, 0.6, 0.8, 0.86, 0.95, 0.99],
        "torque_ratio": [2.2, 1.95, 1.7, 1.43, 1.12, 1.0, 1.0, 1.0],
        "capacity": 1 / k**2,
        "coupling_speed_ratio": 0.86,
        "profile_diameter": 0.345,
        "oil_density": 840.0,
    }
    return Converter(**(fields | changes))


def full_range() -> Converter:
    """The converter with backward data, as a torque divider needs them."""
    base = converter()
    return base.replace(
        speed_ratio=np.concatenate([[-0.7, -0.4, -0.2], base.speed_ratio]),
        torque_ratio=np.concatenate([[2.6, 2.5, 2.38], base.torque_ratio]),
        capacity=np.concatenate([base.capacity[0] * np.array([0.85, 0.93, 0.98]), base.capacity]),
    )
