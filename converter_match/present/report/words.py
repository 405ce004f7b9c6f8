"""Sentences of the report."""

from __future__ import annotations

from converter_match.answer.catalogue import Catalogue

ANSWER = Catalogue(
    {
        "speed": ("warning", "On the continuous grade of {grade} it runs {value}"),
        "speed-grade": ("warning", "On the steepest grade asked about, {grade}, it runs {value}"),
        "no-speed": ("warning", "It does not climb the grade of {grade}"),
        "present": ("warning", " (at present {value})"),
        "heat": ("warning", "{heat} go into the oil there, of {capacity} that the cooler takes"),
        "heat-alone": ("warning", "{heat} go into the oil there; nothing is known of a cooler"),
        "time": ("warning", "the route takes {value}"),
    }
)
"""The question answered for the candidate that comes first, clause by clause."""

ODDS = Catalogue(
    {
        "all": (
            "warning",
            "Every required criterion is met at once in {chance} of {draws:.0f} draws within the "
            "tolerances.",
        ),
        "least": (
            "warning",
            "Of the required criteria that could be drawn ({count:.0f}, {draws:.0f} draws within "
            "the tolerances), the least sure is {title}: it is met in {chance}.",
        ),
        "readings-count": (
            "warning",
            "That is after the readings of the study; before them it was {chance}.",
        ),
        "readings-unsettled": (
            "warning",
            "The readings of the study contradict what is believed, or nothing can be made of "
            "them; until that is settled it says no yes.",
        ),
        "not-drawn": (
            "warning",
            "The sheets are taken as they are: the study gives no tolerances, and no "
            "probabilities were calculated.",
        ),
    }
)
"""How sure it is, on page one."""

NEXT = Catalogue(
    {
        "find-out": ("warning", "Find out: {what}."),
        "settle-readings": ("warning", "Settle the readings first: {why}"),
        "no-candidate": (
            "warning",
            "No candidate meets what is required. Look for another one, or settle whether this "
            "may be less: {title} ({measured}).",
        ),
        "accept": ("warning", "Settle whether this is accepted: {title}, {measured}."),
        "settle": (
            "warning",
            "Settle the {item}: {left} '{first}', {right} '{second}'.",
        ),
        "confirm": (
            "warning",
            "Have the engine maker confirm the torque curve as installed, and the converter maker "
            "the characteristic at your oil.",
        ),
    }
)
"""The one thing to settle next."""

SETTLE_NEXT = "To settle next"
"""Heading of the one thing to do next."""

MOVING = Catalogue(
    {
        "slider": ("warning", "{letter}, {name}: one slider from stall to the governor"),
        "what-if": (
            "warning",
            "{letter}, {name}: what if torque, capacity or air changes",
        ),
        "divided": (
            "warning",
            "with a torque divider the engine drives more than the impeller, and this page would "
            "say the wrong thing of it",
        ),
    }
)
"""Pages beside the report that a reader moves."""

MOVING_TITLE = "Pages that move"
