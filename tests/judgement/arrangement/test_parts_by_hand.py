"""The tables of the parts against figures worked out by hand.

The engine has 900 N.m at every speed from 800 to 2200 rpm and drives nothing else; the converter
has K = 60 rpm/sqrt(N.m) and torque ratio 2.2 at stall. So it stalls at 60 sqrt(900) = 1800 rpm,
with 2.2 x 900 = 1980 N.m behind the converter and 900 N.m x 1800 rpm, all of it, into the oil.
"""

import math

import numpy as np
import pytest

from converter_match.components.arrangement import (
    Arrangement,
    HydraulicSharing,
    ImpellerClutch,
    LockUpClutch,
    OverrunDuty,
    PartLoadDuty,
    Permissions,
    TorqueDivider,
    Wheels,
)
from converter_match.components.converter import ConverterLimits
from converter_match.components.engine import SpeedTable
from converter_match.components.planetary import Planetary
from converter_match.judgement.arrangement.solve import solve_arranged
from converter_match.judgement.stall.hypotheses import free_capacity_factor
from converter_match.judgement.stall.setup import StallSetup
from converter_match.library.read import read_blading
from converter_match.library.shipped import find
from converter_match.physics.converter.blading import operate
from converter_match.units import note_text
from tests.examples import RPM, converter, full_range
from tests.judgement.arrangement.test_arranged import codes, plain_of
from tests.study_examples import flat_engine, loose

STALL_KW = 900.0 * 1800 * RPM / 1e3
WHEELS = Wheels(overall_ratio=50.0, rolling_radius=0.75, efficiency=0.9)


def result(unit=None, made=None, **parts):
    how = Arrangement(id="test-arrangement", name="test", source="test", **parts)
    return solve_arranged(made or flat_engine(), unit or converter(), how)


def part(name, *given, **parts):
    return plain_of(result(*given, **parts).part(name))


def table(value):
    return SpeedTable(speed=[700 * RPM, 2500 * RPM], value=[value, value], name="pumps")


# --- pumps ---------------------------------------------------------------------------------------


def test_pumps_at_relief_leave_what_they_do_not_take():
    found = part(
        "hydraulic_sharing", hydraulic_sharing=HydraulicSharing(relief=table(300.0)), wheels=WHEELS
    )
    rows = {(row["state"], row["at"]): row for row in found["rows"]}
    free, relief = rows["without", "stall"], rows["relief", "stall"]
    assert free["engine_speed_rpm"] == pytest.approx(1800.0)
    assert (free["pump_torque_nm"], free["pump_power_kw"]) == (0.0, 0.0)
    assert free["share_left"] == pytest.approx(1.0)
    # 600 N.m are left: 60 sqrt(600) rpm, and two thirds of the pull.
    speed = 60.0 * math.sqrt(600.0)
    assert relief["engine_speed_rpm"] == pytest.approx(speed)
    assert relief["pump_torque_nm"] == pytest.approx(300.0)
    assert relief["input_torque_nm"] == pytest.approx(600.0)
    assert relief["turbine_torque_nm"] == pytest.approx(1320.0)
    assert relief["share_left"] == pytest.approx(2.0 / 3.0)
    assert relief["pump_power_kw"] == pytest.approx(300.0 * speed * RPM / 1e3)
    assert relief["heat_kw"] == pytest.approx(600.0 * speed * RPM / 1e3)
    # At the wheels: 1320 x 50 x 0.9 / 0.75 N, standing still.
    assert relief["tractive_effort_kn"] == pytest.approx(79.2)
    assert relief["travel_speed_kmh"] == 0.0
    # At the coupling point K is 82: 82 sqrt(600) rpm, torque ratio 1, turbine at 0.86 of it.
    coupling = rows["relief", "coupling point"]
    assert coupling["engine_speed_rpm"] == pytest.approx(82.0 * math.sqrt(600.0))
    assert coupling["turbine_torque_nm"] == pytest.approx(600.0)
    speed = 0.86 * 82.0 * math.sqrt(600.0) * RPM
    assert coupling["travel_speed_kmh"] == pytest.approx(3.6 * speed / 50.0 * 0.75)


