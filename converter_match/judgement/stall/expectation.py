"""What stall speed to expect of this machine today: a band with its coverage, never one number."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from converter_match.answer.noted import Noted
from converter_match.curves import FloatArray
from converter_match.judgement.answer.plain import plain, rpm
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.match.solve import solve
from converter_match.judgement.stall.band import Band, band_of, combined_bands, drawn_speeds
from converter_match.judgement.stall.cautions import STALL_TEST, TOWING
from converter_match.judgement.stall.hold import HoldAdvice, hold_advice
from converter_match.judgement.stall.notes import setup_notes
from converter_match.judgement.stall.setup import StallSetup
from converter_match.notes import Note
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.stall.settling import density_factor, elasticity, settling_speed
from converter_match.units import note_plain, quantity_note

_SPLIT_SHARE = 0.01
_AT_RELIEF = {
    "hydraulic": "in neutral with the pumps at relief",
    "both": "in gear with the pumps at relief",
}


@dataclass(frozen=True)
class Share:
    """How much one unknown widens the band.

    Parameters
    ----------
    name : str
    half_width : float or None
        At 95 % if it were the only one [rad/s]; None where a machine at its ends does not come up
        from idle.
    """

    name: str
    half_width: float | None


@dataclass(frozen=True, eq=False)
class StallExpectation(Noted):
    """The band of a machine, and what goes with it.

    Parameters
    ----------
    setup : StallSetup
    match : MatchResult
        The full match, in oil as on the converter's sheet.
    band : Band
        Converter stall.
    combined : dict
        Name of the test -> band, for tests with the pumps at relief; empty where their torque is
        not known.
    shares : tuple of Share
    elasticity : float or None
        e = dlnT/dlnN of the net torque in the middle of the band.
    oil_factor : float
        Capacity in today's oil / on the sheet.
    oil_effect : float or None
        What that does to the stall speed [rad/s]; None where there is no stall to compare.
    site_effect : float or None
        What the air does to it [rad/s]; None where there is no stall to compare.
    hold : HoldAdvice
    notes : tuple of Note
    """

    setup: StallSetup
    match: MatchResult
    band: Band
    combined: dict[str, Band]
    shares: tuple[Share, ...]
    elasticity: float | None
    oil_factor: float
    oil_effect: float | None
    site_effect: float | None
    hold: HoldAdvice
    notes: tuple[Note, ...]

    @property
    def stalls(self) -> bool:
        """Whether a healthy machine comes up from idle in gear, so that there is a stall speed."""
        return self.band.ends is not None

    @property
    def stuck_share(self) -> float:
        """Share of healthy machines that would not come up from idle in gear."""
        return self.band.stuck_share

    def to_dict(self) -> dict[str, Any]:
        """Return plain data that JSON can carry."""
        setup = self.setup
        idle, air = self.match.idle, self.match.site.air
        return {
            "engine": {"id": setup.engine.id, "fingerprint": setup.engine.fingerprint()},
            "converter": {"id": setup.converter.id, "fingerprint": setup.converter.fingerprint()},
            "machine": setup.machine.id if setup.machine else None,
            "site": {
                "method": self.match.site.method,
                "torque_factor": self.match.site.torque_factor,
                "air_temperature_degc": plain(air.temperature, "degc") if air else None,
                "stall_speed_change_rpm": plain(self.site_effect, "rpm"),
            },
            "oil": {
                "temperature_degc": plain(setup.oil, "degc"),
                "capacity_factor": self.oil_factor,
                "stall_speed_change_rpm": plain(self.oil_effect, "rpm"),
            },
            "expected": self.band.to_dict(),
            "expected_combined": {name: b.to_dict() for name, b in self.combined.items()},
            "published_rpm": [rpm(s) for s in setup.published] if setup.published else None,
            "widened_by": {s.name: plain(s.half_width, "rpm") for s in self.shares},
            "share_that_cannot_leave_idle": self.stuck_share,
            "elasticity": self.elasticity,
            "idle_in_gear": idle.to_dict() if idle else None,
            "hold": self.hold.to_dict(),
            "notes": [note_plain(note) for note in self.notes],
        }

    def text(self, system: str = "si") -> str:
        """Return the expectation as lines for a console."""
        from converter_match.judgement.stall.text import expectation_text

        return expectation_text(self, "us" if system == "us" else "si")

    def __repr__(self) -> str:
        return self.text()


def expect(setup: StallSetup) -> StallExpectation:
    """Return the stall speed to expect.

    Parameters
    ----------
    setup : StallSetup

    Returns
    -------
    StallExpectation

    Raises
    ------
    InputError
        If the pair cannot be matched at all, as `pairing.solve`.

    Notes
    -----
    The unknowns are drawn (Sobol, fixed seed), each draw is solved by `physics.match.solver` as the
    machine would do it, coming up from idle, and the band are quantiles: where a small change makes
    the stall speed jump, no linear rule would show it.
    """
    match = solve(
        setup.engine, setup.converter, site=setup.site, hydraulic_torque=setup.hydraulic_torque
    )
    speeds = drawn_speeds(setup, None)
    band = band_of(setup, None, speeds)
    supply = setup.supply()
    sheet_oil = settling_speed(supply, setup.stall_capacity)
    own_air = settling_speed(supply_without_air(setup), setup.capacity())
    # The upper end: the oil is not to be hotter than thought.
    heat = None if band.high is None else setup.capacity() * band.high**3
    middle = band.middle
    slope = None
    if middle is not None and middle < supply.domain[1]:
        slope = float(elasticity(supply, middle))
    found = StallExpectation(
        setup=setup,
        match=match,
        band=band,
        combined=combined_bands(setup),
        shares=_shares(setup),
        elasticity=slope,
        oil_factor=float(density_factor(setup.oil)),
        oil_effect=_change(setup, middle, sheet_oil),
        site_effect=_change(setup, middle, own_air),
        hold=hold_advice(setup, heat),
        notes=(),
    )
    return replace(found, notes=_notes(found, speeds))


def supply_without_air(setup: StallSetup) -> TorqueSupply:
    """Return the supply of the engine in its own reference air."""
    return replace(setup.supply(), factor=1.0)


def _change(setup: StallSetup, now: float | None, before: FloatArray) -> float | None:
    return None if now is None or bool(setup.stuck(before)) else now - float(before)


def _shares(setup: StallSetup) -> tuple[Share, ...]:
    """Each unknown alone, one 95 % half width either way."""
    names = ("engine torque", "converter capacity", "air", "oil temperature", "loads")
    found = []
    for row, name in enumerate(names):
        draws = np.zeros((6, 2))
        draws[row] = (-1.959964, 1.959964)
        ends = drawn_speeds(setup, None, draws)
        stuck = bool(setup.stuck(ends).any())
        found.append(Share(name, None if stuck else 0.5 * float(abs(ends[1] - ends[0]))))
    found.append(Share("tachometer", setup.tolerances.reading))
    return tuple(found)


def _notes(found: StallExpectation, speeds: FloatArray) -> tuple[Note, ...]:
    setup = found.setup
    notes: list[Note] = [STALL_TEST, *found.hold.notes, TOWING, *found.match.notes]
    notes += setup_notes(setup)
    notes += _stuck_notes(found)
    notes += _shape_notes(found, speeds)
    return tuple(dict.fromkeys(notes))


def _stuck_notes(found: StallExpectation) -> list[Note]:
    tests = [("", "in gear", found.band)]
    tests += [(f"-{name}", _AT_RELIEF[name], band) for name, band in found.combined.items()]
    notes = []
    for code, where, band in tests:
        if band.stuck_share <= 0.0:
            continue
        words = (
            f"{band.stuck_words} of 100 healthy machines of these tolerances would "
            f"not come up from idle {where}"
        )
        if band.ends is None:
            words += ": that test is not to be done."
            notes.append(Note(f"does-not-leave-idle{code}", words, "limit"))
        else:
            words += "; they are left out of the band."
            notes.append(Note(f"may-not-leave-idle{code}", words))
    return notes


def _shape_notes(found: StallExpectation, speeds: FloatArray) -> list[Note]:
    setup, band = found.setup, found.band
    notes: list[Note] = []
    if band.ends is None:
        return notes
    bottom, top = band.ends
    ordered = np.sort(speeds[~setup.stuck(speeds)])
    steps = np.diff(ordered)
    kept = int(_SPLIT_SHARE * ordered.size)
    inner = steps[kept : ordered.size - kept]
    middle = 0.5 * (bottom + top) if band.middle is None else band.middle
    if inner.size and inner.max() > 0.08 * middle:
        at = kept + int(np.argmax(inner))
        notes.append(
            quantity_note(
                "band-in-two-parts",
                "The band is in two parts, with nothing between {low} and {high}: within the "
                "tolerances the stall speed jumps from one intersection to another.",
                "warning",
                low=(float(ordered[at]), "angular_speed", ".0f"),
                high=(float(ordered[at + 1]), "angular_speed", ".0f"),
            )
        )
    if setup.published is not None:
        low, high = setup.published
        if top < low or bottom > high:
            notes.append(
                quantity_note(
                    "published-elsewhere",
                    "The maker's published span, {low} to {high}, and the expected band do not "
                    "meet: engine, converter, rating basis or conditions on the sheets are not "
                    "those of the machine. The published span comes first.",
                    "warning",
                    low=(low, "angular_speed", ".0f"),
                    high=(high, "angular_speed", ".0f"),
                )
            )
    return notes
