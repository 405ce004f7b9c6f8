"""A bench state as a study, and a study as a bench state. Texts in and out; files elsewhere.

A is the present machine and B the candidate; A alone is a candidate without a present machine.
What a study cannot say (a scaled converter, other accessories) is a component file beside it.
"""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.components.motor import Motor
from converter_match.errors import InputError
from converter_match.library.exact import one
from converter_match.library.files import read_toml
from converter_match.library.problems import validated
from converter_match.library.shipped import shipped
from converter_match.library.study_file import SCHEMA, find_study, read_study
from converter_match.library.toml_text import toml_text
from converter_match.library.write import component_text
from converter_match.present.bench.shelf import Shelf
from converter_match.present.bench.state import BenchState, Setting
from converter_match.present.bench.view import as_set, site_of
from converter_match.study.study import Combination, Study
from converter_match.units import show

if TYPE_CHECKING:
    from converter_match.library.schema.bench import BenchTable, SettingTable


@dataclass(frozen=True)
class Opened:
    """A study as the bench shows it.

    Parameters
    ----------
    state : BenchState
    shelf : Shelf
        With the components of the study that were not on it.
    left_out : tuple of str
        What the bench cannot show, in words.
    """

    state: BenchState
    shelf: Shelf
    left_out: tuple[str, ...]


def study_texts(
    state: BenchState, shelf: Shelf, path: Path, *, saved_by: str, saved_at: str
) -> dict[str, str]:
    """Return the files that a state is saved as: name -> text, the study itself last.

    Parameters
    ----------
    state : BenchState
    shelf : Shelf
    path : Path
        Where the study file will be; files of the user's are named relative to it.
    saved_by, saved_at : str
        Who and when.

    Returns
    -------
    dict
        Names of component files carry a checksum of their content: equal names are equal files.

    Raises
    ------
    InputError
        If a setting cannot be used.
    """
    beside: dict[str, str] = {}
    settings = [("a", state.a), *([("b", state.b)] if state.b else [])]
    for side, setting in settings:
        if isinstance(shelf.mover(setting.engine), Motor):
            raise InputError(
                "a study that the bench writes judges engines, and this is a motor",
                field=f"{side.upper()}.engine",
                found=setting.engine,
                hint="motors are compared by a motor study (motor-study/1); figure, key figures "
                "and data can be saved here",
            )
    parts = [_parts(side, setting, shelf, path, beside) for side, setting in settings]
    sites: dict[object, str] = {}
    for side, setting in settings:
        site = site_of(setting)
        if site is not None and _air(setting) not in sites:
            text = component_text(site.replace(id=f"{path.stem}-site-{side}"))
            sites[_air(setting)] = _put(beside, path.stem, "site", text)
    torques = [setting.hydraulic_torque for _, setting in settings]
    data: dict[str, Any] = {
        "schema": SCHEMA,
        "id": path.stem,
        "name": f"Match bench: {path.stem}",
        "source": "set at the match bench",
        "question": _question(state, [setting for _, setting in settings]),
        "sites": list(sites.values()) or None,
    }
    if state.b is not None:
        data["present"] = parts[0]
    data["candidate"] = [{"id": settings[-1][0], **parts[-1]}]
    if max(torques) > 0.0:
        data["duty"] = {"hydraulic_torque": one(max(torques), "torque", "N.m", "lbf.ft")}
    data["bench"] = {
        "saved_by": saved_by,
        "saved_at": saved_at,
        "active": state.active,
        "units": state.system,
        "font_scale": state.font_scale,
        **{side: _setting_table(setting) for side, setting in settings},
    }
    return beside | {path.name: toml_text(data)}


