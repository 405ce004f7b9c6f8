"""From pixels to numbers: the axes of a chart, straight or skewed, linear or logarithmic.

With (u, v) a pixel and f(x) the number or its logarithm, the axis is an affine map

    f(x) = a u + b v + c

found by least squares from the points given on it, and from the direction of the other axis: along
that the number does not change. So two points an axis are enough for a picture that is scaled,
turned or sheared (a page laid askew on the glass); more points average out the error of picking and
show what is left of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from converter_match.curves import FloatArray
from converter_match.errors import InputError

Scale = Literal["linear", "log"]
LEAST_ERROR = 0.5
"""A point is not picked better than to half a pixel."""


@dataclass(frozen=True)
class Axis:
    """One axis of a chart.

    Parameters
    ----------
    coefficients : (float, float, float)
        a, b, c of the equation above.
    scale : {"linear", "log"}
    residual : float
        Largest distance of a calibration point from the map [px].
    """

    coefficients: tuple[float, float, float]
    scale: Scale
    residual: float

    def value(self, pixels: FloatArray) -> FloatArray:
        """Return the numbers at pixels, shape (n, 2)."""
        a, b, c = self.coefficients
        found = a * pixels[:, 0] + b * pixels[:, 1] + c
        with np.errstate(over="ignore"):
            return np.asarray(10.0**found if self.scale == "log" else found)

    def per_pixel(self, values: FloatArray) -> FloatArray:
        """Return how far a number moves with a pixel, across the axis, at `values`."""
        slope = float(np.hypot(*self.coefficients[:2]))
        if self.scale == "log":
            return np.asarray(np.abs(values) * np.log(10.0) * slope)
        return np.full(np.shape(values), slope)


def calibrate(
    points: FloatArray,
    values: FloatArray,
    along_other: FloatArray,
    scale: Scale,
    field: str,
) -> Axis:
    """Return the axis through calibration points.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Pixels of points on this axis, two or more.
    values : ndarray, shape (n,)
        The numbers that stand at them.
    along_other : ndarray, shape (m, 2)
        Pixels of points along the other axis, two or more: this axis does not change along them.
    scale : {"linear", "log"}
    field : str
        What to call the axis in a message.

    Raises
    ------
    InputError
        If there are too few points, they fall together, or a number cannot be on the scale.
    """
    if len(points) < 2 or len(along_other) < 2:
        raise InputError(
            "needs two calibration points on each axis",
            field=field,
            found=f"{len(points)} on this one, {len(along_other)} on the other",
        )
    if scale == "log":
        if np.any(values <= 0):
            raise InputError(
                "a logarithmic axis has numbers above zero only",
                field=field,
                found=float(values[values <= 0][0]),
            )
        values = np.log10(values)
    if np.ptp(values) == 0:
        raise InputError("calibration points with the same number", field=field,
                         found=float(values[0]), expected="different numbers")  # fmt: skip
    span = float(np.abs(points - points[0]).max())
    if span < 2.0:
        raise InputError(
            "calibration points fall together",
            field=field,
            found=f"{span:.1f} px apart",
            expected="points far apart on the axis",
        )
    on = np.column_stack([points, np.ones(len(points))])
    steps = along_other[1:] - along_other[0]
    across = np.column_stack([steps, np.zeros(len(steps))])
    matrix = np.concatenate([on, across])
    right = np.concatenate([values, np.zeros(len(steps))])
    # Centred and scaled to be well conditioned whatever the size of the picture.
    centre, size = points.mean(axis=0), span
    matrix[: len(points), :2] = (points - centre) / size
    matrix[len(points) :, :2] = steps / size
    found, _, rank, _ = np.linalg.lstsq(matrix, right, rcond=1e-9)
    if rank < 3:
        raise InputError(
            "the two axes run the same way",
            field=field,
            expected="calibration points along two directions",
        )
    a, b = found[0] / size, found[1] / size
    c = found[2] - a * centre[0] - b * centre[1]
    slope = float(np.hypot(a, b))
    left = np.abs(points @ np.array([a, b]) + c - values)
    residual = float(left.max()) / slope
    return Axis((float(a), float(b), float(c)), scale, residual)
