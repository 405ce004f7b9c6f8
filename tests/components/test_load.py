"""Loads that are no vehicle, seen from the turbine shaft."""

import math

import pytest

from converter_match.components.engine import SpeedTable
from converter_match.components.load import (
    Conveyor,
    FlowMachine,
    TorqueTable,
    layer_radius,
)
from converter_match.errors import InputError
from tests.load_examples import load, winch


def test_a_layer_runs_one_rope_further_out_than_the_one_below():
    # Textbooks of hoisting: drum radius + (layer - 1/2) x rope diameter; by hand.
    assert layer_radius(0.4, 0.02, [1, 2, 3]).tolist() == pytest.approx([0.21, 0.23, 0.25])
    assert winch().radii.tolist() == pytest.approx([0.21, 0.23, 0.25])


def test_torque_and_power_of_a_pump_follow_the_affinity_laws():
    # Torque with the square of speed, power with its cube (affinity laws, any pump handbook).
    pump = FlowMachine(machine="pump", torque=500.0, speed=100.0)
    (line,) = load(pump, ratio=2.0, efficiency=0.8).lines()
    at, twice = 2.0 * 100.0, 4.0 * 100.0
    assert float(line(at)) == pytest.approx(500.0 / 2.0 / 0.8)
    assert float(line(twice)) / float(line(at)) == pytest.approx(4.0)
    assert float(line(twice)) * twice / (float(line(at)) * at) == pytest.approx(8.0)


def test_a_gear_divides_the_torque_and_its_losses_add_to_it_or_hold_it_back():
    lines = load(winch(lowering_efficiency=0.7), ratio=20.0, efficiency=0.9).lines()
    assert [line.layer for line in lines] == [1, 2, 3]
    for line, radius in zip(lines, (0.21, 0.23, 0.25), strict=True):
        assert line.constant == pytest.approx(50e3 * radius / (20.0 * 0.9))
        assert line.lowering == pytest.approx(50e3 * radius * 0.7 / 20.0)
        assert line([-5.0, 0.0, 5.0]).tolist() == [line.lowering, line.constant, line.constant]


def test_a_hauled_load_only_resists():
    (line, *_) = load(winch(work="haul"), ratio=20.0).lines()
    assert line.lowering is None
    assert line([-5.0, 5.0]).tolist() == [-line.constant, line.constant]


def test_breakaway_is_what_is_given_or_what_the_load_takes_while_it_runs():
    assert load(Conveyor(torque=90.0)).lines()[0].breakaway == 90.0
    assert load(Conveyor(torque=90.0, breakaway_torque=140.0)).lines()[0].breakaway == 140.0
    assert load(FlowMachine(machine="pump", torque=5.0, speed=9.0)).lines()[0].breakaway == 0.0
    lines = load(winch(breakaway_pull=60e3)).lines()
    assert lines[0].breakaway == pytest.approx(60e3 * 0.21)


def test_a_table_is_known_as_far_as_it_goes():
    table = SpeedTable(speed=[0.0, 10.0, 20.0], value=[30.0, 20.0, 40.0], name="table")
    (line,) = load(TorqueTable(table=table), ratio=3.0).lines()
    assert line.last_speed == 60.0
    assert line([0.0, 30.0, 60.0]).tolist() == pytest.approx([10.0, 20.0 / 3.0, 40.0 / 3.0])
    assert math.isnan(float(line(60.1)))
    assert line.breakaway == pytest.approx(10.0)


def test_inertia_goes_through_the_gear_with_its_square():
    of = load(Conveyor(torque=90.0), ratio=4.0, inertia=32.0)
    assert of.driven_inertia == 2.0
    assert load(Conveyor(torque=90.0)).driven_inertia is None


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: winch(layers=0), "winch.layers: not a number of layers"),
        (lambda: winch(layers=2.5), "winch.layers"),
        (lambda: winch(drum_diameter=-1.0), "winch.drum_diameter"),
        (lambda: winch(work="lift"), "hoist | haul"),
        (lambda: winch(breakaway_pull=40e3), "does not start more easily"),
        (lambda: winch(lowering_efficiency=1.2), "winch.lowering_efficiency"),
        (lambda: winch(work="haul", lowering_efficiency=0.8), 'work = "hoist"'),
        (lambda: Conveyor(torque=90.0, breakaway_torque=80.0), "conveyor.breakaway_torque"),
        (lambda: FlowMachine(machine="pump", torque=0.0, speed=1.0), "pump.torque"),
        (lambda: load(Conveyor(torque=9.0), efficiency=1.1), "efficiency"),
        (lambda: load(Conveyor(torque=9.0), ratio=0.0), "ratio"),
        (
            lambda: TorqueTable(table=SpeedTable(speed=[5.0, 9.0], value=[3.0, 3.0], name="t")),
            "known from rest on",
        ),
    ],
)
def test_what_cannot_be_is_refused(make, says):
    with pytest.raises(InputError) as refused:
        make()
    assert says in str(refused.value)


def test_a_load_is_a_value():
    one = load(winch(), ratio=20.0)
    assert one == load(winch(), ratio=20.0)
    assert one != load(winch(line_pull=51e3), ratio=20.0)
    assert one.kind == "winch"
    assert one.hoists
