"""The verb hold: time to the oil's limit at stall."""

import json

import pytest

from converter_match.cli import main

WORDS = ["--engine", "six-cylinder-7l-185kw", "--converter", "single-stage-345mm-tight"]


def test_time_to_limit_is_a_matter_of_heat_and_heat_capacity(capsys):
    assert main(["hold", *WORDS, "--machine", "wheel-loader-17t", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    # From the loader's own file: 42 L at 870 kg/m3 and 2.06 kJ/(kg.K), 420 kg of steel at
    # 0.47 kJ/(kg.K), cooler 62 kW at 70 K, air 25 degC, oil 85 to 120 degC.
    capacity = 0.042 * 870 * 2060 + 420 * 470
    mean_loss = 62e3 / 70 * (102.5 - 25)
    estimate = capacity * 35 / (data["heat_kw"] * 1e3 - mean_loss)
    assert data["time_to_limit_s"] == pytest.approx(estimate, rel=0.02)
    alone = 0.042 * 870 * 2060 * 35 / (data["heat_kw"] * 1e3)
    assert data["time_to_limit_oil_alone_s"] == pytest.approx(alone, rel=1e-6)
    assert "metal-follows-oil" in {note["code"] for note in data["assumptions"]}
    assert data["time_to_149_degc_s"] > data["time_to_limit_s"]
    assert "stall-hold-is-hazardous" in {note["code"] for note in data["warnings"]}


def test_warmer_oil_leaves_less_time(capsys):
    times = []
    for start in ("60", "100"):
        words = ["hold", *WORDS, "--machine", "wheel-loader-17t", "--oil-start", start, "--json"]
        assert main(words) == 0
        times.append(json.loads(capsys.readouterr().out)["time_to_limit_s"])
    assert times[1] < times[0]


def test_text_carries_the_caution(capsys):
    assert main(["hold", *WORDS, "--machine", "wheel-loader-17t", "--units", "us"]) == 0
    said = capsys.readouterr().out
    assert "machine maker's procedure" in said
    assert "248 °F" in said
