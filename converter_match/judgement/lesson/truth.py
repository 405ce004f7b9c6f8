"""What is believed, what is true, and the table that shows it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from converter_match.units import System, show


@dataclass(frozen=True)
class Misconception:
    """A belief, what is true instead, and a table that shows it.

    Parameters
    ----------
    belief, truth : str
    head : tuple of str
        Column titles, each with its unit.
    rows : tuple of tuple of str
    """

    belief: str
    truth: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Demonstration:
    """Something to be shown with numbers of the pair.

    Parameters
    ----------
    key, title, text : str
    head : tuple of str
        Column titles, each with its unit; empty where it cannot be shown, and `text` says why.
    rows : tuple of tuple of str
    """

    key: str
    title: str
    text: str
    head: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()


def number(value: float, dimension: str, system: System, form: str = ".0f") -> str:
    """Return a number in the reader's unit, without it; ``none`` where there is none."""
    shown = float(show(float(value), dimension, system)[0])
    return format(shown, form) if np.isfinite(shown) else "none"


def unit(dimension: str, system: System) -> str:
    """Return the reader's unit."""
    return show(0.0, dimension, system)[1]
