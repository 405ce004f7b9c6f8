"""Every page that the tool writes says what it said when somebody last looked at it.

What stands on a page, in its pictures too, line by line; held as the answers are (see there).
"""

from __future__ import annotations

import pytest

from converter_match.cli import main
from converter_match.present.lesson import handout
from tests.answers.calls import HIGH, LOADER, MOTOR, PAIR, TRUCK, US, reading
from tests.answers.holding import compare, kept_names
from tests.answers.page_words import words_of

LOW = reading("gear=2 speed=1500 oil=85degC brakes=held")
# Name of the kept file -> words, and the page that they write.
PAGES = {
    "stall-sheet": (("stall", *PAIR, *LOADER, "--sheet", "page.html"), "page.html"),
    "stall-sheet-us": (("stall", *PAIR, *LOADER, *HIGH, *US, *LOW[:1], LOW[1].replace(
        "85degC", "185degF"), "--sheet", "page.html"), "page.html"),
    "stall-sheet-motor": (
        ("stall", *MOTOR, "--converter", "single-stage-260mm", *TRUCK, "--sheet", "page.html"),
        "page.html",
    ),
    "acceptance-sheet": (
        ("accept", "loader-nothing-to-measure", "--draws", "64", "--sheet", "page.html"),
        "page.html",
    ),
    "catalogue-search": (
        ("shortlist", "quarry-loader-parts", "--draws", "0", "--table", "page.html"), "page.html"
    ),
    "handout": (("lesson", "--out", "lesson", "--answers"), "lesson/handout.html"),
    "handout-answers": (("lesson", "--out", "lesson", "--answers"), "lesson/answers.html"),
    "slider": (("lesson", "--out", "page.html", *PAIR), "page.html"),
}  # fmt: skip
LONG = frozenset("catalogue-search handout handout-answers".split())


@pytest.mark.parametrize(
    "name",
    [pytest.param(name, marks=[pytest.mark.slow] if name in LONG else []) for name in PAGES],
)
def test_page_says_what_it_said(name, capsys, request, monkeypatch, tmp_path, without_pdf):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(handout, "report_pdf", lambda report: b"%PDF-1.4 left out")
    words, page = PAGES[name]
    assert main(list(words)) in (0, 3)
    capsys.readouterr()
    compare(f"page-{name}", words_of((tmp_path / page).read_text(encoding="utf-8")), request)


def test_every_kept_page_is_written():
    assert kept_names("page-") == {*PAGES}
