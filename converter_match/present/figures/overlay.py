"""The match of an engine and a converter on one page: how they load each other, what comes out."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure

from converter_match.errors import InputError
from converter_match.judgement.conditions.air import site_note
from converter_match.judgement.match.result import MatchResult
from converter_match.present.drawing import style
from converter_match.present.figures.engine_panel import engine_panel
from converter_match.present.figures.turbine_panels import turbine_panels
from converter_match.present.words.note_words import short_words
from converter_match.units import System, note_text, show


def overlay(
    result: MatchResult,
    *,
    system: System = "si",
    speed_ratios: Sequence[float] | None = None,
    axes: Sequence[Axes] | None = None,
    font_scale: float = 1.0,
) -> Figure:
    """Draw the match: engine and absorption on the left, what the gearbox sees on the right.

    Parameters
    ----------
    result : MatchResult
        Nothing is computed here that it does not know.
    system : {"si", "us"}
        Units on every axis and label.
    speed_ratios : sequence of float, optional
        Of the absorption curves. By default 0, 0.2, 0.4, 0.6, 0.8, 0.95 and the coupling point, as
        far as there are data.
    axes : sequence of four Axes, optional
        Engine panel, turbine torque, efficiency, heat. Without them a page is made, with the names
        of both components, the torque basis and the site above and the sources below.
    font_scale : float
        Multiplies all letters.

    Returns
    -------
    Figure
        The gids of its artists are listed with `engine_panel` and `turbine_panels`.

    Raises
    ------
    InputError
        If the number of axes is not four, or a speed ratio, the unit system or the font scale
        cannot be used.
    """
    if axes is None:
        axes = _page(result, system, font_scale)
    if len(axes) != 4:
        raise InputError("needs four axes", field="axes", found=len(axes))
    left, *right = axes
    engine_panel(result, ax=left, system=system, speed_ratios=speed_ratios, font_scale=font_scale)
    turbine_panels(result, axes=right, system=system, font_scale=font_scale, explain=False)
    figure = left.get_figure()
    while isinstance(figure, SubFigure):
        figure = figure.figure
    assert figure is not None
    return figure


def _page(result: MatchResult, system: System, font_scale: float) -> list[Axes]:
    return page_axes(
        (result.engine.name, result.converter.title),
        [basis_words(result, system), site_words(result, system)],
        [flag_words(result), source_words(result)],
        font_scale,
    )


def page_axes(
    titles: Sequence[str], lines: Sequence[str], footnotes: Sequence[str], font_scale: float
) -> list[Axes]:
    """Return the axes of a page: engine, and beside it turbine torque, efficiency, heat."""
    # Larger letters need more room, or they would stand on each other.
    figure = style.new_figure(11.0, 7.2 * max(1.0, 0.2 + 0.8 * font_scale))
    bottom, top = style.frame(figure, titles, lines, footnotes, font_scale=font_scale)
    width, height = (float(value) for value in figure.get_size_inches())
    grid = figure.add_gridspec(
        3,
        2,
        width_ratios=(1.28, 1.0),
        height_ratios=(1.9, 1.15, 1.0),
        left=(0.2 + 0.42 * font_scale) / width,
        right=1.0 - 0.25 / width,
        bottom=bottom + (0.2 + 0.3 * font_scale) / height,
        top=top - (0.1 + 0.22 * font_scale) / height,
        wspace=0.15,
        hspace=0.32 * font_scale**0.5,
    )
    return [figure.add_subplot(grid[:, 0]), *(figure.add_subplot(grid[row, 1]) for row in range(3))]


def basis_words(result: MatchResult, system: System) -> str:
    """Return the torque basis: gross or net, by which standard, and what was deducted."""
    engine = result.engine
    standard = f" ({engine.rating_standard})" if engine.rating_standard else ""
    deducted = [item.name for item in engine.accessories]
    deducted += [] if engine.pumps is None else [engine.pumps.name]
    if result.hydraulic_torque:
        torque, unit = show(result.hydraulic_torque, "torque", system)
        deducted.append(f"hydraulics {torque:.0f} {unit}")
    return f"Torque basis: {engine.rating_basis} rating{standard}; deducted for net torque: " + (
        ", ".join(deducted) or "nothing"
    )


def site_words(result: MatchResult, system: System) -> str:
    """Return what air the engine breathes and what that does to its torque."""
    site = result.site
    text = "Site: not given; the engine runs in its reference air"
    if site.air is not None:
        text = f"Site: {note_text(site_note(site), system)}"
        pressure, pressure_unit = show(site.air.pressure, "pressure", system)
        warmth, warmth_unit = show(site.air.temperature, "temperature", system)
        text += f"; air {pressure:.1f} {pressure_unit}, {warmth:.0f} {warmth_unit}"
        text += f"; torque factor {site.torque_factor:.3f}"
    return text


def source_words(result: MatchResult) -> str:
    """Return where the numbers of both components come from."""
    engine, converter = result.engine.source, result.converter.source
    if engine == converter:
        return f"Source of both components: {engine}."
    return f"Source of the engine: {engine}. Source of the converter: {converter}."


def flag_words(result: MatchResult) -> str:
    """Return every assumption and warning in a few words; their sentences go with the result."""
    said = []
    for title, notes in (
        ("Assumed or estimated", result.assumptions),
        ("Warnings", result.warnings),
    ):
        if notes:
            said.append(f"{title}: {short_words(notes)}.")
    said = said or ["Nothing was assumed and there is no warning."]
    if result.alternatives:
        kind = (
            "estimated converter" if result.converter.estimated else "reading band of the converter"
        )
        said.append(f"Shaded: least and most that the {kind} may give.")
    if result.efficiency_without_load:
        said.append("Efficiency nears 100 % only as the load goes to nothing: not called its best.")
    return " ".join(said)
