"""From a bench state to what is shown: results, scene, key figures, messages. No widget here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TypeVar

import numpy as np

from converter_match.answer.block import Heading
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.components.motor import Motor
from converter_match.components.site import Site
from converter_match.errors import InputError
from converter_match.judgement.match.indices import INDEX_LEVELS
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.match.solve import solve
from converter_match.judgement.motor.result import MotorMatch, RatedMatch
from converter_match.judgement.motor.setup import Rating
from converter_match.judgement.motor.solve import solve_motor
from converter_match.judgement.motor.words import DOES_NOT_APPLY, FOR_GOOD
from converter_match.library.check import with_odd
from converter_match.notes import Note, assumption
from converter_match.present.bench.scene import Scene, scene
from converter_match.present.bench.shelf import Shelf
from converter_match.present.bench.shown import BenchMatch, mover_name
from converter_match.present.bench.state import BenchState, Setting
from converter_match.present.notebook.table import NotebookTable
from converter_match.study.names import called
from converter_match.units import System, note_text, shown_text

# Code of the point, and what is shown of it.
_FIGURES: tuple[tuple[str, Heading], ...] = (
    ("stall", Heading("engine_speed", "stall speed", "angular_speed")),
    ("stall", Heading("input_torque", "input torque at stall", "torque")),
    ("stall", Heading("turbine_torque", "turbine torque at stall", "torque")),
    ("stall", Heading("torque_ratio", "torque ratio at stall", form=".2f")),
    ("stall", Heading("heat", "heat at stall", "power")),
    (
        "efficiency_80_lower",
        Heading("turbine_speed", "80 % efficiency from turbine speed", "angular_speed"),
    ),
    ("efficiency_80_lower", Heading("engine_speed", "engine speed there", "angular_speed")),
    ("coupling", Heading("turbine_speed", "coupling point, turbine speed", "angular_speed")),
    ("coupling", Heading("turbine_torque", "coupling point, turbine torque", "torque")),
    ("coupling", Heading("output_power", "output power at coupling", "power")),
    ("coupling", Heading("heat", "heat at coupling", "power")),
    ("governed_limit", Heading("turbine_speed", "governed limit, turbine speed", "angular_speed")),
    ("governed_limit", Heading("output_power", "output power there", "power")),
)
# Asked of a motor beside those: of which of its torques, code of the point and what is shown.
_OF_MOTORS: tuple[tuple[Rating, str, Heading], ...] = (
    ("peak", "stall", Heading("electric_power", "electric power at stall", "power")),
    ("peak", "stall", Heading("held_from_cold", "stall held by the winding, cold", "time", ".0f")),
    ("peak", "speed_limit", Heading("turbine_speed", "speed limit of the motor, turbine speed",
                                    "angular_speed")),
    ("peak", "speed_limit", Heading("output_power", "output power at the speed limit", "power")),
    ("continuous", "stall", Heading("engine_speed", "stall speed, continuous torque",
                                    "angular_speed")),
    ("continuous", "stall", Heading("turbine_torque", "turbine torque at stall, continuous",
                                    "torque")),
    ("continuous", "stall", Heading("heat", "heat at stall, continuous", "power")),
    ("continuous", "coupling", Heading("turbine_speed", "coupling point, continuous, turbine speed",
                                       "angular_speed")),
    ("continuous", "coupling", Heading("output_power", "output power there, continuous", "power")),
)  # fmt: skip
_NOT_OF_A_MOTOR = "not of a motor"
_NOT_OF_AN_ENGINE = "not of an engine"
_AVERAGES = (
    Heading("mean_output_power", "mean output in the working range", "power"),
    Heading("mean_efficiency", "mean efficiency in it"),
    Heading("span", "span of turbine speed", form=".2f"),
    Heading("mean_specific_fuel", "mean fuel over output", "specific_fuel"),
)
_Mover = TypeVar("_Mover", Engine, Motor)
_SINCE = {"at-stall": "at stall", "from-stall": "from stall on"}


@dataclass(frozen=True)
class KeyFigure:
    """One row of the table of key figures.

    Parameters
    ----------
    name, unit, a, b, difference : str
        ``b`` and ``difference`` are empty without B; ``none`` where there is no such point.
    """

    name: str
    unit: str
    a: str
    b: str
    difference: str


@dataclass(frozen=True)
class BenchView:
    """What the bench shows for a state.

    Parameters
    ----------
    results : dict of str to MatchResult or MotorMatch
        ``a`` and perhaps ``b``; a side whose setting cannot be solved is missing.
    scene : Scene or None
        None when A cannot be solved.
    figures : tuple of KeyFigure
    notes : tuple of (str, Note)
        Side and note, most serious first.
    problems : tuple of str
        Messages about settings that cannot be solved.
    """

    results: dict[str, BenchMatch]
    scene: Scene | None
    figures: tuple[KeyFigure, ...]
    notes: tuple[tuple[str, Note], ...]
    problems: tuple[str, ...]

    def result(self, side: str) -> BenchMatch:
        """Return the result of a side.

        Raises
        ------
        InputError
            If it has none; says what is wrong with its setting.
        """
        if side not in self.results:
            raise InputError(
                "there is no match to show",
                field=f"side {side.upper()}",
                hint=" ".join(self.problems) or "choose an engine and a converter for it",
            )
        return self.results[side]


def solve_setting(setting: Setting, shelf: Shelf) -> BenchMatch:
    """Solve one combination.

    Raises
    ------
    InputError
        If a component is not on the shelf, or the setting cannot be used.
    """
    return _solved(shelf.mover(setting.engine), shelf.converter(setting.converter), setting)


@lru_cache(maxsize=16)
def _solved(mover: Engine | Motor, converter: Converter, setting: Setting) -> BenchMatch:
    """Solve a combination; the side that is not being changed is not solved again."""
    named = [(called(part), part) for part in (mover, converter)]
    converter = _converter_as_set(converter, setting)
    site, pumps = site_of(setting), setting.hydraulic_torque
    if isinstance(mover, Motor):
        motor = _mover_as_set(mover, setting)
        found = solve_motor(
            motor, converter, site=site, voltage=setting.voltage, hydraulic_torque=pumps
        )
        return found.with_notes([*with_odd(named, found.notes), _motor_note(setting)])
    match = solve(_mover_as_set(mover, setting), converter, site=site, hydraulic_torque=pumps)
    return replace(match, notes=with_odd(named, match.notes))


def _motor_note(setting: Setting) -> Note:
    said = (
        f"With a motor these do not apply: {', '.join(DOES_NOT_APPLY)}. Key figures that an engine "
        "has too are those of the motor's peak torque."
    )
    if setting.altitude is not None:
        said += " The altitude changes no figure of it; the air cools it."
    return assumption("figures-of-an-engine-do-not-apply", said)


def as_set(setting: Setting, shelf: Shelf) -> tuple[Engine, Converter]:
    """Return engine and converter of a setting, with its accessories and diameter.

    Raises
    ------
    InputError
        If a component is not on the shelf, or there is no diameter to scale from.
    """
    engine, converter = shelf.engine(setting.engine), shelf.converter(setting.converter)
    return _mover_as_set(engine, setting), _converter_as_set(converter, setting)


def _mover_as_set(mover: _Mover, setting: Setting) -> _Mover:
    if setting.accessory_share == 1.0:
        return mover
    return mover.replace(
        accessories=tuple(
            replace(item, power=item.power * setting.accessory_share) for item in mover.accessories
        )
    )


def _converter_as_set(converter: Converter, setting: Setting) -> Converter:
    if setting.diameter_share == 1.0:
        return converter
    if converter.profile_diameter is None:
        raise InputError(
            "the converter's data give no profile diameter to scale from",
            source=converter.id,
            field="diameter",
        )
    return converter.scaled(profile_diameter=converter.profile_diameter * setting.diameter_share)


def site_of(setting: Setting) -> Site | None:
    """Return the site of a setting; None for the engine's own reference air."""
    if setting.altitude is None and setting.air_temperature is None:
        return None
    return Site(
        id="bench",
        name="site chosen at the bench",
        source="chosen at the bench",
        altitude=setting.altitude,
        air_temperature=setting.air_temperature,
    )


