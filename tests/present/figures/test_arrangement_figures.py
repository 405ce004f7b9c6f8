"""Figures of arrangements: what is drawn is what the result knows, with units on the axes."""

import numpy as np
import pytest

from converter_match.components.arrangement import (
    Arrangement,
    HydraulicSharing,
    LockUpClutch,
    PartLoadDuty,
    Permissions,
)
from converter_match.components.engine import SpeedTable
from converter_match.errors import InputError
from converter_match.judgement.arrangement.solve import solve_arranged
from converter_match.library.read import read_arrangement, read_converter, read_engine
from converter_match.library.shipped import find
from converter_match.present.drawing import style
from converter_match.present.drawing.ground import overlaps
from converter_match.present.figures.arrangement import arrangement_figure
from converter_match.present.figures.arrangement_drive import (
    divider_panels,
    lock_up_panels,
    stator_panels,
)
from converter_match.present.figures.arrangement_load import (
    braking_panels,
    part_load_panels,
    sharing_panels,
)
from converter_match.present.figures.clutch_map import clutch_map
from tests.examples import converter, hole_engine

RPM = np.pi / 30
LBF_FT = 0.45359237 * 9.80665 * 0.3048


def answer(made, unit, how):
    return solve_arranged(
        read_engine(find("engines", made)),
        read_converter(find("converters", unit)),
        read_arrangement(find("arrangements", how)),
    )


@pytest.fixture(scope="module")
def hauler():
    return answer("six-cylinder-9l-240kw", "single-stage-390mm-full-range", "ore-hauler-lock-up")


@pytest.fixture(scope="module")
def loader():
    return answer("six-cylinder-7l-185kw", "single-stage-345mm-tight", "log-loader-impeller-clutch")


def line(ax, gid):
    [found] = [each for each in ax.lines if each.get_gid() == gid]
    return found.get_xdata(), found.get_ydata()


@pytest.mark.slow
def test_a_row_of_two_panels_for_every_part(hauler):
    figure = arrangement_figure(hauler)
    assert len(figure.axes) == 2 * len(hauler.parts) == 4
    for ax in figure.axes:
        assert "(" in ax.get_xlabel()
        assert "(" in ax.get_ylabel()
    words = " ".join(text.get_text() for text in figure.texts)
    assert hauler.arrangement.name in words
    assert "invented demo data" in " ".join(words.split())
    assert style.render(figure, "png", dpi=40).startswith(b"\x89PNG")


def test_braking_curves_are_the_results_own(hauler):
    run = hauler.part("overrun").detail
    left, right = braking_panels(run, system="us")
    x, y = line(left, "open")
    assert x == pytest.approx(run.turbine_speed / RPM)
    assert y == pytest.approx(-run.open.turbine_torque / LBF_FT)
    assert "lbf·ft" in left.get_ylabel()
    x, y = line(right, "heat")
    # 1 hp = 550 ft.lbf/s, by definition.
    assert y == pytest.approx(run.open.heat / (550 * LBF_FT))


def jumping_pair():
    """A torque hole under a tight converter: the engine jumps once on its way up."""
    made = hole_engine(high_idle=2400 * RPM, governing="torque")
    pumps = SpeedTable(speed=[0.0, 300.0], value=[5.0, 5.0], name="pumps")
    own = Arrangement(
        id="a", name="a", source="a", stator="none",
        lock_up=LockUpClutch(engage_by="speed-ratio", engage=0.85, release=0.8),
        part_load=PartLoadDuty(pedals=(0.8, 1.0)),
        hydraulic_sharing=HydraulicSharing(standby=pumps),
        permissions=Permissions(stator=True),
    )  # fmt: skip
    return solve_arranged(made, converter(capacity=1.7 * converter().capacity), own)


@pytest.mark.slow
def test_no_line_over_turbine_speed_leads_across_a_jump_of_the_engine():
    # Between neighbouring points of a curve nothing is skipped: the pair jumps from 1190 to
    # 1500 rpm, and its turbine torque from 950 to 1690 N.m.
    found = jumping_pair()
    drawn = {
        "lock_up": (lock_up_panels, ["open"]),
        "stator": (stator_panels, ["first", "second"]),
        "part_load": (part_load_panels, ["setting-1"]),
        "hydraulic_sharing": (sharing_panels, ["without", "standby"]),
    }
    for name, (draw, gids) in drawn.items():
        for ax in draw(found.part(name).detail):
            for gid in gids:
                x, y = line(ax, gid)
                assert np.isnan(x).sum() == 1
                low, high = np.nanmin(y), np.nanmax(y)
                assert np.nanmax(np.abs(np.diff(y))) < 0.15 * (high - low)


