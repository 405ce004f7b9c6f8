"""Present machine and candidate in one figure: what is drawn is what the two results say."""

import numpy as np
import pytest

import converter_match as cm
from converter_match.present.figures.present_and_candidate import present_and_candidate

RPM = 30.0 / np.pi


@pytest.fixture(scope="module")
def pair():
    engine, tight = cm.read("six-cylinder-7l-185kw", "single-stage-345mm-tight")
    (loose,) = [cm.read("single-stage-345mm-loose")]
    return cm.solve(engine, tight), cm.solve(engine, loose)


def artists(ax):
    return {str(artist.get_gid()): artist for artist in ax.get_lines()}


@pytest.mark.parametrize(("system", "newton_metres"), [("si", 1.0), ("us", 1.3558179483314004)])
def test_lines_and_marks_of_both_stand_where_their_results_say(pair, system, newton_metres):
    # 1 lbf.ft is 0.3048 m x 4.4482216152605 N, exactly.
    figure = present_and_candidate(*pair, system=system)
    engine, torque, efficiency, heat = figure.axes
    for side, result in zip("ab", pair, strict=True):
        mark = artists(engine)[f"engine-{side}-stall"]
        assert mark.get_xdata()[0] == pytest.approx(result.stall.engine_speed * RPM)
        assert mark.get_ydata()[0] == pytest.approx(result.stall.input_torque / newton_metres)
        # At stall the turbine stands: the torque ratio times what goes in, and all power is heat.
        mark = artists(torque)[f"turbine-torque-{side}-stall"]
        assert mark.get_xdata()[0] == 0.0
        expected = result.stall.torque_ratio * result.stall.input_torque / newton_metres
        assert mark.get_ydata()[0] == pytest.approx(expected)
        assert artists(efficiency)[f"efficiency-{side}-stall"].get_ydata()[0] == 0.0
        line = artists(engine)[f"{side}-absorbed-stall"]
        share = np.interp(result.stall.engine_speed * RPM, *line.get_data())
        assert share == pytest.approx(result.stall.input_torque / newton_metres, rel=2e-3)
        assert f"heat-{side}-coupling" in artists(heat)
    assert f"({'N·m' if system == 'si' else 'lbf·ft'})" in engine.get_ylabel()
    # Without colour: dashes and fillings differ.
    for ax, name in ((engine, "absorbed-stall"), (torque, "turbine-torque"), (heat, "heat")):
        styles = [artists(ax)[f"{side}-{name}"].get_linestyle() for side in "ab"]
        assert styles == ["-", "--"]
    fillings = [artists(engine)[f"engine-{side}-stall"].get_markerfacecolor() for side in "ab"]
    assert fillings[1] == "white" != fillings[0]


def test_heading_names_both_and_says_once_what_is_the_same(pair):
    figure = present_and_candidate(*pair, font_scale=1.3)
    words = [text.get_text().replace("\n", " ") for text in figure.texts]
    assert sum(text.startswith("A, present machine") for text in words) == 1
    assert any(text.startswith("B, candidate") and "loose" in text for text in words)
    assert sum(text.startswith("Torque basis") for text in words) == 1
    labels = [text.get_text() for text in figure.axes[0].texts]
    assert "A and B: net torque" in labels  # one engine
    assert labels.count("stall") == 1