def view(state: BenchState, shelf: Shelf) -> BenchView:
    """Return everything the bench shows for a state.

    Only `InputError` becomes a message; any other error is a fault of ours and is not hidden.
    """
    results: dict[str, BenchMatch] = {}
    problems: list[str] = []
    for side, setting in (("a", state.a), ("b", state.b)):
        if setting is None:
            continue
        try:
            results[side] = solve_setting(setting, shelf)
        except InputError as error:
            problems.append(f"{side.upper()}: {error}")
    picture = scene(results, state.system) if "a" in results else None
    notes = [(side, note) for side, result in results.items() for note in result.notes]
    order = {"limit": 0, "warning": 1, "caution": 2, "assumption": 3}
    notes.sort(key=lambda item: order[item[1].kind])
    return BenchView(
        results,
        picture,
        key_figures(results, state.system),
        tuple(notes),
        tuple(problems),
    )


def key_figures(results: Mapping[str, BenchMatch], system: System) -> tuple[KeyFigure, ...]:
    """Return the table of key figures, with the difference B - A where both are there.

    What an engine has and a motor has not, or the other way round, says so and has no difference.
    Where both have it, that of a motor is at its peak torque, or says otherwise.
    """
    motors = [isinstance(result, MotorMatch) for result in results.values()]
    points = {
        side: {
            item.code: item.point
            for item in (result.peak if isinstance(result, MotorMatch) else result).key_points()
        }
        for side, result in results.items()
    }
    rows = []
    for code, head in _FIGURES:
        if code == "governed_limit" and all(motors):
            continue
        values: dict[str, float | str] = {}
        for side, result in results.items():
            point = points[side].get(code)
            if code != "governed_limit":
                values[side] = "none" if point is None else getattr(point, head.key)
            elif isinstance(result, MotorMatch):
                values[side] = _NOT_OF_A_MOTOR
            elif result.on_governor != "never":
                values[side] = _on_governor(result, head, system)
            else:
                values[side] = "none" if point is None else getattr(point, head.key)
        if any(motors):
            head = head.said(head.words.replace("engine speed", "input speed"))
        rows.append(_figure(head, values, system))
    if any(motors):
        rows += _motor_figures(results, system)
    return tuple(rows)


