"""Panels of what an arrangement asks of the engine: pumps, engine braking, part load."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes

from converter_match.judgement.arrangement.load import OverrunRun, PartLoadRun, SharingRun
from converter_match.present.drawing import style
from converter_match.present.figures.arrangement_lines import Line, draw_band, draw_lines, two_axes
from converter_match.units import System, show

_TURBINE = ("turbine speed", "angular_speed")


def sharing_panels(
    run: SharingRun,
    *,
    axes: Sequence[Axes] | None = None,
    system: System = "si",
    font_scale: float = 1.0,
) -> tuple[Axes, Axes]:
    """Draw what the pumps leave: turbine torque and engine speed over turbine speed.

    Parameters
    ----------
    run : SharingRun
    axes : sequence of two Axes, optional
    system : {"si", "us"}
    font_scale : float

    Returns
    -------
    tuple of Axes
        Torque, engine speed; one line a state, its gid the state's name.

    Raises
    ------
    InputError
        If the number of axes is not two, or the unit system or font scale cannot be used.
    """
    left, right = two_axes(axes)
    for ax, quantity, dimension, words in (
        (left, "turbine_torque", "torque", "turbine torque"),
        (right, "engine_speed", "angular_speed", "engine speed"),
    ):
        lines = [
            Line(
                state,
                _STATES[state],
                getattr(points, quantity),
                look,
                0.2 + 0.12 * row,
                _SIDES[state],
                jumps,
            )
            for row, ((state, points), jumps, look) in enumerate(
                zip(run.states, run.jumps_before, style.SERIES[: len(run.states)], strict=True)
            )
        ]
        draw_lines(
            ax,
            run.turbine_speed,
            _TURBINE,
            lines,
            (words, dimension),
            system=system,
            font_scale=font_scale,
            from_zero=ax is left,
        )
    return left, right


# Above the least loaded, on the two between, below the most loaded: they lie close together.
_SIDES = {"without": 1, "standby": 0, "partial": 0, "relief": -1}
_STATES = {
    "without": "no pumps",
    "standby": "standby",
    "partial": "at work",
    "relief": "at relief",
}


def braking_panels(
    run: OverrunRun,
    *,
    axes: Sequence[Axes] | None = None,
    system: System = "si",
    font_scale: float = 1.0,
) -> tuple[Axes, Axes]:
    """Draw retarding torque and power over turbine speed, open and locked up.

    Parameters
    ----------
    run : OverrunRun
    axes : sequence of two Axes, optional
    system : {"si", "us"}
    font_scale : float

    Returns
    -------
    tuple of Axes
        Retarding torque (gids ``open``, ``locked``), power (``open``, ``locked``, ``heat``).

    Raises
    ------
    InputError
        If the number of axes is not two, or the unit system or font scale cannot be used.
    """
    left, right = two_axes(axes)
    opened, locked = style.SERIES[0], style.SERIES[1]
    if run.spread:
        torque = run.band(lambda item: -item.turbine_torque, none_below=True)
        power = run.band(lambda item: item.retarding_power, none_below=True)
        draw_band(left, run.turbine_speed, _TURBINE, torque, "torque", system=system)
        draw_band(right, run.turbine_speed, _TURBINE, power, "power", system=system)
    draw_lines(
        left,
        run.turbine_speed,
        _TURBINE,
        [
            Line("open", "through the converter", -run.open.turbine_torque, opened, 0.35, -1),
            Line("locked", "locked up", -run.locked.turbine_torque, locked, 0.7),
        ],
        ("retarding torque at the turbine", "torque"),
        system=system,
        font_scale=font_scale,
    )
    draw_lines(
        right,
        run.turbine_speed,
        _TURBINE,
        [
            Line("open", "through the converter", run.open.retarding_power, opened, 0.45, -1),
            Line("locked", "locked up", run.locked.retarding_power, locked, 0.7),
            Line("heat", "of it into the converter's oil", run.open.heat, style.SERIES[4], 0.4),
        ],
        ("retarding power", "power"),
        system=system,
        font_scale=font_scale,
    )
    return left, right


def part_load_panels(
    run: PartLoadRun,
    *,
    axes: Sequence[Axes] | None = None,
    system: System = "si",
    font_scale: float = 1.0,
) -> tuple[Axes, Axes]:
    """Draw engine speed and turbine torque over speed ratio, one line a setting, and idle.

    Parameters
    ----------
    run : PartLoadRun
    axes : sequence of two Axes, optional
    system : {"si", "us"}
    font_scale : float

    Returns
    -------
    tuple of Axes
        Engine speed, turbine torque; gids ``setting-N`` and ``idle``.

    Raises
    ------
    InputError
        If the number of axes is not two, or the unit system or font scale cannot be used.
    """
    left, right = two_axes(axes)
    mapped = run.map
    count = mapped.setting.size
    nears = [0.12 + 0.17 * (row % 5) for row in range(count)]
    sides = [-1] * (count - 1) + [1]  # the last setting is usually the full one, on top
    looks = [style.SERIES[row % len(style.SERIES)] for row in range(count)]
    for ax, quantity, dimension, words in (
        (left, "engine_speed", "angular_speed", "engine speed"),
        (right, "turbine_torque", "torque", "turbine torque"),
    ):
        values = getattr(mapped.points, quantity)
        lines = [
            Line(
                f"setting-{row}",
                _setting_words(run, row, system),
                values[row],
                look,
                near,
                side,
                mapped.jumps_before[row],
            )
            for row, (look, near, side) in enumerate(zip(looks, nears, sides, strict=True))
        ]
        idle = getattr(run.creep.points, quantity)
        lines.append(Line("idle", "idle in gear", idle, style.STROKES["absorbed"], 0.5))
        draw_lines(
            ax,
            mapped.speed_ratio,
            ("speed ratio", "number"),
            lines,
            (words, dimension),
            system=system,
            font_scale=font_scale,
        )
    return left, right


def _setting_words(run: PartLoadRun, row: int, system: System) -> str:
    value = float(run.map.setting[row])
    if run.map.governing == "torque":
        return f"pedal {100 * value:.0f} %"
    number, unit = show(value, "angular_speed", system)
    return f"set {number:.0f} {unit}"
