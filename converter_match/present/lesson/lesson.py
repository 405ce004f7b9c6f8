"""Predict, then reveal: the questions of a lesson as cards in a notebook.

A card without a kernel, in an exported page or before the notebook has run, is a question with its
answer folded away. Cards take their numbers from a `LessonDesk`: choose another engine there and
every question and every answer changes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import partial
from html import escape
from pathlib import Path
from typing import Any, TypeVar

import ipywidgets as widgets

from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.errors import InputError
from converter_match.judgement.lesson.demonstrations import DEMONSTRATIONS
from converter_match.judgement.lesson.exercises import TOPICS, Exercise
from converter_match.judgement.lesson.lesson import Lesson
from converter_match.judgement.lesson.truth import Demonstration, Misconception
from converter_match.judgement.match.solve import solve
from converter_match.present.bench.shelf import Shelf, load_shelf
from converter_match.present.lesson.demo import CONVERTER, ENGINE, lesson
from converter_match.present.lesson.following import PICTURES, Displayed, Following, PredictionCard
from converter_match.present.lesson.pair_slider import PairSlider
from converter_match.present.notebook.picture import picture
from converter_match.present.notebook.report import table_html
from converter_match.present.pages.blades import blades_of
from converter_match.present.report.model import table
from converter_match.units import System, show

_NAMED = 4
_WIDE = {"description_width": "initial"}
_FOLLOWS = "Questions, figures and tables follow; answers are hidden again."
_Item = TypeVar("_Item")


class ExerciseCard(widgets.VBox):  # type: ignore[misc]
    """One exercise: question, a place for the prediction, a button, and then the answer.

    Parameters
    ----------
    exercise : Exercise

    Attributes
    ----------
    exercise : Exercise
    revealed : bool
        Whether the answer is shown.
    """

    def __init__(self, exercise: Exercise) -> None:
        self.question = widgets.HTML()
        self.prediction = widgets.Text(
            placeholder="a number", style=_WIDE, layout=widgets.Layout(width="330px")
        )
        self.button = widgets.Button(
            description="show the answer", tooltip="compare the prediction with the answer"
        )
        self.answer = widgets.HTML()
        self.button.on_click(lambda _: self.reveal())
        # The button's click may overtake the last letters typed, and a slip can be mended.
        self.prediction.observe(lambda _: self._changed(), names="value")
        self.set(exercise)
        super().__init__(
            children=[self.question, widgets.HBox([self.prediction, self.button]), self.answer]
        )

    def set(self, exercise: Exercise) -> None:
        """Ask another question, or the same one of another pair; the answer is hidden again."""
        self.exercise = exercise
        self.revealed = False
        self.question.value = f"<p>{escape(exercise.question)}</p>"
        self.prediction.description = "your prediction" + (
            f" ({exercise.unit})" if exercise.unit else ""
        )
        self.prediction.value = ""
        self.answer.value = ""

    def _changed(self) -> None:
        if self.revealed:
            self.reveal()

    def reveal(self) -> None:
        """Show the answer beside the prediction."""
        text = self.prediction.value.strip()
        try:
            predicted = float(text) if text else None
        except ValueError:
            hint = "write 1.5, not 1,5" if "," in text else "a plain number, without its unit"
            self.answer.value = _status(f"{text!r} is not a number: {hint}.")
            return
        self.revealed = True
        self.answer.value = _status(f"{self.exercise.verdict(predicted)} {self.exercise.working}")

    def _repr_mimebundle_(self, **kwargs: Any) -> dict[str, Any]:
        live = super()._repr_mimebundle_(**kwargs) or {}
        return {**live, "text/html": folded(self.exercise), "text/plain": self.exercise.question}


class LessonDesk(widgets.VBox):  # type: ignore[misc]
    """Where the pair of a lesson is chosen; its cards follow.

    Parameters
    ----------
    shelf : Shelf or path, optional
        Components to choose from, or a folder whose component files stand beside the shipped ones;
        the shipped ones without. A file that cannot be used is listed with its message.
    engine, converter : str
        Ids to begin with.
    system : {"si", "us"}
        Units to begin with.

    Attributes
    ----------
    lesson : Lesson
        On the pair that is chosen, or the last one that can carry the lesson.

    Raises
    ------
    InputError
        If there is no such folder or id, or the pair to begin with cannot carry the lesson: what
        could is named.
    """

    def __init__(
        self,
        shelf: Shelf | str | Path | None = None,
        engine: str = ENGINE,
        converter: str = CONVERTER,
        *,
        system: System = "si",
    ) -> None:
        show(0.0, "torque", system)  # refuses a system that is not one
        self.shelf = shelf if isinstance(shelf, Shelf) else load_shelf(shelf)
        self._demo = lesson()
        self.lesson = self._on(engine, converter, system)
        teachable = {
            id: item
            for id, item in self.shelf.converters.items()
            if item.stator == "one-way" and item.coupling is not None
        }
        _require_usable(self.lesson, teachable)
        self._cards: list[ExerciseCard] = []
        self._guesses: list[PredictionCard] = []
        self._following: list[Following] = []
        self._sliders: list[PairSlider] = []
        self.engine = _choice("engine", self.shelf.engines, engine)
        self.converter = _choice("converter", teachable, converter)
        self.units = widgets.Dropdown(
            description="units", options=[("SI", "si"), ("US", "us")], value=system, style=_WIDE
        )
        self.message = widgets.HTML(
            "".join(_status(f"cannot be used: {reason}") for _, reason in self.shelf.broken)
        )
        for control in (self.engine, self.converter, self.units):
            control.observe(lambda _: self._chosen(), names="value")
        super().__init__(children=[self.engine, self.converter, self.units, self.message])

    def cards(self, topic: str) -> Cards:
        """Return the cards of a topic, which follow the pair from now on.

        Raises
        ------
        InputError
            If there is no such topic.
        """
        if topic not in dict(TOPICS):
            raise InputError(
                "no such topic", found=topic, expected=" | ".join(key for key, _ in TOPICS)
            )
        guesses = [PredictionCard(self.lesson, item) for item in self.lesson.foretold(topic)]
        cards = [ExerciseCard(item) for item in self.lesson.about(topic)]
        self._guesses += guesses
        self._cards += cards
        return Cards([*guesses, *cards])

    def picture(self, name: str) -> Following:
        """Return a figure of the lesson, which follows the pair from now on.

        Raises
        ------
        InputError
            If there is none of that name.
        """
        if name not in PICTURES:
            raise InputError("no such picture", found=name, expected=" | ".join(PICTURES))
        return self._follow(lambda lesson: picture(*PICTURES[name](lesson)))

    def demonstration(self, key: str) -> Following:
        """Return something to be shown with the numbers of the pair, which follows the pair.

        Raises
        ------
        InputError
            If there is none of that name.
        """
        if key not in DEMONSTRATIONS:
            raise InputError("nothing of that name", found=key, expected=" | ".join(DEMONSTRATIONS))
        row = DEMONSTRATIONS.index(key)
        return self._follow(lambda lesson: TextAndTable.shown(lesson.demonstrations[row]))

    def _follow(self, make: Callable[[Lesson], Displayed]) -> Following:
        made = Following(make, self.lesson)
        self._following.append(made)
        return made

    def slider(self) -> PairSlider:
        """Return one slider from stall to the governor, which follows the pair from now on."""
        made = PairSlider(self.lesson.states, system=self.lesson.system)
        self._sliders.append(made)
        return made

    def belief(self, number: int) -> Following:
        """Return something that is often believed, with the numbers of the pair, which follows it.

        Raises
        ------
        InputError
            If there are not as many, counted from 0.
        """
        known = self.lesson.misconceptions
        if not 0 <= number < len(known):
            raise InputError("no such belief", found=number, expected=f"0 to {len(known) - 1}")
        belief = known[number].belief

        def shown(lesson: Lesson) -> TextAndTable:
            item = next((one for one in lesson.misconceptions if one.belief == belief), None)
            if item is None:
                raise InputError("this pair has nothing to say of it", found=belief)
            return TextAndTable.believed(item)

        return self._follow(shown)

    def _on(self, engine: str, converter: str, system: System) -> Lesson:
        mine = self.shelf.engine(engine)
        others = (self._demo.engine, *self._demo.other_engines)
        sheet = self.shelf.converter(converter)
        return Lesson(
            engine=mine,
            converter=sheet,
            other_engines=tuple(other for other in others if other.id != mine.id)[-2:],
            blading=blades_of(sheet),
            machine=self._demo.machine,
            system=system,
        )

    def _chosen(self) -> None:
        """Let everything follow; a pair that cannot carry it changes nothing and is said."""
        wanted = self._on(self.engine.value, self.converter.value, self.units.value)
        self._slide(wanted)
        try:
            by_key = {item.key: item for item in wanted.exercises}
            foretold = {item.key: item for item in wanted.predictions}
        except InputError as error:
            slides = " The slider follows all the same." if self._sliders else ""
            self.message.value = _status(f"{error}. The lesson stays with the pair before.{slides}")
            return
        self.message.value = _status(_FOLLOWS)
        self.lesson = wanted
        for card in self._cards:
            _set(card, by_key.get(card.exercise.key), card.set)
        for guess in self._guesses:
            _set(guess, foretold.get(guess.item.key), partial(guess.set, wanted))
        for made in self._following:
            made.set(wanted)

    def _slide(self, wanted: Lesson) -> None:
        """Let the sliders follow: they ask no more of a pair than that it runs."""
        try:
            states = wanted.states
        except InputError:
            return  # no match at all, as will be said
        for slider in self._sliders:
            slider.set(states, system=wanted.system)


def _set(card: Any, item: _Item | None, ask: Callable[[_Item], None]) -> None:
    """Ask of the new pair, or put the card away where that has no such question."""
    card.layout.display = None if item is not None else "none"
    if item is not None:
        ask(item)


class Cards(widgets.VBox):  # type: ignore[misc]
    """Cards one below the other."""

    def _repr_mimebundle_(self, **kwargs: Any) -> dict[str, Any]:
        live = super()._repr_mimebundle_(**kwargs) or {}
        page = "".join(
            card.folded if isinstance(card, PredictionCard) else folded(card.exercise)
            for card in self.children
        )
        plain = "\n\n".join(
            card.item.question if isinstance(card, PredictionCard) else card.exercise.question
            for card in self.children
        )
        return {**live, "text/html": page, "text/plain": plain}


class TextAndTable:
    """A heading, what is to be said, and the table that shows it, for a notebook.

    Parameters
    ----------
    heading, text : str
    head : tuple of str
    rows : tuple of tuple of str
    """

    def __init__(
        self,
        heading: str,
        text: str,
        head: tuple[str, ...] = (),
        rows: tuple[tuple[str, ...], ...] = (),
    ) -> None:
        self.heading, self.text = heading, text
        self.head, self.rows = head, rows

    @classmethod
    def believed(cls, item: Misconception) -> TextAndTable:
        """Return a misconception and its correction."""
        return cls(f"“{item.belief}”", item.truth, item.head, item.rows)

    @classmethod
    def shown(cls, item: Demonstration) -> TextAndTable:
        """Return a demonstration."""
        return cls(f"{item.title}.", item.text, item.head, item.rows)

    def _repr_html_(self) -> str:
        said = f"<p><b>{escape(self.heading)}</b> {escape(self.text)}</p>"
        return said + (table_html(table("", self.head, self.rows)) if self.rows else "")

    def __repr__(self) -> str:
        rows = [" | ".join(row) for row in (self.head, *self.rows)] if self.rows else []
        return "\n".join([self.heading, self.text, *rows])


def _require_usable(wanted: Lesson, teachable: Mapping[str, Converter]) -> None:
    """Refuse a pair that cannot carry the lesson, and name converters that could."""
    own = wanted.converter
    if own.stator != "one-way" or own.coupling is None:
        raise InputError(
            "the lesson needs a converter with a one-way stator and a coupling point",
            source=own.id,
            field="stator",
            found=own.stator if own.stator != "one-way" else "one-way, no coupling point",
            hint=_try(teachable),
        )
    try:
        _ = wanted.exercises
    except InputError as error:
        could = [id for id, item in teachable.items() if _meets(wanted.engine, item)]
        raise InputError(
            error.problem,
            source=error.source,
            field=error.field,
            expected=error.expected,
            hint=_try(could) if could else "no converter on the shelf has one with this engine",
        ) from None


def _meets(engine: Engine, converter: Converter) -> bool:
    result = solve(engine, converter)
    return result.stall is not None and result.coupling is not None


def _try(ids: Iterable[str]) -> str:
    return f"try one of {', '.join(list(ids)[:_NAMED])}"


def folded(exercise: Exercise) -> str:
    """Return an exercise as HTML with the answer folded away: works without a kernel."""
    return (
        f"<p>{escape(exercise.question)}</p><details><summary>answer</summary>"
        f"<p><b>{escape(exercise.answer_text)}</b>. {escape(exercise.working)}</p></details>"
    )


def _status(text: str) -> str:
    # A screen reader says it without the focus having to go there.
    return f'<div role="status">{escape(text)}</div>'


def _choice(name: str, items: dict[str, Any], chosen: str) -> Any:
    return widgets.Dropdown(
        description=name,
        options=[(item.name, id) for id, item in items.items()],
        value=chosen,
        style=_WIDE,
        layout=widgets.Layout(width="560px"),
    )
