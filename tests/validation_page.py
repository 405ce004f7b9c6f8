"""Outside checks that are recorded as they are made, and the page that shows them.

One fact makes one row, however many tests lean on it.

A check compares one of our figures with a published one, and writes down source, inputs, figures,
tolerance and reason in the same breath: what stands on the page has passed, and nothing on it is
typed.
"""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np

from tests.properties.relations import GROUPS, TRIED

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "validation.md"
CREDIBILITY = ROOT / "tests" / "published" / "credibility.md"
MUTATION = ROOT / "benchmarks" / "mutation_summary.json"
COMMAND = "python -m pytest tests/published --write-validation"

TAGS = {
    "seen": "read in the source's own text",
    "second-hand": "read in another text that quotes the source",
    "computed": "calculated from figures that were seen, from a definition, or by another program",
    "memory": "from memory: the source's text was not at hand",
    "practice": "common practice, no source",
}
_ROUND_OFF = 1e-9  # a share of the figure below which a difference is double precision
_SMALL = 0.1  # a share of the tolerance below which a difference is shown without its digits
_MOST_SHOWN = 8


@dataclass(frozen=True)
class Figures:
    """The numbers of a row, and how it shows them.

    A processor of another kind may differ in the last digits, and an integrator that chooses its
    own steps makes more of that: what is shown must not hang on it.
    """

    published: np.ndarray
    ours: np.ndarray
    bound: np.ndarray
    program: bool

    def shown(self) -> dict[str, str]:
        """Return the cells of the row."""
        bound = 100 * self.bound if self.program else self.bound
        return {
            "published": _listed(self.published, bound if self.program else 0 * bound),
            "ours": _listed(self.ours, bound),
            "difference": "inside" if self.program else self._apart(),
        }

    def nudged(self, published: float, ours: float) -> Figures:
        """Return the same with each figure greater by a share of it."""
        return replace(
            self, published=self.published * (1 + published), ours=self.ours * (1 + ours)
        )

    def _apart(self) -> str:
        """Name the difference that comes nearest to its tolerance; its digits if they mean much."""
        apart = self.ours - self.published
        shares = np.abs(apart) / np.where(self.bound > 0, self.bound, 1.0)
        worst = int(np.argmax(np.round(shares, 3)))  # of two alike, the first
        if abs(apart[worst]) <= _ROUND_OFF * max(abs(self.published[worst]), 1e-6):
            return "round-off"
        if np.round(shares[worst], 3) < _SMALL:
            return "under a tenth"
        return f"{_settled(apart[worst], 2):+.2g}"


@dataclass(frozen=True, kw_only=True)
class Case:
    """One outside check that has passed."""

    topic: str
    quantity: str
    source: str
    tag: str
    inputs: str
    published: str
    ours: str
    difference: str
    tolerance: str
    why: str
    test: str
    figures: Figures | None = None  # what the row was written from; None for a text

    @property
    def order(self) -> tuple[str, ...]:
        return (self.topic, self.source, self.test, self.quantity, self.inputs, self.published)


@dataclass
class Cases:
    """The checks of one test run."""

    found: list[Case] = field(default_factory=list)

    def check(
        self,
        test: str,
        *,
        topic: str,
        quantity: str,
        source: str,
        tag: str,
        inputs: str,
        published: float | Sequence[float] | str,
        ours: float | Sequence[float] | str,
        tolerance: float | None = None,
        relative: float | None = None,
        why: str,
        agrees: bool | None = None,
        program: bool = False,
    ) -> None:
        """Compare ours with a published figure, and record it.

        `tolerance` is absolute, `relative` a share of the published figure. A published text is
        compared as it is printed; where a text states a fact or a span, `agrees` says whether ours
        is as it says. Figures of another `program` are shown no finer than the tolerance: its next
        release may differ in the last digits, and the page need not.
        """
        assert tag in TAGS, f"{tag!r}: expected {' | '.join(TAGS)}"
        for text in (topic, quantity, source, inputs, why):
            assert text.strip(), "a check without its source, inputs and reason is none"
        if isinstance(published, str):
            assert tolerance is relative is None, "a text has no tolerance"
            found = _of_texts(published, str(ours), agrees)
        else:
            assert agrees is None, "numbers agree to a tolerance"
            found = _of_numbers(published, ours, tolerance, relative, program)
        words = {"topic": topic, "quantity": quantity, "source": source, "inputs": inputs}
        self.found.append(Case(**words, tag=tag, why=why, test=test, **found))


