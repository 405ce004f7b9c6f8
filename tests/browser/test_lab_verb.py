"""The address that ``converter-match lab`` prints leads to the start page, links and all."""

import json
import os
import signal
import sys

import pytest

from tests.browser.conftest import ROOT, keep_picture
from tests.browser.lab_page import said
from tests.cli.test_lab import started

START = ROOT / "notebooks" / "start.ipynb"


@pytest.mark.skipif(sys.platform == "win32", reason="a process group cannot be ended from here")
def test_the_printed_address_opens_the_start_page(page, tmp_path):
    place = tmp_path / "Мой 2 ü"
    place.mkdir()
    process, address, _ = started(place)
    tab = page.context.browser.new_page(viewport={"width": 1280, "height": 720})
    tab.on("console", lambda m: page.errors.append(said(m)) if m.type == "error" else None)
    try:
        tab.goto(address[0], timeout=60_000)
        cells = json.loads(START.read_text("utf-8"))["cells"]
        heading = "".join(cells[0]["source"]).splitlines()[0].lstrip("# ").strip()
        tab.get_by_role("heading", name=heading).first.wait_for(timeout=60_000)
        assert tab.locator(".jp-Notebook").count() == 1
        tab.wait_for_selector("[data-status=idle]", timeout=60_000)
        keep_picture(tab, "lab-start-page")
    finally:
        tab.close()  # before its server goes away under it
        os.killpg(process.pid, signal.SIGINT)
        process.communicate(timeout=60)
