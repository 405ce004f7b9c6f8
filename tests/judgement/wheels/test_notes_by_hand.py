"""When each note on a tractive calculation is due, and the values it names, worked out by hand."""

import numpy as np
import pytest

from converter_match.components.driveline import DrivelineLimits
from converter_match.components.machine import Cooler, Oil
from converter_match.components.site import Site
from converter_match.judgement.wheels.words import SHIFT_WITHOUT_HYSTERESIS
from converter_match.units import note_text
from tests.judgement.wheels.test_traction import result
from tests.machines import driveline, gear, machine


def notes(found, code):
    return [note for note in found.notes if note.code == code]


def values(found, code):
    [note] = notes(found, code)
    return dict(note.values)


# --- limits ---------------------------------------------------------------------------------------


@pytest.mark.slow
def test_limit_is_broken_just_above_it_and_says_by_how_much():
    usual = result()
    stall = usual.match.stall
    speed = float(np.max(usual.drives[0].shaft.converter_drive.turbine_speed))
    power = float(np.max(usual.drives[0].shaft.converter_drive.output_power))
    # Locked up the turbine has the engine's net torque; its rows stand every 200 rpm.
    locked = float(np.max(usual.drives[0].shaft.lock_up_drive.turbine_torque))
    assert locked == pytest.approx(max(usual.match.engine.torque), rel=0.05)
    for code, field, highest in (
        ("limit-turbine-torque", "turbine_torque", stall.turbine_torque),
        ("limit-turbine-speed", "turbine_speed", speed),
        ("limit-input-power", "input_power", power),
        ("limit-lock-up-torque", "lock_up_torque", locked),
    ):
        for share, broken in ((0.999, True), (1.001, False)):
            limit = share * highest
            found = result(chain=driveline(limits=DrivelineLimits(**{field: limit})))
            assert {n.code for n in found.notes if n.kind == "limit"} == (
                {code} if broken else set()
            )
            if broken:
                assert values(found, code) == {
                    "highest": pytest.approx(highest, rel=1e-6), "limit": limit
                }  # fmt: skip


def test_lock_up_torque_is_no_matter_where_no_gear_locks():
    tight = DrivelineLimits(lock_up_torque=100.0)
    never = driveline(gears=(gear("1", 4.0), gear("2", 2.2)), limits=tight)
    assert not notes(result(chain=never), "limit-lock-up-torque")
    assert notes(result(chain=driveline(limits=tight)), "limit-lock-up-torque")


# --- shifts ---------------------------------------------------------------------------------------


def shifting(hysteresis=None, time=None, **marks):
    """Two gears; turbine speeds of upshift and downshift as given [rad/s]."""
    first = gear("1", 4.0, upshift_turbine_speed=marks.get("up"))
    second = gear("2", 2.2, downshift_turbine_speed=marks.get("down"))
    return result(chain=driveline(gears=(first, second), shift_hysteresis=hysteresis,
                                  shift_time=time))  # fmt: skip


@pytest.mark.parametrize(("down", "hunts"), [(49.4, False), (49.6, True)])
def test_downshift_at_the_upshift_hunts_though_no_shift_time_is_given(down, hunts):
    # Output at the upshift: 90 / 4; the second gear is there at 2.2 x 90 / 4 = 49.5 rad/s.
    found = shifting(up=90.0, down=down)
    own = [n for n in notes(found, "shift-hunting") if n not in found.driveline.notes]
    assert [note_text(note, "si") for note in own] == [
        "Between gear 1 and 2 the downshift is not below the upshift: the gearbox would hunt."
    ][: int(hunts)]
    assert all(note.kind == "warning" for note in own)
    assert notes(found, "shift-time-not-given")
    assert SHIFT_WITHOUT_HYSTERESIS.note("shift-hunting", gears="1 and 2") in own or not hunts


@pytest.mark.parametrize(("share", "hunts"), [(0.99, True), (1.01, False)])
def test_hysteresis_below_the_speed_lost_in_a_shift_hunts(share, hunts):
    # Effort where both gears pull alike, over the mass of 20 t, for 0.3 s.
    [shift] = shifting(0.25, 0.3).shifts
    lost = shift.effort * 0.3 / 20e3
    found = shifting(share * lost / shift.best_speed, 0.3)
    assert bool(notes(found, "shift-hunting")) is hunts
    if hunts:
        said = values(found, "shift-hunting")
        assert said == {"gears": "1 and 2", "needed": pytest.approx(lost)}
    assert not notes(found, "shift-time-not-given")
    assert not notes(found, "shift-hysteresis-not-given")


def test_early_upshift_names_the_gears_and_the_grades_between_which_it_hunts():
    found = shifting(up=90.0)
    [shift] = found.shifts
    low, high = shift.band
    assert low < high
    assert values(found, "shift-hunting-band") == {
        "lower": "1", "upper": "2", "least": low, "greatest": high
    }  # fmt: skip
    assert not notes(shifting(), "shift-hunting-band")


