"""The named points and the warnings of a match."""

import json

import numpy as np
import pytest
from scipy.optimize import brentq

from converter_match.answer.html import html
from converter_match.components.converter import ConverterLimits
from converter_match.components.engine import Engine
from converter_match.components.engine_limits import EngineLimits
from converter_match.components.site import Air, Site
from converter_match.errors import InputError
from converter_match.judgement.match.solve import solve
from converter_match.library.check import oddities
from converter_match.library.read import read_converter, read_engine
from converter_match.library.shipped import shipped
from converter_match.units import note_text
from tests.examples import RPM, converter, engine, hole_engine


def codes(result):
    return {note.code for note in result.notes}


def by_code(result):
    return {item.code: item for item in result.key_points()}


def test_stall_is_where_net_torque_equals_absorbed_torque():
    machine, unit = engine(), converter()
    result = solve(machine, unit)

    def excess(omega):
        fan = 11e3 / (2200 * RPM) * (omega / (2200 * RPM)) ** 2
        pump = 3e3 / (2200 * RPM) * (omega / (2200 * RPM)) ** 0.4
        return float(machine.full_load(omega)) - fan - pump - float(unit.capacity_at(0)) * omega**2

    expected = brentq(excess, 900 * RPM, 2300 * RPM, xtol=1e-12)
    assert result.stall.engine_speed == pytest.approx(expected, rel=1e-10)
    assert result.stall.turbine_torque == pytest.approx(2.2 * result.stall.input_torque)
    assert result.stall.heat == pytest.approx(result.stall.input_power)


def test_every_point_of_the_locus_balances_power():
    points = solve(engine(), converter()).locus.points
    found = points.found
    balance = points.input_power - points.output_power - points.heat
    assert np.abs(balance[found]).max() <= 1e-12 * points.input_power[found].max()


def test_coupling_point_has_torque_ratio_one_and_efficiency_of_the_speed_ratio():
    point = solve(engine(), converter()).coupling
    assert point.speed_ratio == 0.86
    assert point.torque_ratio == 1.0
    assert point.efficiency == pytest.approx(0.86)


def test_efficiency_ranges_end_where_the_efficiency_is_at_the_level():
    result = solve(engine(), converter())
    unit = result.converter
    for item in result.ranges:
        assert unit.efficiency_at(item.low) == pytest.approx(item.level, abs=1e-9)
        assert item.ends_with_data
        inside = np.linspace(item.low + 1e-6, item.high - 1e-6, 50)
        assert (unit.efficiency_at(inside) > item.level).all()


def test_a_dip_below_the_level_at_coupling_gives_two_ranges():
    unit = converter(
        speed_ratio=[0, 0.3, 0.6, 0.7, 0.75, 0.9, 0.97],
        torque_ratio=[2.4, 1.95, 1.42, 1.18, 1.0, 1.0, 1.0],
        capacity=[0.03, 0.03, 0.028, 0.025, 0.022, 0.012, 0.004],
        coupling_speed_ratio=0.75,
    )
    working = solve(engine(), unit).working_range(0.8)
    assert len(working) == 2
    assert working[0].high < 0.75 < working[1].low
    assert working[1].low == pytest.approx(0.8, abs=1e-9)


def test_governed_limit_lies_at_rated_speed():
    result = solve(engine(), converter())
    assert result.governed_limit.engine_speed == pytest.approx(result.engine.rated_speed, rel=1e-9)
    before = result.locus.from_idle()
    slower = before.speed_ratio < result.governed_limit.speed_ratio - 1e-9
    assert (before.engine_speed[slower] < result.engine.rated_speed).all()


@pytest.mark.slow
def test_a_torque_hole_gives_three_intersections_and_says_so():
    counts = []
    for factor in np.linspace(0.6, 2.0, 57):
        found = solve(hole_engine(), converter(capacity=converter().capacity * factor))
        counts.append(int((found.locus.count[found.locus.points.speed_ratio[0] == 0])[0]))
        if counts[-1] == 3:
            assert {"several-intersections", "idle-high-idle-differ"} <= codes(found)
            assert found.stall.engine_speed < found.stall_from_high_idle.engine_speed
    assert 3 in counts
    assert 1 in counts


def test_a_converter_too_tight_for_idle_is_said_plainly_and_fails():
    result = solve(engine(), converter(capacity=converter().capacity * 8))
    assert result.stall is None
    assert result.fails
    assert "cannot-hold-idle" in codes(result)
    assert result.to_dict()["stall"] is None


