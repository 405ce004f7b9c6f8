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

from collections.abc import Callable
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
# Where to begin again, exit angle of the impeller, when from the shape's own nothing is found.
_IMPELLERS = np.radians((-10.0, -25.0, 20.0))
_STEPS, _STEP = 40, 1e-4
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

    def given(angles: FloatArray) -> FloatArray:
        shape = _angled(start, angles)
        free = coupling_speed_ratio(shape)
        return np.array([float(operate(shape, 0.0).torque_ratio), 1.0 if free is None else free])

    angles = _angles(start)
    for impeller in (angles[0], *_IMPELLERS):
        angles = _moved(given, np.array([impeller, *_angles(start)[1:]]), wanted)
        if np.max(np.abs(given(angles) - wanted)) < _NEAR:
            break
    shape, got = _angled(start, angles), given(angles)
    share = float(sheet.capacity_at(0.0)) / float(operate(shape, 0.0).capacity)
    area = shape.flow_area * share
    if np.max(np.abs(got - wanted)) > _NEAR or area >= _MOST_AREA * shape.profile_diameter**2:
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


def _moved(
    given: Callable[[FloatArray], FloatArray], first: FloatArray, wanted: FloatArray
) -> FloatArray:
    """Return angles that give what is wanted, or come nearest, by Newton's steps of least length.

    Three angles for two numbers: of all steps that would do, the shortest is taken. An angle at
    its bound stays there while the step would take it beyond.
    """
    low, high = np.radians(np.array(_ANGLES)).T
    angles = np.clip(first, low, high)
    miss = wanted - given(angles)
    for _ in range(_STEPS):
        if np.max(np.abs(miss)) < 1e-9:
            break
        slope = np.stack(
            [given(angles + _STEP * unit) - given(angles) for unit in np.eye(angles.size)], axis=1
        )
        step = np.linalg.lstsq(slope / _STEP, miss, rcond=None)[0]
        held = ((angles <= low) & (step < 0.0)) | ((angles >= high) & (step > 0.0))
        step = np.linalg.lstsq(np.where(held, 0.0, slope / _STEP), miss, rcond=None)[0]
        for share in 0.5 ** np.arange(8):  # shorter where the whole step overshoots
            tried = np.clip(angles + share * step, low, high)
            left = wanted - given(tried)
            if np.linalg.norm(left) < np.linalg.norm(miss):
                break
        else:
            break
        angles, miss = tried, left
    return angles


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
