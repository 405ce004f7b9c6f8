"""One JupyterLab and one page of it for all browser tests; skipped where there is no browser."""

import json
import os
import subprocess
import sys
from contextlib import ExitStack
from pathlib import Path

import pytest

from converter_match.present.lab.workspace import copy_notebooks
from tests.browser import lab_page

ROOT = Path(__file__).resolve().parents[2]
HERE = Path(__file__).parent
ARTEFACTS = HERE / "artefacts"
OPEN = ExitStack()  # the driver of the browsers, the server and the page of JupyterLab
# JupyterLab asks a notebook for its focus a moment after it was closed, on a busy machine.
OF_A_CLOSED_NOTEBOOK = ("reading 'footer'", "_ensureFocus", "/static/lab/jlab_core")


def pytest_collection_modifyitems(items):
    missing = None
    if lab_page.browser_path() is None:
        missing = "no system browser: install chromium, or name one in CONVERTER_MATCH_BROWSER"
    for item in items:
        if HERE in item.path.parents:
            item.add_marker(pytest.mark.browser)
            if missing:
                item.add_marker(pytest.mark.skip(reason=missing))


@pytest.fixture(scope="session")
def folder(tmp_path_factory):
    """A working folder as `converter-match lab` makes it, with a name that tries people's luck."""
    made = tmp_path_factory.mktemp("lab") / "Мой lab ü 1"
    copy_notebooks(made, ROOT / "notebooks")
    return made


@pytest.fixture(scope="session")
def driver():
    """What drives the browsers; a process can have one only."""
    from playwright.sync_api import sync_playwright

    yield OPEN.enter_context(sync_playwright())
    OPEN.close()


@pytest.fixture(scope="session")
def lab(driver, folder):
    """JupyterLab in the browser, seen as by a person with a small screen."""
    ARTEFACTS.mkdir(exist_ok=True)
    address = OPEN.enter_context(lab_page.lab_server(folder))
    page = OPEN.enter_context(lab_page.browser_page(driver, 1280, 720))
    lab_page.open_lab(page, address)
    return page


@pytest.hookimpl(wrapper=True)
def pytest_runtest_teardown(item, nextitem):
    """Close all after the last browser test: the driver's event loop runs in this very thread."""
    result = yield
    if nextitem is None or HERE not in nextitem.path.parents:
        OPEN.close()
    return result


@pytest.fixture
def page(lab):
    """The page; what it says on its console is an error of the test, unless the test expects it."""
    lab.errors.clear()
    lab.expected = []
    yield lab
    told = [text for text in lab.errors if not text.startswith(tuple(lab.expected))]
    assert [text for text in told if not all(sign in text for sign in OF_A_CLOSED_NOTEBOOK)] == []


def keep_picture(page, name):
    """Keep what the page shows, for the person who looks into a failure."""
    plain = "".join(sign if sign.isalnum() else "-" for sign in name).strip("-")
    page.screenshot(path=ARTEFACTS / f"{plain[:80]}.png")


@pytest.fixture(scope="session")
def solved():
    """Return what ``converter-match solve --json`` says."""

    def run(*arguments):
        done = subprocess.run(
            [sys.executable, "-m", "converter_match", "solve", "--json", *arguments],
            capture_output=True,
            text=True,
            encoding="utf-8",
            check=False,
            env=os.environ | {"PYTHONUTF8": "1"},
        )
        assert done.returncode in (0, 3), done.stderr
        return json.loads(done.stdout)

    return run
