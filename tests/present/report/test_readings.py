"""Readings in the report and in their figure: before and after, or why nothing is made of them."""

from dataclasses import replace
from types import SimpleNamespace

import pytest

import converter_match as cm
from converter_match.errors import InputError
from converter_match.judgement.decision.run import StudyResult
from converter_match.library.study_file import read_study
from converter_match.present.figures.evidence import _drawn, evidence_figure
from converter_match.present.report.content import report_of
from converter_match.present.report.evidence import READINGS


@pytest.fixture(scope="module")
def fits() -> StudyResult:
    return cm.run_study(read_study("loader-in-the-yard"), draws=256)


@pytest.fixture(scope="module")
def contradicts() -> StudyResult:
    study = read_study("loader-in-the-yard")
    wrong = replace(study.measurements[0], value=1.3 * study.measurements[0].value)
    return cm.run_study(study.replace(measurements=(wrong, *study.measurements[1:])), draws=256)


def section(result, title=READINGS, system="si"):
    return next(part for part in report_of(result, system).sections if part.title == title)


def words(section):
    return str([vars(part) for part in section.parts])


@pytest.mark.slow
def test_the_report_shows_readings_before_and_after(fits):
    shown = section(fits)
    text = words(shown)
    for said in ("1388 rpm", "expected (95 %)", "asked for", "known better", "No reading touches"):
        assert said in text
    assert [part.name for part in shown.parts if part.kind == "picture"] == ["readings"]
    assert "lbf" in words(section(fits, system="us"))


@pytest.mark.slow
def test_page_one_says_that_the_probability_is_after_the_readings(fits):
    after = fits.evidence.posterior.of("new-engine").all_musts
    text = words(section(fits, "The decision"))
    assert "after the readings" in text
    assert f"{100 * after:.0f} %" in text
    assert "before the readings" in words(section(fits, "Confidence"))


@pytest.mark.slow
def test_a_contradiction_is_what_page_one_settles_next(contradicts):
    assert contradicts.decision.code == "conditional"
    text = words(section(contradicts, "The decision"))
    assert "Settle the readings first" in text
    shown = section(contradicts)
    assert not [part for part in shown.parts if part.kind == "picture"]
    assert "Nothing is made of the readings" in words(shown)
    assert "Before and after" not in words(shown)


def test_the_figure_draws_the_bands_it_is_given(fits):
    ax = evidence_figure(fits.evidence).axes[0]
    lines = {line.get_gid(): line for line in ax.get_lines()}
    for item in fits.evidence.figures:
        middle = item.before.middle
        key = f"{item.combination}-{item.before.name}"
        for band, gid in ((item.before, f"before-{key}"), (item.after, f"after-{key}")):
            expected = [100 * (end / middle - 1) for end in (band.low, band.high)]
            assert list(lines[gid].get_xdata()) == pytest.approx(expected)
    assert "%" in ax.get_title(loc="left")
    assert lines["before-new-engine-stall-speed"].get_linewidth() > (
        lines["after-new-engine-stall-speed"].get_linewidth()
    )


def test_the_figure_refuses_what_has_no_before_and_after(fits, contradicts):
    with pytest.raises(InputError, match="nothing is made of these readings"):
        evidence_figure(contradicts.evidence)
    with pytest.raises(InputError, match="no such condition"):
        evidence_figure(fits.evidence, condition="on the moon")


@pytest.mark.slow
def test_a_report_with_points_of_the_duty_lists_their_file(tmp_path):
    text = (read_study("loader-in-the-yard").inputs[0].content).decode()
    text = text.replace("[duty]\n", '[duty]\npoints = "loader-loading-shift"\n')
    path = tmp_path / "yard.toml"
    path.write_text(text, encoding="utf-8")
    shown = section(cm.run_study(read_study(path), draws=0), "Sources and inputs")
    assert "loader-loading-shift.csv" in words(shown)


@pytest.mark.parametrize(
    ("middle", "ends", "drawn"),
    [
        (10.0, (8.0, 12.0, 9.0, 11.0), True),
        (10.0, (8.0, None, 9.0, 11.0), False),
        (10.0, (8.0, 12.0, None, None), False),
        (0.0, (-1.0, 1.0, -1.0, 1.0), False),  # nothing to be a percentage of
    ],
)
def test_row_of_the_figure_needs_all_its_ends_and_a_middle_that_is_not_zero(middle, ends, drawn):
    before = SimpleNamespace(middle=middle, low=ends[0], high=ends[1])
    after = SimpleNamespace(middle=middle, low=ends[2], high=ends[3])
    assert _drawn(SimpleNamespace(before=before, after=after)) is drawn
