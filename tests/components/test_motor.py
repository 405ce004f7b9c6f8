"""A motor refuses what no motor is, and knows its corner, its limits and its winding."""

import numpy as np
import pytest

from converter_match.components.motor import Supply
from converter_match.components.motor_losses import EfficiencyMap, LossModel
from converter_match.components.winding import Winding
from converter_match.errors import InputError
from tests.motors import RPM, motor


def test_motor_knows_where_its_field_is_weakened():
    found = motor()
    assert found.base_speed == pytest.approx(1500 * RPM)
    # 200 N.m at 1500 rpm; constant power beyond.
    assert found.peak_power == pytest.approx(200 * 1500 * RPM, rel=1e-3)
    assert found.overload == pytest.approx(4.0)


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"speed": np.array([10, 1500, 3000]) * RPM, "peak": [1, 1, 1], "continuous": [1, 1, 1],
          "regenerative": None}, "torque.speed[0]", "do not begin at standstill"),
        ({"regenerative": 1.0}, "torque.regenerative[0]", "brakes"),
        ({"continuous": 201.0}, "torque.continuous[0]", "above the peak"),
        ({"peak": -1.0}, "torque.peak[0]", "below zero"),
        ({"speed_limit": 9000 * RPM}, "speed_limit", "beyond the last row"),
        ({"peak_time": 0.0}, "duty.peak_time", "out of range"),
        ({"peak_from": "warm"}, "duty.peak_from", "room above it"),
    ],
)  # fmt: skip
def test_motor_refuses(changes, field, words):
    rows = motor()
    full = {
        name: np.full(rows.speed.size, value) if isinstance(value, float)
        and name in ("peak", "continuous", "regenerative") else value
        for name, value in changes.items()
    }  # fmt: skip
    with pytest.raises(InputError, match=words) as refused:
        rows.replace(**full)
    assert refused.value.field == field


def test_motor_without_torque_at_rest_is_refused():
    rows = motor()
    none = np.concatenate([[0.0], rows.continuous[1:]])
    with pytest.raises(InputError, match="no torque at standstill"):
        rows.replace(continuous=none)


def test_voltages_are_in_order():
    with pytest.raises(InputError, match=r"voltage\.least.*above the nominal"):
        Supply(nominal=80.0, least=90.0)
    with pytest.raises(InputError, match=r"voltage\.most.*below the nominal"):
        Supply(nominal=80.0, most=70.0)


def test_losses_are_the_sum_of_three():
    losses = LossModel(standing=100.0, copper_power=400.0, copper_torque=50.0, speed_power=80.0,
                       at_speed=100.0, exponent=2.0)  # fmt: skip
    # By hand: 100 + 400 (25/50)^2 + 80 (200/100)^2.
    assert losses.at(-25.0, 200.0) == pytest.approx(100 + 100 + 320)


def test_map_gives_back_its_efficiency_and_the_loss_between():
    chart = EfficiencyMap(speed=[100.0, 200.0], torque=[10.0, 30.0],
                          efficiency=[[0.8, 0.9], [0.85, 0.95]])  # fmt: skip
    lost = [power * (1 / eta - 1) for power, eta in
            ((1000, 0.8), (3000, 0.9), (2000, 0.85), (6000, 0.95))]  # fmt: skip
    assert chart.at(30.0, 200.0) == pytest.approx(lost[3])
    assert chart.at(-20.0, 150.0) == pytest.approx(np.mean(lost))
    assert chart.at(0.0, 0.0) == pytest.approx(lost[0])  # the edge's stands


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"efficiency": [[0.8, 1.0], [0.85, 0.95]]}, "out of range"),
        ({"efficiency": [[0.8, 0.9]]}, "not a full grid"),
        ({"speed": [0.0, 200.0]}, "not above zero"),
    ],
)
def test_map_refuses(changes, words):
    whole = {"speed": [100.0, 200.0], "torque": [10.0, 30.0],
             "efficiency": [[0.8, 0.9], [0.85, 0.95]]}  # fmt: skip
    with pytest.raises(InputError, match=words):
        EfficiencyMap(**(whole | changes))


# Permitted rises by resistance of IEC 60034-1, table for machines of the common kind: from memory.
@pytest.mark.parametrize(("name", "rise"), [("130", 80.0), ("155", 105.0), ("180", 125.0)])
def test_class_permits_the_rise_of_the_standard(name, rise):
    winding = Winding(thermal_class=name)
    assert winding.permitted_rise == rise
    assert winding.limit == pytest.approx(273.15 + 40.0 + rise)
    assert Winding(thermal_class=name, rise_at_continuous=60.0).headroom == rise / 60.0


def test_winding_refuses_a_rise_beyond_its_class():
    with pytest.raises(InputError, match="above the rise that the thermal class permits"):
        Winding(thermal_class="130", rise_at_continuous=100.0)


def test_what_is_not_given_is_said():
    codes = {note.code for note in motor(losses=None, regenerative=None).notes}
    assert {"motor-losses-not-given", "no-regeneration", "voltage-not-given",
            "thermal-class-not-given"} <= codes  # fmt: skip
    given = {note.code for note in motor().notes}
    assert "generator-losses-as-motor" in given
    chart = EfficiencyMap(speed=[100.0, 200.0], torque=[10.0, 30.0],
                          efficiency=[[0.8, 0.9], [0.85, 0.95]])  # fmt: skip
    assert "efficiency-map-edges" in {note.code for note in motor(losses=chart).notes}