@pytest.mark.parametrize(("pump", "pulled_down"), [(720.0, False), (725.0, True)])
def test_engine_is_pulled_down_where_pumps_and_converter_take_more_than_it_has_at_idle(
    pump, pulled_down
):
    # At 800 rpm the converter takes (800 / 60)^2 = 177.8 N.m of 900.
    found = codes(result(hydraulic_sharing=HydraulicSharing(relief=table(pump))), "limit")
    assert ("engine-pulled-down-at-relief" in found) == pulled_down


# --- lock-up -------------------------------------------------------------------------------------


def by_speed(closes=1500.0, opens=1000.0, **changes):
    return LockUpClutch(
        engage_by="turbine-speed", engage=closes * RPM, release=opens * RPM, **changes
    )


def test_locked_up_the_turbine_has_the_engine_s_torque_and_no_heat():
    rows = part("lock_up", lock_up=by_speed())["rows"]
    speeds = [row["turbine_speed_rpm"] for row in rows]
    assert speeds == pytest.approx([238.0 * step for step in range(11)])  # to 2380, high idle
    standing, locked = rows[0], rows[7]  # 1666 rpm
    assert standing["open_turbine_torque_nm"] == pytest.approx(1980.0)
    assert standing["open_output_power_kw"] == 0.0
    assert standing["open_heat_kw"] == pytest.approx(STALL_KW)
    assert standing["locked_turbine_torque_nm"] is None
    assert locked["locked_turbine_torque_nm"] == pytest.approx(900.0)
    assert locked["locked_output_power_kw"] == pytest.approx(900.0 * 1666 * RPM / 1e3)
    assert locked["locked_heat_kw"] == pytest.approx(0.0, abs=1e-9)
    assert locked["open_heat_kw"] > 0.0
    # Closes at 1500 rpm and opens at 1000; 1190 and 1428 rpm lie between.
    assert [row["holds_rising"] for row in rows[3:8]] == [False] * 4 + [True]
    assert [row["holds_falling"] for row in rows[3:8]] == [False] * 2 + [True] * 3


@pytest.mark.parametrize(("impeller", "inertia"), [(None, 1.5), (0.5, 2.0)])
def test_heat_of_engagement_is_half_inertia_times_the_step_squared(impeller, inertia):
    unit = converter(impeller_inertia=impeller)
    answer = result(unit, flat_engine(inertia=1.5), lock_up=by_speed())
    found = plain_of(answer.part("lock_up"))
    step = found["engine_speed_step_rpm"] * RPM
    assert found["engagement_energy_kj"] == pytest.approx(0.5 * inertia * step**2 / 1e3)
    assert found["engagement_energy_with_torque_kj"] is None  # takes the time of engagement
    assert found["turbine_torque_after_nm"] == pytest.approx(900.0)
    assert found["turbine_torque_before_nm"] > 900.0
    assert "machine-keeps-its-speed" in codes(answer)
    assert ("impeller-inertia-not-counted" in codes(answer)) == (impeller is None)
    assert "engagement-heat-not-known" not in codes(answer)


def test_by_gear_speed_step_and_torque_are_those_of_the_speed_that_is_printed():
    # Nothing but the gear keeps it open: it closes down to low idle, 800 rpm, where the engine of
    # 900 N.m runs with the converter at K(nu) x 30 rpm, nu = 800 rpm over that, and multiplies.
    clutch = LockUpClutch(engage_by="gear", engage=3, release=2)
    answer = result(loose(50.0), lock_up=clutch)
    found = plain_of(answer.part("lock_up"))
    printed = found["engage_turbine_speed_rpm"]
    assert printed == pytest.approx(flat_engine().low_idle / RPM)
    speed = printed + found["engine_speed_step_rpm"]
    unit = loose(50.0)
    nu = printed / speed
    assert float(unit.capacity_at(nu)) * (speed * RPM) ** 2 == pytest.approx(900.0, rel=1e-6)
    assert found["turbine_torque_before_nm"] == pytest.approx(
        900.0 * float(unit.torque_ratio_at(nu)), rel=1e-6
    )
    assert found["turbine_torque_after_nm"] == pytest.approx(900.0)
    assert found["turbine_torque_before_nm"] > 1000.0
    assert "lock-up-costs-pull" in codes(answer)


