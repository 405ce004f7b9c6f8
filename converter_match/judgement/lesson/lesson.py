"""A lesson on one pair: its exercises, its misconceptions, its match."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from converter_match.components.blading import BladingGeometry
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.components.machine import Machine
from converter_match.judgement.lesson.demonstrations import demonstrations
from converter_match.judgement.lesson.exercises import Exercise, exercises
from converter_match.judgement.lesson.misconceptions import misconceptions
from converter_match.judgement.lesson.predictions import Prediction, predictions
from converter_match.judgement.lesson.states import FullLoadStates, full_load_states
from converter_match.judgement.lesson.truth import Demonstration, Misconception
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.match.solve import solve
from converter_match.units import System


@dataclass(frozen=True, eq=False)
class Lesson:
    """What a lesson works with.

    Parameters
    ----------
    engine, converter : Engine, Converter
    other_engines : tuple of Engine
        To stand behind the same converter.
    blading : BladingGeometry, optional
        Fitted to the converter's sheet, for velocity triangles and the held stator.
    machine : Machine, optional
        For its oil and cooler.
    system : {"si", "us"}
    """

    engine: Engine
    converter: Converter
    other_engines: tuple[Engine, ...] = ()
    blading: BladingGeometry | None = None
    machine: Machine | None = None
    system: System = "si"

    @cached_property
    def result(self) -> MatchResult:
        """The match of the pair."""
        return solve(self.engine, self.converter)

    @cached_property
    def states(self) -> FullLoadStates:
        """The pair from stall to the governor; raises as `judgement.lesson.states`."""
        return full_load_states(self.result, blading=self.blading, machine=self.machine)

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

    @cached_property
    def predictions(self) -> tuple[Prediction, ...]:
        """All questions of the kind higher, lower, same; only where there are exercises."""
        _ = self.exercises  # refuses what cannot carry them
        return predictions(self.result, blading=self.blading, system=self.system)

    @cached_property
    def demonstrations(self) -> tuple[Demonstration, ...]:
        """All demonstrations; only where there are exercises."""
        _ = self.exercises
        return demonstrations(self.result, self.machine, system=self.system)

    def foretold(self, topic: str) -> tuple[Prediction, ...]:
        """Return the predictions of a topic."""
        return tuple(item for item in self.predictions if item.topic == topic)

    def about(self, topic: str) -> tuple[Exercise, ...]:
        """Return the exercises of a topic."""
        return tuple(item for item in self.exercises if item.topic == topic)
