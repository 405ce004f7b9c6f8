"""Stall tests as figures: what explains the readings, one machine over time, all machines."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter
from matplotlib.figure import Figure
from matplotlib.patches import Ellipse

from converter_match.errors import InputError, did_you_mean
from converter_match.judgement.stall.drift import Drift
from converter_match.judgement.stall.inversion import Inversion
from converter_match.judgement.stall.result import StallDiagnosis
from converter_match.library.stall_log_table import LogRow
from converter_match.present.drawing import style
from converter_match.present.stall import words
from converter_match.units import System, note_text, show, to_si

# What the picture of explanations shows of both factors.
_CAPACITY, _TORQUE = (0.6, 1.4), (0.4, 1.3)
_BAND = style.Stroke("sage", "solid", 7.0, "|")
_DRIFT = style.Stroke("petrol", (0.0, (5.0, 2.5)), 1.4, "o")
_PLACES = {
    "inside": style.Stroke("ink", "solid", 1.6, "o"),
    "below": style.Stroke("brick", "solid", 1.6, "v"),
    "above": style.Stroke("plum", "solid", 1.6, "^"),
    "outside": style.Stroke("brick", "solid", 1.6, "d"),
    "void": style.Stroke("amber", "solid", 1.6, "X"),
    "no-band": style.Stroke("amber", "solid", 1.6, "D"),
}


def explanations_figure(
    diagnosis: StallDiagnosis,
    *,
    ax: Axes | None = None,
    system: System = "si",
    font_scale: float = 1.0,
) -> Figure:
    """Draw torque against capacity: every pair that explains a reading lies on its line.

    Parameters
    ----------
    diagnosis : StallDiagnosis
    ax : Axes, optional
        Where to draw; a page of its own without.
    system : {"si", "us"}
        For the speeds named on the lines.
    font_scale : float

    Returns
    -------
    Figure
        Artists worth finding have a gid: ``explains-N``, ``band-N``, ``off-the-picture``,
        ``healthy``, ``separated``.

    Raises
    ------
    InputError
        If no reading can be explained (all void), or all lines lie off the picture.
    """
    usable = [item for item in diagnosis.judged if item.inversion is not None]
    if not usable:
        raise InputError("no usable reading", field="readings")
    shown = [_crosses(item.inversion) for item in usable]
    if not any(shown):
        raise InputError(
            "nothing to draw: no torque and capacity near those of a healthy machine explain the "
            "readings",
            field="readings",
            expected=f"on at least one line torque {100 * _TORQUE[0]:.0f} to "
            f"{100 * _TORQUE[1]:.0f} %, capacity {_CAPACITY[0]:g} to {_CAPACITY[1]:g} times the "
            "sheet",
            hint="are these readings of this engine and converter?",
        )  # fmt: skip
    if ax is None:
        ax = _page(
            ["What explains the readings"],
            [f"{diagnosis.setup.engine.name} + {diagnosis.setup.converter.title}",
             "Each line: torque and capacity that explain one reading equally well; beside it "
             f"{100 * diagnosis.setup.coverage:.0f} % of what tachometer, air and loads leave "
             "open. "
             f"{_what_meets(diagnosis)}"],
            [f"Next cheapest check: {diagnosis.next_check.words}.", words.HAZARD],
            font_scale,
        )  # fmt: skip
    size = style.sizes(font_scale)
    style.dress(ax, font_scale=font_scale)
    style.name_axes(
        ax, "capacity / sheet (–)", "engine torque / healthy (–)", font_scale=font_scale
    )
    ax.set_xlim(*_CAPACITY)
    ax.set_ylim(*_TORQUE)
    setup = diagnosis.setup
    tol = setup.tolerances
    ax.add_patch(
        Ellipse((1.0, 1.0), 2 * tol.capacity, 2 * setup.engine_tolerance, gid="healthy",
                facecolor=style.PALETTE["sage"], alpha=0.45, edgecolor="none")
    )  # fmt: skip
    # A rim, which words keep off: they know lines and not areas.
    turn = np.linspace(0.0, 2.0 * np.pi, 61)
    rim = 1.0 + tol.capacity * np.cos(turn), 1.0 + setup.engine_tolerance * np.sin(turn)
    ax.plot(*rim, color=style.PALETTE["sage"], linewidth=1.5, gid="healthy-rim")
    lines = []
    for number, item in enumerate(usable):
        assert item.inversion is not None
        stroke = style.SERIES[number % len(style.SERIES)]
        x, y = item.inversion.curve_capacity, item.inversion.curve_torque
        ends = item.inversion.curve_low, item.inversion.curve_high
        ax.fill_between(x, *ends, gid=f"band-{number}", facecolor=stroke.color,
                        alpha=0.10, linewidth=0)  # fmt: skip
        for end in ends:  # in grey the edges tell the bands apart, drawn as their lines are
            ax.plot(x, end, gid=f"edge-{number}", **stroke.line(linewidth=0.7, alpha=0.7))
        ax.plot(x, y, gid=f"explains-{number}", **stroke.line(linewidth=1.8))
        lines.append((x, y, item, stroke))
    if diagnosis.separated is not None:
        s = diagnosis.separated
        _ellipse(ax, s.capacity_factor, s.torque_factor, s.capacity_sigma, s.torque_sigma,
                 s.correlation)  # fmt: skip
    off = []
    for (x, y, item, stroke), drawn in zip(lines, shown, strict=True):
        speed, unit = show(item.reading.engine_speed, "angular_speed", system)
        label = f"{item.label}: {speed:.0f} {unit}"
        if not drawn:
            side = "above" if float(np.median(y)) > _TORQUE[1] else "below"
            off.append(f"{label} lies {side} the picture")
            continue
        # Above its band, where no edge runs through the words; on the line where that is not shown.
        assert item.inversion is not None
        edge = item.inversion.curve_high
        along = edge if np.any((edge > _TORQUE[0]) & (edge < _TORQUE[1])) else y
        style.label_line(
            ax, x, along, label, near=0.75, side=1, **style.letters(size.label, stroke.word_color)
        )
    if off:
        ax.text(0.015, 0.985, "\n".join(off), transform=ax.transAxes, ha="left", va="top",
                gid="off-the-picture", **style.words(size.label))  # fmt: skip
    points = [(1.0, 1.0 + setup.engine_tolerance)]
    texts, gids = ["healthy"], ["healthy-label"]
    if diagnosis.separated is not None:
        points.append((diagnosis.separated.capacity_factor, diagnosis.separated.torque_factor))
        texts.append("all tests together")
        gids.append("separated-label")
    inside = [k for k, point in enumerate(points) if _in_picture(*point)]
    style.label_points(
        ax, [points[k] for k in inside], [texts[k] for k in inside], [gids[k] for k in inside],
        **style.letters(size.label),
    )  # fmt: skip
    return style.figure_of(ax)


def _in_picture(capacity: float, torque: float) -> bool:
    return _CAPACITY[0] < capacity < _CAPACITY[1] and _TORQUE[0] < torque < _TORQUE[1]


def _crosses(inversion: Inversion | None) -> bool:
    """Whether the line of a reading comes into the picture."""
    if inversion is None:
        return False
    torque = inversion.curve_torque
    return bool(torque.min() < _TORQUE[1] and torque.max() > _TORQUE[0])


def _what_meets(diagnosis: StallDiagnosis) -> str:
    if diagnosis.separated is not None:
        return "Where the bands of different tests overlap, one pair explains all."
    if diagnosis.together is not None and not diagnosis.together.fits:
        return "These readings do not fit one pair."
    return ""


def _ellipse(ax: Axes, x: float, y: float, sx: float, sy: float, r: float) -> None:
    """Two standard errors of both factors together."""
    values, vectors = np.linalg.eigh([[sx * sx, r * sx * sy], [r * sx * sy, sy * sy]])
    angle = float(np.degrees(np.arctan2(vectors[1, 1], vectors[0, 1])))
    width, height = (4.0 * float(np.sqrt(max(v, 0.0))) for v in values[::-1])
    ax.add_patch(
        Ellipse((x, y), width, height, angle=angle, gid="separated", facecolor="none",
                edgecolor=style.PALETTE["brick"], linewidth=1.6)
    )  # fmt: skip


def trend_figure(
    rows: Sequence[LogRow],
    *,
    machine: str | None = None,
    drift: Drift | None = None,
    ax: Axes | None = None,
    system: System = "si",
    font_scale: float = 1.0,
) -> Figure:
    """Draw the readings of one machine over time, each in front of its band.

    Parameters
    ----------
    rows : sequence of LogRow
        Of one machine, or of several if one is named.
    machine : str, optional
        Its name in the log.
    drift : Drift, optional
        What its readings do against their bands: said below the title, and drawn where it is seen.
    ax, system, font_scale
        As `explanations_figure`.

    Returns
    -------
    Figure
        Artists: ``bands``, ``readings-PLACE``, ``drift``.

    Raises
    ------
    InputError
        If there is no row (the machines of the log are named), or rows of several machines.
    """
    if machine is not None:
        rows = _of_machine(rows, machine)
    names = list(dict.fromkeys(row.machine for row in rows))
    if len(names) != 1:
        raise InputError("needs rows of one machine", field="rows", found=", ".join(names))
    if ax is None:
        pairs = dict.fromkeys(f"{row.engine} + {row.converter}" for row in rows)
        ax = _page(
            [f"Stall tests of {names[0]}"],
            [" / ".join(pairs), "Bars: where a healthy machine reads, in the air and oil of each "
             "test and with its coverage.",
             *(note_text(note, system) for note in (drift.notes if drift else ()))],
            [words.HAZARD], font_scale, width=10.0,
        )  # fmt: skip
    size = style.sizes(font_scale)
    style.dress(ax, font_scale=font_scale)
    style.name_axes(
        ax, None, style.axis_label("engine speed", "angular_speed", system), font_scale=font_scale
    )
    # Days since 1970, as matplotlib's date axes count.
    times = np.array([row.time.timestamp() / 86400.0 for row in rows])
    read = _speeds([row.engine_speed_rpm for row in rows], system)
    low = _speeds([row.expected_low_rpm for row in rows], system)
    high = _speeds([row.expected_high_rpm for row in rows], system)
    margin = max(0.06 * float(np.ptp(times)), 0.5)
    ax.set_xlim(float(times.min()) - margin, float(times.max()) + margin)
    every = np.concatenate([read, low, high])
    bottom, top = float(np.nanmin(every)), float(np.nanmax(every))
    ax.set_ylim(bottom - 0.12 * (top - bottom) - 1, top + 0.16 * (top - bottom) + 1)
    ax.vlines(times, low, high, color=_BAND.color, linewidth=_BAND.width, alpha=0.6, gid="bands")
    for place, stroke in _PLACES.items():
        chosen = np.array([row.place == place for row in rows])
        if chosen.any():
            ax.plot(times[chosen], read[chosen], gid=f"readings-{place}", **stroke.mark())
    if drift is not None and drift.drifts:
        middle = np.interp(drift.times / 86400.0, times, 0.5 * (low + high))
        ax.plot(drift.times / 86400.0, middle * (1.0 + drift.expected_at(drift.times)), gid="drift",
                **_DRIFT.line())  # fmt: skip
    locator = AutoDateLocator(minticks=3, maxticks=8)  # type: ignore[no-untyped-call]
    ax.xaxis.set_major_locator(locator)
    ax.xaxis.set_major_formatter(ConciseDateFormatter(locator))  # type: ignore[no-untyped-call]
    outside = [k for k, row in enumerate(rows) if row.place != "inside"][-6:]
    marked = outside or [len(rows) - 1]
    style.label_points(
        ax,
        [(float(times[k]), float(read[k])) for k in marked],
        [_words(rows[k]) for k in marked],
        [f"reading-{k}" for k in marked],
        **style.letters(size.label),
    )
    return style.figure_of(ax)


def _of_machine(rows: Sequence[LogRow], machine: str) -> Sequence[LogRow]:
    chosen = [row for row in rows if row.machine == machine]
    if not chosen:
        known = sorted({row.machine for row in rows})
        raise InputError(
            "no such machine in the log",
            field="machine",
            found=machine,
            expected=" | ".join(known),
            hint=did_you_mean(machine, known),
        )
    return chosen


def fleet_figure(
    rows: Sequence[LogRow],
    *,
    ax: Axes | None = None,
    system: System = "si",
    font_scale: float = 1.0,
) -> Figure:
    """Draw the last test of every machine: the reading against its band, the worst on top.

    Parameters
    ----------
    rows : sequence of LogRow
    ax, system, font_scale
        As `explanations_figure`.

    Returns
    -------
    Figure
        Artists: ``band-MACHINE``, ``reading-MACHINE``, ``earlier-MACHINE``.

    Raises
    ------
    InputError
        If there is no row.
    """
    if not rows:
        raise InputError("no test to draw", field="rows")
    by_machine: dict[str, list[LogRow]] = {}
    for row in rows:
        by_machine.setdefault(row.machine, []).append(row)
    last = {name: max(tests, key=lambda r: (r.time, _off(r))) for name, tests in by_machine.items()}
    order = sorted(last, key=lambda name: _off(last[name]))
    if ax is None:
        ax = _page(
            [f"Stall tests of {len(order)} machine{'s' if len(order) > 1 else ''}"],
            ["Last test of each; earlier readings faint. Bars: where a healthy machine reads. The "
             "farthest from its band on top."],
            [words.HAZARD], font_scale, height=max(3.4, 2.2 + 0.42 * len(order) * font_scale),
            left=0.3 + 0.085 * max(8, *(len(name) for name in order)),
        )  # fmt: skip
    size = style.sizes(font_scale)
    style.dress(ax, font_scale=font_scale)
    style.name_axes(
        ax, style.axis_label("engine speed", "angular_speed", system), None, font_scale=font_scale
    )
    every = _speeds(
        [
            v
            for r in rows
            if r.test == last[r.machine].test
            for v in (r.engine_speed_rpm, r.expected_low_rpm, r.expected_high_rpm)
        ],
        system,
    )
    lowest, highest = float(np.nanmin(every)), float(np.nanmax(every))
    room = max(highest - lowest, 50.0)
    ax.set_xlim(lowest - 0.06 * room, highest + 0.3 * room)
    ax.set_ylim(-0.7, len(order) - 0.3)
    ax.set_yticks(range(len(order)), order)
    for text in ax.get_yticklabels():
        text.set(parse_math=False)
    ax.grid(visible=False, axis="y")
    for height, name in enumerate(order):
        row = last[name]
        low, high, read = _speeds(
            [row.expected_low_rpm, row.expected_high_rpm, row.engine_speed_rpm], system
        )
        ax.hlines(height, low, high, color=_BAND.color, linewidth=_BAND.width, alpha=0.6,
                  gid=f"band-{name}")  # fmt: skip
        before = [r for r in by_machine[name] if r is not row and r.test == row.test]
        earlier = _speeds([r.engine_speed_rpm for r in before], system)
        ax.plot(
            earlier,
            np.full(earlier.shape, height),
            gid=f"earlier-{name}",
            **_PLACES["inside"].mark(markersize=4.0, alpha=0.35),
        )
        ax.plot([read], [height], gid=f"reading-{name}", **_PLACES[row.place].mark())
        ax.text(
            0.995, height + 0.14, _words(row), ha="right", va="bottom",
            transform=ax.get_yaxis_transform(), gid=f"words-{name}", **style.words(size.label),
        )  # fmt: skip
    return style.figure_of(ax)


def _off(row: LogRow) -> float:
    """How far a reading lies from the middle of its band, in half bands; farthest without one."""
    low, high = row.expected_low_rpm, row.expected_high_rpm
    if row.place == "void" or low is None or high is None:
        return float("inf")
    return abs(row.engine_speed_rpm - 0.5 * (low + high)) / (0.5 * (high - low))


def _words(row: LogRow) -> str:
    if row.place == "inside":
        return "inside its band"
    if row.place == "void":
        return "void: brakes did not hold"
    if row.place == "no-band":
        return "no band: a healthy one cannot accelerate from idle"
    gear = f", gear {row.gear}" if row.gear else ""
    if row.test != "converter":
        gear = f", {row.test} test{gear}"
    finding = row.finding.partition(":")[0].replace("-", " ")
    return f"{row.place}{gear}: {finding} most likely" if row.finding else f"{row.place}{gear}"


def _speeds(rpm: Sequence[float | None], system: System) -> np.ndarray:
    """Return speeds to draw; NaN, which draws nothing, where there is none."""
    omega = to_si(np.asarray(rpm, dtype=float), "rpm", "angular_speed")
    return np.atleast_1d(np.asarray(show(omega, "angular_speed", system)[0]))


def _page(
    titles: Sequence[str],
    lines: Sequence[str],
    footnotes: Sequence[str],
    font_scale: float,
    width: float = 8.5,
    height: float = 6.0,
    left: float = 0.85,
) -> Axes:
    figure = style.new_figure(width, height)
    bottom, top = style.frame(figure, titles, lines, footnotes, font_scale=font_scale)
    return figure.add_axes(
        (
            (0.35 + left * font_scale) / width,
            bottom + (0.2 + 0.3 * font_scale) / height,
            1.0 - (0.6 + left * font_scale) / width,
            top - bottom - (0.35 + 0.55 * font_scale) / height,
        )
    )
