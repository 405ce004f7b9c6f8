"""Shares of one step worked out by hand, from the wheel to the engine, driving and holding back."""

from dataclasses import fields, replace

import numpy as np
import pytest

from converter_match.components.engine import Fuel, SpeedTable
from converter_match.components.machine import Slip
from converter_match.constants import GRAVITY
from converter_match.physics.arrangement.overrun import motoring_supply
from converter_match.physics.engine.fuel import fuel_law
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.haul.energy import Ledger, step_energy
from converter_match.physics.haul.loads import Draws, SegmentLoads
from converter_match.physics.haul.route import hauler
from converter_match.physics.haul.steps import SpeedProfile
from converter_match.physics.wheels.road_load import RoadLoad
from tests.examples import RPM, converter, engine
from tests.machines import driveline, machine, surface

ENGINE = engine(
    motoring=SpeedTable(
        name="motoring", speed=np.array([800, 2400]) * RPM, value=np.array([80.0, 240.0])
    ),
    fuel=Fuel(
        specific=SpeedTable(
            name="fuel", speed=np.array([800, 2200]) * RPM, value=np.full(2, 210e-3 / 3.6e6)
        )
    ),
    inertia=1.4,
)
INERT = converter(impeller_inertia=0.6, turbine_inertia=0.25)
LINE = driveline(input_inertia=0.15, output_inertia=0.3)
# A tenth of slip whatever the pull, so that the tread turns 1 / 0.9 as fast as the ground passes.
MACHINE = machine(wheel_inertia=90.0, slip=Slip(constant=0.1))
READY = hauler(
    ENGINE, INERT, LINE, MACHINE, engine_supply(ENGINE),
    RoadLoad.of(MACHINE, surface(), load="laden", air_density=1.2),
    air_density=1.2, air_temperature=300.0,
)  # fmt: skip
CHAIN = READY.chain
MASS, ROLLING = 20_000.0, 0.03
AIR, DRAG = 4.0, 800.0
ETA_GEAR, ETA_AXLE, STAGE, RADIUS = 0.96, 0.95, 20.0, 0.75


def state_of(gear, drive):
    return next(
        k for k, d in enumerate(CHAIN.drives) if d.gear.name == gear and d.drive == drive
    )  # fmt: skip


def one_step(state, v0, v1, time, grade=0.0, draws=None, ready=READY, grip=6.0):
    """Energies of a single step that is driven from v0 to v1 in a time."""
    draws = draws or Draws.of()
    many = draws.size
    profile = SpeedProfile(
        speed=np.array([np.full(many, v0), np.full(many, v1)]),
        time=np.full((1, many), time),
        state=np.full((1, many), state, dtype=np.int16),
        segment=np.zeros((1, many), dtype=int),
        length=np.full((1, many), 0.5 * (v0 + v1) * time),
        stands=np.zeros((1, many), dtype=bool),
        held=np.zeros((1, many), dtype=bool),
        better=np.full((1, many), state, dtype=np.int16),
        costs=np.zeros((1, many)),
        left=np.zeros((1, many)),
        stuck=np.full(many, -1),
        stuck_force=np.full(many, np.nan),
        shifts=np.zeros(many, dtype=int),
    )
    angle = np.arctan(grade)
    asked = SegmentLoads(
        mass=np.array([MASS]), rolling=np.array([ROLLING * np.cos(angle)]),
        climbing=np.array([np.sin(angle)]), grip=np.array([grip]),
        whole_grip=np.array([np.inf]), moved=np.zeros(1), air=AIR, running_drag=DRAG,
    )  # fmt: skip
    return step_energy(ready.model, profile, asked, draws)


def accessories(speed):
    rated = 2200 * RPM
    return 11e3 / rated * (speed / rated) ** 2 + 3e3 / rated * (speed / rated) ** 0.4


