"""How long from a key on a slider to a changed picture, against a bare widget in the same run.

Drives a real JupyterLab in the system's Chromium. The bench measured is the whole one: overlay,
output curves, key figures and notes, and every control. The bare widget is a slider whose value the
kernel writes into a label: the shortest way there and back. Both are measured in turns, block by
block, so that a machine that is busy for a while is busy for both. Times run until
the browser has painted the change.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
from pathlib import Path

from measuring import Effort, Row

# The driver of JupyterLab is that of the browser tests.
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "browser"))

BLOCKS = 4
WARM_UP = 8
# A keyboard repeats about thirty times a second.
REPEAT = 1 / 30
NOTEBOOK = """\
import ipywidgets as widgets
from IPython.display import display
from converter_match.present.bench import bench
from converter_match.present.bench.state import BenchState, Setting
slider = widgets.FloatSlider(min=0, max=1000, step=1, value=300)
said = widgets.HTML("<span class='bare'>300.0</span>")
slider.observe(lambda c: setattr(said, "value", f"<span class='bare'>{c['new']}</span>"), "value")
pair = Setting(engine="six-cylinder-7l-185kw", converter="single-stage-345mm-tight")
live = bench(state=BenchState(a=pair))
live.add_class("full-box")
display(widgets.VBox([slider, said]).add_class("bare-box"), live)"""

# Resolves when the watched element has changed and the change has been painted.
ARM = """
(selector) => {
  const watched = document.querySelector(selector);
  window.cmWait = new Promise(resolve => {
    document.addEventListener("keydown", () => {
      const start = performance.now();
      const observer = new MutationObserver(() => {
        observer.disconnect();
        requestAnimationFrame(() => setTimeout(() => resolve(performance.now() - start), 0));
      });
      observer.observe(watched, {attributes: true, childList: true, subtree: true,
                                 characterData: true});
    }, {once: true, capture: true});
  });
}
"""
# Presses a key as a keyboard does that is held, from inside the page: driving it from outside would
# load the machine that is being measured. Counts pictures that were painted, not messages.
HOLD = """
async ([selector, handle, seconds, every]) => {
  const watched = document.querySelector(selector);
  const slider = document.querySelectorAll(handle)[0];
  slider.focus();
  const painted = [];
  let seen = watched.dataset.frame;
  let on = true;
  const look = () => {
    if (watched.dataset.frame !== seen) {
      seen = watched.dataset.frame;
      painted.push(performance.now());
    }
    if (on) requestAnimationFrame(look);
  };
  requestAnimationFrame(look);
  const start = performance.now();
  let sent = 0;
  while (performance.now() - start < 1000 * seconds) {
    slider.dispatchEvent(new KeyboardEvent("keydown",
      {key: "ArrowRight", code: "ArrowRight", bubbles: true, cancelable: true}));
    sent += 1;
    await new Promise(resolve => setTimeout(resolve, 1000 * every));
  }
  const released = performance.now();
  await new Promise(resolve => setTimeout(resolve, 1500));
  on = false;
  const during = painted.filter(t => t <= released);
  const after = painted.filter(t => t > released);
  return {keys: sent, frames: during.length / ((released - start) / 1000),
          after: after.length, tail: after.length ? (after.at(-1) - released) / 1000 : 0};
}
"""
WATCHED = {"bare": ".bare-box .widget-html", "full": ".full-box .cm-bench"}


def presses(page, which: str, count: int) -> list[float]:
    page.locator(f".{which}-box .noUi-handle").first.focus()
    times = []
    for _ in range(count):
        page.evaluate(ARM, WATCHED[which])
        page.keyboard.press("ArrowRight")
        times.append(page.evaluate("() => window.cmWait"))
        page.wait_for_timeout(40)
    return times


def percentile(values: list[float], share: float) -> float:
    return statistics.quantiles(values, n=100, method="inclusive")[round(100 * share) - 1]


def measure(count: int, seconds: float = 4.0) -> tuple[dict[str, list[float]], dict[str, float]]:
    """Return (times [ms] of the bare and the full slider, what a held key gave)."""
    from lab_page import browser_page, lab_server, open_and_run, write_notebook
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory(prefix="cm-latency-") as name:
        folder = Path(name)
        write_notebook(folder / "latency.ipynb", NOTEBOOK)
        with (
            lab_server(folder) as address,
            sync_playwright() as driver,
            browser_page(driver, 1280, 720) as page,
        ):
            open_and_run(page, address, "latency.ipynb")
            page.wait_for_selector(".full-box [data-line='a/net']", timeout=60_000)
            page.wait_for_timeout(1500)
            times: dict[str, list[float]] = {"bare": [], "full": []}
            for which in times:
                presses(page, which, WARM_UP)
            for _ in range(BLOCKS):
                for which, found in times.items():
                    found += presses(page, which, max(count // BLOCKS, 5))
            handle = ".full-box .noUi-handle"
            held = page.evaluate(HOLD, [WATCHED["full"], handle, seconds, REPEAT])
            if page.errors:
                raise RuntimeError(f"the page reported errors: {page.errors}")
    return times, held


def rows(effort: Effort) -> list[Row]:
    figures = ("p95 of the bench / median of a bare slider", "pictures a second, key held")
    why = "left out of a quick run" if effort.quick else _what_is_missing()
    if why:
        return [Row(figure, why_not=why) for figure in figures]
    times, held = measure(120 if effort.long else 60)
    bare, full = times["bare"], times["full"]
    p95 = percentile(full, 0.95)
    return [
        Row(figures[0], "x", (p95 / statistics.median(bare),), most=2.0),
        Row("  / p95 of a bare slider", "x", (p95 / percentile(bare, 0.95),)),
        Row(figures[1], "1/s", (held["frames"],), least=15.0),
        Row("bench, key to picture", "ms", tuple(full)),
        Row("bare slider, key to picture", "ms", tuple(bare)),
        Row("still painting after release", "s", (held["tail"],)),
    ]


def _what_is_missing() -> str:
    """Return why a browser cannot be driven here; empty if it can."""
    try:
        from lab_page import browser_path
    except ImportError as error:
        return f"{error.name} is not installed"
    return "" if browser_path() else "no system browser found (install chromium)"
