"""How sure a study is: intervals of the figures, and what they depend on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.gridspec import GridSpec
from matplotlib.ticker import MaxNLocator

from converter_match.errors import InputError
from converter_match.judgement.uncertainty.result import (
    FIGURES,
    CombinationDraws,
    DrawnFigure,
    UncertaintyResult,
)
from converter_match.present.drawing import style
from converter_match.units import System, note_text, show

_SHOWN = ("stall-speed", "speed-at-80", "top-speed")
_ROWS = 6
_LEAST = 0.005


def uncertainty_figure(
    result: UncertaintyResult,
    *,
    names: Sequence[str] = _SHOWN,
    condition: str | None = None,
    combinations: Sequence[str] | None = None,
    system: System = "si",
    font_scale: float = 1.0,
) -> Figure:
    """Draw histograms of some figures over all combinations, and ranked shares below.

    Parameters
    ----------
    result : UncertaintyResult
    names : sequence of str
        Figures, as in `judgement.uncertainty.result.FIGURES`; those that were not drawn for any
        combination are left out.
    condition : str, optional
        The first without.
    combinations : sequence of str, optional
        Ids; all without.
    system : {"si", "us"}
    font_scale : float
        Multiplies all letters.

    Returns
    -------
    Figure

    Raises
    ------
    InputError
        If a figure has an unknown name, or none of them was drawn.
    """
    for name in names:
        if name not in FIGURES:
            raise InputError(
                "no such figure", field="names", found=name, expected=" | ".join(FIGURES)
            )
    chosen = [item for item in result.combinations
              if combinations is None or item.combination in combinations]  # fmt: skip
    there = [name for name in names if any(_figure_of(item, name, condition) for item in chosen)]
    if not there:
        raise InputError("nothing was drawn of these", field="names", found=", ".join(names))
    page, grid = _page(result, there, chosen, condition, system, font_scale)
    for column, name in enumerate(there):
        histograms(chosen, name, ax=page.add_subplot(grid[0, column]), condition=condition,
                   named=column == 0, system=system, font_scale=font_scale)  # fmt: skip
        shares(chosen, name, ax=page.add_subplot(grid[1, column]), font_scale=font_scale)
    return page


def _figure_of(item: CombinationDraws, name: str, condition: str | None) -> DrawnFigure | None:
    for one in item.figures:
        if one.name == name and condition in (None, one.condition) and one.counts.size:
            return one
    return None


def histograms(
    items: Sequence[CombinationDraws],
    name: str,
    *,
    ax: Axes,
    condition: str | None = None,
    named: bool = True,
    system: System = "si",
    font_scale: float = 1.0,
) -> Axes:
    """Draw how one figure spreads, a row for each combination, with median and 95 % interval."""
    style.dress(ax, font_scale=font_scale)
    size = style.sizes(font_scale)
    title, dimension, _ = FIGURES[name]
    said: list[tuple[int, float, str]] = []
    scale = {"angular_speed": ".0f", "velocity": ".1f", "weight_share": ".1f"}
    for row, item in enumerate(items):
        drawn = _figure_of(item, name, condition)
        stroke = style.series(row)
        if drawn is None:
            ax.text(0.5, row, "no answer", transform=ax.get_yaxis_transform(), ha="center",
                    **style.words(size.note, style.SLATE))  # fmt: skip
            continue
        edges = np.asarray(show(drawn.edges, dimension, system)[0])
        height = 0.72 * drawn.counts / drawn.counts.max()
        ax.fill_between(
            np.repeat(edges, 2)[1:-1], row + 0.05, row + 0.05 - np.repeat(height, 2),
            color=stroke.color, alpha=0.30, linewidth=0.0, gid=f"draws-{item.combination}-{name}",
        )  # fmt: skip
        ends = [float(show(v or 0.0, dimension, system)[0])
                for v in (drawn.low, drawn.middle, drawn.high)]  # fmt: skip
        ax.plot(ends[::2], [row + 0.05] * 2, color=stroke.color, linewidth=2.6,
                solid_capstyle="butt", gid=f"interval-{item.combination}-{name}")  # fmt: skip
        ax.plot(ends[1:2], [row + 0.05], **stroke.mark(markersize=6.0))
        form = scale.get(dimension, ".0f")
        words = " · ".join(format(value, form) for value in ends)
        if drawn.missing > 0.0:
            words += f"  (none in {100 * drawn.missing:.0f} %)"
        said.append((row, ends[1], words))
    ax.set_ylim(len(items) - 0.35, -0.85)
    ax.grid(visible=False, axis="y")
    ax.set_yticks(range(len(items)))
    labels = [style.folded(item.name, 22) if named else "" for item in items]
    ax.set_yticklabels(labels)
    ax.margins(x=0.16)
    low, high = ax.get_xlim()
    for row, middle, words in said:
        share = (middle - low) / (high - low)
        side = "left" if share < 0.25 else "right" if share > 0.75 else "center"
        at = {"left": max(middle - 0.12 * (high - low), low), "center": middle,
              "right": min(middle + 0.12 * (high - low), high)}[side]  # fmt: skip
        ax.annotate(words, (at, row + 0.12), ha=side, va="top",
                    **style.words(size.note, style.PALETTE["ink"]))  # fmt: skip
    ax.xaxis.set_major_locator(MaxNLocator(nbins=5))
    ax.set_title(
        style.axis_label(title, dimension, system), loc="left",
        **style.words(size.label, weight="bold"),
    )  # fmt: skip
    return ax


def shares(
    items: Sequence[CombinationDraws], name: str, *, ax: Axes, font_scale: float = 1.0
) -> Axes:
    """Draw which inputs make one figure uncertain: total shares, the largest first."""
    style.dress(ax, font_scale=font_scale)
    size = style.sizes(font_scale)
    known = [(item, dict(item.sensitivities).get(name)) for item in items]
    totals: dict[str, float] = {}
    for _, ranked in known:
        for one in ranked.shares if ranked else ():
            totals[one.name] = max(totals.get(one.name, 0.0), one.total)
    order = sorted(totals, key=lambda key: -totals[key])[:_ROWS]
    order = [key for key in order if totals[key] >= _LEAST]
    for k, (item, ranked) in enumerate(known):
        stroke = style.series(k)
        by_name = {one.name: one.total for one in ranked.shares} if ranked else {}
        shift = 0.16 * (k - 0.5 * (len(known) - 1))
        for row, key in enumerate(order):
            if key in by_name:
                value = 100.0 * min(max(by_name[key], 0.0), 1.0)
                ax.plot([0.0, value], [row + shift] * 2, color=stroke.color, linewidth=1.4,
                        solid_capstyle="butt")  # fmt: skip
                ax.plot([value], [row + shift], gid=f"share-{item.combination}-{name}-{key}",
                        **stroke.mark(markersize=5.5))  # fmt: skip
    if not order:
        ax.text(0.5, 0.5, "not ranked", transform=ax.transAxes, ha="center",
                **style.words(size.note, style.SLATE))  # fmt: skip
    ax.set_ylim(max(len(order), 1) - 0.45, -0.55)
    ax.set_yticks(range(len(order)))
    ax.set_yticklabels([key.replace("-", " ") for key in order])
    ax.grid(visible=False, axis="y")
    ax.set_xlim(0.0, 103.0)
    ax.xaxis.set_major_locator(MaxNLocator(nbins=5))
    ax.set_title("share of its variance (%)", loc="left", **style.words(size.label, weight="bold"))
    return ax


def _page(
    result: UncertaintyResult,
    names: Sequence[str],
    items: Sequence[CombinationDraws],
    condition: str | None,
    system: System,
    font_scale: float,
) -> tuple[Figure, GridSpec]:
    where = condition or (items[0].figures[0].condition if items and items[0].figures else "")
    page = style.new_figure(12.5, (2.9 + 0.85 * len(items) + 0.32 * _ROWS) * font_scale**0.5)
    bottom, top = style.frame(
        page,
        ("Uncertainty of the figures",),
        [
            f"{result.draws} draws within the tolerances; condition: {where}. Bar and numbers: "
            "2.5 % · 50 % · 97.5 % of the draws.",
        ],
        [
            "Below: share of the variance that each input causes, alone and together with others; "
            "the mark is that of the combination above.",
            *[
                note_text(note, system)
                for note in result.notes
                if note.code == "stall-speed-may-jump" and dict(note.values)["condition"] == where
            ][:2],
        ],
        font_scale=font_scale,
    )
    width, height = (float(value) for value in page.get_size_inches())
    grid = page.add_gridspec(
        2,
        len(names),
        height_ratios=(0.85 * len(items) + 0.2, 0.32 * _ROWS),
        left=(0.3 + 1.75 * font_scale) / width,
        right=1.0 - 0.3 / width,
        bottom=bottom + 0.35 * font_scale / height,
        top=top - 0.35 * font_scale / height,
        wspace=0.42,
        hspace=0.32,
    )
    return page, grid
