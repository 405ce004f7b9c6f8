"""Search a catalogue: bounds first, the full study last, draws for what is left."""

from __future__ import annotations

import dataclasses
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from converter_match.errors import InputError
from converter_match.judgement.catalogue import DRAWS, stages
from converter_match.judgement.catalogue.bounds import BOUNDS, excluded_by_bounds
from converter_match.judgement.catalogue.field import Field
from converter_match.judgement.catalogue.result import (
    HEAT,
    PROBABILITY,
    TIME,
    Excluded,
    Listed,
    Shortlist,
    Unsettled,
    compared,
    names_of,
)
from converter_match.judgement.catalogue.words import STAGES, WORDS
from converter_match.notes import Note
from converter_match.study.catalogue import Member, PartsCatalogue
from converter_match.study.names import called, whose_in_doubt
from converter_match.study.study import PRESENT
from converter_match.tasks.sweep import Progress, Store, Swept, sweep
from converter_match.tasks.workers import HERE, Workers

_FIGURES = ("verdict", "stall_speed", "route_time", "fuel", "energy", "heat_margin")
_LISTS = ("not_met", "marginal", "unknown", "missing")


def shortlist(
    catalogue: PartsCatalogue,
    *,
    draws: int = DRAWS,
    seed: int = 0,
    workers: Workers = HERE,
    store: Store | None = None,
    progress: Progress | None = None,
) -> Shortlist:
    """Search a catalogue for what meets every required criterion of its study.

    Each stage looks at what the one before has left: bounds at stall, engine and converter, wheels,
    the routes and everything else, draws. A stage excludes by the criteria of the study and nothing
    else, so that what is kept is what a study of every combination would keep.

    Parameters
    ----------
    catalogue : PartsCatalogue
    draws : int
        Of each combination that is kept; 0 for no probabilities.
    seed : int
        The same seed gives the same draws.
    workers : Workers
        Whoever works, and however many they are: the result is the same to the last bit.
    store : Store, optional
        Where what was calculated is kept, and taken from the next time.
    progress : callable, optional
        Called with (done, of how many, what).

    Returns
    -------
    Shortlist

    Raises
    ------
    InputError
        If the number of draws is out of range, or the present machine cannot be calculated.
    """
    if draws < 0 or draws == 1:
        raise InputError("out of range", field="draws", found=draws, expected="0, or 2 and more")
    drawn = draws if catalogue.study.tolerances else 0
    run = _Run(Field.of(catalogue, draws=drawn, seed=seed), workers, store, progress)
    bounds = run.bounds()
    left = [Member(*map(int, place)) for place in np.argwhere(bounds == 0)]
    if any(item.criteria for item in run.field.on_match):
        left = run.by_match(left)
    if any(item.criteria for item in run.field.on_wheels):
        left = run.each("wheels", stages.by_wheels, left, lambda result: result)[0]
    left, found = run.each("study", stages.by_study, left, lambda result: result["fallen"])
    odds: dict[Member, Any] = {}
    if drawn:
        members, results = run.each("draws", stages.by_draws, left, lambda result: [])
        odds = dict(zip(members, results, strict=True))
    kept = [_kept(catalogue, m, told, odds.get(m)) for m, told in zip(left, found, strict=True)]
    marked, aims = compared(kept)
    result = Shortlist(
        catalogue=catalogue,
        kept=marked,
        excluded=tuple(run.excluded),
        unsettled=tuple(run.unsettled),
        aims=aims,
        bounds=bounds,
        fallen=run.fallen,
    )
    notes = _notes(result, draws, bool(drawn))
    return replace(result, notes=notes)


@dataclass
class _Run:
    """One search: who works, and what was excluded so far."""

    field: Field
    workers: Workers
    store: Store | None
    progress: Progress | None
    excluded: list[Excluded] = dataclasses.field(default_factory=list)
    unsettled: list[Unsettled] = dataclasses.field(default_factory=list)
    fallen: dict[Member, tuple[str, tuple[str, ...]]] = dataclasses.field(default_factory=dict)

    def bounds(self) -> NDArray[np.uint8]:
        """Return which bounds each combination fails; an engine that is lost fails none."""
        catalogue = self.field.catalogue
        swept = self._sweep("bounds", excluded_by_bounds, range(len(catalogue.engines)), None)
        shape = len(catalogue.studies), len(catalogue.sizes), len(catalogue.drivelines)
        rows = [np.zeros(shape, np.uint8) if one is None else one for one in swept.results]
        found = np.stack(rows, axis=1)
        counts = {name: int(np.count_nonzero(found >> k & 1)) for k, name in enumerate(BOUNDS)}
        reasons = tuple((name, count) for name, count in counts.items() if count)
        self.excluded.append(Excluded("bounds", found.size, int(np.count_nonzero(found)), reasons))
        return found

    def by_match(self, members: Sequence[Member]) -> list[Member]:
        """Return what the match leaves; what differs in the driveline alone is one piece."""
        pieces = list(stages.pairs(members))
        keys = [self.field.key("match", piece) for piece in pieces] if self.store else None
        swept = self._sweep("match", stages.by_match, pieces, keys)
        lost = {item.piece: item.why for item in swept.lost}
        settled: list[tuple[Member, list[str]]] = []
        for k, piece in enumerate(pieces):
            if k in lost:
                self.unsettled.append(Unsettled("match", piece, lost[k]))
            else:
                settled += zip(piece, swept.results[k], strict=True)
        return self._out("match", len(members), settled)

    def each(
        self,
        stage: str,
        function: Callable[[Field, Member], Any],
        members: Sequence[Member],
        fallen: Callable[[Any], list[str]],
    ) -> tuple[list[Member], list[Any]]:
        """Return what a stage leaves, and what it found of that."""
        keys = [self.field.key(stage, [one]) for one in members] if self.store else None
        swept = self._sweep(stage, function, members, keys)
        lost = {item.piece: item.why for item in swept.lost}
        settled, found = [], {}
        for k, member in enumerate(members):
            if k in lost:
                self.unsettled.append(Unsettled(stage, (member,), lost[k]))
            else:
                settled.append((member, fallen(swept.results[k])))
                found[member] = swept.results[k]
        left = self._out(stage, len(members), settled)
        return left, [found[member] for member in left]

    def _out(
        self, stage: str, looked_at: int, settled: Sequence[tuple[Member, list[str]]]
    ) -> list[Member]:
        """Count what is excluded, and return what is left."""
        out = {member: names for member, names in settled if names}
        counted: Counter[str] = Counter()
        for member, names in out.items():
            counted.update(names[:1] if names[0] == stages.REFUSED else names)
            self.fallen[member] = (stage, tuple(names))
        self.excluded.append(Excluded(stage, looked_at, len(out), tuple(sorted(counted.items()))))
        return [member for member, names in settled if not names]

    def _sweep(
        self, stage: str, function: Any, pieces: Sequence[Any], keys: Sequence[str] | None
    ) -> Swept:
        return sweep(
            function,
            pieces,
            shared=self.field,
            workers=self.workers,
            store=self.store if keys is not None else None,
            keys=keys,
            progress=self.progress,
            what=STAGES[stage],
        )


