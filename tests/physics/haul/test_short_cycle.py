"""Phases of a short cycle one by one: each against the route, the stall or the grip by hand."""

import dataclasses
import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from converter_match.components.engine import Fuel, SpeedTable
from converter_match.components.machine import Balance
from converter_match.components.response import EngineResponse
from converter_match.components.route import Phase, ShortCycle
from converter_match.constants import GRAVITY
from converter_match.errors import InputError
from converter_match.physics.engine.fuel import fuel_law
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.haul.route import hauler, run_route, totals
from converter_match.physics.haul.short_cycle import run_cycle
from converter_match.physics.match.solver import match
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.rotating import Inertias
from tests.examples import RPM, converter, engine
from tests.haul_examples import road
from tests.machines import driveline, machine, surface

# 210 g/kWh over all speeds, so that fuel can be worked out by hand.
FUEL = Fuel(
    specific=SpeedTable(
        name="table", speed=np.array([800, 2200]) * RPM, value=np.full(2, 210e-3 / 3.6e6)
    ),
    idle_rate=1.5e-4,
)
ENGINE = engine(fuel=FUEL)
# A converter loose enough, or a ground rough enough, that grip does not cut in.
STICKY = surface(rolling_resistance=0.03, traction=None)
AIR = {"air_density": 1.2, "air_temperature": 300.0}


def run(*phases, ground=STICKY, own=ENGINE, **changes):
    cycle = ShortCycle(id="c", name="c", source="s", surface=ground, phases=phases)
    return run_cycle(own, converter(), driveline(), machine(), cycle, **(AIR | changes))


def by_route(phase, ground=STICKY, torque_factor=1.0, engine_speed=2200 * RPM):
    """The same way as a route of one segment that ends with a stop."""
    torque = phase.hydraulic_power / engine_speed
    supply = engine_supply(ENGINE, torque_factor=torque_factor, hydraulic_torque=torque)
    load = RoadLoad.of(
        machine(), ground, load=phase.load, air_density=1.2, direction=phase.direction
    )
    ready = hauler(
        ENGINE, converter(), driveline(), machine(), supply, load, **AIR,
        hydraulic_torque=torque, directions=(phase.direction,),
    )  # fmt: skip
    if phase.gear:
        chain = ready.chain.limited_to(phase.gear)
        ready = dataclasses.replace(
            ready, chain=chain, model=dataclasses.replace(ready.model, chain=chain)
        )
    route = road(
        phase.grade, phase.distance, phase.speed_limit, phase.load, surface=(ground,),
        direction=(phase.direction,),
    )  # fmt: skip
    return run_route(ready, route)


@pytest.mark.parametrize(
    "phase",
    [
        Phase(name="out", kind="drive", distance=40.0, load="laden", grade=0.05),
        Phase(name="back", kind="drive", distance=30.0, direction="reverse"),
        Phase(name="slow", kind="drive", distance=25.0, gear="1", speed_limit=2.0),
        Phase(name="lift", kind="drive", distance=20.0, hydraulic_power=60e3, load="laden"),
    ],
    ids=lambda phase: phase.name,
)
def test_drive_is_a_route_from_rest_to_rest(phase):
    (found,) = run(phase)
    # The pumps get their power at the engine's speed in the phase, found to 0.2 %.
    whole = by_route(phase, engine_speed=found.engine_speed)
    total = totals(whole)
    close = 3e-3 if phase.hydraulic_power else 1e-9
    assert found.phase is phase
    assert found.time == pytest.approx(float(total.time[0]), rel=close)
    assert found.fuel == pytest.approx(float(total.fuel[0]), rel=close)
    assert found.hydraulic_power == pytest.approx(phase.hydraulic_power, rel=2e-3)
    assert not found.pumps_short
    # First law: what the converter and the gearbox lose is what the oil gets.
    ledger = total.ledger
    heat = float(ledger.converter[0] + ledger.meshes[0] + ledger.drag[0])
    assert found.oil_heat - found.clutch_heat == pytest.approx(heat, rel=close)
    assert found.top_speed == pytest.approx(float(whole.profile.speed.max()), rel=close)
    weights = whole.profile.time[:, 0]
    mean = np.average(whole.states.engine_speed[:, 0], weights=weights)
    assert found.engine_speed == pytest.approx(float(mean), rel=close)
    assert (found.arrives, found.force, found.grip_limited) == (True, None, False)


