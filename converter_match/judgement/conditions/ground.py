"""What the ground's values are, and where they come from: as notes and as plain data."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from converter_match.components.machine import Machine
from converter_match.components.surface import Surface
from converter_match.judgement.answer.plain import plain
from converter_match.notes import Note, assumption

# Share of the weight below which a rolling resistance is questioned: common practice, no source.
# Truck tyres on the best roads take about twice as much (from memory).
LOWEST_ROLLING = 0.003


def ground_notes(surface: Surface, machine: Machine) -> list[Note]:
    """Return what has to be known of the one ground that a machine drives on."""
    found = source_notes([surface], machine) if surface.source else low_resistance_notes([surface])
    if surface.traction is None:
        slip = " Slip is taken as that of no pull." if machine.slip.use is not None else ""
        found.append(
            assumption(
                "traction-not-known",
                "No traction coefficient is known for this surface: nothing here says whether the "
                f"ground can take the effort.{slip}",
            )
        )
    return found


def source_notes(surfaces: Iterable[Surface], machine: Machine) -> list[Note]:
    """Return where the values of each surface come from, each surface once."""
    used = _each_once(surfaces)
    found = []
    for surface in used:
        traction = "not given" if surface.traction is None else f"{surface.traction:.3g}"
        held = f" It holds for: {surface.vehicle}." if surface.vehicle else ""
        found.append(
            assumption(
                "surface-from-table",
                f"Surface {surface.name!r}: rolling resistance "
                f"{plain(surface.rolling_resistance, 'percent'):.3g} % of the weight, traction "
                f"coefficient {traction}; source: {surface.source or 'not stated'}.{held} The "
                "ground of the day may differ by a factor.",
            )
        )
    if machine.on_tracks and any(surface.vehicle == "wheeled machine" for surface in used):
        found.append(
            Note(
                "surface-for-other-vehicle",
                "The surface values hold for wheels; the machine runs on tracks, whose resistance "
                "and grip differ.",
            )
        )
    return [*low_resistance_notes(used), *found]


def low_resistance_notes(surfaces: Iterable[Surface]) -> list[Note]:
    """Warn of surfaces on which nothing with tyres or tracks rolls so lightly."""
    return [
        Note(
            "rolling-resistance-low",
            f"Surface {surface.name!r}: a rolling resistance of "
            f"{plain(surface.rolling_resistance, 'percent'):.2g} % of the weight is less than any "
            f"ground has under tyres or tracks (common practice, no source: below "
            f"{100 * LOWEST_ROLLING:g} % it is steel on rails). A ratio typed where percent is "
            "meant? 0.04 is 4 %.",
        )
        for surface in _each_once(surfaces)
        if surface.rolling_resistance < LOWEST_ROLLING
    ]


def surface_rows(surfaces: Iterable[Surface]) -> list[dict[str, Any]]:
    """Return the surfaces with their values and sources as plain data, each once."""
    return [
        {
            "name": surface.name,
            "vehicle": surface.vehicle,
            "rolling_resistance_percent": plain(surface.rolling_resistance, "percent"),
            "traction_coefficient": surface.traction,
            "source": surface.source,
        }
        for surface in _each_once(surfaces)
    ]


def _each_once(surfaces: Iterable[Surface]) -> list[Surface]:
    found: list[Surface] = []
    seen: set[int] = set()  # a route of ten thousand segments repeats a few objects
    for surface in surfaces:
        if id(surface) not in seen and surface not in found:
            found.append(surface)
        seen.add(id(surface))
    return found
