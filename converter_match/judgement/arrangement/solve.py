"""Engine, converter and arrangement together: the match as arranged, and what each part does."""

from __future__ import annotations

from dataclasses import dataclass, replace

from converter_match.answer.block import Block, Heading, facts_of
from converter_match.answer.noted import Answer
from converter_match.components.arrangement import Arrangement
from converter_match.components.blading import BladingGeometry
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.components.site import Site
from converter_match.errors import InputError
from converter_match.judgement.arrangement.characteristic import arranged_converter
from converter_match.judgement.arrangement.clutch import impeller_clutch_block, lock_up_block
from converter_match.judgement.arrangement.drive import divider_block, stator_block
from converter_match.judgement.arrangement.load import (
    hydraulic_block,
    overrun_block,
    part_load_block,
)
from converter_match.judgement.arrangement.parallel import ParallelRun, parallel_block
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.match.solve import solve
from converter_match.notes import Note
from converter_match.physics.load.shaft import Unit


@dataclass(frozen=True, eq=False)
class ArrangedResult(Answer):
    """The answer for an engine and a converter in an arrangement.

    Parameters
    ----------
    arrangement : Arrangement
    match : MatchResult
        The match at full load with the stator and the torque divider as arranged, before lock-up,
        impeller clutch and pumps; its notes include those of the arrangement.
    parts : tuple of Block
        One for each part of the arrangement.
    inside : Converter
        With the stator as arranged, without a torque divider.
    """

    arrangement: Arrangement
    match: MatchResult
    parts: tuple[Block, ...]
    inside: Converter

    @property
    def notes(self) -> tuple[Note, ...]:  # type: ignore[override]
        """All notes, those of the arrangement's parts included."""
        return self.match.notes

    def part(self, name: str) -> Block:
        """Return the block of one part.

        Raises
        ------
        InputError
            If the arrangement does not have that part.
        """
        for block in self.parts:
            if block.name == name:
                return block
        raise InputError(
            "the arrangement has no such part",
            source=self.arrangement.id,
            found=name,
            expected=" | ".join(block.name for block in self.parts),
        )

    @property
    def units(self) -> tuple[Unit, ...] | None:
        """What drives one shaft together; None without two on one."""
        runs = [part.detail for part in self.parts if isinstance(part.detail, ParallelRun)]
        return runs[0].units if runs else None

    def blocks(self) -> tuple[Block, ...]:
        """Return the blocks of the match, and one for each part of the arrangement."""
        of, own = self.arrangement, [Heading(key, "") for key in ("id", "name", "source")]
        facts = (*facts_of(of, own), (Heading("fingerprint", ""), of.fingerprint()))
        return (
            *self.match.blocks(),
            Block("arrangement", title=f"Arrangement: {of.name}", facts=facts),
            *(replace(block, name=f"arrangement.parts.{block.name}") for block in self.parts),
        )


def solve_arranged(
    engine: Engine,
    converter: Converter,
    arrangement: Arrangement,
    *,
    site: Site | None = None,
    hydraulic_torque: float = 0.0,
    blading: BladingGeometry | None = None,
) -> ArrangedResult:
    """Match an engine with a converter in an arrangement.

    Parameters
    ----------
    engine, converter : Engine, Converter
    arrangement : Arrangement
        Stator and torque divider change the characteristic that is matched; the other parts are
        looked at on top of it.
    site : Site, optional
    hydraulic_torque : float
        Constant torque taken at the flywheel [N.m], beside the pump tables of the arrangement.
    blading : BladingGeometry, optional
        Of the converter, measured or fitted to its sheet: it tells what its capacity becomes
        without the stator.

    Returns
    -------
    ArrangedResult

    Raises
    ------
    InputError
        If data are missing and may not be assumed, or as `judgement.match.solve.solve`.

    Examples
    --------
    >>> from converter_match.library.read import read_arrangement, read_converter, read_engine
    >>> from converter_match.library.shipped import shipped
    >>> result = solve_arranged(
    ...     read_engine(shipped("engines")["six-cylinder-15l-400kw"]),
    ...     read_converter(shipped("converters")["single-stage-390mm-full-range"]),
    ...     read_arrangement(shipped("arrangements")["dozer-torque-divider"]),
    ... )
    >>> [block.name for block in result.parts]
    ['torque_divider']
    >>> result.match.stall.torque_ratio > 1.8
    True
    """
    try:
        return _solved(engine, converter, arrangement, site, hydraulic_torque, blading)
    except InputError as error:
        raise error.located(source=arrangement.id) from None


def _solved(
    engine: Engine,
    converter: Converter,
    arrangement: Arrangement,
    site: Site | None,
    hydraulic_torque: float,
    blading: BladingGeometry | None,
) -> ArrangedResult:
    allowed = arrangement.permissions
    units = arranged_converter(converter, arrangement, blading)
    held, arranged = units.inside, units.whole
    result = solve(engine, arranged, site=site, hydraulic_torque=hydraulic_torque)
    supply, factor = result.supply, result.site.torque_factor
    wheels = arrangement.wheels
    parts = []
    if arrangement.stator is not None:
        parts.append(stator_block(supply, converter, held, arrangement, blading))
    if arrangement.torque_divider is not None:
        parts.append(divider_block(supply, held, arranged, arrangement))
    if arrangement.lock_up is not None:
        parts.append(lock_up_block(engine, supply, arranged, arrangement.lock_up))
    if arrangement.impeller_clutch is not None:
        parts.append(impeller_clutch_block(supply, arranged, arrangement.impeller_clutch, wheels))
    if arrangement.hydraulic_sharing is not None:
        parts.append(
            hydraulic_block(
                engine.replace(pumps=None),  # the states stand beside each other
                arranged,
                arrangement.hydraulic_sharing,
                torque_factor=factor,
                hydraulic_torque=hydraulic_torque,
                wheels=wheels,
            )
        )
    if arrangement.overrun is not None:
        parts.append(
            overrun_block(
                engine,
                arranged,
                arrangement.overrun,
                assume=allowed.overrun,
                hydraulic_torque=hydraulic_torque,
            )
        )
    if arrangement.part_load is not None:
        parts.append(
            part_load_block(
                engine,
                arranged,
                arrangement.part_load,
                torque_factor=factor,
                hydraulic_torque=hydraulic_torque,
                wheels=wheels,
            )
        )
    if arrangement.parallel is not None:
        parts.append(parallel_block(engine, supply, arranged, arrangement.parallel, site))
    notes = [*result.notes, *arrangement.notes]
    notes += [note for block in parts for note in block.notes]
    unique = tuple(dict.fromkeys(notes))
    return ArrangedResult(arrangement, replace(result, notes=unique), tuple(parts), units.inside)
