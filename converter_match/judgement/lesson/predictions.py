"""Questions of the kind higher, lower, or the same, to be answered before anything is shown.

Which answer is right is worked out for the pair; it is another one for another pair.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from converter_match.components.arrangement import Arrangement, Permissions
from converter_match.components.blading import BladingGeometry
from converter_match.judgement.arrangement.drive import StatorOut, stator_out
from converter_match.judgement.match.result import MatchResult
from converter_match.physics.arrangement.lockup import locked_points
from converter_match.physics.converter.stator import without_stator
from converter_match.physics.converter.velocity_triangles import velocity_triangles
from converter_match.physics.match.solver import match
from converter_match.physics.match.turbine_speed import match_at_turbine_speed
from converter_match.physics.stall.free_stator import PRACTICE, free_by_blades
from converter_match.units import System, show

# Values that differ by less are the same, as far as a class can see.
LEVEL = 0.005
TIGHTER, WEAKER = 1.10, 0.90
HIGHER_LOWER = ("higher", "lower", "the same")
CURVES = ("A", "B", "C")
EFFICIENCY_CURVE, PULL_CURVE, HEAT_CURVE = "which-efficiency", "which-pull", "which-heat"
_OUT = Arrangement(
    id="stator-out", name="stator out", source="asked", stator="none",
    permissions=Permissions(stator=True),
)  # fmt: skip


@dataclass(frozen=True)
class Prediction:
    """One question to be answered before anything is shown.

    Parameters
    ----------
    key, topic : str
    question : str
    options : tuple of str
    right : int
        Which of them is right for this pair.
    why : str
    """

    key: str
    topic: str
    question: str
    options: tuple[str, ...]
    right: int
    why: str

    @property
    def answer(self) -> str:
        """The option that is right."""
        return self.options[self.right]

    def verdict(self, chosen: int | None) -> str:
        """Return the answer, and how a choice compares with it."""
        said = f"Answer: {self.answer}."
        if chosen is None:
            return f"No prediction was made. {said}"
        return (
            f"You said {self.options[chosen]}: {'right' if chosen == self.right else 'no'}. {said}"
        )


def missing_stator(result: MatchResult) -> StatorOut:
    """Return the capacity at stall without the stator over that with it, and where it comes from.

    That of an arrangement with the stator taken out, so that lesson and answer are one story.

    Parameters
    ----------
    result : MatchResult
        Of a pair with a one-way stator.
    """
    return stator_out(result.converter, _OUT, None)


def predictions(
    result: MatchResult, *, blading: BladingGeometry | None = None, system: System = "si"
) -> tuple[Prediction, ...]:
    """Return the questions for a pair with a match at stall and at the coupling point.

    Parameters
    ----------
    result : MatchResult
    blading : BladingGeometry, optional
        Fitted to the converter's sheet; what the oil does is left out without.
    system : {"si", "us"}
    """
    return tuple(_all(result, blading, system))


def _all(
    result: MatchResult, blading: BladingGeometry | None, system: System
) -> Iterator[Prediction]:
    def say(value: float, dimension: str, form: str = ".0f") -> str:
        number, unit = show(value, dimension, system)
        return f"{number:{form}} {unit}"

    stall, coupling = result.stall, result.coupling
    assert stall is not None
    assert coupling is not None
    yield _no_stator(result, blading, say(stall.engine_speed, "angular_speed"), system)
    if blading is not None:
        at_stall = velocity_triangles(blading, 0.0, stall.engine_speed).triangles[1]
        yield Prediction(
            "oil-from-turbine",
            "stator",
            "At stall the turbine is held. Seen from outside, which way round does the oil leave "
            "it?",
            ("the way the impeller turns", "against it", "straight through"),
            0 if at_stall.swirl > 0 else 1,
            "By blades fitted to this sheet it leaves the turbine with a swirl of "
            f"{at_stall.swirl:+.1f} m/s. Against the impeller it would brake it; the stator turns "
            "it round.",
        )
    tight = match(result.supply, result.converter, 0.0, capacity_factor=TIGHTER).from_idle()
    yield _compared(
        "tighter-stall-speed",
        "stall",
        "Another converter takes a tenth more torque at every speed (it is tighter). Behind the "
        "same engine, its stall speed is",
        float(tight.engine_speed),
        stall.engine_speed,
        "The engine meets what the impeller takes sooner.",
        lambda value: say(value, "angular_speed"),
    )
    yield _compared(
        "tighter-pull",
        "stall",
        "And with that tighter converter, of the same torque ratio, the turbine torque at stall is",
        float(tight.turbine_torque),
        stall.turbine_torque,
        "The torque ratio is the same, so it pulls as much more or less as the engine gives at the "
        "new stall speed: where the engine's torque rises towards lower speed, more.",
        lambda value: say(value, "torque"),
    )
    weak = float(
        match(result.supply, result.converter, 0.0, torque_factor=WEAKER).from_idle().engine_speed
    )
    fall = 1.0 - weak / stall.engine_speed
    options = ("by 10 % or more", "by less than 10 %", "not at all, as far as one can read")
    yield Prediction(
        "weaker-reads",
        "stall",
        "The engine loses a tenth of its torque. The stall speed falls",
        options,
        2 if fall < LEVEL else 1 if fall < 0.1 else 0,
        f"By {100 * fall:.1f} %. The converter takes torque with the square of speed, so a stall "
        "test hides most of what an engine has lost.",
    )
    yield Prediction(
        PULL_CURVE,
        "stall",
        "The machine pulls away at full throttle. Which of the three curves is the turbine torque "
        "over the turbine speed?",
        CURVES,
        2,
        "It is greatest at stall and falls all the way: the faster the turbine, the less the "
        "stator has to turn round. There is no step, and below idle a clutch would give nothing.",
    )
    yield _engine_speed(result)
    best, corner = result.best_in_conversion, coupling.efficiency
    assert best is not None
    yield Prediction(
        EFFICIENCY_CURVE,
        "coupling-point",
        "Which of the three curves is the efficiency over the speed ratio?",
        CURVES,
        1,
        f"It rises to {best.efficiency:.3f} at speed ratio {best.speed_ratio:.2f} with the stator "
        f"held, is {corner:.3f} at the coupling point, and from there on it is the speed ratio.",
    )
    yield Prediction(
        HEAT_CURVE,
        "coupling-point",
        "Which of the three curves is the heat in the oil, at full throttle?",
        CURVES,
        0,
        "At stall all that the engine gives is heat, though nothing turns behind. What the turbine "
        "takes over as power no longer goes into the oil.",
    )
    yield _locked(result)
    yield Prediction(
        "seized-stall",
        "fixed-stator",
        "The one-way clutch of the stator has seized: it can no longer turn. The stall speed is",
        HIGHER_LOWER,
        2,
        "At stall the stator is held anyway, seized or not. It shows only past the coupling point.",
    )


def _no_stator(
    result: MatchResult, blading: BladingGeometry | None, with_it: str, system: System
) -> Prediction:
    out = missing_stator(result)
    speeds = [
        float(
            match(
                result.supply, without_stator(result.converter, stall_capacity_factor=factor), 0.0
            )
            .from_idle()
            .engine_speed
        )
        for factor in (out.factor, *out.band)
    ]
    assert result.stall is not None
    before = result.stall.engine_speed
    falls = [100 * (1 - speed / before) if np.isfinite(speed) else float("nan") for speed in speeds]
    if np.isfinite(falls[0]):
        low, high = sorted(falls[1:]) if np.isfinite(falls[1:]).all() else (falls[0], falls[0])
        number, unit = show(speeds[0], "angular_speed", system)
        what = (
            f"{number:.0f} {unit} instead of {with_it}: {falls[0]:.0f} % lower "
            f"({low:.0f} to {high:.0f} %)"
        )
    else:
        what = "the engine cannot hold it at idle any more"
    blades = ""
    if blading is not None:
        blades = (
            f" Blades fitted to this sheet say {free_by_blades(blading):.1f} times, without "
            "leakage; so there is no one factor for all converters."
        )
    return Prediction(
        "no-stator-stall",
        "fluid-coupling",
        "The stator is taken out of this converter, all else stays. The stall speed is",
        HIGHER_LOWER,
        1 if not np.isfinite(speeds[0]) or falls[0] > 100 * LEVEL else 2,
        "Lower: the oil comes back to the impeller turning against it, so the impeller takes "
        f"{out.factor:.1f} times the torque at the same speed ({out.band[0]:.1f} to "
        f"{out.band[1]:.1f}), by what the sheet shows where the stator freewheels and by the rule "
        f"of thumb that stall falls by a third (a factor of {PRACTICE:.2f}; common practice, no "
        f"source). Here: {what}.{blades}",
    )


def _engine_speed(result: MatchResult) -> Prediction:
    stall, coupling = result.stall, result.coupling
    assert stall is not None
    assert coupling is not None
    change = coupling.engine_speed / stall.engine_speed - 1.0
    return Prediction(
        "engine-speed-to-coupling",
        "coupling-point",
        "From stall to the coupling point the turbine goes from rest to most of the impeller's "
        "speed. Meanwhile the engine's speed",
        ("rises by a fifth or more", "changes by less than a fifth", "falls by a fifth or more"),
        0 if change >= 0.2 else 2 if change <= -0.2 else 1,
        f"It changes by {100 * change:+.0f} %: the converter, not the turbine, sets how fast the "
        "engine runs.",
    )


def _locked(result: MatchResult) -> Prediction:
    coupling = result.coupling
    assert coupling is not None
    speed = np.array([0.7 * coupling.turbine_speed])
    opened = float(match_at_turbine_speed(result.supply, result.converter, speed).turbine_torque[0])
    locked = float(locked_points(result.supply, speed).turbine_torque[0])
    question = (
        "At seven tenths of the turbine speed of the coupling point, the lock-up clutch closes at "
        "full throttle. The turbine torque is then"
    )
    if not np.isfinite(locked) or not np.isfinite(opened):
        return Prediction(
            "lock-up-pull",
            "lock-up",
            question,
            HIGHER_LOWER,
            1,
            "The engine would be pulled below idle: it gives nothing there.",
        )
    return Prediction(
        "lock-up-pull",
        "lock-up",
        question,
        HIGHER_LOWER,
        _which(locked, opened),
        f"By {100 * (locked / opened - 1):+.0f} %: the multiplication is gone, and the engine "
        "falls to the turbine's speed and gives what it has there.",
    )


def _which(new: float, old: float) -> int:
    if not np.isfinite(new):
        return 1
    return 2 if abs(new / old - 1.0) < LEVEL else 0 if new > old else 1


def _compared(
    key: str, topic: str, question: str, new: float, old: float, why: str, say: object
) -> Prediction:
    assert callable(say)
    shown = f" {say(new)} instead of {say(old)}." if np.isfinite(new) else " It no longer stalls."
    return Prediction(key, topic, question, HIGHER_LOWER, _which(new, old), why + shown)
