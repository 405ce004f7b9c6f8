import itertools
import warnings

import numpy as np
import pytest
from matplotlib.figure import Figure

from converter_match.errors import InputError
from converter_match.judgement.match.solve import solve
from converter_match.library.read import read_converter, read_engine, read_site
from converter_match.library.shipped import shipped
from converter_match.present.drawing import style
from converter_match.present.drawing.ground import box_of, overlaps
from converter_match.present.figures.engine_panel import chosen_ratios, engine_panel
from converter_match.present.figures.overlay import overlay
from converter_match.present.figures.turbine_panels import turbine_panels

RPM = 30 / np.pi
# NIST SP 811, appendix B.8: 1 lbf.ft = 1.355 818 N.m and 1 hp (550 ft.lbf/s) = 745.6999 W.
NM_PER_LBFT, W_PER_HP = 1.355818, 745.6999

PAIRS = {
    "tight": ("six-cylinder-7l-185kw", "single-stage-345mm-tight"),
    "three intersections": ("six-cylinder-8l-205kw-late-boost", "single-stage-380mm-tight"),
    "backward and overrun data": ("six-cylinder-9l-240kw", "single-stage-390mm-full-range"),
    "rating line": ("four-cylinder-3l6-74kw-rating-line", "single-stage-310mm"),
    "fixed stator": ("six-cylinder-10l5-138kw", "fixed-stator-400mm-high-ratio"),
    "fluid coupling": ("six-cylinder-10l5-138kw", "fluid-coupling-360mm"),
    "cannot hold idle": ("four-cylinder-2l5-45kw", "single-stage-420mm"),
    "stall on governor": ("six-cylinder-15l-400kw", "single-stage-260mm"),
}


def pair(name, **options):
    engine, converter = PAIRS[name]
    return solve(
        read_engine(shipped("engines")[engine]),
        read_converter(shipped("converters")[converter]),
        **options,
    )


@pytest.fixture(scope="module")
def results():
    return {name: pair(name) for name in PAIRS}


@pytest.fixture(scope="module")
def drawn(results):
    class Drawn(dict):
        def __missing__(self, key):
            name, system = key
            return self.setdefault(key, overlay(results[name], system=system))

    return Drawn()


def artist(figure, gid):
    found = figure.findobj(lambda item: item.get_gid() == gid)
    assert found, f"nothing is called {gid!r}"
    return found[0]


def gids(figure):
    return {str(item.get_gid()) for item in figure.findobj() if item.get_gid()}


def place(figure, gid):
    (x,), (y,) = artist(figure, gid).get_data()
    return float(x), float(y)


def texts(figure):
    axes = [text for ax in figure.axes for text in ax.texts]
    return [*figure.texts, *axes]


def words(figure):
    return " ".join(" ".join(text.get_text().split()) for text in texts(figure))


# --- points --------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("name", ["tight", "backward and overrun data", "rating line"])
@pytest.mark.parametrize("gid", ["stall", "coupling", "governed_limit"])
def test_marked_points_stand_where_the_result_says(drawn, results, name, gid):
    figure, point = drawn[name, "si"], getattr(results[name], gid)
    mark = gid.replace("_", "-")
    turbine = point.turbine_speed * RPM
    assert place(figure, f"{mark}-point") == pytest.approx(
        (point.engine_speed * RPM, point.input_torque)
    )
    assert place(figure, f"turbine-torque-{mark}-point") == pytest.approx(
        (turbine, point.turbine_torque)
    )
    assert place(figure, f"heat-{mark}-point") == pytest.approx((turbine, point.heat / 1e3))
    assert place(figure, f"efficiency-{mark}-point") == pytest.approx(
        (turbine, 100 * point.efficiency)
    )
    said = artist(figure, f"{mark}-label").get_text()
    assert f"{point.engine_speed * RPM:.0f} rpm" in said
    assert f"{point.input_torque:.0f} N·m" in said
    said = artist(figure, f"turbine-torque-{mark}-label").get_text()
    assert f"{point.turbine_torque:.0f} N·m" in said


