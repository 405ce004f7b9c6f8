"""A motor on the command line: what goes with it, and what it refuses in one line."""

import json

import pytest

from converter_match.cli import main

MOTOR = ("--motor", "lift-truck-80v-30kw")
PAIR = (*MOTOR, "--converter", "single-stage-260mm")
TRUCK = ("--driveline", "two-speed-lift-truck", "--machine", "lift-truck-5t")


def answer(capsys, *words):
    try:
        status = main(list(words))
    except SystemExit as stop:
        status = stop.code
    out = capsys.readouterr()
    return status, out.out, out.err


def test_solve_prints_both_torques(capsys):
    status, said, _ = answer(capsys, "solve", *PAIR)
    assert status == 0
    assert "duty type S1" in said
    assert "duty type S2" in said
    assert "does not apply" in said


@pytest.mark.slow
def test_both_ways_to_the_gearbox_answer_as_json(capsys):
    for verb, more in (("tractive", TRUCK), ("hold", TRUCK[2:]),
                       ("accelerate", (*TRUCK, "--to-speed", "8")),
                       ("route", (*TRUCK, "--route", "timber-stack-to-kiln"))):  # fmt: skip
        for way in (("--direct", "1.6"), ("--converter", "single-stage-260mm")):
            status, said, _ = answer(capsys, verb, *MOTOR, *way, *more, "--json")
            assert status in (0, 3), (verb, way)
            assert json.loads(said)["motor"]["id"] == "lift-truck-80v-30kw"


@pytest.mark.slow
def test_stall_writes_a_sheet_and_size_answers_with_the_match(capsys, tmp_path):
    sheet = tmp_path / "sheet.html"
    status, said, _ = answer(capsys, "stall", *PAIR, *TRUCK, "--sheet", str(sheet), "--json")
    assert status == 0
    assert json.loads(said)["expectation"]["hold"]["first_limit"] == "oil"
    assert "battery" in sheet.read_text(encoding="utf-8")
    status, said, _ = answer(capsys, "size", *PAIR, "--stall-speed", "2000", "--json")
    assert status == 0
    found = json.loads(said)
    assert found["match"]["peak"]["stall"]["engine_speed_rpm"] == pytest.approx(2000.0)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("solve", *PAIR, "--engine", "four-cylinder-2l5-45kw"), "--engine"),
        (("solve", "--converter", "single-stage-260mm"), "--engine --motor"),
        (("solve", *PAIR, "--governed", "2000"), "--governed: does not apply to an electric motor"),
        (("solve", *PAIR, "--voltage", "200"), "--voltage: outside the voltages"),
        (("solve", "--engine", "four-cylinder-2l5-45kw", "--converter", "single-stage-260mm",
          "--voltage", "80"), "--voltage: goes with --motor only"),
        (("tractive", "--engine", "four-cylinder-2l5-45kw", "--direct", "2", *TRUCK),
         "--direct: goes with --motor only"),
        (("tractive", *PAIR, "--direct", "2", *TRUCK), "--direct"),
        (("tractive", *MOTOR, "--direct", "0", *TRUCK), "--direct: out of range"),
        (("tractive", *MOTOR, *TRUCK), "--converter --direct"),
        (("route", *PAIR, *TRUCK, "--cycle", "loader-truck-loading", "--figure", "x.png"),
         "--figure: there is no figure of a short cycle"),
        (("solve", "--motor", "four-cylinder-2l5-45kw", "--converter", "single-stage-260mm"),
         "shipped engines"),
        (("study", "lift-truck-electric", "--draws", "9999"), "--draws: out of range"),
        (("stall", *PAIR, "--reading", "gear=1 speed=2000"), "--reading: readings are judged of"),
        (("stall", *PAIR, "--engine", "four-cylinder-2l5-45kw"), "--motor: does not go with"),
        (("stall", *PAIR, "--published", "5000..6000"), "--published: not a speed of this motor"),
        (("stall", *MOTOR), "--converter: needed here"),
        (("accelerate", *MOTOR, "--direct", "1.6", *TRUCK, "--to-speed", "9", "--method",
          "dynamic"), "--method: coupled directly"),
        (("accelerate", *PAIR, *TRUCK, "--to-speed", "9", "--response", "typical"),
         "--response: a motor's torque"),
        (("size", *PAIR, "--route", "timber-stack-to-kiln"), "--route: a converter is sized"),
        (("size", *PAIR), "--stall-speed: needed with a motor"),
        (("audit", *PAIR), "--motor: this verb is about engines"),
        (("shortlist", "quarry-loader-parts", *MOTOR), "--motor: this verb is about engines"),
        (("identify", "log.csv", *MOTOR), "--motor: this verb is about engines"),
    ],
)  # fmt: skip
def test_what_does_not_go_together_is_refused_in_one_line(capsys, words, said):
    status, printed, error = answer(capsys, *words)
    assert (status, printed) == (2, "")
    assert error.count("\n") == 1
    assert said in error


@pytest.mark.slow
def test_report_of_a_motor_study_is_written_and_never_over_another(capsys, tmp_path):
    folder = tmp_path / "report"
    status, _, _ = answer(capsys, "study", "lift-truck-electric", "--draws", "2", "--out",
                          str(folder))  # fmt: skip
    assert status == 0
    assert "of 2 draws" in (folder / "report.html").read_text("utf-8")
    page = (folder / "report.html").read_text(encoding="utf-8")
    assert "COUPLE DIRECTLY" in page
    assert "a motor has no idle" in page
    assert (folder / "report.pdf").read_bytes().startswith(b"%PDF")
    assert json.loads((folder / "result.json").read_text("utf-8"))["decision"]["candidate"]
    status, _, error = answer(
        capsys, "study", "lift-truck-electric", "--draws", "0", "--out", str(folder)
    )
    assert status == 2
    assert "nothing is overwritten" in error
