"""The promises of docs/security.md that no other test holds.

Bounded readers, macros, bombs and names that would leave their folder: tests/library/test_files.py
and tests/library/intake/test_bad_input.py. Escaping: tests/present. Files whole or not at all:
tests/faults. The address and the token of the lab: tests/cli/test_lab.py.
"""

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.properties.command_lines import LINES, SLOW

ROOT = Path(__file__).resolve().parents[1]
MODULES = sorted((ROOT / "converter_match").rglob("*.py"))
NETWORK = {"socket", "ssl", "http", "urllib", "ftplib", "smtplib", "xmlrpc", "socketserver",
           "asyncio", "requests", "httpx", "aiohttp", "urllib3", "webbrowser"}  # fmt: skip
LOADS_CODE = {"pickle", "cPickle", "dill", "joblib", "marshal", "shelve", "runpy", "code",
              "codeop", "yaml"}  # fmt: skip
RUNS_TEXT = {"eval", "exec", "compile", "__import__"}
# The notebook server; and the page of a PDF, drawn by our own file where its memory is bounded.
STARTS = {"cli/lab.py", "library/intake/image_file.py"}
# Waits for a file to be written on the loop that the notebook runs already; opens none.
WAITS = {"present/bench/exports.py": "get_running_loop"}
RUNS_PROGRAMS = {"system", "popen", "execv", "execvp", "spawnv", "startfile"}


def offences(source, name="module"):
    """Yield what a module does that could send something, or run what it reads."""
    for node in ast.walk(ast.parse(source)):
        names = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [node.module or ""]
        for module in names:
            root = module.partition(".")[0]
            if root == "asyncio" and isinstance(node, ast.Import) and name in WAITS:
                continue
            if root in NETWORK | LOADS_CODE or (root == "subprocess" and name not in STARTS):
                yield f"{name}:{node.lineno}: imports {module}"
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            if node.value.id == "asyncio" and node.attr != WAITS.get(name):
                yield f"{name}:{node.lineno}: asyncio.{node.attr}"
        if isinstance(node, ast.Call):
            called = node.func
            if isinstance(called, ast.Name) and called.id in RUNS_TEXT:
                yield f"{name}:{node.lineno}: {called.id}()"
            if isinstance(called, ast.Attribute) and called.attr in RUNS_PROGRAMS | {
                "read_pickle",
                "eval",
                "query",
            }:
                yield f"{name}:{node.lineno}: .{called.attr}()"
            for keyword in node.keywords:
                if keyword.arg in ("shell", "allow_pickle"):
                    yield f"{name}:{node.lineno}: {keyword.arg}="


@pytest.mark.slow
def test_no_module_sends_anything_or_runs_what_it_reads():
    found = [
        offence
        for path in MODULES
        for offence in offences(
            path.read_text(encoding="utf-8"), path.relative_to(ROOT / "converter_match").as_posix()
        )
    ]
    assert found == []


@pytest.mark.parametrize(
    "line",
    [
        "import urllib.request",
        "from socket import create_connection",
        "import pickle",
        "import subprocess",
        "eval(text)",
        "exec(text)",
        "import os; os.system(text)",
        "import numpy as np; np.load(path, allow_pickle=True)",
        "import pandas as pd; pd.read_pickle(path)",
        "run(text, shell=True)",
    ],
)
def test_the_search_finds(line):
    assert list(offences(line))


# Raises where anything reaches for the network or starts a program, whoever asked for it.
GUARD = """
import sys

def watch(event, args):
    if event.startswith("socket.") or event in ("subprocess.Popen", "os.system", "os.exec"):
        raise SystemExit(f"{event} {args}")

sys.addaudithook(watch)
from converter_match.cli import main
sys.exit(main(sys.argv[1:]))
"""


@pytest.mark.slow
@pytest.mark.parametrize("name", ["solve", "tractive", "study", "check", "intake"])
def test_verb_opens_no_connection_and_starts_no_program(name, tmp_path):
    done = subprocess.run(
        [sys.executable, "-c", GUARD, *(LINES | SLOW)[name]],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=300,
    )
    assert done.returncode in (0, 3), done.stderr


def test_guard_notices_a_connection():
    reach = GUARD.replace("from converter_match.cli", "import socket; socket.socket()\nfrom x")
    done = subprocess.run([sys.executable, "-c", reach], capture_output=True, text=True)
    assert done.returncode == 1
    assert "socket." in done.stderr
