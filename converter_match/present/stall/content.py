"""What stands on the sheet for a stall test: blocks, out of which its HTML and PDF are made."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from converter_match.answer.block import Block, Facts, Heading, NoValue
from converter_match.constants import RPM
from converter_match.judgement.stall.band import Band
from converter_match.judgement.stall.expectation import StallExpectation
from converter_match.judgement.stall.gears import GearTest, to_be_held
from converter_match.judgement.stall.hold import StallHold
from converter_match.judgement.stall.words import joined
from converter_match.notes import Note
from converter_match.present.stall import words
from converter_match.units import System, note_text, shown_text

# Of names that somebody typed: more would push the sheet to a second page.
_LONGEST = 90
_MOST_GEARS = {"forward": 5, "reverse": 2}
# US Army TM 10-3930-671-24: oil temperature before the test [K].
WARM_OIL = (355.15, 366.15)
# Of the engine in neutral while the oil cools [rad/s]; common practice, no source.
_FAST_IDLE = (1000.0 * RPM, 1500.0 * RPM)
SHORTEST_COOL_DOWN = 60.0  # s
_AT_RELIEF = {"hydraulic": "neutral, pumps at relief", "both": "stall, pumps at relief"}


@dataclass(frozen=True)
class SheetRow:
    """A row of the table to fill.

    Parameters
    ----------
    cells : tuple of str
        What stands in its first cells; the others are to be filled.
    struck : str
        Why it is no test; empty for a test. Such a row is struck out, and has nothing to fill.
    """

    cells: tuple[str, ...]
    struck: str = ""


@dataclass(frozen=True)
class Sheet:
    """The blocks of the page; nothing of them needs calculating any more.

    Parameters
    ----------
    title : str
    system : {"si", "us"}
    cautions, prepare, steps, relief, stop : Block
        Sentences; those of tests with the pumps at relief only where there are such tests.
    subject, expected : Block
        Facts: machine, engine, converter, conditions; bands, the maker's span, the hold.
    columns : tuple of str
        Heads of the table to fill.
    rows : tuple of SheetRow
    blanks : tuple of str
        Names of further fields to fill.
    footer : str
    """

    title: str
    system: System
    cautions: Block
    subject: Block
    prepare: Block
    steps: Block
    relief: Block
    stop: Block
    expected: Block
    columns: tuple[str, ...]
    rows: tuple[SheetRow, ...]
    blanks: tuple[str, ...]
    footer: str

    def items(self, block: Block) -> tuple[str, ...]:
        """Return the sentences of a block in the units of the sheet."""
        return tuple(note_text(sentence, self.system) for sentence in block.above)

    def pairs(self, block: Block) -> tuple[tuple[str, str], ...]:
        """Return the facts of a block as words: what it is, and its value with the unit."""
        return tuple(
            (head.words, head.text(value, self.system, unit=not isinstance(value, NoValue)))
            for head, value in block.facts or ()
        )


def sheet_of(
    expectation: StallExpectation, *, machine_name: str = "", system: System = "si"
) -> Sheet:
    """Return the sheet of an expectation.

    Parameters
    ----------
    expectation : StallExpectation
    machine_name : str
        As on the machine; a blank to fill where empty.
    system : {"si", "us"}
    """
    rpm, degree, force = (
        Heading("", "", amount).unit(system) for amount in ("angular_speed", "temperature", "force")
    )
    low, high = WARM_OIL
    machine = expectation.setup.machine
    tracks = machine is not None and machine.on_tracks
    return Sheet(
        title="Stall test",
        system=system,
        cautions=Block("", "CAUTION – read first", above=words.cautions(on_tracks=tracks)),
        subject=Block("", facts=_subject(expectation, machine_name)),
        prepare=Block(
            "",
            "Prepare",
            above=(
                words.note("warm", low=low, high=high),
                words.note("second-person", what="tracks" if tracks else "wheels"),
                words.note("tachometer"),
            ),
        ),
        steps=Block("", "Hold", above=_steps(expectation)),
        relief=Block("", "With the pumps at relief", above=_relief(expectation)),
        stop=Block("", "Stop", above=_stop(expectation)),
        expected=Block("", "Expect", facts=_expected(expectation)),
        columns=("test", "gear", f"pull / grip {force}", f"engine {rpm}", f"oil before {degree}",
                 f"oil after {degree}", "brakes held?", "seconds", "remarks"),
        rows=_rows(expectation, system),
        blanks=("date, place", f"air {degree}", "machine hours", f"top governed {rpm}",
                "tested by", "checked by"),
        footer=words.FOOTER,
    )  # fmt: skip


def _subject(expectation: StallExpectation, machine_name: str) -> Facts:
    setup, air = expectation.setup, expectation.match.site.air
    name = machine_name or (setup.machine.name if setup.machine else "")
    if air is None:
        conditions = words.note("conditions-reference", oil=setup.oil)
    else:
        conditions = words.note(
            "conditions", pressure=air.pressure, air=air.temperature, oil=setup.oil
        )
    if setup.surface is not None and any(test.grip for test in expectation.gears):
        ground = words.note("stands-on", load=setup.load, ground=short(setup.surface.name))
        conditions = joined("conditions", conditions, ground)
    return (
        (Heading("", "machine"), short(name) or NoValue("")),  # a blank to fill
        (Heading("", "engine"), short(setup.engine.name)),
        (Heading("", "converter"), short(setup.converter.title)),
        (Heading("", "calculated for"), conditions),
    )


def _steps(expectation: StallExpectation) -> tuple[Note, ...]:
    hold = expectation.hold
    neutral = any(band.ends is not None for band in expectation.combined.values())
    only = (words.note("neutral-only"),) if neutral else ()
    if hold.seconds is None:
        return (words.note("no-stall-test"), *only)
    if expectation.gears and not to_be_held(expectation.gears):
        return (words.note("no-gear-holds"), *only)
    cool_down = max(hold.cool_down or 0.0, SHORTEST_COOL_DOWN)
    low, high = _FAST_IDLE
    return (
        words.note("select-gear"),
        words.note("full-throttle", seconds=hold.seconds),
        words.note("neutral"),
        words.note("cool-down", low=low, high=high, time=cool_down),
        words.note("write-down"),
    )


def _relief(expectation: StallExpectation) -> tuple[Note, ...]:
    """Return the tests with the pumps at relief as steps, speed first and load after."""
    tests = [test for test in ("hydraulic", "both") if _is_done(expectation, test)]
    codes = {"hydraulic": "relief-in-neutral", "both": "relief-in-gear"}
    steps = tuple(words.note(codes[test]) for test in tests)
    return (*steps, words.note("relief-time")) if steps else ()


def _is_done(expectation: StallExpectation, test: str) -> bool:
    """Return whether a test with the pumps at relief can be done."""
    band = next((band for name, band in expectation.combined.items() if name == test), None)
    if band is None or band.ends is None:
        return False
    gears = expectation.gears
    return test == "hydraulic" or not gears or bool(to_be_held(gears))


def _stop(expectation: StallExpectation) -> tuple[Note, ...]:
    published = expectation.setup.published
    highest = expectation.band.high if published is None else published[1]
    moves = words.note("moves") if highest is None else words.note("too-fast", speed=highest)
    outlet, limit = expectation.hold.outlet, expectation.hold.limit
    if outlet is None:
        return moves, words.note("too-hot", limit=limit)
    return moves, words.note("too-hot-at-outlet", limit=limit, outlet=outlet.limit)


def _rows(expectation: StallExpectation, system: System) -> tuple[SheetRow, ...]:
    """Return a line for every test, those at relief before the gears that are none."""
    held = to_be_held(expectation.gears)
    rows = rows_of_gears(expectation.gears, system, stalls=expectation.stalls)
    struck = tuple(row for row in rows if row.struck)
    done = tuple(row for row in rows if not row.struck)
    done += tuple(
        SheetRow((name, "N" if test == "hydraulic" else held[0].gear if held else ""))
        for test, name in _AT_RELIEF.items()
        if _is_done(expectation, test)
    )
    return (*(done or (SheetRow(("none: do not test",)),)), *struck)


def rows_of_gears(
    gears: Sequence[GearTest], system: System, *, stalls: bool
) -> tuple[SheetRow, ...]:
    """Return a line for every stall: first what is done, from the highest gear down.

    Parameters
    ----------
    gears : sequence of GearTest
        Empty where they are not known.
    system : {"si", "us"}
    stalls : bool
        Whether there is a stall at all.
    """
    if not stalls:
        return ()
    held = to_be_held(gears)
    rows = []
    if held or not gears:
        for direction, most in _MOST_GEARS.items():
            ways = [test for test in held if test.direction == direction]
            rows += [_of_gear(test, system) for test in ways[:most]]
        rows = rows or [SheetRow(("stall",))] * 4
        rows += [SheetRow(("stall again",))]
    rows += [
        replace(_of_gear(test, system), struck=words.BREAKS_LOOSE)
        for test in gears
        if test.breaks_loose
    ]
    return tuple(rows)


def _of_gear(test: GearTest, system: System) -> SheetRow:
    known = [value for value in (test.pull, test.grip) if value is not None]
    said = " / ".join(shown_text(value, "force", system, ".0f", unit=False) for value in known)
    return SheetRow(("stall", test.label, said))


def _expected(expectation: StallExpectation) -> Facts:
    published = expectation.setup.published
    facts: Facts = ()
    if published is not None:
        span = words.note("span", low=published[0], high=published[1])
        facts += ((Heading("", "maker's published span (comes first)"), span),)
        if any(note.code == "published-elsewhere" for note in expectation.notes):
            facts += ((Heading("", "they do not meet"), words.note("spans-apart")),)
    facts += ((Heading("", "expected stall speed today"), _band(expectation.band)),)
    facts += tuple(
        (Heading("", _AT_RELIEF[test]), _band(band)) for test, band in expectation.combined.items()
    )
    return (*facts, (Heading("", "longest hold"), _hold(expectation.hold)))


def _band(band: Band) -> Note:
    if band.ends is None:
        return words.note("no-band")
    low, high = band.ends
    coverage = f"{100 * band.coverage:.0f}"
    if band.gap is not None:
        first, second = band.gap
        return words.note(
            "band-in-two", low=low, first=first, second=second, high=high, coverage=coverage
        )
    if band.stuck_share > 0.0:
        return words.note(
            "band-of-some", low=low, high=high, coverage=coverage, count=band.stuck_count
        )
    return words.note("band", low=low, high=high, coverage=coverage)


def _hold(hold: StallHold) -> Note:
    if hold.seconds is None:
        return words.note("no-hold")
    parts = [words.note("hold", seconds=hold.seconds)]
    if hold.set_by == "maker":
        parts.append(words.note("by-maker"))
    if hold.start >= hold.limit:
        parts.append(words.note("at-limit"))
    elif hold.heat is None or hold.rate is None or hold.to_limit is None:
        parts.append(words.note("no-oil-data"))
    else:
        parts.append(
            words.note(
                "by-oil",
                heat=hold.heat,
                start=hold.start,
                limit=hold.limit,
                time=hold.to_limit,
            )
        )
        if hold.outlet is not None and hold.outlet.to_limit is not None:
            outlet = hold.outlet
            parts.append(words.note("by-outlet", limit=outlet.limit, time=outlet.to_limit or 0.0))
    if hold.set_by == "common-practice":
        parts.append(words.note("capped"))
    return joined("hold", *parts, words.note("end"))


def short(text: str) -> str:
    """Return a name that somebody typed, on one line and not too long for the sheet."""
    text = " ".join(text.split())
    return text if len(text) <= _LONGEST else text[: _LONGEST - 1] + "…"
