"""A pair at full load from stall to the governor, as rows between which straight lines are enough.

A page that is read without this package draws straight lines between rows over the speed ratio. The
rows are set where the lines would leave the curves, until nowhere between them a quantity is off by
more than a share of its largest value; corners (coupling point, rows of the sheet) are rows. What
adds up in the rows, torques on the oil and power, adds up on a straight line between them as well.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from converter_match.components.blading import BladingGeometry
from converter_match.components.cooling import Cooler
from converter_match.components.machine import Machine
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.conditions.air import cooler_around, temperature_around
from converter_match.judgement.conditions.outlet import known_oil_in_converter, stated_oil_limit
from converter_match.judgement.lesson import words
from converter_match.judgement.match.result import MatchResult, NamedPoint
from converter_match.notes import Note
from converter_match.physics.converter.blading import coupling_speed_ratio, operate
from converter_match.physics.converter.equations import circuit_of
from converter_match.physics.heat.continuous import oil_temperature
from converter_match.physics.heat.oil import OilCircuit
from converter_match.physics.match.solver import match

_FIRST_ROWS = 61
# Nowhere between the rows is a straight line off by more, as a share of the largest value.
_CLOSE = 5e-4
# Places in every cell where the lines are held against the package.
_TRIED = (0.25, 0.5, 0.75)
# Two rows as near as this are one place at which the engine jumps.
_JUMP = 1e-6
_ROUNDS = 24
ROWS_OF_BLADES = ("impeller", "turbine", "stator")


@dataclass(frozen=True, eq=False)
class FullLoadStates:
    """A pair from stall to the governor, SI units; arrays of shape (n,) over `speed_ratio`.

    Parameters
    ----------
    result : MatchResult
    speed_ratio : ndarray
        Rising; two that all but agree are a jump of the engine.
    values : mapping of str to ndarray
        ``engine_speed``, ``turbine_speed``, ``input_torque``, ``stator_torque``,
        ``turbine_torque``, ``torque_ratio``, ``efficiency``, ``input_power``, ``output_power``,
        ``heat``; with a machine ``oil_settles`` and ``outlet_above`` [K], and ``oil_rate`` [K/s];
        with blades ``stator_speed``, ``meridional`` and for each row of blades ``ROW_blade``,
        ``ROW_swirl`` and ``ROW_next`` [m/s].
    stops : tuple of NamedPoint
        Named points that are reached, in the order in which a machine passes them.
    coupling : float or None
        Speed ratio from which a one-way stator freewheels.
    jumps : tuple of float
        Speed ratios at which the engine jumps.
    off : float
        How far a straight line is from the package at most, as a share of each largest value.
    tried : int
        Places at which that was looked at.
    blading : BladingGeometry or None
    machine : Machine or None
    oil_limit : float or None
        Lowest limit that machine and converter state [K].
    notes : tuple of Note
        What cannot be shown of this pair, and what was assumed.
    """

    result: MatchResult
    speed_ratio: FloatArray
    values: MappingProxyType[str, FloatArray]
    stops: tuple[NamedPoint, ...]
    coupling: float | None
    jumps: tuple[float, ...]
    off: float
    tried: int
    blading: BladingGeometry | None
    machine: Machine | None
    oil_limit: float | None
    notes: tuple[Note, ...] = field(default=())

    def at(self, speed_ratio: float) -> dict[str, float]:
        """Return all values at one speed ratio by the package itself, not by the rows."""
        one = _values(self.result, self.blading, self.machine, np.array([speed_ratio]))
        return {name: float(array[0]) for name, array in one.items()}


def full_load_states(
    result: MatchResult,
    *,
    blading: BladingGeometry | None = None,
    machine: Machine | None = None,
) -> FullLoadStates:
    """Return the rows from stall to the governor, with what cannot be shown of the pair.

    Parameters
    ----------
    result : MatchResult
        Of the pair; an engine coming up from idle is followed.
    blading : BladingGeometry, optional
        Fitted to the converter's sheet, for velocities and the speed of a stator that freewheels.
    machine : Machine, optional
        Its oil and its cooler.

    Raises
    ------
    InputError
        If engine and converter have no match at all, coming up from idle.
    """
    low, high = _range(result)
    if blading is not None:
        high = min(high, _circulates_to(blading, low, high))
    grid = _first_grid(result, blading, low, high)
    off, tried = 0.0, 0
    for _ in range(_ROUNDS):
        grid, off, tried, settled = _refined(result, blading, machine, grid)
        if settled:
            break
    values = _values(result, blading, machine, grid)
    jumps = _jumps(grid, values["engine_speed"])
    stops = tuple(
        item
        for item in result.key_points()
        if item.point is not None and low - 1e-9 <= item.point.speed_ratio <= high + 1e-9
    )
    coupling = result.converter.coupling if result.converter.stator == "one-way" else None
    return FullLoadStates(
        result,
        grid,
        MappingProxyType(values),
        stops,
        coupling,
        jumps,
        off,
        tried,
        blading,
        machine,
        stated_oil_limit(machine, result.converter),
        tuple(_notes(result, blading, machine, low, jumps, values)),
    )


def _range(result: MatchResult) -> tuple[float, float]:
    """Return the speed ratios between which the engine, coming up from idle, has a match."""
    points = result.locus.from_idle()
    there = points.speed_ratio[points.found & (points.speed_ratio >= 0.0)]
    if there.size < 2:
        raise InputError(
            "engine and converter have no match from stall on, coming up from idle",
            source=f"{result.engine.id} with {result.converter.id}",
            hint="a converter of less capacity, or an engine with more torque at low speed",
        )
    low, high = float(there.min()), float(there.max())
    limit, coupling = result.governed_limit, result.converter.coupling
    # Where the governor comes first, all that the converter does is still shown.
    if limit is not None and max(low, coupling or 0.0) < limit.speed_ratio < high:
        high = limit.speed_ratio
    return low, high


def _circulates_to(blading: BladingGeometry, low: float, high: float) -> float:
    nu = np.linspace(low, high, 401)
    moving = operate(blading, nu).flow > 0.0
    return high if moving.all() else float(nu[max(int(np.argmin(moving)) - 1, 1)])


def _first_grid(
    result: MatchResult, blading: BladingGeometry | None, low: float, high: float
) -> FloatArray:
    own = [
        np.linspace(low, high, _FIRST_ROWS),
        result.converter.characteristic.speed_ratio,
        [item.point.speed_ratio for item in result.key_points() if item.point is not None],
        [] if result.converter.coupling is None else [result.converter.coupling],
    ]
    if blading is not None:
        corner = coupling_speed_ratio(blading)
        own.append([] if corner is None else [corner])
    grid = np.unique(np.concatenate([np.asarray(part, dtype=np.float64) for part in own]))
    grid = grid[(grid >= low) & (grid <= high)]
    # Two ways to the same corner may differ in the last digits, and are no jump.
    return np.asarray(grid[np.append(np.diff(grid) > 2.0 * _JUMP, True)])


def _jumps(grid: FloatArray, speed: FloatArray) -> tuple[float, ...]:
    """Return where the engine's speed differs though two rows are one place."""
    there = (np.diff(grid) <= _JUMP) & (np.abs(np.diff(speed)) > _CLOSE * np.max(speed))
    return tuple(float(nu) for nu in grid[1:][there])


