"""The chart picker in a real browser: what is clicked on the screen is what the kernel reads."""

import json

import numpy as np
import pytest

from converter_match.library.read import read_converter
from converter_match.library.shipped import shipped
from converter_match.present.figures.practice_chart import practice_chart
from tests.browser.conftest import keep_picture
from tests.browser.lab_page import (
    close_notebook,
    open_notebook,
    wait_until_answered,
    write_notebook,
)

CONVERTER = read_converter(shipped("converters")["single-stage-345mm-tight"])
PICKER = """\
from converter_match.present.lab.picking import ChartPicker
picker = ChartPicker("chart.png", [{"quantity": "torque ratio"}])
picker"""
MARKS = "import json; print(json.dumps(picker.marks))"
DRAFT = """\
_, ratio = picker.draft(stator="one-way", coupling_speed_ratio="0.86").sheet.columns
print(json.dumps([[*column] for column in (_.values, ratio.values, ratio.tolerance)]))"""
RUN_CELL = """
async index => {
  const {commands, shell} = window.jupyterapp;
  shell.currentWidget.content.activeCellIndex = index;
  await commands.execute("notebook:run-cell");
  return shell.currentWidget.content.model.cells.get(index).outputs.toJSON();
}
"""


class Chart:
    """The picker in the notebook in front, as a person sees it."""

    def __init__(self, page):
        self.page = page
        self.root = page.locator(".jp-Notebook:visible .jp-OutputArea-output").first
        self.surface = self.root.get_by_role("application", name="Chart")
        self.surface.wait_for(timeout=30_000)
        self.size = [int(side) for side in self.surface.get_attribute("viewBox").split()[2:]]

    def click(self, what, pixel, value=None):
        """Click a pixel of the picture, wherever the screen shows it."""
        self.root.get_by_role("combobox").select_option(what)
        if value is not None:
            self.root.get_by_role("spinbutton").fill(str(value))
        self.surface.scroll_into_view_if_needed()
        box = self.surface.bounding_box()
        at = {
            "x": (pixel[0] + 0.5) * box["width"] / self.size[0],
            "y": (pixel[1] + 0.5) * box["height"] / self.size[1],
        }
        self.surface.click(position=at)

    def said(self):
        return self.root.get_by_role("status").text_content()

    def crosses(self):
        return self.surface.locator("path").count()

    def kernel(self, index):
        """Run a cell, once the kernel knows of every mark, and return what it printed."""
        wait_until_answered(self.page)
        outputs = self.page.evaluate(RUN_CELL, index)
        assert [item.get("name") for item in outputs] == ["stdout"], outputs
        return json.loads(outputs[0]["text"])


@pytest.fixture
def chart(page, folder):
    """A picker on the practice chart without a mark, and where the marks belong."""
    (folder / "chart.png").unlink(missing_ok=True)
    wanted = practice_chart(CONVERTER, folder / "chart.png")
    write_notebook(folder / "picker.ipynb", PICKER, MARKS, DRAFT)
    open_notebook(page, "picker.ipynb")
    page.evaluate(RUN_CELL, 0)
    picker = Chart(page)
    picker.wanted = [mark for mark in wanted if not mark["what"].endswith(":1")]
    yield picker
    keep_picture(page, "chart-picker")
    close_notebook(page)


def test_a_curve_clicked_on_the_screen_is_read_within_its_stated_error(chart):
    for mark in chart.wanted:
        chart.click(mark["what"], mark["pixel"], mark.get("value"))
    assert chart.crosses() == len(chart.wanted)
    got = chart.kernel(1)
    assert [mark["what"] for mark in got] == [mark["what"] for mark in chart.wanted]
    assert [mark.get("value") for mark in got] == [mark.get("value") for mark in chart.wanted]
    # The screen shows the picture smaller, and a click falls on whole pixels of the screen.
    places = np.array([[mark["pixel"] for mark in marks] for marks in (got, chart.wanted)])
    assert np.abs(places[0] - places[1]).max() <= 1.5
    nu, ratio, tolerance = (np.array(column) for column in chart.kernel(2))
    assert nu[0] == 0.0  # stall is read though nobody clicks on the axis itself
    assert np.all(np.abs(ratio - CONVERTER.torque_ratio_at(nu)) <= tolerance)


def test_keys_move_the_last_mark_and_take_it_away(chart):
    chart.click("x", [300, 400], 0)
    [start] = chart.kernel(1)
    chart.surface.press("ArrowRight")
    chart.surface.press("Shift+ArrowUp")
    assert "moved to" in chart.said()
    [moved] = chart.kernel(1)
    assert moved["pixel"] == pytest.approx([start["pixel"][0] + 1, start["pixel"][1] - 10])
    chart.surface.press("Enter")
    assert chart.crosses() == 2
    chart.surface.press("Delete")
    chart.root.get_by_role("button", name="take the mark away").click()
    assert chart.crosses() == 0
    assert chart.kernel(1) == []


def test_an_axis_mark_without_its_number_is_asked_for_and_not_set(chart):
    chart.click("x", [300, 400], "")
    assert "type the number" in chart.said()
    assert chart.crosses() == 0
    # A point of a curve has no number of its own, and none is asked for.
    chart.click("point:0", [300, 400])
    assert not chart.root.get_by_role("spinbutton").is_visible()
    [mark] = chart.kernel(1)
    assert "value" not in mark