def test_speed_limit_and_gear_of_a_phase_hold():
    free, limited, low = run(
        Phase(name="a", kind="drive", distance=150.0),
        Phase(name="b", kind="drive", distance=150.0, speed_limit=3.0),
        Phase(name="c", kind="drive", distance=150.0, gear="1"),
    )
    assert limited.top_speed == pytest.approx(3.0)
    # First gear: 2380 rpm at most, 80 times slower at the wheel of 0.75 m.
    assert low.top_speed <= 2380 * RPM / 80.0 * 0.75 * (1 + 1e-9)
    assert free.top_speed > 1.2 * low.top_speed


def test_site_that_costs_torque_costs_time():
    phase = Phase(name="out", kind="drive", distance=40.0, load="laden", grade=0.05)
    (usual,), (thin,) = run(phase), run(phase, torque_factor=0.8)
    assert thin.time > usual.time
    expected = float(totals(by_route(phase, torque_factor=0.8)).time[0])
    assert thin.time == pytest.approx(expected, rel=1e-9)


def test_drive_that_cannot_be_made_does_not_arrive():
    wall = Phase(name="wall", kind="drive", distance=20.0, grade=1.0, load="laden")
    (found,) = run(wall, ground=surface())
    assert found.arrives is False
    assert (found.time, found.engine_speed) == (0.0, 0.0)


def test_engine_without_fuel_data_burns_an_unknown_amount():
    phases = (
        Phase(name="a", kind="drive", distance=10.0),
        Phase(name="b", kind="crowd", time=2.0),
        Phase(name="c", kind="stand", time=3.0),
    )
    assert [found.fuel for found in run(*phases, own=engine())] == [None] * 3


def stall(hydraulic_power=0.0, torque_factor=1.0, engine_speed=2200 * RPM):
    torque = hydraulic_power / engine_speed
    supply = engine_supply(ENGINE, hydraulic_torque=torque, torque_factor=torque_factor)
    return match(supply, converter(), 0.0).from_idle(), torque


def accessories(speed):
    """Torque of fan and charge pump [N.m], by their laws."""
    rated = 2200 * RPM
    return 11e3 / rated * (speed / rated) ** 2 + 3e3 / rated * (speed / rated) ** 0.4


@pytest.mark.parametrize("pumps", [0.0, 50e3])
def test_crowding_is_the_stall_carried_to_the_wheels(pumps):
    # At a stand: F = (mu T_e - T_drag) i eta / r, with the gearbox's drag of 5 N.m.
    phase = Phase(name="dig", kind="crowd", time=4.0, hydraulic_power=pumps)
    (found,) = run(phase)
    assert found.phase is phase
    point, extra = stall(pumps, engine_speed=found.engine_speed)
    close = 3e-3 if pumps else 1e-9
    push = (2.2 * float(point.input_torque) - 5.0) * 80.0 * 0.96 * 0.95 / 0.75
    assert found.force == pytest.approx(push, rel=close)
    assert found.engine_speed == pytest.approx(float(point.engine_speed), rel=close)
    assert found.hydraulic_power == pytest.approx(pumps, rel=2e-3)
    assert (found.grip_limited, found.arrives, found.time, found.top_speed) == (False, True, 4.0, 0)
    # All of the power into the impeller becomes heat.
    made = float(point.input_torque) * float(point.engine_speed)
    assert found.oil_heat == pytest.approx(4.0 * made, rel=2 * close)
    flywheel = float(point.input_torque) + extra + accessories(float(point.engine_speed))
    burnt = float(fuel_law(ENGINE).rate(flywheel, float(point.engine_speed)))
    # The accessories are looked up between 121 speeds.
    assert found.fuel == pytest.approx(4.0 * burnt, rel=3e-3)


def test_crowding_in_a_higher_gear_pushes_less():
    first, second = run(
        Phase(name="dig", kind="crowd", time=4.0),
        Phase(name="dig", kind="crowd", time=4.0, gear="2"),
    )
    assert second.force == pytest.approx(first.force * 2.2 / 4.0, rel=1e-9)
    assert second.oil_heat == pytest.approx(first.oil_heat, rel=1e-9)


def test_creeping_while_crowding_turns_the_turbine():
    # 0.3 m/s is 0.3 / 0.75 * 80 = 32 rad/s at the turbine.
    (found,) = run(Phase(name="dig", kind="crowd", time=4.0, speed=0.3))
    turbine = 0.3 / 0.75 * 80.0
    nu = turbine / found.engine_speed
    supply = engine_supply(ENGINE)
    point = match(supply, converter(), nu).from_idle()
    assert found.engine_speed == pytest.approx(float(point.engine_speed), rel=1e-5)
    left = float(point.turbine_torque) - 5.0 - 15.0 * turbine / (2000 * RPM)
    assert found.force == pytest.approx(left * 80.0 * 0.96 * 0.95 / 0.75, rel=1e-5)
    lost = float(point.input_torque) * found.engine_speed - left * turbine * 0.96
    assert found.oil_heat / 4.0 == pytest.approx(lost, rel=1e-5)
    assert found.top_speed == 0.3


