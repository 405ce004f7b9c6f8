"""Charts that go wrong by themselves: crossings, thin lines, starts on the axis, photographs."""

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from converter_match.errors import InputError
from converter_match.library.intake.image_file import read_image
from converter_match.library.intake.picture import intake_picture
from converter_match.library.intake.straighten import straight_from
from converter_match.library.intake.trace import trace
from converter_match.library.toml_text import Inline, toml_text
from tests.hard_charts import FACTS, black_chart, photographed, share_beyond


def drawn(folder, *curves, width=2.0, dashes="-"):
    """Draw curves y(x) over 0 .. 1 on 0 .. 3; return the picture and a map to pixels."""
    figure = Figure(figsize=(8, 6), dpi=100)
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0.1, 0.1, 0.8, 0.8))
    x = np.linspace(0, 1, 800)
    for y, colour in curves:
        axes.plot(x, y(x), color=colour, lw=width, ls=dashes)
    axes.set(xlim=(0, 1), ylim=(0, 3))
    figure.savefig(folder / "chart.png")

    def pixel(x, y):
        u, v = axes.transData.transform((x, y))
        return float(u) - 0.5, 600 - float(v) - 0.5

    return read_image(folder / "chart.png"), pixel


def off_by(found, y, pixel):
    rows = [np.interp(u, *zip(*[pixel(x, y(x)) for x in np.linspace(0, 1, 500)], strict=True))
            for u in found.pixels[:, 0]]  # fmt: skip
    return float(np.abs(found.pixels[:, 1] - rows).max())


def falling(x):
    return 2.4 - 1.4 * x


def rising(x):
    return 0.6 + 1.6 * x


@pytest.mark.slow
def test_direction_is_held_through_a_crossing_of_the_same_colour(tmp_path):
    image, pixel = drawn(tmp_path, (falling, "black"), (rising, "black"))
    for y in (falling, rising):
        found = trace(image, pixel(0.02, y(0.02)), pixel(0.98, y(0.98)))
        assert found.complete
        assert off_by(found, y, pixel) < 2.0
        assert len(found.crossings) == 1
        first, last = found.crossings[0]
        assert first < pixel(0.6, 0)[0] < last  # 2.4 - 1.4 x = 0.6 + 1.6 x at x = 0.6


@pytest.mark.parametrize(("width", "dashes"), [(0.5, "-"), (0.8, "-"), (1.0, (0, (6, 4)))])
@pytest.mark.slow
def test_thin_and_dashed_lines_are_followed(tmp_path, width, dashes):
    image, pixel = drawn(tmp_path, (falling, "#c84a27"), width=width, dashes=dashes)
    found = trace(
        image, pixel(0.02, falling(0.02)), pixel(0.98, falling(0.98)), colour=(200, 74, 39)
    )
    assert found.complete
    assert off_by(found, falling, pixel) < 2.0


@pytest.mark.parametrize(("colour", "last"), [("#c84a27", 0.98), ("black", 1.0)])
@pytest.mark.slow
def test_a_start_or_an_end_on_the_line_of_the_axis_is_moved_off_it(tmp_path, colour, last):
    image, pixel = drawn(tmp_path, (falling, colour))
    found = trace(image, pixel(0.0, falling(0.0)), pixel(last, falling(last)))
    assert found.complete
    assert off_by(found, falling, pixel) < 2.0


def test_four_corners_are_mapped_onto_a_rectangle():
    corners = [(30.0, 20.0), (400.0, 60.0), (390.0, 300.0), (10.0, 320.0)]
    flat = straight_from(corners).pixels(np.array(corners))
    np.testing.assert_allclose(flat[0], [0, 0], atol=1e-9)
    np.testing.assert_allclose([flat[1, 1], flat[3, 0]], [0, 0], atol=1e-9)
    np.testing.assert_allclose(flat[2], [flat[1, 0], flat[3, 1]], atol=1e-9)


@pytest.mark.slow
def test_a_photograph_from_the_side_is_seen_and_made_straight_by_its_corners(tmp_path):
    askew = intake_picture(photographed(tmp_path, corners=False), **FACTS)
    assert "seen-from-the-side" in [problem.code for problem in askew.open]
    draft = intake_picture(photographed(tmp_path, corners=True), **FACTS)
    assert draft.open == ()
    assert share_beyond(draft) <= 0.05


@pytest.mark.slow
def test_a_path_that_does_not_come_to_the_picked_end_is_told(tmp_path):
    image, pixel = drawn(tmp_path, (falling, "black"), (rising, "black"))
    astray = trace(image, pixel(0.02, falling(0.02)), pixel(0.98, rising(0.98)))
    assert astray.astray > 50.0


@pytest.mark.slow
def test_black_curves_that_cross_are_asked_about_and_a_falling_k_is_refused(tmp_path):
    draft = intake_picture(black_chart(tmp_path), **FACTS)
    # The torque crosses the torque ratio of 1 soon after its corner, and is followed on.
    assert {problem.code for problem in draft.open} == {"trace-crossing", "no-stall-row"}
    assert share_beyond(draft) <= 0.05
    wrong = intake_picture(black_chart(tmp_path, wrong_end=True), **FACTS)
    assert "capacity-rises-beyond" in [problem.code for problem in wrong.errors]


def test_the_description_refuses_corners_out_of_order(tmp_path):
    path = tmp_path / "a.toml"
    Image.new("RGB", (100, 100), "white").save(tmp_path / "a.png")
    points = [Inline(pixel=[10, 90], value=0), Inline(pixel=[90, 90], value=1)]
    up = [Inline(pixel=[10, 90], value=0), Inline(pixel=[10, 10], value=1)]
    data = {
        "image": "a.png",
        "corners": [[10, 10], [10, 90], [90, 90], [90, 10]],
        "x": {"quantity": "speed ratio", "points": points},
        "curve": [{"quantity": "torque ratio", "points": up, "picked": [[10, 20], [80, 40]]}],
    }
    path.write_text(toml_text(data), encoding="utf-8")
    with pytest.raises(InputError, match="upper left, upper right"):
        intake_picture(path)
