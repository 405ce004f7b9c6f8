"""A short cycle of two phases in round numbers: every figure told of it is worked out by hand.

In 60 s 0.83 kg of fuel, which is one litre, moves 5 t: 300 t/h, 60 L/h, 0.2 L/t; 1.2 MJ go into
the oil, which is 20 kW.
"""

import dataclasses
import math

import pytest

from converter_match.components.machine import Cooler, Oil
from converter_match.components.response import EngineResponse
from converter_match.components.route import Phase, ShortCycle
from converter_match.errors import InputError
from converter_match.judgement.haul.short_cycle import CycleResult, work_cycle
from converter_match.judgement.match.solve import solve
from converter_match.library.read import read_engine
from converter_match.library.shipped import find
from converter_match.physics.haul.short_cycle import PhaseRun
from tests.examples import RPM, converter, engine
from tests.machines import driveline, machine, surface

PUSH = PhaseRun(
    phase=Phase(name="push", kind="crowd", time=20.0),
    time=20.0,
    fuel=0.4,
    oil_heat=900e3,
    engine_speed=1500 * RPM,
    top_speed=0.0,
    force=80e3,
    grip_limited=True,
)
CARRY = PhaseRun(
    phase=Phase(name="carry", kind="drive", distance=50.0),
    time=40.0,
    fuel=0.43,
    oil_heat=300e3,
    engine_speed=1800 * RPM,
    top_speed=5.0,
)


def cycle_of(*phases):
    return ShortCycle(
        id="test-cycle", name="Test cycle", source="round numbers", surface=surface(), phases=phases
    )


def told(*runs, **changes):
    fields = {
        "match": solve(engine(), converter()),
        "driveline": driveline(),
        "machine": machine(),
        "cycle": cycle_of(*(run.phase for run in runs)),
        "phases": runs,
        "fuel_density": 830.0,
        "balance": 353.15,
        "time_to_limit": 90.0,
        "notes": (),
    }
    return CycleResult(**(fields | changes))


def lines(result, system="si"):
    return [line.strip() for line in result.text(system).splitlines()]


def test_figures_of_a_cycle_are_sums_and_rates():
    assert told(PUSH, CARRY).to_dict()["summary"] == {
        "time_s": 60.0,
        "production_t_per_h": pytest.approx(300.0),
        # 5 t, 95 % of it, in 60 s and a fourth of 40 s, 83 % of the time.
        "expected_production_t_per_h": pytest.approx(4.75 / 70.0 * 3600.0 * 0.83),
        "job_efficiency_percent": pytest.approx(83.0),
        "bucket_fill_percent": pytest.approx(95.0),
        "exchange_time_s": 40.0,
        "passes": 4.0,
        "clutch_heat_kj": 0.0,
        "fuel_l": pytest.approx(1.0),
        "fuel_l_per_h": pytest.approx(60.0),
        "fuel_l_per_t": pytest.approx(0.2),
        "oil_heat_kj": pytest.approx(1200.0),
        "mean_oil_heat_kw": pytest.approx(20.0),
        "oil_of_continuous_work_degc": pytest.approx(80.0),
        "cooler_needed_kw_per_k": None,
        "time_to_oil_limit_min": pytest.approx(1.5),
    }


def test_figures_of_a_cycle_are_said_in_the_units_of_the_reader():
    said = lines(told(PUSH, CARRY))
    for line in (
        "time: 60.0 s",
        "production without waiting, bucket full: 300 t/h",
        "production to expect: 203 t/h",
        "fuel: 60.0 L/h",
        "fuel for the load moved: 0.200 L/t",
        "mean heat into the oil: 20.0 kW",
        "oil temperature in continuous work: 80 °C",
    ):
        assert line in said
    # 80 degC is 176 degF; 20 kW is 26.8 hp (NIST SP 811: 745.6999 W).
    us = lines(told(PUSH, CARRY), "us")
    assert "oil temperature in continuous work: 176 °F" in us
    assert "mean heat into the oil: 26.8 hp" in us


