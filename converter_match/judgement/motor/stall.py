"""The stall test of a machine with a motor: what it should read, and in which gears."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from converter_match.answer.block import Block, Heading, NoValue, row_of
from converter_match.answer.noted import Answer
from converter_match.components.base import in_rpm
from converter_match.components.converter import Converter
from converter_match.components.driveline import Driveline
from converter_match.components.machine import Load, Machine
from converter_match.components.surface import Surface
from converter_match.errors import InputError
from converter_match.judgement.motor import words
from converter_match.judgement.motor.drive import MotorDrive
from converter_match.judgement.motor.hold import MotorHold, motor_hold
from converter_match.judgement.motor.setup import RATINGS, MotorSetup, Rating
from converter_match.judgement.stall import words as stall_words
from converter_match.judgement.stall.band import AS_ON_SHEETS, HIGH, LOW, Band, spread_of
from converter_match.judgement.stall.draws import normal_draws
from converter_match.judgement.stall.gears import TABLE, GearTest, gear_notes, gear_tests
from converter_match.judgement.stall.result import PUBLISHED
from converter_match.judgement.stall.setup import WARM_OIL, Tolerances, check_test
from converter_match.notes import Note
from converter_match.physics.engine.site_correction import SiteEffect
from converter_match.physics.stall.settling import density_factor, settling_speed

_LEAST_FACTOR = 0.05


@dataclass(frozen=True, kw_only=True)
class MotorStallSetup:
    """The machine under test, as its sheets have it.

    Parameters
    ----------
    drive : MotorDrive
        Behind a converter: coupled directly there is no stall speed to read.
    driveline, machine : optional
        Gears; oil and its limits.
    oil_temperature : float, optional
        Of the test [K].
    tolerances : Tolerances
        `engine_torque` is that of the motor's torque; air and governor have no part in it.
    coverage : float
        Of the band.
    published : tuple of float, optional
        The maker's lowest and highest stall speed [rad/s].
    maker_hold : float, optional
        The longest hold that the machine maker allows [s].
    load : {"empty", "laden"}
    surface : Surface, optional

    Raises
    ------
    InputError
        Naming the field.
    """

    drive: MotorDrive
    driveline: Driveline | None = None
    machine: Machine | None = None
    oil_temperature: float | None = None
    tolerances: Tolerances = field(default_factory=Tolerances)
    coverage: float = 0.95
    published: tuple[float, float] | None = None
    maker_hold: float | None = None
    load: Load = "empty"
    surface: Surface | None = None

    def __post_init__(self) -> None:
        if self.drive.converter is None:
            raise InputError(
                "coupled directly a motor stands still at stall: there is no stall speed to read",
                field="converter",
                expected="a converter; how long the wheels may be held says `hold`",
            )
        check_test(self.converter, self.load, self.coverage, self.oil_temperature, self.maker_hold)
        if self.published is not None:
            low, high = self.published
            span, top = in_rpm(low, high), self.drive.setup.top_speed
            if not 0 < low < high:
                raise InputError(
                    "not a span", field="published", found=span, expected="a low and a high speed"
                )
            if low > top:
                raise InputError(
                    "not a speed of this motor",
                    field="published",
                    found=span,
                    expected=f"below its speed limit, {in_rpm(top)}",
                )

    @property
    def converter(self) -> Converter:
        """Between motor and gearbox."""
        assert self.drive.converter is not None  # refused otherwise
        return self.drive.converter

    @property
    def oil(self) -> float:
        """Oil temperature of the test [K]."""
        return WARM_OIL if self.oil_temperature is None else self.oil_temperature

    def capacity(self) -> float:
        """Return C(0) in the oil of the day [N.m/(rad/s)^2]."""
        return float(self.converter.capacity_at(0.0)) * float(density_factor(self.oil))

    def effect(self) -> SiteEffect:
        """Return the air around it."""
        return self.drive.setup.air

    def band(self, rating: Rating) -> Band:
        """Return where a healthy machine reads with one of the motor's torques."""
        tol, draws = self.tolerances, normal_draws()
        supply = self.drive.setup.supply(rating)
        middle = float(settling_speed(supply, self.capacity()))
        torque = 1.0 + tol.sigma("engine_torque") * draws[0]
        # Accessories and pumps take more or less: near the middle a share of the torque.
        taken = float(supply.load_torque(np.asarray(middle)))
        full = taken + float(supply.torque(middle))
        if full > 0.0:
            torque = torque - tol.sigma("loads") * draws[4] * taken / full
        warmth = self.oil + tol.sigma("oil_temperature") * draws[3]
        capacity = (1.0 + tol.sigma("capacity") * draws[1]) * density_factor(warmth)
        capacity = capacity * float(self.converter.capacity_at(0.0))
        speeds = settling_speed(
            supply, np.maximum(capacity, 1e-12), np.maximum(torque, _LEAST_FACTOR)
        )
        return spread_of(
            speeds,
            self._known(supply.domain[0], middle),
            stuck=speeds <= supply.domain[0] * (1.0 + 1e-9),
            sigma=tol.sigma("reading"),
            coverage=self.coverage,
        )

    @staticmethod
    def _known(lowest: float, speed: float) -> float | None:
        return None if speed <= lowest * (1.0 + 1e-9) else speed

    @cached_property
    def by_voltage(self) -> tuple[tuple[float, float | None], ...]:
        """The least and the most voltage of the motor [V], and what it stalls at [rad/s]."""
        setup, given = self.drive.setup, self.drive.setup.motor.voltage
        rows = []
        for volts in () if given is None else (given.least, given.most):
            if volts is not None and volts != (setup.voltage or (given and given.nominal)):
                other = MotorSetup(setup.motor, setup.site, volts, setup.hydraulic_torque)
                supply = other.supply("peak")
                speed = float(settling_speed(supply, self.capacity()))
                rows.append((volts, self._known(supply.domain[0], speed)))
        return tuple(rows)


