"""Sheets dropped onto the page in a real browser: two at once, one corrected, one pasted; undo."""

import json

import pytest

from tests.browser.conftest import keep_picture
from tests.browser.lab_page import (
    close_notebook,
    open_notebook,
    wait_until_answered,
    write_notebook,
)
from tests.browser.test_chart_picker import RUN_CELL

BOX = """\
from converter_match.present.lab.bring_in import BringIn
box = BringIn(".", stator="one-way", coupling_speed_ratio="0.86")
box"""
TOLD = """\
import json
print(json.dumps({
    "last": box._last,
    "stall": {name: each.sheet.one("torque_ratio").values[0] for name, each in box.drafts.items()},
    "open": {name: len(each.open) for name, each in box.drafts.items()},
}))"""
# A drop as a browser makes it: the files lie in the event's data.
DROP = """
([zone, files]) => {
  const data = new DataTransfer();
  for (const [name, text] of files) data.items.add(new File([text], name, {type: "text/csv"}));
  for (const kind of ["dragenter", "dragover", "drop"])
    zone.dispatchEvent(new DragEvent(kind, {dataTransfer: data, bubbles: true, cancelable: true}));
}
"""
SHEET = """speed ratio;torque ratio;K [rpm/sqrt(N.m)]
0;2.20;62.0
0.2;1.92;62.2
0.4;1.64;62.8
0.6;1.36;63.9
0.8;1.08;66.0
0.86;1.00;67.0
0.95;1.00;95.0
"""


class Box:
    """The box in the notebook in front, as a person sees it."""

    def __init__(self, page):
        self.page = page
        self.root = page.locator(".jp-Notebook:visible .jp-OutputArea-output").first
        self.zone = self.root.get_by_role("region", name="Drop files here")
        self.zone.wait_for(timeout=30_000)

    def drop(self, *files):
        self.zone.scroll_into_view_if_needed()
        self.page.evaluate(DROP, [self.zone.element_handle(), list(files)])
        names = ", ".join(name for name, _ in files)
        self.zone.get_by_text(f"handed over: {names}").wait_for(timeout=30_000)

    def kernel(self):
        wait_until_answered(self.page)
        outputs = self.page.evaluate(RUN_CELL, 1)
        assert [item.get("name") for item in outputs] == ["stdout"], outputs
        return json.loads(outputs[0]["text"])


@pytest.fixture
def box(page, folder):
    """The box, empty."""
    for name in ("one.csv", "two.csv"):
        (folder / name).unlink(missing_ok=True)
    write_notebook(folder / "dropping.ipynb", BOX, TOLD)
    open_notebook(page, "dropping.ipynb")
    page.evaluate(RUN_CELL, 0)
    yield Box(page)
    keep_picture(page, "dropping")
    close_notebook(page)


def test_two_sheets_are_dropped_one_is_corrected_and_the_last_taken_back(box):
    other = SHEET.replace("2.20", "2.25")
    box.drop(("one.csv", SHEET), ("two.csv", other))
    box.root.get_by_text("What was understood").first.wait_for(timeout=60_000)
    told = box.kernel()
    assert told["stall"] == {"one.csv": 2.2, "two.csv": 2.25}
    assert told["open"] == {"one.csv": 0, "two.csv": 0}
    corrected = SHEET.replace("2.20", "2.22")
    box.drop(("one.csv", corrected))
    told = box.kernel()
    assert told["stall"] == {"one.csv": 2.22, "two.csv": 2.25}
    assert told["last"] == "one.csv"
    box.root.get_by_role("textbox").fill(SHEET.replace("2.20", "2.30"))
    box.root.get_by_role("button", name="read what is pasted").click()
    assert box.kernel()["stall"]["pasted"] == 2.3
    for stall in (2.22, 2.2):
        box.root.get_by_role("button", name="undo").click()
        told = box.kernel()
        assert "pasted" not in told["stall"]
        assert told["stall"]["one.csv"] == stall
