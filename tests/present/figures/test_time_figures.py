"""Figures over time: acceleration, short cycle, simulation; drawn is what the result knows."""

import dataclasses

import numpy as np
import pytest

from converter_match.components.machine import Slip
from converter_match.errors import InputError
from converter_match.judgement.haul.short_cycle import work_cycle
from converter_match.judgement.match.solve import solve
from converter_match.judgement.wheels.acceleration import acceleration
from converter_match.library.cycle_csv import read_cycle
from converter_match.library.read import (
    read_converter,
    read_driveline,
    read_engine,
    read_machine,
)
from converter_match.library.shipped import data_folder, find
from converter_match.library.surfaces import find_surface, read_surfaces
from converter_match.physics.dynamics.drive_train import Schedule, drawn_to_unity
from converter_match.physics.dynamics.dynamics import (
    drive_train,
    load_step,
    lock_up_engagement,
    stall_run_up,
)
from converter_match.physics.match.solver import match
from converter_match.present.drawing import style
from converter_match.present.drawing.ground import overlaps
from converter_match.present.figures.acceleration import acceleration_figure
from converter_match.present.figures.short_cycle import short_cycle_figure
from converter_match.present.figures.transient import transient_figure

KMH = 1 / 3.6
RPM = np.pi / 30
FOOT = 0.3048
# NIST SP 811, appendix B: 1 Btu (International Table) and 1 hp (550 ft.lbf/s).
BTU, HP = 1055.056, 745.6999


def artist(figure, gid):
    found = figure.findobj(lambda item: item.get_gid() == gid)
    assert found, f"nothing is called {gid!r}"
    return found[0]


def line(figure, gid):
    return tuple(np.asarray(values) for values in artist(figure, gid).get_data())


def pair(engine, converter):
    return solve(
        read_engine(find("engines", engine)), read_converter(find("converters", converter))
    )


@pytest.fixture(scope="module")
def hauler():
    return pair("six-cylinder-9l-240kw", "single-stage-390mm-full-range")


@pytest.fixture(scope="module")
def run(hauler):
    return acceleration(
        hauler,
        read_driveline(find("drivelines", "six-speed-hauler")),
        read_machine(find("machines", "articulated-hauler-25t")),
        find_surface("firm smooth earth", read_surfaces()),
        to_speed=30 * KMH,
    )


@pytest.fixture(scope="module")
def cycle():
    return work_cycle(
        pair("six-cylinder-7l-185kw", "single-stage-345mm-tight"),
        read_driveline(find("drivelines", "four-speed-loader")),
        read_machine(find("machines", "wheel-loader-17t")),
        read_cycle(data_folder() / "cycles" / "loader-truck-loading.csv", read_surfaces()),
    )


# --- acceleration --------------------------------------------------------------------------------


def test_speed_and_distance_over_time_are_the_results_own(run):
    figure = acceleration_figure(run)
    time, speed = line(figure, "speed")
    assert time == pytest.approx(run.run.time)
    assert speed == pytest.approx(run.run.speed * 3.6)
    # The way is the integral of the speed.
    _, way = line(figure, "distance")
    assert way[-1] == pytest.approx(np.trapezoid(speed / 3.6, time), rel=1e-3)
    assert line(figure, "to-speed")[1] == pytest.approx(30.0)
    assert [ax.get_ylabel().split(" (")[-1] for ax in figure.axes[::2]] == ["km/h)", "m)"]
    assert figure.axes[3].get_ylabel() == "heat in the converter (kW)"
    assert figure.axes[3].get_xlabel() == "time (s)"


@pytest.mark.slow
def test_us_figure_of_a_run_is_in_us_units(run):
    figure = acceleration_figure(run, system="us")
    assert line(figure, "speed")[1] == pytest.approx(run.run.speed * 3600 / 5280 / FOOT)
    assert line(figure, "distance")[1] == pytest.approx(run.run.distance / FOOT)
    driven = run.run.state >= 0
    assert line(figure, "heat")[1][driven] == pytest.approx(run.run.heat[driven] / HP, rel=1e-6)
    assert "30 km/h" not in " ".join(text.get_text() for text in figure.texts)


@pytest.mark.slow
def test_heat_of_a_run_begins_at_the_stall_match_and_is_none_in_lock_up(run):
    figure = acceleration_figure(run)
    _, heat = line(figure, "heat")
    # At stall all that the engine gives is heat.
    stall = run.match.stall
    assert heat[0] == pytest.approx(stall.input_torque * stall.engine_speed / 1e3, rel=1e-3)
    locked = (run.run.state >= 0) & run.chain.locked[run.run.state]
    assert locked.any()
    assert not heat[locked].any()
    # While a shift interrupts the drive there is no line: the heat does not slope across it.
    shifts = run.run.state < 0
    assert shifts.any()
    assert np.isnan(heat[shifts]).all()
    assert np.isfinite(heat[~shifts]).all()


