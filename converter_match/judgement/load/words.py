"""What is said of a load on the turbine shaft."""

from __future__ import annotations

from types import MappingProxyType

from converter_match.answer.catalogue import Catalogue

NOTES = Catalogue(
    {
        "load-at-full-throttle": (
            "assumption",
            "The load runs at full throttle, in the converter; it is taken as steady, and shocks "
            "and gusts are not in it.",
        ),
        "load-does-not-start": (
            "limit",
            "{load} does not start: from rest it takes {needed:torque .0f} at the turbine, and "
            "the engine at full throttle gives {given:torque .0f} there.",
        ),
        "load-start-not-known": (
            "limit",
            "{load} is not started: the engine cannot hold the converter at idle in gear.",
        ),
        "load-runs-off": (
            "limit",
            "{load} is lighter than what the turbine gives as far as there are data: it speeds up "
            "past {speed:angular_speed .0f} at the turbine, and where it settles is not known.",
        ),
        "load-unsteady": (
            "warning",
            "{load} comes to no steady speed from rest: the engine jumps where the two torques "
            "would meet, and the drive hunts.",
        ),
        "load-several-speeds": (
            "warning",
            "{load} runs steadily at more than one speed ({count:.0f} stable points): which of "
            "them is a matter of how it was come to. From rest it is the one marked so.",
        ),
        "load-in-slip": (
            "warning",
            "{load} runs at {efficiency:share .0f} efficiency and turns {heat:power .0f} into "
            "heat steadily: a cooler has to carry that, or the work has to be short.",
        ),
        "settings-each-steady": (
            "assumption",
            "Each setting is taken as steady: the time that setting takes, a control that hunts, "
            "oil of a changing filling and its heat, and play in the linkage are not modelled.",
        ),
        "setting-does-not-match": (
            "warning",
            "At the setting {setting} engine and converter do not run together at stall: the "
            "engine is lugged down in gear.",
        ),
        "run-up-not-timed": (
            "assumption",
            "The run-up is not timed: {why}.",
        ),
        "run-up-too-long": (
            "warning",
            "The run-up takes longer than {longest:time .0f}: most of the engine's power heats "
            "the oil all that time.",
        ),
        "run-up-not-seen": (
            "warning",
            "The turbine did not come to its speed in the time that was looked at.",
        ),
        "run-up-from-idle": (
            "assumption",
            "The run-up starts at low idle in gear, at full throttle.",
        ),
        "load-hangs": (
            "caution",
            "Never hold or lower a hanging load on the converter alone: its torque goes with the "
            "engine, and is gone when that stops. A brake holds the load, set before the throttle "
            "is let go; nobody under the load or in line with the rope. The maker's procedure and "
            "the local rules for lifting come first, and what is figured here is no procedure.",
        ),
        "rope-under-tension": (
            "caution",
            "A rope under load can part, and a line pull on paper says nothing about rope, "
            "anchor and brake: stay within the maker's rating, clear of rope and bight.",
        ),
        "load-not-held": (
            "limit",
            "{load} is not held at full throttle: it pulls the turbine backwards with "
            "{needed:torque .0f}, against {given:torque .0f}.",
        ),
        "load-falls": (
            "limit",
            "{load} falls: as far as there are data the converter stops it at no speed.",
        ),
        "load-runs-away": (
            "warning",
            "{load}: let go at full throttle and running down faster than {speed:rope_speed .0f}, "
            "it is not stopped by the converter, whose torque falls off there.",
        ),
        "lowering-not-known": (
            "warning",
            "Lowering against the converter is not looked at: its data do not go below speed "
            "ratio 0.",
        ),
        "lowering-not-for-several": (
            "warning",
            "Holding and lowering are looked at for one engine and one converter only.",
        ),
        "lowering-heats-oil": (
            "caution",
            "Lowering against the converter turns the work of load and engine into heat in the "
            "oil; without a cooler sized for it the oil boils. It is no substitute for a brake.",
        ),
    }
)
note = NOTES.note

FAMILY = "Adjustable converter: {parameter}"
GIVEN = MappingProxyType({"given": "as given", "interpolated": "interpolated"})
"""Where the characteristic at a setting comes from."""

LAYER = "layer {layer} of rope"
WHOLE = "the load"

KINDS = MappingProxyType(
    {
        "winch": "winch",
        "pump": "pump, torque with the square of speed",
        "propeller": "propeller, torque with the square of speed",
        "conveyor": "conveyor, one torque at every speed",
        "table": "torque from a table",
    }
)
"""Kind of load -> what it is called."""

AT_IDLE = MappingProxyType(
    {
        "rises": "rises in gear at idle",
        "rests": "rests in gear at idle",
        "sinks": "sinks in gear at idle",
        "unknown": "idle in gear not held",
    }
)
"""What a hanging load does in gear at low idle, brake off."""

TITLE = "Load: {name} ({kind})"
EQUILIBRIA = "Where the load runs"
RUN_UP = "Start from rest to 95 % of its speed"
HOLDING = "Holding the load at rest by the converter (with the brake off): see the caution"
LOWERING = "Lowering against the converter, part throttle: see the caution"
NOT_REACHED = "not reached from rest"
ESTIMATE = "load.estimate"
