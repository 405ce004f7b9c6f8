"""A tyre: rolling radius as given, or estimated from what is moulded on the side wall."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

from converter_match.components.base import Component, require_choice, require_positive
from converter_match.errors import InputError
from converter_match.notes import Note, assumption

Construction = Literal["radial", "cross-ply"]
CONSTRUCTIONS: tuple[Construction, ...] = ("radial", "cross-ply")
# A size designation counts the rim, and often the section, in inches whatever unit the reader uses.
_INCH = 0.0254
# Rolling circumference / free diameter: ETRTO, second-hand. Radius 0.971 and 0.952 of the free one.
CIRCUMFERENCE_FACTOR: dict[Construction, float] = {"radial": 3.05, "cross-ply": 2.99}
# Section height / width where the designation does not say: wide-base sizes (23.5-25) and
# full-section sizes (12.00-20). From memory of tyre tables; good to 3 or 4 % of the radius.
WIDE_BASE_ASPECT = 0.82
FULL_SECTION_ASPECT = 1.03

# An estimate within some percent is worth three digits; from here on, in mm, they would be written
# with an exponent.
_METRE = 0.9995

_NUMBER = r"(\d+(?:[.,]\d+)?)"
_METRIC = re.compile(rf"{_NUMBER}\s*/\s*{_NUMBER}\s*([RB-])\s*{_NUMBER}", re.IGNORECASE)
_OVERALL = re.compile(rf"{_NUMBER}\s*[x×]\s*{_NUMBER}\s*([RB-])\s*{_NUMBER}", re.IGNORECASE)
_INCHES = re.compile(rf"{_NUMBER}\s*([RB-])\s*{_NUMBER}", re.IGNORECASE)


@dataclass(frozen=True, kw_only=True)
class TyreSize:
    """What a size designation says.

    Parameters
    ----------
    designation : str
    construction : {"radial", "cross-ply"}
    free_diameter : float
        Unloaded outside diameter [m].
    aspect_assumed : bool
        Whether the section height had to be assumed.
    """

    designation: str
    construction: Construction
    free_diameter: float
    aspect_assumed: bool

    @property
    def rolling_radius(self) -> float:
        """Rolling circumference / 2 pi, by the ETRTO relation (second-hand) [m]."""
        return CIRCUMFERENCE_FACTOR[self.construction] * self.free_diameter / (2 * math.pi)


def tyre_size(designation: str) -> TyreSize:
    """Read a size designation.

    Parameters
    ----------
    designation : str
        ``23.5R25`` or ``12.00-20`` (section and rim in inches), ``650/65R25`` (section in mm,
        height in percent of it, rim in inches) or ``28x9-15`` (overall diameter, section, rim in
        inches). ``R`` is radial; ``-`` and ``B`` are taken as cross-ply.

    Returns
    -------
    TyreSize

    Raises
    ------
    InputError
        If it is none of these, or its numbers make no tyre.

    Examples
    --------
    >>> round(tyre_size("650/65R25").free_diameter, 3)
    1.48
    """
    text = designation.strip()
    assumed = False
    if matched := _METRIC.match(text):
        width, aspect, mark, rim = matched.groups()
        section = _float(width) / 1000.0
        height = section * _float(aspect) / 100.0
        diameter = _float(rim) * _INCH + 2.0 * height
    elif matched := _OVERALL.match(text):
        overall, _, mark, rim = matched.groups()
        diameter = _float(overall) * _INCH
        height = 0.5 * (diameter - _float(rim) * _INCH)
    elif matched := _INCHES.match(text):
        width, mark, rim = matched.groups()
        assumed = True
        wide = width.replace(",", ".").endswith(".5") and _float(width) >= 13.0
        height = _float(width) * _INCH * (WIDE_BASE_ASPECT if wide else FULL_SECTION_ASPECT)
        diameter = _float(rim) * _INCH + 2.0 * height
    else:
        raise InputError(
            "not a tyre size that can be read",
            field="tyre.size",
            found=designation,
            expected="a form like 23.5R25, 12.00-20, 650/65R25 or 28x9-15",
            hint="or give the rolling radius",
        )
    rim_diameter = _float(rim) * _INCH
    if not (0.1 <= rim_diameter <= 2.0 and 0.03 <= height <= 1.2):
        raise InputError(
            "the size makes no tyre",
            field="tyre.size",
            found=designation,
            expected="a rim of 4 to 78 inches and a section height of 3 to 120 cm",
        )
    return TyreSize(
        designation=text,
        construction="radial" if mark.upper() == "R" else "cross-ply",
        free_diameter=diameter,
        aspect_assumed=assumed,
    )


def _float(text: str) -> float:
    return float(text.replace(",", "."))


@dataclass(frozen=True, kw_only=True, eq=False)
class Tyre(Component):
    """A tyre by its rolling radius.

    Parameters
    ----------
    rolling_radius : float
        Distance rolled in one turn / 2 pi, under load [m]; serves speed and effort alike, so that
        power is kept.
    size : str
        Designation, as given.
    construction : {"radial", "cross-ply"}, optional
    given_notes : tuple of Note
    """

    rolling_radius: float
    size: str = ""
    construction: Construction | None = None
    given_notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        require_positive(self.rolling_radius, "tyre.rolling_radius")
        if not 0.05 <= self.rolling_radius <= 2.5:
            raise InputError(
                "no such wheel",
                field="tyre.rolling_radius",
                found=f"{self.rolling_radius:.4g} m",
                expected="0.05 to 2.5 m",
                hint="a radius, not a diameter; is the unit right?",
            )
        if self.construction is not None:
            require_choice(self.construction, "tyre.construction", CONSTRUCTIONS)

    @classmethod
    def from_size(cls, designation: str, rolling_radius: float | None = None) -> Tyre:
        """Return the tyre of a size designation; the radius is an estimate unless given.

        Raises
        ------
        InputError
            If the designation cannot be read.
        """
        size = tyre_size(designation)
        if rolling_radius is not None:
            odd = rolling_radius / size.rolling_radius - 1.0
            notes: tuple[Note, ...] = ()
            if abs(odd) > 0.08:
                notes = (
                    Note(
                        "tyre-radius-odd",
                        f"The rolling radius given is {100 * odd:+.0f} % off what tyre size "
                        f"{size.designation} leads one to expect. The given one is used.",
                    ),
                )
            return cls(
                rolling_radius=rolling_radius,
                size=size.designation,
                construction=size.construction,
                given_notes=notes,
            )
        height = (
            " and an assumed section height (within about 4 % of the radius)"
            if size.aspect_assumed
            else ""
        )
        radius = size.rolling_radius
        form = ".3g" if radius < _METRE else ".4g"
        words = (
            f"Estimate: rolling radius {{radius:length {form}}} from tyre size {size.designation}, "
            f"by a rolling circumference of {CIRCUMFERENCE_FACTOR[size.construction]:.2f} free "
            f"diameters ({size.construction}){height}. Measure it where speed or effort "
            "is critical."
        )
        note = assumption("tyre-radius-estimated", words, radius=radius)
        return cls(
            rolling_radius=size.rolling_radius,
            size=size.designation,
            construction=size.construction,
            given_notes=(note,),
        )
