"""A run at full throttle: figures of a run made by hand, and why runs end where they end."""

import dataclasses

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.judgement.match.solve import solve
from converter_match.judgement.wheels.acceleration import acceleration
from converter_match.physics.wheels.run_rows import Acceleration
from converter_match.units import note_text
from tests.examples import RPM, converter, engine
from tests.machines import driveline, gear, machine, surface

G = 9.80665


def ran(to_speed=6.0, *, chain=None, body=None, ground=None, bare=None, **options):
    return acceleration(
        solve(engine(), bare or converter()),
        chain or driveline(),
        body or machine(),
        ground or surface(),
        to_speed=to_speed,
        **options,
    )


def by_hand(**changes):
    """First gear to 4 m/s in 2 s and 4 m, a shift of half a second, second gear to 8 m/s."""
    found = ran(8.0)
    names = [(drive.gear.name, drive.drive) for drive in found.chain.drives]
    first, second = names.index(("1", "converter")), names.index(("2", "lock-up"))
    fields = {
        "time": np.array([0.0, 1.0, 2.0, 2.5, 4.5]),
        "speed": np.array([0.0, 2.0, 4.0, 4.0, 8.0]),
        "distance": np.array([0.0, 1.0, 4.0, 6.0, 18.0]),
        "engine_speed": np.array([1500.0, 1600.0, 1700.0, 1400.0, 2000.0]) * RPM,
        "turbine_speed": np.zeros(5),
        "heat": np.zeros(5),
        "state": np.array([first, first, -1, second, second]),
        "ending": "reached",
    }
    return dataclasses.replace(found, run=Acceleration(**(fields | changes)))


# --- figures --------------------------------------------------------------------------------------


def test_figures_of_a_run_are_read_off_its_points():
    told = by_hand().to_dict()
    assert {key: told[key] for key in ("ending", "load", "method", "surface")} == {
        "ending": "reached", "load": "laden", "method": "quasi-steady", "surface": "earth"
    }  # fmt: skip
    assert (told["to_speed_kmh"], told["time_s"], told["distance_m"]) == (
        pytest.approx(28.8), 4.5, 18.0
    )  # fmt: skip
    # Eight marks a metre per second apart; between points a straight line.
    assert [row["speed_kmh"] for row in told["milestones"]] == pytest.approx(
        [3.6 * v for v in range(1, 9)]
    )
    assert [row["time_s"] for row in told["milestones"]] == pytest.approx(
        [0.5, 1.0, 1.5, 2.0, 3.0, 3.5, 4.0, 4.5]
    )
    assert [row["distance_m"] for row in told["milestones"]] == pytest.approx(
        [0.5, 1.0, 2.5, 4.0, 9.0, 12.0, 15.0, 18.0]
    )


def test_gears_of_a_run_are_its_stretches_without_the_shifts():
    first, second = by_hand().gears()
    assert (first.gear, first.drive, second.gear, second.drive) == (
        "1", "converter", "2", "lock-up"
    )  # fmt: skip
    assert first[2:] == (0.0, 2.0, 1.0, 1.0)
    assert second[2:] == (4.0, 8.0, 2.0, 12.0)


@pytest.mark.parametrize(("shift", "said"), [(0.5, True), (0.06, True), (0.04, False)])
def test_time_in_shifts_is_what_the_gears_leave_and_said_where_it_is_worth_a_line(shift, said):
    # 1 s in the first gear and 2 s in the second.
    time = np.array([0.0, 1.0, 1.0 + 0.5 * shift, 1.0 + shift, 3.0 + shift])
    text = by_hand(time=time).text()
    assert ("time in shifts, without drive" in text) is said
    if shift == 0.5:
        assert "time in shifts, without drive: 0.5 s" in text


def test_points_of_a_run_name_the_gear_or_the_shift():
    frame = by_hand().to_frame()
    assert frame["gear"].tolist() == ["1", "1", "shift", "2", "2"]
    assert frame["speed_kmh"].tolist() == pytest.approx([0.0, 7.2, 14.4, 14.4, 28.8])
    assert frame["time_s"].tolist() == [0.0, 1.0, 2.0, 2.5, 4.5]
    assert frame["distance_m"].tolist() == [0.0, 1.0, 4.0, 6.0, 18.0]
    assert frame["engine_speed_rpm"].tolist() == pytest.approx([1500, 1600, 1700, 1400, 2000])
    assert len(by_hand().to_frame("gears")) == 2
    assert len(by_hand().to_frame("milestones")) == 8


def test_parts_of_a_run_are_named_in_words_and_for_scripts():
    found = by_hand()
    told = found.to_dict()
    assert (told["engine"], told["converter"]) == ("test-engine", "test-converter")
    assert (told["driveline"], told["machine"]) == ("test-driveline", "test-machine")
    lines = found.text().splitlines()
    assert lines[0] == "Test machine, laden, full throttle from rest"
    assert lines[1:7] == [
        "  engine: Test engine",
        "  converter: Test converter",
        "  driveline: Test driveline",
        "  surface: earth",
        "  grade: 0 %",
        "  method: quasi-steady",
    ]


# --- how a run ends -------------------------------------------------------------------------------


def endings(found):
    return {
        note.code: dict(note.values)
        for note in found.notes
        if note.code in ("does-not-start", "speed-not-reached")
    }


