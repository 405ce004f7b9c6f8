"""The verb ``study`` as a person or a script uses it."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time

import pytest

from converter_match.cli import main
from converter_match.library.shipped import data_folder
from converter_match.library.study_copies import Settings, copies_of, index_text
from converter_match.library.study_file import read_study
from converter_match.present.report import study_folder
from tests.study_examples import STUDY, study_file


def run(capsys, *argv):
    status = main([str(item) for item in argv])
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def names(folder):
    return sorted(path.name for path in folder.iterdir())


@pytest.mark.slow
def test_whole_report_is_written(capsys, tmp_path):
    out = tmp_path / "deep" / "out"
    status, said, err = run(capsys, "study", study_file(tmp_path), "--out", out)
    assert (status, err) == (0, "")
    assert names(out) == [
        "figures", "inputs", "pages", "report.html", "report.pdf", "result.json", "tables",
    ]  # fmt: skip
    # Two pages that move for each combination, and a link to each.
    page = (out / "report.html").read_text(encoding="utf-8")
    linked = re.findall(r'href="pages/([^"]+)"', page)
    assert sorted(linked) == names(out / "pages")
    assert {"slider-a.html", "slider-today.html", "what-if-a.html", "what-if-today.html"} <= {
        *linked
    }
    assert all((out / "pages" / name).stat().st_size < 300_000 for name in linked)
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
def test_folder_that_is_there_is_left_alone_unless_asked(capsys, tmp_path, without_pictures):
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


def test_the_folder_that_one_is_in_is_not_replaced(tmp_path, capsys, monkeypatch):
    path = study_file(tmp_path)
    inside = tmp_path / "empty" / "inside"
    inside.mkdir(parents=True)
    monkeypatch.chdir(inside)
    for out in (".", "..", inside, inside.parent):
        status, _, err = run(capsys, "study", path, "--out", out)
        assert status == 2
        assert "is the folder that you are in, or holds it" in err
        assert "--out report" in err
    assert list(inside.iterdir()) == []


def test_file_in_the_place_of_the_folder_is_refused(capsys, tmp_path):
    path = study_file(tmp_path)
    status, _, err = run(capsys, "study", path, "--out", path, "--overwrite")
    assert status == 2
    assert "is not a folder" in err
    status, _, err = run(capsys, "study", path, "--out", path / "below")
    assert status == 2
    assert "inside a file" in err


@pytest.mark.slow
def test_empty_folder_may_be_used(capsys, tmp_path, without_pictures):
    out = tmp_path / "out"
    out.mkdir()
    assert run(capsys, "study", study_file(tmp_path), "--out", out)[0] == 0
    assert "report.html" in names(out)


@pytest.mark.slow
@pytest.mark.parametrize("before", [False, True], ids=["new", "over an earlier report"])
def test_ctrl_c_leaves_nothing_half_written(
    capsys, tmp_path, monkeypatch, without_pictures, before
):
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
    capsys, tmp_path, monkeypatch, without_pictures, heeding, which, moment
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
    capsys, tmp_path, monkeypatch, without_pictures, heeding
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


# --- a report made again -----------------------------------------------------------------------


def content(folder):
    """Return place -> bytes of every file below a folder."""
    files = (path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}


def own_files(folder):
    """Write a study whose files lie all over the place, two of them under one name."""
    shipped = data_folder()
    for kind, name, place in (
        ("engines", "six-cylinder-10l5-138kw.toml", "old/Engine.toml"),
        ("engines", "six-cylinder-7l-185kw.toml", "new/engine.toml"),
        ("converters", "single-stage-345mm-tight.toml", "shelf/converter.toml"),
        ("routes", "quarry-to-crusher.csv", "roads/to and fro.csv"),
        ("published", "surfaces.csv", "roads/ground.csv"),
    ):
        (folder / place).parent.mkdir(parents=True, exist_ok=True)
        (folder / place).write_bytes((shipped / kind / name).read_bytes())
    study = folder / "studies" / "mine.toml"
    study.parent.mkdir()
    text = STUDY.replace('"six-cylinder-10l5-138kw"', '"../old/Engine.toml"')
    text = text.replace('"six-cylinder-7l-185kw"', '"../new/engine.toml"')
    text = text.replace('"single-stage-345mm-tight"', '"../shelf/converter.toml"')
    more = (
        'surfaces = "../roads/ground.csv"\n'
        f'routes = ["{folder.as_posix()}/roads/to and fro.csv", "quarry-to-crusher"]\n'
        '[[tolerance]]\nquantity = "engine-torque"\nhalf_width = 0.03\n'
    )
    study.write_text(text + more, encoding="utf-8")
    return study


@pytest.mark.slow
def test_report_of_own_files_is_made_again_byte_for_byte_without_them(
    capsys, tmp_path, without_pictures
):
    away = tmp_path / "away"
    study = own_files(away)
    first, again = tmp_path / "first", tmp_path / "again"
    argv = ("study", study, "--out", first, "--units", "us", "--draws", 40)
    assert run(capsys, *argv)[0] == 0
    shutil.rmtree(away)
    copies = {name for name in content(first) if name.startswith("inputs/")}
    # Two engines of one name, as a file system without capitals sees it.
    assert {"inputs/engines/Engine.toml", "inputs/engines-2/engine.toml"} <= copies
    assert {"inputs/surfaces/ground.csv", "inputs/routes/to and fro.csv"} <= copies
    assert run(capsys, "study", first, "--out", again)[0] == 0
    assert content(first) == content(again)
    # And once more, in its own place.
    assert run(capsys, "study", first, "--out", first, "--overwrite")[0] == 0
    assert content(first) == content(again)


@pytest.mark.slow
def test_report_of_shipped_files_is_made_again_byte_for_byte(capsys, tmp_path):
    first, again = tmp_path / "first", tmp_path / "again"
    argv = ("study", "loader-in-the-yard", "--out", first, "--draws", 0)
    status = run(capsys, *argv)[0]
    assert run(capsys, "study", first, "--out", again)[0] == status
    assert content(first) == content(again)
    # What is asked for goes before what the report was made with.
    assert run(capsys, "study", first, "--out", tmp_path / "us", "--units", "us")[0] == status
    assert content(first)["report.html"] != content(tmp_path / "us")["report.html"]


@pytest.fixture
def report_inputs(tmp_path):
    """A folder with the inputs of a report, as the report writes them."""
    inputs = read_study(study_file(tmp_path)).inputs
    folder = tmp_path / "report"
    for item, place in copies_of(inputs):
        (folder / place).parent.mkdir(parents=True, exist_ok=True)
        (folder / place).write_bytes(item.content)
    settings = Settings(units="si", tables="si", draws=0, seed=0)
    (folder / "inputs/index.json").write_text(index_text(inputs, settings), encoding="utf-8")
    return folder


def test_study_is_read_from_the_folder_of_a_report(report_inputs, tmp_path):
    assert read_study(report_inputs) == read_study(tmp_path / "small.toml")


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda folder: shutil.rmtree(folder / "inputs"), "without the inputs of a report"),
        (
            lambda folder: (folder / "inputs/engines/six-cylinder-7l-185kw.toml").unlink(),
            "no such file",
        ),
        (
            lambda folder: (folder / "inputs/sites/plateau-quarry-hot-day.toml").write_text("x"),
            "its checksum is another",
        ),
        (lambda folder: edit(folder, "inputs/studies/small.toml", "../small.toml"), "copy"),
        (lambda folder: edit(folder, '"units": "si"', '"units": "old"'), "units"),
        (lambda folder: edit(folder, '"draws": 0', '"draws": -1'), "draws"),
        (lambda folder: edit(folder, '"role": "study"', '"role": "else"'), "no study"),
        (lambda folder: edit(folder, '"files": [', '"files": 1, "x": ['), "files"),
        (lambda folder: edit(folder, '"path": "small.toml"', '"path": 7'), "path"),
        (lambda folder: edit(folder, "{", "["), "not the index"),
    ],
)
def test_spoilt_inputs_of_a_report_give_one_line(capsys, report_inputs, tmp_path, spoil, says):
    spoil(report_inputs)
    status, said, err = run(capsys, "study", report_inputs, "--out", tmp_path / "out")
    assert (status, said) == (2, "")
    assert says in err
    assert err.count("\n") == 1
    assert not (tmp_path / "out").exists()


def edit(folder, old, new):
    index = folder / "inputs" / "index.json"
    text = index.read_text(encoding="utf-8")
    assert old in text
    index.write_text(text.replace(old, new, 1), encoding="utf-8")


@pytest.mark.parametrize(
    "mine", ["inputs/engines/mine.toml", "inputs/engines/six-cylinder-7l-185kw.toml"]
)
def test_own_files_among_the_inputs_of_a_report_are_left_alone(
    capsys, report_inputs, tmp_path, mine
):
    (report_inputs / "result.json").write_text(study_folder._SCHEMAS[0], encoding="utf-8")
    (report_inputs / mine).write_text("mine", encoding="utf-8")
    argv = ("study", tmp_path / "small.toml", "--out", report_inputs, "--overwrite")
    status, _, err = run(capsys, *argv)
    assert status == 2
    assert "is left alone" in err
    assert (report_inputs / mine).read_text(encoding="utf-8") == "mine"


def test_date_is_read_as_a_text_and_as_a_date_of_the_file(tmp_path):
    for written in ('"2026-03-01"', "2026-03-01"):
        path = study_file(tmp_path, ("[present]", f"date = {written}\n[present]"))
        assert read_study(path).date == "2026-03-01"
    assert read_study(study_file(tmp_path)).date == ""