def test_shift_data_that_are_missing_are_asked_for_one_at_a_time():
    asked = {"shift-time-not-given", "shift-hysteresis-not-given"}

    def missing(found):
        return asked & {note.code for note in found.notes}

    assert missing(shifting()) == {"shift-time-not-given"}
    assert missing(shifting(time=0.3)) == {"shift-hysteresis-not-given"}
    assert missing(shifting(0.25, 0.3)) == set()
    # With a downshift speed of its own the gearbox needs no hysteresis.
    assert missing(shifting(time=0.3, down=20.0)) == set()
    assert missing(result(chain=driveline(gears=(gear(),), shift_time=None))) == set()


# --- grades and cooling ---------------------------------------------------------------------------


def test_grades_that_cannot_be_climbed_are_listed_by_what_stops_the_machine():
    # Grip: 0.6 x 20 t holds up to a slope of about 0.57; below it the weak gear gives out first.
    found = result(chain=driveline(gears=(gear(ratio=1.6),)), grades=(0.0, 0.3, 0.4, 0.9, 1.0))
    by_grade = {row.grade: row.limited_by for row in found.grades}
    for why, code in (("too weak", "cannot-climb-too-weak"), ("grip", "cannot-climb-grip")):
        listed = [f"{100 * grade:g} %" for grade, reason in by_grade.items() if reason == why]
        assert bool(listed) is bool(notes(found, code))
        if listed:
            assert values(found, code) == {"grades": ", ".join(listed)}
    assert "too weak" in by_grade.values()
    strong = result(grades=(0.0, 0.9, 1.0))
    assert values(strong, "cannot-climb-grip") == {"grades": "90 %, 100 %"}
    assert not notes(strong, "cannot-climb-too-weak")


@pytest.mark.parametrize(("air", "none"), [(334.9, False), (335.0, True)])
def test_air_as_hot_as_the_oil_may_be_leaves_no_cooling(air, none):
    hot = Site(id="s", name="s", source="s", altitude=0.0, air_temperature=air)
    body = machine(oil=Oil(volume=0.04, temperature_limit=335.0))
    assert bool(notes(result(site=hot, body=body), "no-cooling")) is none


@pytest.mark.parametrize(("end", "short"), [(94.9, True), (95.0, False)])
def test_cooler_curve_that_ends_below_the_oil_limit_is_said_to(end, short):
    # Limit 120 degC in air of 25 degC: 95 K.
    cooler = Cooler(difference=[0.0, end], heat=[0.0, 80e3])
    assert bool(notes(result(body=machine(cooler=cooler)), "cooler-curve-short")) is short


def test_cooler_too_small_names_grades_gears_and_what_it_carries():
    usual = result()
    hottest = max(usual.grades, key=lambda row: row.heat)
    second = sorted(row.heat for row in usual.grades)[-2]
    # A cooler between the two hottest grades at the 95 K it has.
    carries = 0.5 * (hottest.heat + second)
    cooler = Cooler(difference=[0.0, 95.0], heat=[0.0, carries])
    found = result(body=machine(cooler=cooler))
    assert values(found, "cooler-too-small") == {
        "grades": f"{100 * hottest.grade:g} % (gear {hottest.gear})",
        "capacity": pytest.approx(carries),
    }


def test_what_is_missing_for_the_cooling_is_named_and_nothing_more_is_said_of_it():
    for body, missing in (
        (machine(cooler=None), "cooler"),
        (machine(oil=Oil(volume=0.04)), "oil temperature limit"),
    ):
        found = result(body=body)
        assert values(found, "cooling-not-known") == {"missing": missing}
        assert not notes(found, "oil-heat-of-converter-and-gearbox")
    assert notes(result(), "oil-heat-of-converter-and-gearbox")


def test_gears_whose_wheels_spin_before_stall_are_listed():
    # Grip 0.6 x 20 t against the stall effort of each gear.
    found = result()
    grip = 0.6 * 20e3 * 9.80665
    turbine = found.match.stall.turbine_torque - 5.0
    gears = {"1": 4.0, "2": 2.2, "3": 1.2, "R": 3.8}
    spin = [
        name for name, ratio in gears.items() if turbine * ratio * 20.0 * 0.96 * 0.95 / 0.75 > grip
    ]
    assert values(found, "wheels-slip-before-stall") == {"gears": ", ".join(spin)}
    assert 0 < len(spin) < len(gears)


def test_every_note_is_said_once_those_of_the_match_first_and_the_cautions_last():
    found = result()
    assert len(set(found.notes)) == len(found.notes)
    assert found.notes[: len(found.match.notes)] == found.match.notes
    assert [(note.code, note.kind) for note in found.notes[-3:]] == [
        ("grades-and-brakes", "caution"),
        ("towing-needs-care", "caution"),
        ("stall-effort-is-short", "caution"),
    ]
