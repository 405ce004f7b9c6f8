"""Present machine and candidate in one figure: how each loads its engine, what comes out of it."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from converter_match.curves import FloatArray
from converter_match.judgement.match.branches import coming_up_curve
from converter_match.judgement.match.result import MatchResult
from converter_match.present.drawing import style
from converter_match.present.figures.overlay import (
    basis_words,
    flag_words,
    page_axes,
    site_words,
    source_words,
)
from converter_match.units import System, show

# Who, dash of every line, filling of the marks: told apart without colour.
_SIDES = (("A", "solid", True), ("B", (0.0, (5.0, 2.2)), False))
_POINTS = (
    ("stall", "stall", "o"),
    ("coupling", "coupling point", "D"),
    ("governed_limit", "governed limit", "^"),
)
_OUTPUT = (
    ("turbine-torque", "turbine_torque", "torque", "turbine torque"),
    ("efficiency", "efficiency", "ratio", "efficiency (%)"),
    ("heat", "heat", "power", "heat into the oil"),
)


def present_and_candidate(
    present: MatchResult,
    candidate: MatchResult,
    *,
    system: System = "si",
    font_scale: float = 1.0,
    set_words: tuple[str, str] = ("", ""),
) -> Figure:
    """Draw two matches over each other: A the present machine, B the candidate.

    Parameters
    ----------
    present, candidate : MatchResult
    system : {"si", "us"}
        Units on every axis and label.
    font_scale : float
        Multiplies all letters.
    set_words : tuple of (str, str), optional
        What each is called in the heading; engine and converter by default.

    Returns
    -------
    Figure
        Lines have the gids ``a-net``, ``b-net``, ``a-absorbed-stall``, ``a-turbine-torque`` and so
        on; marks ``PANEL-a-stall`` and so on.

    Raises
    ------
    InputError
        If the unit system or the font scale cannot be used.

    Examples
    --------
    >>> import converter_match as cm
    >>> engine, tight = cm.read("six-cylinder-7l-185kw", "single-stage-345mm-tight")
    >>> a, b = cm.solve(engine, tight), cm.solve(engine, tight.scaled(profile_diameter=0.36))
    >>> len(present_and_candidate(a, b).axes)
    4
    """
    results = (present, candidate)
    names = [
        words or f"{result.engine.name} + {result.converter.title}"
        for words, result in zip(set_words, results, strict=True)
    ]
    lines = [f"A, present machine (unbroken lines, filled marks): {names[0]}"]
    lines += [f"B, candidate (broken lines, hollow marks): {names[1]}"]
    both = [(basis_words(each, system), site_words(each, system)) for each in results]
    lines += _of_both(both[0][0], both[1][0]) + _of_both(both[0][1], both[1][1])
    axes = page_axes(
        ("Present machine and candidate",),
        lines,
        [
            *_of_both(*(flag_words(each) for each in results)),
            *_of_both(*(source_words(each) for each in results)),
        ],
        font_scale,
    )
    left, *right = axes
    size = style.sizes(font_scale).label
    for ax in axes:
        style.dress(ax, font_scale=font_scale)
    speed = style.axis_label("engine and impeller speed", "angular_speed", system)
    style.name_axes(
        left, speed, style.axis_label("torque", "torque", system), font_scale=font_scale
    )
    for ax, (_, _, dimension, words) in zip(right, _OUTPUT, strict=True):
        below = (
            style.axis_label("turbine speed", "angular_speed", system) if ax is axes[-1] else None
        )
        label = words if dimension == "ratio" else style.axis_label(words, dimension, system)
        style.name_axes(ax, below, label, font_scale=font_scale)
    for ax in right[:-1]:
        ax.tick_params(labelbottom=False)
    top = 0.0
    for (side, dash, _), result in zip(_SIDES, results, strict=True):
        top = max(top, _engine_lines(left, side.lower(), dash, result, system))
        _output_lines(right, side.lower(), dash, result, system)
    left.set(ylim=(0.0, 1.12 * top), xlim=(0.0, None))
    for ax in right:
        ax.set(xlim=(0.0, None), ylim=(0.0, 104.0 if ax is right[1] else None))
    for (side, _, filled), result in zip(_SIDES, results, strict=True):
        _marks(axes, side.lower(), result, system, filled=filled)
    _words(axes[0], size)
    return left.get_figure(root=True)  # type: ignore[return-value]


def _of_both(a: str, b: str) -> list[str]:
    """Return what is said of both once, and what differs under its letter."""
    return [a] if a == b else [f"A: {a}", f"B: {b}"]


def _engine_lines(ax: Axes, side: str, dash: object, result: MatchResult, system: System) -> float:
    supply = result.supply
    omega = np.linspace(*supply.domain, 200)
    speed = _shown(omega, "angular_speed", system)
    net = _shown(supply.torque(omega), "torque", system)
    ax.plot(speed, net, gid=f"{side}-net", **style.STROKES["net"].line(linestyle=dash))
    if result.converter.domain[0] <= 0.0:
        reach = np.linspace(0.0, omega[-1], 60)
        ax.plot(
            _shown(reach, "angular_speed", system),
            _shown(float(result.converter.capacity_at(0.0)) * reach**2, "torque", system),
            gid=f"{side}-absorbed-stall",
            **style.STROKES["absorbed"].line(linestyle=dash),
        )
    return float(np.nanmax(net))


def _output_lines(
    axes: list[Axes], side: str, dash: object, result: MatchResult, system: System
) -> None:
    points = coming_up_curve(result)
    x = _shown(points.turbine_speed, "angular_speed", system)
    for ax, (panel, name, dimension, _) in zip(axes, _OUTPUT, strict=True):
        y = _shown(getattr(points, name), dimension, system)
        ax.plot(x, y, gid=f"{side}-{panel}", **style.STROKES[panel].line(linestyle=dash))


def _marks(
    axes: list[Axes], side: str, result: MatchResult, system: System, *, filled: bool
) -> None:
    brick = style.PALETTE["brick"]
    look = {"markerfacecolor": brick if filled else "white", "markeredgecolor": brick}
    panels = [("engine", "engine_speed", "input_torque", "torque")]
    panels += [(panel, "turbine_speed", name, dimension) for panel, name, dimension, _ in _OUTPUT]
    for ax, (panel, x, y, dimension) in zip(axes, panels, strict=True):
        for code, _, marker in _POINTS:
            point = getattr(result, code)
            if point is None:
                continue
            ax.plot(
                _shown(getattr(point, x), "angular_speed", system),
                _shown(getattr(point, y), dimension, system),
                gid=f"{panel}-{side}-{code}",
                **style.STROKES["locus"].mark(marker=marker, markeredgewidth=1.6, **look),
            )


def _words(left: Axes, size: float) -> None:
    """Name the lines of both, one name where they are one line, and each kind of point once."""
    lines = {str(artist.get_gid()): artist for artist in left.get_lines()}
    for name, words, stroke, places in (
        ("net", "net torque", "net", (0.3, 0.15)),
        ("absorbed-stall", "absorbed at stall", "absorbed", (0.75, 0.55)),
    ):
        drawn = [lines[f"{side}-{name}"] for side in "ab" if f"{side}-{name}" in lines]
        same = len(drawn) == 2 and np.array_equal(drawn[0].get_xydata(), drawn[1].get_xydata())
        for artist, place in zip(drawn[:1] if same else drawn, places, strict=False):
            gid = str(artist.get_gid())
            style.label_line(
                left,
                *artist.get_data(),
                f"{'A and B' if same else gid[0].upper()}: {words}",
                near=place,
                gid=f"{gid}-label",
                **style.letters(size, style.STROKES[stroke].word_color),
            )
    points, texts, gids = [], [], []
    for code, words, _ in _POINTS:
        marks = [lines[gid] for side in "ab" if (gid := f"engine-{side}-{code}") in lines]
        if marks:
            x, y = (np.ravel(values)[0] for values in marks[0].get_data())
            points.append((float(x), float(y)))
            texts.append(words)
            gids.append(f"{code}-label")
    style.label_points(left, points, texts, gids, **style.letters(size))


def _shown(values: FloatArray | float, dimension: str, system: System) -> FloatArray:
    if dimension == "ratio":
        return np.atleast_1d(100.0 * np.asarray(values))
    return np.atleast_1d(np.asarray(show(values, dimension, system)[0]))
