"""Sentences on what to measure next."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from converter_match.answer.catalogue import Catalogue

READINGS = Catalogue(
    {
        "stall-speed": ("warning", "stall speed of {of}"),
        "speed-on-grade": ("warning", "speed of {of} on a grade of {grade:grade}, gear {gear}"),
        "top-speed": ("warning", "top speed of {of} on the level"),
        "pull": ("warning", "drawbar pull of {of} against an anchor, gear {gear}"),
        "pull-at-speed": (
            "warning",
            "drawbar pull of {of} at {speed:velocity}, gear {gear}",
        ),
        "time-to-speed": ("warning", "time of {of} from rest to {speed:velocity}"),
        "engine-torque": (
            "warning",
            "torque of {of} on a test bed at {engine_speed:angular_speed}",
        ),
        "weight": ("warning", "weight of {of}"),
        "rolling-radius": ("warning", "loaded rolling radius of {of}"),
        "fuel-rate": (
            "warning",
            "fuel rate of {of} on a test bed at full load and {engine_speed:angular_speed}",
        ),
        "temperature-rise": (
            "warning",
            "rise of the oil temperature of {of} over a stall hold of {duration:time .0f}",
        ),
        "k-factor": (
            "warning",
            "K-factor of {of} on a rig at speed ratio {speed_ratio:.2f}",
        ),
        "torque-ratio": (
            "warning",
            "torque ratio of {of} on a rig at speed ratio {speed_ratio:.2f}",
        ),
        "at-relief": ("warning", ", pumps at relief"),
        "empty": ("warning", ", empty"),
        "laden": ("warning", ", laden"),
        "other-ground": ("warning", ", on {ground}"),
    }
)
"""What a reading is called; the codes are the quantities."""

PRESENT_PARTS: Mapping[str, str] = MappingProxyType(
    {
        "machine": "the present machine",
        "engine": "the present engine",
        "converter": "the present converter",
    }
)
NEW_PARTS: Mapping[str, str] = MappingProxyType(
    {
        "engine": "the engine to be fitted",
        "converter": "the converter to be fitted",
    }
)
"""What is measured."""

TAKES: Mapping[str, str] = MappingProxyType(
    {"minutes": "minutes", "hours": "hours", "dear": "dear"}
)
"""What a reading takes."""

CAUTIONS = Catalogue(
    {
        "grade-run": (
            "caution",
            "A machine can roll back on a grade, or run away: a road that is known and clear, "
            "nobody below or beside it, brakes tested first; the machine maker's procedure and "
            "local rules come first.",
        ),
        "pull-test": (
            "caution",
            "A rope or chain under load can part and kill: an anchor and gear rated for the pull, "
            "nobody near the line, the machine maker's procedure and local rules first.",
        ),
    }
)
"""What a reading can do to those who take it."""

TITLE = "What to measure next"

NEXT = Catalogue(
    {
        "nothing-changes-yes": (
            "assumption",
            "{name}: no reading can change this, since all required criteria hold together in "
            "{probability:weight_share .1f} of the draws.",
        ),
        "nothing-changes-no": (
            "assumption",
            "{name}: no reading can change this, since all required criteria hold together in only "
            "{probability:weight_share .1f} of the draws.",
        ),
        "measure-one": (
            "assumption",
            "{name}: measure first the {reading} ({takes}). That saves {share:share} of what not "
            "knowing costs.",
        ),
        "measure-both": (
            "assumption",
            "{name}: measure first, and both, the {reading} ({takes}) and the {other} "
            "({other_takes}). Together they save {share:share} of what not knowing costs; alone "
            "{first:share} and {second:share}.",
        ),
        "turns-above": (
            "assumption",
            " To order is the better choice where it reads {at} or more (likely: {chance:share}).",
        ),
        "turns-below": (
            "assumption",
            " To order is the better choice where it reads {at} or less (likely: {chance:share}).",
        ),
        "turns-somewhere": (
            "assumption",
            " To order will then be the better choice with a probability of {chance:share}.",
        ),
        "not-worth-it": (
            "assumption",
            "{name}: none of the readings listed is worth what it takes. The best, the {reading}, "
            "saves {share:share} of what not knowing costs.",
        ),
        "no-readings": (
            "assumption",
            "{name}: none of the usual readings depends on what is uncertain.",
        ),
        "losses": (
            "assumption",
            "Losses: {wrong:.3g} for an order by which a required criterion is not met, "
            "{missed:.3g} for one that is not placed though all are met; readings {minutes:.3g}, "
            "{hours:.3g} and {dear:.3g} by class. To order is the better choice from "
            "{threshold:weight_share .1f} on.",
        ),
        "together": (
            "assumption",
            "All that takes minutes together saves {minutes:share}, with what takes hours "
            "{hours:share}, with everything listed {dear:share}.",
        ),
    }
)
"""What to measure next, for one candidate."""
