"""Figures of the audit are those of the other verbs; the two that can be meant in two ways."""

from dataclasses import replace

import numpy as np
import pytest

from converter_match.components.machine import Slip
from converter_match.constants import GRAVITY
from converter_match.judgement.audit.case import Case, Missing
from converter_match.judgement.audit.figures import figure, readings
from converter_match.judgement.match.solve import solve
from converter_match.judgement.wheels.tractive import tractive
from converter_match.study.study import CLAIM_DIMENSIONS
from converter_match.units import note_text
from tests.audit_examples import CASE, claim, one
from tests.examples import RPM, converter, engine
from tests.machines import driveline, gear, machine, surface

WHEELS = ("tractive-effort", "steepest-grade", "speed-on-grade", "top-speed")


def test_figures_are_those_of_the_match():
    result = solve(CASE.engine, CASE.converter, site=CASE.site, hydraulic_torque=90.0)
    ours = {name: figure(CASE, claim(name, 1.0)) for name in CLAIM_DIMENSIONS if name not in WHEELS}
    assert ours["stall-speed"] == pytest.approx(result.stall.engine_speed, rel=1e-12)
    assert ours["stall-heat"] == pytest.approx(result.stall.heat, rel=1e-12)
    assert ours["stall-turbine-torque"] == pytest.approx(result.stall.turbine_torque, rel=1e-12)
    assert ours["stall-input-torque"] == pytest.approx(result.stall.input_torque, rel=1e-12)
    assert ours["coupling-turbine-speed"] == pytest.approx(result.coupling.turbine_speed, rel=1e-12)
    assert ours["stall-torque-ratio"] == 2.2
    assert ours["stall-k-factor"] == pytest.approx(60 * RPM, rel=1e-12)


# --- at the wheels: the same numbers as the verb tractive ----------------------------------------


def random_case(seed):
    """Return a machine of round parts, each moved by chance."""
    rng = np.random.default_rng(seed)
    slip = [Slip(), Slip(constant=0.04), machine().slip][seed % 3]
    return Case(
        engine=engine(torque=engine().torque * rng.uniform(0.6, 1.3)),
        converter=converter(capacity=converter().capacity * rng.uniform(0.8, 1.2)),
        driveline=driveline(speed_limit=rng.uniform(3.0, 9.0) if seed % 2 else None),
        machine=machine(mass_empty=rng.uniform(9e3, 25e3), slip=slip),
        surface=surface(rolling_resistance=rng.uniform(0.01, 0.08),
                        traction=None if seed % 5 == 4 else rng.uniform(0.15, 0.9)),
        hydraulic_torque=rng.uniform(0.0, 150.0),
    )  # fmt: skip


def answered(case, *grades):
    match = solve(case.engine, case.converter, hydraulic_torque=case.hydraulic_torque)
    return tractive(match, case.driveline, case.machine, case.surface, grades=[0.0, *grades])


@pytest.mark.parametrize("seed", range(10))
def test_effort_is_that_of_tractive_on_a_random_machine(seed):
    case = random_case(seed)
    result = answered(case)
    grip = float(result.road_loads[0].adhesion(0.0))
    for row in result.gears:
        if row.stall_effort is not None and row.direction == "forward":
            ours = figure(case, claim("tractive-effort", 1.0, gear=row.gear))
            assert ours == pytest.approx(min(row.stall_effort, grip), rel=1e-12)
    cover, limit = result.envelope, case.driveline.speed_limit or np.inf
    for k in range(1, cover.speed.size - 1, 40):
        wanted = claim("tractive-effort", 1.0, speed=float(cover.speed[k]))
        if cover.speed[k] > limit:
            with pytest.raises(Missing, match="limiter"):
                figure(case, wanted)
        else:
            assert figure(case, wanted) == pytest.approx(float(cover.force[k]), rel=1e-12)


