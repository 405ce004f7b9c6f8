import pytest

from converter_match.errors import InputError
from converter_match.present.notebook_table import beside, table

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
