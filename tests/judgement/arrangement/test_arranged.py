"""Engine, converter and arrangement: from shipped files to an answer."""

import json
from dataclasses import replace

import numpy as np
import pytest

from converter_match.answer.console import console
from converter_match.answer.plain import plain
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
from converter_match.errors import InputError
from converter_match.judgement.arrangement.solve import solve_arranged
from converter_match.judgement.match.solve import solve
from converter_match.library.read import read_arrangement, read_converter, read_engine
from converter_match.library.shipped import find
from tests.examples import ARRANGED, RPM, converter, engine, hole_engine


def answer(names):
    made, unit, how = names
    return solve_arranged(
        read_engine(find("engines", made)),
        read_converter(find("converters", unit)),
        read_arrangement(find("arrangements", how)),
    )


def arranged(**parts):
    return Arrangement(id="test-arrangement", name="test", source="test", **parts)


def plain_of(block):
    return plain([replace(block, name="")])


def text_of(block):
    return console([block], [])


def codes(result, kind=None):
    return {note.code for note in result.notes if kind in (None, note.kind)}


@pytest.mark.parametrize("names", ARRANGED, ids=[names[2] for names in ARRANGED])
@pytest.mark.slow
def test_tables_step_evenly_and_still_print_alike_on_any_processor(names, other_processor):
    # Some turbine speeds stand just where their rounding turns, such as 1282.5 rpm.
    result = answer(names)
    printed = console(result.parts, ())
    for share in (-1e-12, 1e-12):
        other_processor(share)
        assert console(result.parts, ()) == printed


@pytest.mark.parametrize("names", ARRANGED, ids=[names[2] for names in ARRANGED])
@pytest.mark.slow
def test_shipped_arrangement_gets_an_answer_in_text_and_as_plain_data(names):
    result = answer(names)
    data = json.loads(json.dumps(result.to_dict(), allow_nan=False))
    contract = {"stall", "coupling", "best_efficiency", "warnings", "points"}
    assert contract < set(data)
    assert data["arrangement"]["id"] == names[2]
    assert list(data["arrangement"]["parts"]) == [block.name for block in result.parts]
    for system in ("si", "us"):
        text = result.text(system)
        assert all(block.title in text for block in result.parts)
        assert all(f"[{note.code}]" in text for note in result.notes)
    # Plain data in kW and N.m: power in the rows balances as the physics does.
    for row in data["arrangement"]["parts"].get("torque_divider", {}).get("rows", []):
        assert row["engine_power_kw"] == pytest.approx(
            row["output_power_kw"] + row["heat_kw"], abs=1e-6
        )


def test_divider_is_what_is_matched_and_keeps_the_contract():
    result = answer(ARRANGED[0])
    assert result.match.converter.id.endswith("+divider")
    assert "negative-speed-ratio-assumed" in codes(result, "assumption")
    assert "turbine-driven-backwards" in codes(result)
    rows = plain_of(result.part("torque_divider"))["rows"]
    assert rows[0]["turbine_power_kw"] < 0
    assert rows[0]["engine_power_kw"] == pytest.approx(result.match.stall.input_power / 1e3)


def test_without_permission_nothing_is_assumed():
    unit, made = converter(), engine()
    gears = TorqueDivider(planetary=Planetary(ratio=2.5))
    with pytest.raises(InputError, match="permission negative_speed_ratio"):
        solve_arranged(made, unit, arranged(torque_divider=gears))
    drag = SpeedTable(speed=[700 * RPM, 2500 * RPM], value=[60, 140], name="motoring")
    with pytest.raises(InputError, match="permission overrun"):
        solve_arranged(engine(motoring=drag), unit, arranged(overrun=OverrunDuty()))
    with pytest.raises(InputError, match="permission stator"):
        solve_arranged(made, unit, arranged(stator="none"))
    allowed = arranged(stator="fixed", permissions=Permissions(stator=True))
    with pytest.raises(InputError, match="cannot be derived"):
        solve_arranged(made, unit, allowed)
    with pytest.raises(InputError, match=r"test-engine: motoring"):
        solve_arranged(
            made, unit, arranged(overrun=OverrunDuty(), permissions=Permissions(overrun=True))
        )


