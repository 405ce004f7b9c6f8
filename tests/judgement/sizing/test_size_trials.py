"""Converters tried on a route: the quickest that keeps the limits, and who beats whom."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.components.route import Route
from converter_match.errors import InputError
from converter_match.judgement.haul.haul import haul
from converter_match.judgement.match.solve import solve
from converter_match.judgement.sizing.trials import (
    TrialLimits,
    best_size,
    pareto,
    try_converters,
)
from converter_match.units import note_text
from tests.examples import RPM, converter, engine
from tests.machines import driveline, machine, surface

ENGINE, CONVERTER = engine(), converter()
ROUTE = Route(
    id="hill", name="Hill", source="round numbers",
    length=[300.0, 200.0], grade=[0.02, 0.08], surface=(surface(), surface()),
    speed_limit=[np.inf, np.inf], load=("laden", "laden"), stop_time=[np.nan, np.nan],
)  # fmt: skip
PARTS = (driveline(), machine(), ROUTE)


def test_a_trial_has_the_figures_of_the_route_run_by_itself():
    [trial] = try_converters(ENGINE, [("one", CONVERTER)], *PARTS).trials
    alone = haul(solve(ENGINE, CONVERTER), *PARTS)
    assert trial.time == pytest.approx(alone.time, rel=1e-12)
    assert trial.heat == pytest.approx(float(alone.totals.ledger.converter[0]), rel=1e-12)
    assert trial.stall_torque == alone.match.stall.turbine_torque
    assert trial.keeps


@pytest.mark.slow
def test_the_best_size_is_no_slower_than_any_on_a_fine_grid():
    found = best_size(ENGINE, CONVERTER, *PARTS, diameters=(0.9, 1.1), steps=9)
    sizes = [
        (f"{ratio:.3f}", CONVERTER.scaled(profile_diameter=0.345 * ratio))
        for ratio in np.linspace(0.9, 1.1, 41)
    ]
    grid = try_converters(ENGINE, sizes, *PARTS)
    assert found.winner.time <= grid.winner.time * (1 + 2e-4)


@pytest.mark.slow
def test_limits_take_out_what_breaks_them_and_say_so():
    free = best_size(ENGINE, CONVERTER, *PARTS, steps=5, refinements=0)
    most = free.winner.stall_torque * 0.97
    kept = best_size(
        ENGINE, CONVERTER, *PARTS, steps=5, refinements=0,
        limits=TrialLimits(turbine_torque=most, stall_speed_most=2100 * RPM),
    )  # fmt: skip
    for trial in kept.trials:
        assert trial.keeps == (trial.stall_torque <= most and trial.stall_speed <= 2100 * RPM), (
            trial.broken
        )
    assert any(
        "turbine-torque-at-stall" == why.code for trial in kept.trials for why in trial.broken
    )


def test_no_size_within_the_limits_is_answered_in_words():
    none = best_size(ENGINE, CONVERTER, *PARTS, steps=3, limits=TrialLimits(input_torque=10.0))
    assert none.winner is None
    assert [note.code for note in none.answer] == ["no-such-size"]
    said = none.to_dict()["words"]
    assert said.startswith("No size meets the requirement")
    # Each reason is said in the units of the reader: 10 N.m are 7.4 lbf.ft (NIST SP 811).
    assert "above 10 N·m" in said
    assert "above 7 lbf·ft" in none.text("us")


def test_a_converter_that_cannot_be_matched_is_a_trial_that_failed():
    no_stall = converter(
        id="no-stall",
        speed_ratio=CONVERTER.speed_ratio[1:],
        torque_ratio=CONVERTER.torque_ratio[1:],
        capacity=CONVERTER.capacity[1:],
    )
    trials = try_converters(ENGINE, [("a", CONVERTER), ("b", no_stall)], *PARTS)
    assert trials.winner.name == "a"
    assert "does not include stall" in note_text(trials.trials[1].broken[0], "si")
    assert trials.trials[1].time is None


def test_what_a_trial_breaks_stands_below_the_table_under_its_name():
    most = TrialLimits(turbine_torque=1.0)
    trials = try_converters(ENGINE, [("one", CONVERTER)], *PARTS, limits=most)
    [row] = trials.to_dict()["trials"]
    assert row["broken"] == [note_text(note, "si") for note in trials.trials[0].broken]
    assert f"one: {row['broken'][0]}" in trials.text()


@pytest.mark.parametrize(
    ("change", "match"),
    [
        ({"diameters": (1.1, 0.9)}, "not a range of diameters"),
        ({"diameters": (0.1, 1.1)}, "not a range of diameters"),
        ({"steps": 2}, "too few sizes"),
    ],
)
def test_a_range_that_is_none_is_refused(change, match):
    with pytest.raises(InputError, match=match):
        best_size(ENGINE, CONVERTER, *PARTS, **change)


def test_no_converters_and_limits_below_zero_are_refused():
    with pytest.raises(InputError, match="no converters"):
        try_converters(ENGINE, [], *PARTS)
    with pytest.raises(InputError, match=r"limits\.input_torque: out of range"):
        TrialLimits(input_torque=-1.0)


TABLES = st.lists(st.tuples(*[st.integers(0, 4)] * 3), min_size=1, max_size=8)


@given(TABLES)
def test_the_front_is_what_the_definition_says(rows):
    def beats(one, other):  # less, less, more
        a, b = (one[0], one[1], -one[2]), (other[0], other[1], -other[2])
        return all(x <= y for x, y in zip(a, b, strict=True)) and a != b

    flags = pareto(rows, [False, False, True])
    assert flags == [not any(beats(other, row) for other in rows) for row in rows]


def test_a_column_with_a_gap_is_left_out_of_the_comparison():
    assert pareto([[1.0, None], [2.0, 0.0]], [False, False]) == [True, False]
    assert pareto([], [False]) == []
