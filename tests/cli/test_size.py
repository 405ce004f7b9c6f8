"""The verb size as a person or a script uses it."""

import json

import pytest

from converter_match.cli import main

PAIR = ("--engine", "six-cylinder-7l-185kw", "--converter", "single-stage-345mm-tight")
ROUTE = (
    "--engine", "six-cylinder-9l-240kw", "--converter", "single-stage-390mm-full-range",
    "--route", "quarry-to-crusher", "--driveline", "six-speed-hauler",
    "--machine", "articulated-hauler-25t",
)  # fmt: skip


def run(capsys, *argv):
    status = main(["size", *argv])
    captured = capsys.readouterr()
    return status, captured.out, captured.err


@pytest.mark.slow
def test_a_found_size_solved_forward_by_the_command_line_gives_the_target(capsys):
    status, out, _ = run(capsys, *PAIR, "--stall-speed", "1900", "--json")
    assert status == 0
    answer = json.loads(out)
    diameter = answer["size_for_stall_speed"]["profile_diameter_mm"]
    assert main(["solve", *PAIR, "--diameter", repr(diameter), "--json"]) == 0
    stall = json.loads(capsys.readouterr().out)["stall"]
    assert stall["engine_speed_rpm"] == pytest.approx(1900.0, rel=1e-9)
    assert answer["torque_wanted"]["full_load_torque_factor"] > 1.0


def test_text_says_what_converter_and_what_torque(capsys):
    status, out, _ = run(
        capsys, *PAIR, "--stall-speed", "1900", "--input-speed-at-80", "2100", "--units", "us"
    )
    assert status == 3  # each has a size, and no size has both
    assert "The targets contradict each other" in out
    assert "profile diameter" in out
    assert "Or with this converter as it is" in out
    assert "lower end of 80 % efficiency" in out


def test_two_targets_are_looked_at_for_one_common_size(capsys):
    status, out, _ = run(capsys, *PAIR, "--stall-speed", "1900", "--input-speed-at-80", "2100",
                         "--json")  # fmt: skip
    assert status == 3
    both = json.loads(out)["common_size"]
    assert both["possible"] is False
    misses = [target["miss_percent"] for target in both["targets"]]
    assert misses[0] == pytest.approx(-misses[1], abs=0.01)
    # What the first target's own size makes of the second is a second target that agrees.
    own = json.loads(out)["size_for_stall_speed"]["profile_diameter_mm"]
    assert main(["solve", *PAIR, "--diameter", repr(own), "--json"]) in (0, 3)
    ranges = json.loads(capsys.readouterr().out)["efficiency_ranges"]
    speed = next(row for row in ranges if row["level"] == 0.8)["lower"]["engine_speed_rpm"]
    status, out, _ = run(capsys, *PAIR, "--stall-speed", "1900", "--input-speed-at-80",
                         repr(speed), "--json")  # fmt: skip
    both = json.loads(out)["common_size"]
    assert (status, both["possible"]) == (0, True)
    assert both["profile_diameter_mm"] == pytest.approx(own, rel=1e-9)


@pytest.mark.parametrize(
    ("more", "why"),
    [
        (("--stall-speed", "2600"), "above high idle"),
        (
            ("--stall-speed", "1900", "--diameter-range", "340,350"),
            "outside the range of 340 mm to 350 mm",
        ),
    ],
)
def test_no_such_size_is_exit_status_3_with_the_reason(capsys, more, why):
    status, out, err = run(capsys, *PAIR, *more)
    assert (status, err) == (3, "")
    assert why in out


@pytest.mark.slow
def test_the_library_on_a_route_with_a_figure(capsys, tmp_path):
    figure = tmp_path / "trials.svg"
    status, out, _ = run(capsys, *ROUTE, "--library", "--json", "--figure", str(figure))
    assert status == 0
    trials = json.loads(out)["route_trials"]["trials"]
    times = [item["route_time_s"] for item in trials if item["keeps_limits"]]
    assert times == sorted(times)
    assert trials[0]["pareto"]
    assert figure.read_text(encoding="utf-8").lstrip().startswith("<?xml")


@pytest.mark.slow
def test_a_study_ranks_the_library(capsys, tmp_path):
    study = tmp_path / "study.toml"
    study.write_text(
        """
schema = "converter-match/study/1"
id = "small"
name = "Small"
source = "test"
[[candidate]]
id = "new"
name = "New"
engine = "six-cylinder-7l-185kw"
converter = "single-stage-345mm-tight"
""",
        encoding="utf-8",
    )
    status, out, _ = run(capsys, "--study", str(study), "--json")
    ranking = json.loads(out)
    assert status == (0 if ranking["winner"] else 3)
    assert len(ranking["converters"]) >= 10
    headlines = [row["headline"] for row in ranking["converters"]]
    assert "stall speed" not in headlines[0].split("not known")[0]
    assert "not met" in headlines[-1]


@pytest.mark.parametrize(
    ("argv", "message"),
    [
        (PAIR, "no target is given"),
        (PAIR[:2], "--converter: no components are named"),
        ((*PAIR, "--candidate", "new"), "--candidate: only goes with a study"),
        ((*PAIR, "--study", "s.toml"), "--engine: the study says that already"),
        ((*PAIR, "--stall-speed", "1900 kW"), "--stall-speed: 'kW' is a power unit"),
        ((*PAIR, "--stall-speed", "-5"), "--stall-speed: out of range; found '-5'"),
        ((*PAIR, "--stall-speed", "1900", "--library"), "--library: only goes with a route"),
        ((*PAIR, "--route", "quarry-to-crusher"), "--driveline: a route needs it"),
        ((*PAIR, "--stall-speed", "1900", "--diameter-range", "350"), "not a range of diameters"),
        ((*ROUTE, "--library", "--diameter-range", "350,400"), "a library is tried as it is"),
        ((*ROUTE, "--converters", "no-such-folder"), "no folder with converter files"),
        ((*ROUTE, "--diameter-range", "50,400"), "--diameter-range: not a range"),
    ],
)
def test_bad_input_is_one_message_and_exit_status_2(capsys, argv, message):
    status, out, err = run(capsys, *argv)
    assert (status, out) == (2, "")
    assert message in err
    assert err.count("\n") == 1
