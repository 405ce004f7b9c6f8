"""Logs of machines at work, simulated apart from the package: a loader's and a hauler's cycles.

Plain numpy: the equations of motion of engine, converter and vehicle are marched here in steps of
5 ms with tables of their own; then the recorder's noise, steps and delay. Nothing is shared with
the package but the names of the columns. Everything is invented.
"""

from __future__ import annotations

import numpy as np
from scipy.interpolate import PchipInterpolator

from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from tests.simulated_stalls import RIGS, RPM, Rig

ENGINE_INERTIA, IMPELLER_INERTIA, TURBINE_INERTIA = 2.2, 0.25, 0.4
OIL = 363.15
_STEP = 0.005


def basis(rig: Rig) -> tuple[Engine, Converter]:
    """What the package is told of the machine."""
    return (
        rig.engine().replace(inertia=ENGINE_INERTIA),
        rig.converter().replace(impeller_inertia=IMPELLER_INERTIA),
    )


def true_capacity(rig: Rig, nu: np.ndarray) -> np.ndarray:
    return np.array([rig.capacity(float(x)) for x in nu])


def cycle_log(
    kind: str, seed: int, minutes: float = 60.0, *, pumps: float = 0.0, rig: Rig = RIGS[0]
) -> dict[str, np.ndarray]:
    """Return the columns of a log, SI; `kind` is loader or hauler, `pumps` a share of peak torque.

    A loader pushes, backs off, drives and waits in turns of seconds; a hauler climbs and rolls for
    tens of seconds. Throttle and load are drawn for each turn.
    """
    rng = np.random.default_rng(seed)
    turn = (4.0, 11.0) if kind == "loader" else (12.0, 45.0)
    driven = 5.0 if kind == "loader" else 30.0
    ends, throttles, loads, works = [0.0], [], [], []
    while ends[-1] < 60.0 * minutes:
        ends.append(ends[-1] + rng.uniform(*turn))
        throttles.append(1.0 if rng.random() < 0.7 else rng.uniform(0.45, 0.9))
        loads.append(rng.uniform(0.02, 2.4))
        works.append(pumps * rng.uniform(0.3, 1.0) if rng.random() < 0.5 else 0.0)
    count = int(ends[-1] / _STEP)
    at = np.minimum(np.searchsorted(ends, np.arange(count) * _STEP, side="right") - 1,
                    len(loads) - 1)  # fmt: skip
    peak = max(rig.torque)
    # The driver's foot and the ground change within about half a second.
    ease = int(0.5 / _STEP)
    smooth = lambda v: np.convolve(np.pad(v, (ease - 1, 0), "edge"), np.ones(ease) / ease, "valid")  # noqa: E731
    throttle = smooth(np.array(throttles)[at])
    load, work = smooth(np.array(loads)[at] * peak), smooth(np.array(works)[at] * peak)
    speed = np.linspace(0.0, 1.0, 201)
    grid = np.linspace(0, rig.high_idle * RPM * 1.05, 2001)
    full = np.where(grid < rig.speed[0] * RPM, rig.torque[0],
                    np.maximum(rig.engine_torque(grid), -200.0))  # fmt: skip
    own = rig.loads(grid)
    nus = np.clip(speed, 0.0, rig.nu[-1])
    cap = true_capacity(rig, nus) * np.where(
        speed > rig.nu[-1], (1.0 - speed) / (1 - rig.nu[-1]), 1
    )
    ratio = PchipInterpolator(rig.nu, rig.mu)(nus)
    we, wt = 1500 * RPM, 300 * RPM
    out = np.empty((count, 3))
    inertia = ENGINE_INERTIA + IMPELLER_INERTIA
    scale, fine = 2000 / grid[-1], 200.0
    for k in range(count):
        i = min(max(we * scale, 0.0), 1999.0)
        j = int(i)
        part = i - j
        made = throttle[k] * (full[j] + part * (full[j + 1] - full[j]))
        taken = own[j] + part * (own[j + 1] - own[j]) + work[k]
        nu = min(max(wt / we, 0.0), 1.0)
        i = min(nu * fine, 199.999)
        j = int(i)
        part = i - j
        pump = (cap[j] + part * (cap[j + 1] - cap[j])) * we * we
        turbine = (ratio[j] + part * (ratio[j + 1] - ratio[j])) * pump
        # What holds the turbine back: the ground, a little more the faster.
        back = load[k] * (1.0 if wt > 0.5 else min(1.0, turbine / max(load[k], 1.0)))
        back += 0.4 * wt
        out[k] = we, wt, made
        we = max(we + _STEP * (made - taken - pump) / inertia, rig.speed[0] * RPM * 0.9)
        wt = max(wt + _STEP * (turbine - back) / (driven + TURBINE_INERTIA), 0.0)
    time = np.arange(0.0, count * _STEP, 0.1)
    clock = np.arange(count) * _STEP
    late = np.interp(time - 0.2, clock, out[:, 2])
    noise = rng.standard_normal((3, time.size))
    step = 0.125 * RPM  # SAE J1939 engine speed: 0.125 rpm a bit; torque 1 %: from memory
    seen = lambda v, n: np.round((np.interp(time, clock, v) + 2 * RPM * n) / step) * step  # noqa: E731
    return {
        "time": time,
        "engine speed": seen(out[:, 0], noise[0]),
        "turbine speed": np.maximum(seen(out[:, 1], noise[1]), 0.0),
        "engine torque": np.round((late / peak + 0.01 * noise[2]) / 0.01) * 0.01 * peak,
        "oil temperature": np.full(time.size, OIL),
    }
