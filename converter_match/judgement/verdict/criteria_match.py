"""Criteria that engine and converter settle between them, on draws."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from converter_match.components.torque_peak import speeds_near_peak
from converter_match.curves import FloatArray
from converter_match.judgement.verdict.measure import Measures, missing
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.judgement.verdict.reach import Reach
from converter_match.judgement.verdict.view import Criterion, View
from converter_match.judgement.verdict.words import FOUND
from converter_match.judgement.verdict.words import missing as lacking
from converter_match.notes import Note
from converter_match.physics.match.solver import match
from converter_match.study.criteria import Choice
from converter_match.study.study import Study

_JUST_BEYOND = 1e-6
_SPEEDS = 401


def single_stable_match(study: Study, choice: Choice, own: View, present: View | None) -> Measures:
    """Return the least change of torque or capacity that gives another match; none is there now.

    Draws with several matches at stall, or none, fail; with several beyond it they are marginal.
    """
    counts, held = own.stall_matches, np.isfinite(own.stall_speed)
    alone, reach = held & (counts == 1), own.reach
    absent = reach.running + (reach.converter if alone[0] else ())
    if absent:
        return missing(*absent)
    margin = own.match_margin
    if not held[0]:
        said = FOUND.note("no-match-at-stall")
    elif counts[0] > 1:
        said = FOUND.note("several-matches-at-stall", count=float(counts[0]))
    elif not margin[0] > 0.0:
        said = _several_ahead(own.outcome)
    else:
        said = _one_match(own.outcome)
    return Measures(
        value=np.where(alone, margin, 0.0),
        dimension="ratio",
        least=0.0,
        said=said,
        absolute=True,
        marginal=alone & ~(margin > 0.0),
        fails=~alone,
    )


def _several_ahead(outcome: Outcome) -> Note:
    """Say at which speed ratios beyond stall there are several matches, or none from idle."""
    locus = outcome.match.locus
    ratios, counts = locus.points.speed_ratio[0], locus.count
    beyond = (ratios >= 0.0) & (ratios <= 1.0) & (counts > 1)
    if not beyond.any():
        return FOUND.note("another-match-ahead")
    return FOUND.note(
        "several-matches-ahead",
        count=float(counts[beyond].max()),
        low=float(ratios[beyond][0]),
        high=float(ratios[beyond][-1]),
    )


def _one_match(outcome: Outcome) -> Note:
    """Say what it takes to another match, and where the engine would be then."""
    margin, match_ = outcome.match_margin, outcome.match
    less = float(min(margin.less_torque[0], margin.more_capacity[0]))
    more = float(min(margin.more_torque[0], margin.less_capacity[0]))
    if more < less:
        return FOUND.note(
            "one-match-joined",
            torque=float(margin.more_torque[0]),
            capacity=float(margin.less_capacity[0]),
        )
    # Just beyond the change, at the speed ratio with the highest capacity.
    tightest = outcome.capacity_range[1] / float(match_.converter.capacity_at(0.0))
    more_capacity = float(margin.more_capacity[0])
    factor = tightest * (1.0 + more_capacity) * (1.0 + _JUST_BEYOND)
    after = match(match_.supply, match_.converter, 0.0, capacity_factor=factor).from_idle()
    speed = float(after.engine_speed)
    about = {"torque": float(margin.less_torque[0]), "capacity": more_capacity}
    if np.isnan(speed):
        return FOUND.note("one-match-lost", **about)
    return FOUND.note("one-match-jumps", **about, speed=speed)


def stall_speed_window(study: Study, choice: Choice, own: View, present: View | None) -> Measures:
    """Compare the stall speed with peak-torque and rated speed, and the study's own window."""
    engine, limits = own.outcome.combination.engine, study.limits
    reach, near_peak = own.reach, speeds_near_peak(engine)[0]
    absent = reach.at_stall + reach.torque(near_peak, near_peak)
    if absent:
        return missing(*dict.fromkeys(absent))
    least = choice["least"] * near_peak
    most = choice["most"] * engine.rated_speed
    value = own.stall_speed
    return _matched(
        own,
        value,
        "angular_speed",
        FOUND.note("stall-speed", speed=float(value[0])),
        least=max(least, limits.stall_speed_least or least),
        most=min(most, limits.stall_speed_most or most),
    )


