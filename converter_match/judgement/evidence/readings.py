"""What each reading should have been, for many draws of the parts.

A reading is predicted by the same calculation as everything else: its combination in the air, on
the ground and with the load of its day, for all draws at once (`judgement.uncertainty.sampled`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from types import MappingProxyType

import numpy as np

from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.conditions.air import cooler_around, temperature_around
from converter_match.judgement.evidence.prior import PAYLOAD, Prior
from converter_match.judgement.uncertainty.drawn_match import Deviations
from converter_match.judgement.uncertainty.inputs import DrawnInput
from converter_match.judgement.uncertainty.response import few_draws, responses, steps_of
from converter_match.judgement.uncertainty.routes import varied
from converter_match.judgement.uncertainty.sampled import Sampled
from converter_match.judgement.verdict.outcome import Outcome, outcome
from converter_match.judgement.wheels.acceleration import acceleration
from converter_match.physics.engine.fuel import fuel_law
from converter_match.physics.heat.oil import OilCircuit, advance
from converter_match.physics.stall.settling import density_factor
from converter_match.study.measurement import ON_GROUND, WITH_LOAD, Measurement
from converter_match.study.study import Combination, Condition, Duty, Study

_LEVEL = 0.0
WARM_OIL = 353.15
"""Oil at the start of a hold where nobody said [K] (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class ReadingOnDraws:
    """A reading with the machine that it was taken on, as the data say.

    Parameters
    ----------
    item : Measurement
    study : Study
    """

    item: Measurement
    study: Study

    @cached_property
    def combination(self) -> Combination:
        """What was tested, in the gear that was held."""
        item = self.study.combination(self.item.combination)
        if not self.item.gear or item.driveline is None or self.item.quantity not in ON_GROUND:
            return item
        if self.item.quantity == "time-to-speed":  # shifted up to this gear
            return item
        gear = item.driveline.gear(self.item.gear)
        return item.replace(driveline=item.driveline.replace(gears=(gear,)))

    @property
    def grade(self) -> float:
        """Grade that it was read on, rise / run."""
        return _LEVEL if self.item.grade is None else self.item.grade

    @cached_property
    def outcome(self) -> Outcome:
        """What the data say of it.

        Raises
        ------
        InputError
            If engine and converter cannot be matched, or something is missing.
        """
        item = self.item
        by_table = self.combination.pump_table(item.pumps) is not None
        condition = Condition(site=item.site, pumps=item.pumps, by_table=by_table)
        on_ground = item.quantity in ON_GROUND
        duty = Duty(
            surface=(item.surface or self.study.duty.surface) if on_ground else None,
            load=item.load,
            grades=(self.grade,),
        )
        found = outcome(self.combination, condition, duty)
        missing = (*found.missing, *(found.missing_at_wheels if on_ground else ()))
        if missing:
            raise InputError(
                f"a reading that cannot be predicted: {'; '.join(missing)}",
                field="measurement.quantity", found=item.quantity,
            )  # fmt: skip
        return found

    def sampled(self, deviations: Deviations, size: int) -> Sampled:
        """Return the machine of the test for draws of what it depends on.

        Parameters
        ----------
        deviations : mapping of str to ndarray, shape (n,)
            By quantity, as `Prior.deviations` gives them.
        size : int
            Number of draws, n.
        """
        return Sampled(self.outcome, self._of_the_day(deviations, size), size)

    def _of_the_day(self, deviations: Deviations, size: int) -> dict[str, FloatArray]:
        """Return the deviations with the load and the oil of the day in them."""
        found = {name: values for name, values in deviations.items() if name != PAYLOAD}
        machine, item = self.combination.machine, self.item
        if machine is not None and item.quantity in WITH_LOAD:
            nominal = machine.mass(item.load)
            if item.mass is not None:
                found["mass"] = np.full(size, item.mass / nominal - 1.0)
            elif PAYLOAD in deviations:
                carried = machine.payload / nominal * deviations[PAYLOAD]
                found["mass"] = found.get("mass", np.zeros(size)) + carried
        if item.oil_temperature is not None and item.quantity != "temperature-rise":
            slower = float(density_factor(item.oil_temperature)) ** -0.5
            known = found.get("k-factor", np.zeros(size))
            found["k-factor"] = (1.0 + known) * slower - 1.0
        return found


def predicted(
    prior: Prior, scores: FloatArray, inputs: Sequence[DrawnInput] | None = None
) -> FloatArray:
    """Return what every reading should have been, for draws of scores.

    Parameters
    ----------
    prior : Prior
    scores : ndarray, shape (n, d)
    inputs : sequence of DrawnInput, optional
        Of the same scores, where they are known.

    Returns
    -------
    ndarray, shape (n, m)
        NaN where a draw has no answer: no match, a grade that is not climbed.

    Raises
    ------
    InputError
        If a reading cannot be predicted.
    """
    known = prior.inputs(scores) if inputs is None else inputs
    found = np.empty((scores.shape[0], len(prior.measurements)))
    for row, reading in enumerate(readings(prior)):
        deviations = prior.deviations(scores, known, row)
        found[:, row] = of_reading(reading, deviations, scores.shape[0])
    return found


def readings(prior: Prior) -> tuple[ReadingOnDraws, ...]:
    """Return the readings of a prior with their machines, worked out once for each prior."""
    known: dict[str, tuple[ReadingOnDraws, ...]] = prior.__dict__
    if "_readings" not in known:
        known["_readings"] = tuple(ReadingOnDraws(item, prior.study) for item in prior.measurements)
    return known["_readings"]


def of_reading(reading: ReadingOnDraws, deviations: Deviations, size: int) -> FloatArray:
    """Return what one reading should have been, shape (n,).

    Parameters
    ----------
    reading : ReadingOnDraws
    deviations : mapping of str to ndarray, shape (n,)
    size : int
    """
    try:
        return np.broadcast_to(_PREDICT[reading.item.quantity](reading, deviations, size), (size,))
    except InputError as error:
        where = f"{reading.study.id}: {reading.item.combination}, {reading.item.kind.title}"
        raise error.located(source=where) from None


# --- each quantity ---------------------------------------------------------------------------


def _stall_speed(reading: ReadingOnDraws, deviations: Deviations, size: int) -> FloatArray:
    return reading.sampled(deviations, size).stall_speed


def _speed(reading: ReadingOnDraws, deviations: Deviations, size: int) -> FloatArray:
    return reading.sampled(deviations, size).speed_on(reading.grade)


def _pull(reading: ReadingOnDraws, deviations: Deviations, size: int) -> FloatArray:
    drawn = reading.sampled(deviations, size)
    speed = np.array([0.0 if reading.item.speed is None else reading.item.speed])
    effort = drawn.effort(speed)[0]
    road = drawn.outcome.tractive
    assert road is not None
    load = drawn.road.load(road.road_loads[0])
    return np.asarray(effort - load.resistance(_LEVEL, float(speed[0])))


def _time(reading: ReadingOnDraws, deviations: Deviations, size: int) -> FloatArray:
    drawn = reading.sampled(deviations, size)
    steps = steps_of(drawn.deviations)
    few = replace(drawn, deviations=few_draws(steps), size=2 * len(steps) + 1)
    times = np.array([_one_run(reading, few, k) for k in range(few.size)])
    return np.broadcast_to(responses(drawn.deviations, steps, times), (size,))


def _one_run(reading: ReadingOnDraws, few: Sampled, k: int) -> float:
    """Return the time of one draw [s], NaN where it does not get there."""
    road, wheels, item = few.road, few.outcome.tractive, reading.item
    assert wheels is not None
    match = varied(
        few.outcome.match, float(road.loads[k]), float(road.capacity[k]),
        float(road.ratio_share[k]), whole=few.whole_ratio,
    )  # fmt: skip
    supply = replace(match.supply, factor=match.supply.factor * float(road.torque[k]))
    machine, mass = wheels.machine, float(road.mass[k])
    added = (mass - 1.0) * machine.mass(item.load)
    surface = wheels.surface
    rolling = surface.rolling_resistance * float(road.rolling_resistance[k])
    run = acceleration(
        replace(match, supply=supply),
        wheels.driveline,
        machine.replace(mass_empty=machine.mass_empty + added).with_radius(float(road.radius[k])),
        surface.replace(rolling_resistance=rolling),
        to_speed=item.speed or 0.0,
        load=item.load,
        grade=reading.grade,
        gear=item.gear or None,
    )
    time = run.run.time_to(item.speed or 0.0)
    return np.nan if time is None else time


def _bench_torque(reading: ReadingOnDraws, deviations: Deviations, size: int) -> FloatArray:
    torque = float(reading.combination.engine.full_load(reading.item.engine_speed or 0.0))
    return np.asarray(torque * (1.0 + deviations.get("engine-torque", np.zeros(size))))


def _weight(reading: ReadingOnDraws, deviations: Deviations, size: int) -> FloatArray:
    machine = reading.combination.machine
    assert machine is not None
    share = reading._of_the_day(deviations, size).get("mass", np.zeros(size))
    return np.asarray(machine.mass(reading.item.load) * (1.0 + share))


def _rolling_radius(reading: ReadingOnDraws, deviations: Deviations, size: int) -> FloatArray:
    machine = reading.combination.machine
    assert machine is not None
    share = deviations.get("rolling-radius", np.zeros(size))
    return np.asarray(machine.rolling_radius * (1.0 + share))


def _fuel_rate(reading: ReadingOnDraws, deviations: Deviations, size: int) -> FloatArray:
    law = fuel_law(reading.combination.engine)
    if law is None:
        raise InputError("the engine has no fuel data", field="measurement.quantity")
    return law.rate(_bench_torque(reading, deviations, size), reading.item.engine_speed or 0.0)


def _temperature_rise(reading: ReadingOnDraws, deviations: Deviations, size: int) -> FloatArray:
    drawn = reading.sampled(deviations, size)
    machine, site = reading.combination.machine, reading.outcome.match.site
    assert machine is not None
    circuit = OilCircuit.of(machine, temperature_around(site), cooler_around(site, machine))
    assert circuit is not None  # looked for with the study
    oil = reading.item.oil_temperature
    start = WARM_OIL if oil is None else oil
    after, _ = advance(circuit, start, start, drawn.stall_heat, reading.item.duration or 0.0)
    return np.asarray(after - start)


def _k_factor(reading: ReadingOnDraws, deviations: Deviations, size: int) -> FloatArray:
    capacity = float(reading.combination.converter.capacity_at(reading.item.speed_ratio or 0.0))
    return np.asarray(capacity**-0.5 * (1.0 + deviations.get("k-factor", np.zeros(size))))


def _torque_ratio(reading: ReadingOnDraws, deviations: Deviations, size: int) -> FloatArray:
    return reading.sampled(deviations, size).torque_ratio(reading.item.speed_ratio or 0.0)


_PREDICT: Mapping[str, Callable[[ReadingOnDraws, Deviations, int], FloatArray]] = MappingProxyType(
    {
        "stall-speed": _stall_speed,
        "speed-on-grade": _speed,
        "top-speed": _speed,
        "pull": _pull,
        "time-to-speed": _time,
        "engine-torque": _bench_torque,
        "weight": _weight,
        "rolling-radius": _rolling_radius,
        "fuel-rate": _fuel_rate,
        "temperature-rise": _temperature_rise,
        "k-factor": _k_factor,
        "torque-ratio": _torque_ratio,
    }
)
