"""How sure the verdicts of a motor study are: the same study within the tolerances of its data."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from converter_match.components.converter import Converter
from converter_match.components.motor import Motor
from converter_match.components.motor_losses import EfficiencyMap, LossModel
from converter_match.components.route import Route
from converter_match.components.surface import Surface
from converter_match.curves import FloatArray
from converter_match.errors import InputError
from converter_match.judgement.motor import study_words as words
from converter_match.judgement.motor.drawn_study import MotorDraws
from converter_match.judgement.motor.study import asked_of, findings_of
from converter_match.study.motor_study import MotorCandidate, MotorStudy
from converter_match.tasks.plain import digest
from converter_match.tasks.sweep import Progress, Store, sweep
from converter_match.tasks.workers import HERE, Workers

DRAWS = 32
MOST_DRAWS = 4096
_NORMAL_95 = 1.959963984540054
_SEED = 20261
_MET = ("pass", "close", "not-asked")
# Half widths of 95 % as shares: common practice, no source. One draw for a part, whichever
# candidate has it: what two candidates share cannot tell them apart.
TOLERANCES = {
    "motor torque": 0.03,
    "motor losses": 0.10,
    "converter capacity": 0.05,
    "rolling resistance": 0.15,
}
# Of each candidate: the criteria that it meets or not, and its net energy [J].
_Found = list[tuple[dict[str, bool], float | None]]


def draw_motor_study(
    study: MotorStudy,
    draws: int = DRAWS,
    progress: Progress | None = None,
    workers: Workers = HERE,
    store: Store | None = None,
) -> MotorDraws | None:
    """Judge a motor study again and again within the tolerances of its data.

    Parameters
    ----------
    study : MotorStudy
    draws : int
        0 for none.
    progress : callable, optional
    workers : Workers
        Whoever works, the result is the same.
    store : Store, optional
        Where what is found in a draw is kept, and taken from the next time.

    Returns
    -------
    MotorDraws or None
        None for no draws.

    Raises
    ------
    InputError
        If the number is out of range, or no draw can be worked out.
    """
    if not 0 <= draws <= MOST_DRAWS:
        raise InputError("out of range", field="draws", found=draws, expected=f"0 to {MOST_DRAWS}")
    if draws == 0:
        return None
    names = [item.id for item in study.candidates]
    met = {(name, key): 0 for name in names for key in words.TITLES}
    joint, chosen = dict.fromkeys(names, 0), dict.fromkeys(names, 0)
    motors = list(dict.fromkeys(item.motor.fingerprint() for item in study.candidates))
    shares = list(_shares(len(motors), draws).T)
    keys = None
    if store is not None:
        asked = digest(asked_of(study))
        keys = [digest(asked, each) for each in shares]
    swept = sweep(
        _one_draw, shares, shared=(study, motors), workers=workers, progress=progress,
        what="within the tolerances", store=store, keys=keys,
        names=[f"draw {k + 1}" for k in range(draws)],
    )  # fmt: skip
    # A machine that cannot be had is counted, and not judged; whatever else is lost is an error.
    replace(
        swept, lost=tuple(item for item in swept.lost if not isinstance(item.error, InputError))
    ).all()
    count = draws - len(swept.lost)
    if not count:
        raise swept.lost[-1].error
    found: _Found
    for found in filter(None, swept.results):
        good: list[tuple[float, str]] = []
        for name, (kept, energy) in zip(names, found, strict=True):
            for key, holds in kept.items():
                met[name, key] += holds
            if all(kept.values()):
                joint[name] += 1
                good.append((float("inf") if energy is None else energy, name))
        if good:
            chosen[min(good)[1]] += 1
    return MotorDraws(
        count=count,
        left_out=draws - count,
        met={key: value / count for key, value in met.items()},
        joint={key: value / count for key, value in joint.items()},
        chosen={key: value / count for key, value in chosen.items()},
    )


def _one_draw(shared: tuple[MotorStudy, list[str]], shares: FloatArray) -> _Found:
    """Return what one draw of every candidate meets."""
    return [
        ({item.name: item.status in _MET for item in findings}, energy)
        for findings, energy in findings_of(_drawn(shared[0], shares, shared[1]))
    ]


def _shares(motors: int, draws: int) -> FloatArray:
    """Return factors, shape (2 motors + 2, draws): torque and losses of each motor, then the rest.

    A Sobol sequence, the same each time.
    """
    from scipy.special import ndtri
    from scipy.stats import qmc  # slow to import

    widths = [TOLERANCES["motor torque"], TOLERANCES["motor losses"]] * motors
    widths += [TOLERANCES["converter capacity"], TOLERANCES["rolling resistance"]]
    sobol = qmc.Sobol(len(widths), scramble=True, rng=np.random.default_rng(_SEED))
    even = sobol.random_base2(int(np.ceil(np.log2(draws))))[:draws].T
    normal = ndtri(np.clip(even, 1e-9, 1.0 - 1e-9))
    factors = 1.0 + np.asarray(widths)[:, np.newaxis] / _NORMAL_95 * normal
    return np.asarray(np.maximum(factors, 0.05))


def _drawn(study: MotorStudy, shares: FloatArray, motors: list[str]) -> MotorStudy:
    """Return the study with the parts of one draw."""
    capacity, rolling = float(shares[-2]), float(shares[-1])

    def on(surface: Surface) -> Surface:
        return replace(surface, rolling_resistance=surface.rolling_resistance * rolling)

    def along(route: Route) -> Route:
        return route.replace(surface=tuple(on(each) for each in route.surface))

    def with_parts(item: MotorCandidate) -> MotorCandidate:
        row = 2 * motors.index(item.motor.fingerprint())
        motor = _motor(item.motor, float(shares[row]), float(shares[row + 1]))
        converter = None if item.converter is None else _converter(item.converter, capacity)
        return item.replace(motor=motor, converter=converter)

    present = study.present
    if present is not None:
        present = replace(present, converter=_converter(present.converter, capacity))
    return study.replace(
        present=present,
        candidates=tuple(with_parts(item) for item in study.candidates),
        surface=on(study.surface),
        routes=tuple(along(route) for route in study.routes),
    )


def _converter(converter: Converter, factor: float) -> Converter:
    def change(unit: Converter) -> Converter:
        return unit.replace(capacity=unit.capacity * factor)

    return converter.changed(change)


def _motor(motor: Motor, torque: float, loss: float) -> Motor:
    losses = motor.losses
    if isinstance(losses, LossModel):
        losses = replace(
            losses,
            standing=losses.standing * loss,
            copper_power=losses.copper_power * loss,
            speed_power=losses.speed_power * loss,
        )
    elif isinstance(losses, EfficiencyMap):
        # Of the power given the loss is (1 / eta - 1): that share is what is drawn.
        losses = losses.replace(efficiency=1.0 / (1.0 + loss * (1.0 / losses.efficiency - 1.0)))
    return motor.replace(
        peak=motor.peak * torque,
        continuous=motor.continuous * torque,
        regenerative=None if motor.regenerative is None else motor.regenerative * torque,
        losses=losses,
    )
