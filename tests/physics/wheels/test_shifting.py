import numpy as np
import pytest

from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.wheels.envelope import effort_at
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.shifting import shift_points
from converter_match.physics.wheels.wheels import gear_drives
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


def test_shift_speeds_of_the_file_are_road_speeds_of_their_own_gear():
    # Tyre 0.75 m, axle 20 : 1.
    chain = driveline(
        gears=(
            gear("1", 4.0, upshift_turbine_speed=160.0),
            gear("2", 2.2, downshift_turbine_speed=80.0),
        ),
        shift_time=0.5,
    )
    (shift,), drives, loads = shifts(chain)
    up, down = 160.0 * 0.75 / 80.0, 80.0 * 0.75 / 44.0
    assert (shift.upshift_speed, shift.downshift_speed) == pytest.approx((up, down))
    pulls = [effort_at(d, r, np.array([up]))[0] for d, r in zip(drives, loads, strict=True)]
    # The effort at the given upshift, not at the best one, sets what is lost in the shift.
    assert shift.needed_hysteresis == pytest.approx(pulls[0] * 0.5 / 20_000, rel=1e-4)
    assert shift.hunts is bool(up - down < shift.needed_hysteresis)


def test_grip_bounds_the_pull_that_can_carry_a_machine_into_the_upshift():
    chain = driveline(
        gears=(gear("1", 4.0, upshift_turbine_speed=60.0), gear("2", 2.2)), shift_time=0.5
    )
    (shift,), _, loads = shifts(chain, traction=0.1)
    limit = float(loads[0].adhesion(0.0))
    assert shift.needed_hysteresis == pytest.approx(limit * 0.5 / 20_000)


def test_band_is_between_the_grades_that_both_gears_hold():
    chain = driveline(gears=(gear("1", 4.0, upshift_turbine_speed=90.0), gear("2", 2.2)))
    (shift,), drives, loads = shifts(chain)
    speed = np.array([shift.upshift_speed])
    pulls = [effort_at(d, r, speed)[0] for d, r in zip(drives, loads, strict=True)]
    # The ground passes on no more than 0.6 of the weight.
    pulls[0] = min(pulls[0], float(loads[0].adhesion(0.0)))
    expected = [float(r.grade_held(p, speed[0])) for p, r in zip(pulls[::-1], loads, strict=True)]
    assert shift.band == pytest.approx(tuple(expected), rel=1e-3)


def test_no_band_where_both_pull_alike():
    (shift,), _, _ = shifts(two())
    assert shift.band is None


def test_gear_that_merely_ends_is_left_there():
    # Close ratios with a strong lower gear: the upper one never pulls harder.
    chain = driveline(gears=(gear("1", 4.0), gear("2", 3.9, efficiency=0.3)))
    (shift,), drives, loads = shifts(chain)
    assert not shift.crosses
    reach = float(drives[0].curve().road_speed(machine(), loads[0].adhesion(0.0))[-1])
    assert shift.best_speed == pytest.approx(reach, rel=2e-3)


def test_lower_gear_that_never_pulls_harder_has_no_best_shift():
    chain = driveline(gears=(gear("1", 4.0, efficiency=0.2), gear("2", 3.9)), shift_time=0.3)
    (shift,), _, _ = shifts(chain)
    assert (shift.best_speed, shift.crosses, shift.effort) == (None, False, None)
    assert (shift.needed_hysteresis, shift.band, shift.hunts) == (None, None, None)


def test_downshift_at_the_upshift_hunts_and_one_below_is_not_judged_without_a_shift_time():
    for down, hunts in ((160.0 * 2.2 / 4.0, True), (60.0, None)):
        chain = driveline(
            gears=(
                gear("1", 4.0, upshift_turbine_speed=160.0),
                gear("2", 2.2, downshift_turbine_speed=down),
            ),
            shift_time=None,
        )
        assert shifts(chain)[0][0].hunts is hunts