@pytest.mark.slow
def test_a_part_on_top_leaves_the_plain_match_as_it_is():
    clutch = ImpellerClutch(torque_capacity=900.0, engine_speed=1700 * RPM)
    bare = solve(engine(), converter())
    result = solve_arranged(engine(), converter(), arranged(impeller_clutch=clutch))
    assert result.match.stall == bare.stall
    assert result.match.coupling == bare.coupling


def test_overrun_through_a_divider_is_assumed_for_the_converter_inside():
    drag = SpeedTable(speed=[700 * RPM, 2500 * RPM], value=[60, 140], name="motoring")
    result = solve_arranged(
        engine(motoring=drag),
        converter(),
        arranged(
            torque_divider=TorqueDivider(planetary=Planetary(ratio=2.5)),
            overrun=OverrunDuty(),
            permissions=Permissions(negative_speed_ratio=True, overrun=True),
        ),
    )
    # Assumed up to 2 inside: SR = (1 + k nu)/(1 + k) at the output.
    assert result.match.converter.domain[1] == pytest.approx((1 + 2.5 * 2.0) / 3.5)
    assert "overrun-assumed" in codes(result, "assumption")
    for row in plain_of(result.part("overrun"))["rows"]:
        assert row["retarding_power_kw"] > row["heat_kw"] > 0


def test_lock_up_warns_of_capacity_and_of_sustained_heavy_pull():
    clutch = LockUpClutch(
        engage_by="turbine-speed", engage=1200 * RPM, release=900 * RPM, torque_capacity=700.0
    )
    result = solve_arranged(engine(inertia=1.5), converter(), arranged(lock_up=clutch))
    assert "lock-up-capacity" in codes(result, "limit")
    assert result.fails
    # 900 rpm is below the peak-torque speed of 1400 rpm.
    assert "lock-up-heavy-pull" in codes(result, "warning")
    # At 1200 rpm turbine the open converter still multiplies.
    assert "lock-up-costs-pull" in codes(result)
    assert {"machine-keeps-its-speed", "impeller-inertia-not-counted"} <= codes(
        result, "assumption"
    )


@pytest.mark.parametrize(("closes", "lets_go"), [(1743.0, 1517.0), (1743.0, 400.0)])
def test_lock_up_by_turbine_speed_says_the_speeds_it_was_given(closes, lets_go):
    clutch = LockUpClutch(engage_by="turbine-speed", engage=closes * RPM, release=lets_go * RPM)
    facts = solve_arranged(engine(), converter(), arranged(lock_up=clutch)).part("lock_up")
    found = plain_of(facts)
    assert found["engage_turbine_speed_rpm"] == pytest.approx(closes, rel=1e-12)
    # A clutch cannot hold below low idle: the engine would have stopped.
    low = engine().low_idle / RPM
    assert found["release_turbine_speed_rpm"] == pytest.approx(max(lets_go, low), rel=1e-12)


def test_lock_up_within_its_means_is_not_warned_about():
    clutch = LockUpClutch(engage_by="speed-ratio", engage=0.93, release=0.9, torque_capacity=1500.0)
    result = solve_arranged(engine(inertia=1.5), converter(), arranged(lock_up=clutch))
    assert not {"lock-up-capacity", "lock-up-heavy-pull", "lock-up-costs-pull"} & codes(result)
    without = solve_arranged(engine(), converter(), arranged(lock_up=clutch))
    assert "engagement-heat-not-known" in codes(without)
    facts = plain_of(without.part("lock_up"))
    assert facts["engagement_energy_kj"] is None
    assert facts["engine_speed_step_rpm"] > 0


