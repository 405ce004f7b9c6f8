"""Errors of a component, which speaks SI, said again in the words of the file."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager

import numpy as np
from pydantic import BaseModel

from converter_match.errors import InputError
from converter_match.library.schema.quantity import GivenColumn, GivenQuantity

Given = GivenQuantity | GivenColumn | None
Places = Mapping[str, tuple[str, Given]]

_FIELD = re.compile(r"(.*?)(?:\[(\d+)\])?")


def places_of(name: str, table: BaseModel, **read: GivenQuantity) -> Places:
    """Return where each field of a table stands in the file.

    Parameters
    ----------
    name : str
        Key of the table.
    table : BaseModel
    **read : GivenQuantity
        Fields that the table keeps unread, as they were read.
    """
    given = {key: read.get(key, getattr(table, key)) for key in type(table).model_fields}
    return {
        f"{name}.{key}": (
            f"{name}.{key}.value" if isinstance(value, GivenQuantity) else f"{name}.{key}",
            value,
        )
        for key, value in given.items()
    }


@contextmanager
def said_in_file_words(places: Places) -> Iterator[None]:
    """Restate what a component refuses while it is built.

    Parameters
    ----------
    places : mapping
        Field of the component -> (path in the file, what was written there).

    Raises
    ------
    InputError
        With the path in the file, and the number as it was written where that is known.
    """
    try:
        # Absurd but finite input may overflow on its way to being refused.
        with np.errstate(all="ignore"):
            yield
    except InputError as error:
        raise restated(error, places) from None


def restated(error: InputError, places: Places) -> InputError:
    """Return the error with its field and its number in the words of the file."""
    match = _FIELD.fullmatch(error.field or "")
    if match is None or match[1] not in places:
        return error
    path, given = places[match[1]]
    row = int(match[2]) if match[2] else None
    found = error.found
    if isinstance(given, GivenColumn):
        if row is None and isinstance(found, float):
            row = next(iter(np.flatnonzero(given.si == found).tolist()), None)
        path += given.place
        if row is not None and row < len(given):
            path += f"[{row}]"
            # A text is the component's own words, about more than this one number.
            found = given.given(row) if isinstance(found, float) else found
    elif isinstance(given, GivenQuantity) and isinstance(found, float):
        found = given.given()
    return error.changed(field=path, found=found)
