"""Keys of the plain data: a promise to scripts (DEVELOPERS.md), whatever the words become.

Keys may be added; that means a new word here. None may change or go.
"""

import json

import pytest

from converter_match.components.arrangement import (
    HydraulicSharing,
    ImpellerClutch,
    OverrunDuty,
    PartLoadDuty,
    Permissions,
)
from converter_match.components.duty_points import DutyPoints
from converter_match.components.site import Site
from converter_match.judgement.haul.haul import haul
from converter_match.judgement.match.duty import over_duty
from converter_match.judgement.match.governed import governed_lower
from converter_match.judgement.match.solve import solve
from converter_match.judgement.sizing.engine_wanted import torque_wanted
from converter_match.judgement.sizing.size import size_for_speed
from converter_match.judgement.sizing.trials import try_converters
from converter_match.judgement.wheels.acceleration import acceleration
from tests.examples import RPM, converter, engine, full_range, hole_engine
from tests.haul_examples import parts, road
from tests.judgement.arrangement.test_parts_by_hand import (
    DIVIDER,
    WHEELS,
    by_speed,
    table,
)
from tests.judgement.arrangement.test_parts_by_hand import (
    result as arranged,
)
from tests.judgement.sizing.test_size_trials import PARTS
from tests.judgement.wheels.test_traction import result as tractive
from tests.machines import driveline, machine, surface
from tests.plain_keys import keys_of, written
from tests.study_examples import flat_engine

NOTES = """
    assumptions[]: code message kind
    warnings[]: code message kind
"""
POINT = (
    "speed_ratio torque_ratio efficiency engine_speed_rpm input_torque_nm turbine_speed_rpm "
    "turbine_torque_nm input_power_kw output_power_kw heat_kw stable"
)
ORIGINS = """
    engine: id name source rating_basis rating_standard fingerprint
    converter: id name source stator fingerprint
    site: method torque_factor air_pressure_kpa air_temperature_degc
"""
MATCH = """
    stall: $POINT
    stall_from_high_idle: $POINT
    coupling: $POINT
    best_efficiency: $POINT
    best_efficiency_in_conversion: $POINT
    governed_limit: $POINT
    efficiency_ranges[]: level low_speed_ratio high_speed_ratio ends_with_data lower upper
    efficiency_ranges[].lower: $POINT
    indices[]: level_percent low_speed_rpm high_speed_rpm span mean_output_power_kw mean_efficiency
    indices[]: mean_specific_fuel_g_per_kwh
    efficiency_ranges[].upper: $POINT
    idle_in_gear: engine_speed_rpm input_torque_nm turbine_torque_nm heat_kw
    points[]: $POINT reached_from
"""


def keys(answer):
    """Return the keys of an answer as a script reads it, those of its notes left out."""
    return keys_of(json.loads(json.dumps(answer.to_dict(), allow_nan=False)))


def promised(text, **shared):
    return written(text, POINT=POINT, **shared)


def with_its_notes(found, text):
    """Return what is promised, with the notes that there are."""
    return promised(text + "".join(
        line + "\n" for line in NOTES.splitlines() if line.strip().partition(":")[0] in found
    ))  # fmt: skip


def test_keys_of_a_match():
    found = keys(solve(engine(), converter()))
    assert found == with_its_notes(found, ORIGINS + MATCH + """
        (top): engine converter site hydraulic_torque_nm stall_speed_band_rpm stall
        (top): stall_from_high_idle coupling best_efficiency best_efficiency_in_conversion
        (top): indices efficiency_ranges governed_limit idle_in_gear points warnings assumptions
    """)  # fmt: skip


