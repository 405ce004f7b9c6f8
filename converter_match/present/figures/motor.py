"""A motor and a converter on one page: both torques, what is absorbed, what the gearbox sees."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from converter_match.answer.noted import Noted
from converter_match.curves import FloatArray
from converter_match.judgement.motor.load import MotorLoad
from converter_match.judgement.motor.result import MotorMatch, RatedMatch
from converter_match.present.drawing import style
from converter_match.present.figures.engine_panel import DEFAULT_RATIOS
from converter_match.present.figures.load_lines import carried_lines, carried_points
from converter_match.present.words.note_words import short_words
from converter_match.units import System, show

_STROKE = {"peak": style.SERIES[1], "continuous": style.SERIES[0]}
_NEAR = 0.025


def motor_figure(result: MotorMatch, *, system: System = "si", font_scale: float = 1.0) -> Figure:
    """Draw motor and absorption on the left, turbine torque and heat on the right.

    Parameters
    ----------
    result : MotorMatch
    system : {"si", "us"}
    font_scale : float
        Multiplies all letters.

    Returns
    -------
    Figure
        Artists worth finding have a gid: ``peak``, ``continuous``, ``absorption-NU``,
        ``peak-stall-point``, ``peak-coupling-point`` (and of ``continuous``), and
        ``PANEL-peak``, ``PANEL-continuous`` with the panels ``turbine-torque`` and ``heat``;
        of a load those of `load_lines`, and ``load-continuous-point-N``.
    """
    figure = style.new_figure(11.0, 6.6)
    motor = result.setup.motor
    voltage = result.setup.voltage or (motor.voltage and motor.voltage.nominal)
    supply = "Voltage not given" if voltage is None else f"At {voltage:g} V"
    bottom, top = style.frame(
        figure,
        (motor.name, result.converter.title),
        [
            f"{supply}. Peak torque held for {motor.peak_time:.0f} s from "
            f"{'cold (duty type S2)' if motor.peak_from == 'cold' else 'continuous warmth'}; "
            "continuous torque: duty type S1. Idle, droop and intake air do not apply.",
        ],
        [flag_words(result), f"Source of the motor: {motor.source}. Source of the converter: "
                         f"{result.converter.source}."],
        font_scale=font_scale,
    )  # fmt: skip
    width, height = (float(value) for value in figure.get_size_inches())
    grid = figure.add_gridspec(
        2,
        2,
        width_ratios=(1.25, 1.0),
        height_ratios=(1.5, 1.0),
        left=(0.2 + 0.42 * font_scale) / width,
        right=1.0 - 0.25 / width,
        bottom=bottom + (0.2 + 0.3 * font_scale) / height,
        top=top - (0.1 + 0.22 * font_scale) / height,
        wspace=0.15,
        hspace=0.3 * font_scale**0.5,
    )
    _motor_panel(figure.add_subplot(grid[:, 0]), result, system, font_scale)
    for row, (panel, key, amount, words) in enumerate(
        (
            ("turbine-torque", "turbine_torque", "torque", "turbine torque"),
            ("heat", "heat", "power", "heat into the oil"),
        )
    ):
        ax = figure.add_subplot(grid[row, 1])
        style.dress(ax, font_scale=font_scale)
        below = style.axis_label("turbine speed", "angular_speed", system) if row else None
        style.name_axes(ax, below, style.axis_label(words, amount, system), font_scale=font_scale)
        _turbine_panel(ax, result, panel, key, amount, system, font_scale)
        if panel == "turbine-torque":
            _load(ax, result, system, font_scale)
    return figure


def _load(ax: Axes, result: MotorMatch, system: System, font_scale: float) -> None:
    """Draw the load that was asked for beside the match, and where it runs with both torques."""
    for block in result.beside:
        if isinstance(block.detail, MotorLoad):
            peak, steady = (block.detail.carried[rating] for rating in ("peak", "continuous"))
            carried_lines(ax, block.detail.load, peak, system, font_scale)
            for row, each in enumerate(steady):
                carried_points(ax, row, each, system, of="load-continuous")


def flag_words(result: Noted) -> str:
    """Return every assumption and warning in a few words."""
    said = []
    for title, kinds in (("Assumed", ("assumption",)), ("Warnings", ("warning", "limit"))):
        words = short_words(note for note in result.notes if note.kind in kinds)
        said += [f"{title}: {words}."] if words else []
    return " ".join(said)


def _motor_panel(ax: Axes, result: MotorMatch, system: System, font_scale: float) -> None:
    style.dress(ax, font_scale=font_scale)
    style.name_axes(
        ax,
        style.axis_label("motor and impeller speed", "angular_speed", system),
        style.axis_label("torque", "torque", system),
        font_scale=font_scale,
    )
    size = style.sizes(font_scale).label
    top_speed = result.setup.top_speed
    highest = float(result.peak.supply.source.y.max())
    ax.set_xlim(0.0, float(show(1.1 * top_speed, "angular_speed", system)[0]))
    ax.set_ylim(0.0, float(show(1.3 * highest, "torque", system)[0]))
    for rated in (result.peak, result.continuous):
        omega = np.linspace(0.0, rated.supply.domain[1], 400)
        omega = np.union1d(omega, rated.supply.source.x)
        torque = rated.supply.factor * np.asarray(rated.supply.source(omega))
        x, y = shown_values(omega, "angular_speed", system), shown_values(torque, "torque", system)
        ax.plot(x, y, gid=rated.rating, zorder=3, **_STROKE[rated.rating].line())
    _parabolas(ax, result, system, size)
    for rated in (result.peak, result.continuous):
        _points(ax, rated, system, size)
        look = style.letters(size, _STROKE[rated.rating].word_color)
        line = next(line for line in ax.lines if line.get_gid() == rated.rating)
        x, y = np.asarray(line.get_xdata(), float), np.asarray(line.get_ydata(), float)
        style.label_line(
            ax, x, y, f"{rated.rating} torque", near=0.18, side=1,
            gid=f"{rated.rating}-label", **look,
        )  # fmt: skip


def _parabolas(ax: Axes, result: MotorMatch, system: System, size: float) -> None:
    low, high = result.converter.domain
    coupling = result.converter.coupling
    ratios = [] if coupling is None else [coupling]
    ratios += [
        nu
        for nu in DEFAULT_RATIOS
        if low <= nu <= high and (coupling is None or abs(nu - coupling) >= _NEAR)
    ]
    right, top = 0.94 * ax.get_xlim()[1], 0.93 * ax.get_ylim()[1]
    per_speed, per_torque = (float(show(1.0, name, system)[0]) for name in
                             ("angular_speed", "torque"))  # fmt: skip
    above: list[tuple[float, float, float]] = []
    beside: list[tuple[float, float, float]] = []
    for nu in sorted(ratios):
        capacity = float(result.converter.capacity_at(nu))
        end = right if capacity <= 0.0 else per_speed * np.sqrt(top / per_torque / capacity)
        speed = np.linspace(0.0, min(right, end), 200)
        torque = per_torque * capacity * (speed / per_speed) ** 2
        ax.plot(
            speed, torque, gid=f"absorption-{nu:.4g}", zorder=2.5,
            **style.STROKES["absorbed"].line(),
        )  # fmt: skip
        (above if end < right else beside).append((nu, float(speed[-1]), float(torque[-1])))
    look = style.letters(size, style.STROKES["absorbed"].word_color)
    for members, way in ((above, "up"), (beside, "right")):
        style.label_ends(
            ax,
            [(x, y) for _, x, y in members],
            [f"{nu:.2f}".rstrip("0").rstrip(".") for nu, _, _ in members],
            [f"absorption-{nu:.4g}-label" for nu, _, _ in members],
            way=way,  # type: ignore[arg-type]
            caption="speed ratio" if members is (above or beside) else "",
            **look,
        )


def _points(ax: Axes, rated: RatedMatch, system: System, size: float) -> None:
    stroke = _STROKE[rated.rating]
    spots, texts, gids = [], [], []
    for gid, name, point in (
        ("stall", "stall", rated.stall),
        ("coupling", "coupling point", rated.coupling),
    ):
        if point is None:
            continue
        speed, unit = show(point.engine_speed, "angular_speed", system)
        torque = float(show(point.input_torque, "torque", system)[0])
        ax.plot([speed], [torque], gid=f"{rated.rating}-{gid}-point", **stroke.mark())
        spots.append((float(speed), torque))
        texts.append(f"{name}, {rated.rating}\n{speed:.0f} {unit}")
        gids.append(f"{rated.rating}-{gid}-label")
    style.label_points(ax, spots, texts, gids, **style.letters(size, bold=True))


def _turbine_panel(
    ax: Axes,
    result: MotorMatch,
    panel: str,
    key: str,
    amount: str,
    system: System,
    font_scale: float,
) -> None:
    highest = 0.0
    ends = 0.0
    for rated in (result.peak, result.continuous):
        points = rated.locus.from_idle()
        there = points.found & (points.speed_ratio >= 0.0)
        x = shown_values(points.turbine_speed[there], "angular_speed", system)
        y = shown_values(getattr(points, key)[there], amount, system)
        ax.plot(x, y, gid=f"{panel}-{rated.rating}", **_STROKE[rated.rating].line())
        highest, ends = max(highest, float(y.max())), max(ends, float(x.max()))
    ax.set_xlim(0.0, 1.04 * ends)
    ax.set_ylim(0.0, 1.25 * highest)
    size = style.sizes(font_scale).label
    for rated in (result.peak, result.continuous):
        line = next(line for line in ax.lines if line.get_gid() == f"{panel}-{rated.rating}")
        x, y = np.asarray(line.get_xdata(), float), np.asarray(line.get_ydata(), float)
        look = style.letters(size, _STROKE[rated.rating].word_color)
        style.label_line(
            ax, x, y, rated.rating, near=0.3, side=1, gid=f"{panel}-{rated.rating}-label", **look
        )


def shown_values(values: FloatArray, amount: str, system: System) -> FloatArray:
    """Return SI values in the unit in which an amount is read."""
    return np.asarray(show(values, amount, system)[0])
