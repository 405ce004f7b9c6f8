"""A study of an electric motor in the engine's place: converter kept, or coupled directly. SI."""

from __future__ import annotations

import math
from dataclasses import dataclass

from converter_match.components.base import Component, freeze_tuples, require_choice
from converter_match.components.converter import Converter
from converter_match.components.driveline import Driveline
from converter_match.components.machine import LOADS, Load, Machine
from converter_match.components.motor import Motor
from converter_match.components.route import Route
from converter_match.components.site import Site
from converter_match.components.surface import Surface
from converter_match.errors import InputError
from converter_match.notes import Note
from converter_match.study.input_file import InputFile
from converter_match.study.names import once_each
from converter_match.study.study import Combination


@dataclass(frozen=True, kw_only=True, eq=False)
class MotorCandidate(Component):
    """A motor, and what stands between it and the gearbox.

    Parameters
    ----------
    id, name : str
    motor : Motor
    converter : Converter, optional
        Without, the motor is coupled directly.
    ratio : float
        Of the reduction in the converter's place; 1 for none.
    efficiency : float, optional
        Of that reduction.
    voltage : float, optional
        [V]; the nominal one without.
    driveline, machine : Driveline, Machine
    """

    id: str
    name: str
    motor: Motor
    converter: Converter | None = None
    ratio: float = 1.0
    efficiency: float | None = None
    voltage: float | None = None
    driveline: Driveline
    machine: Machine


@dataclass(frozen=True, kw_only=True)
class MotorRequirements:
    """What a candidate has to do; without a value of its own a requirement goes by the present.

    Parameters
    ----------
    startability : float, optional
        Steepest grade to start on with the peak torque, at least; that of the present machine
        without.
    continuous_grade : float, optional
        Grade held for good, at least: motor and oil; not asked for without.
    top_speed : float, optional
        On the level with the peak torque, at least [m/s]; 95 % of the present machine's without.
    cycle_time : float
        Time of the routes over that of the present machine, at most.
    """

    startability: float | None = None
    continuous_grade: float | None = None
    top_speed: float | None = None
    cycle_time: float = 1.10

    def __post_init__(self) -> None:
        for name in ("startability", "continuous_grade"):
            value = getattr(self, name)
            if value is not None and not 0.0 < value <= 1.0:
                raise InputError(
                    "out of range",
                    field=f"requirements.{name}",
                    found=value,
                    expected="above 0, at most 100 %",
                )
        for name, most in (("top_speed", 100.0), ("cycle_time", 10.0)):
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and 0.0 < value <= most):
                raise InputError(
                    "out of range",
                    field=f"requirements.{name}",
                    found=value,
                    expected="a speed of a machine" if name == "top_speed" else "0 to 1000 %",
                )


@dataclass(frozen=True, kw_only=True, eq=False)
class MotorStudy(Component):
    """Everything that the decision on a motor rests on.

    Parameters
    ----------
    id, name, source, question : str
    present : Combination or None
        The machine as it stands, with its engine.
    candidates : tuple of MotorCandidate
        At least one.
    site : Site, optional
    surface : Surface
    load : {"laden", "empty"}
    grades : tuple of float
        Rise / run.
    routes : tuple of Route
    hydraulic_torque : float
        Taken by implement pumps at the shaft of engine and motor alike [N.m].
    requirements : MotorRequirements
    inputs : tuple of InputFile
    odd : tuple of (str, Note)
        What is odd about the files: what it is about, and what.
    doubts : tuple of (str, str, Note)
        Id of the combination, what it is about, and what throws doubt on its data.

    Raises
    ------
    InputError
        If there is no candidate, or an id is used twice.
    """

    id: str
    name: str
    source: str
    question: str = ""
    present: Combination | None = None
    candidates: tuple[MotorCandidate, ...]
    site: Site | None = None
    surface: Surface
    load: Load = "laden"
    grades: tuple[float, ...] = (0.0, 0.05, 0.10, 0.15)
    routes: tuple[Route, ...] = ()
    hydraulic_torque: float = 0.0
    requirements: MotorRequirements = MotorRequirements()
    inputs: tuple[InputFile, ...] = ()
    odd: tuple[tuple[str, Note], ...] = ()
    doubts: tuple[tuple[str, str, Note], ...] = ()

    def __post_init__(self) -> None:
        freeze_tuples(self, "candidates", "grades", "routes", "inputs", "odd", "doubts")
        require_choice(self.load, "duty.load", LOADS)
        if not self.candidates:
            raise InputError("no candidate", field="candidate", expected="at least one")
        once_each([item.id for item in self.candidates], "candidate", "id")