@pytest.mark.parametrize(("capacity", "slips"), [(899.0, True), (901.0, False)])
def test_lock_up_clutch_has_to_carry_the_torque_of_the_engine(capacity, slips):
    found = codes(result(lock_up=by_speed(torque_capacity=capacity)), "limit")
    assert ("lock-up-capacity" in found) == slips


@pytest.mark.slow
def test_clutch_that_would_have_to_carry_more_than_it_can_to_engage_in_its_time_is_said_to():
    made = flat_engine(inertia=1.5)
    free = part("lock_up", None, made, lock_up=by_speed(engagement_time=0.5))
    # The clutch carries the engine's torque, and the change of its momentum in the time it takes.
    step = free["engine_speed_step_rpm"] * RPM
    needed = 900.0 + 1.5 * step / 0.5
    assert free["engagement_clutch_torque_nm"] == pytest.approx(needed)
    assert free["engagement_energy_with_torque_kj"] > free["engagement_energy_kj"]
    for share, said in ((0.99, True), (1.01, False)):
        clutch = by_speed(torque_capacity=share * needed, engagement_time=0.5)
        found = codes(result(None, made, lock_up=clutch))
        assert ("lock-up-shock-above-capacity" in found) == said


@pytest.mark.parametrize(("opens", "heavy"), [(1390.0, True), (1410.0, False)])
def test_heavy_pull_is_warned_of_where_the_clutch_holds_below_peak_torque_speed(opens, heavy):
    # 99 % of the peak of 900 N.m, at 1600 rpm, are there from 1400 rpm on.
    made = flat_engine().replace(torque=[850, 860, 870, 891, 900, 890, 870, 850])
    found = codes(result(None, made, lock_up=by_speed(1500.0, opens)))
    assert ("lock-up-heavy-pull" in found) == heavy


# --- impeller clutch -----------------------------------------------------------------------------


@pytest.mark.slow
def test_slipping_impeller_clutch_turns_its_torque_times_its_slip_into_heat():
    # Kept at 1700 rpm with a quarter of 1000 N.m: the impeller runs at 60 sqrt(250) = 949 rpm.
    clutch = ImpellerClutch(torque_capacity=1000.0, engine_speed=1700 * RPM, settings=(0.25, 1.0))
    rows = part("impeller_clutch", impeller_clutch=clutch)["rows"]
    slipping = rows[0]
    impeller = 60.0 * math.sqrt(250.0)
    assert (slipping["setting"], slipping["turbine_speed_rpm"]) == (0.25, 0.0)
    assert slipping["engine_speed_rpm"] == pytest.approx(1700.0)
    assert slipping["impeller_speed_rpm"] == pytest.approx(impeller)
    assert slipping["clutch_torque_nm"] == pytest.approx(250.0)
    assert slipping["turbine_torque_nm"] == pytest.approx(550.0)
    assert slipping["clutch_heat_kw"] == pytest.approx(250.0 * (1700 - impeller) * RPM / 1e3)
    assert slipping["converter_heat_kw"] == pytest.approx(250.0 * impeller * RPM / 1e3)
    assert slipping["power_left_kw"] == pytest.approx(650.0 * 1700 * RPM / 1e3)
    assert slipping["slipping"]
    assert slipping["engine_speed_held"]
    # At 1700 rpm the converter asks for (1700 / 60)^2 = 802.8 N.m: 1000 N.m do not slip.
    whole = next(row for row in rows if row["setting"] == 1.0)
    assert not whole["slipping"]
    assert whole["impeller_speed_rpm"] == pytest.approx(1700.0)
    assert whole["clutch_heat_kw"] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("capacity", "slips"), [(800.0, True), (805.0, False)])
@pytest.mark.slow
def test_clutch_that_slips_at_full_pressure_is_said_to(capacity, slips):
    clutch = ImpellerClutch(torque_capacity=capacity, engine_speed=1700 * RPM)
    found = codes(result(impeller_clutch=clutch))
    assert ("impeller-clutch-slips-at-full" in found) == slips