def in_first_gear(hauler, method):
    """Accelerate in first gear on tyres that do not slip."""
    machine = read_machine(find("machines", "articulated-hauler-25t")).replace(slip=Slip())
    driveline = read_driveline(find("drivelines", "six-speed-hauler"))
    earth = find_surface("firm smooth earth", read_surfaces())
    found = acceleration(
        hauler, driveline, machine, earth, to_speed=5 * KMH, method=method, gear="1"
    )
    return found.run, driveline.overall_ratio(driveline.gear("1")) / machine.rolling_radius


def test_heat_of_a_run_is_engine_power_less_turbine_power(hauler):
    run, ratio = in_first_gear(hauler, "quasi-steady")
    # Without slip the turbine's speed follows from the road speed alone; its torque comes from the
    # match at that speed ratio, and the first law gives the heat.
    turbine = run.speed * ratio
    assert run.turbine_speed == pytest.approx(turbine, rel=1e-6, abs=1e-6)
    point = match(hauler.supply, hauler.converter, turbine / run.engine_speed).from_idle()
    power = np.asarray(hauler.supply.torque(run.engine_speed)) * run.engine_speed
    assert run.heat == pytest.approx(power - point.turbine_torque * turbine, rel=0.01, abs=500.0)


def test_both_methods_make_about_the_same_heat(hauler):
    # They differ in time by a few percent for machines (see the two methods in
    # `physics.wheels.motion`).
    heats = []
    for method in ("quasi-steady", "dynamic"):
        run, _ = in_first_gear(hauler, method)
        heats.append(np.trapezoid(run.heat, run.time))
    assert heats[1] == pytest.approx(heats[0], rel=0.1)


@pytest.mark.slow
def test_heat_says_that_it_is_of_full_throttle_where_the_grip_cuts_the_effort(run):
    words = "Where traction limits the effort, the throttle is eased."

    def footer(result):
        figure = acceleration_figure(result)
        return " ".join(" ".join(text.get_text() for text in figure.texts).split())

    # The laden hauler pulls more in first gear than its wheels hold on earth.
    assert run.run.grip_limited
    assert words in footer(run)
    firm = dataclasses.replace(run, run=dataclasses.replace(run.run, grip_limited=False))
    assert words not in footer(firm)


@pytest.mark.slow
def test_each_gear_stands_on_its_line_while_it_is_in_force(run):
    figure = acceleration_figure(run)
    for gid, drive in (("gear-converter", "converter"), ("gear-lock-up", "lock-up")):
        pieces = artist(figure, gid).get_segments()
        drawn = sum(float(piece[1, 0] - piece[0, 0]) for piece in pieces)
        held = sum(stage.time for stage in run.gears() if stage.drive == drive)
        assert drawn == pytest.approx(held, abs=0.01)
        # One bar a stretch, without seams.
        assert len(pieces) == sum(stage.drive == drive for stage in run.gears())
    [first] = [stage for stage in run.gears() if stage.gear == "1"]
    assert artist(figure, "gear-converter").get_segments()[0][0, 1] == pytest.approx(1.0, abs=0.3)
    assert first.drive == "converter"


@pytest.mark.parametrize(
    ("grade", "traction", "words"),
    [
        (0.9, None, "does not start: insufficient tractive effort"),
        (0.3, 0.1, "does not start: traction-limited"),
    ],
)
def test_a_machine_that_does_not_start_gets_axes_and_a_text_that_say_so(
    hauler, grade, traction, words
):
    earth = find_surface("firm smooth earth", read_surfaces())
    stuck = acceleration(
        hauler,
        read_driveline(find("drivelines", "six-speed-hauler")),
        read_machine(find("machines", "articulated-hauler-25t")),
        dataclasses.replace(earth, traction=traction),
        to_speed=5.0,
        grade=grade,
    )
    figure = acceleration_figure(stuck)
    assert [[text.get_text() for text in ax.texts] for ax in figure.axes] == [[words]] * 4
    assert words in [text.get_text() for text in figure.texts]
    # No rows of zeros: neither in the text nor in the plain data.
    before, after = stuck.text().split(f"\n{words}\n")
    assert "km/h" not in before
    assert after.startswith("\nWarnings:")
    assert (stuck.milestones(), stuck.gears()) == ([], [])
    assert stuck.to_dict()["ending"] == "no-start"


# --- short cycle ---------------------------------------------------------------------------------


@pytest.mark.slow
def test_bars_of_a_cycle_are_time_and_heat_of_its_phases(cycle):
    figure = short_cycle_figure(cycle)
    for number, phase in enumerate(cycle.phases):
        assert artist(figure, f"time-{number}").get_width() == pytest.approx(phase.time)
        heat = artist(figure, f"heat-{number}").get_width()
        assert heat == pytest.approx(phase.oil_heat / 1e3)
    left, right = figure.axes
    assert [ax.get_ylabel() for ax in (left, right)] == [
        "time (s)",
        "heat into the transmission oil (kJ)",
    ]
    assert [text.get_text()[3:] for text in left.get_yticklabels()] == [
        phase.phase.name for phase in cycle.phases
    ]
    assert left.get_ylim()[0] > left.get_ylim()[1]  # the first phase on top


