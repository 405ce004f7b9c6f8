"""Pages beside a report that a reader moves: one for each combination."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from converter_match.errors import InputError
from converter_match.judgement.decision.run import StudyResult
from converter_match.judgement.lesson.states import full_load_states
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.present.figures.comparison import letters
from converter_match.present.pages.blades import blades_of
from converter_match.present.pages.slider import slider_page
from converter_match.present.report.words import MOVING
from converter_match.units import System, note_text


@dataclass(frozen=True)
class MovingPage:
    """A page of its own, or why there is none.

    Parameters
    ----------
    title : str
    name : str
        Of its file; empty where there is none.
    html : str
        The page, or why there is none.
    """

    title: str
    name: str
    html: str


def moving_pages(result: StudyResult, system: System) -> Iterator[MovingPage]:
    """Yield the pages of a study, in the first of its conditions.

    Parameters
    ----------
    result : StudyResult
    system : {"si", "us"}
    """
    names = letters(result)
    for items in result.outcomes:
        outcome = items[0]
        letter = names[outcome.combination.id]
        said = {"letter": letter, "name": outcome.combination.name}
        title = note_text(MOVING.note("slider", **said), system)
        yield _page(title, f"slider-{letter.lower()}.html", outcome, system)


def _page(title: str, name: str, outcome: Outcome, system: System) -> MovingPage:
    if outcome.missing:
        return MovingPage(title, "", "; ".join(outcome.missing))
    if outcome.divided is not None:
        return MovingPage(title, "", note_text(MOVING.note("divided"), system))
    match, condition = outcome.match, outcome.condition
    try:
        states = full_load_states(
            match, blading=blades_of(match.converter), machine=outcome.combination.machine
        )
    except InputError as error:
        return MovingPage(title, "", str(error))
    return MovingPage(title, name, slider_page(states, system=system, where=condition.name))
