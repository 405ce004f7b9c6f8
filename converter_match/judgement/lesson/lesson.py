"""A lesson on one pair: its exercises, its misconceptions, its match."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from converter_match.components.blading import BladingGeometry
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.judgement.lesson.exercises import Exercise, exercises
from converter_match.judgement.lesson.misconceptions import Misconception, misconceptions
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.match.solve import solve
from converter_match.library.read import read_blading, read_converter, read_engine
from converter_match.library.shipped import find
from converter_match.units import System

ENGINE = "six-cylinder-7l-185kw"
CONVERTER = "single-stage-345mm-tight"
OTHERS = ("six-cylinder-10l5-138kw", "six-cylinder-9l-240kw")
BLADING = "loader-390mm"


@dataclass(frozen=True, eq=False)
class Lesson:
    """What a lesson works with.

    Parameters
    ----------
    engine, converter : Engine, Converter
    other_engines : tuple of Engine
        To stand behind the same converter.
    blading : BladingGeometry, optional
        For velocity triangles and the held stator; need not be that of the converter.
    system : {"si", "us"}
    """

    engine: Engine
    converter: Converter
    other_engines: tuple[Engine, ...] = ()
    blading: BladingGeometry | None = None
    system: System = "si"

    @cached_property
    def result(self) -> MatchResult:
        """The match of the pair."""
        return solve(self.engine, self.converter)

    @cached_property
    def exercises(self) -> tuple[Exercise, ...]:
        """All exercises; raises as `judgement.lesson.exercises.exercises`."""
        return exercises(
            self.engine,
            self.converter,
            other_engine=self.other_engines[0] if self.other_engines else None,
            blading=self.blading,
            system=self.system,
        )

    @cached_property
    def misconceptions(self) -> tuple[Misconception, ...]:
        """All misconceptions; raises as `judgement.lesson.misconceptions.misconceptions`."""
        return misconceptions(
            self.engine, self.converter, other_engines=self.other_engines, system=self.system
        )

    def about(self, topic: str) -> tuple[Exercise, ...]:
        """Return the exercises of a topic."""
        return tuple(item for item in self.exercises if item.topic == topic)


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
    mine = read_engine(find("engines", str(engine)))
    rest = [read_engine(find("engines", str(name))) for name in others]
    return Lesson(
        engine=mine,
        converter=read_converter(find("converters", str(converter))),
        other_engines=tuple(other for other in rest if other.id != mine.id),
        blading=read_blading(find("blading", BLADING)),
        system=system,
    )
