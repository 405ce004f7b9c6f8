"""An engine: full-load torque, governor, accessories, and what else its sheet says. SI units."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np

from converter_match.components.base import (
    LATER,
    Component,
    freeze_tuples,
    require_choice,
    require_positive,
    require_within,
)
from converter_match.components.engine_limits import EngineLimits
from converter_match.components.engine_speeds import check_reach, check_speed_order
from converter_match.components.site import Air
from converter_match.curves import Curve, FloatArray, check_points, frozen_array
from converter_match.errors import InputError
from converter_match.notes import Note, assumption

RatingBasis = Literal["gross", "net"]
Governing = Literal["speed", "torque"]
Aspiration = Literal["naturally-aspirated", "turbocharged", "turbocharged-aftercooled"]
ASPIRATIONS: tuple[Aspiration, ...] = (
    "naturally-aspirated",
    "turbocharged",
    "turbocharged-aftercooled",
)
CorrectionMethod = Literal["diesel-iso-1585", "iso-3046", "sae-j1349-spark", "derate-table", "none"]
METHODS: tuple[CorrectionMethod, ...] = (
    "diesel-iso-1585",
    "iso-3046",
    "sae-j1349-spark",
    "derate-table",
    "none",
)


@dataclass(frozen=True, kw_only=True)
class Accessory:
    """Something the engine drives beside the converter.

    Power goes with speed to the power `exponent`, so the torque goes with `exponent` - 1:
    ``T = (P / omega_ref) (omega / omega_ref)^(exponent - 1)``. A fan has exponent 3 (affinity law),
    a pump at constant pressure exponent 1.

    Parameters
    ----------
    name : str
    power : float
        Power taken at `at_speed` [W].
    at_speed : float
        Engine speed [rad/s].
    exponent : float
    """

    name: str
    power: float
    at_speed: float
    exponent: float

    def __post_init__(self) -> None:
        where = f"accessory {self.name!r}"
        if not (math.isfinite(self.power) and self.power >= 0):
            raise InputError(
                "out of range",
                field=f"{where}.power",
                found=self.power,
                expected="a power of zero or more",
            )
        require_positive(self.at_speed, f"{where}.at_speed")
        if not 0 <= self.exponent <= 5:
            raise InputError(
                "out of range",
                field=f"{where}.exponent",
                found=self.exponent,
                expected="0 to 5 (power is proportional to this power of speed; a fan has 3)",
            )

    @property
    def reference_torque(self) -> float:
        """Torque at `at_speed` [N.m]."""
        return self.power / self.at_speed


@dataclass(frozen=True, kw_only=True, eq=False)
class SpeedTable(Component):
    """A quantity tabulated against engine speed.

    Parameters
    ----------
    speed : array_like, shape (n,)
        [rad/s], increasing.
    value : array_like, shape (n,)
        Zero or more, SI unit of the quantity.
    name : str
    """

    speed: FloatArray
    value: FloatArray
    name: str

    def __post_init__(self) -> None:
        for key in ("speed", "value"):
            name = "speed" if key == "speed" else self.name
            object.__setattr__(self, key, frozen_array(getattr(self, key), name))
        check_points(self.speed, self.value, name=self.name, x_name="speed")
        _refuse_negative(self.value, self.name)

    @cached_property
    def curve(self) -> Curve:
        """The table as a curve over speed [rad/s]."""
        return Curve(self.speed, self.value, name=self.name, x_name="speed")


@dataclass(frozen=True, kw_only=True)
class Fuel:
    """Fuel data of the engine.

    Parameters
    ----------
    specific : SpeedTable, optional
        Full-load brake-specific fuel consumption [kg/J] against speed.
    idle_rate : float, optional
        Fuel at low idle without load [kg/s].
    lower_heating_value : float, optional
        [J/kg].
    density : float, optional
        [kg/m^3].
    """

    specific: SpeedTable | None = None
    idle_rate: float | None = None
    lower_heating_value: float | None = None
    density: float | None = None

    def __post_init__(self) -> None:
        for name in ("idle_rate", "lower_heating_value", "density"):
            require_positive(getattr(self, name), f"fuel.{name}")


@dataclass(frozen=True, kw_only=True, eq=False)
class SiteCorrection(Component):
    """How this engine's torque follows the air it breathes.

    Parameters
    ----------
    method : str, optional
        One of `METHODS`; when not given, the diesel form of ISO 1585 / UNECE R85 is used and said
        so.
    engine_factor : float, optional
        f_m of ISO 1585.
    mechanical_efficiency : float, optional
        For ISO 3046-1.
    derate_altitude, derate_factor : array_like, optional
        The maker's own table: altitude [m] and remaining share of the torque.
    """

    method: CorrectionMethod | None = None
    engine_factor: float | None = None
    mechanical_efficiency: float | None = None
    derate_altitude: FloatArray | None = None
    derate_factor: FloatArray | None = None

    def __post_init__(self) -> None:
        if self.method is not None:
            require_choice(self.method, "site_correction.method", METHODS)
        if self.engine_factor is not None and not 0 <= self.engine_factor <= 1.2:
            raise InputError(
                "out of range",
                field="site_correction.engine_factor",
                found=self.engine_factor,
                expected="0 to 1.2 (f_m of ISO 1585)",
            )
        if self.mechanical_efficiency is not None and not 0.5 <= self.mechanical_efficiency < 1:
            raise InputError(
                "out of range",
                field="site_correction.mechanical_efficiency",
                found=self.mechanical_efficiency,
                expected="0.5 to 1",
            )
        if (self.derate_altitude is None) != (self.derate_factor is None):
            raise InputError(
                "a derate table needs both altitude and factor", field="site_correction.derate"
            )
        if self.derate_altitude is not None and self.derate_factor is not None:
            where = "site_correction.derate"
            altitude = frozen_array(self.derate_altitude, f"{where}.altitude")
            factor = frozen_array(self.derate_factor, f"{where}.factor")
            check_points(altitude, factor, name=f"{where}.factor", x_name=f"{where}.altitude")
            if np.any((factor <= 0) | (factor > 1.2)):
                raise InputError(
                    "out of range",
                    field="site_correction.derate.factor",
                    found=factor.tolist(),
                    expected="shares of the torque between 0 and 1.2",
                )
            object.__setattr__(self, "derate_altitude", altitude)
            object.__setattr__(self, "derate_factor", factor)
        if self.method == "derate-table" and self.derate_altitude is None:
            raise InputError(
                "the method 'derate-table' needs the table", field="site_correction.derate"
            )


@dataclass(frozen=True, kw_only=True, eq=False)
class Engine(Component):
    """An engine, frozen and validated.

    Parameters
    ----------
    id, name, source : str
        Identity and where the numbers come from.
    rating_basis : {"gross", "net"}
        Bare engine, or with the accessories of the named standard.
    rating_standard : str
        As stated, e.g. ``ISO 14396``; empty if not stated.
    low_idle, rated_speed, high_idle : float
        [rad/s].
    governing : {"speed", "torque"}
        All-speed (machines) or min-max (road vehicles).
    speed, torque : array_like, shape (n,)
        Full-load curve [rad/s], [N.m], up to rated speed or beyond.
    torque_band : float
        Half width of the curve's uncertainty as a share; 0 when measured data were given.
    accessories : tuple of Accessory
        Always deducted.
    motoring, exhaust_brake : SpeedTable, optional
        Drag torque magnitudes [N.m] without and with the brake.
    fuel, site_correction, reference_air, displacement, inertia, aspiration, interface : optional
        See the classes; displacement in m^3, inertia in kg.m^2.
    limits : EngineLimits
    pumps : SpeedTable, optional
        Torque of implement pumps in one state [N.m] against speed, deducted as accessories are;
        no engine file has it: the machine's arrangement gives it.
    given_notes : tuple of Note
        Assumptions made before the component was built.

    Raises
    ------
    InputError
        Naming the field: speeds out of order, torque below zero, a curve that stops short of the
        rated speed, idle above rated speed.
    """

    id: str
    name: str
    source: str
    rating_basis: RatingBasis
    rating_standard: str = ""
    low_idle: float
    rated_speed: float
    high_idle: float
    governing: Governing
    speed: FloatArray
    torque: FloatArray
    torque_band: float = 0.0
    aspiration: Aspiration | None = None
    reference_air: Air | None = None
    displacement: float | None = None
    accessories: tuple[Accessory, ...] = ()
    motoring: SpeedTable | None = None
    exhaust_brake: SpeedTable | None = None
    fuel: Fuel | None = None
    inertia: float | None = None
    site_correction: SiteCorrection = field(default_factory=SiteCorrection)
    interface: tuple[tuple[str, str], ...] = ()
    limits: EngineLimits = field(default=EngineLimits(), metadata={LATER: True})
    pumps: SpeedTable | None = field(default=None, metadata={LATER: True})
    given_notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        require_choice(self.rating_basis, "rating_basis", ("gross", "net"))
        require_choice(self.governing, "governing", ("speed", "torque"))
        if self.aspiration is not None:
            require_choice(self.aspiration, "aspiration", ASPIRATIONS)
        if not 0.0 <= self.torque_band <= 0.5:
            raise InputError(
                "out of range",
                field="full_load.torque_band",
                found=self.torque_band,
                expected="0 to 0.5, as a share of the torque",
            )
        for name in ("low_idle", "rated_speed", "high_idle", "displacement", "inertia"):
            require_positive(getattr(self, name), name)
        require_within(self.displacement, "displacement", 2e-5, 3.0, "m3")
        check_speed_order(self.low_idle, self.rated_speed, self.high_idle)
        for name in ("speed", "torque"):
            object.__setattr__(self, name, frozen_array(getattr(self, name), f"full_load.{name}"))
        freeze_tuples(self, "accessories", "interface", "given_notes")
        check_points(self.speed, self.torque, name="full_load.torque", x_name="full_load.speed")
        _refuse_negative(self.torque, "full_load.torque")
        check_reach(self.speed, self.rated_speed, self.high_idle)
        # The governor's onset is a kink of the curve, and an idle speed an end of it, only where it
        # is the speed of a row to the last bit, and 36.6667 rev/s is 2200 rpm.
        for name in ("low_idle", "rated_speed", "high_idle"):
            object.__setattr__(self, name, _row_at(getattr(self, name), self.speed))
        if not np.any(self.torque > 0):
            raise InputError("the torque is zero everywhere", field="full_load.torque")

    @cached_property
    def full_load(self) -> Curve:
        """Full-load torque [N.m] over speed [rad/s], with the governor droop line to high idle.

        Where the table ends below high idle, it is straight from the last row to zero there. The
        governor's onset (rated speed) is a kink.
        """
        speed, torque = self.speed, self.torque
        rated = self._rated_row
        kinks = [] if rated is None or rated in (0, speed.size - 1) else [float(speed[rated])]
        if speed[-1] < self.high_idle:
            kinks.append(float(speed[-1]))
            speed, torque = np.append(speed, self.high_idle), np.append(torque, 0.0)
        return Curve(speed, torque, kinks=tuple(kinks), name="full-load torque", x_name="speed")

    @cached_property
    def _rated_row(self) -> int | None:
        """The row at rated speed, units rounded either way; None where there is none."""
        row = int(np.argmin(np.abs(self.speed - self.rated_speed)))
        return row if abs(self.speed[row] / self.rated_speed - 1) <= 1e-6 else None

    @cached_property
    def notes(self) -> tuple[Note, ...]:
        """Every assumption and warning that belongs to this engine."""
        notes = list(self.given_notes)
        first, last = self.speed[[0, -1]]
        if last < self.high_idle:
            notes.append(
                assumption(
                    "run-out-straight",
                    "The governor droop line is taken as straight from the last full-load row to "
                    "zero torque at high idle.",
                )
            )
        elif self.torque[-1] > 0:
            notes.append(
                Note(
                    "torque-at-high-idle",
                    "The full-load curve still gives torque at high idle, where a governor leaves "
                    "none: nothing is known about matches above it. Check the last rows.",
                )
            )
        if self._rated_row is None:
            above = int(np.searchsorted(self.speed, self.rated_speed))
            notes.append(
                assumption(
                    "no-row-at-rated-speed",
                    "The full-load curve has no row at rated speed ({rated:angular_speed .0f}; "
                    "neighbours {below:angular_speed .0f} and {above:angular_speed .0f}): the "
                    "torque there is interpolated, and the corner where the governor takes over is "
                    "not in the curve.",
                    rated=self.rated_speed,
                    below=float(self.speed[above - 1]),
                    above=float(self.speed[above]),
                )
            )
        if first > self.low_idle:
            notes.append(
                Note(
                    "no-torque-near-idle",
                    "The full-load curve begins at {first:angular_speed .0f}, above low idle "
                    "({idle:angular_speed .0f}): nothing is known about matches below it.",
                    values=(("first", float(first)), ("idle", self.low_idle)),
                )
            )
        if self.rating_basis == "net" and self.accessories:
            names = ", ".join(item.name for item in self.accessories)
            notes.append(
                Note(
                    "accessories-on-net-rating",
                    "The rating is net, and accessories are listed as well ({names}): they are "
                    "deducted. Make sure that the rating does not contain them already.",
                    values=(("names", names),),
                )
            )
        if self.limits.others:
            names = ", ".join(f"limits.{key}" for key, _ in self.limits.others)
            text = "The engine's {names}: kept as given, and not checked."
            notes.append(Note("engine-limits-not-checked", text, values=(("names", names),)))
        return tuple(notes)

    @cached_property
    def peak_torque(self) -> tuple[float, float]:
        """(speed [rad/s], torque [N.m]) of the highest full-load torque, low idle to rated speed.

        The curve keeps the shape of its rows: it is highest at one, or where it is cut off.
        """
        low = max(self.low_idle, float(self.full_load.domain[0]))
        inner = self.speed[(self.speed > low) & (self.speed < self.rated_speed)]
        speed = np.unique(np.concatenate([[low], inner, [self.rated_speed]]))
        best = float(speed[np.argmax(self.full_load(speed))])
        return best, float(self.full_load(best))

    @cached_property
    def rated_power(self) -> float:
        """Full-load power at rated speed [W]."""
        return float(self.full_load(self.rated_speed)) * self.rated_speed

    @classmethod
    def from_rating(
        cls,
        *,
        rated_power: float,
        rated_speed: float,
        peak_torque: float,
        peak_torque_speed: float,
        low_idle: float,
        high_idle: float,
        rating_basis: RatingBasis,
        governing: Governing,
        id: str = "from-rating",
        name: str = "Engine from its rating line",
        source: str = "rating line",
        given_notes: tuple[Note, ...] = (),
    ) -> Engine:
        """Return an engine whose curve is estimated from its rating line; SI units.

        What else is known of it is added with `replace`. See
        `converter_match.components.rating.curve_from_rating` for the form of the curve and its
        stated uncertainty.

        Raises
        ------
        InputError
            If the rating line contradicts itself.
        """
        from converter_match.components.rating import curve_from_rating

        estimate = curve_from_rating(
            rated_power=rated_power,
            rated_speed=rated_speed,
            peak_torque=peak_torque,
            peak_torque_speed=peak_torque_speed,
            low_idle=low_idle,
        )
        return cls(
            id=id,
            name=name,
            source=source,
            rating_basis=rating_basis,
            governing=governing,
            low_idle=low_idle,
            rated_speed=rated_speed,
            high_idle=high_idle,
            speed=estimate.speed,
            torque=estimate.torque,
            torque_band=estimate.band,
            given_notes=(*given_notes, estimate.note),
        )


def _refuse_negative(values: FloatArray, field_name: str) -> None:
    for row in np.flatnonzero(values < 0):
        raise InputError(
            "below zero",
            field=f"{field_name}[{row}]",
            found=float(values[row]),
            expected="zero or more",
        )


def _row_at(speed: float, rows: FloatArray) -> float:
    """Return a speed, as the row has it that is the same but for rounding."""
    row = float(rows[np.argmin(np.abs(rows - speed))])
    return row if math.isclose(row, speed, rel_tol=1e-9) else speed
