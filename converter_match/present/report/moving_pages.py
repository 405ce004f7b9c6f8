"""Pages beside a report that a reader moves: two for each combination."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from converter_match.errors import InputError
from converter_match.judgement.decision.run import StudyResult
from converter_match.judgement.lesson.states import full_load_states
from converter_match.judgement.match.what_if import what_if
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.present.figures.comparison import letters
from converter_match.present.pages.blades import blades_of
from converter_match.present.pages.slider import slider_page
from converter_match.present.pages.what_if import what_if_page
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
        for key, make in _PAGES.items():
            said = MOVING.note(key, letter=letter, name=outcome.combination.name)
            title = note_text(said, system)
            name = f"{key}-{letter.lower()}.html"
            why = "; ".join(outcome.missing)
            if outcome.divided is not None:
                why = note_text(MOVING.note("divided"), system)
            try:
                page = why or make(outcome, system)
            except InputError as error:
                page = why = str(error)
            yield MovingPage(title, "" if why else name, page)


def _slider(outcome: Outcome, system: System) -> str:
    match = outcome.match
    states = full_load_states(
        match, blading=blades_of(match.converter), machine=outcome.combination.machine
    )
    return slider_page(states, system=system, where=outcome.condition.name)


def _what_if(outcome: Outcome, system: System) -> str:
    return what_if_page(what_if(outcome.match), system=system, where=outcome.condition.name)


_PAGES: dict[str, Callable[[Outcome, System], str]] = {"slider": _slider, "what-if": _what_if}
