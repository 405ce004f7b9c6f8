"""From a simulated log back to the curve that made it."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.judgement.identify.identify import LogBasis, identify
from converter_match.judgement.identify.synthetic_log import Signals, log_text, synthetic_log
from converter_match.library.machine_log import MachineLog
from converter_match.library.read import read_converter, read_engine
from converter_match.library.shipped import data_folder, shipped
from converter_match.physics.stall.settling import density_factor
from converter_match.units import note_text
from tests.examples import RPM, converter, engine
from tests.machines import driveline, machine

LOG = data_folder() / "logs" / "loader-shift.csv"


@pytest.fixture(scope="module")
def pair():
    return (
        read_engine(shipped("engines")["six-cylinder-7l-185kw"]),
        read_converter(shipped("converters")["single-stage-345mm-tight"]),
    )


@pytest.fixture(scope="module")
def found(pair):
    return from_file(pair)


def from_file(pair, rows=200_000, **changes):
    log = MachineLog(LOG, reference_torque=1004.0)
    basis = LogBasis(**({"engine": pair[0], "converter": pair[1]} | changes))
    return identify((piece.columns for piece in log.pieces(rows)), basis)


def test_planted_curve_is_recovered_from_noise_delay_and_steps(found):
    off = [node.capacity_against_sheet[0] - 1 for node in found.covered]
    assert len(off) >= 14
    # Torque steps of 1 % dithered by 1 % of noise: a few tenths of a percent are left.
    assert np.abs(off).max() < 0.006
    inside = [
        n.capacity_against_sheet[1] <= 1 <= n.capacity_against_sheet[2] for n in found.covered
    ]
    assert np.mean(inside) > 0.75
    ratio = [n.torque_ratio[0] / n.sheet_torque_ratio - 1 for n in found.covered]
    assert np.abs(ratio).max() < 0.006


def test_gap_is_named_with_the_driving_that_fills_it(found):
    gap = next(gap for gap in found.gaps if gap.low <= 0.45 <= gap.high)
    assert "full throttle" in gap.driving
    assert found.gaps[-1].high == pytest.approx(0.98)


def test_gaps_that_touch_and_want_the_same_driving_are_said_once(found):
    stretches = found.to_fill
    assert sum(gap.high - gap.low for gap in stretches) == pytest.approx(
        sum(gap.high - gap.low for gap in found.gaps)
    )
    assert len(stretches) < len(found.gaps)
    for one, two in pairwise(stretches):
        assert (one.high, one.driving) != (two.low, two.driving)
    said = found.text().split("To fill the gaps\n")[1].split("\n\n")[0].strip().splitlines()
    assert len(said) == len(stretches)


def test_the_same_answer_however_the_log_is_cut(found, pair):
    other = from_file(pair, rows=777)
    assert other.samples == found.samples
    for one, two in zip(found.nodes, other.nodes, strict=True):
        assert (one.capacity is None) == (two.capacity is None)
        if one.capacity is not None:
            # Sums in another order, and the fair choice falls otherwise in full bins only.
            assert two.capacity[0] == pytest.approx(one.capacity[0], rel=1e-9)


def test_log_of_another_engine_or_converter_is_asked_about(found, pair):
    code = "far-from-sheet"
    assert code not in [note.code for note in found.notes]
    other = read_converter(shipped("converters")["single-stage-260mm"])
    told = from_file((pair[0], other))
    # Both sheets side by side, by hand: what the log's converter takes, over what this one says.
    ratios = [float(pair[1].capacity_at(n.speed_ratio)) / n.sheet_capacity for n in told.covered]
    assert told.level == pytest.approx(np.median(ratios), rel=0.01)
    assert told.level > 2
    [note] = [note for note in told.notes if note.code == code]
    assert note.kind == "warning"
    assert f"Capacity {told.level:.3f} times" in note_text(note, "si")
    assert "is this the engine and converter that made the log" in told.text()


def test_coupling_point_is_found_without_a_sheet(pair):
    alone = from_file(pair, converter=None)
    assert alone.coupling_found == pytest.approx(pair[1].coupling, abs=0.0101)
    assert "coupling-found" in [note.code for note in alone.notes]
    assert alone.level is None


@pytest.mark.slow
def test_torque_signal_that_is_wrong_alike_moves_the_level_and_not_the_shape():
    e = engine(inertia=1.4)
    c = converter(impeller_inertia=0.3, turbine_inertia=0.2)
    log = synthetic_log(
        e, c, speed_ratios=[0.0, 0.03] * 5, dwell=7.0, seed=3, signals=Signals(torque_scale=1.04)
    )
    found = identify([log], LogBasis(engine=e, converter=c))
    # 4 % of the gross torque is a little more of the net.
    assert found.level == pytest.approx(1.042, abs=0.006)


def steady(nu=0.5, blocks=30, grade=None, torque=800.0, speed=1800 * RPM, oil=363.15):
    time = np.arange(0, blocks, 0.1)
    # Breaks in between make episodes of it.
    time = time + 5.0 * np.floor(time / 5.0)
    rng = np.random.default_rng(1)
    columns = {
        "time": time,
        "engine speed": np.full(time.size, speed) + 0.01 * rng.standard_normal(time.size),
        "turbine speed": np.full(time.size, nu * speed),
        "engine torque": np.full(time.size, torque),
        "oil temperature": np.full(time.size, oil),
    }
    if grade is not None:
        columns["grade"] = np.full(time.size, grade)
    return columns


def test_capacity_is_torque_over_speed_squared_in_oil_of_the_sheet():
    found = identify([steady(nu=0.5, blocks=60, oil=343.15)])
    node = next(n for n in found.nodes if n.speed_ratio == 0.5)
    expected = 800.0 / (1800 * RPM) ** 2 / float(density_factor(343.15))
    assert node.capacity[0] == pytest.approx(expected, rel=1e-4)
    codes = [note.code for note in found.notes]
    assert {"torque-taken-as-impeller", "inertia-not-known", "torque-signal"} <= set(codes)


def test_torque_ratio_from_grade_and_mass():
    truck, gears = machine(slip=machine().slip), driveline()
    gear = gears.gear("2")
    basis = LogBasis(machine=truck, driveline=gears, gear="2", rolling_resistance=0.03)
    found = identify([steady(nu=0.5, blocks=60, grade=0.08)], basis)
    node = next(n for n in found.nodes if n.speed_ratio == 0.5)
    # By hand: F = m g (c_r cos + sin) + running drag + air, T = F r / (i eta) + drag.
    mass, angle = truck.mass("laden"), np.arctan(0.08)
    ratio = gear.ratio * 20.0
    turbine = 0.5 * 1800 * RPM
    road = turbine * 0.75 / ratio
    force = mass * 9.80665 * (0.03 * np.cos(angle) + np.sin(angle)) + 800.0
    force += 0.5 * 1.225 * 7.0 * 0.9 * road**2  # ISO 2533 at sea level
    torque = force * 0.75 / (ratio * 0.96 * 0.95) + 5.0 + 15.0 * turbine / (2000 * RPM)
    assert node.torque_ratio[0] == pytest.approx(torque / 800.0, rel=1e-4)
    assert "air-density-standard" in {note.code for note in found.notes}
    without = basis.machine.replace(frontal_area=None, drag_coefficient=None)
    silent = identify([steady(nu=0.5, blocks=60, grade=0.08)], replace(basis, machine=without))
    assert "air-density-standard" not in {note.code for note in silent.notes}


def test_locked_up_and_cold_stretches_are_left_out_and_counted():
    locked = steady(nu=1.0)
    later = {k: v + (1000.0 if k == "time" else 0.0) for k, v in steady(nu=0.5, blocks=60).items()}
    found = identify([locked, later])
    assert found.locked > 10
    assert all(n.samples == 0 for n in found.nodes if n.speed_ratio > 0.9)
    with pytest.raises(InputError, match="too few stretches"):
        identify([steady(oil=300.0)])


def test_restless_log_is_refused_with_the_counts():
    rng = np.random.default_rng(2)
    columns = steady(blocks=40)
    columns["engine speed"] = columns["engine speed"] * (1 + 0.3 * rng.random(400))
    columns["engine torque"] = 800 * rng.random(400)
    with pytest.raises(InputError, match="0 steady stretches of"):
        identify([columns])


def test_synthetic_log_repeats_and_reads_back(tmp_path):
    e = engine(inertia=1.4)
    c = converter(impeller_inertia=0.3, turbine_inertia=0.2)
    options = {"speed_ratios": [0.3, 0.5], "dwell": 3.0, "seed": 9}
    one, two = (synthetic_log(e, c, **options) for _ in range(2))
    assert all(np.array_equal(one[name], two[name]) for name in one)
    path = tmp_path / "log.csv"
    path.write_text(log_text(one, reference_torque=1000.0), encoding="utf-8")
    [piece] = MachineLog(path, reference_torque=1000.0).pieces()
    assert piece.columns["engine speed"] == pytest.approx(one["engine speed"], abs=1e-3 * RPM)
    assert piece.columns["engine torque"] == pytest.approx(one["engine torque"], abs=0.06)