class ByHand:
    """From the ground to the turbine shaft, one step; the wheels may drive or be driven."""

    def __init__(self, ratio, v0, v1, time, grade=0.0, mass=1.0, rolling=1.0):
        self.v, self.a, self.time = 0.5 * (v0 + v1), (v1 - v0) / time, time
        self.way = self.v * time
        angle = np.arctan(grade)
        self.m = MASS * mass
        self.rolling = self.m * GRAVITY * ROLLING * rolling * np.cos(angle)
        self.climb = self.m * GRAVITY * np.sin(angle)
        self.air = AIR * self.v**2
        self.ground = self.rolling + self.climb + self.air + DRAG + self.m * self.a
        self.tread = self.v / 0.9 if self.ground > 0 else self.v
        wheel_rate = self.a / RADIUS
        self.wheel_speed = self.tread / RADIUS
        self.output_speed = STAGE * self.wheel_speed
        self.turbine_speed = ratio * self.output_speed
        self.j = {
            "wheel": 90.0 * wheel_rate,
            "output": 0.3 * wheel_rate * STAGE,
            "turbine": 0.4 * wheel_rate * STAGE * ratio,
        }
        self.gear_drag = 5.0 + 15.0 * self.turbine_speed / (2000 * RPM)
        self.wheel = self.ground * RADIUS + self.j["wheel"]
        axle = ETA_AXLE if self.wheel > 0 else 1 / ETA_AXLE
        self.shaft = self.wheel / STAGE / axle
        self.output = self.shaft + self.j["output"]
        mesh = ETA_GEAR if self.output > 0 else 1 / ETA_GEAR
        self.into = self.output / ratio / mesh
        self.turbine = self.into + self.j["turbine"] + self.gear_drag

    @property
    def rotating(self):
        return (
            self.j["wheel"] * self.wheel_speed
            + self.j["output"] * self.output_speed
            + self.j["turbine"] * self.turbine_speed
        ) * self.time

    def check(self, ledger, column=0):
        """Everything that does not depend on the engine."""
        v1 = self.v + 0.5 * self.a * self.time
        v0 = self.v - 0.5 * self.a * self.time
        expected = {
            "kinetic": 0.5 * self.m * (v1**2 - v0**2),
            "potential": self.climb * self.way,
            "rolling": self.rolling * self.way,
            "air": self.air * self.way,
            "running": DRAG * self.way,
            "slip": self.ground * (self.tread - self.v) * self.time,
            "drag": self.gear_drag * self.turbine_speed * self.time,
            "meshes": (self.into * self.turbine_speed - self.output * self.output_speed)
            * self.time,
            "stages": (self.shaft * self.output_speed - self.wheel * self.wheel_speed) * self.time,
        }
        for name, value in expected.items():
            found = float(getattr(ledger, name)[0, column])
            assert found == pytest.approx(value, rel=1e-9, abs=1e-6), name


def balance(ledger):
    np.testing.assert_allclose(
        ledger.engine, ledger.spent, atol=1e-9 * float(ledger.turnover.max())
    )


def test_locked_up_drive_worked_by_hand():
    state = state_of("2", "lock-up")
    hand = ByHand(2.2, 2.6, 2.8, 2.0, grade=0.04)
    ledger, states = one_step(state, 2.6, 2.8, 2.0, grade=0.04)
    hand.check(ledger)
    balance(ledger)
    speeding = 2.0 * hand.a / RADIUS * STAGE * 2.2  # engine and impeller, 1.4 + 0.6 kg.m^2
    speed = hand.turbine_speed
    assert speed > 800 * RPM
    assert ledger.rotating[0, 0] == pytest.approx(hand.rotating + speeding * speed * 2.0)
    assert ledger.engine[0, 0] == pytest.approx((hand.turbine + speeding) * speed * 2.0)
    assert (ledger.converter[0, 0], states.converter_heat[0, 0]) == pytest.approx(
        (0.0, 0.0), abs=1e-6
    )
    assert ledger.brakes[0, 0] == pytest.approx(0.0, abs=1e-6)
    assert states.state[0, 0] == state
    assert states.turbine_speed[0, 0] == pytest.approx(speed)
    assert states.engine_speed[0, 0] == pytest.approx(speed)
    assert states.turbine_torque[0, 0] == pytest.approx(hand.turbine)
    assert states.impeller_torque[0, 0] == pytest.approx(hand.turbine)
    flywheel = hand.turbine + speeding + accessories(speed)
    assert states.engine_torque[0, 0] == pytest.approx(flywheel, rel=1e-5)
    lost = float(ledger.meshes[0, 0] + ledger.drag[0, 0]) / 2.0
    assert states.oil_heat[0, 0] == pytest.approx(lost)
    assert states.retarding[0, 0] == 0.0
    burnt = float(fuel_law(ENGINE).rate(flywheel, speed)) * 2.0
    assert states.fuel[0, 0] == pytest.approx(burnt, rel=1e-5)


