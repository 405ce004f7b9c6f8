"""Studies for the tests: round numbers built by hand, and files that name the shipped data."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from converter_match.components.converter import Converter
from converter_match.components.engine import Engine, SpeedTable
from converter_match.study.study import PRESENT, Combination, Duty, Study
from tests.examples import RPM, converter, engine
from tests.machines import driveline, machine, surface

PAIR = {"engine": "six-cylinder-10l5-138kw", "converter": "single-stage-345mm-tight"}

STUDY = """\
schema = "converter-match/study/1"
id = "small"
name = "A small study"
source = "made for a test"
sites = ["plateau-quarry-hot-day"]

[present]
engine = "six-cylinder-10l5-138kw"
converter = "single-stage-345mm-tight"
driveline = "four-speed-loader"
machine = "wheel-loader-17t"

[[candidate]]
id = "new-engine"
name = "New engine"
engine = "six-cylinder-7l-185kw"

[duty]
surface = "firm smooth earth"
grades = { unit = "percent", values = [0, 8] }
continuous_grade = { unit = "percent", value = 4 }
"""


def study_file(folder: Path, *changes: tuple[str, str], more: str = "") -> Path:
    """Write the small study with some texts replaced, and more at its end."""
    text = STUDY
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = folder / "small.toml"
    path.write_text(text + more, encoding="utf-8")
    return path


def flat_engine(torque: float = 900.0, **changes: Any) -> Engine:
    """An engine whose torque is the same at every speed, so that a match is a square root."""
    speed = np.array([800, 1000, 1200, 1400, 1600, 1800, 2000, 2200]) * RPM
    motored = np.array([800, 1400, 2200]) * RPM
    fields: dict[str, Any] = {
        "speed": speed,
        "torque": [torque] * speed.size,
        "accessories": (),
        "motoring": SpeedTable(speed=motored, value=[60.0, 80.0, 100.0], name="motoring torque"),
    }
    return engine(**(fields | changes))


def combination(key: str = "new", **changes: Any) -> Combination:
    fields: dict[str, Any] = {
        "id": key,
        "name": f"The {key} one",
        "engine": flat_engine(),
        "converter": converter(),
        "driveline": driveline(),
        "machine": machine(),
    }
    return Combination(**(fields | changes))


def study(own: Combination | None = None, **changes: Any) -> Study:
    fields: dict[str, Any] = {
        "id": "test-study",
        "name": "Test study",
        "source": "round numbers for a test",
        "present": combination(PRESENT),
        "candidates": (own or combination(),),
        "duty": Duty(surface=surface(), grades=(0.0, 0.1), continuous_grade=0.05),
    }
    return Study(**(fields | changes))


def loose(k: float, **changes: Any) -> Converter:
    """The converter of the examples with another K at stall and everywhere [rpm/sqrt(N.m)]."""
    base = converter()
    return base.replace(capacity=base.capacity * (60.0 / k) ** 2, **changes)
