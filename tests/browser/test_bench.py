"""The match bench in a real browser: what it shows is what the command line computes."""

import re

import pytest

from converter_match.library.read import read_converter
from converter_match.library.shipped import shipped
from converter_match.library.study_file import read_study
from tests.browser.conftest import keep_picture
from tests.browser.lab_page import (
    close_notebook,
    open_notebook,
    run_all,
    wait_until_answered,
    write_notebook,
)

ENGINE, CONVERTER = "six-cylinder-7l-185kw", "single-stage-345mm-tight"
PAIR = ("--engine", ENGINE, "--converter", CONVERTER)
CELL = f"""\
from converter_match.present.bench import bench
from converter_match.present.bench.state import BenchState, Setting
live = bench(FOLDER, BenchState(a=Setting(engine="{ENGINE}", converter="{CONVERTER}")))
live"""
SLIDERS = ("hydraulics", "accessories", "diameter", "altitude", "air")


class Bench:
    """The bench in the notebook in front, as a person sees it."""

    def __init__(self, page):
        self.page = page
        self.root = page.locator(".jp-Notebook:visible .cm-app")

    def frame(self):
        return int(self.root.locator(".cm-bench").get_attribute("data-frame"))

    def settled(self, before):
        """Wait until a newer frame is drawn and no other is to follow."""
        self.page.wait_for_function(
            "([root, before]) => Number(root.querySelector('.cm-bench').dataset.frame) > before",
            arg=[self.root.element_handle(), before],
            timeout=15_000,
        )
        wait_until_answered(self.page)

    def slider(self, name):
        return self.root.locator(".widget-slider").filter(has_text=name)

    def press(self, name, *keys):
        before = self.frame()
        handle = self.slider(name).locator(".noUi-handle")
        handle.focus()
        for key in keys:
            handle.press(key)
        self.settled(before)

    def type(self, name, value):
        before = self.frame()
        readout = self.slider(name).locator(".widget-readout")
        readout.click()
        self.page.keyboard.press("Control+A")
        self.page.keyboard.type(str(value))
        self.page.keyboard.press("Enter")
        self.settled(before)

    def click(self, words):
        before = self.frame()
        self.root.get_by_role("button", name=words, exact=True).click()
        self.settled(before)

    def choose(self, name, label):
        before = self.frame()
        self.root.get_by_label(name, exact=True).select_option(label=label)
        self.settled(before)

    def figures(self):
        rows = self.root.locator(".cm-figures tbody tr").all()
        table = {}
        for row in rows:
            a, b, difference, unit = row.locator("td").all_text_contents()
            table[row.locator("th").text_content()] = (a, b, difference, unit)
        return table

    def notes(self):
        return self.root.locator(".cm-note").all_text_contents()

    def mark(self, panel, id):
        """Return where a mark stands, in the units of its panel, measured against the axis."""
        return self.page.evaluate(MEASURE, [self.root.element_handle(), panel, id])


# A mark is read off like a person would: by the numbers at the axes.
MEASURE = """
([root, panel, id]) => {
  const group = root.querySelector(`[data-panel="${panel}"]`);
  const [, x, y] = group.querySelector(`[data-mark="${id}"]`).getAttribute("transform")
    .match(/translate\\(([-\\d.]+),([-\\d.]+)\\)/).map(Number);
  const f = parseFloat(getComputedStyle(group.querySelector(".cm-tick")).fontSize);
  const numbers = [...group.querySelectorAll(".cm-tick")].map(t => ({
    value: Number(t.textContent), x: Number(t.getAttribute("x")), y: Number(t.getAttribute("y")),
    along: t.getAttribute("text-anchor") === "middle" ? "x" : "y"}));
  const read = (along, at, shift) => {
    const scale = numbers.filter(n => n.along === along);
    const [a, b] = [scale[0], scale.at(-1)];
    const [from, to] = [a[along] - shift, b[along] - shift];
    return {value: a.value + (b.value - a.value) * (at - from) / (to - from),
            pixel: Math.abs((b.value - a.value) / (to - from))};
  };
  return {x: read("x", x, 0), y: read("y", y, 0.35 * f)};
}
"""


