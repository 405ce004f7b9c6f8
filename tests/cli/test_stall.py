"""The verbs stall and identify as a person or a script uses them."""

import json

import pytest

from converter_match.cli import main
from converter_match.library.shipped import data_folder
from converter_match.library.stall_log import read_log

PAIR = ("--engine", "six-cylinder-7l-185kw", "--converter", "single-stage-345mm-tight")
LOADER = (*PAIR, "--driveline", "four-speed-loader", "--machine", "wheel-loader-17t")
HEALTHY = "gear=3 speed=1805 oil=88degC brakes=held"


def run(capsys, *argv):
    status = main([str(word) for word in argv])
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def test_expectation_begins_with_the_caution(capsys):
    status, out, err = run(capsys, "stall", *LOADER, "--expect")
    assert (status, err) == (0, "")
    assert out.startswith("CAUTION: A stall test can hurt people")
    for words in (
        "Expected engine speed, 95 % of healthy machines",
        "converter stall (in gear)",
        "longest hold:",
        "[towing-needs-care]",
        "[idle-in-gear-torque]",
        "[tolerances-assumed]",
    ):
        assert words in out


def test_hold_of_the_machine_maker_is_never_gone_beyond(capsys, tmp_path):
    sheet = tmp_path / "sheet.html"
    status, out, _ = run(
        capsys, "stall", *LOADER, "--maker-hold", "5", "--sheet", sheet, "--oil-temperature", "85"
    )
    assert status == 0
    assert "longest hold: 5 s\n  set by: machine maker\n" in out
    assert "hold 5 s at most" in sheet.read_text(encoding="utf-8")
    status, _, err = run(capsys, "stall", *LOADER, "--maker-hold", "0")
    assert (status, err.count("\n")) == (2, 1)
    assert "--maker-hold" in err


@pytest.mark.slow
def test_json_holds_band_readings_and_next_check(capsys):
    status, out, _ = run(
        capsys, "stall", *LOADER, "--site", "plateau-quarry-hot-day", "--expect", "--json",
        "--relief-torque", "250", "--published", "1650..1800", "--coverage", "90",
        "--reading", "gear=3 speed=1600 oil=85degC brakes=held",
        "--reading", "test=both gear=3 speed=1330 brakes=held",
    )  # fmt: skip
    assert status == 3
    data = json.loads(out)
    expected = data["expectation"]["expected"]
    assert expected["low_rpm"] < expected["as_on_the_sheets_rpm"] < expected["high_rpm"]
    assert expected["coverage"] == pytest.approx(0.9)
    assert data["expectation"]["published_rpm"] == pytest.approx([1650, 1800])
    first = data["diagnosis"]["readings"][0]
    assert (first["place"], first["place_in_published"]) == ("below", "below")
    assert data["diagnosis"]["findings"][0]["code"] == "engine-down"
    assert data["diagnosis"]["next_check"]["code"]
    assert data["diagnosis"]["separated"]["torque_factor"] < 0.95


DOZER = ("--engine", "six-cylinder-15l-400kw", "--converter", "single-stage-390mm-full-range",
         "--arrangement", "dozer-torque-divider")  # fmt: skip


@pytest.mark.slow
def test_torque_divider_stalls_where_solve_says_in_every_verb_that_asks(capsys):
    def told(*argv):
        return json.loads(run(capsys, *argv, *DOZER, "--json")[1])

    points = told("solve")["stall"]
    expected = told("stall", "--oil-temperature", "90")["expectation"]["expected"]
    # The oil of the converter's sheet: nothing but the arrangement is between the two.
    assert expected["as_on_the_sheets_rpm"] == pytest.approx(points["engine_speed_rpm"], rel=1e-6)
    held = told("hold", "--machine", "crawler-dozer-50t", "--oil-start", "90")
    assert held["stall_speed_rpm"] == pytest.approx(points["engine_speed_rpm"], rel=1e-6)
    # Standing still, all that the engine gives ends in the oil; at the upper end of the band by the
    # cube of its speed.
    high = held["heat_at_speed_rpm"] / points["engine_speed_rpm"]
    assert held["heat_kw"] == pytest.approx(points["heat_kw"] * high**3, rel=1e-6)


@pytest.mark.slow
def test_reading_of_a_torque_divider_is_judged_by_the_combined_curve(capsys):
    status, out, _ = run(capsys, "stall", *DOZER, "--reading", "gear=1 speed=1618 brakes=held")
    assert status == 0
    assert "[nothing-to-see]" in out
    assert run(capsys, "stall", *DOZER, "--reading", "gear=1 speed=2000 brakes=held")[0] == 3


