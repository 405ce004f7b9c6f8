"""What size a converter must have for a required match: closed form through the capacity.

A match is ``T_net(omega) = C(nu) omega^2``, and similar converters share mu(nu) and the shape of
C(nu), so the one that puts the engine at a wanted speed at a speed ratio has

    C_wanted = T_net(omega) / omega^2,    factor = C_wanted / C(nu),
    D_wanted = D factor^(1/5),            K_wanted = K factor^(-1/2).

Nothing is searched for. What has to be checked afterwards is whether an engine that comes up from
idle gets there: `physics.match.solver` says.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from converter_match.answer.block import Block, Facts, Heading, NoValue
from converter_match.answer.noted import Answer
from converter_match.answer.plain import plain
from converter_match.components.converter import SCALING_COMFORT, Converter
from converter_match.components.converter_limits import ConverterLimits
from converter_match.components.converter_read import band_kept
from converter_match.components.engine import Engine
from converter_match.components.site import Site
from converter_match.errors import InputError
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.match.solve import solve
from converter_match.judgement.match.spread import decisive_blocks
from converter_match.judgement.sizing.words import WORDS
from converter_match.notes import Note
from converter_match.physics.engine.site_correction import site_effect
from converter_match.physics.engine.supply import TorqueSupply, engine_supply
from converter_match.physics.match.match_set import MatchSet
from converter_match.physics.match.solver import match
from converter_match.units import note_plain

End = Literal["lower", "upper"]
# A found size must give the required speed back within rounding.
SAME_SPEED = 1e-9
_ASKED = (
    Heading("wanted", ""),
    Heading("possible", ""),
    Heading("speed_ratio", ""),
    Heading("engine_speed", "", "angular_speed"),
)
_REASON = Heading("reason", "No size meets the requirement")
_SIZE = (
    Heading("capacity_factor", "capacity factor", form=".4f"),
    Heading("diameter_ratio", ""),
    Heading("stall_k_factor", "K at stall", "k_factor"),
    Heading("profile_diameter", "profile diameter", "diameter"),
    Heading("", "change of diameter", "share", "+.1f"),
)
_STRETCHED = Heading("beyond_comfort", "")
_STALL = Heading("stall", "")


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Size(Answer):
    """A converter made to give a required match, or the reason why there is none. SI units.

    Parameters
    ----------
    wanted : Note
        What was asked for.
    speed_ratio : float
        At which the engine is wanted at a speed.
    engine_speed : float
        Wanted [rad/s].
    capacity_factor : float or None
        On the capacity of the given converter; None where no size gives what is wanted.
    diameter, diameter_ratio : float or None
        Profile diameter [m], where the given converter's is known, and its ratio to that one.
    stall_k_factor : float or None
        [(rad/s)/sqrt(N.m)].
    converter : Converter or None
        The converter of that size.
    result : MatchResult or None
        The match with it.
    reason : Note or None
        Why no size meets the requirement; None where there is one.
    notes : tuple of Note
        Of the sizing alone.
    alternatives : tuple of Size
        From each converter that an estimated one may be.
    """

    wanted: Note
    speed_ratio: float
    engine_speed: float
    capacity_factor: float | None = None
    diameter: float | None = None
    diameter_ratio: float | None = None
    stall_k_factor: float | None = None
    converter: Converter | None = None
    result: MatchResult | None = None
    reason: Note | None = None
    notes: tuple[Note, ...] = ()
    alternatives: tuple[Size, ...] = ()

    def decisive(self) -> Facts:
        """Return the figures that a decision rests on; None where there is none."""
        values = (self.capacity_factor, self.stall_k_factor, self.diameter)
        heads = (_SIZE[0], _SIZE[2], _SIZE[3])
        return tuple(
            (head, value if self.possible else None)
            for head, value in zip(heads, values, strict=True)
        )

    @property
    def possible(self) -> bool:
        """Whether there is such a size."""
        return self.reason is None

    @property
    def stretched(self) -> bool:
        """Whether the change of diameter is beyond what similarity is usually trusted for."""
        return any(note.code == "size-stretched" for note in self.notes)

    def within(self, ratios: tuple[float, float]) -> Size:
        """Return the size; outside a range of diameters with that as the reason against it.

        Parameters
        ----------
        ratios : tuple of float
            Smallest and largest diameter, to that of the converter that was given.
        """
        low, high = ratios
        ratio, took = self.diameter_ratio, self.diameter
        if ratio is None or took is None or low <= ratio <= high:
            return self
        own = took / ratio
        why = WORDS.note("outside-diameter-range", took=took, low=low * own, high=high * own)
        return replace(self, reason=why)

    def blocks(self) -> tuple[Block, ...]:
        """Return what was asked for, and the size or the reason why there is none."""
        asked = (self.wanted, self.possible, self.speed_ratio, self.engine_speed)
        ratio, diameter = self.diameter_ratio, self.diameter
        size = (
            self.capacity_factor,
            ratio,
            self.stall_k_factor,
            NoValue("not known") if diameter is None else diameter,
            None if ratio is None else ratio - 1.0,
        )
        stall = self.result.stall if self.result else None
        heads = _SIZE if self.possible else tuple(head.said("") for head in _SIZE)
        return (
            Block(
                "",
                facts=(
                    *zip(_ASKED, asked, strict=True),
                    (_REASON.said("") if self.possible else _REASON, self.reason),
                    *zip(heads, size, strict=True),
                    (_STRETCHED, self.stretched),
                    (_STALL, stall.to_dict() if stall else None),
                ),
                above=(self.wanted,),
            ),
            *decisive_blocks(self, banded=self.converter is not None and self.converter.banded),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return plain data with the unit in each key; the notes are one list."""
        return plain(self.blocks()) | {"notes": [note_plain(note) for note in self.notes]}


