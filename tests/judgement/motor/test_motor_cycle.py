"""A loader's short cycle with a motor: energy by closed forms, phase by phase."""

import numpy as np
import pytest

import converter_match as cm
from converter_match.judgement.motor.drive import MotorDrive
from converter_match.judgement.motor.setup import MotorSetup
from converter_match.judgement.motor.short_cycle import motor_cycle
from converter_match.library.cycle_csv import read_cycle
from converter_match.library.shipped import find
from converter_match.library.surfaces import read_surfaces
from tests.motors import RPM, motor

# Times the torque of the motor for tests, so that it moves a loader.
STRONG = 5.0


@pytest.fixture(scope="module")
def parts():
    return cm.read("single-stage-345mm-tight", "four-speed-loader", "wheel-loader-17t")


@pytest.fixture(scope="module")
def driven(parts):
    unit, line, loader = parts
    one = motor()
    strong = motor(
        **{name: STRONG * getattr(one, name) for name in ("peak", "continuous", "regenerative")}
    )
    cycle = read_cycle(find("cycles", "loader-truck-loading"), read_surfaces())
    return motor_cycle(MotorDrive(MotorSetup(strong), unit), line, loader, cycle)


def losses(torque):
    # Of tests.motors: 100 W standing, 1500 W of copper at 100 N.m.
    return 100.0 + 1500.0 * (torque / 100.0) ** 2


def test_standing_takes_the_pumps_power_and_the_motors_losses(driven):
    # Closed form: E = (P + losses(P / omega)) t, at the corner of the peak torque.
    for run in driven.runs.values():
        dump = next(each for each in run.phases if each.run.phase.kind == "stand")
        power, time = dump.run.phase.hydraulic_power, dump.run.phase.time
        assert dump.run.engine_speed == pytest.approx(1500.0 * RPM)
        expected = (power + losses(power / dump.run.engine_speed)) * time
        assert dump.drawn == pytest.approx(expected, rel=5e-3)


def test_crowding_is_power_at_the_shaft_and_losses(driven):
    crowding = next(e for e in driven.runs["continuous"].phases if e.run.phase.kind == "crowd")
    torque, speed = float(crowding.torque[0]), float(crowding.speed[0])
    expected = (torque * speed + losses(torque)) * crowding.run.phase.time
    assert crowding.drawn == pytest.approx(expected, rel=1e-9)
    # What the shaft gives is what converter and pumps take: C omega^2 + P / omega.
    pumps = crowding.run.hydraulic_power / speed
    assert torque == pytest.approx(crowding.run.impeller_torque + pumps, rel=1e-6)


def test_pumps_get_what_they_ask_for_or_the_most_that_a_constant_torque_gives(driven, parts):
    # P = T_p sqrt((T - T_p) / C) is greatest at T_p = 2 T / 3: P = 2 T / 3 sqrt(T / (3 C)).
    capacity = float(parts[0].capacity_at(0.0))
    for rating, torque in (("peak", 200.0 * STRONG), ("continuous", 100.0 * STRONG)):
        most = 2.0 * torque / 3.0 * np.sqrt(torque / (3.0 * capacity))
        crowding = next(e for e in driven.runs[rating].phases if e.run.phase.kind == "crowd")
        asked = crowding.run.phase.hydraulic_power
        assert crowding.run.hydraulic_power == pytest.approx(min(asked, most), rel=1e-2)


def test_the_cycle_is_the_sum_of_its_phases_and_blank_where_a_motor_has_no_figure(driven):
    data = driven.to_dict()
    rows = [row for row in data["phases"] if row["rating"] == "peak"]
    assert sum(row["drawn_kwh"] for row in rows) == pytest.approx(
        data["peak"]["drawn_kwh"], abs=1e-9
    )
    # Per ton: a division by hand.
    net = data["peak"]["drawn_kwh"] - data["peak"]["returned_kwh"]
    assert data["peak"]["per_t_kwh"] == pytest.approx(net / (driven.machine.payload / 1e3))
    assert data["fuel"] is None
    time = np.array([row["time_s"] for row in rows])
    assert time.sum() == pytest.approx(data["peak"]["time_s"])


def test_coupled_directly_a_standing_motor_turns_no_pump(parts):
    _, line, loader = parts
    drive = cm.couple_directly(cm.read("loader-650v-120kw"), ratio=1.5)
    result = cm.work_cycle(drive, line, loader, "loader-truck-loading")
    crowding = result.runs["peak"].phases[1]
    assert crowding.run.hydraulic_power == 0.0
    assert crowding.run.oil_heat == 0.0
    assert any(note.code == "motor-leaves-pumps-short" for note in result.notes)
