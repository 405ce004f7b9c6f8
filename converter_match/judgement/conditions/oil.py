"""The oil's temperature at the start of a calculation, and the one at which to stop."""

from __future__ import annotations

from converter_match.components.machine import Machine
from converter_match.judgement.conditions import words
from converter_match.notes import Note

# US Army TM 9-2320-283-10 (public domain): at 149 degC, 300 degF, stop and go to neutral.
STOP_AT = 422.15  # K


def starting_oil(
    machine: Machine, air_temperature: float, asked: float | None
) -> tuple[float, tuple[Note, ...]]:
    """Return the oil temperature at the start [K], and what was assumed for it.

    Parameters
    ----------
    machine : Machine
        With a working temperature of the oil, if that is known.
    air_temperature : float
        At the cooler [K].
    asked : float or None
        What the user says [K]: it comes first.
    """
    known = machine.oil.working_temperature if asked is None else asked
    if known is not None:
        return known, ()
    return air_temperature, (words.note("oil-starts-cold"),)
