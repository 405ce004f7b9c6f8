"""The gear that is reached from rest on a grade, beside the fastest that could be held there."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

import converter_match as cm
from converter_match.judgement.match.solve import solve
from converter_match.judgement.wheels import words
from converter_match.judgement.wheels.reached import with_reached
from converter_match.judgement.wheels.tractive import tractive, with_lock_up
from tests.examples import converter, hole_engine
from tests.machines import driveline, gear, machine, surface

PARTS = ("six-cylinder-9l-240kw", "single-stage-390mm-full-range", "six-speed-hauler",
         "articulated-hauler-25t")  # fmt: skip


@pytest.fixture(scope="module")
def result():
    engine, converter, line, truck = cm.read(*PARTS)
    locked = with_lock_up(line, [gear.name for gear in line.gears])
    wheels = cm.tractive(cm.solve(engine, converter), locked, truck, "concrete or asphalt",
                         grades=["5 %", "10 %", "20 %", "90 %"])  # fmt: skip
    return wheels


def held_in(result, gear, drive, grade, begin):
    """Follow m dv/dt = F - R in one gear from a speed until nothing changes; a minute and more."""
    k = next(i for i, d in enumerate(result.drives) if (d.gear.name, d.drive) == (gear, drive))
    own, road = result.drives[k], result.road_loads[k]
    curve = own.curve()
    speed = curve.road_speed(result.machine, road.adhesion(grade))
    mass = float(road.mass) * 1.3  # whatever turns with it changes when, not where it settles

    def rate(_, y):
        force = np.interp(y[0], speed, curve.force)
        return [(force - float(road.resistance(grade, y[0]))) / mass]

    return float(solve_ivp(rate, (0.0, 600.0), [begin], rtol=1e-8, max_step=1.0).y[0, -1])


@pytest.mark.slow
def test_both_speeds_hold_in_time_and_one_does_not_lead_to_the_other(result):
    short = [row for row in result.reached if row.falls_short and row.speed is not None]
    assert short
    for row in short:
        reached = held_in(result, row.gear, row.drive, row.grade, row.speed)
        fastest = held_in(
            result, row.fastest_gear, row.fastest_drive, row.grade, row.fastest_speed * 1.02
        )
        assert reached == pytest.approx(row.speed, rel=5e-3)
        assert fastest == pytest.approx(row.fastest_speed, rel=5e-3)
        assert row.speed < 0.99 * row.fastest_speed


def test_a_note_names_both_and_says_what_to_do(result):
    short = [row for row in result.reached if row.falls_short and row.speed is not None]
    notes = [n for n in result.notes if n.code == "grade-not-reached-from-rest"]
    assert len(notes) == len(short)
    values = dict(notes[0].values)
    assert values["speed"] == short[0].speed
    assert values["fastest"] == short[0].fastest_speed
    assert f"gear {short[0].fastest_gear} held" in values["what"]
    assert "From rest, by the gearbox" in result.text()


def test_where_the_fastest_is_reached_nothing_is_said(result):
    same = [row for row in result.reached if not row.falls_short and row.speed is not None]
    assert same
    for row in same:
        assert row.gear == row.fastest_gear
        assert row.speed == pytest.approx(row.fastest_speed, rel=1e-2)
    gone = result.reached[-1]
    assert (gone.grade, gone.fastest_speed, gone.falls_short) == (0.9, None, False)


@pytest.mark.slow
def test_a_study_does_not_ask_for_it(result):
    plain = tractive(result.match, result.driveline, result.machine, result.surface)
    assert plain.reached == ()
    assert with_reached(plain).reached != ()


@pytest.mark.slow
def test_a_faster_balance_of_the_same_gear_has_to_be_come_to_with_more_speed():
    # Third gear alone, in a torque hole: it settles in the hole, and could hold three times that.
    match = solve(hole_engine(), converter(capacity=1.7 * converter().capacity))
    single = driveline(gears=(gear("3", 1.2),))
    told = with_reached(tractive(match, single, machine(), surface(), grades=[0.12]))
    [row] = told.reached
    assert row.falls_short
    assert (row.gear, row.drive) == (row.fastest_gear, row.fastest_drive)
    [note] = [n for n in told.notes if n.code == "grade-not-reached-from-rest"]
    assert dict(note.values)["what"] == words.MORE_SPEED
