"""A draft: what was understood of a sheet. Only `Draft.accept` makes a component of it."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from converter_match.answer.block import Block, Heading
from converter_match.answer.noted import Answer
from converter_match.answer.plain import plain
from converter_match.curves import FloatArray
from converter_match.errors import InputError, did_you_mean
from converter_match.library.atomic import write_text
from converter_match.library.check import oddities
from converter_match.library.files import FilePath, TomlFile
from converter_match.library.intake.answers import Answers, Kind
from converter_match.library.intake.draft_blocks import (
    columns_block,
    listed,
    problems_block,
    read_block,
    rejected_block,
)
from converter_match.library.intake.grid import Grid
from converter_match.library.intake.problem import Problem, Rejected, error, note, question
from converter_match.library.intake.scan import Scan
from converter_match.library.intake.sheet import Reading
from converter_match.library.intake.table import SheetTable
from converter_match.library.intake.words import WORDS
from converter_match.library.read import KINDS
from converter_match.library.toml_text import toml_text
from converter_match.notes import ASKED as ASKED_OF_NUMBERS
from converter_match.notes import Note
from converter_match.units import note_text

if TYPE_CHECKING:
    from converter_match.components.base import Component

Again = Callable[[Answers], "Draft"]
_LONGEST_NOTE = 1500
ASKED = (
    "mean-pressure-implausible",
    "specific-power-unusual",
    "rated-power-unusual",
    "torque-rise-unusual",
    "reference-speed-unusual",
    "profile-diameter-unusual",
    "rated-speed-unusual",
    "low-idle-unusual",
    "oil-density-unusual",
)
"""What is odd about a component and asked about, because a unit or a digit is wrong as a rule."""
# What is to be answered first: the other answer makes other numbers of the sheet.
_FIRST = ("second-table", "unit-probably-wrong")


@dataclass(frozen=True, eq=False)
class Followed:
    """A curve as it was followed or picked in a picture.

    Parameters
    ----------
    name : str
    pixels : ndarray, shape (n, 2)
        Column and row.
    picked : bool
        Whether by hand.
    """

    name: str
    pixels: FloatArray
    picked: bool


@dataclass(frozen=True, eq=False)
class Chart:
    """The picture that a draft was read from, where there is one, and what was followed in it."""

    image: Any
    paths: tuple[Followed, ...]


@dataclass(frozen=True, eq=False, repr=False)
class Draft(Answer):
    """What was understood of a sheet, with everything that is assumed, odd, open or left out.

    Parameters
    ----------
    kind : {"converter", "engine", "motor"}
    source : str
    answers : Answers
        What the user has said so far.
    sheet : SheetTable or None
        The columns and rows that are used, in the sheet's units; None where there are none.
    problems : tuple of Problem
        Notes, questions and errors.
    rejected : tuple of Rejected
        Rows that are not used, with the reason.
    remarks : tuple of str
        Lines of text outside the table.
    residuals : mapping
        Column -> (original, smoothed) in SI, where smoothing was asked for.
    questions : tuple of str
        Keys of the questions that the sheet raises, agreed to or not.
    chart : Chart or None
        Of a picture.
    grid : Grid or None
        Of a sheet: its cells as they came.
    scan : Scan or None
        Of a table that was read off a picture.
    """

    kind: Kind
    source: str
    answers: Answers
    notes = ()
    sheet: SheetTable | None
    problems: tuple[Problem, ...]
    rejected: tuple[Rejected, ...] = ()
    remarks: tuple[str, ...] = ()
    residuals: Mapping[str, tuple[FloatArray, FloatArray]] = field(default_factory=dict)
    questions: tuple[str, ...] = ()
    chart: Chart | None = None
    grid: Grid | None = None
    scan: Scan | None = None
    _toml: str | None = None
    _component: Any = None
    _again: Again | None = None

    @property
    def open(self) -> tuple[Problem, ...]:
        """Errors and questions that keep a component from being built."""
        return tuple(problem for problem in self.problems if problem.is_open)

    @property
    def errors(self) -> tuple[Problem, ...]:
        """What cannot be used as it stands."""
        return tuple(problem for problem in self.problems if problem.severity == "error")

    @property
    def noticed(self) -> tuple[Problem, ...]:
        """What was taken, found or set aside without a question being open."""
        return tuple(problem for problem in self.problems if problem.severity == "note")

    def answered(self, **more: Any) -> Draft:
        """Return the draft again, with further answers.

        Parameters
        ----------
        **more
            Fields of `Answers`, or facts by name: ``confirm=["stator"]``, ``units={"K":
            "rpm/sqrt(lbf.ft)"}``, ``profile_diameter="345 mm"``.

        Raises
        ------
        InputError
            For an answer that cannot be taken, such as a key to confirm that no question has.
        """
        assert self._again is not None
        return self._again(self.answers.plus(**more)).with_known_keys()

    def with_known_keys(self) -> Draft:
        """Return the draft itself, if every key to confirm is that of a question.

        A question that another answer has settled counts too.

        Raises
        ------
        InputError
            For a key that no question of this sheet has; the keys there are are named.
        """
        unknown = [key for key in self.answers.confirm if key and key not in self.questions]
        if not unknown:
            return self
        settled = self._questions_before_answers()
        for key in unknown:
            if key in settled:
                continue
            keys = list(dict.fromkeys([*self.questions, *settled]))
            raise InputError(
                "no question of this sheet has this key",
                source=self.source,
                field="confirm",
                found=key,
                expected=" | ".join(keys) or "none: the sheet raises no question to agree to",
                hint=did_you_mean(key, keys),
            )
        return self

    def _questions_before_answers(self) -> tuple[str, ...]:
        """Return the keys of the questions that other answers may have settled."""
        assert self._again is not None
        try:
            return self._again(replace(self.answers, confirm=(), leave_out=(), facts={})).questions
        except InputError:  # it cannot be read without them
            return ()

    def accept(self, **more: Any) -> Component:
        """Return the component, if nothing is open.

        Parameters
        ----------
        **more
            Further answers, as in `answered`.

        Raises
        ------
        InputError
            Listing every open question and error.
        """
        draft = self.answered(**more) if more else self
        draft._refuse_while_open()
        component: Component = draft._component
        return component

    def toml(self) -> str:
        """Return the component's file, in the sheet's own units.

        Raises
        ------
        InputError
            Listing every open question and error.
        """
        self._refuse_while_open()
        assert self._toml is not None
        return self._toml

    def write(self, path: FilePath, *, overwrite: bool = False) -> None:
        """Write the component's file, whole or not at all.

        Raises
        ------
        InputError
            While anything is open; if the file is there already, or cannot be written.
        """
        write_text(self.toml(), path, overwrite=overwrite)

    def trial(self) -> Component | None:
        """Return what the component would be if every proposal were agreed to; None if none can.

        To look at only (a figure): questions may be open.
        """
        component: Component | None = self._component
        return component

    def _refuse_while_open(self) -> None:
        if self.open:
            said = " | ".join(problem.text() for problem in self.open)
            count = f"{len(self.open)} thing{'s' if len(self.open) > 1 else ''}"
            raise InputError(f"{count} open: {said}", source=self.source)
        if self._component is None:
            raise InputError("nothing that could be built was understood", source=self.source)

    def blocks(self) -> tuple[Block, ...]:
        """Return the columns and rows, notes, what was left out, and what is open."""
        sheet = self.sheet
        facts = (
            (Heading("source", ""), self.source),
            (Heading("kind", ""), self.kind),
            (Heading("rows", ""), sheet.rows if sheet is not None else ()),
            (Heading("remarks", ""), self.remarks),
            (Heading("open", ""), len(self.open)),
        )
        remarks = [("remark", remark) for remark in self.remarks]
        return (
            Block("", facts=facts),
            columns_block(sheet, self.source, self.kind),
            *([] if sheet is None else [read_block(sheet, self.residuals)]),
            problems_block(self.problems),
            listed("Assumptions and remarks", [(each.code, each.text()) for each in self.noticed]),
            rejected_block(self.rejected),
            listed("Text outside the table", remarks),
            listed("Open", [(each.code, each.text()) for each in self.open]),
            Block("", above=() if self.open else (WORDS.note("nothing-open"),), in_plain=False),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the draft as plain data."""
        return plain(self.blocks())