@pytest.mark.parametrize(("rpm", "lost"), [(1790, False), (1900, True)])
@pytest.mark.slow
def test_engine_that_cannot_keep_its_speed_at_full_pressure_is_said_to(rpm, lost):
    # Above 1800 rpm, where it stalls, the converter takes more than the engine has.
    clutch = ImpellerClutch(torque_capacity=2000.0, engine_speed=rpm * RPM)
    assert ("impeller-clutch-speed-not-held" in codes(result(impeller_clutch=clutch))) == lost


# --- stator, divider -----------------------------------------------------------------------------


def test_stator_taken_out_costs_what_the_torque_ratio_was_worth():
    # Same capacity, torque ratio 1: 900 N.m instead of 1980 N.m.
    allowed = Permissions(stator=True)
    found = part("stator", stator="none", stall_capacity_factor=1.0, permissions=allowed)
    assert found["stall_torque_lost_nm"] == pytest.approx(1080.0)
    first = found["rows"][0]
    assert first["turbine_torque_before_nm"] == pytest.approx(1980.0)
    assert first["turbine_torque_nm"] == pytest.approx(900.0)
    assert first["heat_before_kw"] == first["heat_kw"] == pytest.approx(STALL_KW)
    assert (found["data_stator"], found["stator"]) == ("one-way", "none")


def test_without_a_stator_the_capacity_is_the_one_that_a_stall_test_goes_by():
    # The middle of three: of the coupling range carried to stall, least and most, and of a rule of
    # thumb, 1 / 0.67^2; with a flat 900 N.m the stall speed goes with its root, and the turbine
    # torque is the engine's. The stall test's hypothesis of a slipping clutch has the same.
    allowed = Permissions(stator=True)
    answer = result(stator="none", permissions=allowed)
    found = plain_of(answer.part("stator"))
    factor = found["stall_capacity_factor"]
    setup = StallSetup(engine=flat_engine(), converter=converter())
    assert math.log(factor) == pytest.approx(free_capacity_factor(setup)[0], rel=1e-9)
    assert found["stall_engine_speed_rpm"] == pytest.approx(60 * 30 / math.sqrt(factor), rel=1e-6)
    assert found["stall_turbine_torque_nm"] == pytest.approx(900.0, rel=1e-6)
    assert found["stall_capacity_factor_low"] < factor < found["stall_capacity_factor_high"]
    [note] = [note for note in answer.notes if note.code == "stator-out-capacity"]
    said = dict(note.values)
    # With the capacity unchanged it would be the stall speed with the stator, 1800 rpm.
    assert said["same"] == pytest.approx(1800 * RPM, rel=1e-6)
    assert said["high"] < said["same"]
    assert "common practice, no source" in note_text(note, "si")


def test_blades_say_what_the_capacity_is_without_a_stator():
    blades = read_blading(find("blading", "loader-390mm"))
    own = Arrangement(
        id="a", name="a", source="a", stator="none", permissions=Permissions(stator=True)
    )
    answer = solve_arranged(flat_engine(), converter(), own, blading=blades)
    found = plain_of(answer.part("stator"))
    # By the balance of torques and heads of the blading alone, at stall, free against held.
    free, held = (
        float(operate(blades, 0.0, mounting=how).impeller_torque) for how in ("free", "fixed")
    )
    assert found["stall_capacity_factor"] == pytest.approx(free / held, rel=1e-12)
    assert free > held


DIVIDER = TorqueDivider(planetary=Planetary(ratio=2.5))


def test_divider_at_output_stall_is_that_of_the_gears():
    # r = 2.5: converter at -1/r = -0.4, where mu = 2.5; (1 + r) mu / (r + mu) = 1.75, and the sun
    # carries mu / (r + mu) = one half of the engine's torque.
    found = part("torque_divider", full_range(), torque_divider=DIVIDER)
    assert found["converter_speed_ratio_at_output_stall"] == pytest.approx(-0.4)
    assert found["torque_ratio_at_output_stall"] == pytest.approx(1.75)
    assert found["mechanical_share_at_output_stall"] == pytest.approx(0.5)
    first = found["rows"][0]
    assert (first["output_speed_ratio"], first["output_power_kw"]) == (0.0, pytest.approx(0.0))
    assert first["heat_kw"] == pytest.approx(first["engine_power_kw"])
    assert first["converter_speed_ratio"] == pytest.approx(-0.4)
    # Half of 900 N.m into the impeller: K is 60 / sqrt(0.93) at -0.4, so 60 sqrt(450 / 0.93) rpm.
    speed = 60.0 * math.sqrt(450.0 / 0.93)
    assert first["engine_speed_rpm"] == pytest.approx(speed)
    assert first["impeller_power_kw"] == pytest.approx(450.0 * speed * RPM / 1e3)


