"""The same engine governed lower: what is left of the match, what it burns, does it still suit.

Each setting is the engine with its high idle turned down and the full droop in proportion
(`physics.engine.part_load`), matched anew. Loaders governed at lower engine speed burnt 15 to 25 %
less in the field, and some then needed another converter (D. B. Stewart and R. M. Mogan, CIM
Bulletin 70 (779), 1977; abstract seen).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from converter_match.answer.block import Block, Facts, Heading
from converter_match.answer.noted import Answer
from converter_match.components.base import in_rpm
from converter_match.components.engine import Engine
from converter_match.constants import RPM
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.match import words
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.match.solve import solve_in
from converter_match.judgement.match.spread import decisive_blocks
from converter_match.notes import Note
from converter_match.physics.engine.fuel import FuelLaw, fuel_law
from converter_match.physics.engine.part_load import governed_curve, part_load_supply
from converter_match.physics.match.indices import MatchingIndices
from converter_match.physics.match.part_load_map import PartLoadMap, part_load_map

_LEVEL = 0.75
_COLUMNS = (
    Heading("no_load_speed", "high idle set to", "angular_speed"),
    Heading("governed_speed", "governed speed", "angular_speed"),
    Heading("governed_power", "net power there", "power"),
    Heading("stall_speed", "stall", "angular_speed"),
    Heading("stall_turbine_torque", "turbine torque at stall", "torque"),
    Heading("stall_fuel", "fuel at stall", "fuel_rate"),
    Heading("greatest_output", "max. output", "power"),
    Heading("mean_output_power", "mean output", "power"),
    Heading("mean_efficiency", "mean efficiency"),
    Heading("mean_specific_fuel", "mean fuel over output", "specific_fuel"),
    Heading("single_match", "single match"),
    Heading("stall_below_governor", "stall below governor"),
    Heading("rated_power_usable", "power usable"),
    Heading("suits", "converter suits"),
)
_POINTS = (
    Heading("no_load_speed", "high idle set to", "angular_speed"),
    Heading("speed_ratio", "speed ratio"),
    Heading("engine_speed", "engine", "angular_speed"),
    Heading("turbine_speed", "turbine", "angular_speed"),
    Heading("turbine_torque", "turbine torque", "torque"),
    Heading("output_power", "output", "power"),
    Heading("efficiency", "efficiency"),
    Heading("fuel_rate", "fuel", "fuel_rate"),
    Heading("specific_fuel", "fuel over output", "specific_fuel"),
)
_LISTED = (0.0, 0.5, 0.8)
# What a match says of itself that speaks against the converter at a setting.
_NOT_SINGLE = ("several-intersections", "several-intersections-on-locus", "cannot-hold-idle")
_ON_GOVERNOR = "stall-on-governor"
_NOT_USABLE = "no-rated-power-in-working-range"


@dataclass(frozen=True, eq=False)
class GovernorSetting:
    """The pair at one setting of the governor.

    Parameters
    ----------
    no_load_speed : float
        [rad/s].
    match : MatchResult
        Of the engine so governed, in the air and with the loads of the full setting.
    fuel : FuelLaw or None
        Of the engine.
    """

    no_load_speed: float
    match: MatchResult
    fuel: FuelLaw | None

    @property
    def against(self) -> tuple[Note, ...]:
        """What speaks against the converter at this setting."""
        codes = (*_NOT_SINGLE, _ON_GOVERNOR, _NOT_USABLE)
        return tuple(note for note in self.match.notes if note.code in codes)

    @property
    def indices(self) -> MatchingIndices | None:
        """Averages from 75 % efficiency up to the governed speed; None where there are none."""
        levels = {item.level: item for item in self.match.indices}
        return levels.get(_LEVEL)

    @property
    def stall_fuel(self) -> float | None:
        """Fuel flow at stall [kg/s]."""
        stall = self.match.stall
        if stall is None or self.fuel is None:
            return None
        supply = self.match.supply
        made = supply.factor * float(supply.source(stall.engine_speed))
        return float(self.fuel.rate(made, stall.engine_speed))

    def row(self) -> tuple[object, ...]:
        """Return the row of the table, SI."""
        match, mean = self.match, self.indices
        rated = match.engine.rated_speed
        codes = {note.code for note in self.against}
        return (
            self.no_load_speed,
            rated,
            float(match.supply.torque(rated)) * rated,
            None if match.stall is None else match.stall.engine_speed,
            None if match.stall is None else match.stall.turbine_torque,
            self.stall_fuel,
            match.greatest_output,
            None if mean is None else mean.mean_output_power,
            None if mean is None else mean.mean_efficiency,
            None if mean is None else mean.mean_specific_fuel,
            codes.isdisjoint(_NOT_SINGLE),
            None if match.stall is None else _ON_GOVERNOR not in codes,
            _NOT_USABLE not in codes,
            not codes,
        )


@dataclass(frozen=True, eq=False, repr=False)
class GovernedLower(Answer):
    """A pair at the full setting of the governor and at lower ones.

    Parameters
    ----------
    settings : tuple of GovernorSetting
        The full one first.
    part_load : PartLoadMap
        At each setting, over some speed ratios.
    fuel_rate : ndarray or None
        At each of its points [kg/s]; None without fuel data.
    notes : tuple of Note
        Why the converter does not suit a setting, and what was assumed.
    alternatives : tuple of GovernedLower
        With each converter that an estimated one may be.
    """

    settings: tuple[GovernorSetting, ...]
    part_load: PartLoadMap
    fuel_rate: FloatArray | None
    notes: tuple[Note, ...]
    alternatives: tuple[GovernedLower, ...] = ()

    def decisive(self) -> Facts:
        """Return what a decision rests on at each setting; None where there is none."""
        facts: Facts = ()
        for setting in self.settings:
            rpm, mean = f"{setting.no_load_speed / RPM:.0f}", setting.indices
            values = (
                ("greatest_output", "greatest output", "power", setting.match.greatest_output),
                ("mean_output", "mean output", "power", mean and mean.mean_output_power),
                ("mean_efficiency", "mean efficiency", None, mean and mean.mean_efficiency),
            )
            facts += tuple(
                (Heading(f"{key}_at_{rpm}_rpm", f"{said}, governed at {rpm} rpm", amount), value)
                for key, said, amount, value in values
            )
        return facts

    def blocks(self) -> tuple[Block, ...]:
        """Return a row for each setting, and one for each of its points."""
        return (
            Block(
                "governed_lower",
                title=words.GOVERNED,
                columns=_COLUMNS,
                rows=tuple(setting.row() for setting in self.settings),
                rows_key="settings",
            ),
            Block(
                "governed_lower.part_load",
                title=words.GOVERNED_POINTS,
                columns=_POINTS,
                rows=tuple(self._points()),
                rows_key="",
            ),
            *decisive_blocks(
                self, "governed_lower.estimate", banded=self.settings[0].match.converter.banded
            ),
        )

    def _points(self) -> Iterator[tuple[float, ...]]:
        points = self.part_load.points
        unknown = np.full(points.engine_speed.shape, np.nan)
        burnt = unknown if self.fuel_rate is None else self.fuel_rate
        power = points.output_power
        with np.errstate(divide="ignore", invalid="ignore"):
            specific = np.where(power > 0.0, burnt / power, np.nan)
        columns = (*(getattr(points, head.key) for head in _POINTS[1:7]), burnt, specific)
        for row, setting in enumerate(self.part_load.setting):
            for values in zip(*(column[row] for column in columns), strict=True):
                yield (float(setting), *map(float, values))


def governed_lower(match: MatchResult, no_load_speeds: Sequence[float]) -> GovernedLower:
    """Match the pair at lower settings of the governor.

    Parameters
    ----------
    match : MatchResult
        At the full setting.
    no_load_speeds : sequence of float
        High idle turned down to [rad/s].

    Raises
    ------
    InputError
        If the engine is not governed by speed, no setting is given, or one is no setting of its
        governor.
    """
    engine = match.engine
    if engine.governing != "speed":
        raise InputError(
            "the pedal of this engine sets torque, not speed: its governor is not turned down",
            source=engine.id,
            field="governing",
            found=engine.governing,
            expected="speed",
        )
    if not len(no_load_speeds):
        raise InputError("no setting is given", field="governed", expected="high idle set to ...")
    fuel = fuel_law(engine)
    settings = [GovernorSetting(engine.high_idle, match, fuel)]
    notes = dict[str, Note]()
    for speed in sorted(set(map(float, no_load_speeds)), reverse=True):
        lowered = _governed(engine, speed)
        matched = solve_in(
            lowered, match.converter, match.site, hydraulic_torque=match.hydraulic_torque
        )
        settings.append(GovernorSetting(speed, matched, fuel))
        notes |= {note.code: note for note in part_load_supply(engine, setting=speed)[1]}
    against = [
        words.note("does-not-suit-governed", setting=item.no_load_speed, why=item.against)
        for item in settings
        if item.against
    ]
    burnt = () if fuel is None else fuel.notes
    points = _part_load(match, [item.no_load_speed for item in settings])
    return GovernedLower(
        tuple(settings),
        points,
        None if fuel is None else _fuel_rate(points, settings, fuel),
        (*against, *notes.values(), *burnt),
        tuple(governed_lower(other, no_load_speeds) for other in match.alternatives),
    )


def _part_load(match: MatchResult, settings: Sequence[float]) -> PartLoadMap:
    converter = match.converter
    low, high = max(converter.domain[0], 0.0), min(converter.domain[1], 1.0)
    corner = [] if converter.coupling is None else [converter.coupling]
    ratios = sorted({nu for nu in (*_LISTED, *corner, high) if low <= nu <= high})
    return part_load_map(
        match.engine,
        converter,
        settings,
        ratios,
        torque_factor=match.site.torque_factor,
        hydraulic_torque=match.hydraulic_torque,
    )


def _fuel_rate(
    points: PartLoadMap, settings: Sequence[GovernorSetting], fuel: FuelLaw
) -> FloatArray:
    """Return the fuel at each point [kg/s]: the engine makes what converter and loads take."""
    speed = points.points.engine_speed
    loads = np.stack(
        [item.match.supply.load_torque(own) for item, own in zip(settings, speed, strict=True)]
    )
    return fuel.rate(points.points.input_torque + loads, speed)


def check_setting(engine: Engine, no_load_speed: float) -> None:
    """Refuse what is no lower setting of an engine's governor.

    Parameters
    ----------
    engine : Engine
    no_load_speed : float
        High idle turned down to [rad/s].

    Raises
    ------
    InputError
        Naming the speeds between which it has to lie.
    """
    droop = engine.rated_speed / engine.high_idle
    lowest = max(engine.full_load.domain[0], engine.low_idle) / droop
    if not lowest < no_load_speed < engine.high_idle * (1.0 - 1e-9):
        raise InputError(
            "no such setting of the governor",
            field="governed",
            found=in_rpm(no_load_speed),
            expected=f"above {in_rpm(lowest)} and below {in_rpm(engine.high_idle)}",
        )


def _governed(engine: Engine, no_load_speed: float) -> Engine:
    """Return the engine with its high idle turned down; the droop goes with it."""
    check_setting(engine, no_load_speed)
    curve = governed_curve(engine, no_load_speed)
    return engine.replace(
        speed=curve.x[:-1],
        torque=curve.y[:-1],
        rated_speed=float(curve.x[-2]),
        high_idle=no_load_speed,
    )