def test_rows_of_the_phases_hold_what_the_phases_are():
    push, carry = told(PUSH, CARRY).to_dict()["phases"]
    assert push == {
        "phase": "push",
        "kind": "crowd",
        "time_s": 20.0,
        "fuel_g": pytest.approx(400.0),
        "oil_heat_kj": pytest.approx(900.0),
        "mean_engine_speed_rpm": pytest.approx(1500.0),
        "top_speed_kmh": 0.0,
        "push_kn": pytest.approx(80.0),
        "grip_limited": True,
        "arrives": True,
        "gear": "",
        "hydraulic_power_kw": 0.0,
        "clutch_heat_kj": 0.0,
        "lag_s": 0.0,
    }
    assert carry | {"fuel_g": None} == {
        "phase": "carry",
        "kind": "drive",
        "time_s": 40.0,
        "fuel_g": None,
        "oil_heat_kj": pytest.approx(300.0),
        "mean_engine_speed_rpm": pytest.approx(1800.0),
        "top_speed_kmh": pytest.approx(18.0),
        "push_kn": None,
        "grip_limited": False,
        "arrives": True,
        "gear": "",
        "hydraulic_power_kw": 0.0,
        "clutch_heat_kj": 0.0,
        "lag_s": 0.0,
    }
    rows = [line.split() for line in lines(told(PUSH, CARRY))]
    assert ["push", "20.0", "400", "900", "1500", "0.0", "80", "traction", "-", "0.0", "0"] in rows
    assert ["carry", "40.0", "430", "300", "1800", "18.0", "-", "-", "-", "0.0", "0"] in rows


def test_head_of_a_cycle_names_what_was_driven():
    result = told(PUSH, CARRY)
    assert lines(result)[:5] == [
        "Test machine",
        "engine: Test engine",
        "converter: " + result.match.converter.name,
        "driveline: Test driveline",
        "cycle: Test cycle",
    ]
    plain = result.to_dict()
    assert plain["engine"] == "test-engine"
    assert plain["converter"] == result.match.converter.id
    assert (plain["driveline"], plain["machine"]) == ("test-driveline", "test-machine")
    assert plain["cycle"] == {"id": "test-cycle", "name": "Test cycle", "source": "round numbers"}


def test_phase_without_fuel_data_leaves_no_fuel_of_the_cycle():
    unknown = told(PUSH, dataclasses.replace(CARRY, fuel=None))
    assert unknown.fuel is None
    assert told(PUSH, CARRY).fuel == pytest.approx(0.83)
    summary = unknown.to_dict()["summary"]
    assert [key for key, value in summary.items() if value is None] == [
        "fuel_l", "fuel_l_per_h", "fuel_l_per_t", "cooler_needed_kw_per_k"
    ]  # fmt: skip
    assert any(line.startswith("fuel: not known") for line in lines(unknown))


def test_phase_that_is_not_completed_moves_nothing():
    stuck = told(PUSH, dataclasses.replace(CARRY, arrives=False))
    summary = stuck.to_dict()["summary"]
    assert (summary["production_t_per_h"], summary["fuel_l_per_t"]) == (None, None)
    assert summary["fuel_l_per_h"] == pytest.approx(60.0)
    assert not any(line.startswith("production") for line in lines(stuck))


def test_oil_that_is_not_known_has_no_line_and_no_number():
    result = told(PUSH, CARRY, balance=None, time_to_limit=None)
    summary = result.to_dict()["summary"]
    assert summary["oil_of_continuous_work_degc"] is None
    assert summary["time_to_oil_limit_min"] is None
    assert "oil temperature in continuous work" not in result.text()


# --- continuous work ------------------------------------------------------------------------------


def crowding(**changes):
    """Push for 10 s against a bank that does not give way: all that goes in at stall is heat."""
    match = solve(engine(), converter())
    firm = cycle_of(Phase(name="push", kind="crowd", time=10.0)).replace(
        surface=surface(traction=None)
    )
    return work_cycle(match, driveline(), machine(**changes), firm, oil_start=333.15)


