"""A machine at its wheels on one page."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from converter_match.errors import InputError
from converter_match.judgement.conditions.air import site_note
from converter_match.judgement.wheels.result import TractiveResult
from converter_match.present.drawing import style
from converter_match.present.figures.tractive_panels import (
    effort_panel,
    gradeability_panel,
    heat_panel,
)
from converter_match.present.words.note_words import short_words
from converter_match.units import System, note_text, show


def tractive_figure(
    result: TractiveResult,
    *,
    system: System = "si",
    axes: Sequence[Axes] | None = None,
    font_scale: float = 1.0,
) -> Figure:
    """Draw tractive effort on the left, gradeability and heat on grades on the right.

    Parameters
    ----------
    result : TractiveResult
    system : {"si", "us"}
    axes : sequence of three Axes, optional
        Effort, gradeability, heat; without them a page is made.
    font_scale : float
        Multiplies all letters.

    Returns
    -------
    Figure

    Raises
    ------
    InputError
        If the number of axes is not three.
    """
    if axes is None:
        axes = _page(result, system, font_scale)
    if len(axes) != 3:
        raise InputError("needs three axes", field="axes", found=len(axes))
    panels = (effort_panel, gradeability_panel, heat_panel)
    for panel, ax in zip(panels, axes, strict=True):
        panel(result, ax=ax, system=system, font_scale=font_scale)
    return style.figure_of(axes[0])


def _page(result: TractiveResult, system: System, font_scale: float) -> list[Axes]:
    figure = style.new_figure(13.0, 7.8)
    match, surface = result.match, result.surface
    mass, unit = show(result.machine.mass(result.load), "mass", system)
    traction = "not known" if surface.traction is None else f"{surface.traction:.2f}"
    bottom, top = style.frame(
        figure,
        (f"{result.machine_words} ({mass:.0f} {unit})",),
        [
            f"{match.engine.name}; {match.converter.title}; {result.driveline.name}",
            f"Full throttle. Site: {note_text(site_note(match.site), system)}. "
            f"Surface: {surface.name}, "
            f"rolling resistance {100 * surface.rolling_resistance:.2f} % of weight, traction "
            f"coefficient {traction}.",
        ],
        [
            "Pulling up a grade says nothing about brakes or stability: the machine maker's limits "
            "and the rules of the site come first.",
            _flags(result),
        ],
        font_scale=font_scale,
    )
    width, height = (float(value) for value in figure.get_size_inches())
    grid = figure.add_gridspec(
        2,
        2,
        width_ratios=(1.45, 1.0),
        left=(0.3 + 0.42 * font_scale) / width,
        right=1.0 - 0.25 / width,
        bottom=bottom + (0.2 + 0.3 * font_scale) / height,
        top=top - (0.1 + 0.22 * font_scale) / height,
        wspace=0.13,
        hspace=0.38 * font_scale**0.5,
    )
    return [figure.add_subplot(grid[:, 0]), figure.add_subplot(grid[0, 1]),
            figure.add_subplot(grid[1, 1])]  # fmt: skip


def _flags(result: TractiveResult) -> str:
    said = []
    for title, kinds in (("Assumed", ("assumption",)), ("Warnings", ("warning", "limit"))):
        words = short_words(note for note in result.notes if note.kind in kinds)
        if words:
            said.append(f"{title}: {words}.")
    return " ".join(said) or "Nothing was assumed and there is no warning."
