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
    # JupyterLab would ask in a window of its own, over the page, whether it may fetch news.
    asked = folder / ".jupyter" / "jupyterlab_settings_dir" / "@jupyterlab" / "apputils-extension"
    asked.mkdir(parents=True, exist_ok=True)
    (asked / "notification.jupyterlab-settings").write_text('{"fetchNews": "false"}')
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


def said(message: Any) -> str:
    """Return what the console says, and of which address."""
    return f"{message.text} {message.location.get('url', '')}".strip()


@contextmanager
def browser_page(driver: Any, width: int = 1280, height: int = 720) -> Iterator[Any]:
    """Yield a page of the system browser; its console errors are in ``page.errors``."""
    browser = driver.chromium.launch(executable_path=browser_path(), args=list(CHROMIUM_FLAGS))
    page = browser.new_page(viewport={"width": width, "height": height})
    errors: list[str] = []
    page.on("console", lambda m: errors.append(said(m)) if m.type == "error" else None)
    page.on("pageerror", lambda error: errors.append(error.stack or str(error)))
    page.errors = errors
    try:
        yield page
    finally:
        browser.close()


def open_lab(page: Any, address: str, path: str = "") -> None:
    """Load JupyterLab; with a path, that file is open in it."""
    where = f"/tree/{path}" if path else ""
    page.goto(f"{address}/lab{where}?token={TOKEN}&reset")
    page.wait_for_function("() => window.jupyterapp !== undefined", timeout=90_000)
    page.evaluate("async () => { await window.jupyterapp.restored; }")


def open_notebook(page: Any, path: str) -> None:
    """Bring a notebook to the front, in the page that is there, its kernel running and idle."""
    page.evaluate(
        "async path => { await window.jupyterapp.commands.execute('docmanager:open', {path}); }",
        path,
    )
    page.wait_for_function(KERNEL_IDLE, arg=path.split("/")[-1], timeout=60_000)
    page.evaluate(LISTEN)


def wait_until_answered(page: Any) -> None:
    """Wait until the kernel in front has answered all that was sent to it, and the page shows it.

    A widget holds a change back until the kernel is done with the one before it: a cell run right
    after two changes overtakes the second, and a picture drawn meanwhile is that of the first.
    """
    page.wait_for_function(ANSWERED, timeout=30_000)
    page.evaluate(DRAWN)


def run_all(page: Any) -> list[dict[str, Any]]:
    """Run every cell of the notebook in front; return its outputs, in order."""
    return list(page.evaluate(RUN_ALL))


def close_notebook(page: Any) -> None:
    """End the kernel of the notebook in front and close it without saving."""
    page.evaluate(CLOSE)
    page.wait_for_timeout(200)


def open_and_run(page: Any, address: str, notebook: str) -> None:
    """Load JupyterLab with a notebook, and run all its cells."""
    open_lab(page, address, notebook)
    page.wait_for_function(KERNEL_IDLE, arg=notebook.split("/")[-1], timeout=60_000)
    run_all(page)


# The widget manager registers with the kernel: run only once the kernel is connected and idle.
KERNEL_IDLE = """
name => {
  const widget = window.jupyterapp.shell.currentWidget;
  if (!widget || !widget.context || !widget.context.path.endsWith(name)) return false;
  const kernel = widget.sessionContext && widget.sessionContext.session
    && widget.sessionContext.session.kernel;
  return Boolean(kernel && kernel.connectionStatus === "connected" && kernel.status === "idle");
}
"""
# Keeps the messages of the kernel in front that it has not answered; once for a kernel connection.
LISTEN = """
() => {
  const kernel = window.jupyterapp.shell.currentWidget.sessionContext.session.kernel;
  const ask = new Set(["comm_open", "comm_msg", "execute_request"]);
  window.unanswered ??= new WeakMap();
  if (window.unanswered.has(kernel)) return;
  const open = new Set();
  window.unanswered.set(kernel, open);
  kernel.anyMessage.connect((_, {msg, direction}) => {
    if (direction === "send" && ask.has(msg.header.msg_type)) open.add(msg.header.msg_id);
    else if (msg.header.msg_type === "status" && msg.content.execution_state === "idle")
      open.delete(msg.parent_header.msg_id);
  });
  kernel.statusChanged.connect((_, status) => { if (status === "restarting") open.clear(); });
}
"""
ANSWERED = """
() => {
  const kernel = window.jupyterapp.shell.currentWidget.sessionContext.session.kernel;
  return window.unanswered.get(kernel).size === 0;
}
"""
DRAWN = """
() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))
"""
RUN_ALL = """
async () => {
  const {commands, shell} = window.jupyterapp;
  const widget = shell.currentWidget;
  await commands.execute("notebook:run-all-cells");
  const outputs = [];
  for (const cell of widget.content.model.cells) {
    if (cell.type === "code") outputs.push(...cell.outputs.toJSON());
  }
  return outputs;
}
"""
CLOSE = """
async () => {
  const app = window.jupyterapp;
  const widget = app.shell.currentWidget;
  const session = widget.sessionContext.session.id;
  widget.context.model.dirty = false;
  widget.close();
  await app.serviceManager.sessions.shutdown(session);
}
"""
