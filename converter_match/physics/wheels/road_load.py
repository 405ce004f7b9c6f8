"""What resists a machine, and what the ground lets its wheels pull.

With the slope angle a (grade = tan a, as on every site sheet) and the weight m g:

* resistance ``R = m g (c_r cos a + sin a) + rho c_d A v^2 / 2 + F_drag``;
* weight on driven wheels ``N = m g (s cos a +- (h / L) (sin a + dv/dt / g))``: climbing and
  speeding up move weight from the uphill to the downhill axle, by moments about a contact line;
* adhesion limit ``mu N``.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.gear import Direction
from converter_match.components.machine import Load, Machine
from converter_match.components.surface import Surface
from converter_match.constants import GAS_CONSTANT, GRAVITY
from converter_match.curves import FloatArray


def air_density(pressure: ArrayLike, temperature: ArrayLike) -> FloatArray:
    """Return the density of dry air [kg/m^3] at a pressure [Pa] and temperature [K] (ideal gas).

    Parameters
    ----------
    pressure, temperature : array_like
        [Pa], [K]; they broadcast.
    """
    return np.asarray(
        np.asarray(pressure, dtype=np.float64)
        / (GAS_CONSTANT * np.asarray(temperature, dtype=np.float64))
    )


@dataclass(frozen=True)
class RoadLoad:
    """Resistance and adhesion of one machine in one load state on one surface.

    Parameters
    ----------
    mass : float
        [kg].
    rolling_resistance : float
        Force / weight.
    traction : float or None
        Traction coefficient; None sets no limit.
    driven_share : float
        Share of the weight on driven wheels on the level.
    transfer : float
        Height of the centre of gravity / wheelbase, above zero where climbing loads the driven
        wheels, below zero where it relieves them; 0 when all are driven or nothing is known.
    drag_area : float
        Drag coefficient times frontal area [m^2].
    air_density : float
        [kg/m^3].
    running_drag : float
        Force beside the ground's rolling resistance [N].
    """

    mass: float
    rolling_resistance: float
    traction: float | None = None
    driven_share: float = 1.0
    transfer: float = 0.0
    drag_area: float = 0.0
    air_density: float = field(kw_only=True)
    running_drag: float = 0.0

    @classmethod
    def of(
        cls,
        machine: Machine,
        surface: Surface,
        *,
        load: Load = "empty",
        air_density: float,
        direction: Direction = "forward",
    ) -> RoadLoad:
        """Return the road load of a machine; in reverse, climbing loads the other axle."""
        balance = machine.balance
        share = balance.driven_share(load)
        transfer = balance.transfer(load)
        if balance.driven_axle == "all" or transfer is None:
            transfer = 0.0
        downhill = "rear" if direction == "forward" else "front"
        return cls(
            mass=machine.mass(load),
            rolling_resistance=surface.rolling_resistance,
            traction=surface.traction,
            driven_share=share,
            transfer=transfer if balance.driven_axle == downhill else -transfer,
            drag_area=machine.drag_area,
            air_density=air_density,
            running_drag=machine.running_drag,
        )

    @property
    def weight(self) -> float:
        """Weight, m g [N]."""
        return self.mass * GRAVITY

    def resistance(self, grade: ArrayLike, speed: ArrayLike) -> FloatArray:
        """Return the resistance [N] on a grade (rise / run) at a road speed [m/s]; broadcast."""
        angle = np.arctan(np.asarray(grade, dtype=np.float64))
        v = np.asarray(speed, dtype=np.float64)
        ground = self.weight * (self.rolling_resistance * np.cos(angle) + np.sin(angle))
        air = 0.5 * self.air_density * self.drag_area * v * np.abs(v)
        return np.asarray(ground + air + self.running_drag)

    def grade_held(self, force: ArrayLike, speed: ArrayLike) -> FloatArray:
        """Return the grade (rise / run) on which a force [N] just holds a speed [m/s]; broadcast.

        From ``c cos a + sin a = q``: ``a = arcsin(q / sqrt(1 + c^2)) - arctan c``, with q the force
        left after air and running drag over the weight. Infinite where the force exceeds any grade.
        """
        flat = self.resistance(0.0, speed) - self.weight * self.rolling_resistance
        q = (np.asarray(force, dtype=np.float64) - flat) / self.weight
        c = self.rolling_resistance
        sine = q / np.hypot(1.0, c)
        with np.errstate(invalid="ignore"):
            angle = np.arcsin(sine) - np.arctan(c)
        # A wall at 90 degrees and more: the force would lift the machine.
        return np.where(sine >= 1.0, np.inf, np.tan(angle))

    def driven_weight(self, grade: ArrayLike, acceleration: ArrayLike = 0.0) -> FloatArray:
        """Return the force between ground and driven wheels [N]; broadcast.

        Never below zero, and never more than the whole machine presses on the ground.
        """
        angle = np.arctan(np.asarray(grade, dtype=np.float64))
        rate = np.asarray(acceleration, dtype=np.float64) / GRAVITY
        on_wheels = self.driven_share * np.cos(angle) + self.transfer * (np.sin(angle) + rate)
        return np.asarray(self.weight * np.clip(on_wheels, 0.0, np.cos(angle)))

    def adhesion(self, grade: ArrayLike, acceleration: ArrayLike = 0.0) -> FloatArray:
        """Return the highest pull the ground allows [N]; infinite where traction is not known."""
        weight = self.driven_weight(grade, acceleration)
        if self.traction is None:
            return np.full(weight.shape, np.inf)
        return np.asarray(self.traction * weight)

    def steepest_by_adhesion(self) -> float:
        """Return the steepest grade (rise / run) that the driven wheels can climb from rest.

        From ``mu N = R`` at standstill: ``(mu s - c) cos a - (1 - mu h/L) sin a = F_drag / (m g)``.
        Infinite where traction is not known or the pull grows faster than the grade.
        """
        if self.traction is None:
            return float("inf")
        drag = self.running_drag / self.weight
        margin = self.traction * self.driven_share - self.rolling_resistance
        grade = _steepest(margin, 1.0 - self.traction * self.transfer, drag)
        share = self.driven_share + self.transfer * grade
        # Beyond the grade on which the other axle lifts, the driven one carries everything; a
        # front axle does so downhill, where a machine ends whose grip is below its resistance.
        if self.transfer != 0.0 and share > 1.0:
            grade = _steepest(self.traction - self.rolling_resistance, 1.0, drag)
        elif share < 0.0:  # nothing on the driven wheels: where it rolls by itself
            grade = _steepest(-self.rolling_resistance, 1.0, drag)
        return grade


def _steepest(a: float, b: float, drag: float) -> float:
    """Return tan x of the largest x with ``a cos x - b sin x = drag``; infinities where none."""
    size = float(np.hypot(a, b))
    if b <= 0.0 and a >= drag:
        return float("inf")
    if drag >= size:
        return -float("inf")
    # a cos x - b sin x = size cos(x + phase), phase being the angle of (a, b)
    return float(np.tan(np.arccos(drag / size) - np.arctan2(b, a)))
