import numpy as np
import pytest

from converter_match.physics.road_load import RoadLoad
from converter_match.physics.shifting import shift_points
from converter_match.physics.supply import engine_supply
from converter_match.physics.tractive import effort_at
from converter_match.physics.turbine import TurbineShaft
from converter_match.physics.wheels import gear_drives
from tests.examples import converter, engine
from tests.machines import driveline, gear, machine, surface


def shifts(chain, **changes):
    drives = gear_drives(TurbineShaft(engine_supply(engine()), converter()), chain, machine())
    loads = [
        RoadLoad.of(machine(), surface(**changes), load="laden", air_density=1.225) for _ in drives
    ]
    return shift_points(drives, loads, chain), drives, loads


def two(**changes):
    return driveline(gears=(gear("1", 4.0), gear("2", 2.2)), **changes)


def test_best_shift_is_where_both_gears_pull_alike():
    (shift,), drives, loads = shifts(two())
    assert shift.crosses
    speed = np.array([shift.best_speed])
    low, high = (effort_at(d, load, speed)[0] for d, load in zip(drives, loads, strict=True))
    assert low == pytest.approx(high, rel=1e-3)  # straight lines between sampled points
    assert shift.effort == pytest.approx(low, rel=1e-3)
    later = np.array([1.05 * shift.best_speed])
    assert effort_at(drives[0], loads[0], later)[0] < effort_at(drives[1], loads[1], later)[0]


def test_hysteresis_that_is_needed_is_what_is_lost_in_the_shift():
    # Newton's second law: the effort at the upshift is the heaviest resistance that reaches it.
    (shift,), _, _ = shifts(two(shift_time=0.5))
    assert shift.needed_hysteresis == pytest.approx(shift.effort * 0.5 / 20_000, rel=1e-6)


@pytest.mark.parametrize(("share", "hunts"), [(0.02, True), (0.6, False)])
def test_too_small_a_hysteresis_hunts(share, hunts):
    (shift,), _, _ = shifts(two(shift_time=0.3, shift_hysteresis=share))
    assert shift.hunts is hunts
    assert shift.downshift_speed == pytest.approx(shift.best_speed * (1 - share))


def test_nothing_is_judged_without_data():
    (shift,), _, _ = shifts(two(shift_time=None, shift_hysteresis=None))
    assert shift.hunts is None
    assert shift.needed_hysteresis is None


def test_downshift_above_the_upshift_hunts_whatever_the_shift_takes():
    chain = driveline(
        gears=(
            gear("1", 4.0, upshift_turbine_speed=150.0),
            gear("2", 2.2, downshift_turbine_speed=95.0),
        ),
        shift_time=None,
    )
    (shift,), _, _ = shifts(chain)
    assert shift.downshift_speed > shift.upshift_speed
    assert shift.hunts


def test_shifting_early_leaves_a_band_of_grades_that_neither_gear_holds():
    chain = driveline(gears=(gear("1", 4.0, upshift_turbine_speed=90.0), gear("2", 2.2)))
    (shift,), drives, loads = shifts(chain)
    assert shift.upshift_speed == pytest.approx(90.0 * 0.75 / 80.0)
    low, high = shift.band
    speed = np.array([shift.upshift_speed])
    pulls = [effort_at(d, load, speed)[0] for d, load in zip(drives, loads, strict=True)]
    middle = float(loads[0].resistance(0.5 * (low + high), speed[0]))
    assert pulls[1] < middle < pulls[0]


def test_three_gears_shift_twice():
    found, _, _ = shifts(driveline())
    assert [(s.lower, s.upper) for s in found] == [("1", "2"), ("2", "3")]
    assert found[0].best_speed < found[1].best_speed
