"""From the result of a study to the blocks of its report."""

from __future__ import annotations

from collections.abc import Mapping

from converter_match import __version__
from converter_match.judgement.comparison import Figure
from converter_match.judgement.criteria import Finding, Verdict, amount
from converter_match.judgement.study import PRESENT
from converter_match.judgement.study_run import StudyResult
from converter_match.notes import Note
from converter_match.present.comparison_figure import compared_efforts, letters
from converter_match.present.overlay import overlay
from converter_match.present.report_model import (
    Block,
    Bullets,
    Heading,
    Paragraph,
    Picture,
    Report,
    Section,
    Signature,
    Table,
    Verdicts,
    table,
)
from converter_match.present.style import new_figure
from converter_match.present.tractive_panels import effort_panel
from converter_match.units import System, note_text, show

WORDS: Mapping[str, str] = {
    "pass": "pass",
    "marginal": "marginal",
    "not known": "not known",
    "fail": "FAIL",
}
CAUTIONS = (
    "The figures are calculated from the data given. They do not know your machine, and a figure "
    "on paper does not make a test safe. The machine maker's procedure, local codes and site rules "
    "come first; the work belongs to people who are trained, and where the law asks for it "
    "licensed, to do it.",
    "Stall test: the machine can move. Open level ground, nobody in front of, behind or under it, "
    "wheels chocked, brakes proven first, short holds, oil temperature watched, time in neutral to "
    "cool between holds.",
    "Hot oil: a stalled converter turns the engine's whole power into heat. Let it cool before "
    "anything is opened.",
    "Towing: with the engine off a charge pump driven by the converter gives no oil. Do not tow "
    "with driven wheels on the ground unless the machine maker's instructions allow it.",
    "Grades: a converter does not hold a machine on a slope. Calculated gradeability is no "
    "permission to work there.",
)
_FEW = 4


def report_of(result: StudyResult, system: System = "si") -> Report:
    """Return the report of a study.

    Parameters
    ----------
    result : StudyResult
    system : {"si", "us"}
    """
    study = result.study
    sections = [
        _decision(result, system),
        _criteria(result, system),
        _comparison(result, system),
        *_figures(result, system),
        _bolt_on(result),
        _details(result, system),
        _assumptions(result, system),
        _sources(result),
    ]
    return Report(
        title=study.name,
        subtitle=" ".join(study.question.split()),
        footer=f"{study.id}; converter-match {__version__}; source of the study: {study.source}",
        sections=tuple(sections),
    )


def _decision(result: StudyResult, system: System) -> Section:
    decision = result.decision
    blocks: list[Block] = [
        Verdicts(word=decision.kind.upper(), text=decision.headline),
        Heading(text="Why"),
        Bullets(items=decision.reasons),
        Heading(text="How sure"),
        *_sureness(result, system),
        Heading(text="Before ordering"),
        Bullets(items=decision.before_ordering, numbered=True),
        Paragraph(text=CAUTIONS[0], look="caution"),
        Signature(labels=("Decided by", "Date", "Order no.")),
    ]
    return Section(title="The decision", blocks=tuple(blocks))


def _sureness(result: StudyResult, system: System) -> list[Block]:
    found = result.extras.get("uncertainty")
    if found is not None:
        return [Bullets(items=tuple(found.sentences(result.decision.combination, system)))]
    first = result.assessment(result.decision.combination)
    known = len(first.findings) - len(first.unknown)
    text = (
        f"{known} of {len(first.findings)} criteria could be judged; the figures are taken from "
        "the sheets as given, and no probabilities were worked out. "
    )
    text += (
        "Data that are missing: " + "; ".join(first.missing) + "."
        if first.missing
        else "No datum is missing."
    )
    return [Paragraph(text=text)]


def _criteria(result: StudyResult, system: System) -> Section:
    names = letters(result)
    rows = []
    for choice in result.study.criteria:
        found = [item.finding(choice.name) for item in result.assessments]
        if any(item is not None for item in found):
            cells = ["–" if item is None else WORDS[str(item.verdict)] for item in found]
            rows.append((choice.spec.title, choice.weight, *cells))
    rows.append(("Overall", "", *(WORDS[str(item.verdict)] for item in result.assessments)))
    head = ("criterion", "weight", *(names[item.combination] for item in result.assessments))
    blocks: list[Block] = [
        table(
            "Verdict on every criterion, the worst of all conditions. "
            + "; ".join(f"{names[item.combination]}: {item.name}" for item in result.assessments)
            + ".",
            head,
            rows,
            name="criteria-overview",
            widths=(2.6, 0.8, *(1.1 for _ in result.assessments)),
            left=2,
        )
    ]
    for name in result.decision.ranking:
        item = result.assessment(name)
        blocks.append(Heading(text=f"{names[item.combination]}: {item.name}"))
        blocks.append(Paragraph(text=item.headline))
        # Why each criterion is there is told once, with the candidate that comes first.
        reasons = item.combination == result.decision.combination
        head = ("criterion", "verdict", "found", "why it is asked for")
        blocks.append(
            table(
                "",
                head if reasons else head[:3],
                [_row(found, system)[: 4 if reasons else 3] for found in item.findings],
                widths=(1.5, 0.85, 3.5, 3.0) if reasons else (2.0, 0.85, 6.0),
                left=4,
            )
        )
    for name, why in result.not_applied:
        blocks.append(Paragraph(text=f"Not applied: {name} ({why}).", look="small"))
    return Section(title="The criteria", blocks=tuple(blocks), own_page=True)


