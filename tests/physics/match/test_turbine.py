"""The turbine shaft at full load, and speed ratios found from turbine speeds."""

import numpy as np
import pytest

from converter_match.components.gear import LockUp
from converter_match.errors import InputError
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.solver import match
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.match.turbine_speed import match_at_turbine_speed, speed_ratio_at
from tests.examples import converter, engine, hole_engine

SUPPLY, UNIT = engine_supply(engine()), converter()
SHAFT = TurbineShaft(SUPPLY, UNIT)


def turbine_speed(nu):
    return float(match(SUPPLY, UNIT, nu).from_idle().turbine_speed)


# --- the shaft ------------------------------------------------------------------------------------


def test_points_in_converter_drive_are_matches():
    nu = np.array([[0.0, 0.3], [0.7, 0.95]])
    found, plain = SHAFT.at("converter", nu), match(SUPPLY, UNIT, nu).from_idle()
    assert found.parameter.tolist() == found.speed_ratio.tolist() == nu.tolist()
    for name in ("engine_speed", "input_torque", "turbine_speed", "turbine_torque", "input_power",
                 "output_power"):  # fmt: skip
        assert getattr(found, name) == pytest.approx(getattr(plain, name), rel=1e-14)
    assert found.heat == pytest.approx(plain.heat, rel=1e-9)


def test_points_in_lock_up_are_the_net_torque_and_make_no_heat():
    omega = np.array([100.0, 180.0])
    found = SHAFT.at("lock-up", omega)
    for name in ("parameter", "engine_speed", "turbine_speed"):
        assert getattr(found, name).tolist() == [100.0, 180.0]
    assert found.speed_ratio.tolist() == [1.0, 1.0]
    assert found.input_torque.tolist() == found.turbine_torque.tolist()
    assert found.turbine_torque == pytest.approx(SUPPLY.torque(omega))
    assert found.heat.tolist() == [0.0, 0.0]
    with pytest.raises(InputError):
        SHAFT.at("lock-up", 1e3)


def test_curves_run_from_stall_to_the_end_of_the_data_and_over_all_engine_speeds():
    drive = SHAFT.converter_drive
    assert (drive.speed_ratio[0], drive.speed_ratio[-1]) == (0.0, 0.99)
    assert np.isin(UNIT.speed_ratio, drive.speed_ratio).all()
    assert np.all(np.diff(drive.turbine_speed) > 0)
    assert not SHAFT.jumps
    # Twice as close together in the last fifth.
    fine, coarse = (np.diff(drive.speed_ratio[a]) for a in (
        drive.speed_ratio > 0.8, drive.speed_ratio < 0.79))  # fmt: skip
    assert fine.max() < 0.6 * coarse.max()
    assert coarse.max() <= 0.99 / 240 + 1e-12
    locked = SHAFT.lock_up_drive
    assert (locked.engine_speed[0], locked.engine_speed[-1]) == SUPPLY.domain
    assert np.isin(SUPPLY.knots, locked.engine_speed).sum() >= SUPPLY.knots.size - 1
    assert np.diff(locked.engine_speed).max() <= np.ptp(SUPPLY.domain) / 240 + 1e-9
    assert SHAFT.curve("converter") is drive
    assert SHAFT.curve("lock-up") is locked


def test_end_of_the_data_at_light_load_is_noted_and_data_to_one_are_not():
    assert [note.code for note in SHAFT.notes] == ["drive-curve-ends-with-data"]
    assert "end at speed ratio 0.990" in SHAFT.notes[0].message
    whole = UNIT.replace(
        speed_ratio=[*UNIT.speed_ratio, 1.0, 1.1],
        torque_ratio=[*UNIT.torque_ratio, 1.0, 1.0],
        capacity=[*UNIT.capacity, 0.0, -0.005],
    )
    shaft = TurbineShaft(SUPPLY, whole)
    assert shaft.notes == ()
    # The drive ends at 1, where overrun begins.
    assert shaft.converter_drive.speed_ratio[-1] == 1.0


def test_where_the_engine_falls_into_its_torque_hole_the_curve_goes_by_turbine_speed():
    # Capacity that rises with the speed ratio at first: at a speed ratio held, about half-way the
    # converter pulls the engine from above 1500 rpm down into its hole, and the turbine with it.
    # At a turbine speed held there is a balance all the way, and the machine passes it smoothly.
    capacity = [0.035, 0.0365, 0.0395, 0.035, 0.028, 0.022, 0.009, 0.002]
    supply, unit = engine_supply(hole_engine()), converter(capacity=capacity)
    shaft = TurbineShaft(supply, unit)
    nu = np.linspace(0.0, 0.99, 400)
    whole = match(supply, unit, nu).from_idle().turbine_speed
    assert np.diff(whole).min() < -5.0
    assert not shaft.one_to_one
    assert not shaft.jumps
    assert [n.code for n in shaft.notes] == ["drive-curve-ends-with-data"]
    drive = shaft.converter_drive
    assert np.all(np.diff(drive.turbine_speed) > 0)
    assert np.abs(np.diff(drive.engine_speed)).max() < 1.0
    absorbed = unit.capacity_at(drive.speed_ratio) * drive.engine_speed**2
    assert drive.input_torque == pytest.approx(absorbed, rel=1e-9)
    assert drive.input_torque == pytest.approx(supply.torque(drive.engine_speed), rel=1e-9)


