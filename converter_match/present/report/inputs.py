"""The input sheet of a report: what was typed into every file that the study was made from."""

from __future__ import annotations

from dataclasses import replace

from converter_match.answer.block import Block, Heading, Quantity
from converter_match.judgement.decision.run import StudyResult
from converter_match.judgement.verdict.words import REQUIREMENTS
from converter_match.library.study_copies import STUDY
from converter_match.present.figures.comparison import letters
from converter_match.present.report.blocks import report_table
from converter_match.present.report.model import (
    Paragraph,
    Part,
    ReportTable,
    Section,
    SmallTables,
    table,
)
from converter_match.present.report.typed import columns_beside, csv_table, toml_tables
from converter_match.study.criteria import Threshold
from converter_match.study.study import PRESENT, InputFile, Study
from converter_match.units import System, shown_text
from converter_match.version import __version__

# What stands on other pages of the report, or says nothing to a reader.
_SAID = frozenset({"schema", "bench"})
_SAID_OF_STUDY = _SAID | {
    *("name", "question", "customer", "machine_serial_number", "date", "author", "claim"),
}
_LONGEST = 60
"""Rows of a route that are shown; a longer one is summed up."""


def inputs_section(result: StudyResult, system: System) -> Section:
    """Return every number that was typed, the thresholds, and the files with their checksums.

    Parameters
    ----------
    result : StudyResult
    system : {"si", "us"}
        Of what was not typed: thresholds, and the sum of a long route.
    """
    study = result.study
    parts: list[Part] = []
    if study.inputs:
        parts.append(
            Paragraph(
                text="Every figure as it was typed, once, with its unit; the files lie in the "
                "folder of this report, below inputs/.",
                look="small",
            )
        )
        tables = (one for item in _once_each(study) for one in _tables(result, item, system))
        parts.append(SmallTables(tables=tuple(tables)))
    parts += [SmallTables(tables=(_thresholds(study, system),)), *_sources(study), *_files(result)]
    return Section(title="Sources and inputs", parts=tuple(parts))


_KINDS = {
    "study": "Study",
    "engine": "Engine",
    "converter": "Converter",
    "arrangement": "Arrangement",
    "driveline": "Driveline",
    "machine": "Machine",
    "sites": "Site",
    "routes": "Route",
    "points": "Duty",
    "surfaces": "Surfaces",
    "siblings": "Converter of the family",
    "ratings": "Engine, another power setting",
    "log": "Log of stall tests",
    "identified": "Identified from a log",
}
_READINGS = ("log", "identified")
"""Files whose readings have a part of their own."""


def _kind(item: InputFile) -> str:
    return (
        item.role.removesuffix("]").split("[")[0 if item.role.endswith("]") else -1].split(".")[-1]
    )


def _once_each(study: Study) -> list[InputFile]:
    """Return every file once, those of a kind together."""
    order = list(_KINDS)
    once = {item.sha256: item for item in reversed(study.inputs)}
    return sorted(reversed(once.values()), key=lambda item: order.index(_kind(item)))


def _users(result: StudyResult, item: InputFile) -> str:
    """Return the letters of the combinations that a component belongs to."""
    study, names = result.study, letters(result)
    kind = _kind(item)
    if kind not in ("engine", "converter", "arrangement", "driveline", "machine"):
        return ""
    read = {one.role for one in study.inputs if one.sha256 == item.sha256}
    own = {one.role for one in study.inputs}
    users = []
    for row, candidate in enumerate(study.candidates):
        role = f"candidate[{row}].{kind}"
        taken_over = role not in own and f"{PRESENT}.{kind}" in read
        if role in read or (taken_over and getattr(candidate, kind) is not None):
            users.append(names[candidate.id])
    if f"{PRESENT}.{kind}" in read:
        users.insert(0, names[PRESENT])
    return ", ".join(users)


