"""Three curves, one of which is the pair's: to be told before it is shown."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from matplotlib.figure import Figure

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.lesson.predictions import (
    EFFICIENCY_CURVE,
    HEAT_CURVE,
    PULL_CURVE,
    Prediction,
)
from converter_match.judgement.match.result import MatchResult
from converter_match.physics.match.solver import match
from converter_match.present.drawing import style

_POINTS = 200


@dataclass(frozen=True)
class _Choice:
    """What is drawn: the true curve, what others believe, and where the letters stand."""

    x: FloatArray
    true: FloatArray
    others: tuple[FloatArray, FloatArray]
    names: tuple[str, str]
    at: tuple[float, float, float]
    caption: str


def which_curve(
    result: MatchResult, item: Prediction, *, font_scale: float = 1.0
) -> tuple[Figure, str] | None:
    """Draw three curves, named A, B and C, for a question that asks which is the right one.

    The others are what is often believed; no number of the true one can be read off them.

    Parameters
    ----------
    result : MatchResult
        Of a pair with a coupling point.
    item : Prediction
        Says which letter the right one has.
    font_scale : float

    Returns
    -------
    (Figure, str) or None
        The drawing with its caption, curves with the gids ``curve-A`` to ``curve-C``; None for a
        question without curves.

    Raises
    ------
    InputError
        If there is no coupling point.
    """
    if item.key not in _DRAWN:
        return None
    if result.converter.coupling is None:
        raise InputError("there is no coupling point", source=result.converter.id, field="stator")
    choice = _DRAWN[item.key](result)
    curves = list(choice.others)
    curves.insert(item.right, choice.true)
    figure = style.new_figure(6.4, 3.4)
    ax = figure.add_axes((0.11, 0.19, 0.85, 0.68))
    style.dress(ax, font_scale=font_scale)
    style.name_axes(ax, *choice.names, font_scale=font_scale)
    size = style.sizes(font_scale).label
    top = float(np.nanmax(curves))
    for name, stroke, values, at in zip("ABC", style.SERIES, curves, choice.at, strict=False):
        ax.plot(choice.x, values, gid=f"curve-{name}", **stroke.line())
        row = min(int(np.searchsorted(choice.x, at * choice.x[-1])), choice.x.size - 1)
        ax.annotate(
            name,
            (float(choice.x[row]), float(values[row])),
            fontsize=1.3 * size,
            family=style.FAMILY,
            color=stroke.word_color,
            weight="bold",
            ha="center",
            va="center",
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5},
        )
    ax.set_xlim(0.0, float(choice.x[-1]))
    ax.set_ylim(0.0, 1.05 * top)
    if item.key != EFFICIENCY_CURVE:
        # A scale would give away what questions with a number ask.
        ax.set_xticklabels([])
        ax.set_yticklabels([])
    return figure, choice.caption


def _grid(result: MatchResult) -> tuple[FloatArray, float]:
    corner = result.converter.coupling
    assert corner is not None
    last = min(result.converter.domain[1], 1.0)
    return np.union1d(np.linspace(0.0, last, _POINTS), [corner]), corner


def _efficiency(result: MatchResult) -> _Choice:
    """One other curve peaks at the coupling point; the last rises as without a stator."""
    nu, corner = _grid(result)
    true = nu * result.converter.torque_ratio_at(nu)
    top = float(true[nu <= corner].max())
    peaked = np.where(
        nu <= corner,
        top * np.sin(0.5 * np.pi * nu / corner),
        top * (1.0 - ((nu - corner) / (1.0 - corner)) ** 2),
    )
    return _Choice(
        nu, true, (peaked, nu), ("speed ratio (1)", "efficiency (1)"), (0.95, 0.55, 0.3),
        "Three curves; one is the efficiency of this converter.",
    )  # fmt: skip


def _pull(result: MatchResult) -> _Choice:
    """Beside it: multiplied alike up to the coupling point; what a clutch would pass."""
    nu, corner = _grid(result)
    points = match(result.supply, result.converter, nu).from_idle()
    known = np.isfinite(points.turbine_torque)
    speed, torque = points.turbine_speed[known], points.turbine_torque[known]
    stall, coupled = float(torque[0]), float(np.interp(corner, nu[known], torque))
    step = np.where(nu[known] <= corner, stall, torque)
    low, high = result.supply.domain
    clutch = np.full(speed.shape, np.nan)
    runs = (speed >= low) & (speed <= high)
    clutch[runs] = result.supply.torque(speed[runs])
    if not runs.any():
        clutch = np.full(speed.shape, coupled)
    return _Choice(
        speed, torque, (step, clutch),
        ("turbine speed", "turbine torque at full throttle"), (0.35, 0.75, 0.6),
        "Three curves; one is the turbine torque of this pair.",
    )  # fmt: skip


def _heat(result: MatchResult) -> _Choice:
    """Beside it: none at stall, where nothing turns behind; heat that grows with speed."""
    nu, corner = _grid(result)
    points = match(result.supply, result.converter, nu).from_idle()
    known = np.isfinite(points.heat)
    nu, heat = nu[known], points.heat[known]
    top = float(np.max(heat))
    arch = 0.8 * top * np.sin(np.pi * np.clip(nu / corner, 0.0, 1.0))
    growing = 0.7 * top * (nu / nu[-1]) ** 2
    return _Choice(
        nu, heat, (arch, growing), ("speed ratio (1)", "heat in the oil at full throttle"),
        (0.5, 0.3, 0.8), "Three curves; one is the heat that this pair puts into the oil.",
    )  # fmt: skip


_DRAWN: Mapping[str, Callable[[MatchResult], _Choice]] = {
    EFFICIENCY_CURVE: _efficiency,
    PULL_CURVE: _pull,
    HEAT_CURVE: _heat,
}
