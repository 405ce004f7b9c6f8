"""The table ``[parallel]`` of an arrangement file, with the files that it names."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from converter_match.components.parallel import Parallel
from converter_match.library.assemble.places import places_of, said_in_file_words
from converter_match.library.files import TomlFile
from converter_match.library.named import found_beside, named_by
from converter_match.library.schema.arrangement import ParallelTable


def assembled_parallel(table: ParallelTable | None, toml: TomlFile) -> Parallel | None:
    """Return what is there twice; None where the file says nothing of it.

    Parameters
    ----------
    table : ParallelTable or None
    toml : TomlFile
        The whole file: others that it names are looked for beside it.

    Raises
    ------
    InputError
        If a file that it names cannot be read, or as `Parallel`.
    """
    if table is None:
        return None
    given: dict[str, Any] = {}
    for key in ("ratio", "efficiency"):
        column = getattr(table, key)
        if column is not None:
            given[key] = tuple(column.si.tolist())
    with said_in_file_words(places_of("parallel", table)):
        return Parallel(
            couples=table.couples,
            engine=_named(table.engine, "engine", toml),
            converter=_named(table.converter, "converter", toml),
            engine_name=table.engine or "",
            converter_name=table.converter or "",
            **given,
        )


def _named(written: str | None, kind: str, toml: TomlFile) -> Any:
    """Return a component that is named by its file or the id of a shipped one."""
    if written is None:
        return None
    # Reading a file comes to this module by way of its kind.
    from converter_match.library.read import read_converter, read_engine
    from converter_match.library.shipped import find

    field, folder = f"parallel.{kind}", Path(toml.source).parent
    path = found_beside(
        written, folder, lambda name: find(f"{kind}s", name),
        source=toml.source, field=field, what="arrangement",
    )  # fmt: skip
    with named_by(toml.source, field, path):
        return {"engine": read_engine, "converter": read_converter}[kind](path)