def _of_texts(published: str, ours: str, agrees: bool | None) -> dict[str, Any]:
    if agrees is None:
        assert ours == published
        return {"published": published, "ours": ours, "difference": "none", "tolerance": "exact"}
    assert agrees, f"published: {published}; ours: {ours}"
    return {"published": published, "ours": ours, "difference": "agrees", "tolerance": "as stated"}


def _of_numbers(published, ours, tolerance, relative, program) -> dict[str, Any]:  # type: ignore[no-untyped-def]
    assert (tolerance is None) != (relative is None), "either a tolerance or a relative one"
    theirs = np.atleast_1d(np.asarray(published, dtype=float))
    mine = np.atleast_1d(np.asarray(ours, dtype=float))
    assert theirs.ndim == 1
    assert theirs.shape == mine.shape
    bound = np.abs(theirs) * relative if tolerance is None else np.full(theirs.shape, tolerance)
    assert np.all(np.isfinite(bound))
    assert np.all(bound >= 0)
    apart = mine - theirs
    inside = np.abs(apart) <= bound  # False for what is no number
    assert np.all(inside), f"published {theirs}, ours {mine}, apart {apart}, tolerance {bound}"
    figures = Figures(theirs, mine, bound, program)
    told = f"{tolerance:.2g}" if tolerance is not None else _share(float(relative))
    return {"figures": figures, "tolerance": told, **figures.shown()}


def _share(relative: float) -> str:
    return f"{100 * relative:.2g} %" if relative >= 1e-4 else f"{relative:.1g} of it"


def _listed(values: np.ndarray, bound: np.ndarray) -> str:
    texts = [_number(x, b) for x, b in zip(values.tolist(), bound.tolist(), strict=True)]
    if len(texts) > _MOST_SHOWN:
        texts = [*texts[:3], "...", *texts[-3:]]
    return "; ".join(texts)


def _number(value: float, bound: float) -> str:
    """Return enough digits to see a difference of a tenth of the tolerance, and no more."""
    digits = 8
    if bound > 0 and value != 0:
        digits = min(max(3, _decade(value) - _decade(bound / 10) + 1), 8)
    value = _settled(value, digits)
    text = f"{value:.{digits}g}"
    if "e" in text and 1e-4 <= abs(value) < 1e9:
        text = f"{float(text):.0f}" if abs(value) >= 1 else f"{float(text):f}"
    return "0" if value == 0 else text


def _decade(value: float) -> int:
    return math.floor(round(math.log10(abs(value)), 6))


def _settled(value: float, digits: int) -> float:
    """Round in two steps, so that a figure that ends in a 5 goes one way on every processor."""
    return float(f"{Decimal(f'{value:.{digits + 3}g}'):.{digits}g}")


# --- the page ------------------------------------------------------------------------------------

_HEAD = ("Quantity; inputs", "Published", "Ours", "Difference", "Tolerance, and why", "Source",
         "Tag")  # fmt: skip


def page(cases: Iterable[Case], credibility: str) -> str:
    """Return the page as Markdown."""
    rows = sorted(cases, key=lambda case: case.order)
    assert len({case.order for case in rows}) == len(rows), "the same check is recorded twice"
    counts = Counter(case.tag for case in rows)
    topics = sorted({case.topic for case in rows})
    tests = len({case.test for case in rows})
    lines = [
        "# Validation: what was checked against what",
        "",
        f"<!-- Written by `{COMMAND}`. Do not edit: a test compares. -->",
        "",
        f"{len(rows)} rows, recorded by {tests} tests, each a comparison with something outside "
        "this project: a printed figure, a formula, a fact in words, another program, or lore of "
        "the trade. The tag says which. Each row is "
        "written by the test that makes the comparison, after it has passed, and the test command "
        "fails when this page is out of date. Where several figures are compared in one row, the "
        "difference is the one that comes nearest to its tolerance. `round-off` is less than 1e-9 "
        "of the figure; `under a tenth` is less than a tenth of the tolerance, and its digits may "
        "be no more than those of the processor; `inside` stands where the figures are those of "
        "another program.",
        "",
        "How well a source is known:",
        "",
        "| Tag | Meaning | Rows |",
        "|---|---|---|",
        *(f"| {tag} | {meaning} | {counts[tag]} |" for tag, meaning in TAGS.items()),
        "",
        _filled(credibility, rows).strip(),
        "",
        *_relations(),
        "## The checks",
        "",
    ]
    for topic in topics:
        lines += [f"### {topic}", "", f"| {' | '.join(_HEAD)} |", f"|{len(_HEAD) * '---|'}"]
        lines += [_row(case) for case in rows if case.topic == topic]
        lines.append("")
    return "\n".join(lines).rstrip() + "\n"


