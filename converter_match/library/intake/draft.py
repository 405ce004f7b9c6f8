"""A draft: what was understood of a sheet. Only `Draft.accept` makes a component of it."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from converter_match.curves import FloatArray
from converter_match.errors import InputError, did_you_mean
from converter_match.library.atomic import write_text
from converter_match.library.check import oddities
from converter_match.library.files import FilePath, TomlFile
from converter_match.library.intake.answers import Answers, Kind
from converter_match.library.intake.problem import Problem, Rejected, error, note
from converter_match.library.intake.sheet import Reading
from converter_match.library.intake.table import Table
from converter_match.library.read import KINDS
from converter_match.library.toml_text import toml_text

if TYPE_CHECKING:
    from converter_match.components.converter import Converter
    from converter_match.components.engine import Engine

Again = Callable[[Answers], "Draft"]
_LONGEST_NOTE = 1500
_SHOWN_ROWS = 60


@dataclass(frozen=True, eq=False)
class Draft:
    """What was understood of a sheet, with everything that is assumed, odd, open or left out.

    Parameters
    ----------
    kind : {"converter", "engine"}
    source : str
    answers : Answers
        What the user has said so far.
    table : Table or None
        The columns and rows that are used, in the sheet's units; None for a spec line.
    problems : tuple of Problem
        Notes, questions and errors.
    rejected : tuple of Rejected
        Rows that are not used, with the reason.
    remarks : tuple of str
        Lines of words around the table.
    residuals : dict
        Column -> (original, smoothed) in SI, where smoothing was asked for.
    questions : tuple of str
        Keys of the questions that the sheet raises, agreed to or not.
    """

    kind: Kind
    source: str
    answers: Answers
    table: Table | None
    problems: tuple[Problem, ...]
    rejected: tuple[Rejected, ...] = ()
    remarks: tuple[str, ...] = ()
    residuals: dict[str, tuple[FloatArray, FloatArray]] = field(default_factory=dict)
    questions: tuple[str, ...] = ()
    _text: str | None = None
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
    def assumptions(self) -> tuple[Problem, ...]:
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

    def accept(self, **more: Any) -> Converter | Engine:
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
        component: Converter | Engine = draft._component
        return component

    def text(self) -> str:
        """Return the component's file, in the sheet's own units.

        Raises
        ------
        InputError
            Listing every open question and error.
        """
        self._refuse_while_open()
        assert self._text is not None
        return self._text

    def write(self, path: FilePath, *, overwrite: bool = False) -> None:
        """Write the component's file, whole or not at all.

        Raises
        ------
        InputError
            While anything is open; if the file is there already, or cannot be written.
        """
        write_text(self.text(), path, overwrite=overwrite)

    def trial(self) -> Converter | Engine | None:
        """Return what the component would be if every proposal were agreed to; None if none can.

        To look at only (a figure): questions may be open.
        """
        component: Converter | Engine | None = self._component
        return component

    def _refuse_while_open(self) -> None:
        if self.open:
            said = " | ".join(problem.text() for problem in self.open)
            count = f"{len(self.open)} thing{'s' if len(self.open) > 1 else ''}"
            raise InputError(f"{count} open: {said}", source=self.source)
        if self._component is None:
            raise InputError("nothing that could be built was understood", source=self.source)

    def preview(self) -> str:
        """Return the table as it was understood: a line for each column, then the rows."""
        if self.table is None:
            return ""
        lines = [f"{self.source}: read as {_article(self.kind)} {self.kind} sheet"]
        for column in self.table.columns:
            unit = column.unit or ("a ratio" if column.dimension == "ratio" else "unit not known")
            why = {"heading": "from the heading", "cells": "from the cells", "you": "as you said",
                   "inferred": "PROPOSED", "nature": ""}.get(column.unit_from, "")  # fmt: skip
            at = f", at {column.reference[0]:g} {column.reference[1]}" if column.reference else ""
            said = f" ({why})" if why else ""
            lines.append(f"  {column.place}: {column.role.replace('_', ' ')} in {unit}{said}{at}")
        return "\n".join([*lines, "", *self._rows()])

    def _rows(self) -> list[str]:
        assert self.table is not None
        columns = self.table.columns
        read = [column for column in columns if column.tolerance is not None]
        rows = [[self.table.row_word, *(_short(column.role) for column in columns)]]
        rows.append(["", *(f"[{column.unit or '-'}]" for column in columns)])
        rows[0] += [f"± {_short(column.role)}" for column in read]
        rows[1] += [f"[{column.unit or '-'}]" for column in read]
        smooth = list(self.residuals.items())
        if smooth:
            rows[0] += [f"{name} moved" for name, _ in smooth]
            rows[1] += ["[%]" for _ in smooth]
        count = len(self.table.rows)
        for index in range(min(count, _SHOWN_ROWS)):
            cells = [str(self.table.rows[index])]
            cells += [_number(float(column.values[index])) for column in columns]
            cells += [f"{each.tolerance[index]:.2g}" for each in read if each.tolerance is not None]
            for _, (before, after) in smooth:
                scale = float(np.abs(before).max()) or 1.0
                cells.append(f"{100 * (after[index] - before[index]) / scale:+.2f}")
            rows.append(cells)
        widths = [max(len(row[place]) for row in rows) for place in range(len(rows[0]))]
        lines = [
            "  ".join(cell.rjust(w) for cell, w in zip(row, widths, strict=True)) for row in rows
        ]
        if count > _SHOWN_ROWS:
            lines.append(f"... and {count - _SHOWN_ROWS} more rows")
        return [f"  {line.rstrip()}" for line in lines]

    def report(self) -> str:
        """Return everything there is to say: preview, notes, what was left out, what is open."""
        parts = [self.preview()]
        for title, entries in (
            ("taken and noticed", [problem.text() for problem in self.assumptions]),
            ("rows not used", [rejected.text() for rejected in self.rejected]),
            ("words around the table", list(self.remarks)),
            ("open", [problem.text() for problem in self.open]),
        ):
            if entries:
                parts.append("\n".join([f"{title}:", *(f"  {entry}" for entry in entries)]))
        if not self.open:
            parts.append("nothing is open")
        return "\n\n".join(part for part in parts if part)

    def to_dict(self) -> dict[str, Any]:
        """Return the draft as plain data."""
        columns = self.table.columns if self.table else ()
        return {
            "source": self.source,
            "kind": self.kind,
            "columns": [
                {
                    "column": column.number,
                    "heading": column.heading,
                    "role": column.role,
                    "unit": column.unit,
                    "unit_from": column.unit_from,
                    "values": [_plain(float(value)) for value in column.values],
                    "tolerance": None
                    if column.tolerance is None
                    else [_plain(float(value)) for value in column.tolerance],
                }
                for column in columns
            ],
            "rows": list(self.table.rows) if self.table else [],
            "problems": [problem.to_dict() for problem in self.problems],
            "rejected": [
                {"row": each.row, "cells": each.cells, "why": each.why} for each in self.rejected
            ],
            "remarks": list(self.remarks),
            "open": len(self.open),
        }


def draft_of(
    reading: Reading,
    kind: Kind,
    source: str,
    answers: Answers,
    again: Again,
    *,
    table: Table | None = None,
    remarks: tuple[str, ...] = (),
) -> Draft:
    """Return the draft of a reading: agreed questions become notes, a trial component is built.

    Parameters
    ----------
    reading : Reading
    kind : {"converter", "engine"}
    source : str
    answers : Answers
    again : callable
        Makes the draft anew from other answers.
    table : Table, optional
        What to show; the table of the reading otherwise.
    remarks : tuple of str
    """
    keys = [problem.key for problem in reading.problems if problem.is_open and problem.key]
    problems = [
        problem.agreed()
        if problem.key and answers.agreed(problem.key) and problem.is_open
        else problem
        for problem in reading.problems
    ]
    for key in answers.confirm:
        if key and key not in keys:
            problems.append(note("nothing-to-confirm", f"The question {key!r} is not open here."))
    text = component = None
    if reading.data is not None:
        # Agreed questions, repeats and repairs stand in the file: they belong to the numbers.
        carried = [
            {"code": each.code, "message": _sentence(each)} for each in problems if each.carried
        ]
        text = toml_text({**reading.data, "note": carried or None})
        component, found = _built(text, kind, source)
        if component is None and any(each.severity == "error" for each in problems):
            found = []  # what stands in the way has been said already, by row
        problems += [each for each in found if not _said(each, problems)]
    return Draft(
        kind=kind,
        source=source,
        answers=answers,
        table=table if table is not None else reading.table,
        problems=tuple(problems),
        rejected=tuple(sorted(reading.rejected, key=lambda each: each.row)),
        remarks=remarks,
        residuals=reading.residuals,
        questions=tuple(dict.fromkeys(keys)),
        _text=text,
        _component=component,
        _again=again,
    )


def _built(text: str, kind: Kind, source: str) -> tuple[Any, list[Problem]]:
    try:
        component = KINDS[kind].assemble(TomlFile(source, tomllib.loads(text), text))
    except InputError as refusal:
        place = refusal.field or ""
        said = InputError(refusal.problem, found=refusal.found, expected=refusal.expected,
                          hint=refusal.hint) if refusal.found is not None else refusal  # fmt: skip
        return None, [error("cannot-be-built", str(said), place)]
    odd = [note(each.code, each.message) for each in oddities(component)]
    own = [note(each.code, each.message) for each in component.notes if each.code != "nothing"]
    return component, [*own, *odd]


def _said(problem: Problem, others: list[Problem]) -> bool:
    """Return whether intake has said it already, in its own words."""
    same = {
        "efficiency-column-off": "efficiency-off",
        "capacity-columns-differ": "capacity-differs",
        "torque-and-power-differ": "power-off",
        "stall-torque-ratio-unusual": "stall-ratio-unusual",
        "stall-capacity-implausible": "unit-probably-wrong",
        "capacity-wiggles": "row-off-the-line",
    }
    known = {each.code for each in others}
    return problem.code in known or same.get(problem.code) in known


def _sentence(problem: Problem) -> str:
    place = f"{problem.where}: " if problem.where else ""
    message = f"{place}{problem.message}"
    return message if len(message) <= _LONGEST_NOTE else message[: _LONGEST_NOTE - 3] + "..."


def _short(role: str) -> str:
    return role.replace("_", " ").replace("coefficient", "coeff.")


def _number(value: float) -> str:
    return "" if np.isnan(value) else f"{value:.6g}"


def _plain(value: float) -> float | None:
    return value if np.isfinite(value) else None


def _article(word: str) -> str:
    return "an" if word[0] in "aeiou" else "a"