def test_parts_of_an_arrangement_that_a_stall_test_does_not_ask_for_are_named(capsys):
    words = ("--engine", "six-cylinder-7l-185kw", "--converter", "single-stage-345mm-tight")
    _, out, _ = run(capsys, "stall", *words, "--arrangement", "log-loader-hydraulics", "--json")
    notes = {note["code"] for note in json.loads(out)["expectation"]["notes"]}
    assert "arrangement-parts-left-out" in notes


def test_healthy_reading_is_answered_with_zero(capsys):
    status, out, _ = run(capsys, "stall", *LOADER, "--reading", HEALTHY, "--units", "us")
    assert status == 0
    assert "[nothing-to-see]" in out
    assert "Next cheapest check\n  check: " in out


@pytest.mark.slow
def test_readings_go_to_the_log_and_on_to_the_figures(capsys, tmp_path):
    log, trend, fleet = (tmp_path / name for name in ("log.csv", "trend.png", "fleet.svg"))
    for date in ("2031-03-01", "2031-06-01T10:00:00+02:00"):
        status, out, _ = run(capsys, "stall", *LOADER, "--reading", HEALTHY, "--log", log,
                             "--date", date, "--name", "loader 4")  # fmt: skip
        assert status == 0
        assert f"Added to {log}: 1 reading" in out
    status, out, _ = run(capsys, "stall", "--log", log, "--trend", trend, "--fleet", fleet)
    assert (status, trend.exists(), fleet.exists()) == (0, True, True)
    assert log.read_text(encoding="utf-8").count("loader 4") == 2


@pytest.mark.slow
@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--reading", "gear=9 speed=1800"], "no such gear; found '9'"),
        (["--reading", "gear=3 speed=18000"], "no engine of this kind"),
        (["--reading", "gear=3 speed=1800 oil=190"], "Fahrenheit"),
        (["--reading", HEALTHY], "the clock goes back; nothing was added"),
        (["--reading", HEALTHY, "--date", "yesterday"], "--date: time: not a time"),
        (["--reading", HEALTHY, "--sheet", "sheet.txt"], "suffix does not name a format"),
        (["--reading", HEALTHY, "--library", "nowhere"], "--library: no such folder"),
        (["--reading", HEALTHY, "--figure", "f.txt"], "suffix"),
        (["--readings", "nothing.csv"], "nothing.csv"),
    ],
)
def test_bad_input_is_named_and_nothing_is_added(capsys, tmp_path, words, message):
    log = tmp_path / "log.csv"
    run(capsys, "stall", *LOADER, "--reading", HEALTHY, "--log", log, "--date", "2031-03-01")
    before = log.read_bytes()
    status, out, err = run(capsys, "stall", *LOADER, *words, "--log", log)
    assert (status, out) == (2, "")
    assert err.count("\n") == 1
    assert message in err
    assert log.read_bytes() == before


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--expect"], "--engine: needed here"),
        ([*PAIR, "--published", "fast"], "--published: not a span"),
        (
            [*PAIR, "--published", "9000..9500"],
            "--published: not a speed of this engine",
        ),
        ([*PAIR, "--coverage", "10"], "--coverage"),
        ([*PAIR, "--engine-tolerance", "0"], "--engine-tolerance"),
        ([*PAIR, "--reading", HEALTHY, "--log", "x.csv"], "no machine is named for the readings"),
        ([*PAIR, "--trend", "t.png"], "no log is named"),
        ([*PAIR, "--figure", "f.png"], "no reading to draw"),
        ([*PAIR, "--log", "tests.csv"], "--log: nothing to keep in the log"),
    ],
)
def test_options_that_do_not_go_are_named(capsys, tmp_path, monkeypatch, words, message):
    monkeypatch.chdir(tmp_path)
    status, out, err = run(capsys, "stall", *words)
    assert (status, out) == (2, "")
    assert message in err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
def test_typo_in_a_row_is_named_and_keeps_nobody_from_the_log(capsys, tmp_path):
    log, trend = tmp_path / "log.csv", tmp_path / "trend.png"
    words = ("stall", *PAIR, "--reading", HEALTHY, "--log", log, "--name", "loader 4")
    for date in ("2031-03-01", "2031-04-01"):
        assert run(capsys, *words, "--date", date)[0] == 0
    log.write_text(log.read_text("utf-8").replace("1805", "18o5", 1), encoding="utf-8")
    # Entered late, before the test of April; by its stated time, not by the clock.
    status, out, _ = run(capsys, *words, "--date", "2031-03-20", "--trend", trend, "--json")
    assert status == 0
    told = json.loads(out)
    assert told["log"]["rows_added"] == 1
    [row] = told["log"]["rows_set_aside"]
    assert f"{log}: line 2, engine_speed_rpm: not a number; found '18o5'" in row
    assert told["drift"]["tests"] == 2
    assert trend.exists()
    status, out, _ = run(capsys, "stall", "--log", log, "--fleet", tmp_path / "fleet.png")
    assert (status, "Left out, cannot be used: " in out) == (0, True)


