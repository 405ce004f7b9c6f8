import json
import re

import pytest

from converter_match.judgement.match.what_if import what_if
from converter_match.present.lesson.demo import lesson
from converter_match.present.pages.what_if import what_if_data, what_if_page


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
