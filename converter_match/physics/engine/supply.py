"""The torque that reaches the impeller, as a function of engine speed.

``T_net(omega) = f T_full(omega) - sum of loads``: full-load torque times a factor (site air, wear,
a draw in a simulation) less accessories and hydraulics. The factor does not touch the loads: a pump
takes what it takes, whatever air the engine breathes.

Every term is a cubic between common knots, or a power law of speed. Power laws whose torque goes
with omega^0 .. omega^3 are cubics too and are merged exactly; only others are kept apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.components.engine import Accessory, Engine
from converter_match.curves import Curve, FloatArray, frozen_array, last_below
from converter_match.errors import InputError

_ROUNDING = 1e-9  # of the highest speed: a speed that a balance was worked out to may err by it
_LARGEST_TORQUE = 1e9  # N.m, beyond any engine; more would run out of what a float can hold


@dataclass(frozen=True)
class PowerLaw:
    """A load torque ``torque (omega / speed)^exponent``.

    Parameters
    ----------
    torque : float
        At `speed` [N.m].
    speed : float
        [rad/s].
    exponent : float
        Of the torque (one less than that of the power).
    """

    torque: float
    speed: float
    exponent: float

    @classmethod
    def of(cls, accessory: Accessory) -> PowerLaw:
        """Return the torque law of an accessory."""
        return cls(accessory.reference_torque, accessory.at_speed, accessory.exponent - 1.0)

    def __call__(self, omega: FloatArray) -> FloatArray:
        """Return the torque [N.m] at engine speed `omega` [rad/s]."""
        return np.asarray(self.torque * (omega / self.speed) ** self.exponent)

    def slope(self, omega: FloatArray) -> FloatArray:
        """Return d torque / d omega."""
        return np.asarray(self.exponent * self(omega) / omega)


@dataclass(frozen=True, eq=False)
class TorqueSupply:
    """Net torque at the impeller against engine speed.

    Parameters
    ----------
    source : Curve
        Torque of the engine before loads [N.m] over [rad/s].
    factor : float
        Multiplies `source`.
    constant : float
        Load torque independent of speed [N.m].
    laws : tuple of PowerLaw
        Loads that follow a power of speed.
    tables : tuple of Curve
        Loads tabulated against speed [N.m] over [rad/s].
    low : float, optional
        Lowest speed of interest (low idle) [rad/s]; the domain starts there or at the first row.

    Raises
    ------
    InputError
        If no speed is common to all terms.
    """

    source: Curve
    factor: float = 1.0
    constant: float = 0.0
    laws: tuple[PowerLaw, ...] = ()
    tables: tuple[Curve, ...] = ()
    low: float | None = None

    def __post_init__(self) -> None:
        low, high = self.domain
        if not low < high:
            raise InputError(
                "the torque curve and its loads have no speed in common",
                field="speed",
                found=f"{low:.5g} .. {high:.5g} rad/s",
            )

    @cached_property
    def domain(self) -> tuple[float, float]:
        """Lowest and highest engine speed for which the net torque is known [rad/s]."""
        starts = [curve.domain[0] for curve in (self.source, *self.tables)]
        if self.low is not None:
            starts.append(self.low)
        ends = [curve.domain[1] for curve in (self.source, *self.tables)]
        return max(starts), min(ends)

    @cached_property
    def knots(self) -> FloatArray:
        """Speeds between which every table term is one cubic [rad/s], shape (n,)."""
        low, high = self.domain
        inner = np.concatenate([curve.x for curve in (self.source, *self.tables)])
        inner = np.unique(inner[(inner > low) & (inner < high)])
        return frozen_array(np.concatenate([[low], inner, [high]]))

    @cached_property
    def source_pieces(self) -> FloatArray:
        """Cubic coefficients of the source (factor not applied) about each knot, (4, n - 1)."""
        return _recentred(self.source, self.knots)

    @cached_property
    def load_pieces(self) -> FloatArray:
        """Cubic coefficients of every load that is a cubic, about each knot, (4, n - 1)."""
        total = np.zeros_like(self.source_pieces)
        total[3] += self.constant
        for table in self.tables:
            total += _recentred(table, self.knots)
        for law in self.laws:
            if law.exponent in (0.0, 1.0, 2.0, 3.0):
                total += _cubic_of_law(law, self.knots)
        return total

    @cached_property
    def other_laws(self) -> tuple[PowerLaw, ...]:
        """Power-law loads that are not cubics."""
        return tuple(law for law in self.laws if law.exponent not in (0.0, 1.0, 2.0, 3.0))

    def piece_of(self, omega: FloatArray) -> NDArray[np.intp]:
        """Return the index of the cubic piece that holds each speed."""
        return np.clip(last_below(self.knots, omega), 0, self.knots.size - 2)

    def torque(self, omega: ArrayLike, factor: float | FloatArray = 1.0) -> FloatArray:
        """Return the net torque [N.m] at engine speed `omega` [rad/s] (any shape).

        Parameters
        ----------
        omega : array_like
            [rad/s].
        factor : float or ndarray
            Multiplies the source once more; broadcasts.

        Raises
        ------
        InputError
            If a speed lies outside the domain by more than rounding.
        """
        return self.net_torque(self._known(omega), factor)

    def with_slope(self, omega: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return net torque and its slope [N.m], [N.m/(rad/s)] at `omega` (any shape).

        Raises
        ------
        InputError
            If a speed lies outside the domain.
        """
        return self.scaled_with_slope(self._known(omega), 1.0)

    def _known(self, omega: ArrayLike) -> FloatArray:
        speeds = np.asarray(omega, dtype=np.float64)
        low, high = self.domain
        if speeds.size and not (speeds.min() >= low and speeds.max() <= high):
            within = np.clip(speeds, low, high)
            outside = speeds[~(np.abs(within - speeds) <= _ROUNDING * high)]
            if not outside.size:
                return within
            raise InputError(
                "the engine torque is not known there and nothing is extrapolated",
                field="engine speed",
                found=f"{outside.flat[0]:.6g} rad/s",
                expected=f"{low:.6g} .. {high:.6g} rad/s",
            )
        return speeds

    def scaled_with_slope(
        self, omega: FloatArray, factor: float | FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return net torque and its slope with the source multiplied by `factor` once more.

        A factor for each speed or one for all. Speeds are not checked against the domain.
        """
        piece = self.piece_of(omega)
        source, load = (p.take(piece, axis=1) for p in (self.source_pieces, self.load_pieces))
        cubic = factor * self.factor * source - load
        return cubic_with_slope(cubic, self.knots[piece], omega, self.other_laws)

    def net_torque(self, omega: FloatArray, factor: float | FloatArray = 1.0) -> FloatArray:
        """Return the net torque with the source multiplied by `factor` once more; they broadcast.

        Exact where the source curve is: at high idle a cubic about an earlier speed would leave a
        rounding error where the torque is zero.
        """
        return np.asarray(factor * (self.factor * self.source(omega)) - self.load_torque(omega))

    def load_torque(self, omega: FloatArray) -> FloatArray:
        """Return the sum of all loads [N.m]. Speeds are not checked against the domain."""
        piece = self.piece_of(omega)
        a, b, c, d = self.load_pieces.take(piece, axis=1)
        t = omega - self.knots.take(piece)
        load = np.asarray(((a * t + b) * t + c) * t + d)
        for law in self.other_laws:
            load = load + law(omega)
        return load

    def nodes(self, cells: int) -> FloatArray:
        """Return the knots and `cells` - 1 even steps between each two [rad/s]."""
        share = np.arange(cells) / cells
        inner = self.knots[:-1, np.newaxis] + share * np.diff(self.knots)[:, np.newaxis]
        return np.append(inner.ravel(), self.knots[-1])


def cubic_with_slope(
    cubic: FloatArray, origin: FloatArray, omega: FloatArray, laws: Sequence[PowerLaw]
) -> tuple[FloatArray, FloatArray]:
    """Return net torque and slope from cubics (4, n) about `origin` (n,), less the laws.

    Parameters
    ----------
    cubic : ndarray, shape (4, n)
        Coefficients, the highest power first, torque in N.m.
    origin, omega : ndarray, shape (n,)
        Where each cubic begins, and the engine speed [rad/s].
    laws : sequence of PowerLaw
        Loads taken off.
    """
    a, b, c, d = cubic
    t = omega - origin
    torque = ((a * t + b) * t + c) * t + d
    slope = (3.0 * a * t + 2.0 * b) * t + c
    for law in laws:
        torque, slope = torque - law(omega), slope - law.slope(omega)
    return torque, slope


def engine_supply(
    engine: Engine,
    *,
    torque_factor: float = 1.0,
    hydraulic_torque: float = 0.0,
    tables: Sequence[Curve] = (),
    source: Curve | None = None,
) -> TorqueSupply:
    """Return the net torque of an engine at full load (or along `source`) less what it drives.

    Parameters
    ----------
    engine : Engine
        Its listed accessories are always deducted, and its pumps where it has some.
    torque_factor : float
        Multiplies the engine's torque (site correction).
    hydraulic_torque : float
        Torque taken at the flywheel by implement pumps [N.m].
    tables : sequence of Curve
        Further loads against engine speed.
    source : Curve, optional
        Torque curve to use instead of the full-load curve (a governor setting, a pedal).

    Raises
    ------
    InputError
        If the factor is not above zero or the hydraulic torque is below zero.
    """
    if not (np.isfinite(torque_factor) and torque_factor > 0):
        raise InputError(
            "out of range",
            field="torque_factor",
            found=float(torque_factor),
            expected="a number above zero",
        )
    if not 0 <= hydraulic_torque <= _LARGEST_TORQUE:
        raise InputError(
            "out of range",
            field="hydraulic_torque",
            found=float(hydraulic_torque),
            expected="a torque of zero or more, of an engine",
        )
    return TorqueSupply(
        source=engine.full_load if source is None else source,
        factor=float(torque_factor),
        constant=float(hydraulic_torque),
        laws=tuple(PowerLaw.of(item) for item in engine.accessories if item.power > 0),
        tables=(*tables, *(() if engine.pumps is None else (engine.pumps.curve,))),
        low=engine.low_idle,
    )


def _recentred(curve: Curve, knots: FloatArray) -> FloatArray:
    """Express a curve's cubics about `knots`, each of which lies inside one of its pieces."""
    starts = knots[:-1]
    piece = np.clip(curve.x.searchsorted(starts, side="right") - 1, 0, curve.x.size - 2)
    a, b, c, d = curve.pieces[:, piece]
    h = starts - curve.x[piece]
    return np.stack([a, 3 * a * h + b, (3 * a * h + 2 * b) * h + c, ((a * h + b) * h + c) * h + d])


def _cubic_of_law(law: PowerLaw, knots: FloatArray) -> FloatArray:
    """Expand ``torque (omega / speed)^m`` with m in 0 .. 3 about each knot (Taylor, exact)."""
    power = int(law.exponent)
    start = knots[:-1]
    scale = law.torque / law.speed**power
    columns = np.zeros((4, start.size))
    binomials = {0: (1,), 1: (1, 1), 2: (1, 2, 1), 3: (1, 3, 3, 1)}[power]
    for k, binomial in enumerate(binomials):  # coefficient of (omega - start)^k
        columns[3 - k] = scale * binomial * start ** (power - k)
    return columns