@pytest.mark.parametrize("first", [0.2, 1e-9])
def test_data_that_do_not_reach_from_stall_into_drive_are_refused(first):
    late = converter(
        speed_ratio=[first, 0.86, 0.95], torque_ratio=[1.1, 1, 1], capacity=[0.02, 0.013, 0.005]
    )
    with pytest.raises(InputError, match="from stall into drive") as caught:
        _ = TurbineShaft(SUPPLY, late).converter_drive
    assert (caught.value.source, caught.value.field) == ("test-converter", "speed_ratio")
    assert caught.value.found == f"{first:.4g} .. 0.95"


def test_pair_without_any_match_is_refused():
    hopeless = converter(capacity=converter().capacity * 1e4)
    with pytest.raises(InputError, match="no match at any speed ratio") as caught:
        _ = TurbineShaft(SUPPLY, hopeless).converter_drive
    assert (caught.value.source, caught.value.field) == ("test-converter", "capacity")


# --- where lock-up engages ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rule", "speeds"),
    [
        ({"engage_turbine_speed": 150.0, "release_turbine_speed": 130.0}, (150.0, 130.0)),
        ({"engage_turbine_speed": 150.0}, (150.0, 150.0)),
        (
            {"engage_speed_ratio": 0.9, "release_speed_ratio": 0.8},
            (turbine_speed(0.9), turbine_speed(0.8)),
        ),
        ({"engage_speed_ratio": 0.9}, (turbine_speed(0.9), turbine_speed(0.9))),
        # The end of the data is within them.
        ({"engage_speed_ratio": 0.99}, (turbine_speed(0.99), turbine_speed(0.99))),
    ],
)
def test_lock_up_engages_and_releases_by_its_rule(rule, speeds):
    assert SHAFT.lock_up_speeds(LockUp(allowed=True, **rule)) == pytest.approx(speeds, rel=1e-12)


def test_lock_up_never_engages_where_it_is_not_allowed_or_beyond_the_data():
    assert SHAFT.lock_up_speeds(LockUp()) is None
    beyond = LockUp(allowed=True, engage_speed_ratio=0.9901)
    assert SHAFT.lock_up_speeds(beyond) is None


def test_without_a_rule_lock_up_closes_where_it_pulls_as_much_as_the_converter():
    engage, release = SHAFT.lock_up_speeds(LockUp(allowed=True))
    assert engage == release
    opened = match_at_turbine_speed(SUPPLY, UNIT, [0.97 * engage, engage]).turbine_torque
    locked = SUPPLY.torque([0.97 * engage, engage])
    assert locked[0] < opened[0]
    # To the straight lines between the points of the curve.
    assert locked[1] >= opened[1] * (1 - 1e-4)


# --- speed ratio from turbine speed ---------------------------------------------------------------


def straight(nu):
    return 100.0 * nu


def test_speed_ratio_of_a_straight_line_with_its_ends():
    wanted = np.array([[0.0, 12.3], [99.0, 50.0]])
    found = speed_ratio_at(straight, (0.0, 0.99), wanted)
    assert found == pytest.approx(wanted / 100, abs=1e-14)
    outside = speed_ratio_at(straight, (0.0, 0.99), [-1e-9, 99.0 + 1e-9])
    assert np.isnan(outside).all()
    assert speed_ratio_at(straight, (0.0, 0.99), 40.0).shape == ()
    assert speed_ratio_at(straight, (0.0, 0.99), []).shape == (0,)
    assert float(speed_ratio_at(straight, (-0.5, 0.99), -20.0)) == pytest.approx(-0.2)


@pytest.mark.parametrize("power", [3, 0.3])
def test_speed_ratio_of_a_curve_is_closed_in_to_the_last_digits(power):
    nu = np.array([0.0123, 0.2, 0.456, 0.98])
    found = speed_ratio_at(lambda x: 100.0 * x**power, (0.0, 1.0), 100.0 * nu**power)
    assert found == pytest.approx(nu, rel=1e-11)


def test_falling_curve_is_met_as_well():
    found = speed_ratio_at(lambda nu: 100.0 * (1 - nu**2), (0.0, 1.0), [100.0, 64.0, 36.0, 0.0])
    assert found == pytest.approx([0.0, 0.6, 0.8, 1.0], abs=1e-12)


