"""Sentences of the decision: what it is, why, and what to do before ordering."""

from __future__ import annotations

from types import MappingProxyType

from converter_match.answer.catalogue import Catalogue

DECISIONS = MappingProxyType(
    {
        "order": "acceptable",
        "conditional": "conditional",
        "not-known": "not decided",
        "no": "do not order",
    }
)
"""Code of a decision -> what a reader calls it."""

KINDS = MappingProxyType(
    {
        "order": "can be ordered",
        "conditional": "only with reservations",
        "not-known": "not decided",
        "no": "do not order",
    }
)
"""Code of a decision -> `decision.kind` of the JSON result, which scripts rely on."""

HEADLINES = Catalogue(
    {
        "order": ("warning", "{name} is acceptable: every criterion is met."),
        "conditional": (
            "warning",
            "{name} is acceptable once the reservations below are accepted or settled.",
        ),
        "doubtful": (
            "warning",
            "{name} is acceptable once the reservations below are accepted or settled: all "
            "required criteria hold together in {probability:weight_share .1f} of the draws only.",
        ),
        "not-known": ("warning", "{name} ranks first, but data needed for the decision are "
        "missing."),
        "no": (
            "warning", "{name} is not acceptable as described. Required criterion not met: "
            "{failed}.",
        ),
        "none": (
            "warning", "None of the candidates is acceptable as described. The nearest, {name}, "
            "does not meet: {failed}.",
        ),
        "no-unlikely": (
            "warning", "{name} is not acceptable as described: all required criteria hold together "
            "in {probability:weight_share .1f} of the draws only.",
        ),
        "none-unlikely": (
            "warning", "None of the candidates is acceptable as described. With the nearest, "
            "{name}, all required criteria hold together in {probability:weight_share .1f} of the "
            "draws only.",
        ),
    }
)  # fmt: skip
"""The decision in a sentence, by its code; ``none`` where there are several candidates."""

_WITH_DRAWS = (
    "Rule: do not order, if a required criterion is not met by the data as they stand, or "
    "all hold together in less than {reject:weight_share .0f} of the draws; not decided, "
    "if a required criterion is not known; conditional, if they hold together in less than "
    "{order:weight_share .0f} of the draws, a preferred criterion is not met or not known, "
    "any is marginal, an interface item differs, a converter is estimated from its stall, or "
    "its data are in doubt; acceptable otherwise."
)

RULE = Catalogue(
    {
        "rule": ("assumption", _WITH_DRAWS),
        "rule-with-readings": (
            "assumption",
            f"{_WITH_DRAWS} The draws are those after the readings; while these contradict, or "
            "nothing can be made of them, conditional at best.",
        ),
        "rule-no-draws": (
            "assumption",
            "Rule: do not order, if a required criterion is not met by the data as they stand; not "
            "decided, if one is not known; conditional, if a preferred criterion is not met or not "
            "known, any is marginal, an interface item differs, a converter is estimated from "
            "its stall, or its data are in doubt; acceptable otherwise. No draws were made, so "
            "nothing is said of doubt about the data.",
        ),
    }
)
"""How the decision is made."""

REASONS = Catalogue(
    {
        "verdict": ("warning", "{name}: {verdict}"),
        "probability": (
            "warning",
            "{name}: all required criteria hold together in {probability:weight_share .1f} of "
            "{draws:.0f} draws within the tolerances.",
        ),
        "readings-count": (
            "warning",
            "That is after the readings of the study, which decide; before them it was "
            "{before:weight_share .1f}.",
        ),
        "data-in-doubt": (
            "warning",
            "Something is in doubt about the data ({whose}; see there), so the study says no yes.",
        ),
        "readings-unsettled": (
            "warning",
            "The readings of the study are not settled, so it says no yes: {why}",
        ),
        "readings-not-weighed": (
            "warning",
            "The readings of the study were not weighed, since no draws were made, so "
            "it says no yes.",
        ),
        "no-probability": (
            "warning",
            "Nothing is said of doubt: the data are taken as exact, because {why}.",
        ),
        "estimated": (
            "warning",
            "Estimated from the stall alone, not data: the converter {converters}. A criterion is "
            "met only where it is met with every published shape; draws are made around the middle "
            "of them.",
        ),
        "not-met": ("warning", "{title}: {measured}. {reason}"),
        "marginal": ("warning", "{title} is marginal: {measured}."),
        "better": ("warning", "Better than the present machine ({condition}): {changes}."),
        "worse": ("warning", "Worse than the present machine ({condition}): {changes}."),
        "other": ("warning", "{name}: {verdict}"),
        "other-not-met": ("warning", "{name}: {verdict} Criteria not met: {titles}."),
    }
)
"""Why."""

