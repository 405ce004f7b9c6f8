"""The sheet for the commissioning day: the stall sheet with a grade run, and what to read."""

from __future__ import annotations

from dataclasses import replace

from converter_match.answer.block import Block, Heading, NoValue
from converter_match.judgement.evidence.acceptance import Acceptance
from converter_match.judgement.evidence.worth_words import CAUTIONS
from converter_match.present.stall import words
from converter_match.present.stall.content import Sheet, SheetRow, sheet_of
from converter_match.units import System

_STALLS = ("stall", "stall again")


def acceptance_sheet(given: Acceptance, *, machine_name: str = "", system: System = "si") -> Sheet:
    """Return the sheet of an acceptance.

    Parameters
    ----------
    given : Acceptance
    machine_name : str
        As on the machine; a blank to fill where empty.
    system : {"si", "us"}
    """
    sheet = sheet_of(given.expectation, machine_name=machine_name, system=system)
    stall, grade = given.band("stall-speed"), given.band("speed-on-grade")
    bands = tuple(
        (Heading("", words.ACCEPTANCE[band.item.quantity]), band.span or NoValue("none"))
        for band in given.bands
    )
    run, also = [], []
    if grade is not None and grade.item.grade is not None:
        run = [words.note("grade-run", grade=grade.item.grade, gear=grade.item.gear)]
        also = [CAUTIONS.note("grade-run")]
    speed = Heading("", "", "velocity").unit(system)
    hold = tuple(fact for fact in sheet.expected.facts or () if fact[0].words == "longest hold")
    rests = (Heading("", "rests on"), given.notes[-1])
    # Gears in which the machine would break loose stay on the sheet, struck out.
    rows = [row for row in sheet.rows if row.cells[0] in _STALLS] if stall else []
    if run and grade is not None:
        rows += [SheetRow((name, grade.item.gear)) for name in ("grade run", "grade run again")]
    return replace(
        sheet,
        title=f"Acceptance after the swap: {given.name}",
        cautions=replace(sheet.cautions, above=(*sheet.cautions.above, *also)),
        stop=_stop(sheet.stop, None if stall is None else stall.high),
        steps=replace(sheet.steps, above=(*sheet.steps.above, *run)),
        relief=replace(sheet.relief, above=()),
        expected=Block(
            "", "Expect (as predicted inside, investigate outside)", facts=(*bands, *hold, rests)
        ),
        columns=(*sheet.columns[:4], f"road {speed}", *sheet.columns[4:7], sheet.columns[-1]),
        rows=tuple(rows),
    )  # fmt: skip


def _stop(block: Block, highest: float | None) -> Block:
    """Return when to stop: above what is expected here, which differs from a stall test's band."""
    first, *others = block.above
    if first.code != "too-fast" or highest is None:
        return block
    return replace(block, above=(words.note("too-fast", speed=highest), *others))
