"""How a number is held against its span: which number, on which side, and what is said of it.

The spans themselves stand in `library/schema/span_tables.py`, each with what it rests on; here they
are looked at from both sides.
"""

import math

import numpy as np
import pytest

from converter_match.library.odd.columns import column_oddities
from converter_match.library.read import read_engine
from converter_match.library.schema import spans
from converter_match.library.schema.derived import worked_out
from converter_match.library.schema.quantity import GivenColumn, GivenQuantity
from converter_match.library.shipped import find
from tests.library.sheets import printed_once

RPM = math.pi / 30


def asked(kind, path, value):
    return [dict(note.values) for note in spans.asked_of(kind, {path: value})]


@pytest.mark.parametrize(
    ("kind", "path", "low", "high"),
    [
        ("site", "air_pressure", 50e3, 107e3),
        ("site", "relative_humidity", 0.03, 1.0),
        ("surfaces", "surface.rolling_resistance", 0.004, 0.4),
        ("surfaces", "surface.traction", 0.05, 1.2),
        ("route", "length", 0.5, 20e3),
        ("route", "speed limit", 2 / 3.6, 100 / 3.6),
        ("cycle", "hydraulic power", 500.0, 800e3),
        ("duty", "turbine speed", 30 * RPM, 6000 * RPM),
    ],
)
def test_number_is_asked_about_outside_its_span_and_at_its_ends_not(kind, path, low, high):
    for value in (low, high, 1.01 * low, 0.99 * high, 0.0):
        assert asked(kind, path, value) == []
    for value in (0.99 * low, 1.01 * high):
        assert [note["field"] for note in asked(kind, path, value)] == [path]
    assert asked(kind, path, None) == []


@pytest.mark.parametrize(
    ("metres", "odd"), [(-431, True), (-429, False), (5099, False), (5101, True)]
)
def test_span_that_goes_below_zero_is_held_with_its_sign(metres, odd):
    # The lowest shore on land lies at -430 m, the highest mines at 5100 m.
    assert bool(asked("site", "altitude", metres)) is odd


def test_question_says_what_was_found_what_is_usual_and_which_slip_would_explain_it():
    [note] = asked("surfaces", "surface.rolling_resistance", 0.0003)
    assert (note["found"], note["usual"]) == ("0.03 percent", "0.4 to 40 percent")
    assert note["hint"] == " 100 times as much would be usual?"
    [note] = asked("duty", "turbine speed", 10.0 * RPM)
    assert note["found"] == "10 rpm"
    assert note["usual"] == "30 to 6000 rpm"


@pytest.mark.parametrize(
    ("value", "hint"),
    [
        # Of 2 to 100 km/h.
        (1.0 / 3.6, "10 times as much would be usual"),
        (0.1 / 3.6, "100 times as much would be usual"),
        (0.01 / 3.6, "1000 times as much would be usual"),
        (900.0 / 3.6, "0.1 times as much would be usual"),
        (5000.0 / 3.6, "0.01 times as much would be usual"),
        (50_000.0 / 3.6, "0.001 times as much would be usual"),
        (1e9, None),
    ],
)
def test_slip_of_one_two_or_three_digits_is_named(value, hint):
    assert spans._hint(value, spans.spans_of("route")["speed limit"]) == hint


@pytest.mark.parametrize(
    ("kelvin", "hint"),
    [
        (85.0, "degC read as K?"),  # 85 degC in a place for kelvin
        (273.15 + 353.15, "K read as degC?"),  # 353.15 K in a place for degC
        (1000.0, None),
    ],
)
def test_slip_of_kelvin_and_celsius_is_named(kelvin, hint):
    assert spans._hint(kelvin, spans.spans_of("argument")["oil_start"]) == hint


def test_slip_of_rpm_and_radians_is_named():
    # 2200 rpm written where rad/s were meant.
    span = spans.spans_of("argument")["engine_speed"]
    assert spans._hint(2200.0, span) == "rpm read as rad/s?"


def column(values):
    given = GivenColumn(tuple(values), "N*m", np.array(values, dtype=float))
    return [dict(n.values) for n in spans._out_of_line(spans.Found("torque", "torque", given))]


