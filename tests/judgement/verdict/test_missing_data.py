"""What lies outside the data is not known, whatever the rows that are there lead to.

The studies are the shipped ones with rows taken out of their components: a sheet that a dealer sent
in part. The component files are invented demo data.
"""

from __future__ import annotations

import functools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.components.converter import Converter, ConverterLimits
from converter_match.components.engine import Engine, Fuel, SpeedTable
from converter_match.components.torque_peak import speeds_near_peak
from converter_match.judgement.uncertainty.uncertainty import uncertainty
from converter_match.judgement.verdict.assessment import Assessment, assess
from converter_match.judgement.verdict.measure import Verdict
from converter_match.judgement.verdict.outcome import outcome
from converter_match.judgement.verdict.reach import gaps
from converter_match.library.study_file import read_study
from converter_match.study.criteria import CATALOGUE
from converter_match.study.study import Combination, Study, Tolerance
from tests.examples import RPM, engine, hole_engine, with_row
from tests.properties.depth import depth
from tests.study_examples import combination, flat_engine, loose, study

CALM = "quarry-loader-repower"


@functools.cache
def shipped(name: str = CALM) -> Study:
    """The shipped study in its first condition, one candidate."""
    whole = read_study(name)
    duty = whole.duty.replace(hydraulic_torque=0.0)
    return whole.replace(
        sites=whole.sites[:1], duty=duty, candidates=whole.candidates[:1], claims=(), tolerances=()
    )


def without_rows(part: Converter, keep: np.ndarray) -> Converter:
    """The converter with some rows only; its coupling point is told where they reach it."""
    reaches = part.coupling_speed_ratio is not None and (
        part.speed_ratio[keep].max() >= part.coupling_speed_ratio
    )
    return part.replace(
        speed_ratio=part.speed_ratio[keep],
        torque_ratio=part.torque_ratio[keep],
        capacity=part.capacity[keep],
        coupling_speed_ratio=part.coupling_speed_ratio if reaches else None,
    )


def sheet_to(part: Converter, end: float) -> Converter:
    return without_rows(part, part.speed_ratio <= end)


def engine_without(part: Engine, low: float, high: float) -> Engine:
    """The engine without rows between two speeds [rpm]."""
    keep = (part.speed <= low * RPM * 1.0001) | (part.speed >= high * RPM * 0.9999)
    return part.replace(speed=part.speed[keep], torque=part.torque[keep])


def judged(
    base: Study, own: Combination | None = None, present: Combination | None = None
) -> Assessment:
    """Judge the first candidate, with parts of it or of the present machine in place of theirs."""
    own, present = own or base.candidates[0], present or base.present
    assert present is not None
    whole = base.replace(candidates=(own,), present=present)
    condition = whole.conditions[0]
    reference, result = (outcome(item, condition, whole.duty) for item in (present, own))
    return assess(whole, (result,), (reference,))


def verdicts(assessment: Assessment) -> dict[str, Verdict]:
    return {item.choice.name: item.verdict for item in assessment.findings}


@pytest.mark.slow
def test_sheets_that_end_before_the_coupling_point_leave_the_match_not_known():
    base = shipped()
    own, present = base.candidates[0], base.present
    short = sheet_to(own.converter, 0.6)
    found = judged(base, own.replace(converter=short), present.replace(converter=short))
    assert found.verdict is Verdict.NOT_KNOWN
    said = "characteristic of the converter 'single-stage-345mm-tight' from speed ratio 0.60 to the"
    assert any(what.startswith(said) for what in found.missing)
    # All that needs the locus beyond stall; what stall, idle and high idle settle stays known.
    known = verdicts(found)
    for name in (
        "single-stable-match", "tractive-effort-kept", "top-speed-kept", "oil-temperature",
        "route-time-kept",
    ):  # fmt: skip
        assert known[name] is Verdict.NOT_KNOWN, name
    # The power that is absorbed at 0.6 with 82 % is nearly all there is: more rows can add to it.
    for name in (
        "stall-speed-window", "grade-start-kept", "turbine-stall-torque", "rated-power-usable",
    ):  # fmt: skip
        assert known[name] is Verdict.PASS, name


