"""After the swap: what a stall test and a grade run of the ordered machine should read.

The predictive band of each reading: draws of the parts given all evidence, the day's load, what the
model is off, and the error of instrument and repeat. Bands are as wide as lets both readings of a
machine that is as ordered lie inside in at least 95 of 100 cases (Bonferroni: each leaves half of
the rest). What is outside is looked into, with the ranked findings of the stall diagnosis.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from converter_match.answer.block import Block, Heading, Quantity
from converter_match.answer.noted import Answer
from converter_match.components.converter import Converter
from converter_match.components.reading import StallReading
from converter_match.components.site import Site
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.evidence import acceptance_words as words
from converter_match.judgement.evidence.possible import Possible, predicted_reading
from converter_match.judgement.evidence.prior import Prior
from converter_match.judgement.evidence.result import reading_value
from converter_match.judgement.evidence.worth_words import CAUTIONS
from converter_match.judgement.stall.diagnosis import diagnose
from converter_match.judgement.stall.expectation import StallExpectation, expect
from converter_match.judgement.stall.result import StallDiagnosis
from converter_match.judgement.stall.setup import StallSetup, Tolerances
from converter_match.judgement.stall.words import STALL_TEST
from converter_match.judgement.uncertainty.inputs import DrawnInput
from converter_match.judgement.verdict.outcome import Outcome
from converter_match.notes import Note
from converter_match.study.acceptance import AcceptanceReading
from converter_match.study.measurement import Measurement
from converter_match.study.study import Study
from converter_match.units import note_plain, note_text

COVERAGE = 0.95
_NORMAL_95 = 1.959963984540054
_NOISE = 86028121
_FEWEST = 0.5  # share of the draws that must give a reading, or there is no band
_NARROWEST = 0.002
Verdict = Literal["as-predicted", "investigate"]


@dataclass(frozen=True, eq=False, kw_only=True)
class AcceptanceBand:
    """What one reading should be, SI.

    Parameters
    ----------
    item : Measurement
        Without a value.
    title : Note
    low, middle, high : float or None
        None where half of the machines or more would give no reading.
    missing : float
        Share of the machines that would give none.
    coverage : float
        Of the band by itself.
    """

    item: Measurement
    title: Note
    low: float | None
    middle: float | None
    high: float | None
    missing: float
    coverage: float

    def quantity(self, *values: float) -> Quantity:
        """Return values of the reading with their amount."""
        return reading_value(values[0] if len(values) == 1 else values, self.item.kind.dimension)

    @property
    def span(self) -> Quantity | None:
        """Where the reading should lie."""
        if self.low is None or self.high is None:
            return None
        return self.quantity(self.low, self.high)

    @property
    def centre(self) -> Quantity | None:
        """The middle of that."""
        return None if self.middle is None else self.quantity(self.middle)

    def place(self, value: float) -> str:
        """Return where a reading lies: below, inside or above; no-band without one."""
        if self.low is None or self.high is None:
            return "no-band"
        return "below" if value < self.low else "above" if value > self.high else "inside"

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, SI."""
        return {
            "quantity": self.item.quantity,
            "title": note_text(self.title, "si"),
            "dimension": self.item.kind.dimension,
            "gear": self.item.gear or None,
            "grade": self.item.grade,
            "low": self.low,
            "middle": self.middle,
            "high": self.high,
            "coverage": self.coverage,
            "share_without_reading": self.missing,
        }


@dataclass(frozen=True, eq=False, kw_only=True, repr=False)
class Acceptance(Answer):
    """What to read on the commissioning day.

    Parameters
    ----------
    study : str
        Its id.
    combination, name : str
        What was ordered.
    bands : tuple of AcceptanceBand
    expectation : StallExpectation
        The stall test of the machine in the middle of what is believed: how long to hold, cautions.
    readings_used : int
        How many readings of the study the bands rest on.
    draws : int
    outcome : Outcome
        As the data say.
    notes : tuple of Note
    """

    study: str
    combination: str
    name: str
    bands: tuple[AcceptanceBand, ...]
    expectation: StallExpectation
    readings_used: int
    draws: int
    outcome: Outcome
    notes: tuple[Note, ...]

    def band(self, quantity: str) -> AcceptanceBand | None:
        """Return the band of a quantity; None where there is none."""
        return next((band for band in self.bands if band.item.quantity == quantity), None)

    def blocks(self) -> tuple[Block, ...]:
        """Return the bands."""
        rows = tuple(
            (
                band.title,
                None
                if band.low is None or band.high is None
                else band.quantity(band.low, band.high),
                None if band.middle is None else band.quantity(band.middle),
            )
            for band in self.bands
        )
        title = words.TITLE.format(name=self.name)
        below = (words.NOTES.note("bands", coverage=COVERAGE),)
        return (Block("", title=title, columns=_BANDS, rows=rows, below=below, in_plain=False),)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "study": self.study,
            "combination": self.combination,
            "name": self.name,
            "readings_used": self.readings_used,
            "draws": self.draws,
            "coverage_of_all": COVERAGE,
            "bands": [band.to_dict() for band in self.bands],
            "hold_s": self.expectation.hold.seconds,
            "notes": [note_plain(note) for note in self.notes],
        }