@pytest.mark.parametrize(
    ("name", "limit", "code"),
    [("input_torque", 450.0, "torque"), ("input_power", None, "power")],
)
@pytest.mark.slow
def test_impeller_limit_inside_a_divider_is_broken_just_above_it(name, limit, code):
    free = result(full_range(), torque_divider=DIVIDER)
    points = free.part("torque_divider").detail.split.hydraulic_in
    highest = limit or float(points[points == points].max())
    note = f"limit-impeller-{code}"
    for share, broken in ((0.9, True), (3.0, False)):
        unit = full_range().replace(limits=ConverterLimits(**{name: share * highest}))
        found = codes(result(unit, torque_divider=DIVIDER), "limit")
        assert (note in found) == broken


# --- engine braking, part load -------------------------------------------------------------------


def test_locked_up_the_machine_is_held_back_by_the_motoring_torque():
    speed = [800 * RPM, 2500 * RPM]
    motoring = SpeedTable(speed=speed, value=[45.0, 90.0], name="motoring torque")
    found = part(
        "overrun",
        None,
        flat_engine(motoring=motoring),
        overrun=OverrunDuty(),
        permissions=Permissions(overrun=True),
    )
    rows = found["rows"]
    assert len(rows) == 9
    assert rows[0]["turbine_speed_rpm"] == pytest.approx(found["lowest_turbine_speed_rpm"])
    assert rows[-1]["turbine_speed_rpm"] == pytest.approx(found["highest_turbine_speed_rpm"])
    looked_at = 0
    for row in rows:
        turbine, torque = row["turbine_speed_rpm"], row["locked_turbine_torque_nm"]
        if torque is not None:
            looked_at += 1
            expected = 45.0 + 45.0 * (turbine - 800.0) / 1700.0  # two rows: a straight line
            assert abs(torque) == pytest.approx(expected)
            power = abs(row["locked_retarding_power_kw"])
            assert power == pytest.approx(expected * turbine * RPM / 1e3)
        assert row["speed_ratio"] == pytest.approx(turbine / row["engine_speed_rpm"])
        assert row["speed_ratio"] > 1.0  # the turbine drives
        lost = abs(row["turbine_torque_nm"]) * turbine * RPM / 1e3
        assert row["retarding_power_kw"] == pytest.approx(lost)
    assert looked_at >= 5


@pytest.mark.parametrize(
    ("limit", "end", "above"),
    [
        (None, "where its data end", True),  # the table ends at 2500 rpm, high idle is 2380
        (2381.0, "its overspeed limit", True),
        (2380.0, "its overspeed limit", False),
        (2200.0, "its overspeed limit", False),
    ],
)
def test_highest_speed_on_overrun_is_said_with_what_sets_it_and_whether_high_idle_is_below(
    limit, end, above
):
    motoring = SpeedTable(speed=[800 * RPM, 2500 * RPM], value=[45.0, 90.0], name="motoring torque")
    answer = result(
        None,
        flat_engine(motoring=motoring),
        overrun=OverrunDuty(overspeed_limit=None if limit is None else limit * RPM),
        permissions=Permissions(overrun=True),
    )
    [said] = [note for note in answer.notes if note.code == "overrun-highest-speed"]
    block = plain_of(answer.part("overrun"))
    assert said.kind == "warning"
    assert dict(said.values) == {
        # By the table that turns the engine fastest: its end is the one to keep below.
        "turbine": pytest.approx(min(block["highest_turbine_speed_band_rpm"]) * RPM),
        "engine": pytest.approx((limit or 2500.0) * RPM),
        "end": end,
        "already": ". That is above high idle already" if above else "",
    }
    assert ("overrun-no-holding", "caution") in {(n.code, n.kind) for n in answer.notes}


