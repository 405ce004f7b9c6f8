"""The verb tractive as a person or a script uses it."""

import json

import pytest

from converter_match.cli import main

LOADER = (
    "tractive", "--engine", "six-cylinder-7l-185kw", "--converter", "single-stage-345mm-tight",
    "--driveline", "four-speed-loader", "--machine", "wheel-loader-17t",
)  # fmt: skip


def run(capsys, *argv):
    status = main([*LOADER, *argv])
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def test_text_has_gears_grades_and_cautions(capsys):
    status, out, err = run(capsys, "--surface", "firm smooth earth", "--grades", "0,10")
    assert (status, err) == (0, "")
    rows = [line.split() for line in out.splitlines() if line.strip()]
    assert ["R3", "converter"] in [row[:2] for row in rows]
    assert {"0", "10"} <= {row[0] for row in rows}
    assert "[grades-and-brakes]" in out
    assert "surface: firm smooth earth\n  rolling resistance, of weight: 3.25 %" in out


@pytest.mark.slow
def test_without_a_surface_a_hard_road_is_assumed_and_said(capsys):
    _, out, _ = run(capsys)
    assert "[surface-from-table]" in out
    assert "no surface is given" in out


def test_json_with_every_option(capsys):
    status, out, err = run(
        capsys, "--json", "--load", "empty", "--rolling-resistance", "90 lb/short ton",
        "--traction", "0.5", "--altitude", "6500 ft", "--air-temperature", "35",
        "--hydraulic-torque", "100", "--gear-lockup", "3,4", "--grades", "8",
    )  # fmt: skip
    assert (status, err) == (0, "")
    data = json.loads(out)
    assert data["surface"]["rolling_resistance_percent"] == pytest.approx(4.5)
    assert data["surface"]["traction_coefficient"] == 0.5
    assert data["machine"]["mass_kg"] == 17_000
    assert [row["grade_percent"] for row in data["grades"]] == [pytest.approx(8.0)]
    locked = {row["gear"] for row in data["gears"] if row["drive"] == "lock-up"}
    assert locked == {"3", "4"}
    assert data["hydraulic_torque_nm"] == 100
    assert data["site"]["air_temperature_degc"] == pytest.approx(35.0)
    assert data["cooler"]["air_temperature_degc"] == pytest.approx(35.0)


@pytest.mark.slow
def test_files_are_written_and_not_overwritten(capsys, tmp_path):
    csv, figure = tmp_path / "curves.csv", tmp_path / "page.png"
    status, _, _ = run(capsys, "--csv", str(csv), "--figure", str(figure), "--units", "us")
    assert status == 0
    assert csv.read_text(encoding="utf-8").startswith("gear,direction,drive,in_force,speed_mph,")
    assert figure.stat().st_size > 20_000
    status, _, err = run(capsys, "--csv", str(csv))
    assert status == 2
    assert "--overwrite" in err


@pytest.mark.slow
def test_exceeded_rating_is_status_3(capsys, tmp_path):
    from converter_match.library.shipped import find

    text = find("drivelines", "four-speed-loader").read_text(encoding="utf-8")
    weak = tmp_path / "weak.toml"
    weak.write_text(text.replace("value = 2600", "value = 1600"), encoding="utf-8")
    status = main([str(weak) if word == "four-speed-loader" else word for word in LOADER])
    assert status == 3
    assert "[limit-turbine-torque]" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("argv", "message"),
    [
        (["--surface", "firm smoth earth"], "--surface: .*did you mean 'firm smooth earth'"),
        (["--surface", "sand"], "'sand, truck' or 'sand, tractor'"),
        (["--grades", "0,120"], "--grades: .*found '120'; expected 0 to 100 %"),
        (["--grades", "0,,5"], "--grades: not a number"),
        (["--gear-lockup", "7"], r"--gear-lockup: no such gear; found '7'; expected 1 \| 2"),
        (["--rolling-resistance", "90 lb/ton"], "does not say which ton"),
        (["--rolling-resistance", "95"], "--rolling-resistance: .*not a rolling resistance"),
        (["--traction", "3"], "--traction: .*not a traction coefficient; found '3'"),
        (["--surfaces", "mine.csv"], "--surface NAME as well"),
    ],
)
def test_bad_input_is_one_line_and_status_2(capsys, argv, message):
    import re

    status, out, err = run(capsys, *argv)
    assert (status, out) == (2, "")
    assert re.search(message, err), err
    assert err.count("\n") == 1


def test_misspelt_machine_is_told_the_nearest_one(capsys):
    words = [word.replace("wheel-loader-17t", "wheel-loader-17") for word in LOADER]
    assert main(words) == 2
    assert "did you mean 'wheel-loader-17t'" in capsys.readouterr().err


@pytest.mark.parametrize(("typed", "low"), [("0.04", True), ("0.31", False), ("4", False)])
@pytest.mark.slow
def test_a_ratio_typed_for_percent_is_questioned(capsys, typed, low):
    _, out, _ = run(capsys, "--rolling-resistance", typed)
    assert ("[rolling-resistance-low]" in out) == low
    assert ("0.04 % of the weight is less than any ground" in out) == low


@pytest.mark.slow
def test_a_low_rolling_resistance_from_a_file_is_questioned_on_every_verb(capsys, tmp_path):
    mine = tmp_path / "surfaces.toml"
    mine.write_text(
        """schema = "converter-match/surfaces/1"
id = "mine"
name = "mine"
source = "typed"
[[surface]]
name = "ramp"
rolling_resistance = { unit = "%", value = 0.04 }
traction = { value = 0.6 }
""",
        encoding="utf-8",
    )
    road = tmp_path / "road.csv"
    road.write_text("length [m],grade [%],surface\n300,0,ramp\n", encoding="utf-8")
    for words in (
        [*LOADER, "--surface", "ramp"],
        ["accelerate", *LOADER[1:], "--surface", "ramp", "--to-speed", "10"],
        ["route", *LOADER[1:], "--route", str(road)],
    ):
        main([*words, "--surfaces", str(mine)])
        assert capsys.readouterr().out.count("[rolling-resistance-low]") == 1, words[0]