def test_where_the_ground_sets_the_push_the_engine_gives_only_that():
    # mu m g at the wheels; at a stand the impeller takes T_t / 2.2 and omega = sqrt(T / C(0)).
    icy = surface(traction=0.25)
    (found,) = run(Phase(name="dig", kind="crowd", time=4.0, grade=0.1, load="laden"), ground=icy)
    grip = 0.25 * 20_000 * GRAVITY * np.cos(np.arctan(0.1))
    assert found.grip_limited is True
    assert found.force == pytest.approx(grip, rel=1e-12)
    point, _ = stall()
    full = (2.2 * float(point.input_torque) - 5.0) * 80.0 * 0.96 * 0.95 / 0.75
    turbine = 2.2 * float(point.input_torque) * grip / full
    speed = np.sqrt(turbine / 2.2) * 60 * RPM
    # The shaft's look-up is a table of 1201 rows.
    assert found.engine_speed == pytest.approx(speed, rel=1e-6)
    assert found.engine_speed < float(point.engine_speed)
    assert found.oil_heat == pytest.approx(4.0 * turbine / 2.2 * speed, rel=1e-6)
    flywheel = turbine / 2.2 + accessories(speed)
    assert found.fuel == pytest.approx(
        4.0 * float(fuel_law(ENGINE).rate(flywheel, speed)), rel=1e-3
    )


@pytest.mark.parametrize(("direction", "sign"), [("forward", 1.0), ("reverse", -1.0)])
def test_push_uphill_has_the_weight_that_the_grade_moves_to_the_driven_axle(direction, sign):
    # Moments about the front wheels: N_rear = m g (x cos a + (h / l) sin a) with the nose uphill;
    # backing up the same hill the rear wheels are the upper ones, and it comes off.
    behind = Balance(
        driven_axle="rear",
        driven_share_empty=0.6,
        driven_share_laden=0.6,
        wheelbase=3.0,
        gravity_height_empty=1.2,
        gravity_height_laden=1.2,
    )
    cycle = ShortCycle(
        id="c", name="c", source="s", surface=surface(traction=0.25),
        phases=(Phase(name="dig", kind="crowd", time=4.0, grade=0.1, load="laden",
                      direction=direction),),
    )  # fmt: skip
    own = machine(balance=behind)
    (found,) = run_cycle(ENGINE, converter(), driveline(), own, cycle, **AIR)
    slope = np.arctan(0.1)
    weight = own.mass("laden") * GRAVITY
    held = weight * (0.6 * np.cos(slope) + sign * 1.2 / 3.0 * np.sin(slope))
    assert found.grip_limited is True
    assert found.force == pytest.approx(0.25 * held, rel=1e-12)


def test_gearbox_heat_counts_while_creeping_on_ice():
    # Converter and gearbox together lose what goes in less what comes out behind the gearbox.
    icy = surface(traction=0.25)
    (found,) = run(Phase(name="dig", kind="crowd", time=1.0, speed=0.3, load="laden"), ground=icy)
    turbine = 0.3 / 0.75 * 80.0
    out = found.force * 0.75 / 80.0 / 0.95 * turbine
    nu = turbine / found.engine_speed
    into = float(converter().capacity_at(nu)) * found.engine_speed**3
    assert found.grip_limited
    # The drag is taken to fall with the push: 5 to 20 N.m of some 1000.
    assert found.oil_heat == pytest.approx(into - out, rel=5e-3)


def test_standing_idles_unless_the_pumps_work():
    idle, working = run(
        Phase(name="wait", kind="stand", time=7.0),
        Phase(name="dump", kind="stand", time=5.0, hydraulic_power=30e3),
    )
    assert [r.phase.name for r in (idle, working)] == ["wait", "dump"]
    assert (idle.engine_speed, working.engine_speed) == (800 * RPM, 2200 * RPM)
    assert [r.oil_heat for r in (idle, working)] == [0.0, 0.0]
    assert [r.top_speed for r in (idle, working)] == [0.0, 0.0]
    assert [r.time for r in (idle, working)] == [7.0, 5.0]
    law = fuel_law(ENGINE)
    burnt = 7.0 * float(law.rate(accessories(800 * RPM), 800 * RPM))
    assert idle.fuel == pytest.approx(burnt, rel=1e-9)
    torque = accessories(2200 * RPM) + 30e3 / (2200 * RPM)
    assert working.fuel == pytest.approx(5.0 * float(law.rate(torque, 2200 * RPM)), rel=1e-9)
    assert idle.arrives
    assert idle.force is None