def test_keys_of_what_else_is_asked_of_a_match():
    match = solve(engine(), converter())
    points = DutyPoints(
        id="day", name="A day", source="a test", label=("stall",), share=[1.0],
        speed_ratio=[0.0], turbine_speed=[float("nan")],
    )  # fmt: skip
    found = keys(over_duty(match, points))
    assert found == with_its_notes(found, """
        (top): duty warnings assumptions
        duty: id name source fingerprint mean_output_power_kw mean_efficiency work_efficiency
        duty: mean_heat_kw mean_fuel_kg_per_h mean_specific_fuel_g_per_kwh points
        duty.points[]: point share_percent pump_torque_nm speed_ratio engine_speed_rpm
        duty.points[]: turbine_speed_rpm turbine_torque_nm output_power_kw heat_kw
        duty.points[]: fuel_rate_kg_per_h runs
    """)  # fmt: skip
    found = keys(governed_lower(match, [2000 * RPM]))
    assert found == with_its_notes(found, """
        (top): governed_lower warnings assumptions
        governed_lower: settings part_load
        governed_lower.settings[]: no_load_speed_rpm governed_speed_rpm governed_power_kw
        governed_lower.settings[]: stall_speed_rpm stall_turbine_torque_nm stall_fuel_kg_per_h
        governed_lower.settings[]: greatest_output_kw mean_output_power_kw mean_efficiency
        governed_lower.settings[]: mean_specific_fuel_g_per_kwh single_match stall_below_governor
        governed_lower.settings[]: rated_power_usable suits
        governed_lower.part_load[]: no_load_speed_rpm speed_ratio engine_speed_rpm
        governed_lower.part_load[]: turbine_speed_rpm turbine_torque_nm output_power_kw efficiency
        governed_lower.part_load[]: fuel_rate_kg_per_h specific_fuel_g_per_kwh
    """)  # fmt: skip


def test_match_that_has_no_such_point_says_so_by_null():
    told = solve(engine(), converter(capacity=10 * converter().capacity)).to_dict()
    assert (told["stall"], told["idle_in_gear"]) == (None, None)
    assert told["stall_speed_band_rpm"] is None


def test_keys_of_a_tractive_calculation():
    found = keys(tractive())
    assert found == with_its_notes(found, ORIGINS + """
        (top): machine engine converter site driveline surface hydraulic_torque_nm
        (top): adhesion_limit_level_kn cooler top_speed steepest_start steepest_cooled gears grades
        (top): shifts equilibria gradeability cooler_needed warnings assumptions from_rest
        cooler_needed[]: grade_percent gear drive heat_kw cooler_needed_kw_per_k
        machine: id name source fingerprint load mass_kg rolling_radius_mm
        driveline: id name source fingerprint
        surface: name source rolling_resistance_percent traction_coefficient
        cooler: capacity_kw air_temperature_degc oil_limit_degc
        top_speed: $GRADE
        grades[]: $GRADE
        steepest_start: grade_percent gear drive limited_by
        steepest_cooled: grade_percent gear drive limited_by
        gears[]: gear drive direction overall_ratio stall_effort_kn stall_heat_kw stall_slips
        gears[]: coupling_effort_kn coupling_speed_kmh coupling_heat_kw best_efficiency
        gears[]: best_efficiency_speed_kmh greatest_drawbar_kn top_speed_kmh top_limited_by
        gears[]: top_engine_speed_rpm top_heat_kw steepest_start_percent start_limited_by
        gears[]: steepest_cooled_percent cooled_limited_by
        shifts[]: lower upper best_speed_kmh crosses effort_kn upshift_speed_kmh
        shifts[]: downshift_speed_kmh needed_hysteresis_kmh hunts band_percent
        equilibria[]: gear drive grade_percent speed_kmh engine_speed_rpm tractive_effort_kn
        equilibria[]: heat_kw stable within_grip in_force coming_up coming_down
        gradeability[]: speed_kmh grade_percent drawbar_pull_kn tractive_effort_kn slips
    """.replace("$GRADE", (
        "grade_percent resistance_kn gear drive speed_kmh engine_speed_rpm heat_kw "
        "oil_temperature_degc converter_heat_kw outlet_temperature_degc cooled limited_by"
    )))  # fmt: skip


def test_tractive_calculation_of_a_machine_that_neither_starts_nor_cools_says_so_by_null():
    told = tractive(body=machine(mass_empty=900_000.0, cooler=None)).to_dict()
    assert told["steepest_start"] is None
    assert told["steepest_cooled"] is None
    assert told["cooler"]["capacity_kw"] is None
    assert told["top_speed"]["speed_kmh"] is None


def test_keys_of_an_acceleration():
    found = keys(
        acceleration(solve(engine(), converter()), driveline(), machine(), surface(), to_speed=6.0)
    )
    assert found == with_its_notes(found, """
        (top): engine converter driveline machine surface load ending grade_percent method
        (top): to_speed_kmh time_s distance_m milestones gears warnings assumptions
        milestones[]: speed_kmh time_s distance_m
        gears[]: gear drive from_speed_kmh to_speed_kmh time_s distance_m
    """)  # fmt: skip


