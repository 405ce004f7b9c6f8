"""Implement pumps by the table of an arrangement, as conditions of a study.

Engines of the same torque T at every speed: at stall ``T - T_pump = C(0) omega^2``, a square root.
"""

from __future__ import annotations

import numpy as np
import pytest

from converter_match.components.arrangement import Arrangement, HydraulicSharing
from converter_match.components.engine import Accessory, SpeedTable
from converter_match.errors import InputError
from converter_match.judgement.decision.run import run_study
from converter_match.judgement.uncertainty.uncertainty import uncertainty
from converter_match.judgement.verdict.outcome import outcome
from converter_match.study.criteria import CATALOGUE, spec_of
from converter_match.study.study import PRESENT, Duty, Tolerance
from tests.examples import RPM, converter
from tests.machines import surface
from tests.study_examples import combination, flat_engine, study

TORQUE = 900.0
PUMPS = {"standby": 20.0, "partial": 160.0, "relief": 300.0}


def pumps(**states):
    speed = np.array([800, 2400]) * RPM
    tables = {
        state: SpeedTable(speed=speed, value=[torque] * 2, name=state)
        for state, torque in (states or PUMPS).items()
    }
    return Arrangement(
        id="pumps",
        name="Pumps",
        source="round numbers for a test",
        hydraulic_sharing=HydraulicSharing(**tables),
    )


def stall_by_hand(pump_torque):
    capacity = float(converter().capacity_at(0.0))
    return np.sqrt((TORQUE - pump_torque) / capacity)


def duty(torque=0.0):
    return Duty(
        surface=surface(), grades=(0.0, 0.1), continuous_grade=0.05, hydraulic_torque=torque
    )


def mixed(torque=0.0, **changes):
    """The present machine with pump tables, the new one without."""
    return study(present=combination(PRESENT, arrangement=pumps()), duty=duty(torque), **changes)


def test_each_state_that_a_table_gives_is_a_condition():
    made = mixed()
    assert [item.pumps for item in made.conditions] == ["standby", "working", "relief"]
    assert [item.name for item in made.conditions] == [
        "reference air, pumps at standby",
        "reference air, implement working",
        "reference air, pumps at relief",
    ]


def test_without_tables_the_conditions_are_those_of_the_duty():
    names = [item.name for item in study(duty=duty(160.0)).conditions]
    assert names == ["reference air", "reference air, implement working"]
    assert [item.pumps for item in study().conditions] == ["standby"]


def test_table_is_taken_from_the_engine_in_each_state():
    made = mixed()
    for condition, torque in zip(made.conditions, PUMPS.values(), strict=True):
        result = outcome(made.present, condition, made.duty)
        speed = result.match.stall.engine_speed
        assert speed == pytest.approx(stall_by_hand(torque), rel=1e-9)
        assert result.pumps.source == "arrangement"
        # What the wheels get follows from the same engine.
        assert result.tractive.match.supply is result.match.supply


def test_block_of_the_pumps_in_a_study_counts_them_once():
    made = mixed()
    relief = outcome(made.present, made.conditions[2], made.duty)
    rows = {
        row["state"]: row
        for row in relief.arranged.part("hydraulic_sharing").records()
        if row["at"] == "stall"
    }
    shown = next(value for key, value in rows["relief"].items() if key.startswith("engine_speed"))
    assert shown * RPM == pytest.approx(stall_by_hand(300.0), rel=1e-6)


def test_table_goes_before_the_constant_torque_of_the_duty_and_says_so():
    made = mixed(torque=100.0)
    codes = {}
    for item, expected in zip(made.combinations, (160.0, 100.0), strict=True):
        result = outcome(item, made.conditions[1], made.duty)
        speed = result.match.stall.engine_speed
        assert speed == pytest.approx(stall_by_hand(expected), rel=1e-9)
        codes[item.id] = {note.code for note in result.notes}
    assert "pumps-by-table" in codes[PRESENT]
    assert "pumps-by-duty" in codes["new"]


def test_standby_that_only_the_other_machine_gives_is_taken_as_none_and_listed():
    made = mixed()
    result = outcome(made.candidates[0], made.conditions[0], made.duty)
    assert result.match.stall.engine_speed == pytest.approx(stall_by_hand(0.0), rel=1e-9)
    assert "standby-taken-as-none" in {note.code for note in result.notes}


@pytest.mark.slow
def test_state_without_a_torque_is_not_known_and_names_the_machine():
    result = run_study(mixed(torque=160.0))
    mine = result.assessment("new")
    finding = mine.finding("single-stable-match")
    assert [str(item.verdict) for item in finding.judged] == ["pass", "pass", "not known"]
    assert "implement pumps at relief" in finding.missing[0]
    assert "'The new one'" in finding.missing[0]
    assert str(mine.verdict) == "not known"
    # High idle is high idle, whatever the pumps take; here no limit is given for it.
    assert "speed limit" in mine.finding("governed-overspeed").missing[0]
    assert not any(
        "pumps at relief" in what for what in mine.finding("engine-braking-kept").missing
    )
    # No figure of that condition is shown for it, in table or draws.
    relief = result.study.conditions[2].name
    assert all(item["new"] is None for item in result.comparison.in_condition(relief))
    assert any(item[PRESENT] is not None for item in result.comparison.in_condition(relief))
    data = result.to_dict()["combinations"][1]["results"]
    assert [item["pump_torque_from"] for item in data] == ["none", "duty", None]
    assert [item["pumps"] for item in data] == ["standby", "working", "relief"]


