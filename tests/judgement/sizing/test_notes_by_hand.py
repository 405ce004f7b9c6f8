"""What is said with a size and with the torque that a converter wants: when, with what values."""

import math

import pytest

from converter_match.components.converter import ConverterLimits
from converter_match.judgement.match.solve import solve
from converter_match.judgement.sizing.engine_wanted import torque_wanted
from converter_match.judgement.sizing.size import size_for_efficiency, size_for_speed
from converter_match.units import note_text
from tests.examples import RPM, converter, engine, hole_engine
from tests.study_examples import flat_engine


def sized(rpm, unit=None, made=None, **options):
    return size_for_speed(made or flat_engine(), unit or converter(), rpm * RPM, **options)


def said(notes):
    return {note.code: dict(note.values) for note in notes}


# --- a size ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rpm", "stretched"), [(1800.0, False), (1430.0, False), (1400.0, True), (2200.0, False)]
)
def test_change_of_diameter_beyond_a_tenth_is_said_with_its_size(rpm, stretched):
    # 900 N.m at every speed: C goes with 1 / speed^2, D with its fifth root. A tenth more than at
    # 1800 rpm is 1800 / 1.1^2.5 = 1418 rpm.
    found = sized(rpm)
    ratio = (1800.0 / rpm) ** 0.4
    assert found.diameter_ratio == pytest.approx(ratio)
    assert found.diameter == pytest.approx(0.345 * ratio)
    assert found.capacity_factor == pytest.approx((1800.0 / rpm) ** 2)
    assert found.stall_k_factor == pytest.approx(rpm / math.sqrt(900.0) * RPM)
    expected = {"size-by-similarity": {}}
    if stretched:
        expected["size-stretched"] = {
            "which": "diameter", "change": pytest.approx(ratio - 1.0), "comfort": 0.1
        }  # fmt: skip
    assert said(found.notes) == expected
    assert found.to_dict()["beyond_comfort"] is stretched
    kinds = {note.code: note.kind for note in found.notes}
    assert kinds["size-by-similarity"] == "assumption"
    assert kinds.get("size-stretched", "warning") == "warning"


def test_plain_data_of_a_size_hold_its_stall():
    stall = sized(1700.0).to_dict()["stall"]
    assert stall["engine_speed_rpm"] == pytest.approx(1700.0)
    assert stall["turbine_torque_nm"] == pytest.approx(2.2 * 900.0)
    assert sized(700.0).to_dict()["stall"] is None


def test_size_without_a_diameter_stretches_an_equivalent_one():
    found = sized(1400.0, converter(profile_diameter=None))
    assert said(found.notes)["size-stretched"]["which"] == "equivalent diameter"
    assert "profile diameter: not known" in found.text()
    assert "change of diameter: +10.6 %" in found.text()  # (1800 / 1400)^0.4 = 1.1058


@pytest.mark.parametrize(("rpm", "on"), [(2200.0, False), (2201.0, True)])
def test_speed_above_rated_is_said_to_be_on_the_governor(rpm, on):
    notes = said(sized(rpm).notes)
    assert ("size-on-governor" in notes) is on
    if on:
        assert notes["size-on-governor"] == {"rated": pytest.approx(2200.0 * RPM)}


def test_limits_of_the_given_size_are_dropped_and_said_to_be():
    rated = converter(limits=ConverterLimits(input_torque=1000.0))
    assert "size-limits-dropped" in said(sized(1800.0, rated).notes)
    assert "size-limits-dropped" not in said(sized(1800.0).notes)


def test_size_that_matches_at_several_speeds_is_warned_of():
    # A converter for a stall in the torque hole: the engine hangs there, and from high idle it
    # would settle above the hole.
    made = hole_engine()
    unit = converter(capacity=converter().capacity * (60 / 47) ** 2)
    match = solve(made, unit)
    low = match.stall.engine_speed
    assert match.stall_from_high_idle.engine_speed > 1.1 * low
    found = size_for_speed(made, converter(), low)
    [note] = [n for n in found.notes if n.code == "size-several-intersections"]
    assert note.kind == "warning"
    assert "size-several-intersections" not in said(size_for_speed(engine(), unit, low).notes)


@pytest.mark.parametrize(
    ("rpm", "code", "values"),
    [
        (700.0, "speed-below-engine-data", {"speed": 700.0 * RPM, "low": 800.0 * RPM}),
        (2500.0, "speed-above-high-idle", {"speed": 2500.0 * RPM, "high": 2380.0 * RPM}),
        (2380.0, "no-torque-left",
         {"speed": 2380.0 * RPM, "rated": 2200.0 * RPM, "high": 2380.0 * RPM}),
    ],
)  # fmt: skip
def test_speed_that_no_size_gives_is_refused_with_the_speeds_that_the_engine_has(rpm, code, values):
    found = sized(rpm)
    assert found.reason.code == code
    assert dict(found.reason.values) == pytest.approx(values)
    assert (found.possible, found.capacity_factor, found.result) == (False, None, None)


