"""Three curves to choose from: the right one is what halving finds, and tells no number."""

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.judgement.lesson.predictions import predictions
from converter_match.judgement.match.solve import solve
from converter_match.library.read import read_converter
from converter_match.library.shipped import shipped
from converter_match.present.figures.which_curve import which_curve
from tests.examples import converter
from tests.judgement.lesson.test_predictions import met
from tests.study_examples import flat_engine

RESULT = solve(flat_engine(500.0), converter())
ASKED = {item.key: item for item in predictions(RESULT)}
CURVES = ("which-pull", "which-efficiency", "which-heat")


def drawn(key):
    figure, caption = which_curve(RESULT, ASKED[key])
    [axes] = figure.axes
    return {line.get_gid(): np.array(line.get_data()) for line in axes.lines}, axes, caption


@pytest.mark.slow
def test_the_right_curve_is_what_halving_finds():
    sheet = RESULT.converter
    for nu in (0.2, 0.5, 0.8):
        w = met(RESULT, float(sheet.capacity_at(nu)))
        torque = float(sheet.capacity_at(nu)) * w * w
        ratio = float(sheet.torque_ratio_at(nu))
        wanted = {
            "which-pull": (nu * w, ratio * torque),
            "which-efficiency": (nu, nu * ratio),
            "which-heat": (nu, torque * w * (1 - nu * ratio)),
        }
        for key, (x, y) in wanted.items():
            line = drawn(key)[0][f"curve-{ASKED[key].answer}"]
            # Read between points two hundredths apart or less.
            assert np.interp(x, *line) == pytest.approx(y, rel=2e-3)


@pytest.mark.slow
@pytest.mark.parametrize("key", CURVES)
def test_the_three_differ_by_more_than_the_width_of_a_line(key):
    lines, axes, caption = drawn(key)
    assert set(lines) == {"curve-A", "curve-B", "curve-C"}
    assert caption.startswith("Three curves; one is the ")
    tall = axes.get_ylim()[1]
    right = lines[f"curve-{ASKED[key].answer}"]
    for name, line in lines.items():
        if name != f"curve-{ASKED[key].answer}":
            assert np.nanmax(np.abs(line[1] - right[1])) > 0.05 * tall


def test_what_is_believed_of_the_efficiency_is_a_line_and_a_hump():
    lines, _, _ = drawn("which-efficiency")
    lines.pop(f"curve-{ASKED['which-efficiency'].answer}")
    corner = RESULT.converter.coupling
    [line] = [y for x, y in lines.values() if np.allclose(x, y)]
    [hump] = [xy for xy in lines.values() if xy[1] is not line and not np.allclose(*xy)]
    assert line[-1] <= 1.0
    x, y = hump
    assert x[np.argmax(y)] == pytest.approx(corner, abs=0.02)
    assert np.all(np.diff(y[x >= corner]) <= 0.0)  # down from the coupling point
    assert y.max() == pytest.approx(corner * 1.0, abs=0.1)
    assert np.interp(0.5 * (1 + corner), x, y) == pytest.approx(0.75 * y.max(), rel=0.01)


@pytest.mark.slow
@pytest.mark.parametrize("key", ["which-pull", "which-heat"])
def test_no_number_can_be_read_off(key):
    _, axes, _ = drawn(key)
    labels = [text.get_text() for text in (*axes.get_xticklabels(), *axes.get_yticklabels())]
    assert not any(labels)


def test_other_questions_have_no_curves_and_a_pair_without_coupling_point_is_refused():
    assert which_curve(RESULT, ASKED["tighter-pull"]) is None
    alone = solve(flat_engine(500.0), read_converter(shipped("converters")["fluid-coupling-360mm"]))
    with pytest.raises(InputError, match="coupling point"):
        which_curve(alone, ASKED["which-heat"])
