"""Machines that are simulated apart from the package: what they read with something wrong.

Plain numpy and scipy: interpolation, governor, loads, oil and the search for the speed at which a
machine settles are written here once more, and share nothing with the package. `case` plants a
state in a machine and returns what a test plan reads; `apart` says which other causes these
readings cannot be told from, by the distance of their noise-free readings in standard errors.
Everything here is invented.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, cached_property

import numpy as np
from scipy.interpolate import PchipInterpolator

from converter_match.components.converter import Converter
from converter_match.components.engine import Accessory, Engine
from converter_match.components.reading import StallReading
from converter_match.judgement.stall.setup import StallSetup

RPM = math.pi / 30.0
STATES = (
    "healthy", "engine-down", "stator-slips", "stator-seized", "clutch-all", "clutch-gear",
    "oil-aerated", "library-converter", "other-size", "load-stuck-on", "tachometer-off", "brakes",
)  # fmt: skip
# What the tool calls them.
FAMILY = {
    "healthy": "nothing-to-see", "engine-down": "engine-down", "stator-slips": "stator-slips",
    "stator-seized": "stator-seized", "clutch-all": "clutch-slips", "clutch-gear": "clutch-slips",
    "oil-aerated": "oil-low-or-aerated", "library-converter": "wrong-converter",
    "other-size": "wrong-converter", "load-stuck-on": "load-stuck-on",
    "tachometer-off": "tachometer-off", "brakes": "brakes-give-way",
}  # fmt: skip
PLANS = {
    "one gear": ("1",),
    "three gears": ("1", "2", "R"),
    "with relief": ("1", "2", "hydraulic", "both"),
    "with governed speed": ("1", "2", "hydraulic", "both", "governed"),
    "with road": ("1", "2", "governed", "road"),
}
# Half widths at 95 %, as the tool states them; of a normal error.
TOLERANCE = {"torque": 0.03, "capacity": 0.05, "loads": 0.25, "relief": 0.05, "air": 0.01,
             "oil": 5.0, "governor": 0.01}  # fmt: skip
READING = 20.0 * RPM
_SIGMA = 1.959964
_OIL, _REFERENCE, _EXPANSION = 361.15, 363.15, 6.75e-4
# So many standard errors from the readings of the truth another cause can be told from it.
APART = 3.0


@dataclass(frozen=True)
class Rig:
    """One kind of machine: tables, and what is planted in it.

    Speeds [rpm] and torques [N.m] as on a sheet; `k` is the K-factor [rpm/sqrt(N.m)].
    """

    name: str
    speed: tuple[float, ...]
    torque: tuple[float, ...]
    high_idle: float
    fan: float
    k: tuple[float, ...]
    mu: tuple[float, ...]
    coupling: float
    relief: float
    nu: tuple[float, ...] = (0.0, 0.2, 0.4, 0.6, 0.75, 0.85, 0.93, 0.985)

    @cached_property
    def rated(self) -> float:
        return self.speed[-1] * RPM

    @cached_property
    def _full(self) -> PchipInterpolator:
        return PchipInterpolator(np.array(self.speed) * RPM, self.torque)

    def engine_torque(self, omega: np.ndarray, governor: float = 1.0) -> np.ndarray:
        """At full throttle [N.m]: full load, or the droop line of a governor set that much off."""
        start, end = self.rated * governor, self.high_idle * RPM * governor
        full = self._full(np.clip(omega, self.speed[0] * RPM, self.rated))
        droop = self.torque[-1] * (end - omega) / (end - start)
        return np.where(omega > start, np.minimum(full, droop), full)

    def loads(self, omega: np.ndarray) -> np.ndarray:
        return self.fan * (omega / self.rated) ** 2

    @cached_property
    def _capacity(self) -> tuple[PchipInterpolator, PchipInterpolator]:
        nu, c = np.array(self.nu), 1.0 / (np.array(self.k) * RPM) ** 2
        below, above = nu <= self.coupling + 1e-9, nu >= self.coupling - 1e-9
        return PchipInterpolator(nu[below], c[below]), PchipInterpolator(nu[above], c[above])

    def capacity(self, nu: float) -> float:
        low, high = self._capacity
        return float(low(nu) if nu <= self.coupling else high(nu))

    # --- as the package is told ----------------------------------------------------------------

    def engine(self) -> Engine:
        return Engine(
            id=f"{self.name}-engine", name=self.name, source="invented", rating_basis="gross",
            governing="speed", aspiration="turbocharged", low_idle=self.speed[0] * RPM,
            rated_speed=self.rated, high_idle=self.high_idle * RPM,
            speed=np.array(self.speed) * RPM, torque=list(self.torque),
            accessories=(Accessory(name="fan", power=self.fan * self.rated, at_speed=self.rated,
                                   exponent=3),),
        )  # fmt: skip

    def converter(self, name: str = "", scale: float = 1.0, **changes: object) -> Converter:
        fields = {
            "id": name or f"{self.name}-converter", "name": name or self.name, "source": "invented",
            "stator": "one-way", "speed_ratio": list(self.nu), "torque_ratio": list(self.mu),
            "capacity": scale / (np.array(self.k) * RPM) ** 2,
            "coupling_speed_ratio": self.coupling, "profile_diameter": 0.35, "oil_density": 840.0,
        }  # fmt: skip
        return Converter(**(fields | changes))

    def setup(self) -> StallSetup:
        return StallSetup(
            engine=self.engine(), converter=self.converter(), oil_temperature=_OIL,
            relief_torque=self.relief,
        )  # fmt: skip

    def library(self) -> list[Converter]:
        """What lies on the shelf: three others, and one with a fixed stator."""
        shelf = [self.converter(f"shelf-{scale}", scale) for scale in SHELF]
        fixed = 1.0 / (np.array(self.k) * RPM) ** 2 * _held(np.array(self.nu), self.coupling)
        return [*shelf, self.converter("held", stator="fixed", coupling_speed_ratio=None,
                                       capacity=fixed)]  # fmt: skip


SHELF = (0.72, 1.3, 1.5)


def _held(nu: np.ndarray, coupling: float) -> np.ndarray:
    """Capacity with the stator held / turning free: more and more beyond the coupling point."""
    return 1.0 + np.maximum(nu - coupling, 0.0) / (1.0 - coupling) * 1.5


RIGS = (
    Rig("loader", (800, 1000, 1200, 1400, 1600, 1800, 2000, 2200),
        (700, 850, 950, 1000, 980, 940, 880, 803), 2380, 70,
        (60, 61, 62.5, 66, 71, 78, 102, 240),
        (2.2, 1.95, 1.7, 1.43, 1.2, 1.0, 1.0, 1.0), 0.85, 280),
    Rig("truck", (750, 1000, 1400, 1800, 2200, 2600, 2800),
        (230, 250, 268, 272, 265, 248, 236), 3000, 18,
        (128, 130, 134, 142, 152, 168, 215, 480),
        (2.0, 1.8, 1.58, 1.34, 1.15, 1.0, 1.0, 1.0), 0.85, 75),
    Rig("dozer", (700, 900, 1100, 1300, 1500, 1700, 1900),
        (1700, 2100, 2350, 2400, 2300, 2150, 1990), 2060, 190,
        (36, 36.5, 37.8, 40, 43.5, 47, 60, 140),
        (2.6, 2.25, 1.9, 1.53, 1.24, 1.0, 1.0, 1.0), 0.85, 500),
    Rig("hauler", (750, 950, 1150, 1350, 1550, 1750, 1950, 2100),
        (1000, 1250, 1480, 1520, 1450, 1340, 1220, 1130), 2260, 90,
        (47, 48.5, 51, 55, 60, 66, 88, 200),
        (1.9, 1.72, 1.52, 1.3, 1.13, 1.0, 1.0, 1.0), 0.85, 260),
    Rig("near-governor", (850, 1100, 1400, 1700, 2000, 2200),
        (420, 520, 560, 545, 505, 470), 2350, 40,
        (95, 97, 101, 108, 117, 130, 170, 400),
        (2.3, 2.0, 1.72, 1.44, 1.2, 1.0, 1.0, 1.0), 0.85, 150),
)  # fmt: skip


@dataclass(frozen=True)
class Planted:
    """What is really there: factors on torque and capacity, what turns, what is read wrongly."""

    torque: float = 1.0
    capacity: float = 1.0
    stator: float = 1.0  # on the capacity up to the coupling point: beyond, it turns free anyway
    slip: dict[str, float] = field(default_factory=dict)  # gear -> speed ratio it turns at
    road: float = 1.0  # on the capacity beyond the coupling point
    load: float = 0.0  # stuck on, in every reading [N.m]
    pumps_stuck: float = 0.0  # share of the relief torque where the pumps should be at standby
    tachometer: float = 1.0
    governor: float = 1.0
    loads: float = 1.0
    relief: float = 1.0


def settles(rig: Rig, test: str, planted: Planted) -> tuple[float, float]:
    """Return true engine speed and turbine speed [rad/s] in a test of a plan."""
    low, high = rig.speed[0] * RPM, rig.high_idle * RPM * planted.governor
    grid = np.linspace(low, high, 4001)
    pumping = test in ("hydraulic", "both")
    taken = planted.loads * rig.loads(grid) + planted.load
    taken = taken + rig.relief * (planted.relief if pumping else planted.pumps_stuck)
    nu = 0.0
    if test in ("hydraulic", "governed"):
        c = 0.0
    else:
        nu = 0.93 if test == "road" else planted.slip.get(test if test != "both" else "1", 0.0)
        c = planted.capacity * rig.capacity(nu) / (1.0 + _EXPANSION * (_OIL - _REFERENCE))
        c *= planted.road if test == "road" else planted.stator
    rest = planted.torque * rig.engine_torque(grid, planted.governor) - taken - c * grid**2
    falls = np.flatnonzero((rest[:-1] > 0) & (rest[1:] <= 0))
    if rest[0] <= 0 and not pumping:
        return low, nu * low
    if not falls.size:
        return (low, nu * low) if rest[0] <= 0 else (high, nu * high)
    at = falls[-1] if pumping else falls[0]
    omega = grid[at] + (grid[at + 1] - grid[at]) * rest[at] / (rest[at] - rest[at + 1])
    return float(omega), float(nu * omega)


def drawn(planted: Planted, rng: np.random.Generator) -> Planted:
    """Return the same with the spread of sound machines on top."""
    z = {name: rng.standard_normal() * width / _SIGMA for name, width in TOLERANCE.items()}
    return replace(
        planted,
        torque=planted.torque * (1 + z["torque"]) * (1 + z["air"]),
        capacity=planted.capacity * (1 + z["capacity"]) / (1 + _EXPANSION * z["oil"]),
        governor=planted.governor * (1 + z["governor"]),
        loads=1 + z["loads"],
        relief=1 + z["relief"],
    )


def plant(rig: Rig, state: str, plan: Sequence[str], rng: np.random.Generator) -> Planted:
    """Return a machine in a state, sound but for it."""
    gears = [test for test in plan if test in ("1", "2", "R")]
    peak = max(rig.torque)
    if state == "engine-down":
        return Planted(torque=rng.uniform(0.6, 0.92))
    if state == "stator-slips":
        return Planted(stator=math.exp(rng.normal(math.log(2.2), 0.12)))
    if state == "stator-seized":
        return Planted(road=float(_held(np.array(0.93), rig.coupling)) * rng.uniform(0.85, 1.15))
    if state == "clutch-all":
        nu = rng.uniform(0.2, 0.8)
        return Planted(slip=dict.fromkeys(gears, nu))
    if state == "clutch-gear":
        return Planted(slip={gears[-1]: rng.uniform(0.3, 0.85)})
    if state == "oil-aerated":
        return Planted(capacity=rng.uniform(0.6, 0.9))
    if state == "library-converter":
        return Planted(capacity=float(rng.choice(SHELF)))
    if state == "other-size":
        return Planted(capacity=(1 + float(rng.choice([-1, 1])) * rng.uniform(0.03, 0.09)) ** 5)
    if state == "load-stuck-on":
        if rng.random() < 0.5 and "hydraulic" in plan:
            return Planted(pumps_stuck=rng.uniform(0.5, 1.0))
        return Planted(load=peak * rng.uniform(0.08, 0.3))
    if state == "tachometer-off":
        if rng.random() < 0.5:
            return Planted(tachometer=1 + rng.uniform(0.03, 0.08))
        # On the road a lower one makes speed ratios that no converter has, and is refused.
        return Planted(tachometer=1 - rng.uniform(0.03, 0.04 if "road" in plan else 0.08))
    if state == "brakes":
        return Planted(slip={gear: rng.uniform(0.1, 0.45) for gear in gears})
    return Planted()


def readings_of(
    rig: Rig, plan: Sequence[str], planted: Planted, noise: Callable[[], float] = lambda: 0.0,
    brakes: str = "held",
) -> list[StallReading]:  # fmt: skip
    out = []
    for test in plan:
        omega, turbine = settles(rig, test, planted)
        speed = omega * planted.tachometer + noise()
        fields: dict[str, object] = {"engine_speed": speed, "oil_temperature": _OIL}
        if test == "road":
            fields |= {"test": "road", "turbine_speed": turbine}
        elif test in ("hydraulic", "both", "governed"):
            fields |= {"test": test} | ({"gear": "1", "brakes": brakes} if test == "both" else {})
        else:
            direction = "reverse" if test == "R" else "forward"
            fields |= {"gear": test, "direction": direction, "brakes": brakes}
        out.append(StallReading(**fields))
    return out


def possible(state: str, plan: Sequence[str]) -> bool:
    """Return whether a state shows in a plan at all."""
    if state == "stator-seized":
        return "road" in plan
    return state != "clutch-gear" or len([t for t in plan if t in ("1", "2", "R")]) > 1


def case(
    rig: Rig, state: str, plan: Sequence[str], rng: np.random.Generator
) -> tuple[Planted, list[StallReading]]:
    """Return what is planted (sound but for it), and the readings of such a machine."""
    planted = plant(rig, state, plan, rng)
    brakes = "not-stated" if state == "brakes" else "held"
    real = drawn(planted, rng)
    noise = lambda: float(rng.standard_normal()) * READING / _SIGMA  # noqa: E731
    return planted, readings_of(rig, plan, real, noise, brakes)


# --- what can be told from what -------------------------------------------------------------------


def _speeds(rig: Rig, plan: Sequence[str], planted: Planted) -> np.ndarray:
    return np.array([settles(rig, test, planted)[0] * planted.tachometer for test in plan])


def spread(rig: Rig, plan: Sequence[str], planted: Planted) -> np.ndarray:
    """Return the covariance of the readings of such machines, (n, n)."""
    base, columns = _speeds(rig, plan, planted), []
    for name, attribute in (("torque", "torque"), ("air", "torque"), ("capacity", "capacity"),
                            ("loads", "loads"), ("relief", "relief"),
                            ("governor", "governor")):  # fmt: skip
        step = TOLERANCE[name] / _SIGMA
        moved = replace(planted, **{attribute: getattr(planted, attribute) * (1 + step)})
        columns.append(_speeds(rig, plan, moved) - base)
    jacobian = np.array(columns)
    return jacobian.T @ jacobian + (READING / _SIGMA) ** 2 * np.eye(len(plan))


def _others(rig: Rig, plan: Sequence[str], brakes: bool) -> dict[str, list[Planted]]:
    """Return machines with each thing wrong, over all that it may be, by what the tool calls it."""
    gears = [test for test in plan if test in ("1", "2", "R")]
    slips = np.concatenate([[0.05, 0.1], np.linspace(0.2, 0.95, 16)])
    peak = max(rig.torque)
    out = {
        "nothing-to-see": [Planted()],
        "engine-down": [Planted(torque=f) for f in np.linspace(0.4, 0.97, 30)],
        "stator-slips": [Planted(stator=g) for g in np.linspace(1.6, 3.0, 12)],
        "clutch-slips": [Planted(slip=dict.fromkeys(gears, nu)) for nu in slips]
        + [Planted(slip={gear: nu}) for nu in slips for gear in gears if len(gears) > 1],
        "oil-low-or-aerated": [Planted(capacity=g) for g in np.linspace(0.5, 0.95, 20)],
        "wrong-converter": [Planted(capacity=g) for g in np.linspace(0.55, 1.75, 40)],
        "load-stuck-on": [Planted(load=x * peak) for x in np.linspace(0.03, 0.5, 20)]
        + [Planted(pumps_stuck=x) for x in np.linspace(0.1, 1.0, 10) if "hydraulic" in plan],
        "tachometer-off": [Planted(tachometer=x) for x in np.linspace(0.88, 1.12, 25)],
    }  # fmt: skip
    if brakes:
        out["brakes-give-way"] = [
            Planted(slip=dict.fromkeys(gears, nu)) for nu in np.linspace(0.05, 0.5, 10)
        ]
    if "road" in plan:
        held = float(_held(np.array(0.93), rig.coupling))
        out["stator-seized"] = [Planted(road=held * x) for x in np.linspace(0.75, 1.25, 9)]
    return out


@cache
def _speeds_of_others(rig: Rig, plan: tuple[str, ...], brakes: bool) -> dict[str, np.ndarray]:
    return {
        family: np.array([_speeds(rig, plan, one) for one in machines])
        for family, machines in _others(rig, plan, brakes).items()
    }


def not_told_from(rig: Rig, state: str, plan: Sequence[str], planted: Planted) -> list[str]:
    """Return the other causes whose readings lie within `APART` standard errors of the truth's."""
    seen = _speeds(rig, plan, planted)
    inverse = np.linalg.inv(spread(rig, plan, planted))
    near = []
    for family, speeds in _speeds_of_others(rig, tuple(plan), state == "brakes").items():
        if family == FAMILY[state]:
            continue
        off = speeds - seen
        if np.einsum("ki,ij,kj->k", off, inverse, off).min() < APART**2:
            near.append(family)
    return near
