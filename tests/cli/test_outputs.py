"""What a command writes never takes the place of what it reads."""

import os
import sys

import pytest

from converter_match.cli import main
from converter_match.library.shipped import data_folder, shipped
from tests.properties.command_lines import HAULER, PAIR, SHEET
from tests.study_examples import study_file

ENGINE, CONVERTER = "engine.toml", "converters/own.toml"
OWN = ("--engine", ENGINE, "--converter", CONVERTER)
HAUL = (*HAULER, "--route", "route.csv")
SHEET_FACTS = ("--stator", "one-way", "--profile-diameter", "345 mm", "--accept")
STALL = ("stall", *OWN, "--reading", "gear=3 speed=1600 oil=85degC brakes=held", "--name", "4")


@pytest.fixture
def here(tmp_path, monkeypatch):
    """A folder with files of every kind that commands read."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "converters").mkdir()
    data = data_folder()
    for name, source in {
        ENGINE: shipped("engines")[PAIR[1]],
        CONVERTER: shipped("converters")[PAIR[3]],
        "route.csv": data / "routes" / "quarry-to-crusher.csv",
        "sheet.csv": SHEET,
        "machine.csv": next((data / "logs").glob("*.csv")),
        "readings.csv": SHEET,
        "surfaces.csv": SHEET,
    }.items():
        (tmp_path / name).write_bytes(source.read_bytes())
    (tmp_path / "chart.png").write_bytes(b"a picture")
    (tmp_path / "chart.toml").write_text('image = "chart.png"\n', encoding="utf-8")
    (tmp_path / "machine.png").write_bytes((tmp_path / "machine.csv").read_bytes())
    return tmp_path


def held(folder):
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


CASES = {
    "table over engine": (("solve", *OWN, "--csv", ENGINE), "--csv", "--engine"),
    "table over converter": (("solve", *OWN, "--csv", CONVERTER), "--csv", "--converter"),
    "table over route": (("route", *HAUL, "--csv", "route.csv"), "--csv", "--route"),
    "another spelling": (("solve", *OWN, "--csv", f"converters/../{ENGINE}"), "--csv", "--engine"),
    "table over surfaces": (("tractive", *HAULER, "--surfaces", "surfaces.csv",
                             "--csv", "surfaces.csv"), "--csv", "--surfaces"),
    "component over sheet": (("intake", "sheet.csv", *SHEET_FACTS, "--out", "sheet.csv"),
                             "--out", "FILE"),
    "export over component": (("intake", ENGINE, "--export", ENGINE), "--export", "FILE"),
    "figure over chart": (("intake", "chart.toml", "--figure", "chart.png"), "--figure", "FILE"),
    "log over readings": ((*STALL[:5], "--readings", "readings.csv", "--name", "4",
                           "--log", "readings.csv"), "--log", "--readings"),
    "log over engine": ((*STALL, "--log", ENGINE), "--log", "--engine"),
    "figure over log": (("identify", "machine.png", "--figure", "machine.png"),
                        "--figure", "LOG"),
}  # fmt: skip


@pytest.mark.parametrize("overwrite", [True, False])
@pytest.mark.parametrize("case", CASES)
def test_what_a_command_reads_is_never_replaced(case, overwrite, here, capsys):
    words, writes, reads = CASES[case]
    before = held(here)
    assert main([*words, *(["--overwrite"] if overwrite else [])]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    lines = said.err.splitlines()
    assert len(lines) == 1
    assert f": {writes}: is what {reads} reads" in lines[0]
    assert held(here) == before


@pytest.mark.parametrize("link", ["soft", "hard"])
@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_link_to_what_a_command_reads_is_not_written_through(link, here, capsys):
    if link == "soft":
        (here / "out.csv").symlink_to(ENGINE)
    else:
        os.link(here / ENGINE, here / "out.csv")
    before = held(here)
    assert main(["solve", *OWN, "--csv", "out.csv", "--overwrite"]) == 2
    assert "out.csv: --csv: is what --engine reads" in capsys.readouterr().err
    assert held(here) == before


def test_shipped_file_that_is_named_by_its_id_is_not_replaced(here, capsys):
    path = shipped("engines")[PAIR[1]]
    before = path.read_bytes()
    assert main(["solve", *PAIR, "--csv", str(path), "--overwrite"]) == 2
    assert "--csv: is what --engine reads" in capsys.readouterr().err
    assert path.read_bytes() == before


def test_converter_of_the_library_that_is_searched_is_not_replaced(here, capsys):
    before = held(here)
    words = [*STALL[:3], "--converter", PAIR[3], *STALL[5:], "--library", "converters"]
    assert main([*words, "--log", CONVERTER, "--overwrite"]) == 2
    assert f"{CONVERTER}: --log: is what --library reads" in capsys.readouterr().err
    assert held(here) == before


def test_two_files_of_one_name_are_refused_whatever_writes_them(here, capsys):
    words = ["intake", "sheet.csv", *SHEET_FACTS, "--out", "a.png", "--figure", "a.png"]
    assert main(words) == 2
    assert "a.png: --out: is named by --figure too" in capsys.readouterr().err
    assert not (here / "a.png").exists()


def test_other_files_are_replaced_when_asked(here, capsys):
    (here / "out.csv").write_text("earlier", encoding="utf-8")
    assert main(["solve", *OWN, "--csv", "out.csv", "--overwrite"]) == 0
    assert (here / "out.csv").read_text(encoding="utf-8").startswith("speed_ratio")


@pytest.mark.slow
@pytest.mark.parametrize("place", ["report", "report/tables", "report/figures", "report/tables/x"])
def test_report_does_not_take_a_study_away_that_lies_in_its_folder(
    place, here, capsys, without_pictures
):
    first = here / "study"
    first.mkdir()
    words = ["--draws", "0", "--out", "report"]
    assert main(["study", str(study_file(first)), *words]) in (0, 3)
    (here / place).mkdir(exist_ok=True)
    own = study_file(here / place)
    before = held(here)
    capsys.readouterr()
    assert main(["study", str(own), *words, "--overwrite"]) == 2
    said = capsys.readouterr().err.splitlines()
    assert len(said) == 1
    assert "holds what no report put there" in said[0]
    assert held(here) == before
