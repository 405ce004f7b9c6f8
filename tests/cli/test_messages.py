"""Wrong values are said in the option's own words, with the nearest right thing."""

import json

import pytest

from converter_match.cli import main
from converter_match.library.shipped import data_folder
from converter_match.units.written import comma_hint
from tests.cli.test_parser import PAIR

DATA = data_folder()

LOADER = (*PAIR, "--driveline", "four-speed-loader", "--machine", "wheel-loader-17t")
HAULER = ("--engine", "six-cylinder-9l-240kw", "--converter", "single-stage-390mm-full-range",
          "--driveline", "six-speed-hauler", "--machine", "articulated-hauler-25t")  # fmt: skip


@pytest.mark.parametrize(
    ("argv", "says"),
    [
        (("stall", *PAIR, "--coverage", "120"), "found '120'; expected 50 to 99.9 %"),
        (("stall", *PAIR, "--engine-tolerance", "-3"),
         "found '-3'; expected above 0, at most 30 %"),
        (("stall", *PAIR, "--reading", "speed=-1600"),
         "found '-1600 rpm'; expected 200 to 8000 rpm"),
        (("solve", *PAIR, "--altitude", "2,5"), "write 2.5, not 2,5"),
        (("solve", PAIR[0], PAIR[3], PAIR[2], PAIR[1]), "converters: options interchanged?"),
        (("tractive", *PAIR, "--driveline", "wheel-loader-17t", "--machine", "wheel-loader-17t"),
         "wheel-loader-17t: no such file, and not the id of one of the shipped drivelines"),
        (("intake", str(DATA / "engines" / "six-cylinder-7l-185kw.toml")),
         "is a component file already"),
        (("intake", str(DATA / "studies")), "is a folder"),
        (("route", *LOADER, "--cycle", "too-steep"), "one of the shipped routes"),
        (("audit", *PAIR, "--claim", "stall torque ratio=2,4"),
         "expected for example 1.5; write 2.4"),
    ],
)  # fmt: skip
def test_wrong_value_is_said_as_it_was_written(capsys, argv, says):
    assert main(list(argv)) == 2
    said = capsys.readouterr().err
    assert says in said
    assert said.count("\n") == 1


# A name longer than a disk takes, one with a NUL: asking the disk for them is an error in itself.
@pytest.mark.slow
@pytest.mark.parametrize("name", [300 * "x", 300 * "x" + ".toml", 3000 * "x/", "x\0y", "x\ud800y"])
@pytest.mark.parametrize(
    "argv",
    [
        ("check", "NAME"),
        ("solve", "--engine", "NAME", PAIR[2], PAIR[3], "--figure", "x"),
        ("solve", *PAIR, "--arrangement", "NAME", "--figure", "x"),
        ("route", *HAULER, "--route", "NAME"),
        ("study", "NAME"),
        ("study", "quarry-loader-repower", "--out", "NAME"),
        ("lesson", "--out", "NAME"),
        ("stall", *PAIR, "--reading", "speed=1700rpm", "--name", "q", "--log", "NAME"),
        ("lab", "--folder", "NAME"),
    ],
    ids=lambda argv: " ".join(word for word in argv if word.isalpha() or word.startswith("--"))[
        :40
    ],
)
def test_a_name_that_no_file_can_have_is_refused_in_one_line(
    argv, name, capsys, tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    assert main([name if word == "NAME" else word for word in argv]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("converter-match: ")
    assert said.err.count("\n") == 1
    assert [*tmp_path.iterdir()] == []


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("2,5", "write 2.5, not 2,5"),
        ("1,880 rpm", "write 1880 or 1.880, not 1,880"),
        ("1,880.5", "write 1880.5, not 1,880.5"),
        ("1,880,000", "write 1880000, not 1,880,000"),
        ("a,b", "write 1.5, not 1,5"),
        ("25", None),
    ],
)
def test_comma_is_told_from_both_of_its_meanings(text, hint):
    assert comma_hint(text) == hint


def test_no_brake_work_is_not_less_than_none(capsys):
    assert main(["route", *HAULER, "--route", "too-steep"]) == 3
    said = capsys.readouterr().out
    assert "service brake work: 0.0 MJ" in said
    assert "-0 " not in said


@pytest.mark.slow
def test_acceleration_lists_what_is_taken_for_air_and_ground_and_its_times_add_up(capsys):
    argv = ["accelerate", *HAULER, "--surface", "firm smooth earth", "--to-speed", "40"]
    assert main([*argv, "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert {"air-density-standard", "surface-from-table"} <= {
        n["code"] for n in data["assumptions"]
    }
    assert main(argv) == 0
    said = capsys.readouterr().out
    ran = (" converter ", " lock-up ", "time in shifts")
    lines = [line for line in said.splitlines() if any(words in line for words in ran)]
    times = [float(line.split()[-2]) for line in lines]
    assert len(times) > 5
    assert sum(times) == pytest.approx(data["time_s"], abs=0.05 * len(times))
    assert main([*argv, "--altitude", "500"]) == 0
    assert "air-density-standard" not in capsys.readouterr().out


@pytest.mark.slow
def test_readings_stand_in_columns_and_the_hazard_is_said_once(capsys):
    argv = ["stall", *LOADER, "--relief-torque", "250",
            "--reading", "gear=3 speed=1600 oil=85degC brakes=held",
            "--reading", "test=hydraulic speed=2262"]  # fmt: skip
    main(argv)
    said = capsys.readouterr().out
    lines = said.splitlines()
    first = next(k for k, line in enumerate(lines) if "engine speed" in line)
    assert lines[first].index("engine speed") + len("engine speed") == lines[first + 1].index(
        " rpm"
    ) + len(" rpm")
    rows = {line.split()[0].rstrip(","): line for line in lines[first + 2 : first + 4]}
    assert rows["converter"].index("1600") == rows["hydraulic"].index("2262")
    assert said.count("the machine can break loose") == 1
    main([*argv, "--json"])
    assert "stall-test-hazard" in capsys.readouterr().out
    assert main(["stall", *LOADER, "--expect"]) == 0
    assert "[hold-oil-alone]" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("names", "says"),
    [
        (("--csv", "a.csv", "--figure", "a.csv"), "--figure: the suffix does not name a figure"),
        (("--csv", "a.png", "--figure", "a.png"), "is named by --csv too"),
        (("--csv", "a.csv", "--figure", "there.png"), "--figure: is there already"),
        (("--csv", "a.csv", "--figure", "no/such/a.png"), "there is no such folder"),
        (("--csv", "a.csv", "--figure", "folder.png"), "--figure: is a folder"),
        (("--csv", "there.png", "--figure", "a.png"), "--csv: is there already"),
    ],
)
def test_of_two_files_asked_for_none_is_left_when_one_cannot_be_written(
    capsys, tmp_path, monkeypatch, names, says
):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "there.png").write_bytes(b"mine")
    (tmp_path / "folder.png").mkdir()
    assert main(["solve", *PAIR, *names]) == 2
    said = capsys.readouterr()
    assert says in said.err
    assert said.out == ""
    assert sorted(path.name for path in tmp_path.iterdir()) == ["folder.png", "there.png"]
    assert (tmp_path / "there.png").read_bytes() == b"mine"
