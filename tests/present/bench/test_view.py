"""What the bench shows, without any widget."""

from dataclasses import replace

import numpy as np
import pytest

from converter_match.components.site import Site
from converter_match.errors import InputError
from converter_match.judgement.match.solve import solve
from converter_match.present.bench.scene import packed, scene, ticks
from converter_match.present.bench.shelf import load_shelf
from converter_match.present.bench.state import BenchState, Setting
from converter_match.present.bench.view import figures_table, view
from converter_match.present.drawing.key_points import stretches
from tests.examples import RPM, converter, hole_engine

PAIR = Setting(engine="six-cylinder-7l-185kw", converter="single-stage-345mm-tight")


@pytest.fixture(scope="module")
def shelf():
    return load_shelf()


def test_the_shelf_holds_the_shipped_components(shelf):
    assert len(shelf.engines) >= 5
    assert len(shelf.converters) >= 6
    assert shelf.broken == ()


def test_a_broken_file_is_listed_and_the_others_are_usable(tmp_path):
    (tmp_path / "broken.toml").write_text("schema = 3", encoding="utf-8")
    shelf = load_shelf(tmp_path)
    assert [name for name, _ in shelf.broken] == ["broken.toml"]
    assert "broken.toml" in shelf.broken[0][1]
    assert shelf.engines


def test_the_results_are_those_of_the_solver(shelf):
    setting = Setting(
        engine=PAIR.engine,
        converter=PAIR.converter,
        altitude=1500.0,
        air_temperature=303.15,
        hydraulic_torque=80.0,
        diameter_share=1.02,
    )
    shown = view(BenchState(a=setting), shelf).results["a"]
    unit = shelf.converter(PAIR.converter)
    site = Site(id="x", name="x", source="x", altitude=1500.0, air_temperature=303.15)
    expected = solve(
        shelf.engine(PAIR.engine),
        unit.scaled(profile_diameter=1.02 * unit.profile_diameter),
        site=site,
        hydraulic_torque=80.0,
    )
    assert shown.stall == expected.stall
    assert shown.coupling == expected.coupling


def test_the_difference_is_b_less_a(shelf):
    state = BenchState(a=PAIR).pinned().changed(hydraulic_torque=100.0)
    shown = view(state, shelf)
    row = shown.figures[0]
    a = shown.results["a"].stall.engine_speed * 30 / np.pi
    b = shown.results["b"].stall.engine_speed * 30 / np.pi
    assert row.name == "stall speed"
    assert (row.a, row.b) == (f"{a:.0f}", f"{b:.0f}")
    assert float(row.difference) == pytest.approx(b - a, abs=1.0)
    # A reader who takes one from the other gets what is printed.
    for each in shown.figures:
        assert float(each.difference) == pytest.approx(float(each.b) - float(each.a), abs=1e-9)


def test_a_setting_that_cannot_be_used_is_a_message_and_no_exception(shelf):
    shown = view(BenchState(a=PAIR).changed(altitude=50_000.0), shelf)
    assert shown.scene is None
    assert "altitude" in shown.problems[0]
    shown = view(BenchState(a=PAIR).changed(engine="nobody"), shelf)
    assert "nobody" in shown.problems[0]


def test_a_pair_without_stall_match_is_shown_and_said(shelf):
    state = BenchState(a=PAIR).changed(engine="four-cylinder-2l5-45kw")
    shown = view(state, shelf)
    assert shown.results["a"].stall is None
    assert shown.figures[0].a == "none"
    assert "no stall match" in shown.scene.alternative
    assert shown.notes[0][1].kind == "limit"


@pytest.mark.parametrize("system", ["si", "us"])
def test_the_scene_shows_the_result_in_its_units(shelf, system):
    state = BenchState(a=PAIR, system=system)
    shown = view(state, shelf)
    panels = {panel.id: panel for panel in shown.scene.panels}
    stall = shown.results["a"].stall
    mark = next(mark for mark in panels["engine"].marks if mark.name == "stall")
    assert mark.x == pytest.approx(stall.engine_speed * 30 / np.pi)
    factor = 1.0 if system == "si" else 1 / 1.3558179483314004
    assert mark.y == pytest.approx(stall.input_torque * factor)
    assert ("N·m" if system == "si" else "lbf·ft") in panels["engine"].y_label
    for panel in shown.scene.panels:
        assert "(" in panel.x_label
        assert "(" in panel.y_label


