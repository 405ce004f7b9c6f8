"""What a catalogue comes to: what is kept, what nothing beats, and why the others are out."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from converter_match.answer.block import Block, Heading, NoValue
from converter_match.answer.noted import Answer
from converter_match.answer.remarks import odd_block
from converter_match.judgement.catalogue import words
from converter_match.judgement.catalogue.bounds import BOUNDS
from converter_match.judgement.sizing.trials import pareto
from converter_match.judgement.verdict.words import VERDICTS
from converter_match.notes import Note
from converter_match.study.catalogue import Member, PartsCatalogue
from converter_match.study.criteria import CATALOGUE

SCHEMA = "converter-match/shortlist/1"
SHOWN = 20
"""Rows that a console shows; the table has them all."""
# Rows compared with one another at a time: memory goes with the square.
_BLOCK = 1000


@dataclass(frozen=True, kw_only=True)
class Listed:
    """A combination that fails no required criterion. SI units, None where not known.

    Parameters
    ----------
    member : Member
    engine, converter, driveline, site : str
        Ids; empty where there is none. Site is empty where all of the study's count together.
    diameter : float or None
        Profile diameter that the converter is scaled to [m]; None for its own size.
    verdict : str
        Over all criteria.
    not_met, marginal, unknown : tuple of str
        Criteria by name: preferred ones that fail, those met with little to spare, those not known.
    missing : tuple of str
        Data that are missing.
    stall_speed : float or None
        In the first condition [rad/s].
    route_time, fuel, energy : float or None
        For all routes, in the worst condition [s], [kg], and work of the engine [J].
    heat_margin : float or None
        Share of the cooler's capacity that is left on the continuous grade, in the worst condition.
    probability : float or None
        That every required criterion holds.
    odds : mapping of str to float or None
        The same of each criterion.
    best : bool or None
        Whether no other beats it; None where a figure that others are compared by is not known.
    doubts : tuple of str
        Whose data are in doubt, of its parts and of what all are judged by.
    """

    member: Member
    engine: str
    converter: str
    driveline: str
    site: str
    diameter: float | None
    verdict: str
    not_met: tuple[str, ...] = ()
    marginal: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    stall_speed: float | None = None
    route_time: float | None = None
    fuel: float | None = None
    energy: float | None = None
    heat_margin: float | None = None
    probability: float | None = None
    odds: Mapping[str, float | None] | None = None
    best: bool | None = None
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True)
class Aim:
    """What combinations are compared by.

    Parameters
    ----------
    key : str
        Field of `Listed`.
    title : str
    amount : str or None
    more : bool
        Whether more is better.
    column : str
        Key of its column in the table.
    """

    key: str
    title: str
    amount: str | None
    more: bool
    column: str


TIME = Aim("route_time", "route time", "minutes", False, "route_time")
FUEL = Aim("fuel", "fuel", "mass", False, "fuel")
ENERGY = Aim("energy", "engine work", "work", False, "engine_work")
HEAT = Aim("heat_margin", "heat margin", "weight_share", True, "heat_margin")
PROBABILITY = Aim(
    "probability", "probability of all required criteria", "weight_share", True, "probability"
)


@dataclass(frozen=True)
class Excluded:
    """What a stage excludes.

    Parameters
    ----------
    stage : str
        A key of `words.STAGES`.
    looked_at, count : int
        Combinations that it looked at, and that it excluded.
    reasons : tuple of (str, int)
        Required criteria that fail, by name, and for how many; one combination may fail several.
    """

    stage: str
    looked_at: int
    count: int
    reasons: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class Unsettled:
    """Combinations that could not be calculated.

    Parameters
    ----------
    stage : str
    members : tuple of Member
    why : str
    """

    stage: str
    members: tuple[Member, ...]
    why: str


_STAGES = (
    Heading("stage", "stage", choices=words.STAGES),
    Heading("looked_at", "looked at"),
    Heading("excluded", "excluded"),
)
_REASONS = (
    Heading("stage", "stage", choices=words.STAGES),
    Heading("criterion", ""),
    Heading("", "required criterion not met"),
    Heading("combinations", "combinations"),
)
_KEPT = (
    Heading("site", "site"),
    Heading("engine", "engine"),
    Heading("converter", "converter"),
    Heading("scaled_to", "scaled to", "length"),
    Heading("driveline", "driveline"),
    Heading("verdict", "verdict", choices=VERDICTS),
    Heading("not_beaten", "not beaten"),
    Heading("route_time", "route time", "time"),
    Heading("fuel", "fuel", "mass", ".2f"),
    Heading("engine_work", "engine work", "work"),
    Heading("heat_margin", "heat margin", "weight_share", ".0f"),
    Heading("probability", "probability", "weight_share", ".1f"),
    Heading("stall_speed", "stall", "angular_speed"),
    Heading("not_met", ""),
    Heading("marginal", ""),
    Heading("not_known", ""),
    Heading("missing", ""),
    Heading("in_doubt", "in doubt"),
)
# A console is narrow: what is the same for all of them, or of two alike, stands in the table only.
_PLACES = ("site", "driveline")
_EVERY = (
    *_KEPT[:5],
    Heading("stage", "", choices=words.STAGES),
    Heading("not_met", ""),
)


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Shortlist(Answer):
    """What a catalogue comes to.

    Parameters
    ----------
    catalogue : PartsCatalogue
    kept : tuple of Listed
        What nothing beats first, by route time.
    excluded : tuple of Excluded
        One for each stage.
    unsettled : tuple of Unsettled
    aims : tuple of Aim
        What they are compared by.
    bounds : ndarray of uint8
        Which bounds each combination fails, shape (sites, engines, sizes, drivelines).
    fallen : mapping of Member to (str, tuple of str)
        Stage and criteria of those that a later stage excludes.
    notes : tuple of Note
    """

    catalogue: PartsCatalogue
    kept: tuple[Listed, ...]
    excluded: tuple[Excluded, ...]
    unsettled: tuple[Unsettled, ...]
    aims: tuple[Aim, ...]
    bounds: NDArray[np.uint8]
    fallen: Mapping[Member, tuple[str, tuple[str, ...]]]
    notes: tuple[Note, ...] = ()

    @property
    def fails(self) -> bool:
        """Whether nothing is kept."""
        return not self.kept

    @property
    def partial(self) -> bool:
        """Whether something could not be calculated."""
        return bool(self.unsettled)

    @property
    def front(self) -> tuple[Listed, ...]:
        """What nothing beats."""
        return tuple(item for item in self.kept if item.best)

    def blocks(self) -> Sequence[Block]:
        """Return the counts, the reasons, and the table of what is kept."""
        shown = self._on_console(self._table(self.kept[:SHOWN]))
        more = len(self.kept) - len(shown.rows)
        return (
            Block(
                "",
                facts=((Heading("schema", ""), SCHEMA), (Heading("id", ""), self.catalogue.id)),
                in_text=False,
            ),
            Block(
                "combinations",
                self.catalogue.name,
                facts=(
                    (Heading("all", "combinations"), self.catalogue.count),
                    (Heading("kept", "kept"), len(self.kept)),
                    (Heading("not_beaten", "of them not beaten"), len(self.front)),
                    (Heading("not_worked_out", "not calculated"), self._open),
                ),
            ),
            Block(
                "stages", columns=_STAGES, rows_key="",
                rows=tuple((item.stage, item.looked_at, item.count) for item in self.excluded),
            ),
            self._reasons(),
            odd_block(self.catalogue.odd),
            replace(self._table(self.kept), in_text=False),
            replace(
                shown, in_plain=False, title="Kept",
                below=(words.WORDS.note("more", count=float(more)),) if more else (),
            ),
        )  # fmt: skip

    @property
    def _open(self) -> int:
        return sum(len(item.members) for item in self.unsettled)

    def _reasons(self) -> Block:
        rows = tuple(
            (item.stage, name, title_of(name), count)
            for item in self.excluded
            for name, count in sorted(item.reasons, key=lambda pair: (-pair[1], pair[0]))
        )
        title = "Why the others are out (one may fail several)" if rows else ""
        return Block("reasons", title, columns=_REASONS, rows=rows, rows_key="")

    def _table(self, kept: Sequence[Listed]) -> Block:
        return Block("kept", columns=_KEPT, rows=tuple(map(_row, kept)), rows_key="")

    def _on_console(self, table: Block) -> Block:
        """Return the table without columns that tell nothing apart."""
        columns = [
            k
            for k, head in enumerate(table.columns)
            if head.words
            and (head.key not in _PLACES or len({row[k] for row in table.rows}) > 1)
            and (head.key != ENERGY.column or FUEL not in self.aims)
        ]
        return replace(
            table,
            columns=tuple(table.columns[k] for k in columns),
            rows=tuple(tuple(row[k] for k in columns) for row in table.rows),
        )

    def every(self) -> Block:
        """Return every combination of the catalogue, and the stage and criteria that exclude it."""
        return Block("every", columns=_EVERY, rows=tuple(self._every()), rows_key="", in_text=False)

    def _every(self) -> Iterator[tuple[Any, ...]]:
        open_ = {member: item.stage for item in self.unsettled for member in item.members}
        kept = {item.member for item in self.kept}
        for member in self.catalogue.members():
            bits = int(self.bounds[member])
            if member in kept:
                told: tuple[str, tuple[str, ...]] = ("kept", ())
            elif member in open_:
                told = open_[member], (words.NOT_WORKED_OUT,)
            elif bits:
                told = "bounds", tuple(n for k, n in enumerate(BOUNDS) if bits >> k & 1)
            else:
                told = self.fallen[member]
            yield (*names_of(self.catalogue, member), *told)


def names_of(catalogue: PartsCatalogue, member: Member) -> tuple[str, str, str, float | None, str]:
    """Return the ids of site, engine, converter, its diameter [m] where scaled, and driveline."""
    size, line = catalogue.sizes[member.size], catalogue.drivelines[member.driveline]
    sites = catalogue.studies[member.site].sites
    return (
        sites[0].id if len(sites) == 1 else "",
        catalogue.engines[member.engine].id,
        catalogue.converters[size.converter].id,
        size.diameter,
        "" if line is None else line.id,
    )


def title_of(name: str) -> str:
    """Return what a reader calls a reason."""
    return CATALOGUE[name].title if name in CATALOGUE else words.REFUSED


def compared(kept: Sequence[Listed]) -> tuple[tuple[Listed, ...], tuple[Aim, ...]]:
    """Mark what nothing beats, and put it first; return what it was compared by as well.

    Fuel counts where it is known of any, the work of the engine where it is not.

    Parameters
    ----------
    kept : sequence of Listed
    """
    fuel = FUEL if any(item.fuel is not None for item in kept) else ENERGY
    aims = tuple(
        aim
        for aim in (TIME, fuel, HEAT, PROBABILITY)
        if any(getattr(item, aim.key) is not None for item in kept)
    )
    values = [[getattr(item, aim.key) for aim in aims] for item in kept]
    placed = [k for k, row in enumerate(values) if aims and None not in row]
    unbeaten = set(_unbeaten(placed, lambda k: values[k], [aim.more for aim in aims]))
    marked = [
        replace(item, best=(k in unbeaten) if k in set(placed) else None)
        for k, item in enumerate(kept)
    ]
    return tuple(sorted(marked, key=_order)), aims


def _unbeaten(
    rows: list[int], values: Callable[[int], Sequence[float | None]], more: Sequence[bool]
) -> list[int]:
    """Return which rows no other beats; what is beaten in a part is beaten in the whole."""

    def left(part: list[int]) -> list[int]:
        flags = pareto([values(k) for k in part], more)
        return [k for k, flag in zip(part, flags, strict=True) if flag]

    while len(rows) > _BLOCK:
        cut = [rows[start : start + _BLOCK] for start in range(0, len(rows), _BLOCK)]
        fewer = [k for part in cut for k in left(part)]
        if len(fewer) == len(rows):
            break
        rows = fewer
    return left(rows)


def _order(item: Listed) -> tuple[Any, ...]:
    time = np.inf if item.route_time is None else item.route_time
    return not item.best, time, item.member


def _row(item: Listed) -> tuple[Any, ...]:
    return (
        item.site,
        item.engine,
        item.converter,
        NoValue("own") if item.diameter is None else item.diameter,
        item.driveline,
        item.verdict,
        NoValue("not told") if item.best is None else item.best,
        item.route_time,
        item.fuel,
        item.energy,
        item.heat_margin,
        item.probability,
        item.stall_speed,
        list(item.not_met),
        list(item.marginal),
        list(item.unknown),
        list(item.missing),
        list(item.doubts),
    )
