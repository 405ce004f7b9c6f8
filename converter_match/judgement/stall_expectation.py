"""What stall speed to expect of this machine today: a band with its coverage, never one number."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from converter_match.components.reading import StallReading, Test
from converter_match.curves import FloatArray
from converter_match.judgement.match_result import MatchResult
from converter_match.judgement.noted import Noted
from converter_match.judgement.pairing import solve
from converter_match.judgement.plain_data import plain, rpm
from converter_match.judgement.stall_cautions import STALL_TEST, TOWING
from converter_match.judgement.stall_draws import normal_draws
from converter_match.judgement.stall_hold import HoldAdvice, hold_advice
from converter_match.judgement.stall_notes import setup_notes
from converter_match.judgement.stall_setup import StallSetup
from converter_match.notes import Note
from converter_match.physics.stall import density_factor, elasticity, settling_speed
from converter_match.physics.supply import TorqueSupply
from converter_match.units import quantity_note

_SPLIT_SHARE = 0.01


@dataclass(frozen=True)
class Share:
    """How much one unknown widens the band.

    Parameters
    ----------
    name : str
    half_width : float
        At 95 % if it were the only one [rad/s].
    """

    name: str
    half_width: float


@dataclass(frozen=True, eq=False)
class Band:
    """Where a reading of a healthy machine lies, SI units.

    Parameters
    ----------
    middle : float
        With everything as on the sheets [rad/s].
    low, high : float
        Ends of the band, tachometer included [rad/s].
    coverage : float
        Share of healthy machines that read inside.
    """

    middle: float
    low: float
    high: float
    coverage: float

    def to_dict(self) -> dict[str, float]:
        """Return plain data; rpm."""
        return {
            "as_on_the_sheets_rpm": rpm(self.middle),
            "low_rpm": rpm(self.low),
            "high_rpm": rpm(self.high),
            "coverage": self.coverage,
        }


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
    stuck_share : float
        Share of healthy machines that would not come up from idle at all.
    elasticity : float or None
        e = dlnT/dlnN of the net torque in the middle of the band.
    oil_factor : float
        Capacity in today's oil / on the sheet.
    oil_effect : float
        What that does to the stall speed [rad/s].
    site_effect : float
        What the air does to it [rad/s].
    hold : HoldAdvice
    notes : tuple of Note
    """

    setup: StallSetup
    match: MatchResult
    band: Band
    combined: dict[str, Band]
    shares: tuple[Share, ...]
    stuck_share: float
    elasticity: float | None
    oil_factor: float
    oil_effect: float
    site_effect: float
    hold: HoldAdvice
    notes: tuple[Note, ...]

    @property
    def stalls(self) -> bool:
        """Whether a healthy machine comes up from idle in gear, so that there is a stall speed."""
        return self.stuck_share <= 0.5

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
                "stall_speed_change_rpm": rpm(self.site_effect),
            },
            "oil": {
                "temperature_degc": plain(setup.oil, "degc"),
                "capacity_factor": self.oil_factor,
                "stall_speed_change_rpm": rpm(self.oil_effect),
            },
            "expected": self.band.to_dict(),
            "expected_combined": {name: b.to_dict() for name, b in self.combined.items()},
            "published_rpm": [rpm(s) for s in setup.published] if setup.published else None,
            "widened_by": {share.name: rpm(share.half_width) for share in self.shares},
            "share_that_cannot_leave_idle": self.stuck_share,
            "elasticity": self.elasticity,
            "idle_in_gear": idle.to_dict() if idle else None,
            "hold": self.hold.to_dict(),
            "notes": [note.to_dict() for note in self.notes],
        }

    def text(self, system: str = "si") -> str:
        """Return the expectation as lines for a console."""
        from converter_match.judgement.stall_text import expectation_text

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
    The unknowns are drawn (Sobol, fixed seed), each draw is solved by `physics.matching` as the
    machine would do it, coming up from idle, and the band are quantiles: where a small change makes
    the stall speed jump, no linear rule would show it.
    """
    match = solve(
        setup.engine, setup.converter, site=setup.site, hydraulic_torque=setup.hydraulic_torque
    )
    speeds = drawn_speeds(setup, None)
    band = _band(setup, None, speeds)
    supply = setup.supply()
    low, high = supply.domain
    cold = float(settling_speed(supply, setup.stall_capacity))
    plain = float(settling_speed(supply_without_air(setup), setup.capacity()))
    heat = setup.capacity() * band.high**3  # the oil is not to be hotter than thought
    inside = low < band.middle < high
    hold = hold_advice(setup, heat)
    found = StallExpectation(
        setup=setup,
        match=match,
        band=band,
        combined=_combined(setup),
        shares=_shares(setup),
        stuck_share=float(np.mean(speeds <= low * (1 + 1e-9))),
        elasticity=float(elasticity(supply, band.middle)) if inside else None,
        oil_factor=float(density_factor(setup.oil)),
        oil_effect=band.middle - cold,
        site_effect=band.middle - plain,
        hold=hold,
        notes=(),
    )
    return replace(found, notes=_notes(found, speeds))


def supply_without_air(setup: StallSetup) -> TorqueSupply:
    """Return the supply of the engine in its own reference air."""
    return replace(setup.supply(), factor=1.0)


def drawn_speeds(
    setup: StallSetup, reading: StallReading | None, draws: FloatArray | None = None
) -> FloatArray:
    """Return what healthy machines settle at under the conditions of a reading [rad/s], (n,)."""
    normal = normal_draws() if draws is None else draws
    torque, capacity = setup.factors(normal)
    middle = float(setup.settled(reading, np.ones(1), np.ones(1))[0])
    torque = np.maximum(torque - setup.load_error(reading, middle, normal[4]), 0.05)
    return setup.settled(reading, torque, capacity)


def _band(setup: StallSetup, reading: StallReading | None, speeds: FloatArray) -> Band:
    tail = 0.5 * (1.0 - setup.coverage)
    read = speeds + setup.reading_sigma() * normal_draws(speeds.size)[5]
    low, high = np.quantile(read, [tail, 1.0 - tail])
    middle = float(setup.settled(reading, np.ones(1), np.ones(1))[0])
    return Band(middle, float(low), float(high), setup.coverage)


def band_for(setup: StallSetup, reading: StallReading) -> Band:
    """Return the band under the conditions of one reading: its oil, air, test and pump."""
    return _band(setup, reading, drawn_speeds(setup, reading))


def _combined(setup: StallSetup) -> dict[str, Band]:
    if setup.relief_torque is None:
        return {}
    anything = setup.engine.rated_speed
    tests: tuple[Test, ...] = ("hydraulic", "both")
    return {name: band_for(setup, StallReading(engine_speed=anything, test=name)) for name in tests}


def _shares(setup: StallSetup) -> tuple[Share, ...]:
    """Each unknown alone, one 95 % half width either way."""
    names = ("engine torque", "converter capacity", "air", "oil temperature", "loads")
    found = []
    for row, name in enumerate(names):
        draws = np.zeros((6, 2))
        draws[row] = (-1.959964, 1.959964)
        ends = drawn_speeds(setup, None, draws)
        found.append(Share(name, 0.5 * float(abs(ends[1] - ends[0]))))
    found.append(Share("tachometer", setup.tolerances.reading))
    return tuple(found)


def _notes(found: StallExpectation, speeds: FloatArray) -> tuple[Note, ...]:
    setup = found.setup
    notes: list[Note] = [STALL_TEST, *found.hold.notes, TOWING, *found.match.notes]
    notes += setup_notes(setup)
    notes += _shape_notes(found, speeds)
    return tuple(dict.fromkeys(notes))


def _shape_notes(found: StallExpectation, speeds: FloatArray) -> list[Note]:
    setup, band = found.setup, found.band
    notes = []
    if found.stuck_share > 0 and found.match.stall is not None:
        notes.append(
            Note(
                "may-not-leave-idle",
                f"{100 * found.stuck_share:.0f} of 100 healthy machines of these tolerances would "
                "not come up from idle in gear.",
            )
        )
    ordered = np.sort(speeds)
    steps = np.diff(ordered)
    kept = int(_SPLIT_SHARE * ordered.size)
    inner = steps[kept : ordered.size - kept]
    if inner.size and inner.max() > 0.08 * band.middle:
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
        if band.high < low or band.low > high:
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
