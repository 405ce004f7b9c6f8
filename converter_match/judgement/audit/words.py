"""Sentences of the audit: what may have been assumed otherwise, what is missing, what to ask."""

from __future__ import annotations

from types import MappingProxyType

from converter_match.answer.catalogue import Catalogue

VERDICTS = MappingProxyType(
    {
        "agrees": "agrees",
        "not distinguishable": "not distinguishable",
        "disagrees": "disagrees",
        "cannot be checked": "cannot be checked",
    }
)
"""Verdict on a claim -> what a reader calls it."""
VERDICTS_OF_MANY = MappingProxyType(dict(VERDICTS) | {"agrees": "agree", "disagrees": "disagree"})
"""The same of several claims."""

READINGS = MappingProxyType(
    {
        "conversion-range": (
            "the best efficiency of the conversion range, below the coupling point, where the "
            "stator is held: what a sheet quotes as a rule"
        ),
        "whole-table": (
            "the highest efficiency of the whole table, beyond the coupling point, where the "
            "stator freewheels and the efficiency is the speed ratio: it rises to the last row"
        ),
    }
)
"""How a quantity can be meant."""

ALTERNATIVES = Catalogue(
    {
        "gross-torque-given": (
            "warning", "gross torque instead of net: {deducted} not deducted",
        ),
        "gross-torque-typical": (
            "warning",
            "gross torque instead of net (taken as {factor:.2f} times the net one, common "
            "practice)",
        ),
        "accessories-left-out": ("warning", "accessories left out"),
        "pumps-left-out": ("warning", "implement pumps left out"),
        "no-site-correction": ("warning", "no site correction: the engine's reference air"),
        "hydraulics-working": (
            "warning", "read with the implement working ({torque:torque} at the flywheel)",
        ),
        "other-rating": ("warning", "another power setting: '{engine}'"),
        "sheet-unit": ("warning", "{given} in the {sheet} file taken for {read}"),
        "claim-unit": ("warning", "the claim is in {read}, not in {given}"),
        "claim-speed": ("warning", "the road speed is in {read}, not in {given}"),
        "reference-speed": ("warning", "primary torque at {printed} read as at {read}"),
        "cold-oil": (
            "warning",
            "cold oil, {cold:temperature .0f} instead of {warm:temperature .0f}: denser, capacity "
            "with it",
        ),
        "crept": (
            "warning",
            "the machine crept while it was read: speed ratio {speed_ratio:.2f} instead of stall",
        ),
        "mechanical-efficiency-left-out": (
            "warning", "mechanical efficiency and drag of the driveline left out",
        ),
        "stage-missing": ("warning", "overall ratio without the {stage} ({ratio:.6g})"),
        "free-tyre-radius": (
            "warning",
            "free radius of the tyre instead of the rolling radius ({difference:share +.1f})",
        ),
        "other-load": ("warning", "{other} machine instead of {load}"),
        "grip-left-out": ("warning", "traction limit of the ground left out"),
        "sibling": ("warning", "the sheet of another converter: '{sibling}'"),
        "both": ("warning", "{first} and {second}"),
    }
)  # fmt: skip
"""What may have been assumed otherwise."""

MISSING = Catalogue(
    {
        "refused": ("warning", "{problem}"),
        "no-match": (
            "warning", "there is no match from idle at speed ratio {speed_ratio:.3g}",
        ),
        "no-coupling": ("warning", "the coupling point is not in the converter's data"),
        "no-driveline": ("warning", "a driveline file"),
        "no-machine": ("warning", "a machine file"),
        "no-surface": ("warning", "the surface (rolling resistance and traction)"),
        "no-gear-at-speed": ("warning", "no gear drives at that speed"),
        "beyond-limiter": (
            "warning", "the speed limiter takes the drive away at {limit:velocity}",
        ),
        "data-end": (
            "warning",
            "the converter's table ends at {speed:velocity} on {grade:grade g}: a row nearer to "
            "speed ratio 1",
        ),
        "no-converter-gear": ("warning", "there is no forward gear in converter drive"),
        "any-grade": ("warning", "the effort is more than any grade requires"),
        "no-steady-speed": (
            "warning", "no gear holds a steady speed on {grade:grade g} within the data",
        ),
        "no-grade": ("warning", "the grade that the claim is about"),
        "not-above-zero": (
            "warning", "our figure is zero or below: there is nothing to compare with",
        ),
    }
)  # fmt: skip
"""Data without which a claim cannot be checked."""

SENTENCES = Catalogue(
    {
        "claim-tolerance-assumed": (
            "assumption",
            "Where a claim states no tolerance, {tolerance:share g} is taken (common practice, no "
            "source).",
        ),
        "missing": ("warning", "missing: {what}"),
        "own-doubt-not-given": (
            "assumption",
            "How well our own figures are known is not given (no tolerances): a claim is held "
            "against them as if they were exact.",
        ),
        "own-doubt-not-drawn": (
            "assumption",
            "The tolerances of the study say nothing about our figure for {quantity}: it is taken "
            "as exact.",
        ),
        "no-ground": (
            "assumption",
            "No surface is given: the tractive effort is what the driveline gives, whatever the "
            "ground allows.",
        ),
        "meant-so": ("warning", "held against {what} ({value})"),
        "meant-otherwise": ("warning", "not meant here: {what} ({value})"),
        "band-not-distinguishable": (
            "warning",
            "inside what our own figure is known to: 95 % of the draws lie from {low} to {high}",
        ),
        "band-disagrees": (
            "warning",
            "outside what our own figure is known to: 95 % of the draws lie from {low} to {high}",
        ),
        "reproduced": (
            "warning", "reproduced by {what} ({value}; {chance:share .1f} of arbitrary claims as "
            "far off would have a story as good)",
        ),
        "not-significant": (
            "warning",
            "within tolerance, not significant: {what} ({value}; {chance:share .0f} of arbitrary "
            "claims as far off would have a story as good)",
        ),
        "more": (
            "warning",
            "{count:.0f} further alternatives lie within tolerance, as they may by chance",
        ),
        "not-explained": (
            "warning",
            "no story stands out among {tried:.0f} alternatives tried: ask the dealer for the "
            "basis",
        ),
        "explained": (
            "warning", "{tried:.0f} alternatives were tried; ask the dealer whether that is so",
        ),
    }
)  # fmt: skip
"""What follows a claim that does not agree."""

CLAIMED = Catalogue(
    {
        "head": ("warning", "{claim}: {claimed}{source}"),
        "cannot be checked": (
            "warning", "Claim that cannot be checked, for {whom}: {head}; missing: {what}.",
        ),
        "not distinguishable": (
            "warning",
            "Claim that cannot be told from our figure, for {whom}: {head}; calculated {ours}, "
            "known to {low} .. {high} (95 % of the draws).",
        ),
        "not-explained": (
            "warning",
            "Claim that disagrees, for {whom}: {head}; calculated {ours} ({difference:share "
            "+.1f}); no story stands out among {tried:.0f} alternatives tried. Ask the dealer for "
            "the basis.",
        ),
        "explained": (
            "warning",
            "Claim that disagrees, for {whom}: {head}; calculated {ours} ({difference:share "
            "+.1f}); the claim comes out with {what} ({chance:share .1f} of arbitrary claims as "
            "far off would have a story as good). Ask the dealer for the basis.",
        ),
    }
)  # fmt: skip
"""A claim that does not agree, in one sentence of a report."""
