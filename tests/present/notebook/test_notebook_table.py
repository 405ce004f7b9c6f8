import pytest

from converter_match.answer.block import Block, Heading, NoValue
from converter_match.errors import InputError
from converter_match.present.notebook.table import beside, table

ROWS = [
    {"gear": "1", "top_speed_kmh": 7.512, "stall_effort_kn": 296.24, "cooled": True},
    {"gear": "<R1>", "top_speed_kmh": float("nan"), "stall_effort_kn": None, "cooled": False},
]


def test_keys_become_words_with_their_unit_below():
    made = table(ROWS, ["gear", "top_speed_kmh", "stall_effort_kn", "cooled"])
    assert made.head == ("gear", "top speed", "stall effort", "cooled")
    assert made.units == ("", "km/h", "kN", "")
    assert made.rows == (("1", "7.5", "296.2", "yes"), ("<R1>", "–", "–", "no"))


def test_page_and_text_say_the_same_and_names_are_escaped():
    made = table(ROWS, ["gear", "top_speed_kmh"])
    page = made._repr_html_()
    assert "&lt;R1&gt;" in page
    assert page.count("<tr>") == 4
    for cell in ("top speed", "km/h", "7.5", "–"):
        assert cell in page
        assert cell in repr(made)


def test_a_longer_unit_is_not_taken_for_a_shorter_one():
    cycle = {"production_t_per_h": 109.85, "payload_t": 25.0, "fuel_l_per_t": 0.247}
    cycle |= {"length_m": 3460.0, "time_min": 13.66, "gear_changes": 19.0, "share": 0.834}
    made = beside({"one": cycle, "two": cycle}, list(cycle))
    assert made.rows == (
        ("production", "110", "110", "t/h"),
        ("payload", "25.0", "25.0", "t"),
        ("fuel", "0.25", "0.25", "L/t"),
        ("length", "3460", "3460", "m"),
        ("time", "13.7", "13.7", "min"),
        ("gear changes", "19", "19", ""),
        ("share", "0.83", "0.83", ""),
    )
    assert made.head == ("", "one", "two", "")


def test_a_figure_that_is_not_there_is_named_with_the_nearest():
    with pytest.raises(InputError, match="top_speed_kmh"):
        table(ROWS, ["top_speed_kph"])
    with pytest.raises(InputError, match="no such figure"):
        beside({"one": {"a": 1}, "two": {}}, ["a"])


def test_an_empty_table_is_refused():
    with pytest.raises(InputError, match="needs rows"):
        table([], ["a"])
    with pytest.raises(InputError, match="needs cases"):
        beside({}, ["a"])


# One of each in the other unit, NIST SP 811 (2008), appendix B.8.
IN_US = {
    "top_speed_kmh": (100.0, "62.1", "mph"),
    "stall_effort_kn": (100.0, "22481", "lbf"),
    "heat_kw": (100.0, "134.1", "hp"),
    "turbine_torque_nm": (1000.0, "738", "lbf·ft"),
    "converter_heat_kj": (100.0, "95", "BTU"),
    "service_brake_work_mj": (3.7, "3507", "BTU"),
    "distance_km": (10.0, "6.21", "mi"),
    "length_m": (100.0, "328", "ft"),
    "profile_diameter_mm": (345.0, "13.6", "in"),
    "fuel_kg": (1.0, "2.20", "lb"),
    "payload_t": (100.0, "110.2", "short tons"),  # 0.907 184 7 t each
    "production_t_per_h": (100.0, "110", "short tons/h"),
    "fuel_l": (10.0, "2.6", "US gal"),  # 3.785 412 L each
    "fuel_l_per_h": (100.0, "26.4", "US gal/h"),
    "fuel_l_per_t": (1.0, "0.240", "US gal/short ton"),  # 0.264 172 / 1.102 311
    "hottest_oil_degc": (85.0, "185", "°F"),
    "oil_rise_k_per_s": (2.0, "3.6", "°F/s"),
    "engine_speed_rpm": (1782.0, "1782", "rpm"),
    "steepest_start_percent": (16.0, "16.0", "%"),
    "time_min": (13.7, "13.7", "min"),
    "overall_ratio": (87.13, "87.13", ""),
    "gear_changes": (19.0, "19", ""),
}


