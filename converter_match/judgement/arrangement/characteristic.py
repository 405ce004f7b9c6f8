"""The characteristic that an arrangement makes of a converter: its stator, its torque divider."""

from __future__ import annotations

from dataclasses import dataclass

from converter_match.components.arrangement import Arrangement
from converter_match.components.blading import BladingGeometry
from converter_match.components.converter import Converter
from converter_match.judgement.arrangement.drive import with_stator
from converter_match.physics.arrangement.overrun import with_overrun
from converter_match.physics.arrangement.torque_divider import combined_converter


@dataclass(frozen=True, eq=False)
class ArrangedConverter:
    """A converter as arranged.

    Parameters
    ----------
    inside : Converter
        The converter itself, with the stator of the arrangement.
    whole : Converter
        What the engine drives: the converter inside, or that with its torque divider as one.
    """

    inside: Converter
    whole: Converter


def arranged_converter(
    converter: Converter, arrangement: Arrangement, blading: BladingGeometry | None = None
) -> ArrangedConverter:
    """Return what an arrangement makes of a converter.

    Parameters
    ----------
    converter : Converter
    arrangement : Arrangement
        Its stator and its torque divider change the characteristic; its other parts do not.
    blading : BladingGeometry, optional
        Of the converter, for its capacity without a stator.

    Raises
    ------
    InputError
        If data are missing and may not be assumed; it names the arrangement or the converter.
    """
    allowed = arrangement.permissions
    inside = converter.changed(lambda unit: with_stator(unit, arrangement, blading))
    divider = arrangement.torque_divider
    if divider is None:
        return ArrangedConverter(inside, inside)
    if arrangement.overrun is not None:
        # It is the converter inside that the tables are for, not the gears with it.
        inside = inside.changed(lambda unit: with_overrun(unit, assume=allowed.overrun))
    whole = inside.changed(
        lambda unit: combined_converter(unit, divider, assume_negative=allowed.negative_speed_ratio)
    )
    return ArrangedConverter(inside, whole)