def test_a_converter_too_loose_stalls_on_the_governor():
    loose = converter(capacity=converter().capacity / 3)
    assert "stall-on-governor" in codes(solve(engine(), loose))
    assert "stall-on-governor" not in codes(solve(engine(), converter()))


def loose_pair():
    return solve(
        read_engine(shipped("engines")["six-cylinder-15l-400kw"]),
        read_converter(shipped("converters")["single-stage-260mm"]),
    )


def test_stall_on_the_governor_is_said_in_the_place_of_the_governed_limit():
    result = loose_pair()
    assert result.on_governor == "from-stall"
    assert result.governor_words == "on the governor from stall on"
    names = [line[:32].strip() for line in result.text().splitlines()]
    assert "on the governor from stall on" in names
    assert "governed limit" not in names
    # The keys and numbers of the JSON stay.
    data = result.to_dict()
    assert data["governed_limit"] == data["stall"]
    # What the pair delivers: the largest of nu mu C w^3 over its points, not nothing.
    highest = max(row["output_power_kw"] for row in data["points"])
    assert highest > 30.0
    assert result.greatest_output / 1e3 == pytest.approx(highest, rel=1e-12)
    assert solve(engine(), converter()).on_governor == "never"


def test_stall_on_the_governor_alone_is_not_said_to_last():
    # Too loose at stall only: from the second row on the engine is pulled below rated speed.
    k = np.array([600, 61, 62.5, 66, 75, 82, 130, 280]) * RPM
    result = solve(engine(), converter(capacity=1 / k**2))
    assert result.on_governor == "at-stall"
    assert result.working_range()[0].lower.engine_speed < result.engine.rated_speed


@pytest.mark.parametrize("converter_id", ["single-stage-260mm", "fluid-coupling-360mm"])
def test_efficiency_without_load_is_not_called_the_best(converter_id):
    result = solve(
        read_engine(shipped("engines")["six-cylinder-7l-185kw"]),
        read_converter(shipped("converters")[converter_id]),
    )
    assert result.to_dict()["best_efficiency"]["efficiency"] == 1.0  # literal, as agreed
    assert result.to_dict()["best_efficiency"]["input_torque_nm"] == pytest.approx(0.0, abs=1e-9)
    assert all(item.point is None or item.point.input_torque > 1.0 for item in result.key_points())
    assert "no power and is left out" in result.text()
    assert "no power and is left out" in result._repr_html_()


def test_best_efficiency_with_power_flowing_stands_in_the_table():
    result = solve(
        engine(), converter()
    )  # data end at speed ratio 0.99, where the torque ratio is 1
    assert by_code(result)["best_efficiency"].point.efficiency == pytest.approx(0.99)
    assert "left out" not in result.text()


def test_a_tight_converter_leaves_rated_power_outside_the_working_range():
    result = solve(engine(), converter(capacity=converter().capacity * 0.2))
    assert "no-rated-power-in-working-range" in codes(result)
    assert "no-rated-power-in-working-range" not in codes(solve(engine(), converter()))


def test_idle_in_gear_torque_is_capacity_times_idle_speed_squared():
    result = solve(engine(), converter())
    expected = float(converter().capacity_at(0)) * (800 * RPM) ** 2
    assert result.idle.input_torque == pytest.approx(expected)
    assert result.idle.turbine_torque == pytest.approx(2.2 * expected)
    assert "idle-in-gear-torque" in codes(result)


@pytest.mark.parametrize(
    ("hydraulic", "says"), [(0.0, "455 N·m"), (5000.0, "the engine has 0 N·m there")]
)
def test_an_engine_that_cannot_hold_idle_has_no_torque_in_gear_there(hydraulic, says):
    # Net torque at 800 rpm from the engine's file, 134 N.m at most, against (N/K)^2 = 455 N.m.
    machine = read_engine(shipped("engines")["four-cylinder-2l5-45kw"])
    result = solve(
        machine,
        read_converter(shipped("converters")["single-stage-420mm"]),
        hydraulic_torque=hydraulic,
    )
    assert result.absorbed_at_idle > float(machine.full_load(machine.low_idle))
    assert result.idle is None
    assert result.to_dict()["idle_in_gear"] is None
    said = {note.code: note_text(note, "si") for note in result.notes}
    assert "idle-in-gear-torque" not in said
    assert "lugged down and stalls" in said["cannot-hold-idle"]
    assert says in said["cannot-hold-idle"]


