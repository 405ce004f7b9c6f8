"""``check`` takes every kind of file that the tool reads, and says what it does not judge."""

import json

import pytest

from converter_match.cli import main
from converter_match.library.recognise import recognise
from converter_match.library.shipped import data_folder
from tests.study_examples import study_file

DATA = data_folder()
SURFACES = """\
schema = "converter-match/surfaces/1"
id = "mine"
name = "The ground here"
source = "invented, for this test"

[[surface]]
name = "peat"
rolling_resistance = { unit = "percent", value = 15 }
"""
FUEL = "speed [rpm],torque [N.m],rate [kg/h]\n800,100,3\n800,200,5\n1000,100,4\n1000,200,6\n"
READINGS = "engine speed [rpm],gear\n1700,3\n"


def check(capsys, *argv):
    status = main(["check", *map(str, argv)])
    said = capsys.readouterr()
    return status, said.out, said.err


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("logs/loader-shift.csv", "machine log 'loader-shift' can be read, 7920 rows"),
        ("logs/stall-tests.csv", "stall log 'stall-tests' can be read, 10 tests"),
    ],
)
def test_what_is_not_judged_is_said(capsys, name, says):
    status, out, _ = check(capsys, DATA / name)
    assert status == 0
    assert says in out
    assert "not judged" in out
    assert "nothing odd" not in out


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("routes/quarry-to-crusher.csv", "route 'quarry-to-crusher' can be read, 14 segments"),
        ("routes/too-steep.csv", "route 'too-steep' can be read, 4 segments"),
        ("duties/loader-loading-shift.csv", "duty 'loader-loading-shift' can be read, 6 points"),
        ("cycles/loader-truck-loading.csv", "cycle 'loader-truck-loading' can be read, 6 phases"),
        ("motor-studies/lift-truck-electric.toml", "study 'lift-truck-electric' can be read"),
        ("catalogues/quarry-loader-parts.toml", "with 12 combinations"),
        ("published/surfaces.csv", "surfaces 'surfaces' can be read, 9 surfaces"),
        ("arrangements/winch-output-split.toml", "arrangement 'winch-output-split' can be read"),
        ("loads/yarder-winch.toml", "load 'yarder-winch' can be read"),
        ("blading/loader-390mm.toml", "blading 'loader-390mm' can be read"),
    ],
)
def test_every_kind_of_shipped_file_is_read_and_nothing_is_odd_about_it(capsys, name, says):
    status, out, _ = check(capsys, DATA / name)
    assert status == 0
    assert says in out
    assert "nothing odd found" in out


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("mine.toml", SURFACES, "surfaces 'mine' can be read, 1 surface\n"),
        ("mine.csv", FUEL, "fuel map 'mine' can be read, 4 points"),
        ("mine.csv", READINGS, "readings 'mine' can be read, 1 reading\n"),
        ("mine.toml", '[columns]\nMoment = "turbine_torque"\n', "mapping 'mine' can be read"),
    ],
)
def test_further_kinds_are_known_by_their_first_lines(capsys, tmp_path, name, text, says):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    status, out, _ = check(capsys, path)
    assert status == 0
    assert says in out


def test_what_is_wrong_in_a_table_is_said_with_its_line(capsys, tmp_path):
    route = tmp_path / "route.csv"
    route.write_text("length [m],grade [%],surface\n100,abc,firm smooth earth\n", encoding="utf-8")
    status, _, err = check(capsys, route)
    assert status == 2
    assert "line 2, grade: not a number" in err
    surfaces = tmp_path / "surfaces.toml"
    surfaces.write_text(SURFACES.replace("15", "-15"), encoding="utf-8")
    status, _, err = check(capsys, surfaces)
    assert status == 2
    assert "surface (no. 1).rolling_resistance" in err


