"""The sentences of the room: what was read, what it points to, what became of what was believed."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from converter_match.answer.catalogue import Catalogue, alike

TITLES: Mapping[str, str] = MappingProxyType(
    {
        "readings": "Readings, and what was to be expected of them",
        "figures": "Before and after the readings, 2.5 % .. 50 % .. 97.5 %",
        "odds": "How often criteria are met, before and after the readings",
        "parts": "What the readings tell of the parts",
        "assumed": "Assumed of the readings",
    }
)
"""What stands above the tables."""

PLACES: Mapping[str, str] = MappingProxyType(
    {"fits": "fits", "contradicts": "contradicts", "not-possible": "not possible as believed"}
)
"""What a reading is to what is believed."""

LEARNED: Mapping[str, str] = MappingProxyType(
    {
        "sharpened": "known better",
        "touched": "touched, hardly known better",
        "untouched": "no reading touches it",
    }
)
"""What readings have done to an input."""

ALL_REQUIRED = "All required criteria at once"

SETTINGS = Catalogue(
    alike(
        "assumption",
        {
            "plain": "{title}",
            "with": "{title} ({how})",
            "gear": "gear {gear}",
            "grade": "{grade:grade .1f} grade",
            "speed": "at {speed:velocity .1f}",
            "to-speed": "up to {speed:velocity .1f}",
            "engine-speed": "at {speed:angular_speed .0f}",
            "speed-ratio": "at speed ratio {ratio}",
            "duration": "{time:time .0f}",
            "relief": "pumps at relief",
            "load": "{load}",
            "other-ground": "on {ground}",
            "date": "{date}",
        },
    )
)
"""How a reading was taken, in short."""

NOTES = Catalogue(
    {
        "weighed": (
            "assumption",
            "{draws:.0f} draws from what the readings leave possible, picked from weighted ones "
            "that tell as much as {effective:.0f} without weights. (Plain weights on the draws of "
            "the study would have come to {plain:.0f}.)",
        ),
        "counts": (
            "assumption",
            "The probabilities after the readings are those that the decision rests on.",
        ),
        "joint": (
            "assumption",
            "Machines as believed would give readings that lie as far out, all together, in "
            "{p:weight_share .1f} of cases.",
        ),
        "cannot-see": (
            "assumption",
            "A reading that is wrong by less than stands under 'error found in half of the cases' "
            "mostly passes for right: a fit is no proof of it.",
        ),
        "untouched": ("assumption", "No reading touches: {inputs}. They stay as the study has "
                      "them."),
        "model-error": (
            "assumption",
            "{title}: for exactly known parts the calculation is taken to be right within "
            "{share:weight_share .1f} (one standard deviation; {basis}).",
        ),
        "work-error": (
            "assumption",
            "At work an engine gives what it gives in a test within {share:weight_share .1f} (one "
            "standard deviation; {basis}); drawn for each combination, before and after.",
        ),
        "load-scatter": (
            "assumption",
            "The load on the day of a reading is the payload within {share:weight_share .1f} (one "
            "standard deviation; common practice, no source), where it was not weighed.",
        ),
        "oil-as-on-sheet": (
            "assumption",
            "{title}, {name}: the oil is taken to be as on the converter's sheet, since the "
            "reading gives no oil temperature.",
        ),
        "hold-from-warm-oil": (
            "assumption",
            "{title}, {name}: the oil is taken to start at {start:temperature .0f}, since the "
            "reading gives no oil temperature.",
        ),
        "reference-air": (
            "assumption",
            "{title}, {name}: read in air like that of the engine's sheet, since neither study nor "
            "reading names a site.",
        ),
        "teaches-nothing": (
            "warning",
            "{title}, {name}: no tolerance of the study moves this reading, so it teaches "
            "nothing.",
        ),
    }
)  # fmt: skip

CONTRADICTIONS = Catalogue(
    {
        "contradicts": (
            "warning",
            "{title}, {name}: {value} was read, {low} to {high} was to be expected: as far out in "
            "no more than {p:weight_share .2f} of cases.",
        ),
        "contradicts-others": (
            "warning",
            "{title}, {name}: {value} fits what is believed, but not the other readings: it lies "
            "{off:.1f} standard deviations from what they make of it (all together: "
            "{p:weight_share .2f} of cases).",
        ),
        "not-possible": (
            "warning",
            "{title}, {name}: {value} was read, and no draw of the machine as believed can give "
            "such a reading at all.",
        ),
        "would-take": (
            "warning",
            "To explain it alone, the {quantity} of {names} would have to lie {off:.1f} of its "
            "standard deviations {side} what is believed.",
        ),
        "unit": (
            "warning",
            "It is about {factor:.3g} times what was to be expected: was it read in {read} and "
            "written in {written}?",
        ),
        "until": (
            "warning",
            "Nothing is made of the readings until this one is corrected or left out, or its "
            "deviation, or the tolerance of what it points to, is widened. Until then the study "
            "says no yes.",
        ),
        "few": (
            "warning",
            "Nothing is made of the readings: the draws that are left tell no more than "
            "{effective:.0f} without weights, {least:.0f} are asked for. More draws, or fewer or "
            "less sharp readings, would do.",
        ),
        "missed": (
            "warning",
            "Nothing is made of the readings: machines of more than one kind would give them, and "
            "the draws have found one kind only. Narrow the tolerances to one of them.",
        ),
        "leak": (
            "warning",
            "Nothing is made of the readings: inputs that they cannot touch came out changed "
            "({inputs}), so the draws cannot be trusted.",
        ),
    }
)
"""Why no use is made of readings, and what that points to."""

_ANY = "a slip in writing it down, or another day, load or ground than stated"
POINTS_TO = Catalogue(
    alike(
        "warning",
        {
            "stall-speed-above": "Points to brakes or a clutch that slipped, oil that is low or "
            "full of air, a converter that absorbs less than its sheet, an engine above its sheet, "
            "or a tachometer that reads high.",
            "stall-speed-below": "Points to an engine that gives less than its sheet (fuel, air "
            "filter, boost), loads left on, a stator whose freewheel slips, a converter that "
            "absorbs more than its sheet, or a tachometer that reads low.",
            "speed-on-grade-above": "Points to a grade less steep or a load lighter than stated, "
            "lock-up or another gear, or an engine above its sheet.",
            "speed-on-grade-below": "Points to a dragging brake, a grade steeper, ground softer or "
            "a load heavier than stated, wheel slip, or an engine below its sheet.",
            "top-speed-above": "Points to larger tyres, another governor setting, a slope or wind "
            "behind, or a gear other than stated.",
            "top-speed-below": "Points to a dragging brake, lock-up that does not engage, softer "
            "ground, another governor setting, or an engine below its sheet.",
            "pull-above": "Points to an engine or a torque ratio above the sheet, a lower gear "
            "than stated, or a load cell that reads high.",
            "pull-below": "Points to wheels that slipped, a stator whose freewheel slips, a "
            "dragging brake, an engine below its sheet, or a pull that was not held level.",
            "time-to-speed-above": "Points to an engine below its sheet, slow boost or slow "
            "shifts, a heavier load, or a slope.",
            "time-to-speed-below": "Points to a lighter load, a slope or wind behind, or a start "
            "with the engine already up to speed.",
            "engine-torque-above": "Points to another power setting of the engine, or a test bed "
            "without what the sheet counts (fan, filter, silencer).",
            "engine-torque-below": "Points to wear, fuel or boost, another power setting, or air "
            "that was not corrected for.",
            "weight-above": "Points to attachments, ballast, fuel or load that the machine file "
            "does not count.",
            "weight-below": "Points to parts taken off, empty tanks, or an axle that was not on "
            "the scale.",
            "rolling-radius-above": "Points to other tyres, or an unladen machine.",
            "rolling-radius-below": "Points to other or worn tyres, low pressure, or a load "
            "heavier than stated.",
            "fuel-rate-above": "Points to another power setting, worn injection, or fuel that was "
            "warm or measured by volume.",
            "fuel-rate-below": "Points to an engine that gives less than its sheet, a fuel filter, "
            "or another power setting.",
            "temperature-rise-above": "Points to less oil than stated, a cooler that is bypassed, "
            "or a longer hold.",
            "temperature-rise-below": "Points to a shorter hold, more oil than stated, or a sensor "
            "that lags.",
            "k-factor-above": "Points to another converter or other blades, or thin or aerated "
            "oil.",
            "k-factor-below": "Points to another converter or other blades, or cold oil.",
            "torque-ratio-above": "Points to another converter, or torque read at another speed "
            "ratio.",
            "torque-ratio-below": "Points to a stator whose freewheel slips, another converter, or "
            "cold oil.",
        },
    )
)
"""What a reading above or below what was to be expected points to (common practice, no source)."""

ANYWAY = Catalogue({"anyway": ("warning", f"Always possible: {_ANY}.")})
AS_GIVEN = "as the study gives it"
SIDES = {True: "above", False: "below"}

OVER_PRESENT: Mapping[str, str] = MappingProxyType(
    {
        "torque": "turbine torque at stall, of the present machine's",
        "speed": "speed on {grade} % grade, of the present machine's",
    }
)
ON_GRADE: Mapping[str, str] = MappingProxyType(
    {"speed": "speed on {grade} % grade", "heat": "heat into the oil on {grade} % grade"}
)
"""Titles of figures."""
