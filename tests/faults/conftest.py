"""Folders that refuse to be written to, disks that fill up, and a way to run the program there."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def mounted(folder, *options):
    """Mount a small file system in memory on a folder; skip, with the reason, where one may not."""
    if not (sys.platform == "linux" and hasattr(os, "geteuid") and os.geteuid() == 0):
        pytest.skip("needs root on Linux, to mount a file system in memory")
    if shutil.which("mount") is None:
        pytest.skip("there is no mount command")
    folder.mkdir(exist_ok=True)
    command = ["mount", "-t", "tmpfs", "-o", ",".join(options), "tmpfs", str(folder)]
    done = subprocess.run(command, capture_output=True, text=True)
    if done.returncode != 0:
        pytest.skip(f"mounting is not allowed here: {done.stderr.strip()}")


@pytest.fixture
def read_only_folder(tmp_path):
    """A folder with the file ``there.txt`` in which nothing can be written."""
    folder = tmp_path / "read only"
    folder.mkdir()
    if hasattr(os, "geteuid") and os.geteuid() != 0:
        (folder / "there.txt").write_text("there", encoding="utf-8")
        folder.chmod(0o555)
        yield folder
        folder.chmod(0o755)
        return
    mounted(folder, "size=64k")  # root may write wherever the file system may
    try:
        (folder / "there.txt").write_text("there", encoding="utf-8")
        subprocess.run(["mount", "-o", "remount,ro", str(folder)], check=True)
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


@pytest.fixture
def full_disk(tmp_path):
    """A file system with four thousand bytes left on it."""
    folder = tmp_path / "full disk"
    mounted(folder, "size=64k")
    try:
        with (folder / "ballast").open("wb") as file:
            file.write(b"\0" * (60 * 1024))
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


@pytest.fixture
def program(tmp_path):
    """Run the program in a process of its own: words, then variables of the environment.

    Returns (exit status, standard output, standard error), both as bytes.
    """

    def run(*words, cwd=tmp_path, python=(), **environment):
        kept = {name: value for name, value in os.environ.items()
                if name not in ("MPLBACKEND", "PYTHONIOENCODING", "LC_ALL", "LANG")}  # fmt: skip
        given = {name: value for name, value in environment.items() if value is not None}
        dropped = {name for name, value in environment.items() if value is None}
        env = {k: v for k, v in (kept | given | {"PYTHONPATH": str(ROOT)}).items()
               if k not in dropped}  # fmt: skip
        done = subprocess.run(
            [sys.executable, *python, "-W", "error", "-m", "converter_match", *map(str, words)],
            cwd=cwd, env=env, capture_output=True, timeout=120, stdin=subprocess.DEVNULL,
        )  # fmt: skip
        return done.returncode, done.stdout, done.stderr

    return run
