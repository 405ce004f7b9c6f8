"""Sentences on the acceptance of a machine after the swap."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from converter_match.answer.catalogue import Catalogue

TITLE = "Acceptance of {name}: what to read"
REASONS = "What may be wrong, the most likely first"
VERDICTS: Mapping[str, str] = MappingProxyType(
    {"as-predicted": "as predicted", "investigate": "investigate"}
)
PLACES: Mapping[str, str] = MappingProxyType(
    {
        "inside": "inside",
        "below": "below",
        "above": "above",
        "void": "void: the brakes did not hold",
        "no-band": "no such reading was expected",
    }
)
"""Where a reading lies."""

NOTES = Catalogue(
    {
        "bands": (
            "assumption",
            "Of machines as ordered {coverage:weight_share .0f} or more read inside all of these. "
            "Instrument, repeat, model and load of the day are allowed for.",
        ),
        "as-predicted": (
            "assumption",
            "{name}: every reading lies inside its band.",
        ),
        "investigate": (
            "warning",
            "{name}: not every reading lies inside its band. Repeat the reading that does not, "
            "then look into what follows before the machine goes to work.",
        ),
        "no-reasons": (
            "warning",
            "{name}: not every reading lies inside its band. Repeat the reading that does not. "
            "Nothing more can be said without the engine speed: read it at stall, and on the "
            "grade as well.",
        ),
        "rests-on-one": (
            "assumption",
            "The bands rest on the sheets, and on the reading of the study.",
        ),
        "rests-on": (
            "assumption",
            "The bands rest on the sheets, and on the {count:.0f} readings of the study.",
        ),
        "rests-on-sheets": (
            "assumption",
            "The bands rest on the sheets and their tolerances alone: nothing was measured.",
        ),
    }
)
"""Notes of the acceptance."""
