"""Folders that refuse to be written to, disks that fill up, and a way to run the program there."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from fontTools.fontBuilder import FontBuilder  # comes with the library that draws the figures
from fontTools.pens.ttGlyphPen import TTGlyphPen

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
def script_font(tmp_path):
    """Variables for a machine whose only font beyond the shipped ones has the letter 工.

    It is a square, 0.9 of the size of the letters wide; there is no bold.
    """
    if not sys.platform.startswith("linux"):
        pytest.skip("fonts are looked for elsewhere there")
    folder = tmp_path / "data" / "fonts"
    folder.mkdir(parents=True)
    square = TTGlyphPen(None)
    square.moveTo((100, 0))
    for corner in ((100, 700), (800, 700), (800, 0)):
        square.lineTo(corner)
    square.closePath()
    font = FontBuilder(1000, isTTF=True)
    font.setupGlyphOrder([".notdef", "work"])
    font.setupCharacterMap({ord("工"): "work"})
    font.setupGlyf({".notdef": TTGlyphPen(None).glyph(), "work": square.glyph()})
    font.setupHorizontalMetrics({".notdef": (500, 0), "work": (900, 100)})
    font.setupHorizontalHeader(ascent=800, descent=-200)
    names = {"familyName": "Made For A Test", "styleName": "Regular",
             "uniqueFontIdentifier": "made for a test", "fullName": "Made For A Test",
             "psName": "MadeForATest", "version": "Version 1.0"}  # fmt: skip
    font.setupNameTable(names)
    font.setupOS2(sTypoAscender=800, sTypoDescender=-200, usWinAscent=800, usWinDescent=200)
    font.setupPost()
    font.save(folder / "made-for-a-test.ttf")
    return {
        "XDG_DATA_HOME": str(tmp_path / "data"),
        "MPLCONFIGDIR": str(tmp_path / "settings"),
        "HOME": str(tmp_path),
    }


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
