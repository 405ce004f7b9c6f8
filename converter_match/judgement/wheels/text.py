"""The tables of a `TractiveResult` as text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from converter_match.answer.noted import note_lines
from converter_match.judgement.conditions.air import site_line
from converter_match.units import System, show, shown_text

if TYPE_CHECKING:
    from converter_match.judgement.match.result import MatchResult
    from converter_match.judgement.wheels.result import TractiveResult

_Column = tuple[str, str, str | None, str]

GEAR_COLUMNS: tuple[_Column, ...] = (
    ("ratio", "overall_ratio", None, ".1f"),
    ("stall effort", "stall_effort", "force", ".1f"),
    ("heat at stall", "stall_heat", "power", ".0f"),
    ("effort, coupling", "coupling_effort", "force", ".1f"),
    ("at", "coupling_speed", "velocity", ".1f"),
    ("heat", "coupling_heat", "power", ".0f"),
    ("best eff.", "best_efficiency", None, ".2f"),
    ("drawbar", "greatest_drawbar", "force", ".1f"),
    ("top speed", "top_speed", "velocity", ".1f"),
    ("heat", "top_heat", "power", ".0f"),
    ("set by", "top_limited_by", None, ""),
    ("start on", "steepest_start", "weight_share", ".0f"),
    ("set by", "start_limited_by", None, ""),
    ("cooled to", "steepest_cooled", "weight_share", ".1f"),
    ("set by", "cooled_limited_by", None, ""),
)
GRADE_COLUMNS: tuple[_Column, ...] = (
    ("resistance", "resistance", "force", ".1f"),
    ("gear", "gear", None, ""),
    ("drive", "drive", None, ""),
    ("speed", "speed", "velocity", ".1f"),
    ("engine", "engine_speed", "angular_speed", ".0f"),
    ("heat", "heat", "power", ".0f"),
    ("oil settles at", "oil_temperature", "temperature", ".0f"),
    ("cooled", "cooled", None, ""),
    ("set by", "limited_by", None, ""),
)
SHIFT_COLUMNS: tuple[_Column, ...] = (
    ("best shift at", "best_speed", "velocity", ".1f"),
    ("effort", "effort", "force", ".1f"),
    ("upshift given", "upshift_speed", "velocity", ".1f"),
    ("downshift", "downshift_speed", "velocity", ".1f"),
    ("hysteresis needed", "needed_hysteresis", "velocity", ".1f"),
    ("hunts", "hunts", None, ""),
)


def text_of(result: TractiveResult, system: System) -> str:
    """Return tables of gears, grades and shifts, and every note."""
    mass, unit = show(result.machine.mass(result.load), "mass", system)
    traction = result.surface.traction
    match = result.match
    lines = [
        f"{result.machine_words} ({mass:.0f} {unit})",
        f"{match.engine.name}  +  {match.converter.name}  +  {result.driveline.name}",
        f"site: {site_line(match.site, system)}; full throttle" + _hydraulics(match, system),
        f"surface: {result.surface.name}, rolling resistance "
        f"{100 * result.surface.rolling_resistance:.2f} % of weight, traction coefficient "
        + ("not known" if traction is None else f"{traction:.2f}"),
        "",
    ]
    grip = float(result.road_loads[0].adhesion(0.0))
    if traction is not None:
        force, force_unit = show(grip, "force", system)
        lines += [f"the ground allows {force:.0f} {force_unit} on the level", ""]
    names = [f"{row.gear} {row.drive}" for row in result.gears]
    lines += _table("gear", names, GEAR_COLUMNS, result.gears, system)
    lines += ["", "Fastest forward on a grade:"]
    names = [f"{100 * row.grade:g} %" for row in result.grades]
    lines += _table("grade", names, GRADE_COLUMNS, result.grades, system)
    if result.shifts:
        lines += ["", "Shifts for the greatest pull:"]
        names = [f"{shift.lower} - {shift.upper}" for shift in result.shifts]
        lines += _table("gears", names, SHIFT_COLUMNS, result.shifts, system)
    lines += note_lines(result.notes, system)
    return "\n".join(lines)


def _table(
    corner: str,
    names: Sequence[str],
    columns: Sequence[_Column],
    rows: Sequence[object],
    system: System,
) -> list[str]:
    body = [[corner], [""]]
    for title, _, dimension, _ in columns:
        body[0].append(title)
        body[1].append(show(0.0, dimension, system)[1] if dimension else "")
    for name, row in zip(names, rows, strict=True):
        body.append([name, *(_cell(getattr(row, key), d, f, system) for _, key, d, f in columns)])
    widths = [max(len(line[i]) for line in body) for i in range(len(columns) + 1)]
    return [
        "  ".join(
            [line[0].ljust(widths[0])]
            + [cell.rjust(width) for cell, width in zip(line[1:], widths[1:], strict=True)]
        ).rstrip()
        for line in body
    ]


def _cell(value: object, dimension: str | None, form: str, system: System) -> str:
    if value is None:
        return "-"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value or "-"
    assert isinstance(value, float | int)  # nothing else stands in a row
    if value in (float("inf"), -float("inf")):
        return "any" if value > 0 else "none"
    if dimension == "force" and system == "us":
        form = ".0f"  # pounds have digits enough
    return format(show(float(value), dimension, system)[0] if dimension else value, form)


def _hydraulics(match: MatchResult, system: System) -> str:
    if not match.hydraulic_torque:
        return ""
    return f"; hydraulic torque deducted: {shown_text(match.hydraulic_torque, 'torque', system)}"
