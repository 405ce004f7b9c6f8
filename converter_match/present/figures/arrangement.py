"""One page of what an arrangement does: a row of two panels for each of its parts."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from matplotlib.figure import Figure

from converter_match.errors import InputError
from converter_match.judgement.arrangement.solve import ArrangedResult
from converter_match.present.drawing import style
from converter_match.present.figures.arrangement_drive import (
    divider_panels,
    lock_up_panels,
    stator_panels,
)
from converter_match.present.figures.arrangement_load import (
    braking_panels,
    part_load_panels,
    sharing_panels,
)
from converter_match.present.figures.arrangement_parallel import parallel_panels
from converter_match.present.figures.clutch_map import clutch_map
from converter_match.present.words.note_words import short_words
from converter_match.units import System

_PANELS: dict[str, Callable[..., Any]] = {
    "stator": stator_panels,
    "torque_divider": divider_panels,
    "lock_up": lock_up_panels,
    "impeller_clutch": clutch_map,
    "hydraulic_sharing": sharing_panels,
    "overrun": braking_panels,
    "part_load": part_load_panels,
    "parallel": parallel_panels,
}
_ROW = 3.6  # height of a row of panels [in]


def arrangement_figure(
    result: ArrangedResult, *, system: System = "si", font_scale: float = 1.0
) -> Figure:
    """Draw every part of an arrangement.

    Parameters
    ----------
    result : ArrangedResult
        Nothing is computed here that it does not know.
    system : {"si", "us"}
    font_scale : float

    Returns
    -------
    Figure
        Its label is the title; a row of two axes for each block of the result, in order.

    Raises
    ------
    InputError
        If there is nothing to draw, or the unit system or the font scale cannot be used.
    """
    blocks = [block for block in result.parts if block.detail is not None]
    if not blocks:
        raise InputError(
            "nothing to draw: the arrangement leaves the converter as it is",
            source=result.arrangement.id,
        )
    height = 1.5 + _ROW * len(blocks)
    figure = style.new_figure(11.0, height)
    assumed = short_words(result.match.assumptions) or "none"
    sources = "; ".join(
        f"{each.id}: {each.source}"
        for each in (result.match.engine, result.match.converter, result.arrangement)
    )
    bottom, top = style.frame(
        figure,
        (result.arrangement.name,),
        [f"{result.match.engine.name}  +  {result.match.converter.title}"],
        [f"Assumptions: {assumed}.", f"Sources: {sources}."],
        font_scale=font_scale,
    )
    grid = figure.add_gridspec(
        len(blocks),
        2,
        left=0.07,
        right=0.985,
        bottom=bottom + 0.5 / height,
        top=top - 0.55 / height,
        wspace=0.17,
        hspace=0.42,
    )
    for row, block in enumerate(blocks):
        axes = [figure.add_subplot(grid[row, column]) for column in range(2)]
        _PANELS[block.name](block.detail, axes=axes, system=system, font_scale=font_scale)
        size = style.sizes(font_scale)
        place = axes[0].get_position()
        figure.text(
            place.x0,
            place.y1 + 0.3 / height,
            block.title.split(",")[0].split(";")[0],
            gid=f"{block.name}-title",
            **style.words(size.axis, style.SLATE),
        )
    return figure
