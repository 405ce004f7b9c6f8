"""What is kept of a catalogue, as a figure and as a page: what stands in them, and nothing else."""

import re
from html.parser import HTMLParser

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.judgement.catalogue.result import Listed, Shortlist, compared
from converter_match.present.drawing.ground import box_of, overlaps
from converter_match.present.figures.shortlist import shortlist_figure
from converter_match.present.report.sifting import sifting_page
from converter_match.study.catalogue import Member, PartsCatalogue
from tests.study_examples import flat_engine, loose, study


def made(*rows, name="Made <b>for</b> a test"):
    ground = PartsCatalogue(
        id="made", name=name, source="tests", study=study(),
        engines=(flat_engine(),), converters=(loose(60.0),),
    )  # fmt: skip
    listed = [
        Listed(
            member=Member(0, 0, 0, 0), engine=f"engine-{k}", converter="<i>round</i>",
            driveline="four", site="", diameter=0.36 if k else None, verdict="pass",
            route_time=time, fuel=fuel, heat_margin=heat,
        )
        for k, (time, fuel, heat) in enumerate(rows)
    ]  # fmt: skip
    kept, aims = compared(listed)
    return Shortlist(
        catalogue=ground, kept=kept, excluded=(), unsettled=(), aims=aims,
        bounds=np.zeros((1, 1, 1, 1), np.uint8), fallen={},
    )  # fmt: skip


@pytest.fixture(scope="module")
def three():
    """Not beaten, beaten, and not compared."""
    return made((600.0, 5.0, 0.4), (660.0, 6.0, 0.3), (540.0, None, 0.5))


def points(figure, gid):
    (line,) = figure.findobj(lambda artist: artist.get_gid() == gid)
    return np.column_stack(line.get_data()).tolist()


def test_each_panel_shows_a_figure_over_the_route_time_with_units(three):
    figure = shortlist_figure(three)
    assert points(figure, "best-fuel") == [[10.0, 5.0]]
    assert points(figure, "beaten-fuel") == [[11.0, 6.0]]
    assert points(figure, "open-fuel") == []
    assert points(figure, "open-heat_margin") == [[9.0, pytest.approx(50.0)]]
    said = " ".join(
        text.get_text() for text in figure.findobj(match=lambda a: hasattr(a, "get_text"))
    )
    assert "route time (min)" in said
    assert "fuel (kg)" in said
    assert "heat margin (%)" in said
    assert "1: engine-0" in said


def test_numbers_of_marks_that_stand_close_are_told_apart():
    """Each is joined to its own mark, and covers none."""
    close = made((735.0, 5.47, 0.371), (740.0, 4.53, 0.375), (884.0, 4.8, 0.66))
    figure = shortlist_figure(close)
    ax = figure.axes[1]
    assert overlaps(ax.texts) == []
    marks = ax.transData.transform(points(figure, "best-heat_margin"))
    for text in ax.texts:
        _, k, key = text.get_gid().split("-")
        assert (text.get_text(), key) == (k, "heat_margin")
        np.testing.assert_allclose(ax.transData.transform(text.xy), marks[int(k) - 1])
        assert not box_of(text).holds(marks).any()
    assert len(ax.texts) == 3


def test_us_units_reach_the_axes(three):
    figure = shortlist_figure(three, system="us")
    assert points(figure, "best-fuel")[0][1] == pytest.approx(5.0 / 0.45359237)


def test_nothing_to_compare_is_no_figure():
    with pytest.raises(InputError, match="nothing to draw"):
        shortlist_figure(made())


class Page(HTMLParser):
    def __init__(self, text):
        super().__init__()
        self.tags, self.addresses = [], []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.tags.append(tag)
        self.addresses += [v for k, v in attributes if k in ("src", "href", "action") and v]


def test_the_page_asks_nobody_and_takes_no_name_for_markup(three):
    text = sifting_page(three)
    page = Page(text)
    assert [one for one in page.addresses if not one.startswith("data:image/png;base64,")] == []
    assert not re.search(r"https?:|fetch\(|XMLHttp|import\(", text)
    assert "i" not in page.tags
    assert "b" not in page.tags
    assert page.tags.count("tr") == 1 + 3


def test_a_page_of_nothing_says_so():
    text = sifting_page(made())
    assert "0 kept" in text
    assert "img" not in Page(text).tags
