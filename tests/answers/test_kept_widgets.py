"""What the widgets of the notebooks show is what they showed when somebody last looked at it.

The words on them as they are and after each is used; pictures are held as figures. Held as the
answers are (see there).
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from matplotlib.figure import Figure

from converter_match.judgement.lesson.demonstrations import DEMONSTRATIONS
from converter_match.judgement.lesson.exercises import TOPICS
from converter_match.library.read import read_converter
from converter_match.library.shipped import find
from converter_match.library.study_file import read_study
from converter_match.present.figures import practice_chart
from converter_match.present.figures.which_curve import which_curve
from converter_match.present.lab import readings_form
from converter_match.present.lab.picking import ChartPicker
from converter_match.present.lab.readings_form import ReadingsForm
from converter_match.present.lesson import following
from converter_match.present.lesson.following import PICTURES, PredictionCard
from converter_match.present.lesson.lesson import LessonDesk
from tests.answers.drawn import figure_lines, numbers
from tests.answers.holding import NUMBER, compare, kept_names, lines_of
from tests.answers.page_words import words_of

OTHER = {"engine": "six-cylinder-9l-240kw", "converter": "single-stage-360mm", "units": "us"}


class Drawn:
    """A figure and its words, in place of its picture."""

    def __init__(self, figure: Figure, words: str) -> None:
        self.text = "\n".join([f"picture: {words}", *figure_lines(figure)])

    def __repr__(self) -> str:
        return self.text

    def _repr_html_(self) -> str:
        return f"<pre>{self.text}</pre>"


class Words:
    """The words of a picture alone."""

    def __init__(self, words: str) -> None:
        self.words = words

    def _repr_html_(self) -> str:
        return self.words


def desk(other: bool) -> LessonDesk:
    made = LessonDesk()
    if other:
        for name, value in OTHER.items():
            getattr(made, name).value = value
    return made


def cards_of(own: LessonDesk) -> Iterator[str]:
    """Yield each card of the lesson, what it says to each choice or number, and its answer."""
    for topic, title in TOPICS:
        cards = own.cards(topic)
        yield f"# {title}"
        bundle = cards._repr_mimebundle_()
        yield from words_of(bundle["text/html"])
        yield from bundle["text/plain"].splitlines()
        for card in cards.children:
            if isinstance(card, PredictionCard):
                yield f"## {card.item.key}: {[name for name, _ in card.choice.options]}"
                drawn = which_curve(own.lesson.result, card.item)
                if drawn is not None:
                    figure, caption = drawn
                    yield caption
                    yield from figure_lines(figure)
                for _, number in card.choice.options:
                    card.choice.value = number
                    yield f"{number} -> {' '.join(words_of(card.answer.value))}"
            else:
                yield f"## {card.exercise.key}"
                card.button.click()
                yield from words_of(card.question.value + card.answer.value)


def shown_of(own: LessonDesk) -> Iterator[str]:
    """Yield what is shown beside the cards: tables, beliefs, the words of the pictures."""
    yield from words_of(own.message.value)
    yield from (f"{name} = {id}" for name, id in own.converter.options)
    made = {f"picture {name}": own.picture(name) for name in PICTURES}
    made |= {name: own.demonstration(name) for name in DEMONSTRATIONS}
    beliefs = range(len(own.lesson.misconceptions))
    made |= {f"belief {number}": own.belief(number) for number in beliefs}
    for name, shown in made.items():
        yield f"# {name}"
        yield from words_of(shown.value)
        yield from repr(shown._repr_mimebundle_()["text/plain"]).splitlines()


@pytest.mark.parametrize("other", [False, True], ids=["as-it-comes", "another-pair-us"])
@pytest.mark.parametrize("part", [cards_of, shown_of], ids=["cards", "shown"])
def test_lesson_shows_what_it_showed(part, other, request, monkeypatch):
    monkeypatch.setattr(following, "picture", Drawn)
    monkeypatch.setattr("converter_match.present.lesson.lesson.picture", Drawn)
    kept = f"widget-lesson-{part.__name__[:-3]}-{'other' if other else 'own'}"
    compare(kept, list(part(desk(other))), request)


def test_slider_of_the_lesson_holds_what_it_held(request):
    slider = desk(True).slider()
    compare("widget-lesson-slider", list(lines_of(slider.pair)), request)


def test_form_for_readings_shows_what_it_showed(request, monkeypatch):
    monkeypatch.setattr(readings_form, "picture", lambda figure, words: Words(words))
    form = ReadingsForm(read_study("loader-in-the-yard"), draws=64)
    boxes = {name.partition(" of ")[0]: field for name, field in form.fields.items()}
    stall, ratio = boxes["stall speed"], boxes["torque ratio"]
    lines = []
    for field in form.fields.values():
        lines.append(f"{field.description} [{field.placeholder}] {field.value}")
    for box, typed in (
        (stall, stall.value), (stall, "quick"), (stall, "1000 rpm"), (stall, "1340 rpm"),
        (ratio, "2.15"), (ratio, " "),
    ):  # fmt: skip
        box.value = typed
        said = words_of(form.said.value)
        # Draws weighed by readings are others on another processor: their numbers are left out.
        weighed = form.result.evidence is not None and form.result.evidence.accepted
        taken = form.result.study.measurements
        lines += ["", f"# {typed}", *(f"{one.use} {one.given} = {one.value:.6g}" for one in taken)]
        lines += [*(NUMBER.sub("#", one) if weighed else one for one in said)]
    compare("widget-readings", lines, request)


def test_marks_on_a_chart_make_the_draft_that_they_made(request, tmp_path):
    fitted = read_converter(find("converters", "single-stage-345mm-tight"))
    chart = tmp_path / "chart.png"
    marks = practice_chart.practice_chart(fitted, chart)
    curves = (
        {"quantity": "torque ratio"},
        {"quantity": "input torque", "unit": "N.m", "at_speed": {"unit": "rpm", "value": 1500.0}},
    )
    picker = ChartPicker(chart, curves, marks=marks)
    lines = [*map(str, picker.choices), str(picker.size), *picker.toml().splitlines()]
    lines += [str(len(path) // 10) for path in picker.paths]
    draft = picker.draft(stator="one-way", coupling_speed_ratio="0.86")
    for column in draft.sheet.columns:
        lines += [numbers(column.values), numbers(column.tolerance)]
    compare("widget-chart", lines, request)


def test_every_kept_widget_is_shown():
    lessons = {f"lesson-{part}-{pair}" for part in ("cards", "shown") for pair in ("own", "other")}
    assert kept_names("widget-") == lessons | {"lesson-slider", "readings", "chart"}
