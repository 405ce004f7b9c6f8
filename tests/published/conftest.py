"""The outside checks: each is recorded as it is made, and makes a row of docs/validation.md."""

from functools import partial
from pathlib import Path

import pytest

from tests.validation_page import COMMAND, CREDIBILITY, PAGE, Cases, page

_CASES = pytest.StashKey[Cases]()
_LEFT_OUT = pytest.StashKey[set[str]]()
_FAILED = pytest.StashKey[set[str]]()
HERE = Path(__file__).parent


def _records(item):
    return "published_case" in getattr(item, "fixturenames", ())


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_collection_modifyitems(config, items):
    """Put the page last, when all its rows are there, and note which of them are left out."""
    before = {item.nodeid for item in items if _records(item)}
    items.sort(key=lambda item: "whole_run" in getattr(item, "fixturenames", ()))
    yield
    config.stash[_LEFT_OUT] = before - {item.nodeid for item in items if _records(item)}


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item, call):
    report = yield
    if _records(item) and not report.passed:
        item.config.stash.setdefault(_FAILED, set()).add(item.nodeid)
    return report


@pytest.fixture(scope="session")
def cases(request):
    return request.config.stash.setdefault(_CASES, Cases())


@pytest.fixture
def published_case(request, cases):
    """Compare one of our figures with a published one; see `tests.validation_page.Cases.check`."""
    # Parameters of a test stand among the inputs; its name is enough to find it.
    return partial(cases.check, request.node.originalname)


@pytest.fixture
def whole_run(request, cases):
    """The recorded cases, if every test that records one has run and passed."""
    collected = {item.path for item in request.session.items if _records(item)}
    users = {path for path in HERE.glob("test_*.py")
             if "published_case" in path.read_text(encoding="utf-8")}  # fmt: skip
    missing = users - collected - {Path(request.node.path)}
    left_out = request.config.stash.get(_LEFT_OUT, set())
    if missing or left_out:
        pytest.skip(f"the page needs every outside check, and not all were selected ({COMMAND})")
    if request.config.stash.get(_FAILED, set()):
        pytest.skip("outside checks failed: there may be rows missing")
    return cases


@pytest.fixture
def page_now(request, whole_run):
    """The page as this run would write it; written to its place when asked for."""
    text = page(whole_run.found, CREDIBILITY.read_text(encoding="utf-8"))
    if request.config.getoption("write_validation"):
        PAGE.write_text(text, encoding="utf-8", newline="\n")
    return text
