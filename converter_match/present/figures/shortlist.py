"""What a catalogue search keeps: every other figure against the first that it is compared by."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from converter_match.errors import InputError
from converter_match.judgement.catalogue.result import Aim, Listed, Shortlist
from converter_match.present.drawing import style
from converter_match.present.drawing.callouts import label_points
from converter_match.units import System
from converter_match.units.amounts import shown

_BEST = style.Stroke("ink", "solid", 1.6, "o")
_OPEN = style.Stroke("ink", "solid", 1.6, "D")
_NAMED = 12
"""Combinations that are named below the figure."""


def shortlist_figure(
    shortlist: Shortlist, *, system: System = "si", font_scale: float = 1.0
) -> Figure:
    """Draw what is kept, a panel for each figure that it is compared by, over the first of them.

    Full marks with a number: no other is at least as good in everything. Hollow ones: another is;
    hollow squares on end: not compared, because a figure is not known, which leaves it out of a
    panel.

    Parameters
    ----------
    shortlist : Shortlist
    system : {"si", "us"}
    font_scale : float
        Multiplies all letters.

    Returns
    -------
    Figure
        Artists: ``best-KEY``, ``beaten-KEY``, ``open-KEY`` for each panel by its field of `Listed`.

    Raises
    ------
    InputError
        If nothing is kept, or fewer than two figures are known.
    """
    if len(shortlist.aims) < 2:
        raise InputError(
            "nothing to draw", field="shortlist", found=f"{len(shortlist.kept)} kept",
            expected="something kept, and two figures known of it",
        )  # fmt: skip
    first, *others = shortlist.aims
    front = shortlist.front
    named = front[:_NAMED]
    width, height = max(7.5, 4.2 * len(others)), 5.6 + 0.11 * len(named) * font_scale
    figure = style.new_figure(width, height)
    bottom, top = style.frame(
        figure,
        [shortlist.catalogue.name],
        [
            f"{shortlist.catalogue.count} combinations, {len(shortlist.kept)} kept, "
            f"{len(front)} not beaten (full marks){_not_compared(shortlist)}. "
            f"{_better(shortlist.aims)}"
        ],
        [_key(named, len(front))],
        font_scale=font_scale,
    )
    grid = figure.add_gridspec(
        1,
        len(others),
        left=0.8 * font_scale / width,
        right=1.0 - 0.25 / width,
        bottom=bottom + 0.6 * font_scale / height,
        top=top - 0.4 * font_scale / height,
        wspace=0.32 * font_scale,
    )
    for column, aim in enumerate(others):
        ax = figure.add_subplot(grid[0, column])
        _panel(ax, shortlist.kept, front, (first, aim), system, font_scale)
    return figure


def _panel(
    ax: Axes,
    kept: Sequence[Listed],
    front: Sequence[Listed],
    aims: tuple[Aim, Aim],
    system: System,
    font_scale: float,
) -> None:
    style.dress(ax, font_scale=font_scale)
    style.name_axes(ax, *(_axis(aim, system) for aim in aims), font_scale=font_scale)
    hollow = {"markerfacecolor": "white", "markeredgecolor": style.SLATE, "markeredgewidth": 1.2}
    for best, name, stroke in ((False, "beaten", _BEST), (None, "open", _OPEN)):
        placed = [_place(item, aims, system) for item in kept if item.best is best]
        known = [place for place in placed if place is not None]
        ax.plot(*_columns(known), gid=f"{name}-{aims[1].key}", **stroke.mark(**hollow))
    full = [(k, place) for k, item in enumerate(front, 1) if (place := _place(item, aims, system))]
    ax.plot(
        *_columns([place for _, place in full]), gid=f"best-{aims[1].key}",
        **_BEST.mark(),
    )  # fmt: skip
    size = style.sizes(font_scale)
    ax.margins(0.12)
    ax.autoscale_view()  # a number that stands near another mark would be taken for its name
    named = [(k, place) for k, place in full if k <= _NAMED]
    label_points(
        ax,
        [place for _, place in named],
        [str(k) for k, _ in named],
        [f"number-{k}-{aims[1].key}" for k, _ in named],
        **style.letters(size.label),
    )


def _place(item: Listed, aims: tuple[Aim, Aim], system: System) -> tuple[float, float] | None:
    values = [getattr(item, aim.key) for aim in aims]
    if None in values:
        return None
    x, y = (
        float(shown(value, aim.amount, system)[0]) if aim.amount else float(value)
        for value, aim in zip(values, aims, strict=True)
    )
    return x, y


def _columns(places: Sequence[tuple[float, float]]) -> tuple[list[float], list[float]]:
    return [x for x, _ in places], [y for _, y in places]


def _axis(aim: Aim, system: System) -> str:
    unit = shown(0.0, aim.amount, system)[1] if aim.amount else "–"
    return f"{aim.title} ({unit})"


def _not_compared(shortlist: Shortlist) -> str:
    if all(item.best is not None for item in shortlist.kept):
        return ""
    return "; squares on end are not compared, since one of their figures is not known"


def _better(aims: Sequence[Aim]) -> str:
    more = _listed([aim.title for aim in aims if aim.more])
    less = _listed([aim.title for aim in aims if not aim.more])
    said = [f"less {less} is better" if less else "", f"more {more} is better" if more else ""]
    text = "; ".join(part for part in said if part)
    return text[:1].upper() + text[1:] + "."


def _listed(titles: Sequence[str]) -> str:
    """Return titles as a sentence has them."""
    return " and ".join(part for part in (", ".join(titles[:-1]), *titles[-1:]) if part)


def _key(named: Sequence[Listed], count: int) -> str:
    """Return what the numbers mean, in one text."""
    parts = []
    for k, item in enumerate(named, 1):
        size = "" if item.diameter is None else f" scaled to {1000.0 * item.diameter:.0f} mm"
        more = [part for part in (item.driveline, item.site) if part]
        parts.append(f"{k}: {', '.join([item.engine, item.converter + size, *more])}")
    left = count - len(named)
    return "; ".join(parts) + (f"; and {left} more" if left else "") + "."
