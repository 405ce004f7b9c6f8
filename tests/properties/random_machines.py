"""Machines of all kinds at random, from a seed: nobody's product, and none like the last."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from converter_match.components.converter import Converter
from converter_match.components.driveline import DragLaw, Driveline, Gear, LockUp, Stage
from converter_match.components.engine import Accessory, Engine
from converter_match.components.machine import Balance, Cooler, Machine, Oil, Slip, Tracks
from converter_match.components.site import Air
from converter_match.components.surface import Surface
from converter_match.components.tyre import Tyre
from converter_match.units import to_si
from tests.examples import RPM

STATORS = ("one-way", "one-way", "fixed", "none")
NU = np.array([0.0, 0.15, 0.3, 0.45, 0.6, 0.75, 0.85, 0.92, 0.97, 1.0])


@dataclass(frozen=True)
class Parts:
    """What works together, and the draws behind it."""

    random: np.random.Generator
    engine: Engine
    converter: Converter
    driveline: Driveline
    machine: Machine
    surface: Surface


def parts_of(seed: int) -> Parts:
    """Return an engine of 40 to 500 kW, a converter that suits it more or less, and the rest."""
    random = np.random.default_rng(seed)
    engine = _engine(random)
    return Parts(
        random,
        engine,
        _converter(random, engine),
        _driveline(random),
        _machine(random, engine),
        Surface(
            name="ground",
            rolling_resistance=float(random.uniform(0.015, 0.06)),
            traction=float(random.uniform(0.35, 0.8)),
        ),
    )


def _head(kind: str) -> dict[str, Any]:
    return {"id": f"random-{kind}", "name": f"Random {kind}", "source": "drawn for a test"}


def _engine(random: np.random.Generator) -> Engine:
    rated = float(to_si(round(random.uniform(1900, 2600)), "rpm", "angular_speed"))
    idle = float(random.uniform(0.3, 0.4)) * rated
    peak = float(random.uniform(200, 2400))
    shape = np.linspace(0.0, 1.0, int(random.integers(6, 14)))
    # From two thirds of the peak at idle over the peak to what is left at rated speed.
    knee, low, end = random.uniform(0.3, 0.55), random.uniform(0.6, 0.9), random.uniform(0.7, 0.92)
    rise = low + (1 - low) * np.sin(0.5 * np.pi * np.minimum(shape / knee, 1.0))
    fall = 1.0 - (1.0 - end) * np.maximum((shape - knee) / (1.0 - knee), 0.0) ** 1.5
    power = peak * end * rated
    accessories = (
        Accessory(name="fan", power=0.04 * power, at_speed=rated, exponent=3.0),
        Accessory(name="pump", power=0.015 * power, at_speed=rated, exponent=1.0),
    )
    return Engine(
        **_head("engine"),
        rating_basis=str(random.choice(["gross", "net"])),  # type: ignore[arg-type]
        governing=str(random.choice(["speed", "torque"])),  # type: ignore[arg-type]
        aspiration=str(  # type: ignore[arg-type]
            random.choice(["naturally-aspirated", "turbocharged", "turbocharged-aftercooled"])
        ),
        reference_air=Air(pressure=99e3, temperature=298.15),
        low_idle=idle,
        rated_speed=rated,
        high_idle=rated * float(random.uniform(1.05, 1.1)),
        speed=idle + shape * (rated - idle),
        torque=peak * rise * fall,
        accessories=accessories[: int(random.integers(0, 3))],
        displacement=peak / 140e3,
        inertia=peak * 1.4e-3,
    )


def _converter(random: np.random.Generator, engine: Engine) -> Converter:
    stator = str(random.choice(STATORS))
    stall = float(random.uniform(0.62, 0.88)) * engine.rated_speed
    capacity = float(engine.full_load(stall)) / stall**2
    coupling = float(random.choice(NU[5:7]))
    shape = 1.0 + random.uniform(-0.1, 0.15) * NU - random.uniform(0.1, 0.35) * NU**3
    ratio = 1.0 + random.uniform(0.8, 1.6) * np.maximum(1.0 - NU / coupling, 0.0)
    if stator == "none":
        ratio = np.ones_like(NU)
    if stator == "fixed":
        ratio = np.where(coupling >= NU, ratio, 1.0 - 1.5 * (NU - coupling))
    if stator != "fixed":
        beyond = np.maximum(NU - coupling, 0.0) / (1.0 - coupling)
        shape = shape * (1.0 - beyond) + 1e-4
    diameter = float((capacity / (840.0 * 3e-3)) ** 0.2)
    return Converter(
        **_head("converter"),
        stator=stator,  # type: ignore[arg-type]
        speed_ratio=NU,
        torque_ratio=ratio,
        capacity=capacity * shape,
        coupling_speed_ratio=coupling if stator == "one-way" else None,
        profile_diameter=diameter,
        oil_density=840.0,
        impeller_inertia=70.0 * diameter**5,
        turbine_inertia=32.0 * diameter**5,
    )


def _driveline(random: np.random.Generator) -> Driveline:
    count, top = int(random.integers(2, 6)), float(random.uniform(0.7, 1.1))
    step = float(random.uniform(1.4, 2.0))
    law = DragLaw(constant=4.0, torque=10.0, at_speed=2000 * RPM)
    lock = LockUp(allowed=True, engage_speed_ratio=0.84, release_speed_ratio=0.7)
    locks = bool(random.integers(0, 2))
    gears = [
        Gear(
            name=str(row + 1),
            ratio=top * step ** (count - 1 - row),
            efficiency=float(random.uniform(0.94, 0.98)),
            drag=law,
            lock_up=lock if locks and row else LockUp(),
        )
        for row in range(count)
    ]
    gears.append(
        Gear(name="R", ratio=gears[0].ratio * 0.95, efficiency=0.95, drag=law, direction="reverse")
    )
    return Driveline(
        **_head("driveline"),
        gears=tuple(gears),
        stages=(
            Stage(name="bevel", ratio=float(random.uniform(2.8, 4.5)), efficiency=0.97),
            Stage(name="hub", ratio=float(random.uniform(3.0, 5.5)), efficiency=0.98),
        ),
        shift_time=0.3,
        shift_hysteresis=0.2,
    )


def _machine(random: np.random.Generator, engine: Engine) -> Machine:
    mass = engine.rated_power / float(random.uniform(5.0, 11.0))  # 5 to 11 kW/t
    radius = float((mass / 40e3) ** (1 / 3))
    tracked = bool(random.integers(0, 4) == 0)
    return Machine(
        **_head("machine"),
        mass_empty=mass,
        payload=mass * float(random.uniform(0.0, 0.8)),
        running_gear=Tracks(sprocket_radius=min(0.6 * radius, 0.69))
        if tracked
        else Tyre(rolling_radius=radius),
        slip=Slip(use=np.array([0.0, 0.5, 0.9, 1.0]), slip=np.array([0.0, 0.03, 0.1, 0.2])),
        balance=Balance(),
        frontal_area=float((mass / 1e3) ** (2 / 3)),
        drag_coefficient=0.9,
        running_drag=0.005 * mass * 9.81,
        wheel_inertia=0.05 * mass * radius**2,
        cooler=Cooler.from_rating(0.35 * engine.rated_power, 383.15, 313.15),
        oil=Oil(volume=2.4e-6 * mass, temperature_limit=393.15, metal_mass=0.025 * mass),
    )
