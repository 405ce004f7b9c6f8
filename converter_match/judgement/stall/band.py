"""Where a reading of a healthy machine lies: a band, or that there is nothing to read."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from converter_match.answer.block import Facts, Heading
from converter_match.components.reading import StallReading, Test
from converter_match.curves import FloatArray
from converter_match.judgement.stall.draws import NUISANCES, normal_draws
from converter_match.judgement.stall.setup import StallSetup

Place = Literal["below", "inside", "above", "outside", "void", "no-band"]

AS_ON_SHEETS = Heading("as_on_the_sheets", "as on the sheets", "angular_speed")
LOW = Heading("low", "from", "angular_speed")
HIGH = Heading("high", "to", "angular_speed")
_COVERAGE = Heading("coverage", "")
_GAP = Heading("gap", "", "angular_speed")
# Two parts of a band: so far apart, of the middle, and neither rarer than this.
_SPLIT, _RAREST = 0.08, 0.01
CANNOT_LEAVE_IDLE = Heading("share_that_cannot_leave_idle", "")
# A test that fewer healthy machines than this can do is no test.
_FEWEST_THAT_STALL = 0.5


@dataclass(frozen=True, eq=False)
class Band:
    """Where a reading of a healthy machine lies, SI units.

    Parameters
    ----------
    middle : float or None
        With everything as on the sheets [rad/s]; None where that cannot accelerate from idle.
    low, high : float or None
        Ends of the band of those that accelerate from idle, tachometer included [rad/s]; None where
        most cannot.
    coverage : float
        Share of healthy machines, of those that accelerate from idle, that read inside.
    stuck_share : float
        Share of healthy machines that cannot accelerate from idle in this test.
    gap : tuple of float or None
        Between the parts of a band in two parts, where no healthy machine reads [rad/s].
    """

    middle: float | None
    low: float | None
    high: float | None
    coverage: float
    stuck_share: float = 0.0
    gap: tuple[float, float] | None = None

    @property
    def parts(self) -> tuple[tuple[float, float], ...]:
        """The parts of the band, one or two, rising [rad/s]; none where there is no test."""
        if self.low is None or self.high is None:
            return ()
        if self.gap is None:
            return ((self.low, self.high),)
        return ((self.low, self.gap[0]), (self.gap[1], self.high))

    @property
    def ends(self) -> tuple[float, float] | None:
        """Both ends [rad/s]; None where there is nothing to test."""
        return None if self.low is None or self.high is None else (self.low, self.high)

    @property
    def stuck_count(self) -> str:
        """The stuck share as a count of 100, never rounded to none or all."""
        count = round(100 * self.stuck_share)
        if count < 1:
            return "fewer than 1"
        return "more than 99" if count > 99 and self.stuck_share < 1.0 else str(count)

    def place(self, speed: float) -> Place:
        """Return where a speed [rad/s] lies: below, inside, above, or that there is no band.

        ``outside`` is between the parts of a band in two.
        """
        if self.ends is None:
            return "no-band"
        if self.gap is not None and self.gap[0] < speed < self.gap[1]:
            return "outside"
        return place_in(speed, *self.ends)

    def facts(self) -> Facts:
        """Return the band as facts."""
        return (
            (AS_ON_SHEETS, self.middle),
            (LOW, self.low),
            (HIGH, self.high),
            (_GAP, self.gap),
            (_COVERAGE, self.coverage),
            (CANNOT_LEAVE_IDLE, self.stuck_share),
        )


def place_in(speed: float, low: float, high: float) -> Place:
    """Return ``below``, ``inside`` or ``above``."""
    return "below" if speed < low else "above" if speed > high else "inside"


def drawn_speeds(
    setup: StallSetup, reading: StallReading | None, draws: FloatArray | None = None
) -> FloatArray:
    """Return what healthy machines settle at under the conditions of a reading [rad/s], (n,).

    Those that cannot accelerate from idle stand at low idle: `StallSetup.stuck` knows them.
    """
    normal = normal_draws() if draws is None else draws
    torque, capacity = setup.factors(normal)
    middle = float(setup.settled(reading, np.ones(1), np.ones(1))[0])
    return setup.settled(
        reading,
        torque,
        capacity,
        load=setup.extra_load(reading, middle, normal[4]),
        shift=setup.governor_shift(normal[6]),
        about=middle,
    )


def _stuck(
    setup: StallSetup, reading: StallReading | None, speeds: FloatArray, draws: FloatArray | None
) -> NDArray[np.bool_]:
    stuck = setup.stuck(speeds)
    if reading is not None and reading.test == "both":
        # What lugs down in gear does so with the pumps at relief on top.
        alone = replace(reading, test="converter", pump=None)
        stuck = stuck | setup.stuck(drawn_speeds(setup, alone, draws))
    return stuck


def band_of(setup: StallSetup, reading: StallReading | None, speeds: FloatArray) -> Band:
    """Return the band of speeds that were drawn by `drawn_speeds`."""
    stuck = _stuck(setup, reading, speeds, None)
    sheet = np.zeros((NUISANCES, 1))
    on_sheets = setup.settled(reading, np.ones(1), np.ones(1))
    lugs = bool(_stuck(setup, reading, on_sheets, sheet)[0])
    middle = None if lugs else float(on_sheets[0])
    return spread_of(
        speeds, middle, stuck=stuck, sigma=setup.reading_sigma(), coverage=setup.coverage
    )


def spread_of(
    speeds: FloatArray,
    middle: float | None,
    *,
    stuck: NDArray[np.bool_],
    sigma: float,
    coverage: float,
) -> Band:
    """Return the band of drawn speeds, the error of the tachometer laid over them.

    Parameters
    ----------
    speeds : ndarray, shape (n,)
        Drawn with the rows of `normal_draws` [rad/s].
    middle : float or None
        As on the sheets [rad/s].
    stuck : ndarray of bool, shape (n,)
        Which of them are no stall speeds.
    sigma : float
        Standard error of a reading [rad/s].
    coverage : float
    """
    tail, share = 0.5 * (1.0 - coverage), float(np.mean(stuck))
    if share > _FEWEST_THAT_STALL:
        return Band(middle, None, None, coverage, share)
    read = speeds + sigma * normal_draws(speeds.size)[5]
    split = _jump(speeds[~stuck])
    if split is not None:
        # Each part holds its share of the coverage: together they hold the whole of it.
        lower = ~stuck & (speeds <= split)
        low, first = np.quantile(read[lower], [tail, 1.0 - tail])
        second, high = np.quantile(read[~stuck & ~lower], [tail, 1.0 - tail])
        if first < second:
            gap = float(first), float(second)
            return Band(middle, float(low), float(high), coverage, share, gap)
    low, high = np.quantile(read[~stuck], [tail, 1.0 - tail])
    return Band(middle, float(low), float(high), coverage, share)


def _jump(speeds: FloatArray) -> float | None:
    """Return the highest speed below a jump in drawn speeds [rad/s]; None where there is none."""
    ordered = np.sort(speeds)
    kept = max(int(_RAREST * ordered.size), 1)
    inner = np.diff(ordered)[kept - 1 : ordered.size - kept]
    if not inner.size:
        return None
    at = kept - 1 + int(np.argmax(inner))
    wide = _SPLIT * 0.5 * float(ordered[0] + ordered[-1])
    return float(ordered[at]) if float(ordered[at + 1] - ordered[at]) > wide else None


def band_for(setup: StallSetup, reading: StallReading) -> Band:
    """Return the band under the conditions of one reading: its oil, air, test and pump."""
    return band_of(setup, reading, drawn_speeds(setup, reading))


def combined_bands(setup: StallSetup) -> dict[Test, Band]:
    """Return the bands of the tests with the pumps at relief; empty where it is not known."""
    if setup.relief_torque is None:
        return {}
    any_speed = setup.engine.rated_speed
    tests: tuple[Test, ...] = ("hydraulic", "both")
    return {
        test: band_for(setup, StallReading(engine_speed=any_speed, test=test)) for test in tests
    }
