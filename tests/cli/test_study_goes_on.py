"""One combination that gives no answer in one condition does not end a study.

It gets its verdict and a dash; the other combinations are judged as ever.
"""

from __future__ import annotations

import csv
import json
import tomllib

import pytest
import tomlkit

from converter_match.cli import main
from converter_match.library.shipped import find
from tests.study_examples import study_file

TOLERANCE = """
[[tolerance]]
quantity = "engine-torque"
half_width = { unit = "percent", value = 3 }
"""
PUMPS = """\
schema = "converter-match/arrangement/1"
id = "pumps"
name = "Pumps"
source = "made for a test"

[hydraulic_sharing]
speed = {{ unit = "rpm", values = [600, 1400, 2600] }}
standby = {{ unit = "N*m", values = [18, 20, 24] }}
relief = {{ unit = "N*m", values = [{relief}, {relief}, {relief}] }}
"""
NEW = 'engine = "six-cylinder-7l-185kw"\n'
MACHINE = 'machine = "wheel-loader-17t"\n'
SURFACE = 'surface = "firm smooth earth"\n'


@pytest.fixture(autouse=True)
def quick(request):
    """Leave out what is drawn, which takes seconds, where a test does not ask for it."""
    if "whole" not in request.fixturenames:
        request.getfixturevalue("without_pictures")


@pytest.fixture
def whole():
    """Ask for all of it."""


def run(capsys, folder, *changes, more=""):
    """Run a study into a folder; return status, what was said, result and tables."""
    path = study_file(folder, *changes, more=more + TOLERANCE)
    argv = ["study", str(path), "--out", str(folder / "out"), "--draws", "60"]
    status = main(argv)
    said = capsys.readouterr()
    assert said.err == ""
    data = json.loads((folder / "out" / "result.json").read_text(encoding="utf-8"))
    tables = {}
    for item in (folder / "out" / "tables").iterdir():
        with item.open(encoding="utf-8-sig", newline="") as file:
            tables[item.name] = list(csv.DictReader(file))
    return status, said.out, data, tables


def verdicts(data, combination, name):
    item = next(row for row in data["combinations"] if row["id"] == combination)
    criterion = next(row for row in item["criteria"] if row["name"] == name)
    return [row["verdict"] for row in criterion["conditions"]]


def drawn(data, combination, condition):
    items = data["uncertainty"]["combinations"]
    figures = next(row for row in items if row["combination"] == combination)["figures"]
    return {row["name"]: row["percent_50"] for row in figures if row["condition"] == condition}


def pumps(folder, name, relief):
    (folder / name).write_text(PUMPS.format(relief=relief), encoding="utf-8")
    return f'arrangement = "{name}"\n'


def test_candidate_without_stall_under_relief_has_its_verdict_and_a_dash(capsys, tmp_path, whole):
    changes = (
        (MACHINE, MACHINE + pumps(tmp_path, "small-pumps.toml", 100)),
        (NEW, NEW + pumps(tmp_path, "large-pumps.toml", 760)),
    )
    status, said, data, tables = run(capsys, tmp_path, *changes)
    assert status == 3
    assert verdicts(data, "new-engine", "single-stable-match") == ["pass", "fail"]
    assert verdicts(data, "present", "single-stable-match") == ["pass", "pass"]
    standby, relief = data["conditions"]
    assert drawn(data, "new-engine", relief)["stall-speed"] is None
    assert drawn(data, "new-engine", standby)["stall-speed"] is not None
    assert drawn(data, "present", relief)["stall-speed"] is not None
    rows = {
        row["combination"]: row["value"]
        for row in tables["comparison.csv"]
        if row["condition"] == relief and row["figure"] == "stall speed"
    }
    assert rows["new-engine"] == ""
    assert float(rows["present"]) > 0.0
    assert "Decision: do not order" in said
    assert (tmp_path / "out" / "report.pdf").stat().st_size > 10_000


def test_nobody_stalls_under_relief(capsys, tmp_path):
    changes = (
        (MACHINE, MACHINE + pumps(tmp_path, "pumps.toml", 760)),
        (NEW, NEW + pumps(tmp_path, "pumps.toml", 760)),
    )
    status, _, data, _ = run(capsys, tmp_path, *changes)
    assert status == 3
    assert set(drawn(data, "present", data["conditions"][1]).values()) == {None}


def test_candidate_whose_converter_no_engine_turns(capsys, tmp_path):
    large = 'diameter = { unit = "mm", value = 700 }\n'
    status, _, data, _ = run(capsys, tmp_path, (NEW, NEW + large))
    assert status == 3
    assert verdicts(data, "new-engine", "single-stable-match") == ["fail"]
    assert verdicts(data, "present", "single-stable-match") == ["pass"]


