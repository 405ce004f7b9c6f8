"""Gears, drag and lock-up rules: by hand, and refused by their field."""

import math

import numpy as np
import pytest

from converter_match.components.driveline import DragLaw, DragTable, LockUp, Stage
from converter_match.components.gear import require_efficiency, require_not_negative
from converter_match.errors import InputError
from converter_match.notes import Note
from tests.machines import LOCK, driveline, gear


def refusal(build):
    with pytest.raises(InputError) as caught:
        build()
    return caught.value


def rule(**values):
    return LockUp(allowed=True, **values)


# --- drag ----------------------------------------------------------------------------------------


def test_drag_law_is_a_constant_and_a_power_of_the_speed():
    law = DragLaw(torque=8.0, at_speed=100.0, exponent=2.0, constant=3.0)
    # 3 + 8 (w / 100)^2, whichever way the shaft turns.
    np.testing.assert_allclose(law.at([[0, 50, 100], [-100, 200, 300]]),
                               [[3, 5, 11], [11, 35, 75]])  # fmt: skip
    plain = DragLaw(torque=8.0, at_speed=100.0)
    assert (plain.exponent, plain.constant) == (1.0, 0.0)
    assert float(plain.at(50.0)) == 4.0


def test_drag_table_ignores_the_sign_and_ends_at_its_last_row():
    table = DragTable(speed=[0.0, 100.0, 200.0], value=[4.0, 5.0, 9.0])
    np.testing.assert_array_equal(table.at([-200.0, -100.0, 0.0, 100.0, 200.0]), [9, 5, 4, 5, 9])
    assert table.at([]).size == 0
    for beyond in (math.nextafter(200.0, 300.0), -201.0, math.nan, [1.0, 250.0]):
        error = refusal(lambda beyond=beyond: table.at(beyond))
        assert error.field == "drag.speed"
        assert "high idle" in error.hint


def test_drag_table_begins_at_standstill():
    error = refusal(lambda: DragTable(speed=[1e-9, 100.0], value=[1.0, 2.0]))
    assert error.field == "drag.speed"
    assert refusal(lambda: DragTable(speed=[0.0, 9.0], value=[1.0, -2.0])).field == "drag torque[1]"


def test_gear_without_drag_takes_no_torque():
    assert gear(drag=None).drag_torque([[1.0, 2.0], [3.0, 4.0]]).tolist() == [[0.0] * 2] * 2
    law = DragLaw(torque=8.0, at_speed=100.0)
    assert gear(drag=law).drag_torque([50.0, 100.0]).tolist() == [4.0, 8.0]


# --- lock-up -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("made", "expected"),
    [
        (LockUp(), "not-allowed"),
        (rule(), "not-stated"),
        (rule(engage_speed_ratio=0.8), "speed-ratio"),
        (rule(engage_speed_ratio=0.8, release_speed_ratio=0.6), "speed-ratio"),
        (rule(engage_turbine_speed=150.0), "turbine-speed"),
        (rule(engage_turbine_speed=150.0, release_turbine_speed=120.0), "turbine-speed"),
    ],
)
def test_lock_up_goes_by_what_is_given(made, expected):
    assert made.rule == expected


@pytest.mark.parametrize(
    "name",
    [
        "engage_speed_ratio",
        "release_speed_ratio",
        "engage_turbine_speed",
        "release_turbine_speed",
    ],
)
def test_no_value_may_be_given_where_lock_up_is_not_allowed(name):
    error = refusal(lambda: LockUp(allowed=False, **{name: 0.5}))
    assert (error.field, error.found) == ("lock_up.allowed", False)


@pytest.mark.parametrize("ratio", ["engage_speed_ratio", "release_speed_ratio"])
@pytest.mark.parametrize("speed", ["engage_turbine_speed", "release_turbine_speed"])
def test_two_rules_are_refused_however_they_are_begun(ratio, speed):
    error = refusal(lambda: rule(**{ratio: 0.5, speed: 120.0}))
    assert (error.field, error.problem) == ("lock_up", "two lock-up rules")


@pytest.mark.parametrize(("kind", "value"), [("speed_ratio", 0.5), ("turbine_speed", 120.0)])
def test_release_needs_an_engagement_above_it(kind, value):
    error = refusal(lambda: rule(**{f"release_{kind}": value}))
    assert (error.field, error.problem) == (
        f"lock_up.engage_{kind}",
        "a release without an engagement",
    )
    for engage in (value, 0.9 * value):
        given = {f"release_{kind}": value, f"engage_{kind}": engage}
        error = refusal(lambda given=given: rule(**given))
        assert (error.field, error.found) == (f"lock_up.release_{kind}", value)


# --- gear and driveline --------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["", "  "])
def test_gear_needs_a_name(name):
    assert refusal(lambda: gear(name)).field == "gear.name"


def test_gear_goes_forward_or_in_reverse():
    for direction in ("forward", "reverse"):
        assert gear(direction=direction).direction == direction
    error = refusal(lambda: gear("R2", direction="backward"))
    assert error.field == "gear 'R2'.direction"
    assert gear().direction == "forward"
    assert not gear().lock_up.allowed


def test_shift_speeds_of_a_gear_may_be_given_alone():
    assert gear(upshift_turbine_speed=200.0).downshift_turbine_speed is None
    assert gear(downshift_turbine_speed=200.0).upshift_turbine_speed is None