_BANDS = (Heading("", "reading"), Heading("", "should lie within"), Heading("", "middle"))


@dataclass(frozen=True, eq=False, kw_only=True, repr=False)
class AcceptanceJudgement(Answer):
    """Whether the machine is as ordered.

    Parameters
    ----------
    acceptance : Acceptance
    readings : tuple of AcceptanceReading
    places : tuple of str
        Of each reading: below, inside, above, void or no-band.
    verdict : {"as-predicted", "investigate"}
    diagnosis : StallDiagnosis or None
        Where something is to be looked into and the engine's speed was read.
    notes : tuple of Note
    """

    acceptance: Acceptance
    readings: tuple[AcceptanceReading, ...]
    places: tuple[str, ...]
    verdict: Verdict
    diagnosis: StallDiagnosis | None
    notes: tuple[Note, ...]

    @property
    def fails(self) -> bool:
        """Whether something is to be looked into."""
        return self.verdict == "investigate"

    def blocks(self) -> tuple[Block, ...]:
        """Return verdict, readings beside their bands, and what may be wrong."""
        rows = []
        for reading, place in zip(self.readings, self.places, strict=True):
            band = self.acceptance.band(reading.quantity)
            assert band is not None
            rows.append((band.title, band.quantity(reading.value), band.span, words.PLACES[place]))
        code = self.verdict if self.diagnosis is not None or not self.fails else "no-reasons"
        head = words.NOTES.note(code, name=self.acceptance.name)
        block = Block(
            "", title=words.VERDICTS[self.verdict].capitalize(), above=(head,),
            columns=_JUDGED, rows=tuple(rows), in_plain=False,
        )  # fmt: skip
        if self.diagnosis is None:
            return (block,)
        reasons = tuple(item.note() for item in self.diagnosis.findings if item.share > _SHOWN)
        return block, Block("", title=words.REASONS, items=reasons, in_plain=False)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "verdict": self.verdict,
            "readings": [
                {"quantity": reading.quantity, "value_si": reading.value, "place": place}
                for reading, place in zip(self.readings, self.places, strict=True)
            ],
            "acceptance": self.acceptance.to_dict(),
            "diagnosis": None if self.diagnosis is None else self.diagnosis.to_dict(),
            "notes": [note_plain(note) for note in self.notes],
        }


_SHOWN = 0.01
_JUDGED = (
    Heading("", "reading"),
    Heading("", "read"),
    Heading("", "should lie within"),
    Heading("", "place"),
)


def acceptance(
    study: Study,
    candidate: str,
    outcome: Outcome,
    scores: FloatArray,
    *,
    site: Site | None = None,
    seed: int = 0,
) -> Acceptance:
    """Return what a stall test and a grade run of a candidate should read.

    Parameters
    ----------
    study : Study
        With tolerances.
    candidate : str
        Id of what was ordered.
    outcome : Outcome
        Of it in the first condition.
    scores : ndarray, shape (n, d)
        Scores of the parts, given all evidence.
    site : Site, optional
        Where the machine is commissioned; the first site of the study without.
    seed : int

    Raises
    ------
    InputError
        If the candidate has no stall test to be done.
    """
    place = site if site is not None else (study.sites[0] if study.sites else None)
    items = _items(study, candidate, outcome, place)
    prior = Prior(study, items)
    days = prior.draw(scores.shape[0], seed + _NOISE)[:, scores.shape[1] :]
    whole = np.concatenate([scores, days], axis=1)
    inputs = prior.inputs(whole)
    found = [predicted_reading(prior, whole, inputs, row) for row in range(len(items))]
    known = [one for one in found if one is not None]
    each = 1.0 - (1.0 - COVERAGE) / len(known) if known else COVERAGE
    noise = np.random.default_rng(seed + _NOISE).standard_normal((len(known), scores.shape[0]))
    bands = tuple(_band(one, row, each) for one, row in zip(known, noise, strict=True))
    setup = _setup(study, candidate, outcome, inputs, place)
    return Acceptance(
        study=study.id,
        combination=candidate,
        name=study.combination(candidate).name,
        bands=bands,
        expectation=expect(setup),
        readings_used=len(study.measurements),
        draws=scores.shape[0],
        outcome=outcome,
        notes=(STALL_TEST, CAUTIONS.note("grade-run"), _rests_on(study)),
    )


def _rests_on(study: Study) -> Note:
    count = len(study.measurements)
    if count == 0:
        return words.NOTES.note("rests-on-sheets")
    return words.NOTES.note("rests-on-one" if count == 1 else "rests-on", count=float(count))


def _items(
    study: Study, candidate: str, outcome: Outcome, place: Site | None
) -> tuple[Measurement, ...]:
    """Return the two readings, as far as the data allow them."""
    given: dict[str, Any] = {"combination": candidate, "deviation": 1.0, "site": place}
    given["air_known"] = (True, True)
    found = [Measurement(quantity="stall-speed", **given)]
    wheels = outcome.tractive
    rows = () if wheels is None else wheels.grades
    climbed = [row for row in rows if row.grade > 0.0 and row.gear is not None]
    if climbed:
        row = max(climbed, key=lambda one: one.grade)
        settings: dict[str, Any] = {"gear": row.gear, "grade": row.grade, "load": study.duty.load}
        found.append(Measurement(quantity="speed-on-grade", **given, **settings))
    return tuple(found)


