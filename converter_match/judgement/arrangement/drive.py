"""What an arrangement makes of the characteristic: kind of stator, torque divider."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from converter_match.answer.block import Block, Facts, Heading, rows_of_arrays
from converter_match.components.arrangement import Arrangement, TorqueDivider
from converter_match.components.blading import BladingGeometry
from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.arrangement import words
from converter_match.judgement.arrangement.blanks import BECAUSE, beside, joined, open_blanks
from converter_match.judgement.arrangement.words import ENGINE, HEAT, OUTPUT, TURBINE
from converter_match.notes import Note
from converter_match.physics.arrangement.torque_divider import (
    PowerSplit,
    combine,
    impeller_points,
    inner_speed_ratio,
    power_split,
    reaching,
    stall_speed_ratio,
)
from converter_match.physics.converter.stator import (
    fixed_from_one_way,
    one_way_from_fixed,
    without_stator,
)
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.match.side_by_side import SideBySide, side_by_side
from converter_match.physics.match.solver import match
from converter_match.physics.stall.free_stator import PRACTICE, free_by_blades, free_stator


@dataclass(frozen=True)
class StatorOut:
    """What is taken for the capacity at stall without the stator, over that with it.

    Parameters
    ----------
    factor : float
    band : tuple of float
        Least and most of it; twice the factor where it is given.
    grounds : Note
        Where it comes from.
    """

    factor: float
    band: tuple[float, float]
    grounds: Note


def stator_out(
    converter: Converter, arrangement: Arrangement, blading: BladingGeometry | None
) -> StatorOut:
    """Return the capacity factor of a converter without its stator, and where it comes from.

    As the arrangement's file says; by the blades where they are known; by the estimates that a
    stall test goes by otherwise, so that a stator taken out and one that slips are one story.

    Parameters
    ----------
    converter : Converter
    arrangement : Arrangement
    blading : BladingGeometry or None
        Of the converter.
    """
    given = arrangement.stall_capacity_factor
    if given is not None:
        return StatorOut(given, (given, given), words.GROUNDS.note("as-given"))
    held = one_way_from_fixed(converter) if converter.stator == "fixed" else converter
    if held.coupling is None:
        return StatorOut(1.0, (1.0, 1.0), words.GROUNDS.note("no-coupling-point"))
    found = free_stator(held)
    if blading is not None:
        factor = free_by_blades(blading)
        least, most = sorted((factor, found.factor))
        return StatorOut(factor, (least, most), words.GROUNDS.note("by-blades", name=blading.name))
    if found.low is None or found.high is None:
        return StatorOut(found.factor, found.band, words.GROUNDS.note("by-practice"))
    grounds = words.GROUNDS.note("by-estimates", low=found.low, high=found.high, practice=PRACTICE)
    return StatorOut(found.factor, found.band, grounds)


def with_stator(
    converter: Converter, arrangement: Arrangement, blading: BladingGeometry | None = None
) -> Converter:
    """Return the converter with the kind of stator that the arrangement asks for.

    Parameters
    ----------
    converter : Converter
    arrangement : Arrangement
    blading : BladingGeometry, optional
        Of the converter, which tells what its capacity is without a stator.

    Raises
    ------
    InputError
        If it has to be derived and that is not permitted, or cannot be.
    """
    wanted = arrangement.stator
    if wanted is None or wanted == converter.stator:
        return converter
    if converter.stator == "none":
        raise InputError(
            "data of a fluid coupling say nothing of what a stator would do",
            source=converter.id,
            field="stator",
            found=converter.stator,
            expected=f"a converter whose stator is {wanted}",
        )
    if wanted == "fixed":
        return fixed_from_one_way(converter)  # refuses, and says why
    if not arrangement.permissions.stator:
        raise InputError(
            f"the converter's stator is {converter.stator}; another kind has to be derived from it",
            source=arrangement.id,
            field="stator",
            found=wanted,
            expected=f"data of a converter whose stator is {wanted}, or the permission stator",
        )
    if wanted == "one-way":
        return one_way_from_fixed(converter)
    factor = stator_out(converter, arrangement, blading).factor
    return without_stator(converter, stall_capacity_factor=factor)


def stator_block(
    supply: TorqueSupply,
    before: Converter,
    after: Converter,
    arrangement: Arrangement,
    blading: BladingGeometry | None,
) -> Block:
    """Return the comparison of the converter as its data give it with the one asked for."""
    if after.stator == before.stator:
        kind = Heading("stator", "stator examined")
        return Block("stator", "Stator: as in the data", facts=((kind, after.stator),))
    pair = side_by_side(supply, before, after)
    picked = np.linspace(0, pair.turbine_speed.size - 1, 11).astype(int)
    first, second = pair.first_points, pair.second_points
    at = pair.turbine_speed[picked]
    kinds = {
        before.stator: open_blanks(supply, before, at, first.found[picked]),
        after.stator: open_blanks(supply, after, at, second.found[picked]),
    }
    facts, more = _without(supply, before, after, arrangement, blading)
    blanks = joined(**{kind.replace("-", "_"): words for kind, words in kinds.items()})
    return Block(
        name="stator",
        title="Fluid coupling beside converter"
        if after.stator == "none"
        else f"Stator: {after.stator} beside {before.stator}",
        facts=(
            (Heading("data_stator", "stator of the data"), before.stator),
            (Heading("stator", "stator examined"), after.stator),
            (
                Heading("stall_torque_lost", "turbine torque lost at stall", "torque"),
                pair.stall_torque_lost,
            ),
            (
                Heading(
                    "pulls_more_from_turbine_speed",
                    "more turbine torque from turbine speed",
                    "angular_speed",
                ),
                pair.second_pulls_more_from,
            ),
            *facts,
        ),
        columns=(
            TURBINE,
            Heading("turbine_torque_before", f"torque, {before.stator}", "torque"),
            Heading("turbine_torque", f"torque, {after.stator}", "torque"),
            Heading("efficiency_before", f"efficiency, {before.stator}"),
            Heading("efficiency", f"efficiency, {after.stator}"),
            Heading("heat_before", f"heat, {before.stator}", "power"),
            Heading("heat", f"heat, {after.stator}", "power"),
            BECAUSE,
        ),
        rows=beside(
            rows_of_arrays(
                pair.turbine_speed[picked],
                first.turbine_torque[picked],
                second.turbine_torque[picked],
                first.efficiency[picked],
                second.efficiency[picked],
                first.heat[picked],
                second.heat[picked],
            ),
            blanks,
        ),
        notes=(*_stator_notes(pair), *more),
        detail=pair,
    )


def _without(
    supply: TorqueSupply,
    before: Converter,
    after: Converter,
    arrangement: Arrangement,
    blading: BladingGeometry | None,
) -> tuple[Facts, tuple[Note, ...]]:
    """Return what is taken for the capacity without a stator, and what hangs on it."""
    if after.stator != "none" or before.stator == "none":
        return (), ()
    out = stator_out(before, arrangement, blading)
    factors = (out.factor, *out.band, 1.0)
    stalls = [
        match(supply, without_stator(before, stall_capacity_factor=f), 0.0).from_idle()
        for f in factors
    ]
    speed, *others = (_number(point.engine_speed) for point in stalls)
    torque, *torques = (_number(point.turbine_torque) for point in stalls)
    facts = (
        (Heading("stall_capacity_factor", "capacity without / with stator, at stall", form=".2f"),
         out.factor),
        (Heading("stall_capacity_factor_low", "at least", form=".2f"), out.band[0]),
        (Heading("stall_capacity_factor_high", "at most", form=".2f"), out.band[1]),
        (Heading("stall_engine_speed", "stall speed without stator", "angular_speed"), speed),
        (Heading("stall_turbine_torque", "turbine torque there", "torque"), torque),
    )  # fmt: skip
    if speed is None or torque is None or None in others:
        return facts, (words.note("stator-out-stalls", factor=out.factor, grounds=out.grounds),)
    low, high = sorted(x for x in others[:2] if x is not None)
    less, most = sorted(x for x in torques[:2] if x is not None)
    return facts, (
        words.note(
            "stator-out-capacity",
            factor=out.factor,
            grounds=out.grounds,
            low=low,
            high=high,
            less=less,
            most=most,
            same=others[2] or 0.0,
            same_torque=torques[2] or 0.0,
        ),
    )


def _number(value: FloatArray) -> float | None:
    return float(value) if np.isfinite(value) else None


def _stator_notes(pair: SideBySide) -> tuple[Note, ...]:
    """Return what taking the stator out costs and gains; nothing for other comparisons."""
    if pair.second.stator != "none" or pair.first.stator == "none":
        return ()
    lost = words.note("coupling-loses-multiplication", lost=pair.stall_torque_lost)
    start = pair.second_pulls_more_from
    if start is None:
        return lost, words.note("coupling-gains-nothing")
    return lost, words.note("coupling-gains-past", speed=start)


@dataclass(frozen=True)
class DividedRun:
    """Torque divider at full load over the output's speed ratio, for figures.

    Parameters
    ----------
    inner : Converter
        The converter inside, with data down to output stall.
    combined : Converter
    divider : TorqueDivider
    output_ratio, engine_speed : ndarray, shape (n,)
    split : PowerSplit
        Shape (n,).
    """

    inner: Converter
    combined: Converter
    divider: TorqueDivider
    output_ratio: FloatArray
    engine_speed: FloatArray
    split: PowerSplit


def divider_block(
    supply: TorqueSupply, converter: Converter, combined: Converter, arrangement: Arrangement
) -> Block:
    """Return how the torque divider shares the power, and what that does to the impeller."""
    divider = arrangement.torque_divider
    assert divider is not None  # the caller looks
    stall_nu = stall_speed_ratio(divider)
    allowed = arrangement.permissions.negative_speed_ratio
    inner = reaching(converter, stall_nu, assume_negative=allowed)
    top = min(combined.domain[1], 1.0)
    ratio = np.union1d(np.linspace(0.0, top, 101), [combined.coupling or 0.0])
    points = match(supply, combined, ratio).from_idle()
    nu = np.clip(inner_speed_ratio(divider, ratio), *inner.domain)
    split = power_split(inner, divider, nu, points.engine_speed)
    at_stall = combine(inner, divider, np.array(stall_nu))
    picked = np.unique(np.linspace(0, ratio.size - 1, 11).astype(int))
    return Block(
        name="torque_divider",
        title=f"Torque divider: ring/sun {divider.planetary.ratio:.4g}, {divider.connection}",
        facts=(
            (Heading("ratio", "ring / sun"), divider.planetary.ratio),
            (Heading("connection", "connection"), str(divider.connection)),
            (Heading("split", "kind"), divider.connection.split),
            (
                Heading(
                    "converter_speed_ratio_at_output_stall", "converter speed ratio at output stall"
                ),
                stall_nu,
            ),
            (Heading("torque_ratio_at_output_stall", "torque ratio there"), at_stall.torque_ratio),
            (
                Heading("mechanical_share_at_output_stall", "share of torque through gears there"),
                at_stall.mechanical_share,
            ),
        ),
        columns=(
            Heading("output_speed_ratio", "output ratio"),
            Heading("converter_speed_ratio", "converter ratio"),
            ENGINE,
            Heading("engine_power", "engine power", "power"),
            Heading("mechanical_power", "mechanical", "power"),
            Heading("impeller_power", "into impeller", "power"),
            Heading("turbine_power", "from turbine", "power"),
            Heading("circulating_power", "circulating", "power"),
            OUTPUT,
            HEAT,
        ),
        rows=rows_of_arrays(
            ratio[picked],
            nu[picked],
            points.engine_speed[picked],
            *(
                getattr(split, name)[picked]
                for name in (
                    "engine",
                    "mechanical",
                    "hydraulic_in",
                    "hydraulic_out",
                    "circulating",
                    "output",
                    "heat",
                )
            ),
        ),
        notes=_divider_notes(inner, divider, supply, combined, ratio, nu, split),
        detail=DividedRun(inner, combined, divider, ratio, points.engine_speed, split),
    )


def _divider_notes(
    inner: Converter,
    divider: TorqueDivider,
    supply: TorqueSupply,
    combined: Converter,
    ratio: FloatArray,
    nu: FloatArray,
    split: PowerSplit,
) -> tuple[Note, ...]:
    notes = []
    backwards = ratio[(nu < -1e-9)]
    if backwards.size:
        notes.append(
            words.note(
                "turbine-driven-backwards",
                highest=float(backwards.max()),
                lowest=float(nu.min()),
                power=max(-float(split.hydraulic_out[0]), 0.0),
            )
        )
    speed, torque = impeller_points(inner, divider, match(supply, combined, ratio).from_idle())
    checks = (
        ("torque", torque, inner.limits.input_torque),
        ("power", torque * speed, inner.limits.input_power),
        ("speed", speed, inner.limits.input_speed),
    )
    for name, values, limit in checks:
        known = values[np.isfinite(values)]
        if limit is None or not known.size or float(known.max()) <= limit:
            continue
        if name == "speed" and divider.connection.split == "input-split":
            continue  # engine and impeller speed are the same, and checked with the engine
        highest = float(known.max())
        notes.append(words.note(f"limit-impeller-{name}", highest=highest, limit=limit))
    return tuple(notes)