def on_saved(answers: Answers) -> list[Problem]:
    """Return what is said of answers that were saved beside the sheet."""
    if not answers.saved:
        return []
    unused = answers.saved.startswith("!")
    code = "answers-not-used" if unused else "answers-saved"
    return [note(code, file=answers.saved.removeprefix("!"))]


def draft_of(
    reading: Reading,
    kind: Kind,
    source: str,
    answers: Answers,
    again: Again,
    *,
    remarks: tuple[str, ...] = (),
) -> Draft:
    """Return the draft of a reading: agreed questions become notes, a trial component is built.

    Parameters
    ----------
    reading : Reading
    kind : {"converter", "engine", "motor"}
    source : str
    answers : Answers
    again : callable
        Makes the draft anew from other answers.
    remarks : tuple of str
    """
    keys = [problem.key for problem in reading.problems if problem.is_open and problem.key]
    problems = [
        problem.agreed()
        if problem.key and answers.agreed(problem.key) and problem.is_open
        else problem
        for problem in reading.problems
    ]
    toml = component = None
    if reading.data is not None:
        # Agreed questions, repeats and repairs stand in the file: they belong to the numbers.
        carried = [
            {"code": each.code, "message": _sentence(each)} for each in problems if each.carried
        ]
        toml = toml_text({**reading.data, "note": carried or None})
        component, more = _built(toml, kind, source)
        if component is None and any(each.severity == "error" for each in problems):
            more = []  # what stands in the way has been said already, by row
        more = [each for each in more if not _said(each, problems)]
        keys += [each.key for each in more if each.key]
        # The component says of itself what is odd: agreed to, it needs no note in the file.
        problems += [
            note(each.code, sentence="as-said", what=each.message)
            if each.key and answers.agreed(each.key)
            else each
            for each in more
        ]
    for key in answers.confirm:
        if key and key not in keys:
            problems.append(note("nothing-to-confirm", question=key))
    return Draft(
        kind=kind,
        source=source,
        answers=answers,
        sheet=reading.table,
        problems=tuple(problems),
        rejected=tuple(sorted(reading.rejected, key=lambda each: each.row)),
        remarks=remarks,
        residuals=reading.residuals,
        questions=tuple(dict.fromkeys(keys)),
        _toml=toml,
        _component=component,
        _again=again,
    )


