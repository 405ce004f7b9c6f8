"""The stall test: what to expect of a machine today, how long to hold, what its readings say."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, overload

from converter_match.api.door import (
    Quantity,
    in_si,
    named_quantities,
    optional,
    part,
    quantity,
    surface_of,
)
from converter_match.units import System

if TYPE_CHECKING:
    from converter_match.components.converter import Converter
    from converter_match.components.driveline import Driveline
    from converter_match.components.machine import Load, Machine
    from converter_match.components.reading import StallReading
    from converter_match.components.surface import Surface
    from converter_match.judgement.arrangement.solve import ArrangedResult
    from converter_match.judgement.match.result import MatchResult
    from converter_match.judgement.motor.drive import MotorDrive
    from converter_match.judgement.motor.hold import MotorHold
    from converter_match.judgement.motor.result import MotorMatch
    from converter_match.judgement.motor.stall import MotorStall
    from converter_match.judgement.stall.expectation import StallExpectation
    from converter_match.judgement.stall.hold import StallHold
    from converter_match.judgement.stall.result import StallDiagnosis
    from converter_match.judgement.stall.setup import StallSetup
    from converter_match.present.stall.sheet import SheetPage

# Tolerance -> its dimension; most are shares of the thing itself.
_TOLERANCES = dict.fromkeys(
    ("engine_torque", "capacity", "loads", "relief", "air", "governor"), "ratio"
) | {
    "oil_temperature": "temperature_difference",
    "reading": "angular_speed",
}


@dataclass(frozen=True, eq=False)
class StallTest:
    """A stall test of one machine: what it should read, and what readings say.

    A test can hurt people. Open level ground, nobody in front, behind or under, wheels chocked,
    brakes proven, short holds; the machine maker's procedure and local rules come first.

    Parameters
    ----------
    setup : StallSetup
        The machine and its day.
    name : str
        As painted on the machine; stands on the sheet.

    Examples
    --------
    >>> import converter_match as cm
    >>> engine, converter, line = cm.read(
    ...     "six-cylinder-7l-185kw", "single-stage-345mm-tight", "four-speed-loader"
    ... )
    >>> test = cm.stall_test(cm.solve(engine, converter), line)
    >>> test.expected.stalls
    True
    >>> test.diagnose("gear=3 speed=1600 oil=85degC brakes=held").judged[0].place
    'below'
    """

    setup: StallSetup
    name: str = ""

    @cached_property
    def expected(self) -> StallExpectation:
        """What a healthy machine reads: a band, what widens it, and how long to hold."""
        from converter_match.judgement.stall.expectation import expect

        return expect(self.setup)

    def diagnose(
        self,
        *readings: StallReading | str,
        others: Iterable[Converter] | None = None,
    ) -> StallDiagnosis:
        """Say what readings of this machine mean, and what to check next.

        Parameters
        ----------
        *readings : str or StallReading
            Each such as ``"gear=3 speed=1600 oil=85degC brakes=held"``; speeds in rpm and
            temperatures in degC where no unit is written. All of one machine in one state.
        others : iterable of Converter, optional
            That may have been fitted instead; the shipped ones without.

        Returns
        -------
        StallDiagnosis
            Findings, the likeliest first.

        Raises
        ------
        InputError
            If there is no reading, a word of one is not understood, or one cannot be of this
            machine.
        """
        from converter_match.judgement.stall.diagnosis import diagnose
        from converter_match.library.shipped import read_all
        from converter_match.library.stall_readings import parse_reading

        read = [
            parse_reading(reading, source=f"reading {row}") if isinstance(reading, str) else reading
            for row, reading in enumerate(readings, start=1)
        ]
        return diagnose(
            self.setup, read, read_all("converters") if others is None else list(others)
        )

    def sheet(self, system: System = "si") -> SheetPage:
        """Return the sheet for the test as a notebook shows it; `write` makes a page of it.

        Parameters
        ----------
        system : {"si", "us"}
        """
        from converter_match.present.stall.content import sheet_of
        from converter_match.present.stall.sheet import SheetPage

        return SheetPage(sheet_of(self.expected, machine_name=self.name, system=system))

    def text(self, system: System = "si") -> str:
        """Return what to expect, in a unit system.

        Parameters
        ----------
        system : {"si", "us"}
        """
        return self.expected.text(system)

    def __repr__(self) -> str:
        return self.text()


@overload
def stall_test(
    match: MatchResult | ArrangedResult,
    driveline: Driveline | None = None,
    machine: Machine | None = None,
    *,
    oil_temperature: Quantity | None = None,
    relief_torque: Quantity | None = None,
    tolerances: Mapping[str, Quantity] | None = None,
    coverage: Quantity = 0.95,
    published: tuple[Quantity, Quantity] | None = None,
    maker_hold: Quantity | None = None,
    surface: Surface | str | None = None,
    load: Load = "empty",
    name: str = "",
) -> StallTest: ...


@overload
def stall_test(
    match: MotorMatch | MotorDrive,
    driveline: Driveline | None = None,
    machine: Machine | None = None,
    *,
    oil_temperature: Quantity | None = None,
    relief_torque: None = None,
    tolerances: Mapping[str, Quantity] | None = None,
    coverage: Quantity = 0.95,
    published: tuple[Quantity, Quantity] | None = None,
    maker_hold: Quantity | None = None,
    surface: Surface | str | None = None,
    load: Load = "empty",
    name: str = "",
) -> MotorStall: ...


def stall_test(
    match: MatchResult | ArrangedResult | MotorMatch | MotorDrive,
    driveline: Driveline | None = None,
    machine: Machine | None = None,
    *,
    oil_temperature: Quantity | None = None,
    relief_torque: Quantity | None = None,
    tolerances: Mapping[str, Quantity] | None = None,
    coverage: Quantity = 0.95,
    published: tuple[Quantity, Quantity] | None = None,
    maker_hold: Quantity | None = None,
    surface: Surface | str | None = None,
    load: Load = "empty",
    name: str = "",
) -> StallTest | MotorStall:
    """Prepare a stall test: what a healthy machine reads today, and what readings mean.

    Parameters
    ----------
    match : MatchResult, ArrangedResult or MotorMatch
        Its engine or motor, converter, site and hydraulic torque are those of the machine under
        test; of `solve_arranged`, its stator and torque divider as well.
    driveline : Driveline, optional
        Tells the gears apart.
    machine : Machine, optional
        Oil, cooler and limits: how long a hold may last.
    oil_temperature : float or str, optional
        Of the test: [K], or a text with its unit.
    relief_torque : float or str, optional
        Taken by the implement pumps at relief: [N.m], or a text with its unit. Needed for tests
        with the pumps at relief.
    tolerances : mapping, optional
        Half widths in place of the usual ones: ``engine_torque``, ``capacity``, ``loads``,
        ``relief``, ``air``, ``governor`` as shares or in percent, ``oil_temperature``,
        ``reading``.
    coverage : float or str
        Share of healthy machines that read inside the band.
    published : tuple of two float or str, optional
        The maker's lowest and highest stall speed: [rad/s], or texts with their unit.
    maker_hold : float or str, optional
        The longest hold that the machine maker allows: [s], or a text with its unit.
    surface : Surface or str, optional
        The ground, or its name in the published table: in which gears the machine breaks loose.
        Not judged without one.
    load : {"empty", "laden"}
        Of the machine in the test.
    name : str
        As painted on the machine.

    Returns
    -------
    StallTest or MotorStall
        `StallTest.expected`, `StallTest.diagnose`, `StallTest.sheet`; of a motor what to expect,
        and no diagnosis.

    Raises
    ------
    InputError
        If one of them is no such part, the converter has no stall point, or a value is out of
        range.

    Examples
    --------
    >>> import converter_match as cm
    >>> match = cm.solve(*cm.read("six-cylinder-7l-185kw", "single-stage-345mm-tight"))
    >>> test = cm.stall_test(match, oil_temperature="85 degC", tolerances={"capacity": "2 %"})
    >>> low, high = test.expected.band.ends
    >>> low < match.stall.engine_speed < high
    True
    """
    from converter_match.api.motors import motor_drive
    from converter_match.components.driveline import Driveline
    from converter_match.components.machine import Machine
    from converter_match.errors import InputError
    from converter_match.judgement.arrangement.solve import ArrangedResult
    from converter_match.judgement.match.result import MatchResult
    from converter_match.judgement.stall.setup import StallSetup, Tolerances

    drive = motor_drive(match)
    if drive is not None:
        from converter_match.judgement.motor.stall import MotorStallSetup, expect_motor

        if relief_torque is not None:
            raise InputError(
                "no test with the pumps at relief is known of a motor",
                field="relief_torque",
                found=str(relief_torque),
            )
        return expect_motor(
            MotorStallSetup(
                drive=drive,
                driveline=optional(driveline, Driveline, "driveline"),
                machine=optional(machine, Machine, "machine"),
                oil_temperature=quantity(oil_temperature, "temperature", "oil_temperature"),
                tolerances=Tolerances(**named_quantities(tolerances, _TOLERANCES, "tolerances")),
                coverage=in_si(coverage, "ratio", "coverage"),
                published=None
                if published is None
                else (
                    in_si(published[0], "angular_speed", "published"),
                    in_si(published[1], "angular_speed", "published"),
                ),
                maker_hold=quantity(maker_hold, "time", "maker_hold"),
                surface=None if surface is None else surface_of(surface),
                load=load,
            )
        )
    arranged = match if isinstance(match, ArrangedResult) else None
    given = part(match if arranged is None else arranged.match, MatchResult, "match")
    span = published and (
        in_si(published[0], "angular_speed", "published"),
        in_si(published[1], "angular_speed", "published"),
    )
    setup = StallSetup(
        engine=given.engine,
        converter=given.converter,
        site=given.site.site,
        hydraulic_torque=given.hydraulic_torque,
        relief_torque=quantity(relief_torque, "torque", "relief_torque"),
        driveline=optional(driveline, Driveline, "driveline"),
        machine=optional(machine, Machine, "machine"),
        oil_temperature=quantity(oil_temperature, "temperature", "oil_temperature"),
        tolerances=Tolerances(**named_quantities(tolerances, _TOLERANCES, "tolerances")),
        coverage=in_si(coverage, "ratio", "coverage"),
        published=span,
        maker_hold=quantity(maker_hold, "time", "maker_hold"),
        arrangement=None if arranged is None else arranged.arrangement,
        inside=None if arranged is None else arranged.inside,
        surface=None if surface is None else surface_of(surface),
        load=load,
    )
    return StallTest(setup, name)


@overload
def hold(
    match: MatchResult | ArrangedResult, machine: Machine, *, oil_start: Quantity | None = None
) -> StallHold: ...


@overload
def hold(
    match: MotorMatch | MotorDrive, machine: Machine, *, oil_start: Quantity | None = None
) -> MotorHold: ...


def hold(
    match: MatchResult | ArrangedResult | MotorMatch | MotorDrive,
    machine: Machine,
    *,
    oil_start: Quantity | None = None,
) -> StallHold | MotorHold:
    """Work out how long a stall may be held, and what it does to the oil.

    Parameters
    ----------
    match : MatchResult, ArrangedResult, MotorMatch or MotorDrive
        Of an engine, or of a motor: behind its converter, or coupled directly.
    machine : Machine
        Oil, cooler and limits.
    oil_start : float or str, optional
        Oil temperature at the start: [K], or a text with its unit; warm oil without.

    Returns
    -------
    StallHold or MotorHold
        The shortest time that the data allow; of a motor, which limit comes first. The machine
        maker's procedure goes before it.

    Raises
    ------
    InputError
        If one of them is no such part, or it is no oil temperature of a test.

    Examples
    --------
    >>> import converter_match as cm
    >>> engine, converter, loader = cm.read(
    ...     "six-cylinder-7l-185kw", "single-stage-345mm-tight", "wheel-loader-17t"
    ... )
    >>> held = cm.hold(cm.solve(engine, converter), loader, oil_start="80 degC")
    >>> 0 < held.seconds <= 30
    True
    """
    from converter_match.api.motors import motor_drive
    from converter_match.components.machine import Machine
    from converter_match.judgement.stall.hold import stall_hold

    own = part(machine, Machine, "machine")
    drive = motor_drive(match)
    if drive is not None:
        from converter_match.judgement.motor.hold import motor_hold

        return motor_hold(drive, own, oil_start=quantity(oil_start, "temperature", "oil_start"))
    pair: Any = match  # `stall_test` refuses what it is not
    return stall_hold(stall_test(pair, machine=own, oil_temperature=oil_start).setup)
