"""The process that draws a page of a PDF: what it answers, and the bounds that it sets itself."""

import io
import json
import sys
from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from converter_match.library.intake import pdf_child

resource = pytest.importorskip("resource", reason="a system without such bounds")
PIXELS, MEMORY, SECONDS = 1_000_000, 500_000_000, 20


@pytest.fixture(scope="module")
def pdf():
    """Two pages of 2 by 1 inches; the left half of the second is of one colour."""
    content = io.BytesIO()
    with PdfPages(content) as file:
        for page in (1, 2):
            figure = Figure((2.0, 1.0))
            if page == 2:
                half = Rectangle((0, 0), 0.5, 1, color="#204080", transform=figure.transFigure)
                figure.add_artist(half)
            file.savefig(figure)
    return content.getvalue()


@pytest.fixture
def answer(monkeypatch):
    """Run the process here, and return its line, its bytes, and the bounds that it set."""

    def run(raw, page=1, scale=1.0, pixels=PIXELS):
        bounds, out = {}, io.BytesIO()
        monkeypatch.setattr(resource, "setrlimit", lambda what, most: bounds.update({what: most}))
        numbers = [str(each) for each in (page, scale, pixels, MEMORY, SECONDS)]
        monkeypatch.setattr(sys, "argv", ["pdf_child.py", *numbers])
        monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=io.BytesIO(raw)))
        monkeypatch.setattr(sys, "stdout", SimpleNamespace(buffer=out))
        assert pdf_child.main() == 0
        line, _, rest = out.getvalue().partition(b"\n")
        return json.loads(line), rest, bounds

    return run


def test_it_bounds_its_memory_and_its_time_before_it_reads(answer, pdf):
    _, _, bounds = answer(pdf)
    assert bounds == {
        resource.RLIMIT_AS: (MEMORY, MEMORY),
        resource.RLIMIT_CPU: (SECONDS, SECONDS),
    }


@pytest.mark.parametrize(("page", "blue"), [(1, 0.0), (2, 0.5)])
def test_a_page_comes_as_rows_of_red_green_and_blue(answer, pdf, page, blue):
    # A point of a PDF is 1/72 inch (ISO 32000-1, 8.3.2.3): 2 by 1 inches are 144 by 72 of them.
    told, rest, _ = answer(pdf, page, scale=2.0)
    assert (told["width"], told["height"]) == (288, 144)
    assert told["stride"] >= 3 * 288
    assert len(rest) == told["stride"] * told["height"]
    rows = np.frombuffer(rest, np.uint8).reshape(told["height"], told["stride"])
    colours = rows[:, : 3 * 288].reshape(144, 288, 3)
    assert np.mean(np.all(colours == (0x20, 0x40, 0x80), axis=2)) == pytest.approx(blue, abs=0.01)
    assert np.mean(np.all(colours == 255, axis=2)) == pytest.approx(1.0 - blue, abs=0.01)


@pytest.mark.parametrize("page", [0, 3])
def test_a_page_that_is_not_there_is_said_with_how_many_are(answer, pdf, page):
    assert answer(pdf, page)[:2] == ({"refused": "page", "count": 2}, b"")


def test_what_is_no_pdf_is_damaged(answer):
    told, rest, _ = answer(b"%PDF-1.7 and nothing")
    assert told["refused"] == "damaged"
    assert 0 < len(told["what"]) <= 120
    assert rest == b""


def test_a_page_of_too_many_pixels_is_not_drawn(answer, pdf):
    told, rest, _ = answer(pdf, scale=2.0, pixels=288 * 144 - 1)
    assert (told, rest) == ({"refused": "size", "width": 288.0, "height": 144.0}, b"")
    assert "refused" not in answer(pdf, scale=2.0, pixels=288 * 144)[0]


def test_memory_that_is_refused_is_said(answer, pdf, monkeypatch):
    import pypdfium2

    def refused(self, **options):
        raise MemoryError

    monkeypatch.setattr(pypdfium2.PdfPage, "render", refused)
    assert answer(pdf)[:2] == ({"refused": "memory"}, b"")


def test_without_such_bounds_it_draws_all_the_same(answer, pdf, monkeypatch):
    monkeypatch.setitem(sys.modules, "resource", None)  # as on a system that has none
    assert answer(pdf)[0]["width"] == 144
