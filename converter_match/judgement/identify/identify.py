"""From a machine's log to a characteristic with bands, beside the one on the sheet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from converter_match.answer.block import Estimate
from converter_match.components.converter import Converter
from converter_match.components.driveline import Driveline
from converter_match.components.engine import Engine
from converter_match.components.gear import Gear
from converter_match.components.machine import Machine
from converter_match.constants import SEA_LEVEL_DENSITY
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.conditions import words as conditions
from converter_match.judgement.identify.doubts import (
    LoadSeen,
    check_energy,
    check_turbine,
    doubts,
    gears_of,
    one_gear,
    torque_unit_doubt,
)
from converter_match.judgement.identify.result import Identification, Node
from converter_match.judgement.identify.words import WORDS
from converter_match.judgement.stall.words import STALL_TEST, TOWING
from converter_match.notes import Note
from converter_match.physics.engine.supply import TorqueSupply, engine_supply
from converter_match.physics.identify.identify import (
    LOCKED,
    Fitted,
    Steadiness,
    Stretches,
    calm,
    find_kink,
    fit_curve,
    nodes_for,
    stretches,
)
from converter_match.physics.identify.reservoir import Reservoir
from converter_match.physics.stall.settling import REFERENCE_OIL, density_factor
from converter_match.physics.wheels.road_load import RoadLoad

# Converter data are compared in warm oil: colder rows shift the capacity and are left out [K].
_COLDEST = 323.15
# Capacity / sheet outside which another engine or converter is likelier than a worn one: common
# practice, no source. A torque signal is wrong by several percent, aerated oil takes up to a third.
_LIKE_THE_SHEET = (0.7, 1.4)
# Change of speed ratio from one stretch to the next that makes another episode of it.
_MOVED = 0.01
# A lock-up clutch whose signal is above this share of closed is not open.
_OPEN = 0.02


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


def identify(
    pieces: Iterable[Mapping[str, FloatArray]],
    basis: LogBasis | None = None,
    *,
    step: float | None = None,
) -> Identification:
    """Return the characteristic that a log tells of.

    Parameters
    ----------
    pieces : iterable of dict
        Columns of rows that follow one another, name -> ndarray, SI: ``time``, ``engine speed``,
        ``turbine speed``, ``engine torque``, and where known ``turbine torque``, ``grade``,
        ``oil temperature``, ``gear`` (its number, 0 neutral, below zero reverse), ``lock-up``
        (0 open, 1 closed), ``friction torque`` and ``pump torque``, which are taken off the engine
        torque. Read once, one piece in memory at a time.
    basis : LogBasis, optional
    step : float, optional
        Usual step in time [s]; that of the first piece if not given.

    Raises
    ------
    InputError
        If nothing in the log is steady with the converter working, or what it says breaks energy.
    """
    known = LogBasis() if basis is None else basis
    supply = (
        None
        if known.engine is None
        else engine_supply(known.engine, hydraulic_torque=known.hydraulic_torque)
    )
    reservoir, counts = Reservoir(), Counter[str]()
    episode = 0
    last_index, last_ratio = -10, -10.0
    columns: set[str] = set()
    loads = None if known.engine is None else LoadSeen(known.engine)
    for block in _whole_stretches(pieces, known.steadiness.length):
        columns |= set(block)
        if step is None:
            step = float(np.median(np.diff(block["time"]))) if block["time"].size > 1 else 0.1
        cut = stretches(block, known.steadiness.length)
        steady = calm(cut, known.steadiness, step) & one_gear(cut)
        counts += Counter(stretches=steady.size, steady=int(steady.sum()))
        # An episode ends where a stretch is not steady or the speed ratio has moved on; its number
        # goes on over the pieces.
        at = np.flatnonzero(steady)
        if not at.size:
            continue
        index = cut.index[at]
        if loads is not None:
            loads.see(cut.mean["engine speed"][at], cut.mean["engine torque"][at])
        ratio = cut.mean["turbine speed"][at] / cut.mean["engine speed"][at]
        moved = np.abs(np.diff(ratio, prepend=last_ratio)) > _MOVED
        breaks = (np.diff(index, prepend=last_index) != 1) | moved
        last_ratio = float(ratio[-1])
        number = episode + np.cumsum(breaks)
        episode, last_index = int(number[-1]), int(index[-1])
        samples, left_out = _samples(cut, at, known, supply)
        counts += left_out
        samples["episode"] = number.astype(float)
        use = samples.pop("use").astype(bool)
        reservoir = reservoir.plus({name: values[use] for name, values in samples.items()})
    result = _result(reservoir, counts, known, columns)
    top = None if loads is None else loads.top
    doubt = torque_unit_doubt(known.torque_unit, top, result.level)
    low, high = _LIKE_THE_SHEET
    if result.level is not None and not low <= result.level <= high:
        far = WORDS.note("far-from-sheet", level=result.level)
        result = replace(result, notes=(far, *result.notes))
    return result if doubt is None else replace(result, notes=(doubt, *result.notes))


def _whole_stretches(
    pieces: Iterable[Mapping[str, FloatArray]], length: float
) -> Iterator[dict[str, FloatArray]]:
    """Move the rows of the last, unfinished stretches of each piece to the next one.

    One finished stretch goes along, because the one after it is judged by it.
    """
    rest: dict[str, FloatArray] = {}
    for piece in pieces:
        joined = {
            name: np.concatenate([rest[name], values]) if rest else np.asarray(values)
            for name, values in piece.items()
        }
        if not joined["time"].size:
            continue
        number = np.floor(joined["time"] / length)
        cut = int(np.searchsorted(number, number[-1]))
        keep_from = int(np.searchsorted(number, number[max(cut - 1, 0)]))
        if cut > 0:
            yield {name: values[:cut] for name, values in joined.items()}
        rest = {name: values[keep_from:] for name, values in joined.items()}
        if cut == 0:
            rest = joined
    if rest:
        yield rest


def _samples(
    cut: Stretches,
    at: NDArray[np.intp],
    known: LogBasis,
    supply: TorqueSupply | None,
) -> tuple[dict[str, FloatArray], Counter[str]]:
    """Return the samples at some stretches, with what to `use`, and how many are left out why."""
    mean = {name: values[at] for name, values in cut.mean.items()}
    slope = {name: values[at] for name, values in cut.slope.items()}
    engine, turbine, torque = mean["engine speed"], mean["turbine speed"], mean["engine torque"]
    for taken in ("friction torque", "pump torque"):
        torque = torque - mean.get(taken, np.zeros_like(torque))
    ok = np.ones(at.size, dtype=bool)
    if supply is not None:
        low, high = supply.domain
        ok = (engine >= low) & (engine <= high)
        torque = torque - supply.load_torque(np.clip(engine, low, high))
    if known.inertia is not None:
        torque = torque - known.inertia * slope["engine speed"]
    nu = turbine / engine
    locked = np.abs(nu - 1.0) < 1.0 - LOCKED
    if "lock-up" in mean:
        locked = locked | (mean["lock-up"] > _OPEN)
    if "gear" in mean:
        ok = ok & (mean["gear"] != 0.0)  # in neutral nothing is steady but by chance
    oil = mean.get("oil temperature", np.full(at.size, np.nan))
    cold = oil < _COLDEST
    driven = torque <= 0
    left_out = Counter(
        outside=int((~ok).sum()),
        locked=int(locked.sum()),
        cold=int(cold.sum()),
        driven=int((driven & ~locked).sum()),
    )
    capacity = torque / engine**2
    warm = np.where(np.isfinite(oil), oil, REFERENCE_OIL)
    capacity = capacity / density_factor(warm)
    with np.errstate(divide="ignore", invalid="ignore"):
        mu = _turbine_torque(mean, slope, known) / torque
    samples = {
        "nu": nu,
        "capacity": capacity,
        "torque_ratio": mu,
        "oil": oil,
        "use": ok & ~locked & ~cold & ~driven,
    }
    return samples, left_out


def _turbine_torque(
    mean: Mapping[str, FloatArray], slope: Mapping[str, FloatArray], known: LogBasis
) -> FloatArray:
    """From its column; else from grade and mass, ``(F r / (i eta)) + drag``; else not known."""
    if "turbine torque" in mean:
        return mean["turbine torque"]
    speed = mean["turbine speed"]
    torque = np.full(speed.shape, np.nan)
    if "grade" not in mean or known.machine is None or known.driveline is None:
        return torque
    for gear, rows in gears_of(mean, known.driveline, known.gear):
        own, change = (
            {name: values[rows] for name, values in part.items()} for part in (mean, slope)
        )
        torque[rows] = _in_gear(own, change, known, known.machine, known.driveline, gear)
    return torque


def _in_gear(
    mean: Mapping[str, FloatArray],
    slope: Mapping[str, FloatArray],
    known: LogBasis,
    machine: Machine,
    driveline: Driveline,
    gear: Gear,
) -> FloatArray:
    speed = mean["turbine speed"]
    ratio, efficiency = driveline.overall_ratio(gear), driveline.efficiency(gear)
    radius, mass = machine.rolling_radius, machine.mass("laden" if known.laden else "empty")
    load = RoadLoad(
        mass=mass,
        rolling_resistance=known.rolling_resistance,
        drag_area=machine.drag_area,
        air_density=SEA_LEVEL_DENSITY,
        running_drag=machine.running_drag,
    )
    road = speed * radius / ratio
    resistance = load.resistance(mean["grade"], road)
    push = mass * slope["turbine speed"] * radius / ratio
    torque = (resistance + push) * radius / (ratio * efficiency) + gear.drag_torque(speed)
    # Standing, the ground holds back whatever the turbine gives.
    return np.where(road > 0.1, torque, np.nan)


def _result(
    reservoir: Reservoir, counts: Counter[str], known: LogBasis, columns: set[str]
) -> Identification:
    samples = reservoir.samples()
    nu, capacity, episode = samples["nu"], samples["capacity"], samples["episode"]
    if nu.size < 12:
        raise InputError(
            "too few stretches of the log are steady with the converter working",
            field="rows",
            found=f"{counts['steady']} steady stretches of {counts['stretches']}, "
            f"{counts['locked']} locked up, {nu.size} usable",
            expected="at least 12 steady stretches at full or steady throttle",
            hint="log stretches of 5 s and more at a steady load",
        )
    converter = known.converter
    kink = None if converter is None else converter.coupling
    kink_in_log = find_kink(nu, capacity)
    used = kink if kink is not None else kink_in_log
    nodes = nodes_for(used)
    fitted = fit_curve(nu, capacity, episode, nodes, coverage=known.coverage, kink=used)
    ratio = None
    with_ratio = np.isfinite(samples["torque_ratio"])
    if with_ratio.sum() >= 12:
        ratio = fit_curve(
            nu[with_ratio], samples["torque_ratio"][with_ratio], episode[with_ratio], nodes,
            coverage=known.coverage, kink=used,
        )  # fmt: skip
    check_energy(nu, samples["torque_ratio"], columns)
    check_turbine(nu, capacity)
    return Identification(
        basis_engine=None if known.engine is None else known.engine.id,
        basis_converter=None if converter is None else converter.id,
        coverage=known.coverage,
        nodes=_nodes(fitted, ratio, converter),
        coupling_used=used,
        coupling_found=kink_in_log,
        stretches=counts["stretches"],
        steady=counts["steady"],
        locked=counts["locked"],
        cold=counts["cold"],
        driven=counts["driven"],
        outside=counts["outside"],
        samples=reservoir.seen,
        sample_nu=nu,
        sample_capacity=capacity,
        sample_torque_ratio=samples["torque_ratio"],
        notes=(
            *_notes(known, columns, kink, used),
            *doubts(nu, capacity, samples["torque_ratio"], fitted, columns),
        ),
    )


def _nodes(fitted: Fitted, ratio: Fitted | None, converter: Converter | None) -> tuple[Node, ...]:
    nodes = []
    for k, node in enumerate(fitted.node):
        sheet = sheet_ratio = None
        if converter is not None and converter.domain[0] <= node <= converter.domain[1]:
            sheet = float(converter.capacity_at(node))
            sheet_ratio = float(converter.torque_ratio_at(node))

        def band(curve: Fitted | None, k: int = k) -> Estimate | None:
            if curve is None or not curve.covered[k]:
                return None
            return Estimate(float(curve.value[k]), float(curve.low[k]), float(curve.high[k]))

        nodes.append(
            Node(
                speed_ratio=float(node),
                capacity=band(fitted),
                torque_ratio=band(ratio),
                samples=int(fitted.samples[k]),
                episodes=int(fitted.episodes[k]),
                sheet_capacity=sheet,
                sheet_torque_ratio=sheet_ratio,
            )
        )
    return tuple(nodes)


def _notes(
    known: LogBasis, columns: set[str], kink: float | None, used: float | None
) -> tuple[Note, ...]:
    notes = [WORDS.note("torque-signal"), STALL_TEST, TOWING]
    if known.engine is None:
        notes.append(WORDS.note("torque-taken-as-impeller"))
    elif known.hydraulic_torque == 0.0:
        notes.append(WORDS.note("loads-as-listed"))
    if known.torque_in_percent and "friction torque" not in columns:
        notes.append(WORDS.note("friction-in-torque"))
    if known.inertia is None:
        notes.append(WORDS.note("inertia-not-known"))
    if "oil temperature" not in columns:
        notes.append(WORDS.note("oil-not-logged", oil=REFERENCE_OIL))
    else:
        notes.append(WORDS.note("oil-to-90", oil=REFERENCE_OIL, cold=_COLDEST))
    weighed = "grade" in columns and known.weighs and ("gear" in columns or known.gear)
    if "turbine torque" not in columns and not weighed:
        notes.append(WORDS.note("no-torque-ratio"))
    elif "turbine torque" not in columns:
        notes.append(WORDS.note("torque-ratio-from-grade", rolling=known.rolling_resistance))
        if known.machine is not None and known.machine.drag_area > 0.0:
            notes.append(conditions.note("air-density-standard"))
    if kink is None and used is not None:
        notes.append(WORDS.note("coupling-found", found=used))
    if used is None:
        notes.append(WORDS.note("coupling-not-found"))
    return tuple(notes)
