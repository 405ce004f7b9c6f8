"""A pair with other torque, capacity, air and pump load, as a table that a page can look up.

What the engine offers the impeller, ``c_e(omega) = (f T(omega) - loads - p) / omega^2``, is linear
in the torque factor f and in the pump torque p: four rows at the ends of both give every value
between them exactly. Air is one more factor on f, tabulated over altitude; a capacity factor
multiplies what c_e is compared with. What is left is the line between two engine speeds of the
table: they are set closer until no speed, torque or power is off by more than is allowed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.site import Site
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.match import words
from converter_match.judgement.match.result import MatchResult
from converter_match.notes import Note
from converter_match.physics.engine.atmosphere import pressure_altitude
from converter_match.physics.engine.site_correction import SiteEffect, site_effect
from converter_match.physics.match.solver import match

# Ends of the sliders, of the values of the pair; how wide one asks is for the reader.
TORQUE_FACTORS, CAPACITY_FACTORS = (0.8, 1.2), (0.7, 1.4)
# Most pump torque, of the engine's highest net torque: a loader's pumps at relief take a third
# (common practice, no source).
PUMP_SHARE = 0.4
_ALTITUDES = np.arange(0.0, 4001.0, 250.0)
_AIR = 298.15  # K, where no site says what it is
_RATIOS = 41
# No figure of the page is off by more, as a share of its own value.
MOST_OFF = 5e-3
_AIM = 1e-3
_DRAWS = 60
_SEED = 20
_CELLS = (8, 16, 32)
# Another match than the package's, rather than the same one a little off.
_ANOTHER = 0.05


@dataclass(frozen=True, eq=False)
class WhatIf:
    """The table, SI units.

    Parameters
    ----------
    result : MatchResult
        Of the pair as it is: every slider at its middle or its zero.
    speed_ratio, capacity, torque_ratio : ndarray, shape (k,)
        From stall to the end of the characteristic; stall and coupling point among them.
    engine_speed : ndarray, shape (n,)
        Rising [rad/s].
    torque_ends, pump_ends : tuple of float
        Factors on the engine's torque, and pump torques [N.m], of the rows.
    offered : ndarray, shape (2, 2, n)
        c_e [N.m/(rad/s)^2]: torque factor, pump torque, engine speed.
    altitude, air_factor : ndarray, shape (m,)
        [m], and the factor on the torque against that of the pair as it is; empty where it cannot
        be said.
    altitude_now : float
        Where the pair is [m].
    doubtful_above : float or None
        Altitude from which the correction leaves the range that its method holds in [m].
    off : float
        Largest error of any engine speed, torque or power found, as a share of its value.
    tried : int
        Settings of all sliders at which that was looked at, off the rows of the table.
    notes : tuple of Note
    """

    result: MatchResult
    speed_ratio: FloatArray
    capacity: FloatArray
    torque_ratio: FloatArray
    engine_speed: FloatArray
    torque_ends: tuple[float, float]
    pump_ends: tuple[float, float]
    offered: FloatArray
    altitude: FloatArray
    air_factor: FloatArray
    altitude_now: float
    doubtful_above: float | None
    off: float
    tried: int
    notes: tuple[Note, ...]

    def looked_up(
        self, torque_factor: ArrayLike, capacity_factor: ArrayLike, pump_torque: ArrayLike
    ) -> FloatArray:
        """Return the engine speed over `speed_ratio` [rad/s], shape (d, k), as the page does.

        Parameters
        ----------
        torque_factor, capacity_factor, pump_torque : array_like, shape (d,)
            The first with the air's factor in it.
        """
        given = (torque_factor, capacity_factor, pump_torque)
        return _look_up(self, *(np.atleast_1d(np.asarray(value, np.float64)) for value in given))


def what_if(result: MatchResult) -> WhatIf:
    """Return the table of a pair, fine enough for the error that is allowed.

    Parameters
    ----------
    result : MatchResult

    Raises
    ------
    InputError
        If no table is fine enough: engine and converter jump from match to match.
    """
    converter = result.converter
    top = min(converter.domain[1], 1.0)
    nu = np.linspace(0.0, top, _RATIOS)
    nu = np.union1d(nu, [] if converter.coupling is None else [converter.coupling])
    capacity = converter.capacity_at(nu)
    low, high = result.supply.domain
    most = float(np.max(result.supply.torque(np.linspace(low, high, 201))))
    ends = (0.0, PUMP_SHARE * most)
    air = _Air(result)
    lowest = float(np.min(air.factors, initial=1.0))
    highest = float(np.max(air.factors, initial=1.0))
    torque_ends = (TORQUE_FACTORS[0] * lowest, TORQUE_FACTORS[1] * highest)
    found = None
    for cells in _CELLS:
        speed = result.supply.nodes(cells)
        offered = np.array(
            [
                [(result.supply.net_torque(speed, f) - p) / speed**2 for p in ends]
                for f in torque_ends
            ]
        )
        found = WhatIf(
            result, nu, capacity, converter.torque_ratio_at(nu), speed, torque_ends, ends, offered,
            air.altitude, air.factors, air.now, air.doubtful, 0.0, _DRAWS, (air.note,),
        )  # fmt: skip
        off = _largest_error(found, air)
        if off <= _AIM:
            break
    assert found is not None  # there is a first round
    if off > MOST_OFF:
        raise InputError(
            "no table holds what this pair does: it jumps from match to match",
            source=f"{result.engine.id} with {converter.id}",
            found=f"an error of {100 * off:.1f} %",
            expected=f"at most {100 * MOST_OFF:.1f} %",
        )
    return replace(found, off=off)


def _look_up(table: WhatIf, f: FloatArray, c: FloatArray, p: FloatArray) -> FloatArray:
    (f0, f1), (p0, p1) = table.torque_ends, table.pump_ends
    across, along = ((f - f0) / (f1 - f0))[:, None], ((p - p0) / (p1 - p0))[:, None]
    rows = table.offered
    offered = (
        (1 - across) * ((1 - along) * rows[0, 0] + along * rows[0, 1])
        + across * ((1 - along) * rows[1, 0] + along * rows[1, 1])
    )[:, None, :]  # fmt: skip
    asked = (c[:, None] * table.capacity)[:, :, None]
    # Coming up from idle the engine settles where it first offers no more than is taken.
    above = offered - asked
    down = above <= 0.0
    first = np.argmax(down, axis=2)
    settles = down.any(axis=2) & (first > 0)
    at = np.clip(first, 1, None)[:, :, None]
    high, low = (np.take_along_axis(above, k, axis=2)[:, :, 0] for k in (at, at - 1))
    w = table.engine_speed
    share = low / np.where(low == high, 1.0, low - high)
    speed = w[at[:, :, 0] - 1] + share * (w[at[:, :, 0]] - w[at[:, :, 0] - 1])
    return np.where(settles, speed, np.nan)


def _largest_error(table: WhatIf, air: _Air) -> float:
    """Return the largest share by which a speed, torque or power is off, at settings drawn."""
    rng = np.random.default_rng(_SEED)
    result = table.result
    f = rng.uniform(*TORQUE_FACTORS, _DRAWS)
    c = rng.uniform(*CAPACITY_FACTORS, _DRAWS)
    p = rng.uniform(*table.pump_ends, _DRAWS)
    lines, true = np.ones(_DRAWS), np.ones(_DRAWS)
    if table.altitude.size:
        metres = rng.uniform(table.altitude[0], table.altitude[-1], _DRAWS)
        lines = np.interp(metres, table.altitude, table.air_factor)
        true = np.array([air.at(value).torque_factor for value in metres]) / air.base
    mine = _look_up(table, f * lines, c, p)
    worst = 0.0
    for row in range(_DRAWS):
        supply = replace(result.supply, constant=result.supply.constant + p[row])
        speed = (
            match(
                supply,
                result.converter,
                table.speed_ratio,
                capacity_factor=c[row],
                torque_factor=f[row] * true[row],
            )
            .from_idle()
            .engine_speed
        )
        both = np.isfinite(speed) & np.isfinite(mine[row])
        if not np.array_equal(np.isfinite(speed), np.isfinite(mine[row])):
            return np.inf
        if both.any():
            # Power goes with the cube of the speed: what the speed is off by counts three times.
            share = np.abs((mine[row][both] / speed[both]) ** 3 - 1.0)
            worst = max(worst, float(share.max()))
    return worst


class _Air:
    """The air that a pair is asked about, and what it does to the engine."""

    def __init__(self, result: MatchResult) -> None:
        here, site = result.site, result.site.site
        self._engine = result.engine
        self._temperature = _AIR if here.air is None else here.air.temperature
        self._humidity = None if site is None else site.relative_humidity
        self.now = 0.0
        if here.air is not None:
            self.now = float(pressure_altitude(here.air.pressure))
            if site is not None and site.altitude is not None and site.air_pressure is None:
                self.now = site.altitude
        self.altitude = np.union1d(_ALTITUDES, [self.now])
        self.factors: FloatArray = np.zeros(0)
        self.base = 1.0
        self.doubtful: float | None = None
        code = "what-if-reference-air" if here.air is None else "what-if-air"
        self.note = words.NOTES.note(code, temperature=self._temperature)
        try:
            effects = [self.at(float(metres)) for metres in self.altitude]
        except InputError as error:
            self._left_out(str(error))
            return
        if effects[0].air_is_ignored:
            self._left_out(effects[0].method)
            return
        self.base = effects[int(np.searchsorted(self.altitude, self.now))].torque_factor
        self.factors = np.array([effect.torque_factor for effect in effects]) / self.base
        self.doubtful = next(
            (
                float(metres)
                for metres, effect in zip(self.altitude, effects, strict=True)
                if any(note.kind in ("warning", "limit") for note in effect.notes)
            ),
            None,
        )

    def _left_out(self, why: str) -> None:
        self.altitude = self.factors
        self.note = words.NOTES.note("what-if-no-air", why=why)

    def at(self, metres: float) -> SiteEffect:
        """Return what the air at an altitude does to the engine."""
        site = Site(
            id="what-if",
            name="what if",
            source="asked",
            altitude=metres,
            air_temperature=self._temperature,
            relative_humidity=self._humidity,
        )
        return site_effect(self._engine, site)