@pytest.mark.slow
def test_us_figure_shows_the_same_match_in_us_units(drawn, results):
    figure, stall = drawn["tight", "us"], results["tight"].stall
    assert place(figure, "stall-point") == pytest.approx(
        (stall.engine_speed * RPM, stall.input_torque / NM_PER_LBFT), rel=1e-6
    )
    assert place(figure, "heat-stall-point")[1] == pytest.approx(stall.heat / W_PER_HP, rel=1e-6)
    said = artist(figure, "stall-label").get_text()
    assert f"{stall.input_torque / NM_PER_LBFT:.0f} lbf·ft" in said
    assert "N·m" not in words(figure)
    assert "kW" not in words(figure).replace("185 kW", "")  # the engine's own name


@pytest.mark.parametrize(
    ("system", "torque", "power"), [("si", "N·m", "kW"), ("us", "lbf·ft", "hp")]
)
def test_every_axis_names_its_quantity_and_unit(drawn, system, torque, power):
    engine, turbine, efficiency, heat = drawn["tight", system].axes
    assert engine.get_xlabel() == "engine and impeller speed (rpm)"
    assert engine.get_ylabel() == f"torque ({torque})"
    assert turbine.get_ylabel() == f"turbine torque ({torque})"
    assert efficiency.get_ylabel() == "efficiency (%)"
    assert heat.get_ylabel() == f"heat into the oil ({power})"
    assert heat.get_xlabel() == "turbine speed (rpm)"
    # The panels above share the axis below.
    assert turbine.get_xlim() == efficiency.get_xlim() == heat.get_xlim()


# --- curves --------------------------------------------------------------------------------------


def test_absorption_curves_are_parabolas_through_the_match(drawn, results):
    figure, result = drawn["tight", "si"], results["tight"]
    ratios = chosen_ratios(result)
    assert ratios == [0.0, 0.2, 0.4, 0.6, 0.8, 0.86, 0.95]
    for nu in ratios:
        x, y = artist(figure, f"absorption-{nu:.4g}").get_data()
        assert y == pytest.approx(y[-1] * (x / x[-1]) ** 2)  # T = C omega^2
        assert artist(figure, f"absorption-{nu:.4g}-label").get_text() == f"{nu:g}"
    x, y = artist(figure, "absorption-0").get_data()
    stall = place(figure, "stall-point")
    assert y[0] * (stall[0] / x[0]) ** 2 == pytest.approx(stall[1])


@pytest.mark.slow
def test_net_curve_passes_through_every_marked_point(drawn, results):
    figure = drawn["three intersections", "si"]
    x, y = artist(figure, "net").get_data()
    for gid in ("stall", "stall-from-high-idle", "coupling", "governed-limit"):
        speed, torque = place(figure, f"{gid}-point")
        assert np.interp(speed, x, y) == pytest.approx(torque, rel=2e-3)  # a grid of 300 points


@pytest.mark.slow
def test_gross_curve_is_the_rating_times_the_site_factor():
    result = pair("tight", site=read_site(shipped("sites")["plateau-quarry-hot-day"]))
    figure = overlay(result)
    x, y = artist(figure, "gross").get_data()
    engine, factor = result.engine, result.site.torque_factor
    assert factor < 0.95
    for speed, torque in zip(engine.speed, engine.torque, strict=True):
        assert np.interp(speed * RPM, x, y) == pytest.approx(factor * torque, rel=1e-9)
    assert f"{factor:.3f}" in artist(figure, "gross-label").get_text()
    assert f"torque factor {factor:.3f}" in words(figure)
    x, net = artist(figure, "net").get_data()
    assert np.all(np.interp(x, *artist(figure, "gross").get_data()) >= net)


def test_locus_holds_every_point_of_the_result_and_splits_it_by_stability(drawn, results):
    figure, points = drawn["three intersections", "si"], results["three intersections"].locus.points
    for stable, kind in ((True, "stable"), (False, "unstable")):
        wanted = points.engine_speed[points.found & (points.stable == stable)] * RPM
        lines = figure.axes[0].findobj(
            lambda item, kind=kind: str(item.get_gid()).startswith(f"locus-{kind}-")
        )
        assert {line.get_linestyle() for line in lines} == {"-" if stable else "--"}
        drawn_speeds = np.concatenate([line.get_xdata() for line in lines])
        drawn_speeds = drawn_speeds[np.isfinite(drawn_speeds)]
        assert np.sort(drawn_speeds) == pytest.approx(np.sort(wanted))
    assert "unstable" in words(figure)


