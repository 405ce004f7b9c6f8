"""What is wrong with a file, in the order of the file, in words of the file."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Literal, TypeVar, get_args, get_origin

from converter_match.errors import InputError, did_you_mean, nearest, place_text
from converter_match.library.commas import with_comma_hint
from converter_match.library.files import TomlFile
from converter_match.library.paths import Path, dotted, hinted, moved, steps

if TYPE_CHECKING:
    from pydantic import BaseModel
    from pydantic_core import ErrorDetails

    Model = TypeVar("Model", bound=BaseModel)

_PLACES_NAMED = 3


def validated(model: type[Model], toml: TomlFile, *, skip: str = "schema") -> Model:
    """Return the file model of a file.

    Parameters
    ----------
    model : type
        A pydantic model.
    toml : TomlFile
        The file.
    skip : str
        Key at the top that has been dealt with.

    Returns
    -------
    Model
        An instance of `model`.

    Raises
    ------
    InputError
        The first problem in file order; its hint tells how many more there are, and where.
    """
    checked = problems_of(model, toml, skip=skip)
    if isinstance(checked, tuple):
        first, *others = checked
        if others:
            places = ", ".join(
                place_text(error.field or "the file") for error in others[:_PLACES_NAMED]
            )
            more = "" if len(others) <= _PLACES_NAMED else ", ..."
            plural = "s" if len(others) > 1 else ""
            first = hinted(first, f"(and {len(others)} more problem{plural}: {places}{more})", " ")
        raise first
    return checked


def problems_of(
    model: type[Model], toml: TomlFile, *, skip: str = "schema"
) -> Model | tuple[InputError, ...]:
    """Return the file model of a file, or everything that is wrong with it in file order."""
    from pydantic import ValidationError

    data = {key: value for key, value in toml.data.items() if key != skip}
    try:
        return model.model_validate(data)
    except ValidationError as error:
        details = error.errors(include_url=False)
    order = _file_order(toml.data)
    places = [(_path(detail, toml.data), detail) for detail in details]
    places.sort(key=lambda item: _position(item[0], order))
    misspelt = [path for path, detail in places if detail["type"] == "extra_forbidden"]
    kept = [
        (path, detail)
        for path, detail in places
        if not (detail["type"] == "missing" and _is_spelt_otherwise(path, misspelt))
    ]
    return tuple(
        with_comma_hint(
            _said(path, detail, model).located(source=toml.source), toml.data, toml.text
        )
        for path, detail in kept
    )


def _path(detail: ErrorDetails, data: Mapping[str, Any]) -> Path:
    """Return where a problem is, by the keys of the file."""
    loc: Path = detail["loc"]
    inner = _own_error(detail)
    if inner is not None and inner.field:
        loc = loc + steps(inner.field)
    path: list[str | int] = []
    here: Any = data
    for step in loc:
        if isinstance(step, int) and isinstance(here, dict):
            continue  # a single table that was read as a list of one
        path.append(step)
        try:
            here = here[step]
        except (KeyError, IndexError, TypeError):
            here = None
    return tuple(path)


def _own_error(detail: ErrorDetails) -> InputError | None:
    error = detail.get("ctx", {}).get("error")
    return error if isinstance(error, InputError) else None


def _file_order(data: Mapping[str, Any]) -> dict[Path, tuple[int, int]]:
    """Return where every place of a file begins and ends, counted in file order."""
    order: dict[Path, tuple[int, int]] = {}
    counter = 0

    def walk(here: Any, path: Path) -> None:
        nonlocal counter
        counter += 1
        start = counter
        if isinstance(here, dict):
            for key, value in here.items():
                walk(value, (*path, key))
        elif isinstance(here, list):
            for row, value in enumerate(here):
                walk(value, (*path, row))
        counter += 1
        order[path] = (start, counter)

    walk(data, ())
    return order


def _position(path: Path, order: Mapping[Path, tuple[int, int]]) -> int:
    if path in order:
        return order[path][0]
    while path not in order:  # what is missing is missed at the end of its table
        path = path[:-1]
    return order[path][1]


def _is_spelt_otherwise(missing: Path, misspelt: list[Path]) -> bool:
    """Whether an unknown key beside a missing one is probably that one."""
    return any(
        path[:-1] == missing[:-1] and nearest(str(path[-1]), [str(missing[-1])])
        for path in misspelt
    )


def _said(path: Path, detail: ErrorDetails, model: type[BaseModel]) -> InputError:
    kind, found, field = detail["type"], detail["input"], dotted(path) or None
    own = _own_error(detail)
    if own is not None:
        return moved(own, dotted(path))
    if kind == "extra_forbidden":
        known = _known_keys(model, detail["loc"][:-1])
        key = str(path[-1])
        return InputError(
            f"unknown key {key!r}",
            field=field,
            found=found,
            expected=None if nearest(key, known) else f"one of {', '.join(known)}",
            hint=did_you_mean(key, known),
        )
    if kind == "missing":
        return InputError("missing", field=field, expected=_expected(model, detail["loc"]))
    if kind == "literal_error":
        choices = _choices(model, detail["loc"])
        return InputError(
            "not a known choice",
            field=field,
            found=found,
            expected=" | ".join(choices),
            hint=did_you_mean(found, choices) if isinstance(found, str) else None,
        )
    if kind == "string_type":
        return InputError("a text in quotes is due here", field=field, found=found)
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        keys = ", ".join(_known_keys(model, detail["loc"]))
        expected = f"a table with {keys}" if keys else None
        return InputError("a table is due here", field=field, found=found, expected=expected)
    if kind == "list_type":
        return InputError(
            "a list of tables is due here", field=field, found=found, expected=f"[[{field}]]"
        )
    return InputError(detail["msg"], field=field, found=found)


def _annotation(model: type[BaseModel], loc: Path) -> Any:
    """Return the annotation of the field at a place of the model."""
    here: Any = model
    for step in loc:
        if isinstance(step, int):
            continue
        table = _table_in(here)
        if table is None or step not in table.model_fields:
            return None
        here = table.model_fields[step].annotation
    return here


def _table_in(annotation: Any) -> type[BaseModel] | None:
    from pydantic import BaseModel

    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for part in get_args(annotation):
        table = _table_in(part)
        if table is not None:
            return table
    return None


def _known_keys(model: type[BaseModel], loc: Path) -> tuple[str, ...]:
    table = _table_in(_annotation(model, loc))
    return tuple(table.model_fields) if table else ()


def _choices(model: type[BaseModel], loc: Path) -> tuple[str, ...]:
    def literals(annotation: Any) -> tuple[str, ...]:
        if get_origin(annotation) is Literal:
            return tuple(str(choice) for choice in get_args(annotation))
        return tuple(choice for part in get_args(annotation) for choice in literals(part))

    return literals(_annotation(model, loc))


def _expected(model: type[BaseModel], loc: Path) -> str | None:
    """Return what a missing field should hold: its description, its form or its choices."""
    table = _table_in(_annotation(model, loc[:-1]))
    info = table.model_fields.get(str(loc[-1])) if table else None
    if info is None:
        return None
    forms = [str(mark.form()) for mark in info.metadata if hasattr(mark, "form")]
    said = [info.description] if info.description else []
    return ": ".join([*said, *(forms or [" | ".join(_choices(model, loc))])]).rstrip(": ") or None