def _tables(result: StudyResult, item: InputFile, system: System) -> list[ReportTable]:
    if _kind(item) in _READINGS:
        return []
    users = _users(result, item)
    owner = _KINDS[_kind(item)] + (f" ({users})" if users else "")
    caption = f"{owner}: {item.name}"
    if not item.name.lower().endswith(".csv"):
        skip = _SAID_OF_STUDY if item.role == STUDY else _SAID
        return toml_tables(item.content, caption, owner, skip=skip)
    study = result.study
    if _kind(item) == "surfaces":
        used = {surface.name for route in study.duty.routes for surface in route.surface}
        used |= {one.surface.name for one in study.measurements if one.surface is not None}
        used |= set() if study.duty.surface is None else {study.duty.surface.name}
        only = {"surface": frozenset(used)}
        return [csv_table(item.content, f"{caption}: those that are used", only=only)]
    whole = csv_table(item.content, caption, only={})
    if _kind(item) == "points":
        return columns_beside(whole)
    if len(whole.rows) <= _LONGEST:
        row = int(item.role.split("[")[1].rstrip("]"))
        return columns_beside(replace(whole, caption=f"{caption}; {study.duty.routes[row].source}"))
    return [_route_sum(study, item, len(whole.rows), system)]


def _route_sum(study: Study, item: InputFile, rows: int, system: System) -> ReportTable:
    row = int(item.role.split("[")[1].rstrip("]"))
    route = study.duty.routes[row]
    climb = float((route.length * route.grade).clip(min=0.0).sum())
    facts = [
        ("segments", str(rows)),
        ("length", shown_text(route.total_length, "haul_length", system)),
        ("climb, all rises together", shown_text(climb, "altitude", system)),
        ("steepest rise", shown_text(float(route.grade.max()), "grade", system)),
        ("steepest fall", shown_text(float(route.grade.min()), "grade", system)),
    ]
    return table(f"{item.name}: summed up", ("", ""), facts, left=2)


_SOURCE = (Heading("what", "what"), Heading("source", "source"))


def _sources(study: Study) -> list[Part]:
    """Return where the data come from, of a study that no file tells it of."""
    if study.inputs:
        return []
    seen: dict[str, str] = {}
    for combination in study.combinations:
        for part in (
            combination.engine,
            combination.converter,
            combination.arrangement,
            combination.driveline,
            combination.machine,
        ):
            if part is not None:
                seen[f"{type(part).__name__.lower()} {part.id}: {part.name}"] = part.source
    for site in study.sites:
        seen[f"site {site.id}: {site.name}"] = site.source
    for route in study.duty.routes:
        seen[f"route {route.id}: {route.name}"] = route.source
    if study.duty.surface is not None:
        seen[f"surface: {study.duty.surface.name}"] = study.duty.surface.source
    sources = Block("", columns=_SOURCE, rows=tuple(seen.items()))
    return [report_table(sources, "si", caption="Sources of the data")]


def _files(result: StudyResult) -> list[Part]:
    if not result.study.inputs:
        return []
    caption = f"Files that went in, with the SHA-256 of their bytes; converter-match {__version__}"
    listed = report_table(result.inputs(), "si", caption=caption)
    return [SmallTables(tables=(listed,))]


_THRESHOLD = (
    Heading("criterion", "criterion"),
    Heading("weight", "requirement", choices=REQUIREMENTS),
    Heading("thresholds", "thresholds"),
    Heading("margin", "marginal with less to spare than"),
)


def _thresholds(study: Study, system: System) -> ReportTable:
    rows = []
    for choice in study.criteria:
        given = {
            item.name: (item.words, _threshold(choice[item.name], item, system))
            for item in choice.spec.thresholds
        }
        _, margin = given.pop("margin", ("", None))
        said = "; ".join(f"{words}: {value}" for words, value in given.values())
        rows.append((choice.spec.title, choice.weight, said, margin))
    block = Block(
        "",
        title="Thresholds of this study (common practice, no single source; a study changes them)",
        columns=_THRESHOLD,
        rows=tuple(rows),
    )
    return report_table(block, system)


def _threshold(value: float, item: Threshold, system: System) -> str:
    amount = item.dimension if item.dimension == "temperature_difference" else "share"
    quantity = Quantity(value, amount, ".3g" if amount != "share" else "g")
    return Heading("", "").text(quantity, system)