def test_pair_with_one_intersection_has_no_unstable_curve(drawn):
    assert not [gid for gid in gids(drawn["tight", "si"]) if "unstable" in gid]


def test_governor_and_idle_speeds_are_marked(drawn, results):
    engine = results["tight"].engine
    for gid, speed in (
        ("low-idle", engine.low_idle),
        ("rated-speed", engine.rated_speed),
        ("high-idle", engine.high_idle),
    ):
        line = artist(drawn["tight", "si"], gid)
        assert line.get_xdata()[0] == pytest.approx(speed * RPM)
        assert f"{speed * RPM:.0f} rpm" in artist(drawn["tight", "si"], f"{gid}-label").get_text()


def test_working_range_is_hatched_from_end_to_end_in_every_panel(drawn, results):
    [item] = results["tight"].working_range(0.8)
    low, high = item.lower.turbine_speed * RPM, item.upper.turbine_speed * RPM
    figure = drawn["tight", "si"]
    spans = figure.findobj(lambda found: found.get_gid() == "working-range-0")
    assert len(spans) == 3
    for span in spans:
        assert span.get_hatch()
        extent = span.get_extents().transformed(span.axes.transData.inverted())
        assert (extent.x0, extent.x1) == pytest.approx((low, high))
    said = artist(figure, "working-range-0-label").get_text()
    assert "80 % efficiency" in said
    assert f"{low:.0f} to {high:.0f} rpm (end of data)" in said


def test_uncertain_engine_shows_its_band_and_the_band_of_stall(drawn, results):
    figure, result = drawn["rating line", "si"], results["rating line"]
    assert artist(figure, "stall-band").get_xdata() == pytest.approx(
        np.array(result.stall_band) * RPM
    )
    low, high = (f"{speed * RPM:.0f}" for speed in result.stall_band)
    assert f"({low} to {high} rpm)" in artist(figure, "stall-label").get_text()
    assert "torque-band" in gids(figure)
    assert "torque curve estimated from the rating" in words(figure)
    assert "torque-band" not in gids(drawn["tight", "si"])


# --- what does not exist -------------------------------------------------------------------------


@pytest.mark.slow
def test_no_stall_point_is_said_in_words(drawn, results):
    figure, result = drawn["cannot hold idle", "si"], results["cannot hold idle"]
    assert result.stall is None
    assert "stall-point" not in gids(figure)
    said = " ".join(artist(figure, "absent").get_text().split())
    assert "No stall point" in said
    # What the converter asks for there, C omega^2, is shown though the engine cannot give it.
    asked = float(result.converter.capacity_at(0.0)) * result.engine.low_idle**2
    assert f"{asked:.0f} N·m" in said
    spot = (result.engine.low_idle * RPM, asked)
    assert place(figure, "idle-in-gear-point") == pytest.approx(spot)


@pytest.fixture(scope="module")
def loose():
    return solve(
        read_engine(shipped("engines")["six-cylinder-15l-400kw"]),
        read_converter(shipped("converters")["single-stage-260mm"]),
    )


@pytest.mark.slow
def test_points_on_one_spot_share_a_label_that_hides_no_curve(loose):
    figure = overlay(loose)
    said = artist(figure, "stall-label").get_text()
    assert said.startswith("stall, on the governor\n")
    assert "coupling point\n" in said
    assert "coupling-label" not in gids(figure)
    assert "coupling-point" in gids(figure)
    figure.canvas.draw()
    box = artist(figure, "stall-label").get_bbox_patch().get_window_extent()
    for nu in (0, 0.4, 0.8, 0.95):
        line = artist(figure, f"absorption-{nu:.4g}")
        path = line.axes.transData.transform(line.get_xydata())
        inside = (path > box.p0).all(axis=1) & (path < box.p1).all(axis=1)
        assert not inside.any(), nu


