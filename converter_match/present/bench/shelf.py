"""The components a person can choose from: shipped ones and those in their own folder.

A broken file is listed with its message and does not stop the others.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, TypeVar

from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.components.motor import Motor
from converter_match.components.site import Site
from converter_match.errors import InputError, did_you_mean
from converter_match.library.files import FilePath
from converter_match.library.read import read_component
from converter_match.library.shipped import shipped

KINDS = ("engines", "motors", "converters", "sites")
_CLASSES: dict[str, type] = {
    "engines": Engine,
    "motors": Motor,
    "converters": Converter,
    "sites": Site,
}
_MOST_FILES = 1000
_T = TypeVar("_T")


@dataclass(frozen=True)
class Shelf:
    """What can be chosen.

    Parameters
    ----------
    engines, motors, converters, sites : dict of str to component
        By id; a motor with the id of an engine stands under an id of its own.
    broken : tuple of (str, str)
        File and message of each file that cannot be used.
    files : dict of (str, str) to Path
        File of each component, by kind and id.
    """

    engines: dict[str, Engine] = field(default_factory=dict)
    motors: dict[str, Motor] = field(default_factory=dict)
    converters: dict[str, Converter] = field(default_factory=dict)
    sites: dict[str, Site] = field(default_factory=dict)
    broken: tuple[tuple[str, str], ...] = ()
    files: dict[tuple[str, str], Path] = field(default_factory=dict)

    def __str__(self) -> str:
        """Return what can be chosen, a line each, and why some files cannot be used."""
        items: list[Engine | Motor | Converter | Site] = [
            *self.engines.values(),
            *self.motors.values(),
            *self.converters.values(),
            *self.sites.values(),
        ]
        width = max((len(item.id) for item in items), default=0)
        lines = [f"{item.id:{width}}  {item.name}" for item in items]
        lines += ["", f"files that cannot be used: {len(self.broken) or 'none'}"]
        return "\n".join([*lines, *(f"  {reason}" for _, reason in self.broken)])

    def offered(self, kind: str) -> list[tuple[str, str]]:
        """Return (words, id) of each of a kind, a key of `files`: the user's first, and marked."""
        items: dict[str, Any] = getattr(self, kind)
        coming = shipped(kind)
        own = [
            id
            for id in items
            if id not in coming or self.files.get((kind, id), coming[id]) != coming[id]
        ]
        rest = [id for id in items if id not in own]
        called = "motor: " if kind == "motors" else ""
        return [(f"own: {called}{items[id].name}", id) for id in own] + [
            (f"{called}{items[id].name}", id) for id in rest
        ]

    def movers(self) -> list[tuple[str, str]]:
        """Return (words, id) of each engine and each motor, all of the user's first."""
        both = [*self.offered("engines"), *self.offered("motors")]
        return sorted(both, key=lambda item: not item[0].startswith("own: "))

    def engine(self, id: str) -> Engine:
        """Return an engine by id.

        Raises
        ------
        InputError
            If there is none of that id; the nearest ids are named.
        """
        return _taken(self.engines, id, "engine")

    def mover(self, id: str) -> Engine | Motor:
        """Return an engine or a motor by id; raises like `engine`."""
        both: dict[str, Engine | Motor] = {**self.motors, **self.engines}
        return _taken(both, id, "engine or motor")

    def known_mover(self, id: str) -> Engine | Motor | None:
        """Return an engine or a motor by id; None where there is none."""
        return self.engines.get(id) or self.motors.get(id)

    def converter(self, id: str) -> Converter:
        """Return a converter by id; raises like `engine`."""
        return _taken(self.converters, id, "converter")

    def with_own(self, engine: Engine | Motor, converter: Converter) -> tuple[Shelf, str, str]:
        """Return a shelf that holds two components as well, and the ids they stand under.

        A component that is there already keeps its place; one that differs from what stands under
        its id is put beside it.
        """
        converters, converter_id = _beside(self.converters, converter)
        _, engine_id = _beside({**self.motors, **self.engines}, engine)
        more = replace(self, converters=converters)
        if engine_id in self.engines or engine_id in self.motors:
            return more, engine_id, converter_id
        if isinstance(engine, Motor):
            more = replace(more, motors=self.motors | {engine_id: engine})
        else:
            more = replace(more, engines=self.engines | {engine_id: engine})
        return more, engine_id, converter_id


def load_shelf(folder: FilePath | None = None) -> Shelf:
    """Return the shipped components and those in a folder of the user's.

    Parameters
    ----------
    folder : path, optional
        Searched for ``*.toml``, also one level down; a component whose id is that of a shipped one
        takes its place.

    Raises
    ------
    InputError
        If the folder does not exist.
    """
    shelf = Shelf()
    for kind in KINDS:
        for path in shipped(kind).values():
            shelf = _with(shelf, path, wanted=kind)
    if folder is not None:
        own = Path(folder)
        if not own.is_dir():
            raise InputError("is not a folder", source="component folder", found=str(folder))
        for path in sorted([*own.glob("*.toml"), *own.glob("*/*.toml")])[:_MOST_FILES]:
            shelf = _with(shelf, path, wanted=None)
    return shelf


def _with(shelf: Shelf, path: Path, *, wanted: str | None) -> Shelf:
    """Return a shelf with the component of a file, if it is of the kind that is wanted."""
    try:
        component = read_component(path)
    except InputError as error:
        return replace(shelf, broken=(*shelf.broken, (path.name, str(error))))
    kind = next((kind for kind, cls in _CLASSES.items() if isinstance(component, cls)), None)
    if kind is None or wanted not in (None, kind):
        return shelf
    id = str(component.id)
    files = shelf.files | {(kind, id): path}
    if isinstance(component, Engine):
        if id in shelf.motors:  # the motor makes room, whichever of the two was read first
            motors = dict(shelf.motors)
            motors[f"{id} (motor)"] = motors.pop(id)
            shelf = replace(shelf, motors=motors)
        return replace(shelf, engines=shelf.engines | {id: component}, files=files)
    if isinstance(component, Motor):
        own = f"{id} (motor)" if id in shelf.engines else id
        files = shelf.files | {(kind, own): path}
        return replace(shelf, motors=shelf.motors | {own: component}, files=files)
    if isinstance(component, Converter):
        return replace(shelf, converters=shelf.converters | {id: component}, files=files)
    return replace(shelf, sites=shelf.sites | {id: component}, files=files)


def _taken(items: dict[str, _T], id: str, kind: str) -> _T:
    if id not in items:
        raise InputError(
            f"no {kind} of this id on the shelf",
            field=kind,
            found=id,
            expected=f"one of {len(items)} ids" if items else f"the shelf has no {kind}",
            hint=did_you_mean(id, items),
        )
    return items[id]


def _beside(items: dict[str, _T], component: _T) -> tuple[dict[str, _T], str]:
    id = str(component.id)  # type: ignore[attr-defined]
    for number in range(1, _MOST_FILES):
        name = id if number == 1 else f"{id} ({number})"
        if items.get(name, component) == component:
            return items | {name: component}, name
    raise InputError("too many components of one id", field="id", found=id)
