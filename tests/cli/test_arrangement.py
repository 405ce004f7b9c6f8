"""The option --arrangement of solve, as a person or a script uses it."""

import json

import pytest

from converter_match.cli import main

PAIR = ("solve", "--engine", "six-cylinder-7l-185kw", "--converter", "single-stage-345mm-tight")


def run(capsys, *argv):
    status = main(list(argv))
    captured = capsys.readouterr()
    return status, captured.out, captured.err


@pytest.mark.slow
def test_json_gains_one_key_and_keeps_the_others(capsys):
    status, plain, _ = run(capsys, *PAIR, "--json")
    assert status == 0
    status, out, err = run(capsys, *PAIR, "--arrangement", "log-loader-impeller-clutch", "--json")
    assert (status, err) == (0, "")
    before, data = json.loads(plain), json.loads(out)
    assert set(data) - set(before) == {"arrangement"}
    assert data["stall"] == before["stall"]
    rows = data["arrangement"]["parts"]["impeller_clutch"]["rows"]
    assert {"setting", "clutch_heat_kw", "turbine_torque_nm", "power_left_kw"} < set(rows[0])


@pytest.mark.slow
def test_text_is_in_the_units_asked_for(capsys):
    status, out, _ = run(
        capsys, *PAIR, "--arrangement", "log-loader-impeller-clutch", "--units", "us"
    )
    assert status == 0
    assert "Impeller clutch" in out
    assert "lbf·ft" in out


def test_missing_data_are_named_with_the_file_that_asked(capsys, tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text(
        'schema = "converter-match/arrangement/1"\nid = "x"\nname = "x"\nsource = "test"\n'
        "[torque_divider]\nratio = { value = 2.5 }\n",
        encoding="utf-8",
    )
    status, out, err = run(capsys, *PAIR, "--arrangement", str(file))
    assert (status, out) == (2, "")
    assert "mine.toml" in err
    assert "permission negative_speed_ratio" in err
    assert "Traceback" not in err
    file.write_text(file.read_text() + "[permission]\nnegative_speed_ratio = true\n")
    status, out, err = run(capsys, *PAIR, "--arrangement", str(file))
    assert (status, err) == (0, "")
    assert "[negative-speed-ratio-assumed]" in out


@pytest.mark.parametrize("name", ["log-loader-impeler-clutch", "nothing-like-it"])
def test_unknown_arrangement_is_refused(capsys, name):
    status, _, err = run(capsys, *PAIR, "--arrangement", name)
    assert status == 2
    assert "arrangements" in err or "did you mean 'log-loader-impeller-clutch'" in err


@pytest.mark.slow
def test_figure_is_written_and_not_overwritten_unasked(capsys, tmp_path):
    target = tmp_path / "clutch.svg"
    figure = (*PAIR, "--arrangement", "log-loader-impeller-clutch", "--arrangement-figure")
    assert run(capsys, *figure, str(target))[0] == 0
    assert target.read_text(encoding="utf-8").lstrip().startswith("<?xml")
    status, _, err = run(capsys, *figure, str(target))
    assert status == 2
    assert "clutch.svg" in err
    status, _, err = run(capsys, *PAIR, "--arrangement-figure", str(tmp_path / "no.svg"))
    assert status == 2
    assert "--arrangement FILE as well" in err
