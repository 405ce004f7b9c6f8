"""Oil in the converter, between its inlet and its outlet: what a gauge at the outlet reads.

The oil of a transmission is two volumes that exchange oil: that in the converter, well mixed, so
that it leaves as warm as it is (T_c), and all the rest, from which it comes (T_r):

    C_c dT_c/dt = Q_c - K (T_c - T_r),    C_r dT_r/dt = K (T_c - T_r) + Q_g - S

K = rho c V' of the charge flow V', Q_c the heat in the converter, Q_g that of the gearbox, S what
cooler and metal take. The mean of both, ``T = (C_c T_c + C_r T_r) / (C_c + C_r)``, is the bulk
temperature of `physics.heat.oil`: the flow between them does not show in it. Beside it stands the
difference ``D = T_c - T_r``, which over a time with even heats is an exponential:

    dD/dt = D_end / tau - D / tau,     tau = 1 / (K (1/C_c + 1/C_r)),
    D_end = tau (Q_c / C_c - Q_g / C_r + S / C_r)

and T_c = T + D C_r / (C_c + C_r). S is what of the heat the mean did not keep. In the long run D is
Q_c / K, whatever the volumes are. Exact while S is even over a step and hangs on the mean.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.converter import Converter
from converter_match.components.cooling import Oil
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.physics.heat.affine import AffineChain

# Of the oil in circulation: no converter holds more, or there would be nothing to draw from.
_MOST_OF_ALL = 0.9


@dataclass(frozen=True)
class ConverterOil:
    """The oil in a converter and the flow through it.

    Parameters
    ----------
    inside : float
        Heat capacity of the oil in the converter [J/K]; 0 where it is not known: the outlet then
        follows the heat at once, which is the hottest that it may be.
    rest : float
        Heat capacity of all other oil [J/K]; infinite where it is not known.
    exchange : float
        K = rho c V' of the charge flow [W/K].
    """

    inside: float
    rest: float
    exchange: float

    @classmethod
    def of(
        cls, oil: Oil, converter: Converter, *, flow: float, inside: float | None = None
    ) -> ConverterOil:
        """Return the two volumes of a machine and a converter.

        Parameters
        ----------
        oil : Oil
        converter : Converter
        flow : float
            Charge flow through the converter [m^3/s].
        inside : float, optional
            Oil volume in the converter where its file gives none [m^3].

        Raises
        ------
        InputError
            If the converter holds as much oil as circulates.
        """
        volume = converter.oil_volume if inside is None else inside
        volume = 0.0 if volume is None else volume
        if oil.volume is not None and volume > _MOST_OF_ALL * oil.volume:
            if inside is None:
                raise InputError(
                    "the converter holds as much oil as the machine has in circulation",
                    source=converter.id,
                    field="oil_volume",
                    found=f"{1000 * volume:.4g} L",
                    expected=f"well below the {1000 * oil.volume:.4g} L of the machine",
                )
            volume = _MOST_OF_ALL * oil.volume
        per_volume = oil.volume_heat_capacity
        rest = math.inf if oil.volume is None else per_volume * (oil.volume - volume)
        return cls(per_volume * volume, rest, per_volume * flow)

    @property
    def _whole(self) -> float:
        return self.rest + self.inside

    @property
    def share(self) -> float:
        """C_r / (C_c + C_r): how much of the difference the outlet has above the mean."""
        return 1.0 if math.isinf(self.rest) else self.rest / (self.rest + self.inside)

    @property
    def rate(self) -> float:
        """1 / tau [1/s]; infinite where nothing is known to be in the converter."""
        return math.inf if self.inside == 0.0 else self.exchange * (1 / self.inside + 1 / self.rest)

    def steady_rise(self, heat: ArrayLike) -> FloatArray:
        """Return outlet less inlet in the long run [K] with a heat in the converter [W]."""
        return np.asarray(np.asarray(heat, dtype=np.float64) / self.exchange)

    def end_of(self, converter_heat: ArrayLike, other: ArrayLike) -> FloatArray:
        """Return the difference D_end [K] that a time with even heats leads to.

        Parameters
        ----------
        converter_heat : array_like
            Q_c [W].
        other : array_like
            What the rest of the oil loses beyond what it gains, S - Q_g [W].
        """
        heat = np.asarray(converter_heat, dtype=np.float64)
        if self.inside == 0.0:
            return self.steady_rise(heat)
        gain = heat / self.inside + np.asarray(other, dtype=np.float64) / self.rest
        return np.asarray(gain / self.rate)

    def differences(
        self,
        mean: FloatArray,
        converter_heat: FloatArray,
        time: FloatArray,
        *,
        start: float | FloatArray = 0.0,
        again: bool = False,
    ) -> FloatArray:
        """Return the difference at the ends of steps with even heats, shape (n + 1, ...) [K].

        Parameters
        ----------
        mean : ndarray, shape (n + 1, ...)
            Bulk temperature at the ends of the steps [K].
        converter_heat : ndarray, shape (n, ...)
            In the converter [W].
        time : ndarray, shape (n, ...)
            [s].
        start : float or ndarray
            Difference at the start [K].
        again : bool
            Start with the difference that the steps together bring back, instead.
        """
        other = np.zeros(converter_heat.shape)
        if math.isfinite(self.rest):
            # Of what the mean did not keep, S, metal is a part: it takes heat as a cooler does.
            lasting = np.where(time > 0.0, time, 1.0)
            other = converter_heat - self._whole * np.diff(mean, axis=0) / lasting
        end = self.end_of(converter_heat, other)
        fading = np.exp(-np.minimum(self.rate * time, 700.0)) if self.inside else 0.0 * time
        fading = np.where(time > 0.0, fading, 1.0)
        gained = end * (1.0 - fading)
        chain = AffineChain(fading[np.newaxis, np.newaxis], gained[np.newaxis])
        first = np.asarray(start, dtype=np.float64)
        if again:
            (kept,), ends = chain.whole
            lost = 1.0 - kept
            first = ends / np.where(lost > 0.0, lost, 1.0)
        return np.asarray(chain.march(first)[0])

    def outlet(self, mean: ArrayLike, difference: ArrayLike) -> FloatArray:
        """Return the temperature at the outlet [K] by the bulk's and the difference."""
        return np.asarray(np.asarray(mean) + self.share * np.asarray(difference))

    def after(self, heat: float, start: float, time: float) -> float:
        """Return the outlet's temperature [K] after a hold: even heat, nothing else taking it.

        Parameters
        ----------
        heat : float
            In the converter [W].
        start : float
            All of the oil at the start [K].
        time : float
            [s].
        """
        mean = np.array([start, start + heat * time / self._whole])
        difference = self.differences(mean, np.array([heat]), np.array([time]))
        return float(self.outlet(mean, difference)[-1])

    def time_to(self, heat: float, start: float, limit: float) -> float | None:
        """Return the time of a hold after which the outlet is at a limit [s]; None if never.

        Parameters
        ----------
        heat : float
            In the converter, above zero [W].
        start, limit : float
            [K].

        Notes
        -----
        With ``T_c = T_0 + R t + A (1 - e^(-t/tau))``, R the rise of the mean and A the share of
        D_end, the time is ``tau (p + W(a e^-p))`` with ``a = A / (R tau)``, ``p = (L - A) / (R
        tau)``, L from start to limit, and W Lambert's function; Wright's omega function takes the
        logarithm of its argument, which may be beyond any exponent.
        """
        from scipy.special import wrightomega  # slow to import

        room = limit - start
        if room <= 0.0:
            return 0.0
        rise = heat / self._whole
        step = self.share * float(self.end_of(heat, 0.0))
        if self.inside == 0.0:
            if step >= room:
                return 0.0
            return (room - step) / rise if rise > 0.0 else None
        tau = 1.0 / self.rate
        if rise == 0.0:
            return -tau * math.log1p(-room / step) if step > room else None
        scale = rise * tau
        p = (room - step) / scale
        return tau * (p + float(wrightomega(math.log(step / scale) - p).real))