def _row(found: Finding, system: System) -> tuple[str, ...]:
    title = found.spec.title + (" (must)" if found.weight == "must" else "")
    return title, WORDS[str(found.verdict)], found.words(system), found.spec.reason


def _comparison(result: StudyResult, system: System) -> Section:
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


def _figures(result: StudyResult, system: System) -> list[Section]:
    blocks: list[Block] = []
    names = letters(result)
    known = any(items[0].tractive is not None for items in result.outcomes)
    conditions = result.study.conditions
    if known:
        for row in dict.fromkeys((0, len(conditions) - 1)):
            axes = compared_efforts(result, condition=row, system=system, font_scale=1.05)
            figure = axes.get_figure(root=True)
            assert figure is not None
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
    for extra in result.extras.values():
        draw = getattr(extra, "figure", None)
        if draw is not None:
            blocks.append(
                Picture(name=extra.figure_name, figure=draw(system), caption=extra.caption)
            )
    return [Section(title="Figures", blocks=tuple(blocks), own_page=True)]


def _bolt_on(result: StudyResult) -> Section:
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
    ("engine", "engine_speed", "angular_speed", ",.0f"),
    ("input torque", "input_torque", "torque", ",.0f"),
    ("turbine", "turbine_speed", "angular_speed", ",.0f"),
    ("turbine torque", "turbine_torque", "torque", ",.0f"),
    ("heat", "heat", "power", ".1f"),
)


def _details(result: StudyResult, system: System) -> Section:
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
            for name, point in item.match.key_points():
                cells = [name]
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


def _assumptions(result: StudyResult, system: System) -> Section:
    names = letters(result)
    told: dict[tuple[str, str, str], list[str]] = {}
    for combination in result.study.combinations:
        for note in result.notes(combination.id):
            key = (note.kind, note.code, note_text(note, system))
            told.setdefault(key, []).append(names[combination.id])
    blocks: list[Block] = []
    for title, kinds in (
        ("Assumed where data are missing", ("assumption",)),
        ("Limits that are exceeded", ("limit",)),
        ("Warnings", ("warning",)),
        ("Cautions", ("caution",)),
    ):
        items = tuple(
            f"{text} [{code}; {', '.join(who)}]"
            for (kind, code, text), who in told.items()
            if kind in kinds
        )
        if items:
            blocks += [Heading(text=title), Bullets(items=items, small=True)]
    blocks += [Heading(text="Wherever this is used"), Bullets(items=CAUTIONS, small=True)]
    return Section(title="Assumptions and cautions", blocks=tuple(blocks), own_page=True)


def _sources(result: StudyResult) -> Section:
    study = result.study
    seen: dict[str, str] = {}
    for combination in study.combinations:
        parts = (
            combination.engine,
            combination.converter,
            combination.arrangement,
            combination.driveline,
            combination.machine,
        )
        for part in parts:
            if part is not None:
                seen[f"{type(part).__name__.lower()} {part.id}: {part.name}"] = part.source
    for site in study.sites:
        seen[f"site {site.id}: {site.name}"] = site.source
    for route in study.duty.routes:
        seen[f"route {route.id}: {route.name}"] = route.source
    if study.duty.surface is not None:
        seen[f"surface: {study.duty.surface.name}"] = study.duty.surface.source
    blocks: list[Block] = [
        table("Where the numbers come from", ("what", "source"), list(seen.items()), left=2)
    ]
    if study.inputs:
        blocks.append(
            table(
                f"Files that went in, with the SHA-256 of their bytes; converter-match "
                f"{__version__}",
                ("read as", "file", "SHA-256"),
                [(item.role, item.path, item.sha256) for item in study.inputs],
                widths=(1.5, 2.1, 3.9),
                left=3,
            )
        )
    thresholds = [
        (choice.name, choice.weight, item.name, _threshold(choice[item.name], item.dimension),
         item.words)
        for choice in study.criteria
        for item in choice.spec.thresholds
    ]  # fmt: skip
    blocks.append(
        table(
            "Thresholds of this study (common practice, no single source; a study changes them)",
            ("criterion", "weight", "threshold", "value", "what it is"),
            thresholds,
            widths=(1.8, 0.7, 0.9, 0.7, 3.4),
            left=5,
        )
    )
    return Section(title="Sources and inputs", blocks=tuple(blocks), own_page=True)


def _threshold(value: float, dimension: str) -> str:
    return f"{value:g} K" if dimension == "temperature_difference" else f"{100 * value:g} %"


__all__ = ["CAUTIONS", "WORDS", "Note", "Table", "Verdict", "report_of"]