@pytest.fixture
def open_bench(page, folder):
    opened = []

    def make(name, component_folder=None):
        cell = CELL.replace("FOLDER", repr(component_folder))
        write_notebook(folder / f"{name}.ipynb", cell)
        open_notebook(page, f"{name}.ipynb")
        opened.append(name)
        assert [item for item in run_all(page) if item["output_type"] == "error"] == []
        page.wait_for_selector(".jp-Notebook:visible [data-line='a/net']", timeout=30_000)
        return Bench(page)

    yield make
    for name in reversed(opened):
        open_notebook(page, f"{name}.ipynb")
        keep_picture(page, f"bench-{name}")
        close_notebook(page)


def agrees(bench, expected, side="A"):
    """Compare the key figures and the marks of one side with the JSON of ``solve``."""
    column = "AB".index(side)
    shown = {name: row[column] for name, row in bench.figures().items()}
    stall, coupling = expected["stall"], expected["coupling"]
    assert shown["stall speed"] == f"{stall['engine_speed_rpm']:.0f}"
    assert shown["input torque at stall"] == f"{stall['input_torque_nm']:.0f}"
    assert shown["turbine torque at stall"] == f"{stall['turbine_torque_nm']:.0f}"
    assert shown["heat at stall"] == f"{stall['heat_kw']:.1f}"
    assert shown["coupling point, turbine speed"] == f"{coupling['turbine_speed_rpm']:.0f}"
    assert shown["coupling point, turbine torque"] == f"{coupling['turbine_torque_nm']:.0f}"
    assert shown["output power at coupling"] == f"{coupling['output_power_kw']:.1f}"
    for code, point in (("stall", stall), ("coupling", coupling)):
        read = bench.mark("engine", f"{side.lower()}/{code}/input_torque")
        for axis, key in (("x", "engine_speed_rpm"), ("y", "input_torque_nm")):
            # Places are rounded to a tenth of a pixel.
            assert read[axis]["value"] == pytest.approx(point[key], abs=0.2 * read[axis]["pixel"])


def test_moved_sliders_show_what_the_command_line_computes(open_bench, solved):
    bench = open_bench("moved")
    agrees(bench, solved(*PAIR))
    bench.press("hydraulics", *["ArrowRight"] * 12)
    agrees(bench, solved(*PAIR, "--hydraulic-torque", "12"))
    bench.type("hydraulics", 120)
    agrees(bench, solved(*PAIR, "--hydraulic-torque", "120"))
    before = bench.frame()
    bench.root.get_by_label("correct for a site").check()
    bench.settled(before)
    bench.type("altitude", 1800)
    bench.type("air", 35)
    conditions = ("--hydraulic-torque", "120", "--altitude", "1800", "--air-temperature", "35")
    agrees(bench, solved(*PAIR, *conditions))

    # The other side keeps its figures; the difference is that of what is shown.
    bench.click("keep as present")
    bench.type("diameter", 103)
    diameter = read_converter(shipped("converters")[CONVERTER]).profile_diameter
    scaled = solved(*PAIR, *conditions, "--diameter", f"{1030 * diameter!r} mm")
    agrees(bench, scaled, side="B")
    agrees(bench, solved(*PAIR, *conditions))
    who = bench.root.locator(".cm-who p").all_text_contents()
    assert [words.split(":")[0] for words in who] == ["A, present machine", "B, candidate"]
    assert "diameter 103.0 %" in who[1]
    a, b, difference, unit = bench.figures()["stall speed"]
    assert unit == "rpm"
    assert int(difference) == int(b) - int(a)

    bench.choose("units", "US")
    torque, unit = (bench.figures()["input torque at stall"][i] for i in (1, 3))
    assert unit == "lbf·ft"
    newton_metres = 1.3558179483314004  # exact: 0.3048 m x 4.4482216152605 N
    assert int(torque) == round(scaled["stall"]["input_torque_nm"] / newton_metres)
    assert "lbf·ft" in bench.root.locator("svg desc").text_content()

    bench.click("undo")  # the diameter; what is looked at in which units is no step
    assert bench.figures()["stall speed"][1] == a
    assert bench.figures()["input torque at stall"][3] == "lbf·ft"


