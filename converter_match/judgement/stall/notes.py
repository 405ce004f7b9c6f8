"""What was assumed of a machine under test, and what its readings were taken under."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from converter_match.components.arrangement import Arrangement
from converter_match.components.reading import NEUTRAL, StallReading, Test
from converter_match.judgement.stall import words
from converter_match.judgement.stall.band import Band
from converter_match.judgement.stall.setup import StallSetup
from converter_match.notes import Note
from converter_match.physics.stall.settling import REFERENCE_OIL

# Outside these oil temperatures the band leans on a correction that leaves viscosity out [K].
_WARM = (333.15, 378.15)
# In which 40 CFR 1037.570 tests converters [K].
_TESTED_AT = (360.15, 366.15)
# Where the engine would have to accelerate from idle.
_WHERE = {
    "converter": "in gear",
    "hydraulic": "in neutral with the pumps at relief",
    "both": "in gear with the pumps at relief",
    "road": "on the road",
    "governed": "in neutral",
}


def setup_notes(setup: StallSetup, readings: Sequence[StallReading] = ()) -> tuple[Note, ...]:
    """Return every assumption behind the bands: of the sheets, the day, and the tolerances.

    Parameters
    ----------
    setup : StallSetup
    readings : sequence of StallReading
        What they state need not be assumed.
    """
    tol = setup.tolerances
    notes = [
        words.note(
            "tolerances-assumed",
            engine_torque=setup.engine_tolerance,
            capacity=tol.capacity,
            loads=tol.loads,
            relief=tol.relief,
            air=tol.air,
            oil=tol.oil_temperature,
            reading=tol.reading,
            governor=tol.governor,
        ),
        words.note("oil-density", oil=REFERENCE_OIL, low=_TESTED_AT[0], high=_TESTED_AT[1]),
    ]
    without = [r for r in readings if r.oil_temperature is None and r.test not in NEUTRAL]
    if setup.oil_temperature is None and (without or not readings):
        notes.append(words.note("oil-temperature-assumed", oil=setup.oil))
    oils = [setup.oil if r.oil_temperature is None else r.oil_temperature for r in readings]
    far = [oil for oil in oils or [setup.oil] if not _WARM[0] <= oil <= _WARM[1]]
    if far:
        notes.append(words.note("oil-not-warm", oil=far[0]))
    airless = [r for r in readings if r.air_temperature is None]
    if setup.site is None and (airless or not readings):
        notes.append(words.note("no-site"))
    notes += [*setup.engine.notes, *setup.converter.notes]
    if setup.arrangement is not None:
        notes += [*setup.arrangement.notes, *_left_out(setup.arrangement)]
    for reading in readings or (None,):
        notes += setup.effect(reading).notes
    return tuple(dict.fromkeys(notes))


def _left_out(arrangement: Arrangement) -> list[Note]:
    """Return that parts of an arrangement are not in a test at full throttle, where it has such."""
    others = [name for name in arrangement.parts if name not in ("stator", "torque_divider")]
    if not others:
        return []
    return [words.note("arrangement-parts-left-out", parts=", ".join(others).replace("_", " "))]


def stuck_notes(bands: Mapping[Test, Band]) -> list[Note]:
    """Return which tests some healthy machines cannot do, and which bands are in two parts."""
    notes = []
    for test, band in bands.items():
        if band.stuck_share > 0.0:
            code = "does-not-leave-idle" if band.ends is None else "may-not-leave-idle"
            code += "" if test == "converter" else f"-{test}"
            notes.append(words.note(code, count=band.stuck_count, where=_WHERE[test]))
        notes += gap_notes(words.TESTS[test], band)
    return notes


def gap_notes(label: str, band: Band) -> list[Note]:
    """Return that a band is in two parts, where it is."""
    if band.gap is None:
        return []
    low, high = band.gap
    return [words.note("band-in-two-parts", test=label, low=low, high=high)]


def no_band_note(test: Test, label: str) -> Note:
    """Return that there is nothing to test, and why."""
    return words.note("no-band", test=label, where=_WHERE[test])
