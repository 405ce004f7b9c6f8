"""The state of the bench: changes, undo, A and B."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.errors import InputError
from converter_match.present.bench.state import BenchState, History, Setting

A = Setting(engine="e1", converter="c1")


def test_a_change_touches_the_active_setting_only():
    state = BenchState(a=A).pinned()
    state = state.changed(hydraulic_torque=50.0)
    assert state.a.hydraulic_torque == 50.0
    assert state.b == A


def test_exchange_and_a_alone():
    state = BenchState(a=A).pinned().changed(engine="e2")
    assert state.swapped().a == A
    assert state.swapped().b.engine == "e2"
    assert state.without_b().b is None
    assert BenchState(a=A).swapped() == BenchState(a=A)


def test_b_cannot_be_active_before_it_is_there():
    with pytest.raises(InputError, match="B cannot"):
        BenchState(a=A, active="b")


def test_an_unknown_control_names_the_nearest():
    with pytest.raises(InputError, match="hydraulic_torque"):
        BenchState(a=A).changed(hydraulic_torq=1.0)


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