def _motor_figures(results: Mapping[str, BenchMatch], system: System) -> list[KeyFigure]:
    """Return what is asked of a motor beside, by side."""
    rows = []
    for rating, code, head in _OF_MOTORS:
        values: dict[str, float | str] = {}
        for side, result in results.items():
            if isinstance(result, MotorMatch):
                values[side] = _of_motor(result, getattr(result, rating), code, head.key)
            else:
                values[side] = _NOT_OF_AN_ENGINE
        rows.append(_figure(head, values, system))
    return rows


def _of_motor(result: MotorMatch, rated: RatedMatch, code: str, key: str) -> float | str:
    point = {item.code: item.point for item in rated.key_points()}.get(code)
    if point is None:
        return "none"
    if key == "electric_power":
        torque = np.asarray(result.duty_of(point)[0])
        power = float(result.setup.electric(torque, np.asarray(point.engine_speed)))
        return power if np.isfinite(power) else "losses not given"
    if key == "held_from_cold":
        time = result.duty_of(point)[2]
        return time if np.isfinite(time) else FOR_GOOD
    return float(getattr(point, key))


def _figure(head: Heading, values: dict[str, float | str], system: System) -> KeyFigure:
    """Return a row of numbers, or of words where there is none, by side."""
    numbers = {
        side: head.text(value, system)
        for side, value in values.items()
        if not isinstance(value, str)
    }
    said = {"a": "", "b": ""} | {side: str(value) for side, value in values.items()} | numbers
    difference = ""
    if len(numbers) == 2:
        # Of what is shown: a table in which 1806 less 1600 is 205 is not believed.
        places = len(numbers["a"].partition(".")[2])
        difference = f"{float(numbers['b']) - float(numbers['a']):+.{places}f}"
    return KeyFigure(head.words, head.unit(system) or "–", said["a"], said["b"], difference)