@pytest.mark.slow
def test_draws_take_the_pumps_as_the_nominal_case_does():
    wide = Tolerance(quantity="engine-torque", half_width=0.02)
    result = uncertainty(mixed(tolerances=(wide,)), draws=400, sensitivities=False)
    present = result.of(PRESENT)
    for name, torque in zip(("standby", "working", "relief"), PUMPS.values(), strict=True):
        words = {"standby": "pumps at standby", "working": "implement working"}
        place = f"reference air, {words.get(name, 'pumps at relief')}"
        middle = present.figure("stall-speed", place).middle
        assert middle == pytest.approx(stall_by_hand(torque), rel=2e-3)  # the median of 400 draws


@pytest.mark.slow
def test_criterion_not_known_for_want_of_pumps_is_not_drawn_either():
    wide = Tolerance(quantity="engine-torque", half_width=0.02)
    result = uncertainty(mixed(tolerances=(wide,)), draws=100, sensitivities=False)
    assert result.probability("new", "single-stable-match") is None
    assert result.probability("new", "top-speed-kept") is not None  # looked at with pumps at rest


def test_pump_table_that_ends_below_high_idle_is_refused_by_its_name():
    short = Arrangement(
        id="short-table",
        name="Short",
        source="round numbers for a test",
        hydraulic_sharing=HydraulicSharing(
            standby=SpeedTable(speed=np.array([800, 1500]) * RPM, value=[20.0] * 2, name="standby")
        ),
    )
    with pytest.raises(InputError, match=r"does not cover .*nothing is extrapolated"):
        run_study(study(present=combination(PRESENT, arrangement=short)))


@pytest.mark.parametrize(
    ("name", "twice"), [("Implement pumps at standby", True), ("charge pump", False)]
)
def test_pumps_that_the_engine_lists_as_well_are_asked_about(name, twice):
    listed = Accessory(name=name, power=2e3, at_speed=2200 * RPM, exponent=1.0)
    own = combination(PRESENT, engine=flat_engine(accessories=(listed,)), arrangement=pumps())
    made = study(present=own, duty=duty())
    codes = {note.code for note in outcome(own, made.conditions[0], made.duty).notes}
    assert ("pumps-may-count-twice" in codes) is twice


@pytest.mark.slow
def test_parts_of_an_arrangement_that_no_criterion_rests_on_are_named():
    from converter_match.components.arrangement import LockUpClutch

    clutch = LockUpClutch(engage_by="speed-ratio", engage=0.9, release=0.8)
    locked = pumps().replace(lock_up=clutch)
    made = study(present=combination(PRESENT, arrangement=locked))
    notes = run_study(made).notes_of(PRESENT)
    said = [dict(note.values) for note in notes if note.code == "arrangement-not-judged"]
    assert [item["parts"] for item in said] == ["lock up"]


# --- a criterion limited to conditions


def test_top_speed_is_looked_at_with_the_pumps_at_standby_unless_the_study_says_otherwise():
    result = run_study(study(duty=duty(400.0)))
    finding = result.assessment("new").finding("top-speed-kept")
    assert [item.condition for item in finding.judged] == ["reference air"]
    assert finding.to_dict()["limited_to"] == ["standby"]
    assert len(result.assessment("new").finding("continuous-heat").judged) == 2


def limited(name, *conditions):
    return tuple(
        spec.choice(conditions=conditions if spec.name == name else ())
        for spec in CATALOGUE.values()
    )


@pytest.mark.slow
def test_criterion_is_looked_at_only_where_the_study_says():
    made = mixed(criteria=limited("single-stable-match", "standby"))
    result = run_study(made)
    assert str(result.assessment("new").finding("single-stable-match").verdict) == "pass"
    made = mixed(criteria=limited("top-speed-kept", "standby", "working", "relief"))
    finding = run_study(made).assessment(PRESENT).finding("top-speed-kept")
    assert finding is None or len(finding.judged) == 3


def test_states_and_sites_narrow_each_other():
    from converter_match.components.site import Site

    sites = tuple(
        Site(id=name, name=name.title(), source="test", altitude=altitude)
        for name, altitude in (("low", 0.0), ("high", 1500.0))
    )
    made = mixed(sites=sites, torque=160.0)
    names = [item.ids for item in made.conditions]

    def at(*conditions):
        choice = spec_of("single-stable-match").choice(conditions=conditions)
        return [names[row] for row in made.looked_at(choice)]

    assert at() == names
    assert at("high") == [("high", "standby"), ("high", "working"), ("high", "relief")]
    assert at("relief", "high") == [("high", "relief")]
    assert at("standby", "relief", "low") == [("low", "standby"), ("low", "relief")]
    # A site alone leaves the states of the criterion's own.
    only = spec_of("top-speed-kept").choice(conditions=("low",))
    assert [names[row] for row in made.looked_at(only)] == [("low", "standby")]


@pytest.mark.parametrize("name", ["relief", "plateau", "standbye"])
def test_condition_that_the_study_does_not_have_is_refused_with_those_known(name):
    with pytest.raises(InputError) as caught:
        study(duty=duty(160.0), criteria=limited("fuel-kept", name))
    assert caught.value.expected == "standby | working | reference-air"
    assert caught.value.found == name


def test_flat_engine_is_what_the_square_root_is_for():
    assert float(flat_engine().full_load(1500 * RPM)) == TORQUE
