"""Parts of a report that put combinations side by side."""

from __future__ import annotations

from converter_match.judgement.decision.comparison import Figure
from converter_match.judgement.decision.run import StudyResult
from converter_match.judgement.verdict.measure import amount
from converter_match.present.drawing.style import figure_of, new_figure
from converter_match.present.figures.comparison import compared_efforts, letters
from converter_match.present.figures.overlay import overlay
from converter_match.present.figures.tractive_panels import effort_panel
from converter_match.present.figures.uncertainty import uncertainty_figure
from converter_match.present.report.model import (
    Block,
    Heading,
    Paragraph,
    Picture,
    Section,
    table,
)
from converter_match.study.study import PRESENT
from converter_match.units import System, show

_FEW = 4
_DRAWN = ("stall-speed", "top-speed")


def comparison_section(result: StudyResult, system: System) -> Section:
    """Return candidates beside today, in words and figure by figure."""
    comparison, names = result.comparison, letters(result)
    blocks: list[Block] = []
    if result.study.present is not None:
        for item in result.candidates:
            blocks.append(Heading(text=f"{names[item.combination]}: {item.name}, against today"))
            for word in ("better", "worse"):
                said = comparison.words(item.combination, word, system)
                more = len(said) - _FEW
                shown = said[:_FEW] + ((f"and {more} more figures",) if more > 0 else ())
                text = f"{word.capitalize()}: " + ("; ".join(shown) or "nothing")
                blocks.append(Paragraph(text=text + "."))
    ids = [name for name, _ in comparison.names]
    for condition in comparison.conditions:
        rows = [
            (item.title, *(_cell(item, name, system) for name in ids))
            for item in comparison.in_condition(condition)
        ]
        blocks.append(
            table(
                condition,
                ("", *(names[name] for name in ids)),
                rows,
                widths=(2.6, *(1.35 for _ in ids)),
            )
        )
    shares: dict[tuple[str, str], dict[str, str]] = {}
    for combination, condition, gears in comparison.gears:
        for gear in gears:
            text = f"{100 * gear.least:.0f} to {100 * gear.most:.0f} %"
            shares.setdefault((condition, gear.gear), {})[combination] = text
    if shares:
        others = [name for name in ids if name != PRESENT]
        blocks.append(
            table(
                "Effort of each gear as a share of today's in the same gear, least to most over "
                "the road speeds that both reach",
                ("condition", "gear", *(names[name] for name in others)),
                [
                    (condition, gear, *(found.get(name, "–") for name in others))
                    for (condition, gear), found in shares.items()
                ],
                widths=(3.0, 0.8, *(1.3 for _ in others)),
                left=2,
            )
        )
    return Section(title="Side by side", blocks=tuple(blocks), own_page=True)


def _cell(item: Figure, name: str, system: System) -> str:
    value = item[name]
    if value is None:
        return "–"
    text = amount(value, item.dimension, system)
    share = item.share(name)
    if name != PRESENT and share is not None and item.dimension != "temperature":
        text += f" ({100 * share:+.0f} %)"
    return text


