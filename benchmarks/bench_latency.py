"""How long from a key on a slider to a changed picture, against a bare widget in the same run.

    python benchmarks/bench_latency.py [--json]

Drives a real JupyterLab in the system's Chromium. The bench measured is the whole one: overlay,
output curves, key figures and notes. The bare widget is a slider whose value the kernel writes into
a label: the shortest way there and back. Quote the ratios: seconds depend on the machine.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import tempfile
from pathlib import Path

from lab_page import browser_page, browser_path, lab_server, open_and_run, write_notebook

BARE = """\
import ipywidgets as widgets
slider = widgets.FloatSlider(min=0, max=1000, step=1, value=300)
said = widgets.HTML("<span class='bare'>300.0</span>")
slider.observe(lambda c: setattr(said, "value", f"<span class='bare'>{c['new']}</span>"), "value")
widgets.VBox([slider, said], layout=widgets.Layout()).add_class("bare-box")"""
FULL = """\
from converter_match.present.bench import MatchBench, bench
from converter_match.present.bench.state import BenchState, Setting
pair = Setting(engine="six-cylinder-7l-185kw", converter="single-stage-345mm-tight")
live = bench(state=BenchState(a=pair))
live.add_class("full-box")"""

# Resolves when the watched element has changed and the change has been painted.
PRESS = """
([selector, attribute]) => {
  const watched = document.querySelector(selector);
  window.cmWait = new Promise(resolve => {
    const start = performance.now();
    const observer = new MutationObserver(() => {
      observer.disconnect();
      requestAnimationFrame(() => setTimeout(() => resolve(performance.now() - start), 0));
    });
    observer.observe(watched, {attributes: true, childList: true, subtree: true,
                               characterData: true});
  });
}
"""
COUNT = """
(selector) => {
  window.cmFrames = [];
  const observer = new MutationObserver(() => window.cmFrames.push(performance.now()));
  observer.observe(document.querySelector(selector), {attributes: true, childList: true,
    characterData: true, attributeFilter: undefined});
  window.cmStop = () => observer.disconnect();
}
"""


def presses(page, box: str, watched: str, slider: int, count: int) -> list[float]:
    handle = page.locator(f".{box} .noUi-handle").nth(slider)
    handle.focus()
    times = []
    for i in range(count + 5):
        page.evaluate(PRESS, [watched, None])
        page.keyboard.press("ArrowRight")
        times.append(page.evaluate("() => window.cmWait"))
        page.wait_for_timeout(40)
        if i == 4:
            times.clear()  # the first ones warm up
    return times


def held(page, box: str, watched: str, slider: int, seconds: float) -> tuple[float, float]:
    """Hold a key; return (frames a second, how long frames go on after release in seconds)."""
    page.locator(f".{box} .noUi-handle").nth(slider).focus()
    page.evaluate(COUNT, watched)
    start = page.evaluate("() => performance.now()")
    end = start + 1000 * seconds
    while page.evaluate("() => performance.now()") < end:
        page.keyboard.down("ArrowRight")  # a second 'down' is what a keyboard's repeat sends
    released = page.evaluate("() => performance.now()")
    page.keyboard.up("ArrowRight")
    page.wait_for_timeout(1500)
    frames = page.evaluate("() => { window.cmStop(); return window.cmFrames; }")
    within = [t for t in frames if t <= released]
    tail = max((t - released for t in frames), default=0.0)
    return len(within) / seconds, max(tail, 0.0) / 1000


def percentile(values: list[float], share: float) -> float:
    return sorted(values)[min(int(share * len(values)), len(values) - 1)]


def measure(count: int) -> dict[str, float]:
    with tempfile.TemporaryDirectory(prefix="cm-latency-") as name:
        folder = Path(name)
        write_notebook(folder / "bare.ipynb", BARE)
        write_notebook(folder / "full.ipynb", FULL)
        with lab_server(folder) as address, browser_page(1400, 1000) as page:
            open_and_run(page, address, "bare.ipynb")
            page.wait_for_selector(".bare-box .bare", timeout=60_000)
            page.wait_for_timeout(1000)
            bare = presses(page, "bare-box", ".bare-box .widget-html", 0, count)
            open_and_run(page, address, "full.ipynb")
            page.wait_for_selector(".full-box [data-line='a/net']", timeout=60_000)
            page.wait_for_timeout(1500)
            watched = ".full-box .cm-bench"
            full = presses(page, "full-box", watched, 0, count)
            rate, tail = held(page, "full-box", watched, 0, 4.0)
            errors = list(page.errors)
    if errors:
        print("console errors:", *errors, sep="\n  ", file=sys.stderr)
    return {
        "bare_p50_ms": statistics.median(bare),
        "bare_p95_ms": percentile(bare, 0.95),
        "bench_p50_ms": statistics.median(full),
        "bench_p95_ms": percentile(full, 0.95),
        "bench_p95_over_bare_p50": percentile(full, 0.95) / statistics.median(bare),
        "bench_p95_over_bare_p95": percentile(full, 0.95) / percentile(bare, 0.95),
        "frames_per_second_held": rate,
        "frames_after_release_s": tail,
    }


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--count", type=int, default=60, help="key presses measured")
    args = parser.parse_args()
    if browser_path() is None:
        print("no system browser found: install chromium", file=sys.stderr)
        return 2
    result = measure(args.count)
    if args.json:
        print(json.dumps(result, indent=2))
    else:
        for name, value in result.items():
            print(f"{name:28s} {value:8.2f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
