"""Criteria that engine and converter settle between them, on draws."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from converter_match.curves import FloatArray
from converter_match.judgement.verdict.measure import Measures, missing
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.judgement.verdict.view import Criterion, View
from converter_match.judgement.verdict.words import FOUND
from converter_match.judgement.verdict.words import missing as lacking
from converter_match.notes import Note
from converter_match.study.criteria import Choice
from converter_match.study.study import Study


def single_stable_match(study: Study, choice: Choice, own: View, present: View | None) -> Measures:
    """Count the engine speeds at which engine and converter match, at every speed ratio.

    Draws are counted at stall; beyond it the data as they stand say whether it is marginal.
    """
    counts, held = own.stall_matches, np.isfinite(own.stall_speed)
    locus = own.outcome.match.locus
    ahead = locus.points.speed_ratio[0] >= 0.0
    ratios, beyond = locus.points.speed_ratio[0][ahead], locus.count[ahead]
    several = np.full(own.size, bool(beyond.max() > 1))
    alone = held & (counts == 1)
    value, said = counts, FOUND.note("one-match")
    if not held[0]:
        said = FOUND.note("no-match-at-stall")
    elif counts[0] > 1:
        said = FOUND.note("several-matches-at-stall", count=float(counts[0]))
    elif several[0]:
        value = np.where(alone, float(beyond.max()), counts)
        where = ratios[beyond > 1]
        said = FOUND.note(
            "several-matches-ahead",
            count=float(beyond.max()),
            low=float(where[0]),
            high=float(where[-1]),
        )
    return Measures(
        value=value,
        dimension="count",
        said=said,
        passes=alone & ~several,
        marginal=alone & several,
        fails=~alone,
    )


def stall_speed_window(study: Study, choice: Choice, own: View, present: View | None) -> Measures:
    """Compare the stall speed with peak-torque and rated speed, and the study's own window."""
    engine, limits = own.outcome.combination.engine, study.limits
    least = choice["least"] * engine.peak_torque[0]
    most = choice["most"] * engine.rated_speed
    value = own.stall_speed
    return _matched(
        value,
        "angular_speed",
        FOUND.note("stall-speed", speed=float(value[0])),
        least=max(least, limits.stall_speed_least or least),
        most=min(most, limits.stall_speed_most or most),
    )


def rated_power_usable(study: Study, choice: Choice, own: View, present: View | None) -> Measures:
    """Compare the power absorbed in the working range with the greatest there is."""
    level = choice["efficiency"]
    share = np.nan_to_num(own.usable_share(level))
    return Measures(
        value=share,
        dimension="ratio",
        least=choice["least"],
        said=FOUND.note("power-in-working-range", share=float(share[0]), level=level),
    )


def converter_input_torque(
    study: Study, choice: Choice, own: View, present: View | None
) -> Measures:
    """Compare the highest impeller torque with the converter's limit."""
    converter = own.outcome.combination.converter
    limit = _lower(converter.limits.input_torque, study.limits.input_torque)
    if limit is None:
        return missing(lacking("converter-limit", what="input torque", id=converter.id))
    value = own.impeller_torque
    said = FOUND.note("highest-input-torque", torque=float(value[0]))
    return _matched(value, "torque", said, most=choice["most"] * limit)


def converter_input_power(
    study: Study, choice: Choice, own: View, present: View | None
) -> Measures:
    """Compare the highest impeller power with the converter's limit."""
    converter = own.outcome.combination.converter
    limit = _lower(converter.limits.input_power, study.limits.input_power)
    if limit is None:
        return missing(lacking("converter-limit", what="input power", id=converter.id))
    value = own.impeller_power
    said = FOUND.note("highest-input-power", power=float(value[0]))
    return _matched(value, "power", said, most=choice["most"] * limit)


