"""What a motor study comes to: criteria, figures side by side, and which candidate to take."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

import numpy as np

from converter_match.answer.block import Block, Heading, NoValue, Quantity, row_of
from converter_match.answer.noted import Answer
from converter_match.answer.remarks import odd_block
from converter_match.judgement.haul.result import RouteResult
from converter_match.judgement.motor import study_words as words
from converter_match.judgement.motor import words as motor_words
from converter_match.judgement.motor.drawn_study import MotorDraws
from converter_match.judgement.motor.hold import MotorHold
from converter_match.judgement.motor.route_result import MotorRoute
from converter_match.judgement.motor.tractive_result import MotorTractive
from converter_match.judgement.wheels.result import TractiveResult
from converter_match.notes import Note
from converter_match.study.decision_rule import DecisionRule
from converter_match.study.motor_study import MotorCandidate, MotorStudy
from converter_match.study.names import whose_in_doubt
from converter_match.study.study import PRESENT
from converter_match.version import __version__

Status = Literal["pass", "close", "fail", "unknown", "not-asked"]
# Share of the energy below which two candidates are said to be alike.
ALIKE = 0.05
# Of the draws in which all is met together, for a clear yes: as for engines.
ENOUGH = DecisionRule.order_probability
_SCHEMA = "converter-match/motor-study-result/1"
_INPUTS = (Heading("role", "read as"), Heading("path", "file"), Heading("sha256", "SHA-256"))


@dataclass(frozen=True)
class MotorFinding:
    """What one criterion says of one candidate.

    Parameters
    ----------
    name : str
    status : {"pass", "close", "fail", "unknown", "not-asked"}
    value, bound : float or None
        SI.
    least : bool
        Whether the value has to be at least the bound; else at most.
    amount : str or None
        Of both.
    """

    name: str
    status: Status
    value: float | None
    bound: float | None
    least: bool
    amount: str | None


@dataclass(frozen=True, eq=False)
class PresentFigures:
    """The machine as it stands, with its engine.

    Parameters
    ----------
    wheels : TractiveResult
    routes : tuple of RouteResult
    effort, startability, top_speed, cycle_time : float or None
        [N], rise / run, [m/s], [s].
    """

    wheels: TractiveResult
    routes: tuple[RouteResult, ...]
    effort: float | None
    startability: float | None
    top_speed: float | None
    cycle_time: float | None


@dataclass(frozen=True, eq=False)
class JudgedMotor:
    """A candidate, worked out and judged.

    Parameters
    ----------
    candidate : MotorCandidate
    wheels : MotorTractive
    routes : tuple of MotorRoute
    held : MotorHold
    findings : tuple of MotorFinding
    notes : tuple of Note
    """

    candidate: MotorCandidate
    wheels: MotorTractive
    routes: tuple[MotorRoute, ...]
    held: MotorHold
    findings: tuple[MotorFinding, ...]
    notes: tuple[Note, ...]

    @property
    def failed(self) -> tuple[str, ...]:
        """Criteria that are not met."""
        return tuple(item.name for item in self.findings if item.status == "fail")

    @property
    def open(self) -> tuple[str, ...]:
        """Criteria of which nothing is known, or that are met only just."""
        return tuple(item.name for item in self.findings if item.status in ("unknown", "close"))

    @property
    def energy(self) -> float | None:
        """Net electric energy of the routes with the peak torque [J]; None without a route."""
        if not self.routes:
            return None
        return sum(route.runs["peak"].energy.net for route in self.routes)

    def finding(self, name: str) -> MotorFinding:
        """Return what a criterion says."""
        return next(item for item in self.findings if item.name == name)


@dataclass(frozen=True, eq=False)
class MotorStudyResult(Answer):
    """Everything that a motor study comes to.

    Parameters
    ----------
    study : MotorStudy
    present : PresentFigures or None
    candidates : tuple of JudgedMotor
    draws : MotorDraws or None
        Within the tolerances; None where none were made.
    """

    study: MotorStudy
    present: PresentFigures | None
    candidates: tuple[JudgedMotor, ...]
    draws: MotorDraws | None = None

    @property
    def chosen(self) -> JudgedMotor | None:
        """Of the candidates that meet every requirement the one to take; None where there is none.

        The least net energy of the routes decides; without a route the startability.
        """
        good = [item for item in self.candidates if not item.failed]
        return min(good, key=_rank) if good else None

    @property
    def fails(self) -> bool:
        """Whether no candidate meets every requirement."""
        return self.chosen is None

    @property
    def word(self) -> str:
        """The decision in a few words."""
        best = self.chosen
        if best is None:
            return words.WORDS["none"]
        said = words.WORDS["direct" if best.candidate.converter is None else "keep"]
        unsure = self.sureness is not None and self.sureness < ENOUGH
        reserved = best.open or unsure or self.in_doubt
        return said + (words.CONDITIONAL if reserved else "")

    @property
    def in_doubt(self) -> tuple[str, ...]:
        """Whose data are in doubt, of what is taken and of the present machine; each once."""
        best = self.chosen
        ids = (PRESENT,) if best is None else (best.candidate.id, PRESENT)
        return whose_in_doubt(self.study.doubts, ids)

    @property
    def sureness(self) -> float | None:
        """Share of the draws in which what is taken meets everything; None without draws."""
        best = self.chosen
        return None if best is None or self.draws is None else self.draws.joint[best.candidate.id]

    @cached_property
    def reasons(self) -> tuple[Note, ...]:
        """The decision and why, in sentences."""
        best = self.chosen
        if best is None:
            nearest = min(self.candidates, key=lambda item: len(item.failed))
            listed = ", ".join(words.TITLES[name] for name in nearest.failed)
            none = words.decision("none", name=nearest.candidate.name, items=listed)
            whose = dict.fromkeys(part for _, part, _ in self.study.doubts)
            if not whose:
                return (none,)
            return none, words.decision("none-in-doubt", whose=", ".join(whose))
        good = sorted((item for item in self.candidates if not item.failed), key=_rank)
        notes = [self._chosen(best, good)]
        if len(good) > 1 and best.energy and good[1].energy is not None:
            apart = (good[1].energy - best.energy) / best.energy
            if apart < ALIKE:
                notes.append(words.decision("close-call", share=ALIKE))
        if best.open:
            listed = "; ".join(
                f"{words.TITLES[name]} is {words.STATUSES[best.finding(name).status]}"
                for name in best.open
            )
            notes.append(words.decision("conditional", items=listed))
        if self.in_doubt:
            notes.append(words.decision("data-in-doubt", whose=", ".join(self.in_doubt)))
        if self.sureness is not None:
            code = "sure-enough" if self.sureness >= ENOUGH else "not-sure"
            notes.append(words.decision(code, share=self.sureness, asked=ENOUGH))
        return tuple(notes)

    def _chosen(self, best: JudgedMotor, good: Sequence[JudgedMotor]) -> Note:
        if len(good) == 1:
            why = words.decision("only-one")
        elif best.energy is None:
            start = best.wheels.startability["peak"] or 0.0
            why = words.decision("highest-start", start=start)
        else:
            other = good[1]
            why = words.decision(
                "least-energy",
                net=best.energy,
                other=other.candidate.name,
                more=other.energy or 0.0,
            )
        name, ratio = best.candidate.name, best.candidate.ratio
        if best.candidate.converter is not None:
            return words.decision("keep-converter", name=name, why=why)
        how = words.NO_REDUCTION if ratio == 1.0 else words.REDUCTION.format(ratio=ratio)
        return words.decision("couple-directly", how=how, name=name, why=why)

    @property
    def notes(self) -> tuple[Note, ...]:  # type: ignore[override]
        """Every note of every candidate, once, the decision's own first."""
        doubts = words.decision("no-doubts")
        if self.draws is not None:
            count, left = float(self.draws.count), float(self.draws.left_out)
            doubts = words.decision("draws-made", count=count, left=left)
        own = (words.decision("proposal"), doubts)
        limits = {"limit"}
        each = [
            # A limit that one candidate exceeds is its criterion, not a failure of the study.
            Note(note.code, note.message, "warning" if note.kind in limits else note.kind,
                 note.values)
            for item in self.candidates
            for note in item.notes
        ]  # fmt: skip
        seen: dict[str, Note] = {}
        for note in each:
            seen.setdefault(note.code, note)
        return (*own, *seen.values())

    def blocks(self) -> Sequence[Block]:
        """Return decision, criteria, figures side by side, and what does not apply."""
        study = self.study
        said = [(Heading(key, ""), getattr(study, key)) for key in ("id", "name", "source")]
        top = ((Heading("schema", ""), _SCHEMA), (Heading("version", ""), __version__))
        best = self.chosen
        return (
            Block("", title=study.name, in_plain=False),
            Block("", facts=top, in_text=False),
            Block(
                "study",
                facts=(*said, (Heading("question", ""), study.question.strip())),
                in_text=False,
            ),
            Block(
                "inputs",
                columns=_INPUTS,
                rows=tuple(row_of(item, _INPUTS) for item in study.inputs),
                rows_key="",
                in_text=False,
            ),
            Block(
                "decision",
                title="Decision",
                facts=(
                    (Heading("word", "decision"), self.word),
                    (Heading("candidate", ""), None if best is None else best.candidate.id),
                    (Heading("reasons", ""), self.reasons),
                ),
                items=self.reasons,
            ),
            Block("", facts=((Heading("fails", ""), self.fails),), in_text=False),
            odd_block(study.odd),
            self.criteria(),
            *self.drawn(),
            self.figures(),
            self.not_applied(),
        )

    def drawn(self) -> tuple[Block, ...]:
        """Return in how many draws each criterion is met; nothing without draws."""
        if self.draws is None:
            return ()
        return (self.draws.block(tuple(item.candidate.id for item in self.candidates)),)

    def criteria(self) -> Block:
        """Return the verdict on every criterion, a column for each candidate."""
        heads = tuple(
            Heading(item.candidate.id, item.candidate.id, choices=words.STATUSES)
            for item in self.candidates
        )
        rows = []
        for name, title in words.TITLES.items():
            findings = [item.finding(name) for item in self.candidates]
            first = findings[0]
            bound: Any = NoValue("-")
            if first.bound is not None and first.amount is not None:
                bound = Quantity(first.bound, first.amount)
            sign = "min." if first.least else "max."
            rows.append((name, title, sign, bound, *(item.status for item in findings)))
        return Block(
            "criteria",
            title="Requirements",
            columns=(
                Heading("name", ""),
                Heading("title", "requirement"),
                Heading("sense", ""),
                Heading("bound", "required"),
                *heads,
            ),
            rows=tuple(rows),
            rows_key="",
        )

    def figures(self) -> Block:
        """Return what is compared, a column for the present machine and each candidate."""
        heads = tuple(Heading(item.candidate.id, item.candidate.id) for item in self.candidates)
        present = [] if self.present is None else [Heading("present", "present")]
        rows = []
        for key, said, amount, form in _FIGURES:
            values = [_figure(item, key) for item in self.candidates]
            before = [] if self.present is None else [_before(self.present, key)]
            cells = [
                NoValue("-") if value is None
                else NoValue(motor_words.FOR_GOOD) if np.isposinf(value)
                else Quantity(value, amount, form)
                for value in (*before, *values)
            ]  # fmt: skip
            rows.append((key, said, *cells))
        return Block(
            "figures",
            title="Side by side",
            columns=(Heading("name", ""), Heading("title", "figure"), *present, *heads),
            rows=tuple(rows),
            rows_key="",
        )

    def not_applied(self) -> Block:
        """Return the criteria of an engine's study that are not applied, and why."""
        return Block(
            "criteria_not_applied",
            title="Not applied: criteria of an engine",
            columns=(Heading("name", "criterion"), Heading("why", "why")),
            rows=words.NOT_APPLIED,
            rows_key="",
        )


