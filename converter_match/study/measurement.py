"""What was measured on a machine, and how. SI units.

A reading tells of the parts that stood there on that day: its air, load and ground are those of the
day, not those that a study decides about. Without a value it is a reading that could be taken.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Literal, NamedTuple, Protocol, get_args

from converter_match.components.arrangement import Arrangement
from converter_match.components.base import in_rpm, require_choice, require_positive
from converter_match.components.driveline import Driveline
from converter_match.components.engine import Engine, SpeedTable
from converter_match.components.machine import LOADS, Load, Machine
from converter_match.components.site import Site
from converter_match.components.surface import Surface
from converter_match.errors import InputError
from converter_match.study.criteria import PumpState
from converter_match.study.names import refer

Ground = Literal["duty", "other"]
PumpsInTest = Literal["standby", "relief"]
GROUNDS: tuple[Ground, ...] = get_args(Ground)
PUMPS_IN_TEST: tuple[PumpsInTest, ...] = get_args(PumpsInTest)

MEASURED = "one measured machine, docs/validation.md"
PRACTICE = "common practice, no source"
"""What a model error rests on."""

WORK_ERROR = 0.01
"""Standard deviation of the engine torque at work about what a part gives in a test: fuel, boost,
heat of a whole shift (common practice, no source)."""
LOAD_SCATTER = 0.03
"""Standard deviation of the payload of one load, as a share (common practice, no source)."""
_CONTRADICT = 4.0  # so many standard deviations apart, readings of one thing contradict each other
_SETTINGS = ("gear", "grade", "speed", "engine_speed", "speed_ratio", "duration")
_ON_GROUND = ("driveline", "machine")


class Kind(NamedTuple):
    """What can be measured.

    Parameters
    ----------
    title : str
    dimension : str
        Of the value.
    needs, takes : tuple of str
        Settings that it needs, and those that it may have beside them.
    model_error : float
        Standard deviation of what the model makes of exactly known parts, share of the value.
    basis : str
        What that rests on.
    parts : tuple of str
        Parts that it takes beside engine and converter.
    """

    title: str
    dimension: str
    needs: tuple[str, ...] = ()
    takes: tuple[str, ...] = ()
    model_error: float = 0.01
    basis: str = PRACTICE
    parts: tuple[str, ...] = ()


KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        "stall-speed": Kind("stall speed", "angular_speed", takes=("gear",)),
        "speed-on-grade": Kind(
            "speed on a grade, gear held", "velocity", ("gear", "grade"), (), 0.01, MEASURED,
            _ON_GROUND,
        ),
        "top-speed": Kind(
            "top speed on the level", "velocity", (), ("gear",), 0.01, MEASURED, _ON_GROUND
        ),
        "pull": Kind(
            "drawbar pull on the level", "force", ("gear",), ("speed",), 0.02, MEASURED,
            _ON_GROUND,
        ),
        "time-to-speed": Kind(
            "time from rest to a speed", "time", ("speed",), ("gear", "grade"), 0.03, PRACTICE,
            _ON_GROUND,
        ),
        "engine-torque": Kind(
            "engine torque on a test bed", "torque", ("engine_speed",), (), 0.005
        ),
        "weight": Kind("weight", "mass", (), (), 0.0, PRACTICE, ("machine",)),
        "rolling-radius": Kind(
            "loaded rolling radius", "length", (), (), 0.005, PRACTICE, ("machine",)
        ),
        "fuel-rate": Kind(
            "fuel rate at full load on a test bed", "fuel_rate", ("engine_speed",), (), 0.02
        ),
        "temperature-rise": Kind(
            "rise of the oil temperature over a stall hold", "temperature_difference",
            ("duration",), ("gear",), 0.1, PRACTICE, ("machine",),
        ),
        "k-factor": Kind("K-factor on a rig", "k_factor", ("speed_ratio",), (), 0.005),
        "torque-ratio": Kind("torque ratio on a rig", "ratio", ("speed_ratio",), (), 0.005),
    }
)  # fmt: skip
"""Every quantity that can be measured. Positions: title, dimension, needed settings, further ones,
model error, its basis, parts."""

IN_AIR = ("stall-speed", "speed-on-grade", "top-speed", "pull", "time-to-speed", "temperature-rise")
"""Those that depend on the air of the day."""
ON_GROUND = ("speed-on-grade", "top-speed", "pull", "time-to-speed")
"""Those that depend on the ground."""
WITH_LOAD = (*ON_GROUND, "weight")
"""Those that depend on the load."""


class Stands(Protocol):
    """Parts that work together: a `study.study.Combination`."""

    @property
    def id(self) -> str:
        """Short name."""

    @property
    def engine(self) -> Engine:
        """Engine."""

    @property
    def arrangement(self) -> Arrangement | None:
        """What stands around the converter."""

    @property
    def driveline(self) -> Driveline | None:
        """Gears."""

    @property
    def machine(self) -> Machine | None:
        """Machine."""

    def pump_table(self, state: PumpState) -> SpeedTable | None:
        """Torque of the pumps."""


@dataclass(frozen=True, kw_only=True)
class Measurement:
    """A reading, or one that could be taken. SI units.

    Parameters
    ----------
    quantity : str
        A key of `KINDS`.
    combination : str
        Id of the combination that it was taken on.
    value : float or None
        The reading, the mean where it was repeated; None for one that could be taken.
    deviation : float
        Standard deviation of instrument and repeat of a single reading.
    repeats : int
        How many readings the value is the mean of.
    given : str
        The value as written, unit included.
    gear : str
        Empty for none; forward gears only.
    grade, speed, engine_speed, speed_ratio, duration : float, optional
        At which it was taken: rise / run, road speed [m/s], [rad/s], turbine / engine, [s].
    pumps : {"standby", "relief"}
    load : {"laden", "empty"}
    mass : float, optional
        As weighed on that day [kg].
    ground : {"duty", "other"}
        Whether it is the ground of the duty. Other ground teaches nothing about that.
    surface : Surface, optional
        The other ground.
    site : Site, optional
        Where, with the air of that day; without one the reference air of the engine.
    air_known : tuple of bool
        Whether temperature and pressure of the air were measured on that day; what was not is as
        uncertain as the study has it.
    oil_temperature : float, optional
        Of the transmission [K]; as on the converter's sheet without one.
    model_error : float, optional
        Standard deviation of the model for exactly known parts, share of the value; that of the
        quantity without one.
    date, source : str

    Raises
    ------
    InputError
        Naming the field.
    """

    quantity: str
    combination: str
    value: float | None = None
    deviation: float
    repeats: int = 1
    given: str = ""
    gear: str = ""
    grade: float | None = None
    speed: float | None = None
    engine_speed: float | None = None
    speed_ratio: float | None = None
    duration: float | None = None
    pumps: PumpsInTest = "standby"
    load: Load = "laden"
    mass: float | None = None
    ground: Ground = "duty"
    surface: Surface | None = None
    site: Site | None = None
    air_known: tuple[bool, bool] = (False, False)
    oil_temperature: float | None = None
    model_error: float | None = None
    date: str = ""
    source: str = ""

    def __post_init__(self) -> None:
        require_choice(self.quantity, "measurement.quantity", tuple(KINDS))
        require_choice(self.pumps, "measurement.pumps", PUMPS_IN_TEST)
        require_choice(self.load, "measurement.load", LOADS)
        require_choice(self.ground, "measurement.ground", GROUNDS)
        for name in ("value", "speed", "engine_speed", "duration", "mass"):
            require_positive(getattr(self, name), f"measurement.{name}")
        what = "one standard deviation of instrument and repeat, above zero"
        require_positive(self.deviation, "measurement.deviation", what)
        if self.repeats < 1:
            raise InputError(
                "out of range", field="measurement.repeats", found=self.repeats,
                expected="one or more",
            )  # fmt: skip
        for name, most, words in (
            ("grade", 1.0, "0 to 100 %"),
            ("speed_ratio", 1.5, "0 to 1.5"),
            ("model_error", 0.5, "0 to 50 %"),
        ):
            number = getattr(self, name)
            if number is not None and not 0.0 <= number <= most:
                raise InputError(
                    "out of range", field=f"measurement.{name}", found=number, expected=words
                )
        oil = self.oil_temperature
        if oil is not None and not 233.15 <= oil <= 453.15:
            raise InputError(
                "not an oil temperature of a test", field="measurement.oil_temperature",
                found=oil, expected="-40 to 180 degC",
            )  # fmt: skip
        self._check_settings()

    def _check_settings(self) -> None:
        """Refuse settings that are missing, or mean nothing for the quantity."""
        kind = self.kind
        for name in _SETTINGS:
            given = bool(self.gear) if name == "gear" else getattr(self, name) is not None
            if name in kind.needs and not given:
                raise InputError(
                    "missing", field=f"measurement.{name}", expected=f"given with {kind.title}"
                )
            if given and name not in (*kind.needs, *kind.takes):
                raise InputError(
                    f"means nothing for {kind.title}", field=f"measurement.{name}",
                    found=getattr(self, name), expected="the key left out",
                )  # fmt: skip
        if (self.ground == "other") != (self.surface is not None):
            raise InputError(
                "other ground and a surface go together", field="measurement.surface",
                expected="ground = 'other' with the name of the surface, or neither",
            )  # fmt: skip
        if self.surface is not None and self.quantity not in ON_GROUND:
            raise InputError(
                f"means nothing for {kind.title}", field="measurement.ground", found=self.ground,
                expected="the key left out",
            )  # fmt: skip

    @property
    def kind(self) -> Kind:
        """What is measured."""
        return KINDS[self.quantity]

    @property
    def error_share(self) -> float:
        """Standard deviation of the model, share of the value."""
        return self.kind.model_error if self.model_error is None else self.model_error

    @property
    def noise(self) -> float:
        """Standard deviation of the mean of the repeats, without the model's."""
        return self.deviation / math.sqrt(self.repeats)

    @property
    def use(self) -> tuple[object, ...]:
        """What readings have in common that share one model error: the same test, on any day."""
        return (
            self.quantity, self.combination, self.gear, self.grade, self.speed, self.engine_speed,
            self.speed_ratio, self.duration, self.pumps, self.load, self.ground,
        )  # fmt: skip