def rated_power_usable(study: Study, choice: Choice, own: View, present: View | None) -> Measures:
    """Compare the power absorbed in the working range with the greatest there is.

    What the data show is the least: more may be absorbed where they end inside the range.
    """
    level, reach = choice["efficiency"], own.reach
    share = np.nan_to_num(own.usable_share(level))
    goes_on = reach.works_on_at(level)
    unknown = (share < choice["least"]) & bool(goes_on)
    absent = reach.running + reach.within + (goes_on if unknown[0] else ())
    if absent:
        return missing(*absent)
    return Measures(
        value=share,
        dimension="ratio",
        least=choice["least"],
        said=FOUND.note("power-in-working-range", share=float(share[0]), level=level),
        unknown=unknown,
    )


def converter_input_torque(
    study: Study, choice: Choice, own: View, present: View | None
) -> Measures:
    """Compare the highest impeller torque with the converter's limit."""
    converter = own.outcome.combination.converter
    limit = _lower(converter.limits.input_torque, study.limits.input_torque)
    if limit is None:
        return missing(lacking("converter-limit", what="input torque", id=converter.id))
    value, most = own.impeller_torque, choice["most"] * limit
    absent = _beyond_limit(own, value[0], most, choice["margin"], power=False)
    if absent:
        return missing(*absent)
    said = FOUND.note("highest-input-torque", torque=float(value[0]))
    return _matched(own, value, "torque", said, most=most)


def converter_input_power(
    study: Study, choice: Choice, own: View, present: View | None
) -> Measures:
    """Compare the highest impeller power with the converter's limit."""
    converter = own.outcome.combination.converter
    limit = _lower(converter.limits.input_power, study.limits.input_power)
    if limit is None:
        return missing(lacking("converter-limit", what="input power", id=converter.id))
    value, most = own.impeller_power, choice["most"] * limit
    absent = _beyond_limit(own, value[0], most, choice["margin"], power=True)
    if absent:
        return missing(*absent)
    said = FOUND.note("highest-input-power", power=float(value[0]))
    return _matched(own, value, "power", said, most=most)


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
        absent = own.reach.everywhere
        if absent:
            return missing(*absent)
        value = own.impeller_speed
        said = FOUND.note("highest-input-speed", speed=float(value[0]))
        return _matched(own, value, "angular_speed", said, most=most)
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
    reach = own.reach
    absent = reach.at_stall if own.outcome.divided is None else reach.everywhere
    if absent:
        return missing(*absent)
    value = own.turbine_torque
    said = FOUND.note("highest-turbine-torque", torque=float(value[0]))
    return _matched(own, value, "torque", said, most=choice["most"] * limit)


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
    both = present, own
    powers = [braking_power(item.outcome) for item in both]
    absent = [
        why
        for item, power in zip(both, powers, strict=True)
        if power is None
        for why in item.reach.braking
        or (lacking("motoring", id=item.outcome.combination.engine.id),)
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
    if table is None or Reach(own).braking:
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


def _beyond_limit(
    own: View, value: float, most: float, margin: float, *, power: bool
) -> tuple[str, ...]:
    """Return the missing data behind which an impeller torque or power may be above its limit.

    Whatever the converter does there, the engine gives no more than its net torque or power.
    """
    reach, outcome = own.reach, own.outcome
    absent = reach.running
    if absent or np.isnan(value) or value > most:
        return absent
    absent = reach.converter
    if outcome.divided is not None:
        return absent
    low, high = outcome.match.supply.domain
    if not absent and outcome.match.converter.domain[1] < 1.0:
        absent = reach.light_end
        speeds = outcome.match.locus.from_idle().engine_speed
        low = float(np.nanmax(speeds)) if np.isfinite(speeds).any() else low
    if not absent or low >= high:
        return ()
    speed = np.union1d(np.linspace(low, high, _SPEEDS), outcome.match.supply.knots)
    speed = speed[(speed >= low) & (speed <= high)]
    torque = outcome.match.supply.torque(speed)
    highest = float(np.max(torque * speed if power else torque))
    kept = highest <= max(value, (1.0 - margin) * most)
    return () if kept else absent


def _matched(
    own: View,
    value: FloatArray,
    dimension: str,
    said: Note,
    *,
    least: float | None = None,
    most: float | None = None,
) -> Measures:
    """Return a measure that is not known for draws without a stall match: there is nothing.

    That there is no match is counted once, where the match is judged.
    """
    none = np.isnan(value) | np.isnan(own.stall_speed)
    return Measures(
        value=value,
        dimension=dimension,
        least=least,
        most=most,
        said=FOUND.note("no-stall-match") if none[0] else said,
        no_match=none,
    )