@pytest.mark.slow
def test_no_star_stands_where_no_power_flows(loose, drawn):
    figure = overlay(loose)
    assert "efficiency-best-point" not in gids(figure)
    assert "efficiency-best-held-point" in gids(figure)
    assert "as the load goes to nothing" in words(figure)
    assert "efficiency-best-point" in gids(drawn["tight", "si"])


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "gid", "said"),
    [
        ("fluid coupling", "coupling-point", "a fluid coupling has no stator"),
        ("fixed stator", "governed-limit-point", "rated speed is not reached"),
        ("cannot hold idle", "working-range-0", "80 % range not drawn"),
    ],
)
def test_what_does_not_exist_is_said_in_words(drawn, name, gid, said):
    assert gid not in gids(drawn[name, "si"])
    assert said in words(drawn[name, "si"]).replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.slow
def test_low_efficiency_is_said_in_words():
    engine = read_engine(shipped("engines")["six-cylinder-10l5-138kw"])
    whole = read_converter(shipped("converters")["fixed-stator-400mm-high-ratio"])
    short = whole.replace(
        speed_ratio=whole.speed_ratio[:4],
        torque_ratio=whole.torque_ratio[:4],
        capacity=whole.capacity[:4],
    )
    figure = overlay(solve(engine, short))
    said = words(figure).replace("\N{NO-BREAK SPACE}", " ")
    assert "Efficiency does not reach 80 % within the data" in said
    assert "torque ratio 1 is not reached within the data" in said


def test_fixed_stator_is_not_said_to_couple(drawn):
    said = artist(drawn["fixed stator", "si"], "coupling-label").get_text()
    assert said.startswith("torque ratio 1")
    assert "coupling" not in words(drawn["fixed stator", "si"]).split("Assumed")[0].lower()


def test_turbine_driven_backwards_is_drawn_and_named(drawn, results):
    figure = drawn["backward and overrun data", "si"]
    turbine = figure.axes[1]
    assert turbine.get_xlim()[0] < 0
    assert "driven backwards" in " ".join(artist(figure, "backwards-label").get_text().split())
    speed = np.concatenate([line.get_xdata() for line in turbine.lines if line.get_gid()])
    assert np.nanmin(speed) < -500
    # No efficiency where the engine does not drive the turbine forwards.
    efficiency = figure.axes[2]
    curve = artist(efficiency, "efficiency-stable-0")
    assert np.isnan(curve.get_ydata()[curve.get_xdata() < 0]).all()


# --- the page ------------------------------------------------------------------------------------


def test_page_names_components_basis_site_sources_and_flags(drawn, results):
    said, result = words(drawn["tight", "si"]), results["tight"]
    for part in (
        result.engine.name,
        result.converter.name,
        "gross rating (ISO 14396)",
        "cooling fan",
        "reference air",
        "invented demo data",
        "governor droop line straight",
        "creeps at idle in gear",
    ):
        assert part in said


@pytest.mark.slow
def test_hydraulic_torque_is_named_in_the_units_asked_for():
    result = pair("tight", hydraulic_torque=120.0)
    assert "hydraulics 120 N·m" in words(overlay(result))
    assert f"hydraulics {120 / NM_PER_LBFT:.0f} lbf·ft" in words(overlay(result, system="us"))


@pytest.mark.parametrize(("name", "system"), [*((name, "si") for name in PAIRS), ("tight", "us")])
@pytest.mark.slow
def test_no_words_stand_on_words_or_leave_the_page(drawn, name, system):
    figure = drawn[name, system]
    assert overlaps(figure.texts) == []
    for ax in figure.axes:
        assert overlaps(ax.texts) == []
    edge = figure.bbox
    for text in texts(figure):
        extent = text.get_window_extent()
        assert edge.x0 <= extent.x0
        assert extent.x1 <= edge.x1
        assert edge.y0 <= extent.y0
        assert extent.y1 <= edge.y1


