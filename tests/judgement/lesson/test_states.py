"""The rows of the page from stall to the governor against the definitions, by hand where it goes.

K = 60 at stall and 82 at the coupling point, torque ratio 2.2 at stall, 500 N.m at every speed.
"""

import math

import numpy as np
import pytest

from converter_match import InputError, shipped
from converter_match.judgement.lesson.states import ROWS_OF_BLADES, full_load_states
from converter_match.judgement.match.solve import solve
from converter_match.library.read import read_blading, read_converter, read_engine, read_machine
from converter_match.physics.converter.blading_for_sheet import blading_for_sheet
from converter_match.physics.converter.velocity_triangles import velocity_triangles
from tests.examples import RPM, converter
from tests.study_examples import flat_engine, loose


def demo(engine="six-cylinder-7l-185kw", unit="single-stage-345mm-tight", **more):
    sheet = read_converter(shipped("converters")[unit])
    shape = read_blading(shipped("blading")["loader-390mm"])
    return full_load_states(
        solve(read_engine(shipped("engines")[engine]), sheet),
        blading=blading_for_sheet(shape, sheet).geometry,
        machine=read_machine(shipped("machines")["wheel-loader-17t"]),
        **more,
    )


@pytest.fixture(scope="module")
def states():
    return demo()


def on_lines(states, name, nu):
    return np.interp(nu, states.speed_ratio, states.values[name])


def test_ends_and_corner_are_those_worked_out_by_hand():
    found = full_load_states(solve(flat_engine(500.0), converter()))
    first = {name: values[0] for name, values in found.values.items()}
    assert first["engine_speed"] == pytest.approx(60 * math.sqrt(500) * RPM, rel=1e-6)
    assert first["stator_torque"] == pytest.approx(1.2 * 500, rel=1e-6)
    assert first["heat"] == pytest.approx(500 * 60 * math.sqrt(500) * RPM, rel=1e-6)
    row = int(np.argmin(np.abs(found.speed_ratio - 0.86)))
    assert found.speed_ratio[row] == found.coupling == 0.86
    assert found.values["stator_torque"][row] == pytest.approx(0.0, abs=1e-9)
    assert found.values["engine_speed"][row] == pytest.approx(82 * math.sqrt(500) * RPM, rel=1e-6)


@pytest.mark.slow
def test_lines_between_the_rows_are_as_near_as_is_said(states):
    rng = np.random.default_rng(7)
    for nu in rng.uniform(states.speed_ratio[0], states.speed_ratio[-1], 60):
        true = states.at(float(nu))
        for name, value in true.items():
            largest = np.nanmax(np.abs(states.values[name]))
            # Looked at in three places of each cell; between these it may be a little more.
            assert abs(on_lines(states, name, nu) - value) <= 1.3 * states.off * largest, name
    assert states.off <= 5e-4


def test_torques_and_power_add_up_on_every_line(states):
    for nu in np.linspace(states.speed_ratio[0], states.speed_ratio[-1], 333):
        v = {name: on_lines(states, name, nu) for name in states.values}
        assert v["input_torque"] + v["stator_torque"] == pytest.approx(
            v["turbine_torque"], abs=1e-6
        )
        assert v["output_power"] + v["heat"] == pytest.approx(v["input_power"], rel=1e-12)


def test_velocities_are_those_of_the_triangles(states):
    nu = 0.4
    there = states.at(nu)
    drawn = velocity_triangles(states.blading, nu, there["engine_speed"])
    for row, triangle in zip(ROWS_OF_BLADES, drawn.triangles, strict=True):
        assert there[f"{row}_swirl"] == pytest.approx(triangle.swirl, rel=1e-9)
        assert there[f"{row}_blade"] == pytest.approx(triangle.blade_speed, rel=1e-9)
        assert there[f"{row}_next"] == pytest.approx(triangle.next_swirl, rel=1e-9)
    # Torque = mass flow times change of r x swirl (Euler), all rows together none.
    shape = states.blading
    radii = [getattr(shape, f"{row}_exit_radius") for row in ROWS_OF_BLADES]
    turn = [radius * t.swirl for radius, t in zip(radii, drawn.triangles, strict=True)]
    flow = shape.oil_density * shape.flow_area * there["meridional"]
    impeller, turbine, stator = (flow * (turn[k] - turn[k - 1]) for k in range(3))
    assert impeller + turbine + stator == pytest.approx(0.0, abs=1e-6)
    ratio = float(drawn.points.torque_ratio)
    assert -turbine / impeller == pytest.approx(ratio, rel=1e-9)


def test_oil_settles_where_the_cooler_carries_the_heat(states):
    # 62 kW at 110 degC oil in 40 degC air: 62/70 kW a kelvin; the air around is said elsewhere.
    per_kelvin = 62e3 / 70
    there = states.at(0.0)
    rise = [states.at(nu)["oil_settles"] - there["oil_settles"] for nu in (0.3, 0.6)]
    heat = [states.at(nu)["heat"] - there["heat"] for nu in (0.3, 0.6)]
    assert rise == pytest.approx([value / per_kelvin for value in heat], rel=1e-9)
    # 42 L of 870 kg/m3 and 2.06 kJ/(kg K), 420 kg of steel beside it: a kelvin takes so much.
    faster = states.at(0.0)["oil_rate"] - states.at(0.3)["oil_rate"]
    oil = 0.042 * 870 * 2060
    metal = -heat[0] / faster - oil
    assert 400 < metal / 420 < 520  # J/(kg K), steel (common handbook value 420 to 500)


@pytest.mark.slow
def test_a_jump_of_the_engine_is_two_rows_and_is_said():
    found = demo("six-cylinder-8l-205kw-late-boost", "single-stage-380mm-tight")
    [jump] = found.jumps
    speed = found.values["engine_speed"]
    row = int(np.searchsorted(found.speed_ratio, jump))
    assert abs(speed[row] - speed[row - 1]) > 20
    assert [note.code for note in found.notes if note.kind == "warning"] == ["engine-jumps"]
    assert found.off <= 5e-4


@pytest.mark.parametrize(
    ("unit", "code"),
    [("fluid-coupling-360mm", "no-stator"), ("fixed-stator-400mm-high-ratio", "stator-fixed")],
)
def test_a_pair_without_a_coupling_point_is_said_and_the_rest_works(unit, code):
    sheet = read_converter(shipped("converters")[unit])
    engine = read_engine(shipped("engines")["six-cylinder-7l-185kw"])
    found = full_load_states(solve(engine, sheet))
    assert code in [note.code for note in found.notes]
    assert found.coupling is None
    assert found.stops[0].code == "stall"
    assert "stator_speed" not in found.values


@pytest.mark.slow
def test_a_converter_that_lugs_its_engine_begins_late_and_one_that_never_meets_it_is_refused():
    found = demo("four-cylinder-2l5-45kw", "single-stage-345mm-loose")
    assert found.speed_ratio[0] > 0.4
    assert found.notes[0].code == "begins-late"
    with pytest.raises(InputError, match="no match from stall on"):
        full_load_states(solve(flat_engine(50.0), loose(5.0)))


@pytest.mark.slow
def test_a_governor_before_the_coupling_point_does_not_cut_it_off():
    found = demo("six-cylinder-9l-240kw", "single-stage-345mm-tight")
    limit = found.result.governed_limit
    assert limit.speed_ratio < found.coupling < found.speed_ratio[-1]
