"""The components of a lesson, read from files; the invented demo pair where none are named."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from converter_match.judgement.lesson.lesson import Lesson
from converter_match.library.read import read_converter, read_engine, read_machine
from converter_match.library.shipped import find
from converter_match.present.pages.blades import blades_of
from converter_match.units import System

ENGINE = "six-cylinder-7l-185kw"
CONVERTER = "single-stage-345mm-tight"
OTHERS = ("six-cylinder-10l5-138kw", "six-cylinder-9l-240kw")
MACHINE = "wheel-loader-17t"


def lesson(
    engine: str | Path = ENGINE,
    converter: str | Path = CONVERTER,
    *,
    others: Sequence[str | Path] = OTHERS,
    machine: str | Path | None = None,
    system: System = "si",
) -> Lesson:
    """Return the lesson for component files, or ids of shipped ones.

    Parameters
    ----------
    engine, converter : str or Path
    others : sequence of str or Path
        Engines to compare with; the engine itself is left out.
    machine : str or Path, optional
        For its oil and cooler; that of the demo pair with the demo pair, none with another.
    system : {"si", "us"}

    Raises
    ------
    InputError
        If a file cannot be used.
    """
    sheet = read_converter(find("converters", str(converter)))
    mine = read_engine(find("engines", str(engine)))
    rest = [read_engine(find("engines", str(name))) for name in others]
    if machine is None and (str(engine), str(converter)) == (ENGINE, CONVERTER):
        machine = MACHINE
    return Lesson(
        engine=mine,
        converter=sheet,
        other_engines=tuple(other for other in rest if other.id != mine.id),
        blading=blades_of(sheet),
        machine=None if machine is None else read_machine(find("machines", str(machine))),
        system=system,
    )
