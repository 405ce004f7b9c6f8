"""Losses beside the order threshold: expected losses of both choices are equal there."""

import pytest

from converter_match.errors import InputError
from converter_match.study.losses import COSTS, Losses


@pytest.mark.parametrize("asked", [0.5, 0.9, 0.95])
def test_at_the_threshold_both_choices_lose_alike(asked):
    losses = Losses.given(asked)
    assert (1.0 - asked) * losses.wrong_order == pytest.approx(asked * losses.missed_order)
    assert losses.threshold == pytest.approx(asked)


def test_costs_follow_the_unit_of_the_losses_where_they_are_not_given():
    alone, money = Losses.given(0.9), Losses.given(0.9, missed_order=5000.0, dear=800.0)
    assert money.wrong_order == pytest.approx(45_000.0)
    assert money.costs["minutes"] == pytest.approx(5000.0 * alone.costs["minutes"])
    assert money.costs["dear"] == 800.0
    assert [alone.costs[name] for name in COSTS] == sorted(alone.costs.values())


def test_certainty_asked_for_still_leaves_a_missed_order_a_loss():
    assert Losses.given(1.0).threshold == pytest.approx(0.999)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"wrong_order": -1.0}, "losses.wrong_order"),
        ({"wrong_order": float("inf")}, "losses.wrong_order"),
        ({"missed_order": 0.0}, "losses.missed_order"),
        ({"hours": -0.1}, "losses.hours"),
    ],
)
def test_losses_that_mean_nothing_are_refused(given, field):
    with pytest.raises(InputError) as caught:
        Losses.given(0.9, **given)
    assert caught.value.field == field


def test_losses_that_ask_for_another_probability_are_refused():
    Losses.given(0.9, wrong_order=9.0).check_threshold(0.9)
    with pytest.raises(InputError, match="75 %") as caught:
        Losses.given(0.9, wrong_order=3.0).check_threshold(0.9)
    assert caught.value.field == "losses.wrong_order"
