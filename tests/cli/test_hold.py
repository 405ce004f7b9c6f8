"""The verb hold: the longest hold, and the times to the oil's limit behind it."""

import json
import math

import pytest

from converter_match.cli import main

WORDS = ["--engine", "six-cylinder-7l-185kw", "--converter", "single-stage-345mm-tight"]
LOADER = ["hold", *WORDS, "--machine", "wheel-loader-17t"]


def answer(capsys, *words, status=0):
    assert main([*words, "--json"]) == status
    return json.loads(capsys.readouterr().out)


def test_time_to_limit_is_a_matter_of_heat_and_heat_capacity(capsys):
    data = answer(capsys, *LOADER)
    # US Army TM 10-3930-671-24 asks for 82 to 93 degC: the warmest, where nothing is given.
    assert (data["oil_start_degc"], data["oil_limit_degc"]) == pytest.approx((93, 120))
    # From the loader's own file: 42 L at 870 kg/m3 and 2.06 kJ/(kg.K), 420 kg of steel at
    # 0.47 kJ/(kg.K), cooler 62 kW at 70 K, air 25 degC.
    capacity = 0.042 * 870 * 2060 + 420 * 470
    mean_loss = 62e3 / 70 * (106.5 - 25)
    estimate = capacity * 27 / (data["heat_kw"] * 1e3 - mean_loss)
    assert data["time_to_limit_s"] == pytest.approx(estimate, rel=0.02)
    cooled = 0.042 * 870 * 2060 * 27 / (data["heat_kw"] * 1e3 - mean_loss)
    assert data["time_to_oil_limit_s"] == pytest.approx(cooled, rel=0.02)
    alone = 0.042 * 870 * 2060 * 27 / (data["heat_kw"] * 1e3)
    assert data["time_to_limit_oil_alone_s"] == pytest.approx(alone, rel=1e-6)
    # The oil in the converter: two volumes in closed form, 140 L/min between them, the smaller one
    # 0.12 times the cube of 345 mm, and all of the heat into it. At that time it is at 149 degC.
    heat, per_litre = data["heat_kw"] * 1e3, 0.87 * 2060
    inside = 0.12 * 3.45**3
    rate = 140 / 60 * (1 / inside + 1 / (42 - inside))
    share = (42 - inside) / 42
    time = data["time_to_outlet_limit_s"]
    ahead = share * heat / per_litre / inside / rate * (1 - math.exp(-rate * time))
    assert 93 + heat * time / (42 * per_litre) + ahead == pytest.approx(149, abs=0.01)
    # What anybody may act upon: four fifths of the shortest.
    assert time < alone
    assert data["longest_hold_s"] == int(0.8 * time)
    assert data["set_by"] == "converter-outlet"
    assumed = {note["code"] for note in data["assumptions"]}
    assert {"metal-follows-oil", "hold-oil-alone", "hold-from-warmest-oil"} <= assumed
    assert data["time_to_149_degc_s"] > data["time_to_limit_s"]
    cautions = {note["code"] for note in data["warnings"] if note["kind"] == "caution"}
    assert {"stall-hold-is-hazardous", "stall-test-hazard", "towing-needs-care"} <= cautions


def test_warmer_oil_leaves_less_time(capsys):
    cool, warm = (answer(capsys, *LOADER, "--oil-start", start) for start in ("60", "100"))
    assert warm["time_to_limit_s"] < cool["time_to_limit_s"]
    assert warm["longest_hold_s"] < cool["longest_hold_s"]


def test_text_begins_with_the_caution(capsys):
    assert main([*LOADER, "--units", "us"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("CAUTION: A stall test can hurt people")
    assert "machine maker's procedure" in said
    assert "oil temperature limit: 248 °F" in said


@pytest.mark.parametrize(
    ("start", "status"),
    [("105", 0), ("119.9", 3), ("120", 3), ("130", 3), ("160", 3), ("250 degF", 3)],
)
def test_oil_that_leaves_no_time_for_a_hold_fails_and_is_said(capsys, start, status):
    # The loader's own file: limit 120 degC, 248 degF. A tenth of a kelvin below it the oil is there
    # in a twentieth of a second, in which nobody reads a speed.
    words = [*LOADER, "--oil-start", start]
    data = answer(capsys, *words, status=status)
    notes = {note["code"]: note["kind"] for note in data["warnings"]}
    over = start not in ("105", "119.9")
    assert notes.get("hold-too-short") == ("limit" if status else None)
    assert notes.get("oil-over-limit-at-start") == ("limit" if over else None)
    assert (data["longest_hold_s"] == 0.0) is (status == 3)
    assert (data["time_to_limit_s"] == 0.0) is over
    # 149 degC, the value at which one army manual stops, is behind the oil at 160 degC only.
    assert (data["time_to_149_degc_s"] == 0.0) is (start == "160")
    asked = start if "deg" in start else f"{start} degC"
    main([*words[:-1], asked, "--units", "us"])
    assert ("its limit is 248 °F" in capsys.readouterr().out) is over


def test_oil_of_no_stall_test_is_refused_by_the_option(capsys):
    assert main([*LOADER, "--oil-start", "200"]) == 2
    said = capsys.readouterr().err
    assert "--oil-start: " in said
    assert "-40 to 180 degC" in said


def test_machine_that_stays_at_idle_has_no_hold(capsys):
    weak = ["--engine", "four-cylinder-2l5-45kw", "--converter", "single-stage-420mm"]
    data = answer(capsys, "hold", *weak, "--machine", "wheel-loader-17t", status=3)
    assert (data["longest_hold_s"], data["heat_kw"], data["set_by"]) == (None, None, "no-stall")
    assert "does-not-leave-idle" in {note["code"] for note in data["warnings"]}
