"""What intake has to say about a sheet: notes, questions and errors, each with its place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from converter_match.library.intake.words import said

Severity = Literal["note", "question", "error"]


@dataclass(frozen=True)
class Problem:
    """One thing to know, to answer or to mend before a component can be built.

    Parameters
    ----------
    severity : {"note", "question", "error"}
        ``note``: nothing to do. ``question``: a guess or an oddity that a person has to confirm or
        to answer. ``error``: cannot be used as it stands.
    code : str
        Stable, lower-case, hyphenated.
    message : str
        What was seen, with its numbers and units.
    where : str
        Row and column of the sheet; empty where it concerns the whole.
    key : str
        What to confirm, where confirming is an answer.
    answer : str
        How to answer otherwise.
    carried : bool
        Whether the component's file has to say it too.
    """

    severity: Severity
    code: str
    message: str
    where: str = ""
    key: str = ""
    answer: str = ""
    carried: bool = False

    def text(self) -> str:
        """Return the problem on one line."""
        place = f"{self.where}: " if self.where else ""
        ways = [f"to agree: --confirm {self.key}"] if self.key and self.is_open else []
        ways += [self.answer] if self.answer and self.is_open else []
        return f"{self.severity} [{self.code}] {place}{self.message}" + (
            f" ({'; or '.join(ways)})" if ways else ""
        )

    @property
    def is_open(self) -> bool:
        """Whether it keeps a component from being built."""
        return self.severity != "note"

    def agreed(self) -> Problem:
        """Return the question as a note for the file: a person has agreed to its proposal."""
        message = said("agreed-to", what=self.message.rstrip("?."))
        return Problem("note", self.code, message, self.where, carried=True)


def note(
    code: str, where: str = "", *, sentence: str = "", carried: bool = False, **values: Any
) -> Problem:
    """Return a note; `carried` if the component's file has to say it too.

    Parameters
    ----------
    code, where : str
    sentence : str
        Its name among the sentences, where that is not the code.
    carried : bool
    **values
        For the places of the sentence.
    """
    return Problem("note", code, said(sentence or code, **values), where, carried=carried)


def question(
    code: str,
    where: str = "",
    *,
    sentence: str = "",
    key: str = "",
    answer: str = "",
    **values: Any,
) -> Problem:
    """Return a question; `key` is what to confirm, `answer` how to answer otherwise."""
    return Problem("question", code, said(sentence or code, **values), where, key, answer)


def error(
    code: str, where: str = "", *, sentence: str = "", answer: str = "", **values: Any
) -> Problem:
    """Return an error; `answer` is how to mend it."""
    return Problem("error", code, said(sentence or code, **values), where, "", answer)


@dataclass(frozen=True)
class Rejected:
    """A row that was not used.

    Parameters
    ----------
    row : int
        Its number in the sheet, from 1.
    cells : str
        What stands there.
    why : str
    word : str
        What a row is called: those of a turned sheet are its columns.
    """

    row: int
    cells: str
    why: str
    word: str = "row"

    def text(self) -> str:
        """Return it on one line."""
        return f"{self.word} {self.row}: {self.why} [{self.cells}]"