@pytest.mark.slow
def test_converter_limits_are_kept_where_no_torque_of_the_engine_could_break_them():
    # The engine gives 1004 N.m and 185 kW at most, gross; the converter takes 1230 N.m and 275 kW.
    base = shipped()
    own = base.candidates[0]
    short = sheet_to(own.converter, 0.6)
    names = ("converter-input-torque", "converter-input-power")
    known = verdicts(judged(base, own.replace(converter=short)))
    assert [known[name] for name in names] == [Verdict.PASS] * 2
    # With limits between what the short sheet shows and what the engine has, nobody knows.
    edge = short.replace(limits=ConverterLimits(input_torque=2000.0, input_power=147e3))
    whole = own.converter.replace(limits=edge.limits)
    assert verdicts(judged(base, own.replace(converter=whole)))[names[1]] is Verdict.FAIL
    assert verdicts(judged(base, own.replace(converter=edge)))[names[1]] is Verdict.NOT_KNOWN


@pytest.mark.slow
def test_candidate_whose_sheet_ends_at_0_8_is_not_failed_for_it():
    base = shipped()
    own = base.candidates[0]
    found = judged(base, own.replace(converter=sheet_to(own.converter, 0.8)))
    effort = found.finding("tractive-effort-kept")
    assert effort.verdict is Verdict.NOT_KNOWN
    assert "from speed ratio 0.80 to the coupling point" in effort.words()
    assert "0.0 %" not in effort.words()
    assert not found.failed_musts


@pytest.mark.slow
def test_engine_without_rows_from_idle_to_the_torque_peak_is_not_known_to_come_up():
    base = shipped()
    own = base.candidates[0]
    bare = engine_without(own.engine, 800, 1500)
    found = judged(base, own.replace(engine=bare))
    match = found.finding("single-stable-match")
    assert match.verdict is Verdict.NOT_KNOWN
    said = "full-load torque of the engine 'six-cylinder-7l-185kw' from 800 .. 1500 rpm"
    assert match.missing == (said,)
    assert found.verdict is Verdict.NOT_KNOWN
    # By the rows it stalls at 1739 rpm, if nothing holds it back before.
    known = verdicts(found)
    for name in ("tractive-effort-kept", "route-time-kept", "stall-speed-window"):
        assert known[name] is Verdict.NOT_KNOWN, name
    for name in ("converter-input-speed", "governed-overspeed"):
        assert known[name] is Verdict.PASS, name
    assert found.missing.count(said) == 1


@pytest.mark.slow
def test_engine_without_rows_where_it_stalls_leaves_the_stall_not_known():
    base = shipped()
    own = base.candidates[0]
    bare = engine_without(own.engine, 1500, 2000)
    known = verdicts(judged(base, own.replace(engine=bare)))
    for name in (
        "stall-speed-window", "grade-start-kept", "turbine-stall-torque", "tractive-effort-kept",
        "speed-on-grades-kept", "continuous-heat", "converter-input-torque", "rated-power-usable",
    ):  # fmt: skip
        assert known[name] is Verdict.NOT_KNOWN, name


@pytest.mark.slow
def test_engine_whose_rows_begin_above_low_idle_is_not_known_to_leave_it():
    base = shipped()
    own = base.candidates[0]
    bare = own.engine.replace(speed=own.engine.speed[2:], torque=own.engine.torque[2:])
    known = judged(base, own.replace(engine=bare))
    missing = ("full-load torque of the engine 'six-cylinder-7l-185kw' from 800 .. 1000 rpm",)
    for name in ("single-stable-match", "idle-creep"):
        assert known.finding(name).missing == missing, name


@pytest.mark.slow
def test_converter_without_rows_in_the_middle_names_the_range():
    base = shipped()
    own = base.candidates[0]
    nu = own.converter.speed_ratio
    holed = without_rows(own.converter, (nu <= 0.3) | (nu >= 0.7))
    found = judged(base, own.replace(converter=holed))
    assert verdicts(found)["single-stable-match"] is Verdict.NOT_KNOWN
    assert "from speed ratio 0.30 to 0.70" in found.missing[0]


@pytest.mark.slow
def test_converter_without_rows_about_stall_leaves_the_stall_not_known():
    base = shipped("hauler-converter")
    own = base.candidates[0]  # its sheet goes down to speed ratio -0.6
    nu = own.converter.speed_ratio
    known = verdicts(
        judged(base, own.replace(converter=without_rows(own.converter, (nu < 0.0) | (nu > 0.1))))
    )
    assert own.converter.domain[0] < 0.0
    for name in ("stall-speed-window", "grade-start-kept", "turbine-stall-torque", "idle-creep"):
        assert known[name] is Verdict.NOT_KNOWN, name