def with_capacity_factor(converter: Converter, factor: float) -> Converter:
    """Return a converter of the same blading whose capacity is multiplied by a factor.

    By similarity ``C ~ D^5``; where the diameter is not known only the capacity changes.

    Raises
    ------
    InputError
        If the factor is not above zero.
    """
    if not (np.isfinite(factor) and factor > 0.0):
        raise InputError(
            "out of range", field="capacity_factor", found=factor, expected="a number above zero"
        )
    if converter.profile_diameter is not None:
        scaled = converter.scaled(profile_diameter=converter.profile_diameter * factor**0.2)
        return band_kept(scaled, converter.reading_band)

    def change(unit: Converter) -> Converter:
        return unit.replace(
            capacity=unit.capacity * factor,
            limits=ConverterLimits(oil_temperature=unit.limits.oil_temperature),
            oil_volume=None,
            impeller_inertia=None,
            turbine_inertia=None,
            interface=(),
            given_notes=(*unit.given_notes, WORDS.note("scaled-by-capacity", factor=factor)),
        )

    return band_kept(converter.changed(change), converter.reading_band)


def size_for_speed(
    engine: Engine,
    converter: Converter,
    engine_speed: float,
    *,
    speed_ratio: float = 0.0,
    wanted: Note | None = None,
    site: Site | None = None,
    hydraulic_torque: float = 0.0,
) -> Size:
    """Return the size at which the engine settles at a wanted speed at a speed ratio.

    Parameters
    ----------
    engine, converter : Engine, Converter
        The converter gives the family: mu(nu), and the shape of C(nu).
    engine_speed : float
        [rad/s].
    speed_ratio : float
        0 is stall.
    wanted : Note, optional
        What is asked for, where it is said otherwise.
    site : Site, optional
    hydraulic_torque : float
        [N.m].

    Returns
    -------
    Size
        With a reason where no size meets the requirement.

    Raises
    ------
    InputError
        If the speed is not above zero, or the speed ratio lies outside the converter's data.
    """
    if not (np.isfinite(engine_speed) and engine_speed > 0.0):
        raise InputError(
            "out of range",
            field="engine_speed",
            found=float(engine_speed),
            expected="a speed above zero",
        )
    supply = engine_supply(
        engine,
        torque_factor=site_effect(engine, site).torque_factor,
        hydraulic_torque=hydraulic_torque,
    )
    now = float(converter.capacity_at(speed_ratio))
    asked = wanted or (
        WORDS.note("wanted-at-stall", speed=engine_speed)
        if speed_ratio == 0.0
        else WORDS.note("wanted-at-speed-ratio", speed=engine_speed, speed_ratio=speed_ratio)
    )
    none = Size(
        wanted=asked,
        speed_ratio=float(speed_ratio),
        engine_speed=float(engine_speed),
        alternatives=tuple(
            size_for_speed(
                engine,
                other,
                engine_speed,
                speed_ratio=speed_ratio,
                wanted=wanted,
                site=site,
                hydraulic_torque=hydraulic_torque,
            )
            for other in converter.alternatives
        ),
    )
    reason = _out_of_reach(engine, supply, engine_speed)
    if reason is None and now <= 0.0:
        reason = WORDS.note("no-capacity-there")
    if reason is not None:
        return replace(none, reason=reason)
    # C_wanted = T_net / omega^2: the whole of the sizing.
    factor = float(supply.torque(engine_speed)) / engine_speed**2 / now
    sized = with_capacity_factor(converter, factor)
    there = match(supply, sized, speed_ratio)
    reason = _not_reached(there, engine_speed)
    if reason is not None:
        return replace(none, reason=reason)
    return replace(
        none,
        capacity_factor=factor,
        diameter=sized.profile_diameter,
        diameter_ratio=factor**0.2,
        stall_k_factor=float(sized.capacity_at(0.0)) ** -0.5,
        converter=sized,
        result=solve(engine, sized, site=site, hydraulic_torque=hydraulic_torque),
        notes=_notes(engine, converter, engine_speed, factor**0.2, there),
    )


