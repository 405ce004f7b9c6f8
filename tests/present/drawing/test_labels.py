import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.present.drawing import style
from converter_match.present.drawing.ground import box_of, overlaps
from converter_match.present.drawing.labels import make_room


@pytest.fixture
def ax():
    ax = style.new_figure(7, 5).add_axes((0.1, 0.1, 0.85, 0.8))
    style.dress(ax)
    ax.set_xlim(0, 10)
    ax.set_ylim(0, 10)
    return ax


def inside(ax, box, slack=1.0):
    corners = [
        (box.x + sx * box.width / 2, box.y + sy * box.height / 2)
        for sx in (-1, 1)
        for sy in (-1, 1)
    ]
    turn = np.array(
        [[np.cos(box.angle), -np.sin(box.angle)], [np.sin(box.angle), np.cos(box.angle)]]
    )
    for corner in corners:
        x, y = turn @ (np.array(corner) - (box.x, box.y)) + (box.x, box.y)
        if not (ax.bbox.x0 - slack <= x <= ax.bbox.x1 + slack):
            return False
        if not (ax.bbox.y0 - slack <= y <= ax.bbox.y1 + slack):
            return False
    return True


def distance_to_curve(ax, text, x, y):
    path = ax.transData.transform(np.column_stack([x, y]))
    box = box_of(text)
    return np.hypot(*(path - (box.x, box.y)).T).min()


def test_label_lies_on_its_curve_and_follows_it(ax):
    x = np.linspace(0, 10, 400)
    y = 0.09 * x**2
    ax.plot(x, y)
    label = style.label_line(ax, x, y, "0.8", near=0.7)
    assert distance_to_curve(ax, label, x, y) < 3.0
    slope = np.diff(ax.transData.transform([(6.9, 0.09 * 6.9**2), (7.1, 0.09 * 7.1**2)]), axis=0)[0]
    assert label.get_rotation() == pytest.approx(np.degrees(np.arctan2(*slope[::-1])), abs=12)
    assert inside(ax, box_of(label))


@pytest.mark.parametrize("side", [-1, 1])
def test_label_beside_its_curve_does_not_touch_it(ax, side):
    x = np.linspace(0, 10, 400)
    y = 5 + 2 * np.sin(0.5 * x)
    ax.plot(x, y)
    label = style.label_line(ax, x, y, "net at the impeller", side=side)
    path = ax.transData.transform(np.column_stack([x, y]))
    box = box_of(label)
    assert not box.holds(path).any()
    near = path[np.argmin(np.abs(path[:, 0] - box.x))]
    assert np.sign(box.y - near[1]) == side


def test_label_is_never_upside_down(ax):
    x = np.linspace(10, 0, 100)  # drawn from right to left
    label = style.label_line(ax, x, 0.5 * x, "text")
    assert -90 < label.get_rotation() <= 90
    upright = style.label_line(ax, [3, 3], [0, 10], "idle")
    assert upright.get_rotation() == pytest.approx(90)


def test_curve_outside_the_frame_gets_no_label(ax):
    assert style.label_line(ax, [0, 10], [20, 30], "nowhere") is None
    assert len(ax.texts) == 0


def test_labels_of_a_family_of_curves_keep_off_each_other(ax):
    x = np.linspace(0, 10, 200)
    for factor in (0.080, 0.082, 0.084, 0.086):
        ax.plot(x, factor * x**2)
    for factor in (0.080, 0.082, 0.084, 0.086):
        style.label_line(ax, x, factor * x**2, f"speed ratio {factor}", near=0.9)
    assert len(ax.texts) == 4
    assert overlaps(ax.texts) == []
    assert all(inside(ax, box_of(text)) for text in ax.texts)


def test_labels_of_points_keep_off_each_other_and_off_the_curve(ax):
    x = np.linspace(0, 10, 200)
    y = 6 - 0.2 * x
    ax.plot(x, y, linewidth=3)
    spots = [(4.0, 5.2), (4.4, 5.12), (4.8, 5.04)]
    for spot in spots:
        ax.plot(*spot, "o")
    texts = ["stall\n1806 rpm, 851 N·m", "coupling\n1928 rpm, 808 N·m", "limit\n2200 rpm"]
    notes = style.label_points(ax, spots, texts, ["a", "b", "c"], weight="bold")
    assert [note.xy for note in notes] == spots
    assert [note.get_gid() for note in notes] == ["a", "b", "c"]
    assert overlaps(notes) == []
    path = ax.transData.transform(np.column_stack([x, y]))
    for note in notes:
        box = box_of(note)
        assert inside(ax, box)
        assert not box.holds(path).any()


def test_leaders_of_neighbouring_points_do_not_cross(ax):
    spots = [(2.0, 1.0), (8.0, 1.0)]
    for spot in spots:
        ax.plot(*spot, "o")
    left, right = (
        box_of(note) for note in style.label_points(ax, spots, ["20 kW", "34 kW"], ["l", "r"])
    )
    assert left.x < right.x


def test_words_go_where_there_is_room(ax):
    x = np.linspace(0, 10, 300)
    for offset in np.linspace(0, 4.5, 12):
        ax.plot(x, offset + 0.02 * x)
    words = style.place_words(ax, "No coupling point:\nnone in the data.", near=(0.0, 0.0))
    box = box_of(words)
    assert inside(ax, box)
    assert ax.transData.inverted().transform((box.x, box.y))[1] > 4.7


def test_labels_above_ends_stand_in_a_row_without_overlap(ax):
    ends = [(6.0, 9.0), (6.05, 9.0), (6.1, 9.0), (8.0, 9.0)]
    labels = style.label_ends(
        ax, ends, ["0", "0.2", "0.4", "0.8"], ["a", "b", "c", "d"], caption="speed ratio"
    )
    boxes = [box_of(label) for label in labels]
    assert [label.get_text() for label in labels] == ["0", "0.2", "0.4", "0.8"]
    assert all(one.x < other.x for one, other in itertools.pairwise(boxes))
    assert overlaps(ax.texts) == []
    leaders = {line.get_gid(): line.get_xydata() for line in ax.lines}
    for gid, end in zip("abcd", ends, strict=True):
        assert leaders[f"{gid}-leader"][0] == pytest.approx(end)


@given(
    st.lists(st.floats(-50, 150), min_size=1, max_size=9),
    st.lists(st.floats(1, 10), min_size=9, max_size=9),
)
def test_intervals_are_moved_apart_inside_their_room(wanted, widths):
    wanted, widths = np.array(wanted), np.array(widths[: len(wanted)])
    placed = make_room(wanted, widths, 0.0, 100.0)
    order = np.argsort(wanted, kind="stable")
    left, right = (placed - widths / 2)[order], (placed + widths / 2)[order]
    assert left.min() >= -1e-9
    assert right.max() <= 100 + 1e-9
    assert np.all(right[:-1] <= left[1:] + 1e-9)


def test_intervals_with_room_stay_where_they_are():
    assert make_room([10, 40, 80], [5, 5, 5], 0, 100) == pytest.approx([10, 40, 80])


def test_too_many_intervals_share_the_room_evenly():
    placed = make_room([50, 50, 50], [60, 60, 60], 0, 90)
    assert placed == pytest.approx([15, 45, 75])
