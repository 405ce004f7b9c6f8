"""Audit: planted assumptions are found, noise is not explained, gaps are named."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.components.driveline import Stage
from converter_match.components.site import Site
from converter_match.components.tyre import Tyre
from converter_match.errors import InputError
from converter_match.judgement.audit.alternatives import alternatives
from converter_match.judgement.audit.audit import CHANCE, audit, audit_study, covered, sharpness
from converter_match.judgement.audit.case import Case, Missing, figure
from converter_match.judgement.match.solve import solve
from converter_match.judgement.wheels.tractive import tractive
from converter_match.study.study import CLAIM_DIMENSIONS, Claim, Combination, Study
from tests.examples import RPM, converter, engine
from tests.machines import driveline, machine, surface

SISTER = converter(
    id="sister", torque_ratio=1 + (np.array(converter().torque_ratio) - 1) * 1.7 / 1.2
)
CASE = Case(
    engine=engine(),
    converter=converter(),
    driveline=driveline(
        stages=(Stage(name="transfer", ratio=1.3, efficiency=0.98),
                Stage(name="axle", ratio=15.0, efficiency=0.96))
    ),
    machine=machine(running_gear=Tyre.from_size("23.5R25")),
    surface=surface(),
    site=Site(id="high", name="high", source="test", altitude=2000.0, air_temperature=303.0),
    hydraulic_torque=90.0,
)  # fmt: skip


def claim(quantity, value, **details):
    fields = {"given": f"{value!r}", "combination": "a", "tolerance": 0.005}
    return Claim(quantity=quantity, value=value, **(fields | details))


def one(quantity, value, case=CASE, **details):
    [found] = audit([(claim(quantity, value, **details), case)], [SISTER]).claims
    return found


# --- our figures are those of the other rooms ----------------------------------------------------


def test_figures_are_those_of_the_match():
    result = solve(CASE.engine, CASE.converter, site=CASE.site, hydraulic_torque=90.0)
    ours = {name: None for name in CLAIM_DIMENSIONS}
    for name in ours:
        if name not in ("tractive-effort", "steepest-grade", "speed-on-grade", "top-speed"):
            ours[name] = figure(CASE, claim(name, 1.0))
    assert ours["stall-speed"] == pytest.approx(result.stall.engine_speed, rel=1e-12)
    assert ours["stall-heat"] == pytest.approx(result.stall.heat, rel=1e-12)
    assert ours["stall-turbine-torque"] == pytest.approx(result.stall.turbine_torque, rel=1e-12)
    assert ours["stall-input-torque"] == pytest.approx(result.stall.input_torque, rel=1e-12)
    assert ours["coupling-turbine-speed"] == pytest.approx(result.coupling.turbine_speed, rel=1e-12)
    assert ours["stall-torque-ratio"] == 2.2
    assert ours["stall-k-factor"] == pytest.approx(60 * RPM, rel=1e-12)
    assert ours["best-efficiency"] == pytest.approx(result.best_efficiency.efficiency, rel=1e-12)


def test_figures_are_those_at_the_wheels():
    result = tractive(
        solve(CASE.engine, CASE.converter, site=CASE.site, hydraulic_torque=90.0),
        CASE.driveline, CASE.machine, CASE.surface, grades=[0.0, 0.05],
    )  # fmt: skip
    first = next(row for row in result.gears if row.gear == "1")
    assert figure(CASE, claim("tractive-effort", 1.0, gear="1")) == pytest.approx(
        first.stall_effort, rel=1e-12
    )
    assert figure(CASE, claim("top-speed", 1.0)) == pytest.approx(result.top_speed.speed, rel=1e-9)
    assert figure(CASE, claim("speed-on-grade", 1.0, grade=0.05)) == pytest.approx(
        result.grades[1].speed, rel=1e-9
    )
    assert figure(CASE, claim("steepest-grade", 1.0)) == pytest.approx(
        result.steepest_start.steepest_start, rel=1e-12
    )


# --- verdicts ------------------------------------------------------------------------------------


@given(off=st.floats(-0.3, 0.3), tolerance=st.floats(0.001, 0.1))
def test_a_claim_agrees_inside_its_tolerance_and_only_there(off, tolerance):
    case = Case(engine=CASE.engine, converter=CASE.converter)
    ours = figure(case, claim("stall-torque-ratio", 1.0))
    [found] = audit(
        [(claim("stall-torque-ratio", ours * (1 + off), tolerance=tolerance), case)]
    ).claims
    if abs(abs(off) - tolerance) > 1e-6:
        assert (found.verdict == "agrees") == (abs(off) < tolerance)


@pytest.mark.parametrize(
    ("quantity", "without", "datum"),
    [
        ("tractive-effort", {"driveline": None}, "driveline file"),
        ("top-speed", {"machine": None}, "machine file"),
        ("steepest-grade", {"surface": None}, "surface"),
        ("speed-on-grade", {}, "the grade"),
    ],
)
def test_what_cannot_be_checked_names_the_datum(quantity, without, datum):
    found = one(quantity, 1.0, replace(CASE, **without))
    assert found.verdict == "cannot be checked"
    assert datum in found.missing
    assert datum in found.words()
    assert found.to_dict()["ours"] is None


def test_a_coupling_point_that_is_not_in_the_data_cannot_be_checked():
    full = converter()
    short = converter(
        speed_ratio=full.speed_ratio[:5], torque_ratio=full.torque_ratio[:5],
        capacity=full.capacity[:5], coupling_speed_ratio=None,
    )  # fmt: skip
    found = one("coupling-engine-speed", 150.0, Case(engine=engine(), converter=short))
    assert found.verdict == "cannot be checked"
    assert "coupling point" in found.missing


def test_a_gear_that_is_not_there_is_named():
    found = one("tractive-effort", 1e5, gear="9")
    assert "no such gear" in found.missing


@pytest.mark.parametrize("value", [0.0, -3.0, math.nan])
def test_a_claim_that_is_not_above_zero_is_refused(value):
    with pytest.raises(InputError, match="number above zero"):
        one("stall-speed", value)


def test_an_unknown_claim_and_a_tolerance_below_zero_are_refused():
    with pytest.raises(InputError, match="stall-speed"):
        claim("stall-sped", 1.0)
    with pytest.raises(InputError, match="cannot be below zero"):
        claim("stall-speed", 1.0, tolerance=-0.01)


# --- planted -------------------------------------------------------------------------------------

# What each alternative shows in: a claim that it changes and by which it can be told.
SHOWS = {
    "gross-torque": "stall-input-torque",
    "pumps-left-out": "stall-input-torque",
    "accessories-left-out": "stall-input-torque",
    "no-site-correction": "stall-input-torque",
    "k-unit-lbf-ft": "stall-k-factor",
    "k-unit-n-m": "stall-k-factor",
    "mechanical-efficiency-left-out": "tractive-effort",
    "stage-missing-transfer": "tractive-effort",
    "stage-missing-axle": "tractive-effort",
    "free-tyre-radius": "tractive-effort",
    "empty-machine": "speed-on-grade",
    "grip-left-out": "steepest-grade",
    "sister-sister": "stall-torque-ratio",
    **{
        f"reference-speed-{a}-as-{b}": "stall-k-factor"
        for a in (1000, 1700, 2000) for b in (1000, 1700, 2000) if a != b
    },
}  # fmt: skip


def test_every_alternative_is_planted():
    assert {item.name for item in alternatives(CASE, [SISTER])} == set(SHOWS)


@pytest.mark.parametrize("name", list(SHOWS))
def test_a_planted_alternative_is_found_and_told_as_the_story(name):
    details = {"grade": 0.08} if SHOWS[name] == "speed-on-grade" else {}
    planted = next(item for item in alternatives(CASE, [SISTER]) if item.name == name)
    value = figure(planted.case, claim(SHOWS[name], 1.0, **details))
    found = one(SHOWS[name], value, **details)
    assert found.verdict == "disagrees"
    assert found.story.alternatives == (name,)
    assert found.story.value == pytest.approx(value, rel=1e-9)
    assert found.story.chance <= CHANCE
    assert "reproduced by" in found.words()


@pytest.mark.parametrize(
    ("quantity", "pair"),
    [
        ("stall-input-torque", ("gross-torque", "no-site-correction")),
        ("stall-speed", ("k-unit-n-m", "no-site-correction")),
        ("stall-turbine-torque", ("gross-torque", "sister-sister")),
        ("tractive-effort", ("free-tyre-radius", "mechanical-efficiency-left-out")),
        ("tractive-effort", ("mechanical-efficiency-left-out", "stage-missing-transfer")),
    ],
)
def test_a_planted_pair_is_found(quantity, pair):
    by_name = {item.name: item for item in alternatives(CASE, [SISTER])}
    both = by_name[pair[1]].on(by_name[pair[0]])
    value = figure(both, claim(quantity, 1.0))
    found = one(quantity, value)
    best = found.explanations[0]
    assert set(best.alternatives) == set(pair)
    assert best.value == pytest.approx(value, rel=1e-12)
    assert best.convincing  # to the last digit: hardly chance


def test_two_that_exclude_each_other_are_no_pair():
    by_name = {item.name: item for item in alternatives(CASE, [SISTER])}
    assert by_name["k-unit-n-m"].on(by_name["reference-speed-1000-as-1700"]) is None
    assert by_name["gross-torque"].on(by_name["accessories-left-out"]) is None


def test_a_net_rated_engine_has_a_typical_gross_torque():
    net = replace(CASE, engine=engine(rating_basis="net", accessories=()), hydraulic_torque=0.0)
    value = figure(net, claim("stall-input-torque", 1.0))
    gross = next(item for item in alternatives(net) if item.name == "gross-torque")
    assert figure(gross.case, claim("stall-input-torque", 1.0)) > value
    assert "common practice" in gross.words


# --- noise ---------------------------------------------------------------------------------------


def test_noise_is_seldom_explained():
    # The chance of a story is what it says, for claims spread as the definition has them.
    rng = np.random.default_rng(7)
    ours = figure(CASE, claim("stall-speed", 1.0))
    told = 0
    for factor in np.exp(rng.uniform(-math.log(2), math.log(2), 24)):
        value = ours * factor
        found = one("stall-speed", value, given=f"{value / RPM:.0f} rpm", tolerance=0.01)
        told += found.story is not None
    assert told <= 0.2 * 24


def test_a_value_that_nothing_gives_has_no_story():
    ours = figure(CASE, claim("stall-torque-ratio", 1.0))
    found = one("stall-torque-ratio", 1.23 * ours)  # the sister has 2.7 / 2.2 = 1.227
    assert found.verdict == "disagrees"
    assert one("stall-torque-ratio", 1.35 * ours).explanations == ()
    assert "none of" in one("stall-torque-ratio", 1.35 * ours).words()


def test_an_alternative_that_does_not_touch_the_figure_is_no_try():
    found = one("stall-torque-ratio", 3.0)
    assert found.tried == 1  # the sister alone changes a torque ratio


def test_claims_that_agree_are_not_explained():
    found = one("stall-torque-ratio", 2.2)
    assert (found.verdict, found.explanations, found.tried) == ("agrees", (), 0)


@given(values=st.lists(st.floats(0.6, 1.8), min_size=1, max_size=30), off=st.floats(1e-4, 0.1))
def test_the_share_covered_is_that_of_arbitrary_claims(values, off):
    grid = np.linspace(math.log(0.45), math.log(2.2), 40_001)
    near = np.min(np.abs(grid[:, np.newaxis] - np.log(values)), axis=1) <= off
    measured = float(near.mean() * (grid[-1] - grid[0]) / math.log(4))
    assert covered(values, off) == pytest.approx(min(measured, 1.0), abs=2e-3)


@pytest.mark.parametrize(
    ("given", "half"),
    [("2150 rpm", 5 / 2150), ("2.20", 0.005 / 2.2), ("38 km/h", 0.005), ("412.5 kW", 0.05 / 412.5),
     ("2000 rpm", 0.005), ("roughly", 1e-4)],
)  # fmt: skip
def test_sharpness_is_half_the_last_printed_digit(given, half):
    assert sharpness(claim("stall-speed", 1.0, given=given)) == pytest.approx(half)


# --- a study -------------------------------------------------------------------------------------


def study(**changes):
    item = Combination(id="new", name="New", engine=engine(), converter=converter())
    return Study(id="s", name="S", source="test", candidates=(item,), **changes)


def test_the_claims_of_a_study_are_audited_with_its_parts():
    mine = claim("stall-torque-ratio", 2.2, combination="new")
    result = audit_study(study(claims=(mine,)))
    assert not result.fails
    assert "1 agrees" in result.text()
    assert result.to_dict()["claims"][0]["verdict"] == "agrees"


def test_a_study_without_claims_is_refused():
    with pytest.raises(InputError, match="gives no claims"):
        audit_study(study())


def test_missing_is_what_a_figure_raises():
    with pytest.raises(Missing, match="driveline"):
        figure(Case(engine=engine(), converter=converter()), claim("top-speed", 1.0))