def open_study(path: str | os.PathLike[str], shelf: Shelf) -> Opened:
    """Return a study file as the bench shows it.

    Parameters
    ----------
    path : path
        The file, or the id of a shipped study.
    shelf : Shelf
        What could be chosen until now.

    Raises
    ------
    InputError
        If the file or a component that it names cannot be used.
    """
    from converter_match.library.schema.study import StudyFile

    file = find_study(path)
    study = read_study(file)
    kept: BenchTable | None = validated(StudyFile, read_toml(file)).bench
    left_out = [*_not_shown(study), *_no_present(study)]
    combinations = list(study.combinations)[:2]
    settings: list[Setting] = []
    for side, combination in zip(("a", "b"), combinations, strict=False):
        table = None if kept is None else getattr(kept, side)
        setting = None if table is None else _as_kept(table)
        if setting is not None and not _is(setting, combination, shelf):
            left_out.append(
                f"{side.upper()} is shown with the component files that the study names: they are "
                "not what was set when it was saved."
            )
            setting = replace(setting, accessory_share=1.0, diameter_share=1.0)
            shelf, setting = _on_shelf(setting, combination, shelf)
        if setting is None:
            shelf, setting = _from_study(study, combination, shelf)
            if kept is None:
                left_out += _air_not_shown(study) if side == "a" else []
        settings.append(setting)
    state = BenchState(a=settings[0], b=settings[1] if len(settings) > 1 else None)
    if kept is not None:
        scale = 1.0 if kept.font_scale is None else kept.font_scale.si
        active = kept.active if state.b is not None else "a"
        state = replace(state, active=active, system=kept.units, font_scale=scale)
    return Opened(state, shelf, tuple(left_out))


def more_than_bench(path: str | os.PathLike[str]) -> list[str]:
    """Return what a study file holds that the bench would lose if it wrote the file again."""
    toml = read_toml(path)
    own = {"schema", "id", "name", "source", "question", "sites", "present", "candidate"}
    lost = [key for key in toml.data if key not in own | {"duty", "bench"}]
    if "bench" not in toml.data:
        lost.append("everything the bench did not write")
    tables = [toml.data.get("present", {}), *toml.data.get("candidate", [])]
    for table in tables:
        lost += [key for key in table if key not in ("id", "name", "engine", "converter")]
    lost += [f"duty.{key}" for key in toml.data.get("duty", {}) if key != "hydraulic_torque"]
    if len(toml.data.get("candidate", [])) > 1:
        lost.append("further candidates")
    if any(line.lstrip().startswith("#") for line in toml.text.splitlines()):
        lost.append("comments")
    return list(dict.fromkeys(lost))


def saved_note(path: str | os.PathLike[str]) -> tuple[str, str] | None:
    """Return who saved a study file and when, as the file itself says; None if it does not."""
    try:
        table = read_toml(path).data.get("bench")
    except InputError:
        return None
    if not isinstance(table, dict) or not isinstance(table.get("saved_by"), str):
        return None
    return table["saved_by"], str(table.get("saved_at", "at an unknown time"))


def _air(setting: Setting) -> tuple[float | None, float | None]:
    return setting.altitude, setting.air_temperature


def _parts(
    side: str, setting: Setting, shelf: Shelf, path: Path, beside: dict[str, str]
) -> dict[str, str]:
    engine, converter = as_set(setting, shelf)
    return {
        "name": f"{side.upper()}: {engine.name}; {converter.name}",
        "engine": _reference(
            "engines", setting.engine, engine, setting.accessory_share, shelf, path, beside
        ),
        "converter": _reference(
            "converters", setting.converter, converter, setting.diameter_share, shelf, path, beside
        ),
    }


def _reference(
    kind: str,
    id: str,
    component: Engine | Converter,
    share: float,
    shelf: Shelf,
    path: Path,
    beside: dict[str, str],
) -> str:
    """Return how a study names a component; one that stands in no file is put beside it."""
    file = shelf.files.get((kind, id))
    if share == 1.0 and file is not None:
        if shipped(kind).get(id) == file:
            return id
        try:
            return Path(os.path.relpath(file, path.parent)).as_posix()
        except ValueError:  # on another drive
            return str(file.resolve())
    percent = "" if share == 1.0 else f"-{100 * share:.1f}pc".replace(".", "p")
    return _put(beside, path.stem, f"{kind[:-1]}{percent}", component_text(component))


def _put(beside: dict[str, str], stem: str, what: str, text: str) -> str:
    mark = hashlib.sha256(text.encode()).hexdigest()[:8]
    name = f"{stem}.{what}-{mark}.toml"
    beside[name] = text
    return name


