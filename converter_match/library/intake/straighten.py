"""A chart photographed from the side, made straight by the four corners of its frame.

A plane seen in perspective is mapped to a rectangle by a projective map (homography)

    x = (h1 u + h2 v + h3) / (h7 u + h8 v + 1),   y = (h4 u + h5 v + h6) / (h7 u + h8 v + 1)

whose eight numbers follow from four pairs of points (Hartley and Zisserman, Multiple View Geometry,
section 4.1; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from converter_match.curves import FloatArray
from converter_match.errors import InputError

SEEN = np.radians(0.6)
"""Two edges that should run alike and differ by more are seen from the side: a click is good to a
pixel or two, which over some hundred pixels is a third of this."""


@dataclass(frozen=True, eq=False)
class Straight:
    """The map from the pixels of a photograph to those of a straight picture of its frame.

    Parameters
    ----------
    matrix : ndarray, shape (3, 3)
    """

    matrix: FloatArray

    def pixels(self, pixels: FloatArray) -> FloatArray:
        """Return pixels of the straight picture, shape (n, 2)."""
        points = np.column_stack([pixels, np.ones(len(pixels))]) @ self.matrix.T
        return np.asarray(points[:, :2] / points[:, 2:])

    def stretch(self, pixels: FloatArray) -> FloatArray:
        """Return how many pixels of the straight picture one of the photograph is, at most."""
        here = self.pixels(pixels)
        across = self.pixels(pixels + np.array([1.0, 0.0])) - here
        down = self.pixels(pixels + np.array([0.0, 1.0])) - here
        return np.asarray(np.maximum(np.linalg.norm(across, axis=1), np.linalg.norm(down, axis=1)))


def straight_from(corners: Sequence[tuple[float, float]]) -> Straight:
    """Return the map that makes a frame straight.

    Parameters
    ----------
    corners : four of (column, row)
        Of the frame of the chart: upper left, upper right, lower right, lower left.

    Raises
    ------
    InputError
        If they are no four corners of a convex frame, in this order.

    Examples
    --------
    >>> flat = straight_from([(10.0, 10.0), (110.0, 20.0), (105.0, 90.0), (12.0, 80.0)])
    >>> bool(np.allclose(flat.pixels(np.array([[10.0, 10.0]])), 0.0, atol=1e-6))
    True
    """
    points = np.array(corners, dtype=np.float64)
    if points.shape != (4, 2):
        raise InputError("needs four corners", field="corners", found=len(points), expected="4")
    sides = np.roll(points, -1, axis=0) - points
    after = np.roll(sides, -1, axis=0)
    turns = sides[:, 0] * after[:, 1] - sides[:, 1] * after[:, 0]
    if not np.all(turns > 1.0):  # rows count downwards, so clockwise turns are above zero
        raise InputError(
            "are not the corners of a frame in order",
            field="corners",
            found=[list(map(float, each)) for each in corners],
            expected="upper left, upper right, lower right, lower left",
        )
    width = max(np.linalg.norm(sides[0]), np.linalg.norm(sides[2]))
    height = max(np.linalg.norm(sides[1]), np.linalg.norm(sides[3]))
    target = np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])
    rows, right = [], []
    for (u, v), (x, y) in zip(points, target, strict=True):
        rows += [[u, v, 1, 0, 0, 0, -x * u, -x * v], [0, 0, 0, u, v, 1, -y * u, -y * v]]
        right += [x, y]
    found = np.linalg.solve(np.array(rows), np.array(right))
    return Straight(np.append(found, 1.0).reshape(3, 3))


def apart(one: FloatArray, other: FloatArray) -> float:
    """Return the angle between two lines [rad], each given by points along it, shape (n, 2)."""
    directions = [each[-1] - each[0] for each in (one, other)]
    angles = [float(np.arctan2(each[1], each[0])) for each in directions]
    off = (angles[0] - angles[1]) % np.pi
    return min(off, np.pi - off)