def test_packed_numbers_are_those_of_the_lines(shelf):
    shown = view(BenchState(a=PAIR), shelf).scene
    plain, block = packed(shown)
    numbers = np.frombuffer(block, dtype="<f4")
    for panel, drawn in zip(shown.panels, plain["panels"], strict=True):
        for line, (id, _, _, start, count, *_) in zip(panel.lines, drawn["lines"], strict=True):
            assert id == line.id
            pairs = numbers[start : start + 2 * count].reshape(-1, 2)
            np.testing.assert_allclose(pairs[:, 0], line.x, rtol=1e-6)
            np.testing.assert_allclose(pairs[:, 1], line.y, rtol=1e-6, atol=1e-4)


def test_ticks_are_round_and_inside():
    assert ticks(0.0, 2500.0) == [0, 500, 1000, 1500, 2000, 2500]
    assert ticks(0.0, 1.0) == pytest.approx([0, 0.2, 0.4, 0.6, 0.8, 1.0])


def test_key_figures_as_a_notebook_table_have_columns_of_b_only_with_b(shelf):
    both = view(BenchState(a=PAIR, b=PAIR), shelf)
    shown = figures_table(both)
    assert shown.head == ("", "A", "B", "B − A", "unit")
    assert ("stall speed", "1806", "1806", "+0", "rpm") in shown.rows
    assert figures_table(view(BenchState(a=PAIR), shelf)).head == ("", "A", "unit")


def test_a_side_without_a_match_says_why_and_names_the_nearest(shelf):
    misspelt = Setting(engine="six-cylinder-7L-185kw", converter=PAIR.converter)
    wrong = view(BenchState(a=misspelt), shelf)
    with pytest.raises(InputError, match="six-cylinder-7l-185kw"):
        wrong.result("a")
    with pytest.raises(InputError, match="choose an engine"):
        view(BenchState(a=PAIR), shelf).result("b")
    assert view(BenchState(a=PAIR), shelf).result("a").engine.id == PAIR.engine


WEAK = Setting(engine="four-cylinder-2l5-45kw", converter="single-stage-420mm")
LOOSE = Setting(engine="six-cylinder-15l-400kw", converter="single-stage-260mm")


def engine_panel(shown):
    return shown.scene.panels[0]


@pytest.mark.parametrize(
    ("setting", "label"),
    [(PAIR, "gross, as rated"), (WEAK, "net, as rated")],  # as their files state the basis
)
def test_the_rated_curve_is_called_by_the_basis_of_its_engine(shelf, setting, label):
    shown = view(BenchState(a=setting), shelf)
    labels = {line.id: line.label for line in engine_panel(shown).lines}
    assert labels["a/gross"] == label
    assert label.split(",")[0] == shown.results["a"].engine.rating_basis
    site = replace(setting, altitude=2000.0)
    [label] = [line.label for line in engine_panel(view(BenchState(a=site), shelf)).lines
               if line.id == "a/gross"]  # fmt: skip
    factor = view(BenchState(a=site), shelf).results["a"].site.torque_factor
    assert label == f"{shown.results['a'].engine.rating_basis} × {factor:.3f}"


def test_a_pair_without_a_match_says_so_in_the_picture_and_its_words(shelf):
    shown = view(BenchState(a=PAIR, b=WEAK), shelf)
    assert shown.scene.absent == (("b", "stall", "none, the engine cannot hold idle in gear"),)
    assert "no stall match from idle: the engine cannot hold idle" in shown.scene.alternative
    assert packed(shown.scene)[0]["absent"] == shown.scene.absent
    assert view(BenchState(a=PAIR), shelf).scene.absent == ()


def test_stall_on_the_governor_is_one_mark_and_said(shelf):
    shown = view(BenchState(a=PAIR, b=LOOSE), shelf)
    marks = {mark.id: mark.text for mark in engine_panel(shown).marks}
    assert "a/governed_limit/input_torque" in marks
    assert "b/governed_limit/input_torque" not in marks
    assert marks["b/stall/input_torque"].endswith(", on the governor from stall on")
    assert "on the governor from stall on" in shown.scene.alternative
    rows = {row.name: row for row in shown.figures}
    limit, power = rows["governed limit, turbine speed"], rows["output power there"]
    assert (limit.b, limit.difference) == ("from stall on", "")
    highest = max(row["output_power_kw"] for row in shown.results["b"].to_dict()["points"])
    assert (power.b, power.difference) == (f"up to {highest:.1f}", "")
    assert float(power.a) > 100.0


def test_averages_over_the_working_range_stand_in_the_comparison_of_two_matches():
    from converter_match.judgement.match.solve import solve
    from converter_match.present.bench.view import compared
    from tests.examples import converter, engine

    a = solve(engine(), converter())
    b = solve(engine(), converter().replace(capacity=0.9 * converter().capacity))
    rows = {row[0]: row[1:] for row in compared(a, b, "si").rows}
    for index, (one, other) in enumerate(zip(a.indices, b.indices, strict=True)):
        level = ("75 %", "80 %")[index]
        shown = rows[f"mean output in the working range, {level}"]
        assert shown[0] == f"{one.mean_output_power / 1e3:.1f}"
        assert shown[1] == f"{other.mean_output_power / 1e3:.1f}"
        assert rows[f"span of turbine speed, {level}"][0] == f"{one.span:.2f}"
        # The engine's data give no fuel.
        assert rows[f"mean fuel over output, {level}"][:3] == ("none", "none", "")


