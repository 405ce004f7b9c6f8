"""What stands on the sheet for a stall test: blocks, out of which its HTML and PDF are made."""

from __future__ import annotations

from dataclasses import dataclass

from converter_match.answer.block import Block, Facts, Heading, NoValue
from converter_match.constants import RPM
from converter_match.judgement.stall.band import Band
from converter_match.judgement.stall.expectation import StallExpectation
from converter_match.judgement.stall.hold import StallHold
from converter_match.judgement.stall.words import joined
from converter_match.notes import Note
from converter_match.present.stall import words
from converter_match.units import System, note_text

# Of names that somebody typed: more would push the sheet to a second page.
_LONGEST = 90
_MOST_GEARS = 8
# US Army TM 10-3930-671-24: oil temperature before the test [K].
_WARM_OIL = (355.15, 366.15)
# Of the engine in neutral while the oil cools [rad/s]; common practice, no source.
_FAST_IDLE = (1000.0 * RPM, 1500.0 * RPM)
_SHORTEST_COOL_DOWN = 60.0  # s
_AT_RELIEF = {"hydraulic": "neutral, pumps at relief", "both": "stall, pumps at relief"}


@dataclass(frozen=True)
class Sheet:
    """The blocks of the page; nothing of them needs calculating any more.

    Parameters
    ----------
    title : str
    system : {"si", "us"}
    cautions, prepare, steps, stop : Block
        Sentences.
    subject, expected : Block
        Facts: machine, engine, converter, conditions; bands, the maker's span, the hold.
    columns : tuple of str
        Heads of the table to fill.
    rows : tuple of str
        First cells of its rows.
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
    stop: Block
    expected: Block
    columns: tuple[str, ...]
    rows: tuple[str, ...]
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
    rpm, degree = (
        Heading("", "", amount).unit(system) for amount in ("angular_speed", "temperature")
    )
    low, high = _WARM_OIL
    return Sheet(
        title="Stall test",
        system=system,
        cautions=Block("", "CAUTION – read first", above=words.SHEET_CAUTIONS),
        subject=Block("", facts=_subject(expectation, machine_name)),
        prepare=Block(
            "",
            "Prepare",
            above=(
                words.note("manual-at-hand"),
                words.note("warm", low=low, high=high),
                words.note("people-clear"),
                words.note("tachometer"),
            ),
        ),
        steps=Block("", "Hold", above=_steps(expectation)),
        stop=Block("", "Stop", above=_stop(expectation)),
        expected=Block("", "Expect", facts=_expected(expectation)),
        columns=("test", "gear", f"engine {rpm}", f"oil before {degree}", f"oil after {degree}",
                 "brakes held?", "seconds", "remarks"),
        rows=_rows(expectation),
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
    return (
        (Heading("", "machine"), _short(name) or NoValue("")),  # a blank to fill
        (Heading("", "engine"), _short(setup.engine.name)),
        (Heading("", "converter"), _short(setup.converter.name)),
        (Heading("", "calculated for"), conditions),
    )


def _steps(expectation: StallExpectation) -> tuple[Note, ...]:
    hold = expectation.hold
    if hold.seconds is None:
        neutral = any(band.ends is not None for band in expectation.combined.values())
        only = (words.note("neutral-only"),) if neutral else ()
        return (words.note("no-stall-test"), *only)
    cool_down = max(hold.cool_down or 0.0, _SHORTEST_COOL_DOWN)
    low, high = _FAST_IDLE
    return (
        words.note("select-gear"),
        words.note("full-throttle", seconds=hold.seconds),
        words.note("neutral"),
        words.note("cool-down", low=low, high=high, time=cool_down),
        words.note("write-down"),
    )


def _stop(expectation: StallExpectation) -> tuple[Note, ...]:
    published = expectation.setup.published
    highest = expectation.band.high if published is None else published[1]
    moves = words.note("moves") if highest is None else words.note("too-fast", speed=highest)
    return moves, words.note("too-hot", limit=expectation.hold.limit)


def _rows(expectation: StallExpectation) -> tuple[str, ...]:
    """Return a line to fill for every test that can be done."""
    rows = []
    if expectation.stalls:
        driveline = expectation.setup.driveline
        gears = [gear.name for gear in driveline.gears] if driveline else []
        rows += [f"stall, gear {name}" for name in gears[:_MOST_GEARS]] or ["stall"] * 4
        rows += ["stall again"]
    rows += [
        _AT_RELIEF[test] for test, band in expectation.combined.items() if band.ends is not None
    ]
    return tuple(rows) or ("none: do not test",)


def _expected(expectation: StallExpectation) -> Facts:
    published = expectation.setup.published
    facts: Facts = ()
    if published is not None:
        span = words.note("span", low=published[0], high=published[1])
        facts += ((Heading("", "maker's published span (comes first)"), span),)
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
                rate=hold.rate,
                start=hold.start,
                limit=hold.limit,
                time=hold.to_limit,
            )
        )
    if hold.set_by == "common-practice":
        parts.append(words.note("capped"))
    return joined("hold", *parts, words.note("end"))


def _short(text: str) -> str:
    text = " ".join(text.split())
    return text if len(text) <= _LONGEST else text[: _LONGEST - 1] + "…"