@dataclass(frozen=True, eq=False)
class MotorStall(Answer):
    """The stall speed to expect of a machine with a motor, SI.

    Parameters
    ----------
    setup : MotorStallSetup
    bands : mapping of str to Band
        With the peak and with the continuous torque.
    hold : MotorHold
        How long, and whether winding or oil sets it.
    gears : tuple of GearTest
        From the highest gear down, at the peak; empty without a driveline.
    notes : tuple of Note
    """

    setup: MotorStallSetup
    bands: Mapping[Rating, Band]
    hold: MotorHold
    gears: tuple[GearTest, ...]
    notes: tuple[Note, ...]

    @property
    def stalls(self) -> bool:
        """Whether there is a stall speed to read with the peak torque."""
        return self.bands["peak"].ends is not None

    def blocks(self) -> Sequence[Block]:
        """Return the bands, what the voltage does, the gears, and the hold."""
        setup, motor = self.setup, self.setup.drive.setup
        ids = (
            (Heading("converter", ""), setup.converter.id),
            (Heading("machine", ""), setup.machine.id if setup.machine else None),
            (Heading("", "oil", "temperature"), setup.oil),
            (Heading("oil_temperature", "", "temperature"), setup.oil),
            (Heading("coverage", ""), setup.coverage),
            (PUBLISHED, setup.published) if setup.published else (PUBLISHED.said(""), None),
            (Heading("", "does not apply"), words.NOT_IN_A_STALL_TEST),
            (Heading("does_not_apply", ""), words.NOT_IN_A_STALL_TEST),
        )
        rows = tuple(
            (rating, low, high, band.middle if not number else NoValue(""))
            for rating, band in self.bands.items()
            for number, (low, high) in enumerate(band.parts or ((None, None),))
        )
        volts = (Heading("voltage", "supply", "voltage", ".4g"),
                 Heading("stall_speed", "stalls at, peak", "angular_speed"))  # fmt: skip
        title = f"{motor.motor.name}  +  {setup.converter.title}"
        return (
            Block("", above=(stall_words.STALL_TEST,), in_plain=False),
            Block("", title=title, facts=ids),
            motor.origin(),
            Block(
                "",
                f"Expected motor speed, {100 * setup.coverage:.3g} % of healthy machines",
                columns=(Heading("", "torque"), LOW, HIGH, AS_ON_SHEETS),
                rows=rows,
                in_plain=False,
            ),
            *(
                Block(f"expected.{rating}", facts=band.facts(), in_text=False)
                for rating, band in self.bands.items()
            ),
            Block(
                "by_voltage",
                title="With the battery low or full" if setup.by_voltage else "",
                columns=volts,
                rows=setup.by_voltage,
                rows_key="",
            ),
            Block(
                "gears",
                "Pull at the wheels at the highest stall speed expected, from the highest gear "
                "down",
                columns=TABLE,
                rows=tuple(row_of(test, TABLE) for test in self.gears),
                rows_key="",
                in_text=any(test.pull is not None for test in self.gears),
            ),
            *(block for block in self.hold.blocks() if block.name == "hold"),
        )


def expect_motor(setup: MotorStallSetup) -> MotorStall:
    """Return the stall speed to expect of a machine with a motor, and how long to hold it.

    Parameters
    ----------
    setup : MotorStallSetup

    Raises
    ------
    InputError
        If motor and converter have no match at stall.

    Notes
    -----
    As for an engine, the unknowns are drawn and each draw is solved by the one solver:
    ``f T(omega) - L(omega) = g C(0) omega^2``. With a constant torque a share d more of it raises
    the speed by d/2.
    """
    hold = motor_hold(setup.drive, setup.machine, oil_start=setup.oil_temperature)
    if setup.maker_hold is not None and setup.maker_hold < hold.seconds:
        hold = replace(hold, seconds=setup.maker_hold, set_by="maker")
    bands = {rating: setup.band(rating) for rating in RATINGS}
    gears = gear_tests(setup, bands["peak"])
    return MotorStall(
        setup=setup,
        bands=bands,
        hold=hold,
        gears=gears,
        notes=tuple(dict.fromkeys(_notes(setup, bands, hold, gears))),
    )


def _notes(
    setup: MotorStallSetup, bands: Mapping[Rating, Band], hold: MotorHold, gears: Sequence[GearTest]
) -> list[Note]:
    motor, peak = setup.drive.setup, bands["peak"]
    top = motor.top_speed
    notes = [stall_words.STALL_TEST, *hold.notes, words.note("motor-towing")]
    notes.append(words.note("motor-stall-tolerances"))
    if setup.by_voltage:
        notes.append(words.note("stall-goes-with-voltage"))
    elif motor.motor.voltage is None:
        notes.append(words.note("stall-voltage-unknown"))
    if peak.middle is not None and peak.middle >= top * (1.0 - 1e-3):
        notes.append(words.note("stall-at-speed-limit"))
    if setup.oil_temperature is None:
        notes.append(words.note("motor-stall-oil", oil=setup.oil))
    if setup.converter.alternatives:
        notes.append(words.note("motor-estimate-middle"))
    if setup.published is not None and peak.ends is not None:
        low, high = setup.published
        if not any(first <= high and last >= low for first, last in peak.parts):
            notes.append(words.note("motor-published-elsewhere", low=low, high=high))
    if peak.ends is not None:
        notes += gear_notes(setup, gears)
    return notes
