"""The sentences of the room: what was assumed of the draws, and why a criterion was not drawn."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from converter_match.answer.catalogue import Catalogue

NOTES = Catalogue(
    {
        # --- said with the figures
        "draws": (
            "assumption",
            "{draws:.0f} draws, seed {seed:.0f}. Of each figure: 2.5 % .. 50 % .. 97.5 % of the "
            "draws.",
        ),
        "not-drawn": ("warning", "{title}: {why}"),
        "draws-without-match": (
            "warning",
            "{title}: engine and converter do not match in {share:weight_share .1f} of the draws. "
            "These count under single stable match, and not here.",
        ),
        "draws-off-the-data": (
            "warning",
            "{title}: {share:weight_share .1f} of the draws run off the data, and are not known to "
            "hold.",
        ),
        "all-required": (
            "assumption",
            "All required criteria hold at once in {probability:weight_share .1f} of the draws.",
        ),
        "measure-first": (
            "assumption",
            "Measure first: {quantity} ({share:weight_share .0f} of the uncertainty of {about}).",
        ),
        # --- of the inputs
        "parts-in-common": (
            "assumption",
            "One and the same {part}, drawn once: {names}.",
        ),
        "units-of-a-type": (
            "assumption",
            "Several units of one {part} ({id}): {names}. Of the variance of its {quantity} "
            "{share:weight_share .0f} is scatter of manufacture, each unit's own; the rest is "
            "error of the sheet, which they have in common ({source}).",
        ),
        "tolerance-of-a-part": (
            "assumption",
            "The {quantity} of {names} is known within {width} either way ({form}).",
        ),
        "tolerance-shifted": (
            "assumption",
            "The {quantity} of {names} is taken {shift} off the data, and within {width} either "
            "way of that ({form}).",
        ),
        # --- of the whole answer
        "air-tolerance-left-out": (
            "assumption",
            "{name}: the tolerance of the air is left out of the engine's torque ({why}).",
        ),
        "loads-scaled-together": (
            "assumption",
            "The tolerance of the accessories holds for everything the engine drives beside the "
            "converter, implement pumps included.",
        ),
        "pumps-drawn-apart": (
            "assumption",
            "The tolerance of the pumps holds for the torque of the implement pumps, that of the "
            "accessories for everything else the engine drives beside the converter; each has its "
            "share of the load at stall, at every speed.",
        ),
        "torque-ratio-fades": (
            "assumption",
            "The tolerance of the torque ratio is one of its value at stall, and fades out "
            "towards the coupling point, where a freewheeling stator leaves it at 1.",
        ),
        "shares-as-independent": (
            "assumption",
            "Shares of the variance are those of inputs that vary one by one; the correlations "
            "are in the draws, not in the ranking.",
        ),
        "effort-by-response": (
            "assumption",
            "The effort at every road speed is calculated for a few draws, each uncertain quantity "
            "moved alone up and down; a quadratic through these gives the other draws. There and "
            "on routes lock-up speeds stay those of the data; in speeds on grades they are those "
            "of each draw.",
        ),
        "routes-by-driven-draws": (
            "assumption",
            "Routes are driven for {count:.0f} of the draws with their engine torque, mass and "
            "rolling resistance; the others are read off a surface through these. Loads, K-factor, "
            "torque ratio, air and rolling radius change a run by their average effect. Times read "
            "off are good to {doubt:weight_share .1f} (root mean square).",
        ),
        "stall-speed-may-jump": (
            "warning",
            "{name}, {condition}: in {several:weight_share .1f} of the draws engine and "
            "converter match at more than one speed at stall; coming up from idle the engine "
            "takes the "
            "lowest. {interval}",
        ),
    }
)

TITLES: Mapping[str, str] = MappingProxyType(
    {
        "figure": "{title}, {condition}",
        "figure-missing": "{title}, {condition} (no answer in {missing} % of the draws)",
        "no-answer": "no answer in any draw",
    }
)
"""What stands before and for the interval of a figure."""

SPANS_THE_JUMP = (
    "The stall speed jumps from draw to draw, and its interval spans values that never occur."
)
ONE_SIDE = "The interval of the stall speed stays on one side of the jump."
OF_PRESENT = "{quantity} of the present machine"
"""An input of the machine that a combination is compared with."""

SPLIT_ASSUMED = "assumed: common practice, no source"
SPLIT_GIVEN = "as the study gives it"
"""Where the share of scatter is from."""

NO_MATCH = "engine and converter match in no draw"
NOT_KNOWN = "not known without tolerances either: {missing}"
"""Why a criterion was not drawn."""
