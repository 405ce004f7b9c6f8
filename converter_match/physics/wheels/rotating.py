"""Rotating masses: what turns with the wheels, the gearbox, the turbine and the engine.

Seen at the tread, an inertia J that turns i times as fast as the wheel counts as ``J i^2 / r^2``;
what lies before a gear mesh is pushed through the mesh, so its share comes with the efficiency:

    M = m + [J_w + eta_s i_s^2 J_o + eta i^2 (J_t + mu omega_e' J_e)] / r^2

i is the overall ratio, i_s that behind the gearbox, mu the torque ratio and
``omega_e' = d omega_e / d omega_t`` how fast the match point moves: the engine and impeller (J_e)
store energy only as far as their speed follows the turbine's. Locked up, both are 1.
Slip is left out here: it would change these terms by a few percent of themselves.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from converter_match.components.converter import Converter
from converter_match.components.driveline import Driveline, Gear
from converter_match.components.engine import Engine
from converter_match.components.machine import Machine
from converter_match.components.motor import Motor
from converter_match.curves import FloatArray
from converter_match.notes import Note, assumption
from converter_match.physics.wheels.wheels import GearDrive, WheelPoints


@dataclass(frozen=True)
class Inertias:
    """Moments of inertia [kg.m^2].

    Parameters
    ----------
    engine : float
        Engine and impeller, before the converter.
    turbine : float
        Turbine and gearbox input.
    output : float
        Gearbox output and what turns with it.
    wheels : float
        All wheels or sprockets together.
    notes : tuple of Note
    """

    engine: float
    turbine: float
    output: float
    wheels: float
    notes: tuple[Note, ...] = ()

    @classmethod
    def of(
        cls,
        engine: Engine | Motor,
        converter: Converter | None,
        driveline: Driveline,
        machine: Machine,
        *,
        ratio: float = 1.0,
    ) -> Inertias:
        """Gather the inertias that the components state; what is missing counts as zero, noted.

        A motor may be coupled directly, through a reduction of some `ratio`: its inertia counts
        with the square of it at the gearbox input.
        """
        mover = "engine" if isinstance(engine, Engine) else "motor"
        own = engine.inertia
        given = {
            mover: None if own is None else own * ratio**2,
            "impeller": 0.0 if converter is None else converter.impeller_inertia,
            "turbine": 0.0 if converter is None else converter.turbine_inertia,
            "gearbox input": driveline.input_inertia,
            "gearbox output": driveline.output_inertia,
            "wheels": machine.wheel_inertia,
        }
        missing = [name for name, value in given.items() if value is None]
        value = {name: inertia or 0.0 for name, inertia in given.items()}
        notes: tuple[Note, ...] = ()
        if missing:
            notes = (
                assumption(
                    "inertia-not-given",
                    f"No inertia is given for: {', '.join(missing)}. It counts as zero, so "
                    f"acceleration in the low "
                    "gears comes out too high.",
                ),
            )
        return cls(
            engine=value[mover] + value["impeller"],
            turbine=value["turbine"] + value["gearbox input"],
            output=value["gearbox output"],
            wheels=value["wheels"],
            notes=notes,
        )

    def in_gear(self, driveline: Driveline, gear: Gear, machine: Machine) -> float:
        """Return the mass [kg] that everything behind the converter stands for in a gear."""
        ratio, stages = driveline.overall_ratio(gear), driveline.stage_ratio
        turning = (
            self.wheels
            + driveline.stage_efficiency * stages**2 * self.output
            + driveline.efficiency(gear) * ratio**2 * self.turbine
        )
        return float(turning / machine.rolling_radius**2)

    def with_engine(self, drive: GearDrive, points: WheelPoints) -> FloatArray:
        """Return the mass [kg] of all rotating parts along a drive's curve, same shape."""
        gear, line, machine = drive.gear, drive.driveline, drive.machine
        factor = line.efficiency(gear) * (line.overall_ratio(gear) / machine.rolling_radius) ** 2
        follows = engine_follows(drive, points) * self.engine
        return self.in_gear(line, gear, machine) + factor * follows


def engine_follows(drive: GearDrive, points: WheelPoints) -> FloatArray:
    """Return ``mu d omega_e / d omega_t`` along a drive's curve; 1 in lock-up drive.

    Parameters
    ----------
    drive : GearDrive
    points : WheelPoints
        Of that drive, by rising turbine speed.
    """
    turbine = points.turbine
    if drive.drive == "lock-up":
        return np.ones(turbine.turbine_speed.shape)
    slope = np.gradient(turbine.engine_speed, turbine.turbine_speed)
    with np.errstate(divide="ignore", invalid="ignore"):
        mu = np.where(
            turbine.input_torque > 0.0, turbine.turbine_torque / turbine.input_torque, 1.0
        )
    return np.asarray(mu * slope)


def textbook_mass_factor(overall_ratio: float) -> float:
    """Return effective mass / mass by ``1.04 + 0.0025 i^2``: a rule for road vehicles.

    Second-hand. It holds for a driveline without a converter, or locked up; with an open converter
    the engine's inertia hardly takes part, and the rule is not used here for any result.

    Parameters
    ----------
    overall_ratio : float
        Engine speed / wheel speed.
    """
    return 1.04 + 0.0025 * overall_ratio**2
