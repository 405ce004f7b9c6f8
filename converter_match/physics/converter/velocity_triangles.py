"""Velocities at the exits of impeller, turbine and stator for one speed ratio.

At each exit the blade moves with u = omega R, the oil leaves along the blade (relative velocity W),
and the absolute velocity is V = u + W. The meridional velocity Q/A is the same everywhere. The row
that follows would take the oil in without loss if it came along its entry blade; the difference of
swirl is the shock velocity.
"""

from __future__ import annotations

from dataclasses import dataclass

from converter_match.components.blading import BladingGeometry, Mounting
from converter_match.errors import InputError
from converter_match.physics.converter.blading import BladingPoints, operate
from converter_match.physics.converter.equations import backward, circuit_of


@dataclass(frozen=True)
class Triangle:
    """Velocities where the oil passes from one row to the next [m/s]; tangential ones are signed.

    Parameters
    ----------
    row, next_row : str
        Row that the oil leaves, and row that it enters.
    radius : float
        Of the place [m].
    blade_speed : float
        u of the row left.
    meridional : float
        Q/A, above zero.
    swirl : float
        Tangential part of the absolute velocity V.
    next_blade_speed : float
        u of the row entered.
    next_swirl : float
        Tangential velocity at which the row entered would take the oil in without loss.
    """

    row: str
    next_row: str
    radius: float
    blade_speed: float
    meridional: float
    swirl: float
    next_blade_speed: float
    next_swirl: float

    @property
    def relative_swirl(self) -> float:
        """Tangential part of W, the velocity relative to the blade."""
        return self.swirl - self.blade_speed

    @property
    def shock(self) -> float:
        """Sudden change of swirl at the entry of the next row."""
        return self.swirl - self.next_swirl


@dataclass(frozen=True, eq=False)
class VelocityTriangles:
    """Triangles in the order in which the oil meets them, and the operation they belong to.

    Parameters
    ----------
    points : BladingPoints
        One point; per rad/s of the impeller.
    speed_ratio, impeller_speed : float
        [1], [rad/s].
    triangles : tuple of Triangle
    """

    points: BladingPoints
    speed_ratio: float
    impeller_speed: float
    triangles: tuple[Triangle, ...]


def velocity_triangles(
    geometry: BladingGeometry,
    speed_ratio: float,
    impeller_speed: float,
    *,
    mounting: Mounting | None = None,
) -> VelocityTriangles:
    """Return the velocity triangles of a blading at one speed ratio.

    Parameters
    ----------
    geometry : BladingGeometry
    speed_ratio : float
    impeller_speed : float
        [rad/s], above zero.
    mounting : str, optional
        How the stator is held, when not as in `geometry`.

    Raises
    ------
    InputError
        If the impeller stands still or no oil circulates at this speed ratio.
    """
    if not 0.0 < impeller_speed < float("inf"):
        raise InputError(
            "out of range",
            field="impeller_speed",
            found=impeller_speed,
            expected="a speed above zero, rad/s",
        )
    points = operate(geometry, float(speed_ratio), mounting=mounting)
    flow = float(points.flow)
    if flow == 0.0:
        raise InputError(
            "no oil circulates there, so there are no velocities to draw",
            field="speed_ratio",
            found=float(speed_ratio),
        )
    circuit = circuit_of(points.geometry)
    if flow < 0:
        circuit = backward(circuit)
    speeds = {
        "impeller": impeller_speed,
        "turbine": float(speed_ratio) * impeller_speed,
        "stator": float(points.stator_speed) * impeller_speed,
    }
    u = abs(flow) * impeller_speed / circuit.flow_area
    found = []
    for k, row in enumerate(circuit.rows):
        after = circuit.rows[(k + 1) % len(circuit.rows)]
        blade, next_blade = (speeds[name] * row.exit_radius for name in (row.name, after.name))
        found.append(
            Triangle(
                row=row.name,
                next_row=after.name,
                radius=row.exit_radius,
                blade_speed=blade,
                meridional=u,
                swirl=blade + u * row.exit_tan,
                next_blade_speed=next_blade,
                next_swirl=next_blade + u * after.entry_tan,
            )
        )
    return VelocityTriangles(points, float(speed_ratio), float(impeller_speed), tuple(found))
