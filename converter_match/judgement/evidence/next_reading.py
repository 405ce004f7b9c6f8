"""Which reading to take next, in terms of the decision on each candidate.

First what knowing everything would be worth: where that is nil no reading can change the decision,
and none is listed. Otherwise each reading and each pair, less what they take. A pair may be worth
much where neither of the two is, so that it will not do to take the best one and look again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from converter_match.answer.block import Block, Heading, Quantity
from converter_match.answer.noted import PartOfAnswer
from converter_match.judgement.evidence.possible import Possible
from converter_match.judgement.evidence.result import reading_value
from converter_match.judgement.evidence.value import (
    Worth,
    chance_of_order,
    perfect_information,
    turning_points,
    worth,
    worth_together,
)
from converter_match.judgement.evidence.worth_words import CAUTIONS, NEXT, TAKES, TITLE
from converter_match.judgement.stall.words import STALL_TEST, joined
from converter_match.notes import Note
from converter_match.study.losses import COSTS, Cost, Losses
from converter_match.units import note_text

LEAST = 0.03
"""A reading, or a second one beside the first, counts only where it saves more than this share of
what not knowing costs: below that the draws do not tell (common practice, no source)."""
_SHOWN = 8


@dataclass(frozen=True, eq=False, kw_only=True)
class NextReading:
    """What could be measured before the decision on one candidate, and what it is worth.

    Worth is in the unit of the losses.

    Parameters
    ----------
    combination, name : str
        The candidate.
    probability : float
        That all required criteria hold together.
    losses : Losses
    perfect : float
        Worth of knowing everything.
    readings : tuple of Possible
        Empty where that is nil.
    worth : Worth
    together : mapping of str to float
        Cost class -> worth of all readings that take no more than that.
    first : tuple of int
        Which reading, or which two, to take first; empty where none is worth what it takes.
    chance : float or None
        That ordering will be the better choice after these.
    turn : tuple of (float, bool) or None
        Of a single one: the value at which the better choice changes, and whether it is to order
        above it.
    """

    combination: str
    name: str
    probability: float
    losses: Losses
    perfect: float
    readings: tuple[Possible, ...]
    worth: Worth
    together: Mapping[Cost, float]
    first: tuple[int, ...]
    chance: float | None
    turn: tuple[float, bool] | None

    @property
    def nil(self) -> bool:
        """Whether no reading can change the decision."""
        return self.losses.nil(self.perfect)

    def share(self, worth: float) -> float:
        """Return a worth as a share of that of knowing everything."""
        return min(worth / self.perfect, 1.0) if self.perfect > 0.0 else 0.0

    def cost(self, rows: tuple[int, ...]) -> float:
        """Return what some readings take, unit of the losses."""
        return sum(self.losses.costs[self.readings[row].cost] for row in rows)

    @cached_property
    def order(self) -> tuple[int, ...]:
        """Which reading comes first: by what it is worth alone or beside its best other, net."""
        best = [max(self._net((row, other)) for other in range(self._count)) for row in self._rows]
        return tuple(sorted(self._rows, key=lambda row: -best[row]))

    @property
    def _count(self) -> int:
        return len(self.readings)

    @property
    def _rows(self) -> range:
        return range(self._count)

    def _net(self, rows: tuple[int, int]) -> float:
        i, j = rows
        return float(self.worth.pair[i, j]) - self.cost((i,) if i == j else (i, j))

    def beside(self, row: int, among: Sequence[int] | None = None) -> int | None:
        """Return the reading that one is worth most beside, less what it takes.

        Parameters
        ----------
        row : int
        among : sequence of int, optional
            All without.
        """
        others = [k for k in (self._rows if among is None else among) if k != row]
        return max(others, key=lambda k: self._net((row, k))) if others else None

    @property
    def note(self) -> Note:
        """What to measure first, or why nothing."""
        say, name = NEXT.note, self.name
        if self.nil:
            code = "yes" if self.probability >= self.losses.threshold else "no"
            return say(f"nothing-changes-{code}", name=name, probability=self.probability)
        if not self.readings:
            return say("no-readings", name=name)
        if not self.first:
            best = int(np.argmax(self.worth.single))
            share = self.share(float(self.worth.single[best]))
            return say("not-worth-it", name=name, reading=self.readings[best].title, share=share)
        chosen = [self.readings[row] for row in self.first]
        share = self.share(float(self.worth.pair[self.first[0], self.first[-1]]))
        given: dict[str, Any] = {
            "name": name,
            "reading": chosen[0].title,
            "takes": TAKES[chosen[0].cost],
        }
        if len(chosen) == 1:
            return joined(
                "measure-one", say("measure-one", share=share, **given), self._turning(chosen[0])
            )
        alone = [self.share(float(self.worth.single[row])) for row in self.first]
        other: dict[str, Any] = {"other": chosen[1].title, "other_takes": TAKES[chosen[1].cost]}
        both = say("measure-both", share=share, first=alone[0], second=alone[1], **given, **other)
        return joined("measure-both", both, self._turning(None))

    def _turning(self, reading: Possible | None) -> Note:
        chance = 0.0 if self.chance is None else self.chance
        if reading is None or self.turn is None:
            return NEXT.note("turns-somewhere", chance=chance)
        at, above = self.turn
        code = "turns-above" if above else "turns-below"
        return NEXT.note(code, at=_quantity(reading, at), chance=chance)

    @property
    def notes(self) -> tuple[Note, ...]:
        """What the ranking rests on."""
        losses = self.losses
        rest = NEXT.note(
            "losses", wrong=losses.wrong_order, missed=losses.missed_order,
            threshold=losses.threshold, minutes=losses.minutes, hours=losses.hours,
            dear=losses.dear,
        )  # fmt: skip
        if not self.together:
            return (rest,)
        shares: dict[str, float] = {
            name: self.share(value) for name, value in self.together.items()
        }
        return NEXT.note("together", **shares), rest

    @property
    def cautions(self) -> tuple[Note, ...]:
        """What the readings to take first can do to those who take them."""
        taken = [self.readings[row].item.quantity for row in self.first]
        return tuple(dict.fromkeys(_CAUTION[name] for name in taken if name in _CAUTION))

    def block(self) -> Block:
        """Return the readings, the most useful first."""
        shown = self.order[:_SHOWN]
        rows = []
        for number, row in enumerate(shown, start=1):
            item, other = self.readings[row], self.beside(row, shown)
            rows.append(
                (
                    number,
                    item.title,
                    TAKES[item.cost],
                    _quantity(item, item.predicted.deviation),
                    self.share(float(self.worth.single[row])),
                    None if other is None else shown.index(other) + 1,
                    None if other is None else self.share(float(self.worth.pair[row, other])),
                )
            )
        return Block(
            "",
            title=TITLE,
            above=(self.note,),
            columns=_READINGS if rows else (),
            rows=tuple(rows),
            below=() if self.nil else (*self.notes, *self.cautions),
            in_plain=False,
        )

    def to_dict(self) -> dict[str, object]:
        """Return plain data."""
        keys = [f"R{row + 1}" for row in self._rows]
        return {
            "combination": self.combination,
            "name": self.name,
            "probability": self.probability,
            "order_probability": self.losses.threshold,
            "loss_of_wrong_order": self.losses.wrong_order,
            "loss_of_missed_order": self.losses.missed_order,
            "worth_of_knowing_everything": self.perfect,
            "no_reading_can_change_it": self.nil,
            "words": note_text(self.note, "si"),
            "first": [keys[row] for row in self.first],
            "probability_of_ordering_after": self.chance,
            "readings": [
                {
                    "key": keys[row],
                    "quantity": item.item.quantity,
                    "combination": item.item.combination,
                    "title": note_text(item.title, "si"),
                    "takes": item.cost,
                    "cost": self.losses.costs[item.cost],
                    "dimension": item.item.kind.dimension,
                    "standard_deviation_si": item.predicted.deviation,
                    "worth": float(self.worth.single[row]),
                    "share_of_everything": self.share(float(self.worth.single[row])),
                }
                for row, item in enumerate(self.readings)
            ],
            "pairs": [
                {
                    "readings": [keys[i], keys[j]],
                    "worth": float(self.worth.pair[i, j]),
                    "share_of_everything": self.share(float(self.worth.pair[i, j])),
                }
                for i in self._rows
                for j in range(i + 1, self._count)
            ],
            "together": dict(self.together),
        }


_CAUTION = {
    "stall-speed": STALL_TEST,
    "temperature-rise": STALL_TEST,
    "speed-on-grade": CAUTIONS.note("grade-run"),
    "pull": CAUTIONS.note("pull-test"),
}
_READINGS = (
    Heading("", "no."),
    Heading("", "reading"),
    Heading("", "takes"),
    Heading("", "standard deviation"),
    Heading("", "saves alone", "share"),
    Heading("", "most beside no."),
    Heading("", "both save", "share"),
)


def _quantity(reading: Possible, value: float) -> Quantity:
    return reading_value(value, reading.item.kind.dimension)


@dataclass(frozen=True, eq=False, kw_only=True, repr=False)
class NextReadings(PartOfAnswer):
    """What to measure next, for each candidate whose required criteria were all drawn.

    Parameters
    ----------
    candidates : tuple of NextReading
    """

    candidates: tuple[NextReading, ...]

    def of(self, combination: str) -> NextReading | None:
        """Return what to measure for a candidate by its id; None where nothing is said of it."""
        return next((item for item in self.candidates if item.combination == combination), None)

    def about(self, ranking: Sequence[str]) -> tuple[Block, ...]:
        """Return the readings for the first of some candidates, and a sentence on each other one.

        Parameters
        ----------
        ranking : sequence of str
            Ids of the candidates, best first.
        """
        first, *others = [self.of(name) for name in ranking]
        said = tuple(item.note for item in others if item is not None)
        if first is None:
            return (Block("", title=TITLE, items=said, in_plain=False),) if said else ()
        block = first.block()
        return (block, Block("", items=said, in_plain=False)) if said else (block,)

    def blocks(self) -> tuple[Block, ...]:
        """Return a block for each candidate."""
        return tuple(item.block() for item in self.candidates)

    def plain(self) -> list[dict[str, object]]:
        """Return plain data, an object for each candidate."""
        return [item.to_dict() for item in self.candidates]


def next_reading(
    holds: NDArray[np.bool_],
    readings: tuple[Possible, ...],
    losses: Losses,
    *,
    combination: str,
    name: str,
    seed: int = 0,
    alike: NDArray[np.intp] | None = None,
) -> NextReading:
    """Return what to measure next.

    Parameters
    ----------
    holds : ndarray of bool, shape (n,)
        Whether all required criteria hold together, in each draw.
    readings : tuple of Possible
        For the same draws.
    losses : Losses
    combination, name : str
        The candidate.
    seed : int
        Of the folds.
    alike : ndarray of int, shape (n,), optional
        Draws of the same number are copies of one another.
    """
    gain = losses.gain(holds)
    perfect = perfect_information(gain)
    if losses.nil(perfect):
        readings = ()
    predicted = [item.predicted for item in readings]
    found = worth(gain, predicted, seed=seed, alike=alike)
    first = _first(found, [losses.costs[item.cost] for item in readings], perfect)
    chosen = [predicted[row] for row in first]
    turns = turning_points(gain, chosen[0]) if len(chosen) == 1 else ()
    together: dict[Cost, float] = {}
    least = 0.0
    for k, name_of in enumerate(COSTS):
        rows = [row for row, item in enumerate(readings) if item.cost in COSTS[: k + 1]]
        if rows:
            some = [predicted[row] for row in rows]
            regressed = worth_together(gain, some, seed=seed, alike=alike)
            # All of them are worth no less than two of them.
            least = max(regressed, least, float(found.pair[np.ix_(rows, rows)].max()))
            together[name_of] = least
    return NextReading(
        combination=combination,
        name=name,
        probability=float(np.mean(holds)),
        losses=losses,
        perfect=perfect,
        readings=readings,
        worth=found,
        together=together,
        first=first,
        chance=chance_of_order(gain, chosen) if chosen else None,
        turn=turns[0] if len(turns) == 1 else None,
    )


def _first(found: Worth, costs: Sequence[float], perfect: float) -> tuple[int, ...]:
    """Return the reading, or the two, that are worth most above what they take."""
    if not costs:
        return ()
    some = LEAST * perfect
    alone = found.single - np.asarray(costs)
    best = int(np.argmax(alone))
    better = np.maximum.outer(found.single, found.single)
    net = np.where(found.pair > better + some, found.pair - np.add.outer(costs, costs), -np.inf)
    i, j = (int(k) for k in np.unravel_index(np.argmax(net), net.shape))
    if net[i, j] > max(float(alone[best]), 0.0):
        return (i, j) if found.single[i] >= found.single[j] else (j, i)
    return (best,) if alone[best] > 0.0 and found.single[best] > some else ()
