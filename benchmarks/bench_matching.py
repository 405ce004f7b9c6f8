"""A million matches against evaluating the curves, and against loops over scipy's brentq.

**The** loop is what one writes without this project: residual of engine torque over absorbed
torque, both scipy interpolants, accessories deducted, `scipy.optimize.brentq` for each speed ratio
from low to high idle; then, as the match gives them too, input torque and torque ratio. Two
loops stand beside it: the leanest that scipy allows, with the capacity looked up once a
point and nothing but the engine speed worked out, and one over this project's own curves, which
check what they are asked.

The same arithmetic compiled with numba gave the same bits in 48 ns a point against 71 to 75, and
took one to three seconds to load and compile: it pays from some 40 million points on, and is not
used.
"""

from __future__ import annotations

import numpy as np
from measuring import Effort, Row, in_turns, ratio
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from converter_match.components.converter import Converter
from converter_match.components.engine import Accessory, Engine
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.solver import match, match_in_blocks

RPM = np.pi / 30

# Invented round numbers.
ENGINE = Engine(
    id="bench-engine",
    name="Engine of the benchmark",
    source="round numbers",
    rating_basis="gross",
    governing="speed",
    low_idle=800 * RPM,
    rated_speed=2200 * RPM,
    high_idle=2380 * RPM,
    speed=np.array([800, 1000, 1200, 1400, 1600, 1800, 2000, 2200]) * RPM,
    torque=[700, 850, 950, 1000, 980, 940, 880, 803],
    accessories=(
        Accessory(name="fan", power=11e3, at_speed=2200 * RPM, exponent=3),
        Accessory(name="charge pump", power=3e3, at_speed=2200 * RPM, exponent=1),
    ),
)
CONVERTER = Converter(
    id="bench-converter",
    name="Converter of the benchmark",
    source="round numbers",
    stator="one-way",
    speed_ratio=[0, 0.2, 0.4, 0.6, 0.8, 0.86, 0.95, 0.99],
    torque_ratio=[2.2, 1.95, 1.7, 1.43, 1.12, 1.0, 1.0, 1.0],
    capacity=1 / (np.array([60, 61, 62.5, 66, 75, 82, 130, 280]) * RPM) ** 2,
    coupling_speed_ratio=0.86,
)


def interpolants():
    """Return (capacity, torque ratio, net torque) of the pair here as plain functions, by scipy."""
    at = CONVERTER.coupling_speed_ratio
    before, behind = CONVERTER.speed_ratio <= at, CONVERTER.speed_ratio >= at

    def cut(values):  # the coupling point is a corner: each side by itself
        held = PchipInterpolator(CONVERTER.speed_ratio[before], values[before])
        free = PchipInterpolator(CONVERTER.speed_ratio[behind], values[behind])
        return lambda nu: held(nu) if nu <= at else free(nu)

    full = PchipInterpolator(ENGINE.speed, ENGINE.torque)
    rated, high = ENGINE.rated_speed, ENGINE.high_idle
    loads = [(a.power / a.at_speed, a.at_speed, a.exponent - 1) for a in ENGINE.accessories]

    def net(w):
        torque = full(w) if w <= rated else ENGINE.torque[-1] * (high - w) / (high - rated)
        for load, speed, exponent in loads:
            torque -= load * (w / speed) ** exponent
        return torque

    return cut(CONVERTER.capacity), cut(CONVERTER.torque_ratio), net


def the_loop():
    """Return a function that matches one speed ratio as one writes it with scipy."""
    capacity, torque_ratio, net = interpolants()

    def residual(w, nu):
        return net(w) - capacity(nu) * w**2

    def solve(nu):
        w = brentq(residual, ENGINE.low_idle, ENGINE.high_idle, args=(nu,))
        return w, capacity(nu) * w**2, torque_ratio(nu)

    return solve


def leanest_loop():
    """Return a function that gives the engine speed only, with the capacity looked up once."""
    capacity, _, net = interpolants()

    def solve(nu):
        c = float(capacity(nu))
        return brentq(lambda w: net(w) - c * w * w, ENGINE.low_idle, ENGINE.high_idle)

    return solve


def loop_over_curves():
    """Return a function that gives the engine speed only, on this project's curves."""
    supply = engine_supply(ENGINE)

    def solve(nu):
        c = float(CONVERTER.capacity_at(nu))
        return brentq(lambda w: float(supply.torque(w)) - c * w * w, *supply.domain)

    return solve


def rows(effort: Effort) -> list[Row]:
    points, sample = (20_000, 20) if effort.quick else (1_000_000, 300)
    rng = np.random.default_rng(1)
    nu = rng.uniform(*CONVERTER.domain, points)
    omega = rng.uniform(ENGINE.low_idle, ENGINE.high_idle, points)
    factor = rng.uniform(0.9, 1.1, points)
    few, plain, lean, own = nu[:sample].tolist(), the_loop(), leanest_loop(), loop_over_curves()
    supply, full_load, capacity = engine_supply(ENGINE), ENGINE.full_load, CONVERTER.capacity_curve
    scipy_capacity = PchipInterpolator(CONVERTER.speed_ratio, CONVERTER.capacity)
    scipy_torque = PchipInterpolator(full_load.x, full_load.y)
    times = in_turns(
        {
            "curves": lambda: (capacity(nu), full_load(omega)),
            "scipy curves": lambda: (scipy_capacity(nu), scipy_torque(omega)),
            "match": lambda: match(supply, CONVERTER, nu),
            "blocks": lambda: sum(1 for _ in match_in_blocks(supply, CONVERTER, nu)),
            "new engine": lambda: match(engine_supply(ENGINE), CONVERTER, nu),
            "plain": lambda: [plain(x) for x in few],
            "lean": lambda: [lean(x) for x in few],
            "own": lambda: [own(x) for x in few],
        },
        effort.repeats(9),
    )
    many = in_turns(
        {
            "one": lambda: match(supply, CONVERTER, nu),
            "each": lambda: match(supply, CONVERTER, nu, torque_factor=factor),
        },
        effort.repeats(1),  # slow enough
    )
    found = match(supply, CONVERTER, few).from_idle()
    expected = np.array([plain(x) for x in few])
    got = np.stack([found.engine_speed, found.input_torque, found.torque_ratio], axis=1)
    per_match = times["match"].per(points)
    name = "brentq loop / match, a point"
    return [
        Row(
            "matches a second, one pair",
            "million",
            *(tuple(1e-6 / t for t in part) for part in (per_match.processor, per_match.wall)),
        ),
        ratio("match / evaluating both curves", times["match"], times["curves"], most=3.0),
        ratio("match / evaluating both in scipy", times["match"], times["scipy curves"]),
        ratio("  with a new engine each time / both curves", times["new engine"], times["curves"]),
        ratio(name, times["plain"].per(sample), per_match, least=1000.0),
        ratio("  leanest loop", times["lean"].per(sample), per_match),
        ratio("  loop over our own curves", times["own"].per(sample), per_match),
        ratio("match in blocks / all at once", times["blocks"], times["match"]),
        ratio("a torque factor a point / one for all", many["each"], many["one"], most=4.0),
        Row(
            "largest difference from the loop",
            "relative",
            (float(np.max(np.abs(got / expected - 1))),),
            most=1e-11,  # brentq stops within 2e-12 rad/s + 9e-16; the torque goes with its square
        ),
    ]
