"""The balance on the road for many draws against that of one machine at a time."""

from dataclasses import replace

import numpy as np
import pytest

from converter_match.judgement.match.solve import solve
from converter_match.judgement.wheels.tractive import tractive
from converter_match.physics.wheels.draws import RoadFactors
from converter_match.physics.wheels.tractive import equilibria
from tests.draws import steady_state
from tests.examples import converter, engine, hole_engine
from tests.machines import driveline, machine, surface

RESULT = tractive(
    solve(engine(accessories=()), converter()), driveline(), machine(), surface(),
    grades=[0.0, 0.04, 0.1],
)  # fmt: skip
HELD = [
    k for k in np.flatnonzero(RESULT.points.held)
    if RESULT.drives[RESULT.points.drive[k]].gear.direction == "forward"
]  # fmt: skip


def factors(n=1, **changes):
    names = ("torque", "loads", "capacity", "ratio_share", "mass", "rolling_resistance", "air")
    given = {name: np.broadcast_to(changes.get(name, 1.0), n).astype(float) for name in names}
    return RoadFactors(**given)


def state(k, drawn, result=RESULT):
    points = result.points
    which = int(points.drive[k])
    return steady_state(
        result.drives[which], result.road_loads[which], float(points.grade[k]), drawn
    )  # fmt: skip


@pytest.mark.parametrize("k", HELD)
def test_without_deviations_it_is_the_point_of_the_diagram(k):
    found = state(k, factors(40))
    assert found.speed == pytest.approx(RESULT.points.speed[k], rel=1e-7)
    wheels = RESULT.points.wheels
    assert found.engine == pytest.approx(wheels.turbine.engine_speed[k], rel=1e-7)
    assert found.heat == pytest.approx(wheels.oil_heat[k], rel=1e-6)


@pytest.mark.parametrize(
    "changes",
    [
        {"torque": 0.95}, {"torque": 1.05}, {"capacity": 0.9}, {"mass": 1.1},
        {"rolling_resistance": 1.3}, {"torque": 0.97, "capacity": 1.05, "mass": 0.9},
    ],
)  # fmt: skip
def test_a_deviation_is_the_machine_built_with_it(changes):
    own = engine(accessories=(), torque=engine().torque * changes.get("torque", 1.0))
    tight = converter(capacity=converter().capacity * changes.get("capacity", 1.0))
    heavy = machine()
    heavy = heavy.replace(
        mass_empty=heavy.mass_empty * changes.get("mass", 1.0),
        payload=heavy.payload * changes.get("mass", 1.0),
    )
    ground = surface(rolling_resistance=0.03 * changes.get("rolling_resistance", 1.0))
    built = tractive(solve(own, tight), driveline(), heavy, ground, grades=[0.04])
    drive, gear = RESULT.points.drive, built.points
    shared = 0
    for k in HELD:
        if RESULT.points.grade[k] != 0.04:
            continue
        same = (gear.drive == drive[k]) & gear.held
        if not same.any():
            continue
        # Held in both: the same speed, whichever way it was come by.
        near = gear.speed[same][np.argmin(np.abs(gear.speed[same] - RESULT.points.speed[k]))]
        assert state(k, factors(**changes)).speed[0] == pytest.approx(near, rel=1e-7)
        shared += 1
    assert shared


def test_many_draws_are_the_draws_one_by_one():
    rng = np.random.default_rng(5)
    n = 200
    drawn = RoadFactors(
        *(1 + width * rng.uniform(-1, 1, n) for width in (0.05, 0.1, 0.06, 0.04, 0.1, 0.3, 0.05))
    )
    for k in HELD[:4]:
        together = state(k, drawn).speed
        for row in range(0, n, 29):
            alone = state(k, drawn.picked(np.array([row]))).speed
            assert together[row] == pytest.approx(alone[0], rel=1e-7, nan_ok=True)


def test_a_machine_that_is_too_weak_does_not_hold_its_speed():
    k = next(k for k in HELD if RESULT.points.grade[k] == 0.1)
    assert np.isnan(state(k, factors(5, torque=0.2)).speed).all()


def test_without_grip_the_speed_is_not_held():
    k = next(k for k in HELD if RESULT.points.grade[k] == 0.1)
    which = int(RESULT.points.drive[k])
    slippery = replace(RESULT.road_loads[which], traction=0.1)
    found = steady_state(RESULT.drives[which], slippery, 0.1, factors(3))
    assert np.isnan(found.speed).all()


@pytest.mark.slow
def test_an_engine_with_a_hole_settles_as_the_machine_built_with_the_draw():
    # Below the torque hole the engine is held back; a draw whose balance lies on the far branch is
    # not reached from idle, and holds the speed of the near branch or none.
    result = tractive(
        solve(hole_engine(), converter()), driveline(), machine(), surface(), grades=[0.04, 0.1]
    )
    rng = np.random.default_rng(3)
    drawn = RoadFactors(*(1 + width * rng.uniform(-1, 1, 300) for width in (0.08, 0.1, 0.12, 0.04)))
    seen = 0
    for which in range(3):
        drive, load = result.drives[which], result.road_loads[which]
        for grade in (0.04, 0.1):
            speed = steady_state(drive, load, grade, drawn).speed
            for row in range(0, 300, 13):
                alone = drawn.picked(np.array(row))
                built = equilibria([alone.drive(drive)], [alone.load(load)], [grade])
                held = built.speed[built.held]
                expected = held.max() if held.size else np.nan
                assert speed[row] == pytest.approx(expected, rel=1e-6, nan_ok=True)
                seen += bool(held.size)
    assert 20 < seen < 138
