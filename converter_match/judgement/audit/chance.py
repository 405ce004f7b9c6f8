"""How often an arbitrary claim would have had a story told about it.

Many alternatives give many numbers, and most of them lie near ours: a claim that is a few percent
off has some of them beside it whatever it rests on. So nearness is weighed against claims at the
same distance from our figure. Distances are differences of logarithms; the claims compared with lie
on either side alike, from two thirds of the distance to one and a half times it, evenly in its
logarithm, and are such as disagree. The share of them that lie within ``h`` of any alternative is
measured once, overlaps and all.

One rate covers all that is tried. Single alternatives have `SINGLES` of it and pairs the rest, so
that the chance of a story is that share over the family's part (Bonferroni, weighted): by
construction at most `CHANCE` of arbitrary claims have any story, single or pair.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

# A story is told where so few arbitrary claims would have had one.
CHANCE = 0.05
# Part of that rate which is kept for single alternatives: the simpler story goes first.
SINGLES = 0.8
_REACH = 1.5


def family_chance(
    distance: float,
    near: float,
    families: tuple[Sequence[float], Sequence[float]],
    family: int,
    least: float = 0.0,
) -> float:
    """Return the chance that an arbitrary claim has a story as close as this one, 0 to 1.

    Parameters
    ----------
    distance : float
        Of the claim from our figure, ``ln(claim / ours)``.
    near : float
        How near the alternative lies to the claim, ``|ln(claim / value)|``.
    families : tuple of two sequences of float
        ``ln(value / ours)`` of every single alternative, and of every pair.
    family : {0, 1}
        Which of them this one belongs to.
    least : float
        Distance up to which a claim agrees.

    Examples
    --------
    >>> round(family_chance(0.1, 0.001, ([0.101, -0.3], []), 0), 4)
    0.0122
    """
    far = abs(distance)
    low, high = max(far / _REACH, min(least, far)), far * _REACH
    part = SINGLES if family == 0 else 1.0 - SINGLES
    if not families[1 - family]:
        part = 1.0
    return min(covered(families[family], near, low, high) / part, 1.0)


def covered(places: Sequence[float], near: float, low: float, high: float) -> float:
    """Return the share of claims between two distances that lie near any of some places.

    Parameters
    ----------
    places : sequence of float
        ``ln(value / ours)``.
    near : float
        Half width of the band about each.
    low, high : float
        Distances, above zero.
    """
    whole = 0.0
    for side in (1.0, -1.0):
        reach = low
        for place in sorted(side * place for place in places):
            start, end = max(place - near, reach), min(place + near, high)
            if end > start:
                whole += math.log(end / start)
                reach = end
    return whole / (2.0 * math.log(high / low))
