"""What is odd about a machine's data. The ranges are common practice, no source."""

from __future__ import annotations

from collections.abc import Iterator

from converter_match.components.machine import Machine
from converter_match.constants import GRAVITY
from converter_match.notes import Note
from converter_match.units import quantity_note, to_si

DRAG_COEFFICIENT = (0.3, 1.5)
FRONTAL_AREA = (0.5, 40.0)  # m2
COOLER_PER_MASS = (0.2e-3, 0.3)  # W/K per kg of empty mass
OIL_PER_MASS = (0.1, 20.0)  # L per tonne of empty mass
RUNNING_DRAG = 0.03  # share of the empty weight
OIL_LIMIT = (80.0, 150.0)  # degC


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
    weight = machine.mass_empty * GRAVITY
    if machine.running_drag > RUNNING_DRAG * weight:
        yield quantity_note(
            "running-drag-high",
            f"The running drag of {{drag}} is {100 * machine.running_drag / weight:.1f} % of the "
            "empty weight: is the ground's rolling resistance in it? That belongs to the surface.",
            drag=(machine.running_drag, "force", ".1f"),
        )
    if machine.balance.driven_axle != "all":
        for load in ("empty", "laden"):
            share = machine.balance.driven_share(load)
            if share < 0.2:
                yield Note(
                    "driven-share-low",
                    f"Only {100 * share:.0f} % of the weight rests on the driven wheels ({load}).",
                )


def _air(machine: Machine) -> Iterator[Note]:
    if machine.drag_coefficient is None or machine.frontal_area is None:
        return
    low, high = DRAG_COEFFICIENT
    if not low <= machine.drag_coefficient <= high:
        yield Note(
            "drag-coefficient-unusual",
            f"The drag coefficient is {machine.drag_coefficient:g}; usual is {low:g} to {high:g}.",
        )
    low, high = FRONTAL_AREA
    if not low <= machine.frontal_area <= high:
        yield quantity_note(
            "frontal-area-unusual",
            f"The frontal area is {{area}}; usual is {low:g} to {high:g} m². Is the unit right?",
            area=(machine.frontal_area, "area", ".2f"),
        )


def _oil(machine: Machine) -> Iterator[Note]:
    oil, cooler = machine.oil, machine.cooler
    if cooler is not None:
        conductance = float(cooler.heat[-1] / cooler.difference[-1])
        low, high = COOLER_PER_MASS
        if not low <= conductance / machine.mass_empty <= high:
            yield quantity_note(
                "cooler-size-unusual",
                "The cooler carries {conductance}: far from usual for a machine of {mass}.",
                conductance=(conductance, "conductance", ".3f"),
                mass=(machine.mass_empty, "mass", ".0f"),
            )
    if oil.volume is not None:
        litres = oil.volume / to_si(1.0, "L", "volume")
        low, high = OIL_PER_MASS
        if not low <= litres / (machine.mass_empty / 1e3) <= high:
            yield quantity_note(
                "oil-volume-unusual",
                "The transmission holds {volume} of oil: far from usual for a machine of {mass}.",
                volume=(oil.volume, "volume", ".1f"),
                mass=(machine.mass_empty, "mass", ".0f"),
            )
    if oil.temperature_limit is not None:
        low, high = (to_si(end, "degC", "temperature") for end in OIL_LIMIT)
        if not low <= oil.temperature_limit <= high:
            yield quantity_note(
                "oil-limit-unusual",
                "The oil temperature limit is {limit}; usual are {low} to {high}.",
                limit=(oil.temperature_limit, "temperature", ".0f"),
                low=(low, "temperature", ".0f"),
                high=(high, "temperature", ".0f"),
            )
