"""Sentences of the audit: what may have been assumed otherwise, what is missing, what to ask."""

from __future__ import annotations

from types import MappingProxyType

from converter_match.answer.catalogue import Catalogue

VERDICTS = MappingProxyType(
    {"agrees": "agrees", "disagrees": "disagrees", "cannot be checked": "cannot be checked"}
)
"""Verdict on a claim -> what a reader calls it."""
VERDICTS_OF_MANY = MappingProxyType(dict(VERDICTS) | {"agrees": "agree", "disagrees": "disagree"})
"""The same of several claims."""

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
        "k-unit-lbf-ft": ("warning", "K in rpm/sqrt(N.m) read as rpm/sqrt(lbf.ft)"),
        "k-unit-n-m": ("warning", "K in rpm/sqrt(lbf.ft) read as rpm/sqrt(N.m)"),
        "reference-speed": (
            "warning", "primary torque at {printed:.0f} rpm read as at {read:.0f} rpm",
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
        "sibling": (
            "warning",
            "stall torque ratio {other:.2f} of the sibling '{sibling}' instead of {own:.2f}",
        ),
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
        "reproduced": (
            "warning", "reproduced by {what} ({value}; {chance:share .0f} of claims so close by "
            "chance)",
        ),
        "not-significant": (
            "warning",
            "within tolerance, not significant: {what} ({value}; {chance:share .0f} of claims so "
            "close by chance)",
        ),
        "more": ("warning", "and {count:.0f} more within tolerance"),
        "not-explained": (
            "warning",
            "none of {tried:.0f} alternatives tried explains it: ask the dealer for the basis",
        ),
        "explained": (
            "warning", "{tried:.0f} alternatives were tried; ask the dealer whether that is so",
        ),
    }
)  # fmt: skip
"""What follows a claim that does not agree."""

CLAIMED = Catalogue(
    {
        "head": ("warning", "Claim that disagrees, for {whom}: {claim}: {claimed}{source}"),
        "cannot be checked": ("warning", "{head}; cannot be checked, missing: {what}."),
        "not-explained": (
            "warning",
            "{head}; calculated {ours} ({difference:share +.1f}); none of {tried:.0f} alternatives "
            "tried explains it. Ask the dealer for the basis.",
        ),
        "explained": (
            "warning",
            "{head}; calculated {ours} ({difference:share +.1f}); the claim comes out with {what}. "
            "Ask the dealer for the basis.",
        ),
    }
)
"""A claim that does not agree, in one sentence of a report."""
