"""The figure of intervals and shares: what is drawn is what was found."""

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.text import Text

from converter_match.errors import InputError
from converter_match.judgement.uncertainty.uncertainty import uncertainty
from converter_match.judgement.uncertainty.words import NOTES, ONE_SIDE
from converter_match.present.drawing import style
from converter_match.present.figures.uncertainty import histograms, uncertainty_figure
from converter_match.study.study import Combination, Study, Tolerance
from converter_match.units import from_si
from tests.examples import converter, engine

PARTS = {"engine": engine(), "converter": converter()}
RESULT = uncertainty(
    Study(
        id="s", name="S", source="test",
        candidates=(
            Combination(id="a", name="As it is", **PARTS),
            Combination(id="b", name="Math $x$ in a name", **PARTS),
        ),
        tolerances=(
            Tolerance(quantity="engine-torque", half_width=0.03),
            Tolerance(quantity="k-factor", half_width=0.02),
        ),
    ),
    draws=512,
)  # fmt: skip


def artists(figure):
    return {
        item.get_gid(): item
        for ax in figure.axes for item in (*ax.get_lines(), *ax.collections) if item.get_gid()
    }  # fmt: skip


@pytest.mark.parametrize(("system", "unit"), [("si", "rpm"), ("us", "rpm")])
def test_bars_are_the_intervals_and_marks_the_shares(system, unit):
    found = artists(uncertainty_figure(RESULT, system=system))
    figure = RESULT.of("a").figure("stall-speed")
    ends = found["interval-a-stall-speed"].get_xdata()
    expected = [from_si(v, unit, "angular_speed") for v in (figure.low, figure.high)]
    assert list(ends) == pytest.approx(expected)
    shares = {s.name: s.total for s in dict(RESULT.of("b").sensitivities)["stall-speed"].shares}
    drawn = found["share-b-stall-speed-k-factor"].get_xdata()[0]
    assert drawn == pytest.approx(100 * shares["k-factor"])


def test_the_histogram_counts_every_draw():
    figure = RESULT.of("a").figure("stall-speed")
    assert figure.counts.sum() == 512
    assert np.all(np.diff(figure.edges) > 0)


def test_axes_that_are_given_are_used():
    ax = style.new_figure().subplots()
    assert histograms(RESULT.combinations, "stall-speed", ax=ax) is ax
    assert "(rpm)" in ax.get_title(loc="left")


def test_an_unknown_figure_and_one_that_was_not_drawn_are_refused():
    with pytest.raises(InputError, match="no such figure"):
        uncertainty_figure(RESULT, names=["stall-sped"])
    with pytest.raises(InputError, match="nothing was drawn"):
        uncertainty_figure(RESULT, names=["top-speed"])


@pytest.mark.parametrize(("condition", "shown"), [("reference air", True), ("elsewhere", False)])
def test_a_jump_of_the_stall_speed_is_said_below_the_figure_of_its_condition_alone(
    condition, shown
):
    # A name that holds the condition of the figure decides nothing.
    note = NOTES.note(
        "stall-speed-may-jump", name="In reference air, so to say", condition=condition,
        several=0.25, interval=ONE_SIDE,
    )  # fmt: skip
    figure = uncertainty_figure(replace(RESULT, notes=(note,)))
    said = " ".join(text.get_text() for text in figure.findobj(Text))
    assert ("25.0 % of the draws" in " ".join(said.split())) == shown


def test_the_three_ends_are_written_and_what_has_no_answer_is_counted():
    item = RESULT.of("a")
    figures = tuple(
        replace(one, missing=0.25) if one.name == "stall-speed" else one for one in item.figures
    )
    for missing, drawn in ((0.0, item), (0.25, replace(item, figures=figures))):
        ax = style.new_figure(6.0, 3.0).add_axes((0.1, 0.1, 0.8, 0.8))
        histograms([drawn], "stall-speed", ax=ax)
        [text] = [text.get_text() for text in ax.texts]
        one = item.figure("stall-speed")
        # 1 rad/s is 30 / pi rpm.
        ends = " · ".join(f"{value * 30 / np.pi:.0f}" for value in (one.low, one.middle, one.high))
        assert text == (f"{ends}  (none in 25 %)" if missing else ends)
