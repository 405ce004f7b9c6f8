"""The page of the adversarial studies, written from their table."""

from __future__ import annotations

from pathlib import Path

from tests.adversarial.cases import CASES, SAYS
from tests.properties.relations import GROUPS

PAGE = Path(__file__).resolve().parents[2] / "docs" / "adversarial-studies.md"
COMMAND = "python -m pytest tests/adversarial --write-formats"
_CASES = """\
# Nasty studies

<!-- Written by `{command}`. Do not edit: a test compares. -->

A clean yes on doubtful data is the worst that such a tool can say. Here are {count} studies with
something nasty in their files: the shipped study `loader-nothing-to-measure`, whose candidate can
be ordered, with a few words of one file changed, and its figures printed once, as the sheets are
that give nothing away by a second unit. The verdict is the one that a careful engineer
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
What must hold between two answers, whatever the machine, is another guard:
[{count} relations](validation.md) over random machines.
"""


def page() -> str:
    """Return the text of the page."""
    text = _CASES.format(command=COMMAND, count=len(CASES) - 1)
    for case in CASES:
        text += f"| {case.name} | {SAYS[case.verdict]} | {case.why} |\n"
    return text + _RELATIONS.format(count=sum(map(len, GROUPS.values())))
