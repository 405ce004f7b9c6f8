"""States of a machine and the speeds between them, against the gears' data worked out by hand."""

from dataclasses import replace

import numpy as np
import pytest

from converter_match.components.driveline import LockUp
from converter_match.errors import InputError
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.wheels.drive_chain import (
    POINTS,
    TYPICAL_HYSTERESIS,
    drive_chain,
    force_for_factors,
)
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.rotating import Inertias, engine_follows
from converter_match.physics.wheels.shifting import shift_points
from converter_match.physics.wheels.wheels import gear_drives
from tests.examples import converter, engine
from tests.machines import driveline, gear, machine, surface

SHAFT = TurbineShaft(engine_supply(engine()), converter())
INERTIAS = Inertias(2.0, 0.3, 0.2, 80.0)
ROAD = RoadLoad.of(machine(), surface(), load="laden", air_density=1.2)
HELD = LockUp(allowed=True, engage_turbine_speed=140.0, release_turbine_speed=110.0)


def chain(*gears, direction="forward", **changes):
    line = driveline(gears=gears, **changes) if gears else driveline(**changes)
    return drive_chain(SHAFT, line, machine(), INERTIAS, ROAD, direction=direction)


def tread(turbine_speed, ratio):
    """Speed at the tread [m/s]: axle 20, tyre 0.75 m."""
    return turbine_speed * 0.75 / (ratio * 20.0)


THREE = (
    gear("1", 4.0, upshift_turbine_speed=190.0),
    gear("2", 2.2, lock_up=HELD, upshift_turbine_speed=200.0, downshift_turbine_speed=95.0),
    gear("3", 1.2, lock_up=HELD, downshift_turbine_speed=100.0),
)


def test_states_follow_the_gears_each_open_before_it_is_locked():
    found = chain(*THREE)
    names = [(d.gear.name, d.drive) for d in found.drives]
    both = ["converter", "lock-up"]
    assert names == [("1", "converter"), *(("2", d) for d in both), *(("3", d) for d in both)]
    assert found.size == 5
    assert found.gear_index.tolist() == [0, 1, 1, 2, 2]
    assert found.locked.tolist() == [False, False, True, False, True]
    np.testing.assert_allclose(
        found.ratio_over_radius, np.array([4.0, 2.2, 2.2, 1.2, 1.2]) * 20.0 / 0.75
    )


def test_speeds_of_change_are_those_of_the_file_at_the_tread():
    found = chain(*THREE)
    assert found.up_to.tolist() == [1, 2, 3, 4, 4]
    assert found.down_to.tolist() == [0, 0, 1, 2, 3]
    up = [
        tread(190.0, 4.0), tread(140.0, 2.2), tread(200.0, 2.2), tread(140.0, 1.2), np.inf,
    ]  # fmt: skip
    # 3 open would fall to 2 at 100 rad/s; locked up it opens at 110 first.
    down = [-np.inf, tread(95.0, 2.2), tread(110.0, 2.2), tread(100.0, 1.2), tread(110.0, 1.2)]
    np.testing.assert_allclose(found.up_speed, up)
    np.testing.assert_allclose(found.down_speed, down)
    assert found.notes == ()


def test_lock_up_beyond_the_upshift_is_passed_by():
    late = LockUp(allowed=True, engage_turbine_speed=180.0, release_turbine_speed=60.0)
    found = chain(
        gear("1", 4.0, upshift_turbine_speed=190.0),
        gear("2", 2.2, lock_up=late, upshift_turbine_speed=150.0, downshift_turbine_speed=95.0),
        gear("3", 1.2, downshift_turbine_speed=70.0),
    )
    assert found.up_to[1] == 3
    assert found.up_speed[1] == pytest.approx(tread(150.0, 2.2))
    # Once locked, it falls back a gear before it would open.
    assert found.down_to[2] == 0
    assert found.down_speed[2] == pytest.approx(tread(95.0, 2.2))


def test_downshift_comes_from_the_hysteresis_where_the_file_gives_no_speed():
    found = chain(
        gear("1", 4.0, upshift_turbine_speed=190.0), gear("2", 2.2), shift_hysteresis=0.25
    )
    assert found.down_speed[1] == pytest.approx(0.75 * tread(190.0, 4.0))
    assert found.notes == ()