@pytest.mark.parametrize(("margin", "reached"), [(-71.0, True), (2.0, False)])
def test_oil_of_continuous_work_is_where_the_cooler_carries_the_heat(margin, reached):
    # A cooler that carries the heat at 140 K above the air, which is taken as 25 degC.
    match = solve(engine(), converter())
    heat = match.stall.heat
    cooler = Cooler(difference=[0.0, 200.0], heat=[0.0, heat * 200.0 / 140.0])
    limit = 298.15 + 140.0 + margin
    oil = Oil(volume=0.04, temperature_limit=limit)
    result = crowding(cooler=cooler, oil=oil)
    assert result.oil_heat == pytest.approx(10.0 * heat)
    assert result.balance == pytest.approx(298.15 + 140.0)
    # Read backwards: what carries the heat with the oil at its limit.
    assert result.cooler_needed == pytest.approx(heat / (140.0 + margin))
    limits = [note for note in result.notes if note.code == "oil-above-limit"]
    if reached:
        # An exponential towards the balance: C / G ln((T_b - T_0) / (T_b - T_l)).
        time = oil.oil_heat_capacity * 140.0 / heat
        time *= math.log((298.15 + 140.0 - 333.15) / (298.15 + 140.0 - limit))
        # The crossing is looked for between steps of a quarter of a second.
        assert result.time_to_limit == pytest.approx(time, rel=1e-4)
        [said] = limits
        assert said.kind == "limit"
        assert result.fails
        assert dict(said.values) == {"limit": limit, "time": result.time_to_limit, "heat": heat}
    else:
        assert result.time_to_limit is None
        assert not limits


@pytest.mark.parametrize(("balance", "said"), [(422.0, False), (423.0, True)])
def test_oil_that_ends_at_149_degrees_in_continuous_work_is_a_caution(balance, said):
    # US Army TM 9-2320-283-10 (public domain): 149 degC, 422.15 K: stop.
    heat = solve(engine(), converter()).stall.heat
    cooler = Cooler(difference=[0.0, 200.0], heat=[0.0, heat * 200.0 / (balance - 298.15)])
    result = crowding(cooler=cooler, oil=Oil(volume=0.04, temperature_limit=450.0))
    assert result.balance == pytest.approx(balance)
    assert (("hot-oil", "caution") in {(n.code, n.kind) for n in result.notes}) is said


def test_without_oil_volume_or_limit_nothing_is_said_of_continuous_work():
    for oil in (Oil(volume=0.04), Oil(temperature_limit=393.15)):
        result = crowding(oil=oil)
        assert (result.balance, result.time_to_limit) == (None, None)


def test_push_that_the_ground_limits_and_a_grade_that_stops_a_drive_are_said():
    match = solve(engine(), converter())
    phases = (
        Phase(name="push", kind="crowd", time=10.0),
        Phase(name="climb", kind="drive", distance=20.0, grade=0.7),
        Phase(name="dump", kind="stand", time=3.0),
    )
    result = work_cycle(match, driveline(), machine(), cycle_of(*phases))
    grip, climb = (
        next(n for n in result.notes if n.code == code)
        for code in ("crowd-limited-by-grip", "cannot-move-on")
    )
    # Empty: 0.6 of 15 t on the wheels.
    assert dict(grip.values) == {"phase": "'push'", "force": pytest.approx(0.6 * 15e3 * 9.80665)}
    assert dict(climb.values) == {"phase": "'climb'", "grade": 0.7}
    assert [run.arrives for run in result.phases] == [True, False, True]
    assert result.production.load == 0.0
    bare = {n.code for n in work_cycle(match, driveline(), machine(), cycle_of(phases[2])).notes}
    assert not bare & {"crowd-limited-by-grip", "cannot-move-on"}


@pytest.mark.parametrize(("stated", "taken"), [(900.0, 900.0), (None, None)])
def test_fuel_becomes_litres_by_the_density_of_its_sheet(stated, taken):
    match = solve(read_engine(find("engines", "six-cylinder-7l-185kw")), converter())
    fuel = dataclasses.replace(match.engine.fuel, density=stated)
    match = dataclasses.replace(match, engine=match.engine.replace(fuel=fuel))
    stand = cycle_of(Phase(name="dump", kind="stand", time=3.0))
    result = work_cycle(match, driveline(), machine(), stand)
    litres = result.to_dict()["summary"]["fuel_l"]
    density = 1e3 * result.fuel / litres
    assert density == pytest.approx(result.fuel_density)
    # Diesel fuel, EN 590: 820 to 845 kg/m3 at 15 degC.
    assert density == pytest.approx(taken) if taken else 820.0 <= density <= 845.0


