"""From an engine and a converter to a `MatchResult`: the named points and what to be wary of."""

from __future__ import annotations

import numpy as np

from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.components.site import Site
from converter_match.curves import FloatArray
from converter_match.judgement.match import words
from converter_match.judgement.match.branches import jump_notes
from converter_match.judgement.match.indices import stretches_above
from converter_match.judgement.match.interface import differing
from converter_match.judgement.match.result import (
    EfficiencyRange,
    IdleInGear,
    MatchPoint,
    MatchResult,
)
from converter_match.notes import Note
from converter_match.physics.engine.site_correction import SiteEffect, site_effect
from converter_match.physics.engine.supply import TorqueSupply, engine_supply
from converter_match.physics.match.solver import MatchSet, match

LEVELS = (0.7, 0.8)
_GRID = 0.01


def solve(
    engine: Engine,
    converter: Converter,
    *,
    site: Site | None = None,
    hydraulic_torque: float = 0.0,
) -> MatchResult:
    """Match an engine with a converter at full load.

    Parameters
    ----------
    engine : Engine
        Used on the basis stated in its data; listed accessories are deducted.
    converter : Converter
        Its data must include stall (speed ratio 0).
    site : Site, optional
        Without one the engine breathes its own reference air.
    hydraulic_torque : float
        Taken at the flywheel by implement pumps [N.m].

    Returns
    -------
    MatchResult

    Raises
    ------
    InputError
        If the converter's data do not include stall, or the site correction lacks a datum.

    Notes
    -----
    At every speed ratio, ``T_net(omega) = C(nu) omega^2``; see `physics.match.solver`.
    """
    converter.require_stall()
    return solve_in(engine, converter, site_effect(engine, site), hydraulic_torque=hydraulic_torque)


def solve_in(
    engine: Engine, converter: Converter, effect: SiteEffect, *, hydraulic_torque: float = 0.0
) -> MatchResult:
    """Match an engine with a converter where it is known what the site does to the engine.

    Parameters
    ----------
    engine, converter, hydraulic_torque : Engine, Converter, float
        As in `solve`.
    effect : SiteEffect
        A governor that is turned down does not change it.
    """
    low, high = converter.domain
    supply = engine_supply(
        engine, torque_factor=effect.torque_factor, hydraulic_torque=hydraulic_torque
    )
    ranges = efficiency_ranges(supply, converter)
    limit = _governed_limit(engine, supply, converter)
    best = converter.best_efficiency()[0]
    held = best_with_stator_held(converter)
    special = [0.0, best, *([] if held is None else [held])]
    special += [end for item in ranges for end in (item.low, item.high)]
    special += [] if converter.coupling is None else [converter.coupling]
    special += [] if limit is None else [limit.speed_ratio]
    grid = np.unique(
        np.concatenate(
            [
                np.round(np.arange(np.ceil(low / _GRID), np.floor(high / _GRID) + 1) * _GRID, 10),
                converter.characteristic.speed_ratio,
                special,
            ]
        )
    )
    grid = grid[(grid >= low) & (grid <= high)]
    locus = match(supply, converter, grid)
    at_stall = match(supply, converter, 0.0)
    stall = MatchPoint.of(at_stall.from_idle())
    from_high = MatchPoint.of(at_stall.from_high_idle())
    idle = _idle_in_gear(engine, converter) if bool(at_stall.pulls_away) else None
    notes = [*engine.notes, *converter.notes, *effect.notes]
    notes += [] if idle else [_not_held(converter, supply)]
    notes += _stall_notes(engine, at_stall, stall, from_high, idle)
    notes += _range_notes(engine, converter, supply, locus, ranges)
    notes += _limit_notes(engine, converter, locus)
    notes += _engine_limit_notes(engine, locus)
    notes += differing(engine, converter)
    others = tuple(
        solve_in(engine, other, effect, hydraulic_torque=hydraulic_torque)
        for other in converter.alternatives
    )
    notes += _estimate_notes(converter, notes, others)
    return MatchResult(
        engine=engine,
        converter=converter,
        site=effect,
        supply=supply,
        hydraulic_torque=hydraulic_torque,
        stall=stall,
        coupling=point_at(supply, converter, converter.coupling),
        best_efficiency=point_at(supply, converter, best),
        best_in_conversion=point_at(supply, converter, held),
        governed_limit=limit,
        stall_from_high_idle=from_high,
        stall_band=_stall_band(engine, supply, converter),
        ranges=ranges,
        idle=idle,
        locus=locus,
        notes=tuple(notes),
        alternatives=others,
    )


