"""From blade angles to a converter's characteristic: the steady mean-streamline model.

All torques go with the square of the speeds, so the model is solved once for an impeller speed of
1 rad/s: then the turbine's speed is the speed ratio nu, the impeller's torque is the capacity C and
the flow is Q / omega_impeller. Which way the stator is held decides the branch:

* fixed: its speed is zero, whatever its torque;
* free (a slipping one-way clutch): its torque is zero, its speed follows the flow;
* one-way: fixed while the oil pushes it backwards, free once the oil would push it forwards. The
  change, at which its torque passes zero, is the coupling point;
* none: the turbine feeds the impeller, a fluid coupling.

An estimate: one streamline, one loss model, no leakage, no gap, no flow deviation at the blades.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.components.blading import BladingGeometry, Mounting
from converter_match.components.converter import Converter
from converter_match.curves import FloatArray, frozen_array, real_roots_within
from converter_match.errors import InputError
from converter_match.notes import Note, assumption
from converter_match.physics.converter.equations import (
    Circuit,
    Linear,
    backward,
    circuit_of,
    element_torques,
    energy_quadratic,
    loss_powers,
    steady_flow,
)


@dataclass(frozen=True, eq=False)
class BladingPoints:
    """Steady operation at an impeller speed of 1 rad/s; arrays of one shape (...).

    Torques go with the square of the impeller speed, powers with its cube, flow and speeds with the
    speed itself. Where no oil circulates all are zero, and the torque ratio is NaN.

    Parameters
    ----------
    geometry : BladingGeometry
    speed_ratio : ndarray
    flow : ndarray
        Q [m^3/s] per rad/s; below zero where the oil flows backwards (overrun).
    stator_speed : ndarray
        Stator speed / impeller speed; zero for a coupling.
    impeller_torque, turbine_torque, stator_torque : ndarray
        Torque each row puts on the fluid [N.m/(rad/s)^2]; they sum to zero.
    shock_loss, friction_loss : ndarray
        [W/(rad/s)^3], all rows together.
    """

    geometry: BladingGeometry
    speed_ratio: FloatArray
    flow: FloatArray
    stator_speed: FloatArray
    impeller_torque: FloatArray
    turbine_torque: FloatArray
    stator_torque: FloatArray
    shock_loss: FloatArray
    friction_loss: FloatArray

    def __post_init__(self) -> None:
        for name in self.__dataclass_fields__:
            if name != "geometry":
                object.__setattr__(self, name, frozen_array(getattr(self, name)))

    @property
    def circulates(self) -> NDArray[np.bool_]:
        """Where oil circulates, forwards or backwards."""
        return np.asarray(self.flow != 0.0)

    @property
    def capacity(self) -> FloatArray:
        """C, torque the impeller takes from the engine [N.m/(rad/s)^2]."""
        return self.impeller_torque

    @property
    def performance_coefficient(self) -> FloatArray:
        """Lambda = C / (rho D^5) (VDI 2153)."""
        shape = self.geometry
        return np.asarray(self.capacity / (shape.oil_density * shape.profile_diameter**5))

    @property
    def torque_ratio(self) -> FloatArray:
        """Torque given to the turbine shaft / torque taken from the engine."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(-self.turbine_torque / self.impeller_torque)

    @property
    def efficiency(self) -> FloatArray:
        """Nu mu."""
        return np.asarray(self.speed_ratio * self.torque_ratio)

    @property
    def heat(self) -> FloatArray:
        """Power lost in the oil [W/(rad/s)^3]."""
        return np.asarray(self.shock_loss + self.friction_loss)

    @cached_property
    def stator_turns(self) -> NDArray[np.bool_]:
        """Where the stator freewheels."""
        return np.asarray(self.stator_speed != 0.0)


def operate(
    geometry: BladingGeometry, speed_ratio: ArrayLike, *, mounting: Mounting | None = None
) -> BladingPoints:
    """Return the steady operation of a blading at given speed ratios.

    Parameters
    ----------
    geometry : BladingGeometry
    speed_ratio : array_like
        Turbine / impeller speed, any shape. Where no oil circulates forwards it is tried backwards,
        which is how a coupling works in overrun (nu above 1). Just at nu = 1 there may be no flow
        either way.
    mounting : str, optional
        How the stator is held, when not as in `geometry`.

    Returns
    -------
    BladingPoints

    Raises
    ------
    InputError
        If a speed ratio is not finite or the mounting does not fit the geometry.

    Notes
    -----
    Element torques, losses and energy equation: see `physics.converter.equations`.
    """
    if mounting is not None:
        geometry = geometry.mounted(mounting)
    nu = np.asarray(speed_ratio, dtype=np.float64)
    if not np.all(np.isfinite(nu)):
        raise InputError("not finite", field="speed_ratio", expected="finite numbers")
    circuit = circuit_of(geometry)
    forward = _operated(geometry.mounting, circuit, nu)
    other = _operated(geometry.mounting, backward(circuit), nu)
    way = np.isfinite(forward["flow"])
    other["flow"] = -other["flow"]
    still = ~way & ~np.isfinite(other["flow"])
    # With friction above zero the head left over falls without bound as the flow rises; where it
    # has no zero it is negative throughout, so any flow dies down and no torque is passed on.
    chosen = {
        name: np.where(still, 0.0, np.where(way, forward[name], other[name])) for name in forward
    }
    return BladingPoints(geometry, nu, **chosen)


