"""How a machine puts its converter to work: clutches, torque divider, hydraulics, stator; SI."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.base import (
    LATER,
    Component,
    in_rpm,
    require_choice,
    require_positive,
)
from converter_match.components.converter import STATORS, Stator
from converter_match.components.engine import SpeedTable
from converter_match.components.parallel import Parallel
from converter_match.components.planetary import CLASSIC, Connection, Planetary
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.notes import Note

EngageBy = Literal["speed-ratio", "turbine-speed", "gear"]
ENGAGE_BY: tuple[EngageBy, ...] = ("speed-ratio", "turbine-speed", "gear")


@dataclass(frozen=True, kw_only=True)
class LockUpClutch:
    """A clutch that ties the turbine to the impeller.

    Parameters
    ----------
    engage_by : {"speed-ratio", "turbine-speed", "gear"}
        What the control watches.
    engage, release : float
        The clutch engages when the quantity rises to `engage`, and lets go when it falls below
        `release`; the difference is the hysteresis. Speed ratio, turbine speed [rad/s], or number
        of the gear. While the clutch holds, the speed ratio is 1, so a release by speed ratio
        means the one at which the open converter would run at full load at that turbine speed.
    torque_capacity : float, optional
        [N.m].
    engagement_time : float, optional
        Time in which the clutch closes [s].

    Raises
    ------
    InputError
        If release lies above engagement, or a value is out of range.
    """

    engage_by: EngageBy
    engage: float
    release: float
    torque_capacity: float | None = None
    engagement_time: float | None = None

    def __post_init__(self) -> None:
        require_choice(self.engage_by, "lock_up.engage_by", ENGAGE_BY)
        for name in ("engage", "release"):
            value = getattr(self, name)
            require_positive(value, f"lock_up.{name}")
            if self.engage_by == "speed-ratio" and value > 1:
                raise InputError(
                    "out of range",
                    field=f"lock_up.{name}",
                    found=value,
                    expected="a speed ratio of at most 1",
                )
            if self.engage_by == "gear" and value != int(value):
                raise InputError(
                    "not the number of a gear",
                    field=f"lock_up.{name}",
                    found=value,
                    expected="1, 2, 3 ...",
                )
        if self.release > self.engage:
            raise InputError(
                "lock-up would release above the point where it engages, and hunt",
                field="lock_up.release",
                found=self.release,
                expected="a value at or below that of engage",
            )
        require_positive(self.torque_capacity, "lock_up.torque_capacity")
        require_positive(self.engagement_time, "lock_up.engagement_time")


@dataclass(frozen=True, kw_only=True)
class Wheels:
    """One gear from turbine to wheels, for results in travel speed and tractive effort.

    ``F = T_turbine ratio efficiency / radius``, ``v = omega_turbine radius / ratio``; the slip of
    the tyres is not counted.

    Parameters
    ----------
    overall_ratio : float
        Turbine speed / wheel speed.
    rolling_radius : float
        [m].
    efficiency : float
        Turbine to wheels, above 0 and at most 1.
    """

    overall_ratio: float
    rolling_radius: float
    efficiency: float

    def __post_init__(self) -> None:
        for name in ("overall_ratio", "rolling_radius", "efficiency"):
            require_positive(getattr(self, name), f"wheels.{name}")
        if self.efficiency > 1:
            raise InputError(
                "out of range",
                field="wheels.efficiency",
                found=self.efficiency,
                expected="a share above 0 and at most 1",
            )

    def tractive_effort(self, turbine_torque: ArrayLike) -> FloatArray:
        """Return the tractive effort [N] of a turbine torque [N.m], any shape."""
        per_torque = self.overall_ratio * self.efficiency / self.rolling_radius
        return np.asarray(np.asarray(turbine_torque, dtype=np.float64) * per_torque)

    def turbine_torque(self, tractive_effort: float) -> float:
        """Return the turbine torque [N.m] that gives a tractive effort [N]."""
        return tractive_effort * self.rolling_radius / (self.overall_ratio * self.efficiency)

    def travel_speed(self, turbine_speed: ArrayLike) -> FloatArray:
        """Return the travel speed [m/s] of a turbine speed [rad/s], any shape."""
        per_speed = self.rolling_radius / self.overall_ratio
        return np.asarray(np.asarray(turbine_speed, dtype=np.float64) * per_speed)


@dataclass(frozen=True, kw_only=True)
class ImpellerClutch:
    """A modulated clutch between engine and impeller.

    Parameters
    ----------
    torque_capacity : float
        Torque that the clutch carries at a setting of 1 (100 %) [N.m].
    engine_speed : float, optional
        Speed at which the operator or the governor keeps the engine [rad/s]; None is full throttle.
    settings : tuple of float
        Settings of interest, 0 .. 1.
    turbine_torque_limit : float, optional
        Turbine torque at which the wheels would spin [N.m].
    tractive_effort_limit : float, optional
        The same as tractive effort [N]; needs the wheels of the arrangement.

    Raises
    ------
    InputError
        If a capacity is not above zero or a setting is outside 0 .. 1.
    """

    torque_capacity: float
    engine_speed: float | None = None
    settings: tuple[float, ...] = (0.2, 0.4, 0.6, 0.8, 1.0)
    turbine_torque_limit: float | None = None
    tractive_effort_limit: float | None = None

    def __post_init__(self) -> None:
        for name in (
            "torque_capacity",
            "engine_speed",
            "turbine_torque_limit",
            "tractive_effort_limit",
        ):
            require_positive(getattr(self, name), f"impeller_clutch.{name}")
        if None not in (self.turbine_torque_limit, self.tractive_effort_limit):
            raise InputError(
                "the limit is given twice",
                field="impeller_clutch.tractive_effort_limit",
                expected="turbine_torque_limit or tractive_effort_limit",
            )
        object.__setattr__(self, "settings", tuple(float(value) for value in self.settings))
        if not self.settings:
            raise InputError("no setting is given", field="impeller_clutch.settings")
        for row, value in enumerate(self.settings):
            if not (math.isfinite(value) and 0.0 <= value <= 1.0):
                raise InputError(
                    "out of range",
                    field=f"impeller_clutch.settings[{row}]",
                    found=value,
                    expected="0 (open) to 1 (full capacity)",
                )


@dataclass(frozen=True, kw_only=True)
class TorqueDivider:
    """A planetary that joins a mechanical path to the hydraulic one.

    Parameters
    ----------
    planetary : Planetary
    connection : Connection
        By default engine and impeller on the sun, turbine on the ring, output on the carrier.
    """

    planetary: Planetary
    connection: Connection = CLASSIC


@dataclass(frozen=True, kw_only=True, eq=False)
class HydraulicSharing(Component):
    """Torque that the implement pumps take from the engine, by what the implement does.

    Parameters
    ----------
    standby, partial, relief : SpeedTable, optional
        Torque [N.m] against engine speed [rad/s]: pumps at standby, at partial work, at the relief
        valve (the implement has stalled). At least one is given.

    Raises
    ------
    InputError
        If no state is given, or a state that should take more takes less.
    """

    standby: SpeedTable | None = None
    partial: SpeedTable | None = None
    relief: SpeedTable | None = None

    def __post_init__(self) -> None:
        states = self.states
        if not states:
            raise InputError(
                "no state is given",
                field="hydraulic_sharing",
                expected="a torque column for standby, partial or relief",
            )
        for (less, low), (more, high) in pairwise(states):
            start = max(low.speed[0], high.speed[0])
            end = min(low.speed[-1], high.speed[-1])
            both = np.union1d(low.speed, high.speed)
            both = both[(both >= start) & (both <= end)]
            above = np.flatnonzero(low.curve(both) > high.curve(both) * (1 + 1e-9) + 1e-9)
            if above.size:
                speed = float(both[above[0]])
                raise InputError(
                    f"pumps at {less} would take more than at {more}",
                    field=f"hydraulic_sharing.{less}",
                    found=f"{float(low.curve(speed)):.4g} N.m against "
                    f"{float(high.curve(speed)):.4g} N.m at {in_rpm(speed)}",
                    expected="standby <= partial <= relief",
                )

    @property
    def states(self) -> tuple[tuple[str, SpeedTable], ...]:
        """Name and table of each state given, from least to most torque."""
        named = (("standby", self.standby), ("partial", self.partial), ("relief", self.relief))
        return tuple((name, table) for name, table in named if table is not None)


@dataclass(frozen=True, kw_only=True)
class OverrunDuty:
    """Engine braking to be examined.

    Parameters
    ----------
    exhaust_brake : bool
        Whether the exhaust brake is on.
    overspeed_limit : float, optional
        Highest engine speed of interest [rad/s]; the last row of the motoring table if not given.
    """

    exhaust_brake: bool = False
    overspeed_limit: float | None = None

    def __post_init__(self) -> None:
        require_positive(self.overspeed_limit, "overrun.overspeed_limit")


@dataclass(frozen=True, kw_only=True)
class PartLoadDuty:
    """Part-load settings to be examined.

    Parameters
    ----------
    no_load_speeds : tuple of float
        For a speed-governed engine: speed at which it settles without load [rad/s].
    pedals : tuple of float
        For a torque-governed engine: pedal, above 0 and up to 1.
    """

    no_load_speeds: tuple[float, ...] = ()
    pedals: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        for name in ("no_load_speeds", "pedals"):
            values = tuple(float(value) for value in getattr(self, name))
            object.__setattr__(self, name, values)
            for row, value in enumerate(values):
                require_positive(value, f"part_load.{name}[{row}]")
        for row, value in enumerate(self.pedals):
            if value > 1:
                raise InputError(
                    "out of range",
                    field=f"part_load.pedals[{row}]",
                    found=value,
                    expected="above 0 and up to 1",
                )
        if not self.no_load_speeds and not self.pedals:
            raise InputError(
                "no setting is given", field="part_load", expected="no_load_speeds or pedals"
            )


@dataclass(frozen=True, kw_only=True)
class Permissions:
    """What may be assumed where the data end; each use is listed with the result.

    Parameters
    ----------
    negative_speed_ratio : bool
        Hold torque ratio and capacity at their stall values where the turbine runs backwards.
    overrun : bool
        Mirror the coupling range about speed ratio 1 where the turbine drives the impeller.
    stator : bool
        Derive the characteristic of another kind of stator from the one given.
    """

    negative_speed_ratio: bool = False
    overrun: bool = False
    stator: bool = False


@dataclass(frozen=True, kw_only=True, eq=False)
class Arrangement(Component):
    """Everything that stands between engine, converter and gearbox.

    Parameters
    ----------
    id, name, source : str
    stator : {"one-way", "fixed", "none"}, optional
        Kind of stator to look at; that of the converter's data if not given.
    stall_capacity_factor : float, optional
        With `stator` ``none``: capacity without the stator / with it, at stall; 1 if not given.
    lock_up, impeller_clutch, torque_divider, hydraulic_sharing, overrun, part_load : optional
        See the classes.
    parallel : Parallel, optional
        A second engine, converter or pair on the same shaft; with no other part.
    wheels : Wheels, optional
        Results are then given at the wheels as well.
    permissions : Permissions
    given_notes : tuple of Note
        Assumptions made before the component was built.

    Raises
    ------
    InputError
        If the arrangement contains nothing, or parts that cannot stand together.
    """

    id: str
    name: str
    source: str
    stator: Stator | None = None
    stall_capacity_factor: float | None = None
    lock_up: LockUpClutch | None = None
    impeller_clutch: ImpellerClutch | None = None
    torque_divider: TorqueDivider | None = None
    hydraulic_sharing: HydraulicSharing | None = None
    overrun: OverrunDuty | None = None
    part_load: PartLoadDuty | None = None
    wheels: Wheels | None = None
    permissions: Permissions = field(default_factory=Permissions)
    given_notes: tuple[Note, ...] = ()
    parallel: Parallel | None = field(default=None, metadata={LATER: True})

    PARTS = (
        "stator",
        "lock_up",
        "impeller_clutch",
        "torque_divider",
        "hydraulic_sharing",
        "overrun",
        "part_load",
        "parallel",
    )

    def __post_init__(self) -> None:
        if self.stator is not None:
            require_choice(self.stator, "stator", STATORS)
        require_positive(self.stall_capacity_factor, "stall_capacity_factor")
        if self.stall_capacity_factor is not None and self.stator != "none":
            raise InputError(
                "only taking the stator out changes the capacity at stall",
                field="stall_capacity_factor",
                found=self.stall_capacity_factor,
                expected='no value, or stator = "none"',
            )
        if not self.parts:
            raise InputError(
                "the arrangement is empty", expected="at least one of " + ", ".join(self.PARTS)
            )
        beside = [name for name in self.parts if name != "parallel"]
        if self.parallel is not None and beside:
            raise InputError(
                "two on one shaft are looked at by themselves, with no other part of an "
                "arrangement",
                field=beside[0],
                expected="[parallel] alone",
            )
        clutch = self.impeller_clutch
        if clutch is not None and clutch.tractive_effort_limit is not None and self.wheels is None:
            raise InputError(
                "a limit of tractive effort needs the way from turbine to wheels",
                field="wheels",
                expected="overall_ratio, rolling_radius and efficiency, or turbine_torque_limit",
            )
        if self.impeller_clutch is not None and self.torque_divider is not None:
            raise InputError(
                "an impeller clutch beside a torque divider is not modelled: with the clutch "
                "slipping, engine and impeller no longer share the speed the gears rely on",
                field="impeller_clutch",
                expected="one of the two",
            )

    @property
    def parts(self) -> tuple[str, ...]:
        """Names of what the arrangement contains."""
        return tuple(name for name in self.PARTS if getattr(self, name) is not None)

    @property
    def notes(self) -> tuple[Note, ...]:
        """Every assumption and warning that belongs to this arrangement."""
        return self.given_notes
