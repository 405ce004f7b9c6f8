"""The components of a lesson, read from files; the invented demo pair where none are named."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from converter_match.components.blading import BladingGeometry
from converter_match.components.converter import Converter
from converter_match.errors import InputError
from converter_match.judgement.lesson.lesson import Lesson
from converter_match.library.read import read_blading, read_converter, read_engine
from converter_match.library.shipped import find
from converter_match.physics.converter.blading_for_sheet import blading_for_sheet
from converter_match.units import System

ENGINE = "six-cylinder-7l-185kw"
CONVERTER = "single-stage-345mm-tight"
OTHERS = ("six-cylinder-10l5-138kw", "six-cylinder-9l-240kw")
BLADING = "loader-390mm"


def lesson(
    engine: str | Path = ENGINE,
    converter: str | Path = CONVERTER,
    *,
    others: Sequence[str | Path] = OTHERS,
    system: System = "si",
) -> Lesson:
    """Return the lesson for component files, or ids of shipped ones.

    Parameters
    ----------
    engine, converter : str or Path
    others : sequence of str or Path
        Engines to compare with; the engine itself is left out.
    system : {"si", "us"}

    Raises
    ------
    InputError
        If a file cannot be used.
    """
    sheet = read_converter(find("converters", str(converter)))
    mine = read_engine(find("engines", str(engine)))
    rest = [read_engine(find("engines", str(name))) for name in others]
    return Lesson(
        engine=mine,
        converter=sheet,
        other_engines=tuple(other for other in rest if other.id != mine.id),
        blading=blades_of(sheet),
        system=system,
    )


def blades_of(sheet: Converter) -> BladingGeometry:
    """Return blades that give a sheet; where the shipped shape cannot, that shape as it is.

    Parameters
    ----------
    sheet : Converter
    """
    shape = read_blading(find("blading", BLADING))
    try:
        return blading_for_sheet(shape, sheet).geometry
    except InputError:
        return shape