def size_for_efficiency(
    engine: Engine,
    converter: Converter,
    engine_speed: float,
    *,
    level: float = 0.8,
    end: End = "lower",
    site: Site | None = None,
    hydraulic_torque: float = 0.0,
) -> Size:
    """Return the size at which the engine runs at a wanted speed where a level of efficiency ends.

    Parameters
    ----------
    engine, converter : Engine, Converter
    engine_speed : float
        [rad/s].
    level : float
        Converter efficiency, 0 to 1.
    end : {"lower", "upper"}
        Of the first stretch of speed ratio at or above the level, from stall.
    site, hydraulic_torque
        As in `size_for_speed`.

    Raises
    ------
    InputError
        If the level or the end is none, or as `size_for_speed`.
    """
    if not 0.0 < level < 1.0:
        raise InputError(
            "not an efficiency", field="level", found=level, expected="a share between 0 and 1"
        )
    if end not in ("lower", "upper"):
        raise InputError("not a known choice", field="end", found=end, expected="lower | upper")
    asked = WORDS.note("wanted-at-efficiency", speed=engine_speed, end=end, level=level)
    others = tuple(
        size_for_efficiency(
            engine,
            other,
            engine_speed,
            level=level,
            end=end,
            site=site,
            hydraulic_torque=hydraulic_torque,
        )
        for other in converter.alternatives
    )
    crossings = converter.efficiency_crossings(level)
    if not crossings.size or (end == "upper" and crossings.size < 2):
        best = converter.best_efficiency()[1]
        why = (
            WORDS.note("efficiency-not-reached", best=best)
            if best < level
            else WORDS.note("efficiency-does-not-fall", level=level)
        )
        return Size(
            wanted=asked,
            speed_ratio=float("nan"),
            engine_speed=engine_speed,
            reason=why,
            alternatives=others,
        )
    middle = size_for_speed(
        engine,
        converter,
        engine_speed,
        speed_ratio=float(crossings[0 if end == "lower" else 1]),
        wanted=asked,
        site=site,
        hydraulic_torque=hydraulic_torque,
    )
    return replace(middle, alternatives=others)


def _out_of_reach(engine: Engine, supply: TorqueSupply, speed: float) -> Note | None:
    """Say why no converter holds this engine at a speed; None where one can."""
    low, high = supply.domain
    if speed < low:
        return WORDS.note("speed-below-engine-data", speed=speed, low=low)
    if speed > high:
        return WORDS.note("speed-above-high-idle", speed=speed, high=high)
    if float(supply.torque(speed)) <= 0.0:
        rated, high = engine.rated_speed, engine.high_idle
        return WORDS.note("no-torque-left", speed=speed, rated=rated, high=high)
    return None


def _not_reached(there: MatchSet, speed: float) -> Note | None:
    """Say why an engine coming up from idle does not settle at a match that is there."""
    reached = there.from_idle()
    if not bool(reached.found):
        return WORDS.note("cannot-leave-idle")
    got = float(reached.engine_speed)
    if abs(got / speed - 1.0) <= SAME_SPEED:
        return None
    speeds = there.points.engine_speed
    row = int(np.nanargmin(np.abs(speeds / speed - 1.0)))
    stable = bool(there.points.stable[row])
    return WORDS.note("stops-below" if stable else "match-unstable", speed=speed, reached=got)


def _notes(
    engine: Engine, converter: Converter, speed: float, ratio: float, there: MatchSet
) -> tuple[Note, ...]:
    notes = family_notes(converter, ratio, there)
    if speed > engine.rated_speed * (1 + 1e-9):
        notes.append(WORDS.note("size-on-governor", rated=engine.rated_speed))
    return tuple(notes)


def family_notes(converter: Converter, ratio: float, there: MatchSet) -> list[Note]:
    """Return what comes with another size of a family, whatever drives it.

    Parameters
    ----------
    converter : Converter
        As it is.
    ratio : float
        Of the diameters.
    there : MatchSet
        The matches at the wanted speed ratio.
    """
    notes = [WORDS.note("size-by-similarity")]
    if abs(ratio - 1.0) > SCALING_COMFORT:
        which = "diameter" if converter.profile_diameter is not None else "equivalent diameter"
        notes.append(
            WORDS.note("size-stretched", which=which, change=ratio - 1.0, comfort=SCALING_COMFORT)
        )
    if int(there.count) > 1:
        notes.append(WORDS.note("size-several-intersections"))
    if converter.limits != ConverterLimits():
        notes.append(WORDS.note("size-limits-dropped"))
    return notes
