"""The machine under test, as its sheets have it: what every reading is compared with."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from converter_match.components.arrangement import Arrangement, TorqueDivider
from converter_match.components.base import (
    in_celsius,
    in_rpm,
    require_choice,
    require_positive,
)
from converter_match.components.converter import Converter
from converter_match.components.driveline import Driveline
from converter_match.components.engine import Engine
from converter_match.components.machine import Load, Machine
from converter_match.components.reading import NEUTRAL, StallReading
from converter_match.components.site import Site
from converter_match.components.surface import Surface
from converter_match.constants import RPM
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.physics.engine.site_correction import SiteEffect, site_effect
from converter_match.physics.engine.supply import TorqueSupply, engine_supply
from converter_match.physics.stall.governor import Course, course_at, settled_near
from converter_match.physics.stall.settling import density_factor, settling_speed

_NORMAL_95 = 1.959963984540054
# Where nobody gave an oil temperature: the middle of the span that US Army TM
# 10-3930-671-24 calls for before a stall test (82 to 93 degC).
WARM_OIL = 360.65
# A reading outside these shares of low and high idle is not one of this engine.
_LOWEST, _HIGHEST = 0.6, 1.15
_AT_IDLE = 1.05
_LONGEST_HOLD = 300.0  # s; ten times what is common practice is a slip of the pen


@dataclass(frozen=True, kw_only=True)
class Tolerances:
    """Half widths within which 95 of 100 lie; errors are taken as normal and independent.

    The defaults are common practice, no source: give better ones where there are.

    Parameters
    ----------
    engine_torque : float
        Share of the full-load torque of a healthy engine.
    capacity : float
        Share of the converter's capacity.
    loads : float
        Share of what accessories and hydraulics take.
    relief : float
        Share of the torque that the pumps take at relief.
    air : float
        Share of the torque, for what the air correction leaves open.
    oil_temperature : float
        [K].
    reading : float
        Of the tachometer and of the eye [rad/s].
    governor : float
        Share of high idle by which the governor's droop line may stand off.
    """

    engine_torque: float = 0.03
    capacity: float = 0.05
    loads: float = 0.25
    relief: float = 0.05
    air: float = 0.01
    oil_temperature: float = 5.0
    reading: float = 20.0 * RPM
    governor: float = 0.01

    def __post_init__(self) -> None:
        for name, largest in (
            ("engine_torque", 0.3),
            ("capacity", 0.5),
            ("loads", 1.0),
            ("relief", 0.5),
            ("air", 0.2),
            ("oil_temperature", 40.0),
            ("reading", 300 * RPM),
            ("governor", 0.1),
        ):
            value = getattr(self, name)
            if not (math.isfinite(value) and 0.0 < value <= largest):
                raise InputError(
                    "out of range",
                    field=f"tolerances.{name}",
                    found=value,
                    expected=f"above 0, at most {largest:.4g}",
                )

    def sigma(self, name: str) -> float:
        """Return a standard deviation."""
        return float(getattr(self, name)) / _NORMAL_95


def check_test(
    converter: Converter,
    load: str,
    coverage: float,
    oil_temperature: float | None,
    maker_hold: float | None,
) -> None:
    """Check what a stall test is asked with, behind an engine or a motor.

    Parameters
    ----------
    converter : Converter
    load : str
    coverage : float
        Of the band.
    oil_temperature : float or None
        [K].
    maker_hold : float or None
        [s].

    Raises
    ------
    InputError
        If the converter has no stall, or one of the others is out of range.
    """
    converter.require_stall()
    require_choice(load, "load", ("empty", "laden"))
    if not 0.5 <= coverage <= 0.999:
        raise InputError("out of range", field="coverage", found=coverage, expected="0.5 to 0.999")
    if oil_temperature is not None and not 233.15 <= oil_temperature <= 453.15:
        raise InputError(
            "not an oil temperature of a test",
            field="oil_temperature",
            found=in_celsius(oil_temperature),
            expected="-40 to 180 degC",
        )
    if maker_hold is not None and not 1.0 <= maker_hold <= _LONGEST_HOLD:
        raise InputError(
            "not the time of a stall hold",
            field="maker_hold",
            found=f"{maker_hold:.4g} s",
            expected=f"1 to {_LONGEST_HOLD:.0f} s",
        )


@dataclass(frozen=True, kw_only=True)
class StallSetup:
    """Everything about the machine and its day that does not change between readings.

    Parameters
    ----------
    engine, converter : Engine, Converter
    site : Site, optional
    hydraulic_torque : float
        Taken at the flywheel beside the listed accessories in every reading [N.m].
    relief_torque : float, optional
        Taken by the implement pumps at relief, on top [N.m]; needed for combined tests.
    driveline, machine : optional
        Gears; oil, cooler and limits.
    oil_temperature : float, optional
        Of the test [K].
    tolerances : Tolerances
    coverage : float
        Of the expected band.
    published : tuple of float, optional
        The maker's lowest and highest stall speed [rad/s].
    maker_hold : float, optional
        The longest hold that the machine maker allows [s].
    arrangement : Arrangement, optional
        Of which `converter` is what the engine drives.
    inside : Converter, optional
        The converter inside the arrangement; needed with a torque divider.
    load : {"empty", "laden"}
        Of the machine in the test.
    surface : Surface, optional
        On which it stands: how much its wheels can pull before it breaks loose.

    Raises
    ------
    InputError
        Naming the field.
    """

    engine: Engine
    converter: Converter
    site: Site | None = None
    hydraulic_torque: float = 0.0
    relief_torque: float | None = None
    driveline: Driveline | None = None
    machine: Machine | None = None
    oil_temperature: float | None = None
    tolerances: Tolerances = field(default_factory=Tolerances)
    coverage: float = 0.95
    published: tuple[float, float] | None = None
    maker_hold: float | None = None
    arrangement: Arrangement | None = None
    inside: Converter | None = None
    load: Load = "empty"
    surface: Surface | None = None

    def __post_init__(self) -> None:
        check_test(self.converter, self.load, self.coverage, self.oil_temperature, self.maker_hold)
        require_positive(self.relief_torque, "relief_torque", "a torque above zero, N.m")
        if self.published is not None:
            self._check_published(*self.published)

    def _check_published(self, low: float, high: float) -> None:
        span = in_rpm(low, high)
        if not 0 < low < high:
            raise InputError(
                "not a span", field="published", found=span, expected="a low and a high speed"
            )
        if high < self.engine.low_idle or low > self.engine.high_idle:
            raise InputError(
                "not a speed of this engine",
                field="published",
                found=span,
                expected=f"within {self.engine.low_idle / RPM:.0f} .. "
                f"{self.engine.high_idle / RPM:.0f} rpm",
            )

    # --- what holds at a reading ---------------------------------------------------------------

    @property
    def oil(self) -> float:
        """Oil temperature where a reading gives none [K]."""
        return WARM_OIL if self.oil_temperature is None else self.oil_temperature

    @property
    def divider(self) -> TorqueDivider | None:
        """The torque divider between engine and output, if there is one."""
        return None if self.arrangement is None else self.arrangement.torque_divider

    @cached_property
    def engine_tolerance(self) -> float:
        """Half width of the healthy engine's torque, as a share."""
        return max(self.tolerances.engine_torque, self.engine.torque_band)

    @cached_property
    def stall_capacity(self) -> float:
        """C(0) on the sheet [N.m/(rad/s)^2]."""
        return float(self.converter.capacity_at(0.0))

    def effect(self, reading: StallReading | None = None) -> SiteEffect:
        """Return what the air does, that of the reading where it gives its own."""
        site = self.site
        if reading is not None and reading.air_temperature is not None:
            air = reading.air_temperature
            site = (
                Site(id="reading", name="air of the reading", source="reading", air_temperature=air)
                if site is None
                else site.replace(air_temperature=air)
            )
        return site_effect(self.engine, site)

    def supply(self, reading: StallReading | None = None) -> TorqueSupply:
        """Return the healthy engine less everything it drives at a reading.

        Raises
        ------
        InputError
            If the pumps were at relief and their torque is not known.
        """
        extra = 0.0
        if reading is not None and reading.pump == "relief":
            if self.relief_torque is None:
                raise InputError(
                    "a reading with the pumps at relief needs the torque they take there",
                    field="relief_torque",
                    expected="the torque at the flywheel with the implement pumps at relief",
                    hint="relief pressure times displacement per turn / (2 pi), by pump speed/"
                    "engine speed and efficiency",
                )
            extra = self.relief_torque
        # One for all readings alike: its tables are built once.
        known, key = self._supplies, (self.effect(reading).torque_factor, extra)
        if key not in known:
            known[key] = engine_supply(
                self.engine,
                torque_factor=key[0],
                hydraulic_torque=self.hydraulic_torque + extra,
            )
        return known[key]

    @cached_property
    def _supplies(self) -> dict[tuple[float, float], TorqueSupply]:
        return {}

    def capacity(self, reading: StallReading | None = None) -> float:
        """Return C at a reading in its oil; 0 in neutral [N.m/(rad/s)^2]."""
        oil, nu = self.oil, 0.0
        if reading is not None:
            if reading.test in NEUTRAL:
                return 0.0
            oil = self.oil if reading.oil_temperature is None else reading.oil_temperature
            nu = self.speed_ratio(reading)
        return float(self.converter.capacity_at(nu)) * float(density_factor(oil))

    def speed_ratio(self, reading: StallReading) -> float:
        """Return the speed ratio of a reading, 0 but on the road.

        Raises
        ------
        InputError
            If it lies outside the converter's data.
        """
        if reading.turbine_speed is None:
            return 0.0
        nu = reading.turbine_speed / reading.engine_speed
        low, high = self.converter.domain
        if not low <= nu <= high:
            raise InputError(
                "the speed ratio lies outside the converter's data",
                field="turbine",
                found=f"speed ratio {nu:.4g}",
                expected=f"{low:.4g} .. {high:.4g}",
                hint="locked up, or coasting? a road reading is at full throttle, converter open",
            )
        return nu

    def settled(
        self,
        reading: StallReading | None,
        torque_factor: FloatArray,
        capacity_factor: FloatArray,
        *,
        load: FloatArray | None = None,
        shift: FloatArray | None = None,
        about: float | None = None,
    ) -> FloatArray:
        """Return the speeds at which machines would settle [rad/s], shape (n,).

        Parameters
        ----------
        reading : StallReading or None
            Under what; None for a stall in gear.
        torque_factor, capacity_factor : ndarray, shape (n,)
        load : ndarray, shape (n,), optional
            Taken on top of what is listed [N.m].
        shift : ndarray, shape (n,), optional
            By which the governor's droop line stands higher [rad/s].
        about : float, optional
            A speed near which the load counts most [rad/s].
        """
        supply, capacity = self.supply(reading), self.capacity(reading) * capacity_factor
        pumping = reading is not None and reading.pump == "relief"
        course = self._course(reading)
        if (load is None or shift is None) and course is None:
            return settling_speed(supply, capacity, torque_factor, from_high_idle=pumping)
        load = np.zeros_like(torque_factor) if load is None else load
        shift = np.zeros_like(torque_factor) if shift is None else shift
        given = self.load_share(supply, load, about)
        near = settling_speed(
            supply, capacity, np.maximum(torque_factor - given, 0.02), from_high_idle=pumping
        )
        return settled_near(
            supply, self.engine.rated_speed, near, capacity, torque_factor, load=load, shift=shift,
            course=course,
        )  # fmt: skip

    def _course(self, reading: StallReading | None) -> Course | None:
        """Return how the capacity goes with engine speed at a turbine speed that was read."""
        if reading is None or not reading.turbine_speed:
            return None
        curve = self.converter.capacity_curve
        return course_at(curve, reading.turbine_speed, reading.engine_speed)

    def capacity_behind(self, reading: StallReading, speeds: FloatArray) -> FloatArray:
        """Return C if the true engine speed was another than was read [N.m/(rad/s)^2], shape (n,).

        On the road the speed ratio moves with it, since the turbine's speed is known; beyond the
        data C keeps the value of their end.

        Parameters
        ----------
        reading : StallReading
        speeds : ndarray, shape (n,)
            [rad/s].
        """
        course, capacity = self._course(reading), self.capacity(reading)
        share = np.ones_like(speeds) if course is None else course(speeds)[0]
        return np.asarray(capacity * share)

    def load_share(
        self, supply: TorqueSupply, load: FloatArray, about: float | None = None
    ) -> FloatArray:
        """Return a load as a share of the engine's torque [N.m] near a speed, shape (n,)."""
        w = self.engine.rated_speed if about is None else min(about, self.engine.rated_speed)
        low, high = supply.domain
        torque = float(supply.factor * supply.source(np.asarray(min(max(w, low), high))))
        return np.asarray(load / torque) if torque > 0.0 else np.zeros_like(load)

    def governor_shift(self, draws: FloatArray) -> FloatArray:
        """Return how much higher the droop line stands, from normal draws [rad/s], shape (n,)."""
        return np.asarray(self.tolerances.sigma("governor") * self.engine.high_idle * draws)

    def extra_load(
        self, reading: StallReading | None, speed: float, draws: FloatArray
    ) -> FloatArray:
        """Return what is taken beyond the listed loads near a speed [N.m], shape (n,)."""
        low, high = self.supply(reading).domain
        return np.asarray(self.load_sigma(reading, min(max(speed, low), high)) * draws)

    def at_idle(self, reading: StallReading) -> bool:
        """Return whether a reading is one of an engine held at low idle: no balance of torques."""
        return reading.engine_speed <= _AT_IDLE * self.engine.low_idle

    def stuck(self, speeds: FloatArray) -> NDArray[np.bool_]:
        """Return which speeds from `settled` are of machines that cannot accelerate from idle."""
        return np.asarray(speeds <= self.supply().domain[0] * (1.0 + 1e-9))

    def checked(self, reading: StallReading) -> StallReading:
        """Return a reading with its direction filled in, if it can be one of this machine.

        Raises
        ------
        InputError
            If the speed is none of this engine, or the gear is unknown or of the other direction.
        """
        low, high = _LOWEST * self.engine.low_idle, _HIGHEST * self.engine.high_idle
        if not low <= reading.engine_speed <= high:
            raise InputError(
                "this engine does not run at that speed",
                field="speed",
                found=in_rpm(reading.engine_speed),
                expected=f"about {self.engine.low_idle / RPM:.0f} (low idle) to "
                f"{self.engine.high_idle / RPM:.0f} rpm (high idle)",
            )
        self.supply(reading)
        self.speed_ratio(reading)
        if self.driveline is None or not reading.gear:
            return reading
        gear = self.driveline.gear(reading.gear)
        if reading.direction is not None and reading.direction != gear.direction:
            raise InputError(
                f"gear {gear.name} is a {gear.direction} gear",
                source=self.driveline.id,
                field="direction",
                found=reading.direction,
                expected=gear.direction,
            )
        return replace(reading, direction=gear.direction)

    def reading_sigma(self) -> float:
        """Return the standard error of a reading [rad/s]."""
        return self.tolerances.sigma("reading")

    def factors(self, draws: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return torque and capacity factors of healthy machines from normal draws, (4, n) or more.

        Rows: engine torque, capacity, air, oil temperature.
        """
        tol = self.tolerances
        torque = 1.0 + self.engine_tolerance / _NORMAL_95 * draws[0]
        capacity = 1.0 + tol.sigma("capacity") * draws[1]
        # A wrong air correction looks like torque, a wrong oil temperature like capacity.
        torque = torque * (1.0 + tol.sigma("air") * draws[2])
        oil = density_factor(self.oil + tol.sigma("oil_temperature") * draws[3])
        capacity = capacity * oil / density_factor(self.oil)
        return np.maximum(torque, 0.05), np.maximum(capacity, 0.05)

    def load_sigma(self, reading: StallReading | None, speed: float) -> float:
        """Return the standard error of all loads at a speed inside the data [N.m]."""
        relief = reading is not None and reading.pump == "relief"
        extra = (self.relief_torque or 0.0) if relief else 0.0
        rest = float(self.supply(reading).load_torque(np.asarray(speed))) - extra
        tol = self.tolerances
        return math.hypot(tol.sigma("loads") * rest, tol.sigma("relief") * extra)
