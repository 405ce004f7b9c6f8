"""The state of the bench: changes, undo, A and B."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.errors import InputError
from converter_match.present.bench.state import BenchState, History, Setting

A = Setting(engine="e1", converter="c1")


def test_a_change_touches_the_active_setting_only():
    state = BenchState(a=A).pinned()
    state = state.changed(hydraulic_torque=50.0)
    assert state.b.hydraulic_torque == 50.0
    assert state.a == A


def test_exchange_and_a_alone():
    state = BenchState(a=A).pinned().changed(engine="e2")
    assert state.swapped().b == A
    assert state.swapped().a.engine == "e2"
    assert state.without_b().b is None
    assert BenchState(a=A).swapped() == BenchState(a=A)


def test_b_cannot_be_active_before_it_is_there():
    with pytest.raises(InputError, match="B cannot"):
        BenchState(a=A, active="b")


def test_an_unknown_control_names_the_nearest():
    with pytest.raises(InputError, match="hydraulic_torque"):
        BenchState(a=A).changed(hydraulic_torq=1.0)


def test_what_is_kept_is_the_present_machine_and_its_copy_is_changed():
    state = BenchState(a=A).pinned().changed(engine="e2")
    again = state.pinned().changed(engine="e3")
    assert (again.a.engine, again.b.engine, again.active) == ("e2", "e3", "b")


def test_units_and_letters_are_no_steps_and_outlive_undo_and_redo():
    history = History(BenchState(a=A))
    history.to(history.present.changed(hydraulic_torque=50.0))
    history.to(replace(history.present, system="us", font_scale=1.3))
    history.undo()
    assert history.present == BenchState(a=A, system="us", font_scale=1.3)
    history.to(replace(history.present, font_scale=1.6))
    assert history.redo().b is None
    assert history.present.a.hydraulic_torque == 50.0
    assert (history.present.system, history.present.font_scale) == ("us", 1.6)


def test_the_side_that_is_changed_is_no_step_of_undo():
    history = History(BenchState(a=A).pinned())
    history.to(history.present.changed(engine="e2"))
    history.to(replace(history.present, active="a"))
    history.undo()
    assert history.present.b.engine == "e1"


@given(st.lists(st.floats(0, 500), max_size=30))
def test_undo_goes_back_through_every_state_and_redo_forward(values):
    history = History(BenchState(a=A))
    seen = [history.present]
    for value in values:
        if history.to(history.present.changed(hydraulic_torque=value)):
            seen.append(history.present)
    for state in reversed(seen[:-1]):
        assert history.undo() == state
    assert history.undo() == seen[0]
    for state in seen[1:]:
        assert history.redo() == state
    assert history.redo() == seen[-1]
