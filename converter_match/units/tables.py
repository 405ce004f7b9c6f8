"""The shape of a vocabulary table, and the defined constants that the factors are built from."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

from converter_match.constants import GRAVITY

# Defined exactly: international yard and pound agreement of 1959; US gallon 231 cubic inches;
# imperial gallon 4.54609 L (UK Weights and Measures Act 1985).
FOOT = 0.3048
INCH = 0.0254
MILE = 1609.344
YARD = 0.9144
POUND = 0.45359237
LBF = 4.4482216152605  # POUND * GRAVITY, all its digits
KGF = GRAVITY
SLUG = LBF / FOOT
US_GALLON = 231.0 * INCH**3
IMP_GALLON = 4.54609e-3
HOUR = 3600.0
MINUTE = 60.0
REVOLUTION = 2.0 * math.pi
HP = 550.0 * FOOT * LBF  # mechanical horsepower per second of work: 550 ft.lbf
PS = 75.0 * KGF  # metric horsepower: 75 kgf.m/s = 735.49875 W
BTU = 1055.05585262  # International Table, as engineering tables use it
KCAL_IT = 4186.8
KCAL_TH = 4184.0
FAHRENHEIT = 5.0 / 9.0
MMHG = 133.322387415  # conventional millimetre of mercury: 13 595.1 kg/m3 at standard gravity
MMH2O = GRAVITY  # conventional millimetre of water: 1000 kg/m3 at standard gravity


class Row(NamedTuple):
    """One unit and the ways of spelling it: SI value = (number + offset) * factor."""

    factor: float
    spellings: str  # separated by commas; two that fold into one key are written once
    offset: float = 0.0

    def names(self) -> tuple[str, ...]:
        """Return the spellings, first the one to show to people."""
        return tuple(name.strip() for name in self.spellings.split(","))


@dataclass(frozen=True, slots=True)
class Dimension:
    """One kind of quantity: its units, the two it is shown in, and examples for messages."""

    noun: str
    si: str  # shown in the si system
    us: str  # shown in the us system
    examples: str  # named when a spelling is refused
    rows: tuple[Row, ...]  # the SI unit first