def test_of_several_the_lowest_speed_ratio_is_taken():
    # 400 nu (1 - nu) = 64 at 0.2 and 0.8.
    found = speed_ratio_at(lambda nu: 400.0 * nu * (1 - nu), (0.0, 1.0), [64.0, 101.0])
    assert found == pytest.approx([0.2, np.nan], rel=1e-12, nan_ok=True)


def test_nothing_is_found_across_a_gap():
    def ends(nu):
        return np.where(nu <= 0.5, 100.0 * nu, np.nan)

    def begins(nu):
        return np.where(nu >= 0.5, 100.0 * nu, np.nan)

    def gap(nu):
        return np.where((nu > 0.5001) & (nu < 0.5024), np.nan, 100.0 * nu)

    assert speed_ratio_at(ends, (0.0, 1.0), [49.9, 50.0, 50.1, 60.0]) == pytest.approx(
        [0.499, 0.5, np.nan, np.nan], nan_ok=True
    )
    assert speed_ratio_at(begins, (0.0, 1.0), [40.0, 49.9, 50.0, 50.1]) == pytest.approx(
        [np.nan, np.nan, 0.5, 0.501], nan_ok=True
    )
    # Inside one cell of the table: no match is known there.
    assert speed_ratio_at(gap, (0.0, 1.0), [50.15, 49.0]) == pytest.approx(
        [np.nan, 0.49], nan_ok=True
    )


def test_a_change_of_sign_across_a_jump_is_no_answer():
    def jumps(nu):
        return np.where(nu < 0.503, 100.0 * nu, 100.0 * nu + 20.0)

    found = speed_ratio_at(jumps, (0.0, 1.0), [40.0, 60.0, 75.0])
    assert found == pytest.approx([0.4, np.nan, 0.55], nan_ok=True)


def test_corner_between_the_points_of_the_table_is_not_missed():
    def spike(nu):
        return np.maximum(100.0 * (1 - np.abs(nu - 0.50123) / 0.0005), 0.0)

    assert np.isnan(speed_ratio_at(spike, (0.0, 1.0), 99.0)).all()
    found = speed_ratio_at(spike, (0.0, 1.0), 99.0, corners=(-1.0, 0.50123, 2.0))
    assert float(found) == pytest.approx(0.50123 - 0.01 * 0.0005, abs=1e-12)


def test_match_at_turbine_speed_keeps_the_shape_and_blanks_what_is_not_there():
    wanted = np.array([[turbine_speed(0.3), 1e3], [0.0, turbine_speed(0.9)]])
    found = match_at_turbine_speed(SUPPLY, UNIT, wanted)
    assert found.found.tolist() == [[True, False], [True, True]]
    assert found.speed_ratio == pytest.approx(
        np.array([[0.3, np.nan], [0.0, 0.9]]), abs=1e-10, nan_ok=True
    )
    plain = match(SUPPLY, UNIT, [0.3, 0.0, 0.9]).from_idle()
    for name in ("torque_ratio", "engine_speed", "input_torque"):
        value = getattr(found, name)
        assert np.isnan(value[0, 1])
        assert value[found.found] == pytest.approx(getattr(plain, name), rel=1e-8)
    assert found.stable.tolist() == [[True, False], [True, True]]


def test_match_at_turbine_speed_works_on_data_that_begin_above_stall():
    late = converter(
        speed_ratio=UNIT.speed_ratio[1:],
        torque_ratio=UNIT.torque_ratio[1:],
        capacity=UNIT.capacity[1:],
    )
    found = match_at_turbine_speed(SUPPLY, late, [0.0, turbine_speed(0.6)])
    assert found.found.tolist() == [False, True]
    assert found.speed_ratio[1] == pytest.approx(0.6, abs=1e-10)


def test_match_at_turbine_speed_looks_at_drive_and_not_at_overrun():
    # A motoring torque below zero would be met beyond speed ratio 1; the net torque at full load
    # falls below zero next to high idle, so that there is such a match.
    unit = UNIT.replace(
        speed_ratio=[*UNIT.speed_ratio, 1.0, 1.2],
        torque_ratio=[*UNIT.torque_ratio, 1.0, 1.0],
        capacity=[*UNIT.capacity, 0.0, -1e-4],
    )
    beyond = float(match(SUPPLY, unit, 1.1).from_idle().turbine_speed)
    assert np.isfinite(beyond)
    at_one = float(match(SUPPLY, unit, 1.0).from_idle().turbine_speed)
    found = match_at_turbine_speed(SUPPLY, unit, [at_one, beyond])
    assert found.speed_ratio == pytest.approx([1.0, np.nan], nan_ok=True)