@pytest.mark.parametrize(
    ("values", "row"),
    [
        ([100.0, 249.0, 100.0], None),
        ([100.0, 251.0, 100.0], 1),
        ([100.0, 251.0, 101.0], None),  # of the greater of its neighbours
        ([100.0, 40.1, 100.0], None),
        ([100.0, 39.9, 100.0], 1),
        ([99.0, 39.9, 100.0], None),  # of the smaller of them
        ([100.0, 100.0, 10.0, 100.0, 1000.0, 100.0], 2),  # the first alone
        ([1000.0, 100.0, 100.0], None),  # the ends are no rows between others
        ([100.0, 251.0], None),
        ([100.0, 251.0, 100.0, 0.0], None),  # a curve through zero may do anything there
        ([100.0, 251.0, 100.0, -1.0], None),
    ],
)
def test_row_is_out_of_line_beyond_two_and_a_half_times_both_neighbours(values, row):
    # Common practice, no source.
    found = column(values)
    assert [note["field"] for note in found] == ([] if row is None else [f"torque.values[{row}]"])
    for note in found:
        said = (note["before"], note["found"], note["after"])
        assert said == tuple(f"{values[k]:g} N*m" for k in (row - 1, row, row + 1))


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ([10.0, 20.0], None),
        ([10.0, math.nan, 300.0 / 3.6], "speed limit (row 3)"),
        ([200.0 / 3.6, 1.0 / 3.6], "speed limit (row 1)"),
        ([0.0, math.inf], None),
        ([], None),
    ],
)
def test_first_unusual_row_of_a_table_is_asked_about(values, field):
    found = [dict(n.values) for n in column_oddities("route", {"speed limit": values})]
    assert [note["field"] for note in found] == ([field] if field else [])


def test_every_column_of_a_table_is_looked_at():
    given = {"length": [0.1], "grade": [0.9], "stop": [30.0]}
    found = [dict(n.values)["field"] for n in column_oddities("route", given)]
    assert found == ["length (row 1)", "grade (row 1)"]


# --- arguments of functions ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("celsius", "refused"), [(-61.0, True), (-59.0, False), (199.0, False), (201.0, True)]
)
def test_argument_that_cannot_be_is_refused(celsius, refused):
    error = spans.argument_refused("oil_start", celsius + 273.15)
    assert (error is not None) is refused
    if refused:
        assert error.field == "oil_start"
        assert error.found == f"{celsius + 273.15:g} K"


def test_argument_without_its_unit_has_to_be_usual_and_with_it_possible():
    for rpm, bare, written in ((5000, False, False), (8000, True, False), (26_000, True, True)):
        speed = rpm * RPM
        assert (spans.argument_refused("engine_speed", speed) is not None) is bare
        text = f"{rpm} rpm"
        assert (spans.argument_refused("engine_speed", speed, text) is not None) is written
    error = spans.argument_refused("engine_speed", 2200.0)
    assert error.found == "2200 rad/s"
    assert error.hint == "rpm read as rad/s?"
    assert spans.argument_refused("engine_speed", 26_000 * RPM, "26000 rpm").found == "26000 rpm"


def test_zero_and_what_is_in_no_table_are_not_judged():
    assert spans.argument_refused("hydraulic_torque", 0.0) is None
    assert spans.argument_refused("hydraulic_torque", 0.5) is not None
    assert spans.argument_refused("hydraulic_torque", -5000.0) is not None
    assert spans.argument_refused("hydraulic_torque", -3000.0) is None
    assert spans.argument_refused("something_else", 1e30) is None


# --- sizes against each other --------------------------------------------------------------------

POWER = 803.0 * 2200 * RPM  # of the engine below, at rated speed
ENGINE = printed_once(find("engines", "six-cylinder-7l-185kw").read_text(encoding="utf-8"))


def sizes(tmp_path, *changes):
    text = ENGINE
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path = tmp_path / "engine.toml"
    path.write_text(text, encoding="utf-8")
    notes = [note for note in read_engine(path).notes if note.code == "sizes-unusual"]
    return [dict(note.values) for note in notes]


