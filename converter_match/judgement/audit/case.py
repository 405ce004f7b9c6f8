"""Everything a claimed figure can rest on, in one place, and the figure that follows from it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

import numpy as np

from converter_match.components.arrangement import Arrangement
from converter_match.components.converter import Converter
from converter_match.components.driveline import Driveline
from converter_match.components.engine import Engine
from converter_match.components.machine import Load, Machine
from converter_match.components.site import Site
from converter_match.components.surface import Surface
from converter_match.errors import InputError
from converter_match.judgement.arrangement.solve import solve_arranged
from converter_match.judgement.audit import words
from converter_match.judgement.conditions.air import density_around
from converter_match.notes import Note
from converter_match.physics.engine.site_correction import SiteEffect, site_effect
from converter_match.physics.engine.supply import TorqueSupply, engine_supply
from converter_match.physics.match.solver import match
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.tractive import equilibria, steepest_start
from converter_match.physics.wheels.wheels import GearDrive, gear_drives
from converter_match.study.study import Claim
from converter_match.units import note_text


class Missing(Exception):
    """A figure cannot be worked out for want of a datum.

    Parameters
    ----------
    note : Note
        Names the datum.
    """

    def __init__(self, note: Note) -> None:
        super().__init__(note_text(note, "si"))
        self.note = note


def _missing(code: str, **values: float | str) -> Missing:
    return Missing(words.MISSING.note(code, **values))


@dataclass(frozen=True, eq=False, kw_only=True)
class Case:
    """A combination and its circumstances.

    Parameters
    ----------
    engine, converter : Engine, Converter
    arrangement, driveline, machine, surface, site : optional
    load : {"laden", "empty"}
    hydraulic_torque : float
        [N.m].
    """

    engine: Engine
    converter: Converter
    arrangement: Arrangement | None = None
    driveline: Driveline | None = None
    machine: Machine | None = None
    surface: Surface | None = None
    site: Site | None = None
    load: Load = "laden"
    hydraulic_torque: float = 0.0

    @cached_property
    def effect(self) -> SiteEffect:
        """What the site does to the engine."""
        return site_effect(self.engine, self.site)

    @cached_property
    def supply(self) -> TorqueSupply:
        """Net torque at the impeller."""
        return engine_supply(
            self.engine,
            torque_factor=self.effect.torque_factor,
            hydraulic_torque=self.hydraulic_torque,
        )

    @cached_property
    def characteristic(self) -> Converter:
        """The converter as it is arranged."""
        if self.arrangement is None:
            return self.converter
        return solve_arranged(
            self.engine, self.converter, self.arrangement, site=self.site,
            hydraulic_torque=self.hydraulic_torque,
        ).match.converter  # fmt: skip

    def engine_speed(self, speed_ratio: float) -> float:
        """Return the engine speed at a speed ratio, coming up from idle [rad/s].

        Raises
        ------
        Missing
            If there is no match.
        """
        point = match(self.supply, self.characteristic, speed_ratio).from_idle()
        if not bool(point.found):
            raise _missing("no-match", speed_ratio=speed_ratio)
        return float(point.engine_speed)

    @property
    def coupling(self) -> float:
        """Coupling speed ratio.

        Raises
        ------
        Missing
            If there is none in the data.
        """
        nu = self.characteristic.coupling
        if nu is None:
            raise _missing("no-coupling")
        return nu

    @cached_property
    def drives(self) -> tuple[GearDrive, ...]:
        """Every drive of every gear.

        Raises
        ------
        Missing
            If driveline or machine are not given.
        """
        if self.driveline is None:
            raise _missing("no-driveline")
        if self.machine is None:
            raise _missing("no-machine")
        shaft = TurbineShaft(self.supply, self.characteristic)
        return gear_drives(shaft, self.driveline, self.machine)

    def road_load(self, drive: GearDrive) -> RoadLoad:
        """Return the road load of a drive.

        Raises
        ------
        Missing
            If the surface is not given.
        """
        if self.surface is None:
            raise _missing("no-surface")
        return RoadLoad.of(
            drive.machine,
            self.surface,
            load=self.load,
            air_density=density_around(self.effect),
            direction=drive.gear.direction,
        )


def figure(case: Case, claim: Claim) -> float:
    """Return our figure for what a claim is about, SI.

    Raises
    ------
    Missing
        If it cannot be worked out; the message names the datum.
    """
    try:
        return float(_FIGURES[claim.quantity](case, claim))
    except InputError as error:
        raise _missing("refused", problem=str(error)) from None


def _stall_torque(case: Case, claim: Claim) -> float:
    speed = case.engine_speed(0.0)
    return float(case.characteristic.capacity_at(0.0)) * speed**2


def _turbine_torque(case: Case, claim: Claim) -> float:
    return float(case.characteristic.torque_ratio_at(0.0)) * _stall_torque(case, claim)


def _chosen(case: Case, claim: Claim) -> list[GearDrive]:
    """Return the drives that a claim is about: those of its gear, or every forward one."""
    if claim.gear is None:
        return [drive for drive in case.drives if drive.gear.direction == "forward"]
    if case.driveline is not None:
        case.driveline.gear(claim.gear)  # names the gears there are
    return [drive for drive in case.drives if drive.gear.name == claim.gear]


def _effort(case: Case, claim: Claim) -> float:
    """Tractive effort, at standstill without a speed; the greatest of the drives in force."""
    efforts = []
    for drive in _chosen(case, claim):
        curve = drive.curve()
        speed = curve.wheel_speed
        wanted = claim.speed or 0.0
        if not speed[0] - 1e-9 <= wanted <= speed[-1]:
            continue
        turbine = np.interp(wanted, speed, curve.turbine.turbine_speed)
        if bool(drive.active(turbine)):
            efforts.append(float(np.interp(wanted, speed, curve.force)))
    if not efforts:
        raise _missing("no-gear-at-speed")
    return max(efforts)


def _steepest(case: Case, claim: Claim) -> float:
    grades = [
        float(steepest_start(drive, case.road_load(drive))[0])
        for drive in _chosen(case, claim)
        if drive.drive == "converter"
    ]
    if not grades:
        raise _missing("no-converter-gear")
    if not np.isfinite(max(grades)):
        raise _missing("any-grade")
    return max(grades)


def _speed_on(case: Case, claim: Claim, grade: float) -> float:
    drives = _chosen(case, claim)
    points = equilibria(drives, [case.road_load(drive) for drive in drives], [grade])
    held = points.speed[points.held]
    if not held.size:
        raise _missing("no-steady-speed", grade=grade)
    best = float(held.max())
    limit = case.driveline.speed_limit if case.driveline is not None else None
    return best if limit is None else min(best, limit)


def _on_grade(case: Case, claim: Claim) -> float:
    if claim.grade is None:
        raise _missing("no-grade")
    return _speed_on(case, claim, claim.grade)


_FIGURES: Mapping[str, Callable[[Case, Claim], float]] = MappingProxyType(
    {
        "stall-speed": lambda case, claim: case.engine_speed(0.0),
        "stall-input-torque": _stall_torque,
        "stall-turbine-torque": _turbine_torque,
        "stall-torque-ratio": lambda case, claim: float(case.characteristic.torque_ratio_at(0.0)),
        "stall-k-factor": lambda case, claim: float(case.characteristic.capacity_at(0.0)) ** -0.5,
        "stall-heat": lambda case, claim: _stall_torque(case, claim) * case.engine_speed(0.0),
        "coupling-speed-ratio": lambda case, claim: case.coupling,
        "coupling-engine-speed": lambda case, claim: case.engine_speed(case.coupling),
        "coupling-turbine-speed": lambda case, claim: (
            case.coupling * case.engine_speed(case.coupling)
        ),
        "best-efficiency": lambda case, claim: case.characteristic.best_efficiency()[1],
        "tractive-effort": _effort,
        "steepest-grade": _steepest,
        "speed-on-grade": _on_grade,
        "top-speed": lambda case, claim: _speed_on(case, claim, 0.0),
    }
)
