"""Converters tried on a route: what each takes and gives, side by side."""

from __future__ import annotations

import math
from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from converter_match.errors import InputError
from converter_match.judgement.sizing.trials import Trial, Trials
from converter_match.present.drawing import style
from converter_match.units import System, note_text
from converter_match.units.amounts import shown

_COLUMNS = (
    ("time", "route time, less is better", "time"),
    ("fuel", "fuel, less is better", "mass"),
    ("heat", "heat in the converter, less is better", "energy"),
    ("stall_torque", "turbine torque at stall, more is better", "torque"),
)


def trials_figure(
    trials: Trials,
    *,
    system: System = "si",
    axes: Sequence[Axes] | None = None,
    font_scale: float = 1.0,
) -> Figure:
    """Draw time, fuel, heat and stall torque of every trial, one row a converter.

    A full mark: no other that keeps the limits is at least as good in everything. An open one: it
    keeps the limits and is beaten. A cross: it breaks a limit.

    Parameters
    ----------
    trials : Trials
    system : {"si", "us"}
    axes : sequence of four Axes, optional
    font_scale : float
        Multiplies all letters.

    Returns
    -------
    Figure

    Raises
    ------
    InputError
        If the number of axes is not four.
    """
    if axes is None:
        axes = _page(trials, system, font_scale)
    if len(axes) != len(_COLUMNS):
        raise InputError("needs four axes", field="axes", found=len(axes))
    for column, ax in enumerate(axes):
        _panel(trials.trials, column, ax, system, font_scale)
    return style.figure_of(axes[0])


def _panel(rows: Sequence[Trial], column: int, ax: Axes, system: System, font_scale: float) -> None:
    name, title, amount = _COLUMNS[column]
    style.dress(ax, font_scale=font_scale)
    size = style.sizes(font_scale)
    stroke = style.SERIES[0]
    for row, trial in enumerate(rows):
        value = getattr(trial, name)
        if value is None:
            continue
        number = float(shown(value, amount, system)[0])
        if not trial.keeps:
            look = {"marker": "x", "markeredgecolor": style.PALETTE["brick"],
                    "markeredgewidth": 1.8}  # fmt: skip
        elif trial.best:
            look = {"marker": "o"}
        else:
            look = {"marker": "o", "markerfacecolor": "white", "markeredgecolor": stroke.color,
                    "markeredgewidth": 1.4}  # fmt: skip
        ax.plot([number], [row], gid=f"trial-{row}-{name}", **stroke.mark(**look))
    ax.set_ylim(len(rows) - 0.5, -0.5)
    low, high = ax.get_xlim()
    span = high - low if math.isfinite(high - low) and high > low else 1.0
    ax.set_xlim(low - 0.05 * span, high + 0.05 * span)
    ax.set_yticks(range(len(rows)))
    ax.set_yticklabels([trial.name for trial in rows] if column == 0 else [""] * len(rows))
    ax.xaxis.set_major_locator(MaxNLocator(nbins=4))
    unit = shown(0.0, amount, system)[1]
    head, _, tail = title.partition(",")
    ax.set_title(
        f"{head} ({unit}),\n{tail.strip()}", loc="left", **style.words(size.label, weight="bold")
    )


def _page(trials: Trials, system: System, font_scale: float) -> list[Axes]:
    count = len(trials.trials)
    figure = style.new_figure(12.0, max(3.6, 2.4 + 0.26 * count * font_scale))
    bottom, top = style.frame(
        figure,
        (f"Converters on the route: {trials.route}",),
        [" ".join(note_text(note, system) for note in trials.answer)],
        [
            "Full mark: no other that keeps the limits is at least as good in all four. Open mark: "
            "keeps the limits, but another is at least as good in all four. Cross: breaks a limit "
            "or does not complete the route.",
        ],
        font_scale=font_scale,
    )
    width, height = (float(value) for value in figure.get_size_inches())
    longest = max(len(trial.name) for trial in trials.trials)
    grid = figure.add_gridspec(
        1,
        4,
        left=(0.35 + 0.073 * longest * font_scale) / width,
        right=1.0 - 0.3 / width,
        bottom=bottom + 0.35 * font_scale / height,
        top=top - 0.48 * font_scale / height,
        wspace=0.12,
    )
    return [figure.add_subplot(grid[0, k]) for k in range(4)]
