"""What may stand in a file of each kind: one module a kind, and what they share.

These are the file models, in the units and words of the file. They import pydantic, so nothing
imports them before a file is read. `json_schema` gives the same rules to an editor.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from types import MappingProxyType
from typing import Any

from converter_match.errors import InputError, did_you_mean

COMPONENTS: Mapping[str, int] = MappingProxyType(
    {
        "arrangement": 1,
        "blading": 1,
        "converter": 1,
        "driveline": 1,
        "engine": 1,
        "load": 1,
        "machine": 1,
        "motor": 1,
        "site": 1,
    }
)
"""Kind of file that holds a component -> version of its schema line."""
FILES: Mapping[str, int] = MappingProxyType(
    {**COMPONENTS, "catalogue": 1, "motor-study": 1, "study": 1, "surfaces": 1}
)
"""Every kind of file -> version of its schema line; ``NAME.py`` here holds the model NameFile."""


def json_schema(kind: str) -> dict[str, Any]:
    """Return the JSON Schema of a kind of file.

    Parameters
    ----------
    kind : str
        One of `FILES`.

    Returns
    -------
    dict
        JSON Schema, draft 2020-12.

    Raises
    ------
    InputError
        If there is no such kind.

    Examples
    --------
    >>> json_schema("site")["properties"]["altitude"]["anyOf"][0]["required"]
    ['unit', 'value']
    """
    if kind not in FILES:
        raise InputError(
            "no such kind of file",
            found=kind,
            expected=", ".join(FILES),
            hint=did_you_mean(kind, FILES),
        )
    schema: dict[str, Any] = model_of(kind).model_json_schema()
    # The schema line is looked at before the model is chosen, so the model does not have it.
    line = {"const": f"converter-match/{kind}/{FILES[kind]}"}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "properties": {"schema": line, **schema["properties"]},
        "required": ["schema", *schema["required"]],
    }


def top_keys() -> frozenset[str]:
    """Return every key that may stand at the top of a file of some kind.

    Examples
    --------
    >>> {"source", "stator", "full_load"} <= top_keys()
    True
    """
    return frozenset(key for kind in FILES for key in model_of(kind).model_fields)


def model_of(kind: str) -> Any:
    """Return the file model of a kind of file."""
    module = import_module(f"{__name__}.{kind.replace('-', '_')}")
    return getattr(module, "".join(part.capitalize() for part in kind.split("-")) + "File")
