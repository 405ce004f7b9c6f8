"""One answer across verbs: two of them are asked the same question, for machines at random.

What is the same in physics is written once and so cannot differ. These are the places where two
verbs come to one quantity by different ways: steady and in time, by gear and along a road, as given
and drawn, on the screen and on the command line.
"""

import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

import converter_match as cm
from converter_match.cli import main
from converter_match.components.arrangement import Arrangement, LockUpClutch
from converter_match.components.surface import Surface
from converter_match.judgement.arrangement.solve import solve_arranged
from converter_match.judgement.audit.audit import audit
from converter_match.judgement.audit.case import Case
from converter_match.judgement.haul.haul import haul
from converter_match.judgement.wheels.reached import tractive_from_rest
from converter_match.judgement.wheels.tractive import tractive
from converter_match.physics.arrangement.lockup import lock_up
from converter_match.physics.dynamics.drive_train import DriveTrain, drawn_to_unity
from converter_match.physics.dynamics.dynamics import lock_up_engagement, stall_run_up
from converter_match.physics.match.turbine_speed import match_at_turbine_speed
from converter_match.physics.stall.settling import density_factor
from converter_match.present.bench.shelf import load_shelf
from converter_match.present.bench.state import BenchState, Setting
from converter_match.present.bench.view import view
from converter_match.study.study import Claim
from tests.examples import RPM, converter, engine
from tests.haul_examples import road
from tests.machines import LOCK, driveline, gear, machine
from tests.properties.depth import depth

pytestmark = pytest.mark.slow
SHARE = st.floats(0.85, 1.15)


@st.composite
def machines(draw):
    """An engine, a converter, a driveline and a machine, each somewhat other than usual."""
    made = engine(inertia=draw(st.floats(0.8, 3.0)))
    made = made.replace(torque=made.torque * draw(SHARE))
    unit = converter(impeller_inertia=0.3, turbine_inertia=0.2)
    unit = unit.replace(capacity=unit.capacity * draw(SHARE))
    rule = draw(st.sampled_from([LOCK, replace(LOCK, allowed=False, engage_speed_ratio=None,
                                               release_speed_ratio=None)]))  # fmt: skip
    ratio = 4.0 * draw(SHARE)
    line = driveline(
        gears=(gear("1", ratio), gear("2", ratio / 1.8, lock_up=rule),
               gear("3", ratio / 3.3, lock_up=rule)),
        shift_time=draw(st.sampled_from([0.2, 0.5])),
    )  # fmt: skip
    body = machine(mass_empty=15_000.0 * draw(SHARE))
    return made, unit, line, body


EARTH = Surface(name="earth", rolling_resistance=0.03, traction=0.7)


@given(machines())
@depth(4, 60)
def test_hold_stall_sheet_match_and_run_up_know_one_stall(parts):
    made, unit, _, body = parts
    match = cm.solve(made, unit)
    held = cm.hold(match, body)
    test = cm.stall_test(match, machine=body)
    for end in ("middle", "low", "high"):
        told = getattr(test.expected.band, end)
        assert getattr(held.band, end) == pytest.approx(told, rel=1e-9)
    # A stall test counts the density of the oil at its temperature: the match with that capacity.
    thin = unit.replace(capacity=unit.capacity * float(density_factor(test.setup.oil)))
    stall = cm.solve(made, thin).stall
    assert held.band.middle == pytest.approx(stall.engine_speed, rel=1e-9)
    train = DriveTrain(match.supply, unit, made.inertia, 0.3, 1.0)
    course = stall_run_up(train, duration=20.0)
    assert course.engine_speed[-1] == pytest.approx(match.stall.engine_speed, rel=1e-6)


@given(machines(), st.floats(0.86, 0.95), st.floats(0.3, 1.0), st.floats(1300.0, 2500.0))
@depth(4, 60)
def test_lock_up_table_shock_and_dynamics_are_one_closing(parts, ratio, time, capacity):
    made, unit, _, _ = parts
    clutch = LockUpClutch(
        engage_by="speed-ratio", engage=ratio, release=0.8, torque_capacity=capacity,
        engagement_time=time,
    )  # fmt: skip
    own = Arrangement(id="a", name="a", source="a", lock_up=clutch)
    result = solve_arranged(made, unit, own)
    told = result.to_dict()["arrangement"]["parts"]["lock_up"]
    supply = result.match.supply
    run = lock_up(supply, unit, clutch, np.array([told["engage_turbine_speed_rpm"] * RPM]))
    assert told["turbine_torque_before_nm"] == pytest.approx(run.open.turbine_torque[0], rel=1e-9)
    assert told["turbine_torque_after_nm"] == pytest.approx(run.locked.turbine_torque[0], rel=1e-9)
    train = DriveTrain(supply, drawn_to_unity(unit), made.inertia, 0.3, 1e6)
    course = lock_up_engagement(
        train, speed_ratio=ratio, capacity=capacity, closing_time=time, begins=0.0,
        duration=3.0 * time,
    )  # fmt: skip
    assert told["engine_speed_step_rpm"] * RPM == pytest.approx(course.speed_step, rel=1e-6)
    assert told["closing_heat_kj"] * 1e3 == pytest.approx(course.dissipated, rel=1e-4)
    assert told["closing_torque_nm"] == pytest.approx(course.highest_torque, rel=1e-4)
    if course.slips_for is not None:
        assert told["closing_slips_for_s"] == pytest.approx(course.slips_for, rel=1e-4)
        # The steady match before, the locked engine after: by the table and by the dynamics.
        assert told["engagement_energy_kj"] * 1e3 <= course.dissipated