@pytest.mark.slow
def test_divider_power_adds_up_on_the_figure():
    result = answer("six-cylinder-15l-400kw", "single-stage-420mm", "dozer-torque-divider")
    left, right = divider_panels(result.part("torque_divider").detail)
    output, gears, turbine = (
        line(right, gid)[1] for gid in ("output", "mechanical", "hydraulic-out")
    )
    assert output == pytest.approx(gears + turbine, abs=1e-6)
    ratio, efficiency = line(left, "efficiency")
    assert efficiency == pytest.approx(ratio * line(left, "torque-ratio")[1])


@pytest.mark.slow
def test_clutch_map_draws_the_setting_that_keeps_the_limit(loader):
    run = loader.part("impeller_clutch").detail
    left, right = clutch_map(run)
    x, y = line(left, "limit")
    known = np.isfinite(y)
    assert y[known] == pytest.approx(100 * run.limited.setting[known])
    # First gear of the shipped file: ratio 55, wheels of 0.72 m; v = omega r / i in km/h.
    assert x == pytest.approx(run.turbine_speed * 0.72 / 55 * 3.6)
    assert "travel speed (km/h)" in left.get_xlabel()
    assert "tractive effort (kN)" in left.get_ylabel()
    gids = {each.get_gid() for ax in (left, right) for each in (*ax.lines, *ax.collections)}
    assert {"torque", "power-left", "clutch-heat", "no-slip"} <= gids


@pytest.mark.slow
def test_a_line_of_the_clutch_map_lies_where_the_result_has_its_level(loader):
    run = loader.part("impeller_clutch").detail
    _, right = clutch_map(run)
    [named] = [text for text in right.texts if text.get_text() == "heat 12"]
    assert named.get_gid() == "clutch-heat-12-label"
    x, y = (np.asarray(run.turbine_speed) * 0.72 / 55 * 3.6, 100 * np.asarray(run.setting))
    heat = run.points.clutch_heat / 1e3
    levels = []
    for line_ in [each for each in right.lines if each.get_gid() == "clutch-heat"]:
        at, setting = line_.get_xdata(), line_.get_ydata()
        # At a corner of the grid's cells, between two of its rows or columns.
        column = np.clip(np.searchsorted(x, at) - 1, 0, x.size - 2)
        row = np.clip(np.searchsorted(y, setting) - 1, 0, y.size - 2)
        u, v = (at - x[column]) / np.diff(x)[column], (setting - y[row]) / np.diff(y)[row]
        here = (1 - v) * ((1 - u) * heat[row, column] + u * heat[row, column + 1])
        here += v * ((1 - u) * heat[row + 1, column] + u * heat[row + 1, column + 1])
        levels.append(float(np.nanmedian(here)))
        assert here[np.isfinite(here)] == pytest.approx(round(levels[-1]), abs=0.05)
    assert {4, 8, 12, 16, 20} == {round(level) for level in levels}


@pytest.mark.slow
@pytest.mark.parametrize("system", ["si", "us"])
def test_no_words_of_the_clutch_map_stand_on_each_other(loader, system):
    for ax in clutch_map(loader.part("impeller_clutch").detail, system=system):
        assert overlaps(ax.texts) == []
        assert len(ax.texts) >= 4
        name = ax.yaxis.label.get_window_extent()
        assert name.x1 <= ax.figure.bbox.x1


@pytest.mark.slow
def test_every_setting_has_its_name_on_it():
    result = answer("four-cylinder-2l5-45kw", "single-stage-260mm", "lift-truck-part-load")
    run = result.part("part_load").detail
    left, _ = part_load_panels(run)
    words = {text.get_text() for text in left.texts}
    assert {f"set {speed:.0f} rpm" for speed in run.map.setting / RPM} <= words
    assert "idle in gear" in words


def test_panels_draw_on_the_axes_given_and_need_two(hauler):
    run = hauler.part("overrun").detail
    figure = style.new_figure(8.0, 4.0)
    axes = [figure.add_subplot(1, 2, column) for column in (1, 2)]
    assert list(braking_panels(run, axes=axes)) == axes
    with pytest.raises(InputError, match="needs two axes"):
        braking_panels(run, axes=axes[:1])


def test_torques_of_two_on_one_shaft_are_drawn_with_their_sum():
    from converter_match.present.figures.arrangement_parallel import parallel_panels

    result = answer("six-cylinder-9l-240kw", "single-stage-380mm-tight", "two-pairs-on-one-shaft")
    left, right = parallel_panels(result.part("parallel").detail, system="us")
    (x, both), (_, first), (_, second) = (line(left, gid) for gid in ("both", "first", "second"))
    assert both == pytest.approx(first + second)
    assert both[0] == pytest.approx(result.part("parallel").detail.torque[0] / LBF_FT)
    assert x[0] == 0.0
    assert line(right, "engine-1")[1][0] < line(right, "engine-2")[1][0]