@pytest.mark.parametrize("seed", range(10))
def test_speeds_and_startability_are_those_of_tractive_on_a_random_machine(seed):
    case = random_case(seed)
    grades = (0.04, 0.09, 0.2)
    result = answered(case, *grades)
    for row in result.grades:
        wanted = claim("speed-on-grade", 1.0, grade=row.grade)
        if row.speed is None or row.limited_by == "data end":
            with pytest.raises(Missing):
                figure(case, wanted)
        else:
            assert figure(case, wanted) == pytest.approx(row.speed, rel=1e-12)
    for name in ("1", "2", "3"):
        # A gear has a row for converter drive and one for lock-up: the faster is the gear's.
        rows = [row for row in result.gears if row.gear == name and row.top_speed is not None]
        best = max(rows, key=lambda row: row.top_speed, default=None)
        if best is not None and best.top_limited_by != "data end":
            ours = figure(case, claim("top-speed", 1.0, gear=name))
            assert ours == pytest.approx(best.top_speed, rel=1e-12)
    start = result.steepest_start
    if start is not None and start.steepest_start < np.inf:
        ours = figure(case, claim("steepest-grade", 1.0))
        assert ours == pytest.approx(start.steepest_start, rel=1e-12)


def test_effort_is_at_most_what_the_ground_takes():
    # mu m g of 20 t, all wheels driven
    slick = replace(CASE, surface=surface(traction=0.2))
    ours = figure(slick, claim("tractive-effort", 1.0, gear="1"))
    assert ours == pytest.approx(0.2 * 20_000 * GRAVITY, rel=1e-12)


def test_road_speed_of_an_effort_claim_is_that_after_slip():
    # A constant slip s: what was pulled at v is pulled at v (1 - s).
    def at(slip, speed):
        case = replace(CASE, machine=machine(slip=Slip(constant=slip)))
        return figure(case, claim("tractive-effort", 1.0, gear="1", speed=speed))

    assert at(0.1, 0.9) == pytest.approx(at(0.0, 1.0), rel=1e-12)
    assert at(0.1, 1.0) < at(0.0, 1.0)


def test_an_effort_without_a_surface_says_that_the_ground_is_left_out():
    from converter_match.judgement.audit.audit import audit

    bare = replace(CASE, surface=None)
    ours = figure(bare, claim("tractive-effort", 1.0, gear="1"))
    result = audit([(claim("tractive-effort", ours, gear="1"), bare)])
    assert "no-ground" in [note.code for note in result.assumptions]
    assert "no-ground" not in [
        note.code for note in audit([(claim("tractive-effort", ours, gear="1"), CASE)]).assumptions
    ]


def test_a_speed_at_which_the_table_ends_is_not_ours():
    # A converter table that ends at 0.6: the machine would go on.
    full = converter()
    short = converter(
        speed_ratio=full.speed_ratio[:4], torque_ratio=full.torque_ratio[:4],
        capacity=full.capacity[:4], coupling_speed_ratio=None,
    )  # fmt: skip
    case = replace(CASE, converter=short, driveline=driveline(gears=(gear("1", 4.0),)))
    found = one("top-speed", 3.0, case)
    assert found.verdict == "cannot be checked"
    assert "table ends" in note_text(found.missing, "si")


# --- best efficiency -----------------------------------------------------------------------------


def test_best_efficiency_of_a_freewheeling_stator_can_be_meant_in_two_ways():
    wanted = claim("best-efficiency", 1.0)
    first, second = readings(CASE, wanted)
    # eta = nu mu: 0.8 x 1.12 is the best row below coupling at 0.86; the table ends at 0.99
    assert 0.8 * 1.12 <= figure(CASE, wanted, first) < 0.92
    assert figure(CASE, wanted, second) == pytest.approx(0.99)


@pytest.mark.parametrize(("value", "reading"), [(0.9, "conversion-range"), (0.985, "whole-table")])
def test_best_efficiency_is_held_against_the_one_it_matches_and_names_both(value, reading):
    found = one("best-efficiency", value, tolerance=0.02)
    assert (found.verdict, found.reading) == ("agrees", reading)
    assert {note.code for note in found.remarks} == {"meant-so", "meant-otherwise"}
    assert dict(found.meant)["whole-table"] == pytest.approx(0.99)


def test_best_efficiency_that_is_neither_disagrees():
    found = one("best-efficiency", 0.95, tolerance=0.01)
    assert found.verdict == "disagrees"


@pytest.mark.parametrize("stator", ["fixed", "none"])
def test_without_a_freewheel_there_is_one_best_efficiency(stator):
    mu = np.ones(8) if stator == "none" else converter().torque_ratio - np.r_[np.zeros(6), 0.1, 0.2]
    case = replace(CASE, converter=converter(
        stator=stator, torque_ratio=mu, coupling_speed_ratio=None))  # fmt: skip
    assert readings(case, claim("best-efficiency", 1.0)) == ("",)