def test_the_torque_the_engine_has_at_idle_is_said_beside_the_one_it_lacks():
    # Eight times the capacity: 8 (800/60)^2 = 1422 N.m; the engine's rows give 700 N.m at 800 rpm
    # less fan and pump by their laws.
    fan = 11e3 / (2200 * RPM) * (800 / 2200) ** 2
    pump = 3e3 / (2200 * RPM) * (800 / 2200) ** 0.4
    result = solve(engine(), converter(capacity=converter().capacity * 8))
    [said] = [note_text(note, "si") for note in result.notes if note.code == "cannot-hold-idle"]
    first = float(engine().torque[0])
    assert f"absorbs {8 * (800 / 60) ** 2:.0f} N·m" in said
    assert f"has {first - fan - pump:.0f} N·m there" in said


@pytest.mark.parametrize(
    ("limits", "code"),
    [
        (ConverterLimits(input_torque=500.0), "limit-input-torque"),
        (ConverterLimits(input_power=100e3), "limit-input-power"),
        (ConverterLimits(input_speed=2300 * RPM), "limit-input-speed"),
    ],
)
def test_an_exceeded_limit_is_named_and_fails(limits, code):
    result = solve(engine(), converter(limits=limits))
    assert code in codes(result)
    assert result.fails
    wide = ConverterLimits(input_torque=5e3, input_power=5e5, input_speed=3000 * RPM)
    assert not solve(engine(), converter(limits=wide)).fails


@pytest.mark.parametrize(
    ("key", "over", "inside", "code"),
    [
        # Stall takes 851 N.m at most of the net torque; high idle and rated power are the file's.
        ("speed", 2300 * RPM, 2400 * RPM, "limit-engine-speed"),
        ("torque", 400.0, 2000.0, "limit-engine-torque"),
        ("power", 60e3, 300e3, "limit-engine-power"),
    ],
)
def test_a_limit_in_the_engine_file_is_held_against_the_match(key, over, inside, code):
    for limit, fails in ((over, True), (inside, False)):
        result = solve(engine(limits=EngineLimits(**{key: limit})), converter())
        assert (code in codes(result)) == fails == result.fails
        assert "engine-limits-not-checked" not in codes(result)


def test_engine_limit_is_compared_with_the_highest_torque_of_the_match():
    free = solve(engine(), converter())
    rows = free.table("points").records()
    highest = max(row["input_torque_nm"] for row in rows if row["stable"])
    for share, fails in ((0.999, True), (1.001, False)):
        stated = EngineLimits(torque=share * highest)
        assert solve(engine(limits=stated), converter()).fails == fails


def test_engine_limit_that_cannot_be_read_is_said_not_to_be_checked():
    odd = engine(limits=EngineLimits(unread=(("speed", "see the plate"),)))
    result = solve(odd, converter())
    assert "engine-limit-unread" in codes(result)
    assert not result.fails
    assert "engine-limit-unread" in [note.code for note in oddities(odd)]


def test_rated_power_that_is_not_usable_says_where_the_engine_comes_up_to_rated_speed():
    loaded = solve(engine(), converter(), hydraulic_torque=3000.0)
    [said] = [
        note_text(n, "si") for n in loaded.notes if n.code == "no-rated-power-in-working-range"
    ]
    assert "at rated speed, and nowhere else in its data:" in said


def test_thin_air_lowers_the_stall_speed_and_names_the_method():
    high = Site(id="s", name="s", source="test", altitude=2000.0, air_temperature=308.15)
    here = solve(engine(), converter(), site=high)
    assert here.stall.engine_speed < solve(engine(), converter()).stall.engine_speed
    assert "ISO 1585" in here.site.method
    assert {"site-method-assumed", "engine-factor-typical", "air-dry"} <= codes(here)


def test_reference_air_as_the_site_changes_nothing():
    reference = Air(pressure=99e3, temperature=298.15)
    site = Site(
        id="s",
        name="s",
        source="test",
        air_pressure=99e3,
        air_temperature=298.15,
        relative_humidity=0.0,
    )
    result = solve(engine(reference_air=reference), converter(), site=site)
    assert result.site.torque_factor == pytest.approx(1.0, rel=1e-14)


