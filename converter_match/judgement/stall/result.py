"""The answer of a stall test: readings beside their bands, findings with numbers, what is next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from converter_match.components.reading import StallReading
from converter_match.judgement.answer.plain import plain, rpm
from converter_match.judgement.stall.band import Band
from converter_match.judgement.stall.checks import NextCheck
from converter_match.judgement.stall.inversion import Inversion, Together, reason_words
from converter_match.judgement.stall.setup import StallSetup
from converter_match.notes import Note
from converter_match.physics.stall.settling import Separated
from converter_match.units import System, note_plain, show

SCORING = (
    "Each finding is a small model of the machine with one unknown of its own. Machines are drawn "
    "within the tolerances (normal errors, stated half widths), each is solved for the speed it "
    "would show at every reading, and the likelihood of the finding is the mean, over the draws, "
    "of the product of normal densities of all readings about those speeds, with the stated error "
    "of a reading. Shares are likelihood times weight, over all findings."
)


def label_of(reading: StallReading) -> str:
    """Return test, gear and brakes of a reading in a few words."""
    parts: list[str] = [reading.test]
    if reading.gear:
        parts.append(f"gear {reading.gear}")
    if reading.brakes != "not-stated":
        parts.append("brakes " + reading.brakes.replace("-", " "))
    return ", ".join(parts)


@dataclass(frozen=True, eq=False)
class Judged:
    """One reading beside its band.

    Parameters
    ----------
    reading : StallReading
    band : Band
        In the oil, air and test of the reading.
    place : {"below", "inside", "above", "void", "no-band"}
        The last where a healthy machine does not come up from idle in that test.
    inversion : Inversion or None
    published : {"below", "inside", "above"} or None
        Where the reading lies in the maker's span; None without one, or for another test.
    """

    reading: StallReading
    band: Band
    place: str
    inversion: Inversion | None
    published: str | None = None

    @property
    def label(self) -> str:
        """Test, gear and brakes in a few words."""
        return label_of(self.reading)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data with the unit in each key."""
        reading = self.reading
        oil, air = reading.oil_temperature, reading.air_temperature
        turbine = reading.turbine_speed
        return {
            "engine_speed_rpm": rpm(reading.engine_speed),
            "test": reading.test,
            "gear": reading.gear,
            "direction": reading.direction,
            "brakes": reading.brakes,
            "pump": reading.pump,
            "oil_temperature_degc": plain(oil, "degc"),
            "air_temperature_degc": plain(air, "degc"),
            "turbine_speed_rpm": plain(turbine, "rpm"),
            "expected": self.band.to_dict(),
            "place": self.place,
            "place_in_published": self.published,
            "inversion": self.inversion.to_dict() if self.inversion else None,
        }


@dataclass(frozen=True, eq=False)
class Finding:
    """Something that may be wrong, and how far the readings speak for it.

    Parameters
    ----------
    code, title : str
    share : float
        Likelihood times weight, over all findings.
    weight, log_likelihood : float
    unknown_name : str
    unknown : tuple of float or None
        Median and 5 to 95 % of this finding's own unknown, given the readings.
    would_read : tuple of float or None
        What it would show at each reading, before they were taken: medians of machines that come up
        from idle [rad/s]; None where most do not.
    would_read_span : tuple of ((float, float) or None)
        5 to 95 % of that [rad/s].
    fits : tuple of ((float, float) or None), or None
        5 to 95 % of what those of its machines would show that fit all the readings, each as far as
        it fits [rad/s]; None where it does not fit at all.
    detail : str
    entries : tuple of (str, float)
        Library entries that would explain it, the likeliest first, with shares.
    """

    code: str
    title: str
    share: float
    weight: float
    log_likelihood: float
    unknown_name: str
    unknown: tuple[float, float, float] | None
    would_read: tuple[float | None, ...]
    would_read_span: tuple[tuple[float, float] | None, ...]
    fits: tuple[tuple[float, float] | None, ...] | None = None
    detail: str = ""
    entries: tuple[tuple[str, float], ...] = ()

    @property
    def family(self) -> str:
        """What it is, without what it concerns."""
        return self.code.partition(":")[0]

    def words(self, system: System) -> str:
        """Return the finding and the numbers behind it."""
        text = self.title
        if self.unknown is not None:
            middle, low, high = self.unknown
            if self.unknown_name == "torque_factor":
                text += f" by {_percent(1 - middle)} ({_percent(1 - high)} to {_percent(1 - low)})"
            elif self.unknown_name == "capacity_factor":
                text += f": capacity {middle:.2f} times the sheet ({low:.2f} to {high:.2f})"
            elif self.unknown_name == "turbine_speed_ratio":
                text += f": turbine turning at {middle:.2f} of impeller speed"
                text += f" ({low:.2f} to {high:.2f})"
        if self.fits:
            unit = show(0.0, "angular_speed", system)[1]
            speeds = []
            for span in self.fits:
                if span is None:
                    speeds.append("idle, not coming up")
                    continue
                a, b = (show(v, "angular_speed", system)[0] for v in span)
                speeds.append(f"{a:.0f} to {b:.0f} {unit}")
            text += (
                f"; of such machines those that fit best read {', '.join(dict.fromkeys(speeds))}"
            )
        if self.entries:
            text += "; explained by " + ", ".join(
                f"{name} ({100 * share:.1f} %)" for name, share in self.entries
            )
        return f"{text}; {self.detail}" if self.detail else text

    def to_dict(self) -> dict[str, Any]:
        """Return plain data with the unit in each key."""
        return {
            "code": self.code,
            "title": self.title,
            "share": self.share,
            "weight": self.weight,
            "log_likelihood": self.log_likelihood if np.isfinite(self.log_likelihood) else None,
            "unknown": (
                None
                if self.unknown is None
                else {
                    "name": self.unknown_name,
                    **dict(zip(("median", "p05", "p95"), self.unknown, strict=True)),
                }
            ),
            "would_read_rpm": [plain(speed, "rpm") for speed in self.would_read],
            "would_read_span_rpm": [_span(span) for span in self.would_read_span],
            "fits_span_rpm": None if self.fits is None else [_span(span) for span in self.fits],
            "detail": self.detail,
            "entries": [{"id": name, "share": share} for name, share in self.entries],
            "words": self.words("si"),
        }


