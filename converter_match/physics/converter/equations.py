"""Mean-streamline equations of a hydrodynamic circuit: torques, losses, energy.

One streamline through impeller, turbine and stator; each row leaves the fluid with the swirl

    V_i = omega_i R_i + (Q/A) tan(alpha_i),

so by angular momentum the torque that element i puts on the fluid is

    T_i = rho Q (R_i V_i - R_j V_j),    j the element upstream,

and round the circuit the torques sum to zero. What is lost: at each entry the sudden turn from the
incoming swirl to the blade's, and friction along the blades,

    shock     rho Q (C_i / 2) V_sh,i^2,  V_sh,i = R_j (omega_j - omega_i)
                                                + (Q/A) (tan alpha_j - tan alpha'_i),
    friction  rho Q (f / 2) (Q/A)^2 (1 + tan^2 alpha_i),

or, by a later form, friction once round the circuit, rho Q (f / 2) (Q/A)^2.

The circulating flow Q is the one at which the power put in equals the power lost (the energy
equation with its inertia terms left out: steady state). Form of the equations after D. Hrovat and
W. E. Tobler, J. Franklin Institute 319 (1985) 93-114 (second-hand; the torques from memory and
consistent with the energy equation given there). Both forms of the friction loss as quoted in an
open research code (second-hand); that the half belongs to the later one too is our reading.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.components.blading import BladeRow, BladingGeometry, FrictionForm
from converter_match.curves import FloatArray
from converter_match.errors import InputError


@dataclass(frozen=True)
class CircuitRow:
    """One row of the circuit in the direction of flow.

    Parameters
    ----------
    name : str
    exit_radius, entry_radius : float
        [m]; the entry radius is the exit radius of the row upstream.
    exit_tan, entry_tan : float
        Tangents of the blade angles, signed with the direction of flow.
    shock_factor : float
    """

    name: str
    exit_radius: float
    exit_tan: float
    entry_radius: float
    entry_tan: float
    shock_factor: float


@dataclass(frozen=True)
class Circuit:
    """The rows in the order the oil meets them, and what they share.

    Parameters
    ----------
    rows : tuple of CircuitRow
        Row k is fed by row k - 1, the first by the last.
    friction_factor, flow_area, density : float
        f [1], A [m^2], rho [kg/m^3].
    friction_form : {"each-element", "circuit"}
        As in `BladingGeometry`.
    """

    rows: tuple[CircuitRow, ...]
    friction_factor: float
    flow_area: float
    density: float
    friction_form: FrictionForm = "each-element"

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the rows in the direction of flow."""
        return tuple(row.name for row in self.rows)

    def upstream(self, k: int) -> int:
        """Return the index of the row that feeds row `k`."""
        return (k - 1) % len(self.rows)

    def friction(self, row: CircuitRow) -> float:
        """Return the factor of (Q/A)^2 / 2 lost in a row: along its blades, or its equal part."""
        if self.friction_form == "circuit":
            return self.friction_factor / len(self.rows)
        return self.friction_factor * (1.0 + row.exit_tan**2)


def circuit_of(geometry: BladingGeometry) -> Circuit:
    """Return the circuit of a blading, oil leaving the impeller at its outer radius.

    Parameters
    ----------
    geometry : BladingGeometry

    Raises
    ------
    InputError
        If there is a stator, and its blading or radius is missing.
    """
    radii = [geometry.impeller_exit_radius, geometry.turbine_exit_radius]
    blades: list[tuple[str, BladeRow]] = [
        ("impeller", geometry.impeller),
        ("turbine", geometry.turbine),
    ]
    if geometry.mounting != "none":
        # The component refuses a stator without its blading; this tells the type checker.
        if geometry.stator is None or geometry.stator_exit_radius is None:
            raise InputError("the stator's blading is missing", field="stator")
        radii.append(geometry.stator_exit_radius)
        blades.append(("stator", geometry.stator))
    rows = tuple(
        CircuitRow(
            name=name,
            exit_radius=radii[k],
            exit_tan=float(np.tan(blade.exit_angle)),
            entry_radius=radii[k - 1],
            entry_tan=float(np.tan(blade.entry_angle)),
            shock_factor=blade.shock_factor,
        )
        for k, (name, blade) in enumerate(blades)
    )
    return Circuit(
        rows,
        geometry.friction_factor,
        geometry.flow_area,
        geometry.oil_density,
        geometry.friction_form,
    )


