"""What a notebook shows: the live bench, a lesson, tables, notes, pictures with their words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from converter_match.api.door import MOST_DRAWS, count, part
from converter_match.library.files import FilePath
from converter_match.notes import Kind
from converter_match.units import System

if TYPE_CHECKING:
    from converter_match.answer.noted import Noted
    from converter_match.components.converter import Converter
    from converter_match.components.engine import Engine
    from converter_match.components.motor import Motor
    from converter_match.judgement.match.result import MatchResult
    from converter_match.present.bench.app import MatchBench
    from converter_match.present.bench.shelf import Shelf
    from converter_match.present.lab.bring_in import BringIn
    from converter_match.present.lab.picking import ChartPicker
    from converter_match.present.lab.readings_form import ReadingsForm
    from converter_match.present.lesson.lesson import LessonDesk
    from converter_match.present.notebook.picture import Notes, Picture
    from converter_match.present.notebook.table import NotebookTable
    from converter_match.study.study import Study


def bench(
    engine: Engine | Motor | None = None,
    converter: Converter | None = None,
    *,
    folder: FilePath | None = None,
    system: System = "si",
    save_in: FilePath = ".",
) -> MatchBench:
    """Open the live bench: controls for a match, and what follows from them.

    Parameters
    ----------
    engine : Engine or Motor, optional
        To begin with; the first on the shelf without.
    converter : Converter, optional
        The same.
    folder : str or path-like, optional
        Whose component files stand on the shelf beside the shipped ones.
    system : {"si", "us"}
        To begin with.
    save_in : str or path-like
        Where the bench writes what is saved.

    Returns
    -------
    MatchBench
        `MatchBench.match` is what is set, `MatchBench.still` its picture. It stands in the
        notebook as the last line of a cell.

    Raises
    ------
    InputError
        If one of them is no such part, or there is no such folder.

    Examples
    --------
    >>> import converter_match as cm
    >>> live = cm.bench(*cm.read("six-cylinder-7l-185kw", "single-stage-345mm-tight"))
    >>> round(live.match.stall.torque_ratio, 2)
    2.2
    >>> electric = cm.bench(*cm.read("lift-truck-80v-30kw", "single-stage-260mm"))
    >>> electric.match.peak.stall is not None
    True
    """
    from converter_match.present.bench.app import MatchBench
    from converter_match.present.bench.keeping import Keeper
    from converter_match.present.bench.shelf import load_shelf
    from converter_match.present.bench.state import BenchState, Setting

    own = load_shelf(folder)
    mover = next(iter(own.engines.values())) if engine is None else _mover(engine)
    found, ids = _with_own(own, mover, converter)
    state = BenchState(a=Setting(engine=ids[0], converter=ids[1]), system=system)
    return MatchBench(found, state, keeper=Keeper(save_in))


def lesson(
    engine: Engine | None = None,
    converter: Converter | None = None,
    *,
    folder: FilePath | None = None,
    system: System = "si",
) -> LessonDesk:
    """Open the lesson: a pair to choose, and questions, answers and beliefs that follow it.

    Parameters
    ----------
    engine, converter : Engine, Converter, optional
        To begin with; those of the shipped lesson without.
    folder : str or path-like, optional
        Whose component files can be chosen beside the shipped ones.
    system : {"si", "us"}
        To begin with.

    Returns
    -------
    LessonDesk
        `LessonDesk.cards` asks, `LessonDesk.belief` corrects, `LessonDesk.slider` shows.

    Raises
    ------
    InputError
        If one of them is no such part, the pair cannot carry the lesson, or there is no such
        folder.

    Examples
    --------
    >>> import converter_match as cm
    >>> desk = cm.lesson(*cm.read("six-cylinder-7l-185kw", "single-stage-345mm-tight"))
    >>> len(desk.cards("stall").children) > 0
    True
    """
    from converter_match.components.engine import Engine
    from converter_match.present.bench.shelf import load_shelf
    from converter_match.present.lesson.demo import CONVERTER, ENGINE
    from converter_match.present.lesson.lesson import LessonDesk

    shelf = load_shelf(folder)
    mine = shelf.engine(ENGINE) if engine is None else part(engine, Engine, "engine")
    other = shelf.converter(CONVERTER) if converter is None else converter
    found, ids = _with_own(shelf, mine, other)
    return LessonDesk(found, *ids, system=system)


def _mover(engine: object) -> Engine | Motor:
    from converter_match.components.engine import Engine
    from converter_match.components.motor import Motor

    return engine if isinstance(engine, Motor) else part(engine, Engine, "engine")


def _with_own(
    shelf: Shelf, engine: Engine | Motor, converter: object
) -> tuple[Shelf, tuple[str, str]]:
    """Return a shelf on which two parts stand as well, and the ids they stand under."""
    from converter_match.components.converter import Converter

    first = next(iter(shelf.converters.values()))
    own, *ids = shelf.with_own(
        engine, first if converter is None else part(converter, Converter, "converter")
    )
    return own, (ids[0], ids[1])


def shelf(folder: FilePath | None = None) -> Shelf:
    """List what can be chosen: the shipped parts and those in a folder of one's own.

    Parameters
    ----------
    folder : str or path-like, optional
        Searched for component files, also one level down.

    Returns
    -------
    Shelf
        Engines, converters and sites by id; files that cannot be used, each with the reason.

    Raises
    ------
    InputError
        If there is no such folder.

    Examples
    --------
    >>> import converter_match as cm
    >>> "six-cylinder-7l-185kw" in cm.shelf().engines
    True
    """
    from converter_match.present.bench.shelf import load_shelf

    return load_shelf(folder)


def bring_in(folder: FilePath = ".", **answers: Any) -> BringIn:
    """Show a button that takes a sheet into a folder, and says what was understood of it.

    Parameters
    ----------
    folder : str or path-like
        Where uploaded files go, and nowhere else; must be there.
    **answers
        What is known beside the sheet, as for `intake`.

    Returns
    -------
    BringIn
        ``draft`` is what was understood of the last sheet.

    Examples
    --------
    >>> import converter_match as cm
    >>> cm.bring_in(".").draft is None
    True
    """
    from converter_match.present.lab.bring_in import BringIn

    return BringIn(folder, **answers)


def pick_chart(
    picture: FilePath,
    curves: Sequence[dict[str, Any]],
    *,
    x: dict[str, Any] | None = None,
    kind: str = "converter",
    page: int = 1,
    marks: Sequence[dict[str, Any]] = (),
) -> ChartPicker:
    """Show the picture of a chart to click on: axes first, then the ends of each curve.

    Parameters
    ----------
    picture : str or path-like
        PNG, JPEG, or PDF.
    curves : sequence of dict
        One a curve: ``quantity``, and where it has them ``unit``, ``scale``, ``at_speed``.
    x : dict, optional
        The same of the horizontal axis; the speed ratio without.
    kind : {"converter", "engine"}
    page : int
        Of a PDF.
    marks : sequence of dict
        Made already.

    Returns
    -------
    ChartPicker
        `ChartPicker.draft` says what the marks tell.

    Raises
    ------
    InputError
        If the picture cannot be read.

    Examples
    --------
    >>> import tempfile
    >>> import converter_match as cm
    >>> file = tempfile.mkdtemp() + "/chart.png"
    >>> marks = cm.figures.practice_chart(cm.read("single-stage-345mm-tight"), file)
    >>> len(cm.pick_chart(file, [{"quantity": "torque ratio"}], marks=marks).marks) == len(marks)
    True
    """
    from converter_match.present.lab.picking import ChartPicker

    return ChartPicker(picture, curves, x=x, kind=kind, page=page, marks=list(marks))


def notes_of(*results: Noted, kind: Kind | None = None, system: System = "si") -> Notes:
    """List the notes of results: what was assumed, what is odd, what is exceeded, what hurts.

    Parameters
    ----------
    *results : results, or components
        Whatever has notes; one that several have is listed once.
    kind : {"assumption", "warning", "limit", "caution"}, optional
        Only those.
    system : {"si", "us"}

    Returns
    -------
    list of notes
        It wraps in a notebook, and reads at a console.

    Raises
    ------
    InputError
        If something has no notes.

    Examples
    --------
    >>> import converter_match as cm
    >>> match = cm.solve(*cm.read("six-cylinder-7l-185kw", "single-stage-345mm-tight"))
    >>> len(cm.notes_of(match, kind="assumption").lines)
    1
    """
    from converter_match.errors import InputError
    from converter_match.present.notebook.picture import Notes

    for result in results:
        if not hasattr(result, "notes"):
            raise InputError(
                "has no notes", found=type(result).__name__, expected="results, or components"
            )
    listed = (note for result in results for note in result.notes)
    return Notes((note for note in listed if kind in (None, note.kind)), system)


def readings_form(study: Study, *, draws: int = 2000, system: System = "si") -> ReadingsForm:
    """Open a form for readings: each is weighed as it is typed, with what it changes.

    Parameters
    ----------
    study : Study
        With tolerances; its own readings stand in the form to begin with.
    draws : int
        2 to 10 million; fewer answer sooner.
    system : {"si", "us"}

    Returns
    -------
    ReadingsForm
        `ReadingsForm.result` is what the study comes to by the readings in the form. It stands in
        the notebook as the last line of a cell.

    Raises
    ------
    InputError
        If it is no study, or has no tolerances.

    Examples
    --------
    >>> import converter_match as cm
    >>> form = cm.readings_form(cm.read("loader-nothing-to-measure"), draws=256)
    >>> form.result.decision.code
    'order'
    """
    from converter_match.present.lab.readings_form import ReadingsForm
    from converter_match.study.study import Study

    number = count(draws, "draws", 0, MOST_DRAWS)
    return ReadingsForm(part(study, Study, "study"), draws=number, system=system)


def still(match: MatchResult, *, system: System = "si") -> Picture:
    """Draw a match as a still picture with its own words.

    Parameters
    ----------
    match : MatchResult
    system : {"si", "us"}

    Returns
    -------
    Picture
        Its words are also what a console shows.

    Raises
    ------
    InputError
        If it is no match.

    Examples
    --------
    >>> import converter_match as cm
    >>> match = cm.solve(*cm.read("six-cylinder-7l-185kw", "single-stage-345mm-tight"))
    >>> cm.still(match).alternative[:49]
    'Six-cylinder loader engine, 7 L, turbocharged and'
    """
    from converter_match.judgement.match.result import MatchResult
    from converter_match.present.bench.still import still

    return still(part(match, MatchResult, "match"), system)


def compare(a: MatchResult, b: MatchResult, *, system: System = "si") -> NotebookTable:
    """Put the key figures of two matches side by side, with the difference.

    Parameters
    ----------
    a, b : MatchResult
    system : {"si", "us"}

    Returns
    -------
    NotebookTable
        A, B, and B less A.

    Raises
    ------
    InputError
        If one of them is no match.

    Examples
    --------
    >>> import converter_match as cm
    >>> engine, tight, loose = cm.read(
    ...     "six-cylinder-7l-185kw", "single-stage-345mm-tight", "single-stage-345mm-loose"
    ... )
    >>> cm.compare(cm.solve(engine, tight), cm.solve(engine, loose)).head
    ('', 'A', 'B', 'B − A', 'unit')
    """
    from converter_match.judgement.match.result import MatchResult
    from converter_match.present.bench.view import compared

    return compared(part(a, MatchResult, "a"), part(b, MatchResult, "b"), system)