def test_downshift_that_is_not_given_is_typical_and_said():
    found = chain(
        gear("1", 4.0, upshift_turbine_speed=190.0), gear("2", 2.2), shift_hysteresis=None
    )
    assert found.down_speed[1] == pytest.approx((1 - 0.12) * tread(190.0, 4.0))
    assert TYPICAL_HYSTERESIS == 0.12
    (note,) = found.notes
    assert (note.code, note.kind) == ("downshift-typical", "assumption")
    assert note.message.startswith("No downshift is given for gear 2: it comes 12 % below")


def test_downshift_at_or_above_the_upshift_is_not_taken():
    found = chain(
        gear("1", 4.0, upshift_turbine_speed=150.0),
        gear("2", 2.2, downshift_turbine_speed=150.0 * 2.2 / 4.0),
    )
    assert found.down_speed[1] == pytest.approx((1 - 0.12) * tread(150.0, 4.0))
    assert [note.code for note in found.notes] == ["downshift-typical"]


def test_upshift_that_is_not_given_is_where_the_next_gear_pulls_as_hard():
    line = driveline(gears=(gear("1", 4.0), gear("2", 2.2), gear("3", 1.2)))
    drives = gear_drives(SHAFT, line, machine())
    best = [point.best_speed for point in shift_points(drives, [ROAD] * 3, line)]
    found = chain(*line.gears)
    np.testing.assert_allclose(found.up_speed[:2], best)
    (note,) = found.notes
    assert note.code == "shift-speed-computed"
    assert note.message.startswith("No upshift speed is given for gear 1, 2: it shifts at equal")


def test_gears_that_share_no_speed_shift_short_of_the_end():
    found = chain(gear("1", 4.0), gear("2", 3.9, downshift_turbine_speed=50.0))
    end = float(found.drives[0].curve().wheel_speed[-1])
    assert found.up_speed[0] <= 0.985 * end * (1 + 1e-12)


def test_reverse_gears_make_a_chain_of_their_own():
    line = driveline(
        gears=(
            gear("1", 4.0, upshift_turbine_speed=190.0),
            gear("2", 2.2),
            gear("R1", 3.8, direction="reverse", upshift_turbine_speed=180.0),
            gear("R2", 2.0, direction="reverse", downshift_turbine_speed=80.0),
        )
    )
    found = drive_chain(SHAFT, line, machine(), INERTIAS, ROAD, direction="reverse")
    assert [d.gear.name for d in found.drives] == ["R1", "R2"]
    assert found.up_speed[0] == pytest.approx(tread(180.0, 3.8))
    assert found.down_speed[1] == pytest.approx(tread(80.0, 2.0))
    forward = drive_chain(SHAFT, line, machine(), INERTIAS, ROAD)
    assert [d.gear.name for d in forward.drives] == ["1", "2"]


def test_direction_without_a_gear_is_refused():
    with pytest.raises(InputError, match="no reverse gear") as error:
        chain(gear("1", 4.0), direction="reverse")
    assert (error.value.source, error.value.field) == ("test-driveline", "gear")
    with pytest.raises(InputError, match="no forward gear"):
        chain(gear("R", 4.0, direction="reverse"))


def test_tables_are_the_curves_over_even_shares_of_their_speed():
    found = chain(*THREE)
    for k, drive in enumerate(found.drives):
        curve = drive.curve()
        assert found.top[k] == pytest.approx(float(curve.wheel_speed[-1]))
        speed = np.linspace(0.0, found.top[k], POINTS)
        rows = {
            "force": curve.force,
            "rotating": INERTIAS.with_engine(drive, curve),
            "follows": engine_follows(drive, curve),
        }
        for name, values in rows.items():
            expected = np.interp(speed, curve.wheel_speed, values)
            np.testing.assert_allclose(getattr(found, name)[k], expected, rtol=1e-9, atol=1e-9)
    np.testing.assert_array_equal(found.follows[2], 1.0)