STEPS = Catalogue(
    {
        "find-out": ("warning", "Find out: {what}."),
        "settle-readings": (
            "warning", "Settle what contradicts: {titles}. Read again, correct, widen or leave "
            "out.",
        ),
        "settle-data": (
            "warning", "Look at the sheets again, or ask their maker, about what is odd: {whose}. "
            "Correct the data, or have them confirmed.",
        ),
        "characteristic": (
            "warning", "Get the maker's characteristic of the converter {converters}: only its "
            "stall is known.",
        ),
        "tolerances": (
            "warning", "Give the tolerances of torque curve, characteristic, mass and ground in "
            "the study: draws within them say how far the verdicts can be relied on.",
        ),
        "settle": (
            "warning", "Settle the {item}: {left} '{first}', {right} '{second}'. Where the two do "
            "not mean the same, it does not bolt on without an adapter or another part.",
        ),
        "measure": (
            "warning", "Have a drawing or the maker's word, or measure a part that is at hand, on "
            "both sides: {items}.",
        ),
        "confirm": (
            "warning", "Have the engine maker confirm the torque curve as installed (gross or net, "
            "which accessories), and the converter maker the characteristic at your oil.",
        ),
        "prove": (
            "warning", "After installation: test the brakes and run a stall test by the machine "
            "maker's procedure.",
        ),
    }
)  # fmt: skip
"""What to do before ordering."""

CORRECTED_TOO_FAR = "the engine's torque at a site, by a formula beyond the air that it holds for"
NO_TOLERANCES = "the study gives no tolerances"
NO_DRAWS = "no draws were made"
NOT_ALL_DRAWN = "a required criterion is not known"
"""Why there is no probability."""

NEAREST_FIRST = "Thresholds, the nearest first"
BOUNDS = Catalogue(
    {"least": ("assumption", "min. {value}"), "most": ("assumption", "max. {value}")}
)
"""The table of the thresholds."""

CHANGES = Catalogue(
    {
        "change": ("warning", "{title}: {before} → {after}"),
        "change-in": ("warning", "{title}: {before} → {after} ({condition})"),
        "other-conditions": (
            "warning", "Also looked at: {conditions} (in the report and its tables).",
        ),
        "not-applied": ("warning", "{name} ({why})"),
    }
)  # fmt: skip
"""Differences against the present machine."""

STATUSES = MappingProxyType(
    {
        "same": "same",
        "differs": "differs",
        "measure before ordering": "measure before ordering",
        "given": "given",
    }
)
"""Status of an item of the interface -> what a reader calls it."""

LEFT_OPEN = "- least to most: converter ESTIMATED or read within a band"
"""Head of the row below a figure that rests on such a converter."""

FIGURES = MappingProxyType(
    {
        "stall_speed": "stall speed",
        "stall_turbine_torque": "turbine torque at stall",
        "stall_heat": "heat at stall",
        "coupling_engine_speed": "engine speed at the coupling point",
        "net_power": "maximum net power",
        "usable_power": "net power absorbed in the working range (eta >= 80 %)",
        "high_idle": "high idle",
        "mean_output_power": "mean output power in the working range (eta >= {level} %)",
        "mean_efficiency": "mean efficiency in the working range (eta >= {level} %)",
        "span": "span of turbine speed of the working range (eta >= {level} %)",
        "mean_specific_fuel": "mean fuel over output in the working range (eta >= {level} %)",
        "duty_mean_output_power": "mean output power over the duty",
        "duty_mean_efficiency": "mean efficiency over the duty",
        "duty_work_efficiency": "work out over work in over the duty",
        "duty_mean_heat": "mean heat over the duty",
        "duty_mean_fuel": "mean fuel over the duty",
        "duty_mean_specific_fuel": "fuel over output over the duty",
        "creep": "creep effort in gear at low idle",
        "braking": "engine braking (motoring) power",
        "greatest_pull": "maximum drawbar pull",
        "steepest_start": "startability (gradeability from rest)",
        "top_speed": "top speed on the level",
        "speed_on": "speed on {grade} grade",
        "continuous_heat": "heat into the oil on {grade} grade",
        "time": "time, {route}",
        "fuel": "fuel, {route}",
        "oil": "maximum oil temperature, {route}",
    }
)
"""Figure that is compared -> its title."""
