"""What a converter drives that is not a vehicle: winch, pump, propeller, conveyor, table; SI.

The load sits behind a gear: ``omega_load = omega_turbine / i``. While it resists, the losses of the
gear come on top; while it drives, they hold it back:

    T_turbine = T_load / (i eta)          the turbine drives the load
    T_turbine = T_load eta_back / i       the load drives the turbine
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from converter_match.components.base import Component, require_choice, require_positive
from converter_match.components.engine import SpeedTable
from converter_match.curves import Curve, FloatArray
from converter_match.errors import InputError
from converter_match.notes import Note

Work = Literal["hoist", "haul"]
WORK: tuple[Work, ...] = ("hoist", "haul")
Machine = Literal["pump", "propeller"]
_MOST_LAYERS = 50


@dataclass(frozen=True, kw_only=True)
class Winch:
    """A drum that takes in rope against a constant pull.

    Parameters
    ----------
    line_pull : float
        In the rope, at the drum [N].
    drum_diameter : float
        Of the bare drum [m].
    rope_diameter : float
        [m].
    layers : int
        Layers of rope that are looked at, the first on the bare drum.
    work : {"hoist", "haul"}
        A load that is hoisted pulls the drum back at rest; one that is hauled only resists.
    breakaway_pull : float, optional
        Pull at which the rope begins to move [N]; `line_pull` if not given.
    lowering_efficiency : float, optional
        Of drum and gear while the load drives them, 0 to 1; that of driving if not given.

    Raises
    ------
    InputError
        If a value is out of range.

    Notes
    -----
    The rope of layer k runs on the radius ``r_k = D / 2 + (k - 1/2) d``, one layer straight above
    the other (textbooks of hoisting; rope that beds into the grooves below it winds a little
    closer).
    """

    line_pull: float
    drum_diameter: float
    rope_diameter: float
    layers: int = 1
    work: Work = "haul"
    breakaway_pull: float | None = None
    lowering_efficiency: float | None = None

    def __post_init__(self) -> None:
        for name in ("line_pull", "drum_diameter", "rope_diameter", "breakaway_pull"):
            require_positive(getattr(self, name), f"winch.{name}")
        require_choice(self.work, "winch.work", WORK)
        if self.layers != int(self.layers) or not 1 <= self.layers <= _MOST_LAYERS:
            raise InputError(
                "not a number of layers",
                field="winch.layers",
                found=self.layers,
                expected=f"1, 2, 3 ... {_MOST_LAYERS}",
            )
        object.__setattr__(self, "layers", int(self.layers))
        _refuse_low_breakaway(self.breakaway_pull, self.line_pull, "winch.breakaway_pull")
        if self.lowering_efficiency is not None:
            _require_share(self.lowering_efficiency, "winch.lowering_efficiency")
            if self.work != "hoist":
                raise InputError(
                    "only a load that is hoisted drives the drum back",
                    field="winch.lowering_efficiency",
                    found=self.lowering_efficiency,
                    expected='no value, or work = "hoist"',
                )

    @property
    def radii(self) -> FloatArray:
        """Radius at which the rope runs on each layer [m], shape (layers,)."""
        return layer_radius(self.drum_diameter, self.rope_diameter, np.arange(1, self.layers + 1))


def layer_radius(drum_diameter: float, rope_diameter: float, layer: ArrayLike) -> FloatArray:
    """Return the radius of a layer of rope on a drum, ``D / 2 + (k - 1/2) d``.

    Parameters
    ----------
    drum_diameter, rope_diameter : float
        [m].
    layer : array_like of int
        k, from 1 on.

    Returns
    -------
    ndarray
        To the middle of the rope [m].

    Examples
    --------
    >>> layer_radius(0.4, 0.02, [1, 2, 3]).round(3).tolist()
    [0.21, 0.23, 0.25]
    """
    k = np.asarray(layer, dtype=np.float64)
    return np.asarray(0.5 * drum_diameter + (k - 0.5) * rope_diameter)


@dataclass(frozen=True, kw_only=True)
class FlowMachine:
    """A pump, fan or propeller: its torque goes with the square of its speed (affinity laws).

    Parameters
    ----------
    machine : {"pump", "propeller"}
    torque : float
        At `speed` [N.m].
    speed : float
        Of its shaft [rad/s].
    breakaway_torque : float, optional
        To start it from rest [N.m]; none if not given.
    """

    machine: Machine
    torque: float
    speed: float
    breakaway_torque: float | None = None

    def __post_init__(self) -> None:
        for name in ("torque", "speed", "breakaway_torque"):
            require_positive(getattr(self, name), f"{self.machine}.{name}")


@dataclass(frozen=True, kw_only=True)
class Conveyor:
    """A load of one torque at every speed.

    Parameters
    ----------
    torque : float
        While it runs [N.m].
    breakaway_torque : float, optional
        To start it from rest [N.m]; `torque` if not given.
    """

    torque: float
    breakaway_torque: float | None = None

    def __post_init__(self) -> None:
        for name in ("torque", "breakaway_torque"):
            require_positive(getattr(self, name), f"conveyor.{name}")
        _refuse_low_breakaway(self.breakaway_torque, self.torque, "conveyor.breakaway_torque")


@dataclass(frozen=True, kw_only=True, eq=False)
class TorqueTable(Component):
    """A load known by its torque at speeds of its shaft, from rest on.

    Parameters
    ----------
    table : SpeedTable
        Torque [N.m], zero or more, over speed [rad/s], the first of them 0.
    breakaway_torque : float, optional
        To start it from rest [N.m]; that of the first row if not given.
    """

    table: SpeedTable
    breakaway_torque: float | None = None

    def __post_init__(self) -> None:
        speed, torque = self.table.speed, self.table.value
        if speed[0] != 0.0:
            raise InputError(
                "the load has to be known from rest on, and nothing is extrapolated",
                field="table.speed[0]",
                found=float(speed[0]),
                expected="a first speed of 0",
            )
        require_positive(self.breakaway_torque, "table.breakaway_torque")
        _refuse_low_breakaway(self.breakaway_torque, float(torque[0]), "table.breakaway_torque")


Driven = Winch | FlowMachine | Conveyor | TorqueTable


@dataclass(frozen=True, kw_only=True, eq=False)
class ShaftLoad(Component):
    """What the turbine drives, with the gear between.

    Parameters
    ----------
    id, name, source : str
    driven : Winch, FlowMachine, Conveyor or TorqueTable
    ratio : float
        Turbine speed / speed of the driven shaft (the drum, the pump).
    efficiency : float
        From turbine to driven shaft, above 0 and at most 1.
    inertia : float, optional
        Of everything driven, at the driven shaft, a hanging or hauled mass included [kg.m^2].
    given_notes : tuple of Note

    Raises
    ------
    InputError
        If a value is out of range.
    """

    id: str
    name: str
    source: str
    driven: Driven
    ratio: float = 1.0
    efficiency: float = 1.0
    inertia: float | None = None
    given_notes: tuple[Note, ...] = field(default=())

    def __post_init__(self) -> None:
        require_positive(self.ratio, "ratio")
        require_positive(self.inertia, "inertia")
        _require_share(self.efficiency, "efficiency")

    @property
    def notes(self) -> tuple[Note, ...]:
        """Every assumption and warning that belongs to this load."""
        return self.given_notes

    @property
    def kind(self) -> str:
        """``winch``, ``pump``, ``propeller``, ``conveyor`` or ``table``."""
        if isinstance(self.driven, FlowMachine):
            return self.driven.machine
        return {Winch: "winch", Conveyor: "conveyor", TorqueTable: "table"}[type(self.driven)]

    @property
    def hoists(self) -> bool:
        """Whether the load pulls the turbine back at rest."""
        return isinstance(self.driven, Winch) and self.driven.work == "hoist"

    @property
    def driven_inertia(self) -> float | None:
        """Inertia of what is driven as the turbine sees it, J / i^2 [kg.m^2]."""
        return None if self.inertia is None else self.inertia / self.ratio**2

    def lines(self) -> tuple[LoadLine, ...]:
        """Return the line of the load at the turbine shaft: one, or one for each layer of rope."""
        driven, per = self.driven, 1.0 / (self.ratio * self.efficiency)
        if isinstance(driven, Winch):
            back = driven.lowering_efficiency
            back = (self.efficiency if back is None else back) / self.ratio
            breakaway = driven.breakaway_pull or driven.line_pull
            return tuple(
                LoadLine(
                    constant=driven.line_pull * radius * per,
                    breakaway=breakaway * radius * per,
                    lowering=driven.line_pull * radius * back if self.hoists else None,
                    layer=row + 1,
                    radius=radius,
                )
                for row, radius in enumerate(driven.radii.tolist())
            )
        given = driven.breakaway_torque
        if isinstance(driven, FlowMachine):
            reference = driven.speed * self.ratio
            return (
                LoadLine(
                    squared=driven.torque * per / reference**2, breakaway=(given or 0.0) * per
                ),
            )
        if isinstance(driven, Conveyor):
            return (
                LoadLine(constant=driven.torque * per, breakaway=(given or driven.torque) * per),
            )
        speed, torque = driven.table.speed * self.ratio, driven.table.value * per
        at_rest = torque[0] if given is None else given * per
        return (
            LoadLine(
                table=Curve(speed, torque, name="load torque", x_name="turbine speed"),
                breakaway=float(at_rest),
            ),
        )


@dataclass(frozen=True, eq=False)
class LoadLine:
    """Torque that a load asks of the turbine, as the turbine sees it.

    Parameters
    ----------
    constant : float
        [N.m].
    squared : float
        Times the square of the turbine speed [N.m/(rad/s)^2].
    table : Curve, optional
        Torque [N.m] over turbine speed [rad/s], from 0 on.
    breakaway : float
        Torque above which it starts from rest [N.m].
    lowering : float, optional
        Torque with which a hanging load drives the turbine backwards [N.m].
    layer : int, optional
        Of the rope on a drum.
    radius : float, optional
        Of that layer [m].
    """

    constant: float = 0.0
    squared: float = 0.0
    table: Curve | None = None
    breakaway: float = 0.0
    lowering: float | None = None
    layer: int | None = None
    radius: float | None = None

    def __call__(self, turbine_speed: ArrayLike) -> FloatArray:
        """Return the torque [N.m] at turbine speeds of any shape [rad/s].

        Below zero a hanging load drives the turbine with less than it resists by; another load
        resists there as well, and turns its sign. Past the last row of a table it is not known:
        NaN.
        """
        omega = np.asarray(turbine_speed, dtype=np.float64)
        size = np.abs(omega)
        torque = self.constant + self.squared * size**2
        if self.table is not None:
            last = self.table.domain[1]
            inside = np.minimum(size, last)
            torque = torque + np.where(size <= last, self.table(inside), np.nan)
        backwards = -torque if self.lowering is None else np.full(omega.shape, self.lowering)
        return np.where(omega < 0.0, backwards, torque)

    @property
    def last_speed(self) -> float:
        """Highest turbine speed at which it is known [rad/s]; infinite for a law."""
        return math.inf if self.table is None else self.table.domain[1]

    @property
    def corners(self) -> FloatArray:
        """Turbine speeds between which it is smooth [rad/s]."""
        return np.empty(0) if self.table is None else self.table.x


def _require_share(value: float, field: str) -> None:
    require_positive(value, field)
    if value > 1.0:
        raise InputError(
            "out of range", field=field, found=value, expected="a share above 0 and at most 1"
        )


def _refuse_low_breakaway(breakaway: float | None, running: float, field: str) -> None:
    if breakaway is not None and breakaway < running:
        raise InputError(
            "a load does not start more easily than it runs",
            field=field,
            found=breakaway,
            expected="at least what it takes while it runs",
        )