@dataclass(frozen=True, eq=False)
class StallDiagnosis:
    """Ranked findings from readings.

    Parameters
    ----------
    setup : StallSetup
    judged : tuple of Judged
        Every reading as given, void ones too.
    findings : tuple of Finding
        The likeliest first; never empty.
    together : Together or None
        Torque and capacity told apart by combined tests, and how well they fit.
    next_check : NextCheck
    notes : tuple of Note
    """

    setup: StallSetup
    judged: tuple[Judged, ...]
    findings: tuple[Finding, ...]
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
    def separated(self) -> Separated | None:
        """Torque and capacity told apart; None where the readings cannot, or contradict it."""
        told = self.together
        return told.separated if told is not None and told.believable else None

    def inversion_words(self, system: System) -> list[str]:
        """Return what explains the readings, one line each."""
        lines = []
        for item in self.judged:
            if item.inversion is None or item.place == "void":
                continue
            lines.append(f"{item.label}: {item.inversion.words()}")
        if self.separated is not None:
            s = self.separated
            lines.append(
                f"all tests together: torque {_percent(s.torque_factor)} "
                f"± {_percent(2 * s.torque_sigma)}, capacity {s.capacity_factor:.3f} "
                f"± {2 * s.capacity_sigma:.3f} times the sheet (two standard errors)"
            )
        elif self.together is not None:
            lines.append(f"all tests together: {self._contradiction(self.together, system)}")
        elif self._asks_for_more:
            lines.append("one kind of test cannot tell torque from capacity: see the combined test")
        return lines

    @property
    def _asks_for_more(self) -> bool:
        """Whether a combined test could tell more: not where there is nothing sound to tell."""
        told = [item.inversion for item in self.judged if item.inversion is not None]
        sound = all(item.band.ends is not None for item in self.judged)
        sound = sound and any(t.torque is not None or t.capacity is not None for t in told)
        return sound and len({item.reading.test for item in self.judged}) < 2

    def _contradiction(self, told: Together, system: System) -> str:
        """Return why torque and capacity of all tests together are not given."""
        if told.fits:
            spans = reason_words("torque, capacity")
            return f"no torque and capacity within reason explain them ({spans})"
        speed, unit = show(told.worst.engine_speed, "angular_speed", system)
        return (
            "the readings do not fit one torque and one capacity: "
            f"{repeat_words(told.worst, self.judged)} ({label_of(told.worst)}, {speed:.0f} {unit})"
        )

    def to_dict(self) -> dict[str, Any]:
        """Return plain data that JSON can carry."""
        told = self.separated
        return {
            "readings": [item.to_dict() for item in self.judged],
            "findings": [item.to_dict() for item in self.findings],
            "separated": (
                None if told is None else {**vars(told), "residuals": list(told.residuals)}
            ),
            "tests_together": None if self.together is None else _fit(self.together),
            "next_check": dict(vars(self.next_check)),
            "scoring": SCORING,
            "notes": [note_plain(note) for note in self.notes],
        }

    def text(self, system: System = "si") -> str:
        """Return the diagnosis as lines for a console."""
        from converter_match.judgement.stall.text import diagnosis_text

        return diagnosis_text(self, system)

    def __repr__(self) -> str:
        return self.text()


def repeat_words(worst: StallReading, judged: Sequence[Judged]) -> str:
    """Return what to do about the reading that lies farthest off: nothing that is not safe."""
    if any(item.reading is worst and item.band.ends is None for item in judged):
        return "do not repeat the worst one, check data and parts"
    return "repeat the worst one"


def _fit(told: Together) -> dict[str, Any]:
    return {
        "misfit": told.separated.misfit,
        "misfit_at_most": told.most,
        "fits": told.fits,
        "worst": label_of(told.worst),
    }


def _span(span: tuple[float, float] | None) -> list[float] | None:
    return None if span is None else [rpm(span[0]), rpm(span[1])]


def _percent(share: float) -> str:
    return f"{100 * share:.1f} %"
