"""Units: the only room that knows a unit other than SI.

Numbers come in through `to_si` and leave through `from_si` or `show`; everything between is SI.
The spellings are a closed vocabulary of the trade, one list a dimension. A spelling outside it is
refused with the candidates named, because a guessed unit is a wrong purchase order.

Inside: `spelling` folds the many ways of writing one unit into one key, `mechanical` and `thermal`
hold the tables, `refusals` the spellings that must not be guessed, `vocabulary` the look-up and its
messages, `conversion` the arithmetic, `amounts` in which unit a figure is shown and written.
"""

from converter_match.units.amounts import AMOUNTS, amount, in_plain, shown, shown_text
from converter_match.units.conversion import System, display_unit, from_si, show, to_si, trimmed
from converter_match.units.notes import note_plain, note_text
from converter_match.units.spelling import label
from converter_match.units.vocabulary import DIMENSIONS, dimensions_of, si_unit, spellings

__all__ = [
    "AMOUNTS",
    "DIMENSIONS",
    "System",
    "amount",
    "dimensions_of",
    "display_unit",
    "from_si",
    "in_plain",
    "label",
    "note_plain",
    "note_text",
    "show",
    "shown",
    "shown_text",
    "si_unit",
    "spellings",
    "to_si",
    "trimmed",
]