def test_lock_up_by_gear_gets_an_answer_in_a_gear_that_locks():
    clutch = LockUpClutch(engage_by="gear", engage=3, release=2)
    result = solve_arranged(engine(), converter(), arranged(lock_up=clutch))
    rows = plain_of(result.part("lock_up"))["rows"]
    assert rows[-2]["holds_rising"]


def test_engine_that_implement_and_wheels_hold_down_fails():
    heavy = SpeedTable(speed=[700 * RPM, 2500 * RPM], value=[850, 850], name="pumps")
    result = solve_arranged(
        engine(), converter(), arranged(hydraulic_sharing=HydraulicSharing(relief=heavy))
    )
    assert "engine-pulled-down-at-relief" in codes(result, "limit")
    rows = plain_of(result.part("hydraulic_sharing"))["rows"]
    assert next(row["turbine_torque_nm"] for row in rows if row["state"] == "relief") is None


def test_part_load_settings_follow_the_governing_habit():
    with pytest.raises(InputError, match="no_load_speed"):
        solve_arranged(engine(), converter(), arranged(part_load=PartLoadDuty(pedals=(0.5,))))
    result = solve_arranged(
        engine(), converter(), arranged(part_load=PartLoadDuty(no_load_speeds=(1500 * RPM,)))
    )
    part = plain_of(result.part("part_load"))
    assert part["creep_turbine_torque_nm"] == pytest.approx(2.2 * (800 / 60) ** 2)
    assert "creep-at-idle" in codes(result, "caution")
    with pytest.raises(InputError, match="no such part"):
        result.part("lock_up")


def test_creep_is_no_number_where_the_engine_cannot_hold_idle_in_gear():
    # Eight times the capacity: 8 (800/60)^2 = 1422 N.m, twice what the engine has at 800 rpm.
    tight = converter(capacity=8 * converter().capacity)
    duty = PartLoadDuty(no_load_speeds=(1500 * RPM,))
    result = solve_arranged(engine(), tight, arranged(part_load=duty))
    assert result.to_dict()["idle_in_gear"] is None
    assert plain_of(result.part("part_load"))["creep_turbine_torque_nm"] is None
    assert "does not hold idle in gear" in text_of(result.part("part_load"))
    assert "idle-not-held-in-gear" in codes(result, "limit")
    assert "creep-at-idle" not in codes(result, "caution")


def test_taken_out_stator_says_what_is_lost_and_that_nothing_is_gained():
    result = answer(ARRANGED[6])
    assert {"coupling-loses-multiplication", "coupling-gains-nothing"} <= codes(result)
    factor = arranged(
        stator="none", stall_capacity_factor=2.25, permissions=Permissions(stator=True)
    )
    tighter = solve_arranged(engine(), converter(), factor)
    same = solve_arranged(
        engine(), converter(), arranged(stator="none", permissions=Permissions(stator=True))
    )
    assert tighter.match.stall.engine_speed < same.match.stall.engine_speed


def test_stator_that_is_there_already_is_not_compared_with_itself():
    result = solve_arranged(engine(), converter(), arranged(stator="one-way"))
    assert plain_of(result.part("stator")) == {"stator": "one-way"}
    assert result.match.stall == solve(engine(), converter()).stall


def test_a_setting_above_high_idle_is_refused_in_rpm_and_by_its_row():
    duty = PartLoadDuty(no_load_speeds=(1500 * RPM, 3020 * RPM))
    with pytest.raises(
        InputError, match=r"no_load_speed \(row 2\): .*found '3020 rpm'; .*2380 rpm"
    ):
        solve_arranged(engine(), converter(), arranged(part_load=duty))


def test_impeller_limits_are_looked_at_inside_the_divider():
    gears = TorqueDivider(planetary=Planetary(ratio=2.5))
    weak = converter(limits=ConverterLimits(input_torque=300.0))
    permitted = arranged(torque_divider=gears, permissions=Permissions(negative_speed_ratio=True))
    result = solve_arranged(engine(), weak, permitted)
    assert "limit-impeller-torque" in codes(result, "limit")
    strong = converter(limits=ConverterLimits(input_torque=3000.0))
    assert "limit-impeller-torque" not in codes(solve_arranged(engine(), strong, permitted))


