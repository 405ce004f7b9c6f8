"""Figures that a file has in a second unit are written again beside the first."""

from __future__ import annotations

from typing import Any

import numpy as np

from converter_match.components.base import SecondFigure
from converter_match.errors import InputError
from converter_match.library.paths import steps
from converter_match.library.schema.quantity import SECOND, GivenQuantity
from converter_match.library.toml_text import Inline
from converter_match.units import to_si

# What was written exactly is the same to the last bit but for the arithmetic of its unit.
_SAME = 1e-12


def put_beside(tables: dict[str, Any], figure: SecondFigure) -> None:
    """Put the second figures beside the first, where that is still the one they stood beside.

    Parameters
    ----------
    tables : dict
        Of a file that is about to be written; changed in place.
    figure : SecondFigure
    """
    *way, last = steps(figure.place)
    here: Any = tables
    for step in way:
        here = _inside(here, step)
    found = _inside(here, last)
    if isinstance(found, str) and found == _as_text(figure):  # an entry that is kept as given
        here[last] = found = Inline(unit=figure.unit, value=figure.numbers)
    if isinstance(found, dict) and _is_the_same(found, figure):
        column = isinstance(figure.numbers, tuple)
        second = [
            Inline(unit=unit, values=list(numbers))  # type: ignore[arg-type]
            if column
            else Inline(unit=unit, value=numbers)
            for unit, numbers in figure.also
        ]
        found[SECOND] = second[0] if len(second) == 1 else second


def _inside(here: Any, step: str | int) -> Any:
    """Return what stands at a step; a single table may be a list of one in another file."""
    if isinstance(here, dict):
        return here if isinstance(step, int) else here.get(step)
    if isinstance(here, list) and isinstance(step, int) and step < len(here):
        return here[step]
    return None


def _as_text(figure: SecondFigure) -> str | None:
    if isinstance(figure.numbers, tuple):
        return None
    return GivenQuantity(figure.numbers, figure.unit, figure.si[0]).given()


def _is_the_same(table: dict[str, Any], figure: SecondFigure) -> bool:
    """Whether a table says the number, or the column, that the second figures stood beside."""
    key = "values" if isinstance(figure.numbers, tuple) else "value"
    if key not in table:
        return False
    try:
        si = np.atleast_1d(to_si(table[key], table.get("unit", ""), figure.dimension))
    except InputError:  # written in another form
        return False
    return si.shape == (len(figure.si),) and np.allclose(si, figure.si, rtol=_SAME, atol=0.0)