@pytest.mark.parametrize("name", PAIRS)
def test_no_words_hide_a_mark(drawn, name):
    for ax in drawn[name, "si"].axes:
        marks = [line for line in ax.lines if str(line.get_gid()).endswith("-point")]
        spots = [ax.transData.transform(line.get_xydata())[0] for line in marks]
        for text, spot in itertools.product(ax.texts, spots):
            assert not box_of(text).holds(spot[np.newaxis]).any(), text.get_text()


@pytest.mark.slow
@pytest.mark.parametrize("name", PAIRS)
def test_figure_is_saved_without_a_warning(drawn, name):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert style.render(drawn[name, "si"], "png", dpi=60)


@pytest.mark.slow
def test_the_same_result_gives_the_same_picture(results):
    once, again = (style.render(overlay(results["tight"]), "svg") for _ in range(2))
    assert once == again


@pytest.mark.slow
def test_larger_letters_are_larger(results):
    plain, large = overlay(results["tight"]), overlay(results["tight"], font_scale=1.3)
    for gid in ("stall-label", "title", "footnote", "low-idle-label"):
        assert artist(large, gid).get_fontsize() == pytest.approx(
            1.3 * artist(plain, gid).get_fontsize()
        )
    assert overlaps(large.axes[0].texts) == []


# --- drawing on given axes -----------------------------------------------------------------------


@pytest.mark.slow
def test_panels_draw_on_the_axes_that_are_given(results):
    figure = style.new_figure(10, 8)
    axes = [
        figure.add_axes((0.1 + 0.5 * (i % 2), 0.1 + 0.5 * (i // 2), 0.35, 0.35)) for i in range(4)
    ]
    assert engine_panel(results["tight"], ax=axes[0]) is axes[0]
    assert turbine_panels(results["tight"], axes=axes[1:]) == tuple(axes[1:])
    other = style.new_figure(10, 8).subfigures(1, 1)
    given = [other.add_axes((0.1, 0.1 + 0.22 * i, 0.8, 0.15)) for i in range(4)]
    figure = overlay(results["tight"], axes=given)
    assert isinstance(figure, Figure)
    assert all(ax.lines for ax in given)


@pytest.mark.slow
def test_panels_make_a_figure_of_their_own(results):
    assert engine_panel(results["fluid coupling"]).lines
    torque, *_ = turbine_panels(results["fluid coupling"])
    assert "no stator" in " ".join(text.get_text() for text in torque.texts)


@pytest.mark.slow
def test_chosen_speed_ratios_are_drawn_and_nothing_is_extrapolated(results):
    figure = overlay(results["tight"], speed_ratios=[0.5, 0.0, 0.5])
    drawn = {gid for gid in gids(figure) if gid.startswith("absorption-") and gid.count("-") == 1}
    assert drawn == {"absorption-0", "absorption-0.5"}
    with pytest.raises(InputError, match=r"speed_ratios.*1\.2.*0 \.\. 0\.98"):
        overlay(results["tight"], speed_ratios=[0.0, 1.2])


@pytest.mark.slow
def test_overrun_parabola_goes_below_zero(results):
    figure = overlay(results["backward and overrun data"], speed_ratios=[0.0, 1.1, -0.4])
    _, torque = artist(figure, "absorption-1.1").get_data()
    assert torque.max() < 0
    assert figure.axes[0].get_ylim()[0] < 0
    assert artist(figure, "absorption-1.1-label").get_text() == "1.1"


def test_coupling_point_near_a_default_ratio_replaces_it(results):
    result = results["tight"]
    moved = result.converter.replace(
        speed_ratio=np.where(
            result.converter.speed_ratio == 0.86, 0.81, result.converter.speed_ratio
        ),
        coupling_speed_ratio=0.81,
    )
    assert chosen_ratios(solve(result.engine, moved)) == [0.0, 0.2, 0.4, 0.6, 0.81, 0.95]


@pytest.mark.slow
@pytest.mark.parametrize(
    "options",
    [{"axes": []}, {"system": "metric"}, {"font_scale": 0.0}],
    ids=["axes", "system", "font scale"],
)
def test_impossible_options_are_refused(results, options):
    with pytest.raises(InputError):
        overlay(results["tight"], **options)
    with pytest.raises(InputError):
        turbine_panels(results["tight"], **options)
