"""Settings that every test shares."""

import gc
import os

import pytest
from hypothesis import HealthCheck, settings

from tests.speed import is_slow, together

# Figures are drawn to memory: a test must not need a screen.
os.environ.setdefault("MPLBACKEND", "Agg")
# No test takes a result that an earlier one, or the user, has kept.
os.environ["CONVERTER_MATCH_KEPT"] = "off"
# What a test replaces is not replaced in another process; tests of several ask for them.
os.environ["CONVERTER_MATCH_JOBS"] = "1"

# "fast" is what everybody runs; "long" searches harder: python -m pytest --hypothesis-profile=long
# No deadline: a first call that imports scipy is slow once, and a loaded machine is slow at will.
settings.register_profile("fast", max_examples=50, deadline=None, derandomize=True)
settings.register_profile(
    "long", max_examples=2000, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("fast")


@pytest.fixture
def other_processor(monkeypatch):
    """Let every number that is shown be greater by a share, as another processor has it."""
    from converter_match.units import amounts, conversion

    exact = conversion.from_si

    def differ(share):
        for module in (conversion, amounts):
            monkeypatch.setattr(module, "from_si", lambda *given: exact(*given) * (1 + share))

    return differ


@pytest.fixture
def without_pdf(monkeypatch):
    """Leave out the PDF of a report, which has its own tests and takes seconds."""
    from converter_match.present.report import study_folder

    monkeypatch.setattr(study_folder, "report_pdf", lambda report: b"%PDF-1.4 left out")


@pytest.fixture
def without_pictures(monkeypatch, without_pdf):
    """Leave out what is drawn of a report, its PDF included, where it is not what is tested."""
    from converter_match.present.report.model import ReportPicture

    monkeypatch.setattr(ReportPicture, "png", b"left out")
    monkeypatch.setattr(ReportPicture, "svg", b"<svg>left out</svg>")


def pytest_xdist_auto_num_workers(config):
    """Use every processor for the whole run; a room or a file by itself is sooner done by one."""
    whole = config.args_source is pytest.Config.ArgsSource.TESTPATHS
    return (os.cpu_count() or 1) if whole else 0


def pytest_xdist_make_scheduler(config, log):
    """Give a process whole files, and all of what shares a browser or makes one page."""
    from xdist.scheduler import LoadScopeScheduling

    class ByFile(LoadScopeScheduling):
        def _split_scope(self, nodeid):
            return together(nodeid.partition("::")[0])

    return ByFile(config, log)


@pytest.hookimpl(tryfirst=True)  # before the tests are chosen by their markers
def pytest_collection_modifyitems(config, items):
    """Mark as fast what neither stands among the slow ones nor is marked so."""
    for item in items:
        if not is_slow(item.path, item.name) and item.get_closest_marker("slow") is None:
            item.add_marker(pytest.mark.fast)
    if hasattr(config, "workerinput"):  # what takes long first, so that all processors end together
        items.sort(key=lambda item: not is_slow(item.path, item.name))


def pytest_collection_finish():
    """Keep the collector of garbage away from sixteen thousand tests, which stay to the end."""
    gc.collect()
    gc.freeze()


def pytest_addoption(parser):
    parser.addoption(
        "--write-validation",
        action="store_true",
        help="write docs/validation.md from the outside checks in tests/published",
    )
    parser.addoption(
        "--write-formats",
        action="store_true",
        help="write docs/formats and data/schemas from the file models",
    )
    parser.addoption(
        "--write-answers",
        action="store_true",
        help="write the answers that tests/answers compares with",
    )