def _rank(item: JudgedMotor) -> float:
    energy = item.energy
    return -(item.wheels.startability["peak"] or 0.0) if energy is None else energy


_FIGURES = (
    ("effort_peak", "effort at rest, peak", "force", ""),
    ("effort_continuous", "effort at rest, continuous", "force", ""),
    ("start_peak", "startability, peak", "grade", ".0f"),
    ("start_continuous", "startability, continuous", "grade", ".0f"),
    ("top_speed", "top speed on the level", "velocity", ""),
    ("cycle_time", "time of the routes, peak", "minutes", ".2f"),
    ("cycle_time_continuous", "time of the routes, continuous", "minutes", ".2f"),
    ("energy", "net electric energy of the routes", "electric_energy", ""),
    ("returned", "of it returned", "electric_energy", ""),
    ("converter_heat", "lost in the converter", "electric_energy", ""),
    ("motor_heat", "lost in the motor", "electric_energy", ""),
    ("oil", "maximum oil temperature on the routes", "temperature", ""),
    ("rms", "rms torque, of continuous", "share", ""),
    ("winding", "winding, of permitted rise", "share", ""),
    ("hold", "longest hold at full torque, wheels held", "time", ".0f"),
    ("hold_winding", "winding's limit from cold, wheels held", "time", ".0f"),
)


