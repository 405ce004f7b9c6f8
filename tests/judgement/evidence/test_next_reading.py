"""What to measure next: nothing where nothing would change, pairs where they are worth it."""

import numpy as np
import pytest
from scipy.stats import norm, qmc

from converter_match.judgement.evidence.next_reading import LEAST, next_reading
from converter_match.judgement.evidence.possible import Possible
from converter_match.judgement.evidence.value import Predicted
from converter_match.notes import Note
from converter_match.study.losses import Losses
from converter_match.study.measurement import Measurement
from converter_match.units import note_text

DRAWS = 4096
SCORES = norm.ppf(np.clip(qmc.Sobol(3, seed=3).random(DRAWS), 1e-9, 1.0 - 1e-9))
LOSSES = Losses.given(0.9)


def possible(values, deviation, cost="minutes", name="stall speed"):
    item = Measurement(quantity="stall-speed", combination="present", deviation=deviation)
    predicted = Predicted(values=values, deviation=deviation)
    return Possible(item=item, cost=cost, title=Note("x", name), predicted=predicted)


def asked(holds, *readings, losses=LOSSES):
    return next_reading(holds, readings, losses, combination="new", name="New")


@pytest.mark.parametrize(
    ("share", "word"), [(1.0, "no reading can change this"), (0.0, "in only 0.0 %")]
)
def test_where_all_draws_agree_no_reading_can_change_it(share, word):
    found = asked(np.full(DRAWS, share > 0.5), possible(SCORES[:, 0], 0.1))
    assert found.nil
    assert found.perfect == 0.0
    assert found.readings == ()
    assert found.first == ()
    assert word in note_text(found.note, "si")


def test_a_cheap_reading_that_tells_nearly_all_goes_before_a_dear_one_that_tells_all():
    holds = SCORES[:, 0] > -1.0
    found = asked(
        holds, possible(SCORES[:, 0], 0.02, "dear"), possible(SCORES[:, 0], 0.1, "minutes")
    )
    assert found.worth.single[0] > found.worth.single[1]
    assert found.first == (1,)


@pytest.mark.slow
def test_two_readings_that_tell_nothing_alone_are_taken_together():
    holds = SCORES[:, 0] * SCORES[:, 1] > 0.0
    losses = Losses.given(0.5)
    found = asked(holds, *(possible(SCORES[:, k], 0.2) for k in (2, 0, 1)), losses=losses)
    assert sorted(found.first) == [1, 2]
    assert found.share(float(found.worth.single.max())) < LEAST
    assert found.share(float(found.worth.pair[1, 2])) > 0.5
    assert "and both" in note_text(found.note, "si")


@pytest.mark.slow
def test_two_cheap_readings_go_before_a_dear_one_that_tells_more():
    holds = SCORES[:, 0] + SCORES[:, 1] > -1.5
    cheap = [possible(SCORES[:, k], 0.3) for k in (0, 1)]
    both = SCORES[:, 0] + SCORES[:, 1]
    found = asked(holds, *cheap, possible(both, 0.05, "dear"))
    assert found.worth.single[2] > found.worth.pair[0, 1]
    assert sorted(found.first) == [0, 1]


@pytest.mark.slow
def test_a_second_reading_that_adds_nothing_is_not_asked_for():
    holds = SCORES[:, 0] > -1.0
    found = asked(holds, possible(SCORES[:, 0], 0.1), possible(SCORES[:, 1], 0.1))
    assert found.first == (0,)


def test_a_reading_that_takes_more_than_it_saves_is_not_asked_for():
    holds = SCORES[:, 0] > -1.0
    readings = [possible(SCORES[:, 0], 1.0, "dear")]
    worth = float(asked(holds, *readings).worth.single[0])
    dearer = Losses.given(0.9, dear=1.1 * worth)
    cheaper = Losses.given(0.9, dear=0.9 * worth)
    assert asked(holds, *readings, losses=cheaper).first == (0,)
    found = asked(holds, *readings, losses=dearer)
    assert found.first == ()
    assert "worth what it takes" in note_text(found.note, "si")


def test_the_value_from_which_on_to_order_is_where_the_chance_is_the_one_asked_for():
    # P(z > b | y) with y = z + e, e of deviation s: normal about y / (1 + s^2) with variance
    # s^2 / (1 + s^2); it is 90 % at y = (1 + s^2) (b + 1.2816 s / sqrt(1 + s^2)).
    least, noise = -1.0, 0.4
    found = asked(SCORES[:, 0] > least, possible(SCORES[:, 0], noise))
    at, above = found.turn
    spread = np.sqrt(1.0 + noise**2)
    assert above
    assert at == pytest.approx(spread**2 * (least + norm.ppf(0.9) * noise / spread), abs=0.05)
    assert found.chance == pytest.approx(norm.sf(at / spread), abs=0.05)


def test_all_readings_together_save_no_less_than_the_cheap_ones():
    holds = SCORES[:, 0] + SCORES[:, 1] > -1.5
    found = asked(
        holds, possible(SCORES[:, 0], 0.3), possible(SCORES[:, 1], 0.1, "hours"),
        possible(SCORES[:, 2], 0.1, "dear"),
    )  # fmt: skip
    assert found.together["minutes"] < found.together["hours"] <= found.perfect
    assert found.together["dear"] == pytest.approx(found.together["hours"], abs=0.02)


@pytest.mark.slow
def test_plain_data_hold_every_reading_and_every_pair():
    holds = SCORES[:, 0] > -1.0
    data = asked(holds, *(possible(SCORES[:, k], 0.3) for k in range(3))).to_dict()
    assert [row["key"] for row in data["readings"]] == ["R1", "R2", "R3"]
    assert [row["readings"] for row in data["pairs"]] == [["R1", "R2"], ["R1", "R3"], ["R2", "R3"]]
    assert data["first"] == ["R1"]
    assert data["no_reading_can_change_it"] is False