def coupling_speed_ratio(geometry: BladingGeometry) -> float | None:
    """Return the speed ratio at which the stator's torque passes zero, or None if it does not.

    There the stator stands still without being held: T_s = 0 with omega_s = 0 gives
    (Q/A) (R_s tan alpha_s - R_t tan alpha_t) = R_t^2 omega_t, so nu is proportional to Q/A; put
    into the energy equation this leaves a quadratic in Q/A, solved in closed form.

    Raises
    ------
    InputError
        If the geometry has no stator.
    """
    if geometry.mounting == "none":
        raise InputError("a fluid coupling has no stator and no coupling point", field="mounting")
    circuit = circuit_of(geometry)
    _, turbine, stator = circuit.rows
    turn = stator.exit_radius * stator.exit_tan - turbine.exit_radius * turbine.exit_tan
    if turn <= 0:
        return None  # the stator does not turn the oil forwards: no multiplication either
    per_flow = turn / turbine.exit_radius**2  # nu per Q/A
    one, zero = np.ones(()), np.zeros(())
    quadratic = energy_quadratic(circuit, [(one, zero), (zero, per_flow * one), (zero, zero)])
    for u in real_roots_within(np.array(quadratic, dtype=np.float64), 2.0 / per_flow):
        if u > 0:
            # Only a crossing on the branch the converter works on counts.
            at = operate(geometry, per_flow * u, mounting="fixed")
            if np.isclose(float(at.flow), u * circuit.flow_area, rtol=1e-6):
                return per_flow * u
    return None


def characteristic_from_blading(
    geometry: BladingGeometry,
    *,
    mounting: Mounting | None = None,
    lowest: float = 0.0,
    highest: float = 1.0,
    rows: int = 61,
) -> Converter:
    """Return the characteristic that the blading leads to: a `Converter`, labelled an estimate.

    Parameters
    ----------
    geometry : BladingGeometry
    mounting : str, optional
        How the stator is held, when not as in `geometry`: the same blading with a one-way, fixed,
        slipping (``free``) or no stator. A free stator gives torque ratio 1 like a coupling, and is
        labelled ``none`` in the result.
    lowest, highest : float
        Range of speed ratios to tabulate; below 0 the turbine turns backwards, above 1 it drives.
    rows : int
        Rows to tabulate, about; the coupling point is always one of them.

    Returns
    -------
    Converter

    Raises
    ------
    InputError
        If the range is empty, the rows are too few, or the impeller would take no torque at the
        lowest speed ratio.

    Notes
    -----
    The table ends where the form "torque ratio and capacity" ends: with a fixed stator where the
    turbine's torque changes sign, or in overrun where the flow turns round. Use `operate` there.
    """
    if mounting is not None:
        geometry = geometry.mounted(mounting)
    if not (np.isfinite(lowest) and np.isfinite(highest) and lowest < min(highest, 1.0)):
        raise InputError(
            "not a range of speed ratios",
            field="lowest, highest",
            found=f"{lowest:.6g} .. {highest:.6g}",
            expected="lowest below 1 and below highest",
        )
    if rows < 8:
        raise InputError("too few rows", field="rows", found=rows, expected="8 or more")
    coupling = None if geometry.mounting in ("free", "none") else coupling_speed_ratio(geometry)
    kink = coupling if geometry.mounting == "one-way" else None
    if kink is not None and not lowest < kink < min(highest, 1.0):
        kink = None
    points = operate(geometry, _grid(lowest, highest, kink, rows))
    nu, mu, capacity, notes = _tabulated(points)
    return Converter(
        id=geometry.id,
        name=f"{geometry.name} (estimated from blade angles)",
        source=f"mean-streamline estimate from: {geometry.source}",
        stator="none" if geometry.mounting == "free" else geometry.mounting,
        speed_ratio=nu,
        torque_ratio=mu,
        capacity=capacity,
        coupling_speed_ratio=kink if kink is not None and kink in nu[1:] else None,
        kinks=(1.0,) if 1.0 in nu[1:-1] else (),
        profile_diameter=geometry.profile_diameter,
        oil_density=geometry.oil_density,
        impeller_inertia=geometry.impeller_inertia,
        turbine_inertia=geometry.turbine_inertia,
        given_notes=(*geometry.given_notes, _estimate_note(geometry), *notes),
    )


def _estimate_note(geometry: BladingGeometry) -> Note:
    held = {
        "one-way": "a stator on a one-way clutch",
        "fixed": "a fixed stator",
        "free": "a stator that turns freely (a slipping one-way clutch)",
        "none": "no stator",
    }[geometry.mounting]
    return assumption(
        "estimated-from-blading",
        f"Estimate: torque ratio and capacity come from a mean-streamline model with {held}, not "
        "from a measurement. Good for trends and classes; do not buy parts on it.",
    )