def test_keys_of_a_machine_on_a_route():
    found = keys(haul(*parts(), road([0.0, 0.9], [200.0, 50.0])))
    assert found == with_its_notes(found, """
        (top): engine converter driveline machine route site surfaces arrives standstill cycle
        (top): energy_mj energy_imbalance segments warnings assumptions
        route: id name source length_m segments
        surfaces[]: name source vehicle rolling_resistance_percent traction_coefficient
        standstill: segment distance_m into_segment_m grade_percent effort_kn resistance_kn
        standstill: limited_by
        cycle: distance_km time_min cycles_per_hour mean_speed_moving_kmh payload_t
        cycle: production_t_per_h fuel_kg fuel_l fuel_l_per_h fuel_l_per_t engine_work_mj
        cycle: converter_heat_mj service_brake_work_mj hottest_oil_degc oil_start_degc
        cycle: hottest_oil_first_lap_degc hottest_outlet_degc mean_oil_heat_kw
        cycle: cooler_needed_kw_per_k
        cycle: gear_changes lock_up_share_of_distance
        energy_mj: engine converter drag meshes stages running rolling air slip brakes kinetic
        energy_mj: potential rotating
        segments[]: segment length_m grade_percent surface load speed_limit_kmh mean_speed_kmh
        segments[]: direction
        segments[]: top_speed_kmh time_s gears fuel_kg converter_heat_kj oil_end_degc
        segments[]: service_brake_work_kj retarding_needed_kw retarding_available_kw
    """)  # fmt: skip


@pytest.mark.slow
def test_keys_of_an_arrangement_and_of_each_of_its_parts():
    answer = arranged(
        None,
        flat_engine(inertia=1.5),
        overrun=OverrunDuty(),
        permissions=Permissions(overrun=True),
        wheels=WHEELS,
        part_load=PartLoadDuty(no_load_speeds=(1500 * RPM,)),
        lock_up=by_speed(engagement_time=0.5),
        impeller_clutch=ImpellerClutch(
            torque_capacity=1000.0, engine_speed=1700 * RPM, turbine_torque_limit=1500.0
        ),
        hydraulic_sharing=HydraulicSharing(relief=table(300.0), standby=table(50.0)),
    )
    of_parts = promised("""
        lock_up: engage_by engage_turbine_speed_rpm release_turbine_speed_rpm torque_capacity_nm
        lock_up: engine_speed_step_rpm turbine_torque_before_nm turbine_torque_after_nm
        lock_up: engagement_energy_kj engagement_energy_with_torque_kj engagement_clutch_torque_nm
        lock_up: rows
        lock_up.rows[]: turbine_speed_rpm open_turbine_torque_nm locked_turbine_torque_nm
        lock_up.rows[]: open_output_power_kw locked_output_power_kw open_heat_kw locked_heat_kw
        lock_up.rows[]: holds_rising holds_falling blank_because
        impeller_clutch: torque_capacity_nm held_engine_speed_rpm turbine_torque_limit_nm
        impeller_clutch: setting_at_standstill rows
        impeller_clutch.rows[]: setting turbine_speed_rpm engine_speed_rpm impeller_speed_rpm
        impeller_clutch.rows[]: clutch_torque_nm turbine_torque_nm clutch_heat_kw converter_heat_kw
        impeller_clutch.rows[]: power_left_kw slipping engine_speed_held travel_speed_kmh
        impeller_clutch.rows[]: opening_engine_speed_rpm blank_because
        impeller_clutch.rows[]: tractive_effort_kn
        hydraulic_sharing: rows
        hydraulic_sharing.rows[]: state at engine_speed_rpm pump_torque_nm input_torque_nm
        hydraulic_sharing.rows[]: turbine_torque_nm share_left pump_power_kw heat_kw
        hydraulic_sharing.rows[]: travel_speed_kmh tractive_effort_kn blank_because
        overrun: exhaust_brake lowest_turbine_speed_rpm highest_turbine_speed_rpm rows
        overrun: lowest_turbine_speed_band_rpm highest_turbine_speed_band_rpm
        overrun.rows[]: turbine_speed_rpm speed_ratio engine_speed_rpm turbine_torque_nm
        overrun.rows[]: retarding_power_kw heat_kw locked_turbine_torque_nm
        overrun.rows[]: locked_retarding_power_kw engine_speed_band_rpm
        overrun.rows[]: retarding_power_band_kw heat_band_kw
        part_load: governing creep_turbine_torque_nm holding_wheel_torque_nm rows
        part_load.rows[]: no_load_speed_rpm speed_ratio engine_speed_rpm turbine_speed_rpm
        part_load.rows[]: turbine_torque_nm output_power_kw heat_kw at_idle blank_because
    """)  # fmt: skip
    told = json.loads(json.dumps(answer.to_dict(), allow_nan=False))
    assert told["arrangement"].keys() == {"id", "name", "source", "fingerprint", "parts"}
    found = keys_of(told["arrangement"]["parts"])
    assert found.pop("") == {
        "lock_up", "impeller_clutch", "hydraulic_sharing", "overrun", "part_load"
    }  # fmt: skip
    assert found == of_parts


