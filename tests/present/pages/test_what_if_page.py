import html
import json
import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from converter_match.judgement.match.what_if import what_if
from converter_match.present.lesson.demo import lesson
from converter_match.present.pages.what_if import what_if_data, what_if_page
from converter_match.units import note_text


@pytest.fixture(scope="module")
def table():
    return what_if(lesson().result)


def test_the_page_is_small_asks_for_nothing_and_states_its_error(table):
    page = what_if_page(table)
    assert len(page.encode()) < 100_000
    assert not re.search(r"(?:src|href)\s*=|url\(|@import|fetch\(|import\(", page)
    stated = re.search(r"off by more than ([\d.]+) % of its value", page)
    assert table.off <= float(stated[1]) / 100 <= 0.005
    assert page == what_if_page(what_if(lesson().result))  # the same bytes every time


def test_sliders_are_in_the_units_of_the_reader_and_begin_with_the_pair_as_it_is(table):
    si, us = (what_if_data(table, system=system) for system in ("si", "us"))
    pump = {one["key"]: one for one in us["sliders"]}["pump"]
    # 1.355818 N.m in a pound-foot (NIST SP 811)
    assert pump["scale"] == pytest.approx(1 / 1.355818, rel=1e-6)
    assert pump["said"] == "{value} lbf·ft"
    assert [one["key"] for one in si["sliders"]] == ["torque", "capacity", "altitude", "pump"]
    assert json.dumps(si["table"]) == json.dumps(us["table"])  # SI inside


def looked_up(page, nu, torque, capacity=1.0):
    """The engine speed at which engine and converter load each other alike, off the page's table.

    The engine offers ``c_e = T / w^2``, the converter takes ``C(nu)``; c_e is linear in the torque.
    """
    low, high = page["torque"]
    offered = [np.array(rows[0], dtype=float) for rows in page["offered"]]  # no pump torque
    share = (torque - low) / (high - low)
    surplus = (1 - share) * offered[0] + share * offered[1] - capacity * page["capacity"][nu]
    speed = np.array(page["speed"], dtype=float)
    last = np.flatnonzero((surplus[:-1] > 0.0) & (surplus[1:] <= 0.0))[-1]
    part = surplus[last] / (surplus[last] - surplus[last + 1])
    return speed[last] + part * (speed[last + 1] - speed[last])


def test_the_table_of_the_page_gives_stall_and_coupling_point_of_the_pair(table):
    page, result = what_if_data(table)["table"], table.result
    assert page["nu"][0] == 0.0
    assert page["nu"][page["coupling"]] == pytest.approx(result.converter.coupling, abs=1e-6)
    # The page states its error: 0.5 % at most.
    assert looked_up(page, 0, 1.0) == pytest.approx(result.stall.engine_speed, rel=5e-3)
    coupling = looked_up(page, page["coupling"], 1.0)
    assert coupling == pytest.approx(result.coupling.engine_speed, rel=5e-3)
    assert page["mu"][0] == pytest.approx(float(result.converter.torque_ratio_at(0.0)), rel=1e-6)
    # More torque raises the stall speed, a converter that takes more lowers it.
    assert looked_up(page, 0, 1.1) > looked_up(page, 0, 1.0) > looked_up(page, 0, 1.0, 1.1)
    assert page["rated"] == pytest.approx(result.engine.rated_speed, rel=1e-6)
    assert page["now"] == pytest.approx(table.altitude_now, abs=1e-3)
    assert len(page["altitude"]) == len(page["air"]) == table.altitude.size
    # Air is thinner higher up; where the pair is, nothing changes.
    assert np.interp(page["now"], page["altitude"], page["air"]) == pytest.approx(1.0, abs=5e-3)
    assert page["air"][-1] < 1.0
    assert page["doubtful"] == table.doubtful_above


@pytest.mark.parametrize("system", ["si", "us"])
def test_sliders_span_what_was_tabulated_in_whole_steps(table, system):
    page = what_if_data(table, system=system)
    sliders = {one["key"]: one for one in page["sliders"]}
    # 80 to 120 % torque, 70 to 140 % capacity; 1 ft is 0.3048 m, 1 lbf.ft 1.355818 N.m.
    foot, pound_foot = (1.0, 1.0) if system == "si" else (0.3048, 1.355818)
    most = table.pump_ends[1] / pound_foot
    for key, low, high, step in (
        ("torque", 80, 120, 1), ("capacity", 70, 140, 1),
        ("altitude", 0, 4000 / foot, 50 if system == "si" else 100), ("pump", 0, most, 5),
    ):  # fmt: skip
        one = sliders[key]
        assert (one["low"], one["step"]) == (low, step), key
        assert high - step < one["high"] <= high + 1e-6, key
        assert one["high"] % step == pytest.approx(0.0, abs=1e-6), key
        assert one["digits"] == 0
        assert one["words"]
    assert sliders["torque"]["scale"] == sliders["capacity"]["scale"] == 100.0
    assert "{value}" in sliders["torque"]["said"]
    assert sliders["altitude"]["said"] == ("{value} m" if system == "si" else "{value} ft")


def test_figures_of_the_page_are_in_units_of_their_kind(table):
    page = what_if_data(table, system="us")
    units = {key: label for key, (label, _, _) in page["units"].items()}
    assert units == {"speed": "rpm", "torque": "lbf·ft", "power": "hp"}
    for one in page["figures"]:
        kind = one["key"].partition("-")[2]
        wanted = {"turbine": "speed", "heat": "power", "power": "power"}.get(kind, kind)
        assert one["unit"] == wanted, one["key"]
    keys = [one["key"] for one in page["figures"]]
    assert keys[:3] == ["stall-speed", "stall-torque", "stall-heat"]
    assert len(set(keys)) == 7
    # 1 kW is 1000 / 745.7 hp, 1 rad/s is 30 / pi rpm.
    assert page["units"]["power"][1] == pytest.approx(1 / 745.7, rel=1e-5)
    assert page["units"]["speed"][1] == pytest.approx(30 / np.pi, rel=1e-9)


def test_a_converter_without_a_coupling_point_has_no_figures_of_it(table):
    known = table.result
    bare = SimpleNamespace(
        engine=known.engine, converter=SimpleNamespace(coupling=None, profile_diameter=None)
    )
    sized = {one["key"]: one["said"] for one in what_if_data(table)["sliders"]}
    page = what_if_data(replace(table, result=bare))
    assert page["table"]["coupling"] is None
    assert not [one["key"] for one in page["figures"] if one["key"].startswith("coupling")]
    # Without a diameter it cannot be said which size would take so much.
    unsized = {one["key"]: one["said"] for one in page["sliders"]}
    assert unsized["torque"] == sized["torque"]
    assert "Ø" in sized["capacity"]
    assert "Ø" not in unsized["capacity"]


def test_the_page_says_whose_it_is_where_it_works_and_where_its_numbers_come_from(table):
    page = what_if_page(table, where="on the plateau")
    result = table.result
    pair = f"{result.engine.name} with {result.converter.title}: on the plateau"
    assert pair in page
    assert f"{result.engine.name} with {result.converter.title}:" not in what_if_page(table)
    foot = page[page.index("<footer>") : page.index("</footer>")]
    assert str(table.tried) in foot
    assert str(table.engine_speed.size) in foot
    assert result.engine.source in foot
    for note in (*table.notes, *result.assumptions):
        assert note_text(note, "si") in html.unescape(page)