def test_in_us_units_every_figure_and_its_unit_change_together():
    row = {key: value for key, (value, _, _) in IN_US.items()}
    made = table([row], list(IN_US), system="us")
    assert dict(zip(IN_US, zip(made.rows[0], made.units, strict=True), strict=True)) == {
        key: (shown, unit) for key, (_, shown, unit) in IN_US.items()
    }
    lines = beside({"one": row}, list(IN_US), system="us").rows
    assert [line[1:] for line in lines] == [(shown, unit) for _, shown, unit in IN_US.values()]


def test_a_whole_number_with_a_unit_is_converted_and_a_word_or_a_count_is_left():
    row = {"length_m": 100, "segment": 3, "drive": "lock-up", "heat_kw": None, "cooled": True}
    made = table([row], list(row), system="us")
    assert made.rows == (("328", "3", "lock-up", "–", "yes"),)
    assert table([row], list(row)).rows == (("100", "3", "lock-up", "–", "yes"),)


def test_nothing_is_shown_as_minus_nothing():
    assert table([{"a_kj": -0.2, "b_percent": -0.04}], ["a_kj", "b_percent"]).rows == (
        ("0", "0.0"),
    )


def test_an_unknown_unit_system_is_refused():
    with pytest.raises(InputError, match="si or us"):
        table(ROWS, ["gear"], system="imperial")
    with pytest.raises(InputError, match="si or us"):
        beside({"one": ROWS[0]}, ["gear"], system="imperial")


GEARS = Block(
    "gears",
    columns=(
        Heading("gear", "gear"),
        Heading("top_speed", "top speed", "velocity"),
        Heading("fuel", "", "mass", ".2f"),
        Heading("cooled", "oil cooled"),
    ),
    rows=(("1", 100 / 3.6, 1.0, True), ("R1", None, float("nan"), NoValue("no data"))),
)


def test_a_block_says_itself_what_its_columns_are():
    made = table(GEARS, ["gear", "fuel", "top_speed", "cooled"])
    assert made.head == ("gear", "fuel", "top speed", "oil cooled")
    assert made.units == ("", "kg", "km/h", "")
    assert made.rows == (("1", "1.00", "100.0", "yes"), ("R1", "–", "–", "no data"))
    # 1 mi = 1609.344 m, 1 lb = 0.453 592 37 kg
    in_us = table(GEARS, ["fuel", "top_speed"], system="us")
    assert (in_us.units, in_us.rows[0]) == (("lb", "mph"), ("2.20", "62.1"))


def test_a_block_shows_all_that_stands_in_text_where_no_column_is_named():
    assert table(GEARS).head == ("gear", "top speed", "oil cooled")


def test_facts_of_blocks_stand_side_by_side():
    time, note = Heading("time", "cycle time", "minutes"), Heading("kept", "heat kept")
    one = Block("cycle", facts=((time, 90.0), (note, True)))
    two = Block("cycle", facts=((time, NoValue("does not arrive")), (note, False)))
    made = beside({"A": one, "B": two}, ["time", "kept"])
    assert made.rows == (
        ("cycle time", "1.5", "does not arrive", "min"),
        ("heat kept", "yes", "no", ""),
    )
    with pytest.raises(InputError, match="did you mean 'time'"):
        beside({"A": one}, ["tine"])


def test_a_column_that_a_block_has_not_is_named_with_the_nearest():
    with pytest.raises(InputError, match="did you mean 'top_speed'"):
        table(GEARS, ["top_speed_kmh"])
    with pytest.raises(InputError, match="needs rows"):
        table(Block("none", columns=GEARS.columns), ["gear"])
