"""The sentences of a catalogue search."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from converter_match.answer.catalogue import Catalogue

STAGES: Mapping[str, str] = MappingProxyType(
    {
        "bounds": "bounds at stall",
        "match": "engine and converter",
        "wheels": "wheels",
        "study": "routes and the rest",
        "draws": "draws within the tolerances",
    }
)
"""Stage -> what a reader calls it; scripts rely on the stages."""

REFUSED = "parts that do not go together"
NOT_WORKED_OUT = "not calculated"

WORDS = Catalogue(
    {
        "what-is-kept": (
            "assumption",
            "Listed is what fails no required criterion of the study {study}{where}. Preferred "
            "criteria that are not met, and what is not known, stand beside it.",
        ),
        "worst-condition": (
            "assumption",
            "Route time, fuel and engine work are for all routes of the duty together, in the "
            "worst condition of the study (site, pumps); so is the heat margin, the share of the "
            "cooler's capacity that is left on the continuous grade.",
        ),
        "sizes-by-similarity": (
            "assumption",
            "Other diameters than a converter's own are estimates by similarity, up to "
            "{stretch:share} off; the maker's limits do not go with them, so that input torque, "
            "power and speed are not known there.",
        ),
        "sizes-too-far": (
            "assumption",
            "Sizes left out: {count:.0f}. They are more than {stretch:share} off the diameter that "
            "the data are for, or that diameter is not known.",
        ),
        "readings-left-aside": (
            "warning",
            "Readings and claims of the study {study} are left aside here; they count in a study "
            "of what is on the list.",
        ),
        "drawn-alone": (
            "assumption",
            "Probability of all required criteria: {draws:.0f} draws within the tolerances of the "
            "study, each combination as a study of it alone has it.",
        ),
        "no-tolerances": (
            "assumption",
            "No probabilities: the study {study} gives no tolerances.",
        ),
        "no-draws": ("assumption", "No probabilities were asked for."),
        "front": (
            "assumption",
            "Not beaten: no other is at least as good in all of {aims}, and better in one.",
        ),
        "aims-not-known": (
            "warning",
            "Not compared, for it is known of none: {aims}.",
        ),
        "not-placed": (
            "warning",
            "Listed and not compared: {count:.0f}, for {aims} is not known of them.",
        ),
        "in-doubt": (
            "warning",
            "On the list with data that are in doubt: {count:.0f} ({whose}). See what is odd about "
            "them, and settle that first: the list says no yes of them, and an exclusion that "
            "rests on such data is as doubtful.",
        ),
        "nothing-kept": (
            "limit",
            "No combination of the catalogue meets every required criterion.",
        ),
        "more": ("assumption", "{count:.0f} more: the table (--csv, --table) has them all."),
        "not-worked-out": (
            "warning",
            "Not calculated, and neither kept nor excluded: {which} ({why}).",
        ),
        "list-is-no-order": (
            "caution",
            "A place on the list is no leave to order: put the few that matter into a study, with "
            "what bolts on and what to measure first. The machine maker's procedure and local "
            "rules come first.",
        ),
    }
)
