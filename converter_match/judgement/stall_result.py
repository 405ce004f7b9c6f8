"""The answer of a stall test: readings beside their bands, findings with numbers, what is next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from converter_match.components.reading import StallReading
from converter_match.judgement.plain_data import plain, rpm
from converter_match.judgement.stall_checks import NextCheck
from converter_match.judgement.stall_expectation import Band
from converter_match.judgement.stall_inversion import Inversion
from converter_match.judgement.stall_setup import StallSetup
from converter_match.notes import Note
from converter_match.physics.stall import Separated
from converter_match.units import System, show

SCORING = (
    "Each finding is a small model of the machine with one unknown of its own. Machines are drawn "
    "within the tolerances (normal errors, stated half widths), each is solved for the speed it "
    "would show at every reading, and the likelihood of the finding is the mean, over the draws, "
    "of the product of normal densities of all readings about those speeds, with the stated error "
    "of a reading. Shares are likelihood times weight, over all findings."
)


@dataclass(frozen=True, eq=False)
class Judged:
    """One reading beside its band.

    Parameters
    ----------
    reading : StallReading
    band : Band
        In the oil, air and test of the reading.
    place : {"below", "inside", "above", "void"}
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
        parts: list[str] = [self.reading.test]
        if self.reading.gear:
            parts.append(f"gear {self.reading.gear}")
        if self.reading.brakes != "not-stated":
            parts.append("brakes " + self.reading.brakes.replace("-", " "))
        return ", ".join(parts)

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
    would_read : tuple of float
        What it would show at each reading, before they were taken: medians [rad/s].
    would_read_span : tuple of (float, float)
        5 to 95 % of that [rad/s].
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
    would_read: tuple[float, ...]
    would_read_span: tuple[tuple[float, float], ...]
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
        speeds = []
        for least, most in self.would_read_span:
            a, b = (show(v, "angular_speed", system)[0] for v in (least, most))
            speeds.append(f"{a:.0f} to {b:.0f}")
        if speeds:
            text += "; readings to be expected of it: " + ", ".join(dict.fromkeys(speeds))
            text += f" {show(0.0, 'angular_speed', system)[1]}"
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
            "would_read_rpm": [rpm(speed) for speed in self.would_read],
            "would_read_span_rpm": [[rpm(a), rpm(b)] for a, b in self.would_read_span],
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
    separated : Separated or None
        Torque and capacity told apart by combined tests.
    next_check : NextCheck
    notes : tuple of Note
    """

    setup: StallSetup
    judged: tuple[Judged, ...]
    findings: tuple[Finding, ...]
    separated: Separated | None
    next_check: NextCheck
    notes: tuple[Note, ...]

    @property
    def outside(self) -> bool:
        """Whether a reading lies outside its band or the maker's span, or is void."""
        return any(
            item.place != "inside" or item.published not in (None, "inside") for item in self.judged
        )

    def inversion_words(self, system: System) -> list[str]:
        """Return what explains the readings, one line each."""
        lines = []
        for item in self.judged:
            if item.inversion is None or item.place == "void":
                continue
            f, low, high = item.inversion.torque_factor
            line = f"{item.label}: torque {_percent(f)} of a healthy engine ({_percent(low)} to "
            line += f"{_percent(high)})"
            if item.inversion.capacity_factor is not None:
                g, low, high = item.inversion.capacity_factor
                line += f", or capacity {g:.3f} times the sheet ({low:.3f} to {high:.3f}), or both"
            lines.append(line)
        if self.separated is not None:
            s = self.separated
            lines.append(
                f"all tests together: torque {_percent(s.torque_factor)} "
                f"± {_percent(2 * s.torque_sigma)}, capacity {s.capacity_factor:.3f} "
                f"± {2 * s.capacity_sigma:.3f} times the sheet (two standard errors)"
            )
        elif lines and len({i.reading.test for i in self.judged}) < 2:
            lines.append("one kind of test cannot tell torque from capacity: see the combined test")
        return lines

    def to_dict(self) -> dict[str, Any]:
        """Return plain data that JSON can carry."""
        told = self.separated
        return {
            "readings": [item.to_dict() for item in self.judged],
            "findings": [item.to_dict() for item in self.findings],
            "separated": None if told is None else dict(vars(told)),
            "next_check": dict(vars(self.next_check)),
            "scoring": SCORING,
            "notes": [note.to_dict() for note in self.notes],
        }

    def text(self, system: System = "si") -> str:
        """Return the diagnosis as lines for a console."""
        from converter_match.judgement.stall_text import diagnosis_text

        return diagnosis_text(self, system)

    def __repr__(self) -> str:
        return self.text()


def _percent(share: float) -> str:
    return f"{100 * share:.1f} %"
