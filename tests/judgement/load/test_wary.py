"""What there is to be wary of with a load: where it is said, and where not any more.

A flat engine of 800 N.m on a converter of constant capacity 0.02 N.m/(rad/s)^2 turns with
sqrt(800 / 0.02) = 200 rad/s at every speed ratio nu; with a torque ratio of 2 - nu it gives the
load 800 (2 - nu) N.m at an efficiency of nu (2 - nu).
"""

from types import SimpleNamespace

import numpy as np
import pytest

from converter_match.components.load import Conveyor
from converter_match.judgement.load import load as room
from converter_match.judgement.load.load import CarriedLine, over_load
from converter_match.judgement.match.solve import solve
from tests.examples import engine, full_range
from tests.load_examples import flat, load, winch


@pytest.fixture(scope="module")
def match():
    return solve(engine(), full_range())


def said(answer, code):
    return [dict(note.values) for note in answer.notes if note.code == code]


def on_flat(match, torque):
    return over_load(match, load(Conveyor(torque=torque)), units=[flat()])


def efficiency_torque(efficiency):
    """Torque at which nu (2 - nu) is that: nu = 1 - sqrt(1 - eta)."""
    return 800.0 * (1.0 + np.sqrt(1.0 - efficiency))


@pytest.mark.parametrize(("efficiency", "odd"), [(0.69, True), (0.71, False)])
def test_load_in_slip_is_said_below_seventy_percent(match, efficiency, odd):
    # Common practice, no source.
    found = said(on_flat(match, efficiency_torque(efficiency)), "load-in-slip")
    assert len(found) == odd
    for values in found:
        assert values["efficiency"] == pytest.approx(efficiency)
        assert values["heat"] == pytest.approx((1.0 - efficiency) * 800.0 * 200.0)
        assert values["load"] == "The load"


def test_load_lighter_than_all_that_is_known_runs_off(match):
    # At the last row, speed ratio 0.99, the turbine still gives 808 N.m.
    [values] = said(on_flat(match, 790.0), "load-runs-off")
    fastest = flat().supply.domain[1] * 0.99
    assert values["speed"] == pytest.approx(fastest)
    assert said(on_flat(match, 820.0), "load-runs-off") == []


def line_of(each=None, **changes):
    """A line with points set by hand: what is found of it, and what is said of that."""
    fields = {
        "stall_torque": 1600.0, "starts": True, "runs_off": False, "reached": None,
        "speed": np.array([]), "stable": np.array([], dtype=bool),
    }  # fmt: skip
    found = SimpleNamespace(**(fields | changes))
    count = found.speed.size
    unit = SimpleNamespace(heat=np.full(count, 10e3), input_power=np.full(count, 100e3))
    found.states = SimpleNamespace(units=[unit])
    drum = load(winch(), ratio=25.0, efficiency=0.9)
    line = each or drum.lines()[0]
    notes = room._line_notes(CarriedLine(line, found), [flat()], drum)
    return {note.code: dict(note.values) for note in notes}


def test_drive_that_comes_to_no_steady_speed_hunts():
    assert set(line_of()) == {"load-unsteady"}
    assert line_of(reached=0, speed=np.array([50.0]), stable=np.array([True])) == {}
    assert set(line_of(runs_off=True)) == {"load-runs-off"}


@pytest.mark.parametrize(
    ("stable", "speed", "count"),
    [
        ([True, False, False], [40.0, 90.0, 150.0], None),
        ([True, False, True], [40.0, 90.0, 150.0], 2.0),
        ([True, True, True], [-40.0, 90.0, 150.0], 2.0),
        ([True, False, True], [0.0, 90.0, 150.0], None),
    ],
)
def test_load_runs_at_several_speeds_where_more_than_one_ahead_is_stable(stable, speed, count):
    found = line_of(reached=0, speed=np.array(speed), stable=np.array(stable))
    assert found.get("load-several-speeds", {}).get("count") == count


def test_load_that_runs_down_faster_than_the_unstable_point_runs_away():
    # 100 rad/s at the turbine through 25 on a drum of 0.2 m and half a rope of 0.01 m: 0.84 m/s.
    given = {"reached": 2, "speed": np.array([-100.0, -20.0, 60.0])}
    away = line_of(stable=np.array([False, True, True]), **given)
    assert away["load-runs-away"]["speed"] == pytest.approx(100.0 / 25.0 * 0.21)
    assert "load-runs-away" not in line_of(stable=np.array([True, True, False]), **given)


def test_slowest_of_several_unstable_points_backwards_is_named():
    found = line_of(
        reached=2, speed=np.array([-100.0, -20.0, 60.0]), stable=np.array([False, False, True])
    )
    assert found["load-runs-away"]["speed"] == pytest.approx(20.0 / 25.0 * 0.21)


def test_drum_of_several_units_is_not_looked_at_for_lowering(match):
    drum = load(winch(layers=1), ratio=25.0, efficiency=0.9)
    # 50 kN x 0.21 m / 25 / 0.9 = 467 N.m, which the flat drive holds without data backwards.
    several = over_load(match, drum, units=[flat()])
    assert said(several, "lowering-not-for-several") == [{}]
    assert several.hanging == ()
    assert said(over_load(match, drum), "lowering-not-for-several") == []


def timed(monkeypatch, match, run):
    """What is said of a run-up that came to that."""
    monkeypatch.setattr(room, "_train", lambda match, load: object())
    monkeypatch.setattr(room, "run_up_from_rest", lambda train, line, speed: run)
    return over_load(match, load(Conveyor(torque=500.0), inertia=1.0))


def test_run_up_is_told_with_what_was_not_seen_of_it(monkeypatch, match):
    done = SimpleNamespace(
        time=4.0, starts_at=0.5, engine_work=3e5, load_work=1e5, heat=2e5, transient=None
    )
    for run, codes in (
        (None, {"run-up-too-long"}),
        (SimpleNamespace(time=None), {"run-up-from-idle", "run-up-not-seen"}),
        (done, {"run-up-from-idle"}),
    ):
        answer = timed(monkeypatch, match, run)
        assert {note.code for note in answer.notes if note.code.startswith("run-up")} == codes
    facts = answer.to_dict()["load"]["run_up"]
    assert (facts["starts_after_s"], facts["time_s"]) == (0.5, 4.0)
    assert facts["engine_work_kj"] == pytest.approx(300.0)
    assert facts["load_work_kj"] == pytest.approx(100.0)
    assert facts["heat_kj"] == pytest.approx(200.0)