def _kept(catalogue: PartsCatalogue, member: Member, told: dict[str, Any], drawn: Any) -> Listed:
    site, engine, converter, diameter, driveline = names_of(catalogue, member)
    figures: dict[str, Any] = {name: told[name] for name in _FIGURES}
    figures |= {name: tuple(told[name]) for name in _LISTS}
    return Listed(
        member=member,
        site=site,
        engine=engine,
        converter=converter,
        diameter=diameter,
        driveline=driveline,
        probability=None if drawn is None else drawn["probability"],
        odds=None if drawn is None else drawn["odds"],
        doubts=_in_doubt(catalogue, member),
        **figures,
    )


def _in_doubt(catalogue: PartsCatalogue, member: Member) -> tuple[str, ...]:
    """Return whose data are in doubt, of a combination and what it is judged by; each once."""
    parts = (
        catalogue.engines[member.engine],
        catalogue.converters[catalogue.sizes[member.size].converter],
        catalogue.drivelines[member.driveline],
    )
    mine = {PRESENT, *(called(part) for part in parts if part is not None)}
    return whose_in_doubt(catalogue.doubts, mine)


def _notes(result: Shortlist, draws: int, drawn: bool) -> tuple[Note, ...]:
    catalogue, study = result.catalogue, result.catalogue.study.id
    sites = len(catalogue.study.sites)
    where = " at each site by itself" if catalogue.each_site else " at any of its sites"
    notes = [WORDS.note("what-is-kept", study=study, where=where if sites > 1 else "")]
    stretch = catalogue.stretch
    if any(size.diameter is not None for size in catalogue.sizes):
        notes.append(WORDS.note("sizes-by-similarity", stretch=stretch))
    if catalogue.too_far:
        notes.append(WORDS.note("sizes-too-far", count=float(catalogue.too_far), stretch=stretch))
    if catalogue.left_aside:
        notes.append(WORDS.note("readings-left-aside", study=study))
    if not result.kept:
        notes.append(WORDS.note("nothing-kept"))
    else:
        notes.append(WORDS.note("worst-condition"))
        if drawn:
            notes.append(WORDS.note("drawn-alone", draws=float(draws)))
        else:
            notes.append(WORDS.note("no-draws" if not draws else "no-tolerances", study=study))
        notes += _compared_notes(result, drawn)
        doubtful = [item for item in result.kept if item.doubts]
        if doubtful:
            whose = dict.fromkeys(part for item in doubtful for part in item.doubts)
            notes.append(WORDS.note("in-doubt", count=float(len(doubtful)), whose=", ".join(whose)))
    for item in result.unsettled:
        ids = ", ".join(catalogue.combination(one).id for one in item.members)
        notes.append(WORDS.note("not-worked-out", which=ids, why=item.why))
    return (*notes, WORDS.note("list-is-no-order"))


def _compared_notes(result: Shortlist, drawn: bool) -> list[Note]:
    notes = []
    titles = ", ".join(aim.title for aim in result.aims)
    if result.aims:
        notes.append(WORDS.note("front", aims=titles))
    wanted = [TIME, HEAT, *([PROBABILITY] if drawn else [])]
    none = [aim.title for aim in wanted if aim not in result.aims]
    if none:
        notes.append(WORDS.note("aims-not-known", aims=", ".join(none)))
    open_ = [item for item in result.kept if item.best is None]
    if open_ and result.aims:
        which = [aim.title for aim in result.aims
                 if any(getattr(item, aim.key) is None for item in open_)]  # fmt: skip
        notes.append(WORDS.note("not-placed", count=float(len(open_)), aims=" or ".join(which)))
    return notes
