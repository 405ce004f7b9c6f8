"""Machines and drivelines built by hand for the tests: round numbers, nobody's product."""

from __future__ import annotations

from typing import Any

import numpy as np

from converter_match.components.driveline import DragLaw, Driveline, Gear, LockUp, Stage
from converter_match.components.machine import Cooler, Machine, Oil, Slip
from converter_match.components.surface import Surface
from converter_match.components.tyre import Tyre
from tests.examples import RPM

DRAG = DragLaw(constant=5.0, torque=15.0, at_speed=2000 * RPM)
LOCK = LockUp(allowed=True, engage_speed_ratio=0.84, release_speed_ratio=0.7)


def gear(name: str = "1", ratio: float = 4.0, **changes: Any) -> Gear:
    fields: dict[str, Any] = {"name": name, "ratio": ratio, "efficiency": 0.96, "drag": DRAG}
    return Gear(**(fields | changes))


def driveline(**changes: Any) -> Driveline:
    fields: dict[str, Any] = {
        "id": "test-driveline",
        "name": "Test driveline",
        "source": "round numbers for a test",
        "gears": (
            gear("1", 4.0),
            gear("2", 2.2, lock_up=LOCK),
            gear("3", 1.2, lock_up=LOCK),
            gear("R", 3.8, direction="reverse"),
        ),
        "stages": (Stage(name="axle", ratio=20.0, efficiency=0.95),),
        "shift_time": 0.3,
        "shift_hysteresis": 0.25,
    }
    return Driveline(**(fields | changes))


def machine(**changes: Any) -> Machine:
    fields: dict[str, Any] = {
        "id": "test-machine",
        "name": "Test machine",
        "source": "round numbers for a test",
        "mass_empty": 15_000.0,
        "payload": 5_000.0,
        "running_gear": Tyre(rolling_radius=0.75),
        "slip": Slip(use=np.array([0.0, 0.5, 0.9, 1.0]), slip=np.array([0.0, 0.03, 0.12, 0.25])),
        "frontal_area": 7.0,
        "drag_coefficient": 0.9,
        "running_drag": 800.0,
        "cooler": Cooler.from_rating(60e3, 383.15, 313.15),
        "oil": Oil(volume=0.04, temperature_limit=393.15),
    }
    return Machine(**(fields | changes))


def surface(**changes: Any) -> Surface:
    fields: dict[str, Any] = {"name": "earth", "rolling_resistance": 0.03, "traction": 0.6}
    return Surface(**(fields | changes))
