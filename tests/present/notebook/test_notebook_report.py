from dataclasses import replace

import pytest

from converter_match import InputError
from converter_match.judgement.decision.extras import with_extras
from converter_match.judgement.decision.run import run_study
from converter_match.library.study_file import read_study
from converter_match.present.drawing.style import new_figure
from converter_match.present.notebook.report import section
from converter_match.present.report.content import report_of
from converter_match.present.report.model import (
    Bullets,
    Paragraph,
    Report,
    ReportPicture,
    Section,
    Signature,
    Subheading,
    Verdicts,
    table,
)


@pytest.fixture(scope="module")
def report():
    blocks = (
        Paragraph(text="a < b"),
        Subheading(text="Why"),
        Verdicts(word="FAIL", text="too hot"),
        Bullets(items=("one", "two"), numbered=True),
        table("Points", ("name", "rpm"), (("stall", "1800"),)),
        ReportPicture(name="p", figure=new_figure(2.0, 1.0), caption="Pull over speed."),
        Signature(labels=("name", "date")),
    )
    return Report(
        title="t", subtitle="", footer="", sections=(Section(title="Decision", parts=blocks),)
    )


def test_a_section_shows_every_block_escaped_and_with_words_for_its_picture(report):
    page = section(report, "Decision")._repr_html_()
    for part in (
        "a &lt; b",
        "<h4>Why</h4>",
        "<b>FAIL</b> too hot",
        "<ol><li>one</li><li>two</li></ol>",
        '<td style="text-align:right">1800</td>',
        '<th scope="col" style="text-align:left">name</th>',
        'alt="Pull over speed."',
    ):
        assert part in page


def test_a_section_reads_as_plain_text(report):
    assert repr(section(report, "Decision")).splitlines() == [
        "Decision",
        "a < b",
        "Why",
        "FAIL. too hot",
        "- one",
        "- two",
        "Points",
        "name | rpm",
        "stall | 1800",
        "[picture: Pull over speed.]",
    ]


def test_a_section_that_is_not_there_names_the_titles(report):
    with pytest.raises(InputError, match="Decision"):
        section(report, "Decisions")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("title", "said"), [("Confidence", "no tolerances"), ("Basis of the claims", "no claims")]
)
def test_what_a_study_need_not_have_is_answered_with_a_sentence(title, said):
    study = replace(read_study("hauler-converter"), claims=(), tolerances=())
    assert not study.tolerances
    page = section(report_of(with_extras(run_study(study), draws=64)), title)
    assert said in repr(page)
    assert said in page._repr_html_()