def _refined(
    result: MatchResult,
    blading: BladingGeometry | None,
    machine: Machine | None,
    grid: FloatArray,
) -> tuple[FloatArray, float, int, bool]:
    """Return a grid with rows added where lines are off, the largest error, and whether any was."""
    shares = np.array(_TRIED)
    between = grid[:-1, np.newaxis] + np.diff(grid)[:, np.newaxis] * shares
    rows = _values(result, blading, machine, grid)
    true = _values(result, blading, machine, between.ravel())
    worst = np.zeros(grid.size - 1)
    for name, row in rows.items():
        line = row[:-1, np.newaxis] + np.diff(row)[:, np.newaxis] * shares
        scale = float(np.abs(row[np.isfinite(row)]).max(initial=0.0)) or 1.0
        miss = np.abs(true[name].reshape(line.shape) - line).max(axis=1) / scale
        worst = np.fmax(worst, miss)
    wide = np.diff(grid) > _JUMP
    bad = wide & (worst > _CLOSE)
    off = float(worst[wide & ~bad].max(initial=0.0))
    tried = int(wide.sum()) * shares.size
    if not bad.any():
        return grid, off, tried, True
    middle = 0.5 * (grid[:-1] + grid[1:])[bad]
    return np.sort(np.concatenate([grid, middle])), off, tried, False


