"""The page of the adversarial studies and of the relations, written from their tables."""

from __future__ import annotations

from pathlib import Path

from tests.adversarial.cases import CASES, SAYS
from tests.properties.relations import GROUPS

PAGE = Path(__file__).resolve().parents[2] / "docs" / "adversarial-studies.md"
COMMAND = "python -m pytest tests/adversarial --write-formats"
_CASES = """\
# Nasty studies, and relations that must hold

<!-- Written by `{command}`. Do not edit: a test compares. -->

A clean yes on doubtful data is the worst that such a tool can say. Here are {count} studies with
something nasty in their files: the shipped study `loader-nothing-to-measure`, whose candidate can
be ordered, with a few words of one file changed. The verdict is the one that a careful engineer
gives who reads the sheets, typed before the tool was asked. At the first run 17 of 61 disagreed.
Three times the tool was at fault and was mended: it asked nothing about a dip in the torque and
about a ramp of 40 percent, and ordered an engine corrected for a site far beyond its formula. The
other times the typed verdict gave way, mostly because the tool refuses or leaves undecided what
the engineer would have had cleared up. The tests run them all, and hold that the reason is told,
and not the verdict alone.

| what is nasty | verdict | why |
|---|---|---|
"""
_RELATIONS = """
## Relations between two answers

Nobody knows the right number for a machine drawn at random. But what a change must do to it is
known: more mass is never faster uphill, twice the torque on twice the capacity runs at the same
speeds, a segment in two halves takes as long. {count} such relations are held over random
machines of all kinds (one-way, fixed and no stator, wheels and tracks, all charging, both ways of
governing, two to five gears), a few in every run of the tests and hundreds with
`--hypothesis-profile=long` ([benchmarks](benchmarks.md) and [validation](validation.md) have the
rest).

| where | relation |
|---|---|
"""


def page() -> str:
    """Return the text of the page."""
    text = _CASES.format(command=COMMAND, count=len(CASES) - 1)
    for case in CASES:
        text += f"| {case.name} | {SAYS[case.verdict]} | {case.why} |\n"
    relations = [
        (where, str(relation.__doc__)) for where, group in GROUPS.items()
        for relation in group.values()
    ]  # fmt: skip
    text += _RELATIONS.format(count=len(relations))
    for where, sentence in relations:
        text += f"| {where} | {sentence} |\n"
    return text
