"""Plausible but nasty studies get the verdict of a careful engineer, and never a clean yes."""

import pytest

import converter_match as cm
from converter_match.errors import InputError
from tests.adversarial.cases import CASES
from tests.adversarial.files import written
from tests.adversarial.page import COMMAND, PAGE, page


def decided(case, folder):
    """Return verdict and everything that is told of a case."""
    try:
        result = cm.run_study(cm.read(written(case, folder)), draws=0)
    except InputError as error:
        return "refused", str(error)
    assessment = result.assessment("new-engine")
    not_met = [f.spec.name for f in assessment.findings if f.verdict.name != "PASS"]
    codes = [note.code for _, note in result.study.odd]
    codes += [note.code for _, _, note in result.study.doubts]
    codes += [note.code for note in result.notes_of("new-engine")]
    told = " ".join([*not_met, *codes])
    return result.decision.code, told


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name.replace(" ", "-"))
def test_verdict_is_that_of_a_careful_engineer(case, tmp_path):
    verdict, told = decided(case, tmp_path)
    assert verdict == case.verdict, told
    assert case.tells in told


def test_page_is_what_the_tables_say(request):
    if request.config.getoption("write_formats"):
        PAGE.write_text(page(), encoding="utf-8", newline="\n")
    assert PAGE.read_text(encoding="utf-8") == page(), f"out of date: {COMMAND}"


def test_there_are_at_least_forty_and_no_two_alike():
    assert len({case.name for case in CASES}) == len(CASES) >= 40
    assert len({case.changes for case in CASES}) == len(CASES)
