"""What resists a machine, and what the ground lets its wheels pull.

With the slope angle a (grade = tan a, as on every site sheet) and the weight m g:

* resistance ``R = m g (c_r cos a + sin a) + rho c_d A v^2 / 2 + F_drag``;
* weight on driven wheels ``N = m g (s cos a +- (h / L) (sin a + dv/dt / g))``: climbing and
  speeding up move weight from the uphill to the downhill axle, by moments about a contact line;
* adhesion limit ``mu N``.

This is the one place where resistance is written: for one machine, for the steps of a route, for
the rows of a log and for many draws of what is not known exactly.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

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


def ground_shares(rolling_resistance: ArrayLike, grade: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return what the ground and the slope take of the weight: ``c_r cos a`` and ``sin a``.

    Parameters
    ----------
    rolling_resistance : array_like
        Force / weight.
    grade : array_like
        Rise / run; they broadcast.
    """
    angle = np.arctan(np.asarray(grade, dtype=np.float64))
    rolling = np.asarray(rolling_resistance, dtype=np.float64)
    return np.asarray(rolling * np.cos(angle)), np.asarray(np.sin(angle))


def grip_rate(
    level: FloatArray, whole: FloatArray, moved: float | FloatArray, need: FloatArray
) -> FloatArray:
    """Return the highest acceleration that the ground allows [m/s^2], all of a unit of mass.

    From ``mu N(a) = R + m a`` with ``mu N(a) = level + moved a``; they broadcast.

    Parameters
    ----------
    level : ndarray
        Adhesion limit at a steady speed [N/kg].
    whole : ndarray
        With everything on the driven wheels [N/kg].
    moved : float or ndarray
        What an acceleration adds to it, ``mu h / L`` [1].
    need : ndarray
        Resistance [N/kg].
    """
    left = 1.0 - np.asarray(moved, dtype=np.float64)
    # The pull grows faster than what it accelerates: to everything on the driven wheels.
    rate = np.where(left > 0.0, (level - need) / np.where(left > 0.0, left, 1.0), np.inf)
    # With everything on the driven wheels, or nothing.
    return np.asarray(np.clip(rate, -need, whole - need))


def grip_at(
    level: FloatArray, whole: FloatArray, moved: float | FloatArray, rate: FloatArray
) -> FloatArray:
    """Return the adhesion limit at an acceleration [N/kg]; they broadcast.

    Parameters
    ----------
    level, whole, moved
        As for `grip_rate`.
    rate : ndarray
        Acceleration [m/s^2].
    """
    return np.asarray(np.clip(level + moved * rate, 0.0, whole))