def test_open_converter_drive_worked_by_hand():
    state = state_of("1", "converter")
    hand = ByHand(4.0, 0.9, 1.1, 1.0, grade=0.1)
    ledger, states = one_step(state, 0.9, 1.1, 1.0, grade=0.1)
    hand.check(ledger)
    balance(ledger)
    # The engine speed at which the converter gives this torque at this turbine speed.
    speed = float(states.engine_speed[0, 0])
    nu = hand.turbine_speed / speed
    impeller = float(INERT.capacity_at(nu)) * speed**2
    mu = float(INERT.torque_ratio_at(nu))
    assert mu * impeller == pytest.approx(hand.turbine, rel=1e-5)
    assert states.turbine_torque[0, 0] == pytest.approx(hand.turbine, rel=1e-9)
    assert states.impeller_torque[0, 0] == pytest.approx(impeller, rel=1e-5)
    made = impeller * speed - hand.turbine * hand.turbine_speed
    assert ledger.converter[0, 0] == pytest.approx(made, rel=1e-4)
    assert states.converter_heat[0, 0] == pytest.approx(made, rel=1e-4)
    lost = float(ledger.meshes[0, 0] + ledger.drag[0, 0])
    assert states.oil_heat[0, 0] == pytest.approx(made + lost, rel=1e-4)
    # The engine follows the turbine as the full-throttle match does: d omega_e / d omega_t.
    curve = CHAIN.drives[state].curve().turbine
    follow = np.interp(
        hand.turbine_speed, curve.turbine_speed,
        np.gradient(curve.engine_speed, curve.turbine_speed),
    )  # fmt: skip
    full_mu = np.interp(
        hand.turbine_speed, curve.turbine_speed, curve.turbine_torque / curve.input_torque
    )
    speeding = 2.0 * follow * full_mu / mu * hand.a / RADIUS * STAGE * 4.0
    torque = float(states.engine_torque[0, 0]) - float(states.impeller_torque[0, 0])
    assert torque == pytest.approx(speeding + accessories(speed), abs=0.02 * abs(speeding) + 0.01)
    assert ledger.rotating[0, 0] - hand.rotating == pytest.approx(
        (torque - accessories(speed)) * speed, rel=0.01
    )


def test_engine_and_brakes_hold_a_machine_back_worked_by_hand():
    state = state_of("2", "lock-up")
    hand = ByHand(2.2, 4.0, 4.0, 3.0, grade=-0.15)
    ledger, states = one_step(state, 4.0, 4.0, 3.0, grade=-0.15)
    balance(ledger)
    assert hand.ground < 0
    for name, force in (("potential", hand.climb), ("rolling", hand.rolling), ("air", hand.air)):
        assert getattr(ledger, name)[0, 0] == pytest.approx(force * hand.way), name
    assert ledger.slip[0, 0] == pytest.approx(0.0)
    # The machine is steep enough for the engine to give all that it can, locked up.
    used = int(states.state[0, 0])
    assert CHAIN.locked[used]
    speed = 4.0 * CHAIN.ratio_over_radius[used]
    assert states.engine_speed[0, 0] == pytest.approx(speed)
    drag = -float(motoring_supply(ENGINE, exhaust_brake=False).torque(speed))
    assert states.impeller_torque[0, 0] == pytest.approx(-drag, rel=1e-3)
    gear_drag = 5.0 + 15.0 * speed / (2000 * RPM)
    held = (drag + gear_drag) / (ETA_GEAR * ETA_AXLE) * CHAIN.ratio_over_radius[used]
    assert states.retarding[0, 0] == pytest.approx(held, rel=1e-3)
    assert states.brake_force[0, 0] == pytest.approx(-hand.ground - held, rel=1e-3)
    assert ledger.brakes[0, 0] == pytest.approx((-hand.ground - held) * 12.0, rel=1e-3)
    # None, to the straight lines between the tabulated drags: a hundredth of idle's 0.2 g/s.
    assert states.fuel[0, 0] == pytest.approx(0.0, abs=3 * 2e-6)
    assert ledger.engine[0, 0] == pytest.approx(-drag * speed * 3.0, rel=1e-3)


