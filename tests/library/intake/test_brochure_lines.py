"""Spec lines as brochures write them; tests/library/intake/brochure_lines.toml."""

import pytest

from converter_match.errors import InputError
from converter_match.library.intake.rating_line import intake_rating
from converter_match.library.intake.reading import intake_text
from converter_match.library.intake.spec_line import LONGEST_LINE
from converter_match.library.intake.stall_line import intake_stall
from tests.brochure_lines import LINES, NASTY, counted, outcome


@pytest.mark.parametrize("line", LINES, ids=lambda line: line["text"][:40])
def test_no_line_is_read_wrong_without_a_question(line):
    assert outcome(line)[0] not in ("wrong", "missed"), outcome(line)


def test_most_lines_are_read_at_once_or_after_one_question():
    counts = counted()
    assert len(LINES) >= 28
    assert counts["right"] + counts["one question"] >= 24 / 28 * len(LINES)


def codes(draft):
    return [problem.code for problem in draft.open]


LINE = (
    "185 kW @ 2200 rpm; 1010 N.m @ 1400 rpm; low idle 800 rpm; high idle 2380 rpm; speed governed"
)


def test_a_fact_given_twice_is_closed_by_the_answer_that_it_names():
    draft = intake_rating(f"{LINE}; gross; 900 N.m @ 1300 rpm")
    assert codes(draft) == ["fact-twice", "fact-twice"]
    said = {"peak_torque": "1010 N.m", "peak_torque_speed": "1400 rpm"}
    assert codes(draft.answered(**said)) == []


def test_gross_and_net_in_one_line_are_asked_about():
    draft = intake_rating(f"{LINE}; gross power, net torque")
    assert codes(draft) == ["fact-twice"]
    assert codes(draft.answered(rating_basis="net")) == []


def test_values_that_contradict_are_closed_by_saying_which():
    draft = intake_rating(f"{LINE}; gross".replace("185 kW", "185 kW (280 hp)"))
    assert codes(draft) == ["twin-value-differs"]
    assert codes(draft.answered(rated_power="185 kW")) == []
    assert codes(draft.answered(confirm="twin:power")) == []
    # 20 hp is 14.9 kW: as near to 15 kW as the digits tell (1 hp = 745.7 W, NIST SP 811).
    small = "15 kW (20 hp) @ 3000 rpm; 60 N.m @ 2000 rpm; low idle 900 rpm; high idle 3200 rpm"
    assert codes(intake_rating(f"{small}; speed governed; gross")) == []


def test_a_stall_told_twice_is_closed_by_the_answer():
    draft = intake_stall("stalls at 2400 rpm, 2300 rpm behind 300 lbf.ft, torque ratio 2.2")
    assert "fact-twice" in codes(draft)
    assert "fact-twice" not in codes(draft.answered(stall_speed="2400 rpm"))


def test_a_speed_in_a_list_is_not_given_to_the_torque_before_it():
    draft = intake_rating("185 kW, 1010 Nm, 2200 rpm")
    assert {"rated_speed-missing", "peak_torque_speed-missing"} <= set(codes(draft))
    listed = intake_rating("Power: 129 kW / Torque: 750 Nm / Speed: 2200 rpm")
    assert {"rated_speed-missing", "peak_torque_speed-missing"} <= set(codes(listed))


def test_a_speed_before_its_quantity_is_taken_with_it():
    draft = intake_rating("Par máximo a 1.400 rpm: 410 Nm. Potencia a 2.200 rpm: 74 kW")
    said = {problem.message for problem in draft.noticed}
    assert {"peak_torque_speed = 1400 rpm", "rated_speed = 2200 rpm"} <= said


def test_a_unit_that_is_not_known_is_no_rpm():
    assert "rated_speed-missing" in codes(intake_rating("155 kW @ 2.2 krpm, 900 Nm @ 1400 rpm"))


def test_speeds_with_the_same_rounded_power_are_not_picked_from():
    text = "n [rpm];P [kW]\n1400;148\n1600;160\n1800;170\n2000;176\n2100;176\n"
    draft = intake_text(text, governing="speed", low_idle="800 rpm", high_idle="2300 rpm",
                        rating_basis="gross")  # fmt: skip
    assert codes(draft) == ["rated-speed-tied"]
    assert codes(draft.answered(rated_speed="2100 rpm")) == []


@pytest.mark.slow
@pytest.mark.parametrize("seed", NASTY)
def test_a_line_made_to_be_slow_is_read_or_refused(seed):
    # A parser that goes back and forth takes a minute for one of these (docs/intake.md: how long).
    for read in (intake_rating, intake_stall):
        line = (seed * LONGEST_LINE)[:LONGEST_LINE]
        try:
            said = str(read(line).source)
        except InputError as refusal:
            said = str(refusal)
        assert "spec line" in said
