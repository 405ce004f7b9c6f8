"""The verb ``study`` as a person or a script uses it."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time

import pytest

from converter_match.cli import main
from converter_match.present.report import study_folder
from tests.study_examples import study_file


def run(capsys, *argv):
    status = main([str(item) for item in argv])
    captured = capsys.readouterr()
    return status, captured.out, captured.err


@pytest.fixture
def quick(monkeypatch):
    """Leave out the PDF, which has its own tests and takes seconds."""
    monkeypatch.setattr(study_folder, "report_pdf", lambda report: b"%PDF-1.4 left out")


def names(folder):
    return sorted(path.name for path in folder.iterdir())


@pytest.mark.slow
def test_whole_report_is_written(capsys, tmp_path):
    out = tmp_path / "deep" / "out"
    status, said, err = run(capsys, "study", study_file(tmp_path), "--out", out)
    assert (status, err) == (0, "")
    assert names(out) == ["figures", "report.html", "report.pdf", "result.json", "tables"]
    assert (out / "report.pdf").read_bytes().startswith(b"%PDF-")
    assert "criteria.csv" in names(out / "tables")
    assert {"match-overlay.svg", "match-overlay.png"} <= set(names(out / "figures"))
    data = json.loads((out / "result.json").read_text(encoding="utf-8"))
    assert data["fails"] is False
    assert "Decision: " in said
    assert names(tmp_path / "deep") == ["out"]  # no draft is left


def test_status_is_3_when_a_must_criterion_fails(capsys, tmp_path):
    more = '[limits]\ninput_torque = { unit = "N*m", value = 300 }\n'
    status, said, _ = run(capsys, "study", study_file(tmp_path, more=more), "--json")
    assert status == 3
    data = json.loads(said)
    assert data["fails"] is True
    row = next(
        row
        for row in data["combinations"][1]["criteria"]
        if row["name"] == "converter-input-torque"
    )
    assert row["verdict"] == "fail"


def test_status_is_0_when_a_should_fails_or_a_must_is_not_known(capsys, tmp_path):
    path = study_file(tmp_path, ('continuous_grade = { unit = "percent", value = 4 }\n', ""))
    status, said, _ = run(capsys, "study", path)
    assert status == 0
    assert "not decided" in said
    assert "duty.continuous_grade" in said


@pytest.mark.slow
def test_folder_that_is_there_is_left_alone_unless_asked(capsys, tmp_path, quick):
    path, out = study_file(tmp_path), tmp_path / "out"
    assert run(capsys, "study", path, "--out", out)[0] == 0
    (out / "report.html").write_text("marked", encoding="utf-8")
    status, said, err = run(capsys, "study", path, "--out", out)
    assert (status, said) == (2, "")
    assert "nothing is overwritten without being asked" in err
    assert (out / "report.html").read_text(encoding="utf-8") == "marked"
    assert run(capsys, "study", path, "--out", out, "--overwrite")[0] == 0
    assert (out / "report.html").read_text(encoding="utf-8") != "marked"
    assert names(tmp_path) == ["out", "small.toml"]


@pytest.mark.parametrize("mine", ["diary.txt", "report.html"])
def test_folder_with_other_things_is_never_replaced(capsys, tmp_path, mine):
    out = tmp_path / "home"
    out.mkdir()
    (out / mine).write_text("mine", encoding="utf-8")
    status, _, err = run(capsys, "study", study_file(tmp_path), "--out", out, "--overwrite")
    assert status == 2
    assert "is left alone" in err
    assert (out / mine).read_text(encoding="utf-8") == "mine"


def test_file_in_the_place_of_the_folder_is_refused(capsys, tmp_path):
    path = study_file(tmp_path)
    status, _, err = run(capsys, "study", path, "--out", path, "--overwrite")
    assert status == 2
    assert "is not a folder" in err
    status, _, err = run(capsys, "study", path, "--out", path / "below")
    assert status == 2
    assert "inside a file" in err


@pytest.mark.slow
def test_empty_folder_may_be_used(capsys, tmp_path, quick):
    out = tmp_path / "out"
    out.mkdir()
    assert run(capsys, "study", study_file(tmp_path), "--out", out)[0] == 0
    assert "report.html" in names(out)


@pytest.mark.slow
@pytest.mark.parametrize("before", [False, True], ids=["new", "over an earlier report"])
def test_ctrl_c_leaves_nothing_half_written(capsys, tmp_path, monkeypatch, quick, before):
    path, out = study_file(tmp_path), tmp_path / "out"
    if before:
        assert run(capsys, "study", path, "--out", out)[0] == 0
        (out / "report.html").write_text("earlier", encoding="utf-8")

    def interrupted(result, system):
        raise KeyboardInterrupt

    monkeypatch.setattr(study_folder, "study_tables", interrupted)
    status, _, err = run(capsys, "study", path, "--out", out, "--overwrite")
    assert status == 130
    assert "nothing was left half-written" in err
    assert names(tmp_path) == (["out", "small.toml"] if before else ["small.toml"])
    if before:
        assert (out / "report.html").read_text(encoding="utf-8") == "earlier"


@pytest.fixture
def heeding():
    """Heed ctrl-C, whatever the shell that runs the tests has set."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.slow
