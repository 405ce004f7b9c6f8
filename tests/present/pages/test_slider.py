import json
import re
from dataclasses import replace

import pytest

from converter_match.cli import main
from converter_match.present.lesson.demo import lesson
from converter_match.present.pages.frame import as_json
from converter_match.present.pages.slider import slider_data, slider_page


@pytest.fixture(scope="module")
def states():
    return lesson().states


def numbers_of(page):
    return json.loads(re.search(r'id="numbers">(.*?)</script>', page, re.DOTALL)[1])


@pytest.mark.slow
def test_the_page_is_one_small_file_that_asks_for_nothing(states):
    page = slider_page(states)
    assert len(page.encode()) < 300_000
    assert not re.search(r"(?:src|href)\s*=|url\(|@import|fetch\(|XMLHttp|import\(", page)
    assert "default-src 'none'" in page
    assert page == slider_page(lesson().states)  # the same bytes every time


def test_the_page_holds_the_numbers_of_the_package_in_the_units_asked_for(states):
    si, us = (numbers_of(slider_page(states, system=system)) for system in ("si", "us"))
    stall = states.result.stall
    assert si["rows"]["input_torque"][0] == pytest.approx(stall.input_torque, rel=1e-6)
    # 1.355818 N.m in a pound-foot, 0.3048 m in a foot (NIST SP 811)
    assert us["rows"]["input_torque"][0] == pytest.approx(stall.input_torque / 1.355818, rel=1e-6)
    assert us["rows"]["meridional"][0] == pytest.approx(si["rows"]["meridional"][0] / 0.3048, 1e-6)
    assert us["amounts"]["oil_settles"][0] == "°F"
    settled = states.values["oil_settles"][0] - 273.15
    assert us["rows"]["oil_settles"][0] == pytest.approx(1.8 * settled + 32, rel=1e-6)


def test_every_stop_is_a_row_so_that_its_numbers_are_exact(states):
    data = slider_data(states)
    assert {stop["nu"] for stop in data["stops"]} <= set(data["nu"])
    codes = [stop["code"] for stop in data["stops"]]
    assert codes[0] == "stall"
    assert "coupling" in codes


def test_the_error_of_the_lines_is_stated_and_not_understated(states):
    stated = re.search(r"off by more than ([\d.]+) % of its largest", slider_page(states))
    assert float(stated[1]) / 100 >= states.off


def test_a_name_that_looks_like_markup_stays_a_name():
    nasty = "</script><img src=x onerror=alert(1)>"
    pair = lesson()
    named = replace(pair, engine=pair.engine.replace(name=nasty))
    page = slider_page(named.states)
    assert nasty not in page
    assert "&lt;/script&gt;&lt;img src=x" in page


def test_no_name_ends_the_script_or_becomes_markup():
    assert "</script>" not in as_json({"a": "</script><b>&"})
    assert json.loads(as_json({"a": "</script>&"})) == {"a": "</script>&"}


@pytest.mark.slow
def test_the_verb_writes_the_page_alone_for_a_pair_that_cannot_carry_the_lesson(tmp_path, capsys):
    page = tmp_path / "coupling.html"
    line = ["lesson", "--out", str(page), "--converter", "fluid-coupling-360mm"]
    assert main(line) == 0
    assert "A fluid coupling: no stator" in numbers_of(page.read_text("utf-8"))["alerts"][0]
    assert main(line) == 2
    assert "is there already" in capsys.readouterr().err
    assert main(["lesson", "--out", "page.html", "--answers"]) == 2
    assert "--out FOLDER" in capsys.readouterr().err