def _estimate_notes(
    converter: Converter, notes: list[Note], others: tuple[MatchResult, ...]
) -> list[Note]:
    """Say what is warned of with another converter that it may be as well."""
    said = {note.code for note in notes}
    kinds = ("warning", "limit")
    codes = [note.code for item in others for note in item.notes if note.kind in kinds]
    more = dict.fromkeys(code.replace("-", " ") for code in codes if code not in said)
    code = "band-may-warn" if converter.banded else "estimate-may-warn"
    return [words.note(code, items="; ".join(more))] if more else []


def point_at(
    supply: TorqueSupply, converter: Converter, speed_ratio: float | None
) -> MatchPoint | None:
    """Return the point at a speed ratio, as reached from below; None where there is none.

    Parameters
    ----------
    supply : TorqueSupply
    converter : Converter
    speed_ratio : float or None
    """
    if speed_ratio is None:
        return None
    return MatchPoint.of(match(supply, converter, speed_ratio).from_idle())


def best_with_stator_held(converter: Converter) -> float | None:
    """Return the speed ratio of the best efficiency up to the coupling point; None without one."""
    if converter.stator != "one-way" or converter.coupling is None:
        return None
    return converter.best_efficiency(0.0, converter.coupling)[0]


def efficiency_ranges(supply: TorqueSupply, converter: Converter) -> tuple[EfficiencyRange, ...]:
    """Return the stretches of speed ratio at or above each of `LEVELS`, with their ends.

    Parameters
    ----------
    supply : TorqueSupply
    converter : Converter
    """
    end = min(converter.domain[1], 1.0)
    stretches = []
    for level in LEVELS:
        for low, high in stretches_above(converter, level):
            stretches.append(
                EfficiencyRange(
                    level=level,
                    low=low,
                    high=high,
                    lower=point_at(supply, converter, low),
                    upper=point_at(supply, converter, high),
                    ends_with_data=high == end and high < 1.0,
                )
            )
    return tuple(stretches)


def _rated_crossings(engine: Engine, supply: TorqueSupply, converter: Converter) -> FloatArray:
    """Speed ratios in 0 .. 1 at which a match lies at rated speed: C(nu) = c_e(rated)."""
    at_rated = float(supply.torque(engine.rated_speed)) / engine.rated_speed**2
    crossings = converter.capacity_curve.crossings(at_rated)
    return crossings[(crossings >= 0.0) & (crossings <= 1.0)]


def _governed_limit(
    engine: Engine, supply: TorqueSupply, converter: Converter
) -> MatchPoint | None:
    """Return the first point from stall at which the engine has come up to rated speed."""
    stall = match(supply, converter, 0.0).from_idle()
    if bool(stall.found) and float(stall.engine_speed) >= engine.rated_speed:
        return MatchPoint.of(stall)
    for nu in _rated_crossings(engine, supply, converter):
        point = point_at(supply, converter, float(nu))
        if point and abs(point.engine_speed / engine.rated_speed - 1) < 1e-6:
            return point
    return None


def _idle_in_gear(engine: Engine, converter: Converter) -> IdleInGear:
    torque = float(converter.capacity_at(0.0)) * engine.low_idle**2
    return IdleInGear(
        engine_speed=engine.low_idle,
        input_torque=torque,
        turbine_torque=float(converter.torque_ratio_at(0.0)) * torque,
        heat=torque * engine.low_idle,
    )


def _stall_band(
    engine: Engine, supply: TorqueSupply, converter: Converter
) -> tuple[float, float] | None:
    """Return the ends of the stall speed over the bands of engine and converter, where it is one.

    Speed rises with torque and falls with capacity, so the ends of the bands give its own.
    """
    if engine.torque_band == 0.0 and not converter.banded:
        return None
    factors = np.array([1.0 - engine.torque_band, 1.0 + engine.torque_band])
    units = (converter, *(converter.alternatives if converter.banded else ()))
    speeds = np.stack(
        [match(supply, unit, 0.0, torque_factor=factors).from_idle().engine_speed for unit in units]
    )
    if not np.isfinite(speeds).all():
        return None
    return float(speeds.min()), float(speeds.max())


