"""Routes and short cycles: what is refused by segment, where the machine stands, what is noted."""

import math

import numpy as np
import pytest

from converter_match.components.route import MOST_SEGMENTS, Phase, Route, ShortCycle
from converter_match.errors import InputError
from converter_match.notes import Note
from tests.machines import surface

NO_STOP, NO_LIMIT = math.nan, math.inf


def route(**changes):
    """Out laden over two segments, back empty over two; one stop at the far end."""
    fields = {
        "id": "r",
        "name": "Route",
        "source": "test",
        "length": [100.0, 200.0, 200.0, 100.0],
        "grade": [0.0, 0.08, -0.08, 0.0],
        "surface": [surface()] * 4,
        "speed_limit": [10.0] * 4,
        "load": ["laden", "laden", "empty", "empty"],
        "stop_time": [NO_STOP, 40.0, NO_STOP, NO_STOP],
    }
    return Route(**(fields | changes))


def flat(count, **changes):
    fields = {
        "length": np.full(count, 10.0),
        "grade": np.zeros(count),
        "surface": (surface(),) * count,
        "speed_limit": np.full(count, 10.0),
        "load": ("empty",) * count,
        "stop_time": np.full(count, NO_STOP),
    }
    return route(**(fields | changes))


def refusal(build):
    with pytest.raises(InputError) as caught:
        build()
    return caught.value


@pytest.mark.parametrize(
    ("column", "good", "bad"),
    [
        ("length", [5e-324, 1e6], [0.0, -1.0, math.nextafter(1e6, 2e6), math.nan]),
        ("grade", [-1.0, 1.0], [math.nextafter(-1.0, -2), math.nextafter(1.0, 2), math.nan]),
        ("speed_limit", [5e-324, NO_LIMIT], [0.0, -1.0, math.nan]),
        ("stop_time", [0.0, 1e5, NO_STOP], [-5e-324, -1.0]),
    ],
)
def test_value_out_of_range_is_named_by_its_column_and_segment(column, good, bad):
    whole = list(getattr(route(), column))
    for value in good:
        route(**{column: [*whole[:2], value, whole[3]]})
    for value in bad:
        error = refusal(lambda value=value: route(**{column: [*whole[:2], value, whole[3]]}))
        assert error.field == f"{column}[2]"
        assert error.found == pytest.approx(value, nan_ok=True)


def test_grade_out_of_range_asks_whether_it_is_percent():
    assert "percent" in refusal(lambda: route(grade=[8.0, 0.0, 0.0, 0.0])).hint
    assert refusal(lambda: route(length=[0.0, 1.0, 1.0, 1.0])).hint is None


@pytest.mark.parametrize("column", ["grade", "surface", "speed_limit", "load", "stop_time"])
def test_every_column_has_one_value_for_each_segment(column):
    error = refusal(lambda: route(**{column: list(getattr(route(), column))[:3]}))
    assert error.field == column


@pytest.mark.parametrize("column", ["length", "grade", "speed_limit", "stop_time"])
def test_column_that_is_no_list_of_numbers_is_named(column):
    assert refusal(lambda: route(**{column: ["1", "2", "3", "4"]})).field == column


def test_unknown_load_is_named_by_its_segment():
    error = refusal(lambda: route(load=["laden", "laden", "empti", "empty"]))
    assert (error.field, error.found) == ("load[2]", "empti")
    assert "'empty'" in error.hint


def test_route_has_one_segment_at_least_and_so_many_at_most():
    assert flat(1).total_length == 10.0
    assert flat(MOST_SEGMENTS).length.size == 20_000
    for count in (0, MOST_SEGMENTS + 1):
        assert refusal(lambda count=count: flat(count)).field == "length"


def test_route_is_a_value_and_cannot_be_changed_from_outside():
    assert route() == route()
    assert route() != route(stop_time=[NO_STOP, 41.0, NO_STOP, NO_STOP])
    made = route(given_notes=[Note("told", "Told.")])
    for name in ("surface", "load", "given_notes"):
        assert isinstance(getattr(made, name), tuple)
    for name in ("length", "grade", "speed_limit", "stop_time", "stops"):
        assert not getattr(made, name).flags.writeable


def test_machine_stands_where_told_where_the_load_changes_and_at_the_end():
    np.testing.assert_array_equal(route().stops, [NO_STOP, 40.0, NO_STOP, 0.0])
    silent = route(stop_time=[15.0, NO_STOP, NO_STOP, 30.0])
    np.testing.assert_array_equal(silent.stops, [15.0, 0.0, NO_STOP, 30.0])