def test_slider_extremes_leave_picture_and_words(open_bench):
    bench = open_bench("extremes")
    before = bench.frame()
    bench.root.get_by_label("correct for a site").check()
    bench.settled(before)
    for name in SLIDERS:
        for key in ("End", "Home"):
            if name in ("hydraulics", "altitude") and key == "Home":
                continue
            before = bench.frame()
            handle = bench.slider(name).locator(".noUi-handle")
            handle.focus()
            handle.press(key)
            bench.settled(before)
            assert bench.figures()["stall speed"][0]
            assert not [words for words in bench.notes() if words.startswith("problem")]
    # A number beyond the end is taken back to the end before everybody's eyes.
    bench.type("hydraulics", 500)
    bench.type("hydraulics", 99999)
    assert bench.slider("hydraulics").locator(".widget-readout").text_content() == "600"
    assert not [words for words in bench.notes() if words.startswith("problem")]


def test_letters_scale_everything_and_nothing_overlaps(open_bench):
    bench = open_bench("letters")
    bench.click("keep as present")
    bench.type("diameter", 105)
    sizes = {}
    for letters in ("desk", "large", "projector"):
        if letters != "desk":
            bench.choose("letters", letters)
        sizes[letters] = bench.page.evaluate(SIZES, bench.root.element_handle())
        assert bench.page.evaluate(TOO_WIDE, bench.root.element_handle()) == []
        assert bench.page.evaluate(OVERLAPS, bench.root.element_handle()) == []
        bench.root.scroll_into_view_if_needed()
        keep_picture(bench.page, f"letters-{letters}")
    for what, size in sizes["desk"].items():
        assert sizes["large"][what] == pytest.approx(1.3 * size, rel=0.02), what
        assert sizes["projector"][what] == pytest.approx(1.6 * size, rel=0.02), what


SIZES = """
root => Object.fromEntries([".widget-slider label", ".widget-readout", "select", ".widget-button",
  ".widget-toggle-button", "input[type=text]", "svg text", ".cm-figures td", ".cm-note"].map(
  name => [name, parseFloat(getComputedStyle(root.querySelector(name)).fontSize)]))
"""
TOO_WIDE = """
root => {
  const edge = root.getBoundingClientRect().right + 0.5;
  const found = [...root.querySelectorAll("*")].filter(e => {
    const box = e.getBoundingClientRect();
    return box.width > 0 && box.right > edge && !e.closest("[clip-path], clipPath");
  }).map(e => `${e.tagName} ${e.className.baseVal ?? e.className} ${e.textContent.slice(0, 30)}`);
  const cut = [...root.querySelectorAll(".widget-label, button, td, th")].filter(e =>
    e.scrollWidth > e.clientWidth + 1 && e.clientWidth > 0).map(e => `cut: ${e.textContent}`);
  const output = root.closest(".jp-OutputArea-output");
  if (output.scrollWidth > output.clientWidth + 1) found.push("the output scrolls");
  return [...found, ...cut];
}
"""
# Words along a curve may touch a line, never other words.
OVERLAPS = """
root => {
  const texts = [...root.querySelectorAll("svg text")].filter(t => t.textContent.trim()
    && getComputedStyle(t).display !== "none" && !t.classList.contains("cm-guide"));
  const boxes = texts.map(t => t.getBoundingClientRect());
  const found = [];
  for (let i = 0; i < texts.length; i += 1) for (let j = 0; j < i; j += 1) {
    const [a, b] = [boxes[i], boxes[j]];
    const x = Math.min(a.right, b.right) - Math.max(a.left, b.left);
    const y = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
    if (x > 1 && y > 0.25 * Math.min(a.height, b.height)) {
      found.push(`${texts[i].textContent} / ${texts[j].textContent}`);
    }
  }
  return found;
}
"""


