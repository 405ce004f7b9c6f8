"""The answer for a motor on a route: time, energy both ways, oil and winding, at both torques."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace

from converter_match.answer.block import Block, Facts, Heading, NoValue, rows_of_arrays
from converter_match.answer.noted import Answer
from converter_match.components.driveline import Driveline
from converter_match.components.machine import Machine
from converter_match.components.route import Route
from converter_match.curves import FloatArray
from converter_match.judgement.motor import words
from converter_match.judgement.motor.drive import MotorDrive
from converter_match.judgement.motor.setup import RATINGS, Rating
from converter_match.judgement.wheels.headings import identity
from converter_match.notes import Note
from converter_match.physics.haul.route import RouteRun
from converter_match.physics.heat.oil import UNSETTLED


@dataclass(frozen=True, kw_only=True)
class MotorEnergy:
    """Where the electric energy of a route goes [J].

    Parameters
    ----------
    drawn, returned : float
        At the terminals, both above zero.
    motor, accessories, reduction, converter, gearbox, axles, ground : float
        Lost in the motor, taken by what it drives beside, lost in the reduction, the converter,
        the gearbox, behind it, and by rolling, air and slip.
    rotating : float
        Into rotating parts; what gear changes take of it ends as heat.
    climbing : float
        Gained as height and speed.
    brakes : float
        Into the service brakes.
    """

    drawn: float
    returned: float
    motor: float
    accessories: float
    reduction: float
    converter: float
    gearbox: float
    axles: float
    ground: float
    rotating: float
    climbing: float
    brakes: float

    @property
    def net(self) -> float:
        """Drawn less returned [J]."""
        return self.drawn - self.returned

    @property
    def spent(self) -> float:
        """Sum of everything that it goes into [J]; the same as `net` but for rounding."""
        parts = [f.name for f in fields(self) if f.name not in ("drawn", "returned")]
        return sum(float(getattr(self, name)) for name in parts)

    @property
    def returned_share(self) -> float:
        """Returned / drawn."""
        return self.returned / self.drawn if self.drawn > 0.0 else 0.0


@dataclass(frozen=True, kw_only=True)
class WindingLaps:
    """The winding's rise on a route, in units of the steady rise at the continuous torque.

    Parameters
    ----------
    rms : float
        Root of the mean square of torque / continuous torque.
    hottest_first, hottest : float
        Highest of the first lap from cold, and lap after lap.
    permitted : float
    """

    rms: float
    hottest_first: float
    hottest: float
    permitted: float


@dataclass(frozen=True, eq=False, kw_only=True)
class MotorRun:
    """A route run with one of the motor's torques, SI units.

    Parameters
    ----------
    run : RouteRun
    time : float
        [s].
    stuck : bool
        Whether the machine stops for good on the way.
    shifts : int
    motor_speed, motor_torque, electric_power : ndarray, shape (steps,)
        [rad/s], [N.m], [W].
    energy : MotorEnergy
    oil_hottest : float or None
        Lap after lap [K]; None where it is not known.
    oil_settles : bool
    winding : WindingLaps
    assumed : tuple of Note
        On the way.
    """

    run: RouteRun
    time: float
    stuck: bool
    shifts: int
    motor_speed: FloatArray
    motor_torque: FloatArray
    electric_power: FloatArray
    energy: MotorEnergy
    oil_hottest: float | None
    oil_settles: bool
    winding: WindingLaps
    assumed: tuple[Note, ...] = ()


_RUN = (
    ("time", "time", "minutes", ".2f"),
    ("drawn", "energy drawn", "electric_energy", ""),
    ("returned", "returned", "electric_energy", ""),
    ("net", "net", "electric_energy", ""),
    ("returned_share", "share returned", "share", ""),
    ("per_distance", "net per km", "electric_energy", ""),
    ("shifts", "gear shifts", None, ".0f"),
    ("oil_hottest", "maximum oil temperature, lap after lap", "temperature", ""),
    ("rms", "rms torque, of continuous", "share", ""),
    ("winding", "winding, lap after lap, of permitted rise", "share", ""),
)
_ENERGY = (
    Heading("motor", "motor losses", "electric_energy"),
    Heading("accessories", "accessories", "electric_energy"),
    Heading("reduction", "reduction", "electric_energy"),
    Heading("converter", "converter (oil)", "electric_energy"),
    Heading("gearbox", "gearbox", "electric_energy"),
    Heading("axles", "axles, hubs", "electric_energy"),
    Heading("ground", "rolling, air, slip", "electric_energy"),
    Heading("rotating", "rotating parts", "electric_energy"),
    Heading("climbing", "height and speed", "electric_energy"),
    Heading("brakes", "service brakes", "electric_energy"),
)


@dataclass(frozen=True, eq=False)
class MotorRoute(Answer):
    """A machine with a motor on a route.

    Parameters
    ----------
    drive : MotorDrive
    driveline, machine, route : Driveline, Machine, Route
    runs : mapping of rating to MotorRun
    oil_limit : float or None
        [K]; None where there is no converter, or no limit is stated.
    returned_spread : tuple of float or None
        Least and most energy returned over what the converter's overrun may be [J]; None where
        there is no converter, or its data go beyond speed ratio 1.
    notes : tuple of Note
    """

    drive: MotorDrive
    driveline: Driveline
    machine: Machine
    route: Route
    runs: Mapping[Rating, MotorRun]
    oil_limit: float | None
    returned_spread: tuple[float, float] | None
    notes: tuple[Note, ...]

    def with_notes(self, notes: Iterable[Note]) -> MotorRoute:
        """Return the same with other notes."""
        return replace(self, notes=tuple(dict.fromkeys(notes)))

    @property
    def length(self) -> float:
        """Of the route [m]."""
        return float(self.route.length.sum())

    def blocks(self) -> tuple[Block, ...]:
        """Return time, energy, heat at both torques, where the energy goes, and every step."""
        return (
            Block("", title=self._title(), facts=self._facts()),
            self.drive.setup.origin(),
            Block("driveline", facts=identity(self.driveline), in_text=False),
            *(self._run(rating) for rating in RATINGS),
            Block(
                "",
                facts=((Heading("returned_band", "", "electric_energy"), self.returned_spread),),
                in_text=False,
            ),
            Block(
                "energy",
                title="Where the energy goes",
                columns=(Heading("rating", "torque"), *_ENERGY),
                rows=tuple(
                    (rating, *(getattr(self.runs[rating].energy, head.key) for head in _ENERGY))
                    for rating in RATINGS
                ),
                rows_key="rows",
            ),
            self._steps(),
        )

    def _title(self) -> str:
        return f"{self.machine.name} on {self.route.name}"

    def _facts(self) -> Facts:
        converter = self.drive.converter
        return (
            (Heading("machine", ""), self.machine.id),
            (Heading("route", ""), self.route.id),
            (Heading("length", "length", "haul_length"), self.length),
            (Heading("", "motor"), self.drive.setup.motor.name),
            (Heading("converter", ""), None if converter is None else converter.id),
            (Heading("reduction", ""), self.drive.ratio),
            (Heading("", "between motor and gearbox"), self.drive.title),
            (Heading("oil_limit", "", "temperature"), self.oil_limit),
            *self.drive.setup.basis(),
        )

    def _run(self, rating: Rating) -> Block:
        run = self.runs[rating]
        energy, winding = run.energy, run.winding
        oil: object = run.oil_hottest
        if oil is None:
            oil = NoValue(words.NOT_KNOWN)
        elif not run.oil_settles or (run.oil_hottest or 0.0) >= UNSETTLED:
            oil = NoValue("hotter with every lap")
        values: dict[str, object] = {
            "time": run.time,
            "drawn": energy.drawn,
            "returned": energy.returned,
            "net": energy.net,
            "returned_share": energy.returned_share,
            "per_distance": energy.net / (self.length / 1e3),
            "shifts": run.shifts,
            "oil_hottest": oil,
            "rms": winding.rms,
            "winding": winding.hottest / winding.permitted if winding.permitted else float("inf"),
        }
        return Block(
            rating,
            title=f"With the {rating} torque",
            facts=(
                (Heading("arrives", ""), not run.stuck),
                *(
                    (Heading(key, said, amount, form), values[key])
                    for key, said, amount, form in _RUN
                ),
            ),
        )

    def _steps(self) -> Block:
        run = self.runs["peak"]
        profile, states = run.run.profile, run.run.states
        return Block(
            "steps",
            columns=(
                Heading("distance", "", "distance"),
                Heading("time", "", "time"),
                Heading("speed", "", "velocity"),
                Heading("motor_speed", "", "angular_speed"),
                Heading("motor_torque", "", "torque"),
                Heading("electric_power", "", "power"),
                Heading("converter_heat", "", "power"),
                Heading("brake_force", "", "force"),
            ),
            rows=rows_of_arrays(
                profile.distance[:-1, 0],
                profile.time[:, 0],
                0.5 * (profile.speed[:-1, 0] + profile.speed[1:, 0]),
                run.motor_speed,
                run.motor_torque,
                run.electric_power,
                states.converter_heat[:, 0],
                states.brake_force[:, 0],
            ),
            rows_key="",
            in_text=False,
        )
