"""What is known of the machine that wrote a log."""

from __future__ import annotations

from dataclasses import dataclass, field

from converter_match.components.converter import Converter
from converter_match.components.driveline import Driveline
from converter_match.components.engine import Engine
from converter_match.components.machine import Machine
from converter_match.errors import InputError
from converter_match.physics.identify.identify import Steadiness


@dataclass(frozen=True, kw_only=True)
class LogBasis:
    """What is known of the machine that wrote the log.

    Parameters
    ----------
    engine : Engine, optional
        Its accessories are taken off the torque, its inertia off the rest.
    converter : Converter, optional
        To compare with; its impeller's inertia, and its coupling point.
    hydraulic_torque : float
        Taken at the flywheel beside the accessories [N.m].
    machine, driveline, gear : optional
        With a ``grade`` column: from grade and mass to the turbine's torque.
    rolling_resistance : float
        Share of weight.
    laden : bool
    steadiness : Steadiness
    coverage : float
        Of the bands.
    torque_in_percent : bool
        Whether the log has the engine torque as a share of a reference torque.
    torque_unit : float, optional
        The unit in which the log has it [N.m], where it is none of those.

    Raises
    ------
    InputError
        If the coverage is out of range, or the gear is not one of the driveline.
    """

    engine: Engine | None = None
    converter: Converter | None = None
    hydraulic_torque: float = 0.0
    machine: Machine | None = None
    driveline: Driveline | None = None
    gear: str | None = None
    rolling_resistance: float = 0.02
    laden: bool = True
    steadiness: Steadiness = field(default_factory=Steadiness)
    coverage: float = 0.95
    torque_in_percent: bool = False
    torque_unit: float | None = None

    def __post_init__(self) -> None:
        if not 0.5 <= self.coverage <= 0.999:
            raise InputError(
                "out of range", field="coverage", found=self.coverage, expected="0.5 to 0.999"
            )
        if self.gear is not None and self.driveline is not None:
            self.driveline.gear(self.gear)

    @property
    def inertia(self) -> float | None:
        """Of engine and impeller [kg.m^2]; None where one is not known."""
        engine = None if self.engine is None else self.engine.inertia
        impeller = None if self.converter is None else self.converter.impeller_inertia
        return None if engine is None or impeller is None else engine + impeller

    @property
    def weighs(self) -> bool:
        """Whether a grade leads to the turbine's torque, the gear being known."""
        return None not in (self.machine, self.driveline)