def test_every_control_is_reached_by_the_tab_key_and_shows_it(open_bench):
    bench = open_bench("keyboard")
    bench.root.get_by_role("button", name="change A").focus()
    for key in ("Tab", "Shift+Tab"):  # a ring is drawn for who uses the keyboard
        bench.page.keyboard.press(key)
    reached = []
    for _ in range(40):
        name, width = bench.page.evaluate(FOCUSED)
        if name is None:
            break
        reached.append(name)
        assert width >= 2, name
        bench.page.keyboard.press("Tab")
    expected = [
        *("change A", "change B", "keep as present", "exchange", "A alone", "undo", "redo"),
        *("units", "letters", "fold", "engine or motor", "converter"),
        *("hydraulics (N·m)", "hydraulics (N·m), typed"),
        *("accessories (%)", "accessories (%), typed", "diameter (%)", "diameter (%), typed"),
        *("correct for a site", "altitude (m)", "altitude (m), typed", "air (°C)"),
        *("air (°C), typed", "file", "as", "save", "open"),
    ]
    assert reached == expected
    # And it works without a mouse: to the pin, and back.
    bench.root.get_by_role("button", name="keep as present").focus()
    before = bench.frame()
    bench.page.keyboard.press("Enter")
    bench.settled(before)
    assert bench.figures()["stall speed"][1]


FOCUSED = """
() => {
  const e = document.activeElement;
  if (!e || !e.closest(".cm-app")) return [null, 0];
  const label = e.getAttribute("aria-label") || (e.labels && e.labels[0] && e.labels[0].textContent)
    || e.textContent;
  const outlined = [e, e.closest("label")].filter(Boolean).map(x => getComputedStyle(x))
    .filter(style => style.outlineStyle !== "none").map(style => parseFloat(style.outlineWidth));
  return [label.trim(), Math.max(0, ...outlined)];
}
"""


def test_a_screen_reader_finds_names_and_a_table(open_bench):
    bench = open_bench("aloud")
    picture = bench.root.get_by_role(
        "img", name=re.compile("torque over the speed of the prime mover")
    )
    before = bench.root.locator("svg desc").text_content()
    assert picture.count() == 1
    bench.type("hydraulics", 150)
    assert bench.root.locator("svg desc").text_content() != before
    table = bench.root.get_by_role("table", name="Key figures")
    assert table.get_by_role("columnheader", name="A", exact=True).count() == 1
    pressed = [
        bench.root.get_by_role("button", name=f"change {side}").get_attribute("aria-pressed")
        for side in "AB"
    ]
    assert pressed == ["true", "false"]
    assert table.get_by_role("rowheader", name="stall speed").count() == 1
    assert bench.root.get_by_role("status").count() == 1
    assert bench.root.get_by_role("slider", name="altitude (m)").count() == 1


def test_a_broken_file_of_the_user_is_listed_and_the_rest_works(open_bench, folder, solved):
    own = folder / "parts"
    own.mkdir(exist_ok=True)
    (own / "broken.toml").write_text('schema = "converter-match/engine/1"\nid = 3\n', "utf-8")
    text = shipped("converters")[CONVERTER].read_text("utf-8")
    changed = re.sub(r'^id = ".*"', 'id = "own"', text, count=1, flags=re.MULTILINE)
    changed = re.sub(r'^name = ".*"', 'name = "Own converter"', changed, count=1, flags=re.M)
    (own / "own.toml").write_text(changed, "utf-8")
    bench = open_bench("broken", "parts")
    assert "broken.toml" in bench.root.locator(".cm-broken").text_content()
    bench.choose("converter", "own: Own converter")
    agrees(bench, solved("--engine", ENGINE, "--converter", str(own / "own.toml")))
    assert "Own converter" in bench.root.locator("svg desc").text_content()


def test_an_empty_folder_of_the_user_leaves_the_shipped_components(open_bench, folder):
    (folder / "nothing").mkdir(exist_ok=True)
    bench = open_bench("empty", "nothing")
    assert bench.root.locator(".cm-broken").count() == 0
    assert bench.root.get_by_label("engine or motor", exact=True).locator("option").count() >= 5


