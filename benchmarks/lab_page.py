"""A real JupyterLab in a headless browser, for the latency benchmark and the browser tests."""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

# As root in a closed network; none of it changes what a page does.
CHROMIUM_FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
TOKEN = "local"
_NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")


def browser_path() -> str | None:
    """Return a system browser that can be driven, or None."""
    named = os.environ.get("CONVERTER_MATCH_BROWSER")
    candidates = [named] if named else [shutil.which(name) for name in _NAMES]
    return next((path for path in candidates if path), None)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def lab_server(folder: Path) -> Iterator[str]:
    """Run JupyterLab on a folder and yield its address; ends it afterwards."""
    port = free_port()
    environment = dict(os.environ)
    # A configuration of its own: nobody's settings, no question about news, no extension surprises.
    for name in ("JUPYTER_CONFIG_DIR", "JUPYTERLAB_SETTINGS_DIR", "JUPYTERLAB_WORKSPACES_DIR"):
        environment[name] = str(folder / ".jupyter" / name.lower())
    log = (folder / ".jupyter-server.log").open("w", encoding="utf-8")
    server = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "jupyterlab",
            "--no-browser",
            "--allow-root",
            "--ip=127.0.0.1",
            f"--port={port}",
            "--ServerApp.port_retries=0",
            f"--IdentityProvider.token={TOKEN}",
            f"--ServerApp.root_dir={folder}",
            "--LabApp.expose_app_in_browser=True",
            "--LabApp.news_url=None",
            "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
        ],
        stdout=log,
        stderr=subprocess.STDOUT,
        env=environment,
    )
    address = f"http://127.0.0.1:{port}"
    try:
        _wait_for(f"{address}/api/status?token={TOKEN}", server)
        yield address
    finally:
        server.terminate()
        try:
            server.wait(20)
        except subprocess.TimeoutExpired:
            server.kill()
        log.close()


def _wait_for(url: str, server: subprocess.Popen[bytes], seconds: float = 60.0) -> None:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if server.poll() is not None:
            raise RuntimeError(f"JupyterLab ended with status {server.returncode}")
        try:
            with urllib.request.urlopen(url, timeout=2):
                return
        except (urllib.error.URLError, OSError):
            time.sleep(0.2)
    raise RuntimeError("JupyterLab did not answer in time")


def write_notebook(path: Path, *cells: str) -> None:
    """Write a notebook of code cells."""
    notebook: dict[str, Any] = {
        "cells": [
            {
                "cell_type": "code",
                "execution_count": None,
                "id": f"cell-{i}",
                "metadata": {},
                "outputs": [],
                "source": text,
            }
            for i, text in enumerate(cells)
        ],
        "metadata": {
            "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"}
        },
        "nbformat": 4,
        "nbformat_minor": 5,
    }
    path.write_text(json.dumps(notebook), encoding="utf-8")


@contextmanager
def browser_page(width: int = 1280, height: int = 720) -> Iterator[Any]:
    """Yield a page of the system browser; its console errors are in ``page.errors``."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=browser_path(), args=list(CHROMIUM_FLAGS)
        )
        page = browser.new_page(viewport={"width": width, "height": height})
        errors: list[str] = []
        page.on("console", lambda m: errors.append(m.text) if m.type == "error" else None)
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.errors = errors
        try:
            yield page
        finally:
            browser.close()


def open_and_run(page: Any, address: str, notebook: str) -> None:
    """Open a notebook and run all its cells; returns when the kernel is idle again."""
    page.goto(f"{address}/lab/tree/{notebook}?token={TOKEN}&reset")
    page.wait_for_selector(".jp-Notebook", timeout=60_000)
    page.wait_for_function("() => window.jupyterapp !== undefined", timeout=60_000)
    # The widget manager registers with the kernel: run only once the kernel is connected and idle.
    page.wait_for_function(_KERNEL_IDLE, timeout=60_000)
    page.evaluate("() => window.jupyterapp.commands.execute('notebook:run-all-cells')")


_KERNEL_IDLE = """
() => {
  const widget = window.jupyterapp.shell.currentWidget;
  const kernel = widget && widget.sessionContext && widget.sessionContext.session
    && widget.sessionContext.session.kernel;
  return Boolean(kernel && kernel.connectionStatus === "connected" && kernel.status === "idle");
}
"""
