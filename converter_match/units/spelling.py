"""How a unit is written: many hands in, one key out; and one key out to an axis label."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

_DIGITS = "⁰¹²³⁴⁵⁶⁷⁸⁹"
_PLAIN = str.maketrans(_DIGITS + "⁺⁻", "0123456789+-")
_RAISED = str.maketrans("0123456789-", _DIGITS + "⁻")
_SUPERSCRIPT = re.compile(rf"[{_DIGITS}⁺⁻]+(?:\.[{_DIGITS}]+)?")
_LOOKALIKES = {
    **dict.fromkeys("·⋅∙•×・_", "*"),
    **dict.fromkeys("−‐‑–", "-"),
    **dict.fromkeys("⁄∕", "/"),
}
# º and ˚ are what keyboards offer for °, and NFKC would spoil them; ℃ is split by NFKC into °C.
_DEGREE_SIGNS = str.maketrans(dict.fromkeys("°º˚", "deg"))
_OTHER_SIGNS = str.maketrans(_LOOKALIKES)

# Applied in this order, after characters have been made plain. '.' is the product sign of a key.
_STEPS = tuple(
    (re.compile(pattern), replacement)
    for pattern, replacement in (
        (r"\*\*", "^"),
        (r" ?([/^()]) ?", r"\1"),  # "g / (kW h)" is "g/(kW h)"
        (r"(?:sqrt|√)\(([^()]*)\)", r"(\1)^0.5"),
        (r"√([^()/^]+)$", r"(\1)^0.5"),  # a bare root sign covers all that follows
        (r"(?<=[A-Za-z])\.(?=[ *\-/]|$)", ""),  # "ft. lb.": a period that only abbreviates
        (r"(?<=[A-Za-z])-(?=\d)", "^-"),  # "min-1"
        (r"(?<=[A-Za-z0-9)]) ?- ?(?=[A-Za-z(])", "."),  # "lb-ft"
        (r" ?[*.] ?| ", "."),
        (r"\^\(([^()]*)\)", r"^\1"),
        (r"\^(?:1/2|0?\.5)(?!\d)", "^0.5"),
        (r"(?<=[A-Za-z)])(\d)", r"^\1"),  # "m2"
        (r"(^|[/.(])\(([A-Za-z%]+)\)", r"\1\2"),  # "(Nm)^0.5": brackets round one word
        (r"(^|[/.(])\(([A-Za-z]+\^-?\d+)\)(?!\^)", r"\1\2"),
        (r"^\(([^()]*)\)(?=[/.]|$)", r"\1"),  # "(r/min)/...": brackets that change nothing
    )
)


@lru_cache(maxsize=1024)
def normalise(spelling: str) -> str:
    """Fold the ways of writing one unit into one key.

    White space is trimmed; ``*``, ``·``, ``-``, ``_`` and a space between unit letters are one
    product sign; ``**``, ``^``, superscripts and a digit behind a letter are one power; ``sqrt()``,
    ``√``, ``^(1/2)`` and ``^0.5`` are one root. Upper and lower case stay apart.

    Parameters
    ----------
    spelling : str
        The unit as a person wrote it.

    Returns
    -------
    str
        The key, for look-up only.

    Examples
    --------
    >>> normalise("rpm / sqrt(lb-ft)"), normalise("rpm/(lb*ft)**0.5"), normalise("rpm/√(lb·ft)")
    ('rpm/(lb.ft)^0.5', 'rpm/(lb.ft)^0.5', 'rpm/(lb.ft)^0.5')
    """
    text = _SUPERSCRIPT.sub(lambda found: "^" + found.group().translate(_PLAIN), spelling)
    text = re.sub(r"\^?½", "^0.5", text)
    text = unicodedata.normalize("NFKC", text.translate(_DEGREE_SIGNS))
    text = " ".join(text.translate(_DEGREE_SIGNS).translate(_OTHER_SIGNS).split())
    if text == "-":  # the dash of a dimensionless column is not a product sign
        return text
    for pattern, replacement in _STEPS:
        text = pattern.sub(replacement, text)
    return text


def label(spelling: str) -> str:
    """Return a unit as it stands on an axis or in a table head.

    Parameters
    ----------
    spelling : str
        A spelling from the vocabulary, such as one that `display_unit` returns.

    Returns
    -------
    str
        The same unit with product dots, raised powers, root and degree signs.

    Examples
    --------
    >>> label("lbf.ft"), label("rpm/sqrt(N.m)"), label("kg/m3"), label("degC")
    ('lbf·ft', 'rpm/√(N·m)', 'kg/m³', '°C')
    """
    text = re.sub(r"\bdeg(?=[CF]\b|$)", "°", spelling).replace("sqrt(", "√(")
    text = re.sub(r"(?<=[A-Za-z)])\.(?=[A-Za-z(°])", "·", text)
    return re.sub(
        r"(?<=[A-Za-z)])\^?(-?\d+)(?=$|[/·)])",
        lambda power: power.group(1).translate(_RAISED),
        text,
    )
