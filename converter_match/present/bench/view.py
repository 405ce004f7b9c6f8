"""From a bench state to what is shown: results, scene, key figures, messages. No widget here."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.components.site import Site
from converter_match.errors import InputError
from converter_match.judgement.match.result import MatchPoint, MatchResult
from converter_match.judgement.match.solve import solve
from converter_match.notes import Note
from converter_match.present.bench.scene import Scene, scene
from converter_match.present.bench.shelf import Shelf
from converter_match.present.bench.state import BenchState, Setting
from converter_match.present.notebook.table import NotebookTable
from converter_match.units import System, note_text, show

# (name, point, quantity, dimension, number format)
_FIGURES: tuple[tuple[str, str, str, str, str], ...] = (
    ("stall speed", "stall", "engine_speed", "angular_speed", ".0f"),
    ("input torque at stall", "stall", "input_torque", "torque", ".0f"),
    ("turbine torque at stall", "stall", "turbine_torque", "torque", ".0f"),
    ("torque ratio at stall", "stall", "torque_ratio", "ratio", ".2f"),
    ("heat at stall", "stall", "heat", "power", ".1f"),
    ("80 % efficiency from turbine speed", "lower", "turbine_speed", "angular_speed", ".0f"),
    ("engine speed there", "lower", "engine_speed", "angular_speed", ".0f"),
    ("coupling point, turbine speed", "coupling", "turbine_speed", "angular_speed", ".0f"),
    ("coupling point, turbine torque", "coupling", "turbine_torque", "torque", ".0f"),
    ("output power at coupling", "coupling", "output_power", "power", ".1f"),
    ("heat at coupling", "coupling", "heat", "power", ".1f"),
    ("governed limit, turbine speed", "governed_limit", "turbine_speed", "angular_speed", ".0f"),
    ("output power there", "governed_limit", "output_power", "power", ".1f"),
)


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
class View:
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


def view(state: BenchState, shelf: Shelf) -> View:
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
    return View(
        results,
        picture,
        key_figures(results, state.system),
        tuple(notes),
        tuple(problems),
    )


def key_figures(results: dict[str, MatchResult], system: System) -> tuple[KeyFigure, ...]:
    """Return the table of key figures, with the difference B - A where both are there."""
    rows = []
    for name, point, quantity, dimension, form in _FIGURES:
        values = {
            side: _quantity(result, point, quantity, dimension, system)
            for side, result in results.items()
        }
        unit = show(0.0, dimension, system)[1] or "–"
        words = {
            side: _on_governor(result, quantity, system) if point == "governed_limit" else ""
            for side, result in results.items()
        }
        a, b = (None if words.get(side) else values.get(side) for side in ("a", "b"))
        difference = ""
        if a is not None and b is not None:
            # Of what is shown: a table in which 1806 less 1600 is 205 is not believed.
            difference = f"{float(f'{b:{form}}') - float(f'{a:{form}}'):+{form}}"
        rows.append(
            KeyFigure(
                name,
                unit,
                words.get("a") or _said(a, form, "a" in results),
                words.get("b") or _said(b, form, "b" in results),
                difference,
            )
        )
    return tuple(rows)


def figures_table(view: View) -> NotebookTable:
    """Return the key figures as a table for a notebook.

    Parameters
    ----------
    view : View
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


def notes_in_words(view: View, system: System) -> list[tuple[str, str, str]]:
    """Return (side, kind, words) of each note in a unit system."""
    return [(side.upper(), note.kind, note_text(note, system)) for side, note in view.notes]


def _quantity(
    result: MatchResult, name: str, quantity: str, dimension: str, system: System
) -> float | None:
    point: MatchPoint | None
    if name == "lower":
        ranges = result.working_range(0.8)
        point = ranges[0].lower if ranges else None
    else:
        point = getattr(result, name)
    return None if point is None else float(show(getattr(point, quantity), dimension, system)[0])


def _on_governor(result: MatchResult, quantity: str, system: System) -> str:
    """Return what stands for the governed limit of a pair that is on the governor at stall."""
    where = result.governor_words.removeprefix("on the governor ")
    if quantity == "turbine_speed" or where != "from stall on":
        return where
    # There is no one point then: what the pair delivers on the governor is all it delivers.
    return f"up to {show(result.greatest_output, 'power', system)[0]:.1f}"


def _said(value: float | None, form: str, there: bool) -> str:
    if not there:
        return ""
    return "none" if value is None else format(value, form)