def test_engine_gives_back_what_its_inertia_held_when_the_machine_slows():
    state = state_of("3", "lock-up")
    hand = ByHand(1.2, 6.0, 5.0, 2.0, grade=0.09)
    ledger, states = one_step(state, 6.0, 5.0, 2.0, grade=0.09)
    hand.check(ledger)
    balance(ledger)
    speeding = 2.0 * hand.a / RADIUS * STAGE * 1.2
    assert speeding < 0
    given = float(states.engine_torque[0, 0] - states.impeller_torque[0, 0])
    assert given == pytest.approx(speeding + accessories(hand.turbine_speed), rel=1e-4)


def test_each_draw_has_its_own_mass_and_rolling_resistance():
    mass, rolling = [0.8, 1.0, 1.2], [1.0, 2.0, 0.5]
    state = state_of("2", "lock-up")
    ledger, _ = one_step(state, 2.6, 2.8, 2.0, draws=Draws.of(mass, 1.0, rolling))
    for k in range(3):
        ByHand(2.2, 2.6, 2.8, 2.0, mass=mass[k], rolling=rolling[k]).check(ledger, k)
    balance(ledger)


def test_standing_idles_and_moves_no_energy_but_fuel():
    ledger, states = one_step(0, 0.0, 0.0, 20.0, grade=0.05)
    for field in fields(Ledger):
        assert float(getattr(ledger, field.name)[0, 0]) == 0.0, field.name
    idle = 800 * RPM
    assert states.engine_speed[0, 0] == idle
    for name in ("impeller_torque", "turbine_torque", "turbine_speed", "converter_heat"):
        assert float(getattr(states, name)[0, 0]) == 0.0, name
    for name in ("oil_heat", "retarding", "brake_force"):
        assert float(getattr(states, name)[0, 0]) == 0.0, name
    assert states.engine_torque[0, 0] == pytest.approx(accessories(idle), rel=1e-6)
    burnt = 20.0 * float(fuel_law(ENGINE).rate(accessories(idle), idle))
    assert states.fuel[0, 0] == pytest.approx(burnt, rel=1e-6)


def test_creeping_machine_is_held_by_its_brakes():
    # At walking pace downhill the converter pushes by itself: brakes take that and the descent.
    ledger, states = one_step(state_of("1", "converter"), 0.2, 0.2, 5.0, grade=-0.1)
    balance(ledger)
    assert states.engine_speed[0, 0] == pytest.approx(800 * RPM)
    assert states.turbine_torque[0, 0] > 0
    hand = ByHand(4.0, 0.2, 0.2, 5.0, grade=-0.1)
    assert states.brake_force[0, 0] > -hand.ground
    assert states.retarding[0, 0] == 0.0


