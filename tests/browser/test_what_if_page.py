"""The what-if page in a real browser, against the package itself."""

from dataclasses import replace

import numpy as np
import pytest

from converter_match.components.site import Site
from converter_match.judgement.match.solve import solve
from converter_match.judgement.match.what_if import what_if
from converter_match.physics.match.solver import match
from converter_match.present.lesson.demo import lesson
from converter_match.present.pages.what_if import what_if_page
from tests.browser.lab_page import browser_page

WALK = """
settings => settings.map(([torque, capacity, altitude, pump]) => {
  page.show({torque, capacity, altitude, pump});
  return page.shown().figures;
})
"""


@pytest.fixture(scope="module")
def table():
    pair = lesson()
    return what_if(solve(pair.engine, pair.converter, site=Site.at("500 m", "20 degC")))


@pytest.fixture(scope="module")
def page(driver, table, tmp_path_factory):
    path = tmp_path_factory.mktemp("what if") / "page.html"
    path.write_text(what_if_page(table), encoding="utf-8")
    with browser_page(driver, 1366, 768) as opened:
        opened.goto(path.as_uri())
        yield opened
        assert opened.errors == []


def test_settings_between_the_rows_are_within_the_stated_error(page, table):
    rng = np.random.default_rng(50)
    drawn = np.column_stack(
        [
            rng.uniform(0.8, 1.2, 50),
            rng.uniform(0.7, 1.4, 50),
            rng.uniform(0.0, 4000.0, 50),
            rng.uniform(*table.pump_ends, 50),
        ]
    )
    pair = table.result
    for got, (torque, capacity, altitude, pump) in zip(
        page.evaluate(WALK, drawn.tolist()), drawn, strict=True
    ):
        there = solve(pair.engine, pair.converter, site=Site.at(float(altitude), 293.15))
        supply = replace(there.supply, constant=there.supply.constant + pump)
        nu = np.array([0.0, pair.converter.coupling])
        points = match(
            supply, pair.converter, nu, capacity_factor=capacity, torque_factor=torque
        ).from_idle()
        # Half a percent is promised; between altitudes of the table the factor is a line as well.
        if not np.isfinite(points.engine_speed[0]):
            assert got["stall-speed"] is None
            continue
        assert got["stall-speed"] == pytest.approx(points.engine_speed[0], rel=0.005)
        assert got["stall-torque"] == pytest.approx(points.turbine_torque[0], rel=0.005)
        assert got["stall-heat"] == pytest.approx(points.heat[0], rel=0.005)
        assert got["coupling-torque"] == pytest.approx(points.turbine_torque[1], rel=0.005)
        assert got["coupling-turbine"] == pytest.approx(points.turbine_speed[1], rel=0.005)


def test_a_slider_changes_the_table_and_the_button_takes_it_back(page):
    page.get_by_role("button", name="as it is").click()
    row = page.locator('[data-figure="stall-speed"] td')
    assert row.nth(0).text_content() == row.nth(1).text_content()
    slider = page.get_by_role("slider", name="Engine torque")
    slider.focus()
    for _ in range(5):
        page.keyboard.press("ArrowLeft")
    assert slider.get_attribute("aria-valuetext") == "95 %"
    assert row.nth(2).text_content().startswith("−")
    page.get_by_role("button", name="as it is").click()
    assert row.nth(2).text_content() == "0.0 %"


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_an_accessibility_checker_has_nothing_serious_to_say(page, theme):
    from axe_playwright_python.sync_playwright import Axe

    page.emulate_media(color_scheme=theme)
    found = Axe().run(page).response["violations"]
    serious = [item["id"] for item in found if item["impact"] in ("serious", "critical")]
    assert serious == []
