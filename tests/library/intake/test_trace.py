"""A curve followed in a picture that was drawn pixel by pixel."""

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.library.intake.trace import trace

BLUE, WHITE = (20, 40, 200), 255
LAST = 180


def picture(slope=0.0, thick=3, *, left=20, hole=()):
    """A straight line from column 20 at row 50, some rows a column down; without some columns."""
    image = np.full((200, 220, 3), WHITE, dtype=np.uint8)
    for column in range(left, LAST + 1):
        if column in hole:
            continue
        row = round(50 + slope * (column - 20))
        image[row - thick // 2 : row - thick // 2 + thick, column] = BLUE
    return image


def followed(image, slope=0.0, start=20):
    return trace(image, (start, 50 + slope * (start - 20)), (LAST, 50 + slope * (LAST - 20)))


@pytest.mark.parametrize("slope", [0.0, 0.3, 0.8])
def test_straight_line_is_followed_within_a_pixel_from_where_it_was_picked(slope):
    found = followed(picture(slope), slope)
    columns, rows = found.pixels[:, 0], found.pixels[:, 1]
    assert (columns[0], columns[-1]) == (20, LAST)
    assert found.moved == 0.0
    assert found.complete
    assert found.gaps == ()
    assert np.abs(rows - (50 + slope * (columns - 20))).max() <= 1.0


@pytest.mark.parametrize("wide", [1, 2, 4])
def test_start_on_the_line_of_an_axis_is_moved_clear_of_it(wide):
    # Three columns beyond the last of the axis: the colour is looked for two to either side.
    image = picture(0.3, left=20 + wide)
    image[5:195, 20 : 20 + wide] = BLUE
    found = followed(image, 0.3)
    assert found.moved == wide + 3
    assert found.pixels[0, 0] == 20 + wide + 3
    assert found.complete


def test_line_of_an_axis_ahead_of_the_start_moves_nothing():
    image = picture()
    image[5:195, 60:62] = BLUE
    assert followed(image).moved == 0.0


@pytest.mark.parametrize(("count", "crossed"), [(6, True), (120, False)])
def test_short_gap_is_crossed_and_said_and_a_long_one_ends_the_curve(count, crossed):
    found = followed(picture(hole=range(60, 60 + count)))
    assert found.complete is crossed
    if crossed:
        [(low, high)] = found.gaps
        assert 58 <= low <= 60 <= 60 + count - 1 <= high <= 60 + count + 1


@pytest.mark.parametrize("pixel", [(-1, 50), (220, 50), (20, -1), (20, 200)])
@pytest.mark.parametrize("end", ["start", "stop"])
def test_pixel_outside_the_picture_is_refused(pixel, end):
    ends = {"start": (20, 50), "stop": (LAST, 50)} | {end: pixel}
    with pytest.raises(InputError) as refused:
        trace(picture(), **ends)
    assert refused.value.expected == "0 .. 219, 0 .. 199"


def test_curve_is_followed_backwards_as_well():
    found = trace(picture(0.3), (LAST, 98), (20, 50))
    assert sorted(found.pixels[:, 0])[0] == 20
    assert found.complete
    assert found.moved == 0.0