def _relations() -> list[str]:
    """Return what must hold between two answers, whatever the machine: one line a relation."""
    count = sum(map(len, GROUPS.values()))
    fast, long = (
        sum(len(group) * TRIED[where][profile] for where, group in GROUPS.items())
        for profile in (0, 1)
    )
    lines = [
        "## Relations between two answers",
        "",
        "Nobody knows the right number for a machine drawn at random. But what a change must do "
        "to it is known: more mass is never faster uphill, twice the torque on twice the capacity "
        f"runs at the same speeds, a segment in two halves takes as long. {count} such relations "
        "are held over random machines of all kinds (one-way, fixed and no stator, wheels and "
        "tracks, all charging, both ways of governing, two to five gears): "
        f"{fast} comparisons in every run of the tests, {long} with `--hypothesis-profile=long` "
        "(`tests/properties/relations.py`).",
        "",
        "| Where | Relation | Machines in a run, in a long one |",
        "|---|---|---|",
    ]
    for where, group in GROUPS.items():
        tried = "{}, {}".format(*TRIED[where])
        lines += [f"| {where} | {relation.__doc__} | {tried} |" for relation in group.values()]
    return [*lines, ""]


def _row(case: Case) -> str:
    cells = (
        f"{case.quantity}; {case.inputs}",
        case.published,
        case.ours,
        case.difference,
        f"{case.tolerance}: {case.why}",
        f"{case.source} (`{case.test}`)",
        case.tag,
    )
    return "| " + " | ".join(cell.replace("|", "\\|").replace("\n", " ") for cell in cells) + " |"


def _filled(text: str, rows: Sequence[Case]) -> str:
    """Put the counts into the summary: ``{rows}``, ``{rows:Topic}``, ``{tag:seen}``.

    And what `broken_on_purpose` returns as a table, for ``{broken}``.
    """

    def value(match: re.Match[str]) -> str:
        kind, _, name = match[1].partition(":")
        if kind == "broken":
            return _table_of_broken()
        if kind == "rows" and not name:
            return str(len(rows))
        found = sum(name == (case.topic if kind == "rows" else case.tag) for case in rows)
        assert found or kind == "tag", f"no check under {name!r}"
        return str(found)

    return re.sub(r"\{((?:rows|tag)(?::[^}]+)?|broken)\}", value, text)


def broken_on_purpose() -> dict[str, dict[str, str]]:
    """Return what the last runs of benchmarks/mutation.py came to, by what was changed."""
    recorded = json.loads(MUTATION.read_text(encoding="utf-8"))
    return {floors: _quoted(summary) for floors, summary in recorded.items()}


def _quoted(summary: dict[str, Any]) -> dict[str, str]:
    counts = summary["all"]
    low, high = (f"{100 * bound:.1f}" for bound in summary["code_noticed_interval_95"])
    return {
        "in all": str(summary["changes_in_all"]["code"]),
        "tried": str(counts["code"]),
        "noticed": str(counts["code noticed"]),
        "rate": f"{100 * counts['code noticed'] / counts['code']:.1f}",
        "interval": f"{low} to {high}",
        "by": ", ".join(f"`{folder}`" for folder in summary["tests"]),
        "version": summary["version"],
    }


def _table_of_broken() -> str:
    heads = ("Changed", "Changes there are", "Tried", "Noticed", "%", "95 % interval",
             "By the type checker and", "Version")  # fmt: skip
    lines = [heads, ("---",) * len(heads)]
    lines += [(floors, *cells.values()) for floors, cells in broken_on_purpose().items()]
    return "\n".join("  | " + " | ".join(line) + " |" for line in lines)
