"""The answer of a stall test: readings beside their bands, findings with numbers, what is next."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from converter_match.answer.block import Block, Facts, Heading, facts_of
from converter_match.answer.noted import Answer
from converter_match.answer.plain import plain
from converter_match.components.reading import StallReading
from converter_match.judgement.stall import words
from converter_match.judgement.stall.band import HIGH, LOW, Band, Place
from converter_match.judgement.stall.checks import NextCheck
from converter_match.judgement.stall.hypothesis import UnknownName
from converter_match.judgement.stall.inversion import Inversion, Together, reasonable_spans
from converter_match.judgement.stall.notes import gap_notes, no_band_note
from converter_match.judgement.stall.setup import StallSetup
from converter_match.notes import Note
from converter_match.physics.stall.settling import Separated
from converter_match.units import note_plain, note_text

# Findings with a smaller share are named without their numbers.
_SHOWN = 0.002
# Nothing that rests on assumed errors and weights is surer than this.
_SUREST = 0.99

ENGINE_SPEED = Heading("engine_speed", "engine speed", "angular_speed")
PUBLISHED = Heading("published", "maker's published span (comes first)", "angular_speed")
_READING = Heading("", "reading")
_PLACE = Heading("place", "place")
_IN_PUBLISHED = Heading("place_in_published", "in the maker's span")
_STATED = tuple(Heading(key, "") for key in ("test", "gear", "direction", "brakes", "pump"))
_MEASURED = (
    Heading("oil_temperature", "", "temperature"),
    Heading("air_temperature", "", "temperature"),
    Heading("turbine_speed", "", "angular_speed"),
)
_EXPECTED, _INVERSION = Heading("expected", ""), Heading("inversion", "")
_FINDING = (
    *(Heading(key, "") for key in ("code", "title", "share", "weight", "log_likelihood")),
    Heading("would_read", "", "angular_speed"),
    Heading("would_read_span", "", "angular_speed"),
)
_UNKNOWN = tuple(Heading(key, "") for key in ("name", "median", "p05", "p95"))
_ALSO_OF_FINDING = (
    Heading("unknown", ""),
    Heading("fits_span", "", "angular_speed"),
    Heading("detail", ""),
    Heading("entries", ""),
    Heading("words", ""),
)
_SEPARATED = tuple(
    Heading(key, "")
    for key in (
        "torque_factor", "capacity_factor", "torque_sigma", "capacity_sigma", "correlation",
        "misfit", "surplus", "residuals",
    )
)  # fmt: skip
_TOGETHER = tuple(Heading(key, "") for key in ("misfit", "misfit_at_most", "fits", "worst"))


def label_of(reading: StallReading) -> str:
    """Return test, gear and brakes of a reading in a few words."""
    parts: list[str] = [reading.test]
    if reading.gear:
        parts.append(f"gear {reading.gear}")
    if reading.brakes != "not-stated":
        parts.append("brakes " + reading.brakes.replace("-", " "))
    return ", ".join(parts)


@dataclass(frozen=True, eq=False)
class JudgedReading:
    """One reading beside its band.

    Parameters
    ----------
    reading : StallReading
    band : Band
        In the oil, air and test of the reading.
    place : {"below", "inside", "above", "outside", "void", "no-band"}
        ``outside`` between the parts of a band in two; the last where a healthy machine cannot
        accelerate from idle in that test.
    inversion : Inversion or None
    published : {"below", "inside", "above"} or None
        Where the reading lies in the maker's span; None without one, or for another test.
    """

    reading: StallReading
    band: Band
    place: Place
    inversion: Inversion | None
    published: Place | None = None

    @property
    def label(self) -> str:
        """Test, gear and brakes in a few words."""
        return label_of(self.reading)

    def facts(self) -> Facts:
        """Return the reading and where it lies as facts."""
        inversion = self.inversion.to_dict() if self.inversion else None
        return (
            (_READING, self.label),
            (ENGINE_SPEED, self.reading.engine_speed),
            (_PLACE, self.place),
            (LOW.keyed("").said("band from"), self.band.low),
            (HIGH.keyed("").said("band to"), self.band.high),
            (_IN_PUBLISHED, self.published),
            *facts_of(self.reading, _STATED),
            *facts_of(self.reading, _MEASURED),
            (_EXPECTED, plain([Block("", facts=self.band.facts())])),
            (_INVERSION, inversion),
        )


@dataclass(frozen=True, eq=False)
class StallFinding:
    """Something that may be wrong, and how far the readings speak for it.

    Parameters
    ----------
    code : str
    what : Note
        In a mechanic's words.
    share : float
        Likelihood times weight, over all findings.
    weight, log_likelihood : float
    unknown_name : str
    unknown : tuple of float or None
        Median and 5 to 95 % of this finding's own unknown, given the readings.
    would_read : tuple of float or None
        What it would show at each reading, before they were taken: medians of machines that
        accelerate from idle [rad/s]; None where most cannot.
    would_read_span : tuple of ((float, float) or None)
        5 to 95 % of that [rad/s].
    fits : tuple of ((float, float) or None), or None
        5 to 95 % of what those of its machines would show that fit all the readings, each as far as
        it fits [rad/s]; None where it does not fit at all.
    detail : Note or None
    entries : tuple of (str, float)
        Library entries that would explain it, most likely first, with shares.
    """

    code: str
    what: Note
    share: float
    weight: float
    log_likelihood: float
    unknown_name: UnknownName = ""
    unknown: tuple[float, float, float] | None = None
    would_read: tuple[float | None, ...] = ()
    would_read_span: tuple[tuple[float, float] | None, ...] = ()
    fits: tuple[tuple[float, float] | None, ...] | None = None
    detail: Note | None = None
    entries: tuple[tuple[str, float], ...] = ()

    @property
    def family(self) -> str:
        """What it is, without what it concerns."""
        return self.code.partition(":")[0]

    @property
    def title(self) -> str:
        """What it is, in a mechanic's words."""
        return note_text(self.what, "si")

    def note(self) -> Note:
        """Return the finding and the numbers behind it."""
        parts = [self.what]
        if self.unknown is not None:
            middle, low, high = self.unknown
            if self.unknown_name == "torque_factor":
                parts.append(
                    words.note("torque-lost", middle=1 - middle, low=1 - high, high=1 - low)
                )
            elif self.unknown_name == "capacity_factor":
                parts.append(words.note("capacity-taken", middle=middle, low=low, high=high))
            elif self.unknown_name == "turbine_speed_ratio":
                parts.append(words.note("turbine-turning", middle=middle, low=low, high=high))
            elif self.unknown_name == "load_nm":
                parts.append(words.note("load-taken", middle=middle, low=low, high=high))
            elif self.unknown_name == "tachometer_factor":
                parts.append(words.note("tachometer-by", middle=middle, low=low, high=high))
        for number, span in enumerate(dict.fromkeys(self.fits or ())):
            parts.append(words.note("between-spans" if number else "fits"))
            if span is None:
                parts.append(words.note("fits-idle"))
            else:
                parts.append(words.note("fits-span", low=span[0], high=span[1]))
        if self.entries:
            listed = ", ".join(f"{name} ({100 * share:.1f} %)" for name, share in self.entries)
            parts.append(words.note("explained-by-entries", entries=listed))
        if self.detail is not None:
            parts += [words.note("before-detail"), self.detail]
        return words.joined(self.family, *parts)

    def facts(self) -> Facts:
        """Return everything of the finding as facts for plain data."""
        unknown = None
        if self.unknown is not None:
            values = (self.unknown_name, *self.unknown)
            unknown = plain([Block("", facts=tuple(zip(_UNKNOWN, values, strict=True)))])
        also: tuple[Any, ...] = (
            unknown,
            self.fits,
            "" if self.detail is None else self.detail,
            [{"id": name, "share": share} for name, share in self.entries],
            self.note(),
        )
        return (*facts_of(self, _FINDING), *zip(_ALSO_OF_FINDING, also, strict=True))