def test_size_asked_for_is_said_with_its_speed_and_where():
    assert note_text(sized(1800.0).wanted, "si") == "1800 rpm at stall"
    at = sized(1800.0, speed_ratio=0.5)
    assert note_text(at.wanted, "si") == "1800 rpm at speed ratio 0.500"
    # Between 62.5 at 0.4 and 66 at 0.6 the capacity is the curve's own.
    shape = float(converter().capacity_at(0.5))
    assert at.capacity_factor == pytest.approx(900.0 / (1800.0 * RPM) ** 2 / shape)
    lower = size_for_efficiency(flat_engine(), converter(), 1800.0 * RPM, level=0.75)
    assert note_text(lower.wanted, "si") == "1800 rpm at the lower end of 75 % efficiency"
    assert dict(lower.wanted.values) == {"speed": 1800.0 * RPM, "end": "lower", "level": 0.75}


def test_pumps_and_site_take_from_the_size():
    # 300 of 900 N.m: capacity two thirds.
    assert sized(1800.0, hydraulic_torque=300.0).capacity_factor == pytest.approx(2.0 / 3.0)


def test_size_outside_the_diameters_asked_for_is_refused_with_their_ends():
    found = sized(1400.0)
    took = 0.345 * (1800.0 / 1400.0) ** 0.4
    kept = found.within((0.9, 1.2))
    assert kept is found
    refused = found.within((0.9, 1.05))
    assert refused.reason.code == "outside-diameter-range"
    assert dict(refused.reason.values) == pytest.approx(
        {"took": took, "low": 0.9 * 0.345, "high": 1.05 * 0.345}
    )
    assert found.within((found.diameter_ratio, 2.0)) is found


# --- the torque that is wanted --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rpm", "large"), [(1800.0, False), (1880.0, False), (1890.0, True), (1700.0, True)]
)
def test_torque_wanted_is_the_square_of_the_speed_over_that_of_the_stall(rpm, large):
    # 900 N.m at 1800 rpm; a tenth more is 1888 rpm, a tenth less 1708.
    found = torque_wanted(flat_engine(), converter(), rpm * RPM)
    factor = (rpm / 1800.0) ** 2
    assert found.torque_factor == pytest.approx(factor)
    assert found.torque_at_stall == pytest.approx(900.0 * factor)
    assert found.torque_change == pytest.approx(900.0 * (factor - 1.0), abs=1e-6)
    assert found.reached == pytest.approx(rpm * RPM)
    expected = {
        "torque-wanted": pytest.approx(
            {"speed": rpm * RPM, "needed": 900.0 * factor, "factor": factor}
        )
    }
    if large:
        expected["torque-factor-large"] = {}
    assert said(found.answer) == expected
    assert found.holes == ()
    assert found.to_dict()["words"] == " ".join(note_text(n, "si") for n in found.answer)


def test_torque_hole_is_said_with_its_ends_and_where_the_engine_stops():
    made = hole_engine()
    unit = converter(capacity=converter().capacity * (60 / 47) ** 2)
    match = solve(made, unit)
    found = torque_wanted(made, unit, match.stall_from_high_idle.engine_speed)
    [hole] = found.holes
    said_of_it = note_text(found.answer[-1], "si")
    low, high, deepest, reached = (
        round(speed / RPM)
        for speed in (hole.low, hole.high, hole.deepest_at, match.stall.engine_speed)
    )
    assert said_of_it.startswith(
        f"But from idle the engine stops at {reached} rpm: between {low} rpm and {high} rpm it is "
        f"short of torque, by {hole.missing_torque:.0f} N·m at {deepest} rpm."
    )
    assert found.reached == pytest.approx(match.stall.engine_speed)


def test_engine_that_lacks_torque_at_idle_is_said_not_to_leave_it():
    # At 1800 rpm the converter wants (1800 / 60)^2 = 900 of 1000 N.m: nine tenths of the curve. At
    # idle it wants (700 / 60)^2 = 136 N.m of 90 then.
    weak = engine(
        low_idle=700 * RPM, speed=[700 * RPM, 1000 * RPM, 1400 * RPM, 1800 * RPM, 2200 * RPM],
        torque=[100, 150, 900, 1000, 850], accessories=(),
    )  # fmt: skip
    found = torque_wanted(weak, converter(), 1800 * RPM)
    assert found.torque_factor == pytest.approx(0.9)
    assert found.reached is None
    assert found.to_dict()["stall_speed_with_factor_rpm"] is None
    assert "But from idle the engine cannot accelerate from idle: between 700 rpm" in note_text(
        found.answer[-1], "si"
    )
    assert found.holes[0].low == pytest.approx(700 * RPM)
    missing = (found.holes[0].deepest_at / RPM / 60) ** 2 - 0.9 * float(
        weak.full_load(found.holes[0].deepest_at)
    )
    assert found.holes[0].missing_torque == pytest.approx(missing)