def _grid(lowest: float, highest: float, kink: float | None, rows: int) -> FloatArray:
    """Speed ratios to tabulate, closer together towards 1, where the capacity falls like a root."""
    middle = kink if kink is not None else max(0.8, lowest + 0.5 * (min(highest, 1.0) - lowest))
    top = min(highest, 1.0)
    middle = min(middle, top)
    parts = [np.linspace(lowest, middle, max(rows // 2, 4))]
    share = np.linspace(0.0, 1.0, max(rows // 2, 4))[1:]
    if top > middle:
        parts.append(top - (top - middle) * (1.0 - share) ** 2)
    if highest > 1.0:
        parts.append(1.0 + (highest - 1.0) * share**2)
    return np.concatenate(parts)


def _tabulated(
    points: BladingPoints,
) -> tuple[FloatArray, FloatArray, FloatArray, tuple[Note, ...]]:
    """Rows that a table of torque ratio and capacity can hold, and a note on those it cannot."""
    nu, mu, capacity = points.speed_ratio, points.torque_ratio, points.capacity
    notes: list[Note] = []
    if points.geometry.mounting == "fixed":
        fit = (capacity > 0) & (mu >= 0)
        end = nu.size if fit.all() else int(np.argmin(fit))
        if end < nu.size:
            notes.append(
                Note(
                    "blading-table-ends",
                    f"With a fixed stator the table ends at speed ratio {nu[max(end - 1, 0)]:.4g}: "
                    "beyond it the turbine or the impeller torque changes sign or the flow turns "
                    "round.",
                )
            )
        keep = np.arange(nu.size) < end
    else:
        # Torque ratio 1 is reached through no flow at all; the rows without flow are one point.
        mu = np.where((nu >= 1.0) & ~points.circulates, 1.0, mu)
        idle = ~points.circulates & (nu != 1.0)
        keep = ~idle
        if idle.any():
            notes.append(
                Note(
                    "blading-no-flow",
                    f"No oil circulates between speed ratios {nu[idle].min():.4g} and "
                    f"{nu[idle].max():.4g}; the capacity is extrapolated to zero at 1.",
                    "assumption",
                )
            )
    if keep.sum() < 2 or not keep[0]:
        raise InputError(
            "the blading passes no torque at the lowest required speed ratio",
            source=points.geometry.id,
            field="speed_ratio",
            found=float(nu[0]),
        )
    return nu[keep], mu[keep], capacity[keep], tuple(notes)


def _operated(mounting: Mounting, circuit: Circuit, nu: FloatArray) -> dict[str, FloatArray]:
    """Operation with the oil going round as `circuit` has it; NaN where it does not."""
    if mounting == "none":
        return _state(circuit, nu, None)
    held = _state(circuit, nu, (np.zeros_like(nu), np.zeros_like(nu)))
    if mounting == "fixed":
        return held
    at = circuit.names.index("stator")
    stator, before = circuit.rows[at], circuit.rows[circuit.upstream(at)]
    # No torque: the swirl leaves as it came, R_s (R_s w_s + u tan a_s) = R_j (R_j w_j + u tan a_j).
    fed_by = nu if before.name == "turbine" else np.ones_like(nu)
    turn = before.exit_radius * before.exit_tan - stator.exit_radius * stator.exit_tan
    free = _state(
        circuit,
        nu,
        (
            (before.exit_radius / stator.exit_radius) ** 2 * fed_by,
            np.full_like(nu, turn / stator.exit_radius**2),
        ),
    )
    if mounting == "free":
        return free
    # The clutch can keep the stator from turning backwards, and nothing else: a branch counts only
    # where it asks for no more. (A rounding error either side of the coupling point is let pass.)
    with np.errstate(invalid="ignore"):
        holds = held["stator_torque"] >= 0
        freewheels = free["stator_speed"] >= -1e-9
    return {
        name: np.where(holds, held[name], np.where(freewheels, free[name], np.nan)) for name in held
    }


def _state(circuit: Circuit, nu: FloatArray, stator: Linear | None) -> dict[str, FloatArray]:
    """Solve for the flow with the stator's speed a straight line in it; impeller at 1 rad/s."""
    lines: dict[str, Linear] = {
        "impeller": (np.ones_like(nu), np.zeros_like(nu)),
        "turbine": (nu, np.zeros_like(nu)),
    }
    if stator is not None:
        lines["stator"] = stator
    u = steady_flow(circuit, [lines[name] for name in circuit.names])
    flow = u * circuit.flow_area
    speeds = [lines[name][0] + lines[name][1] * u for name in circuit.names]
    torques = dict(zip(circuit.names, element_torques(circuit, flow, speeds), strict=True))
    shock, friction = loss_powers(circuit, flow, speeds)
    return {
        "flow": flow,
        "stator_speed": dict(zip(circuit.names, speeds, strict=True)).get("stator", 0.0 * u),
        "impeller_torque": torques["impeller"],
        "turbine_torque": torques["turbine"],
        "stator_torque": torques.get("stator", 0.0 * u),
        "shock_loss": shock.sum(axis=0),
        "friction_loss": friction.sum(axis=0),
    }