def test_run_that_reaches_its_speed_says_nothing_of_its_end():
    found = ran(6.0)
    assert (found.run.ending, found.fails, found.starts, found.no_start) == (
        "reached", False, True, ""
    )  # fmt: skip
    assert endings(found) == {}


@pytest.mark.parametrize(
    ("ratio", "grade", "traction", "words"),
    [
        (1.2, 0.5, None, "does not start: insufficient tractive effort"),
        (4.0, 0.3, 0.1, "does not start: traction-limited"),
    ],
)
def test_machine_that_does_not_start_says_what_it_would_need(ratio, grade, traction, words):
    chain = driveline(gears=(gear("1", ratio),))
    found = ran(chain=chain, grade=grade, ground=surface(traction=traction))
    # Weight along the slope, rolling, and the running drag of 800 N.
    weight = 20e3 * G / np.hypot(1.0, grade)
    need = weight * (grade + 0.03) + 800.0
    assert found.no_start == words
    assert (found.fails, found.starts) == (True, False)
    assert (found.milestones(), found.gears()) == ([], [])
    assert endings(found) == {"does-not-start": {"grade": grade, "need": pytest.approx(need)}}
    told = found.to_dict()
    assert (told["ending"], told["time_s"], told["distance_m"]) == ("no-start", None, None)
    assert (told["milestones"], told["gears"]) == ([], [])
    assert words in found.text().splitlines()
    assert "time in shifts" not in found.text()


def test_run_that_ends_where_effort_meets_resistance_says_at_what_speed():
    # Up a tenth: rolling, slope and air take what the second gear gives.
    found = ran(20.0, grade=0.2)
    assert found.run.ending == "balance"
    top = float(found.run.speed.max())
    values = endings(found)["speed-not-reached"]
    weight = 20e3 * G / np.hypot(1.0, 0.2)
    air = 0.5 * 1.225 * 7.0 * 0.9 * top**2
    assert values == {
        "speed": top, "need": pytest.approx(weight * 0.23 + 800.0 + air, rel=1e-3)
    }  # fmt: skip
    [note] = [n for n in found.notes if n.code == "speed-not-reached"]
    assert note.kind == "limit"
    assert "effort is down to the resistance" in note_text(note, "si")
    assert found.to_dict()["time_s"] is None
    # Marks go up to what is reached, and no further.
    assert found.milestones()[-1][0] == pytest.approx(top)


def test_run_that_ends_with_its_last_gear_says_so():
    # The converter's data end at speed ratio 0.86, where it still pulls.
    bare = converter()
    short = bare.replace(
        speed_ratio=bare.speed_ratio[:-2],
        torque_ratio=bare.torque_ratio[:-2],
        capacity=bare.capacity[:-2],
    )
    found = ran(20.0, gear="1", bare=short)
    assert found.run.ending == "end-of-gears"
    assert endings(found)["speed-not-reached"] == {"speed": float(found.run.speed.max())}
    [note] = [n for n in found.notes if n.code == "speed-not-reached"]
    assert (note.kind, found.fails) == ("limit", True)
    assert "the last gear that can be used ends at" in note_text(note, "si")
    assert {stage.gear for stage in found.gears()} == {"1"}


@pytest.mark.slow
def test_run_uses_load_grade_method_and_shift_time_as_given():
    usual = ran()
    assert ran(load="empty").run.time[-1] < usual.run.time[-1] < ran(grade=0.03).run.time[-1]
    assert ran(load="empty").to_dict()["load"] == "empty"
    assert ran(method="dynamic").to_dict()["method"] == "dynamic"
    assert ran(grade=0.03).to_dict()["grade_percent"] == pytest.approx(3.0)
    # Two shifts and no third: without a shift time they take none.
    swift = ran(chain=driveline(shift_time=None))
    assert "time in shifts" not in swift.text()
    assert swift.run.time[-1] < usual.run.time[-1]
    with pytest.raises(InputError, match="gear"):
        ran(gear="9")


def test_constant_effort_takes_the_time_of_newtons_law():
    # On ice the grip is all there is: F = 0.1 m g, less rolling and running drag, on 20 t.
    body = machine(slip=type(machine().slip)(), frontal_area=None, drag_coefficient=None)
    found = ran(2.0, chain=driveline(gears=(gear(),)), body=body, ground=surface(traction=0.1))
    assert found.run.grip_limited
    force = 20e3 * G * (0.1 - 0.03) - 800.0
    assert found.run.time_to(2.0) == pytest.approx(2.0 * 20e3 / force, rel=1e-3)
    assert found.run.distance_to(2.0) == pytest.approx(0.5 * 2.0**2 * 20e3 / force, rel=5e-3)


def test_notes_of_ground_air_and_parts_come_with_the_run():
    found = ran(ground=surface(traction=None, source="a handbook"))
    codes = {note.code for note in found.notes}
    assert {"traction-not-known", "surface-from-table", "air-density-standard"} <= codes
    assert {"inertia-not-given", "shift-speed-computed", "run-out-straight"} <= codes
    assert len(set(found.notes)) == len(found.notes)
    assert "air-density-standard" not in {
        note.code for note in ran(body=machine(drag_coefficient=None, frontal_area=None)).notes
    }