@dataclass(frozen=True, eq=False)
class StallDiagnosis(Answer):
    """Ranked findings from readings.

    Parameters
    ----------
    setup : StallSetup
    judged : tuple of JudgedReading
        Every reading as given, void ones too.
    findings : tuple of StallFinding
        Most likely first; never empty.
    together : Together or None
        Torque and capacity separated by combined tests, and how well they fit.
    next_check : NextCheck
    notes : tuple of Note
    """

    setup: StallSetup
    judged: tuple[JudgedReading, ...]
    findings: tuple[StallFinding, ...]
    together: Together | None
    next_check: NextCheck
    notes: tuple[Note, ...]

    @property
    def outside(self) -> bool:
        """Whether a reading lies outside its band or the maker's span, or is void."""
        return any(
            item.place != "inside" or item.published not in (None, "inside") for item in self.judged
        )

    @property
    def fails(self) -> bool:
        """Whether a reading lies outside its band or the maker's span, or is void."""
        return self.outside

    @property
    def separated(self) -> Separated | None:
        """Torque and capacity separated; None where the readings cannot, or contradict it."""
        both = self.together
        return both.separated if both is not None and both.believable else None

    def explanations(self) -> tuple[Note, ...]:
        """Return what explains the readings: each by itself, then all together."""
        lines = [
            words.joined(
                "explanation",
                words.note("of-reading", label=item.label),
                item.inversion.explanation(),
            )
            for item in self.judged
            if item.inversion is not None
        ]
        both = self.together
        if both is not None:
            lines.append(self._all_together(both))
        elif self._asks_for_more:
            lines.append(words.note("one-kind-of-test"))
        return tuple(lines)

    def _all_together(self, both: Together) -> Note:
        """Return torque and capacity of all tests together, or why they are not given."""
        pair = self.separated
        if pair is not None:
            return words.note(
                "all-together",
                torque=pair.torque_factor,
                torque_error=2 * pair.torque_sigma,
                capacity=pair.capacity_factor,
                capacity_error=2 * pair.capacity_sigma,
            )
        if both.fits:
            return words.note("all-beyond-reason", spans=reasonable_spans("torque", "capacity"))
        return words.note(
            "all-contradict",
            action=repeat_words(both.worst, self.judged),
            worst=label_of(both.worst),
            speed=both.worst.engine_speed,
        )

    @property
    def _asks_for_more(self) -> bool:
        """Whether a combined test could tell more: not where there is nothing sound to tell."""
        inversions = [item.inversion for item in self.judged if item.inversion is not None]
        sound = all(item.band.ends is not None for item in self.judged)
        sound = sound and any(
            one.torque is not None or one.capacity is not None for one in inversions
        )
        return sound and len({item.reading.test for item in self.judged}) < 2

    def blocks(self) -> Sequence[Block]:
        """Return readings, what explains them, findings, and the next check."""
        return (
            Block("", above=(words.STALL_TEST,), in_plain=False),
            self._readings(),
            *self._explanations_block(),
            Block(
                "",
                "Findings, most likely first (share of likelihood x weight)",
                above=tuple(self._finding_lines()),
                in_plain=False,
            ),
            _records("findings", [finding.facts() for finding in self.findings], in_text=False),
            Block("separated", facts=_facts_or_none(self.separated, _SEPARATED), in_text=False),
            Block("tests_together", facts=self._fit(), in_text=False),
            Block("next_check", "Next cheapest check", facts=self.next_check.facts()),
            Block("", facts=((Heading("scoring", ""), words.SCORING),), in_text=False),
        )

    def _explanations_block(self) -> tuple[Block, ...]:
        explanations = self.explanations()
        if not explanations:
            return ()
        return (Block("", "What explains the readings", above=explanations, in_plain=False),)

    def _readings(self) -> Block:
        block = _records("readings", [item.facts() for item in self.judged])
        published = self.setup.published
        stuck = [item for item in self.judged if item.band.ends is None]
        columns = block.columns
        if published is None:
            columns = tuple(head.said("") if head is _IN_PUBLISHED else head for head in columns)
        return Block(
            block.name,
            "Readings, and the band of healthy machines",
            facts=() if published is None else ((PUBLISHED.keyed(""), published),),
            columns=columns,
            rows=block.rows,
            rows_key="",
            below=(
                *(no_band_note(item.reading.test, item.label) for item in stuck),
                *(note for item in self.judged for note in gap_notes(item.label, item.band)),
            ),
        )

    def _finding_lines(self) -> Iterable[Note]:
        for row, finding in enumerate(self.findings):
            if row == 0 or finding.share >= _SHOWN:
                share = "> 99" if finding.share > _SUREST else f"{100 * finding.share:.1f}"
                head = words.note("share", share=share, finding=finding.code)
                yield words.joined(finding.code, head, finding.note())
        rest = [finding.code for finding in self.findings[1:] if finding.share < _SHOWN]
        if rest:
            yield words.note("below-share", share=_SHOWN, findings=", ".join(rest))

    def _fit(self) -> Facts | None:
        both = self.together
        if both is None:
            return None
        values = (both.separated.misfit, both.largest, both.fits, label_of(both.worst))
        return tuple(zip(_TOGETHER, values, strict=True))

    def to_dict(self) -> dict[str, Any]:
        """Return plain data that JSON can carry; every note stands under ``notes``."""
        return plain(self.blocks()) | {"notes": [note_plain(note) for note in self.notes]}


def repeat_words(worst: StallReading, judged: Sequence[JudgedReading]) -> str:
    """Return what to do about the reading that lies farthest off: nothing that is not safe."""
    if any(item.reading is worst and item.band.ends is None for item in judged):
        return words.DO_NOT_REPEAT
    return words.REPEAT


def _records(name: str, facts: Sequence[Facts], *, in_text: bool = True) -> Block:
    """Return a list of objects of the same facts, a row each."""
    return Block(
        name,
        columns=tuple(head for head, _ in facts[0]),
        rows=tuple(tuple(value for _, value in one) for one in facts),
        rows_key="",
        in_text=in_text,
    )


def _facts_or_none(thing: object | None, headings: Sequence[Heading]) -> Facts | None:
    return None if thing is None else facts_of(thing, headings)
