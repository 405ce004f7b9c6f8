"""A loader's short cycle on one page: what each phase takes of time, and puts into the oil."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from converter_match.errors import InputError
from converter_match.judgement.haul.short_cycle import CycleResult
from converter_match.present.drawing import style
from converter_match.present.words.note_words import short_words
from converter_match.units import System, show, shown_text


def short_cycle_figure(
    result: CycleResult,
    *,
    system: System = "si",
    axes: Sequence[Axes] | None = None,
    font_scale: float = 1.0,
) -> Figure:
    """Draw time and heat of every phase as bars, in the order of the work.

    Parameters
    ----------
    result : CycleResult
    system : {"si", "us"}
    axes : sequence of two Axes, optional
        Time, heat into the transmission oil.
    font_scale : float

    Returns
    -------
    Figure
        The bars of the phases are patches with the gids ``time-N`` and ``heat-N``, N from 0.

    Raises
    ------
    InputError
        If the number of axes is not two, or the unit system or font scale cannot be used.
    """
    if axes is None:
        axes = _page(result, system, font_scale)
    if len(axes) != 2:
        raise InputError("needs two axes", field="axes", found=len(axes))
    phases = result.phases
    times = [run.time for run in phases]
    heat = [float(show(run.oil_heat, "energy", system)[0]) for run in phases]
    power = [show(run.oil_heat / run.time if run.time else 0.0, "power", system) for run in phases]
    panels = (
        ("time", times, "petrol", "time (s)", [f"{time:.1f}" for time in times]),
        (
            "heat",
            heat,
            "plum",
            style.axis_label("heat into the transmission oil", "energy", system),
            [f"{h:.0f}, mean {p:.0f} {unit}" for h, (p, unit) in zip(heat, power, strict=True)],
        ),
    )
    for ax, (gid, values, color, label, words) in zip(axes, panels, strict=True):
        style.dress(ax, font_scale=font_scale)
        ax.grid(visible=False, axis="y")
        _bars(ax, gid, values, color, words, style.sizes(font_scale).label)
        style.name_axes(ax, None, label, font_scale=font_scale)
    names = [f"{number}  {run.phase.name}" for number, run in enumerate(phases, 1)]
    axes[0].set_yticks(np.arange(len(names)), names)
    axes[1].set_yticks(np.arange(len(names)), [""] * len(names))
    for ax in axes:
        ax.set_ylim(len(names) - 0.4, -0.6)  # the first phase on top
        ax.tick_params(axis="y", length=0)
    return style.figure_of(axes[0])


def _bars(
    ax: Axes, gid: str, values: list[float], color: str, words: list[str], size: float
) -> None:
    bars = ax.barh(np.arange(len(values)), values, height=0.55, color=style.PALETTE[color])
    # Room on the right for the words of the longest bar.
    ax.set_xlim(0.0, 1.4 * max([*values, 1e-9]))
    for number, (bar, text) in enumerate(zip(bars, words, strict=True)):
        bar.set_gid(f"{gid}-{number}")
        ax.annotate(
            text,
            (values[number], number),
            xytext=(4.0, 0.0),
            textcoords="offset points",
            va="center",
            gid=f"{gid}-{number}-label",
            **style.words(size),
        )


def _page(result: CycleResult, system: System, font_scale: float) -> list[Axes]:
    height = 2.0 + 0.42 * len(result.phases) * font_scale
    figure = style.new_figure(10.0, height)
    warned = short_words(result.warnings)
    bottom, top = style.frame(
        figure,
        (result.cycle.name,),
        [
            f"{result.match.engine.name}  +  {result.match.converter.title}; {result.machine.name}",
            _words(result, system),
        ],
        [
            f"Warnings: {warned}." if warned else "No warnings.",
            f"Source of the cycle: {result.cycle.source}; of the machine: {result.machine.source}.",
        ],
        font_scale=font_scale,
    )
    longest = max(len(run.phase.name) for run in result.phases) + 3
    grid = figure.add_gridspec(
        1,
        2,
        left=(0.3 + 0.085 * longest * font_scale) / 10.0,
        right=1.0 - 0.3 / 10.0,
        bottom=bottom + (0.15 + 0.2 * font_scale) / height,
        top=top - (0.1 + 0.24 * font_scale) / height,
        wspace=0.12,
    )
    return [figure.add_subplot(grid[0, column]) for column in range(2)]


def _words(result: CycleResult, system: System) -> str:
    rate = result.expected.rate(result.production)
    said = [f"one cycle {result.time:.1f} s"]
    if rate is not None:
        said.append(f"{shown_text(rate, 'production', system)} to expect")
    mean, unit = show(result.oil_heat / result.time, "power", system)
    said.append(f"mean heat into the oil {mean:.0f} {unit}")
    if result.balance is not None:
        oil, degrees = show(result.balance, "temperature", system)
        said.append(f"oil temperature in continuous work {oil:.0f} {degrees}")
    return "; ".join(said)