def test_surfaces_of_the_route_may_be_ones_own(capsys, tmp_path):
    route, surfaces = tmp_path / "route.csv", tmp_path / "surfaces.toml"
    route.write_text("length [m],grade [%],surface\n100,2,peat\n", encoding="utf-8")
    surfaces.write_text(SURFACES, encoding="utf-8")
    assert check(capsys, route)[0] == 2
    assert check(capsys, route, "--surfaces", surfaces)[0] == 0


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("sheet.csv", "nu,K\n0,60\n0.1,61\n", "converter-match intake"),
        ("notes.txt", "Ask the dealer, and soon.\nThen buy.\n", "not valid TOML"),
        ("chart.toml", 'image = "a.png"\n[x]\nquantity = "speed ratio"\n', "intake"),
    ],
)
def test_a_file_of_no_kind_is_sent_where_it_belongs(capsys, tmp_path, name, text, says):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    status, out, err = check(capsys, path)
    assert (status, out) == (2, "")
    assert says in err


def test_odd_data_of_a_file_that_a_study_names_are_found(capsys, tmp_path):
    sheet = (DATA / "converters" / "single-stage-345mm-tight.toml").read_text(encoding="utf-8")
    assert "value = 345" in sheet
    # Ten times the size with the same capacity: no converter absorbs so little.
    (tmp_path / "odd.toml").write_text(
        sheet.replace("value = 345", "value = 690"), encoding="utf-8"
    )
    path = study_file(tmp_path, ('"single-stage-345mm-tight"', '"odd.toml"'))
    status, out, _ = check(capsys, path)
    assert status == 0
    assert "odd [" in out
    assert "converter 'single-stage-345mm-tight':" in out
    _, out, _ = check(capsys, path, "--json")
    [file] = json.loads(out)["files"]
    assert file["odd"][0]["of"] == "converter 'single-stage-345mm-tight'"
    assert file["kind"] == "study"


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("engines/six-cylinder-7l-185kw.toml", "engine"),
        ("studies/hauler-converter.toml", "study"),
        ("published/manual_facts.csv", "sheet"),
    ],
)
def test_kind_of_a_file_is_recognised(name, kind):
    assert recognise(DATA / name).name == kind


def test_what_is_no_file_has_no_kind(tmp_path):
    assert recognise(tmp_path) is None
    assert recognise(tmp_path / "none") is None
    assert recognise("\0") is None


def test_a_file_of_another_kind_is_named_where_it_was_given(capsys):
    pair = ["--converter", "single-stage-345mm-tight"]
    route = str(DATA / "routes" / "too-steep.csv")
    assert main(["solve", "--engine", route, *pair]) == 2
    assert "it looks like a haul route" in capsys.readouterr().err
    assert main(["identify", route]) == 2
    assert "it looks like a haul route" in capsys.readouterr().err
    engine = str(DATA / "engines" / "six-cylinder-7l-185kw.toml")
    argv = ["route", "--engine", engine, *pair, "--driveline", "four-speed-loader",
            "--machine", "wheel-loader-17t", "--route", engine]  # fmt: skip
    assert main(argv) == 2
    assert "it looks like an engine file, which goes to: --engine" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("id", "says"),
    [
        (
            "quarry-loader-parts",
            "catalogue 'quarry-loader-parts' can be read, with 12 combinations",
        ),
        ("six-cylinder-7l-185kw", "engine 'six-cylinder-7l-185kw' can be read"),
        ("adjustable-stator-365mm", "'adjustable-stator-365mm' can be read"),
        ("lift-truck-80v-30kw", "motor 'lift-truck-80v-30kw' can be read"),
        ("plateau-quarry-hot-day", "site 'plateau-quarry-hot-day' can be read"),
        ("too-steep", "route 'too-steep' can be read, 4 segments"),
    ],
)
def test_shipped_file_of_any_kind_goes_by_its_id(id, says, capsys):
    status, said, _ = check(capsys, id)
    assert status == 0
    assert says in said


def test_mistyped_id_names_the_nearest(capsys):
    status, _, error = check(capsys, "quarry-loader-part")
    assert status == 2
    assert "did you mean 'quarry-loader-parts'" in error


def test_pattern_that_the_shell_leaves_alone_means_its_files(capsys, monkeypatch):
    monkeypatch.chdir(DATA)
    status, said, _ = check(capsys, "sites/*.toml", "--json")
    assert status == 0
    files = [each["file"] for each in json.loads(said)["files"]]
    assert files == [f"sites/{path.name}" for path in sorted((DATA / "sites").glob("*.toml"))]
    status, _, error = check(capsys, "nothing-here-*.toml")
    assert (status, error.count("\n")) == (2, 1)