@pytest.mark.parametrize(
    ("loads", "trips"),
    [("lee", 1), ("llle", 1), ("lel", 2), ("ell", 1), ("elele", 2), ("eee", 0), ("l", 1)],
)
def test_a_trip_is_a_stretch_of_laden_segments(loads, trips):
    names = {"l": "laden", "e": "empty"}
    assert flat(len(loads), load=[names[letter] for letter in loads]).trips == trips


def test_length_is_the_sum_of_the_segments():
    assert route().total_length == 600.0


def notes(made):
    return {note.code: note for note in made.notes}


def test_route_that_says_everything_has_no_notes_but_those_given():
    told = Note("told", "Told.")
    assert route().notes == ()
    assert route(given_notes=(told,)).notes == (told,)


def test_load_change_without_a_stop_is_noted_by_its_segment():
    found = notes(route(stop_time=[NO_STOP] * 4))
    assert set(found) == {"load-change-takes-no-time"}
    assert found["load-change-takes-no-time"].kind == "assumption"
    assert "after segment 2 and" in found["load-change-takes-no-time"].message
    # A stop of no time is a stop: it was said.
    assert notes(route(stop_time=[NO_STOP, 0.0, NO_STOP, NO_STOP])) == {}


def test_no_more_than_eight_silent_load_changes_are_listed():
    [note] = flat(12, load=("laden", "empty") * 6).notes
    assert "segment 1, 2, 3, 4, 5, 6, 7, 8 and" in note.message


def test_segments_without_a_speed_limit_are_counted():
    found = notes(route(speed_limit=[10.0, NO_LIMIT, NO_LIMIT, 10.0]))
    assert set(found) == {"no-speed-limit"}
    assert found["no-speed-limit"].kind == "assumption"
    assert found["no-speed-limit"].message.startswith("2 of 4 segments")


# --- the short cycle -----------------------------------------------------------------------------


def phase(**changes):
    return Phase(**({"name": "carry", "kind": "drive", "distance": 20.0} | changes))


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"kind": "fly"}, "phase 'carry'.kind"),
        ({"direction": "sideways"}, "phase 'carry'.direction"),
        ({"load": "full"}, "phase 'carry'.load"),
        ({"distance": math.inf}, "phase 'carry'.distance"),
        ({"time": math.inf}, "phase 'carry'.time"),
        ({"hydraulic_power": math.inf}, "phase 'carry'.hydraulic_power"),
        ({"speed": math.inf}, "phase 'carry'.speed"),
    ],
)
def test_phase_that_cannot_be_is_refused_by_its_field(changes, field):
    error = refusal(lambda: phase(**changes))
    assert error.field == field
    assert error.found == next(iter(changes.values()))


@pytest.mark.parametrize(
    "changes",
    [
        *({"direction": direction} for direction in ("forward", "reverse")),
        *({"load": load} for load in ("empty", "laden")),
        {"kind": "crowd", "distance": 0.0, "time": 4.0, "speed": 0.2},
        {"kind": "stand", "distance": 0.0, "time": 4.0, "hydraulic_power": 30e3},
    ],
)
def test_every_kind_direction_and_load_makes_a_phase(changes):
    made = phase(**changes)
    for name, value in changes.items():
        assert getattr(made, name) == value


def test_phase_says_what_it_does_not_need():
    made = phase()
    assert (made.direction, made.load, made.gear) == ("forward", "empty", "")
    assert (made.time, made.grade, made.hydraulic_power, made.speed) == (0.0, 0.0, 0.0, 0.0)
    assert made.speed_limit == math.inf


@pytest.mark.parametrize(
    ("kind", "needed"), [("drive", "distance"), ("crowd", "time"), ("stand", "time")]
)
def test_phase_needs_what_its_kind_needs(kind, needed):
    error = refusal(lambda: Phase(name="carry", kind=kind))
    assert error.field == f"phase 'carry'.{needed}"
    assert error.problem == f"a phase of kind {kind} needs its {needed}"
    other = {"distance": "time", "time": "distance"}[needed]
    error = refusal(lambda: Phase(name="carry", kind=kind, **{needed: 1.0, other: -1.0}))
    assert (error.field, error.problem) == (f"phase 'carry'.{other}", "out of range")


def test_cycle_needs_phases_and_keeps_them_as_they_are():
    names = {"id": "c", "name": "Cycle", "source": "test", "surface": surface()}
    assert refusal(lambda: ShortCycle(**names)).field == "phase"
    made = ShortCycle(**names, phases=[phase(), phase(direction="reverse")])
    assert isinstance(made.phases, tuple)
    assert made == ShortCycle(**names, phases=(phase(), phase(direction="reverse")))
    assert made != ShortCycle(**names, phases=(phase(), phase()))