def test_site_correction_without_aspiration_is_refused():
    site = Site(id="s", name="s", source="test", altitude=1000.0)
    with pytest.raises(InputError, match=r"test-engine: aspiration: .*naturally-aspirated"):
        solve(engine(aspiration=None), converter(), site=site)


def test_a_rating_line_engine_reports_a_band_of_stall_speed():
    machine = Engine.from_rating(
        rated_power=185e3,
        rated_speed=2200 * RPM,
        peak_torque=1000.0,
        peak_torque_speed=1400 * RPM,
        low_idle=800 * RPM,
        high_idle=2380 * RPM,
        rating_basis="gross",
        governing="speed",
    )
    result = solve(machine, converter())
    low, high = result.stall_band
    assert low < result.stall.engine_speed < high
    assert "curve-from-rating" in codes(result)


def test_hydraulic_torque_lowers_the_stall_speed_by_the_elasticity_formula():
    # A relative torque change d moves stall speed by d / (2 - e), e = dlnT/dlnN (common practice,
    # follows from T = C N^2); d is small, so the second order, d^2, bounds the difference.
    base = solve(engine(), converter())
    omega = base.stall.engine_speed
    torque, slope = base.supply.with_slope(omega)
    e = float(slope) * omega / float(torque)
    drop = 1.0
    d = -drop / float(torque)
    moved = solve(engine(), converter(), hydraulic_torque=drop).stall.engine_speed
    assert moved / omega - 1 == pytest.approx(d / (2 - e), abs=5 * d * d)


@pytest.mark.parametrize("converter_id", sorted(shipped("converters")))
def test_named_points_stand_in_the_order_in_which_a_machine_passes_them(converter_id):
    engine_id = "six-cylinder-7l-185kw"
    result = solve(
        read_engine(shipped("engines")[engine_id]),
        read_converter(shipped("converters")[converter_id]),
    )
    turbine = [item.point.turbine_speed for item in result.key_points() if item.point is not None]
    assert turbine == sorted(turbine)
    assert result.key_points()[0].code == "stall"
    assert len({item.words for item in result.key_points()}) == len(result.key_points())
    assert len(by_code(result)) == len(result.key_points())


@pytest.mark.slow
def test_result_is_json_and_a_table():
    result = solve(hole_engine(), converter())
    text = json.dumps(result.to_dict(), allow_nan=False)
    data = json.loads(text)
    assert data["stall"]["engine_speed_rpm"] == pytest.approx(result.stall.engine_speed / RPM)
    for key in (
        "speed_ratio",
        "engine_speed_rpm",
        "turbine_speed_rpm",
        "turbine_torque_nm",
        "output_power_kw",
        "efficiency",
    ):
        assert key in data["coupling"]
        assert key in data["best_efficiency"]
    frame = result.to_frame()
    assert len(frame) == len(data["points"])
    assert frame["heat_kw"].min() >= 0


def test_text_and_html_follow_the_unit_switch_and_escape_names():
    result = solve(engine(name="<b>engine</b>"), converter())
    assert "N·m" in result.text("si")
    assert "lbf·ft" in result.text("us")
    assert "lbf·ft" in result.text("us").partition("Cautions")[2]
    assert "&lt;b&gt;" in result._repr_html_()
    assert "<b>engine" not in result._repr_html_()


def test_table_of_a_notebook_follows_the_unit_switch_notes_included():
    result = solve(engine(), converter(), hydraulic_torque=180.0)
    page = html(result.blocks(), result.notes, "us")
    assert "lbf·ft" in page
    assert "hydraulic torque deducted: 133 lbf·ft" in page  # 180 / 1.3558179
    assert "N·m" not in page


def test_data_without_stall_are_refused():
    unit = converter(
        speed_ratio=[0.1, 0.5, 0.86, 0.95],
        torque_ratio=[2.0, 1.5, 1.0, 1.0],
        capacity=[0.03, 0.03, 0.02, 0.01],
    )
    with pytest.raises(InputError, match="stall"):
        solve(engine(), unit)


@pytest.mark.parametrize(
    ("system", "amount"),
    [("si", "180 N·m"), ("us", "133 lbf·ft")],  # 180 / 1.3558179
)
def test_text_says_how_much_hydraulic_torque_is_deducted(system, amount):
    loaded = solve(engine(), converter(), hydraulic_torque=180.0)
    assert f"hydraulic torque deducted: {amount}" in loaded.text(system)
    assert "hydraulic torque" not in solve(engine(), converter()).text(system)


