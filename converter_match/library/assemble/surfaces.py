"""A file of surfaces becomes a tuple of `Surface`."""

from __future__ import annotations

from converter_match.components.surface import QUANTITIES, Surface
from converter_match.errors import InputError
from converter_match.library.assemble.places import Places, said_in_file_words
from converter_match.library.files import TomlFile
from converter_match.library.problems import validated
from converter_match.library.schema.surfaces import SurfacesFile


def assemble(toml: TomlFile) -> tuple[Surface, ...]:
    """Return the surfaces that a file describes.

    Raises
    ------
    InputError
        For anything that is wrong with it, in the words of the file.
    """
    file = validated(SurfacesFile, toml)
    if not file.surface:
        raise InputError("no surfaces", field="surface", expected="tables [[surface]]")
    found = []
    for row, table in enumerate(file.surface):
        given = {key: getattr(table, key) for key in QUANTITIES.values()}
        places: Places = {
            key: (f"surface[{row}].{key}.value", quantity) for key, quantity in given.items()
        }
        with said_in_file_words(places):
            found.append(
                Surface(
                    name=table.name,
                    source=table.source or file.source,
                    vehicle=table.vehicle or "",
                    **{key: quantity.si for key, quantity in given.items() if quantity},
                )
            )
    return tuple(found)
