"""A catalogue: parts that could be put together, and the study that says what they have to do."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from converter_match.components.base import Component, freeze_tuples
from converter_match.components.converter import SCALING_COMFORT, Converter
from converter_match.components.driveline import Driveline
from converter_match.components.engine import Engine
from converter_match.components.site import Site
from converter_match.errors import InputError
from converter_match.notes import Note
from converter_match.study.criteria import PUMP_STATES, Choice
from converter_match.study.parts import PART_OF, type_ids
from converter_match.study.study import (
    PRESENT,
    REFERENCE_AIR,
    Combination,
    InputFile,
    Study,
    Tolerance,
    once_each,
)

MM = 1000.0  # for names, which people read in mm

_ONE_SIZE = 1e-9  # diameters closer than this share are one


class SizedConverter(NamedTuple):
    """A converter in one size.

    Parameters
    ----------
    converter : int
        Which of the catalogue.
    diameter : float or None
        Profile diameter that it is scaled to [m]; None for its own.
    ratio : float
        To its own.
    """

    converter: int
    diameter: float | None
    ratio: float


class Member(NamedTuple):
    """One combination of a catalogue: which site, engine, size and driveline, counted from 0."""

    site: int
    engine: int
    size: int
    driveline: int


@dataclass(frozen=True, kw_only=True, eq=False)
class PartsCatalogue(Component):
    """Parts that could be put together.

    Parameters
    ----------
    id, name, source : str
    study : Study
        Present machine, sites, duty, limits, criteria and tolerances. Its candidates, readings and
        claims are left aside.
    engines : tuple of Engine
    converters : tuple of Converter
    drivelines : tuple of Driveline or None
        None where the study gives none.
    diameters : tuple of float
        Profile diameters that each converter is looked at in as well, where similarity carries so
        far [m].
    stretch : float
        How far similarity carries: share of the diameter that the data are for.
    each_site : bool
        Whether every site of the study is a question of its own; else a combination has to do at
        all of them.
    inputs : tuple of InputFile
        Empty for one that was built by hand.
    odd : tuple of (str, Note)
        What is odd about the files: what it is about, and what.
    doubts : tuple of (str, str, Note)
        A part as `called`, or `PRESENT`; what it is about, and what throws doubt on its data.

    Raises
    ------
    InputError
        If a list is empty, or an id comes twice.
    """

    id: str
    name: str
    source: str
    study: Study
    engines: tuple[Engine, ...]
    converters: tuple[Converter, ...]
    drivelines: tuple[Driveline | None, ...] = (None,)
    diameters: tuple[float, ...] = ()
    stretch: float = SCALING_COMFORT
    each_site: bool = False
    inputs: tuple[InputFile, ...] = ()
    odd: tuple[tuple[str, Note], ...] = ()
    doubts: tuple[tuple[str, str, Note], ...] = ()

    def __post_init__(self) -> None:
        freeze_tuples(
            self, "engines", "converters", "drivelines", "diameters", "inputs", "odd", "doubts"
        )
        for name in ("engines", "converters", "drivelines"):
            parts = getattr(self, name)
            if not parts:
                raise InputError("nothing to combine", field=name, expected="at least one")
            once_each([part.id for part in parts if part is not None], name, "")
        for row, diameter in enumerate(self.diameters):
            if not (np.isfinite(diameter) and diameter > 0.0):
                raise InputError(
                    "out of range", field=f"diameters[{row}]", found=diameter,
                    expected="a diameter above zero",
                )  # fmt: skip
        if not 0.0 <= self.stretch <= 1.0:
            raise InputError(
                "out of range", field="stretch", found=f"{100 * self.stretch:.6g} %",
                expected="0 to 100 %",
            )  # fmt: skip

    @cached_property
    def sizes(self) -> tuple[SizedConverter, ...]:
        """Each converter in its own size, and in every diameter that similarity carries to."""
        return tuple(size for size in self._every_size() if self._carries(size))

    @property
    def too_far(self) -> int:
        """How many sizes similarity does not carry to, or whose own diameter is not known."""
        asked = len(self.converters) * (1 + len(self.diameters))
        return asked - len(self.sizes) - self._own_again

    @property
    def _own_again(self) -> int:
        """How many of the diameters are a converter's own, which is there already."""
        return sum(
            abs(diameter / item.profile_diameter - 1.0) <= _ONE_SIZE
            for item in self.converters
            if item.profile_diameter is not None
            for diameter in self.diameters
        )

    def _every_size(self) -> Iterator[SizedConverter]:
        for k, item in enumerate(self.converters):
            yield SizedConverter(k, None, 1.0)
            for diameter in self.diameters:
                own = item.profile_diameter
                if own is not None and abs(diameter / own - 1.0) > _ONE_SIZE:
                    yield SizedConverter(k, diameter, diameter / own)

    def _carries(self, size: SizedConverter) -> bool:
        return abs(size.ratio - 1.0) <= self.stretch + _ONE_SIZE

    @cached_property
    def studies(self) -> tuple[Study, ...]:
        """What is asked, for each site by itself or for all together, without candidates' matters.

        The one candidate that a study has to have is the first combination.
        """
        sites = self.study.sites
        groups = [(site,) for site in sites] if self.each_site and sites else [sites]
        return tuple(self._asked(group) for group in groups)

    def _asked(self, sites: tuple[Site, ...]) -> Study:
        study = self.study
        first = self._together(0, SizedConverter(0, None, 1.0), 0)
        here = {item.id for item in sites}
        return Study(
            id=study.id,
            name=study.name,
            source=study.source,
            present=study.present,
            candidates=(first,),
            sites=sites,
            duty=study.duty,
            limits=study.limits,
            criteria=tuple(_choice_at(item, here) for item in study.criteria),
            tolerances=self._tolerances(first),
            correlations=study.correlations,
            rule=study.rule,
        )

    def members(self) -> Iterator[Member]:
        """Yield every combination, in order."""
        shape = len(self.studies), len(self.engines), len(self.sizes), len(self.drivelines)
        return (Member(*place) for place in np.ndindex(shape))

    @property
    def count(self) -> int:
        """How many combinations there are."""
        return len(self.studies) * len(self.engines) * len(self.sizes) * len(self.drivelines)

    def combination(self, member: Member) -> Combination:
        """Return a combination, its converter scaled to the size."""
        return self._together(member.engine, self.sizes[member.size], member.driveline)

    def study_of(self, member: Member) -> Study:
        """Return the study of one combination alone: what a full study of it would be."""
        combination = self.combination(member)
        asked = self.studies[member.site]
        return asked.replace(candidates=(combination,), tolerances=self._tolerances(combination))

    def sized(self, size: SizedConverter) -> Converter:
        """Return a converter in a size."""
        own = self.converters[size.converter]
        return own if size.diameter is None else own.scaled(profile_diameter=size.diameter)

    def _together(self, engine: int, size: SizedConverter, driveline: int) -> Combination:
        motor, line, converter = self.engines[engine], self.drivelines[driveline], self.sized(size)
        at = "" if size.diameter is None else f" {size.diameter * MM:.4g} mm"
        ids = [motor.id, converter.id + at.replace(" ", "-"), *([] if line is None else [line.id])]
        names = [motor.name, converter.name + (at and f" at{at}")]
        names += [] if line is None else [line.name]
        return Combination(
            id="/".join(ids),
            name=", ".join(names),
            engine=motor,
            converter=converter,
            driveline=line,
            machine=None if self.study.present is None else self.study.present.machine,
        )

    def _tolerances(self, combination: Combination) -> tuple[Tolerance, ...]:
        """Return the tolerances that are about the present machine or a part of a combination."""
        present = self.study.present
        both = [combination] if present is None else [present, combination]

        def about(item: Tolerance) -> bool:
            return item.of in (None, PRESENT) or item.of in type_ids(both, PART_OF[item.quantity])

        return tuple(item for item in self.study.tolerances if about(item))

    @property
    def left_aside(self) -> bool:
        """Whether the study has readings or claims, which are not looked at here."""
        return bool(self.study.measurements or self.study.claims)


def _choice_at(choice: Choice, here: set[str]) -> Choice:
    """Return a criterion as it is looked at some sites; off where it is about others."""
    states = [name for name in choice.conditions if name in PUMP_STATES]
    sites = [name for name in choice.conditions if name not in PUMP_STATES]
    left = [name for name in sites if name in here or name == REFERENCE_AIR]
    if sites and not left:
        return replace(choice, weight="off", conditions=tuple(states))
    return replace(choice, conditions=(*left, *states))