def test_wheels_give_effort_travel_speed_and_holding_torque():
    wheels = Wheels(overall_ratio=50.0, rolling_radius=0.75, efficiency=0.9)
    clutch = ImpellerClutch(
        torque_capacity=900.0, engine_speed=1700 * RPM, tractive_effort_limit=60e3
    )
    result = solve_arranged(
        engine(),
        converter(),
        arranged(
            impeller_clutch=clutch,
            part_load=PartLoadDuty(no_load_speeds=(1500 * RPM,)),
            wheels=wheels,
        ),
    )
    part = plain_of(result.part("impeller_clutch"))
    assert part["turbine_torque_limit_nm"] == pytest.approx(1000.0)
    at_limit = part["rows"][-4]
    assert at_limit["tractive_effort_kn"] == pytest.approx(60.0)
    assert at_limit["travel_speed_kmh"] == 0.0
    for row in part["rows"]:
        if row["turbine_torque_nm"] is not None:
            effort = row["turbine_torque_nm"] * 50 * 0.9 / 0.75 / 1e3
            assert row["tractive_effort_kn"] == pytest.approx(effort)
    hold = plain_of(result.part("part_load"))
    # Losses on the way help the brake and are not counted on.
    assert hold["holding_wheel_torque_nm"] == pytest.approx(50 * hold["creep_turbine_torque_nm"])


def test_site_and_hydraulic_torque_reach_every_part():
    how = read_arrangement(find("arrangements", "log-loader-hydraulics"))
    made = engine(low_idle=810 * RPM)
    less = solve_arranged(made, converter(), how, hydraulic_torque=100.0)
    more = solve_arranged(made, converter(), how)
    rows = [
        [row["turbine_torque_nm"] for row in plain_of(each.part("hydraulic_sharing"))["rows"]]
        for each in (less, more)
    ]
    assert np.all(np.array(rows[0]) < np.array(rows[1]))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("capacity", "limit", "setting", "words"),
    [
        (1.0, 1000.0, 1000.0 / 2.2 / 900.0, "0.505"),
        (1.0, 5000.0, None, "limit never reached"),  # 2.2 times what the engine has is less
        (8.0, 1800.0, None, "none: does not hold at standstill"),  # 818 N.m of 735 at 850 rpm
    ],
)
def test_the_setting_at_standstill_is_given_only_where_there_is_one(
    capacity, limit, setting, words
):
    clutch = ImpellerClutch(
        torque_capacity=900.0,
        engine_speed=(1700 if capacity == 1.0 else 850) * RPM,
        turbine_torque_limit=limit,
    )
    unit = converter().replace(capacity=capacity * converter().capacity)
    block = solve_arranged(engine(), unit, arranged(impeller_clutch=clutch)).part("impeller_clutch")
    assert f"setting that keeps it at standstill: {words}" in text_of(block)
    found = plain_of(block)["setting_at_standstill"]
    assert found == (None if setting is None else pytest.approx(setting))


@pytest.mark.slow
def test_a_limit_that_is_reached_only_in_motion_is_said_to_be():
    # Late boost: with the wheels held the engine hangs in its torque hole, and leaves it as the
    # turbine speeds up.
    unit = converter().replace(capacity=1.7 * converter().capacity)
    clutch = ImpellerClutch(torque_capacity=2000.0, turbine_torque_limit=1500.0)
    block = solve_arranged(hole_engine(), unit, arranged(impeller_clutch=clutch)).part(
        "impeller_clutch"
    )
    run = block.detail.points
    assert run.turbine_torque[-1, 0] < 1500.0 < np.nanmax(run.turbine_torque[-1])
    assert "standstill: limit not reached at standstill" in text_of(block)