def test_pumps_that_take_everything_are_refused():
    # 803 N.m at 2200 rpm are 185 kW, of which accessories take 14 kW.
    with pytest.raises(InputError, match="the pumps take all that the engine has") as error:
        run(Phase(name="dump", kind="stand", time=1.0, hydraulic_power=172e3))
    assert error.value.field == "phase 'dump'.hydraulic_power"
    assert error.value.found == "172 kW"
    assert error.value.expected == "less than 185 kW"
    run(Phase(name="dump", kind="stand", time=1.0, hydraulic_power=150e3))


def test_standing_in_neutral_the_pumps_may_have_all_that_the_accessories_leave():
    # 0.4 N.m left: no converter could be driven with it, and none is.
    left = ENGINE.rated_power - 14e3 - 100.0
    (dump,) = run(Phase(name="dump", kind="stand", time=1.0, hydraulic_power=left))
    torque = accessories(2200 * RPM) + left / (2200 * RPM)
    assert dump.fuel == pytest.approx(float(fuel_law(ENGINE).rate(torque, 2200 * RPM)), rel=1e-9)


def test_pumps_that_leave_too_little_to_crowd_are_refused():
    with pytest.raises(
        InputError, match="no match of engine and converter while crowding"
    ) as error:
        run(Phase(name="dig", kind="crowd", time=1.0, hydraulic_power=155e3))
    assert error.value.field == "phase 'dig'"
    assert error.value.found == "hydraulic power 155 kW"
    assert "too little to hold the converter" in error.value.hint


def test_gear_that_there_is_not_is_refused():
    with pytest.raises(InputError, match=r"no such gear in this direction; found 'R'"):
        run(Phase(name="a", kind="drive", distance=5.0, gear="R"))


# --- gears, pumps, clutches, response ------------------------------------------------------------


def test_the_gear_of_a_phase_is_held_from_rest_and_a_start_gear_is_shifted_up_from():
    # At 65 % laden R = 20 t x 9.81 x (sin + 0.03 cos) = 112 kN; the second gear pulls 105 kN from
    # rest, (2.2 T - 5) 44 x 0.912 / 0.75, the first 1.8 times as much.
    climb = {"grade": 0.65, "load": "laden", "distance": 4.0}
    held, started, first = run(
        Phase(name="held", kind="drive", gear="2", **climb),
        Phase(name="started", kind="drive", gear="2", start_gear="1", **climb),
        Phase(name="first", kind="drive", gear="1", **climb),
    )
    assert [each.arrives for each in (held, started, first)] == [False, True, True]
    flat = {"kind": "drive", "distance": 12.0}
    (shifts,), (keeps,) = (
        run(Phase(name="a", gear="2", start_gear="1", **flat)),
        run(Phase(name="a", gear="2", **flat)),
    )
    assert shifts.clutch_heat > 0.0
    assert keeps.clutch_heat == 0.0
    with pytest.raises(InputError, match=r"start_gear: the start gear is above the gear"):
        run(Phase(name="wrong", kind="drive", distance=9.0, gear="1", start_gear="2"))
    with pytest.raises(InputError, match=r"start_gear: no such gear in this direction; found 'R'"):
        run(Phase(name="wrong", kind="drive", distance=9.0, start_gear="R"))
    with pytest.raises(InputError, match=r"phase 'dig'\.start_gear: .* does not start to drive"):
        Phase(name="dig", kind="crowd", time=3.0, start_gear="1")


@pytest.mark.slow
def test_pumps_get_what_is_typed_or_what_the_engine_can_give():
    full, most = run(
        Phase(name="dig", kind="crowd", time=3.0, hydraulic_power=60e3),
        Phase(name="dig", kind="crowd", time=3.0, hydraulic_power=100e3),
    )
    assert full.hydraulic_power == pytest.approx(60e3, rel=2e-3)
    assert most.pumps_short
    # No torque of the pumps gives them more: looked for by hand.
    powers = []
    for torque in np.linspace(100.0, 620.0, 105):
        supply = engine_supply(ENGINE, hydraulic_torque=torque)
        powers.append(torque * float(match(supply, converter(), 0.0).from_idle().engine_speed))
    assert most.hydraulic_power == pytest.approx(np.nanmax(powers), rel=0.03)