def backward(circuit: Circuit) -> Circuit:
    """Return the circuit as oil meets it that flows the other way round, as in overrun.

    Every exit becomes an entry, and the swirl that a blade gives changes its sign against the flow.
    """
    rows = tuple(
        CircuitRow(
            name=row.name,
            exit_radius=row.entry_radius,
            exit_tan=-row.entry_tan,
            entry_radius=row.exit_radius,
            entry_tan=-row.exit_tan,
            shock_factor=row.shock_factor,
        )
        for row in (circuit.rows[0], *circuit.rows[:0:-1])
    )
    return replace(circuit, rows=rows)


def swirl_moments(
    circuit: Circuit, flow: ArrayLike, speeds: Sequence[ArrayLike]
) -> list[FloatArray]:
    """Return R V of each row's exit [m^2/s].

    Parameters
    ----------
    circuit : Circuit
    flow : array_like
        Q [m^3/s].
    speeds : sequence of array_like
        Speed of each row [rad/s], in the order of the circuit; broadcast with `flow`.
    """
    u = np.asarray(flow, dtype=np.float64) / circuit.flow_area
    return [
        np.asarray(row.exit_radius * (np.asarray(w) * row.exit_radius + u * row.exit_tan))
        for row, w in zip(circuit.rows, speeds, strict=True)
    ]


def element_torques(
    circuit: Circuit, flow: ArrayLike, speeds: Sequence[ArrayLike]
) -> tuple[FloatArray, ...]:
    """Return the torque each row puts on the fluid [N.m]; they sum to zero.

    Parameters
    ----------
    circuit, flow, speeds
        As in `swirl_moments`.
    """
    moments = swirl_moments(circuit, flow, speeds)
    mass_flow = circuit.density * np.asarray(flow, dtype=np.float64)
    return tuple(
        np.asarray(mass_flow * (moments[k] - moments[circuit.upstream(k)]))
        for k in range(len(circuit.rows))
    )


def shock_speeds(
    circuit: Circuit, flow: ArrayLike, speeds: Sequence[ArrayLike]
) -> tuple[FloatArray, ...]:
    """Return the sudden change of swirl at each row's entry [m/s].

    Parameters
    ----------
    circuit, flow, speeds
        As in `swirl_moments`.
    """
    u = np.asarray(flow, dtype=np.float64) / circuit.flow_area
    found = []
    for k, row in enumerate(circuit.rows):
        j = circuit.upstream(k)
        slip = np.asarray(speeds[j], dtype=np.float64) - np.asarray(speeds[k])
        found.append(
            np.asarray(row.entry_radius * slip + u * (circuit.rows[j].exit_tan - row.entry_tan))
        )
    return tuple(found)


def loss_powers(
    circuit: Circuit, flow: ArrayLike, speeds: Sequence[ArrayLike]
) -> tuple[FloatArray, FloatArray]:
    """Return shock and friction loss of each row [W], each of shape (rows, ...).

    Parameters
    ----------
    circuit, flow, speeds
        As in `swirl_moments`; the flow zero or more.
    """
    q = np.asarray(flow, dtype=np.float64)
    u = q / circuit.flow_area
    mass_flow = circuit.density * q
    shock = [
        0.5 * row.shock_factor * mass_flow * v * v
        for row, v in zip(circuit.rows, shock_speeds(circuit, q, speeds), strict=True)
    ]
    friction = [0.5 * circuit.friction(row) * mass_flow * u * u for row in circuit.rows]
    shape = np.broadcast_shapes(*(np.shape(loss) for loss in shock))
    return (
        np.array([np.broadcast_to(loss, shape) for loss in shock]),
        np.array([np.broadcast_to(loss, shape) for loss in friction]),
    )