def figure_sections(result: StudyResult, system: System) -> list[Section]:
    """Return the figures."""
    blocks: list[Block] = []
    names = letters(result)
    known = any(items[0].tractive is not None for items in result.outcomes)
    conditions = result.study.conditions
    if known:
        for row in dict.fromkeys((0, len(conditions) - 1)):
            axes = compared_efforts(result, condition=row, system=system, font_scale=1.05)
            figure = figure_of(axes)
            blocks.append(
                Picture(
                    name=f"effort-compared-{row + 1}",
                    figure=figure,
                    caption=f"Pull at the wheels over road speed: {conditions[row].name}. Grey "
                    "lines: what each grade asks for. A machine settles where its line crosses.",
                )
            )
    first = result.outcome(result.decision.combination)
    letter = names[result.decision.combination]
    blocks.append(
        Picture(
            name="match-overlay",
            figure=overlay(first.match, system=system, font_scale=1.15),
            caption=f"{letter}: engine and converter together, {first.condition.name}. They run "
            "where the engine's line crosses that of the converter.",
        )
    )
    if first.tractive is not None:
        figure = new_figure(8.0, 5.6)
        figure.set_label(f"{first.combination.name}: tractive effort by gear")
        axes = figure.add_axes((0.075, 0.11, 0.905, 0.80))
        effort_panel(first.tractive, ax=axes, system=system, font_scale=1.05)
        blocks.append(
            Picture(
                name="effort-by-gear",
                figure=figure,
                caption=f"{letter}: pull of every gear, {first.condition.name}.",
            )
        )
    found = result.extras.get("uncertainty")
    if found is not None:
        blocks.append(
            Picture(
                name="how-sure",
                figure=uncertainty_figure(found, names=_DRAWN, system=system, font_scale=1.4),
                caption=f"What the tolerances do to the figures, {conditions[0].name}.",
            )
        )
    return [Section(title="Figures", blocks=tuple(blocks), own_page=True)]


def bolt_on_section(result: StudyResult) -> Section:
    """Return the bolt-on sheet of every candidate."""
    names = letters(result)
    blocks: list[Block] = [
        Paragraph(
            text="What the component files say about both sides. Nothing is looked up and no "
            "dimension is filled in: where a side says nothing, measure before ordering."
        )
    ]
    for item, sheet in zip(result.assessments, result.sheets, strict=True):
        if item.combination == PRESENT:
            continue
        rows = []
        for row in sheet.rows:
            title = row.title + (f" ({row.designation})" if row.designation else "")
            sides = f"{row.sides[0]}, {row.sides[1]}"
            rows.append((title, sides, row.left or "–", row.right or "–", row.status))
        blocks.append(
            table(
                f"{names[item.combination]}: {item.name}",
                ("item", "between", "first", "second", "status"),
                rows,
                widths=(2.6, 1.5, 1.5, 1.5, 1.75),
                left=5,
            )
        )
    return Section(title="Does it bolt on", blocks=tuple(blocks), own_page=True)


_POINT_COLUMNS = (
    ("speed ratio", "speed_ratio", None, ".3f"),
    ("efficiency", "efficiency", None, ".3f"),
    ("engine", "engine_speed", "angular_speed", ".0f"),
    ("input torque", "input_torque", "torque", ".0f"),
    ("turbine", "turbine_speed", "angular_speed", ".0f"),
    ("turbine torque", "turbine_torque", "torque", ".0f"),
    ("heat", "heat", "power", ".1f"),
)


def details_section(result: StudyResult, system: System) -> Section:
    """Return the named points of the matches."""
    names = letters(result)
    blocks: list[Block] = []
    head = ["point"]
    for title, _, dimension, _ in _POINT_COLUMNS:
        unit = show(0.0, dimension, system)[1] if dimension else ""
        head.append(f"{title} ({unit})" if unit else title)
    # All conditions for today and the candidate that comes first; the tables hold the others'.
    most = (PRESENT, result.decision.combination)
    for items in result.outcomes:
        for item in items if items[0].combination.id in most else items[:1]:
            rows = []
            for named in item.match.key_points():
                point, cells = named.point, [named.words]
                for _, key, dimension, form in _POINT_COLUMNS:
                    value = None if point is None else getattr(point, key)
                    if value is not None and dimension:
                        value = show(value, dimension, system)[0]
                    cells.append("–" if value is None else format(value, form))
                rows.append(cells)
            letter = names[item.combination.id]
            caption = f"{letter}: {item.combination.name}; {item.condition.name}"
            blocks.append(table(caption, head, rows, widths=(2.0, *(1.0 for _ in head[1:]))))
    return Section(title="Where engine and converter meet", blocks=tuple(blocks), own_page=True)