def converter_input_speed(
    study: Study, choice: Choice, own: View, present: View | None
) -> Measures:
    """Compare high idle, or what gears ahead of the impeller make of it, with the speed limit."""
    converter = own.outcome.combination.converter
    limit = _lower(converter.limits.input_speed, study.limits.input_speed)
    if limit is None:
        return missing(lacking("converter-limit", what="input speed", id=converter.id))
    most = choice["most"] * limit
    divided = own.outcome.divided
    if divided is not None and divided.divider.connection.split != "input-split":
        value = own.impeller_speed
        said = FOUND.note("highest-input-speed", speed=float(value[0]))
        return _matched(value, "angular_speed", said, most=most)
    return _high_idle(own, most)


def turbine_stall_torque(study: Study, choice: Choice, own: View, present: View | None) -> Measures:
    """Compare the highest turbine torque with the transmission's input rating."""
    driveline = own.outcome.combination.driveline
    rated = None if driveline is None else driveline.limits.turbine_torque
    limit = _lower(rated, study.limits.turbine_torque)
    if limit is None:
        if driveline is None:
            return missing(lacking("no-driveline-limit"))
        return missing(lacking("driveline-limit", id=driveline.id))
    value = own.turbine_torque
    said = FOUND.note("highest-turbine-torque", torque=float(value[0]))
    return _matched(value, "torque", said, most=choice["most"] * limit)


def governed_overspeed(study: Study, choice: Choice, own: View, present: View | None) -> Measures:
    """Compare high idle with the speed limits of the transmission and of what else is driven."""
    driveline = own.outcome.combination.driveline
    rated = None if driveline is None else driveline.limits.turbine_speed
    limit = _lower(rated, study.limits.turbine_speed, study.limits.engine_speed)
    if limit is None:
        return missing(lacking("driven-speed-limit"))
    return _high_idle(own, choice["most"] * limit)


def engine_braking_kept(study: Study, choice: Choice, own: View, present: View | None) -> Measures:
    """Compare the engine braking power at rated speed, which no tolerance moves."""
    assert present is not None
    both = present.outcome, own.outcome
    powers = [braking_power(item) for item in both]
    absent = [
        lacking("motoring", id=item.combination.engine.id)
        for item, power in zip(both, powers, strict=True)
        if power is None
    ]
    if powers[0] is None or powers[1] is None:
        return missing(*dict.fromkeys(absent))
    share = powers[1] / powers[0]
    return Measures(
        value=np.full(own.size, share),
        dimension="ratio",
        least=choice["least"],
        said=FOUND.note("engine-braking-share", share=share),
    )


def braking_power(own: Outcome) -> float | None:
    """Return the engine braking power at rated speed, exhaust brake on [W]; None without data."""
    engine = own.combination.engine
    table = engine.exhaust_brake or engine.motoring
    if table is None:
        return None
    speed = float(np.clip(engine.rated_speed, *table.curve.domain))
    return float(table.curve(speed)) * speed


CRITERIA: Mapping[str, Criterion] = MappingProxyType(
    {
        "single-stable-match": single_stable_match,
        "stall-speed-window": stall_speed_window,
        "rated-power-usable": rated_power_usable,
        "converter-input-torque": converter_input_torque,
        "converter-input-power": converter_input_power,
        "converter-input-speed": converter_input_speed,
        "turbine-stall-torque": turbine_stall_torque,
        "governed-overspeed": governed_overspeed,
        "engine-braking-kept": engine_braking_kept,
    }
)


def _lower(*limits: float | None) -> float | None:
    return min((limit for limit in limits if limit is not None), default=None)


def _high_idle(own: View, most: float) -> Measures:
    """Compare high idle, which no tolerance moves, with a limit."""
    speed = own.outcome.combination.engine.high_idle
    return Measures(
        value=np.full(own.size, speed),
        dimension="angular_speed",
        most=most,
        said=FOUND.note("high-idle", speed=speed),
    )


def _matched(
    value: FloatArray,
    dimension: str,
    said: Note,
    *,
    least: float | None = None,
    most: float | None = None,
) -> Measures:
    """Return a measure that draws without a stall match fail, their value being nothing."""
    none = np.isnan(value)
    return Measures(
        value=np.where(none, 0.0, value),
        dimension=dimension,
        least=least,
        most=most,
        said=FOUND.note("no-stall-match") if none[0] else said,
        fails=none,
        no_match=none,
    )
