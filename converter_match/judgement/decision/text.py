"""A study's result as text."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from converter_match.judgement.verdict.measure import amount
from converter_match.study.study import PRESENT
from converter_match.units import System

if TYPE_CHECKING:
    from converter_match.judgement.decision.run import StudyResult

_WIDTH = 100
_SIGN = {"pass": "pass", "marginal": "MARGINAL", "not known": "NOT KNOWN", "fail": "FAIL"}


def text_of(result: StudyResult, system: System) -> str:
    """Return decision, criteria and differences."""
    decision = result.decided(system)
    lines = [result.study.name, "", f"Decision: {decision.kind}. {decision.headline}", "", "Why:"]
    lines += _listed(decision.reasons)
    lines += ["", "Before ordering:", *_listed(decision.before_ordering), ""]
    lines += _criteria(result)
    lines += [""]
    first, *others = result.comparison.conditions
    lines += [*_figures(result, first, system), ""]
    if others:
        lines += [f"Also looked at: {'; '.join(others)} (in the report and its tables).", ""]
    audit = result.extras.get("audit")
    if audit is not None:
        lines += [audit.text(system), ""]
    for name, why in result.not_applied:
        lines.append(f"not applied: {name} ({why})")
    return "\n".join(lines).rstrip()


def _listed(items: tuple[str, ...]) -> list[str]:
    return [
        line.replace("\N{NO-BREAK SPACE}", " ")
        for item in items
        for line in textwrap.wrap(item, _WIDTH, initial_indent="  - ", subsequent_indent="    ")
    ]


def _criteria(result: StudyResult) -> list[str]:
    combinations = [item.combination for item in result.assessments]
    rows = [["criterion", "weight", *combinations]]
    for choice in result.study.criteria:
        found = [item.finding(choice.name) for item in result.assessments]
        if any(found):
            cells = ["-" if item is None else _SIGN[str(item.verdict)] for item in found]
            rows.append([choice.spec.title, choice.weight, *cells])
    rows.append(["overall", "", *(_SIGN[str(item.verdict)] for item in result.assessments)])
    return _aligned(rows)


def _figures(result: StudyResult, condition: str, system: System) -> list[str]:
    names = [name for name, _ in result.comparison.names]
    rows = [[condition, *names]]
    for item in result.comparison.in_condition(condition):
        cells = []
        for name in names:
            value = item[name]
            cell = "-" if value is None else amount(value, item.dimension, system)
            share = item.share(name)
            if name != PRESENT and share is not None and item.dimension != "temperature":
                cell += f" ({100 * share:+.0f} %)"
            cells.append(cell)
        rows.append([item.title, *cells])
    return _aligned(rows)


def _aligned(rows: list[list[str]]) -> list[str]:
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return [
        "  ".join(
            [row[0].ljust(widths[0])]
            + [cell.rjust(width) for cell, width in zip(row[1:], widths[1:], strict=True)]
        ).rstrip()
        for row in rows
    ]
