"""Beliefs and demonstrations by hand: 500 N.m at every speed, K = 60 and ratio 2.2 at stall."""

import math

import pytest

from converter_match import shipped
from converter_match.judgement.lesson.demonstrations import DEMONSTRATIONS, demonstrations
from converter_match.judgement.lesson.misconceptions import misconceptions
from converter_match.judgement.match.solve import solve
from converter_match.library.read import read_converter, read_engine, read_machine
from tests.examples import RPM, converter
from tests.study_examples import flat_engine

STALL = 60.0 * math.sqrt(500.0)


def told(belief, *pair):
    found = misconceptions(*(pair or (flat_engine(500.0), converter())))
    return next(item for item in found if belief in item.belief)


def test_another_capacity_moves_stall_speed_by_the_root_and_a_flat_engine_pulls_the_same():
    found = told("More stall speed")
    speeds = [float(row[1]) for row in found.rows]
    assert speeds == pytest.approx([STALL / math.sqrt(c) for c in (1.25, 1.0, 0.8)], abs=0.5)
    assert {row[2] for row in found.rows} == {"1100"}
    assert "here, the same" in found.truth
    # An engine past its torque peak pulls less, the faster it stalls.
    demo = told(
        "More stall speed",
        read_engine(shipped("engines")["six-cylinder-7l-185kw"]),
        read_converter(shipped("converters")["single-stage-345mm-tight"]),
    )
    pulls = [float(row[2]) for row in demo.rows]
    assert pulls == sorted(pulls, reverse=True)


def test_what_accessories_take_is_the_difference_between_sheet_and_impeller():
    engine = read_engine(shipped("engines")["six-cylinder-7l-185kw"])
    found = told(
        "sheet of the engine",
        engine,
        read_converter(shipped("converters")["single-stage-345mm-tight"]),
    )
    first, *taken, left = (float(row[1]) for row in found.rows)
    assert first - sum(taken) == pytest.approx(left, abs=2.5)  # five figures, each rounded
    assert len(taken) >= len(engine.accessories)


def test_efficiency_beyond_the_coupling_point_is_the_speed_ratio_again():
    found = told("peaks at the coupling point")
    rows = {row[0]: [float(cell) for cell in row[1:]] for row in found.rows}
    nu, ratio, efficiency = rows["coupling point"]
    assert (nu, ratio, efficiency) == (0.86, 1.0, 0.86)
    best = rows["best with the stator held"]
    assert best[0] * best[1] == pytest.approx(best[2], abs=0.005)
    assert best[2] > efficiency
    governed = rows["governed limit"]
    assert governed[0] == governed[2] > efficiency


def test_three_faults_read_the_same_and_each_is_as_large_as_it_has_to_be():
    found = told("convicts")
    assert len({row[2] for row in found.rows[1:]}) == 1
    read = float(found.rows[1][2])
    # A tenth less of 500 N.m is 450 N.m; 60 sqrt(450) rpm. A pump takes the 50 N.m; a converter of
    # 500 / 450 of the capacity stalls there as well.
    assert read == pytest.approx(60 * math.sqrt(450), abs=0.5)
    assert found.rows[2][1] == "takes 50 N·m"
    assert found.rows[3][1] == "11 % more capacity"


def shown(key, result, machine=None):
    return demonstrations(result, machine)[DEMONSTRATIONS.index(key)]


def test_the_clock_is_heat_times_time_over_the_heat_capacity_of_the_oil():
    machine = read_machine(shipped("machines")["wheel-loader-17t"])
    result = solve(flat_engine(500.0), converter())
    found = shown("oil-clock", result, machine)
    heat = 500.0 * STALL * RPM
    # 42 L of 870 kg/m3 and 2.06 kJ/(kg K), from 85 degC; limit 120 degC.
    per_kelvin = 0.042 * 870 * 2060
    for row in found.rows:
        assert float(row[1]) == pytest.approx(85 + heat * float(row[0]) / per_kelvin, abs=0.5)
        assert float(row[2]) <= float(row[1]) <= float(row[3])
    assert f"after {35 * per_kelvin / heat:.0f} s" in found.text
    assert "the verb hold says" in found.text
    assert shown("oil-clock", result).rows == ()


def test_locked_the_engine_runs_at_the_turbines_speed_and_gives_what_it_has_there():
    found = shown("lock-up-shift", solve(flat_engine(500.0), converter()))
    for turbine, opened, locked, pull, held, heat in found.rows:
        if held != "none":
            assert (locked, held) == (turbine, "500")
        assert float(opened) > float(turbine)
        slip = float(opened) - float(turbine) * float(pull) / 500.0
        assert float(heat) == pytest.approx(500 * slip * RPM / 1e3, abs=0.5)


@pytest.mark.slow
def test_downhill_the_open_converter_brakes_less_than_the_locked_one_and_keeps_its_energy():
    result = solve(
        read_engine(shipped("engines")["six-cylinder-7l-185kw"]),
        read_converter(shipped("converters")["single-stage-345mm-tight"]),
    )
    found = shown("descent", result)
    for row in found.rows:
        turbine, engine, opened, locked, heat = (float(cell) for cell in row)
        assert engine < turbine
        assert opened < locked
        # Torque ratio 1 past the coupling point: heat is torque times slip.
        assert heat == pytest.approx(opened * (turbine - engine) * RPM / 1e3, abs=0.15)
    untold = read_engine(shipped("engines")["six-cylinder-10l5-138kw"])
    left_out = shown("descent", solve(untold, converter()))
    assert left_out.rows == ()
    assert "motoring" in left_out.text