def test_slip_follows_the_pull_and_a_machine_held_back_has_none():
    table = Slip(use=np.array([0.0, 0.5, 1.0]), slip=np.array([0.0, 0.1, 0.4]))
    other = MACHINE.replace(slip=table)
    ready = replace(READY, machine=other, model=replace(READY.model, machine=other))
    state = state_of("1", "converter")
    ground = ByHand(4.0, 1.0, 1.0, 1.0, grade=0.1).ground
    # Grip such that a quarter of it is used.
    grip = 4.0 * ground / MASS
    _, states = one_step(state, 1.0, 1.0, 1.0, grade=0.1, ready=ready, grip=grip)
    exact = 1.0 / (1.0 - float(table.at(0.25))) / RADIUS * 80.0
    assert states.turbine_speed[0, 0] == pytest.approx(exact, rel=1e-9)
    _, open_ = one_step(state, 1.0, 1.0, 1.0, grade=0.1, ready=ready, grip=np.inf)
    assert open_.turbine_speed[0, 0] == pytest.approx(1.0 / RADIUS * 80.0)
    _, down = one_step(state, 1.0, 1.0, 1.0, grade=-0.1, ready=ready, grip=grip)
    tread = down.turbine_speed[0, 0] / CHAIN.ratio_over_radius[down.state[0, 0]]
    assert tread == pytest.approx(1.0)


def test_state_too_low_for_the_speed_is_raised():
    # A step in whose middle first gear would turn past its end.
    fast = 1.05 * float(CHAIN.top[0]) * 0.9
    ledger, states = one_step(0, fast, fast, 1.0, grade=0.0)
    assert states.state[0, 0] > 0
    tread = fast / 0.9
    assert tread <= CHAIN.top[states.state[0, 0]]
    balance(ledger)


def test_totals_add_the_steps_and_turnover_the_magnitudes():
    rows = np.arange(26.0).reshape(13, 2, 1) - 12.0
    ledger = Ledger(*rows)
    total = ledger.total()
    assert float(total.engine[0]) == rows[0].sum()
    assert float(total.brakes[0]) == rows[12].sum()
    np.testing.assert_allclose(ledger.spent, rows[1:].sum(axis=0))
    np.testing.assert_allclose(ledger.turnover, np.abs(rows).sum(axis=0))


def test_engine_without_fuel_data_leaves_the_fuel_open():
    ready = replace(READY, model=replace(READY.model, fuel=None))
    assert one_step(0, 1.0, 1.0, 1.0, ready=ready)[1].fuel is None


def test_gear_is_changed_to_hold_a_descent_and_not_to_brake_on_a_climb():
    state = state_of("2", "converter")
    _, down = one_step(state, 4.0, 4.0, 3.0, grade=-0.15)
    used = int(down.state[0, 0])
    assert used != state
    assert CHAIN.locked[used]
    assert down.retarding[0, 0] > 0.0
    # 20 t slowed by 2.5 m/s^2 need more than the climb takes: the brakes do it, and that is all.
    _, up = one_step(state, 4.0, 2.0, 0.8, grade=0.09)
    assert int(up.state[0, 0]) == state
    assert up.brake_force[0, 0] > 0.0


def test_engine_that_the_wheels_drive_gives_its_inertia_too():
    # Braked uphill: the wheels drive the locked-up engine while it slows.
    state = state_of("3", "lock-up")
    hand = ByHand(1.2, 6.0, 3.0, 1.0, grade=0.02)
    assert hand.turbine < 0
    ledger, states = one_step(state, 6.0, 3.0, 1.0, grade=0.02)
    assert int(states.state[0, 0]) == state
    balance(ledger)
    speeding = 2.0 * hand.a / RADIUS * STAGE * 1.2
    expected = hand.rotating + speeding * hand.turbine_speed * hand.time
    assert ledger.rotating[0, 0] == pytest.approx(expected, rel=1e-9)


def test_gear_for_a_descent_is_chosen_by_the_engine_locked_up_where_it_locks_up():
    choice, state = READY.model.retarding, state_of("2", "lock-up")
    node = int(np.argmin(np.abs(choice.speed - 4.0)))
    turbine = float(choice.speed[node] * CHAIN.ratio_over_radius[state])
    drag = -float(motoring_supply(ENGINE, exhaust_brake=False).torque(turbine))
    gear_drag = 5.0 + 15.0 * turbine / (2000 * RPM)
    held = (drag + gear_drag) / (ETA_GEAR * ETA_AXLE) * CHAIN.ratio_over_radius[state]
    assert choice.by_state[state, node] == pytest.approx(held, rel=1e-3)  # tabulated drag