@dataclass(frozen=True)
class RoadLoad:
    """Resistance and adhesion of one machine in one load state on one surface.

    Mass, rolling resistance and air density may be arrays, which broadcast with the other
    arguments of the methods.

    Parameters
    ----------
    mass : float or ndarray
        [kg].
    rolling_resistance : float or ndarray
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
    air_density : float or ndarray
        [kg/m^3].
    running_drag : float or ndarray
        Force beside the ground's rolling resistance [N].
    """

    mass: float | FloatArray
    rolling_resistance: float | FloatArray
    traction: float | None = None
    driven_share: float = 1.0
    transfer: float = 0.0
    drag_area: float = 0.0
    air_density: float | FloatArray = field(kw_only=True)
    running_drag: float | FloatArray = 0.0

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

    def drawn(self, mass: FloatArray, rolling_resistance: FloatArray, air: FloatArray) -> RoadLoad:
        """Return the same for many draws, by a factor on each.

        Parameters
        ----------
        mass, rolling_resistance, air : ndarray, shape (n,)
            On the mass, the rolling resistance and the density of the air.
        """
        return replace(
            self,
            mass=self.mass * mass,
            rolling_resistance=self.rolling_resistance * rolling_resistance,
            air_density=self.air_density * air,
        )

    @property
    def weight(self) -> float | FloatArray:
        """Weight, m g [N]."""
        return self.mass * GRAVITY

    @property
    def air_factor(self) -> float | FloatArray:
        """Air drag / speed^2 [N.s^2/m^2]."""
        return 0.5 * self.air_density * self.drag_area

    def resistance(self, grade: ArrayLike, speed: ArrayLike) -> FloatArray:
        """Return the resistance [N] on a grade (rise / run) at a road speed [m/s]; broadcast."""
        v = np.asarray(speed, dtype=np.float64)
        rolling, climbing = ground_shares(self.rolling_resistance, grade)
        ground = self.weight * (rolling + climbing)
        return np.asarray(ground + self.air_factor * v * np.abs(v) + self.running_drag)

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

    def whole_adhesion(self, grade: ArrayLike) -> FloatArray:
        """Return the highest pull with everything on the driven wheels [N]; infinite as above."""
        weight = self.weight * np.cos(np.arctan(np.asarray(grade, dtype=np.float64)))
        return np.asarray(weight * (np.inf if self.traction is None else self.traction))

    def grip_rate(self, grade: ArrayLike, resistance: ArrayLike) -> FloatArray:
        """Return the highest acceleration that the ground allows [m/s^2]; broadcast.

        Accelerating moves weight as climbing does, so the pull that the ground allows grows or
        falls with what it gives: from ``mu N(a) = R + m a``,
        ``a = (mu N(0) - R) / (m (1 - mu h/L))``, as long as both axles press on the ground.

        Parameters
        ----------
        grade : array_like
            Rise / run.
        resistance : array_like
            At the speed in question [N].
        """
        if self.traction is None:
            return np.full(np.broadcast(grade, resistance).shape, np.inf)
        need = np.asarray(resistance, dtype=np.float64)
        angle = np.arctan(np.asarray(grade, dtype=np.float64))
        level = self.driven_share * np.cos(angle) + self.transfer * np.sin(angle)
        pull = self.traction * GRAVITY
        return grip_rate(
            pull * level,
            pull * np.cos(angle),
            self.traction * self.transfer,
            np.asarray(need / self.mass),
        )

    def steepest_by_adhesion(self) -> FloatArray:
        """Return the steepest grade (rise / run) that the driven wheels can climb from rest.

        From ``mu N = R`` at standstill: ``(mu s - c) cos a - (1 - mu h/L) sin a = F_drag / (m g)``.
        Infinite where traction is not known or the pull grows faster than the grade.
        """
        if self.traction is None:
            return np.full(np.shape(self.mass), np.inf)
        drag = np.asarray(self.running_drag / self.weight)
        rolling = np.asarray(self.rolling_resistance)
        moved = 1.0 - self.traction * self.transfer
        grade = _steepest(self.traction * self.driven_share - rolling, moved, drag)
        with np.errstate(invalid="ignore"):  # nothing is moved, to an infinite grade
            share = self.driven_share + self.transfer * grade
        # Beyond the grade on which the other axle lifts, the driven one carries everything; a
        # front axle does so downhill, where a machine ends whose grip is below its resistance.
        whole = (share > 1.0) & (self.transfer != 0.0)
        grade = np.where(whole, _steepest(self.traction - rolling, 1.0, drag), grade)
        # Nothing on the driven wheels: where it rolls by itself.
        return np.where(share < 0.0, _steepest(-rolling, 1.0, drag), grade)


def _steepest(a: FloatArray, b: float, drag: FloatArray) -> FloatArray:
    """Return tan x of the largest x with ``a cos x - b sin x = drag``; infinities where none."""
    size = np.hypot(a, b)
    with np.errstate(divide="ignore", invalid="ignore"):
        # a cos x - b sin x = size cos(x + phase), phase being the angle of (a, b)
        grade = np.tan(np.arccos(drag / size) - np.arctan2(b, a))
    grade = np.where(drag >= size, -np.inf, grade)
    return np.where((a >= drag) & (b <= 0.0), np.inf, grade)
