"""An engine governed lower, against the droop line by hand and the part-load map."""

import numpy as np
import pytest
from scipy.optimize import brentq

from converter_match.components.engine import Fuel, SpeedTable
from converter_match.errors import InputError
from converter_match.judgement.match.governed import check_setting, governed_lower
from converter_match.judgement.match.solve import solve
from converter_match.physics.match.part_load_map import part_load_map
from converter_match.physics.match.solver import match as match_over
from tests.examples import RPM, converter, engine, hole_engine
from tests.study_examples import flat_engine, loose


def burning(specific=220.0 / 3.6e9):
    speed = np.array([800, 1500, 2200]) * RPM
    table = SpeedTable(speed=speed, value=[specific] * 3, name="fuel")
    return flat_engine(800.0, fuel=Fuel(specific=table))


@pytest.mark.parametrize("first", [700, 800, 1000])
def test_lowest_setting_is_that_of_the_higher_of_idle_and_first_row(first):
    # Full load ends where the droop line begins, at rated / no-load speed of the setting: below
    # idle nothing runs, below the first row nothing is known.
    speed = np.array([first, 1400, 1800, 2200]) * RPM
    own = engine(speed=speed, torque=[900.0] * 4, low_idle=800 * RPM, accessories=())
    lowest = max(first, 800) * own.high_idle / own.rated_speed * RPM
    check_setting(own, lowest * (1 + 1e-6))
    with pytest.raises(InputError, match="no such setting of the governor") as refused:
        check_setting(own, lowest * (1 - 1e-6))
    assert f"above {lowest / RPM:.5g} rpm" in str(refused.value.expected)


def rows(result):
    return result.to_dict()["governed_lower"]["settings"]


def test_stall_on_a_lower_droop_line_is_where_the_line_by_hand_has_it():
    own, unit = burning(), converter()
    setting = 1500 * RPM
    onset = setting * own.rated_speed / own.high_idle
    capacity = float(unit.capacity_at(0.0))
    assert capacity * onset**2 < 800.0  # the engine is on its governor at stall

    def excess(omega):
        return 800.0 * (setting - omega) / (setting - onset) - capacity * omega**2

    expected = brentq(excess, onset, setting, xtol=1e-12)
    result = governed_lower(solve(own, unit), [setting])
    [_, lower] = result.settings
    assert lower.match.stall.engine_speed == pytest.approx(expected, rel=1e-9)
    # 220 g/kWh at full load; on the droop line by the Willans line of the engine.
    [_, row] = rows(result)
    assert row["governed_speed_rpm"] == pytest.approx(onset / RPM)
    assert not row["stall_below_governor"]
    assert not row["suits"]


def test_above_stall_a_lower_setting_leaves_stall_and_its_fuel_as_they_were():
    own, unit = burning(), converter()
    match = solve(own, unit)
    stall = match.stall
    setting = 1.2 * stall.engine_speed * own.high_idle / own.rated_speed
    full, lower = rows(governed_lower(match, [setting]))
    assert lower["stall_speed_rpm"] == pytest.approx(full["stall_speed_rpm"], rel=1e-9)
    burnt = 800.0 * stall.engine_speed * 220.0 / 3.6e9 * 3600.0
    for row in (full, lower):
        assert row["stall_fuel_kg_per_h"] == pytest.approx(burnt, rel=1e-3)
        assert row["stall_below_governor"]
        assert row["single_match"]
    assert lower["greatest_output_kw"] < full["greatest_output_kw"]


def test_each_setting_agrees_with_the_part_load_map_and_the_air_is_the_same():
    from converter_match.components.site import Site

    site = Site.at("2000 m", "30 degC")
    match = solve(engine(), converter(), site=site, hydraulic_torque=30.0)
    speeds = [2100 * RPM, 1900 * RPM, 1700 * RPM]
    result = governed_lower(match, speeds)
    nu = match.locus.points.speed_ratio[0]
    nu = nu[nu >= 0.0]
    whole = part_load_map(
        engine(), converter(), speeds, nu, torque_factor=match.site.torque_factor,
        hydraulic_torque=30.0,
    )  # fmt: skip
    assert match.site.torque_factor < 1.0
    for row, setting in enumerate(result.settings[1:]):
        own = match_over(setting.match.supply, converter(), nu).from_idle()
        assert whole.points.engine_speed[row] == pytest.approx(own.engine_speed, rel=1e-9)


def test_fuel_at_part_load_is_the_willans_line_by_hand():
    # b at full load, none at minus the motoring torque (60, 80, 100 N.m at 800, 1400, 2200 rpm).
    own, unit = burning(), converter()
    setting = 1500 * RPM
    result = governed_lower(solve(own, unit), [setting])
    points = result.to_dict()["governed_lower"]["part_load"]
    [point] = [
        row for row in points
        if row["speed_ratio"] == 0.8 and row["no_load_speed_rpm"] == pytest.approx(1500)
    ]  # fmt: skip
    omega = point["engine_speed_rpm"] * RPM
    torque = float(unit.capacity_at(0.8)) * omega**2
    friction = np.interp(omega / RPM, [800, 1400, 2200], [60, 80, 100])
    indicated = 220.0 / 3.6e9 * 800.0 / (800.0 + friction)
    expected = indicated * (torque + friction) * omega * 3600.0
    assert point["fuel_rate_kg_per_h"] == pytest.approx(expected, rel=1e-3)
    power = point["output_power_kw"]
    assert point["specific_fuel_g_per_kwh"] == pytest.approx(1000 * expected / power, rel=1e-3)


def test_converter_suits_until_the_stall_speed_meets_the_governor():
    own, unit = engine(), converter()
    match = solve(own, unit)
    droop = own.high_idle / own.rated_speed
    stall = match.stall.engine_speed
    above, below = 1.03 * stall * droop, 0.99 * stall * droop
    _, suits, does_not = rows(governed_lower(match, [below, above]))
    assert suits["stall_below_governor"]
    assert not does_not["stall_below_governor"]
    assert not does_not["suits"]
    result = governed_lower(match, [below])
    [note] = [note for note in result.notes if note.code == "does-not-suit-governed"]
    assert dict(note.values)["setting"] == pytest.approx(below)


def test_several_intersections_speak_against_the_converter_at_every_setting():
    match = solve(hole_engine(), loose(46.7))
    assert "several-intersections" in {note.code for note in match.notes}
    for row in rows(governed_lower(match, [2300 * RPM])):
        assert not row["single_match"]
        assert not row["suits"]


def test_without_fuel_data_the_table_is_without_fuel():
    full, lower = rows(governed_lower(solve(engine(), converter()), [2100 * RPM]))
    assert full["stall_fuel_kg_per_h"] is None
    assert lower["mean_specific_fuel_g_per_kwh"] is None
    assert lower["mean_output_power_kw"] > 0.0


@pytest.mark.parametrize("speeds", [[2400 * RPM], [2380 * RPM], [700 * RPM], []])
def test_setting_that_the_governor_has_not_is_refused(speeds):
    with pytest.raises(InputError, match="setting"):
        governed_lower(solve(engine(), converter()), speeds)


def test_engine_whose_pedal_sets_torque_is_refused():
    match = solve(engine(governing="torque"), converter())
    with pytest.raises(InputError, match="governor is not turned down"):
        governed_lower(match, [2000 * RPM])