def test_keys_of_a_divider_and_of_another_stator():
    divided = arranged(full_range(), torque_divider=DIVIDER).to_dict()
    assert keys_of(divided["arrangement"]["parts"]["torque_divider"]) == promised("""
        (top): ratio connection split converter_speed_ratio_at_output_stall
        (top): torque_ratio_at_output_stall mechanical_share_at_output_stall rows
        rows[]: output_speed_ratio converter_speed_ratio engine_speed_rpm engine_power_kw
        rows[]: mechanical_power_kw impeller_power_kw turbine_power_kw circulating_power_kw
        rows[]: output_power_kw heat_kw
    """)  # fmt: skip
    out = arranged(stator="none", permissions=Permissions(stator=True)).to_dict()
    assert keys_of(out["arrangement"]["parts"]["stator"]) == promised("""
        (top): data_stator stator stall_torque_lost_nm pulls_more_from_turbine_speed_rpm rows
        (top): stall_capacity_factor stall_capacity_factor_low stall_capacity_factor_high
        (top): stall_engine_speed_rpm stall_turbine_torque_nm
        rows[]: turbine_speed_rpm turbine_torque_before_nm turbine_torque_nm efficiency_before
        rows[]: efficiency heat_before_kw heat_kw blank_because
    """)  # fmt: skip


@pytest.mark.parametrize("speed", [1600.0, 16000.0])
def test_keys_of_a_size_whether_there_is_one_or_not(speed):
    found = keys(size_for_speed(engine(), converter(), speed * RPM))
    expected = promised("""
        (top): wanted possible speed_ratio engine_speed_rpm reason capacity_factor diameter_ratio
        (top): stall_k_factor_rpm_per_sqrt_nm profile_diameter_mm beyond_comfort stall notes
        stall: $POINT
        notes[]: code message kind
    """)  # fmt: skip
    none = speed == 16000.0
    assert found == {"": expected[""]} if none else expected


def test_keys_of_the_torque_that_a_converter_wants():
    # K of 47: on its way up the engine stops in its torque hole, coming down it does not.
    tight = converter(capacity=(60 / 47) ** 2 * converter().capacity)
    settled = solve(hole_engine(), tight).stall_from_high_idle
    found = keys(torque_wanted(hole_engine(), tight, settled.engine_speed))
    assert found == promised("""
        (top): stall_speed_rpm net_torque_wanted_nm torque_change_nm full_load_torque_factor
        (top): stall_speed_with_factor_rpm words holes curve
        holes[]: low_rpm high_rpm deepest_at_rpm missing_torque_nm
        curve[]: engine_speed_rpm wanted_nm available_nm
    """)  # fmt: skip


def test_keys_of_converters_tried_on_a_route():
    found = keys(try_converters(engine(), [("one", converter())], *PARTS))
    assert found == promised("""
        (top): route trials winner words
        trials[]: name converter diameter_ratio profile_diameter_mm stall_speed_rpm
        trials[]: stall_turbine_torque_nm route_time_s fuel_kg converter_heat_mj hottest_oil_degc
        trials[]: keeps_limits broken not_known pareto
    """)  # fmt: skip


def test_site_of_an_answer_is_that_of_the_match():
    # ISO 2533 at 2000 m: 79.495 kPa.
    high = Site(id="s", name="s", source="s", altitude=2000.0, air_temperature=288.15)
    told = solve(engine(), converter(), site=high).to_dict()["site"]
    assert told["air_pressure_kpa"] == pytest.approx(79.495, rel=1e-3)
    assert told["air_temperature_degc"] == pytest.approx(15.0)
    assert 0.5 < told["torque_factor"] <= 1.0
