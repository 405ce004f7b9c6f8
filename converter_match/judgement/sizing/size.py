"""What size a converter must have for a wanted match: closed form through the capacity.

A match is ``T_net(omega) = C(nu) omega^2``, and similar converters share mu(nu) and the shape of
C(nu), so the one that puts the engine at a wanted speed at a speed ratio has

    C_wanted = T_net(omega) / omega^2,    factor = C_wanted / C(nu),
    D_wanted = D factor^(1/5),            K_wanted = K factor^(-1/2).

Nothing is searched for. What has to be checked afterwards is whether an engine that comes up from
idle gets there: `physics.match.solver` says.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from converter_match.components.base import in_rpm
from converter_match.components.converter import SCALING_COMFORT, Converter, ConverterLimits
from converter_match.components.engine import Engine
from converter_match.components.site import Site
from converter_match.errors import InputError
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.match.solve import solve
from converter_match.notes import Note, assumption
from converter_match.physics.engine.site_correction import site_effect
from converter_match.physics.engine.supply import TorqueSupply, engine_supply
from converter_match.physics.match.match_set import MatchSet
from converter_match.physics.match.solver import match
from converter_match.units import System, from_si, note_plain, note_text, quantity_note, show

End = Literal["lower", "upper"]
# A found size must give the wanted speed back within rounding.
_SAME = 1e-9


@dataclass(frozen=True, eq=False, kw_only=True)
class Size:
    """A converter made to give a wanted match, or the reason why there is none. SI units.

    Parameters
    ----------
    wanted : str
        What was asked for, in words.
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
    reason : str
        Why there is no such size; empty where there is one.
    notes : tuple of Note
        Of the sizing alone.
    """

    wanted: str
    speed_ratio: float
    engine_speed: float
    capacity_factor: float | None = None
    diameter: float | None = None
    diameter_ratio: float | None = None
    stall_k_factor: float | None = None
    converter: Converter | None = None
    result: MatchResult | None = None
    reason: str = ""
    notes: tuple[Note, ...] = ()

    @property
    def possible(self) -> bool:
        """Whether there is such a size."""
        return not self.reason

    @property
    def stretched(self) -> bool:
        """Whether the change of diameter is beyond what similarity is usually trusted for."""
        return any(note.code == "size-stretched" for note in self.notes)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data with the unit in each key."""
        k = self.stall_k_factor
        stall = self.result.stall if self.result else None
        return {
            "wanted": self.wanted,
            "possible": self.possible,
            "reason": self.reason or None,
            "speed_ratio": self.speed_ratio,
            "engine_speed_rpm": from_si(self.engine_speed, "rpm", "angular_speed"),
            "capacity_factor": self.capacity_factor,
            "diameter_ratio": self.diameter_ratio,
            "profile_diameter_mm": None if self.diameter is None else 1e3 * self.diameter,
            "stall_k_factor_rpm_per_sqrt_nm": (
                None if k is None else from_si(k, "rpm/sqrt(N.m)", "k_factor")
            ),
            "beyond_comfort": self.stretched,
            "stall": stall.to_dict() if stall else None,
            "notes": [note_plain(note) for note in self.notes],
        }

    def text(self, system: System = "si") -> str:
        """Return the answer in words, readable in a log."""
        lines = [self.wanted]
        if not self.possible:
            return "\n".join([*lines, f"  There is no such size: {self.reason}"])
        assert self.capacity_factor is not None
        assert self.stall_k_factor is not None
        k, unit = show(self.stall_k_factor, "k_factor", system)
        lines.append(f"  capacity x {self.capacity_factor:.4f}; K at stall {k:.1f} {unit}")
        if self.diameter is not None and self.diameter_ratio is not None:
            size, unit = show(self.diameter, "length", system)
            lines.append(
                f"  profile diameter {size:.{1 if system == 'si' else 2}f} {unit} "
                f"({100 * (self.diameter_ratio - 1):+.1f} %)"
            )
        lines += [f"  [{note.code}] {note_text(note, system)}" for note in self.notes]
        return "\n".join(lines)


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
        return converter.scaled(profile_diameter=converter.profile_diameter * factor**0.2)
    return converter.replace(
        capacity=converter.capacity * factor,
        limits=ConverterLimits(oil_temperature=converter.limits.oil_temperature),
        impeller_inertia=None,
        turbine_inertia=None,
        interface=(),
        given_notes=(
            *converter.given_notes,
            assumption(
                "scaled-by-capacity",
                f"Estimate: capacity multiplied by {factor:.4f}, assuming a geometrically similar "
                "converter with the same blading; its diameter is not known.",
            ),
        ),
    )


