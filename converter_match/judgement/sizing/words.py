"""The sentences of sizing: what is required, why no size meets it, and what comes with one."""

from __future__ import annotations

from converter_match.answer.catalogue import Catalogue

_RPM = "angular_speed .5g"
WORDS = Catalogue(
    {
        # --- what is wanted ---
        "wanted-at-stall": ("assumption", f"{{speed:{_RPM}}} at stall"),
        "wanted-at-speed-ratio": (
            "assumption",
            f"{{speed:{_RPM}}} at speed ratio {{speed_ratio:.3f}}",
        ),
        "wanted-at-efficiency": (
            "assumption",
            f"{{speed:{_RPM}}} at the {{end}} end of {{level:share .4g}} efficiency",
        ),
        # --- why no size meets the requirement ---
        "speed-below-engine-data": (
            "limit",
            f"{{speed:{_RPM}}} is below {{low:{_RPM}}}, the lowest speed for which the engine's "
            "torque is known.",
        ),
        "speed-above-high-idle": (
            "limit",
            f"{{speed:{_RPM}}} is above high idle ({{high:{_RPM}}}): the governor gives no torque.",
        ),
        "no-torque-left": (
            "limit",
            f"at {{speed:{_RPM}}} the engine has no torque left for the converter "
            f"(rated speed is {{rated:{_RPM}}}, high idle {{high:{_RPM}}}).",
        ),
        "no-capacity-there": (
            "limit",
            "the converter absorbs no torque at that speed ratio, whatever its size.",
        ),
        "efficiency-not-reached": (
            "limit",
            "the converter reaches at most {best:share .1f} efficiency, whatever its size.",
        ),
        "efficiency-does-not-fall": (
            "limit",
            "the data end before the efficiency falls below {level:share .4g} again.",
        ),
        "cannot-leave-idle": (
            "limit",
            "that converter absorbs more than the engine delivers at idle: the engine cannot "
            "accelerate from idle, although "
            "there is a match at a higher speed.",
        ),
        "match-unstable": (
            "limit",
            f"the match at {{speed:{_RPM}}} is unstable (the engine's torque rises faster than "
            f"the converter's): an engine coming up from idle settles at {{reached:{_RPM}}}.",
        ),
        "stops-below": (
            "limit",
            f"an engine coming up from idle stops at {{reached:{_RPM}}} already, where the same "
            f"converter absorbs all it has; {{speed:{_RPM}}} is reached from high idle only.",
        ),
        "outside-diameter-range": (
            "limit",
            "it would take {took:diameter .4g}, outside the range of "
            "{low:diameter .4g} to {high:diameter .4g}.",
        ),
        # --- two targets at once ---
        "targets-agree": (
            "assumption",
            "One size gives both targets within {alike:share .0f}.",
        ),
        "targets-contradict": (
            "limit",
            "The targets contradict each other in this family: the size that is best for both "
            "misses one by {miss:share .1f}. A family with another torque ratio or capacity over "
            "speed ratio may give both; else one target has to yield.",
        ),
        "no-common-match": (
            "limit",
            "The targets contradict each other: with no size between the two does the engine get "
            "to both speeds from idle.",
        ),
        "no-common-size": (
            "limit",
            "There is no common size: one of the targets has no size of its own.",
        ),
        # --- what comes with a size ---
        "scaled-by-capacity": (
            "assumption",
            "Estimate: capacity multiplied by {factor:.4f}, assuming a geometrically similar "
            "converter with the same blading; its diameter is not known.",
        ),
        "size-by-similarity": (
            "assumption",
            "Estimate: a geometrically similar converter, C ~ D^5 with the same blading and oil. "
            "Sizes are made in steps: solve again with the data of the one that can be bought.",
        ),
        "size-stretched": (
            "warning",
            "The {which} changes by {change:share +.1f}: beyond about {comfort:share .0f} (common "
            "practice) the similarity law is uncertain. Look for another family.",
        ),
        "size-several-intersections": (
            "warning",
            "With this size engine and converter match at more than one speed: a small change "
            "of torque or capacity makes the engine jump.",
        ),
        "size-on-governor": (
            "warning",
            "The required speed is above rated speed ({rated:angular_speed .0f}), on the governor "
            "droop line: there a small error of speed is a large one of torque, and so of size.",
        ),
        "size-limits-dropped": (
            "assumption",
            "The converter's limits of torque, power and speed belong to the size they were "
            "stated for, and are not carried over.",
        ),
    }
)
ENGINE_WORDS = Catalogue(
    {
        "torque-behind-governor": (
            "warning",
            "At {speed:angular_speed .0f} the governor has taken all torque away: no change of the "
            "full-load curve makes the converter stall there. Raise the governed speed, or take a "
            "tighter converter.",
        ),
        "torque-wanted": (
            "warning",
            "To stall at {speed:angular_speed .0f} the converter requires {needed:torque .0f} net; "
            "the full-load curve times {factor:.3f} gives that.",
        ),
        "torque-factor-large": (
            "warning",
            "No setting within a rating changes an engine so much: another size is the remedy.",
        ),
        "torque-hole": (
            "warning",
            "But from idle the engine {stop}: between {low:angular_speed .0f} and "
            "{high:angular_speed .0f} it is short of torque, "
            "by {missing:torque .0f} at {deepest:angular_speed .0f}. The low-speed torque has to "
            "rise by that much.",
        ),
        "does-not-leave-idle": ("warning", "cannot accelerate from idle"),
        "stops-at": ("warning", "stops at {reached:angular_speed .0f}"),
    }
)
TRIAL_WORDS = Catalogue(
    {
        # --- limits that a trial breaks ---
        "input-torque": ("limit", "input torque {value:torque .0f} above {most:torque .0f}"),
        "input-power": ("limit", "input power {value:power .0f} above {most:power .0f}"),
        "turbine-torque-at-stall": (
            "limit",
            "turbine torque at stall {value:torque .0f} above {most:torque .0f}",
        ),
        "hottest-oil": (
            "limit",
            "maximum oil temperature {value:temperature .0f} above {most:temperature .0f}",
        ),
        "stall-speed": ("limit", "stall speed {side} {bound:angular_speed .0f}"),
        "no-stall-match": ("limit", "no stall match from idle"),
        "does-not-go-together": ("limit", "{why}"),
        "cannot-move-on": ("limit", "does not complete the route: stops in segment {segment:.0f}"),
        "limit-not-checked": ("warning", "{what}: not known"),
        "of-trial": ("limit", "{trial}: {what}"),
        # --- the answer ---
        "no-such-size": (
            "limit",
            "No size meets the requirement: none of those tried keeps every limit ({why}).",
        ),
        "no-such-converter": (
            "limit",
            "No converter meets the requirement: none of those tried keeps every limit ({why}).",
        ),
        "quickest": ("warning", "Quickest within heat and limits: {name}, {time:time .1f}."),
        "as-quick-sizes": (
            "warning",
            "Within {same:share .4g} of that time: from x {low:.3f} to x {high:.3f}. Choose among "
            "those by the other columns.",
        ),
        "as-quick-converters": (
            "warning",
            "Within {same:share .4g} of that time: {which}. Choose among those by the other "
            "columns.",
        ),
        "at-end-of-range": (
            "warning",
            "It lies at the end of the range tried: beyond it may be a quicker one.",
        ),
        "winner-stretched": (
            "warning",
            "The diameter changes by {change:share +.1f}: beyond about {comfort:share .0f} (common "
            "practice) the similarity law is uncertain.",
        ),
        "by-similarity": (
            "assumption",
            "An estimate by similarity; sizes are made in steps.",
        ),
        "unbeaten": (
            "assumption",
            "Pareto-optimal: no other that keeps the limits is at least as good in time, fuel, "
            "heat and "
            "stall torque together",
        ),
    }
)
