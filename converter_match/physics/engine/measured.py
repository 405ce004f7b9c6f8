"""Notes of this room that hold quantities: words in SI, and what is needed to say them otherwise.

Units are none of physics' business. A note carries its values in SI beside its words, so that
whoever shows it can put them in the reader's units (`units.note_text`).
"""

from __future__ import annotations

from converter_match.constants import ZERO_CELSIUS
from converter_match.notes import Note

# Dimension: factor from SI, what is taken off, and the unit in metric words.
_METRIC = {
    "altitude": (1.0, 0.0, "m"),
    "pressure": (1e-3, 0.0, "kPa"),
    "temperature": (1.0, ZERO_CELSIUS, "°C"),
    "torque": (1.0, 0.0, "N·m"),
}


def measured(code: str, template: str, **quantities: tuple[float, str, str]) -> Note:
    """Return a note on an assumption whose words hold quantities.

    Parameters
    ----------
    code : str
    template : str
        With a place ``{name}`` for each quantity.
    **quantities : tuple of (float, str, str)
        SI value; ``altitude``, ``pressure``, ``temperature`` or ``torque``; number format.

    Examples
    --------
    >>> measured("a-code", "Air at {t}.", t=(298.15, "temperature", ".0f")).message
    'Air at 25 °C.'
    """
    words = {}
    for name, (value, dimension, form) in quantities.items():
        factor, offset, unit = _METRIC[dimension]
        words[name] = f"{factor * value - offset:{form}} {unit}"
    places = tuple((name, *quantity) for name, quantity in quantities.items())
    return Note(code, template.format(**words), "assumption", template, places)