def test_a_study_outlives_the_kernel_and_no_update_is_lost(open_bench, folder, page):
    first = open_bench("first")
    first.type("hydraulics", 66)

    def file(bench, name, button):
        bench.root.get_by_label("file").fill(name)
        bench.root.get_by_label("file").press("Enter")
        bench.click(button)

    file(first, "shared", "save")
    assert "saved: shared.toml" in first.notes()[0]
    assert read_study(folder / "shared.toml").duty.hydraulic_torque == pytest.approx(66.0)

    page.evaluate(RESTART)
    open_notebook(page, "first.ipynb")
    # JupyterLab's own debugger says so after each restart, whatever the notebook holds.
    page.expected.append("Could not restore the debugger state")
    run_all(page)
    page.wait_for_selector(".jp-Notebook:visible [data-line='a/net']", timeout=30_000)
    first = Bench(page)
    assert first.slider("hydraulics").locator(".widget-readout").text_content() == "0"
    file(first, "shared", "open")
    assert first.slider("hydraulics").locator(".widget-readout").text_content() == "66"

    second = open_bench("second")
    file(second, "shared", "open")
    second.type("hydraulics", 99)
    file(second, "shared", "save")
    open_notebook(page, "first.ipynb")
    first.type("hydraulics", 11)
    file(first, "shared", "save")
    assert "was changed since" in first.notes()[0]
    assert "second.ipynb" in first.notes()[0]
    assert read_study(folder / "shared.toml").duty.hydraulic_torque == pytest.approx(99.0)
    first.click("save")
    assert "saved: shared-2.toml" in first.notes()[0]
    assert read_study(folder / "shared-2.toml").duty.hydraulic_torque == pytest.approx(11.0)


def test_curves_stay_on_a_low_screen_in_the_dark_and_two_quick_saves_are_both_written(
    open_bench, page, folder
):
    bench = open_bench("low")
    bench.click("keep as present")
    bench.type("diameter", 104)
    page.set_viewport_size({"width": 1366, "height": 768})
    try:
        page.evaluate(THEME, "JupyterLab Dark")
        bench.choose("letters", "large")
        page.wait_for_selector(".cm-app.cm-folded .cm-who", timeout=15_000)
        wait_until_answered(page)
        assert bench.root.get_by_role("button", name="fold").get_attribute("aria-pressed") == "true"
        picture = page.evaluate(SEEN, bench.root.element_handle())
        assert picture["bottom"] <= picture["foot"]
        assert picture["ground"] == "rgb(20, 24, 31)"  # as the style sheet names it
        assert bench.slider("diameter").is_visible()
        assert not bench.slider("hydraulics").is_visible()
        assert page.evaluate(ON_UPRIGHTS, bench.root.element_handle()) == []
        keep_picture(page, "bench-low-dark")
        bench.choose("letters", "desk")
        bench.root.get_by_label("as", exact=True).select_option(label="figure (PNG)")
        for name in ("quick-one", "quick-two"):
            bench.root.get_by_label("file").fill(name)
            bench.root.get_by_role("button", name="save", exact=True).click()
        page.wait_for_function(
            "root => root.querySelector('.cm-notes').textContent.includes('saved: quick-two.png')",
            arg=bench.root.element_handle(),
            timeout=60_000,
        )
        assert bench.notes()[:2] == ["saved: quick-two.png", "saved: quick-one.png"]
        for name in ("quick-one", "quick-two"):
            assert (folder / f"{name}.png").read_bytes().startswith(b"\x89PNG")
    finally:
        page.evaluate(THEME, "JupyterLab Light")
        page.set_viewport_size({"width": 1280, "height": 720})


THEME = """
async theme => { await window.jupyterapp.commands.execute("apputils:change-theme", {theme}); }
"""
# What a person sees who scrolls to the top of the bench.
SEEN = """
root => {
  root.scrollIntoView({block: "start"});
  const foot = root.closest(".jp-WindowedPanel-outer, .jp-Notebook").getBoundingClientRect().bottom;
  return {bottom: root.querySelector(".cm-picture").getBoundingClientRect().bottom, foot,
          ground: getComputedStyle(root).backgroundColor};
}
"""
# Numbers of speed ratios that stand on an upright line inside the panel.
ON_UPRIGHTS = """
root => {
  const lines = [...root.querySelectorAll(".cm-guides line")].map(l => l.getBoundingClientRect());
  return [...root.querySelectorAll(".cm-words .cm-label")].filter(
    t => /^[0-9.]+$/.test(t.textContent)).flatMap(t => {
      const box = t.getBoundingClientRect();
      return lines.filter(l => l.left > box.left && l.left < box.right && box.bottom > l.top
        && box.top < l.bottom).map(() => t.textContent);
    });
}
"""
RESTART = """
async () => { await window.jupyterapp.shell.currentWidget.sessionContext.restartKernel(); }
"""
