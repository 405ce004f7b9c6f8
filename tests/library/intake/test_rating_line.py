import tomllib

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
    torque = draft.sheet.one("torque")
    np.testing.assert_allclose(torque.tolerance / torque.values, draft.accept().torque_band)
    assert "± torque" in draft.text()
    assert "[rating]" in draft.toml()


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


def test_figure_in_brackets_is_kept_beside_the_first():
    line = LINE.replace("185 kW", "185 kW (248 hp / 252 PS)")
    line = line.replace("1010 N.m", "1010 N.m (745 lbf.ft)")
    rating = tomllib.loads(intake_rating(line).toml())["rating"]
    assert rating["rated_power"] == {
        "unit": "kW", "value": 185,
        "also": [{"unit": "hp", "value": 248}, {"unit": "PS", "value": 252}],
    }  # fmt: skip
    assert rating["peak_torque"]["also"] == {"unit": "lbf.ft", "value": 745}
    overruled = tomllib.loads(intake_rating(line, peak_torque="1020 N.m").toml())["rating"]
    assert overruled["peak_torque"] == {"unit": "N.m", "value": 1020}


def test_line_longer_than_any_spec_line_is_refused():
    with pytest.raises(InputError, match="too long for a spec line"):
        intake_rating("9" * 5000)


@pytest.mark.parametrize(
    "part",
    ["-185 kW @ 2200 rpm", "power \u2212185 kW at 2200 rpm", "rated: \u2013185 kW @ 2200 r/min"],
)
def test_a_number_with_a_minus_sign_is_asked_about_and_not_taken_without_it(part):
    rest = "1010 N.m @ 1400 rpm; low idle 800 rpm; high idle 2380 rpm; speed governed; gross"
    draft = intake_rating(f"{rest}; {part}")
    asked = {problem.code: problem for problem in draft.open}
    assert set(asked) == {"minus-sign", "rated_power-missing", "rated_speed-missing"}
    assert repr(part) in asked["minus-sign"].message
    assert draft.trial() is None
    # Said by hand, or left out and said by hand: then it is the number that was said.
    by_hand = {"rated_power": "180 kW", "rated_speed": "2200 rpm"}
    for more in (by_hand, by_hand | {"confirm": [asked["minus-sign"].key]}):
        answered = draft.answered(**more)
        assert answered.open == ()
        assert answered.accept().rated_power == pytest.approx(180e3)
    assert [p.code for p in draft.answered(confirm=[asked["minus-sign"].key]).open] == [
        "rated_speed-missing", "rated_power-missing",
    ]  # fmt: skip


def test_a_dash_that_sets_words_apart_or_stands_in_a_name_is_no_minus_sign():
    line = (
        "engine D-185 kW 180 - x; - 185 kW @ 2200 rpm; torque - 1010 N.m @ 1400 rpm; "
        "low idle 800 rpm; high idle 2380 rpm; speed-governed; gross"
    )
    draft = intake_rating(line)
    assert draft.open == ()
    assert draft.accept().rated_power == pytest.approx(185e3)


@pytest.mark.parametrize(
    "line", ["hello", "x" * 1500, "four cylinders, green; in good shape", "-5"]
)
def test_a_line_that_says_nothing_of_an_engine_is_no_spec_line(line):
    with pytest.raises(InputError, match=r"spec line: not a spec line; found .* expected such as"):
        intake_rating(line)
    # Without a line, everything may be given by name.
    assert "rated_power-missing" in {problem.code for problem in intake_rating("").open}


def test_what_is_odd_about_the_component_is_said_with_its_values():
    draft = intake_rating(LINE.replace("1010 N.m", "1400 N.m").replace("idle 800", "idle 300"))
    said = {problem.code: problem.message for problem in draft.problems}
    # 1400 N.m over 185 kW at 2200 rpm = 803.0 N.m, and 300 rpm, as the line says.
    assert "1400 N·m" in said["torque-rise-unusual"]
    assert "803 N·m" in said["torque-rise-unusual"]
    assert "300 rpm" in said["low-idle-unusual"]
