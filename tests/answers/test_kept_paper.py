"""Every printed page is set as it was when somebody last looked at it.

What is written on a page and where, to a hundredth of an inch from its upper left corner, with its
lines, boxes and pictures. A picture is an empty one of the same shape here: what it shows is held
as a figure. Held as the answers are (see there).
"""

from __future__ import annotations

from collections.abc import Iterator
from io import BytesIO
from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib import colors
from matplotlib.figure import Figure
from matplotlib.image import imsave
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from converter_match.present.report import pdf
from converter_match.present.report.model import (
    Bullets,
    MarkedCell,
    Paragraph,
    Report,
    ReportPicture,
    Section,
    Signature,
    SmallTables,
    Subheading,
    Verdicts,
    table,
)
from tests.answers.holding import compare, kept_names
from tests.present.documents import document


def everything(paper: str = "a4") -> Report:
    """Return a report with one of each block, in each of its looks, over several pages."""
    long = "A sentence that is long enough to be set in several lines. " * 6
    words = [
        ("first", "1.0"),
        (MarkedCell("dark", look="dark"), "a cell that needs two lines " * 4),
    ]
    words += [(MarkedCell(look, look=look), "2.5") for look in ("shaded", "dashed")]
    narrow = [table(f"Table {k}", ("row", "value"), [(str(j), "2.50") for j in range(rows)])
              for k, rows in enumerate((20, 3, 4, 12, 2, 7, 19, 3, 3, 5))]  # fmt: skip
    long_one = table("Long", ("row", "value"), [(f"row {j}", f"{j:.2f}") for j in range(150)])
    first = Section(
        title="Decision",
        parts=(
            Verdicts(word="BUY", text=long),
            Paragraph(text=long),
            Paragraph(text="A caution. " * 20, look="caution"),
            Paragraph(text="In small letters.", look="small"),
            ReportPicture(name="one", caption=long, figure=Figure((6.0, 5.4))),
        ),
        one_page=True,
    )
    second = Section(
        title="Lists and tables",
        parts=(
            Paragraph(text="This leads to what is below:"),
            Bullets(items=("one", long, "three"), numbered=True),
            Bullets(items=("one", long), small=True),
            Subheading(text="One table over two pages"),
            table("Caption " * 30, ("name", "value"), words + [("more", "0.1")] * 60),
            SmallTables(tables=tuple(narrow), caption="A shelf of tables"),
            Subheading(text="A table below a heading"),
            SmallTables(tables=(narrow[-1],)),
            SmallTables(tables=(long_one,), caption="A table alone, over pages"),
            Subheading(text="A picture below a heading"),
            ReportPicture(name="two", caption="Tall", figure=Figure((4.0, 6.0)), width=4.0),
            ReportPicture(name="three", caption="Broad", figure=Figure((8.0, 5.0))),
            Signature(labels=("Checked by", "Date")),
        ),
        own_page=True,
    )
    return Report(
        title="One of everything " * 5, subtitle=long, footer="A footer " * 30, paper=paper,
        particulars=(("Machine", "Loader"), ("Serial number", "a long value " * 8), ("Date", "")),
        sections=(first, second),
    )  # fmt: skip


REPORTS = {
    "everything-a4": everything,
    "everything-letter": lambda: everything("letter"),
    "report-with-claims": lambda: document("report with claims"),
    "report-on-motors": lambda: document("report on motors"),
    "report-with-readings": lambda: document("report with readings", "us"),
    "handout": lambda: document("handout"),
}


@pytest.fixture
def pages(monkeypatch):
    """Return what would be printed, page by page."""

    class Printer:
        def __init__(self, file, metadata):
            self.figures, self.metadata = [], metadata
            printed.append(self)

        def __enter__(self):
            return self

        def __exit__(self, *_):
            return None

        def savefig(self, figure, dpi):
            self.figures.append(figure)

    def blank(picture):
        content = BytesIO()
        width, height = (round(100 * float(side)) for side in picture.figure.get_size_inches())
        imsave(content, np.ones((height, width, 3)), format="png")
        return content.getvalue()

    printed: list[Printer] = []
    monkeypatch.setattr(pdf, "PdfPages", Printer)
    monkeypatch.setattr(ReportPicture, "png", property(blank))

    def printing(report: Report) -> SimpleNamespace:
        pdf.report_pdf(report)
        return SimpleNamespace(figures=printed[-1].figures, title=printed[-1].metadata["Title"])

    return printing


def page_lines(page: Figure) -> Iterator[str]:
    """Yield what stands on a page, in the order in which it is set."""
    width, height = map(float, page.get_size_inches())
    yield f"page {width:.2f} x {height:.2f}"
    for item in page.artists:
        if isinstance(item, Line2D):
            (x0, x1), (y, _) = item.get_data()
            look = f"{item.get_linewidth():g} {colors.to_hex(item.get_color())}"
            yield f"line {width * x0:.2f} to {width * x1:.2f} at {height * (1 - y):.2f}, {look}"
        elif isinstance(item, Rectangle):
            (left, low), (right, high) = item.get_bbox().get_points()
            inner, edge = (
                colors.to_hex(one, keep_alpha=True)
                for one in (item.get_facecolor(), item.get_edgecolor())
            )
            yield (
                f"box {width * left:.2f} to {width * right:.2f}, {height * (1 - high):.2f} to "
                f"{height * (1 - low):.2f}, {inner} in {edge} {item.get_linestyle()} "
                f"{item.get_linewidth():g}"
            )
        else:
            raise AssertionError(f"{item} is neither a line nor a box")
    for ax in page.axes:
        (left, low), (right, high) = ax.get_position().get_points()
        yield (
            f"picture {width * left:.2f} to {width * right:.2f}, {height * (1 - high):.2f} to "
            f"{height * (1 - low):.2f}"
        )
    for text in page.texts:
        x, y = text.get_position()
        look = f"{text.get_fontsize():g} {text.get_weight()} {text.get_style()} {text.get_ha()}"
        color = colors.to_hex(text.get_color())
        yield f"{width * x:.2f} {height * (1 - y):.2f} {look} {color}: {text.get_text()}"


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(name, marks=[pytest.mark.slow] if name.startswith("report") else [])
        for name in REPORTS
    ],
)
def test_page_is_set_as_it_was(name, request, pages):
    printed = pages(REPORTS[name]())
    lines = [printed.title, *(line for page in printed.figures for line in page_lines(page))]
    compare(f"paper-{name}", lines, request)


def test_every_kept_paper_is_printed():
    assert kept_names("paper-") == {*REPORTS}
