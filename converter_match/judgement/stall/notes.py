"""What was assumed of a machine under test, and what its readings were taken under."""

from __future__ import annotations

from collections.abc import Sequence

from converter_match.components.reading import StallReading
from converter_match.judgement.answer.plain import rpm
from converter_match.judgement.stall.setup import StallSetup
from converter_match.notes import Note, assumption
from converter_match.physics.stall.settling import REFERENCE_OIL
from converter_match.units import quantity_note

# Outside these oil temperatures the band leans on a correction that leaves viscosity out [K].
_WARM = (333.15, 378.15)


def setup_notes(setup: StallSetup, readings: Sequence[StallReading] = ()) -> tuple[Note, ...]:
    """Return every assumption behind the bands: of the sheets, the day, and the tolerances.

    Parameters
    ----------
    setup : StallSetup
    readings : sequence of StallReading
        What they state need not be assumed.
    """
    tol = setup.tolerances
    notes: list[Note] = []
    notes.append(
        quantity_note(
            "tolerances-assumed",
            "Half widths taken, 95 of 100 within: engine torque "
            f"{100 * setup.engine_tolerance:.3g} %, converter capacity {100 * tol.capacity:.3g} %, "
            f"loads {100 * tol.loads:.3g} % (pumps at relief {100 * tol.relief:.3g} %), "
            f"air correction {100 * tol.air:.3g} %, oil temperature {{oil}}, "
            f"tachometer {rpm(tol.reading):.3g} rpm. Defaults are common practice, no source.",
            "assumption",
            oil=(tol.oil_temperature, "temperature_difference", ".3g"),
        )
    )
    notes.append(
        quantity_note(
            "oil-density",
            "Capacity goes with oil density; the sheet is taken to hold at {oil} (40 CFR 1037.570 "
            "tests at {low} to {high}), the oil to expand by 6.75e-4 per kelvin (from memory).",
            "assumption",
            oil=(REFERENCE_OIL, "temperature", ".0f"),
            low=(360.15, "temperature", ".0f"),
            high=(366.15, "temperature", ".0f"),
        )
    )
    without = [r for r in readings if r.oil_temperature is None and r.test != "hydraulic"]
    if setup.oil_temperature is None and (without or not readings):
        notes.append(
            quantity_note(
                "oil-temperature-assumed",
                "No oil temperature is given: {oil} is taken, the middle of the span that US Army "
                "TM 10-3930-671-24 asks for before the test.",
                "assumption",
                oil=(setup.oil, "temperature", ".0f"),
            )
        )
    oils = [setup.oil if r.oil_temperature is None else r.oil_temperature for r in readings]
    far = [oil for oil in oils or [setup.oil] if not _WARM[0] <= oil <= _WARM[1]]
    if far:
        notes.append(
            quantity_note(
                "oil-not-warm",
                "Oil at {oil} is far from where sheets and limits hold. Viscosity is not in the "
                "band: cold thick oil drags and shifts the stall speed by an amount nobody states. "
                "Warm the oil first.",
                oil=(far[0], "temperature", ".0f"),
            )
        )
    airless = [r for r in readings if r.air_temperature is None]
    if setup.site is None and (airless or not readings):
        notes.append(
            assumption(
                "no-site", "No site is given: the engine is taken to breathe its reference air."
            )
        )
    notes += [*setup.engine.notes, *setup.converter.notes]
    for reading in readings or (None,):
        notes += setup.effect(reading).notes
    return tuple(dict.fromkeys(notes))