def test_multiplication_and_heat_at_coupling_are_compared(shelf):
    loose = Setting(engine=PAIR.engine, converter="single-stage-345mm-loose")
    rows = {row.name: row for row in view(BenchState(a=loose, b=PAIR), shelf).figures}
    # Torque ratios at stall as the two files have them.
    assert (rows["torque ratio at stall"].a, rows["torque ratio at stall"].b) == ("2.60", "2.20")
    assert rows["torque ratio at stall"].difference == "-0.40"
    # Heat at the coupling point: (1 - nu) T w, the torque ratio being one.
    point = solve(shelf.engine(PAIR.engine), shelf.converter(PAIR.converter)).coupling
    heat = (1 - point.speed_ratio) * point.input_torque * point.engine_speed / 1e3
    assert rows["heat at coupling"].b == f"{heat:.1f}"


@pytest.mark.parametrize(("setting", "up"), [(PAIR, False), (LOOSE, True)])
def test_words_of_the_guides_keep_clear_of_curves_that_leave_low(shelf, setting, up):
    panel = engine_panel(view(BenchState(a=setting), shelf))
    assert [(name, at_top) for _, name, at_top in panel.guides] == [
        ("low idle", True), ("rated", up), ("high idle", up)
    ]  # fmt: skip
    lowest = min(line.label_at[1] for line in panel.lines if line.stroke == "absorbed")
    assert (lowest < 0.3 * panel.y_range[1]) == up


def test_no_line_leads_across_a_jump_of_the_engine():
    # Between two neighbouring points of a curve nothing is skipped: the curve has a gap where the
    # engine jumps from 1190 to 1500 rpm, and its turbine torque from 950 to 1690 N.m.
    pair = solve(hole_engine(), converter(capacity=1.7 * converter().capacity))
    panels = {panel.id: panel for panel in scene({"a": pair}).panels}
    for panel, line, most in (("torque", "a/torque", 40.0), ("engine", "a/locus", 40.0)):
        drawn = next(each for each in panels[panel].lines if each.id == line)
        assert np.isnan(drawn.y).sum() == 1
        assert np.nanmax(np.abs(np.diff(drawn.y))) < most
        assert np.nanmax(np.abs(np.diff(drawn.x))) < 40.0


def test_rows_of_the_locus_are_drawn_as_branches():
    pair = solve(hole_engine(), converter(capacity=1.7 * converter().capacity))
    for run in stretches(pair):
        speed = run.columns["engine_speed"]
        assert np.nanmax(np.abs(np.diff(speed))) < 60 * RPM


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (0.0, 6.0, [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0]),
        (1000.0, 2000.0, [1000.0, 1200.0, 1400.0, 1600.0, 1800.0, 2000.0]),
        (950.0, 1130.0, [950.0, 1000.0, 1050.0, 1100.0]),
        (-0.3, 0.3, [-0.3, -0.2, -0.1, 0.0, 0.1, 0.2, 0.3]),
    ],
)
def test_ticks_are_round_and_as_many_as_the_length_of_the_axis_asks_for(low, high, expected):
    assert ticks(low, high) == expected


@pytest.mark.parametrize("mover", ["six-cylinder-7l-185kw", "loader-650v-120kw"])
def test_what_is_odd_about_the_data_stands_beside_its_side(shelf, mover):
    own = shelf.mover(mover)
    heavy = own.replace(id="heavy", inertia=5000.0)
    tenfold = shelf.converter(PAIR.converter)
    tenfold = tenfold.replace(id="tenfold", capacity=10.0 * tenfold.capacity)
    more, heavy_id, _ = shelf.with_own(heavy, tenfold)
    one = Setting(engine=mover, converter=PAIR.converter)
    other = Setting(engine=heavy_id, converter="tenfold")
    found = view(BenchState(a=one, b=other), more)
    odd = {(side, note.code) for side, note in found.notes if "implausible" in note.code}
    assert odd == {("b", "stall-capacity-implausible")}
    swapped = view(BenchState(a=other, b=one), more)
    odd = {(side, note.code) for side, note in swapped.notes if "implausible" in note.code}
    assert odd == {("a", "stall-capacity-implausible")}
    if mover == "six-cylinder-7l-185kw":
        assert ("b", "inertia-unusual") in {(side, note.code) for side, note in found.notes}
