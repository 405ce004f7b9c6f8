"""What readings made of what was believed: bands before and after."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from converter_match.errors import InputError
from converter_match.judgement.evidence.result import BeforeAfter, EvidenceResult
from converter_match.present.drawing import style
from converter_match.units import System
from converter_match.units.amounts import shown_text

_AMOUNTS = {"ratio": "weight_share"}
_LETTERS = 38  # of a row's name, before it is folded


def evidence_figure(
    result: EvidenceResult,
    *,
    names: Mapping[str, str] | None = None,
    condition: str | None = None,
    system: System = "si",
    font_scale: float = 1.0,
) -> Figure:
    """Draw the band of every figure before and after the readings, each about its middle before.

    Parameters
    ----------
    result : EvidenceResult
        Whose readings count.
    names : mapping of str to str, optional
        Combination id -> what to call it; its name without.
    condition : str, optional
        The first without.
    system : {"si", "us"}
    font_scale : float
        Multiplies all letters.

    Returns
    -------
    Figure

    Raises
    ------
    InputError
        If nothing is made of the readings, or there is no such condition.
    """
    if not result.accepted or not result.figures:
        raise InputError(
            "nothing is made of these readings: there is no before and after", field="result",
            found=result.refused or "no figure",
        )  # fmt: skip
    where = result.figures[0].before.condition if condition is None else condition
    rows = [item for item in result.figures if item.before.condition == where and _drawn(item)]
    if not rows:
        known = list(dict.fromkeys(item.before.condition for item in result.figures))
        raise InputError(
            "there is no such condition", field="condition", found=where,
            expected=" | ".join(known),
        )  # fmt: skip
    ax = _page(result, rows, where, font_scale)
    size = style.sizes(font_scale)
    for row, item in enumerate(rows):
        before, after = item.before, item.after
        middle = before.middle or 1.0
        for figure, width, color, gid in (
            (before, 9.0, style.PALETTE["mist"], "before"),
            (after, 3.0, style.PALETTE["ink"], "after"),
        ):
            ends = [100.0 * ((end or 0.0) / middle - 1.0) for end in (figure.low, figure.high)]
            ax.plot(ends, [row] * 2, color=color, linewidth=width, solid_capstyle="butt",
                    gid=f"{gid}-{item.combination}-{before.name}")  # fmt: skip
        place = 100.0 * ((after.middle or 0.0) / middle - 1.0)
        ax.plot([place], [row], marker="o", markersize=6.0, color=style.PALETTE["brick"],
                gid=f"middle-{item.combination}-{before.name}")  # fmt: skip
        ax.annotate(
            _said(item, system), (1.01, row), xycoords=ax.get_yaxis_transform(), va="center",
            annotation_clip=False, **style.words(size.note),
        )  # fmt: skip
    ax.set_yticks(range(len(rows)))
    called = names or {}
    ax.set_yticklabels([
        style.folded(f"{called.get(k.combination, k.name)}: {k.before.title}", _LETTERS)
        for k in rows
    ])  # fmt: skip
    ax.set_ylim(len(rows) - 0.4, -0.6)
    ax.grid(visible=False, axis="y")
    ax.xaxis.set_major_locator(MaxNLocator(nbins=7))
    ax.set_title(
        "change against the middle before (%)", loc="left",
        **style.words(size.label, weight="bold"),
    )  # fmt: skip
    return style.figure_of(ax)


def _drawn(item: BeforeAfter) -> bool:
    ends = (item.before.low, item.before.high, item.after.low, item.after.high)
    return bool(item.before.middle) and None not in ends


def _said(item: BeforeAfter, system: System) -> str:
    """Return the middle and the ends after the readings."""
    after, dimension = item.after, item.before.dimension
    amount = _AMOUNTS.get(dimension, dimension)
    ends = [shown_text(v or 0.0, amount, system, unit=False) for v in (after.low, after.high)]
    middle = shown_text(after.middle or 0.0, amount, system)
    return f"{middle} ({ends[0]} to {ends[1]})"


def _page(
    result: EvidenceResult, rows: Sequence[BeforeAfter], where: str, font_scale: float
) -> Axes:
    figure: Figure = style.new_figure(12.0, (1.9 + 0.36 * len(rows)) * font_scale**0.7)
    bottom, top = style.frame(
        figure,
        ("Before and after the readings",),
        [f"{len(result.readings)} readings; {where}. Wide and pale: 95 % of the draws before; "
         "narrow and dark: after, with the middle as a dot and the numbers at the right."],
        [],
        font_scale=font_scale,
    )  # fmt: skip
    width, height = (float(value) for value in figure.get_size_inches())
    grid = figure.add_gridspec(
        1,
        1,
        left=(0.3 + 2.7 * font_scale) / width,
        right=1.0 - 2.1 * font_scale / width,
        bottom=bottom + 0.3 * font_scale / height,
        top=top - 0.3 * font_scale / height,
    )
    ax = figure.add_subplot(grid[0, 0])
    style.dress(ax, font_scale=font_scale)
    return ax
