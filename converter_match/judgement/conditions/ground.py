"""What the ground's values are, and where they come from: as notes and as blocks."""

from __future__ import annotations

from collections.abc import Iterable

from converter_match.answer.block import Block, Facts, Heading, row_of
from converter_match.components.machine import Machine
from converter_match.components.surface import Surface
from converter_match.judgement.conditions import words
from converter_match.notes import Note

# Share of the weight below which a rolling resistance is questioned: common practice, no source.
# Truck tyres on the best roads take about twice as much (from memory).
LOWEST_ROLLING = 0.003

_NAME = Heading("name", "surface")
_SOURCE = Heading("source", "source")
_ROLLING = Heading("rolling_resistance", "rolling resistance, of weight", "weight_share")
_TRACTION = Heading("traction_coefficient", "traction coefficient")


def ground_notes(surface: Surface, machine: Machine) -> list[Note]:
    """Return the notes on the one ground that a machine drives on."""
    notes = source_notes([surface], machine) if surface.source else low_resistance_notes([surface])
    if surface.traction is None:
        slips = machine.slip.use is not None
        slip = " Wheel slip is taken as that of no pull." if slips else ""
        notes.append(words.note("traction-not-known", slip=slip))
    return notes


def source_notes(surfaces: Iterable[Surface], machine: Machine) -> list[Note]:
    """Return where the values of each surface come from, each surface once."""
    used = _each_once(surfaces)
    notes = [
        words.note(
            "surface-from-table",
            name=repr(surface.name),
            rolling=surface.rolling_resistance,
            traction="not given" if surface.traction is None else f"{surface.traction:.3g}",
            source=surface.source or "not stated",
            vehicle=f" It holds for: {surface.vehicle}." if surface.vehicle else "",
        )
        for surface in used
    ]
    if machine.on_tracks and any(surface.vehicle == "wheeled machine" for surface in used):
        notes.append(words.note("surface-for-other-vehicle"))
    return [*low_resistance_notes(used), *notes]


def low_resistance_notes(surfaces: Iterable[Surface]) -> list[Note]:
    """Warn of surfaces on which nothing with tyres or tracks rolls so lightly."""
    return [
        words.note(
            "rolling-resistance-low",
            name=repr(surface.name),
            rolling=surface.rolling_resistance,
            lowest=LOWEST_ROLLING,
        )
        for surface in _each_once(surfaces)
        if surface.rolling_resistance < LOWEST_ROLLING
    ]


def surface_facts(surface: Surface) -> Facts:
    """Return the values of one surface, and where they come from."""
    return (
        (_NAME, surface.name),
        (_SOURCE, surface.source),
        (_ROLLING, surface.rolling_resistance),
        (_TRACTION, surface.traction),
    )


def surface_block(surfaces: Iterable[Surface]) -> Block:
    """Return the surfaces with their values and sources for plain data, each once."""
    vehicle = Heading("vehicle", "vehicle")
    return Block(
        "surfaces",
        columns=(vehicle, _NAME, _SOURCE, _ROLLING, _TRACTION),
        rows=tuple(
            (*row_of(surface, [vehicle]), *(value for _, value in surface_facts(surface)))
            for surface in _each_once(surfaces)
        ),
        rows_key="",
        in_text=False,
    )


def _each_once(surfaces: Iterable[Surface]) -> list[Surface]:
    used: list[Surface] = []
    seen: set[int] = set()  # a route of ten thousand segments repeats a few objects
    for surface in surfaces:
        if id(surface) not in seen and surface not in used:
            used.append(surface)
        seen.add(id(surface))
    return used
