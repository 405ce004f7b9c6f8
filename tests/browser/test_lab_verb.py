"""The address that ``converter-match lab`` prints leads to the start page, links and all."""

import json
import os
import sys

import pytest

from tests.browser.conftest import ROOT, keep_picture
from tests.cli.test_lab import started

START = ROOT / "notebooks" / "start.ipynb"


@pytest.mark.skipif(sys.platform == "win32", reason="a process group cannot be ended from here")
def test_the_printed_address_opens_the_start_page(page, tmp_path):
    import signal

    place = tmp_path / "Мой 2 ü"
    place.mkdir()
    process, address, _ = started(place)
    home = page.url
    try:
        page.goto(address[0], timeout=60_000)
        cells = json.loads(START.read_text("utf-8"))["cells"]
        heading = "".join(cells[0]["source"]).splitlines()[0].lstrip("# ").strip()
        page.get_by_role("heading", name=heading).first.wait_for(timeout=60_000)
        assert page.locator(".jp-Notebook").count() == 1
        keep_picture(page, "lab-start-page")
    finally:
        # The page would complain if its server went away under it.
        page.goto(home)
        page.wait_for_function("() => window.jupyterapp !== undefined", timeout=90_000)
        os.killpg(process.pid, signal.SIGINT)
        process.communicate(timeout=60)
