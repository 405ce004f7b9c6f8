"""The option --load: status, JSON, figure, and what is refused."""

import json

import pytest

from converter_match.cli import main
from tests.properties.command_lines import PAIR

SMALL = ("--engine", "four-cylinder-4l5-125hp", "--converter", "single-stage-325mm")
HAULER = ("--engine", "six-cylinder-9l-240kw", "--converter", "single-stage-390mm-full-range")


def run(capsys, *argv):
    status = main(list(argv))
    captured = capsys.readouterr()
    return status, captured.out, captured.err


@pytest.mark.slow
def test_a_load_stands_behind_the_match_in_json_and_in_the_overlay(capsys, tmp_path):
    figure = tmp_path / "overlay.svg"
    status, out, _ = run(
        capsys, "solve", *PAIR, "--load", "quarry-drain-pump", "--json", "--figure", str(figure)
    )
    assert status == 0
    load = json.loads(out)["load"]
    assert load["kind"] == "pump"
    assert len(load["lines"]) == 1
    assert load["equilibria"][0]["reached"]
    assert load["run_up"]["time_s"] > 0.0
    assert "load-line-0" in figure.read_text(encoding="utf-8")


@pytest.mark.slow
def test_a_load_that_does_not_start_is_a_limit(capsys):
    status, out, _ = run(
        capsys, "solve", *PAIR, "--load", "yarder-winch", "--hydraulic-torque", "320"
    )
    assert status == 3
    assert "[load-does-not-start]" in out


@pytest.mark.slow
def test_a_load_that_pulls_the_turbine_backwards_without_data_is_bad_input(capsys):
    status, out, err = run(capsys, "solve", *SMALL, "--load", "yarder-winch")
    assert (status, out) == (2, "")
    assert err.count("\n") == 1
    assert "yarder-winch.toml" in err
    assert "pulls the turbine backwards" in err


def test_a_load_of_another_kind_or_name_is_refused(capsys):
    status, _, err = run(capsys, "solve", *HAULER, "--load", "yarder-wench")
    assert status == 2
    assert "did you mean" in err
    status, _, err = run(capsys, "solve", *HAULER, "--load", PAIR[1])
    assert status == 2
