"""A measured full-throttle run beside what the bench curve makes of it: fitted, then predicted."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from converter_match.curves import FloatArray
from converter_match.judgement.identify.full_throttle import TOLD, FirstGear, NextGear
from converter_match.present.drawing import style
from converter_match.units import System, show

_SEEN = style.Stroke("ink", "none", 0.0, "o")
_PALE = style.Stroke("sage", "none", 0.0, "o")
_FITTED = style.Stroke("petrol", (0.0, (6.0, 1.6, 1.2, 1.6)), 2.0, "")
_FORETOLD = style.Stroke("brick", "solid", 2.2, "")
_CURVE = 101


def measured_run_figure(
    result: NextGear, *, system: System = "si", font_scale: float = 1.0
) -> Figure:
    """Draw what the first gear says of driveline and engine, and the next gear predicted.

    Parameters
    ----------
    result : NextGear
    system : {"si", "us"}
    font_scale : float

    Returns
    -------
    Figure
        Gids: ``told``, ``not-told``, ``efficiency``; ``torque``, ``fitted-torque``; ``road-speed``,
        ``engine-speed`` and the same with ``predicted-`` before.
    """
    first = result.first
    figure = style.new_figure(10.0, 8.0)
    bottom, top = style.frame(
        figure,
        ["A measured run against the bench curve of its converter"],
        [
            "Dots are measured. Dash-dotted: fitted to the first gear. Solid: predicted, nothing "
            "of that gear in it but its reduction."
        ],
        [
            f"Driveline efficiency {first.efficiency:.2f}, scatter {first.scatter:.3f}. Predicted "
            f"within {100 * result.off[0]:.1f} % of road and {100 * result.off[1]:.1f} % of engine "
            "speed. Shaded: 0.01 of speed ratio is several percent of the torque.",
            f"Source: {first.run.source}",
        ],
        font_scale=font_scale,
    )
    width, height = (float(value) for value in figure.get_size_inches())
    grid = figure.add_gridspec(
        2,
        2,
        left=(0.3 + 0.45 * font_scale) / width,
        right=1.0 - 0.35 / width,
        bottom=bottom + (0.25 + 0.35 * font_scale) / height,
        top=top - (0.1 + 0.26 * font_scale) / height,
        hspace=0.42 * font_scale**0.5,
        wspace=0.22 * font_scale**0.5,
    )
    axes = [figure.add_subplot(grid[row, column]) for row in (0, 1) for column in (0, 1)]
    for ax in axes:
        style.dress(ax, font_scale=font_scale)
    _efficiency(axes[0], first, font_scale)
    _torque(axes[1], first, system, font_scale)
    run, rows = first.run, result.inside
    speed, engine = result.foretold
    _course(axes[2], (run.time, run.road_speed), (run.time[rows], speed), "road speed", "velocity",
            system, font_scale)  # fmt: skip
    _course(axes[3], (run.time, run.engine_speed), (run.time[rows], engine), "engine speed",
            "angular_speed", system, font_scale)  # fmt: skip
    return figure


def _efficiency(ax: Axes, first: FirstGear, font_scale: float) -> None:
    nu, share = first.run.speed_ratio, first.efficiencies
    told = first.told
    ax.set_xlim(0.0, 1.0)
    ax.set_ylim(0.0, 1.1 * float(np.nanmax(share)))
    ax.axvspan(TOLD[1], 1.0, color=style.PALETTE["mist"], alpha=0.7, zorder=0, gid="useless")
    ax.plot(nu[~told], share[~told], gid="not-told", **_PALE.mark(markersize=5.0))
    ax.plot(nu[told], share[told], gid="told", **_SEEN.mark(markersize=5.5))
    ax.plot(TOLD, np.full(2, first.efficiency), gid="efficiency", **_FITTED.line())
    name = "measured / bench-curve force (–)"
    style.name_axes(ax, "speed ratio (–)", name, font_scale=font_scale)
    look = style.letters(style.sizes(font_scale).label, _FITTED.word_color)
    style.label_line(ax, TOLD, np.full(2, first.efficiency), "mean: driveline efficiency",
                     near=0.5, side=-1, **look)  # fmt: skip


def _torque(ax: Axes, first: FirstGear, system: System, font_scale: float) -> None:
    rows = first.inside
    speed, torque = first.run.engine_speed[rows], first.torque[rows]
    across = np.linspace(speed.min(), speed.max(), _CURVE)
    fitted = first.torque_at(across)
    shown = [np.asarray(show(v, "torque", system)[0]) for v in (torque, fitted)]
    turns = [np.asarray(show(v, "angular_speed", system)[0]) for v in (speed, across)]
    ax.set_ylim(0.0, 1.25 * float(max(part.max() for part in shown)))
    ax.plot(turns[0], shown[0], gid="torque", **_SEEN.mark(markersize=5.5))
    ax.plot(turns[1], shown[1], gid="fitted-torque", **_FITTED.line())
    name = style.axis_label("engine torque, first gear", "torque", system)
    across_name = style.axis_label("engine speed", "angular_speed", system)
    style.name_axes(ax, across_name, name, font_scale=font_scale)
    look = style.letters(style.sizes(font_scale).label, _FITTED.word_color)
    style.label_line(ax, turns[1], shown[1], "cubic, fitted", near=0.5, side=-1, **look)


def _course(
    ax: Axes,
    measured: tuple[FloatArray, FloatArray],
    predicted: tuple[FloatArray, FloatArray],
    what: str,
    amount: str,
    system: System,
    font_scale: float,
) -> None:
    gid = what.replace(" ", "-")
    seen, told = (np.asarray(show(line[1], amount, system)[0]) for line in (measured, predicted))
    ax.set_xlim(0.0, float(measured[0][-1]) + 0.5)
    ax.set_ylim(0.0, 1.15 * float(seen.max()))
    ax.plot(measured[0], seen, gid=gid, **_SEEN.mark(markersize=3.5, markeredgewidth=0.0))
    ax.plot(predicted[0], told, gid=f"predicted-{gid}", **_FORETOLD.line(zorder=7))
    style.name_axes(ax, "time (s)", style.axis_label(what, amount, system), font_scale=font_scale)
    look = style.letters(style.sizes(font_scale).label, _FORETOLD.word_color)
    style.label_line(ax, predicted[0], told, "predicted", near=0.6, side=-1, **look)
