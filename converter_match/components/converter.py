"""A torque converter or fluid coupling: its characteristic against speed ratio, in SI units.

Steady state at one oil condition; functions of the speed ratio nu = turbine speed / impeller speed:
torque ratio mu, capacity coefficient C = impeller torque / impeller speed^2, efficiency nu * mu.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Literal, Self

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components import coupling
from converter_match.components.adjustment import Adjustment
from converter_match.components.base import (
    LATER,
    Component,
    freeze_tuples,
    require_choice,
    require_positive,
    require_within,
)
from converter_match.components.capacity_forms import CapacityBasis, CapacityForm, from_capacity
from converter_match.components.converter_limits import ConverterLimits
from converter_match.components.converter_rows import (
    check_energy,
    check_signs,
    check_spacing,
    check_volume,
)
from converter_match.components.reading_band import READING_BAND, ReadingBand, band_around
from converter_match.components.stall_datum import StallDatum
from converter_match.curves import (
    Curve,
    FloatArray,
    check_points,
    frozen_array,
    merged,
    real_roots_within,
)
from converter_match.errors import InputError
from converter_match.notes import Note, assumption

Stator = Literal["one-way", "fixed", "none"]
STATORS: tuple[Stator, ...] = ("one-way", "fixed", "none")
# Beyond this change of diameter the similarity law is uncertain (common practice, no source).
SCALING_COMFORT = 0.10
_CHARACTERISTIC = frozenset(
    {"stator", "speed_ratio", "torque_ratio", "capacity", "coupling_speed_ratio", "kinks"}
)
_ALONE: dict[str, Any] = {"adjustment": None, "members": ()}
_FARTHEST_SIZE = 10.0  # far beyond what similarity can carry, which has its own warning


@dataclass(frozen=True, kw_only=True, eq=False)
class Converter(Component):
    """A hydrodynamic converter, frozen and validated.

    Parameters
    ----------
    id, name, source : str
        Identity and where the numbers come from.
    stator : {"one-way", "fixed", "none"}
        ``none`` is a fluid coupling.
    speed_ratio : array_like, shape (n,)
        Strictly increasing; may include negative values and values above 1.
    torque_ratio : array_like, shape (n,)
        Turbine torque / impeller torque.
    capacity : array_like, shape (n,)
        Impeller torque / impeller speed^2 [N.m/(rad/s)^2]; below zero only beyond nu = 1.
    coupling_speed_ratio : float, optional
        Found from the torque ratio when not given, and reported as found.
    kinks : tuple of float
        Further speed ratios, each a row inside the range, at which the slopes jump.
    profile_diameter : float, optional
        Largest diameter of the flow circuit [m].
    oil_density : float, optional
        Oil density at which the capacity was measured [kg/m^3].
    oil_volume : float, optional
        Of the oil that stands in the converter while it works [m^3].
    limits : ConverterLimits
    impeller_inertia, turbine_inertia : float, optional
        [kg.m^2], oil included.
    interface : tuple of (str, str)
        Interfaces (bolt-on data), as given.
    given_notes : tuple of Note
        Assumptions made before the component was built.
    stall_datum : StallDatum, optional
        What an estimate rests on (`converter_estimate.estimated_converter`).
    adjustment : Adjustment, optional
        By which parameter it can be adjusted (`converter_family`), and where it stands.
    members : tuple of Converter
        What it is at each setting. As with alternatives, a change has to be made to each of them.
    alternatives : tuple of Converter
        Of an estimate, or within a reading band: what the converter may be as well. A change that
        is not made to each of them, by `changed`, leaves none.
    reading_band : ReadingBand, optional
        How far the rows may be off (`converter_read.with_reading_band`).

    Raises
    ------
    InputError
        Naming the field: unsorted rows, values that are not finite, capacity at or below zero
        below nu = 1, efficiency above 1 at or between rows (energy from nowhere), a fluid coupling
        whose torque ratio is not 1 or that states a coupling point, a kink that is not a row.
    """

    id: str
    name: str
    source: str
    stator: Stator
    speed_ratio: FloatArray
    torque_ratio: FloatArray
    capacity: FloatArray
    coupling_speed_ratio: float | None = None
    kinks: tuple[float, ...] = ()
    profile_diameter: float | None = None
    oil_density: float | None = None
    limits: ConverterLimits = field(default_factory=ConverterLimits)
    impeller_inertia: float | None = None
    turbine_inertia: float | None = None
    interface: tuple[tuple[str, str], ...] = ()
    given_notes: tuple[Note, ...] = ()
    stall_datum: StallDatum | None = field(default=None, metadata={LATER: True})
    alternatives: tuple[Converter, ...] = field(default=(), metadata={LATER: True})
    oil_volume: float | None = field(default=None, metadata={LATER: True})
    reading_band: ReadingBand | None = field(default=None, metadata={LATER: True})
    adjustment: Adjustment | None = field(default=None, metadata={LATER: True})
    members: tuple[Converter, ...] = field(default=(), metadata={LATER: True})

    def __post_init__(self) -> None:
        require_choice(self.stator, "stator", STATORS)
        for name in ("profile_diameter", "oil_density", "impeller_inertia", "turbine_inertia"):
            require_positive(getattr(self, name), name)
        require_within(self.profile_diameter, "profile_diameter", 0.01, 1.5, "m")
        require_within(self.oil_density, "oil_density", 450.0, 1500.0, "kg/m3")
        check_volume(self.oil_volume, self.profile_diameter)
        for name in ("speed_ratio", "torque_ratio", "capacity"):
            object.__setattr__(self, name, frozen_array(getattr(self, name), name))
        freeze_tuples(self, "kinks", "interface", "given_notes", "alternatives", "members")
        nu, mu, c = self.speed_ratio, self.torque_ratio, self.capacity
        check_points(nu, mu, name="torque_ratio", x_name="speed_ratio")
        check_spacing(nu)
        check_points(nu, c, name="capacity", x_name="speed_ratio")
        check_signs(nu, mu, c)
        check_energy(nu, mu, c)
        if self.stator == "none" and np.any(np.abs(mu - 1.0) > 0.05):
            row = int(np.argmax(np.abs(mu - 1.0)))
            raise InputError(
                "without a stator the torque ratio is 1 everywhere",
                field=f"torque_ratio[{row}]",
                found=float(mu[row]),
                expected="1, or a stator that is one-way or fixed",
            )
        # Resolving here makes a contradictory coupling point or kink fail at construction.
        _ = self.capacity_curve
        self._check_energy_between_rows()

    def _check_energy_between_rows(self) -> None:
        """Rows far apart can each be right and the curve between them not."""
        driven = self.speed_ratio[(self.speed_ratio <= 1) & (self.capacity >= 0)]
        if not driven.size or driven[-1] < 0:
            return
        nu, eta = self.best_efficiency(0.0, float(driven[-1]))
        if eta > 1 + 1e-9:
            row = int(np.searchsorted(self.speed_ratio, nu))
            raise InputError(
                "efficiency above 1 between two rows: they are too far apart, or wrong",
                field=f"torque_ratio[{row - 1}] .. torque_ratio[{row}]",
                found=f"speed ratio x torque ratio = {eta:.4f} at speed ratio {nu:.4g}",
                expected="rows between which the efficiency stays at or below 1",
            )

    def replace(self, **changes: Any) -> Self:
        """Return a copy with some fields changed; another characteristic is alone."""
        if _CHARACTERISTIC & changes.keys():
            rest = {"stall_datum": None, "alternatives": (), "reading_band": None, **_ALONE}
            changes = {**rest, **changes}
        return super().replace(**changes)

    def changed(self, change: Callable[[Converter], Converter]) -> Converter:
        """Return the converter after a change, which is made to each alternative as well.

        Parameters
        ----------
        change : callable
            Takes and returns a converter.
        """
        done = change(self)
        if not (self.alternatives or self.members) or done is self:
            return done
        others = tuple(change(item) for item in self.alternatives)
        band = done.reading_band
        if band is None and self.reading_band is not None:
            band = band_around(done, others)
        return done.replace(
            alternatives=others,
            adjustment=self.adjustment,
            members=tuple(change(item) for item in self.members),
            reading_band=band,
        )

    @property
    def estimated(self) -> bool:
        """Whether its characteristic is an estimate that has alternatives."""
        return bool(self.alternatives) and not self.banded

    @property
    def banded(self) -> bool:
        """Whether its alternatives are the ends of a reading band."""
        read = any(note.code == READING_BAND for note in self.given_notes)
        return read and bool(self.alternatives)

    @property
    def title(self) -> str:
        """The name, and that it is an estimate where it is one and the name does not say so."""
        if not self.estimated or "estimat" in self.name.lower():
            return self.name
        return f"{self.name} (estimated)"

    def band(self, speed_ratio: ArrayLike) -> dict[str, tuple[FloatArray, FloatArray]]:
        """Return the least and the most that it may be, at speed ratios of any shape.

        Returns
        -------
        dict
            ``torque_ratio``, ``efficiency`` and ``capacity`` [N.m/(rad/s)^2], each (least, most);
            both are the curve itself where there are no alternatives.
        """
        nu = np.asarray(speed_ratio, dtype=np.float64)
        units = (self, *self.alternatives)
        all_of = {
            "torque_ratio": [unit.torque_ratio_at(nu) for unit in units],
            "efficiency": [unit.efficiency_at(nu) for unit in units],
            "capacity": [unit.capacity_at(nu) for unit in units],
        }
        return {
            name: (np.min(values, axis=0), np.max(values, axis=0))
            for name, values in all_of.items()
        }

    @cached_property
    def characteristic(self) -> coupling.ResolvedRows:
        """The rows with the coupling point resolved."""
        return coupling.resolve(
            self.speed_ratio,
            self.torque_ratio,
            self.capacity,
            self.stator,
            self.coupling_speed_ratio,
        )

    @property
    def coupling(self) -> float | None:
        """Coupling speed ratio, stated or found; None where there is none in the data."""
        return self.characteristic.coupling

    @property
    def notes(self) -> tuple[Note, ...]:
        """Every assumption and warning that belongs to this converter."""
        return self.given_notes + self.characteristic.notes

    @property
    def domain(self) -> tuple[float, float]:
        """Lowest and highest speed ratio for which there are data."""
        return float(self.speed_ratio[0]), float(self.speed_ratio[-1])

    def require_stall(self) -> None:
        """Refuse data that do not include stall.

        Raises
        ------
        InputError
            If speed ratio 0 lies outside the data.
        """
        low, high = self.domain
        if not low <= 0.0 <= high:
            raise InputError(
                "the characteristic does not include stall (speed ratio 0)",
                source=self.id,
                field="speed_ratio",
                found=low,
                expected="a first speed ratio of 0 or below",
            )

    @cached_property
    def torque_ratio_curve(self) -> Curve:
        """Torque ratio against speed ratio."""
        rows = self.characteristic
        return Curve(
            rows.speed_ratio,
            rows.torque_ratio,
            kinks=rows.kinks + self.kinks,
            name="torque ratio",
            x_name="speed ratio",
        )

    @cached_property
    def capacity_curve(self) -> Curve:
        """Capacity coefficient [N.m/(rad/s)^2] against speed ratio."""
        rows = self.characteristic
        return Curve(
            rows.speed_ratio,
            rows.capacity,
            kinks=rows.kinks + self.kinks,
            name="capacity",
            x_name="speed ratio",
        )

    def torque_ratio_at(self, speed_ratio: ArrayLike) -> FloatArray:
        """Return the torque ratio mu at `speed_ratio` (any shape)."""
        return self.torque_ratio_curve(speed_ratio)

    def capacity_at(self, speed_ratio: ArrayLike) -> FloatArray:
        """Return the capacity coefficient C [N.m/(rad/s)^2] at `speed_ratio` (any shape)."""
        return self.capacity_curve(speed_ratio)

    def efficiency_at(self, speed_ratio: ArrayLike) -> FloatArray:
        """Return the efficiency eta = nu mu at `speed_ratio` (any shape).

        Below zero where the turbine is driven backwards; in overrun (nu above 1, capacity below
        zero) it is the ratio of turbine to impeller power, above 1 because the turbine drives.
        """
        nu = np.asarray(speed_ratio, dtype=np.float64)
        return np.asarray(nu * self.torque_ratio_curve(nu))

    def capacity_in(
        self,
        form: CapacityForm,
        speed_ratio: ArrayLike,
        *,
        reference_speed: float | None = None,
        reference_torque: float | None = None,
    ) -> FloatArray:
        """Return the capacity at `speed_ratio` in any of its forms, SI units.

        Raises
        ------
        InputError
            If the form needs a reference speed or torque, diameter or density that is not known.
        """
        basis = CapacityBasis(
            reference_speed=reference_speed,
            reference_torque=reference_torque,
            profile_diameter=self.profile_diameter,
            oil_density=self.oil_density,
        )
        return from_capacity(form, self.capacity_at(speed_ratio), basis)

    def efficiency_crossings(self, level: float) -> FloatArray:
        """Return every speed ratio in 0 .. 1 at which the efficiency takes the value `level`."""
        crossings: list[float] = []
        for start, width, eta in self._efficiency_pieces:
            eta = eta.copy()
            eta[-1] -= level
            crossings += [start + t for t in real_roots_within(eta, width)]
        return merged([nu for nu in crossings if 0.0 <= nu <= 1.0], 1e-10)

    def best_efficiency(self, low: float = 0.0, high: float = 1.0) -> tuple[float, float]:
        """Return (speed ratio, efficiency) of the highest efficiency within [low, high].

        Raises
        ------
        InputError
            If the data do not reach into [low, high].
        """
        low, high = max(low, self.domain[0]), min(high, self.domain[1])
        if low > high:
            raise InputError(
                "no characteristic data in the required range",
                field="speed_ratio",
                expected=f"a range that overlaps {self.domain[0]:.4g} .. {self.domain[1]:.4g}",
            )
        candidates = [low, high]
        for start, width, eta in self._efficiency_pieces:
            candidates += [start, start + width]
            candidates += [start + t for t in real_roots_within(np.asarray(np.polyder(eta)), width)]
        inside = np.array([nu for nu in candidates if low <= nu <= high])
        eta_at = self.efficiency_at(inside)
        best = int(np.argmax(eta_at))
        return float(inside[best]), float(eta_at[best])

    @cached_property
    def _efficiency_pieces(self) -> list[tuple[float, float, FloatArray]]:
        """Return (start, width, quartic in t = nu - start) of nu * mu on each piece."""
        curve = self.torque_ratio_curve
        return [
            (
                float(curve.x[i]),
                float(curve.x[i + 1] - curve.x[i]),
                np.asarray(np.polymul([1.0, curve.x[i]], curve.pieces[:, i]), dtype=np.float64),
            )
            for i in range(curve.x.size - 1)
        ]

    def scaled(
        self, *, profile_diameter: float | None = None, oil_density: float | None = None
    ) -> Converter:
        """Return this converter in another size or oil, by similarity: an estimate.

        Geometrically similar converters share lambda(nu) and mu(nu), so C goes with rho D^5
        (T = lambda rho omega^2 D^5, VDI 2153).

        Parameters
        ----------
        profile_diameter : float, optional
            New profile diameter [m].
        oil_density : float, optional
            New oil density [kg/m^3].

        Raises
        ------
        InputError
            If the present diameter or density is not known, or the new one is not above zero.
        """
        factor = 1.0
        notes: list[Note] = []
        limits = self.limits
        if profile_diameter is not None:
            require_positive(profile_diameter, "profile_diameter")
            ratio = profile_diameter / self._known("profile_diameter")
            if not 1 / _FARTHEST_SIZE <= ratio <= _FARTHEST_SIZE:
                raise InputError(
                    "diameter outside the similarity range",
                    field="profile_diameter",
                    found=f"{1000 * profile_diameter:.4g} mm",
                    expected=f"within {_FARTHEST_SIZE:g} times the diameter it was measured at, "
                    f"{1000 * self._known('profile_diameter'):.4g} mm",
                )
            factor *= ratio**5
            notes.append(
                assumption(
                    "scaled-by-diameter",
                    f"Estimate: capacity scaled by diameter ratio {ratio:.4f} to the fifth power, "
                    "assuming a geometrically similar converter with the same blading.",
                )
            )
            if ratio != 1.0:
                # Limits, masses and what bolts on belong to the size they were stated for.
                limits = ConverterLimits(oil_temperature=limits.oil_temperature)
                if limits != self.limits:
                    notes.append(
                        assumption(
                            "size-limits-dropped",
                            "The converter's limits of torque, power and speed belong to the size "
                            "they were stated for, and are not carried over.",
                        )
                    )
            if abs(ratio - 1.0) > SCALING_COMFORT:
                notes.append(
                    Note(
                        "scaled-far",
                        f"The diameter was changed by {100 * (ratio - 1):+.0f} %: beyond "
                        f"about {100 * SCALING_COMFORT:.0f} % it is outside the range in which "
                        "the similarity law is trusted.",
                    )
                )
        if oil_density is not None:
            require_positive(oil_density, "oil_density")
            ratio = oil_density / self._known("oil_density")
            factor *= ratio
            notes.append(
                assumption(
                    "scaled-by-density",
                    f"Estimate: capacity scaled by oil density ratio {ratio:.4f}.",
                )
            )
        resized = profile_diameter is not None and profile_diameter != self.profile_diameter
        alike = {"profile_diameter": profile_diameter, "oil_density": oil_density}
        return self.replace(
            alternatives=tuple(item.scaled(**alike) for item in self.alternatives),
            adjustment=self.adjustment,
            members=tuple(item.scaled(**alike) for item in self.members),
            capacity=self.capacity * factor,
            profile_diameter=profile_diameter or self.profile_diameter,
            oil_density=oil_density or self.oil_density,
            reading_band=self.reading_band,
            limits=limits,
            oil_volume=None if resized else self.oil_volume,
            impeller_inertia=None if resized else self.impeller_inertia,
            turbine_inertia=None if resized else self.turbine_inertia,
            interface=() if resized else self.interface,
            given_notes=self.given_notes + tuple(notes),
        )

    def _known(self, name: str) -> float:
        value: float | None = getattr(self, name)
        if value is None:
            raise InputError(
                f"scaling needs the present {name.replace('_', ' ')}, which the data do not give",
                source=self.id,
                field=name,
            )
        return value