def _built(text: str, kind: Kind, source: str) -> tuple[Any, list[Problem]]:
    try:
        component = KINDS[kind].assemble(TomlFile(source, tomllib.loads(text), text))
    except InputError as refusal:
        place = refusal.field or ""
        has_found = refusal.found is not None
        refused = refusal.changed(source=None, field=None) if has_found else refusal
        return None, [error("cannot-be-built", place, sentence="as-said", what=refused)]
    notes = (*component.notes, *oddities(component))
    return component, [_on(each) for each in notes]


def _on(each: Note) -> Problem:
    """Return what is odd about the component: a question where the size itself is in doubt."""
    words = note_text(each, "si")
    if each.code in ASKED_OF_NUMBERS:  # several of one code may be asked, of one number each
        key = f"{each.code}:{dict(each.values)['field']}"
        return question(each.code, sentence="as-said", key=key, what=words)
    if each.code in ASKED:
        return question(each.code, sentence="size-in-doubt", key=each.code, what=words.rstrip())
    return note(each.code, sentence="as-said", what=words)


SAID_AS = {
    "efficiency-column-off": "efficiency-off",
    "capacity-columns-differ": "capacity-differs",
    "torque-and-power-differ": "power-off",
    "stall-torque-ratio-unusual": "stall-ratio-unusual",
    "stall-capacity-implausible": "unit-probably-wrong",
    "profile-diameter-unusual": "unit-probably-wrong",
    "capacity-wiggles": "row-off-the-line",
    "row-out-of-line": "row-off-the-line",
    "torque-ratio-below-one": "row-off-the-line",
}
"""Code of a note about a file -> code of what intake says of the same thing."""


def _said(problem: Problem, others: list[Problem]) -> bool:
    """Return whether intake has said it already, in its own words."""
    known = {each.code for each in others}
    waits = any(each.is_open and each.code in _FIRST for each in others)
    return (
        problem.code in known
        or SAID_AS.get(problem.code) in known
        or (problem.code in ASKED_OF_NUMBERS and waits)
    )


def _sentence(problem: Problem) -> str:
    place = f"{problem.where}: " if problem.where else ""
    message = f"{place}{problem.message}"
    return message if len(message) <= _LONGEST_NOTE else message[: _LONGEST_NOTE - 3] + "..."