WEAK = ("--engine", "four-cylinder-2l5-45kw", "--converter", "single-stage-420mm")


def test_machine_that_stays_at_idle_is_not_to_be_tested(capsys):
    status, out, err = run(capsys, "stall", *WEAK, "--machine", "wheel-loader-17t", "--expect",
                           "--relief-torque", "250", "--json")  # fmt: skip
    assert (status, err) == (3, "")
    told = json.loads(out)["expectation"]
    bands = (told["expected"], *told["expected_combined"].values())
    assert [band["high_rpm"] for band in bands] == [None] * 3
    assert told["hold"]["longest_hold_s"] is None


@pytest.mark.slow
def test_reading_without_a_band_goes_to_the_log_with_empty_cells(capsys, tmp_path):
    log, trend = tmp_path / "log.csv", tmp_path / "trend.png"
    status, out, _ = run(capsys, "stall", *WEAK, "--reading", HEALTHY, "--log", log,
                         "--name", "truck 1", "--date", "2031-03-01", "--trend", trend)  # fmt: skip
    assert status == 3
    assert "no torque or capacity within reason explains it" in out
    [row] = read_log(log)
    assert (row.place, row.expected_low_rpm, row.expected_high_rpm) == ("no-band", None, None)
    assert trend.exists()


def test_picture_of_nothing_is_refused_in_one_line(capsys, tmp_path):
    figure = tmp_path / "f.png"
    status, out, err = run(capsys, "stall", *WEAK, "--reading", HEALTHY, "--figure", figure)
    assert (status, out, err.count("\n")) == (2, "", 1)
    assert "nothing to draw" in err
    assert not figure.exists()


def test_sheet_is_not_overwritten_unasked(capsys, tmp_path):
    page = tmp_path / "sheet.html"
    assert run(capsys, "stall", *LOADER, "--sheet", page)[0] == 0
    status, _, err = run(capsys, "stall", *LOADER, "--sheet", page)
    assert status == 2
    assert "is there already" in err
    assert run(capsys, "stall", *LOADER, "--sheet", page, "--overwrite")[0] == 0


@pytest.mark.slow
def test_identify_the_shipped_log(capsys, tmp_path):
    figure = tmp_path / "curve.svg"
    log = data_folder() / "logs" / "loader-shift.csv"
    status, out, err = run(capsys, "identify", log, *PAIR, "--reference-torque", "1004",
                           "--figure", figure, "--json")  # fmt: skip
    assert (status, err) == (0, "")
    data = json.loads(out)
    assert data["compared_with_sheet"]["capacity_level"] == pytest.approx(1.0, abs=0.005)
    assert data["rows"] == 7920
    assert data["gaps"]
    assert figure.stat().st_size > 10_000


def test_identify_names_what_is_missing(capsys, tmp_path):
    log = data_folder() / "logs" / "loader-shift.csv"
    status, _, err = run(capsys, "identify", log)
    assert status == 2
    assert "needs the torque that is 100 percent" in err
    status, _, err = run(capsys, "identify", tmp_path / "none.csv")
    assert (status, "no such file" in err) == (2, True)


GEARS = ["stall", "--engine", "six-cylinder-7l-185kw", "--converter", "single-stage-345mm-tight",
         "--driveline", "four-speed-loader", "--machine", "wheel-loader-17t"]  # fmt: skip


@pytest.mark.slow
def test_gears_that_break_loose_on_the_ground_and_with_the_load_given(capsys):
    def loose(*words, status=0):
        assert main([*GEARS, *words, "--json"]) == status
        gears = json.loads(capsys.readouterr().out)["expectation"]["gears"]
        assert [row["gear"] for row in gears] == ["4", "3", "2", "1", "R3", "R2", "R1"]
        return [row["gear"] for row in gears if row["breaks_loose"]]

    # Empty 17 t, laden 22.2 t; traction 0.9 on concrete.
    assert loose("--surface", "concrete or asphalt") == ["1", "R1"]
    assert loose("--load", "laden") == []
    assert loose("--traction", "0.1", status=3) == ["4", "3", "2", "1", "R3", "R2", "R1"]
    assert main([*GEARS, "--surface", "concret"]) == 2
    assert "concrete or asphalt" in capsys.readouterr().err
