"""Sizing: solved forward the found size gives the target; where there is none it says why."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.errors import InputError
from converter_match.judgement.match.solve import solve
from converter_match.judgement.sizing.engine_wanted import torque_wanted
from converter_match.judgement.sizing.size import size_for_efficiency, size_for_speed
from converter_match.physics.match.solver import match
from converter_match.units import note_text
from tests.examples import RPM, converter, engine, hole_engine

ENGINE, CONVERTER = engine(), converter()


@pytest.mark.slow
@given(speed=st.floats(1350, 2330), hydraulic=st.floats(0, 150))
def test_forward_with_the_found_size_gives_the_wanted_stall_speed(speed, hydraulic):
    found = size_for_speed(ENGINE, CONVERTER, speed * RPM, hydraulic_torque=hydraulic)
    if not found.possible:  # close to high idle the pumps take all there is
        assert float(found.engine_speed) > 2200 * RPM
        return
    again = solve(ENGINE, found.converter, hydraulic_torque=hydraulic)
    assert again.stall.engine_speed == pytest.approx(speed * RPM, rel=1e-9)


@pytest.mark.slow
@given(speed=st.floats(1400, 2300))
def test_forward_with_the_found_size_gives_the_wanted_speed_at_80_percent(speed):
    found = size_for_efficiency(ENGINE, CONVERTER, speed * RPM)
    assert float(CONVERTER.efficiency_at(found.speed_ratio)) == pytest.approx(0.8, abs=1e-9)
    point = solve(ENGINE, found.converter).working_range(0.8)[0].lower
    assert point.engine_speed == pytest.approx(speed * RPM, rel=1e-9)


def test_the_upper_end_is_where_the_efficiency_falls_again():
    # 0.896 at 0.8 with the stator held, 0.86 at the coupling point: 88 % is left before it
    found = size_for_efficiency(ENGINE, CONVERTER, 1900 * RPM, level=0.88, end="upper")
    assert 0.8 < found.speed_ratio < 0.86
    there = match(found.result.supply, found.converter, found.speed_ratio).from_idle()
    assert float(there.engine_speed) == pytest.approx(1900 * RPM, rel=1e-9)
    never = size_for_efficiency(ENGINE, CONVERTER, 1900 * RPM, level=0.8, end="upper")
    assert "data end before the efficiency falls" in note_text(never.reason, "si")
    assert never.to_dict()["speed_ratio"] is None


def test_capacity_goes_with_the_fifth_power_of_the_diameter():
    # VDI 2153: T = lambda rho omega^2 D^5
    found = size_for_speed(ENGINE, CONVERTER, 1600 * RPM)
    ratio = found.diameter / CONVERTER.profile_diameter
    assert ratio**5 == pytest.approx(found.capacity_factor, rel=1e-12)
    assert found.stall_k_factor == pytest.approx(
        60 * RPM / np.sqrt(found.capacity_factor), rel=1e-12
    )


def test_without_a_diameter_the_answer_is_a_capacity_and_a_k_factor():
    found = size_for_speed(ENGINE, converter(profile_diameter=None), 1700 * RPM)
    assert found.diameter is None
    assert found.result.stall.engine_speed == pytest.approx(1700 * RPM, rel=1e-9)
    assert "scaled-by-capacity" in {note.code for note in found.converter.notes}
    assert found.to_dict()["profile_diameter_mm"] is None


@pytest.mark.parametrize(("speed", "stretched"), [(1750, False), (2300, True)])
def test_sizes_beyond_ten_percent_are_labelled(speed, stretched):
    found = size_for_speed(ENGINE, CONVERTER, speed * RPM)
    assert (abs(found.diameter_ratio - 1) > 0.1) is stretched
    assert found.stretched is stretched
    assert ("stretch" in found.text()) is stretched


@pytest.mark.parametrize(
    ("make", "speed", "why"),
    [
        (engine, 700, "below 800 rpm"),
        (engine, 2500, "above high idle"),
        (engine, 2379, "no torque left"),
        (hole_engine, 1250, "unstable"),
        (hole_engine, 1500, "stops at"),
    ],
)
def test_an_impossible_speed_is_answered_in_words(make, speed, why):
    found = size_for_speed(make(), CONVERTER, speed * RPM)
    assert not found.possible
    assert why in note_text(found.reason, "si")
    assert found.converter is None
    assert "No size meets the requirement" in found.text()
    assert found.to_dict()["reason"] == note_text(found.reason, "si")


def test_an_efficiency_that_the_converter_never_reaches_is_answered_in_words():
    found = size_for_efficiency(ENGINE, CONVERTER, 1800 * RPM, level=0.995)
    assert "at most 99.0 % efficiency" in note_text(
        found.reason, "si"
    )  # eta = nu = 0.99 at the last row


@pytest.mark.parametrize("speed", [0.0, -100.0, float("nan"), float("inf")])
def test_a_speed_that_is_none_is_refused(speed):
    with pytest.raises(InputError, match="engine_speed: out of range"):
        size_for_speed(ENGINE, CONVERTER, speed)


@pytest.mark.parametrize(
    ("change", "match"), [({"level": 1.2}, "not an efficiency"), ({"end": "left"}, "known choice")]
)
def test_a_level_or_an_end_that_is_none_is_refused(change, match):
    with pytest.raises(InputError, match=match):
        size_for_efficiency(ENGINE, CONVERTER, 180.0, **change)


def test_a_size_outside_the_range_asked_for_is_none():
    found = size_for_speed(ENGINE, CONVERTER, 1600 * RPM)
    ratio = found.diameter / CONVERTER.profile_diameter
    assert found.within((ratio, ratio + 0.1)) is found
    refused = found.within((0.5, 0.8 * ratio))
    assert not refused.possible
    assert refused.reason.code == "outside-diameter-range"
    # In the reader's units, the sizes themselves: by hand from the metre.
    inches = f"{found.diameter / 0.0254:.4g} in"
    assert inches in note_text(refused.reason, "us")
    assert "capacity factor" not in refused.text()


def test_the_size_is_said_in_the_units_of_the_reader():
    found = size_for_speed(ENGINE, CONVERTER, 1600 * RPM)
    assert f"profile diameter: {1e3 * found.diameter:.1f} mm" in found.text("si")
    assert f"profile diameter: {found.diameter / 0.0254:.2f} in" in found.text("us")
    unknown = size_for_speed(ENGINE, converter(profile_diameter=None), 1600 * RPM)
    assert "profile diameter: not known" in unknown.text()


# --- what torque the converter wants -------------------------------------------------------------


@pytest.mark.slow
@given(speed=st.floats(1300, 2150))
def test_the_torque_factor_gives_the_wanted_stall_speed(speed):
    answer = torque_wanted(ENGINE, CONVERTER, speed * RPM)
    if answer.holes:
        return
    changed = engine(torque=ENGINE.torque * answer.torque_factor)
    assert solve(changed, CONVERTER).stall.engine_speed == pytest.approx(speed * RPM, rel=1e-9)
    assert answer.reached == pytest.approx(speed * RPM, rel=1e-9)


def test_small_changes_follow_the_elasticity_of_the_engine():
    # domain fact: a relative torque change d moves stall speed by d / (2 - e), e = dlnT/dlnN
    bare = engine(accessories=())
    stall = solve(bare, CONVERTER).stall.engine_speed
    torque, slope = (float(v) for v in bare.full_load.with_slope(stall))
    factor = torque_wanted(bare, CONVERTER, stall * 1.001).torque_factor
    assert factor - 1 == pytest.approx(0.001 * (2 - slope * stall / torque), rel=2e-2)


def test_curves_are_the_parabola_and_the_net_torque():
    answer = torque_wanted(ENGINE, CONVERTER)
    assert answer.wanted == pytest.approx((answer.engine_speed / (60 * RPM)) ** 2, rel=1e-12)
    assert answer.available == pytest.approx(
        solve(ENGINE, CONVERTER).supply.torque(answer.engine_speed)
    )


def test_a_torque_hole_is_named_with_what_is_missing():
    tight = converter(capacity=CONVERTER.capacity * (60 / 47) ** 2)
    stall = solve(hole_engine(), tight)
    assert stall.stall.engine_speed < 1250 * RPM
    high = stall.stall_from_high_idle.engine_speed
    answer = torque_wanted(hole_engine(), tight, high)
    assert answer.torque_factor == pytest.approx(1.0, abs=1e-9)  # it has the torque there already
    assert answer.reached == pytest.approx(stall.stall.engine_speed, rel=1e-9)
    [hole] = answer.holes
    c = float(tight.capacity_at(0.0))
    missing = c * hole.deepest_at**2 - float(hole_engine().full_load(hole.deepest_at))
    assert hole.missing_torque == pytest.approx(missing, rel=1e-9)
    assert note_text(answer.answer[-1], "si").endswith("has to rise by that much.")
    assert "has to rise by that much" in answer.text()
    [row] = answer.to_dict()["holes"]
    assert row["missing_torque_nm"] == hole.missing_torque


def test_on_the_run_out_no_torque_helps():
    answer = torque_wanted(ENGINE, CONVERTER, ENGINE.high_idle)
    assert answer.torque_factor is None
    assert [note.code for note in answer.answer] == ["torque-behind-governor"]


def test_a_stall_speed_outside_the_engine_is_refused():
    with pytest.raises(InputError, match=r"stall_speed: outside .* found '500 rpm'"):
        torque_wanted(ENGINE, CONVERTER, 500 * RPM)