def size_for_speed(
    engine: Engine,
    converter: Converter,
    engine_speed: float,
    *,
    speed_ratio: float = 0.0,
    wanted: str | None = None,
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
    wanted : str, optional
        What is asked for, in words.
    site : Site, optional
    hydraulic_torque : float
        [N.m].

    Returns
    -------
    Size
        With a reason in words where there is no such size.

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
        f"{in_rpm(engine_speed)} at "
        + ("stall" if speed_ratio == 0.0 else f"speed ratio {speed_ratio:.3f}")
    )
    base: dict[str, Any] = {
        "wanted": asked,
        "speed_ratio": float(speed_ratio),
        "engine_speed": float(engine_speed),
    }
    reason = _out_of_reach(engine, supply, engine_speed)
    if not reason and now <= 0.0:
        reason = "the converter absorbs no torque at that speed ratio, whatever its size."
    if reason:
        return Size(**base, reason=reason)
    # C_wanted = T_net / omega^2: the whole of the sizing.
    factor = float(supply.torque(engine_speed)) / engine_speed**2 / now
    sized = with_capacity_factor(converter, factor)
    there = match(supply, sized, speed_ratio)
    reason = _not_reached(there, engine_speed)
    if reason:
        return Size(**base, reason=reason)
    return Size(
        **base,
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
    asked = f"{in_rpm(engine_speed)} at the {end} end of {100 * level:g} % efficiency"
    crossings = converter.efficiency_crossings(level)
    if not crossings.size or (end == "upper" and crossings.size < 2):
        best = converter.best_efficiency()[1]
        why = (
            f"the converter reaches at most {100 * best:.1f} % efficiency, whatever its size."
            if best < level
            else f"the data end before the efficiency falls below {100 * level:g} % again."
        )
        return Size(wanted=asked, speed_ratio=float("nan"), engine_speed=engine_speed, reason=why)
    return size_for_speed(
        engine,
        converter,
        engine_speed,
        speed_ratio=float(crossings[0 if end == "lower" else 1]),
        wanted=asked,
        site=site,
        hydraulic_torque=hydraulic_torque,
    )


def _out_of_reach(engine: Engine, supply: TorqueSupply, speed: float) -> str:
    """Say why no converter holds this engine at a speed; empty where one can."""
    low, high = supply.domain
    if speed < low:
        return (
            f"{in_rpm(speed)} is below {in_rpm(low)}, the lowest speed for which the engine's "
            "torque is known."
        )
    if speed > high:
        return f"{in_rpm(speed)} is above high idle ({in_rpm(high)}): the governor gives no torque."
    if float(supply.torque(speed)) <= 0.0:
        return (
            f"at {in_rpm(speed)} the engine has no torque left for the converter "
            f"(rated speed is {in_rpm(engine.rated_speed)}, high idle {in_rpm(engine.high_idle)})."
        )
    return ""


def _not_reached(there: MatchSet, speed: float) -> str:
    """Say why an engine coming up from idle does not settle at a match that is there."""
    reached = there.from_idle()
    if not bool(reached.found):
        return (
            "that converter absorbs more than the engine has at idle already: the engine does not "
            "pull away from idle, although there is a match higher up."
        )
    got = float(reached.engine_speed)
    if abs(got / speed - 1.0) <= _SAME:
        return ""
    speeds = there.points.engine_speed
    row = int(np.nanargmin(np.abs(speeds / speed - 1.0)))
    if not bool(there.points.stable[row]):
        return (
            f"the match at {in_rpm(speed)} is unstable (the engine's torque rises faster than "
            f"the converter's): an engine coming up from idle settles at {in_rpm(got)}."
        )
    return (
        f"an engine coming up from idle stops at {in_rpm(got)} already, where the same converter "
        f"absorbs all it has; {in_rpm(speed)} is reached from high idle only."
    )


def _notes(
    engine: Engine, converter: Converter, speed: float, ratio: float, there: MatchSet
) -> tuple[Note, ...]:
    notes = [
        assumption(
            "size-by-similarity",
            "Estimate: a geometrically similar converter, C ~ D^5 with the same blading and oil. "
            "Sizes are made in steps: solve again with the data of the one that can be bought.",
        )
    ]
    if abs(ratio - 1.0) > SCALING_COMFORT:
        word = "diameter" if converter.profile_diameter is not None else "equivalent diameter"
        notes.append(
            Note(
                "size-stretched",
                f"The {word} changes by {100 * (ratio - 1):+.1f} %: beyond about "
                f"{100 * SCALING_COMFORT:.0f} % (common practice) the similarity law is a stretch. "
                "Look for another family.",
            )
        )
    if int(there.count) > 1:
        notes.append(
            Note(
                "size-several-intersections",
                "With this size engine and converter agree at more than one speed: a small change "
                "of torque or capacity makes the engine jump.",
            )
        )
    if speed > engine.rated_speed * (1 + 1e-9):
        notes.append(
            quantity_note(
                "size-on-governor",
                "The wanted speed is above rated speed ({rated}), on the governed run-out: there "
                "a small error of speed is a large one of torque, and so of size.",
                rated=(engine.rated_speed, "angular_speed", ".0f"),
            )
        )
    if converter.limits != ConverterLimits():
        notes.append(
            assumption(
                "size-limits-dropped",
                "The converter's limits of torque, power and speed belong to the size they were "
                "stated for, and are not carried over.",
            )
        )
    return tuple(notes)
