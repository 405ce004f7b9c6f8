"""What the bench shows of a pair, whether an engine drives it or a motor: curves and named points.

A motor has two torques, each with matches of its own; an engine has one. `shown` brings both to the
same form, so that whatever draws need not ask which it is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.judgement.match.branches import coming_up, coming_up_curve
from converter_match.judgement.match.result import EfficiencyRange, MatchPoint, MatchResult
from converter_match.judgement.match.words import POINTS, TORQUE_RATIO_ONE
from converter_match.judgement.motor.result import MotorMatch, RatedMatch
from converter_match.judgement.motor.words import POINTS as OF_MOTORS
from converter_match.physics.match.match_set import OperatingPoints
from converter_match.present.drawing.key_points import NET_WORDS, rating_words

BenchMatch = MatchResult | MotorMatch
"""What a combination at the bench comes to."""
_ROWS = 90


@dataclass(frozen=True, eq=False)
class Supplied:
    """A torque of the prime mover over its speed.

    Parameters
    ----------
    stroke : str
    label : str
    speed, torque : ndarray, shape (n,)
        [rad/s], [N.m].
    """

    stroke: str
    label: str
    speed: FloatArray
    torque: FloatArray


@dataclass(frozen=True, eq=False)
class Locus:
    """What a machine passes from standstill at one torque of the prime mover.

    Parameters
    ----------
    name : str
        Of that torque; empty where there is but one.
    dashed : bool
        Whether that torque is held for a time only.
    points : OperatingPoints
    """

    name: str
    dashed: bool
    points: OperatingPoints


@dataclass(frozen=True)
class ShownPair:
    """What is drawn of a pair, SI units.

    Parameters
    ----------
    mover : str
        Name of engine or motor.
    mover_id : str
    converter : Converter
    supplied : tuple of Supplied
        The highest first.
    loci : tuple of Locus
        The one that the working range is of first.
    points : tuple of (str, str, MatchPoint, str)
        Code, name, point and what is said after its value.
    ranges : tuple of EfficiencyRange
        At 80 % efficiency.
    guides : tuple of (float, str)
        Speeds of the prime mover that have a name.
    no_stall : str
        Why there is no stall point; empty where there is one.
    also : str
        What else has to be said with the picture; may be empty.
    """

    mover: str
    mover_id: str
    converter: Converter
    supplied: tuple[Supplied, ...]
    loci: tuple[Locus, ...]
    points: tuple[tuple[str, str, MatchPoint, str], ...]
    ranges: tuple[EfficiencyRange, ...]
    guides: tuple[tuple[float, str], ...]
    no_stall: str
    also: str


def mover_name(result: BenchMatch) -> str:
    """Return the name of the engine or the motor."""
    return result.setup.motor.name if isinstance(result, MotorMatch) else result.engine.name


def shown(result: BenchMatch) -> ShownPair:
    """Return what the bench shows of a match."""
    return _of_motor(result) if isinstance(result, MotorMatch) else _of_engine(result)


def _of_engine(result: MatchResult) -> ShownPair:
    supply, engine = result.supply, result.engine
    omega = np.linspace(*supply.domain, _ROWS)
    governed = result.on_governor != "never"
    points = []
    for code in ("stall", "coupling", "governed_limit"):
        point: MatchPoint | None = getattr(result, code)
        # Where stall itself is on the governor, the two are one point: it is said, not hidden.
        if point is None or (code == "governed_limit" and governed):
            continue
        after = result.governor_words if code == "stall" and governed else ""
        points.append((code, result.called(code), point, after))
    held = result.idle is not None
    why = "the curves do not meet" if held else "the engine cannot hold idle in gear"
    gross = supply.factor * np.asarray(engine.full_load(omega))
    return ShownPair(
        mover=engine.name,
        mover_id=engine.id,
        converter=result.converter,
        supplied=(
            Supplied("gross", rating_words(result), omega, gross),
            Supplied("net", NET_WORDS, omega, np.asarray(supply.torque(omega))),
        ),
        loci=(Locus("", False, coming_up_curve(result)),),
        points=tuple(points),
        ranges=tuple(result.working_range(0.8)),
        guides=(
            (engine.low_idle, "low idle"),
            (engine.rated_speed, "rated"),
            (engine.high_idle, "high idle"),
        ),
        no_stall="" if result.stall else why,
        also=result.governor_words if result.stall is not None and governed else "",
    )


def _of_motor(result: MotorMatch) -> ShownPair:
    setup, peak = result.setup, result.peak
    motor = setup.motor
    nominal = None if motor.voltage is None else motor.voltage.nominal
    share = 1.0 if setup.voltage is None or nominal is None else setup.voltage / nominal
    rated = (peak, result.continuous)
    points = [
        (code, f"{_called(result, code)}, {each.rating}", point, "")
        for each, codes in zip(
            rated, (("stall", "coupling", "speed_limit"), ("stall", "coupling")), strict=True
        )
        for code, point in ((code, getattr(each, code)) for code in codes)
        if point is not None
    ]
    time = f"peak torque held for {motor.peak_time:.0f} s"
    return ShownPair(
        mover=motor.name,
        mover_id=motor.id,
        converter=result.converter,
        supplied=tuple(
            Supplied(stroke, f"{each.rating} torque, net", *_net(each))
            for stroke, each in zip(("gross", "net"), rated, strict=True)
        ),
        loci=tuple(
            Locus(
                each.rating,
                each is peak,
                coming_up(each.supply, result.converter, each.locus),
            )
            for each in rated
        ),
        points=tuple(points),
        ranges=tuple(item for item in peak.ranges if item.level == 0.8),
        guides=(
            (min(share * motor.base_speed, setup.top_speed), "corner"),
            (setup.top_speed, "speed limit"),
        ),
        no_stall="" if peak.stall else "the curves do not meet",
        also=f"{time} from {'cold' if motor.peak_from == 'cold' else 'continuous warmth'}",
    )


def _net(rated: RatedMatch) -> tuple[FloatArray, FloatArray]:
    supply = rated.supply
    low, high = supply.domain
    corners = supply.source.x
    inside = corners[(corners > low) & (corners < high)]
    omega = np.unique(np.concatenate([np.linspace(low, high, _ROWS), inside]))
    return omega, np.asarray(supply.torque(omega))


def _called(result: MotorMatch, code: str) -> str:
    if code == "coupling" and result.converter.stator == "fixed":
        return TORQUE_RATIO_ONE
    return {**POINTS, **OF_MOTORS}[code]