def test_motoring_table_that_ends_below_rated_speed_is_not_held_on_to_it():
    speed = np.array([800, 1200, 1600]) * RPM
    table = SpeedTable(speed=speed, value=[60.0, 80.0, 95.0], name="motoring torque")
    own = combination(engine=flat_engine(motoring=table))
    found = judged(study(), own).finding("engine-braking-kept")
    assert found.verdict is Verdict.NOT_KNOWN
    assert found.missing == ("motoring torque of the engine 'test-engine' from 1600 .. 2200 rpm",)


@pytest.mark.slow
def test_fuel_sheet_that_ends_below_rated_speed_is_not_held_on_to_it():
    base = shipped("hauler-converter")
    own = base.candidates[0]
    fuel = own.engine.fuel
    table = SpeedTable(speed=fuel.specific.speed[:-3], value=fuel.specific.value[:-3], name="bsfc")
    short = own.engine.replace(
        fuel=Fuel(specific=table, idle_rate=fuel.idle_rate,
                  lower_heating_value=fuel.lower_heating_value, density=fuel.density)
    )  # fmt: skip
    found = judged(base, own.replace(engine=short))
    assert found.finding("fuel-kept").verdict is Verdict.NOT_KNOWN
    assert "specific fuel consumption of the engine" in found.finding("fuel-kept").missing[0]
    assert found.finding("route-time-kept").verdict is Verdict.PASS


def test_engine_without_a_stall_match_is_told_once_and_breaks_no_limit():
    # (800 / 20)^2 = 1600 N.m at idle; the engine has 900, and the converter takes 700.
    limits = ConverterLimits(input_torque=700.0, input_power=1e3)
    found = judged(study(), combination(converter=loose(20.0, limits=limits)))
    assert [item.choice.name for item in found.failed_musts] == ["single-stable-match"]
    for name in ("converter-input-torque", "converter-input-power", "stall-speed-window"):
        item = found.finding(name)
        assert item.verdict is Verdict.NOT_KNOWN, name
        assert "no match" in item.words()
        assert "limit" not in item.words()
        assert not item.missing  # there is no datum to look for


def test_speed_that_no_gear_can_have_fails_whatever_the_sheet_leaves_open():
    # High idle at speed ratio 1 is 1200 / 2380 of the present one in every gear.
    slow = flat_engine().replace(
        low_idle=500 * RPM, rated_speed=1100 * RPM, high_idle=1200 * RPM,
        speed=np.arange(500, 1101, 100) * RPM, torque=[900.0] * 7,
    )  # fmt: skip
    known = verdicts(judged(study(), combination(engine=slow, converter=loose(40.0))))
    assert known["top-speed-kept"] is Verdict.FAIL
    assert known["tractive-effort-kept"] is Verdict.FAIL


@pytest.mark.parametrize(
    ("rows", "wanted"),
    [
        ([800, 1000, 1200, 1400, 1700, 1900, 2200], [(1400, 1700), (1900, 2200)]),  # 21 %
        ([800, 1080, 1360, 1640, 1920, 2200], []),  # 280 of 1400 rpm is 20 %
        ([860, 1080, 1360, 1640, 1920, 2200], []),  # 60 of 1400 is less than 5 %
        ([900, 1080, 1360, 1640, 1920, 2200], [(800, 900)]),
        ([600, 700, 1360, 1640, 1920, 2200], [(700, 1360)]),
        ([800, 1080, 1360, 1640, 1920, 2300], [(1920, 2300)]),
        ([800, 1080, 1360, 1640, 1920, 2000], [(2000, 2200)]),
    ],
)
def test_rows_far_apart_leave_a_gap(rows, wanted):
    found = gaps(np.array(rows) * RPM, 800 * RPM, 2200 * RPM)
    assert [(round(low / RPM), round(high / RPM)) for low, high in found] == wanted


# --- a level torque ------------------------------------------------------------------------------


