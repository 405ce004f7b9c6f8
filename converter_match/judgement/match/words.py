"""What is said of a match: its notes, and the names of its points."""

from __future__ import annotations

from collections.abc import Iterable
from types import MappingProxyType

from converter_match.answer.catalogue import Catalogue
from converter_match.notes import Note

NOTES = Catalogue(
    {
        "several-intersections": (
            "warning",
            "Engine and converter match at more than one engine speed at stall "
            "({speeds}; every second one is unstable). A small change of torque "
            "or capacity makes the stall speed jump.",
        ),
        "several-intersections-on-locus": (
            "warning",
            "Between speed ratio {first:.2f} and {last:.2f} engine and converter match at more "
            "than one engine speed.",
        ),
        "jumps-coming-up": (
            "warning",
            "Speeding up at full load from standstill, the engine jumps from "
            "{before:angular_speed .0f} to {after:angular_speed .0f} where the turbine comes to "
            "{turbine:angular_speed .0f}: pull and heat jump with it.",
        ),
        "jumps-coming-down": (
            "warning",
            "Slowed down by its load, the machine has its engine jump from "
            "{before:angular_speed .0f} to {after:angular_speed .0f} where the turbine comes to "
            "{turbine:angular_speed .0f}.",
        ),
        "what-if-air": (
            "assumption",
            "Altitude changes the air's pressure by the standard atmosphere; its temperature stays "
            "at {temperature:temperature .0f}.",
        ),
        "what-if-reference-air": (
            "assumption",
            "Altitude is counted from the air of the engine's sheet, taken as that at sea level "
            "and {temperature:temperature .0f}; the temperature stays.",
        ),
        "what-if-no-air": (
            "assumption",
            "Altitude is left out: {why}.",
        ),
        "idle-high-idle-differ": (
            "warning",
            "Coming up from idle the engine settles at {up:angular_speed .0f}, coming down from "
            "high idle at {down:angular_speed .0f}.",
        ),
        "band-may-warn": (
            "warning",
            "The converter was read within a band: not as it was read, but with another end of the "
            "band, there is also: {items}.",
        ),
        "estimate-may-warn": (
            "warning",
            "The converter is an estimate: not with the middle of it, but with another that it may "
            "be as well, there is also: {items}.",
        ),
        "stall-on-governor": (
            "warning",
            "Stall speed {speed:angular_speed .0f} is on the governor droop line, at or above "
            "rated speed: the converter is too loose to load the engine fully.",
        ),
        "idle-in-gear-torque": (
            "caution",
            "In gear at low idle ({speed:angular_speed .0f}) with the turbine held the turbine "
            "torque is {torque:torque .0f}: the machine creeps unless the brakes hold it.",
        ),
        "cannot-hold-idle": (
            "limit",
            "The engine cannot hold the converter at idle in gear: at {speed:angular_speed .0f} "
            "the converter absorbs {torque:torque .0f} with the turbine held; after its other "
            "loads the engine has {spare:torque .0f} there. It is lugged down and stalls, and "
            "there is no stall match from idle.",
        ),
        "interface-differs": (
            "warning",
            "Engine and converter do not bolt together by what their files say: {items}. Where "
            "these do not mean the same, it takes an adapter or another part.",
        ),
        "no-rated-power-in-working-range": (
            "warning",
            "In the working range (80 % efficiency or better) "
            "the converter does not load the engine at rated speed, {where}: the rated power is "
            "not usable in the working range.",
        ),
        "limit-input-torque": (
            "limit",
            "The converter's input torque reaches {highest:torque .0f}, above its limit of "
            "{limit:torque .0f}.",
        ),
        "limit-input-power": (
            "limit",
            "The converter's input power reaches {highest:power .0f}, above its limit of "
            "{limit:power .0f}.",
        ),
        "limit-input-speed": (
            "limit",
            "High idle ({high_idle:angular_speed .0f}) is above the converter's speed limit of "
            "{limit:angular_speed .0f}.",
        ),
        "engine-limit-unread": (
            "warning",
            "The engine's limits.{key} cannot be read as a number with its unit, and is not "
            "checked.",
        ),
        "limit-engine-torque": (
            "limit",
            "The converter takes up to {highest:torque .0f} of torque at the flywheel, above the "
            "{limit:torque .0f} that the engine's maker allows there: choose another size or "
            "consult the engine maker.",
        ),
        "limit-engine-power": (
            "limit",
            "The converter takes up to {highest:power .0f} of power at the flywheel, above the "
            "{limit:power .0f} that the engine's maker allows there: choose another size or "
            "consult the engine maker.",
        ),
        "limit-engine-speed": (
            "limit",
            "High idle ({high_idle:angular_speed .0f}) is above the speed limit of "
            "{limit:angular_speed .0f} that the engine's file states: one of the two is wrong, or "
            "the governor is set too high.",
        ),
        "duty-at-full-throttle": (
            "assumption",
            "Every point of the duty is taken at full throttle; time at part throttle or at idle "
            "is not in it.",
        ),
        "duty-without-pumps": (
            "assumption",
            "The duty says nothing about the pumps: {torque:torque .0f} at the flywheel at every "
            "point, as in the match, beside pumps that the engine drives by a table.",
        ),
        "duty-beyond-data": (
            "limit",
            "Duty, {point} ({share:weight_share .0f} of the time): speed ratio {ratio:.2f} is "
            "outside the converter's data, which end at {last:.2f}. No means are given.",
        ),
        "duty-too-fast": (
            "limit",
            "Duty, {point} ({share:weight_share .0f} of the time): the turbine is to run at "
            "{speed:angular_speed .0f}, and the pair drives it to {fastest:angular_speed .0f} at "
            "most. No means are given.",
        ),
        "duty-no-match": (
            "limit",
            "Duty, {point} ({share:weight_share .0f} of the time): engine and converter do not run "
            "together there, after what the pumps take. No means are given.",
        ),
        "does-not-suit-governed": (
            "warning",
            "With high idle set to {setting:angular_speed .0f} the converter does not suit: {why}",
        ),
    }
)
note = NOTES.note