def test_present_machine_whose_converter_no_engine_turns(capsys, tmp_path):
    changed = '[[candidate]]\nid = "same"\n' + NEW + "\n[[candidate]]\n"
    text = ('converter = "single-stage-345mm-tight"', 'converter = "single-stage-420mm"')
    status, _, data, _ = run(capsys, tmp_path, ("[[candidate]]\n", changed), text)
    assert status in (0, 3)
    assert len(data["combinations"]) == 3


@pytest.mark.parametrize(
    "change",
    [
        (MACHINE, ""),
        ('driveline = "four-speed-loader"\n', ""),
        (SURFACE, ""),
    ],
)
def test_without_data_for_the_wheels_of_anybody(capsys, tmp_path, change):
    status, _, data, _ = run(capsys, tmp_path, change)
    assert status in (0, 3)
    assert set(verdicts(data, "new-engine", "tractive-effort-kept")) == {"not known"}
    assert "top-speed" not in drawn(data, "new-engine", data["conditions"][0])


@pytest.mark.parametrize("without", ["present", "new-engine"])
def test_without_data_for_the_wheels_of_one(capsys, tmp_path, without):
    """A figure that one of them has and the other has not is a dash for the other."""
    own = 'driveline = "four-speed-loader"\n' + MACHINE
    changes = [(own, ""), (NEW, NEW + own)]
    if without == "new-engine":
        name = '[[candidate]]\nid = "new-engine"\nname = "New engine"\n'
        other = f'[[candidate]]\nid = "other"\n{NEW}{own}\n{name}'
        changes = [(own, ""), (name, other)]
    status, _, data, _ = run(capsys, tmp_path, *changes)
    assert status in (0, 3)
    assert drawn(data, without, data["conditions"][0])["top-speed"] is None


@pytest.mark.parametrize(
    "change",
    [
        (SURFACE, SURFACE + 'rolling_resistance = { unit = "percent", value = 59 }\n'),
        (SURFACE, SURFACE + "traction = 0.01\n"),
    ],
)
def test_machine_that_does_not_move(capsys, tmp_path, change):
    status, _, data, _ = run(capsys, tmp_path, change, (NEW, NEW))
    assert status in (0, 3)
    assert len(data["combinations"]) == 2


def test_machine_that_does_not_move_on_its_route(capsys, tmp_path):
    grades = 'grades = { unit = "percent", values = [0, 8] }\n'
    more = 'routes = ["quarry-to-crusher"]\n'
    change = (grades, grades + more)
    pump = pumps(tmp_path, "pumps.toml", 500)
    status, _, data, _ = run(capsys, tmp_path, change, (MACHINE, MACHINE + pump))
    assert status in (0, 3)
    assert [row["pumps"] for row in data["combinations"][0]["results"]] == ["standby", "relief"]


def derated(folder, highest):
    """Write the new engine with the maker's derate table up to an altitude."""
    data = tomllib.loads(find("engines", "six-cylinder-7l-185kw").read_text(encoding="utf-8"))
    data["site_correction"] = {
        "method": "derate-table",
        "derate": {
            "altitude": {"unit": "m", "values": [0, highest]},
            "factor": {"values": [1.0, 0.95]},
        },
    }
    (folder / "derated.toml").write_text(tomlkit.dumps(data), encoding="utf-8")
    return 'engine = "derated.toml"\n'


def test_site_that_one_engine_has_no_data_for_is_not_known_for_it(capsys, tmp_path):
    sites = ('sites = ["plateau-quarry-hot-day"]', 'sites = ["plateau-quarry-hot-day", "sea.toml"]')
    (tmp_path / "sea.toml").write_text(
        'schema = "converter-match/site/1"\nid = "sea"\nname = "The sea"\nsource = "a test"\n'
        'altitude = { unit = "m", value = 0 }\n',
        encoding="utf-8",
    )
    _, said, data, tables = run(capsys, tmp_path, sites, (NEW, derated(tmp_path, 1000)))
    assert verdicts(data, "new-engine", "single-stable-match") == ["not known", "pass"]
    assert verdicts(data, "present", "single-stable-match") == ["pass", "pass"]
    plateau, sea = data["combinations"][1]["results"]
    assert (plateau["match"], plateau["tractive"]) == (None, None)
    assert sea["match"] is not None
    assert "2000" in plateau["missing"][0]
    shown = {row["condition"] for row in tables["match-points.csv"]
             if row["combination"] == "new-engine"}  # fmt: skip
    assert shown == {"The sea"}
    assert "not decided" in said


def test_site_that_no_engine_has_data_for(capsys, tmp_path):
    engine = derated(tmp_path, 1000)
    old = 'engine = "six-cylinder-10l5-138kw"\n'
    status, _, data, _ = run(capsys, tmp_path, (NEW, engine), (old, engine))
    assert status == 0
    assert {row["verdict"] for row in data["combinations"]} == {"not known"}
    assert data["comparison"]["figures"] == []