def test_working_range_at_70_percent_stands_in_the_table():
    result = solve(engine(), converter())
    [line] = [row for row in result.text().splitlines() if row.startswith("  70 % efficiency")]
    lower = result.working_range(0.7)[0].lower
    assert line.split()[4:8] == [f"{lower.speed_ratio:.3f}", f"{lower.torque_ratio:.3f}", "0.700",
                                 f"{lower.engine_speed / RPM:.0f}"]  # fmt: skip


def test_efficiency_that_falls_again_has_both_ends_at_both_levels():
    pair = (read_engine(shipped("engines")["six-cylinder-10l5-138kw"]),
            read_converter(shipped("converters")["fixed-stator-400mm-high-ratio"]))  # fmt: skip
    found = [item.point.efficiency for item in solve(*pair).key_points()
             if item.code.startswith("efficiency")]  # fmt: skip
    assert found == pytest.approx([0.7, 0.8, 0.8, 0.7], abs=1e-9)


def test_point_where_a_fixed_stator_gives_torque_ratio_one_is_not_called_coupling():
    unit = read_converter(shipped("converters")["fixed-stator-400mm-high-ratio"])
    result = solve(read_engine(shipped("engines")["six-cylinder-10l5-138kw"]), unit)
    assert by_code(result)["coupling"].words == "torque ratio 1"
    assert "coupling point" not in result.text()
    assert by_code(solve(engine(), converter()))["coupling"].words == "coupling point"


@pytest.mark.slow
def test_several_intersections_are_told_apart_by_their_speeds():
    for factor in np.linspace(0.6, 2.0, 57):
        result = solve(hole_engine(), converter(capacity=converter().capacity * factor))
        said = [note for note in result.notes if note.code == "several-intersections"]
        if said:
            break
    speeds = result.locus.points.engine_speed[:, result.locus.points.speed_ratio[0] == 0.0]
    speeds = speeds[np.isfinite(speeds)]
    assert len(speeds) == 3
    listed = ", ".join(f"{speed / RPM:.0f} rpm" for speed in speeds)
    assert f"({listed}; every second one" in note_text(said[0], "us")


def test_every_named_point_of_the_table_has_its_code_in_a_frame():
    result = solve(engine(), converter())
    frame = result.to_frame("key_points").set_index("code")
    assert frame.loc["stall", "engine_speed_rpm"] == result.stall.engine_speed / RPM
    assert list(frame.index) == [item.code for item in result.key_points()]


def test_ranges_in_plain_data_have_the_keys_that_scripts_read_and_ends_at_their_level():
    ranges = solve(engine(), converter()).to_dict()["efficiency_ranges"]
    assert ranges
    for item in ranges:
        assert set(item) == {
            "level", "low_speed_ratio", "high_speed_ratio", "ends_with_data", "lower", "upper",
        }  # fmt: skip
        assert item["low_speed_ratio"] == item["lower"]["speed_ratio"] < item["high_speed_ratio"]
        assert item["lower"]["efficiency"] == pytest.approx(item["level"], abs=1e-9)


def test_the_jumps_of_a_machine_that_comes_up_and_of_one_slowed_down_are_said():
    # Against brute force: in small steps of turbine speed, by the sign of the torque to spare.
    pair = solve(hole_engine(), converter(capacity=1.7 * converter().capacity))
    said = {note.code: note for note in pair.notes if note.code.startswith("jumps-coming")}
    assert set(said) == {"jumps-coming-up", "jumps-coming-down"}
    speeds = np.linspace(1.0, 80.0, 791)
    omega = np.linspace(800 * RPM, 1600 * RPM, 1601)
    spare = [
        pair.supply.torque(omega) - pair.converter.capacity_at(turbine / omega) * omega**2
        for turbine in speeds
    ]
    low = np.array([bool((row[omega < 1250 * RPM] < 0).any()) for row in spare])
    high = np.array([bool((row[omega > 1380 * RPM][:40] > 0).any()) for row in spare])
    up = speeds[np.flatnonzero(~low)[0]]
    down = speeds[np.flatnonzero(high)[0]]
    assert dict(said["jumps-coming-up"].values)["turbine"] == pytest.approx(up, abs=1.0)
    assert dict(said["jumps-coming-down"].values)["turbine"] == pytest.approx(down, abs=1.0)
