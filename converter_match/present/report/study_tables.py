"""The tables of a study's result, as rows with the unit in the key or beside the value."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from converter_match.answer.block import Block, Heading, row_of, rows_of_arrays
from converter_match.answer.csv_table import block_csv, csv_text
from converter_match.judgement.decision.comparison import effort_lines
from converter_match.judgement.decision.run import StudyResult
from converter_match.judgement.decision.thresholds import threshold_block
from converter_match.judgement.match.result import POINT
from converter_match.judgement.verdict.measure import TIMES, measure_note
from converter_match.units import System, note_plain, note_text, show


def study_tables(result: StudyResult, system: System = "si") -> Mapping[str, str]:
    """Return file name -> CSV text of every table.

    Parameters
    ----------
    result : StudyResult
    system : {"si", "us"}
    """
    rows: dict[str, list[dict[str, Any]]] = {
        "criteria.csv": list(_criteria(result, system)),
        "thresholds.csv": list(threshold_block(result.thresholds).records()),
        "comparison.csv": list(_comparison(result, system)),
        "bolt-on.csv": list(_bolt_on(result)),
        "notes.csv": list(_notes(result, system)),
        "inputs.csv": list(result.inputs().records()),
    }
    blocks = {
        "effort-by-gear.csv": result.comparison.gear_rows(),
        "match-points.csv": _points(result),
        "effort.csv": _efforts(result),
    }
    return {
        **{name: csv_text(table) for name, table in rows.items() if table},
        **{name: block_csv(block, system) for name, block in blocks.items() if block.rows},
    }


def _value(value: float | None, dimension: str, system: System) -> tuple[float | None, str]:
    """Return a value in trade units and the unit."""
    if dimension in ("count", TIMES):
        return value, ""
    number, unit = show(0.0 if value is None else value, dimension, system)
    if dimension in ("ratio", "weight_share"):
        number, unit = 100.0 * (value or 0.0), "%"
    return (None if value is None else float(number)), unit


def _criteria(result: StudyResult, system: System) -> Iterator[dict[str, Any]]:
    for assessment in result.assessments:
        for finding in assessment.findings:
            for item in finding.judged:
                measure = item.measure
                value, unit = _value(measure.value, measure.dimension, system)
                yield {
                    "combination": assessment.combination,
                    "criterion": finding.choice.name,
                    "weight": finding.weight,
                    "condition": item.condition,
                    "verdict": str(item.verdict),
                    "value": value,
                    "least": _value(measure.least, measure.dimension, system)[0],
                    "most": _value(measure.most, measure.dimension, system)[0],
                    "unit": unit if value is not None else "",
                    "reserve": measure.reserve,
                    "missing": "; ".join(measure.missing),
                    "found": note_text(measure_note(measure), system),
                }


def _comparison(result: StudyResult, system: System) -> Iterator[dict[str, Any]]:
    for figure in result.comparison.figures:
        for name, value in figure.values:
            number, unit = _value(value, figure.dimension, system)
            difference = figure.share(name)
            yield {
                "condition": figure.condition,
                "figure": figure.title,
                "combination": name,
                "value": number,
                "unit": unit,
                "difference_percent": None if difference is None else 100.0 * difference,
                "judged": figure.judged(name),
            }


def _bolt_on(result: StudyResult) -> Iterator[dict[str, Any]]:
    for sheet in result.sheets:
        for row in sheet.table("bolt_on").records():
            yield {"combination": sheet.combination, **row}


def _points(result: StudyResult) -> Block:
    """Return the named points of every match."""
    rows = tuple(
        (item.combination.id, item.condition.name, named.words, *row_of(named.point, POINT))
        for items in result.outcomes
        for item in items
        if not item.missing
        for named in item.match.key_points()
        if named.point is not None
    )
    return Block("", columns=(*_WHERE, Heading("point", "point"), *POINT), rows=rows)


def _efforts(result: StudyResult) -> Block:
    """Return the greatest effort within grip over road speed."""
    rows: list[tuple[Any, ...]] = []
    for items in result.outcomes:
        for item in items:
            lines = effort_lines(item)
            if lines is None:
                continue
            known = np.isfinite(lines[1])
            where = item.combination.id, item.condition.name
            rows += [(*where, *row) for row in rows_of_arrays(lines[0][known], lines[1][known])]
    return Block("", columns=(*_WHERE, *_EFFORT), rows=tuple(rows))


_WHERE = (Heading("combination", "combination"), Heading("condition", "condition"))
_EFFORT = (
    Heading("speed", "road speed", "velocity"),
    Heading("tractive_effort", "tractive effort", "force"),
)


def _notes(result: StudyResult, system: System) -> Iterator[dict[str, Any]]:
    for combination in result.study.combinations:
        for note in result.notes_of(combination.id):
            said = note_plain(note) | {"message": note_text(note, system)}
            yield {"combination": combination.id, **said}
