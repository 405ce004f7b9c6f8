"""Blades for a sheet, from the shape that is shipped."""

from __future__ import annotations

from converter_match.components.blading import BladingGeometry
from converter_match.components.converter import Converter
from converter_match.errors import InputError
from converter_match.library.read import read_blading
from converter_match.library.shipped import find
from converter_match.physics.converter.blading_for_sheet import blading_for_sheet

SHAPE = "loader-390mm"


def blades_of(sheet: Converter) -> BladingGeometry | None:
    """Return blades that give a sheet, None where those of the shipped shape cannot.

    Parameters
    ----------
    sheet : Converter
    """
    try:
        return blading_for_sheet(read_blading(find("blading", SHAPE)), sheet).geometry
    except InputError:
        return None