# --- production, oil, pumps ----------------------------------------------------------------------


def test_production_is_reckoned_with_what_the_cycle_s_file_says():
    # 5 t at 80 % in 60 s and a third of 30 s, 75 % of the time.
    own = cycle_of(PUSH.phase, CARRY.phase).replace(
        job_efficiency=0.75, bucket_fill=0.8, exchange_time=30.0, passes=3.0
    )
    summary = told(PUSH, CARRY, cycle=own).to_dict()["summary"]
    assert summary["expected_production_t_per_h"] == pytest.approx(4.0 / 70.0 * 3600.0 * 0.75)
    stuck = dataclasses.replace(CARRY, arrives=False)
    assert told(PUSH, stuck).to_dict()["summary"]["expected_production_t_per_h"] is None


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"job_efficiency": 1.2}, "job_efficiency"),
        ({"bucket_fill": 0.0}, "bucket_fill"),
        ({"exchange_time": -1.0}, "exchange_time"),
        ({"passes": 0.5}, "passes"),
    ],
)
def test_values_of_production_that_cannot_be_are_refused(change, field):
    with pytest.raises(InputError, match="out of range") as caught:
        cycle_of(PUSH.phase).replace(**change)
    assert caught.value.field == field


@pytest.mark.parametrize(("balance", "code"), [(315.0, "oil-misses-sources"),
                                               (340.0, "oil-against-working")])  # fmt: skip
def test_oil_of_continuous_work_is_held_against_the_machine_s_own(balance, code):
    # The file says 65 degC, 40 K above the air; 17 K of it are less than half, 42 K are all.
    heat = solve(engine(), converter()).stall.heat
    cooler = Cooler(difference=[0.0, 200.0], heat=[0.0, heat * 200.0 / (balance - 298.15)])
    oil = Oil(volume=0.04, temperature_limit=450.0, working_temperature=338.15)
    found = {note.code: dict(note.values) for note in crowding(cooler=cooler, oil=oil).notes}
    assert set(found) & {"oil-misses-sources", "oil-against-working"} == {code}
    assert found[code]["share"] == pytest.approx((balance - 298.15) / 40.0)


def test_pumps_that_get_less_and_clutches_that_slip_are_said():
    own = solve(engine(inertia=1.5), converter(turbine_inertia=0.4))
    phases = (
        Phase(name="dig", kind="crowd", time=4.0, hydraulic_power=100e3),
        Phase(name="back", kind="drive", distance=8.0, direction="reverse"),
    )
    result = work_cycle(own, driveline(), machine(), cycle_of(*phases))
    found = {note.code: dict(note.values) for note in result.notes}
    assert found["pumps-short"]["given"] == result.phases[0].hydraulic_power < 0.9 * 100e3
    assert found["clutch-heat"]["time"] == 0.3
    assert "ideal-engine" in found


@pytest.mark.slow
def test_a_response_says_what_it_costs_and_what_is_left_out():
    own = solve(engine(inertia=1.5), converter(turbine_inertia=0.4))
    phases = (
        Phase(name="out", kind="drive", distance=15.0, gear="2"),
        Phase(name="dig", kind="crowd", time=4.0),
    )
    slow = EngineResponse(share=0.5, time=1.2)
    result = work_cycle(own, driveline(), machine(), cycle_of(*phases), response=slow)
    found = {note.code: dict(note.values) for note in result.notes}
    assert found["response-in-drives"]["count"] == 1.0
    assert found["response-in-drives"]["lag"] == result.phases[0].lag > 0.0
    # What is missing of the torque, over the torque: the integral of 0.5 exp(-t / 1.2).
    assert found["response-while-crowding"]["lost"] == pytest.approx(0.6)
    assert "ideal-engine" not in found