def test_last_digit_of_one_row_does_not_move_the_stall_window():
    # 1000 N.m from 1200 .. 1600 rpm, and one row a hundredth of a newton metre higher.
    speed = np.arange(800, 2201, 200) * RPM
    torque = np.array([700, 900, 1000, 1000, 1000, 950, 880, 800.0])
    least = []
    for row in (2, 4):
        raised = torque.copy()
        raised[row] += 0.01
        item = flat_engine().replace(speed=speed, torque=raised)
        assert item.peak_torque[0] == pytest.approx(speed[row])
        found = judged(study(), combination(engine=item)).finding("stall-speed-window")
        least.append(found.worst.measure.least)
    assert least[0] == pytest.approx(least[1], rel=1e-4)
    # Torque is 99 % of its peak between the rows at 1000 and 1200 rpm.
    assert 0.95 * 1000 * RPM < least[0] < 0.95 * 1200 * RPM


def test_range_about_the_peak_is_where_the_curve_passes_99_percent():
    low, high = speeds_near_peak(engine())
    curve = engine().full_load
    peak = engine().peak_torque[1]
    assert curve([low, high]) == pytest.approx([0.99 * peak] * 2, rel=1e-9)
    grid = np.linspace(800, 2200, 5001) * RPM
    near = grid[curve(grid) >= 0.99 * peak]
    assert (near[0], near[-1]) == pytest.approx((low, high), abs=0.3 * RPM)


# --- a near tangent ------------------------------------------------------------------------------


def near_tangent(k: float = 49.4) -> Combination:
    """A converter whose capacity nearly touches the engine's in the hole of its torque."""
    return combination(engine=with_row(hole_engine(), 2000), converter=loose(k))


@pytest.mark.slow
def test_near_tangent_pair_is_marginal_and_says_what_would_make_it_jump():
    found = judged(study(), near_tangent()).finding("single-stable-match")
    assert found.verdict is Verdict.MARGINAL
    measure = found.worst.measure
    assert 0.0 < measure.reserve == measure.value < 0.03
    values = dict(measure.said.values)
    assert measure.said.code == "one-match-jumps"
    # As much less torque, and the engine is there; a little less of a change, and it is not.
    own = outcome(near_tangent(), study().conditions[0], study().duty)
    for share, jumps in ((0.999, False), (1.001, True)):
        lost = 1.0 - share * values["torque"]
        weaker = near_tangent().engine
        weaker = weaker.replace(torque=weaker.torque * lost)
        after = outcome(
            near_tangent().replace(engine=weaker), study().conditions[0], study().duty
        ).match.stall.engine_speed
        near = values["speed"] if jumps else own.match.stall.engine_speed
        assert after == pytest.approx(near, rel=0.03)
    assert values["speed"] < 0.85 * own.match.stall.engine_speed


def test_margin_of_the_match_is_a_threshold_of_the_study():
    choices = tuple(
        CATALOGUE[name].choice(margin=0.001) if name == "single-stable-match" else spec.choice()
        for name, spec in CATALOGUE.items()
    )
    found = judged(study(criteria=choices), near_tangent()).finding("single-stable-match")
    assert found.verdict is Verdict.PASS


@pytest.mark.slow
def test_match_that_is_near_a_tangent_holds_in_some_of_the_draws_only():
    torque = Tolerance(quantity="engine-torque", half_width=0.03)
    result = uncertainty(
        study(near_tangent(), tolerances=(torque,)), draws=2000, sensitivities=False
    )
    # Uniform within 3 %: it jumps below the margin, a share of (3 % - margin) / 6 %. The stall is
    # lost to the hole there, and there are three matches, or one in the hole.
    margin = judged(study(), near_tangent()).finding("single-stable-match").worst.measure.value
    assert result.probability("new", "single-stable-match") == pytest.approx(
        1.0 - (0.03 - margin) / 0.06, abs=0.02
    )


@pytest.mark.slow
def test_draws_without_a_match_are_not_known_to_break_a_limit():
    # (800 / 26.2)^2 = 932 N.m at idle against 900 N.m within 10 %: about a third has a match.
    limits = ConverterLimits(input_torque=2000.0)
    own = combination(converter=loose(26.2, limits=limits))
    torque = Tolerance(quantity="engine-torque", half_width=0.10)
    result = uncertainty(study(own, tolerances=(torque,)), draws=2000, sensitivities=False)
    [row] = [item for item in result.of("new").criteria if item.name == "converter-input-torque"]
    wanted = ((800 / 26.2) ** 2 / 900.0 - 0.9) / 0.2
    assert row.no_match == pytest.approx(wanted, abs=0.02)
    # The limit is broken in none of the draws that have a match.
    assert row.probability == 1.0
    assert result.probability("new", "single-stable-match") == pytest.approx(1.0 - wanted, abs=0.02)


