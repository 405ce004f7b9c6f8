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
    }
)  # fmt: skip
"""The decision in a sentence, by its code; ``none`` where there are several candidates."""

REASONS = Catalogue(
    {
        "verdict": ("warning", "{name}: {verdict}"),
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

FIGURES = MappingProxyType(
    {
        "stall_speed": "stall speed",
        "stall_turbine_torque": "turbine torque at stall",
        "stall_heat": "heat at stall",
        "coupling_engine_speed": "engine speed at the coupling point",
        "net_power": "maximum net power",
        "usable_power": "net power absorbed in the working range (eta >= 80 %)",
        "high_idle": "high idle",
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