def test_us_bars_of_a_cycle_are_in_us_units(cycle):
    figure = short_cycle_figure(cycle, system="us")
    heat = artist(figure, "heat-1").get_width()
    assert heat == pytest.approx(cycle.phases[1].oil_heat / BTU, rel=1e-5)
    assert "BTU" in figure.axes[1].get_ylabel()
    assert "short ton/h" in " ".join(text.get_text() for text in figure.texts)


# --- simulation ----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def run_up(hauler):
    train = drive_train(hauler.engine, hauler.supply, hauler.converter, 5.0)
    return stall_run_up(train, duration=3.0)


def test_run_up_is_drawn_up_to_the_stall_speed_with_its_caution(run_up, hauler):
    figure = transient_figure(run_up, "Stall run-up")
    time, speed = line(figure, "engine-speed")
    assert time[-1] == pytest.approx(3.0)
    assert speed[-1] == pytest.approx(hauler.stall.engine_speed / RPM, rel=1e-3)
    # Everything has become heat, less what the inertias have taken up.
    heat = line(figure, "converter-heat")[1][-1] * 1e3
    assert heat + run_up.energy.kinetic_change == pytest.approx(run_up.energy.engine_work, rel=1e-6)
    said = " ".join(" ".join(text.get_text() for text in figure.texts).split())
    assert "can break loose" in said
    assert "invented demo data" in said
    gids = {item.get_gid() for ax in figure.axes for item in ax.lines}
    assert not {"turbine-speed", "lock-up-torque", "impeller-clutch-heat"} & gids


@pytest.mark.slow
def test_lock_up_is_marked_where_the_clutch_sticks(hauler):
    unity = drawn_to_unity(hauler.converter)
    train = drive_train(hauler.engine, hauler.supply, unity, 45.0)
    closed = lock_up_engagement(
        train, speed_ratio=0.88, capacity=1800.0, closing_time=0.6, begins=0.3, duration=2.0
    )
    figure = transient_figure(closed.transient, "Lock-up closes")
    at = line(figure, "happening")[0]
    assert at == pytest.approx([closed.locked_at] * 2)
    time, engine = line(figure, "engine-speed")
    _, turbine = line(figure, "turbine-speed")
    after = time > closed.locked_at
    assert engine[after] == pytest.approx(turbine[after], rel=1e-6)
    assert line(figure, "lock-up-heat")[1][-1] == pytest.approx(closed.dissipated / 1e3)
    words = [text.get_text() for text in figure.axes[0].texts]
    assert "lock-up sticks" in words


@pytest.mark.slow
def test_an_impeller_clutch_that_slips_is_drawn_beside_the_engine(hauler):
    train = drive_train(hauler.engine, hauler.supply, hauler.converter, 45.0)
    course = load_step(
        train,
        speed_ratio=0.6,
        load_after=4000.0,
        rise_time=0.5,
        duration=2.0,
        impeller_clutch=Schedule.ramp(2500.0, 600.0, 0.6, 0.2),
    )
    figure = transient_figure(course, "Into the pile", system="us")
    _, torque = line(figure, "impeller-clutch-torque")
    lbf_ft = 0.45359237 * 9.80665 * FOOT
    assert torque == pytest.approx(course.impeller_clutch_torque / lbf_ft)
    assert line(figure, "impeller-speed")[1] == pytest.approx(course.impeller_speed / RPM)
    assert figure.axes[2].get_ylabel() == "heat since the start (BTU)"


# --- all -----------------------------------------------------------------------------------------


@pytest.mark.slow
def test_no_words_stand_on_each_other_and_all_of_them_on_the_page(run, cycle, run_up):
    for figure in (
        acceleration_figure(run),
        short_cycle_figure(cycle),
        transient_figure(run_up, "Stall run-up"),
    ):
        style.render(figure, "png", dpi=60)
        for ax in figure.axes:
            assert overlaps(ax.texts) == []
            for text in ax.texts:
                extent = text.get_window_extent()
                assert figure.bbox.x0 <= extent.x0
                assert extent.x1 <= figure.bbox.x1
        assert overlaps(figure.texts) == []


@pytest.mark.parametrize("count", [1, 5])
def test_the_wrong_number_of_axes_is_refused(run, cycle, run_up, count):
    page = style.new_figure(6, 6)
    axes = [page.add_subplot(count, 1, row + 1) for row in range(count)]
    for draw in (
        lambda: acceleration_figure(run, axes=axes),
        lambda: short_cycle_figure(cycle, axes=axes),
        lambda: transient_figure(run_up, "run-up", axes=axes),
    ):
        with pytest.raises(InputError, match="axes"):
            draw()
