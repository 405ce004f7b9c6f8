"""A characteristic from a log as a figure: samples, curve with its band, and the sheet."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from converter_match.answer.block import Estimate
from converter_match.curves import FloatArray
from converter_match.judgement.identify.result import Identification, Node
from converter_match.present.drawing import style
from converter_match.units import System

_CURVE = style.Stroke("brick", "solid", 2.2, "o")
_SHEET = style.Stroke("ink", (0.0, (5.0, 1.8)), 1.7, "s")
_SCALE = 1e3  # C in thousandths of N.m/(rad/s)^2 has digits one can read


def identify_figure(
    result: Identification, *, system: System = "si", font_scale: float = 1.0
) -> Figure:
    """Draw the capacity, and below it the torque ratio where it is known, over the speed ratio.

    Parameters
    ----------
    result : Identification
    system : {"si", "us"}
        Without effect on ratios; the capacity is drawn in its SI unit.
    font_scale : float

    Returns
    -------
    Figure
        Artists worth finding have a gid: ``samples``, ``band`` (``band-alone`` at
        single nodes), ``curve``, ``sheet``, ``gap-N``.
    """
    del system
    both = any(node.torque_ratio is not None for node in result.nodes)
    figure = style.new_figure(9.0, 8.2 if both else 5.6)
    sheet = f" Compared with {result.basis_converter}." if result.basis_converter else ""
    bottom, top = style.frame(
        figure,
        ["Characteristic from the machine's log"],
        [
            f"{result.samples} steady stretches of {result.stretches}. Bands: "
            f"{100 * result.coverage:.0f} % at each speed ratio, scatter only.{sheet}"
        ],
        ["A torque signal that is wrong at every load alike scales the capacity, and no band here "
         "shows it. Shaded grey: not covered by the log."],
        font_scale=font_scale,
    )  # fmt: skip
    width, height = (float(v) for v in figure.get_size_inches())
    grid = figure.add_gridspec(
        2 if both else 1, 1,
        left=(0.3 + 0.5 * font_scale) / width, right=1 - 0.35 / width,
        bottom=bottom + (0.25 + 0.3 * font_scale) / height,
        top=top - (0.1 + 0.25 * font_scale) / height,
        hspace=0.3 * font_scale,
    )  # fmt: skip
    _panel(
        figure.add_subplot(grid[0, 0]), result, result.sample_capacity * _SCALE,
        [_scaled(node.capacity) for node in result.nodes],
        [None if n.sheet_capacity is None else n.sheet_capacity * _SCALE for n in result.nodes],
        "capacity C (10⁻³ N·m/(rad/s)²)", not both, font_scale,
    )  # fmt: skip
    if both:
        _panel(
            figure.add_subplot(grid[1, 0]), result, result.sample_torque_ratio,
            [node.torque_ratio for node in result.nodes],
            [node.sheet_torque_ratio for node in result.nodes],
            "torque ratio (–)", True, font_scale,
        )  # fmt: skip
    return figure


def _scaled(band: Estimate | None) -> Estimate | None:
    return None if band is None else Estimate(*(_SCALE * value for value in band))


def _panel(
    ax: Axes,
    result: Identification,
    samples: FloatArray,
    bands: list[Estimate | None],
    sheet: list[float | None],
    name: str,
    lowest: bool,
    font_scale: float,
) -> None:
    size = style.sizes(font_scale).label
    style.dress(ax, font_scale=font_scale)
    style.name_axes(ax, "speed ratio (–)" if lowest else None, name, font_scale=font_scale)
    nu = np.array([node.speed_ratio for node in result.nodes])
    rows = np.array([[np.nan] * 3 if band is None else band for band in bands])
    given = np.array([np.nan if value is None else value for value in sheet])
    most = np.nanmax(np.concatenate([rows.ravel(), given]))
    ax.set_xlim(-0.02, 1.0)
    ax.set_ylim(0.0, 1.15 * float(most))
    inside = np.isfinite(samples) & (samples > 0) & (samples < 1.15 * most)
    ax.plot(result.sample_nu[inside], samples[inside], linestyle="none", marker=".", markersize=2.5,
            color=style.PALETTE["sage"], alpha=0.7, gid="samples", zorder=1)  # fmt: skip
    for number, (left, right) in enumerate(_uncovered(result.nodes, bands)):
        ax.axvspan(left, right, color=style.PALETTE["mist"], alpha=0.7, zorder=0,
                   gid=f"gap-{number}")  # fmt: skip
    ax.fill_between(nu, rows[:, 1], rows[:, 2], color=_CURVE.color, alpha=0.25, linewidth=0,
                    gid="band")  # fmt: skip
    alone = np.isfinite(rows[:, 0])
    alone &= ~np.append(alone[1:], False) & ~np.append(False, alone[:-1])  # no area beside it
    ax.vlines(nu[alone], rows[alone, 1], rows[alone, 2], colors=_CURVE.color, linewidth=3.0,
              alpha=0.5, gid="band-alone")  # fmt: skip
    ax.plot(nu, rows[:, 0], gid="curve", **_CURVE.line(marker="o", markersize=3.5))
    if np.isfinite(given).any():
        ax.plot(nu, given, gid="sheet", **_SHEET.line())
    style.label_line(ax, nu, rows[:, 0], "from the log", near=0.25, side=1,
                     **style.letters(size, _CURVE.word_color))  # fmt: skip
    if np.isfinite(given).any():
        style.label_line(ax, nu, given, "sheet", near=0.6, side=-1,
                         **style.letters(size, _SHEET.word_color))  # fmt: skip


def _uncovered(nodes: tuple[Node, ...], bands: list[Estimate | None]) -> list[tuple[float, float]]:
    """Return stretches between covered nodes that hold an uncovered one."""
    gaps: list[tuple[float, float]] = []
    for k, band in enumerate(bands):
        if band is not None:
            continue
        left = nodes[max(k - 1, 0)].speed_ratio
        right = nodes[min(k + 1, len(nodes) - 1)].speed_ratio
        if gaps and gaps[-1][1] >= nodes[k].speed_ratio - 1e-12:
            gaps[-1] = (gaps[-1][0], right)
        else:
            gaps.append((left, right))
    return gaps
