"""The verb ``lab`` with a real JupyterLab, in a folder whose name tries people's luck."""

import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest

from converter_match.cli import main
from converter_match.cli.lab import lab_command

ADDRESS = re.compile(r"http://127\.0\.0\.1:(\d+)(/\S*)\?token=(\w+)")


@pytest.fixture
def place(tmp_path):
    made = tmp_path / "Мой погрузчик ü 1"
    made.mkdir()
    return made


def jupyter_elsewhere(folder):
    """An environment in which JupyterLab reads and writes nobody's settings."""
    names = ("CONFIG_DIR", "DATA_DIR", "RUNTIME_DIR")
    return os.environ | {f"JUPYTER_{name}": str(folder / ".jupyter" / name) for name in names}


def started(place, *options, program=("-m", "converter_match")):
    """Start the verb; return the process, the address it prints and what it said until then."""
    process = subprocess.Popen(
        [sys.executable, *program, "lab", "--no-browser", *options],
        cwd=place,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        env=jupyter_elsewhere(place) | {"PYTHONUTF8": "1", "PYTHONUNBUFFERED": "1"},
        start_new_session=True,
    )
    said = []
    for line in process.stdout:
        said.append(line)
        found = ADDRESS.search(line)
        if found and listens(int(found[1])):
            return process, found, said
    raise AssertionError("".join(said))


def listens(port, seconds=20.0):
    """Wait for the server: it prints its address a moment before it answers there."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
            return True
        except OSError:
            time.sleep(0.05)
    return False


def answers(url):
    try:
        with urllib.request.urlopen(url, timeout=20) as answer:
            return answer.status
    except urllib.error.HTTPError as error:
        return error.code


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="a console's Ctrl-C cannot be sent from here")
def test_lab_serves_this_machine_with_a_token_and_ends_at_ctrl_c(place):
    process, address, said = started(place)
    try:
        port, path, token = address.groups()
        base = f"http://127.0.0.1:{port}"
        assert answers(f"{base}/api/status?token={token}") == 200
        assert path == "/lab/tree/start.ipynb"
        assert len(token) >= 32
        assert answers(f"{base}{path}?token={token}") == 200
        assert answers(f"{base}/api/contents/start.ipynb?token={token}") == 200
        assert answers(f"{base}/api/contents/start.ipynb") == 403
        assert answers(f"{base}/api/contents/start.ipynb?token=guess") == 403
        folder = place / "converter-match-notebooks"
        assert f"working folder: {folder}" in "".join(said)
        assert (folder / "start.ipynb").is_file()
    finally:
        # What a terminal does at Ctrl-C: a signal to everything that runs in it.
        os.killpg(process.pid, signal.SIGINT)
        rest, _ = process.communicate(timeout=60)
    assert process.returncode == 0, rest
    assert "Traceback" not in rest
    with pytest.raises(urllib.error.URLError):
        answers(f"{base}/api/status?token={token}")


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="has no signal that cannot be caught")
def test_nothing_in_the_working_folder_is_executed_and_a_kill_ends_the_server(place):
    folder = place / "converter-match-notebooks"
    folder.mkdir()
    names = ("jupyterlab", "jupyter_server_config", "jupyter_config", "usercustomize", "json")
    for where in (place, folder):
        for name in names:
            (where / f"{name}.py").write_text(f"open({str(place / 'ran')!r}, 'a').write({name!r})")
    # Started by its installed path, as the console script is: Python puts its own folder first.
    process, address, _ = started(place, program=["-P", "-m", "converter_match"])
    base = f"http://127.0.0.1:{address[1]}"
    assert answers(f"{base}/api/contents/start.ipynb?token={address[3]}") == 200
    assert not (place / "ran").exists()
    process.kill()
    process.communicate(timeout=60)
    end = time.monotonic() + 30.0
    while time.monotonic() < end:
        try:
            socket.create_connection(("127.0.0.1", int(address[1])), timeout=1).close()
        except OSError:
            return
        time.sleep(0.1)
    raise AssertionError("the server goes on")


def test_a_second_run_keeps_what_a_person_changed(place, monkeypatch, capsys):
    monkeypatch.chdir(place)
    assert main(["lab", "--copy-only", "--folder", "моя папка"]) == 0
    assert "copied:" in capsys.readouterr().out
    own = place / "моя папка" / "start.ipynb"
    own.write_text(own.read_text("utf-8").replace('"cells"', '"cells" '), "utf-8")
    changed = own.read_bytes()
    assert main(["lab", "--copy-only", "--folder", "моя папка"]) == 0
    assert "kept with your changes: start.ipynb" in capsys.readouterr().out
    assert own.read_bytes() == changed


def test_a_second_run_says_that_nothing_was_to_do(place, monkeypatch, capsys):
    monkeypatch.chdir(place)
    assert main(["lab", "--copy-only"]) == 0
    assert "left as it is" not in capsys.readouterr().out
    assert main(["lab", "--copy-only"]) == 0
    said = capsys.readouterr().out
    assert said == (
        "converter-match-notebooks holds the notebooks as shipped; it was left as it is\n"
    )


def test_a_folder_without_its_option_is_answered_with_what_to_type(place, monkeypatch, capsys):
    monkeypatch.chdir(place)
    assert main(["lab", "my machines"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert "converter-match lab --folder 'my machines'" in said.err
    assert list(place.iterdir()) == []


def test_a_port_in_use_is_not_exchanged_for_another_in_silence():
    assert "--ServerApp.port_retries=0" in lab_command(Path("notebooks"), 8899, no_browser=True)
    assert "--ServerApp.port_retries=0" not in lab_command(Path("notebooks"), None, no_browser=True)


def test_root_is_let_in_and_nobody_else_needs_to_be(monkeypatch):
    monkeypatch.setattr(os, "geteuid", lambda: 0, raising=False)
    assert "--allow-root" in lab_command(Path("notebooks"), None, no_browser=True)
    monkeypatch.setattr(os, "geteuid", lambda: 1000, raising=False)
    assert "--allow-root" not in lab_command(Path("notebooks"), None, no_browser=True)


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="has no signal to end a program")
@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_what_ends_the_program_ends_jupyterlab_and_by_force_if_it_hangs(name):
    stubborn = "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); time.sleep(60)"
    code = (
        "import sys; from converter_match.cli import lab; "
        "lab._PATIENCE = 0.5; print('ready', flush=True); "
        f"sys.exit(lab._served([sys.executable, '-c', {stubborn!r}]))"
    )
    process = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE)
    assert process.stdout.readline().strip() == b"ready"
    time.sleep(1.0)
    start = time.monotonic()
    process.send_signal(getattr(signal, name))
    process.communicate(timeout=20)
    assert process.returncode == 0
    assert 0.4 < time.monotonic() - start < 10.0


def test_the_status_of_jupyterlab_is_handed_on():
    from converter_match.cli.lab import _served

    assert _served([sys.executable, "-c", "raise SystemExit(7)"]) == 7
