"""The verb intake as a person or a script uses it."""

import io
import json
import sys
from pathlib import Path

import pytest

from converter_match.cli import main
from converter_match.library.read import read_component
from converter_match.library.shipped import shipped

SHEETS = Path(__file__).resolve().parents[1] / "data" / "sheets"


def run(capsys, *argv):
    status = main(["intake", *map(str, argv)])
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def test_questions_are_status_three_and_nothing_is_written(capsys, tmp_path):
    out = tmp_path / "converter.toml"
    status, said, err = run(capsys, SHEETS / "plain.csv", "--accept", "--out", out)
    assert (status, err) == (3, "")
    assert "\nOpen\n" in said
    assert "--confirm stator" in said
    assert not out.exists()


def test_answered_and_accepted_is_written_and_can_be_read(capsys, tmp_path):
    out = tmp_path / "converter.toml"
    answered = (SHEETS / "plain.csv", "--stator", "one-way", "--diameter", "350", "--id", "mine",
                "--name", "My converter", "--source", "dealer, by mail")  # fmt: skip
    status, said, _ = run(capsys, *answered, "--out", out)
    assert status == 0
    assert "add --accept" in said
    assert not out.exists()
    status, said, err = run(capsys, *answered, "--accept", "--out", out)
    assert (status, err) == (0, "")
    assert f"written: {out}" in said
    converter = read_component(out)
    assert (converter.id, converter.profile_diameter) == ("mine", pytest.approx(0.35))
    status, _, err = run(capsys, *answered, "--accept", "--out", out)
    assert status == 2
    assert "is there already" in err
    assert run(capsys, *answered, "--accept", "--out", out, "--overwrite")[0] == 0


def test_contradictions_are_status_two_with_one_line_on_standard_error(capsys):
    status, said, err = run(capsys, SHEETS / "contradictions.csv", "--stator", "one-way")
    assert status == 2
    assert "capacity-contradicts" in said
    assert err.count("\n") == 1
    assert "contradictions.csv" in err
    mended = ("--unit", "4=lbf.ft", "--ignore", "5")
    assert run(capsys, SHEETS / "contradictions.csv", "--stator", "one-way", *mended)[0] == 0


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        (["none.csv"], "none.csv: no such file"),
        ([], "FILE: missing"),
        ([SHEETS / "plain.csv", "--unit", "K"], "needs a column and a value"),
        ([SHEETS / "plain.csv", "--leave-out", "x"], "not a row number"),
        ([SHEETS / "plain.csv", "--map", "none.toml"], "none.toml: no such file"),
        ([SHEETS / "plain.csv", "--stator", "oneway"], "did you mean 'one-way'"),
        ([SHEETS / "plain.csv", "--sheet", "A"], "only a workbook has sheets"),
        (["a.csv", "--spec-line", "185 kW"], "not both"),
        (["--spec-line", "hello"], "spec line: not a spec line; found 'hello'; expected such as"),
        ([SHEETS / "plain.csv", "--profile-diameter", "-345"], "--profile-diameter: out of range"),
        # Refused even where it would not be used, as for a sheet with a K factor.
        ([SHEETS / "plain.csv", "--oil-density", "0"], "--oil-density: out of range; found '0'"),
    ],
)
def test_bad_input_is_one_line_and_status_two(capsys, argv, said):
    status, out, err = run(capsys, *argv)
    assert (status, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1


def test_json_holds_the_whole_draft(capsys):
    status, out, _ = run(capsys, SHEETS / "spoilt-cells.xlsx", "--json")
    data = json.loads(out)
    assert status == 3
    assert data["kind"] == "converter"
    assert [row["row"] for row in data["rejected"]] == [15, 16, 17]
    assert {"row:15", "row:16", "row:17"} <= {each["confirm"] for each in data["problems"]}
    assert data["written"] is None


def test_another_language_needs_a_mapping_file(capsys):
    sheet = SHEETS / "german.csv"
    mapped = (sheet, "--map", SHEETS / "german.toml", "--stator", "one-way")
    assert run(capsys, sheet)[0] == 2
    assert run(capsys, *mapped)[0] == 3
    assert run(capsys, *mapped, "--reference-speed", "1000")[0] == 0


def test_pasted_text_comes_in_on_standard_input(capsys, monkeypatch):
    raw = (SHEETS / "clipboard.txt").read_bytes()
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(raw), encoding="utf-8"))
    assert run(capsys, "-", "--stator", "one-way")[0] == 0


def test_spec_line_becomes_an_engine_file(capsys, tmp_path):
    out = tmp_path / "engine.toml"
    line = "185 kW @ 2200 rpm; 1010 N.m @ 1400 rpm; high idle 2380 rpm; speed governed; gross"
    status, said, _ = run(capsys, "--spec-line", line)
    assert status == 3
    assert "--low-idle" in said
    given = ("--spec-line", line, "--low-idle", "800", "--accept", "--out", out)
    assert run(capsys, *given)[0] == 0
    assert read_component(out).torque_band > 0


def test_export_says_in_json_what_was_written(capsys, tmp_path):
    sheet = tmp_path / "sheet.csv"
    status, said, err = run(
        capsys, shipped("converters")["single-stage-345mm-tight"], "--export", sheet, "--json"
    )
    assert (status, err) == (0, "")
    told = json.loads(said)
    assert told["written"] == str(sheet)
    assert all(isinstance(each, str) for each in told["left_out"])
    assert sheet.stat().st_size


@pytest.mark.slow
def test_export_and_figure_are_written(capsys, tmp_path):
    sheet = tmp_path / "sheet.xlsx"
    assert run(capsys, SHEETS / "plain.csv", "--stator", "one-way", "--accept", "--out",
               tmp_path / "a.toml")[0] == 0  # fmt: skip
    assert run(capsys, tmp_path / "a.toml", "--export", sheet)[0] == 0
    status, _, _ = run(capsys, sheet, "--figure", tmp_path / "a.png")
    assert status == 0
    assert (tmp_path / "a.png").read_bytes().startswith(b"\x89PNG")


def test_the_second_table_of_a_sheet_is_picked(tmp_path, capsys):
    table = "SR;TR;K [rpm/sqrt(Nm)]\n0;2.2;{}\n0.4;1.62;{}\n0.86;1;{}\n0.95;1;{}\n"
    path = tmp_path / "two.csv"
    first, second = (62, 63, 73, 110), (124, 126, 146, 220)
    path.write_text(f"{table.format(*first)}\n{table.format(*second)}", encoding="utf-8")
    line = ["intake", str(path), "--stator", "one-way"]
    assert main(line) == 3
    assert "second-table" in capsys.readouterr().out
    main([*line, "--table", "2"])
    said = capsys.readouterr()
    assert said.err == ""
    assert "124" in said.out
