"""Parts of a report that put combinations side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from converter_match.answer.block import Block, Heading, Quantity, row_of
from converter_match.judgement.decision.bolt_on import InterfaceRow
from converter_match.judgement.decision.comparison import ComparedFigure
from converter_match.judgement.decision.run import StudyResult
from converter_match.judgement.verdict.measure import figure_value
from converter_match.present.drawing.style import new_figure
from converter_match.present.figures.comparison import letters
from converter_match.present.figures.overlay import overlay
from converter_match.present.figures.tractive_panels import effort_panel
from converter_match.present.figures.uncertainty import uncertainty_figure
from converter_match.present.report.blocks import marked, report_table
from converter_match.present.report.model import (
    Paragraph,
    Part,
    ReportPicture,
    Section,
    SmallTables,
    table,
)
from converter_match.present.report.wheel_tables import cooler_table, effort_tables, outlet_table
from converter_match.study.study import PRESENT
from converter_match.units import System, shown_text
from converter_match.units.amounts import shown

_NONE = "–"
_MOST_COLUMNS = 12  # of numbers beside each other
_DRAWN = ("stall-speed", "top-speed")


def comparison_section(result: StudyResult, system: System) -> Section:
    """Return candidates beside today, figure by figure, gear by gear and grade by grade."""
    comparison, names = result.comparison, letters(result)
    first, *others = comparison.conditions
    ids = [name for name, _ in comparison.names]
    whole = report_table(comparison.condition_table(first, names), system, caption="")
    parts: list[Part] = [SmallTables(caption=first, tables=(whole,))]
    each = max(1, _MOST_COLUMNS // len(ids))
    for start in range(0, len(others), each):
        parts.append(_short_table(result, others[start : start + each], system))
    parts += [*effort_tables(result, system), *cooler_table(result, system)]
    parts += outlet_table(result, system)
    return Section(title="Side by side", parts=tuple(parts))


def _short_table(result: StudyResult, conditions: Sequence[str], system: System) -> SmallTables:
    """Return the figures that are other than in the first condition, numbers only."""
    comparison, names = result.comparison, letters(result)
    order = {name: row for row, name in enumerate(comparison.conditions, 1)}
    ids = [name for name, _ in comparison.names]
    by_key: dict[str, dict[str, ComparedFigure]] = {}
    for item in comparison.figures:
        by_key.setdefault(item.key, {})[item.condition] = item
    before = comparison.conditions[0]
    rows = []
    for found in by_key.values():
        shown_at = [found[where] for where in conditions if where in found]
        same = found[before].values if before in found else None
        if not shown_at or all(item.values == same for item in shown_at):
            continue
        cells = [
            _number(found[where], name, system) if where in found else _NONE
            for where in conditions
            for name in ids
        ]
        unit = _unit(shown_at[0], system)
        rows.append((f"{shown_at[0].title} ({unit})" if unit else shown_at[0].title, *cells))
    heads = [f"({order[where]})\n{names[name]}" for where in conditions for name in ids]
    listed = "; ".join(f"({order[where]}) {where}" for where in conditions)
    caption = f"In other conditions, where it differs from the first: {listed}."
    return SmallTables(caption=caption, tables=(table("", ("figure", *heads), rows),))


def _number(item: ComparedFigure, name: str, system: System) -> str:
    value = item[name]
    quantity = None if value is None else figure_value(value, item.dimension)
    if not isinstance(quantity, Quantity) or quantity.amount is None:
        return _NONE if quantity is None else Heading("", "").text(quantity, system)
    return shown_text(value or 0.0, quantity.amount, system, quantity.form, unit=False)


def _unit(item: ComparedFigure, system: System) -> str:
    quantity = figure_value(0.0, item.dimension)
    if not isinstance(quantity, Quantity) or quantity.amount is None:
        return ""
    return shown(0.0, quantity.amount, system)[1]


def figure_sections(result: StudyResult, system: System) -> list[Section]:
    """Return the figures that are not on page one."""
    parts: list[Part] = []
    names, conditions = letters(result), result.study.conditions
    first = result.outcome(result.decision.combination)
    letter = names[result.decision.combination]
    if not first.missing:
        parts.append(
            ReportPicture(
                name="match-overlay",
                figure=overlay(first.match, system=system, font_scale=1.15),
                caption=f"{letter}: engine and converter together, {first.condition.name}. They "
                "run where the engine's line crosses that of the converter.",
                width=6.9,
            )
        )
    if first.tractive is not None and not first.missing:
        figure = new_figure(8.0, 5.2)
        figure.set_label(f"{first.combination.name}: tractive effort by gear")
        axes = figure.add_axes((0.075, 0.11, 0.905, 0.80))
        effort_panel(first.tractive, ax=axes, system=system, font_scale=1.05)
        parts.append(
            ReportPicture(
                name="effort-by-gear",
                figure=figure,
                caption=f"{letter}: tractive effort of every gear, {first.condition.name}.",
                width=6.1,
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
                width=6.9,
            )
        )
    return [Section(title="Figures", parts=tuple(parts))]


def bolt_on_section(result: StudyResult) -> Section:
    """Return what has to bolt together, item by item, a column for each candidate."""
    names = letters(result)
    sheets = [item for item in result.sheets if item.combination != PRESENT]
    items: dict[tuple[str, tuple[str, str]], dict[str, InterfaceRow]] = {}
    for sheet in sheets:
        for row in sheet.rows:
            items.setdefault((row.named, row.sides), {})[sheet.combination] = row
    rows, silent = [], 0
    for (named, sides), by in items.items():
        if any(row.left or row.right for row in by.values()):
            cells = (_bolted(by.get(sheet.combination)) for sheet in sheets)
            rows.append((named, " and ".join(sides), *cells))
        else:
            silent += 1
    parts: list[Part] = [
        Paragraph(
            text="What the component files say about both sides. Nothing is looked up and no "
            "dimension is filled in. Where a side says nothing, have its drawing or its maker's "
            "word before ordering, or measure a part that is at hand."
        )
    ]
    if rows:
        heads = ("item", "between", *(names[sheet.combination] for sheet in sheets))
        widths = (2.3, 1.6, *(4.0 / len(sheets) for _ in sheets))
        parts.append(table("", heads, rows, widths=widths, left=len(heads)))
    if silent:
        text = f"On {silent} more items neither side of any candidate says anything: those that "
        parts.append(Paragraph(text=f"{text}stand under 'Before ordering' and not here."))
    return Section(title="Bolt-on check", parts=tuple(parts))


def _bolted(row: InterfaceRow | None) -> str:
    """Return what both sides say, and what comes of it."""
    if row is None:
        return _NONE
    if row.status == "same":
        return f"same: {row.left}"
    said = [
        f"{side}: {value}" for side, value in zip(row.sides, (row.left, row.right), strict=True)
        if value
    ]  # fmt: skip
    return marked("\n".join([_STATUS[row.status], *said]), row.status)


_STATUS: Mapping[str, str] = {
    "differs": "differs",
    "measure before ordering": "not known",
    "given": "given",
}

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
    """Return the named points of today's match and of the candidate that comes first."""
    names = letters(result)
    tables = []
    most = (PRESENT, result.decision.combination)
    for items in result.outcomes:
        item = items[0]
        if item.combination.id not in most or item.missing:
            continue
        rows = tuple(
            (named.words, *(row_of(named.point, _POINT) if named.point else (None,) * len(_POINT)))
            for named in item.match.key_points()
        )
        points = Block("", columns=(Heading("point", "point"), *_POINT), rows=rows)
        caption = f"{names[item.combination.id]}: {item.combination.name}; {item.condition.name}"
        tables.append(report_table(points, system, caption=caption))
    parts: tuple[Part, ...] = (
        *(SmallTables(tables=(one,)) for one in tables),
        Paragraph(text="All others, in every condition: tables/match-points.csv.", look="small"),
    )
    return Section(title="Where engine and converter meet", parts=parts)
