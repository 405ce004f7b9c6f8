"""Verb ``lab``: open the notebooks in JupyterLab on a working copy."""

from __future__ import annotations

import argparse
import importlib.util
import os
import shlex
import signal
import subprocess
import sys
import time
from pathlib import Path

from converter_match.errors import InputError

NAME = "lab"
HELP = "open the notebooks in JupyterLab, on a working copy of your own"
DESCRIPTION = """\
Copy the shipped notebooks to a working folder and open them in JupyterLab.

A notebook that you changed is never overwritten; a newer shipped version is put beside it.
JupyterLab listens on this machine only and asks for its token.

examples:
  converter-match lab
  converter-match lab --folder my-repower --no-browser"""
_FOLDER = "converter-match-notebooks"
# What JupyterLab is given to end its kernels [s].
_PATIENCE = 10.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    parser.add_argument(
        "--folder", metavar="FOLDER", default=_FOLDER, help=f"working folder (default: {_FOLDER})"
    )
    parser.add_argument("folder_alone", metavar="FOLDER", nargs="*", help=argparse.SUPPRESS)
    parser.add_argument("--no-browser", action="store_true", help="print the address only")
    parser.add_argument(
        "--copy-only", action="store_true", help="copy the notebooks and do not start JupyterLab"
    )
    parser.add_argument("--port", type=int, help="port on this machine (default: a free one)")


def run(args: argparse.Namespace) -> int:
    """Copy, start JupyterLab, and return its exit status."""
    from converter_match.present.lab.workspace import copy_notebooks

    if args.folder_alone:
        folder = shlex.join(args.folder_alone)
        raise InputError(
            "the working folder is given by its option",
            source="lab",
            found=" ".join(args.folder_alone),
            hint=f"type: converter-match lab --folder {folder}",
        )
    if args.port is not None and not 1 <= args.port <= 65535:
        raise InputError("not a port", source="--port", found=args.port, expected="1 to 65535")
    if not args.copy_only and importlib.util.find_spec("jupyterlab") is None:
        raise InputError(
            "JupyterLab is not installed here",
            source="lab",
            hint="install it with: python -m pip install 'converter-match[lab]'",
        )
    copied = copy_notebooks(args.folder)
    for words, names in (
        ("copied", copied.new),
        ("brought up to date", copied.renewed),
        ("kept with your changes", copied.kept),
        ("shipped version put beside yours", copied.beside),
    ):
        if names:
            print(f"{words}: {', '.join(names)}")
    if not (copied.new or copied.renewed or copied.kept or copied.beside):
        print(f"{args.folder} holds the notebooks as shipped; it was left as it is")
    if args.copy_only:
        return 0
    print(f"working folder: {copied.folder.resolve()}")
    print("To end: press Ctrl-C here. Save your notebooks first.", flush=True)
    return _served(lab_command(copied.folder, args.port, no_browser=args.no_browser))


def _served(command: list[str]) -> int:
    """Run JupyterLab until it ends or this program is told to end.

    It starts in the folder of Python itself, and never in that of the notebooks: a program may look
    for its modules and settings where it is started.

    Ctrl-C may be lost in JupyterLab while a kernel starts; the signal to end is not. So the
    keyboard does not reach it, and whatever would end this program becomes that signal. Should it
    hang on the way out it is ended by force; kernels see that and end themselves. If this program
    is killed, the pipe to JupyterLab closes, and that ends it too (`present.lab.server`).
    """
    if sys.platform == "win32":  # has no such signal; the console tells both
        server = subprocess.Popen(command, cwd=sys.prefix, stdin=subprocess.PIPE)
        while True:
            try:
                return server.wait()
            except KeyboardInterrupt:
                continue
    server = subprocess.Popen(command, cwd=sys.prefix, stdin=subprocess.PIPE, process_group=0)
    asked: list[float] = []

    def end(*_: object) -> None:
        asked.append(time.monotonic())
        server.terminate()

    ends = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
    before = [signal.signal(name, end) for name in ends]
    try:
        while True:
            try:
                status = server.wait(timeout=1.0)
                return 0 if asked else status
            except subprocess.TimeoutExpired:
                if asked and time.monotonic() - asked[0] > _PATIENCE:
                    server.kill()
    finally:
        if server.stdin is not None:
            server.stdin.close()
        for name, handler in zip(ends, before, strict=True):
            signal.signal(name, handler)


def lab_command(folder: Path, port: int | None, *, no_browser: bool) -> list[str]:
    """Return the command that starts JupyterLab: this machine only, token on, no news from outside.

    -P: no module is looked for in the folder where Python is started.
    """
    from converter_match.present.lab.workspace import START

    command = [sys.executable, "-P", "-m", "converter_match.present.lab.server"]
    command += [f"--ServerApp.root_dir={folder.resolve()}", "--ServerApp.ip=127.0.0.1"]
    command += ["--LabApp.news_url=None"]
    command += ["--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate"]
    # The start page is part of the address, so that the printed one leads there as well.
    command.append(f"--LabApp.default_url=/lab/tree/{START}")
    # Ctrl-C ends it at once, without the question whether it is meant.
    command.append("--ServerApp.answer_yes=True")
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        # In a container there may be nobody but root; JupyterLab would refuse to start.
        command.append("--allow-root")
    if port is not None:
        command += [f"--ServerApp.port={port}", "--ServerApp.port_retries=0"]
    if no_browser:
        command.append("--no-browser")
    return command