@pytest.mark.parametrize("on", [True, False])
def test_exhaust_brake_is_said_and_its_table_is_the_one_that_holds_back(on):
    speed = [800 * RPM, 2500 * RPM]
    motoring = SpeedTable(speed=speed, value=[50.0, 50.0], name="motoring torque")
    brake = SpeedTable(speed=speed, value=[200.0, 200.0], name="exhaust brake torque")
    answer = result(
        None,
        flat_engine(motoring=motoring, exhaust_brake=brake),
        overrun=OverrunDuty(exhaust_brake=on),
        permissions=Permissions(overrun=True),
    )
    part = answer.part("overrun")
    locked = [row["locked_turbine_torque_nm"] for row in plain_of(part)["rows"]]
    known = [torque for torque in locked if torque is not None]
    assert known
    assert np.abs(known) == pytest.approx(200.0 if on else 50.0)
    assert plain_of(part)["exhaust_brake"] is on
    assert ("with the exhaust brake" in part.title) is on
    assert part.title.endswith(", stator one-way")
    assert part.detail.exhaust_brake is on


def test_full_setting_of_part_load_is_the_full_load_stall():
    duty = PartLoadDuty(no_load_speeds=(1500 * RPM, 2380 * RPM))
    found = part("part_load", part_load=duty, wheels=WHEELS)
    at_stall = [row for row in found["rows"] if row["speed_ratio"] == 0.0]
    assert [row["no_load_speed_rpm"] for row in at_stall] == pytest.approx([1500.0, 2380.0])
    full = at_stall[1]
    assert full["engine_speed_rpm"] == pytest.approx(1800.0)
    assert full["turbine_torque_nm"] == pytest.approx(1980.0)
    assert full["turbine_speed_rpm"] == full["output_power_kw"] == 0.0
    assert full["heat_kw"] == pytest.approx(STALL_KW)
    assert not full["at_idle"]
    listed = [row["speed_ratio"] for row in found["rows"][:4]]
    assert listed == pytest.approx([0.0, 0.5, 0.8, 0.86], abs=0.005)  # half a step of a hundredth
    assert len(found["rows"]) == 8
    # 2.2 (800 / 60)^2 N.m at idle, times 50 at the wheels.
    assert found["holding_wheel_torque_nm"] == pytest.approx(50 * 2.2 * (800 / 60) ** 2)


def test_creep_at_idle_is_a_caution_that_names_the_torque():
    answer = result(part_load=PartLoadDuty(no_load_speeds=(1500 * RPM,)))
    [note] = [note for note in answer.notes if note.code == "creep-at-idle"]
    assert note.kind == "caution"
    assert dict(note.values) == {"torque": pytest.approx(2.2 * (800 / 60) ** 2)}


@pytest.mark.slow
def test_blank_cells_say_why_they_are_blank():
    # Data to speed ratio 0.99: the turbine does not come to 2380 rpm, high idle. Locked up, the
    # engine is tied to the turbine and cannot be below 800 rpm, low idle.
    rows = part("lock_up", lock_up=by_speed())["rows"]
    assert rows[0]["blank_because"] == "locked (the engine would run below idle)"
    assert rows[5]["blank_because"] == ""
    assert "the converter's data end at speed ratio 0.99" in rows[-1]["blank_because"]
    for row in rows:
        blank = None in (row["open_turbine_torque_nm"], row["locked_turbine_torque_nm"])
        assert blank is bool(row["blank_because"])
    # Eight times the capacity: at full pressure the engine does not come up with the wheels held.
    tight = converter(capacity=8 * converter().capacity)
    clutch = ImpellerClutch(torque_capacity=1000.0, engine_speed=1500 * RPM, settings=(0.4, 1.0))
    found = part("impeller_clutch", tight, impeller_clutch=clutch)["rows"]
    held, lugged = (
        next(row for row in found if (row["setting"], row["turbine_speed_rpm"]) == (setting, 0.0))
        for setting in (0.4, 1.0)
    )
    assert (held["blank_because"], held["engine_speed_rpm"]) == ("", pytest.approx(1500.0))
    assert (lugged["blank_because"], lugged["engine_speed_rpm"]) == (
        "the engine is lugged down",
        None,
    )
