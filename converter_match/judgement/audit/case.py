"""Everything a claimed figure can rest on, in one place."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from converter_match.components.arrangement import Arrangement
from converter_match.components.converter import Converter
from converter_match.components.driveline import Driveline
from converter_match.components.engine import Engine
from converter_match.components.machine import Load, Machine
from converter_match.components.site import Site
from converter_match.components.surface import Surface
from converter_match.judgement.arrangement.solve import solve_arranged
from converter_match.judgement.audit import words
from converter_match.judgement.conditions.air import density_around
from converter_match.notes import Note
from converter_match.physics.engine.site_correction import SiteEffect, site_effect
from converter_match.physics.engine.supply import TorqueSupply, engine_supply
from converter_match.physics.match.solver import match
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.wheels import GearDrive, gear_drives
from converter_match.study.doubts import Misreading
from converter_match.units import note_text

_NO_GROUND = Surface(name="not given", rolling_resistance=0.0, source="")


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


def missing(code: str, **values: float | str) -> Missing:
    """Return what to raise for a datum that is not there, by its code in `words.MISSING`."""
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
    working_torque : float
        What the implement takes at the flywheel when it works, as far as is known [N.m].
    misreadings : tuple of Misreading
        What the files of the combination read with another unit, as far as they are known.
    creep : float
        Speed ratio at which a figure of stall was read: 0 is stall.
    printed : float
        Unit in which our figure is printed / unit in which the claim is.
    speed_read : float
        Factor on the road speed that a claim is about.
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
    working_torque: float = 0.0
    misreadings: tuple[Misreading, ...] = ()
    creep: float = 0.0
    printed: float = 1.0
    speed_read: float = 1.0

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
            raise missing("no-match", speed_ratio=speed_ratio)
        return float(point.engine_speed)

    @cached_property
    def stall_speed(self) -> float:
        """Engine speed at the speed ratio at which stall is read [rad/s].

        Raises
        ------
        Missing
            If there is no match.
        """
        return self.engine_speed(self.creep)

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
            raise missing("no-coupling")
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
            raise missing("no-driveline")
        if self.machine is None:
            raise missing("no-machine")
        shaft = TurbineShaft(self.supply, self.characteristic)
        return gear_drives(shaft, self.driveline, self.machine)

    def road_load(self, drive: GearDrive, *, ground: bool = True) -> RoadLoad:
        """Return the road load of a drive.

        Parameters
        ----------
        drive : GearDrive
        ground : bool
            Whether the surface has to be given; without it nothing rolls hard and everything grips.

        Raises
        ------
        Missing
            If the surface is not given.
        """
        if self.surface is None and ground:
            raise missing("no-surface")
        return RoadLoad.of(
            drive.machine,
            self.surface or _NO_GROUND,
            load=self.load,
            air_density=density_around(self.effect),
            direction=drive.gear.direction,
        )
