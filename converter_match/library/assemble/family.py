"""The family of an adjustable converter: every member is read as a file of its own would be."""

from __future__ import annotations

from collections.abc import Callable

from converter_match.components.adjustment import Adjustment
from converter_match.components.converter import Converter
from converter_match.components.converter_family import with_family
from converter_match.errors import InputError
from converter_match.library.files import TomlFile
from converter_match.library.schema.converter import FamilyTable

# What a member has of its own; the rest it shares with the converter at its nominal setting.
_OWN = ("characteristic", "coupling_speed_ratio")


def assembled_family(
    nominal: Converter,
    table: FamilyTable,
    toml: TomlFile,
    assemble: Callable[[TomlFile], Converter],
) -> Converter:
    """Return a converter with its family.

    Parameters
    ----------
    nominal : Converter
        What the file gives at its nominal setting.
    table : FamilyTable
    toml : TomlFile
        The whole file.
    assemble : callable
        Makes a converter of a file without a family.

    Raises
    ------
    InputError
        For anything that is wrong with it, in the words of the file.
    """
    given = toml.data["family"]["member"]
    raw = [given] if isinstance(given, dict) else given
    shared = {key: value for key, value in toml.data.items() if key not in ("family", *_OWN)}
    others: dict[float, Converter] = {}
    for number, (member, own) in enumerate(zip(table.member, raw, strict=True)):
        setting, place = member.setting.si, f"family.member[{number}]"
        if setting in others or setting == table.nominal.si:
            raise InputError(
                "another member has this setting",
                field=f"{place}.setting",
                found=member.setting.given(),
                expected="settings that differ from each other and from nominal",
            )
        data = shared | {key: own[key] for key in _OWN if key in own}
        try:
            others[setting] = assemble(TomlFile(toml.source, data, toml.text))
        except InputError as error:
            first = (error.field or "").partition(".")[0].partition("[")[0]
            field = f"{place}.{error.field}" if first in _OWN else error.field
            raise error.changed(field=field) from None
    adjustment = Adjustment(
        parameter=table.parameter,
        unit=table.unit,
        between=table.between,
        settings=tuple(sorted([*others, table.nominal.si])),
        setting=table.nominal.si,
    )
    return with_family(nominal, adjustment, others)
