"""Tables at the wheels: effort of each gear over road speed, and the heat against the cooler."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from converter_match.curves import FloatArray
from converter_match.judgement.decision.run import StudyResult
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.judgement.wheels.result import GradeRow, TractiveResult
from converter_match.present.figures.comparison import letters
from converter_match.present.report.model import (
    MarkedCell,
    Part,
    ReportTable,
    SmallTables,
    table,
)
from converter_match.units import System, show, shown_text

_NONE = "–"
_ROWS, _COLUMNS = 22, 16
"""About so many road speeds, and gears beside each other."""


def effort_tables(result: StudyResult, system: System) -> list[Part]:
    """Return the tractive effort of every forward gear over road speed, side by side."""
    names = letters(result)
    known = [items[0] for items in result.outcomes if items[0].tractive is not None]
    if not known:
        return []
    columns = [
        (names[item.combination.id], gear, curve)
        for item in known
        if item.tractive is not None
        for gear, curve in _curves(item.tractive)
    ]
    top = max(float(speed.max()) for _, _, (speed, _) in columns)
    speeds = _speeds(top, system)
    tables = tuple(
        _effort_table(columns[start : start + _COLUMNS], speeds, system)
        for start in range(0, len(columns), _COLUMNS)
    )
    force, velocity = show(0.0, "force", system)[1], show(0.0, "velocity", system)[1]
    title = (
        f"Traction-limited tractive effort ({force}) by gear over road speed ({velocity}): "
        f"{known[0].condition.name}"
    )
    return [SmallTables(caption=title, tables=tables)]


_Curve = tuple[FloatArray, FloatArray]


def _curves(wheels: TractiveResult) -> Iterator[tuple[str, _Curve]]:
    """Yield the forward gears with road speed [m/s] after slip and effort within grip [N]."""
    for drive, load in zip(wheels.drives, wheels.road_loads, strict=True):
        if drive.gear.direction == "forward":
            curve = drive.curve()
            grip = float(load.adhesion(0.0))
            name = drive.gear.name + (" locked" if drive.drive == "lock-up" else "")
            speed = curve.road_speed(wheels.machine, grip)
            yield name, (speed, np.minimum(curve.force, grip))


def _speeds(top: float, system: System) -> FloatArray:
    """Return round road speeds from rest to the top [m/s]."""
    shown_top = float(show(top, "velocity", system)[0])
    raw = shown_top / _ROWS
    scale = 10.0 ** math.floor(math.log10(raw))
    step = next(size * scale for size in (1.0, 2.0, 2.5, 5.0, 10.0) if size * scale >= raw)
    count = int(shown_top / step)
    return np.asarray(np.arange(count + 1) * (step * top / shown_top), dtype=np.float64)


def _effort_table(
    columns: Sequence[tuple[str, str, _Curve]], speeds: FloatArray, system: System
) -> ReportTable:
    heads, cells = ["speed"], []
    for letter, gear, (speed, force) in columns:
        heads.append(f"{letter}\n{gear}")
        # Above its governed speed, or the end of its data, a gear has no effort to show.
        within = (speeds >= speed.min() - 1e-9) & (speeds <= speed.max())
        effort = np.interp(speeds, speed, force)
        cells.append(
            [
                shown_text(float(value), "force", system, unit=False) if inside else _NONE
                for value, inside in zip(effort, within & (effort > 0.0), strict=True)
            ]
        )
    first = [f"{float(show(float(speed), 'velocity', system)[0]):.3g}" for speed in speeds]
    return table("", heads, list(zip(first, *cells, strict=True)), left=0)


def cooler_table(result: StudyResult, system: System) -> list[Part]:
    """Return heat into the oil against what the cooler takes, by grade and gear."""
    names = letters(result)
    known = [item for item in map(hottest, result.outcomes) if item is not None]
    if not known:
        return []
    columns = [_balance(item.tractive, system) for item in known if item.tractive is not None]
    places = sorted({place for column in columns for place in column})
    rows = [
        (f"{100 * grade:g} %", gear, *(column.get((grade, gear), _NONE) for column in columns))
        for grade, gear in places
    ]
    heads = [
        f"{names[item.combination.id]} (cooler {shown_text(capacity, 'power', system, '.0f')})"
        for item in known
        if item.tractive is not None and (capacity := item.tractive.cooler_capacity) is not None
    ]
    conditions = "; ".join(dict.fromkeys(item.condition.name for item in known))
    power, velocity = show(0.0, "power", system)[1], show(0.0, "velocity", system)[1]
    title = (
        f"Cooler balance where the cooler takes least ({conditions}): each grade in every gear "
        f"that holds it, speed ({velocity}), heat into the oil and what the cooler has left "
        f"({power})"
    )
    cells = table("", ("grade", "gear", *heads), rows, left=0)
    return [SmallTables(caption=title, tables=(cells,))]


def outlet_table(result: StudyResult, system: System) -> list[Part]:
    """Return what a gauge at the converter's outlet reads on each grade, and the cooler needed."""
    names = letters(result)
    known = [item for item in map(hottest, result.outcomes) if item is not None]
    wheels = [item.tractive for item in known if item.tractive is not None]
    if not wheels:
        return []
    rows = [
        (f"{100 * grade:g} %", *(_outlet(each.grades, grade, system) for each in wheels))
        for grade in sorted({row.grade for each in wheels for row in each.grades})
    ]
    heads = [names[item.combination.id] for item in known]
    conditions = "; ".join(dict.fromkeys(item.condition.name for item in known))
    title = (
        f"Oil at the converter outlet in lasting work where the cooler takes least ({conditions}): "
        "each grade in its fastest gear, and the cooler that would keep the bulk at its limit"
    )
    return [SmallTables(caption=title, tables=(table("", ("grade", *heads), rows, left=0),))]


def _outlet(rows: Sequence[GradeRow], grade: float, system: System) -> str:
    row = next((row for row in rows if row.grade == grade), None)
    if row is None or row.heat is None or row.cooler_needed is None:
        return _NONE
    outlet = row.outlet_temperature
    said = "not known" if outlet is None else shown_text(outlet, "temperature", system)
    return f"{said}; {shown_text(row.cooler_needed, 'cooler_size', system)}"


def hottest(items: tuple[Outcome, ...]) -> Outcome | None:
    """Return the outcome in whose air the cooler takes least; None without a cooler."""
    known = [
        item
        for item in items
        if item.tractive is not None and item.tractive.cooler_capacity is not None
    ]
    return min(
        known,
        key=lambda item: (item.tractive and item.tractive.cooler_capacity) or math.inf,
        default=None,
    )


def _balance(wheels: TractiveResult, system: System) -> dict[tuple[float, str], str]:
    """Return grade and gear -> speed, heat and what is left, at every speed that is held."""
    points, capacity = wheels.points, wheels.cooler_capacity or 0.0
    cells = {}
    for k in np.flatnonzero(points.stable & points.active & points.grips):
        drive = wheels.drives[int(points.drive[k])]
        if drive.gear.direction != "forward":
            continue
        heat = float(points.wheels.oil_heat[k])
        speed = shown_text(float(points.speed[k]), "velocity", system, unit=False)
        into, left = (
            shown_text(value, "power", system, ".0f", unit=False)
            for value in (heat, capacity - heat)
        )
        gear = drive.gear.name + (" locked" if drive.drive == "lock-up" else "")
        text = f"{speed}: {into}, left {left}"
        over = MarkedCell(text, "dark") if heat > capacity else text
        cells[float(points.grade[k]), gear] = over
    return cells
