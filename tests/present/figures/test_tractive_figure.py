import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.judgement.match.solve import solve
from converter_match.judgement.wheels.tractive import tractive
from converter_match.library.read import (
    read_converter,
    read_driveline,
    read_engine,
    read_machine,
)
from converter_match.library.shipped import find
from converter_match.library.surfaces import find_surface, read_surfaces
from converter_match.present.drawing import style
from converter_match.present.figures.tractive import tractive_figure
from converter_match.present.figures.tractive_panels import (
    effort_panel,
    gradeability_panel,
    heat_panel,
)
from converter_match.units import from_si
from tests.examples import converter, engine
from tests.machines import driveline, machine, surface


@pytest.fixture(scope="module")
def result():
    return tractive(solve(engine(), converter()), driveline(), machine(), surface())


def lines(ax):
    return {line.get_gid(): line for line in ax.lines if line.get_gid()}


@pytest.mark.parametrize(("system", "unit", "force"), [("si", "km/h", "kN"), ("us", "mph", "lbf")])
@pytest.mark.slow
def test_effort_panel_shows_what_the_result_says(result, system, unit, force):
    ax = effort_panel(result, system=system)
    assert unit in ax.get_xlabel()
    assert force in ax.get_ylabel()
    drawn = lines(ax)
    assert {
        "envelope",
        "adhesion",
        "effort-1-converter",
        "effort-3-lock-up",
        "idle-3-lock-up",
        "resistance-10 %",
        "held-points",
    } <= set(drawn)
    x, y = drawn["held-points"].get_data()
    forward = np.array([d.gear.direction == "forward" for d in result.drives])
    held = result.points.held & forward[result.points.drive]
    np.testing.assert_allclose(np.sort(x), np.sort(from_si(result.points.speed[held], unit,
                                                          "velocity")))  # fmt: skip
    np.testing.assert_allclose(
        np.sort(y), np.sort(from_si(result.points.wheels.force[held], force, "force"))
    )
    assert ax.get_legend() is None


@pytest.mark.slow
def test_gradeability_panel_marks_the_grades_asked_for(result):
    drawn = lines(gradeability_panel(result))
    x, y = drawn["grade-points"].get_data()
    held = [row for row in result.grades if row.speed is not None]
    np.testing.assert_allclose(y, [100 * row.grade for row in held])
    np.testing.assert_allclose(x, [row.speed * 3.6 for row in held])


def test_heat_panel_marks_what_the_cooler_carries(result):
    drawn = lines(heat_panel(result))
    level = drawn["cooler"].get_ydata()[0]
    assert level == pytest.approx(result.cooler_capacity / 1e3)
    x, _ = drawn["cooled-points"].get_data()
    expected = [
        100 * row.steepest_cooled
        for row in result.gears
        if row.direction == "forward" and row.cooled_limited_by == "cooler"
    ]
    np.testing.assert_allclose(x, expected)


@pytest.mark.slow
def test_page_can_be_written_and_takes_given_axes(result, tmp_path):
    figure = tractive_figure(result)
    style.save(figure, tmp_path / "page.svg")
    assert (tmp_path / "page.svg").read_text(encoding="utf-8").startswith("<?xml")
    page = style.new_figure()
    axes = page.subplots(1, 3)
    assert tractive_figure(result, axes=axes) is page
    with pytest.raises(InputError, match="three axes"):
        tractive_figure(result, axes=axes[:2])


@pytest.mark.slow
def test_figure_without_grip_or_cooler_can_be_drawn():
    bare = tractive(
        solve(engine(), converter()),
        driveline(),
        machine(cooler=None),
        surface(traction=None),
        grades=(0.0,),
    )
    figure = tractive_figure(bare, system="us")
    assert "adhesion" not in lines(figure.axes[0])
    assert "cooler" not in lines(figure.axes[2])


@pytest.mark.parametrize("what", ["engine that cannot stall", "machine that cannot move"])
@pytest.mark.slow
def test_figure_of_a_pair_that_does_not_work_can_be_drawn(what):
    bare, body = converter(), machine()
    if what == "engine that cannot stall":
        bare = bare.replace(capacity=10 * bare.capacity)
    else:
        body = machine(mass_empty=900_000.0)
    found = tractive(solve(engine(), bare), driveline(), body, surface(), grades=(0.0, 0.2))
    figure = tractive_figure(found)
    for ax in figure.axes:
        assert ax.get_ylim()[1] > ax.get_ylim()[0]


def shipped_pair(engine_id, converter_id):
    match = solve(
        read_engine(find("engines", engine_id)), read_converter(find("converters", converter_id))
    )
    return tractive(
        match,
        read_driveline(find("drivelines", "six-speed-hauler")),
        read_machine(find("machines", "articulated-hauler-25t")),
        find_surface("firm smooth earth", read_surfaces()),
    )


@pytest.mark.slow
def test_panels_without_a_curve_say_why_and_the_resistance_is_in_sight():
    found = shipped_pair("four-cylinder-2l5-45kw", "single-stage-420mm")
    effort, climbs, heat = tractive_figure(found).axes
    assert [text.get_text() for text in climbs.texts] == [
        "none: insufficient tractive effort on the level"
    ]
    assert [text.get_text() for text in heat.texts] == [
        "no gear holds a steady speed on the level or uphill"
    ]
    level = lines(effort)["resistance-0 %"].get_ydata()
    assert found.envelope.effort[np.isfinite(found.envelope.effort)].max() < level[0] * 1e3
    assert level.max() < effort.get_ylim()[1]


@pytest.mark.slow
def test_a_converter_does_not_hold_a_machine_on_a_grade(result):
    assert gradeability_panel(result).get_ylabel() == "gradeability (%)"


@pytest.mark.slow
def test_the_name_of_a_gear_for_the_level_alone_stands_inside_the_axes():
    # Gear 6 with the fluid coupling goes beyond the level by less than 0.1 %: its curve runs up
    # along the axis.
    figure = tractive_figure(shipped_pair("six-cylinder-9l-240kw", "fluid-coupling-360mm"))
    heat = figure.axes[2]
    style.render(figure, "png", dpi=60)
    names = {text.get_text(): text for text in heat.texts}
    assert {"1", "2", "3", "4", "5", "6"} <= set(names)
    for text in heat.texts:
        box = text.get_window_extent()
        assert heat.bbox.x0 <= box.x0, text.get_text()
        assert box.x1 <= heat.bbox.x1, text.get_text()


def test_curve_of_a_locked_gear_is_named_so_and_no_other(result):
    ax = effort_panel(result)
    words = {text.get_text() for text in ax.texts}
    kinds = {(d.gear.name, d.drive) for d in result.drives if d.gear.direction == "forward"}
    for name, drive in kinds:
        assert (f"{name} locked" in words) is ((name, "lock-up") in kinds)
        if drive == "converter":
            assert name in words


@pytest.mark.parametrize("locks", [True, False])
def test_the_key_names_what_is_drawn_and_nothing_else(result, locks):
    shown = result
    if not locks:
        shown = tractive(
            solve(
                read_engine(find("engines", "six-cylinder-7l-185kw")),
                read_converter(find("converters", "single-stage-345mm-tight")),
            ),
            read_driveline(find("drivelines", "four-speed-loader")),
            read_machine(find("machines", "wheel-loader-17t")),
            surface(),
        )
    [key] = [text for text in map(str, words_of(effort_panel(shown))) if "steady point" in text]
    assert any(drive.drive == "lock-up" for drive in shown.drives) is locks
    assert ("lock-up rule" in key) is locks


def words_of(ax):
    return [text.get_text() for text in (*ax.texts, *ax.figure.texts)]
