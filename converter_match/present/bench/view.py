"""From a bench state to what is shown: results, scene, key figures, messages. No widget here."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

from converter_match.answer.block import Heading
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.components.site import Site
from converter_match.errors import InputError
from converter_match.judgement.match.indices import INDEX_LEVELS
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.match.solve import solve
from converter_match.notes import Note
from converter_match.present.bench.scene import Scene, scene
from converter_match.present.bench.shelf import Shelf
from converter_match.present.bench.state import BenchState, Setting
from converter_match.present.notebook.table import NotebookTable
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
_AVERAGES = (
    Heading("mean_output_power", "mean output in the working range", "power"),
    Heading("mean_efficiency", "mean efficiency in it"),
    Heading("span", "span of turbine speed", form=".2f"),
    Heading("mean_specific_fuel", "mean fuel over output", "specific_fuel"),
)
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
    results : dict of str to MatchResult
        ``a`` and perhaps ``b``; a side whose setting cannot be solved is missing.
    scene : Scene or None
        None when A cannot be solved.
    figures : tuple of KeyFigure
    notes : tuple of (str, Note)
        Side and note, most serious first.
    problems : tuple of str
        Messages about settings that cannot be solved.
    """

    results: dict[str, MatchResult]
    scene: Scene | None
    figures: tuple[KeyFigure, ...]
    notes: tuple[tuple[str, Note], ...]
    problems: tuple[str, ...]

    def result(self, side: str) -> MatchResult:
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


def solve_setting(setting: Setting, shelf: Shelf) -> MatchResult:
    """Solve one combination.

    Raises
    ------
    InputError
        If a component is not on the shelf, or the setting cannot be used.
    """
    return _solved(shelf.engine(setting.engine), shelf.converter(setting.converter), setting)


@lru_cache(maxsize=16)
def _solved(engine: Engine, converter: Converter, setting: Setting) -> MatchResult:
    """Solve a combination; the side that is not being changed is not solved again."""
    return solve(
        _engine_as_set(engine, setting),
        _converter_as_set(converter, setting),
        site=site_of(setting),
        hydraulic_torque=setting.hydraulic_torque,
    )


def as_set(setting: Setting, shelf: Shelf) -> tuple[Engine, Converter]:
    """Return engine and converter of a setting, with its accessories and diameter.

    Raises
    ------
    InputError
        If a component is not on the shelf, or there is no diameter to scale from.
    """
    engine, converter = shelf.engine(setting.engine), shelf.converter(setting.converter)
    return _engine_as_set(engine, setting), _converter_as_set(converter, setting)


def _engine_as_set(engine: Engine, setting: Setting) -> Engine:
    if setting.accessory_share == 1.0:
        return engine
    return engine.replace(
        accessories=tuple(
            replace(item, power=item.power * setting.accessory_share) for item in engine.accessories
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
    results: dict[str, MatchResult] = {}
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


def key_figures(results: dict[str, MatchResult], system: System) -> tuple[KeyFigure, ...]:
    """Return the table of key figures, with the difference B - A where both are there."""
    points = {
        side: {item.code: item.point for item in result.key_points()}
        for side, result in results.items()
    }
    rows = []
    for code, head in _FIGURES:
        values: dict[str, float | str] = {}
        for side, result in results.items():
            point = points[side].get(code)
            if code == "governed_limit" and result.on_governor != "never":
                values[side] = _on_governor(result, head, system)
            else:
                values[side] = "none" if point is None else getattr(point, head.key)
        rows.append(_figure(head, values, system))
    return tuple(rows)


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
    results = {"a": a, "b": b}
    figures = (*key_figures(results, system), *_averages(results, system))
    return figures_table(BenchView(results, None, figures, (), ()))


def notes_in_words(view: BenchView, system: System) -> list[tuple[str, str, str]]:
    """Return (side, kind, words) of each note in a unit system."""
    return [(side.upper(), note.kind, note_text(note, system)) for side, note in view.notes]


def combination_words(
    setting: Setting, result: MatchResult | None, system: System, *, engine_last: bool = False
) -> str:
    """Return what a combination is, and what was set otherwise than in its data.

    What tells two apart comes first: with one engine for both, `engine_last`.
    """
    if result is None:
        return f"{setting.engine} + {setting.converter}"
    engine, converter = result.engine.name, result.converter.title
    said = [converter if engine_last else f"{engine} + {converter}"]
    if setting.diameter_share != 1.0:
        said.append(f"diameter {100 * setting.diameter_share:.1f} %")
    if setting.accessory_share != 1.0:
        said.append(f"accessories {100 * setting.accessory_share:.0f} %")
    for words, value, dimension in (
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
