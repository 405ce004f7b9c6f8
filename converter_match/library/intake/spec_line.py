"""What every spec line is held to, whatever it tells of."""

from __future__ import annotations

from collections.abc import Mapping

from converter_match.errors import InputError
from converter_match.library.intake.answers import Answers
from converter_match.library.intake.problem import Problem, note

LONGEST_LINE = 2000


def require_line(line: str, called: str) -> None:
    """Refuse a text that is longer than any spec line.

    Parameters
    ----------
    line : str
    called : str
        What to call it in messages.

    Raises
    ------
    InputError
    """
    if len(line) > LONGEST_LINE:
        raise InputError(
            "is too long for a spec line",
            source=called,
            found=f"{len(line)} characters",
            expected=f"at most {LONGEST_LINE}",
        )


def answered(
    on_line: Mapping[str, str], answers: Answers, problems: list[Problem]
) -> dict[str, str]:
    """Return the facts of a line with those that were answered; what they overrule is noted.

    Parameters
    ----------
    on_line : mapping of str to str
    answers : Answers
    problems : list of Problem
        Added to.
    """
    for name, value in answers.facts.items():
        if name in on_line and on_line[name] != value:
            problems.append(
                note("fact-overruled", what="line", fact=name, theirs=on_line[name], yours=value)
            )
    return {**on_line, **answers.facts}