def energy_residual(circuit: Circuit, flow: ArrayLike, speeds: Sequence[ArrayLike]) -> FloatArray:
    """Return what is left over in the energy equation, head put in less head lost [m^2/s^2].

    Per unit of mass flow, so that it does not vanish by itself with the flow. Above zero the
    circulating flow would grow, below zero it would die down.

    Parameters
    ----------
    circuit, flow, speeds
        As in `swirl_moments`.
    """
    u = np.asarray(flow, dtype=np.float64) / circuit.flow_area
    moments = swirl_moments(circuit, flow, speeds)
    shocks = shock_speeds(circuit, flow, speeds)
    head: FloatArray = np.zeros(())
    for k, row in enumerate(circuit.rows):
        head = head + np.asarray(speeds[k]) * (moments[k] - moments[circuit.upstream(k)])
        head = head - 0.5 * row.shock_factor * shocks[k] ** 2
        head = head - 0.5 * circuit.friction(row) * u * u
    return head


# A speed that goes with the flow in a straight line: (at rest, per meridional velocity).
Linear = tuple[FloatArray, FloatArray]


def energy_quadratic(
    circuit: Circuit, speeds: Sequence[Linear]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return a, b, c of the energy equation ``a u^2 + b u + c = 0`` in u = Q/A.

    With every speed a straight line in u (constant, or following the flow as a freewheeling stator
    does) the equation is a quadratic; the left side is head lost less head put in.

    Parameters
    ----------
    circuit : Circuit
    speeds : sequence of (array, array)
        Of each row: speed [rad/s] without flow, and its change with u [rad/m].
    """
    rows = circuit.rows
    moments: list[Linear] = [
        (row.exit_radius**2 * w0, row.exit_radius * (row.exit_radius * w1 + row.exit_tan))
        for row, (w0, w1) in zip(rows, speeds, strict=True)
    ]
    a: FloatArray = np.zeros(())
    b: FloatArray = np.zeros(())
    c: FloatArray = np.zeros(())
    for k, row in enumerate(rows):
        j = circuit.upstream(k)
        (w0, w1), (v0, v1) = speeds[k], speeds[j]
        m0, m1 = moments[k][0] - moments[j][0], moments[k][1] - moments[j][1]
        d = row.entry_radius * (v0 - w0)
        g = row.entry_radius * (v1 - w1) + rows[j].exit_tan - row.entry_tan
        shock = row.shock_factor
        a = a + 0.5 * (shock * g * g + circuit.friction(row)) - w1 * m1
        b = b + shock * d * g - (w0 * m1 + w1 * m0)
        c = c + 0.5 * shock * d * d - w0 * m0
    return a, b, c


def steady_flow(circuit: Circuit, speeds: Sequence[Linear]) -> FloatArray:
    """Return the meridional velocity u = Q/A [m/s] at which the energy equation is satisfied.

    Of two roots above zero the larger is returned: there the head left over falls as the flow
    rises, so the flow comes back after a disturbance. NaN where no oil circulates this way round.

    Parameters
    ----------
    circuit, speeds
        As in `energy_quadratic`.
    """
    a, b, c = energy_quadratic(circuit, speeds)
    with np.errstate(invalid="ignore", divide="ignore"):
        root = np.sqrt(b * b - 4.0 * a * c)  # NaN where there is no real root
        q = -0.5 * (b + np.copysign(root, b))  # no cancellation
        u = np.where(b >= 0, c / q, q / a)
    usable: NDArray[np.bool_] = np.isfinite(u) & (u > 0) & (a > 0)
    return np.where(usable, u, np.nan)