def _band(one: Possible, noise: FloatArray, coverage: float) -> AcceptanceBand:
    read = one.predicted.values + one.predicted.deviation * noise
    known = read[np.isfinite(read)]
    missing = 1.0 - known.size / read.size
    low = middle = high = None
    if missing < _FEWEST:
        half = 0.5 * (1.0 - coverage)
        low, middle, high = (float(v) for v in np.quantile(known, [half, 0.5, 1.0 - half]))
    return AcceptanceBand(
        item=one.item, title=one.title, low=low, middle=middle, high=high, missing=missing,
        coverage=coverage,
    )  # fmt: skip


def _setup(
    study: Study, candidate: str, outcome: Outcome, inputs: Sequence[DrawnInput], place: Site | None
) -> StallSetup:
    """Return the machine in the middle of what is believed, with what is still open about it."""
    item = study.combination(candidate)
    middle, spread = _believed(candidate, inputs)
    engine = outcome.match.engine
    engine = engine.replace(torque=engine.torque * (1.0 + middle.get("engine-torque", 0.0)))
    converter = outcome.match.converter
    capacity = (1.0 + middle.get("k-factor", 0.0)) ** -2.0
    usual = Tolerances()
    widths = {
        "engine_torque": spread.get("engine-torque", 0.0),
        "capacity": 2.0 * spread.get("k-factor", 0.0),
        "loads": spread.get("accessories", usual.sigma("loads")),
    }
    return StallSetup(
        engine=engine,
        converter=converter.replace(capacity=converter.capacity * capacity),
        site=place,
        hydraulic_torque=outcome.match.hydraulic_torque,
        driveline=item.driveline,
        machine=item.machine,
        surface=study.duty.surface,
        tolerances=replace(
            usual, **{k: max(_NORMAL_95 * width, _NARROWEST) for k, width in widths.items()}
        ),
    )


def _believed(
    candidate: str, inputs: Sequence[DrawnInput]
) -> tuple[Mapping[str, float], Mapping[str, float]]:
    own = [one for one in inputs if candidate in one.combinations]
    return (
        {one.quantity: float(np.mean(one.deviations)) for one in own},
        {one.quantity: float(np.std(one.deviations)) for one in own},
    )


def judge_acceptance(
    given: Acceptance,
    readings: Sequence[AcceptanceReading],
    library: Sequence[Converter] = (),
) -> AcceptanceJudgement:
    """Return whether readings of the commissioning day are as predicted.

    Parameters
    ----------
    given : Acceptance
    readings : sequence of AcceptanceReading
        At least one.
    library : sequence of Converter
        Converters that may have been fitted instead.

    Raises
    ------
    InputError
        If there is no reading, or one has no band.
    """
    if not readings:
        raise InputError("no reading to judge", field="reading", expected="at least one reading")
    places = []
    for reading in readings:
        band = given.band(reading.quantity)
        if band is None:
            raise InputError(
                "there is no band for that", field="reading", found=reading.quantity,
                expected=" | ".join(band.item.quantity for band in given.bands),
            )  # fmt: skip
        void = reading.quantity == "stall-speed" and reading.brakes == "let-go"
        places.append("void" if void else band.place(reading.value))
    wrong = any(place != "inside" for place in places)
    diagnosis = None
    if wrong:
        speeds = _stall_readings(given, readings)
        diagnosis = diagnose(given.expectation.setup, speeds, library) if speeds else None
    return AcceptanceJudgement(
        acceptance=given,
        readings=tuple(readings),
        places=tuple(places),
        verdict="investigate" if wrong else "as-predicted",
        diagnosis=diagnosis,
        notes=given.notes if diagnosis is None else tuple(dict.fromkeys(diagnosis.notes)),
    )


def _stall_readings(given: Acceptance, readings: Sequence[AcceptanceReading]) -> list[StallReading]:
    """Return the readings that a stall diagnosis can use: stall, and the engine on the grade."""
    found = []
    for reading in readings:
        own: dict[str, Any] = {"gear": reading.gear, "oil_temperature": reading.oil_temperature}
        if reading.quantity == "stall-speed":
            found.append(StallReading(engine_speed=reading.value, brakes=reading.brakes, **own))
            continue
        band, wheels = given.band(reading.quantity), given.outcome.tractive
        if reading.engine_speed is None or band is None or wheels is None:
            continue
        own["gear"] = reading.gear or band.item.gear
        gear = wheels.driveline.gear(own["gear"])
        turning = reading.value / wheels.machine.rolling_radius
        turbine = turning * wheels.driveline.overall_ratio(gear)
        found.append(
            StallReading(
                engine_speed=reading.engine_speed, test="road", turbine_speed=turbine, **own
            )
        )
    return found
