"""The march as machine code and as plain Python: one result, whatever else is marched with it."""

import os
import subprocess
import sys

import numba
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numba.core import event

from converter_match.physics.haul import effort, march, speed_profile
from converter_match.physics.haul.loads import Draws
from converter_match.physics.haul.look_up import drive_tables
from converter_match.physics.haul.records import SegmentRecord, records
from converter_match.physics.haul.route import run_each, run_route
from converter_match.physics.wheels.road_load import grip_at, grip_rate
from tests.haul_random import machine, route

pytestmark = pytest.mark.slow
needs_compiler = pytest.mark.skipif(numba.config.DISABLE_JIT, reason="nothing is compiled")
KIND = 11  # a loader with downshifts of the tool's own and an interruption of 0.3 s


def driven(kind, seed, draws=None):
    hauler = machine(kind)
    return run_route(hauler, route(np.random.default_rng(seed), hauler), draws).profile


IN_PLAIN_PYTHON = f"""
import sys
import numpy as np
from tests.physics.haul.test_march import driven
profile = driven({KIND}, 5)
steps = [profile.speed[1:], profile.time, profile.length, profile.state]
np.save(sys.stdout.buffer, np.stack(steps))
"""


@needs_compiler
def test_machine_code_goes_as_plain_python_does(tmp_path):
    kept = tmp_path / "steps.npy"
    with kept.open("wb") as file:
        subprocess.run(
            [sys.executable, "-c", IN_PLAIN_PYTHON], stdout=file, check=True,
            env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
        )  # fmt: skip
    found = driven(KIND, 5)
    speed, time, length, state = np.load(kept)
    assert found.shifts[0] > 0
    np.testing.assert_array_equal(found.state, state)
    # Two mathematical libraries may differ in the last digit of a logarithm.
    np.testing.assert_allclose(found.speed[1:], speed, rtol=1e-12)
    np.testing.assert_allclose(found.time, time, rtol=1e-9)
    np.testing.assert_allclose(found.length, length, rtol=1e-9)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_draw_alone_goes_as_it_does_among_others_to_the_last_bit(seed):
    random = np.random.default_rng(seed)
    draws = Draws.of(random.normal(1.0, 0.05, 6), 1.0, random.lognormal(0.0, 0.15, 6))
    together = driven(KIND, seed, draws)
    for k in range(draws.size):
        alone = driven(KIND, seed, draws.picked(slice(k, k + 1)))
        count = alone.time.shape[0]
        for name in ("time", "length", "state", "segment", "left", "stands", "held"):
            one, many = getattr(alone, name)[:, 0], getattr(together, name)
            np.testing.assert_array_equal(many[:count, k], one, err_msg=name)
        np.testing.assert_array_equal(together.speed[: count + 1, k], alone.speed[:, 0])
        assert not together.time[count:, k].any()
        assert together.shifts[k] == alone.shifts[0]


def test_room_for_few_steps_at_a_time_changes_nothing(monkeypatch):
    draws = Draws.of([0.9, 1.0, 1.1])
    whole = driven(KIND, 1, draws)
    monkeypatch.setattr(speed_profile, "_MOST_ROOM", 7)
    pieces = driven(KIND, 1, draws)
    for name in ("time", "length", "speed", "state", "segment", "left"):
        np.testing.assert_array_equal(getattr(pieces, name), getattr(whole, name), err_msg=name)


@needs_compiler
def test_the_march_is_compiled_once_for_all_machines_and_roads():
    driven(0, 1)
    with event.install_recorder("numba:compile") as recorder:
        driven(KIND, 2, Draws.of([0.9, 1.1], 1.02, [1.0, 1.3]))
        hauler = machine(2)
        ways = [route(np.random.default_rng(seed), hauler) for seed in range(3)]
        run_each([(hauler, way, Draws.of([1.0, 1.1])) for way in ways])
        run_route(hauler, ways[0], braking=1, longest_step=20)  # whole numbers
    assert not recorder.buffer


@needs_compiler
def test_all_that_the_march_is_compiled_of_counts_as_its_source():
    seen, left = set(), [march.step, march.enter]
    while left:
        function = left.pop().py_func
        if function not in seen:
            seen.add(function)
            called = [function.__globals__.get(name) for name in function.__code__.co_names]
            left += [each for each in called if hasattr(each, "py_func")]
    assert len(seen) > 20
    sources = {module.__name__ for module in march.MARCH.sources}
    assert {function.__module__ for function in seen} <= sources


def test_a_speed_that_is_no_number_is_no_place_in_a_table():
    # Machine code would read whatever stands in memory there.
    drive, _ = drive_tables(machine(0).chain, np.ones(1))
    with pytest.raises(ValueError, match="no such place"):
        effort.pull_in_state(drive, 0, 0, np.nan)


finite = st.floats(-50.0, 50.0)
limits = st.floats(0.0, 20.0) | st.just(np.inf)


@given(level=limits, more=limits, moved=st.floats(-1.5, 1.5), need=finite, rate=finite)
def test_the_march_knows_the_grip_of_the_road_load(level, more, moved, need, rate):
    here = records(SegmentRecord, 1)[0]
    here.grip, here.whole_grip = level, level + more
    here.moved = moved if np.isfinite(level) else 0.0
    of_road = (np.array(level), np.array(level + more), here.moved)
    assert effort.highest_rate(here, need) == grip_rate(*of_road, np.array(need))
    assert effort.grip_of(here, rate) == grip_at(*of_road, np.array(rate))
