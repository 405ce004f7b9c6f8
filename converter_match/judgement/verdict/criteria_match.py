"""Criteria that engine and converter settle between them."""

from __future__ import annotations

import numpy as np

from converter_match.curves import FloatArray
from converter_match.judgement.verdict.measure import Measure, Verdict, missing
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.study.criteria import Choice
from converter_match.study.study import Study


def single_stable_match(study: Study, choice: Choice, own: Outcome) -> Measure:
    """Count the engine speeds at which engine and converter agree, at every speed ratio."""
    locus = own.match.locus
    ahead = locus.points.speed_ratio[0] >= 0.0
    ratios, counts = locus.points.speed_ratio[0][ahead], locus.count[ahead]
    at_stall = int(counts[0])
    if own.match.stall is None:
        return Measure(
            value=float(at_stall),
            dimension="count",
            verdict=Verdict.FAIL,
            words="the engine cannot hold the converter at idle in gear: there is no stall match",
        )
    if at_stall > 1:
        return Measure(
            value=float(at_stall),
            dimension="count",
            verdict=Verdict.FAIL,
            words="at stall engine and converter agree at {value} engine speeds",
        )
    if counts.max() > 1:
        where = ratios[counts > 1]
        return Measure(
            value=float(counts.max()),
            dimension="count",
            verdict=Verdict.MARGINAL,
            words="one match at stall, but {value} between speed ratio "
            f"{where[0]:.2f} and {where[-1]:.2f}",
        )
    return Measure(
        value=1.0, dimension="count", verdict=Verdict.PASS, words="{value} match at every point"
    )


def stall_speed_window(study: Study, choice: Choice, own: Outcome) -> Measure:
    """Compare the stall speed with peak-torque and rated speed, and the study's own window."""
    if own.match.stall is None:
        return _no_stall("angular_speed")
    limits = study.limits
    least = choice["least"] * own.peak_torque_speed
    most = choice["most"] * own.combination.engine.rated_speed
    return Measure(
        value=own.match.stall.engine_speed,
        dimension="angular_speed",
        least=max(least, limits.stall_speed_least or least),
        most=min(most, limits.stall_speed_most or most),
        words="stall at {value}",
    )


def rated_power_usable(study: Study, choice: Choice, own: Outcome) -> Measure:
    """Compare the power taken up where the converter is efficient with the greatest there is."""
    level = choice["efficiency"]
    usable = own.usable_power(level)
    return Measure(
        value=0.0 if usable is None else usable / own.greatest_power,
        dimension="ratio",
        least=choice["least"],
        words=f"{{value}} of the net power is taken up at or above {100 * level:.0f} % efficiency",
    )


def converter_input_torque(study: Study, choice: Choice, own: Outcome) -> Measure:
    """Compare the highest impeller torque with the converter's limit."""
    limit = _lower(own.combination.converter.limits.input_torque, study.limits.input_torque)
    return _within(choice, own, own.impeller[1], limit, "torque", "input torque")


def converter_input_power(study: Study, choice: Choice, own: Outcome) -> Measure:
    """Compare the highest impeller power with the converter's limit."""
    limit = _lower(own.combination.converter.limits.input_power, study.limits.input_power)
    speed, torque = own.impeller
    return _within(choice, own, speed * torque, limit, "power", "input power")


def converter_input_speed(study: Study, choice: Choice, own: Outcome) -> Measure:
    """Compare high idle, or what gears ahead of the impeller make of it, with the speed limit."""
    limit = _lower(own.combination.converter.limits.input_speed, study.limits.input_speed)
    high_idle = own.combination.engine.high_idle
    divided = own.divided
    if divided is not None and divided.divider.connection.split != "input-split":
        return _within(choice, own, own.impeller[0], limit, "angular_speed", "input speed")
    if limit is None:
        return missing(f"input speed limit of the converter {own.combination.converter.id!r}")
    return Measure(
        value=high_idle,
        dimension="angular_speed",
        most=choice["most"] * limit,
        words="high idle {value}",
    )


def turbine_stall_torque(study: Study, choice: Choice, own: Outcome) -> Measure:
    """Compare the highest turbine torque with the transmission's input rating."""
    driveline = own.combination.driveline
    rated = None if driveline is None else driveline.limits.turbine_torque
    limit = _lower(rated, study.limits.turbine_torque)
    if limit is None:
        name = "the driveline" if driveline is None else f"the driveline {driveline.id!r}"
        return missing(f"turbine torque limit of {name}")
    points = own.match.locus.points
    torque = points.turbine_torque[points.found & points.stable]
    return _within(choice, own, torque, limit, "torque", "turbine torque")


def governed_overspeed(study: Study, choice: Choice, own: Outcome) -> Measure:
    """Compare high idle with what the transmission, and whatever else is driven, stands."""
    driveline = own.combination.driveline
    rated = None if driveline is None else driveline.limits.turbine_speed
    limit = _lower(rated, study.limits.turbine_speed, study.limits.engine_speed)
    if limit is None:
        return missing("speed limit of transmission and pumps (limits.engine_speed)")
    return Measure(
        value=own.combination.engine.high_idle,
        dimension="angular_speed",
        most=choice["most"] * limit,
        words="high idle {value}",
    )


def engine_braking_kept(study: Study, choice: Choice, own: Outcome, present: Outcome) -> Measure:
    """Compare the power that the driven engines take up at their rated speeds."""
    powers = []
    lacking = []
    for item in (present, own):
        power = braking_power(item)
        if power is None:
            lacking.append(f"motoring torque of the engine {item.combination.engine.id!r}")
        else:
            powers.append(power)
    if lacking:
        return missing(*dict.fromkeys(lacking))
    return Measure(
        value=powers[1] / powers[0],
        dimension="ratio",
        least=choice["least"],
        words="{value} of the present braking power at rated speed",
    )


def braking_power(own: Outcome) -> float | None:
    """Return the power an engine takes up when driven at rated speed, exhaust brake on [W]."""
    engine = own.combination.engine
    table = engine.exhaust_brake or engine.motoring
    if table is None:
        return None
    speed = float(np.clip(engine.rated_speed, *table.curve.domain))
    return float(table.curve(speed)) * speed


def _lower(*limits: float | None) -> float | None:
    return min((limit for limit in limits if limit is not None), default=None)


def _no_stall(dimension: str) -> Measure:
    return Measure(
        value=0.0,
        dimension=dimension,
        verdict=Verdict.FAIL,
        words="there is no stall match: the engine cannot hold the converter at idle",
    )


def _within(
    choice: Choice,
    own: Outcome,
    values: FloatArray,
    limit: float | None,
    dimension: str,
    name: str,
) -> Measure:
    if limit is None:
        return missing(f"{name} limit of the converter {own.combination.converter.id!r}")
    if not values.size:
        return _no_stall(dimension)
    return Measure(
        value=float(values.max()),
        dimension=dimension,
        most=choice["most"] * limit,
        words=f"highest {name} {{value}}",
    )