@pytest.mark.parametrize("which", [signal.SIGINT, signal.SIGTERM], ids=["SIGINT", "SIGTERM"])
@pytest.mark.parametrize("moment", ["made", "filled", "cleared", "all three"])
def test_request_to_stop_at_the_worst_moment_leaves_nothing(
    capsys, tmp_path, monkeypatch, quick, heeding, which, moment
):
    # The moments at which a signal used to find nobody to clear the draft away: as the system has
    # just made it, and in the midst of clearing it.
    path, out = study_file(tmp_path), tmp_path / "out"
    make, clear = os.mkdir, os.rmdir
    came = []

    def stop(at):
        if moment in (at, "all three"):
            came.append(at)
            signal.raise_signal(which)

    def making(name, *rest, **options):
        make(name, *rest, **options)
        if str(name).endswith(".part"):
            stop("made")

    def filling(result, system):
        stop("filled")
        raise KeyboardInterrupt  # there is something to clear in any case

    def clearing(*rest, **options):
        stop("cleared")
        clear(*rest, **options)

    monkeypatch.setattr(os, "mkdir", making)
    monkeypatch.setattr(os, "rmdir", clearing)
    monkeypatch.setattr(study_folder, "study_tables", filling)
    handlers = [signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)]
    status, _, err = run(capsys, "study", path, "--out", out)
    assert came
    assert status == 130
    assert "nothing was left half-written" in err
    assert names(tmp_path) == ["small.toml"]
    assert handlers == [signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)]


@pytest.mark.slow
def test_request_to_stop_that_comes_too_late_leaves_the_whole_report(
    capsys, tmp_path, monkeypatch, quick, heeding
):
    path, out = study_file(tmp_path), tmp_path / "out"
    put = study_folder._put_in_place

    def stopped(draft, folder):
        signal.raise_signal(signal.SIGINT)
        put(draft, folder)

    monkeypatch.setattr(study_folder, "_put_in_place", stopped)
    assert run(capsys, "study", path, "--out", out)[0] == 130
    assert names(tmp_path) == ["out", "small.toml"]
    assert {"report.html", "result.json"} <= set(names(out))


# What a shell runs in the background inherits a deaf ear for SIGINT; a person's terminal does not.
HEEDING = (
    "import signal, sys\n"
    "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
    "from converter_match.cli import main\n"
    "sys.exit(main(sys.argv[1:]))\n"
)


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
@pytest.mark.parametrize("which", [signal.SIGINT, signal.SIGTERM], ids=["SIGINT", "SIGTERM"])
def test_process_that_is_stopped_while_writing_leaves_nothing(tmp_path, which):
    path, out = study_file(tmp_path), tmp_path / "out"
    command = [sys.executable, "-c", HEEDING, "study", str(path), "--out", str(out)]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    deadline = time.monotonic() + 120
    while not any(item.name.endswith(".part") for item in tmp_path.iterdir()):
        assert process.poll() is None, "it ended before it began to write"
        assert time.monotonic() < deadline
        time.sleep(0.01)
    process.send_signal(which)
    assert process.wait(timeout=120) == 130
    assert names(tmp_path) == ["small.toml"]


@pytest.mark.parametrize(
    ("argv", "says"),
    [
        (("nowhere.toml",), "nowhere.toml: no such file"),
        (("quarry-loader-repowr",), "did you mean 'quarry-loader-repower'"),
        (("small", "--draws", "1"), "--draws"),
    ],
)
def test_bad_argument_gives_one_line(capsys, tmp_path, argv, says):
    status, said, err = run(capsys, "study", *argv)
    assert (status, said) == (2, "")
    assert says in err
    assert err.count("\n") == 1


def test_bad_place_is_refused_before_any_work(capsys, tmp_path, monkeypatch):
    import converter_match.judgement.decision.run as room

    def never(*arguments):
        raise AssertionError("worked for nothing")

    monkeypatch.setattr(room, "run_study", never)
    out = tmp_path / "out"
    out.mkdir()
    (out / "diary.txt").touch()
    assert run(capsys, "study", study_file(tmp_path), "--out", out)[0] == 2


def test_check_reads_a_study_and_all_that_it_names(capsys, tmp_path):
    path = study_file(tmp_path)
    status, said, _ = run(capsys, "check", path)
    assert status == 0
    assert "study 'small' can be read" in said
    bad = study_file(tmp_path, ('"wheel-loader-17t"', '"wheel-loader-71t"'))
    status, _, err = run(capsys, "check", bad)
    assert status == 2
    assert "present.machine" in err
