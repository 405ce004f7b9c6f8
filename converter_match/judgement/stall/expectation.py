"""What stall speed to expect of this machine today: a band with its coverage, never one number."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from converter_match.answer.block import Block, Facts, Heading, NoValue, facts_of, row_of
from converter_match.answer.noted import Answer
from converter_match.answer.plain import plain
from converter_match.components.reading import Test
from converter_match.curves import FloatArray
from converter_match.judgement.conditions.air import site_note
from converter_match.judgement.match.result import MatchResult
from converter_match.judgement.match.solve import solve
from converter_match.judgement.stall import words
from converter_match.judgement.stall.band import (
    AS_ON_SHEETS,
    CANNOT_LEAVE_IDLE,
    HIGH,
    LOW,
    Band,
    band_of,
    combined_bands,
    drawn_speeds,
)
from converter_match.judgement.stall.draws import NUISANCES
from converter_match.judgement.stall.estimate import stall_estimate
from converter_match.judgement.stall.gears import TABLE, GearTest, gear_notes, gear_tests
from converter_match.judgement.stall.hold import StallHold, hold_in_band
from converter_match.judgement.stall.notes import no_band_note, setup_notes, stuck_notes
from converter_match.judgement.stall.result import PUBLISHED
from converter_match.judgement.stall.setup import StallSetup
from converter_match.notes import Note
from converter_match.physics.engine.supply import TorqueSupply
from converter_match.physics.stall.settling import density_factor, elasticity, settling_speed
from converter_match.units import in_plain, note_plain

# 95 % of a normal error lie within so many standard errors.
_TWO_SIDED_95 = 1.959964
_SIGNED_SPEED = Heading("stall_speed_change", "", "angular_speed", "+.0f")
_TEMPERATURE = Heading("temperature", "", "temperature")
_AIR_TEMPERATURE = Heading("air_temperature", "", "temperature")
_HALF_WIDTH = Heading("", "", "angular_speed")
_IDLE = (
    Heading("engine_speed", "", "angular_speed"),
    Heading("input_torque", "", "torque"),
    Heading("turbine_torque", "", "torque"),
    Heading("heat", "", "power"),
)
_DOWN_TO_IDLE = NoValue("down to idle")


@dataclass(frozen=True)
class Contribution:
    """How much one unknown adds to the width of the band.

    Parameters
    ----------
    name : str
    half_width : float or None
        At 95 % if it were the only one [rad/s]; None where a machine at its ends cannot accelerate
        from idle.
    """

    name: str
    half_width: float | None


@dataclass(frozen=True, eq=False)
class StallExpectation(Answer):
    """The band of a machine, and what goes with it.

    Parameters
    ----------
    setup : StallSetup
    match : MatchResult
        The full match, in oil as on the converter's sheet.
    band : Band
        Converter stall.
    combined : mapping
        Test -> band, for tests with the pumps at relief; empty where their torque is not known.
    contributions : tuple of Contribution
    elasticity : float or None
        e = dlnT/dlnN of the net torque in the middle of the band.
    oil_factor : float
        Capacity in today's oil / on the sheet.
    oil_effect : float or None
        What that does to the stall speed [rad/s]; None where there is no stall to compare.
    site_effect : float or None
        What the air does to it [rad/s]; None where there is no stall to compare.
    hold : StallHold
    gears : tuple of GearTest
        From the highest gear down; empty without a driveline.
    notes : tuple of Note
    """

    setup: StallSetup
    match: MatchResult
    band: Band
    combined: Mapping[Test, Band]
    contributions: tuple[Contribution, ...]
    elasticity: float | None
    oil_factor: float
    oil_effect: float | None
    site_effect: float | None
    hold: StallHold
    gears: tuple[GearTest, ...]
    notes: tuple[Note, ...]

    @property
    def stalls(self) -> bool:
        """Whether a healthy machine accelerates from idle in gear: there is a stall speed."""
        return self.band.ends is not None

    @property
    def stuck_share(self) -> float:
        """Share of healthy machines that cannot accelerate from idle in gear."""
        return self.band.stuck_share

    @property
    def bands(self) -> dict[Test, Band]:
        """The band of every test."""
        return {"converter": self.band, **self.combined}

    def blocks(self) -> Sequence[Block]:
        """Return conditions, bands, what adds to their width, and the hold."""
        setup, idle = self.setup, self.match.idle
        return (
            Block("", above=(words.STALL_TEST,), in_plain=False),
            Block(
                "",
                f"{setup.engine.name}  +  {setup.converter.title}",
                facts=(
                    (Heading("", "site"), site_note(self.match.site)),
                    (_TEMPERATURE.keyed("").said("oil"), setup.oil),
                ),
                in_plain=False,
            ),
            *self._plain_conditions(),
            *stall_estimate(setup, self.gears),
            self._bands(),
            self._gears(),
            Block("expected", facts=self.band.facts(), in_text=False),
            Block("expected_combined", in_text=False),
            *(
                Block(f"expected_combined.{test}", facts=band.facts(), in_text=False)
                for test, band in self.combined.items()
            ),
            *self._contributions(),
            *self.hold.parts("hold"),
            Block(
                "",
                facts=(
                    (PUBLISHED, setup.published),
                    (CANNOT_LEAVE_IDLE, self.stuck_share),
                    (Heading("elasticity", ""), self.elasticity),
                ),
                in_text=False,
            ),
            Block("idle_in_gear", facts=facts_of(idle, _IDLE) if idle else None, in_text=False),
        )  # fmt: skip

    def _plain_conditions(self) -> tuple[Block, ...]:
        setup, site = self.setup, self.match.site
        blocks = [
            Block(name, facts=((Heading("id", ""), part.id),
                               (Heading("fingerprint", ""), part.fingerprint())))
            for name, part in (("engine", setup.engine), ("converter", setup.converter))
        ]  # fmt: skip
        machine = setup.machine.id if setup.machine else None
        air = site.air.temperature if site.air else None
        blocks += [
            Block("", facts=((Heading("machine", ""), machine),)),
            Block(
                "site",
                facts=(
                    (Heading("method", ""), site.method),
                    (Heading("torque_factor", ""), site.torque_factor),
                    (_AIR_TEMPERATURE, air),
                    (_SIGNED_SPEED, self.site_effect),
                ),
            ),
            Block(
                "oil",
                facts=(
                    (_TEMPERATURE, setup.oil),
                    (Heading("capacity_factor", ""), self.oil_factor),
                    (_SIGNED_SPEED, self.oil_effect),
                ),
            ),
        ]
        return tuple(replace(block, in_text=False) for block in blocks)

    def _bands(self) -> Block:
        rows = tuple(
            (words.TESTS[test] if number == 0 else words.OR_IN, low, high,
             band.middle if number == 0 else NoValue(""))
            for test, band in self.bands.items()
            for number, (low, high) in enumerate(band.parts or ((None, None),))
        )  # fmt: skip
        published = self.setup.published
        stuck = [test for test, band in self.bands.items() if band.ends is None]
        return Block(
            "",
            f"Expected engine speed, {100 * self.band.coverage:.3g} % of healthy machines",
            facts=() if published is None else ((PUBLISHED.keyed(""), published),),
            columns=(Heading("", "test"), LOW, HIGH, AS_ON_SHEETS),
            rows=rows,
            below=tuple(no_band_note(test, words.TESTS[test]) for test in stuck),
            in_plain=False,
        )

    def _gears(self) -> Block:
        known = any(test.pull is not None for test in self.gears)
        return Block(
            "gears",
            "Pull at the wheels at the highest stall speed expected, from the highest gear down",
            columns=TABLE,
            rows=tuple(row_of(test, TABLE) for test in self.gears),
            rows_key="",
            in_text=known,
        )

    def _contributions(self) -> tuple[Block, ...]:
        if not self.stalls:
            return ()
        facts: Facts = tuple(
            (
                _HALF_WIDTH.said(one.name),
                _DOWN_TO_IDLE if one.half_width is None else one.half_width,
            )
            for one in self.contributions
        )
        shifts = (
            ("shift due to air", self.site_effect),
            ("shift due to oil density", self.oil_effect),
        )
        facts += tuple(
            (_SIGNED_SPEED.keyed("").said(label), change)
            for label, change in shifts
            if change is not None
        )
        return (Block("", "Contributions (±, 95 %)", facts=facts, in_plain=False),)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data that JSON can carry; every note stands under ``notes``."""
        return plain(self.blocks()) | {
            # The name of an unknown is the whole key: no unit stands in it.
            "widened_by": {
                one.name: in_plain(one.half_width, "angular_speed") for one in self.contributions
            },
            "notes": [note_plain(note) for note in self.notes],
        }


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
    middle = band.middle
    slope = None
    if middle is not None and middle < supply.domain[1]:
        slope = float(elasticity(supply, middle))
    expectation = StallExpectation(
        setup=setup,
        match=match,
        band=band,
        combined=combined_bands(setup),
        contributions=_contributions(setup),
        elasticity=slope,
        oil_factor=float(density_factor(setup.oil)),
        oil_effect=_change(setup, middle, sheet_oil),
        site_effect=_change(setup, middle, own_air),
        hold=hold_in_band(setup, band),
        gears=gear_tests(setup, band),
        notes=(),
    )
    return replace(expectation, notes=_notes(expectation))