def _stall_notes(
    engine: Engine,
    at_stall: MatchSet,
    stall: MatchPoint | None,
    from_high: MatchPoint | None,
    idle: IdleInGear | None,
) -> list[Note]:
    notes = []
    if int(at_stall.count) > 1:
        speeds = at_stall.points.engine_speed
        known = speeds[np.isfinite(speeds)].tolist()
        notes.append(words.several_intersections(known))
    if stall and from_high and abs(stall.engine_speed / from_high.engine_speed - 1) > 1e-6:
        up, down = stall.engine_speed, from_high.engine_speed
        notes.append(words.note("idle-high-idle-differ", up=up, down=down))
    if stall and stall.engine_speed >= engine.rated_speed:
        notes.append(words.note("stall-on-governor", speed=stall.engine_speed))
    if idle is not None:
        torque = idle.turbine_torque
        notes.append(words.note("idle-in-gear-torque", speed=engine.low_idle, torque=torque))
    return notes


def _not_held(converter: Converter, supply: TorqueSupply) -> Note:
    """Say that the engine is lugged down in gear at idle, and what torque it has there."""
    # Where the curve begins above low idle, nothing is known before its first row.
    lowest = supply.domain[0]
    return words.note(
        "cannot-hold-idle",
        speed=lowest,
        torque=float(converter.capacity_at(0.0)) * lowest**2,
        spare=max(float(supply.torque(lowest)), 0.0),
    )


def _range_notes(
    engine: Engine,
    converter: Converter,
    supply: TorqueSupply,
    locus: MatchSet,
    ranges: tuple[EfficiencyRange, ...],
) -> list[Note]:
    notes = []
    working = [item for item in ranges if item.level == 0.8]
    rated = _rated_crossings(engine, supply, converter)
    inside = [nu for nu in rated if any(item.low <= nu <= item.high for item in working)]
    if not inside:
        listed = " and ".join(f"{nu:.2f}" for nu in rated)
        where = f"only at speed ratio {listed}" if listed else "and nowhere else in its data"
        notes.append(words.note("no-rated-power-in-working-range", where=where))
    several = (locus.count > 1) & (locus.points.speed_ratio[0] > 0)
    if several.any():
        nu = locus.points.speed_ratio[0][several]
        first, last = float(nu[0]), float(nu[-1])
        notes.append(words.note("several-intersections-on-locus", first=first, last=last))
    if (locus.count > 1).any():
        notes += jump_notes(supply, converter)
    return notes


def _limit_notes(engine: Engine, converter: Converter, locus: MatchSet) -> list[Note]:
    """Hold the match against what the converter's maker states."""
    limits = converter.limits
    notes = flywheel_notes("limit-input", locus, limits.input_torque, limits.input_power)
    return notes + _speed_notes("limit-input", engine, limits.input_speed)


def _engine_limit_notes(engine: Engine, locus: MatchSet) -> list[Note]:
    """Hold the match against what the engine's maker states."""
    limits = engine.limits
    notes = [words.note("engine-limit-unread", key=key) for key, _ in limits.unread]
    notes += flywheel_notes("limit-engine", locus, limits.torque, limits.power)
    return notes + _speed_notes("limit-engine", engine, limits.speed)


def flywheel_notes(
    code: str, locus: MatchSet, torque: float | None, power: float | None
) -> list[Note]:
    """Return notes on limits at the flywheel that are exceeded.

    Parameters
    ----------
    code : str
        Of the notes, without what is limited.
    locus : MatchSet
    torque, power : float or None
        Limits [N.m], [W].
    """
    points = locus.points
    reached = points.found & points.stable
    checks = (("torque", points.input_torque, torque), ("power", points.input_power, power))
    notes = []
    for key, values, limit in checks:
        highest = float(values[reached].max(initial=-np.inf))
        if limit is not None and highest > limit:
            notes.append(words.note(f"{code}-{key}", highest=highest, limit=limit))
    return notes


def _speed_notes(code: str, engine: Engine, limit: float | None) -> list[Note]:
    if limit is None or engine.high_idle <= limit:
        return []
    return [words.note(f"{code}-speed", high_idle=engine.high_idle, limit=limit)]
