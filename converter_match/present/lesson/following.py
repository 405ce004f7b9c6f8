"""Figures, tables and choices of a lesson that follow the pair chosen at the desk."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from typing import Any, Protocol

import ipywidgets as widgets
from matplotlib.figure import Figure

from converter_match.errors import InputError
from converter_match.judgement.lesson.lesson import Lesson
from converter_match.judgement.lesson.predictions import Prediction
from converter_match.physics.converter.blading import characteristic_from_blading
from converter_match.physics.converter.velocity_triangles import velocity_triangles
from converter_match.present.figures.characteristic import characteristic
from converter_match.present.figures.converter_section import converter_section
from converter_match.present.figures.overlay import overlay
from converter_match.present.figures.velocity_triangles import velocity_triangles_figure
from converter_match.present.figures.which_curve import which_curve
from converter_match.present.notebook.picture import picture

_PAST = 0.95
_NO_BLADES = "No blades are known that give this converter's sheet, so there is nothing to draw."


class Displayed(Protocol):
    """What a notebook shows: as HTML and as plain text."""

    def _repr_html_(self) -> str: ...


class Following(widgets.HTML):  # type: ignore[misc]
    """Something of a lesson that is made anew when another pair is chosen.

    Parameters
    ----------
    make : callable
        From a lesson to what is shown.
    lesson : Lesson
    """

    def __init__(self, make: Callable[[Lesson], Displayed], lesson: Lesson) -> None:
        self._make = make
        self._plain = ""
        super().__init__(value=self._made(lesson))

    def set(self, lesson: Lesson) -> None:
        """Show another lesson."""
        self.value = self._made(lesson)

    def _made(self, lesson: Lesson) -> str:
        try:
            shown = self._make(lesson)
        except InputError as error:
            self._plain = str(error)
            return f"<p>{escape(str(error))}</p>"
        self._plain = repr(shown)
        return shown._repr_html_()

    def _repr_mimebundle_(self, **kwargs: Any) -> dict[str, Any]:
        live = super()._repr_mimebundle_(**kwargs) or {}
        return {**live, "text/html": self.value, "text/plain": self._plain}


def _parts(lesson: Lesson) -> tuple[Figure, str]:
    return converter_section(), (
        "A converter in section: cover and impeller turn with the engine, the turbine with the "
        "shaft to the gearbox, the stator between them stands on a one-way clutch on the housing."
    )


def _triangles(lesson: Lesson, speed_ratio: float, words: str) -> tuple[Figure, str]:
    stall = lesson.result.stall
    if lesson.blading is None or stall is None:
        raise InputError(_NO_BLADES, source=lesson.converter.id)
    found = velocity_triangles(lesson.blading, speed_ratio, stall.engine_speed)
    return velocity_triangles_figure(found, system=lesson.system), words


def _at_stall(lesson: Lesson) -> tuple[Figure, str]:
    return _triangles(
        lesson,
        0.0,
        "Velocity triangles at stall, where the oil leaves impeller, turbine and stator.",
    )


def _running(lesson: Lesson) -> tuple[Figure, str]:
    return _triangles(
        lesson,
        _PAST,
        f"Velocity triangles at speed ratio {_PAST}: the stator turns with the oil without torque.",
    )


def _overlay(lesson: Lesson) -> tuple[Figure, str]:
    return overlay(lesson.result, system=lesson.system), (
        "Net torque of the engine and the torque absorbed at several speed ratios over engine "
        "speed; the crossing for speed ratio 0 is stall. Beside it turbine torque, efficiency and "
        "heat over turbine speed."
    )


def _characteristic(lesson: Lesson) -> tuple[Figure, str]:
    return characteristic(lesson.converter, system=lesson.system), (
        "Torque ratio, efficiency and capacity of the converter over speed ratio. Torque ratio "
        "falls to 1 at the coupling point, where efficiency and capacity have a corner."
    )


def _stator_kinds(lesson: Lesson) -> tuple[Figure, str]:
    if lesson.blading is None:
        raise InputError(_NO_BLADES, source=lesson.converter.id)
    kinds = [
        characteristic_from_blading(lesson.blading, mounting=mounting)
        for mounting in ("one-way", "fixed")
    ]
    return characteristic(kinds, system=lesson.system), (
        "Torque ratio, efficiency and capacity of one blading with the stator on a one-way clutch "
        "and held: the same up to the coupling point; beyond it the held stator's efficiency falls."
    )


PICTURES: dict[str, Callable[[Lesson], tuple[Figure, str]]] = {
    "parts": _parts,
    "oil-at-stall": _at_stall,
    "oil-running": _running,
    "match": _overlay,
    "characteristic": _characteristic,
    "stator-kinds": _stator_kinds,
}
"""Name -> figure and its words, of a lesson."""


class PredictionCard(widgets.VBox):  # type: ignore[misc]
    """One question of the kind higher, lower, same: nothing is shown before a choice is made.

    Parameters
    ----------
    lesson : Lesson
    item : Prediction

    Attributes
    ----------
    item : Prediction
    revealed : bool
        Whether the answer is shown.
    """

    def __init__(self, lesson: Lesson, item: Prediction) -> None:
        self.question = widgets.HTML()
        self.choice = widgets.ToggleButtons(
            description="I predict", style={"button_width": "auto", "description_width": "initial"}
        )
        self.answer = widgets.HTML()
        self._setting = False
        self.choice.observe(lambda _: self._chosen(), names="value")
        self.set(lesson, item)
        super().__init__(children=[self.question, self.choice, self.answer])

    def set(self, lesson: Lesson, item: Prediction) -> None:
        """Ask again, of another pair; the answer is hidden."""
        self.item, self.revealed = item, False
        curves = ""
        if drawn := which_curve(lesson.result, item):
            figure, caption = drawn
            curves = picture(figure, f"{caption} They are marked A, B, C.")._repr_html_()
        self.question.value = f"<p>{escape(item.question)}</p>{curves}"
        self._setting = True
        self.choice.options = [(option, k) for k, option in enumerate(item.options)]
        self.choice.value = None
        self._setting = False
        self.answer.value = ""

    def _chosen(self) -> None:
        if self._setting or self.choice.value is None:
            return
        self.revealed = True
        said = f"{self.item.verdict(self.choice.value)} {self.item.why}"
        self.answer.value = f'<div role="status">{escape(said)}</div>'

    @property
    def folded(self) -> str:
        """The card as HTML with the answer folded away: works without a kernel."""
        item = self.item
        return (
            f"{self.question.value}<p>{' / '.join(map(escape, item.options))}</p><details><summary>"
            f"answer</summary><p><b>{escape(item.answer)}</b>. {escape(item.why)}</p></details>"
        )