def check_measurements(
    measurements: Sequence[Measurement], combinations: Sequence[Stands], surface: Surface | None
) -> None:
    """Refuse readings that their combinations cannot give, and those that contradict each other.

    Parameters
    ----------
    measurements : sequence of Measurement
        Each with a value.
    combinations : sequence of Combination
    surface : Surface or None
        Of the duty.

    Raises
    ------
    InputError
        Naming the row.
    """
    by_id = {item.id: item for item in combinations}
    for row, item in enumerate(measurements):
        place = f"measurement[{row}]"
        refer(item.combination, list(by_id), f"{place}.combination", "combination")
        if item.value is None:
            raise InputError("missing", field=f"{place}.value", expected="what was read")
        check_possible(item, by_id[item.combination], surface, place)
        for other, before in enumerate(measurements[:row]):
            _check_pair(item, before, place, other)


def check_possible(
    item: Measurement, on: Stands, surface: Surface | None, place: str = "measurement"
) -> None:
    """Refuse a reading that a combination cannot give.

    Parameters
    ----------
    item : Measurement
    on : Combination
    surface : Surface or None
        Of the duty.
    place : str
        For the message.

    Raises
    ------
    InputError
        Naming the field.
    """

    def refuse(problem: str, key: str, found: object, expected: str) -> InputError:
        return InputError(problem, field=f"{place}.{key}", found=found, expected=expected)

    for part in item.kind.parts:
        if getattr(on, part) is None:
            raise refuse(
                f"{on.id} has no {part} to read that on", "quantity", item.quantity,
                f"a {part} file of {on.id}",
            )  # fmt: skip
    if item.gear and on.driveline is not None:
        refer(item.gear, [gear.name for gear in on.driveline.forward], f"{place}.gear",
              f"forward gear of {on.driveline.id}")  # fmt: skip
    if item.pumps == "relief":
        if item.quantity not in IN_AIR:
            raise refuse(
                f"means nothing for {item.kind.title}", "pumps", item.pumps, "the key left out"
            )
        if on.pump_table("relief") is None:
            raise refuse(
                f"nothing is known of the pumps of {on.id} at relief", "pumps", item.pumps,
                "an arrangement with their torque at relief",
            )  # fmt: skip
    if item.quantity in ON_GROUND and item.ground == "duty" and surface is None:
        raise refuse("the duty has no ground", "ground", item.ground, "duty.surface, or 'other'")
    if item.mass is not None and item.quantity not in ON_GROUND:
        raise refuse(f"means nothing for {item.kind.title}", "mass", item.mass, "the key left out")
    speed = item.engine_speed
    if speed is not None:
        low, high = on.engine.full_load.domain
        if not low <= speed <= high:
            raise refuse(
                "the engine's full-load curve has no such speed", "engine_speed", in_rpm(speed),
                in_rpm(low, high),
            )  # fmt: skip
    if item.quantity == "fuel-rate" and on.engine.fuel is None:
        raise refuse(f"the engine of {on.id} has no fuel data", "quantity", item.quantity,
                     "fuel consumption in its file")  # fmt: skip
    if item.quantity == "temperature-rise":
        assert on.machine is not None
        if on.machine.oil.oil_heat_capacity is None:
            raise refuse(f"nothing is known of how much oil {on.id} holds", "quantity",
                         item.quantity, "the oil volume in its machine file")  # fmt: skip


def _check_pair(item: Measurement, before: Measurement, place: str, other: int) -> None:
    """Refuse a reading that is another one again, or contradicts it."""
    if item.use != before.use or item.value is None or before.value is None:
        return
    if item == replace(before, repeats=item.repeats, deviation=item.deviation):
        raise InputError(
            f"is measurement no. {other + 1} again", field=f"{place}.value", found=item.given,
            expected="one row with repeats, or another date",
        )  # fmt: skip
    same_day = (item.site, item.air_known, item.mass, item.surface, item.date) == (
        before.site, before.air_known, before.mass, before.surface, before.date
    )  # fmt: skip
    apart = abs(item.value - before.value)
    if same_day and apart > _CONTRADICT * math.hypot(item.noise, before.noise):
        raise InputError(
            f"contradicts measurement no. {other + 1} of the same test",
            field=f"{place}.value", found=f"{item.given} beside {before.given}",
            expected="readings as near as their deviations say",
            hint="correct or drop one, or give the deviation that such readings have",
        )  # fmt: skip