def test_fastest_is_the_end_of_the_last_state_that_is_come_to():
    found = chain(*THREE)
    assert found.fastest == pytest.approx(found.top[4])
    assert found.limited_to("1").fastest == pytest.approx(found.top[0])
    assert found.limited_to("2").fastest == pytest.approx(found.top[2])
    # An upshift beyond the end of its gear is never made.
    never = replace(found, up_speed=np.where(np.arange(5) == 2, found.top[2], found.up_speed))
    assert never.fastest == pytest.approx(found.top[2])
    ring = replace(found, up_speed=np.full(5, 0.1), up_to=np.array([1, 0, 3, 4, 4]))
    assert ring.fastest == pytest.approx(found.top[1])


def test_limited_chain_locks_up_but_does_not_shift_beyond_its_gear():
    found = chain(*THREE)
    low = found.limited_to("2")
    assert low.up_to[:3].tolist() == [1, 2, 2]
    np.testing.assert_array_equal(np.isinf(low.up_speed[:3]), [False, False, True])
    np.testing.assert_array_equal(low.down_to, found.down_to)
    np.testing.assert_array_equal(low.down_speed, found.down_speed)
    assert found.limited_to("3").up_to.tolist() == found.up_to.tolist()


def test_gear_that_the_chain_has_not_is_refused_with_those_it_has():
    with pytest.raises(InputError, match="no such gear in this direction") as error:
        chain(*THREE).limited_to("4")
    assert (error.value.field, error.value.found) == ("gear", "4")
    assert error.value.expected == "1 | 2 | 3"


def test_state_settles_through_as_many_changes_as_it_takes():
    found = chain(*THREE)
    assert found.settled(0, 0.0) == 0
    assert found.settled(0, float(found.up_speed[0])) == 0
    assert found.settled(0, float(found.up_speed[0]) * 1.001) == 1
    assert found.settled(0, 1.001 * tread(200.0, 2.2)) == 3
    assert found.settled(0, 1.001 * tread(140.0, 1.2)) == 4
    assert found.settled(4, 0.0) == 0
    assert found.settled(4, float(found.down_speed[4])) == 4
    assert found.settled(4, 0.999 * float(found.down_speed[4])) == 3
    assert found.settled(1, 0.999 * tread(95.0, 2.2)) == 0


def test_torque_factors_of_one_are_the_chain_itself():
    found = chain(*THREE)
    table = force_for_factors(found, np.ones(7))
    assert table.shape == (1, 5, POINTS)
    np.testing.assert_array_equal(table[0], found.force)


def rebuilt(found, factor):
    """The efforts of an engine with another torque factor, computed from its own match."""
    shaft = TurbineShaft(engine_supply(engine(), torque_factor=factor), converter())
    rows = []
    for drive, end in zip(found.drives, found.top, strict=True):
        curve = replace(drive, shaft=shaft).curve()
        speed = np.linspace(0.0, float(end), POINTS)
        rows.append(np.interp(speed, curve.wheel_speed, curve.force))
    return np.stack(rows)


def test_torque_factor_is_the_effort_of_the_engine_with_it():
    found = chain(*THREE)
    same = force_for_factors(found, np.full(4, 0.93))
    assert same.shape == (1, 5, POINTS)
    np.testing.assert_allclose(same[0], rebuilt(found, 0.93), rtol=1e-9)


def test_torque_factors_of_draws_are_tabulated_and_interpolated():
    found = chain(*THREE)
    # Nine places over the range: 0.90, 0.925 ... 1.10; two of these stand between places.
    factors = np.array([0.9, 0.925, 1.0, 0.9125, 1.0625, 1.1])
    table = force_for_factors(found, factors)
    assert table.shape == (6, 5, POINTS)
    for k in (0, 1, 2, 5):
        np.testing.assert_allclose(table[k], rebuilt(found, factors[k]), rtol=1e-9, atol=1e-6)
    np.testing.assert_allclose(table[3], 0.5 * (table[0] + table[1]), rtol=1e-9, atol=1e-6)
    # Between two places the effort is nearly linear in the factor.
    exact = rebuilt(found, 1.0625)
    assert np.abs(table[4] - exact)[:, : POINTS // 2].max() < 1e-3 * exact.max()