@pytest.mark.slow
def test_draws_that_run_off_the_sheet_are_not_known_to_fail():
    # The sheet ends at the coupling point, inside the working range. With K = 70.4 there a flat
    # torque of 900 N.m runs at 70.4 sqrt(900) = 2112 rpm and takes up 96 % of the power at 2200;
    # with less than (0.95 / 0.96)^2 of the torque it is less than 95 %, by the rows there are.
    base = loose(60.0 * 70.4 / 82.0)
    own = combination(converter=sheet_to(base, 0.86))
    torque = Tolerance(quantity="engine-torque", half_width=0.10)
    result = uncertainty(study(own, tolerances=(torque,)), draws=2000, sensitivities=False)
    [row] = [item for item in result.of("new").criteria if item.name == "rated-power-usable"]
    off = ((0.95 / 0.96) ** 2 - 0.9) / 0.2
    assert row.unknown == pytest.approx(off, abs=0.02)
    assert row.probability == pytest.approx(1.0 - off, abs=0.02)
    assert any(note.code == "draws-off-the-data" for note in result.of("new").block().below)


# --- taking rows away ----------------------------------------------------------------------------


def spoilt() -> tuple[Combination, Study]:
    """A candidate that fails or leaves open much, by its rows: the shipped late-boost engine."""
    whole = read_study(CALM)
    base = shipped()
    late = next(item for item in whole.candidates if item.id == "late-boost")
    return late, base.replace(candidates=(late,))


@functools.cache
def before(which: str) -> dict[str, Verdict]:
    return verdicts(judged(*reversed(cases()[which])))


@functools.cache
def cases() -> dict[str, tuple[Combination, Study]]:
    late, base = spoilt()
    calm = shipped()
    hauler = read_study("hauler-converter").candidates[1]
    return {
        "late": (late, base),
        "calm": (calm.candidates[0], calm),
        "hauler": (hauler, shipped("hauler-converter")),
    }


@pytest.mark.slow
@depth(40, 400)
@given(
    which=st.sampled_from(["late", "calm", "hauler"]),
    engine_rows=st.tuples(st.integers(0, 12), st.integers(0, 12)),
    sheet=st.tuples(st.integers(0, 12), st.integers(0, 12)),
    of_present=st.booleans(),
)
def test_rows_taken_away_never_make_a_pass(which, engine_rows, sheet, of_present):
    """Whole stretches are taken away, as a sheet that was sent in part lacks them."""
    own, base = cases()[which]
    own = base.present if of_present else own
    speed, nu = own.engine.speed, own.converter.speed_ratio
    first, last = sorted(engine_rows)
    keep = np.ones(speed.size, dtype=bool)
    keep[first:last] = False
    keep[-1] = True  # an engine without its rated speed is refused
    if keep.sum() < 2:
        return
    lost = own.engine.replace(speed=speed[keep], torque=own.engine.torque[keep])
    first, last = sorted(sheet)
    keep = np.ones(nu.size, dtype=bool)
    keep[max(first, 1) : last] = False
    if keep.sum() < 3 or lost.speed[0] >= own.engine.rated_speed:
        return
    if not nu[keep].min() <= 0.0 <= nu[keep].max():
        return  # refused: the sheet has to include stall
    if own.converter.coupling_speed_ratio not in own.converter.speed_ratio[keep]:
        keep &= nu < own.converter.coupling_speed_ratio  # the sheet ends before it
    if keep.sum() < 2 or nu[keep].max() <= 0.0:
        return
    spoilt_one = own.replace(engine=lost, converter=without_rows(own.converter, keep))
    pair = (cases()[which][0], spoilt_one) if of_present else (spoilt_one, None)
    found = verdicts(judged(base, *pair))
    for name, verdict in before(which).items():
        if verdict in (Verdict.FAIL, Verdict.NOT_KNOWN):
            assert found[name] in (Verdict.FAIL, Verdict.NOT_KNOWN), name
