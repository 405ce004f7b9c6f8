"""How long from a key on a slider to a changed picture, against a bare widget in the same run.

    python benchmarks/bench_latency.py [--json] [--count 60]

Drives a real JupyterLab in the system's Chromium. The bench measured is the whole one: overlay,
output curves, key figures and notes, and every control. The bare widget is a slider whose value the
kernel writes into a label: the shortest way there and back. Both are measured in turns, block by
block, so that a machine that is busy for a while is busy for both. Quote the ratios: seconds depend
on the machine. Times run until the browser has painted the change.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import sys
import tempfile
from pathlib import Path

# The driver of JupyterLab is that of the browser tests.
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "browser"))

from lab_page import browser_page, browser_path, lab_server, open_and_run, write_notebook

TARGET_RATIO, TARGET_FRAMES = 2.2, 15.0
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


def measure(count: int, seconds: float = 4.0) -> dict[str, object]:
    with tempfile.TemporaryDirectory(prefix="cm-latency-") as name:
        folder = Path(name)
        write_notebook(folder / "latency.ipynb", NOTEBOOK)
        with lab_server(folder) as address, browser_page(1280, 720) as page:
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
            errors = list(page.errors)
    bare, full = times["bare"], times["full"]
    return {
        "samples": len(full),
        "bare_p50_ms": statistics.median(bare),
        "bare_p95_ms": percentile(bare, 0.95),
        "bench_p50_ms": statistics.median(full),
        "bench_p95_ms": percentile(full, 0.95),
        "bench_p95_over_bare_p50": percentile(full, 0.95) / statistics.median(bare),
        "bench_p95_over_bare_p95": percentile(full, 0.95) / percentile(bare, 0.95),
        "frames_per_second_held": held["frames"],
        "frames_after_release": held["after"],
        "seconds_after_release": held["tail"],
        "keys_per_second_held": held["keys"] / seconds,
        "load_average": os.getloadavg()[0] if hasattr(os, "getloadavg") else None,
        "console_errors": errors,
    }


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--json", action="store_true", help="print the figures as JSON")
    parser.add_argument("--count", type=int, default=60, help="key presses measured")
    args = parser.parse_args()
    if browser_path() is None:
        print("no system browser found: install chromium", file=sys.stderr)
        return 2
    result = measure(args.count)
    if args.json:
        print(json.dumps(result, indent=2))
        return 0
    for name, value in result.items():
        print(f"{name:26s} {value:8.2f}" if isinstance(value, float) else f"{name:26s} {value}")
    print(f"targets: p95 at most {TARGET_RATIO} of bare p50, {TARGET_FRAMES:.0f} frames a second")
    return 0


if __name__ == "__main__":
    sys.exit(main())