def _averages(results: dict[str, MatchResult], system: System) -> tuple[KeyFigure, ...]:
    """Return the averages over the working range, from each level of efficiency."""
    found = {
        side: {item.level: item for item in result.indices} for side, result in results.items()
    }
    rows = []
    for level in INDEX_LEVELS:
        for head in _AVERAGES:
            values: dict[str, float | str] = {}
            for side, by_level in found.items():
                value = getattr(by_level.get(level), head.key, None)
                values[side] = "none" if value is None else value
            rows.append(_figure(head.said(f"{head.words}, {100 * level:.0f} %"), values, system))
    return tuple(rows)


def figures_table(view: BenchView) -> NotebookTable:
    """Return the key figures as a table for a notebook.

    Parameters
    ----------
    view : BenchView
        Of one combination or two.
    """
    two = "b" in view.results
    head = ("", "A", "B", "B − A", "unit") if two else ("", "A", "unit")
    rows = [
        (each.name, each.a, each.b, each.difference, each.unit)
        if two
        else (each.name, each.a, each.unit)
        for each in view.figures
    ]
    return NotebookTable(head, ("",) * len(head), tuple(rows))


def compared(a: MatchResult, b: MatchResult, system: System) -> NotebookTable:
    """Return the key figures of two matches as a table, with the difference B - A."""
    results: dict[str, BenchMatch] = {"a": a, "b": b}
    figures = (*key_figures(results, system), *_averages({"a": a, "b": b}, system))
    return figures_table(BenchView(results, None, figures, (), ()))


def notes_in_words(view: BenchView, system: System) -> list[tuple[str, str, str]]:
    """Return (side, kind, words) of each note in a unit system."""
    return [(side.upper(), note.kind, note_text(note, system)) for side, note in view.notes]


def combination_words(
    setting: Setting, result: BenchMatch | None, system: System, *, engine_last: bool = False
) -> str:
    """Return what a combination is, and what was set otherwise than in its data.

    What tells two apart comes first: with one engine for both, `engine_last`.
    """
    if result is None:
        return f"{setting.engine} + {setting.converter}"
    engine, converter = mover_name(result), result.converter.title
    said = [converter if engine_last else f"{engine} + {converter}"]
    if setting.diameter_share != 1.0:
        said.append(f"diameter {100 * setting.diameter_share:.1f} %")
    if setting.accessory_share != 1.0:
        said.append(f"accessories {100 * setting.accessory_share:.0f} %")
    for words, value, dimension in (
        ("at", setting.voltage, "voltage"),
        ("hydraulics", setting.hydraulic_torque or None, "torque"),
        ("altitude", setting.altitude, "altitude"),
        ("air", setting.air_temperature, "temperature"),
    ):
        if value is not None:
            said.append(f"{words} {shown_text(value, dimension, system, '.0f')}")
    if engine_last:
        said.append(f"behind {engine}")
    return "; ".join(said)


def _on_governor(result: MatchResult, head: Heading, system: System) -> str:
    """Return what stands for the governed limit of a pair that is on the governor at stall."""
    if head.key == "turbine_speed" or result.on_governor == "at-stall":
        return _SINCE[result.on_governor]
    # There is no one point then: what the pair delivers on the governor is all it delivers.
    return f"up to {head.text(result.greatest_output, system)}"
