"""What is odd about a machine's data. The ranges are common practice, no source."""

from __future__ import annotations

from collections.abc import Iterator

from converter_match.components.machine import Machine
from converter_match.constants import GRAVITY
from converter_match.library.odd.words import MACHINE
from converter_match.notes import Note
from converter_match.units import to_si

DRAG_COEFFICIENT = (0.3, 1.5)
FRONTAL_AREA = (0.5, 40.0)  # m2
COOLER_PER_MASS = (6e-3, 0.3)  # W/K per kg of empty mass
OIL_PER_MASS = (0.4, 15.0)  # L per tonne of empty mass
RUNNING_DRAG = 0.03  # share of the empty weight
OIL_LIMIT = (80.0, 150.0)  # degC
TURNING_SHARE = (0.008, 0.22)
LOADED = 3.0  # payload, share of the empty mass


def oddities(machine: Machine) -> Iterator[Note]:
    """Yield what is odd about a machine.

    Parameters
    ----------
    machine : Machine

    Yields
    ------
    Note
    """
    yield from _air(machine)
    yield from _oil(machine)
    if machine.payload > LOADED * machine.mass_empty:
        yield MACHINE.note("payload-unusual", payload=machine.payload, mass=machine.mass_empty)
    yield from _wheels(machine)
    weight = machine.mass_empty * GRAVITY
    if machine.running_drag > RUNNING_DRAG * weight:
        yield MACHINE.note(
            "running-drag-high", drag=machine.running_drag, share=machine.running_drag / weight
        )
    if machine.balance.driven_axle != "all":
        for load in ("empty", "laden"):
            share = machine.balance.driven_share(load)
            if share < 0.2:
                yield MACHINE.note("driven-share-low", share=share, load=load)


def _wheels(machine: Machine) -> Iterator[Note]:
    """Judge the share J / (m r^2) by which turning wheels add to the mass."""
    if machine.wheel_inertia is None:
        return
    radius, (low, high) = machine.rolling_radius, TURNING_SHARE
    share = machine.wheel_inertia / (machine.mass_empty * radius**2)
    if not low <= share <= high:
        yield MACHINE.note(
            "wheel-inertia-unusual",
            inertia=machine.wheel_inertia,
            radius=radius,
            share=share,
            low=low,
            high=high,
        )


def _air(machine: Machine) -> Iterator[Note]:
    if machine.drag_coefficient is None or machine.frontal_area is None:
        return
    low, high = DRAG_COEFFICIENT
    if not low <= machine.drag_coefficient <= high:
        yield MACHINE.note(
            "drag-coefficient-unusual", value=machine.drag_coefficient, low=low, high=high
        )
    low, high = FRONTAL_AREA
    if not low <= machine.frontal_area <= high:
        yield MACHINE.note("frontal-area-unusual", area=machine.frontal_area, low=low, high=high)


def _oil(machine: Machine) -> Iterator[Note]:
    oil, cooler = machine.oil, machine.cooler
    if cooler is not None:
        conductance = float(cooler.heat[-1] / cooler.difference[-1])
        low, high = COOLER_PER_MASS
        if not low <= conductance / machine.mass_empty <= high:
            mass = machine.mass_empty
            yield MACHINE.note(
                "cooler-size-unusual",
                conductance=conductance,
                mass=mass,
                low=low * mass,
                high=high * mass,
            )
    if oil.volume is not None:
        litres = oil.volume / to_si(1.0, "L", "volume")
        low, high = OIL_PER_MASS
        if not low <= litres / (machine.mass_empty / 1e3) <= high:
            yield MACHINE.note("oil-volume-unusual", volume=oil.volume, mass=machine.mass_empty)
    if oil.temperature_limit is not None:
        low, high = (to_si(end, "degC", "temperature") for end in OIL_LIMIT)
        if not low <= oil.temperature_limit <= high:
            yield MACHINE.note("oil-limit-unusual", limit=oil.temperature_limit, low=low, high=high)
