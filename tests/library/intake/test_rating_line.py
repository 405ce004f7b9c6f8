import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.library.intake.rating_line import intake_rating

LINE = ("185 kW @ 2200 rpm; 1010 N.m @ 1400 rpm; low idle 800 rpm; high idle 2380 rpm; "
        "speed governed; gross")  # fmt: skip


@pytest.mark.parametrize(
    "line",
    [
        LINE,
        "Rated power 185 kW at 2,200 rpm\nPeak torque 1,010 N·m at 1,400 rpm\nLow idle: 800 rpm\n"
        "High idle: 2380 rpm\nAll-speed governor\nGross",
        "185 kW (251.5 PS) @ 2200 r/min, 1010 Nm @ 1400 r/min, low idle = 800 rpm, "
        "high idle = 2380 rpm, all speed, gross, ISO 14396",
        "248.1 hp @ 2200 rpm | 744.9 lb-ft @ 1400 rpm | idle 800 rpm | no load speed 2380 rpm | "
        "speed governor | gross",
    ],
)
def test_spec_line_is_read_however_it_is_punctuated(line):
    draft = intake_rating(line)
    assert [problem.text() for problem in draft.open] == []
    engine = draft.accept()
    rpm = np.pi / 30
    # Two figures fix the curve; hp, PS and lbf.ft above are rounded to four digits.
    assert engine.rated_power == pytest.approx(185e3, rel=3e-4)
    assert engine.peak_torque[1] == pytest.approx(1010, rel=3e-4)
    assert engine.peak_torque[0] == pytest.approx(1400 * rpm, rel=1e-9)
    assert (engine.low_idle, engine.high_idle) == pytest.approx((800 * rpm, 2380 * rpm))
    assert engine.governing == "speed"
    assert engine.torque_band > 0


def test_curve_comes_with_its_uncertainty():
    draft = intake_rating(LINE)
    torque = draft.table.one("torque")
    np.testing.assert_allclose(torque.tolerance / torque.values, draft.accept().torque_band)
    assert "± torque" in draft.preview()
    assert "[rating]" in draft.text()


def test_what_the_line_does_not_say_is_asked_for_and_can_be_given():
    draft = intake_rating("185 kW @ 2200 rpm; 1010 N.m @ 1400 rpm")
    assert {problem.code for problem in draft.open} == {
        "rating_basis-missing", "governing-missing", "low_idle-missing", "high_idle-missing",
    }  # fmt: skip
    engine = draft.accept(rating_basis="net", governing="torque", low_idle="700 rpm",
                          high_idle="2500 rpm")  # fmt: skip
    assert engine.rating_basis == "net"


def test_values_that_contradict_are_questions_and_strange_words_are_listed():
    draft = intake_rating(LINE.replace("185 kW", "185 kW (185 hp)") + "; painted green")
    assert [problem.code for problem in draft.open] == ["twin-value-differs"]
    assert any("painted green" in problem.message for problem in draft.problems)
    draft = intake_rating(LINE + "; 900 N.m @ 1300 rpm")
    assert {problem.code for problem in draft.open} == {"fact-twice"}
    [found] = intake_rating(LINE.replace("1010", "510")).open
    assert "peak torque is below the torque at rated power" in found.message


def test_line_longer_than_any_spec_line_is_refused():
    with pytest.raises(InputError, match="too long for a spec line"):
        intake_rating("9" * 5000)
