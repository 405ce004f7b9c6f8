"""The verbs route and accelerate as a person or a script uses them."""

import csv
import json

import pytest

from converter_match.cli import main
from tests.haul_examples import HAULER, LOADER


def named(which):
    keys = ("--engine", "--converter", "--driveline", "--machine")
    return [word for pair in zip(keys, which, strict=True) for word in pair]


def test_route_prints_cycle_segments_and_notes(capsys):
    assert main(["route", *named(HAULER), "--route", "quarry-to-crusher"]) == 0
    said = capsys.readouterr().out
    for words in (
        "t/h",
        "L/h",
        "L/t",
        "maximum oil temperature",
        "service-brakes-carry-descent",
        "driven-hard",
    ):
        assert words in said


def test_route_json_adds_up(capsys):
    assert main(["route", *named(HAULER), "--route", "quarry-to-crusher", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert abs(data["energy_imbalance"]) < 1e-6
    cycle = data["cycle"]
    assert cycle["payload_t"] == 25.0
    hours = cycle["time_min"] / 60
    assert cycle["production_t_per_h"] == pytest.approx(25.0 / hours)
    assert cycle["fuel_l_per_t"] == pytest.approx(cycle["fuel_l"] / 25.0)
    assert sum(row["time_s"] for row in data["segments"]) == pytest.approx(60 * cycle["time_min"])
    assert sum(row["fuel_kg"] for row in data["segments"]) == pytest.approx(cycle["fuel_kg"])
    held_back = [row for row in data["segments"] if row["retarding_needed_kw"] is not None]
    assert all(row["grade_percent"] < 0 for row in held_back)
    assert held_back


def test_machine_that_cannot_move_is_answered_with_where_and_why(capsys):
    assert main(["route", *named(HAULER), "--route", "too-steep", "--json"]) == 3
    data = json.loads(capsys.readouterr().out)
    assert data["arrives"] is False
    stand = data["standstill"]
    assert (stand["segment"], stand["limited_by"]) == (3, "grip")
    assert stand["effort_kn"] < stand["resistance_kn"]
    assert "cannot-move-on" in {note["code"] for note in data["warnings"]}


@pytest.mark.slow
def test_route_writes_steps_and_figure_and_does_not_overwrite(tmp_path, capsys):
    steps, figure = tmp_path / "steps.csv", tmp_path / "route.png"
    words = ["route", *named(HAULER), "--route", "quarry-to-crusher", "--units", "us"]
    words += ["--csv", str(steps), "--figure", str(figure)]
    assert main(words) == 0
    assert "mph" in capsys.readouterr().out
    units, *rows = csv.DictReader(steps.read_text(encoding="utf-8").splitlines())
    assert units["distance_ft"] == "ft"
    assert float(rows[-1]["distance_ft"]) == pytest.approx(3460.0 / 0.3048)
    assert {row["lock_up"] for row in rows} == {"yes", "no"}
    assert figure.read_bytes()[:4] == b"\x89PNG"
    assert main(words) == 2
    assert "already" in capsys.readouterr().err


@pytest.mark.slow
def test_short_cycle_prints_its_phases(capsys):
    assert main(["route", *named(LOADER), "--cycle", "loader-truck-loading"]) == 0
    said = capsys.readouterr().out
    for words in ("crowd", "dump", "t/h", "mean heat into the oil"):
        assert words in said


@pytest.mark.slow
def test_short_cycle_json_adds_up(capsys):
    assert main(["route", *named(LOADER), "--cycle", "loader-truck-loading", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert sum(row["time_s"] for row in data["phases"]) == pytest.approx(data["summary"]["time_s"])
    crowd = next(row for row in data["phases"] if row["kind"] == "crowd")
    assert crowd["time_s"] == 4.5
    assert crowd["oil_heat_kj"] == max(row["oil_heat_kj"] for row in data["phases"])


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--route", "quarry-to-crushr"], "did you mean 'quarry-to-crusher'"),
        (["--route", "quarry-to-crusher", "--braking", "0"], "--braking: out of range"),
        (["--cycle", "loader-truck-loading", "--braking", "1"], "--braking: does not go with"),
    ],
)
def test_bad_input_is_one_message(words, message, capsys):
    assert main(["route", *named(HAULER), *words]) == 2
    error = capsys.readouterr().err
    assert message in error
    assert error.count("\n") == 1


def test_accelerate_reaches_a_speed(capsys):
    words = ["accelerate", *named(HAULER), "--surface", "firm smooth earth", "--load", "empty"]
    assert main([*words, "--to-speed", "30", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["ending"] == "reached"
    times = [mark["time_s"] for mark in data["milestones"]]
    assert times == sorted(times)
    assert sum(row["time_s"] for row in data["gears"]) <= data["time_s"]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("words", "drawn"),
    [
        (("route", *named(LOADER), "--cycle", "loader-truck-loading"), "heat into the oil"),
        (
            ("accelerate", *named(HAULER), "--surface", "firm smooth earth", "--to-speed", "30"),
            "gear engaged",
        ),
    ],
    ids=["cycle", "accelerate"],
)
def test_cycle_and_run_from_rest_are_drawn(words, drawn, tmp_path, capsys):
    figure = tmp_path / "drawn.svg"
    assert main([*words, "--figure", str(figure)]) == 0
    plain = capsys.readouterr().out
    assert main([*words]) == 0
    assert capsys.readouterr().out == plain
    assert drawn in figure.read_text("utf-8")


def test_accelerate_says_why_a_speed_is_never_reached(capsys):
    words = ["accelerate", *named(HAULER), "--surface", "firm smooth earth"]
    assert main([*words, "--to-speed", "60", "--grade", "5"]) == 3
    assert "speed-not-reached" in capsys.readouterr().out


def test_accelerate_names_the_option_of_a_gear_that_is_not_there(capsys):
    words = ["accelerate", *named(HAULER), "--surface", "firm smooth earth", "--to-speed", "30"]
    assert main([*words, "--gear", "7"]) == 2
    said = capsys.readouterr().err.strip()
    assert said.endswith(
        "--gear: no such gear in this direction; found '7'; expected 1 | 2 | 3 | 4 | 5 | 6"
    )


def test_accelerate_help_says_what_load_is_taken(capsys):
    with pytest.raises(SystemExit):
        main(["accelerate", "--help"])
    assert "load state (default: laden)" in capsys.readouterr().out


def test_accelerate_up_a_wall_prints_no_rows_of_zeros(capsys):
    words = ["accelerate", *named(HAULER), "--surface", "firm smooth earth", "--to-speed", "30"]
    assert main([*words, "--grade", "90"]) == 3
    said = capsys.readouterr().out
    assert "\ndoes not start: insufficient tractive effort\n" in said
    assert "0.0       0.0" not in said


def test_route_of_a_machine_that_does_not_start_is_plain_data(capsys):
    weak = ("four-cylinder-2l5-45kw", "single-stage-420mm", *HAULER[2:])
    assert main(["route", *named(weak), "--route", "quarry-to-crusher", "--json"]) == 3
    data = json.loads(capsys.readouterr().out)
    assert (data["arrives"], data["energy_imbalance"]) == (False, None)


# Round numbers for a test: out, back up a ramp in reverse, out again.
THERE_AND_BACK = """\
# name: Out and back up
# source: round numbers for a test
length [m],grade [%],surface,speed limit [km/h],load,direction,stop [s]
200,0,firm smooth earth,,laden,forward,5
120,3,firm smooth earth,,laden,{direction},5
200,0,firm smooth earth,,empty,,
"""


@pytest.mark.slow
def test_leg_in_reverse_is_driven_in_the_reverse_gears(tmp_path, capsys):
    file = tmp_path / "route.csv"
    rows = {}
    for direction in ("forward", "reverse"):
        file.write_text(THERE_AND_BACK.format(direction=direction), "utf-8")
        assert main(["route", *named(HAULER), "--route", str(file), "--json"]) == 0
        rows[direction] = json.loads(capsys.readouterr().out)["segments"]
    for before, after in zip(rows["forward"][::2], rows["reverse"][::2], strict=True):
        assert before["direction"] == after["direction"] == "forward"
        assert after["time_s"] == pytest.approx(before["time_s"], rel=1e-6)
    ahead, astern = rows["forward"][1], rows["reverse"][1]
    assert astern["direction"] == "reverse"
    assert set(astern["gears"]) <= {"R1", "R2"}
    assert not set(ahead["gears"]) & {"R1", "R2"}
    # The gearbox file's R2, 2.95, is shorter than its 2, 2.90, and there is none beyond.
    assert astern["top_speed_kmh"] < ahead["top_speed_kmh"]


def test_direction_that_is_none_is_one_message(tmp_path, capsys):
    file = tmp_path / "route.csv"
    file.write_text(THERE_AND_BACK.format(direction="sideways"), "utf-8")
    assert main(["route", *named(HAULER), "--route", str(file)]) == 2
    said = capsys.readouterr().err
    assert "line 5, direction" in said
    assert "expected forward | reverse" in said


def seconds(capsys, *words):
    assert main(["accelerate", *named(HAULER), "--to-speed", "20", "--json", *words]) == 0
    return json.loads(capsys.readouterr().out)["time_s"]


@pytest.mark.slow
def test_accelerate_takes_ground_by_name_or_by_its_numbers(capsys):
    named_ground = seconds(capsys, "--surface", "firm smooth earth")
    stiff = seconds(capsys, "--surface", "firm smooth earth", "--rolling-resistance", "5")
    assert stiff > named_ground
    alone = seconds(capsys, "--rolling-resistance", "5", "--traction", "0.6")
    assert alone == pytest.approx(stiff, rel=0.05)
    # All wheels drive: mu g less rolling resistance is all the ground passes on.
    icy = seconds(capsys, "--rolling-resistance", "2", "--traction", "0.08")
    assert icy > (20 / 3.6) / ((0.08 - 0.02) * 9.80665)
