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
from converter_match.judgement.match.branches import coming_up_curve
from converter_match.judgement.match.result import MatchPoint, MatchResult
from converter_match.present.bench.state import ROLES
from converter_match.present.drawing.key_points import NET_WORDS, rating_words
from converter_match.units import System, show

ABSORBED_AT = (0.0, 0.4, 0.6, 0.8, 0.95)
_ENGINE_ROWS = 90
# A few curves of B show which way the absorption moved; all of them would hide those of A.
_ABSORBED_OF_B = (0.0, 0.8)
_HEADROOM = 1.08
# Share of the panel's height that the words at the foot of a guide take.
_FOOT = 0.35
# Share of the panel's width that words along a curve take.
_WORDS = 0.26


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


def scene(results: dict[str, MatchResult], system: System = "si") -> Scene:
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
    for side, result in results.items():
        engine_lines += _engine_lines(side, result, system)
        engine_marks += _marks(side, result, system, "engine_speed", "input_torque", "torque")
        for key, line in _output_lines(side, result, system).items():
            output[key].append(line)
        for key, quantity, dimension in (
            ("torque", "turbine_torque", "torque"),
            ("heat", "heat", "power"),
        ):
            output_marks[key] += _marks(side, result, system, "turbine_speed", quantity, dimension)
    top = max(_top(line.y) for line in engine_lines if line.stroke in ("gross", "net"))
    highest = max(_top(line.x) for line in engine_lines if line.stroke == "gross")
    x_out = (0.0, _ceiling(max(_top(line.x) for line in output["torque"])))
    first = results["a"]
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
        for value, name, up in (
            (first.engine.low_idle, "low idle", True),
            (first.engine.rated_speed, "rated", low),
            (first.engine.high_idle, "high idle", low),
        )
    )
    panels = [
        Panel(
            "engine",
            "Engine and absorbed torque",
            f"engine and impeller speed ({speed})",
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
        (side, "stall", f"none, {_no_stall(result)}")
        for side, result in results.items()
        if not result.stall
    )
    return Scene(tuple(panels), alternative(results, system), absent)


def alternative(results: dict[str, MatchResult], system: System) -> str:
    """Return the picture in words."""
    parts = []
    for side, result in results.items():
        role = f", {ROLES[side]}" if len(results) > 1 else ""
        whose = f"{side.upper()}{role}: " if side else ""
        head = f"{whose}{result.engine.name} with {result.converter.title}."
        said = [
            f"{name} at {_value(point.engine_speed, 'angular_speed', system)}, "
            f"{_value(point.input_torque, 'torque', system)}"
            for name, point in (
                (result.called("stall"), result.stall),
                (result.called("coupling"), result.coupling),
            )
            if point is not None
        ]
        if result.stall is None:
            said.insert(0, f"no stall match from idle: {_no_stall(result)}")
        elif result.on_governor != "never":
            said.append(result.governor_words)
        parts.append(f"{head} {'; '.join(said)}.")
    return " ".join(parts)


def _no_stall(result: MatchResult) -> str:
    held = result.idle is not None
    return "the curves do not meet" if held else "the engine cannot hold idle in gear"


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


def _engine_lines(side: str, result: MatchResult, system: System) -> list[SceneLine]:
    supply, full = result.supply, result.engine.full_load
    omega = np.linspace(*supply.domain, _ENGINE_ROWS)
    speed = show(omega, "angular_speed", system)[0]
    gross = show(supply.factor * full(omega), "torque", system)[0]
    net = show(supply.torque(omega), "torque", system)[0]
    basis = rating_words(result)
    lines = [
        SceneLine(
            f"{side}/gross", "gross", side, speed, gross, basis, _flattest(speed, gross, above=True)
        ),
        SceneLine(
            f"{side}/net", "net", side, speed, net, NET_WORDS, _flattest(speed, net, above=False)
        ),
    ]
    low, high = result.converter.domain
    reach = np.linspace(0.0, omega[-1], 40)
    for nu in ABSORBED_AT if side == "a" else _ABSORBED_OF_B:
        if not low <= nu <= high:
            continue
        absorbed = float(result.converter.capacity_at(nu)) * reach**2
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
    points = coming_up_curve(result)
    lines.append(
        SceneLine(
            f"{side}/locus",
            "locus",
            side,
            show(points.engine_speed, "angular_speed", system)[0],
            show(points.input_torque, "torque", system)[0],
        )
    )
    return lines


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


def _output_lines(side: str, result: MatchResult, system: System) -> dict[str, SceneLine]:
    points = coming_up_curve(result)
    x = show(points.turbine_speed, "angular_speed", system)[0]
    columns = {
        "torque": show(points.turbine_torque, "torque", system)[0],
        "efficiency": 100.0 * points.efficiency,
        "heat": show(points.heat, "power", system)[0],
    }
    return {key: SceneLine(f"{side}/{key}", key, side, x, y) for key, y in columns.items()}


def _marks(
    side: str, result: MatchResult, system: System, x: str, y: str, dimension: str
) -> list[Mark]:
    marks = []
    governed = result.on_governor != "never"
    for code in ("stall", "coupling", "governed_limit"):
        point: MatchPoint | None = getattr(result, code)
        # Where stall itself is on the governor, the two are one point: it is said, not hidden.
        if point is None or (code == "governed_limit" and governed):
            continue
        at = show(getattr(point, x), "angular_speed", system)[0]
        value, unit = show(getattr(point, y), dimension, system)
        text = f"{at:.0f} rpm, {value:.0f} {unit}"
        if code == "stall" and governed:
            text += f", {result.governor_words}"
        name = result.called(code)
        marks.append(Mark(f"{side}/{code}/{y}", side, name, text, float(at), float(value)))
    return marks


def _band(result: MatchResult, system: System) -> tuple[float, float] | None:
    ends: list[MatchPoint] = []
    for item in result.working_range(0.8):
        ends += [point for point in (item.lower, item.upper) if point is not None]
    if len(ends) < 2:
        return None
    low = min(show(point.turbine_speed, "angular_speed", system)[0] for point in ends)
    high = max(show(point.turbine_speed, "angular_speed", system)[0] for point in ends)
    return float(low), float(high)


def _unit(dimension: str, system: System) -> str:
    return show(0.0, dimension, system)[1]


def _value(value: float, dimension: str, system: System) -> str:
    number, unit = show(value, dimension, system)
    return f"{number:.0f} {unit}"