@given(machines(), st.sampled_from([0.02, 0.06, 0.1, 0.16]))
@depth(4, 60)
def test_what_tractive_reaches_from_rest_is_where_a_long_route_ends(parts, grade):
    made, unit, line, body = parts
    match = cm.solve(made, unit)
    wheels = tractive_from_rest(match, line, body, EARTH, grades=[grade])
    [row] = wheels.reached
    trip = haul(match, line, body, road(grade, 6000.0, load="laden", surface=(EARTH,)))
    if row.speed is None:
        assert trip.fails
        return
    steps = trip.run
    middle = int(np.searchsorted(steps.profile.distance[:, 0], 4500.0)) - 1
    assert float(steps.profile.speed[middle, 0]) == pytest.approx(row.speed, rel=1e-9)
    # And where it settles is a balance of that gear, as tractive lists them.
    points = wheels.points
    mine = [
        float(speed)
        for speed, k, held in zip(points.speed, points.drive, points.held, strict=True)
        if held and (wheels.drives[k].gear.name, wheels.drives[k].drive) == (row.gear, row.drive)
    ]
    assume(mine)  # at the end of a gear, by its governor or its shift, there is none
    assert min(abs(row.speed / speed - 1.0) for speed in mine) < 5e-3


@given(machines(), st.sampled_from([0.02, 0.06, 0.12]))
@depth(4, 60)
def test_audit_and_tractive_give_one_speed_on_a_grade(parts, grade):
    made, unit, line, body = parts
    wheels = tractive(cm.solve(made, unit), line, body, EARTH, grades=[grade])
    [row] = wheels.grades
    assume(row.speed is not None)
    case = Case(engine=made, converter=unit, driveline=line, machine=body, surface=EARTH)
    claim = Claim(
        quantity="speed-on-grade", value=row.speed, given="1", combination="a", grade=grade,
        tolerance=0.005,
    )  # fmt: skip
    [found] = audit([(claim, case)]).claims
    assert found.ours == pytest.approx(row.speed, rel=1e-9)


@given(st.floats(0.0, 2500.0), st.floats(0.92, 1.08), st.floats(0.0, 150.0))
@depth(4, 60)
def test_bench_and_solve_draw_and_say_the_same(altitude, share, pumps):
    setting = Setting(
        engine="six-cylinder-9l-240kw", converter="single-stage-390mm-full-range",
        altitude=altitude, diameter_share=share, hydraulic_torque=pumps,
    )  # fmt: skip
    shown = view(BenchState(a=setting), load_shelf())
    made, unit = cm.read(setting.engine, setting.converter)
    site = cm.Site(id="bench", name="x", source="x", altitude=altitude)
    scaled = unit.scaled(profile_diameter=unit.profile_diameter * share)
    match = cm.solve(made, scaled, site=site, hydraulic_torque=f"{pumps!r} N*m")
    assert shown.result("a").stall == match.stall
    assert shown.scene is not None
    panel = next(panel for panel in shown.scene.panels if panel.id == "torque")
    [line] = [line for line in panel.lines if line.id == "a/torque"]
    rows = slice(1, None, 7)
    torque = match_at_turbine_speed(match.supply, scaled, line.x[rows] * RPM).turbine_torque
    assert line.y[rows] == pytest.approx(torque, rel=1e-6)


@given(st.integers(0, 2500), st.integers(0, 120), st.sampled_from(["laden", "empty"]))
@depth(2, 20)
def test_notebook_and_command_line_give_the_same_numbers(altitude, pumps, load):
    import contextlib
    import io

    names = ("six-cylinder-7l-185kw", "single-stage-345mm-tight", "four-speed-loader",
             "wheel-loader-17t")  # fmt: skip
    told = io.StringIO()
    flags = zip(("engine", "converter", "driveline", "machine"), names, strict=True)
    argv = [word for flag, name in flags for word in (f"--{flag}", name)]
    argv += ["--surface", "firm smooth earth", "--load", load, "--grades", "0,8", "--json"]
    argv += ["--altitude", f"{altitude} m", "--hydraulic-torque", f"{pumps} N*m"]
    with contextlib.redirect_stdout(told):
        main(["tractive", *argv])
    made, unit, line, body = cm.read(*names)
    match = cm.solve(made, unit, site=cm.Site.at(f"{altitude} m"), hydraulic_torque=f"{pumps} N*m")
    wheels = cm.tractive(match, line, body, "firm smooth earth", load=load, grades=["0 %", "8 %"])
    typed = json.loads(told.getvalue())
    asked = json.loads(json.dumps(wheels.to_dict()))
    for key in ("grades", "gears", "from_rest", "equilibria"):
        assert typed[key] == asked[key]
