"""The verb identify on files as they come: other headings, several parts, a folder of machines."""

import json
from dataclasses import replace

import numpy as np
import pytest

from converter_match.cli import main
from converter_match.library.log_columns import Taken, read_column_map
from tests.examples import RPM
from tests.judgement.identify.test_doubts import TURNS, UNIT, log
from tests.simulated_logs import RIGS, basis, cycle_log

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


# Of those that are not as the others: what the converter takes / sheet, and what the engine gives /
# what the torque signal, which does not know, says.
FAULTY = {"loader 03": (1.2, 1.0), "loader 08": (0.84, 1.0), "loader 13": (1.0, 0.8),
          "loader 17": (1.0, 1.18)}  # fmt: skip


def of_fleet(number, name):
    """Some minutes of a loader's or a hauler's cycles, simulated apart from the package."""
    takes, gives = FAULTY.get(name, (1.0, 1.0))
    rig = replace(RIGS[0], k=tuple(k / takes**0.5 for k in RIGS[0].k))
    made = cycle_log("hauler" if number % 3 == 0 else "loader", number, 5.0, rig=rig)
    made["engine torque"] /= gives
    return made


@pytest.mark.slow
def test_four_faulty_ones_of_twenty_are_found_in_a_folder(capsys, tmp_path):
    from converter_match.library.write import write_component

    rng = np.random.default_rng(5)
    folder = tmp_path / "fleet"
    folder.mkdir()
    for unit in basis(RIGS[0]):
        write_component(unit, tmp_path / f"{type(unit).__name__}.toml")
    sheet = tmp_path / "Converter.toml"
    for number in range(20):
        name = f"loader {number:02d}"
        made = of_fleet(number, name)
        # A torque signal that is 3 % too high in all of them, and scatters by 1 %.
        made["engine torque"] *= 1.03 * (1 + 0.01 * rng.standard_normal())
        written(folder / name / "shift.csv" if number % 2 else folder / f"{name}.csv", made)
    (folder / "loader 20.csv").write_text("time [s]\n1\n", encoding="utf-8")
    figure, table = tmp_path / "fleet.png", tmp_path / "fleet.csv"
    status, out, err = run(capsys, "identify", "--machines", folder, "--converter", sheet,
                           "--engine", tmp_path / "Engine.toml", "--csv", table,
                           "--figure", figure, "--json")  # fmt: skip
    assert (status, err.count("\n")) == (4, 1)  # one of the logs cannot be read
    assert "reference_air" in err  # the rating names no air; that is all
    told = json.loads(out)
    rows = told["fleet"]["rows"]
    apart = {row["machine"] for row in rows if row["apart"] == "apart"}
    assert apart == set(FAULTY)
    assert "missing columns" in rows[-1]["said"]
    assert figure.exists()
    assert table.read_text(encoding="utf-8").count("\n") == 23
    codes = [note["code"] for note in told["warnings"]]
    assert codes.count("takes-more-than-the-fleet") == 2
    # Nobody's pumps worked.
    assert not [row["machine"] for row in rows[:-1] if "pump" in (row["said"] or "")]


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
