"""What is odd about the data stands on every page that rests on them."""

import pytest

from converter_match.judgement.catalogue.shortlist import shortlist
from converter_match.judgement.motor.study import run_motor_study
from converter_match.library.motor_study_file import read_motor_study
from converter_match.library.odd.words import SHARES
from converter_match.present.report.model import Bullets, Subheading
from converter_match.present.report.motor_study import motor_study_report
from converter_match.present.report.sifting import sifting_page
from tests.judgement.catalogue.test_shortlist import parts_of
from tests.study_examples import study

ODD = (("study <mine>", SHARES.note("grade-tiny", what="the steepest grade", grade=0.001)),)


@pytest.mark.parametrize("odd", [ODD, ()])
def test_the_page_of_a_search_has_it_and_escapes_it(odd):
    page = sifting_page(shortlist(parts_of(study()).replace(odd=odd), draws=0))
    assert ("Odd about the data" in page) is bool(odd)
    assert ("study &lt;mine&gt;: the steepest grade" in page) is bool(odd)
    assert "<mine>" not in page


@pytest.mark.parametrize("odd", [ODD, ()])
def test_the_report_of_motors_has_it_before_the_cautions(odd):
    asked = read_motor_study("lift-truck-electric")
    asked = asked.replace(routes=(), candidates=asked.candidates[1:2], odd=odd)
    *_, said = motor_study_report(run_motor_study(asked)).sections
    first, items = said.parts[:2]
    assert isinstance(first, Subheading)
    assert isinstance(items, Bullets)
    assert first.text == ("Odd about the data" if odd else "Cautions")
    assert ("study <mine>" in str(items)) is bool(odd)
