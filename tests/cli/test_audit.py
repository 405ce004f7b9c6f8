"""The verb audit as a person or a script uses it."""

import json

import pytest

from converter_match.cli import main

PAIR = ("--engine", "six-cylinder-7l-185kw", "--converter", "single-stage-345mm-tight")


def run(capsys, *argv):
    status = main(["audit", *argv])
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def test_claims_that_agree_are_exit_status_0(capsys):
    status, out, _ = run(
        capsys, *PAIR, "--claim", "stall torque ratio=2.2",
        "--claim", "Stall K-Factor=72.1 rpm/sqrt(lbf.ft); tolerance=0.5 %",
    )  # fmt: skip
    assert status == 0
    assert "2 claims: 2 agree\n" in out


def test_a_gross_stall_speed_is_found_and_is_exit_status_3(capsys):
    # `solve` with the accessories taken off gives the number that a dealer without them quotes
    status, out, _ = run(capsys, *PAIR, "--claim", "stall speed=1867 rpm; tolerance=1 %", "--json")
    assert status == 3
    [found] = json.loads(out)["claims"]
    assert found["verdict"] == "disagrees"
    assert found["explained_by"] == ["gross-torque"]
    assert found["unit"] == "rpm"


@pytest.mark.slow
def test_a_sibling_and_another_power_setting_are_tried_where_they_are_named(capsys):
    loose, strong = "single-stage-345mm-loose", "six-cylinder-8l-205kw-late-boost"
    speeds = []
    for engine, converter in ((PAIR[1], loose), (strong, PAIR[3])):
        status = main(["solve", "--engine", engine, "--converter", converter, "--json"])
        assert status in (0, 3)
        speeds.append(json.loads(capsys.readouterr().out)["stall"]["engine_speed_rpm"])
    claims = [part for n in speeds for part in ("--claim", f"stall speed={n:.2f} rpm")]
    without = run(capsys, *PAIR, *claims, "--json")[1]
    named = run(capsys, *PAIR, *claims, "--sibling", loose, "--rating", strong, "--json")[1]
    assert [one["explained_by"] for one in json.loads(without)["claims"]] == [None, None]
    assert [one["explained_by"] for one in json.loads(named)["claims"]] == [
        [f"sister-{loose}"], [f"other-rating-{strong}"],
    ]  # fmt: skip


@pytest.mark.slow
def test_a_speed_in_the_other_unit_is_found_by_the_unit_that_is_typed(capsys):
    # mile / km, with the loader's 38.1 km/h: 23.7 of them are miles
    wheels = ("--driveline", "four-speed-loader", "--machine", "wheel-loader-17t",
              "--surface", "firm smooth earth")  # fmt: skip
    _, out, _ = run(capsys, *PAIR, *wheels, "--claim", "top speed=1 km/h", "--json")
    ours = json.loads(out)["claims"][0]["ours"]
    claim = f"top speed={ours / 1.609344:.3f} km/h"
    _, out, _ = run(capsys, *PAIR, *wheels, "--claim", claim, "--json")
    [found] = json.loads(out)["claims"]
    assert found["explained_by"] == ["claim-km-h-for-mph"]


def test_best_efficiency_says_which_of_the_two_it_is_held_against(capsys):
    status, out, _ = run(capsys, *PAIR, "--claim", "best efficiency=87 %", "--json")
    assert status == 0
    assert json.loads(out)["claims"][0]["reading"] == "conversion-range"


def test_what_cannot_be_checked_is_said_and_is_no_failure(capsys):
    status, out, _ = run(capsys, *PAIR, "--claim", "top speed=38 km/h")
    assert status == 0
    assert "cannot be checked" in out
    assert "missing: a driveline file" in out


def test_claims_at_the_wheels_in_us_units(capsys):
    status, out, _ = run(
        capsys, *PAIR, "--driveline", "four-speed-loader", "--machine", "wheel-loader-17t",
        "--surface", "firm smooth earth", "--units", "us",
        "--claim", "speed on grade=11 mph; grade=8 %; tolerance=1 %",
    )  # fmt: skip
    assert status == 0, out
    [row] = [line.split() for line in out.splitlines() if line.startswith("  speed on grade")]
    # claimed as stated, the same number in the reader's unit, and ours
    assert row[row.index("mph") - 1 : row.index("mph") + 3] == ["11", "mph", "11.0", "mph"]
    assert row.count("mph") == 3
    assert row[-1] == "agrees"


@pytest.mark.slow
def test_the_shipped_study_is_audited(capsys):
    status, out, _ = run(capsys, "data/studies/quarry-loader-repower.toml", "--json")
    assert status in (0, 3)
    assert len(json.loads(out)["claims"]) >= 3


@pytest.mark.parametrize(
    ("argv", "message"),
    [
        ((), "--engine: no components are named"),
        (PAIR, "--claim: nothing to check"),
        ((*PAIR, "--claim", "stall sped=2100 rpm"), "did you mean 'stall-speed'"),
        ((*PAIR, "--claim", "stall speed=2100 kW"), "'kW' is a power unit"),
        ((*PAIR, "--claim", "stall speed=2100"), "no unit given"),
        ((*PAIR, "--claim", "stall speed"), "not a claim"),
        ((*PAIR, "--claim", "stall speed=2100 rpm; tolerance=-2 %"), "cannot be below zero"),
        ((*PAIR, "--claim", "stall speed=2100 rpm; geer=2"), "did you mean 'gear'?"),
        ((*PAIR, "--claim", "stall speed=-9 rpm"), "number above zero"),
        (("study.toml", *PAIR), "the study says that already"),
        (("study.toml", "--sibling", PAIR[3]), "--sibling: the study says that already"),
        ((*PAIR, "--claim", "stall speed=2100 rpm", "--rating", "no-such"), "no-such"),
    ],
)
def test_bad_input_is_one_message_and_exit_status_2(capsys, argv, message):
    status, out, err = run(capsys, *argv)
    assert (status, out) == (2, "")
    assert message in err
    assert err.count("\n") == 1
