"""Page one of a report: the answer, the figures asked about, one picture, one thing to do next."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from converter_match.answer.block import Block, Heading
from converter_match.judgement.decision.comparison import effort_lines
from converter_match.judgement.decision.run import StudyResult
from converter_match.judgement.evidence.next_reading import NextReading
from converter_match.judgement.uncertainty.result import UncertaintyResult
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.judgement.verdict.words import VERDICTS
from converter_match.judgement.wheels.result import GradeRow
from converter_match.notes import Note
from converter_match.present.drawing.style import figure_of
from converter_match.present.figures.comparison import compared_efforts, letters
from converter_match.present.report.asked import Asked, asked
from converter_match.present.report.blocks import report_table
from converter_match.present.report.model import (
    Paragraph,
    Part,
    ReportPicture,
    ReportTable,
    Section,
    Signature,
    Subheading,
    Verdicts,
)
from converter_match.present.report.sources import CAUTIONS
from converter_match.present.report.words import (
    ANSWER,
    NEXT,
    ODDS,
    SETTLE_NEXT,
)
from converter_match.study.study import PRESENT, Study
from converter_match.units import System, note_text

_TOLD_FIRST = ("tolerance-of-a-part", "tolerance-shifted")
"""Notes on tolerances that are not those of every machine: they stand beside the probability."""
_NONE = "–"


def particulars(study: Study) -> tuple[tuple[str, str], ...]:
    """Return for whom, about what and when; what the study does not say is left to be filled in."""
    machine = study.combinations[0].machine
    return (
        ("Customer", study.customer),
        ("Machine", "" if machine is None else machine.name),
        ("Serial number", study.machine_serial_number),
        ("Date", study.date),
        ("Author", study.author),
    )


def first_page(result: StudyResult, system: System) -> Section:
    """Return the decision with the figures that the study asks about.

    Parameters
    ----------
    result : StudyResult
    system : {"si", "us"}
    """
    decision, units = result.decision, asked(result.study, system)
    headline = note_text(decision.headline, system)
    said = (_answer(result, units), _sureness(result, system))
    parts: list[Part] = [
        Verdicts(word=decision.word.upper(), text=headline),
        Paragraph(text=" ".join(text for text in said if text)),
        Paragraph(text=note_text(decision.rule, system), look="small"),
        _table(result, units),
    ]
    if any(effort_lines(items[0]) is not None for items in result.outcomes):
        axes = compared_efforts(result, system=system, font_scale=1.15, height=3.3, key=False)
        caption = (
            f"Tractive effort over road speed, {result.study.conditions[0].name}. Grey: what each "
            "grade takes; a machine settles where its line crosses."
        )
        picture = ReportPicture(
            name="effort-compared", figure=figure_of(axes), caption=caption, width=6.6
        )
        parts.append(picture)
    step = next_step(result)
    parts += [
        Subheading(text=SETTLE_NEXT),
        Paragraph(text=note_text(step, system)),
        *(
            Paragraph(text=note_text(note, system), look="small")
            for note in _measuring(result, step)
        ),
        Paragraph(text=CAUTIONS[0], look="caution"),
        Signature(labels=("Decided by", "Date", "Order no.")),
    ]
    return Section(title="The decision", parts=tuple(parts), one_page=True)


def chance(probability: float) -> str:
    """Return a probability in words that claim no more than draws can know.

    Examples
    --------
    >>> chance(1.0), chance(0.834), chance(0.0)
    ('more than 99 %', '83 %', 'less than 1 %')
    """
    if probability > 0.99:
        return "more than 99 %"
    return "less than 1 %" if probability < 0.01 else f"{100 * probability:.0f} %"


def _sureness(result: StudyResult, system: System) -> str:
    """Return the probability of all required criteria, or why there is none."""
    sure = result.sure
    if sure is None:
        return note_text(ODDS.note("not-drawn"), system)
    said = [note for note in sure.notes if note.code in _TOLD_FIRST]
    notes = (_odds(sure, result.decision.combination), *_read(result), *said)
    return " ".join(note_text(note, system) for note in notes)


def _read(result: StudyResult) -> tuple[Note, ...]:
    """Return whether that is after the readings, or that nothing can be made of them."""
    read, first = result.evidence, result.decision.combination
    if read is None:
        return ()
    if not read.accepted:
        return (ODDS.note("readings-unsettled"),)
    before = next(row.before for row in read.odds if row.combination == first and not row.criterion)
    return () if before is None else (ODDS.note("readings-count", chance=chance(before)),)


def _odds(sure: UncertaintyResult, combination: str) -> Note:
    drawn = sure.of(combination)
    if drawn.all_musts is not None:
        return ODDS.note("all", chance=chance(drawn.all_musts), draws=sure.draws)
    held = [
        (row.probability, row.title.lower())
        for row in drawn.criteria
        if row.weight == "must" and row.probability is not None
    ]
    if not held:
        return ODDS.note("not-drawn")
    likely, title = min(held)
    return ODDS.note("least", count=len(held), draws=sure.draws, title=title, chance=chance(likely))


def next_step(result: StudyResult) -> Note:
    """Return the one thing to settle next for the candidate that comes first.

    What is required goes before what is preferred; a datum that lacks for a required criterion
    before a reading that would change the decision, and that before what a person may accept.
    """
    first = result.assessment(result.decision.combination)
    if first.failed_musts:
        worst = first.failed_musts[0]
        return NEXT.note("no-candidate", title=worst.spec.title.lower(), measured=worst.note)
    lacking = [what for item in first.unknown if item.weight == "must" for what in item.missing]
    if lacking:
        return NEXT.note("find-out", what=lacking[0])
    if result.evidence is not None and not result.evidence.accepted:
        odd = tuple(note for item in result.evidence.readings for note in item.points_to[:2])
        return NEXT.note("settle-readings", why=odd or result.evidence.contradictions)
    reading = _reading_next(result)
    if reading is not None and reading.first:
        return reading.note
    sheet = next(item for item in result.sheets if item.combination == first.combination)
    for row in sheet.of("differs"):
        left, right = row.sides
        sides = {"left": left, "first": row.left, "right": right, "second": row.right}
        return NEXT.note("settle", item=row.title, **sides)
    for item in (*first.failed_shoulds, *first.marginal):
        return NEXT.note("accept", title=item.spec.title.lower(), measured=item.note)
    return NEXT.note("find-out", what=first.missing[0]) if first.missing else NEXT.note("confirm")


def _reading_next(result: StudyResult) -> NextReading | None:
    """Return what to measure for the candidate that comes first."""
    every = result.measure_next
    return None if every is None else every.of(result.decision.combination)


def _measuring(result: StudyResult, step: Note) -> tuple[Note, ...]:
    """Return what to measure, where the next step does not say it, and what that can do to people.

    Also where nothing is worth measuring: then it is said why.
    """
    reading = _reading_next(result)
    if reading is None:
        return ()
    said = () if step == reading.note else (reading.note,)
    return (*said, *reading.cautions)


def _asked_grade(study: Study) -> float | None:
    """Return the continuous grade, or the steepest one that is to be climbed."""
    if study.duty.continuous_grade is not None:
        return study.duty.continuous_grade
    return max(study.duty.grades) if any(study.duty.grades) else None


def _on(item: Outcome, grade: float | None) -> GradeRow | None:
    rows = () if item.tractive is None else item.tractive.grades
    return next((row for row in rows if row.grade == grade), None)


def _answer(result: StudyResult, units: Asked) -> str:
    """Return the question answered for the candidate that comes first."""
    first = result.outcome(result.decision.combination)
    present = result.outcome(PRESENT) if result.study.present is not None else None
    clauses = [*_grade_answer(result.study, first, present, units)]
    for column, run in enumerate(first.routes[:1]):
        if run is not None and run.standstill is None:
            other = None if present is None else present.routes[column]
            arrived = other is not None and other.standstill is None
            before = units.text(other.time, "time") if other is not None and arrived else None
            clauses.append(_clause("time", before, value=units.text(run.time, "time")))
    return "; ".join(clauses) + "." if clauses else ""


def _clause(code: str, before: str | None, **values: str) -> str:
    text = note_text(ANSWER.note(code, **values), "si")
    return text if before is None else text + note_text(ANSWER.note("present", value=before), "si")


def _grade_answer(
    study: Study, first: Outcome, present: Outcome | None, units: Asked
) -> Iterator[str]:
    """Yield speed and heat on the grade that is asked about."""
    grade = _asked_grade(study)
    row, before = _on(first, grade), None if present is None else _on(present, grade)
    if row is None or grade is None:
        return
    said = units.text(grade, "weight_share")
    if row.speed is None:
        yield _clause("no-speed", None, grade=said)
        return
    old = None if before is None or before.speed is None else units.text(before.speed, "velocity")
    code = "speed" if study.duty.continuous_grade is not None else "speed-grade"
    yield _clause(code, old, grade=said, value=units.text(row.speed, "velocity"))
    if row.heat is not None:
        heat, capacity = units.text(row.heat, "power"), _capacity(first, study, units)
        if capacity is None:
            yield _clause("heat-alone", None, heat=heat)
        else:
            yield _clause("heat", None, heat=heat, capacity=capacity)


def _capacity(item: Outcome, study: Study, units: Asked) -> str | None:
    """Return what the oil may take in for good: by the cooler, or by a limit of the study."""
    cooler = None if item.tractive is None else item.tractive.cooler_capacity
    known = [value for value in (cooler, study.limits.heat) if value is not None]
    return units.text(min(known), "power") if known else None


def _table(result: StudyResult, units: Asked) -> ReportTable:
    """Return the figures that are asked about, a column for each combination."""
    study, names = result.study, letters(result)
    outcomes = [items[0] for items in result.outcomes]
    rows = []
    for title, read in _asked_figures(result, units):
        cells = [read(item) for item in outcomes]
        if any(cell is not None for cell in cells):
            rows.append((title, *(cell or _NONE for cell in cells)))
    verdicts = tuple(item.verdict for item in result.assessments)
    ids = [item.combination for item in result.assessments]
    heads = (Heading(name, names[name], choices=VERDICTS) for name in ids)
    block = Block(
        "",
        columns=(Heading("figure", "asked about"), *heads),
        rows=(*rows, ("Verdict, over all criteria and conditions", *verdicts)),
    )
    listed = "; ".join(f"{names[item.combination]}: {item.name}" for item in result.assessments)
    caption = f"{study.conditions[0].name}. {listed}."
    return report_table(block, units.system, caption=caption, widths=(2.5, *(1.1 for _ in ids)))


_Read = Callable[[Outcome], str | None]


def _asked_figures(result: StudyResult, units: Asked) -> Iterator[tuple[str, _Read]]:
    """Yield what the study asks about, and how to read it off an outcome."""
    study, limits = result.study, result.study.limits
    stall = (limits.stall_speed_least, limits.stall_speed_most)
    yield (
        _required("Stall speed", *stall, "angular_speed", units),
        _figure(result, "stall_speed", "angular_speed", units),
    )
    if limits.engine_speed is not None:
        title = _required("High idle", None, limits.engine_speed, "angular_speed", units)
        yield title, _figure(result, "high_idle", "angular_speed", units)
    yield "Maximum drawbar pull", _figure(result, "greatest_pull", "force", units)
    grade = _asked_grade(study)
    if grade is not None:
        said = units.text(grade, "weight_share")
        yield f"Speed on {said} grade", lambda item: _speed_on(item, grade, units)
        title = "Continuous heat there, of what the cooler takes"
        yield title, lambda item: _heat_on(item, grade, study, units)
    top = (limits.top_speed_least, limits.top_speed_most)
    if top != (None, None):
        title = _required("Top speed", *top, "velocity", units)
        yield title, _figure(result, "top_speed", "velocity", units)
    for route in study.duty.routes:
        title = f"Time, {route.name}" if len(study.duty.routes) > 1 else "Cycle time on the route"
        yield title, _figure(result, f"time_{route.id}", "time", units)
    if result.sure is not None:
        sure = result.sure
        yield "Probability of all required criteria", lambda item: _all_required(sure, item)


def _figure(result: StudyResult, key: str, dimension: str, units: Asked) -> _Read:
    """Return how to read a compared figure of the first condition."""
    first = result.comparison.in_condition(result.study.conditions[0].name)
    found = next((item for item in first if item.key == key), None)

    def read(item: Outcome) -> str | None:
        value = None if found is None else found[item.combination.id]
        return None if value is None else units.text(value, dimension)

    return read


def _required(
    title: str, least: float | None, most: float | None, dimension: str, units: Asked
) -> str:
    bounds = [
        f"{word} {units.text(value, dimension)}"
        for word, value in (("min.", least), ("max.", most))
        if value is not None
    ]
    return f"{title} (required: {', '.join(bounds)})" if bounds else title


def _speed_on(item: Outcome, grade: float, units: Asked) -> str | None:
    row = _on(item, grade)
    if row is None:
        return None
    return "does not climb it" if row.speed is None else units.text(row.speed, "velocity")


def _heat_on(item: Outcome, grade: float, study: Study, units: Asked) -> str | None:
    row = _on(item, grade)
    if row is None or row.heat is None:
        return None
    capacity = _capacity(item, study, units)
    return units.text(row.heat, "power") + ("" if capacity is None else f" of {capacity}")


def _all_required(sure: UncertaintyResult, item: Outcome) -> str | None:
    probability = sure.of(item.combination.id).all_musts
    return None if probability is None else chance(probability)
