"""Three curves, one of which is the converter's: to be told before it is shown."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.present.drawing import style

_POINTS = 200


def which_efficiency(converter: Converter, *, right: int = 1, font_scale: float = 1.0) -> Figure:
    """Draw three curves over the speed ratio, named A, B and C; one is the efficiency.

    One of the others peaks at the coupling point and falls, as is often believed; the last rises in
    a straight line, as without a stator.

    Parameters
    ----------
    converter : Converter
        With a coupling point.
    right : int
        Which of the three is the efficiency, counted from 0.
    font_scale : float

    Returns
    -------
    Figure
        Curves have the gids ``curve-A`` to ``curve-C``.

    Raises
    ------
    InputError
        If there is no coupling point.
    """
    corner = converter.coupling
    if corner is None:
        raise InputError("there is no coupling point", source=converter.id, field="stator")
    nu = np.union1d(np.linspace(0.0, min(converter.domain[1], 1.0), _POINTS), [corner])
    true = nu * converter.torque_ratio_at(nu)
    top = float(true[nu <= corner].max())
    curves: list[FloatArray] = [
        np.where(nu <= corner, top * np.sin(0.5 * np.pi * nu / corner), 0.0)
        + np.where(nu > corner, top * (1.0 - ((nu - corner) / (1.0 - corner)) ** 2), 0.0),
        nu,
    ]
    curves.insert(right, true)
    figure = style.new_figure(6.4, 3.4)
    ax = figure.add_axes((0.11, 0.16, 0.85, 0.78))
    style.dress(ax, font_scale=font_scale)
    style.name_axes(ax, "speed ratio (1)", "efficiency (1)", font_scale=font_scale)
    size = style.sizes(font_scale).label
    for name, stroke, values, at in zip(
        "ABC", style.SERIES, curves, (0.95, 0.55, 0.3), strict=False
    ):
        ax.plot(nu, values, gid=f"curve-{name}", **stroke.line())
        row = int(np.searchsorted(nu, at))
        ax.annotate(
            name,
            (float(nu[row]), float(values[row])),
            fontsize=1.3 * size,
            family=style.FAMILY,
            color=stroke.word_color,
            weight="bold",
            ha="center",
            va="center",
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5},
        )
    ax.set_xlim(0.0, 1.0)
    ax.set_ylim(0.0, 1.05)
    return figure