@pytest.mark.parametrize("value", [-5e-324, -1.0, math.nan, math.inf, -math.inf])
def test_quantity_that_may_be_zero_is_finite_and_not_below(value):
    require_not_negative(0.0, "time")
    error = refusal(lambda: require_not_negative(value, "time", "a time"))
    assert (error.field, error.expected) == ("time", "a time")
    assert refusal(lambda: require_not_negative(value, "time")).expected == "zero or more"


def test_efficiency_is_a_share_above_zero():
    for good in (5e-324, 0.5, 1.0):
        require_efficiency(good, "eta")
    for bad in (0.0, -0.1, math.nextafter(1.0, 2.0), 95.0, math.nan, math.inf):
        assert refusal(lambda bad=bad: require_efficiency(bad, "eta")).field == "eta"


def test_a_driveline_without_stages_is_the_gearbox_alone():
    bare = driveline(stages=())
    assert (bare.stage_ratio, bare.stage_efficiency) == (1.0, 1.0)
    assert bare.overall_ratio(bare.gears[1]) == 2.2
    assert bare.efficiency(bare.gears[1]) == 0.96


def test_driveline_finds_its_gears_by_name():
    chain = driveline()
    assert chain.gear("3").ratio == 1.2
    assert chain.gear("R").direction == "reverse"
    error = refusal(lambda: chain.gear("R1"))
    assert (error.source, error.field, error.found) == ("test-driveline", "gear", "R1")
    assert error.expected == "1 | 2 | 3 | R"
    assert "'R'" in error.hint


def test_gears_of_one_direction_differ_in_ratio_and_all_in_name():
    assert refusal(lambda: driveline(gears=())).field == "gear"
    error = refusal(lambda: driveline(gears=(gear("1"), gear("2", 2.0), gear("1", 1.0))))
    assert (error.field, error.found) == ("gear[2].name", "1")
    assert "no. 1 " in str(error)
    back = (gear("1"), gear("R1", 3.0, direction="reverse"), gear("R2", 3.0, direction="reverse"))
    error = refusal(lambda: driveline(gears=back))
    assert (error.field, error.found) == ("gear.ratio", 3.0)
    assert "two reverse gears" in error.problem
    # One ratio forward and back is as it should be.
    driveline(gears=(gear("1", 4.0), gear("R1", 4.0, direction="reverse")))
    error = refusal(lambda: driveline(gears=(gear("1", 5.0), gear("2", 2.0), gear("3", 2.0))))
    assert error.found == 2.0


def notes(chain):
    return {note.code: note for note in chain.notes}


def test_gears_without_drag_or_rule_are_named():
    open_rule = LockUp(allowed=True)
    gears = (
        gear("1", 4.0, drag=None),
        gear("2", 2.2, lock_up=open_rule),
        gear("3", 1.2, lock_up=LOCK),
        gear("R", 3.8, direction="reverse", drag=None, lock_up=open_rule),
    )
    told = Note("told", "Told.")
    found = notes(driveline(gears=gears, given_notes=(told,)))
    assert set(found) == {"told", "gear-drag-not-given", "lock-up-rule-not-given"}
    assert "in gear 1, R:" in found["gear-drag-not-given"].message
    assert "in gear 2, R without" in found["lock-up-rule-not-given"].message
    assert {note.kind for note in found.values()} == {"warning", "assumption"}
    assert notes(driveline(stages=()))["no-final-drive"].kind == "warning"


@pytest.mark.parametrize(
    ("upper", "unusual"),
    [(2.6, 0), (2.601, 1), (1.1, 0), (1.099, 1), (2.0, 0)],
)
def test_step_between_gears_is_unusual_outside_its_bounds(upper, unusual):
    # Powers of two keep the quotient exact: 2^k x step / 2^k.
    chain = driveline(gears=(gear("1", 2.0 * upper), gear("2", 2.0)))
    assert [note.code for note in chain.notes] == ["gear-step-unusual"] * unusual
    for note in chain.notes:
        assert note.kind == "warning"
        assert f"gear 1 to 2 is {upper:.2f}" in note.message


def test_every_step_is_looked_at_forward_only():
    gears = (
        gear("1", 9.0),
        gear("2", 3.0),
        gear("3", 1.0),
        gear("R1", 9.0, direction="reverse"),
        gear("R2", 1.0, direction="reverse"),
    )
    assert [note.code for note in driveline(gears=gears).notes] == ["gear-step-unusual"] * 2


@pytest.mark.parametrize(("down", "hunts"), [(99.0, 0), (100.0, 1), (101.0, 1)])
def test_downshift_at_the_output_speed_of_the_upshift_hunts(down, hunts):
    # 200 rad/s in a gear of 4 is 50 at the output, and so is 100 in a gear of 2.
    gears = (
        gear("1", 4.0, upshift_turbine_speed=200.0),
        gear("2", 2.0, downshift_turbine_speed=down),
    )
    found = driveline(gears=gears).notes
    assert [note.code for note in found] == ["shift-no-hysteresis"] * hunts
    for note in found:
        assert "gear 1 and 2" in note.message


@pytest.mark.parametrize(
    "speeds", [({}, {"downshift_turbine_speed": 90.0}), ({"upshift_turbine_speed": 200.0}, {})]
)
def test_one_shift_speed_alone_says_nothing_about_hysteresis(speeds):
    gears = (gear("1", 4.0, **speeds[0]), gear("2", 2.0, **speeds[1]))
    assert driveline(gears=gears).notes == ()


def test_stage_is_named_where_it_is_wrong():
    assert refusal(lambda: Stage(name="hub", ratio=math.nan, efficiency=1.0)).field == (
        "stage 'hub'.ratio"
    )
