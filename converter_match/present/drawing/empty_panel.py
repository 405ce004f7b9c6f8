"""Axes on which nothing can be drawn, and why."""

from __future__ import annotations

from matplotlib.axes import Axes

from converter_match.present.drawing import style


def empty_panel(
    ax: Axes, why: str, *, x: str | None = None, y: str | None = None, font_scale: float = 1.0
) -> None:
    """Name the axes and write in their middle why they are empty.

    Parameters
    ----------
    ax : Axes
        Dressed already.
    why : str
    x, y : str, optional
        What would be drawn, with its unit.
    font_scale : float
    """
    style.name_axes(ax, x, y, font_scale=font_scale)
    ax.set_yticks([])
    ax.text(
        0.5,
        0.5,
        why,
        transform=ax.transAxes,
        ha="center",
        va="center",
        gid="why-empty",
        **style.words(style.sizes(font_scale).label, style.SLATE),
    )
