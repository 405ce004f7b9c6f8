"""The figure of converters tried on a route."""

from dataclasses import replace

import pytest

from converter_match.errors import InputError
from converter_match.judgement.sizing.trials import Trial, Trials
from converter_match.notes import Note
from converter_match.present.drawing import style
from converter_match.present.figures.trials import trials_figure
from tests.examples import converter

ROWS = (
    Trial(name="a", converter=converter(), time=100.0, fuel=2.0, heat=3e6, stall_torque=2000.0,
          best=True),
    Trial(name="b", converter=converter(), time=110.0, fuel=2.1, heat=4e6, stall_torque=1900.0),
    Trial(name="c", converter=converter(), stall_torque=500.0,
          broken=(Note("cannot-move-on", "does not complete the route", "limit"),)),
)  # fmt: skip
TRIALS = Trials(trials=ROWS, route="Hill")


def marks(figure):
    return {line.get_gid(): line for ax in figure.axes for line in ax.get_lines() if line.get_gid()}


# 1 BTU = 1055.05585262 J (ISO 31-4), 1 lbf.ft = 1.3558179 N.m
@pytest.mark.parametrize(
    ("system", "heat", "torque"), [("si", 4000.0, 2000.0), ("us", 3791.268, 1475.12)]
)
def test_every_known_value_is_a_mark_at_its_place(system, heat, torque):
    found = marks(trials_figure(TRIALS, system=system))
    assert found["trial-0-time"].get_xdata()[0] == 100.0
    assert found["trial-1-heat"].get_xdata()[0] == pytest.approx(heat, rel=1e-6)
    assert found["trial-0-stall_torque"].get_xdata()[0] == pytest.approx(torque, rel=1e-5)
    assert found["trial-2-stall_torque"].get_marker() == "x"
    assert "trial-2-time" not in found


@pytest.mark.slow
def test_axes_that_are_given_are_used_and_must_be_four():
    axes = style.new_figure().subplots(1, 4)
    assert trials_figure(TRIALS, axes=list(axes)) is axes[0].figure
    with pytest.raises(InputError, match="needs four axes"):
        trials_figure(TRIALS, axes=list(axes)[:2])


def test_units_stand_on_the_axes():
    said = " ".join(ax.get_title(loc="left") for ax in trials_figure(TRIALS, system="us").axes)
    assert "(lb)" in said
    assert "(BTU)" in said
    assert "(lbf·ft)" in said


def test_a_single_trial_can_be_drawn():
    trials_figure(replace(TRIALS, trials=ROWS[:1]))
