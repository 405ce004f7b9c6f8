"""Parts of a report that put combinations side by side."""

from __future__ import annotations

from converter_match.answer.block import Block, Heading, row_of
from converter_match.judgement.decision.comparison import Change, Comparison, effort_lines
from converter_match.judgement.decision.run import StudyResult
from converter_match.present.drawing.style import figure_of, new_figure
from converter_match.present.figures.comparison import compared_efforts, letters
from converter_match.present.figures.overlay import overlay
from converter_match.present.figures.tractive_panels import effort_panel
from converter_match.present.figures.uncertainty import uncertainty_figure
from converter_match.present.report.blocks import report_table
from converter_match.present.report.model import Paragraph, Part, ReportPicture, Section, Subheading
from converter_match.study.study import PRESENT
from converter_match.units import System, note_text

_FEW = 4
_DRAWN = ("stall-speed", "top-speed")


def comparison_section(result: StudyResult, system: System) -> Section:
    """Return candidates beside today, in words and figure by figure."""
    comparison, names = result.comparison, letters(result)
    parts: list[Part] = []
    if result.study.present is not None:
        for item in result.candidates:
            title = f"{names[item.combination]}: {item.name}, against the present machine"
            parts.append(Subheading(text=title))
            parts += [
                Paragraph(text=f"{word}: {_changes(comparison, item.combination, judged, system)}.")
                for word, judged in _JUDGED
            ]
    ids = [name for name, _ in comparison.names]
    parts += [
        report_table(
            comparison.condition_table(condition, names), system, widths=(2.6, *(1.35 for _ in ids))
        )
        for condition in comparison.conditions
        if comparison.in_condition(condition)
    ]
    if comparison.gears:
        gears = comparison.gear_table(names)
        widths = (3.7, 0.6, *(1.2 for _ in gears.columns[2:]))
        parts.append(report_table(gears, system, widths=widths))
    return Section(title="Side by side", parts=tuple(parts), own_page=True)


_JUDGED: tuple[tuple[str, Change], ...] = (("Better", "better"), ("Worse", "worse"))


def _changes(comparison: Comparison, combination: str, judged: Change, system: System) -> str:
    notes = comparison.changes(combination, judged)
    said = [note_text(note, system) for note in notes[:_FEW]]
    if len(notes) > _FEW:
        said.append(f"and {len(notes) - _FEW} more figures")
    return "; ".join(said) or "nothing"


def figure_sections(result: StudyResult, system: System) -> list[Section]:
    """Return the figures."""
    parts: list[Part] = []
    names = letters(result)
    conditions = result.study.conditions
    for row in dict.fromkeys((0, len(conditions) - 1)):
        if any(effort_lines(items[row]) is not None for items in result.outcomes):
            axes = compared_efforts(result, condition=row, system=system, font_scale=1.05)
            figure = figure_of(axes)
            parts.append(
                ReportPicture(
                    name=f"effort-compared-{row + 1}",
                    figure=figure,
                    caption=f"Tractive effort over road speed: {conditions[row].name}. Grey lines: "
                    "what each grade takes. A machine settles where its line crosses.",
                )
            )
    first = result.outcome(result.decision.combination)
    letter = names[result.decision.combination]
    if not first.missing:
        parts.append(
            ReportPicture(
                name="match-overlay",
                figure=overlay(first.match, system=system, font_scale=1.15),
                caption=f"{letter}: engine and converter together, {first.condition.name}. They "
                "run where the engine's line crosses that of the converter.",
            )
        )
    if first.tractive is not None and not first.missing:
        figure = new_figure(8.0, 5.6)
        figure.set_label(f"{first.combination.name}: tractive effort by gear")
        axes = figure.add_axes((0.075, 0.11, 0.905, 0.80))
        effort_panel(first.tractive, ax=axes, system=system, font_scale=1.05)
        parts.append(
            ReportPicture(
                name="effort-by-gear",
                figure=figure,
                caption=f"{letter}: tractive effort of every gear, {first.condition.name}.",
            )
        )
    here = conditions[0].name
    if result.uncertainty is not None and result.uncertainty.answers(_DRAWN, here):
        drawn = uncertainty_figure(
            result.uncertainty, names=_DRAWN, condition=here, system=system, font_scale=1.4
        )
        parts.append(
            ReportPicture(
                name="how-sure",
                figure=drawn,
                caption=f"What the tolerances do to the figures, {here}.",
            )
        )
    return [Section(title="Figures", parts=tuple(parts), own_page=True)]


def bolt_on_section(result: StudyResult) -> Section:
    """Return the bolt-on sheet of every candidate."""
    names = letters(result)
    parts: list[Part] = [
        Paragraph(
            text="What the component files say about both sides. Nothing is looked up and no "
            "dimension is filled in: where a side says nothing, measure before ordering."
        )
    ]
    parts += [
        report_table(
            sheet.table("bolt_on"),
            "si",
            caption=f"{names[item.combination]}: {item.name}",
            widths=(2.4, 2.0, 1.4, 1.4, 1.75),
        )
        for item, sheet in zip(result.assessments, result.sheets, strict=True)
        if item.combination != PRESENT
    ]
    return Section(title="Bolt-on check", parts=tuple(parts), own_page=True)


_POINT = (
    Heading("speed_ratio", "speed ratio"),
    Heading("efficiency", "efficiency"),
    Heading("engine_speed", "engine", "angular_speed"),
    Heading("input_torque", "input torque", "torque"),
    Heading("turbine_speed", "turbine", "angular_speed"),
    Heading("turbine_torque", "turbine torque", "torque"),
    Heading("heat", "heat", "power"),
)


def details_section(result: StudyResult, system: System) -> Section:
    """Return the named points of the matches."""
    names = letters(result)
    parts: list[Part] = []
    # All conditions for today and the candidate that comes first; the tables hold the others'.
    most = (PRESENT, result.decision.combination)
    for items in result.outcomes:
        for item in items if items[0].combination.id in most else items[:1]:
            if item.missing:
                continue
            rows = tuple(
                (
                    named.words,
                    *(row_of(named.point, _POINT) if named.point else (None,) * len(_POINT)),
                )
                for named in item.match.key_points()
            )
            points = Block("", columns=(Heading("point", "point"), *_POINT), rows=rows)
            letter = names[item.combination.id]
            caption = f"{letter}: {item.combination.name}; {item.condition.name}"
            widths = (2.0, *(1.0 for _ in _POINT))
            parts.append(report_table(points, system, caption=caption, widths=widths))
    return Section(title="Where engine and converter meet", parts=tuple(parts), own_page=True)