def _figure(item: JudgedMotor, key: str) -> float | None:
    ahead = [row for row in item.wheels.gears if row.direction == "forward"]
    peak = [route.runs["peak"] for route in item.routes]
    steady = [route.runs["continuous"] for route in item.routes]
    start = item.wheels.startability
    level = next(row for row in item.wheels.grades if row.grade == 0.0)
    if key.startswith("effort_"):
        return max((getattr(row, key) for row in ahead if getattr(row, key) is not None),
                   default=None)  # fmt: skip
    simple = {
        "start_peak": start["peak"],
        "start_continuous": start["continuous"],
        "top_speed": level.speed,
        "hold": item.held.seconds,
        "hold_winding": item.held.to_winding_limit[0],
        "energy": item.energy,
    }
    if key in simple:
        return simple[key]
    if not peak:
        return None
    if key.startswith("cycle_time"):
        runs = steady if key.endswith("continuous") else peak
        return None if any(run.stuck for run in runs) else sum(run.time for run in runs)
    if key == "oil":
        known = [run.oil_hottest for run in peak if run.oil_hottest is not None]
        return max(known) if len(known) == len(peak) else None
    if key == "rms":
        return max(run.winding.rms for run in peak)
    if key == "winding":
        return max(run.winding.hottest / run.winding.permitted for run in peak)
    name = {"returned": "returned", "converter_heat": "converter", "motor_heat": "motor"}[key]
    return sum(float(getattr(run.energy, name)) for run in peak)


def _before(present: PresentFigures, key: str) -> float | None:
    return {
        "effort_peak": present.effort,
        "start_peak": present.startability,
        "top_speed": present.top_speed,
        "cycle_time": present.cycle_time,
    }.get(key)
