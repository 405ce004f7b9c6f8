"""What was understood of a sheet, drawn: the rows, the reading error, and what smoothing moved."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from converter_match.components.converter import Converter
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.library.intake.draft import Draft
from converter_match.library.intake.table import SheetColumn
from converter_match.present.drawing import style
from converter_match.present.figures.characteristic import characteristic
from converter_match.units import System, from_si, show

_ROLES = {
    "torque": "torque",
    "power": "power",
    "peak": "peak torque",
    "continuous": "continuous torque",
    "regenerative": "regenerative torque",
}
_HEAD = {"engine": "Engine, full load", "motor": "Electric motor"}


def draft_figure(draft: Draft, *, system: System = "si", font_scale: float = 1.0) -> Figure:
    """Draw a draft, so that a person can compare it with the sheet before accepting it.

    A converter is drawn as its characteristic, an engine as its full-load curve, a motor as its
    torques, from what the component would be if every proposal were agreed to. The subtitle says
    how many things are open.

    Parameters
    ----------
    draft : Draft
    system : {"si", "us"}
    font_scale : float

    Returns
    -------
    Figure

    Raises
    ------
    InputError
        If so little was understood that there is nothing to draw.
    """
    component = draft.trial()
    if isinstance(component, Converter):
        figure = characteristic(component, system=system, font_scale=font_scale)
        _mark_errors(draft, figure.axes, system)
        _mark_open(draft, figure, font_scale)
        return figure
    return _columns(draft, system, font_scale)


def _state(draft: Draft) -> str:
    count = len(draft.open)
    return f"{count} question{'s' if count != 1 else ''} open" if count else "no question is open"


def _mark_open(draft: Draft, figure: Figure, font_scale: float) -> None:
    look = style.words(style.sizes(font_scale).subtitle, style.PALETTE["brick"], weight="bold")
    width, height = (float(value) for value in figure.get_size_inches())
    right, top = 1.0 - 0.25 / width, 1.0 - 0.42 / height
    figure.text(right, top, f"draft: {_state(draft)}", ha="right", va="top", gid="open", **look)


def _mark_errors(draft: Draft, axes: list[Axes], system: System) -> None:
    """Draw the reading error of a picture, and the points as they came where they were smoothed."""
    if draft.sheet is None:
        return
    nu = draft.sheet.one("speed_ratio")
    mu = draft.sheet.one("torque_ratio")
    stroke = style.SERIES[0]
    if nu is not None and mu is not None and mu.tolerance is not None:
        low, high = mu.values - mu.tolerance, mu.values + mu.tolerance
        axes[0].vlines(nu.si(), low, high, color=stroke.color, linewidth=1.6, gid="reading-error")
    if not draft.residuals or nu is None:
        return
    cross: dict[str, Any] = {"linestyle": "none", "marker": "x", "markersize": 6.0, "zorder": 7}
    before, _ = draft.residuals["torque ratio"]
    colour = style.PALETTE["brick"]
    axes[0].plot(nu.si(), before, color=colour, gid="as-given-torque-ratio", **cross)
    capacity, _ = draft.residuals["capacity"]
    with np.errstate(divide="ignore", invalid="ignore"):
        k = np.where(capacity > 0, capacity, np.nan) ** -0.5
    shown, _ = show(k, "k_factor", system)
    axes[2].plot(nu.si(), shown, color=colour, gid="as-given-capacity", **cross)
    grey = style.letters(style.sizes().label, style.PALETTE["brick"])
    style.place_words(axes[0], "× as on the sheet,\nbefore smoothing", near=(1.0, 0.9), **grey)


def _columns(draft: Draft, system: System, font_scale: float) -> Figure:
    table = draft.sheet
    speed = table.one("speed") if table is not None else None
    drawn = [c for c in (table.columns if table is not None else ()) if c.role in _ROLES and c.unit]
    if speed is None or not speed.unit or not drawn or not speed.values.size:
        raise InputError("nothing that could be drawn was understood", source=draft.source)
    figure = style.new_figure(8.0, 1.6 + 3.2 * len(drawn))
    lines = [f"as understood from {draft.source}", f"draft: {_state(draft)}"]
    bottom, top = style.frame(
        figure, [_HEAD.get(draft.kind, _HEAD["engine"])], lines, font_scale=font_scale
    )
    width, height = (float(value) for value in figure.get_size_inches())
    grid = figure.add_gridspec(
        len(drawn),
        1,
        left=0.7 / width,
        right=1.0 - 0.3 / width,
        bottom=bottom + 0.55 / height,
        top=top - 0.35 / height,
        hspace=0.35,
    )
    rpm, unit = show(speed.si(), "angular_speed", system)
    for row, column in enumerate(drawn):
        ax = figure.add_subplot(grid[row, 0])
        style.dress(ax, font_scale=font_scale)
        _draw(ax, np.asarray(rpm), column, draft, system)
        axis = style.axis_label(_ROLES[column.role], column.dimension, system)
        last = row == len(drawn) - 1
        style.name_axes(
            ax, f"{draft.kind} speed ({unit})" if last else None, axis, font_scale=font_scale
        )
        if column.role != "regenerative":
            ax.set_ylim(bottom=0.0)
    return figure


def _draw(ax: Axes, rpm: FloatArray, column: SheetColumn, draft: Draft, system: System) -> None:
    stroke = style.SERIES[0]
    values = np.asarray(show(column.si(), column.dimension, system)[0])
    if column.tolerance is not None:
        one = float(from_si(1.0, column.unit, column.dimension))
        band = np.asarray(show(column.tolerance / one, column.dimension, system)[0])
        ax.fill_between(rpm, values - band, values + band, color=style.PALETTE["mist"], gid="band")
        grey = style.letters(style.sizes().label, style.SLATE)
        style.label_line(ax, rpm, values - band, "uncertainty", near=0.5, gid="band-label", **grey)
    if column.role in draft.residuals:
        smooth = np.asarray(show(draft.residuals[column.role][1], column.dimension, system)[0])
        ax.plot(rpm, smooth, gid=f"{column.role}-smoothed", **stroke.line())
    else:
        ax.plot(rpm, values, gid=column.role, **stroke.line())
    ax.plot(rpm, values, gid=f"{column.role}-given", **stroke.mark(markersize=5.0))
    ax.margins(y=0.12)
