"""The handout of a lesson, and the instructor's answer sheet: the same pages with the answers."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from converter_match.errors import InputError
from converter_match.judgement.lesson.exercises import TOPICS, Exercise
from converter_match.judgement.lesson.lesson import Lesson
from converter_match.judgement.lesson.predictions import Prediction
from converter_match.library.atomic import write_bytes
from converter_match.library.names import refuse_device
from converter_match.physics.converter.velocity_triangles import velocity_triangles
from converter_match.present.figures.converter_section import converter_section
from converter_match.present.figures.overlay import overlay
from converter_match.present.figures.velocity_triangles import velocity_triangle_panels
from converter_match.present.figures.which_curve import which_curve
from converter_match.present.pages.slider import slider_page
from converter_match.present.report.html import report_html
from converter_match.present.report.model import (
    Paragraph,
    Part,
    Report,
    ReportPicture,
    Section,
    Subheading,
    table,
)
from converter_match.present.report.pdf import report_pdf
from converter_match.present.words.note_words import short_words

HANDOUT, ANSWERS, SLIDER_PAGE = "handout", "answers", "slider.html"
_NOTES = {
    "fluid-coupling": (
        "Two bladed wheels in one oil-filled shell. The impeller throws oil outwards and "
        "forwards, the turbine takes the swirl out of it. Torque = change of angular momentum; "
        "with two wheels only, what one gives the other takes: torque ratio 1, efficiency = "
        "speed ratio."
    ),
    "stator": (
        "Oil leaves the turbine swirling backwards and would brake the impeller. The stator "
        "turns it forwards again, and what it takes to turn the oil goes through its one-way "
        "clutch into the housing. Torques on the oil add up to zero: turbine = impeller + "
        "stator."
    ),
    "stall": (
        "The turbine is held and the engine is at full throttle. They settle where the "
        "engine's net torque equals what the impeller absorbs, C x speed squared. Torque is "
        "multiplied most, and all power turns into heat."
    ),
    "coupling-point": (
        "As the turbine gains speed, the oil meets the stator "
        "at a smaller and smaller angle, and finally from behind. There the one-way clutch "
        "overruns and the stator freewheels: torque "
        "ratio 1, a fluid coupling "
        "from here on."
    ),
    "lock-up": (
        "A clutch ties turbine to impeller: no slip, no heat, no multiplication. What it costs or "
        "gains in pull depends on what the engine gives at the turbine's speed."
    ),
    "fixed-stator": (
        "A stator that cannot turn still deflects the oil: past "
        "the coupling point the torque ratio falls below 1 and efficiency with it. A one-way "
        "clutch that has seized makes a fixed stator of a one-way one; one that slips makes a "
        "fluid coupling."
    ),
    "impeller-clutch": (
        "A clutch between engine and impeller that may slip. The engine keeps its speed for the "
        "hydraulics while the impeller, and so the pull, is let down. Slip times torque is heat "
        "in the clutch."
    ),
    "torque-divider": (
        "A planetary lets part of the torque go round the converter through gears. Less "
        "multiplication, less slip. With the output held the turbine is driven backwards, where "
        "few data sheets reach."
    ),
}
_SETTING = {
    "fluid-coupling": "Two bladed wheels in one oil-filled shell: the impeller on the engine, the "
    "turbine on the gearbox. Between them, in a converter, stands a stator.",
    "stator": "The stator sits on a one-way clutch on the housing: the clutch lets it turn one way "
    "only.",
    "stall": "The brakes hold the turbine, the engine is at full throttle.",
    "coupling-point": "The turbine gains speed. At one speed ratio, turbine over impeller, the "
    "one-way clutch begins to overrun: the coupling point.",
    "lock-up": "A clutch that can tie turbine to impeller.",
    "fixed-stator": "A stator that cannot turn, by design or because its one-way clutch has "
    "seized.",
    "impeller-clutch": "A clutch between engine and impeller that may slip.",
    "torque-divider": "A planetary gear set that lets part of the torque go round the converter.",
}
_CAUTION = (
    "A stall test can move the machine and boils oil within a minute. Open level ground, nobody "
    "in front, behind or under, wheels chocked, brakes tested, seconds only, then cool in "
    "neutral. The machine maker's procedure and local rules come first."
)


def handout(lesson: Lesson, *, answers: bool = False) -> Report:
    """Return the handout of a lesson as a report.

    On the pupil's sheet stand questions and what is needed to answer them: no figure, no table and
    no explanation that would give an answer away. Those are on the sheet with the answers.

    Parameters
    ----------
    lesson : Lesson
    answers : bool
        Whether answers and the way to them are printed: the instructor's sheet.

    Raises
    ------
    InputError
        If the pair cannot carry the lesson.
    """
    numbers = iter(range(1, 1000))
    sections = [
        Section(
            title="The parts",
            parts=(
                ReportPicture(
                    name="parts",
                    figure=converter_section(),
                    caption="A converter in section, the half above the shaft. Arrows: the way "
                    "of the oil.",
                    width=4.6,
                ),
            ),
        )
    ]
    for key, title in TOPICS:
        parts: list[Part] = [Paragraph(text=_SETTING[key])]
        if key == "stall":
            parts.append(Paragraph(text=_CAUTION, look="caution"))
        for guess in lesson.foretold(key):
            parts += _foretold(lesson, guess, next(numbers), answers)
        for item in lesson.about(key):
            parts += _question(item, next(numbers), answers)
        if answers:
            parts += [Paragraph(text=_NOTES[key]), *_picture(lesson, key)]
        sections.append(Section(title=title, parts=tuple(parts)))
    sections.append(_beliefs(lesson, answers))
    if answers:
        sections.append(_shown(lesson))
    pair = f"{lesson.engine.name} with {lesson.converter.title}"
    sources = "; ".join(dict.fromkeys((lesson.engine.source, lesson.converter.source)))
    assumed = short_words(lesson.result.assumptions)
    return Report(
        title="Torque converters: " + ("instructor's answer sheet" if answers else "handout"),
        subtitle=f"Every number is computed for {pair}."
        + ("" if answers else " Predict first; the figures come afterwards."),
        footer=f"{sources}. Assumptions: {assumed or 'none'}.",
        sections=tuple(sections),
    )


def _foretold(lesson: Lesson, item: Prediction, number: int, answers: bool) -> Iterator[Part]:
    yield Subheading(text=f"Question {number}")
    yield Paragraph(text=item.question)
    if curves := which_curve(lesson.result, item, font_scale=1.5):
        figure, caption = curves
        yield ReportPicture(name=f"question-{number}", figure=figure, caption=caption, width=3.3)
    if answers:
        yield Paragraph(text=f"Answer: {item.answer}. {item.why}", look="caution")
    else:
        boxes = "      ".join(f"□ {option}" for option in item.options)
        yield Paragraph(text=f"I predict:   {boxes}", look="small")


def _beliefs(lesson: Lesson, answers: bool) -> Section:
    believed: list[Part] = []
    for item in lesson.misconceptions:
        if answers:
            believed += [
                Subheading(text=f"“{item.belief}”"),
                Paragraph(text=item.truth),
                table("", item.head, item.rows, widths=(2.2, *(1.0 for _ in item.head[1:]))),
            ]
        else:
            believed.append(Paragraph(text=f"“{item.belief}”      □ true      □ false"))
    title = "Common misconceptions" if answers else "True or false?"
    return Section(title=title, parts=tuple(believed))


def _shown(lesson: Lesson) -> Section:
    parts: list[Part] = []
    for item in lesson.demonstrations:
        parts += [Subheading(text=item.title), Paragraph(text=item.text)]
        if item.rows:
            parts.append(table("", item.head, item.rows))
    return Section(title="To be shown", parts=tuple(parts))


def write_handout(
    lesson: Lesson, folder: str | Path, *, answers: bool = False, overwrite: bool = False
) -> tuple[Path, ...]:
    """Write the handout, and the answer sheet if asked for, for screen (HTML) and printer (PDF).

    The page that goes from stall to the governor is written beside them.

    Parameters
    ----------
    lesson : Lesson
    folder : path
        Made if it does not exist.
    answers : bool
        Whether the instructor's answer sheet is written as well.
    overwrite : bool

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    InputError
        If the pair cannot carry the lesson, or a file is there already or cannot be written.
        Everything is made before the first file is written.
    """
    target = Path(folder)
    refuse_device(target, source=str(target))
    if target.exists() and not target.is_dir():
        raise InputError("is not a folder", source=str(target))
    pages: dict[str, bytes] = {}
    for name, with_answers in ((HANDOUT, False), (ANSWERS, True))[: 2 if answers else 1]:
        report = handout(lesson, answers=with_answers)
        pages[f"{name}.html"] = report_html(report).encode()
        pages[f"{name}.pdf"] = report_pdf(report)
    pages[SLIDER_PAGE] = slider_page(lesson.states, system=lesson.system).encode()
    taken = [name for name in pages if (target / name).exists()]
    if taken and not overwrite:
        raise InputError(
            "is there already",
            source=str(target / taken[0]),
            expected="a new folder",
            hint="nothing is overwritten without being asked",
        )
    try:
        target.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            f"cannot be made ({error.strerror or error})", source=str(target)
        ) from None
    for name, content in pages.items():
        write_bytes(content, target / name, overwrite=overwrite)
    return tuple(target / name for name in pages)


def write_slider(lesson: Lesson, path: str | Path, *, overwrite: bool = False) -> Path:
    """Write the page that goes from stall to the governor; a pair needs no coupling point for it.

    Parameters
    ----------
    lesson : Lesson
    path : path
        Of the page.
    overwrite : bool

    Raises
    ------
    InputError
        If engine and converter have no match, or the file is there already or cannot be written.
    """
    page = slider_page(lesson.states, system=lesson.system)
    write_bytes(page.encode(), path, overwrite=overwrite)
    return Path(path)


def _question(item: Exercise, number: int, answers: bool) -> Iterator[Part]:
    yield Subheading(text=f"Question {number}")
    yield Paragraph(text=item.question)
    if answers:
        yield Paragraph(text=f"Answer: {item.answer_text}. {item.working}", look="caution")
    else:
        unit = f" ({item.unit})" if item.unit else ""
        yield Paragraph(text=f"I predict{unit}: ____________________", look="small")


def _picture(lesson: Lesson, topic: str) -> Iterator[ReportPicture]:
    if topic == "stall":
        yield ReportPicture(
            name="match",
            figure=overlay(lesson.result, system=lesson.system),
            caption="Where the engine's net torque crosses what the impeller absorbs, the two run "
            "together; stall is the crossing for speed ratio 0.",
        )
    if topic == "stator" and lesson.blading is not None and lesson.result.stall is not None:
        triangles = velocity_triangles(lesson.blading, 0.0, lesson.result.stall.engine_speed)
        panels = velocity_triangle_panels(triangles, system=lesson.system)
        yield ReportPicture(
            name="velocities-at-stall",
            figure=panels[0].figure,  # type: ignore[arg-type]
            caption="The oil at stall where it leaves each row of blades. It leaves the turbine "
            "backwards and the stator forwards: that turn is the stator's torque. "
            "An estimate: blades that give the stall torque ratio, the capacity at stall and the "
            "coupling point of the converter above.",
        )