@pytest.mark.parametrize(
    ("exponent", "share", "odd"),
    [
        (3, 0.0079, True),
        (3, 0.0081, False),
        (3, 0.149, False),
        (3, 0.151, True),
        (2, 0.061, False),  # from the square on it is a fan
        (1.9, 0.061, True),
        (1.9, 0.059, False),
        (1, 0.0031, False),
        (1, 0.0029, True),
    ],
)
def test_accessory_is_held_against_the_rated_power_by_what_it_is(tmp_path, exponent, share, odd):
    # Common practice, no source: a fan takes 0.8 to 15 %, anything else 0.3 to 6 %.
    found = sizes(
        tmp_path,
        ("value = 11.0 }", f"value = {share * POWER / 1e3} }}"),
        ("exponent = 3", f"exponent = {exponent}"),
    )
    assert [note["field"] for note in found] == (["accessory[0].power"] if odd else [])
    for note in found:
        assert float(note["value"]) == pytest.approx(share, rel=0.006)  # three digits
        assert "@" not in note["sizes"]


@pytest.mark.parametrize(("litres", "odd"), [(0.79, False), (0.81, True), (0.051, False)])
def test_fuel_at_idle_is_held_against_the_displacement(tmp_path, litres, odd):
    found = sizes(tmp_path, ("value = 1.16 }", f"value = {7.0 * litres} }}"))
    assert [note["field"] for note in found] == (["fuel.idle_rate"] if odd else [])
    for note in found:
        assert note["others"] == "fuel.idle_rate, displacement"
        assert (note["low"], note["high"]) == ("0.05", "0.8")


def test_size_without_its_partner_is_not_asked_about(tmp_path):
    gone = ('displacement = { unit = "L", value = 7.0 }\n', "")
    assert sizes(tmp_path, ("value = 1.16 }", "value = 20.0 }"), gone) == []


@pytest.mark.parametrize(("first", "odd"), [(570, False), (550, True)])
def test_first_row_of_a_column_is_held_where_the_first_is_meant(tmp_path, first, odd):
    # 0.7 to 2.2 times the low idle of 800 rpm: 560 rpm.
    found = sizes(tmp_path, ("values = [800, 900,", f"values = [{first}, 900,"))
    assert ("full_load.speed" in [note["field"] for note in found]) is odd


def test_what_is_worked_out_of_a_file_is_its_torque_times_speed():
    speed, torque = np.array([100.0, 200.0]), np.array([50.0, 30.0])
    for key, values in (("torque", torque), ("power", torque * speed)):
        found = worked_out("engine", {"full_load.speed": speed, f"full_load.{key}": values})
        assert found == {"@peak_torque": 50.0, "@rated_power": 6000.0}
    rating = {"rating.peak_torque": 70.0, "rating.rated_power": 9000.0}
    assert worked_out("engine", rating) == {"@peak_torque": 70.0, "@rated_power": 9000.0}
    assert worked_out("engine", {"rating.peak_torque": 70.0}) == {}
    assert worked_out("converter", {}) == {}


def test_limit_of_the_effort_comes_to_a_torque_of_the_turbine():
    # F r / i: 60 kN on 0.7 m through 84 are 500 N.m.
    given = {
        "impeller_clutch.tractive_effort_limit": 60e3,
        "wheels.rolling_radius": 0.7,
        "wheels.overall_ratio": 84.0,
    }
    found = worked_out("arrangement", given)
    assert found == {"@turbine_torque_of_effort_limit": pytest.approx(500.0)}
    for key in given:
        assert worked_out("arrangement", {k: v for k, v in given.items() if k != key}) == {}
    assert worked_out("arrangement", given | {"wheels.overall_ratio": 0.0}) == {}


def test_threshold_by_turbine_speed_is_a_speed_and_by_ratio_a_ratio():
    span = spans.spans_of("arrangement")["lock_up.engage"]
    for given, odd in (
        (GivenQuantity(0.8, "", 0.8), False),
        (GivenQuantity(0.5, "", 0.5), True),
        (GivenQuantity(1600.0, "rpm", 1600 * RPM), False),
        (GivenQuantity(490.0, "rpm", 490 * RPM), True),
        (GivenQuantity(5100.0, "rpm", 5100 * RPM), True),
    ):
        assert bool(list(spans._asked(span, spans.Found("x", "x", given)))) is odd
