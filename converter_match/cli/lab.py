"""Verb ``lab``: open the notebooks in JupyterLab on a working copy."""

from __future__ import annotations

import argparse
import importlib.util
import os
import subprocess
import sys

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


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the verb's options."""
    parser.add_argument(
        "--folder", metavar="FOLDER", default=_FOLDER, help=f"working folder (default: {_FOLDER})"
    )
    parser.add_argument("--no-browser", action="store_true", help="print the address only")
    parser.add_argument(
        "--copy-only", action="store_true", help="copy the notebooks and do not start JupyterLab"
    )
    parser.add_argument("--port", type=int, help="port on this machine (default: a free one)")


def run(args: argparse.Namespace) -> int:
    """Copy, start JupyterLab, and return its exit status."""
    from converter_match.present.workspace import copy_notebooks

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
    if args.copy_only:
        return 0
    print(f"working folder: {copied.folder.resolve()}")
    print("To end: press Ctrl-C here. Save your notebooks first.", flush=True)
    return _wait_for(
        subprocess.Popen(lab_command(args.port, no_browser=args.no_browser), cwd=copied.folder)
    )


def _wait_for(server: subprocess.Popen[bytes]) -> int:
    """Wait until JupyterLab has ended; Ctrl-C reaches it as well, and it ends its kernels."""
    while True:
        try:
            return server.wait()
        except KeyboardInterrupt:
            continue


def lab_command(port: int | None, *, no_browser: bool) -> list[str]:
    """Return the command that starts JupyterLab: this machine only, token on."""
    from converter_match.present.workspace import START

    command = [sys.executable, "-m", "jupyterlab", "--ServerApp.ip=127.0.0.1"]
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
