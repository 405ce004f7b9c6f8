"""The page from stall to the governor in a real browser, against the package itself."""

import re

import numpy as np
import pytest

from converter_match.present.lesson.demo import lesson
from converter_match.present.lesson.handout import write_slider
from tests.browser.conftest import ARTEFACTS
from tests.browser.lab_page import browser_page


@pytest.fixture(scope="module")
def states():
    return lesson().states


@pytest.fixture(scope="module")
def page(driver, tmp_path_factory):
    """The page, opened from a disk as its reader does."""
    path = write_slider(lesson(), tmp_path_factory.mktemp("slider") / "слайдер.html")
    with browser_page(driver, 1366, 768) as opened:
        asked = []
        opened.on("request", lambda request: asked.append(request.url))
        opened.goto(path.as_uri())
        yield opened
        ARTEFACTS.mkdir(exist_ok=True)
        opened.screenshot(path=ARTEFACTS / "slider-page.png", full_page=True)
        assert opened.errors == []
        assert [url for url in asked if not url.startswith("file:")] == []


# All places in one go: what is said there, what is on the page, what the script holds.
WALK = """
places => places.map(nu => {
  page.show(nu);
  const said = panel => document.querySelector(`[data-panel="${panel}"] svg`).ariaLabel;
  const left = kind => document.querySelector(`[data-sum="${kind}"]`).textContent;
  return {
    nu, shaft: said("torques"), power: said("power"),
    state: document.querySelector(".said").textContent,
    left: [left("torque"), left("power")], values: page.state.values,
    turn: ["impeller", "turbine", "stator"].map(
      row => page.data.radii[row] * page.state.values[row + "_swirl"]),
  };
})
"""


def numbers(text):
    return [float(item.replace("−", "-")) for item in re.findall(r"[−-]?\d+(?:\.\d+)?", text)]


def wait_until(page, says):
    """Ask the page again and again; its own rules forbid Playwright's way of waiting."""
    for _ in range(200):
        if page.evaluate(says):
            return
        page.wait_for_timeout(50)
    raise AssertionError(says)


def test_fifty_states_agree_with_the_package_and_balance(page, states):
    places = np.random.default_rng(19).uniform(*states.speed_ratio[[0, -1]], 50)
    close = {name: 1.3 * states.off * np.nanmax(np.abs(row)) for name, row in states.values.items()}
    for seen in page.evaluate(WALK, places.tolist()):
        there = states.at(seen["nu"])
        for got, part in zip(numbers(seen["shaft"]), ("input", "stator", "turbine"), strict=True):
            assert abs(got - there[f"{part}_torque"]) <= 0.5 + close[f"{part}_torque"], seen["nu"]
        powers = ("input_power", "output_power", "heat")
        for got, name in zip(numbers(seen["power"]), powers, strict=True):
            assert abs(1e3 * got - there[name]) <= 50 + close[name], (seen["nu"], name)
        nu, speed, *_ = numbers(seen["state"])
        assert nu == pytest.approx(seen["nu"], abs=0.0006)
        off = 30 / np.pi * close["engine_speed"]
        assert speed == pytest.approx(30 / np.pi * there["engine_speed"], abs=0.5 + off)
        assert seen["values"]["oil_settles"] == pytest.approx(
            there["oil_settles"] - 273.15, abs=close["oil_settles"]
        )
        # What is left over is said on the page, of numbers that are not rounded.
        assert [numbers(text)[-1] for text in seen["left"]] == [0.0, 0.0]
        # Angular momentum: mass flow times the change of r x swirl is each row's torque on the oil.
        turn = seen["turn"]
        steps = [turn[k] - turn[k - 1] for k in range(3)]
        assert steps[0] > 0 > steps[1]
        assert sum(steps) == pytest.approx(0.0, abs=1e-9)


def test_keys_buttons_and_status_move_together(page, states):
    page.evaluate("() => page.show(0)")
    page.get_by_role("slider").focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowRight")
    assert page.evaluate("() => page.state.nu") == pytest.approx(0.06)
    page.keyboard.press("End")
    assert page.evaluate("() => page.state.nu") == pytest.approx(states.speed_ratio[-1], rel=1e-6)
    page.keyboard.press("Home")
    assert "speed ratio 0.000" in page.get_by_role("slider").get_attribute("aria-valuetext")
    page.get_by_role("button", name="coupling point").click()
    assert page.evaluate("() => page.state.nu") == pytest.approx(states.coupling)
    assert page.get_by_role("button", name="coupling point").get_attribute("aria-pressed") == "true"
    wait_until(page, "document.querySelector('[role=status]').textContent.includes('0.860')")
    page.get_by_role("slider").focus()
    page.keyboard.press("Home")
    page.keyboard.press(" ")
    wait_until(page, "page.state.nu > 0.005")
    page.keyboard.press(" ")
    assert not page.evaluate("() => page.state.playing")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_an_accessibility_checker_has_nothing_serious_to_say(page, theme):
    from axe_playwright_python.sync_playwright import Axe

    page.emulate_media(color_scheme=theme)
    page.evaluate("() => page.show(0.5)")
    found = Axe().run(page).response["violations"]
    serious = [(item["id"], item["nodes"][0]["html"][:120]) for item in found
               if item["impact"] in ("serious", "critical")]  # fmt: skip
    assert serious == []


def test_who_wants_no_motion_gets_the_stops_and_a_still_oil(page):
    page.emulate_media(reduced_motion="reduce")
    page.reload()
    flow = page.get_by_role("button", name="oil moves")
    assert flow.get_attribute("aria-pressed") == "false"
    before = page.locator("svg circle.f-ink").first.get_attribute("cx")
    page.get_by_role("button", name="Play").click()
    wait_until(page, "page.state.nu > 0")
    stops = page.evaluate("() => page.data.stops.map(stop => stop.nu)")
    assert page.evaluate("() => page.state.nu") in stops
    assert page.locator("svg circle.f-ink").first.get_attribute("cx") == before
    page.get_by_role("button", name="Pause").click()


def test_on_paper_the_controls_are_gone_and_the_table_stays(page):
    page.emulate_media(media="print")
    assert not page.get_by_role("slider").is_visible()
    assert page.get_by_role("table").is_visible()
    page.emulate_media(media="screen")