def supply_without_air(setup: StallSetup) -> TorqueSupply:
    """Return the supply of the engine in its own reference air."""
    return replace(setup.supply(), factor=1.0)


def _change(setup: StallSetup, now: float | None, before: FloatArray) -> float | None:
    return None if now is None or bool(setup.stuck(before)) else now - float(before)


def _contributions(setup: StallSetup) -> tuple[Contribution, ...]:
    """Each unknown alone, one 95 % half width either way."""
    rows = {"engine torque": 0, "converter capacity": 1, "air": 2, "oil temperature": 3, "loads": 4,
            "governor": 6}  # fmt: skip
    contributions = []
    for name, row in rows.items():
        draws = np.zeros((NUISANCES, 2))
        draws[row] = (-_TWO_SIDED_95, _TWO_SIDED_95)
        ends = drawn_speeds(setup, None, draws)
        stuck = bool(setup.stuck(ends).any())
        half_width = None if stuck else 0.5 * float(abs(ends[1] - ends[0]))
        contributions.append(Contribution(name, half_width))
    return (*contributions, Contribution("tachometer", setup.tolerances.reading))


def _notes(expectation: StallExpectation) -> tuple[Note, ...]:
    notes = [words.STALL_TEST, *expectation.hold.notes, words.TOWING, *expectation.match.notes]
    notes += setup_notes(expectation.setup)
    notes += stuck_notes(expectation.bands)
    if expectation.stalls:
        notes += gear_notes(expectation.setup, expectation.gears)
    notes += _shape_notes(expectation)
    return tuple(dict.fromkeys(notes))


def _shape_notes(expectation: StallExpectation) -> list[Note]:
    setup, band = expectation.setup, expectation.band
    notes: list[Note] = []
    if band.ends is None:
        return notes
    if setup.published is not None:
        low, high = setup.published
        if not any(first <= high and last >= low for first, last in band.parts):
            notes.append(words.note("published-elsewhere", low=low, high=high))
    return notes
