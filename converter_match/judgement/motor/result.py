"""The answer for one motor and one converter: named points at both torques, and every note."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from converter_match.answer.block import Block, Heading, NoValue, facts_of, row_of
from converter_match.answer.noted import AnswerOfPair
from converter_match.components.converter import Converter
from converter_match.judgement.match.result import POINT, EfficiencyRange, MatchPoint, NamedPoint
from converter_match.judgement.match.words import POINTS
from converter_match.judgement.motor import words
from converter_match.judgement.motor.setup import MotorSetup, Rating
from converter_match.notes import Note
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.solver import MatchSet

MOTOR_POINT = tuple(
    head.said("motor") if head.key == "engine_speed" else head
    for head in POINT
    if head.key not in ("stable", "input_power")
)
"""What is said of an operating point behind a motor."""
OF_MOTOR = (
    Heading("share_of_continuous", "of continuous", "share"),
    Heading("electric_power", "electric", "power"),
    Heading("held_from_cold", "held from cold", "time", ".0f"),
    Heading("held_from_warm", "from warm", "time", ".0f"),
)
"""What the motor makes of it; `held` is infinite within the continuous torque."""
_RATING = Heading("rating", "torque")


@dataclass(frozen=True, eq=False)
class RatedMatch:
    """A motor and a converter at one of the motor's torques.

    Parameters
    ----------
    rating : {"peak", "continuous"}
    supply : TorqueSupply
    stall, coupling, best_efficiency, best_in_conversion, speed_limit : MatchPoint or None
        `speed_limit` is where the motor comes up to its top speed.
    ranges : tuple of EfficiencyRange
        At 70 % and 80 % efficiency of the converter.
    locus : MatchSet
    """

    rating: Rating
    supply: TorqueSupply
    stall: MatchPoint | None
    coupling: MatchPoint | None
    best_efficiency: MatchPoint | None
    best_in_conversion: MatchPoint | None
    speed_limit: MatchPoint | None
    ranges: tuple[EfficiencyRange, ...]
    locus: MatchSet

    def key_points(self) -> tuple[NamedPoint, ...]:
        """Return the named points that there are, in the order of their speed ratios.

        A point at which no torque is taken is left out: nothing is got out there.
        """
        listed: list[tuple[str, MatchPoint | None]] = [
            ("stall", self.stall),
            ("best_in_conversion", self.best_in_conversion),
            ("coupling", self.coupling),
            ("speed_limit", self.speed_limit),
            ("best_efficiency", self.best_efficiency),
        ]
        for item in self.ranges:
            level = f"efficiency_{100 * item.level:.0f}"
            listed.append((f"{level}_lower", item.lower))
            if not item.ends_with_data and item.high < 1.0:
                listed.append((f"{level}_upper", item.upper))
        highest = float(np.nanmax(np.abs(self.locus.points.input_torque), initial=0.0))
        there = [
            NamedPoint(code, {**POINTS, **words.POINTS}[code], point)
            for code, point in listed
            if point is not None and abs(point.input_torque) > 1e-3 * highest
        ]
        return tuple(sorted(there, key=lambda item: item.point.speed_ratio if item.point else 0.0))


@dataclass(frozen=True, eq=False)
class MotorMatch(AnswerOfPair):
    """Everything known about a motor and a converter together.

    Parameters
    ----------
    setup : MotorSetup
        Motor, voltage, coolant, pumps.
    converter : Converter
    peak, continuous : RatedMatch
    notes : tuple of Note
        Assumptions, warnings, exceeded limits and cautions, each with a stable code.
    beside : tuple of Block
        What else was asked of the pair, such as a load.
    """

    setup: MotorSetup
    converter: Converter
    peak: RatedMatch
    continuous: RatedMatch
    notes: tuple[Note, ...]
    beside: tuple[Block, ...] = ()

    def with_notes(self, notes: Iterable[Note]) -> MotorMatch:
        """Return the same with other notes."""
        return replace(self, notes=tuple(dict.fromkeys(notes)))

    def duty_of(self, point: MatchPoint) -> tuple[float, float, float]:
        """Return torque at the shaft [N.m], share of the continuous one, and time held cold [s]."""
        setup = self.setup
        speed = np.asarray(point.engine_speed)
        torque = setup.shaft_torque(np.asarray(point.input_torque), speed)
        share = setup.share(torque, speed)
        return float(torque), float(share), float(setup.held(share))

    def blocks(self) -> tuple[Block, ...]:
        """Return the named points, what the answer rests on, and every point of both loci."""
        converter = self.converter
        own = [Heading(key, "") for key in ("id", "name", "source", "stator")]
        torque = Heading("hydraulic_torque", "", "torque")
        return (
            self._table(),
            self.setup.origin(),
            Block(
                "converter",
                facts=(
                    *facts_of(converter, own),
                    (Heading("fingerprint", ""), converter.fingerprint()),
                ),
                in_text=False,
            ),
            Block("", facts=((torque, self.setup.hydraulic_torque),), in_text=False),
            *(self._named(rated) for rated in (self.peak, self.continuous)),
            Block(
                "points",
                columns=(_RATING, *MOTOR_POINT, Heading("stable", ""), *OF_MOTOR),
                rows=self._rows(),
                rows_key="",
                in_text=False,
            ),
            *self.beside,
        )

    def _table(self) -> Block:
        head = (_RATING, Heading("code", ""), Heading("point", "point"))
        rows = [
            (rated.rating, item.code, item.words, *self._row(item.point))
            for rated in (self.peak, self.continuous)
            for item in rated.key_points()
            if item.point is not None
        ]
        return Block(
            "key_points",
            title=f"{self.setup.motor.name}  +  {self.converter.title}",
            facts=self.setup.basis(),
            columns=(*head, *MOTOR_POINT, *OF_MOTOR),
            rows=tuple(rows),
            rows_key="rows",
        )

    def _row(self, point: MatchPoint) -> tuple[Any, ...]:
        return (
            *row_of(point, MOTOR_POINT),
            *self._of_motor(point.engine_speed, point.input_torque),
        )

    def _of_motor(self, speed: float, net: float) -> tuple[Any, ...]:
        setup = self.setup
        turning = np.asarray(speed)
        torque = setup.shaft_torque(np.asarray(net), turning)
        share = setup.share(torque, turning)
        times = [float(setup.held(share, start=start)) for start in (0.0, 1.0)]
        return (
            float(share),
            float(setup.electric(torque, turning)),
            *(time if np.isfinite(time) else NoValue(words.FOR_GOOD) for time in times),
        )

    def _named(self, rated: RatedMatch) -> Block:
        facts = tuple(
            (Heading(item.code, ""), item.point and item.point.to_dict())
            for item in rated.key_points()
        )
        return Block(rated.rating, facts=facts, in_text=False)

    def _rows(self) -> tuple[tuple[Any, ...], ...]:
        rows = []
        for rated in (self.peak, self.continuous):
            points = rated.locus.points
            column, row = np.nonzero(points.found.T)
            for number in zip(row.tolist(), column.tolist(), strict=True):
                point = MatchPoint.of(points.at(number))
                if point is not None:
                    rows.append(
                        (
                            rated.rating,
                            *row_of(point, MOTOR_POINT),
                            point.stable,
                            *self._of_motor(point.engine_speed, point.input_torque),
                        )
                    )
        return tuple(rows)
