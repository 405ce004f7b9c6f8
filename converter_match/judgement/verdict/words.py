"""The sentences of the room: what a criterion found, what is missing, and the headlines."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from converter_match.answer.catalogue import Catalogue

FOUND = Catalogue(
    {
        "not-known": ("warning", "not known; missing: {missing}"),
        "nothing-said": ("assumption", ""),
        "headline": ("assumption", "{headline}"),
        "required-min": ("assumption", "{said}; required: min. {min}"),
        "required-max": ("assumption", "{said}; required: max. {max}"),
        "required-min-max": ("assumption", "{said}; required: min. {min} and max. {max}"),
        # --- engine and converter
        "no-match-at-stall": (
            "limit",
            "the engine cannot hold the converter at idle in gear: there is no stall match",
        ),
        "several-matches-at-stall": (
            "limit",
            "at stall engine and converter match at {count:.0f} engine speeds",
        ),
        "another-match-ahead": (
            "warning",
            "one match at stall, but another or none at some speed ratio beyond it",
        ),
        "several-matches-ahead": (
            "warning",
            "one match at stall, but {count:.0f} between speed ratio {low:.2f} and {high:.2f}",
        ),
        "one-match-jumps": (
            "assumption",
            "1 match at every point; {torque:weight_share .1f} less engine torque (or air), or "
            "{capacity:weight_share .1f} more capacity, would drop it to {speed:angular_speed .0f}",
        ),
        "one-match-lost": (
            "assumption",
            "1 match at every point; {torque:weight_share .1f} less engine torque (or air), or "
            "{capacity:weight_share .1f} more capacity, would leave none",
        ),
        "one-match-joined": (
            "assumption",
            "1 match at every point; {torque:weight_share .1f} more engine torque (or air), or "
            "{capacity:weight_share .1f} less capacity, would bring another one",
        ),
        "no-stall-match": (
            "limit",
            "no match: the engine cannot hold the converter at idle, and there is nothing to judge",
        ),
        "stall-speed": ("assumption", "stall at {speed:angular_speed .0f}"),
        "power-in-working-range": (
            "assumption",
            "{share:weight_share .1f} of the net power is absorbed in the working range "
            "(efficiency {level:weight_share .0f} and above)",
        ),
        "highest-input-torque": ("assumption", "highest input torque {torque:torque .0f}"),
        "highest-input-power": ("assumption", "highest input power {power:power .0f}"),
        "highest-input-speed": ("assumption", "highest input speed {speed:angular_speed .0f}"),
        "high-idle": ("assumption", "high idle {speed:angular_speed .0f}"),
        "highest-turbine-torque": ("assumption", "highest turbine torque {torque:torque .0f}"),
        "engine-braking-share": (
            "assumption",
            "{share:weight_share .1f} of the present engine braking power at rated speed",
        ),
        # --- at the wheels
        "nothing-to-keep": (
            "assumption",
            "the present machine does not {what} here: nothing to compare with",
        ),
        "effort-share": (
            "assumption",
            "{share:weight_share .1f} of the present effort at the worst point, at "
            "{speed:velocity .1f}",
        ),
        "grade-start-share": (
            "assumption",
            "{share} of the present grade: starts on {own}, at present {present}",
        ),
        "grade-start-any": ("assumption", "starts on any grade, at present {present}"),
        "grade-speed-share": (
            "assumption",
            "{share:weight_share .1f} of the present speed at the worst point, on {grade}",
        ),
        "grade-not-climbed": (
            "limit",
            "{share:weight_share .1f} of the present speed at the worst point, on {grade}, which "
            "it "
            "does not climb",
        ),
        "top-speed": ("assumption", "top speed {speed:velocity .1f}"),
        "heat-grade-not-climbed": ("limit", "it does not climb {grade}: {limited_by}"),
        "heat-on-grade": ("assumption", "{heat:power .0f} into the oil on {grade} in gear {gear}"),
        "heat-cool-in-lower-gear": (
            "warning",
            "{heat:power .0f} into the oil on {grade} in gear {gear}, its fastest; continuous "
            "only in gear {slower}",
        ),
        "creep-share": (
            "assumption",
            "{share:weight_share .1f} of the present creep effort in gear at low idle",
        ),
        # --- on the routes
        "hottest-oil": ("assumption", "oil up to {oil:temperature .0f} on {route}"),
        "does-not-complete-route": (
            "limit",
            "it does not complete {route}: it stops in segment {segment}",
        ),
        "route-share": ("assumption", "{share:weight_share .1f} of the present {what} on {route}"),
        "route-share-not-all": (
            "assumption",
            "{share:weight_share .1f} of the present {what} on {route}; not compared on {others}, "
            "which the present machine does not complete",
        ),
    }
)
"""What a criterion found, by code."""

_MISSING: Mapping[str, str] = MappingProxyType(
    {
        "converter-limit": "{what} limit of the converter {id!r}",
        "driveline-limit": "turbine torque limit of the driveline {id!r}",
        "no-driveline-limit": "turbine torque limit of the driveline",
        "driven-speed-limit": "speed limit of transmission and pumps (limits.engine_speed)",
        "motoring": "motoring torque of the engine {id!r}",
        "torque-rows": "full-load torque of the engine {id!r} from {speeds}",
        "motoring-rows": "motoring torque of the engine {id!r} from {speeds}",
        "fuel-rows": "specific fuel consumption of the engine {id!r} from {speeds}",
        "converter-rows": "characteristic of the converter {id!r} from speed ratio {low} to {high}",
        "converter-by-stall": "the characteristic of the converter {id}, of which the stall alone "
        "is known (the published shapes lie on both sides)",
        "converter-band": "a closer reading of the characteristic of the converter {id} "
        "(the ends of its reading band lie on both sides)",
        "continuous-grade": "the continuous grade (duty.continuous_grade)",
        "cooler": "cooler of the machine {id!r} (or limits.heat)",
        "machine-oil-limit": "oil temperature limit of the machine {id!r}",
        "part-throttle-heat": "heat at part throttle (the speed limiter holds it on {grade})",
        "idle-match": "a match at idle: {whose} cannot hold the converter in gear there",
        "oil-limit": "oil temperature limit of converter, machine or study",
        "cooler-and-oil": "cooler and oil of the machine {id!r}",
        "fuel": "fuel data of the engine {id!r}",
        "driveline-file": "a driveline file for {name!r}",
        "machine-file": "a machine file for {name!r}",
        "surface": "the surface under the wheels (duty.surface)",
        "engine-at-site": "what the engine gives at {site} ({why})",
        "pump-torque": "the torque of the {state} of {name!r} ([hydraulic_sharing] of an "
        "arrangement, as another machine of the study has it)",
    }
)

PUMPS_SAID: Mapping[str, str] = MappingProxyType(
    {
        "standby": "implement pumps at standby",
        "working": "implement pumps at work",
        "relief": "implement pumps at relief",
    }
)
"""What a reader calls the pumps in each state."""

PUMPS = Catalogue(
    {
        "pumps-by-table": (
            "assumption",
            "{name}: at work the implement pumps take what the table of its arrangement says, not "
            "the constant {torque:torque .0f} of the duty. Against a machine that is given the "
            "constant torque, a part of the difference is that of the pumps.",
        ),
        "pumps-by-duty": (
            "assumption",
            "{name}: at work the implement pumps take the constant {torque:torque .0f} of the "
            "duty; its arrangement has no pump table, as that of another machine of the study has. "
            "A part of the difference between the two is that of the pumps.",
        ),
        "standby-taken-as-none": (
            "assumption",
            "{name}: no pump torque at standby is given, as it is for another machine of the "
            "study; it is taken as none, and its pull comes out too high.",
        ),
        "pumps-not-known": (
            "warning",
            "Not judged there, missing: {what}. Figures of that condition are left out.",
        ),
        "pumps-may-count-twice": (
            "warning",
            "{name}: the engine file lists {accessory} among its accessories, and the arrangement "
            "has a table of the implement pumps: both are deducted. Leave out one if they are the "
            "same pumps.",
        ),
        "pumps-do-not-brake": (
            "assumption",
            "{name}: the pumps are not counted on for engine braking, as their table ends at high "
            "idle.",
        ),
        "arrangement-not-judged": (
            "assumption",
            "{name}: the study judges full load, through the converter or locked up as the "
            "driveline allows. Of its arrangement, {parts} are calculated beside it, and no "
            "criterion rests on them.",
        ),
    }
)
"""What is said of pumps and other parts of an arrangement in a study."""
COUPLING = "the coupling point"
HIGHEST_EFFICIENCY = "that of its best efficiency"
"""Where the data of a converter have to reach."""

NOT_APPLIED: Mapping[str, str] = MappingProxyType(
    {
        "off": "switched off by the study",
        "no-present": "the study names no present machine to compare with",
        "no-route": "the duty names no route",
    }
)
"""Why a criterion says nothing in a study."""

RANKING = Catalogue(
    {
        "ranking": (
            "assumption",
            "Converters in candidate '{candidate}' of study '{study}', the most suitable first.",
        ),
        "headline": ("assumption", "{converter}: {headline}"),
        "pareto": (
            "assumption",
            "Pareto-optimal: every required criterion is met, and no other such converter is at "
            "least as good in time, fuel, heat and stall torque together.",
        ),
    }
)
"""Sentences below a ranking."""

REQUIREMENTS: Mapping[str, str] = MappingProxyType(
    {"must": "mandatory", "should": "preferred", "off": "off"}
)
"""What a reader calls the weight of a criterion."""

VERDICTS: Mapping[str, str] = MappingProxyType(
    {"pass": "pass", "marginal": "marginal", "not known": "not known", "fail": "FAIL"}
)
"""What a reader calls the verdict on a criterion."""

HEADLINE: tuple[tuple[str, str, str], ...] = (
    ("failed_musts", "required criterion not met", "required criteria not met"),
    ("failed_shoulds", "preferred criterion not met", "preferred criteria not met"),
    ("marginal", "criterion is marginal", "criteria are marginal"),
    ("unknown", "criterion is not known", "criteria are not known"),
)
"""Parts of the headline: which criteria of an assessment, what is said of one and of several."""
ANY = "any"
"""A figure without bound, such as the grade of an effort that is more than any grade takes."""
ALL_MET = "All {count} criteria are met."


def missing(code: str, /, **values: str) -> str:
    """Return the name of a missing datum."""
    return _MISSING[code].format(**values)


def grade_words(grade: float) -> str:
    """Return a grade (rise / run) as a study writes it.

    Examples
    --------
    >>> grade_words(0.04), grade_words(0.125)
    ('4 %', '12.5 %')
    """
    return f"{100 * grade:g} %"