def several_intersections(speeds: Iterable[float]) -> Note:
    """Return the note on several engine speeds [rad/s] at stall, however many they are."""
    code = "several-intersections"
    kind, template = NOTES[code]
    values = tuple((f"speed_{i}", speed) for i, speed in enumerate(speeds))
    places = ", ".join(f"{{{name}:angular_speed .0f}}" for name, _ in values)
    return Note(code, template.replace("{speeds}", places), kind, values)


DECISIVE = "ESTIMATED converter: figure in the middle (least to most of what it may be)"
DECISIVE_BAND = "Converter read within a band: figure as read (least to most of the band)"
ESTIMATE = "Least and most: the converter is an estimate, and may be any of these"
BAND = "Least and most: the converter was read within a band, and this is what its ends come to"
BELOW = Catalogue(
    {
        "no-load": (
            "assumption",
            "best efficiency: it nears 100 % as the load goes to nothing at speed ratio 1; that "
            "point gives no power and is left out",
        ),
        "stall-band": (
            "assumption",
            "stall speed over the uncertainty of the engine's curve: {low:angular_speed .0f} .. "
            "{high:angular_speed .0f}",
        ),
        "stall-band-of-both": (
            "assumption",
            "stall speed over the reading band of the converter and the uncertainty, if any, of "
            "the engine's curve: {low:angular_speed .0f} .. {high:angular_speed .0f}",
        ),
    }
)
"""Sentences below the table of the points; they are not among the notes."""

INDICES = "At full load, on average over the turbine speeds of the working range"

GOVERNED = "Governed lower: at full load, means from 75 % efficiency up to the governed speed"
GOVERNED_POINTS = "Governed lower: part load, by speed ratio"
DUTY = "Duty: {name}"
NOT_RUN = "none: the pair does not run at every point"
NOT_KNOWN = "not known"
"""What stands in place of a mean over a duty."""

POINTS = {
    "stall": "stall",
    "stall_from_high_idle": "stall, from high idle",
    "efficiency_70_lower": "70 % efficiency, lower",
    "efficiency_80_lower": "80 % efficiency, lower",
    "best_in_conversion": "best with stator held",
    "coupling": "coupling point",
    "efficiency_80_upper": "80 % efficiency, upper",
    "efficiency_70_upper": "70 % efficiency, upper",
    "end_of_data": "end of data, above 80 %",
    "no_slip": "speed ratio 1, no slip",
    "governed_limit": "governed limit",
    "best_efficiency": "best efficiency",
}
"""Code of a named point -> what it is called."""

TORQUE_RATIO_ONE = "torque ratio 1"
"""What the coupling point is called where the stator does not turn: nothing is coupled there."""

ON_GOVERNOR = {
    "never": "",
    "at-stall": "on the governor at stall",
    "from-stall": "on the governor from stall on",
}

BOLT_ON = MappingProxyType(
    {
        "housing": ("flywheel housing", "size by SAE J617"),
        "flywheel": (
            "flywheel or flex plate pattern",
            "by SAE J620 (clutch size) or SAE J927 (flex plate)",
        ),
        "pilot_diameter": ("pilot diameter", ""),
        "pilot_depth": ("pilot depth", ""),
        "rotation": ("rotation", "say from which end it is seen"),
        "end_play": (
            "crank end play against flex-plate float", "the float has to be the larger",
        ),
        "ring_gear": ("ring gear and starter", ""),
        "balance": ("balance", "of engine and of flywheel"),
        "dry_mass": ("dry mass", ""),
        "wet_mass": ("mass with oil", ""),
        "spline": ("turbine shaft spline", ""),
        "charge_pump_drive": ("charge-pump drive", ""),
        "oil_flow": ("charge oil flow", "against what the converter needs"),
        "oil_pressure": ("charge oil pressure", ""),
        "mounting": ("mounting and length", ""),
    }
)  # fmt: skip
"""Key of an ``[interface]`` table -> what it is, and where its designations come from."""
