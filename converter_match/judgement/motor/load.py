"""A load that is no vehicle behind a motor and its converter: where it runs, and for how long."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from converter_match.answer.block import Block, Heading, NoValue
from converter_match.answer.noted import Answer
from converter_match.components.load import ShaftLoad
from converter_match.judgement.load import words as load_words
from converter_match.judgement.load.load import CarriedLine, refuse_backwards
from converter_match.judgement.motor import words
from converter_match.judgement.motor.result import MotorMatch
from converter_match.judgement.motor.setup import RATINGS, Rating
from converter_match.notes import Note
from converter_match.physics.load.equilibria import load_equilibria
from converter_match.physics.load.shaft import Unit

_SPEED, _TORQUE = "angular_speed", "torque"
_STARTS = (
    Heading("torque", "torque"),
    Heading("layer", "layer"),
    Heading("torque_at_rest", "load at rest", _TORQUE),
    Heading("breakaway_torque", "breakaway", _TORQUE),
    Heading("stall_torque", "turbine at stall", _TORQUE),
    Heading("starts", "starts"),
)
_POINTS = (
    Heading("torque", "torque"),
    Heading("layer", "layer"),
    Heading("turbine_speed", "turbine", _SPEED),
    Heading("load_speed", "load shaft", _SPEED),
    Heading("turbine_torque", "turbine torque", _TORQUE),
    Heading("output_power", "output", "power"),
    Heading("heat", "heat", "power"),
    Heading("stable", "stable"),
    Heading("reached", "from rest"),
    Heading("motor_speed", "motor", _SPEED),
    Heading("share", "of continuous", "share"),
    Heading("electric_power", "electric", "power"),
    Heading("held", "held from cold", "time", ".0f"),
)


@dataclass(frozen=True, eq=False)
class MotorLoad(Answer):
    """A load on the turbine shaft of a motor's pair, SI units.

    Parameters
    ----------
    match : MotorMatch
    load : ShaftLoad
    carried : mapping of str to tuple of CarriedLine
        With the peak and with the continuous torque; of a winch a line for each layer.
    notes : tuple of Note
    """

    match: MotorMatch
    load: ShaftLoad
    carried: Mapping[Rating, tuple[CarriedLine, ...]]
    notes: tuple[Note, ...]

    def blocks(self) -> tuple[Block, ...]:
        """Return what the load needs, and where it runs with both torques."""
        of = self.load
        own = tuple((Heading(key, ""), getattr(of, key)) for key in ("id", "name", "source"))
        facts = (
            *own,
            (Heading("fingerprint", ""), of.fingerprint()),
            (Heading("kind", ""), of.kind),
            (Heading("ratio", "turbine turns for one of the load's shaft"), of.ratio),
            (Heading("efficiency", "efficiency, turbine to load"), of.efficiency),
        )
        starts = tuple(
            (rating, each.line.layer, float(each.line(0.0)), each.line.breakaway,
             each.found.stall_torque if np.isfinite(each.found.stall_torque) else None,
             each.found.starts)
            for rating in RATINGS
            for each in self.carried[rating]
        )  # fmt: skip
        points = tuple(
            (rating, *cells)
            for rating in RATINGS
            for each in self.carried[rating]
            for cells in self._points(each)
        )
        title = load_words.TITLE.format(name=of.name, kind=load_words.KINDS[of.kind])
        columns = (self._heads(_STARTS), self._heads(_POINTS))
        return (
            Block("load", title=title, facts=facts, columns=columns[0], rows=starts,
                  rows_key="lines", detail=self),
            Block("load.equilibria", title=load_words.EQUILIBRIA, columns=columns[1],
                  rows=points, rows_key=""),
        )  # fmt: skip

    def _heads(self, heads: tuple[Heading, ...]) -> tuple[Heading, ...]:
        """Return headings; layers stand in text of a winch only."""
        if self.load.kind == "winch":
            return heads
        return tuple(head.said("") if head.key == "layer" else head for head in heads)

    def _points(self, each: CarriedLine) -> list[tuple[object, ...]]:
        setup, found = self.match.setup, each.found
        unit = found.states.units[0]
        rows: list[tuple[object, ...]] = []
        for row in range(found.speed.size):
            speed, torque = float(found.speed[row]), float(found.states.torque[row])
            motor = np.asarray(unit.engine_speed[row])
            shaft = setup.shaft_torque(np.asarray(unit.input_torque[row]), motor)
            share = setup.share(shaft, motor)
            held = float(setup.held(share))
            electric = float(setup.electric(shaft, motor))
            rows.append(
                (
                    each.line.layer,
                    speed,
                    speed / self.load.ratio,
                    torque,
                    torque * speed,
                    float(unit.input_power[row]) - torque * speed,
                    bool(found.stable[row]),
                    row == found.reached,
                    float(motor),
                    float(share),
                    NoValue(words.NOT_KNOWN) if np.isnan(electric) else electric,
                    NoValue(words.FOR_GOOD) if np.isinf(held) else held,
                )
            )
        return rows


def motor_over_load(match: MotorMatch, load: ShaftLoad) -> MotorLoad:
    """Put a load on the turbine shaft of a motor and its converter.

    Parameters
    ----------
    match : MotorMatch
    load : ShaftLoad

    Raises
    ------
    InputError
        If a hanging load pulls the turbine backwards, for which the converter has no data.

    Notes
    -----
    The equilibria are those of `physics.load.equilibria`, once with each torque of the motor. It
    starts with the peak; what it settles at for good is that of the continuous torque, or that of
    the peak where the motor gives it within its continuous torque.
    """
    carried: dict[Rating, tuple[CarriedLine, ...]] = {}
    for rating in RATINGS:
        units = (Unit(match.setup.supply(rating), match.converter),)
        carried[rating] = tuple(
            CarriedLine(line, load_equilibria(units, line)) for line in load.lines()
        )
        if rating == "peak":
            for each in carried[rating]:
                refuse_backwards(each, units, load)
    notes = [*load.notes, words.note("load-with-a-motor")]
    for peak, steady in zip(carried["peak"], carried["continuous"], strict=True):
        notes += _line_notes(peak, steady)
    if load.kind == "winch":
        notes.append(load_words.note("rope-under-tension"))
    if load.hoists:
        notes += [words.note("hanging-with-a-motor"), load_words.note("load-hangs")]
    return MotorLoad(match, load, carried, tuple(dict.fromkeys(notes)))


def _line_notes(peak: CarriedLine, steady: CarriedLine) -> list[Note]:
    called = peak.called[0].upper() + peak.called[1:]
    found = peak.found
    if not found.starts:
        given = found.stall_torque if np.isfinite(found.stall_torque) else 0.0
        needed = peak.line.breakaway
        return [words.note("motor-does-not-start-load", load=called, needed=needed, given=given)]
    if found.runs_off:
        return [words.note("load-runs-off-motor", load=called)]
    if found.reached is None:
        return [load_words.note("load-unsteady", load=called)]
    if steady.found.reached is None and not steady.found.runs_off:
        # What is carried for good from rest may still be carried for good once it runs.
        running = steady.found.stable & (steady.found.speed > 0.0)
        code = "load-started-on-peak" if running.any() else "load-on-peak-only"
        return [words.note(code, load=called)]
    return []
