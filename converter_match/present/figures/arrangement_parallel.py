"""Panels of two on one shaft: who gives what, and how fast the engines run."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from converter_match.curves import FloatArray
from converter_match.judgement.arrangement.parallel import ParallelRun
from converter_match.present.drawing import style
from converter_match.present.figures.arrangement_lines import Line, draw_lines, two_axes
from converter_match.units import System

_SHAFT = ("shaft speed", "angular_speed")
_WHAT = {"pairs": "pair", "engines": "engine", "converters": "converter"}


def parallel_panels(
    run: ParallelRun,
    *,
    axes: Sequence[Axes] | None = None,
    system: System = "si",
    font_scale: float = 1.0,
) -> tuple[Axes, Axes]:
    """Draw the torques of two on one shaft, and their engine speeds, over the shaft's speed.

    Parameters
    ----------
    run : ParallelRun
    axes : sequence of two Axes, optional
    system : {"si", "us"}
    font_scale : float

    Returns
    -------
    tuple of Axes
        Torque with the gids ``both``, ``first``, ``second``; of engines on one impeller the two are
        at the impeller. Engine speed: ``engine-1``, ``engine-2``.

    Raises
    ------
    InputError
        If the number of axes is not two, or the unit system or font scale cannot be used.
    """
    left, right = two_axes(axes)
    what = _WHAT[run.couples]
    at = ", at the impeller" if run.couples == "engines" else ""
    alike = [_alike(*run.parts), _alike(*run.engine_speeds[:2])]
    torques = [Line("both", "both, on the shaft", run.torque, style.SERIES[0], 0.3, 1)]
    for row, part in enumerate(run.parts):
        name = f"{what} {row + 1}{at}"
        if alike[0]:
            name = f"each {what}{at}" if row == 0 else ""
        gid, look = ("first", "second")[row], style.SERIES[row + 1]
        torques.append(Line(gid, name, part, look, 0.25 + 0.3 * row, 1 - 2 * row))
    speeds = []
    for row, values in enumerate(run.engine_speeds):
        name = f"engine {row + 1}" if len(run.engine_speeds) > 1 else "engine"
        if len(run.engine_speeds) > 1 and alike[1]:
            name = "each engine" if row == 0 else ""
        look = style.SERIES[row + 1]
        speeds.append(Line(f"engine-{row + 1}", name, values, look, 0.3, 1 - 2 * row))
    for ax, lines, quantity in (
        (left, torques, ("torque", "torque")),
        (right, speeds, ("engine speed", "angular_speed")),
    ):
        draw_lines(
            ax,
            run.speed,
            _SHAFT,
            lines,
            quantity,
            system=system,
            font_scale=font_scale,
            from_zero=ax is left,
        )
    return left, right


def _alike(*curves: FloatArray) -> bool:
    """Return whether curves lie on each other."""
    return bool(np.allclose(curves[0], curves[-1], rtol=1e-6, equal_nan=True))
