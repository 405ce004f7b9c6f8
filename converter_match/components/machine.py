"""A machine: what it weighs, what it stands on, and how it gets rid of heat. SI units."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.base import (
    Component,
    require_choice,
    require_positive,
    require_within,
)
from converter_match.components.cooling import Cooler, Oil
from converter_match.components.gear import require_not_negative
from converter_match.components.tyre import Tyre
from converter_match.curves import Curve, FloatArray, check_points, frozen_array
from converter_match.errors import InputError
from converter_match.notes import Note, assumption

# Cooler and oil belong to a machine, and are found here as well.
__all__ = [
    "AXLES",
    "LOADS",
    "Balance",
    "Cooler",
    "DrivenAxle",
    "Load",
    "Machine",
    "Oil",
    "Slip",
    "Tracks",
]

Load = Literal["empty", "laden"]
LOADS: tuple[Load, ...] = ("empty", "laden")
DrivenAxle = Literal["front", "rear", "all"]
AXLES: tuple[DrivenAxle, ...] = ("front", "rear", "all")


@dataclass(frozen=True, kw_only=True, eq=False)
class Slip(Component):
    """Share of the wheel's speed that is lost between wheel and ground.

    Parameters
    ----------
    constant : float
        Slip whatever the pull, 0 <= s < 1; used when there is no table.
    use, slip : array_like, shape (n,), optional
        Slip against the traction used (effort / adhesion limit), from use 0 to use 1.
    """

    constant: float = 0.0
    use: FloatArray | None = None
    slip: FloatArray | None = None

    def __post_init__(self) -> None:
        if not 0.0 <= self.constant < 1.0:
            raise InputError(
                "out of range", field="slip.constant", found=self.constant, expected="0 to 1"
            )
        if (self.use is None) != (self.slip is None):
            raise InputError("a slip table needs both use and slip", field="slip")
        if self.use is None or self.slip is None:
            return
        use, slip = frozen_array(self.use), frozen_array(self.slip)
        check_points(use, slip, name="slip", x_name="use")
        if use[0] != 0.0 or use[-1] != 1.0:
            raise InputError(
                "the slip table must run from no use of the traction to full use",
                field="slip.use",
                found=f"{use[0]:.4g} .. {use[-1]:.4g}",
                expected="0 .. 1",
            )
        if np.any((slip < 0) | (slip >= 1)) or np.any(np.diff(slip) < 0):
            raise InputError(
                "slip must lie between 0 and 1 and never fall as the pull rises",
                field="slip.slip",
                found=slip.tolist(),
            )
        object.__setattr__(self, "use", use)
        object.__setattr__(self, "slip", slip)

    @cached_property
    def _curve(self) -> Curve | None:
        if self.use is None or self.slip is None:
            return None
        return Curve(self.use, self.slip, name="slip", x_name="use of traction")

    def at(self, use: ArrayLike) -> FloatArray:
        """Return the slip at a use of the traction (any shape).

        Use beyond 1 cannot be put on the ground; the slip of full use stands there.
        """
        share = np.clip(np.abs(np.asarray(use, dtype=np.float64)), 0.0, 1.0)
        if self._curve is None:
            return np.full(share.shape, self.constant)
        return np.asarray(self._curve(share))


@dataclass(frozen=True, kw_only=True)
class Tracks:
    """Crawler tracks by the pitch radius of the driving sprocket.

    Parameters
    ----------
    sprocket_radius : float
        Track laid per turn of the sprocket / 2 pi [m].
    """

    sprocket_radius: float

    def __post_init__(self) -> None:
        require_positive(self.sprocket_radius, "tracks.sprocket_radius")
        if not 0.05 <= self.sprocket_radius <= 2.0:
            raise InputError(
                "no such sprocket",
                field="tracks.sprocket_radius",
                found=f"{self.sprocket_radius:.4g} m",
                expected="0.05 to 2 m",
            )


@dataclass(frozen=True, kw_only=True)
class Balance:
    """Weight on the driven wheels, and the geometry that moves it on a grade.

    Parameters
    ----------
    driven_axle : {"front", "rear", "all"}
    driven_share_empty, driven_share_laden : float
        Share of the weight on driven wheels on the level; 1 when all wheels are driven.
    wheelbase : float, optional
        [m].
    gravity_height_empty, gravity_height_laden : float, optional
        Height of the centre of gravity above ground [m].
    """

    driven_axle: DrivenAxle = "all"
    driven_share_empty: float = 1.0
    driven_share_laden: float = 1.0
    wheelbase: float | None = None
    gravity_height_empty: float | None = None
    gravity_height_laden: float | None = None

    def __post_init__(self) -> None:
        require_choice(self.driven_axle, "balance.driven_axle", AXLES)
        for name in ("driven_share_empty", "driven_share_laden"):
            share = getattr(self, name)
            if not 0.0 < share <= 1.0:
                raise InputError(
                    "not a share of the weight",
                    field=f"balance.{name}",
                    found=share,
                    expected="above 0 and at most 1",
                    hint=f"percent? write {share / 100:g}" if 1.0 < share <= 100.0 else None,
                )
            if self.driven_axle == "all" and share != 1.0:
                raise InputError(
                    "when all wheels are driven they carry all the weight",
                    field=f"balance.{name}",
                    found=share,
                    expected="1, or a driven axle that is front or rear",
                )
        for name in ("wheelbase", "gravity_height_empty", "gravity_height_laden"):
            require_positive(getattr(self, name), f"balance.{name}")

    def driven_share(self, load: Load) -> float:
        """Return the share of the weight on driven wheels on the level."""
        return self.driven_share_empty if load == "empty" else self.driven_share_laden

    def transfer(self, load: Load) -> float | None:
        """Return (height of the centre of gravity) / wheelbase; None where not known."""
        height = self.gravity_height_empty if load == "empty" else self.gravity_height_laden
        if height is None or self.wheelbase is None:
            return None
        return height / self.wheelbase


@dataclass(frozen=True, kw_only=True, eq=False)
class Machine(Component):
    """A machine without its engine, converter and driveline, frozen and validated.

    Parameters
    ----------
    id, name, source : str
        Identity and where the numbers come from.
    mass_empty : float
        Ready for work, operator included [kg].
    payload : float
        Mass of the load [kg]; 0 for a machine that carries none.
    running_gear : Tyre or Tracks
    slip : Slip
    balance : Balance
    frontal_area : float, optional
        [m^2].
    drag_coefficient : float, optional
        Of the air; needed with the frontal area.
    wheel_inertia : float, optional
        Of everything that turns with the wheels or sprockets, all together [kg.m^2].
    running_drag : float
        Force that axles, hubs, brakes and seals take beside the rolling resistance of the ground
        [N].
    cooler : Cooler, optional
    oil : Oil
    interface : tuple of (str, str)
    given_notes : tuple of Note

    Raises
    ------
    InputError
        Naming the field.
    """

    id: str
    name: str
    source: str
    mass_empty: float
    payload: float = 0.0
    running_gear: Tyre | Tracks
    slip: Slip = field(default_factory=Slip)
    balance: Balance = field(default_factory=Balance)
    frontal_area: float | None = None
    drag_coefficient: float | None = None
    wheel_inertia: float | None = None
    running_drag: float = 0.0
    cooler: Cooler | None = None
    oil: Oil = field(default_factory=Oil)
    interface: tuple[tuple[str, str], ...] = ()
    given_notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        for name in ("mass_empty", "frontal_area", "drag_coefficient", "wheel_inertia"):
            require_positive(getattr(self, name), name)
        for name in ("payload", "running_drag"):
            require_not_negative(getattr(self, name), name)
        require_within(self.frontal_area, "frontal_area", 0.05, 500.0, "m2")
        if not 100.0 <= self.mass_empty <= 1e6:
            raise InputError(
                "no such machine",
                field="mass_empty",
                found=f"{self.mass_empty:.6g} kg",
                expected="100 kg to 1000 t",
                hint="is the unit right?",
            )
        if (self.frontal_area is None) != (self.drag_coefficient is None):
            missing = "frontal_area" if self.frontal_area is None else "drag_coefficient"
            raise InputError("air drag needs both area and coefficient", field=missing)

    def mass(self, load: Load) -> float:
        """Return the mass [kg] empty or laden."""
        require_choice(load, "load", LOADS)
        return self.mass_empty + (self.payload if load == "laden" else 0.0)

    @property
    def rolling_radius(self) -> float:
        """Distance moved per turn of wheel or sprocket without slip / 2 pi [m]."""
        gear = self.running_gear
        return gear.rolling_radius if isinstance(gear, Tyre) else gear.sprocket_radius

    def with_radius(self, factor: float) -> Machine:
        """Return the machine on wheels or sprockets of another radius, by a factor on it."""
        gear = self.running_gear
        radius = factor * self.rolling_radius
        if isinstance(gear, Tyre):
            return self.replace(running_gear=gear.replace(rolling_radius=radius))
        return self.replace(running_gear=Tracks(sprocket_radius=radius))

    @property
    def on_tracks(self) -> bool:
        """Whether the machine runs on tracks."""
        return isinstance(self.running_gear, Tracks)

    @property
    def drag_area(self) -> float:
        """Drag coefficient times frontal area [m^2]; zero where not given."""
        if self.frontal_area is None or self.drag_coefficient is None:
            return 0.0
        return self.frontal_area * self.drag_coefficient

    @cached_property
    def notes(self) -> tuple[Note, ...]:
        """Every assumption and oddity that belongs to this machine."""
        notes = list(self.given_notes)
        if isinstance(self.running_gear, Tyre):
            notes += self.running_gear.given_notes
        notes += self.oil.notes
        if self.frontal_area is None:
            notes.append(
                assumption(
                    "air-drag-not-given", "No frontal area is given: air drag is taken as zero."
                )
            )
        if self.slip.use is None and self.slip.constant == 0.0:
            notes.append(
                assumption("slip-not-given", "No slip is given: the wheels are taken not to slip.")
            )
        balance = self.balance
        if balance.driven_axle != "all" and balance.transfer("empty") is None:
            notes.append(
                assumption(
                    "weight-transfer-not-given",
                    "Wheelbase or height of the centre of gravity is not given: the driven share "
                    "of the weight is taken to stay the same on a grade.",
                )
            )
        height = balance.transfer("laden" if self.payload else "empty")
        if height is not None and not 0.1 <= height <= 1.0:
            notes.append(
                Note(
                    "gravity-height-odd",
                    f"The centre of gravity is {height:.2f} wheelbases high: usual are 0.2 to 0.7 "
                    "(common practice). Check heights and wheelbase.",
                )
            )
        if self.payload > 3.0 * self.mass_empty:
            notes.append(
                Note(
                    "payload-odd",
                    f"The payload is {self.payload / self.mass_empty:.1f} times the empty mass. "
                    "Check units.",
                )
            )
        return tuple(notes)

    def __repr__(self) -> str:
        wheels = "tracks" if self.on_tracks else "wheels"
        mass = f"{self.mass_empty:.0f} kg" + (f" + {self.payload:.0f} kg" if self.payload else "")
        return f"Machine({self.id!r}, {mass}, {wheels}, radius {self.rolling_radius:.3f} m)"
