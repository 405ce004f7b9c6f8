"""The verb identify on files as they come: other headings, several parts, a folder of machines."""

import json

import numpy as np
import pytest

from converter_match.cli import main
from converter_match.library.log_columns import Taken, read_column_map
from tests.examples import RPM
from tests.judgement.identify.test_doubts import TURNS, UNIT, log

PAIR = ("--converter", "c.toml")


def run(capsys, *argv):
    status = main([str(word) for word in argv])
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def written(path, columns, heads=("time [s]", "engine speed [rpm]", "turbine speed [rpm]",
                                  "engine torque [N.m]")):  # fmt: skip
    path.parent.mkdir(exist_ok=True)
    rows = zip(columns["time"], columns["engine speed"] / RPM, columns["turbine speed"] / RPM,
               columns["engine torque"], strict=True)  # fmt: skip
    lines = [",".join(heads), *(",".join(f"{v:.3f}" for v in row) for row in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.fixture
def sheet(tmp_path):
    from converter_match.library.write import write_component

    path = tmp_path / "c.toml"
    write_component(UNIT, path)
    return path


OTHER = ("t", "n_Mot [rpm]", "nT [rpm]", "M_Mot")


def test_columns_that_were_said_once_are_kept_for_the_next_time(capsys, tmp_path, sheet):
    path = written(tmp_path / "a.csv", log(TURNS), OTHER)
    kept = tmp_path / "mine.toml"
    said = ["--column", "time=t [s]", "--column", "engine speed=n_Mot", "--column",
            "turbine speed=nT", "--column", "engine torque=M_Mot [N.m]"]  # fmt: skip
    status, out, err = run(
        capsys, "identify", path, "--converter", sheet, *said, "--save-columns", kept
    )
    assert (status, err) == (0, "")
    assert read_column_map(kept)["engine torque"] == Taken("M_Mot", "N.m")
    again = run(capsys, "identify", path, "--converter", sheet, "--columns", kept)
    assert again[:2] == (0, out)
    status, _, err = run(capsys, "identify", path)
    assert (status, "--column" in err or "unknown column" in err) == (2, True)


def test_several_parts_are_one_log(capsys, tmp_path, sheet):
    whole, half = log(TURNS), TURNS.size // 2
    parts = [
        written(tmp_path / f"{name}.csv", log(turns))
        for name, turns in (("one", TURNS[:half]), ("two", TURNS[half:]))
    ]
    told = json.loads(run(capsys, "identify", *parts, "--converter", sheet, "--json")[1])
    assert told["rows"] == whole["time"].size
    assert told["files"] == [str(path) for path in parts]
    assert told["compared_with_sheet"]["capacity_level"] == pytest.approx(1.0, abs=0.005)


# Capacity / sheet of those that are not as the others.
FAULTY = {"loader 03": 1.18, "loader 08": 0.85, "loader 13": 1.3, "loader 17": 0.78}


@pytest.mark.slow
def test_four_faulty_ones_of_twenty_are_found_in_a_folder(capsys, tmp_path, sheet):
    rng = np.random.default_rng(5)
    folder = tmp_path / "fleet"
    folder.mkdir()
    for number in range(20):
        name = f"loader {number:02d}"
        made = log(TURNS[:33], seed=number)
        # A torque signal that is 3 % too high in all of them, and scatters by 1 %.
        made["engine torque"] *= 1.03 * (1 + 0.01 * rng.standard_normal()) * FAULTY.get(name, 1.0)
        written(folder / name / "shift.csv" if number % 2 else folder / f"{name}.csv", made)
    (folder / "loader 20.csv").write_text("time [s]\n1\n", encoding="utf-8")
    figure, table = tmp_path / "fleet.png", tmp_path / "fleet.csv"
    status, out, err = run(capsys, "identify", "--machines", folder, "--converter", sheet,
                           "--csv", table, "--figure", figure, "--json")  # fmt: skip
    assert (status, err) == (0, "")
    told = json.loads(out)
    rows = told["fleet"]["rows"]
    apart = {row["machine"] for row in rows if row["apart"] == "apart"}
    assert apart == set(FAULTY)
    assert "missing columns" in rows[-1]["said"]
    assert figure.exists()
    assert table.read_text(encoding="utf-8").count("\n") == 23
    codes = [note["code"] for note in told["warnings"]]
    assert codes.count("takes-more-than-the-fleet") == 2


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ([], "LOG: no log; expected LOG, or --machines FOLDER"),
        (["a.csv", "--machines", "x"], "two questions"),
        (["a.csv", "--csv", "x.csv"], "--csv: a table is made of a fleet"),
        (["--machines", "nowhere", "--converter", "single-stage-260mm"], "no such folder"),
        (["--machines", "."], "--converter as well"),
        (["a.csv", "--columns", "none.toml"], "none.toml: no such file"),
        (["a.csv", "--save-columns", "x.csv"], "does not name a file of columns"),
        (["a.asc"], "no such file"),
    ],
)
def test_what_does_not_go_is_named_in_one_line(capsys, tmp_path, monkeypatch, words, message):
    monkeypatch.chdir(tmp_path)
    status, out, err = run(capsys, "identify", *words)
    assert (status, out, err.count("\n")) == (2, "", 1)
    assert message in err
