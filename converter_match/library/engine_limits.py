"""The limits that an engine's file states, as far as a match can be held against them.

``[limits]`` is a table of free keys, kept as given. Three of them have a meaning: the highest
``speed``, and the highest ``torque`` and ``power`` at the flywheel.
"""

from __future__ import annotations

from collections.abc import Mapping

from converter_match.components.engine import LIMIT_PREFIX, Engine
from converter_match.errors import InputError
from converter_match.units import to_si

CHECKED: Mapping[str, str] = {"speed": "angular_speed", "torque": "torque", "power": "power"}
"""Key in ``[limits]`` -> dimension."""


def engine_limits(engine: Engine) -> tuple[dict[str, float], tuple[str, ...]]:
    """Return the limits that can be checked, and the keys of those that cannot be read.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    found : dict
        Key of `CHECKED` -> SI value.
    unread : tuple of str
        Keys of `CHECKED` that hold a text, or a quantity of another dimension.

    Examples
    --------
    >>> from converter_match.library.read import read_engine
    >>> from converter_match.library.shipped import shipped
    >>> engine = read_engine(shipped("engines")["six-cylinder-7l-185kw"])
    >>> stated = (("limits.torque", "1000 N.m"), ("limits.speed", "see the plate"))
    >>> engine_limits(engine.replace(interface=stated))
    ({'torque': 1000.0}, ('speed',))
    """
    found: dict[str, float] = {}
    unread = []
    given = dict(engine.interface)
    for key, dimension in CHECKED.items():
        text = given.get(f"{LIMIT_PREFIX}{key}")
        if text is None:
            continue
        number, _, unit = text.partition(" ")
        try:
            found[key] = float(to_si(float(number), unit, dimension))
        except (InputError, ValueError):
            unread.append(key)
    return found, tuple(unread)
