"""What every piece of a search needs: the catalogue, and what the present machine does."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

from converter_match.judgement.catalogue.stall import Stall
from converter_match.judgement.verdict import criteria_match
from converter_match.judgement.verdict.outcome import Outcome, outcome
from converter_match.study.catalogue import Member, PartsCatalogue
from converter_match.study.criteria import Choice
from converter_match.study.study import Study


@dataclass(frozen=True, eq=False)
class Field:
    """A catalogue as it is searched.

    Parameters
    ----------
    catalogue : PartsCatalogue
    present : tuple of (tuple of Outcome or None)
        For each question of the catalogue what the present machine does in its conditions.
    draws : int
        Of each combination that is kept; 0 for none.
    seed : int
    """

    catalogue: PartsCatalogue
    present: tuple[tuple[Outcome, ...] | None, ...]
    draws: int = 0
    seed: int = 0

    @classmethod
    def of(cls, catalogue: PartsCatalogue, *, draws: int = 0, seed: int = 0) -> Field:
        """Return a catalogue as it is searched, the present machine calculated."""
        return cls(catalogue, tuple(map(_present, catalogue.studies)), draws, seed)

    @cached_property
    def stall(self) -> Stall:
        """Every size at stall."""
        return Stall.of(self.catalogue)

    @cached_property
    def on_match(self) -> tuple[Study, ...]:
        """The questions with those required criteria alone that engine and converter settle."""
        return tuple(_only(study, _settled_by_match) for study in self.catalogue.studies)

    @cached_property
    def on_wheels(self) -> tuple[Study, ...]:
        """The questions with those required criteria alone that wheels settle, without a route."""
        return tuple(_only(study, _settled_at_wheels) for study in self.catalogue.studies)

    def key(self, stage: str, members: Sequence[Member]) -> str:
        """Return what the result of a stage depends on for some members, beside versions.

        The parts themselves count, not their places in the catalogue: what was calculated of a
        combination stays so when others join it.
        """
        told = [stage, str(self.draws if stage == "draws" else 0), str(self.seed)]
        for member in members:
            line = self.catalogue.drivelines[member.driveline]
            told += [
                self._asked[member.site],
                self.catalogue.engines[member.engine].fingerprint(),
                self._sized[member.size],
                "none" if line is None else line.fingerprint(),
            ]
        return hashlib.sha256("\n".join(told).encode()).hexdigest()

    @cached_property
    def _sized(self) -> tuple[str, ...]:
        catalogue = self.catalogue
        own = [item.fingerprint() for item in catalogue.converters]
        return tuple(f"{own[size.converter]} {size.diameter}" for size in catalogue.sizes)

    @cached_property
    def _asked(self) -> tuple[str, ...]:
        """Digests of the questions, whatever is first in the catalogue."""
        found = []
        for study in self.catalogue.studies:
            same = study.candidates[0] if study.present is None else study.present
            alike = study.replace(candidates=(same.replace(id="asked"),), tolerances=())
            told = f"{alike.fingerprint()} {self.catalogue.study.tolerances}"
            found.append(hashlib.sha256(told.encode()).hexdigest())
        return tuple(found)


def musts(study: Study) -> tuple[Choice, ...]:
    """Return the required criteria of a study."""
    return tuple(item for item in study.criteria if item.weight == "must")


def _settled_by_match(choice: Choice) -> bool:
    return choice.name in criteria_match.CRITERIA


def _settled_at_wheels(choice: Choice) -> bool:
    return not choice.spec.on_routes and not _settled_by_match(choice)


def _only(study: Study, settled: Callable[[Choice], bool]) -> Study:
    return study.replace(criteria=tuple(item for item in musts(study) if settled(item)))


def _present(study: Study) -> tuple[Outcome, ...] | None:
    if study.present is None:
        return None
    return tuple(outcome(study.present, item, study.duty) for item in study.conditions)