def _question(state: BenchState, settings: list[Setting]) -> str:
    said = ["Set at the match bench."]
    if state.b is not None:
        said.append("A is the present machine, B the candidate.")
    if len({setting.hydraulic_torque for setting in settings}) > 1:
        torques = [show(setting.hydraulic_torque, "torque", state.system) for setting in settings]
        each = " and ".join(
            f"{value:.0f} {unit} for {side}"
            for side, (value, unit) in zip("AB", torques, strict=False)
        )
        said.append(
            f"The bench had a hydraulic torque of {each}; a study has one for all, the higher."
        )
    if len({_air(setting) for setting in settings}) > 1:
        said.append(
            "The bench had other air for A than for B; a study looks at every combination at every "
            "site listed."
        )
    return " ".join(said)


def _setting_table(setting: Setting) -> dict[str, Any]:
    return {
        "engine": setting.engine,
        "converter": setting.converter,
        "altitude": one(setting.altitude, "length", "m", "ft"),
        "air_temperature": one(setting.air_temperature, "temperature"),
        "hydraulic_torque": one(setting.hydraulic_torque, "torque", "N.m", "lbf.ft"),
        "accessory_share": setting.accessory_share,
        "diameter_share": setting.diameter_share,
    }


def _as_kept(table: SettingTable) -> Setting:
    def si(quantity: Any, missing: Any = None) -> Any:
        return missing if quantity is None else quantity.si

    return Setting(
        engine=table.engine,
        converter=table.converter,
        altitude=si(table.altitude),
        air_temperature=si(table.air_temperature),
        hydraulic_torque=si(table.hydraulic_torque, 0.0),
        accessory_share=si(table.accessory_share, 1.0),
        diameter_share=si(table.diameter_share, 1.0),
    )


def _is(setting: Setting, combination: Combination, shelf: Shelf) -> bool:
    """Whether a setting, with what stands on the shelf, is the combination of the study."""
    try:
        engine, converter = as_set(setting, shelf)
    except InputError:
        return False
    return engine == combination.engine and converter == combination.converter


def _on_shelf(setting: Setting, combination: Combination, shelf: Shelf) -> tuple[Shelf, Setting]:
    shelf, engine, converter = shelf.with_own(combination.engine, combination.converter)
    return shelf, replace(setting, engine=engine, converter=converter)


def _from_study(study: Study, combination: Combination, shelf: Shelf) -> tuple[Shelf, Setting]:
    """Return a setting for a study that the bench did not write: first site, implement working."""
    site = study.sites[0] if study.sites else None
    return _on_shelf(
        Setting(
            engine="",
            converter="",
            altitude=None if site is None else site.altitude,
            air_temperature=None if site is None else site.air_temperature,
            hydraulic_torque=study.duty.hydraulic_torque,
        ),
        combination,
        shelf,
    )


def _not_shown(study: Study) -> list[str]:
    said = []
    if len(study.combinations) > 2:
        names = ", ".join(item.name for item in study.combinations[2:])
        said.append(f"The bench shows two combinations; not shown: {names}.")
    if any(item.arrangement for item in study.combinations[:2]):
        said.append("The bench does not show arrangements: converters alone are shown.")
    return said


def _no_present(study: Study) -> list[str]:
    if study.present is not None or len(study.combinations) < 2:
        return []
    return [
        f"The study names no present machine: its first candidate, {study.candidates[0].name}, "
        "stands as A. Saved here, it would be the present machine."
    ]


def _air_not_shown(study: Study) -> list[str]:
    said = []
    if len(study.sites) > 1:
        names = ", ".join(site.name for site in study.sites[1:])
        said.append(f"The bench shows one site; not shown: {names}.")
    if study.sites and study.sites[0].air_pressure is not None:
        said.append("The bench takes altitude and temperature; the air pressure is left out.")
    if study.sites and study.sites[0].relative_humidity is not None:
        said.append("The bench takes altitude and temperature; the humidity is left out.")
    return said