def test_what_the_pumps_take_anyway_is_within_the_power_that_is_typed():
    standby = SpeedTable(name="table", speed=np.array([600, 2500]) * RPM, value=np.full(2, 40.0))
    pumped = ENGINE.replace(pumps=standby)
    phase = Phase(name="dig", kind="crowd", time=3.0, hydraulic_power=50e3)
    (plain,), (within,) = run(phase), run(phase, own=pumped)
    assert within.force == pytest.approx(plain.force, rel=1e-9)
    # Without work of their own in the phase they are at standby: 40 N.m less for the converter.
    idle = Phase(name="push", kind="crowd", time=3.0)
    (free,), (loaded,) = run(idle), run(idle, own=pumped)
    assert loaded.force < free.force


def test_change_of_direction_at_rest_heats_the_clutch_by_hand():
    # Turbine and gearbox input of 0.4 + 0.2 kg.m2 come from 800 rpm to rest in 0.3 s against
    # mu C omega^2 at stall and idle: 1/2 J w^2 + 1/2 T w t.
    unit = converter(turbine_inertia=0.4)
    line = driveline(input_inertia=0.2)
    cycle = ShortCycle(
        id="c", name="c", source="s", surface=STICKY,
        phases=(
            Phase(name="in", kind="drive", distance=8.0, gear="1"),
            Phase(name="dig", kind="crowd", time=2.0),
            Phase(name="out", kind="drive", distance=8.0, direction="reverse"),
        ),
    )  # fmt: skip
    found = run_cycle(ENGINE, unit, line, machine(), cycle, **AIR)
    idle = 800 * RPM
    torque = 2.2 * idle**2 / (60 * RPM) ** 2
    heat = 0.5 * 0.6 * idle**2 + 0.5 * torque * idle * 0.3
    assert [phase.clutch_heat for phase in found[:2]] == [0.0, 0.0]
    assert found[2].clutch_heat == pytest.approx(heat, rel=1e-9)


AT_ONCE = EngineResponse(share=1.0, time=1.0)


def own_drive(own, response, way, braking=0.8):
    """Time from low idle to a stop in gear 2: own equations, integrated by scipy."""
    unit, line, body = converter(), driveline(), machine()
    gear = next(g for g in line.gears if g.name == "2")
    supply, inertias = engine_supply(own), Inertias.of(own, unit, line, body)
    load = RoadLoad.of(body, STICKY, load="laden", air_density=1.2)
    ratio = line.overall_ratio(gear) / body.rolling_radius
    turning = load.mass + inertias.in_gear(line, gear, body)
    low, high = supply.domain

    def rates(t, y):
        omega, v = min(max(y[0], low), high), max(y[1], 0.0)
        nu = min(v * ratio / omega, 0.99)
        taken = float(unit.capacity_at(nu)) * omega**2
        made = float(supply.source(omega)) * (
            1.0 - (1.0 - response.share) * math.exp(-t / response.time)
        )
        left = made - float(supply.load_torque(np.asarray(omega))) - taken
        pull = float(unit.torque_ratio_at(nu)) * taken - float(gear.drag_torque(v * ratio))
        force = pull * line.efficiency(gear) * ratio - float(load.resistance(0.0, v))
        return [left / inertias.engine, force / turning if v > 0 or force > 0 else 0.0, v]

    def brakes(t, y):
        return y[1] ** 2 / (2.0 * braking) - (way - y[2])

    brakes.terminal = True
    run = solve_ivp(rates, (0, 60), [low, 0, 0], events=brakes, rtol=1e-8, atol=1e-8, max_step=0.1)
    return run.t[-1] + run.y[1, -1] / braking


@pytest.mark.slow
def test_torque_that_takes_time_costs_time_in_every_drive():
    phase = Phase(name="out", kind="drive", distance=15.0, gear="2", load="laden")
    own = engine(fuel=FUEL, inertia=1.5)
    slow = EngineResponse(share=0.5, time=1.0)
    (ideal,), (late,) = run(phase, own=own), run(phase, own=own, response=slow)
    own_time = own_drive(own, slow, 15.0) - own_drive(own, AT_ONCE, 15.0)
    # The phase gives the pumps nothing; its slip and drag are in both. Linear steps of the course
    # and its integration to 1e-6 leave some milliseconds.
    assert late.lag == pytest.approx(own_time, abs=0.02)
    assert late.top_speed < ideal.top_speed
    assert late.time == pytest.approx(ideal.time + late.lag, rel=1e-9)
    # Less torque makes less heat in the converter, in spite of the time that it takes.
    assert 0.8 * ideal.oil_heat < late.oil_heat < ideal.oil_heat
    (none,) = run(phase, own=own, response=AT_ONCE)
    assert none.lag == pytest.approx(0.0, abs=1e-6)
