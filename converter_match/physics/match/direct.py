"""A shaft without a converter: a motor coupled to the gearbox, through a reduction or without.

What the gearbox sees is the torque of the motor at its own speed, from standstill on: the same
curve as in lock-up drive, and no other.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from converter_match.components.converter import Converter
from converter_match.components.gear import LockUp
from converter_match.physics.match.turbine import AS_GIVEN, Drive, ShaftFactors, TurbineShaft


@dataclass(frozen=True, eq=False)
class DirectShaft(TurbineShaft):
    """Torque at a gearbox input that a motor is coupled to; drives on it are ``"lock-up"``.

    Parameters
    ----------
    supply : TorqueSupply
        At the gearbox input, from standstill: `physics.engine.motor.reduced`.
    factors : ShaftFactors
    """

    # There is none: whoever asks for it has taken this for a shaft behind a converter.
    converter: Converter = field(init=False, repr=False)
    factors: ShaftFactors = AS_GIVEN

    def drives(self, rule: LockUp) -> tuple[tuple[Drive, float, float], ...]:
        """Return the one drive of a gear; there is nothing to lock."""
        return (("lock-up", 0.0, 0.0),)
