"""The match of a motor: both torques, what is warned of, and what is not asked of a motor."""

import json

import numpy as np
import pytest

from converter_match.components.site import Site
from converter_match.components.winding import Winding
from converter_match.judgement.motor.solve import solve_motor
from converter_match.library.read import read_converter, read_motor
from converter_match.library.shipped import shipped
from tests.examples import converter
from tests.motors import RPM, motor


def codes(result):
    return {note.code for note in result.notes}


def truck(**where):
    return solve_motor(
        read_motor(shipped("motors")["lift-truck-80v-30kw"]),
        read_converter(shipped("converters")["single-stage-260mm"]),
        **where,
    )


def test_stall_is_where_both_torques_meet_what_the_converter_absorbs():
    result = truck()
    sheet = result.converter
    for rated in (result.peak, result.continuous):
        point = rated.stall
        assert point.input_torque == pytest.approx(
            float(sheet.capacity_at(0.0)) * point.engine_speed**2
        )
        assert point.heat == pytest.approx(point.input_torque * point.engine_speed)
    # The converter absorbs 41.3 N.m at 1000 rpm: the 126.6 N.m left after a charge pump of
    # 3.41 N.m meet it at 1000 sqrt(126.6/41.3) rpm (own arithmetic).
    net = 130.0 - 1000.0 / (2800 * RPM)
    assert result.continuous.stall.engine_speed / RPM == pytest.approx(
        1000 * np.sqrt(net / 41.3), rel=1e-3
    )


def test_named_points_come_in_the_order_in_which_they_are_passed():
    for rated in (truck().peak, truck().continuous):
        ratios = [item.point.speed_ratio for item in rated.key_points()]
        assert ratios == sorted(ratios)
        named = [item.code for item in rated.key_points()]
        assert named[0] == "stall"
        assert named[-1] == "speed_limit"


def test_what_an_engine_has_and_a_motor_has_not_is_said():
    result = truck()
    said = " ".join(result.to_dict()["motor"]["does_not_apply"])
    for word in ("idle", "creep", "droop", "intake air"):
        assert word in said
    assert "does not apply" in result.text()
    assert not codes(result) & {"idle-in-gear-torque", "cannot-hold-idle", "stall-on-governor"}


def test_peak_at_stall_is_an_overload_with_its_time():
    result = truck()
    torque, share, time = result.duty_of(result.peak.stall)
    assert "stall-is-overload" in codes(result)
    # Beyond the corner both torques fall alike, so the share and the time are those of the corner.
    assert share == pytest.approx(240.0 / 130.0, rel=1e-3)
    assert time == pytest.approx(180.0, rel=1e-3)
    assert torque > result.peak.stall.input_torque  # the pump takes its part
    easy = solve_motor(motor(continuous=motor().peak), converter())
    assert "stall-within-continuous" in codes(easy)


def test_limits_of_the_converter_are_held_against_the_peak():
    sheet = read_converter(shipped("converters")["single-stage-260mm"])
    tight = sheet.replace(
        limits=type(sheet.limits)(input_torque=200.0, input_power=40e3, input_speed=3500 * RPM)
    )
    result = solve_motor(read_motor(shipped("motors")["lift-truck-80v-30kw"]), tight)
    assert {"limit-input-torque", "limit-input-power", "limit-input-speed"} <= codes(result)
    assert result.fails
    assert not truck().fails


def test_hot_air_leaves_less_of_the_continuous_torque():
    given = motor(winding=Winding(thermal_class="155", coolant=273.15 + 20.0))
    site = Site(id="hot", name="hot", source="test", altitude=0.0, air_temperature=273.15 + 57.8)
    hot, cool = solve_motor(given, converter(), site=site), solve_motor(given, converter())
    # 105 K permitted, 37.8 K of them gone: sqrt(0.64) = 0.8 of the torque is left.
    ratio = hot.continuous.stall.input_torque / cool.continuous.stall.input_torque
    assert ratio == pytest.approx(0.8, rel=2e-3)
    assert hot.peak.stall.input_torque == cool.peak.stall.input_torque
    assert "motor-coolant-hot" in codes(hot)


def test_thin_air_and_low_voltage_are_said():
    site = Site(id="high", name="high", source="test", altitude=2500.0, air_temperature=290.0)
    result = truck(site=site, voltage=72.0)
    assert {"motor-altitude", "voltage-moves-corner", "voltage-ends-curve"} <= codes(result)
    assert result.setup.top_speed == pytest.approx(3600 * RPM)


def test_result_is_plain_data_and_knows_its_electric_power():
    data = truck().to_dict()
    json.dumps(data, allow_nan=False)
    row = next(row for row in data["key_points"]["rows"] if row["rating"] == "continuous")
    assert row["held_from_cold_s"] is None
    assert row["share_of_continuous_percent"] == pytest.approx(100.0)
    lost = row["electric_power_kw"] - (130.0 * row["engine_speed_rpm"] * RPM) / 1e3
    # 0.15 + 2.4 + 0.9 (n / 2200)^1.5 kW by the file.
    assert lost == pytest.approx(0.15 + 2.4 + 0.9 * (row["engine_speed_rpm"] / 2200) ** 1.5)