def _values(
    result: MatchResult, blading: BladingGeometry | None, machine: Machine | None, nu: FloatArray
) -> dict[str, FloatArray]:
    points = match(result.supply, result.converter, nu).from_idle()
    found = {
        "engine_speed": points.engine_speed,
        "turbine_speed": points.turbine_speed,
        "input_torque": points.input_torque,
        # The torques on the oil add up to zero.
        "stator_torque": points.turbine_torque - points.input_torque,
        "turbine_torque": points.turbine_torque,
        "torque_ratio": points.torque_ratio,
        "efficiency": points.efficiency,
        "input_power": points.input_power,
        "output_power": points.output_power,
        "heat": points.heat,
    }
    if machine is not None:
        found |= _oil(result, machine, points.heat)
    if blading is not None:
        found |= _velocities(blading, nu, points.engine_speed)
    return found


def _oil(result: MatchResult, machine: Machine, heat: FloatArray) -> dict[str, FloatArray]:
    """Return where the oil would settle with the heat of the converter, and how it gets there."""
    found: dict[str, FloatArray] = {}
    cooler, air = _cooler(result, machine), temperature_around(result.site)
    if cooler is not None:
        found["oil_settles"] = oil_temperature(cooler, heat, air)
    circuit = OilCircuit.of(machine, air, cooler)
    start = machine.oil.working_temperature
    if circuit is not None and start is not None:
        taken = float(circuit.cooler_conductance(np.asarray(start))) * (start - air)
        found["oil_rate"] = np.asarray((heat - taken) / circuit.oil_capacity)
    inside, _ = known_oil_in_converter(machine.oil, result.converter)
    if inside is not None:
        found["outlet_above"] = inside.share * inside.steady_rise(heat)
    return found


def _cooler(result: MatchResult, machine: Machine) -> Cooler | None:
    return cooler_around(result.site, machine)


def _velocities(
    blading: BladingGeometry, nu: FloatArray, engine_speed: FloatArray
) -> dict[str, FloatArray]:
    """Return the sides of the velocity triangles, as `physics.converter.velocity_triangles`."""
    points = operate(blading, nu)
    circuit = circuit_of(blading)
    speeds = {
        "impeller": engine_speed,
        "turbine": nu * engine_speed,
        "stator": points.stator_speed * engine_speed,
    }
    through = points.flow * engine_speed / circuit.flow_area
    found = {"stator_speed": speeds["stator"], "meridional": through}
    for k, row in enumerate(circuit.rows):
        after = circuit.rows[(k + 1) % len(circuit.rows)]
        blade = speeds[row.name] * row.exit_radius
        found[f"{row.name}_blade"] = np.asarray(blade)
        found[f"{row.name}_swirl"] = np.asarray(blade + through * row.exit_tan)
        found[f"{row.name}_next"] = np.asarray(
            speeds[after.name] * row.exit_radius + through * after.entry_tan
        )
    return found


def _notes(
    result: MatchResult,
    blading: BladingGeometry | None,
    machine: Machine | None,
    low: float,
    jumps: tuple[float, ...],
    values: dict[str, FloatArray],
) -> list[Note]:
    notes = []
    converter = result.converter
    if low > 1e-9:
        notes.append(words.STATES.note("begins-late", low=low))
    for nu in jumps:
        notes.append(words.STATES.note("engine-jumps", nu=nu))
    if (result.locus.count > 1).any() and not jumps:
        notes.append(words.STATES.note("several-matches"))
    if converter.stator == "none":
        notes.append(words.STATES.note("no-stator"))
    elif converter.coupling is None:
        notes.append(words.STATES.note("no-coupling-point"))
    elif converter.stator == "fixed":
        notes.append(words.STATES.note("stator-fixed", nu=converter.coupling))
    if blading is None:
        notes.append(words.STATES.note("no-blades"))
    else:
        notes.append(words.STATES.note("blades-estimated"))
    if machine is None:
        notes.append(words.STATES.note("no-machine"))
    elif "oil_settles" not in values:
        notes.append(words.STATES.note("no-cooler", name=machine.name))
    else:
        notes.append(words.STATES.note("converter-heat-alone", name=machine.name))
    return notes
