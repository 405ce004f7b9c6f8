"""Exercises for a lesson: questions whose answers are computed from an engine and a converter.

Change the engine and the answers change: nothing here is a stored number. Each exercise comes with
the way to its answer by hand, in the same figures.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from converter_match.components.arrangement import ImpellerClutch, TorqueDivider
from converter_match.components.blading import BladingGeometry
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.components.planetary import Planetary
from converter_match.errors import InputError
from converter_match.judgement.lesson.predictions import missing_stator
from converter_match.judgement.match.result import MatchPoint, MatchResult
from converter_match.judgement.match.solve import solve
from converter_match.physics.arrangement.impeller_clutch import through_clutch
from converter_match.physics.arrangement.torque_divider import combined_converter
from converter_match.physics.converter.blading import characteristic_from_blading
from converter_match.physics.converter.stator import fixed_from_one_way, without_stator
from converter_match.physics.match.solver import match
from converter_match.units import System, show

TOPICS = (
    ("fluid-coupling", "The fluid coupling"),
    ("stator", "What the stator does"),
    ("stall", "Stall"),
    ("coupling-point", "The coupling point"),
    ("lock-up", "Lock-up"),
    ("fixed-stator", "Fixed and one-way stator"),
    ("impeller-clutch", "Impeller clutch"),
    ("torque-divider", "Torque divider"),
)
# Numbers of the lesson, not of any machine: easy to work with on paper.
_SLIP_AT = 0.7
_WEAKER = 0.9
_SPEED_RATIO_HELD = 0.95
_CLUTCH_SHARE = 0.5
_SLOWER = 0.9
_EVEN = 50 * math.pi / 30  # 50 rpm
_RING_TO_SUN = 2.5
_CLOSE = 0.03
# Of a share: how near counts, how near one can read, and what is the same.
_ABOUT, _READ, _SAME = 0.1, 0.003, 0.001
# A full-load curve falls at constant power with slope -1; only a governor is far steeper.
_GOVERNED = -5.0


@dataclass(frozen=True)
class Exercise:
    """One question to predict and then reveal.

    Parameters
    ----------
    key, topic : str
        `topic` is the first entry of one of `TOPICS`.
    question, working : str
        In the unit system asked for; `working` is the way by hand.
    answer : float
        In SI units.
    dimension : str or None
        None for a pure number.
    shown, unit : float, str
        The answer as a person reads it.
    form : str
        Number format of `shown`.
    within : float
        How near a prediction counts as right: a share of the answer, or of `scale`.
    scale : float
        What a prediction is measured against where the answer is zero, in the unit shown.
    """

    key: str
    topic: str
    question: str
    working: str
    answer: float
    dimension: str | None
    shown: float
    unit: str
    form: str
    within: float
    scale: float

    @property
    def answer_text(self) -> str:
        """The answer with its unit."""
        return f"{self.shown:{self.form}} {self.unit}".rstrip()

    def is_close(self, prediction: float) -> bool:
        """Return whether a prediction, in the unit shown, counts as right."""
        return math.isfinite(prediction) and abs(prediction - self.shown) <= self.within * (
            abs(self.shown) or self.scale
        )

    def verdict(self, prediction: float | None) -> str:
        """Return the answer, and how a prediction in the unit shown compares with it."""
        said = f"Answer: {self.answer_text}."
        if prediction is None or not math.isfinite(prediction):
            return f"No prediction was made. {said}"
        mine = f"You predicted {prediction:{self.form}} {self.unit}".rstrip()
        if self.is_close(prediction):
            return f"{mine}: right. {said}"
        where = "too high" if prediction > self.shown else "too low"
        return f"{mine}: {where}. {said}"


def exercises(
    engine: Engine,
    converter: Converter,
    *,
    other_engine: Engine | None = None,
    blading: BladingGeometry | None = None,
    system: System = "si",
) -> tuple[Exercise, ...]:
    """Return the exercises for a pair, in the order of `TOPICS`.

    Parameters
    ----------
    engine : Engine
    converter : Converter
        With a one-way stator and a coupling point.
    other_engine : Engine, optional
        For the exercise on the same converter behind another engine, left out without one.
    blading : BladingGeometry, optional
        Tells what a held stator does past the coupling point; the exercise is left out without.
    system : {"si", "us"}
        Units of questions and answers.

    Raises
    ------
    InputError
        If the converter has no coupling point, or the engine no match with it at stall.
    """
    base = _usable(engine, converter)
    return tuple(_all(base, other_engine, blading, _Teller(system)))


@dataclass(frozen=True)
class _Base:
    """The pair, and the two matches that every exercise can rely on."""

    result: MatchResult
    stall: MatchPoint
    coupling: MatchPoint


def _usable(engine: Engine, converter: Converter) -> _Base:
    if converter.stator != "one-way" or converter.coupling is None:
        raise InputError(
            "the lesson needs a converter whose stator freewheels from a coupling point",
            source=converter.id,
            field="stator",
            found=converter.stator,
            expected="one-way, with a coupling point",
            hint="the page alone, from stall to the governor, does without",
        )
    result = solve(engine, converter)
    if result.stall is None or result.coupling is None:
        raise InputError(
            "the lesson needs a pair with a match at stall and at the coupling point",
            source=f"{engine.id} with {converter.id}",
        )
    return _Base(result, result.stall, result.coupling)


@dataclass(frozen=True)
class _Teller:
    """Writes quantities and builds exercises in one unit system."""

    system: System

    def say(self, value: float, dimension: str, form: str = ".0f") -> str:
        number, unit = show(value, dimension, self.system)
        return f"{number:{form}} {unit}"

    def ask(
        self,
        key: str,
        topic: str,
        question: str,
        answer: float,
        working: str,
        *,
        dimension: str | None = None,
        form: str = ".0f",
        scale: float = 1.0,
        within: float = _CLOSE,
    ) -> Exercise:
        """Build an exercise; `scale` is in SI units."""
        if not math.isfinite(answer):
            raise InputError("this pair has no such operating point to ask about", field=key)
        shown, unit = show(answer, dimension, self.system) if dimension else (answer, "")
        against = show(scale, dimension, self.system)[0] if dimension else scale
        return Exercise(
            key=key,
            topic=topic,
            question=question,
            working=working,
            answer=float(answer),
            dimension=dimension,
            shown=float(shown),
            unit=unit,
            form=form,
            within=within,
            scale=float(against),
        )


def _all(
    base: _Base, other: Engine | None, blading: BladingGeometry | None, tell: _Teller
) -> Iterator[Exercise]:
    makers: tuple[Callable[[_Base, _Teller], Exercise], ...] = (
        _heat_of_slip,
        _stator_torque,
        _power_at_stall,
        _stall_speed,
        _weaker_engine,
    )
    for make in makers:
        yield make(base, tell)
    if other is not None:
        yield _another_engine(base, other, tell)
    yield _slip_at_coupling(base, tell)
    yield _heat_spared(base, tell)
    if blading is not None:
        yield _stator_held(base, blading, tell)
    yield _clutch_heat(base, tell)
    yield _divider_at_stall(base, tell)


def _heat_of_slip(base: _Base, tell: _Teller) -> Exercise:
    r = base.result
    factor = missing_stator(r).factor
    bare = without_stator(r.converter, stall_capacity_factor=factor)
    point = match(r.supply, bare, _SLIP_AT).from_idle()
    power, heat = float(point.input_power), float(point.heat)
    return tell.ask(
        "heat-of-slip",
        "fluid-coupling",
        f"Take the stator out and a fluid coupling is left. The engine gives the impeller "
        f"{tell.say(power, 'power', '.1f')}, the turbine turns at {_percent(_SLIP_AT)} of the "
        "impeller's speed. How much power becomes heat?",
        heat,
        "Without a stator nothing but impeller and turbine can take torque, so both torques are "
        f"equal and the efficiency is the speed ratio: (1 - {_SLIP_AT}) x "
        f"{tell.say(power, 'power', '.1f')} = {tell.say(heat, 'power', '.1f')}.",
        dimension="power",
        form=".1f",
    )


def _stator_torque(base: _Base, tell: _Teller) -> Exercise:
    stall = base.stall
    answer = stall.turbine_torque - stall.input_torque
    return tell.ask(
        "stator-torque",
        "stator",
        f"At stall the engine puts {tell.say(stall.input_torque, 'torque')} on the impeller, and "
        f"the torque ratio is {stall.torque_ratio:.2f}. What torque does the stator hand to its "
        "shaft, and through it to the housing?",
        answer,
        "The torques on the oil add up to zero: stator = turbine - impeller = "
        f"({stall.torque_ratio:.2f} - 1) x {tell.say(stall.input_torque, 'torque')} = "
        f"{tell.say(answer, 'torque')}. Where nothing holds the stator, nothing is multiplied.",
        dimension="torque",
    )


def _power_at_stall(base: _Base, tell: _Teller) -> Exercise:
    stall = base.stall
    return tell.ask(
        "power-at-stall",
        "stall",
        f"The brakes hold the turbine. Its torque is {tell.say(stall.turbine_torque, 'torque')}, "
        f"{stall.torque_ratio:.2f} times the engine's, and the engine gives "
        f"{tell.say(stall.input_power, 'power', '.1f')}. What power leaves at the turbine shaft?",
        stall.output_power,
        "Power is torque times speed and the turbine stands still: none. All of "
        f"{tell.say(stall.heat, 'power', '.1f')} becomes heat in the oil, which is why a stall is "
        "held for seconds only.",
        dimension="power",
        form=".1f",
        scale=stall.input_power,
    )


def _stall_speed(base: _Base, tell: _Teller) -> Exercise:
    stall = base.stall
    k = stall.engine_speed / math.sqrt(stall.input_torque)
    return tell.ask(
        "stall-speed",
        "stall",
        f"At stall the converter's K-factor is {tell.say(k, 'k_factor', '.1f')}, and near the "
        f"crossing the engine has about {tell.say(stall.input_torque, 'torque')} left for the "
        "impeller. At what speed do the two settle?",
        stall.engine_speed,
        "K = speed / square root of torque, so speed = K x sqrt(T) = "
        f"{tell.say(k, 'k_factor', '.1f')} x sqrt({tell.say(stall.input_torque, 'torque')}) = "
        f"{tell.say(stall.engine_speed, 'angular_speed')}.",
        dimension="angular_speed",
    )


def _weaker_engine(base: _Base, tell: _Teller) -> Exercise:
    r, stall = base.result, base.stall
    weak = match(r.supply, r.converter, 0.0, torque_factor=_WEAKER).from_idle()
    speed = float(weak.engine_speed)
    _, slope = r.supply.with_slope(stall.engine_speed)
    e = float(slope) * stall.engine_speed / stall.input_torque
    drop = 1.0 - speed / stall.engine_speed
    if e < _GOVERNED:
        why = (
            "Here the engine runs against its governor, whose torque falls steeply with speed: the "
            "governor holds the speed, and the stall test hardly shows the loss."
        )
    else:
        why = (
            f"Here torque changes by {e:+.2f} % for each % of speed, so a % of torque is about "
            f"1 / (2 - ({e:.2f})) = {1 / (2 - e):.2f} % of speed. Accessories take their share all "
            "the same."
        )
    return tell.ask(
        "weaker-engine",
        "stall",
        "The same machine is tested again with an engine that has lost "
        f"{_percent(1 - _WEAKER)} of its torque. By what share does its stall speed fall?",
        drop,
        "The converter absorbs torque with the square of speed. For a flat torque curve speed goes "
        f"with the root: 1 - sqrt({_WEAKER}) = {_percent(1 - math.sqrt(_WEAKER), 1)}. {why} "
        f"Exactly: {_percent(drop, 1)}, from {tell.say(stall.engine_speed, 'angular_speed')} to "
        f"{tell.say(speed, 'angular_speed')}.",
        dimension="weight_share",
        form=".1f",
        within=_told_apart(drop, 1 - math.sqrt(_WEAKER)),
    )


def _told_apart(answer: float, naive: float) -> float:
    """Return how near is right, so that the answer of a rule that does not hold here is not."""
    apart = abs(naive - answer)
    near = max(_ABOUT * abs(answer), _READ)
    return (min(near, 0.5 * apart) if apart > _SAME else near) / max(abs(answer), _SAME)


def _another_engine(base: _Base, other: Engine, tell: _Teller) -> Exercise:
    stall = solve(other, base.result.converter).stall
    if stall is None:
        raise InputError("the other engine has no stall match", source=other.id)
    k = stall.engine_speed / math.sqrt(stall.input_torque)
    return tell.ask(
        "another-engine",
        "stall",
        f"The same converter goes behind another engine: {other.name}. Near the crossing that has "
        f"about {tell.say(stall.input_torque, 'torque')} for the impeller; the K-factor at stall "
        f"is {tell.say(k, 'k_factor', '.1f')} as before. Where does this pair stall?",
        stall.engine_speed,
        f"K at stall belongs to the converter and stays {tell.say(k, 'k_factor', '.1f')}; the "
        "speed goes with the root of the torque: "
        f"{tell.say(base.stall.engine_speed, 'angular_speed')} x "
        f"sqrt({tell.say(stall.input_torque, 'torque')} / "
        f"{tell.say(base.stall.input_torque, 'torque')}) = "
        f"{tell.say(stall.engine_speed, 'angular_speed')}. "
        "Stall speed is a property of the pair.",
        dimension="angular_speed",
    )


def _slip_at_coupling(base: _Base, tell: _Teller) -> Exercise:
    point = base.coupling
    slip = point.engine_speed - point.turbine_speed
    return tell.ask(
        "slip-at-coupling",
        "coupling-point",
        f"The stator freewheels from speed ratio {point.speed_ratio:.3f}, with the engine at "
        f"{tell.say(point.engine_speed, 'angular_speed')}. By how much does the "
        "turbine turn slower than the impeller?",
        slip,
        f"Slip = (1 - {point.speed_ratio:.3f}) x {tell.say(point.engine_speed, 'angular_speed')} = "
        f"{tell.say(slip, 'angular_speed')}. Where the stator freewheels it takes no torque, so "
        f"the "
        f"torque ratio is 1 and the efficiency is the speed ratio, {point.speed_ratio:.3f}; the "
        f"slip heats the oil with {tell.say(point.heat, 'power', '.1f')}.",
        dimension="angular_speed",
        scale=point.engine_speed,
    )


def _heat_spared(base: _Base, tell: _Teller) -> Exercise:
    point = base.coupling
    return tell.ask(
        "heat-spared",
        "lock-up",
        f"At the coupling point, speed ratio {point.speed_ratio:.3f}, the engine gives "
        f"{tell.say(point.input_power, 'power', '.1f')}. How much heat does closing the lock-up "
        "clutch spare the cooler there?",
        point.heat,
        "Locked, impeller and turbine turn as one and nothing slips. The torque ratio was 1, so "
        "what is spared is the slip's share: "
        f"(1 - {point.speed_ratio:.3f}) x {tell.say(point.input_power, 'power', '.1f')} = "
        f"{tell.say(point.heat, 'power', '.1f')}.",
        dimension="power",
        form=".1f",
    )


def _stator_held(base: _Base, blading: BladingGeometry, tell: _Teller) -> Exercise:
    held = characteristic_from_blading(blading, mounting="fixed")
    fixed = fixed_from_one_way(base.result.converter, beyond=held)
    ratio = float(fixed.torque_ratio_at(_SPEED_RATIO_HELD))
    return tell.ask(
        "stator-held",
        "fixed-stator",
        f"The one-way clutch has seized and holds the stator. At speed ratio {_SPEED_RATIO_HELD} "
        f"the torque ratio then falls to {ratio:.3f} (estimated from blade angles), where a "
        "stator free to turn has 1. What is the efficiency?",
        _SPEED_RATIO_HELD * ratio,
        f"Speed ratio x torque ratio: {_SPEED_RATIO_HELD} x {ratio:.3f} = "
        f"{_SPEED_RATIO_HELD * ratio:.3f}, against {_SPEED_RATIO_HELD} with the stator free. It "
        "reads normal at stall and runs hot where the work is past the coupling point.",
        form=".3f",
        within=0.01,
    )


def _clutch_heat(base: _Base, tell: _Teller) -> Exercise:
    # Not at the stall speed, which another question asks for.
    kept = round(_SLOWER * base.stall.engine_speed / _EVEN) * _EVEN
    whole = float(base.result.converter.capacity_at(0.0)) * kept**2
    clutch = ImpellerClutch(torque_capacity=whole, engine_speed=kept)
    point = through_clutch(base.result.supply, base.result.converter, clutch, _CLUTCH_SHARE, 0.0)
    heat, slow = float(point.clutch_heat), float(point.impeller_speed)
    torque = _CLUTCH_SHARE * whole
    speed = tell.say(kept, "angular_speed")
    return tell.ask(
        "clutch-heat",
        "impeller-clutch",
        f"At the pile, turbine held, the governor keeps the engine at {speed}, where the impeller "
        f"takes {tell.say(whole, 'torque')}. The operator slips the impeller clutch until it "
        f"carries {_percent(_CLUTCH_SHARE)} of that, {tell.say(torque, 'torque')}. How much heat "
        "does the clutch make?",
        heat,
        "The impeller now absorbs half the torque, so it turns at "
        f"sqrt({_CLUTCH_SHARE}) x {speed} = {tell.say(slow, 'angular_speed')}. Clutch heat = "
        f"torque x slip = {tell.say(torque, 'torque')} x "
        f"({speed} - {tell.say(slow, 'angular_speed')}) = "
        f"{tell.say(heat, 'power', '.1f')} (speeds in radians a second).",
        dimension="power",
        form=".1f",
    )


def _divider_at_stall(base: _Base, tell: _Teller) -> Exercise:
    converter = base.result.converter
    divider = TorqueDivider(planetary=Planetary(ratio=_RING_TO_SUN))
    whole = combined_converter(converter, divider, assume_negative=True)
    answer = float(whole.torque_ratio_at(0.0))
    backwards = -1.0 / _RING_TO_SUN
    # Below its data the combined characteristic holds the converter's last values.
    inner = float(converter.torque_ratio_at(max(backwards, converter.domain[0])))
    held = (
        ""
        if converter.domain[0] <= backwards
        else " The sheet does not go there; its first torque ratio is held, an assumption."
    )
    return tell.ask(
        "divider-at-stall",
        "torque-divider",
        f"A torque divider: engine on sun and impeller, turbine on the ring (ring / sun = "
        f"{_RING_TO_SUN}), output on the carrier. The output is held, so the turbine is driven "
        f"backwards at speed ratio {backwards:.2f}, where the converter's torque ratio is "
        f"{inner:.2f}. How many times the engine's torque comes out?",
        answer,
        f"With k = {_RING_TO_SUN} and m = {inner:.2f}: output = m (1 + 1/k), engine = 1 + m/k, in "
        f"units of the impeller's torque. {inner * (1 + 1 / _RING_TO_SUN):.2f} / "
        f"{1 + inner / _RING_TO_SUN:.2f} = {answer:.2f}. Less than the converter alone multiplies, "
        "because part of the torque goes past it through the gears, without slip."
        f"{held}",
        form=".2f",
    )


def _percent(share: float, digits: int = 0) -> str:
    return f"{100 * share:.{digits}f} %"
