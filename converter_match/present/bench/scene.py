"""One description of the picture: panels, curves, points and bands in the units shown.

The live picture draws it, tests read it, and nothing in it knows how it will be drawn. Curves take
their look from `present.drawing.style` by the name of their stroke, so that the bench and the
printed
overlay speak one visual language.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, floor, log10
from typing import Any

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from converter_match.curves import FloatArray
from converter_match.judgement.match.result import MatchPoint
from converter_match.judgement.motor.result import MotorMatch
from converter_match.present.bench.shown import BenchMatch, ShownPair, shown
from converter_match.present.bench.state import ROLES
from converter_match.units import System, show

ABSORBED_AT = (0.0, 0.4, 0.6, 0.8, 0.95)
# A few curves of B show which way the absorption moved; all of them would hide those of A.
_ABSORBED_OF_B = (0.0, 0.8)
_HEADROOM = 1.08
# Share of the panel's height that the words at the foot of a guide take.
_FOOT = 0.35
# Share of the panel's width that words along a curve take.
_WORDS = 0.26
# Guides whose words stand where the curves have come down.
_ABOVE = ("speed limit",)
# Share of a curve's points at which its name stands, solid and dashed.
_NAMED_AT = {"torque": (0.75, 0.62), "efficiency": (0.7, 0.4), "heat": (0.3, 0.6)}


@dataclass(frozen=True, eq=False)
class SceneLine:
    """A curve in the units of its panel.

    Parameters
    ----------
    id : str
        Unique within the scene, e.g. ``a/net``.
    stroke : str
        Name of its look.
    side : {"a", "b"}
    x, y : ndarray, shape (n,)
        NaN breaks the curve.
    label : str
        Empty for none.
    label_at : tuple of float
        Where the label stands, in the units of the panel.
    """

    id: str
    stroke: str
    side: str
    x: FloatArray
    y: FloatArray
    label: str = ""
    label_at: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True)
class Mark:
    """A named point.

    Parameters
    ----------
    id, side, name, text : str
        `text` is its value in words.
    x, y : float
    """

    id: str
    side: str
    name: str
    text: str
    x: float
    y: float


@dataclass(frozen=True, eq=False)
class Panel:
    """One pair of axes.

    Parameters
    ----------
    id, title, x_label, y_label : str
        Labels carry the unit.
    x_range, y_range : tuple of float
    lines : tuple of SceneLine
    marks : tuple of Mark
    band : tuple of float or None
        Stretch of x that is the working range at 80 % efficiency (of A).
    guides : tuple of (float, str, bool)
        Vertical lines with their words, and whether these stand at the top.
    """

    id: str
    title: str
    x_label: str
    y_label: str
    x_range: tuple[float, float]
    y_range: tuple[float, float]
    lines: tuple[SceneLine, ...]
    marks: tuple[Mark, ...] = ()
    band: tuple[float, float] | None = None
    guides: tuple[tuple[float, str, bool], ...] = ()


@dataclass(frozen=True)
class Scene:
    """Everything that is drawn, and a text that says the same for those who do not see it.

    Parameters
    ----------
    panels : tuple of Panel
    alternative : str
    absent : tuple of (str, str, str)
        Side, name and why, of each point that is looked for first and is not there.
    """

    panels: tuple[Panel, ...]
    alternative: str
    absent: tuple[tuple[str, str, str], ...] = ()


def scene(results: dict[str, BenchMatch], system: System = "si") -> Scene:
    """Return the picture of one or two results.

    Parameters
    ----------
    results : dict
        ``"a"`` and perhaps ``"b"``.
    system : {"si", "us"}
    """
    speed = _unit("angular_speed", system)
    torque, power = _unit("torque", system), _unit("power", system)
    engine_lines: list[SceneLine] = []
    output: dict[str, list[SceneLine]] = {"torque": [], "efficiency": [], "heat": []}
    engine_marks: list[Mark] = []
    output_marks: dict[str, list[Mark]] = {"torque": [], "efficiency": [], "heat": []}
    pairs = {side: shown(result) for side, result in results.items()}
    for side, pair in pairs.items():
        engine_lines += _engine_lines(side, pair, system, two=len(pairs) > 1)
        engine_marks += _marks(side, pair, system, "engine_speed", "input_torque", "torque")
        for key, lines in _output_lines(side, pair, system, two=len(pairs) > 1).items():
            output[key] += lines
        for key, quantity, dimension in (
            ("torque", "turbine_torque", "torque"),
            ("heat", "heat", "power"),
        ):
            output_marks[key] += _marks(side, pair, system, "turbine_speed", quantity, dimension)
    top = max(_top(line.y) for line in engine_lines if line.stroke in ("gross", "net"))
    highest = max(_top(line.x) for line in engine_lines if line.stroke == "gross")
    x_out = (0.0, _ceiling(max(_top(line.x) for line in output["torque"])))
    first = pairs["a"]
    band = _band(first, system)
    labelled = _exit_labels(engine_lines, _ceiling(highest), _ceiling(_HEADROOM * top))
    # At the foot the words of a guide would stand on curves that leave the panel low.
    low = any(
        line.stroke == "absorbed"
        and line.side == "a"
        and line.label_at[1] < _FOOT * _HEADROOM * top
        for line in labelled
    )
    guides = tuple(
        (float(show(value, "angular_speed", system)[0]), name, up)
        for row, (value, name) in enumerate(first.guides)
        for up in (low or row == 0 or name in _ABOVE,)
    )
    panels = [
        Panel(
            "engine",
            f"{_driven(results).capitalize()} and absorbed torque",
            f"{_driven(results)} and impeller speed ({speed})",
            f"torque ({torque})",
            (0.0, _ceiling(highest)),
            (0.0, _ceiling(_HEADROOM * top)),
            tuple(labelled),
            tuple(engine_marks),
            guides=guides,
        )
    ]
    for key, title, label in (
        ("torque", "Turbine torque", f"turbine torque ({torque})"),
        ("efficiency", "Efficiency", "efficiency (%)"),
        ("heat", "Heat into the oil", f"heat ({power})"),
    ):
        peak = max(_top(line.y) for line in output[key])
        panels.append(
            Panel(
                key,
                title,
                f"turbine speed ({speed})",
                label,
                x_out,
                (0.0, 100.0 if key == "efficiency" else _ceiling(1.1 * peak)),
                tuple(output[key]),
                tuple(output_marks[key]),
                band=band,
            )
        )
    absent = tuple(
        (side, "stall", f"none, {pair.no_stall}") for side, pair in pairs.items() if pair.no_stall
    )
    return Scene(tuple(panels), alternative(results, system), absent)


def _driven(results: dict[str, BenchMatch]) -> str:
    """Return what the prime movers of a picture are."""
    kinds = ["motor" if isinstance(each, MotorMatch) else "engine" for each in results.values()]
    return " or ".join(dict.fromkeys(kinds))


def alternative(results: dict[str, BenchMatch], system: System) -> str:
    """Return the picture in words."""
    parts = []
    for side, pair in ((side, shown(result)) for side, result in results.items()):
        role = f", {ROLES[side]}" if len(results) > 1 else ""
        whose = f"{side.upper()}{role}: " if side else ""
        head = f"{whose}{pair.mover} with {pair.converter.title}."
        said = [
            f"{name} at {_value(point.engine_speed, 'angular_speed', system)}, "
            f"{_value(point.input_torque, 'torque', system)}"
            for code, name, point, _ in pair.points
            if code in ("stall", "coupling")
        ]
        if pair.no_stall:
            said.insert(0, f"no stall match from idle: {pair.no_stall}")
        elif pair.also:
            said.append(pair.also)
        parts.append(f"{head} {'; '.join(said)}.")
    return " ".join(parts)


def packed(scene: Scene) -> tuple[dict[str, Any], bytes]:
    """Return a scene as plain data and one block of float32 pairs that the plain data point into.

    Numbers travel as bytes: a tenth of the size and of the time of text.
    """
    blocks: list[bytes] = []
    at = 0
    panels = []
    for panel in scene.panels:
        lines = []
        for line in panel.lines:
            pairs = np.column_stack([line.x, line.y]).astype("<f4")
            lines.append(
                [line.id, line.stroke, line.side, at, len(pairs), line.label, *line.label_at]
            )
            blocks.append(pairs.tobytes())
            at += pairs.size
        panels.append(
            {
                "id": panel.id,
                "title": panel.title,
                "x": panel.x_label,
                "y": panel.y_label,
                "xr": panel.x_range,
                "yr": panel.y_range,
                "xt": ticks(*panel.x_range),
                "yt": ticks(*panel.y_range),
                "lines": lines,
                "marks": [
                    [mark.id, mark.side, mark.name, mark.text, mark.x, mark.y]
                    for mark in panel.marks
                ],
                "band": panel.band,
                "guides": panel.guides,
            }
        )
    plain = {"panels": panels, "alt": scene.alternative, "absent": scene.absent}
    return plain, b"".join(blocks)


def ticks(low: float, high: float, wanted: int = 6) -> list[float]:
    """Return round values for an axis: steps of 1, 2 or 5 times a power of ten."""
    step = _step((high - low) / wanted)
    first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
    return [float(round(i * step, 10)) for i in range(first, last + 1)]


def _step(rough: float) -> float:
    power = 10.0 ** floor(log10(rough))
    return power * next(m for m in (1, 2, 5, 10) if m * power >= rough * (1 - 1e-9))


def _ceiling(value: float) -> float:
    """Round an axis end up, so that it does not move with every small change."""
    if not value > 0:
        return 1.0
    step = _step(value / 8)
    return float(ceil(value / step) * step)


def _top(values: FloatArray) -> float:
    values = values[np.isfinite(values)]
    return float(values.max()) if values.size else 0.0


def _engine_lines(side: str, pair: ShownPair, system: System, *, two: bool) -> list[SceneLine]:
    lines = []
    for each in pair.supplied:
        speed = show(each.speed, "angular_speed", system)[0]
        torque = show(each.torque, "torque", system)[0]
        stands = _flattest(speed, torque, above=each.stroke == "gross")
        named = two and len(pair.loci) > 1
        label = f"{side.upper()} {each.label}" if named else each.label
        lines.append(
            SceneLine(f"{side}/{each.stroke}", each.stroke, side, speed, torque, label, stands)
        )
    low, high = pair.converter.domain
    reach = np.linspace(0.0, max(each.speed[-1] for each in pair.supplied), 40)
    for nu in ABSORBED_AT if side == "a" else _ABSORBED_OF_B:
        if not low <= nu <= high:
            continue
        absorbed = float(pair.converter.capacity_at(nu)) * reach**2
        lines.append(
            SceneLine(
                f"{side}/absorbed-{nu:g}",
                "absorbed",
                side,
                show(reach, "angular_speed", system)[0],
                show(absorbed, "torque", system)[0],
                f"{nu:g}",
            )
        )
    for locus in pair.loci:
        lines.append(
            SceneLine(
                _within(side, "locus", locus.name),
                "locus",
                side,
                show(locus.points.engine_speed, "angular_speed", system)[0],
                show(locus.points.input_torque, "torque", system)[0],
            )
        )
    return lines


def _within(side: str, key: str, name: str) -> str:
    return f"{side}/{key}-{name}" if name else f"{side}/{key}"


def _flattest(x: FloatArray, y: FloatArray, *, above: bool) -> tuple[float, float]:
    """Return where level words stand clear of a curve: over or under its flattest stretch."""
    rows = max(int(_WORDS * x[-1] / (x[-1] - x[0]) * x.size), 2)
    stretches = sliding_window_view(y, min(rows, y.size))
    row = int(np.argmin(np.ptp(stretches, axis=1)))
    end = stretches[row].max() if above else stretches[row].min()
    return float(x[row + stretches.shape[1] // 2]), float(end)


def _exit_labels(lines: list[SceneLine], x_end: float, y_end: float) -> list[SceneLine]:
    """Put the label of each absorption curve where it leaves the panel."""
    placed = []
    for line in lines:
        if line.stroke != "absorbed" or not line.label:
            placed.append(line)
            continue
        inside = (line.x <= x_end) & (line.y <= y_end)
        last = int(np.flatnonzero(inside)[-1])
        x, y = float(line.x[last]), float(line.y[last])
        if last + 1 < line.x.size:
            share = (y_end - y) / (line.y[last + 1] - y)
            x, y = float(x + share * (line.x[last + 1] - x)), y_end
        placed.append(replace(line, label_at=(x, y)))
    return placed


def _output_lines(
    side: str, pair: ShownPair, system: System, *, two: bool
) -> dict[str, list[SceneLine]]:
    lines: dict[str, list[SceneLine]] = {"torque": [], "efficiency": [], "heat": []}
    for locus in pair.loci:
        points = locus.points
        x = show(points.turbine_speed, "angular_speed", system)[0]
        columns = {
            "torque": show(points.turbine_torque, "torque", system)[0],
            "efficiency": 100.0 * points.efficiency,
            "heat": show(points.heat, "power", system)[0],
        }
        called = f"{side.upper()} {locus.name}" if two and locus.name else locus.name
        for key, y in columns.items():
            stroke = f"{key}-dashed" if locus.dashed else key
            row = int(_NAMED_AT[key][locus.dashed] * (x.size - 1))
            stands = (float(x[row]), float(y[row])) if locus.name else (0.0, 0.0)
            name = _within(side, key, locus.name)
            lines[key].append(SceneLine(name, stroke, side, x, y, called, stands))
    return lines


def _marks(
    side: str, pair: ShownPair, system: System, x: str, y: str, dimension: str
) -> list[Mark]:
    marks = []
    for code, name, point, after in pair.points:
        at = show(getattr(point, x), "angular_speed", system)[0]
        value, unit = show(getattr(point, y), dimension, system)
        text = f"{at:.0f} rpm, {value:.0f} {unit}" + (f", {after}" if after else "")
        # Two points of one kind, at two torques of a motor, have names of their own.
        called = f"{side}/{code}/{y}" + (f"/{name}" if len(pair.loci) > 1 else "")
        marks.append(Mark(called, side, name, text, float(at), float(value)))
    return marks


def _band(pair: ShownPair, system: System) -> tuple[float, float] | None:
    ends: list[MatchPoint] = []
    for item in pair.ranges:
        ends += [point for point in (item.lower, item.upper) if point is not None]
    if len(ends) < 2:
        return None
    speeds = [float(show(point.turbine_speed, "angular_speed", system)[0]) for point in ends]
    return min(speeds), max(speeds)


def _unit(dimension: str, system: System) -> str:
    return show(0.0, dimension, system)[1]


def _value(value: float, dimension: str, system: System) -> str:
    number, unit = show(value, dimension, system)
    return f"{number:.0f} {unit}"
