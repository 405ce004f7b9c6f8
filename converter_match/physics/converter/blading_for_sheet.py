"""Blade angles of a converter whose sheet is known: stall torque ratio, capacity, coupling point.

A sheet does not say what the blades are like, and many bladings would give it. One of a known shape
is taken and changed as little as will do:

- every radius in proportion to the profile diameter, where the sheet gives it;
- exit angles of impeller, turbine and stator, as little as will do, until stall torque ratio and
  coupling point are the sheet's;
- flow area, until the capacity at stall is: with the speeds of the oil unchanged, torque goes with
  the mass flow, so C goes with the area exactly.

The rest of the two characteristics then differs by what the shape of the blades is worth.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from converter_match.components.blading import BladingGeometry
from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.notes import assumption
from converter_match.physics.converter.blading import coupling_speed_ratio, operate

# Exit angles of impeller, turbine and stator, in degrees: steeper blades are not cast (common
# practice, no source).
_ANGLES = ((-40.0, 40.0), (-75.0, -15.0), (15.0, 75.0))
_NEAR = 2e-3
# What an angle's move of 1 rad counts against a miss of 1 in torque ratio or coupling point.
_MOVE = 1e-3
_ROWS = 21
# Flow area over profile diameter squared: passed twice, outward and back, within the disc.
_MOST_AREA = 0.99 * np.pi / 8.0


@dataclass(frozen=True, eq=False)
class SheetFit:
    """A blading that agrees with a sheet at stall and at the coupling point.

    Parameters
    ----------
    geometry : BladingGeometry
    torque_ratio_off, capacity_off : float
        Largest difference from the sheet between stall and coupling point: absolute, and as a
        share of the capacity at stall.
    """

    geometry: BladingGeometry
    torque_ratio_off: float
    capacity_off: float


def blading_for_sheet(geometry: BladingGeometry, sheet: Converter) -> SheetFit:
    """Return a blading that gives the stall torque ratio, capacity and coupling point of a sheet.

    Parameters
    ----------
    geometry : BladingGeometry
        The shape to start from; with a stator.
    sheet : Converter
        With a one-way stator, stall and coupling point in its data.

    Returns
    -------
    SheetFit
        Its blading is an estimate and carries a note that says so.

    Raises
    ------
    InputError
        If the sheet lacks one of the three, or no such blades within usual angles give them.
    """
    from scipy.optimize import least_squares

    if sheet.stator != "one-way" or sheet.coupling is None or sheet.domain[0] > 0.0:
        raise InputError(
            "blades can be fitted to a sheet with a one-way stator, stall and coupling point",
            source=sheet.id,
            field="speed_ratio",
            found=f"stator {sheet.stator}, data from {sheet.domain[0]:.4g} to "
            f"{sheet.domain[1]:.4g}",
        )
    if geometry.stator is None:
        raise InputError("there is no stator to shape", source=geometry.id, field="stator")
    wanted = np.array([float(sheet.torque_ratio_at(0.0)), float(sheet.coupling)])
    start = _sized(geometry.mounted("one-way"), sheet.profile_diameter)
    bounds = np.radians(np.array(_ANGLES)).T
    first = np.clip(_angles(start), *bounds)

    def misses(angles: FloatArray) -> FloatArray:
        shape = _angled(start, angles)
        ratio = float(operate(shape, 0.0).torque_ratio)
        free = coupling_speed_ratio(shape)
        got = np.array([ratio, 1.0 if free is None else free])
        return np.append(got - wanted, _MOVE * (angles - first))

    found = least_squares(misses, first, bounds=tuple(bounds), diff_step=[1e-3], xtol=1e-6)
    shape = _angled(start, found.x)
    share = float(sheet.capacity_at(0.0)) / float(operate(shape, 0.0).capacity)
    area = shape.flow_area * share
    if np.max(np.abs(found.fun[:2])) > _NEAR or area >= _MOST_AREA * shape.profile_diameter**2:
        got = found.fun[:2] + wanted
        raise InputError(
            "blades of this shape do not give such a sheet",
            source=sheet.id,
            field="characteristic",
            found=f"torque ratio {wanted[0]:.3f} at stall, coupling point at {wanted[1]:.3f}",
            expected=f"something nearer to torque ratio {got[0]:.3f}, coupling point {got[1]:.3f}, "
            f"or a capacity {1 / share:.2f} times that of the sheet",
            hint="begin with another blading",
        )
    made = shape.replace(
        id=f"{geometry.id}-for-{sheet.id}",
        name=f"Blades for: {sheet.name}",
        flow_area=area,
        impeller_inertia=None,
        turbine_inertia=None,
        given_notes=(*geometry.given_notes, _NOTE),
    )
    nu = np.linspace(0.0, float(sheet.coupling), _ROWS)
    model, scale = operate(made, nu), float(sheet.capacity_at(0.0))
    return SheetFit(
        made,
        float(np.max(np.abs(model.torque_ratio - sheet.torque_ratio_at(nu)))),
        float(np.max(np.abs(model.capacity - sheet.capacity_at(nu)))) / scale,
    )


def _sized(geometry: BladingGeometry, diameter: float | None) -> BladingGeometry:
    """Return a blading of the same shape and another profile diameter."""
    size = 1.0 if diameter is None else diameter / geometry.profile_diameter
    radius = geometry.stator_exit_radius
    return geometry.replace(
        profile_diameter=size * geometry.profile_diameter,
        impeller_exit_radius=size * geometry.impeller_exit_radius,
        turbine_exit_radius=size * geometry.turbine_exit_radius,
        stator_exit_radius=None if radius is None else size * radius,
        flow_area=size**2 * geometry.flow_area,
    )


def _angles(geometry: BladingGeometry) -> FloatArray:
    """Return the exit angles of impeller, turbine and stator [rad]."""
    assert geometry.stator is not None
    rows = (geometry.impeller, geometry.turbine, geometry.stator)
    return np.array([row.exit_angle for row in rows])


def _angled(geometry: BladingGeometry, angles: FloatArray) -> BladingGeometry:
    """Return a blading with other exit angles."""
    assert geometry.stator is not None
    impeller, turbine, stator = angles.tolist()
    return geometry.replace(
        impeller=geometry.impeller.replace(exit_angle=impeller),
        turbine=geometry.turbine.replace(exit_angle=turbine),
        stator=geometry.stator.replace(exit_angle=stator),
    )


_NOTE = assumption(
    "blading-for-sheet",
    "The blades are an estimate: exit angles and flow area were moved until "
    " stall torque ratio, capacity at stall and coupling point are those of the sheet. Other "
    "blades would give them as well.",
)
