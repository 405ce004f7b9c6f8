"""Every number a component takes: the last value that is accepted, and the next one that is not.

The bounds are those which the message and the pages in docs/formats state.
"""

import math

import numpy as np
import pytest

from converter_match.components.arrangement import (
    Arrangement,
    ImpellerClutch,
    LockUpClutch,
    OverrunDuty,
    PartLoadDuty,
    Wheels,
)
from converter_match.components.blading import BladeRow
from converter_match.components.capacity_forms import CapacityBasis
from converter_match.components.converter import ConverterLimits
from converter_match.components.cooling import Cooler, Oil
from converter_match.components.driveline import DragLaw, DrivelineLimits, LockUp, Stage
from converter_match.components.engine import Accessory, Fuel, SiteCorrection
from converter_match.components.machine import Balance, Slip, Tracks
from converter_match.components.rating import curve_from_rating
from converter_match.components.reading import StallReading
from converter_match.components.route import Phase
from converter_match.components.site import Air, Site
from converter_match.components.surface import Surface
from converter_match.components.tyre import Tyre
from converter_match.errors import InputError
from tests.blading_examples import blading
from tests.examples import RPM, converter, engine
from tests.machines import driveline, gear, machine


def refusal(build, value):
    with pytest.raises(InputError) as caught:
        build(value)
    return caught.value


def last(value):
    """A bound that is accepted itself."""
    return value, True


def short_of(value):
    """A bound that is not accepted itself."""
    return value, False


def air(**changes):
    return Air(**({"pressure": 99e3, "temperature": 298.0} | changes))


def site(**changes):
    return Site(id="s", name="s", source="test", **({"altitude": 0.0} | changes))


def reading(**changes):
    return StallReading(**({"engine_speed": 2000 * RPM} | changes))


def road(**changes):
    return reading(test="road", **({"turbine_speed": 500 * RPM} | changes))


def drive(**changes):
    return Phase(**({"name": "carry", "kind": "drive", "distance": 20.0} | changes))


def stand(**changes):
    return Phase(**({"name": "dump", "kind": "stand", "time": 5.0} | changes))


def rear(**changes):
    shares = {"driven_share_empty": 0.5, "driven_share_laden": 0.6}
    return Balance(driven_axle="rear", **(shares | changes))


def lock_up(**changes):
    return LockUpClutch(**({"engage_by": "speed-ratio", "engage": 1.0, "release": 0.5} | changes))


def wheels(**changes):
    shape = {"overall_ratio": 50.0, "rolling_radius": 0.75, "efficiency": 0.9}
    return Wheels(**(shape | changes))


def rating(**changes):
    line = {
        "rated_power": 138e3,
        "rated_speed": 230.0,
        "peak_torque": 1000.0,
        "peak_torque_speed": 136.0,
        "low_idle": 84.0,
    }
    return curve_from_rating(**(line | changes))


def stator_out(factor):
    names = {"id": "a", "name": "a", "source": "test"}
    return Arrangement(**names, stator="none", stall_capacity_factor=factor)


RANGES = [
    (lambda v: Surface(name="x", rolling_resistance=v), "rolling_resistance", last(0), last(0.6)),
    (lambda v: Surface(name="x", rolling_resistance=0.1, traction=v), "traction",
     last(1e-3), last(1.5)),
    (lambda v: Tyre(rolling_radius=v), "tyre.rolling_radius", last(0.05), last(2.5)),
    (lambda v: Tracks(sprocket_radius=v), "tracks.sprocket_radius", last(0.05), last(2.0)),
    (lambda v: Slip(constant=v), "slip.constant", last(0.0), short_of(1.0)),
    (lambda v: rear(driven_share_empty=v), "balance.driven_share_empty", short_of(0.0), last(1.0)),
    (lambda v: rear(driven_share_laden=v), "balance.driven_share_laden", short_of(0.0), last(1.0)),
    (lambda v: machine(mass_empty=v), "mass_empty", last(100.0), last(1e6)),
    (lambda v: machine(frontal_area=v, drag_coefficient=0.8), "frontal_area",
     last(0.05), last(500.0)),
    (lambda v: converter(profile_diameter=v), "profile_diameter", last(0.01), last(1.5)),
    (lambda v: converter(oil_density=v), "oil_density", last(450.0), last(1500.0)),
    (lambda v: engine(displacement=v), "displacement", last(2e-5), last(3.0)),
    (lambda v: site(air_pressure=v), "air_pressure", last(30e3), last(115e3)),
    (lambda v: machine(payload=v), "payload", last(0.0), None),
    (lambda v: machine(running_drag=v), "running_drag", last(0.0), None),
    (lambda v: Oil(temperature_limit=v), "oil.temperature_limit", last(230.0), last(500.0)),
    (lambda v: Oil(working_temperature=v), "oil.working_temperature", last(230.0), last(500.0)),
    (lambda v: Oil(temperature_limit=390.0, working_temperature=v), "oil.working_temperature",
     last(230.0), short_of(390.0)),
    (lambda v: Cooler.from_rating(1e3, v, 310.0), "cooler.oil_temperature", short_of(310.0), None),
    (lambda v: DragLaw(torque=v, at_speed=100.0), "drag.torque", last(0.0), None),
    (lambda v: DragLaw(torque=1.0, at_speed=100.0, constant=v), "drag.constant", last(0.0), None),
    (lambda v: DragLaw(torque=1.0, at_speed=100.0, exponent=v), "drag.exponent",
     last(0.0), last(3.0)),
    (lambda v: LockUp(allowed=True, engage_speed_ratio=v), "lock_up.engage_speed_ratio",
     short_of(0.0), short_of(1.0)),
    (lambda v: LockUp(allowed=True, engage_speed_ratio=0.8, release_speed_ratio=v),
     "lock_up.release_speed_ratio", short_of(0.0), short_of(0.8)),
    (lambda v: LockUp(allowed=True, engage_turbine_speed=150.0, release_turbine_speed=v),
     "lock_up.release_turbine_speed", short_of(0.0), short_of(150.0)),
    (lambda v: gear(efficiency=v), "gear '1'.efficiency", short_of(0.0), last(1.0)),
    (lambda v: gear(upshift_turbine_speed=200.0, downshift_turbine_speed=v),
     "gear '1'.downshift_turbine_speed", short_of(0.0), short_of(200.0)),
    (lambda v: Stage(name="hub", ratio=3.0, efficiency=v), "stage 'hub'.efficiency",
     short_of(0.0), last(1.0)),
    (lambda v: driveline(shift_time=v), "shift_time", last(0.0), None),
    (lambda v: driveline(shift_hysteresis=v), "shift_hysteresis", last(0.0), short_of(0.9)),
    (lambda v: air(pressure=v), "air pressure", last(30e3), last(115e3)),
    (lambda v: air(temperature=v), "air temperature", last(200.0), last(340.0)),
    (lambda v: air(vapour_pressure=v), "vapour pressure", last(0.0), short_of(99e3)),
    (lambda v: site(altitude=v), "altitude", last(-500.0), last(6000.0)),
    (lambda v: site(relative_humidity=v), "relative_humidity", last(0.0), last(1.0)),
    (lambda v: reading(engine_speed=v), "speed", last(200 * RPM), last(8000 * RPM)),
    (lambda v: reading(oil_temperature=v), "oil", last(233.15), last(453.15)),
    (lambda v: reading(air_temperature=v), "air", last(213.15), last(333.15)),
    (lambda v: road(turbine_speed=v), "turbine", last(0.0), last(8000 * RPM)),
    (lambda v: drive(distance=v), "phase 'carry'.distance", short_of(0.0), None),
    (lambda v: drive(time=v), "phase 'carry'.time", last(0.0), None),
    (lambda v: stand(time=v), "phase 'dump'.time", short_of(0.0), None),
    (lambda v: stand(kind="crowd", time=v), "phase 'dump'.time", short_of(0.0), None),
    (lambda v: stand(distance=v), "phase 'dump'.distance", last(0.0), None),
    (lambda v: stand(hydraulic_power=v), "phase 'dump'.hydraulic_power", last(0.0), None),
    (lambda v: stand(speed=v), "phase 'dump'.speed", last(0.0), None),
    (lambda v: drive(speed_limit=v), "phase 'carry'.speed_limit", short_of(0.0), last(math.inf)),
    (lambda v: drive(grade=v), "phase 'carry'.grade", last(-1.0), last(1.0)),
    (lambda v: Accessory(name="fan", power=v, at_speed=200.0, exponent=3.0),
     "accessory 'fan'.power", last(0.0), None),
    (lambda v: Accessory(name="fan", power=1e3, at_speed=200.0, exponent=v),
     "accessory 'fan'.exponent", last(0.0), last(5.0)),
    (lambda v: SiteCorrection(engine_factor=v), "site_correction.engine_factor",
     last(0.0), last(1.2)),
    (lambda v: SiteCorrection(mechanical_efficiency=v), "site_correction.mechanical_efficiency",
     last(0.5), short_of(1.0)),
    (lambda v: SiteCorrection(derate_altitude=[0.0, 1e3], derate_factor=[1.0, v]),
     "site_correction.derate.factor", short_of(0.0), last(1.2)),
    (lambda v: lock_up(engage=v), "lock_up.engage", None, last(1.0)),
    (lambda v: lock_up(release=v), "lock_up.release", short_of(0.0), last(1.0)),
    (lambda v: wheels(efficiency=v), "wheels.efficiency", short_of(0.0), last(1.0)),
    (lambda v: ImpellerClutch(torque_capacity=1.0, settings=(0.5, v)),
     "impeller_clutch.settings[1]", last(0.0), last(1.0)),
    (lambda v: PartLoadDuty(pedals=(0.5, v)), "part_load.pedals[1]", short_of(0.0), last(1.0)),
    (lambda v: BladeRow(entry_angle=v, exit_angle=0.0, shock_factor=1.0), "entry_angle",
     last(-math.radians(85.0)), last(math.radians(85.0))),
    (lambda v: BladeRow(entry_angle=0.0, exit_angle=v, shock_factor=1.0), "exit_angle",
     last(-math.radians(85.0)), last(math.radians(85.0))),
    (lambda v: BladeRow(entry_angle=0.0, exit_angle=0.0, shock_factor=v), "shock_factor",
     last(0.0), last(10.0)),
    (lambda v: blading(friction_factor=v), "friction_factor", short_of(0.0), last(10.0)),
    (lambda v: blading(impeller_exit_radius=v), "impeller_exit_radius",
     None, short_of(0.5 * 0.245)),
    (lambda v: blading(turbine_exit_radius=v), "turbine_exit_radius",
     short_of(0.0), short_of(0.106)),
    (lambda v: blading(stator_exit_radius=v), "stator_exit_radius", short_of(0.0), short_of(0.106)),
    (lambda v: blading(flow_area=v), "flow_area",
     short_of(0.0), short_of(0.5 * (math.pi * (0.5 * 0.245) ** 2))),
    (lambda v: engine(low_idle=v), "low_idle", short_of(0.0), short_of(2200 * RPM)),
    (lambda v: engine(high_idle=v), "high_idle", short_of(2200 * RPM), None),
    (lambda v: rating(peak_torque_speed=v), "rating.peak_torque_speed",
     short_of(84.0), short_of(230.0)),
]  # fmt: skip

POSITIVE = [
    *((lambda v, name=name: DrivelineLimits(**{name: v}), f"limits.{name}")
      for name in ("turbine_torque", "turbine_speed", "input_power", "lock_up_torque")),
    *((lambda v, name=name: ConverterLimits(**{name: v}), f"limits.{name}")
      for name in ("input_torque", "input_speed", "input_power", "oil_temperature")),
    *((lambda v, name=name: CapacityBasis(**{name: v}), name)
      for name in ("reference_speed", "profile_diameter", "oil_density")),
    *((lambda v, name=name: converter(**{name: v}), name)
      for name in ("profile_diameter", "oil_density", "impeller_inertia", "turbine_inertia")),
    *((lambda v, name=name: blading(**{name: v}), name)
      for name in ("impeller_exit_radius", "turbine_exit_radius", "stator_exit_radius",
                   "flow_area", "profile_diameter", "oil_density", "impeller_inertia",
                   "turbine_inertia")),
    *((lambda v, name=name: engine(**{name: v}), name)
      for name in ("low_idle", "rated_speed", "high_idle", "displacement", "inertia")),
    *((lambda v, name=name: Fuel(**{name: v}), f"fuel.{name}")
      for name in ("idle_rate", "lower_heating_value", "density")),
    *((lambda v, name=name: machine(**{name: v}), name)
      for name in ("mass_empty", "frontal_area", "drag_coefficient", "wheel_inertia")),
    *((lambda v, name=name: Balance(**{name: v}), f"balance.{name}")
      for name in ("wheelbase", "gravity_height_empty", "gravity_height_laden")),
    *((lambda v, name=name: Oil(**{name: v}), f"oil.{name}")
      for name in ("volume", "density", "specific_heat", "metal_mass", "metal_specific_heat",
                   "metal_conductance", "temperature_limit", "working_temperature")),
    *((lambda v, name=name: driveline(**{name: v}), name)
      for name in ("input_inertia", "output_inertia", "speed_limit")),
    *((lambda v, name=name: gear(**{name: v}), f"gear '1'.{name}")
      for name in ("ratio", "upshift_turbine_speed", "downshift_turbine_speed")),
    *((lambda v, name=name: LockUp(allowed=True, **{name: v}), f"lock_up.{name}")
      for name in ("engage_turbine_speed", "release_turbine_speed")),
    *((lambda v, name=name: lock_up(**{name: v}), f"lock_up.{name}")
      for name in ("engage", "release", "torque_capacity", "engagement_time")),
    *((lambda v, name=name: wheels(**{name: v}), f"wheels.{name}")
      for name in ("overall_ratio", "rolling_radius", "efficiency")),
    *((lambda v, name=name: ImpellerClutch(**({"torque_capacity": 1.0} | {name: v})),
       f"impeller_clutch.{name}")
      for name in ("torque_capacity", "engine_speed", "turbine_torque_limit",
                   "tractive_effort_limit")),
    *((lambda v, name=name: rating(**{name: v}), f"rating.{name}")
      for name in ("rated_power", "rated_speed", "peak_torque", "peak_torque_speed", "low_idle")),
    *((lambda v, name=name: PartLoadDuty(**{name: (0.5, v)}), f"part_load.{name}[1]")
      for name in ("no_load_speeds", "pedals")),
    *((lambda v, name=name: site(**{name: v}), name) for name in ("air_pressure",
                                                                  "air_temperature")),
    (lambda v: Cooler.from_conductance(v), "cooler.conductance"),
    (lambda v: Cooler.from_rating(v, 380.0, 310.0), "cooler.rated_heat"),
    (lambda v: DragLaw(torque=1.0, at_speed=v), "drag.at_speed"),
    (lambda v: Stage(name="hub", ratio=v, efficiency=0.9), "stage 'hub'.ratio"),
    (lambda v: Tyre(rolling_radius=v), "tyre.rolling_radius"),
    (lambda v: Tracks(sprocket_radius=v), "tracks.sprocket_radius"),
    (lambda v: Accessory(name="fan", power=1.0, at_speed=v, exponent=3),
     "accessory 'fan'.at_speed"),
    (lambda v: OverrunDuty(overspeed_limit=v), "overrun.overspeed_limit"),
    (stator_out, "stall_capacity_factor"),
    (lambda v: converter().scaled(profile_diameter=v), "profile_diameter"),
    (lambda v: converter().scaled(oil_density=v), "oil_density"),
]  # fmt: skip


@pytest.mark.parametrize(("build", "field", "low", "high"), RANGES)
def test_range_holds_to_the_last_bit_on_both_sides(build, field, low, high):
    for bound, outwards in ((low, -math.inf), (high, math.inf)):
        if bound is None:
            continue
        value, accepted = bound
        value = float(value)
        inside = value if accepted else math.nextafter(value, -outwards)
        build(inside)
        if value != outwards:
            outside = math.nextafter(value, outwards) if accepted else value
            assert refusal(build, outside).field == field
    assert refusal(build, math.nan).field == field


@pytest.mark.parametrize(("build", "field"), POSITIVE)
@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
def test_number_that_is_not_above_zero_is_refused_by_its_field(build, field, value):
    assert refusal(build, value).field == field


@pytest.mark.parametrize(
    ("build", "field"),
    [item for item in POSITIVE if item[1] in ("limits.input_power", "fuel.density")],
)
def test_number_just_above_zero_is_a_number(build, field):
    build(np.float64(1e-3))


@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
def test_force_that_may_be_zero_is_finite_and_not_below(value):
    if value == 0.0:
        machine(running_drag=value, payload=value)
    else:
        for name in ("running_drag", "payload"):
            assert refusal(lambda v, name=name: machine(**{name: v}), value).field == name


@pytest.mark.parametrize(
    ("build", "written"),
    [
        (lambda v: gear(efficiency=v), "write 0.96"),
        (lambda v: rear(driven_share_empty=v), "write 0.96"),
    ],
)
def test_percent_is_recognised_up_to_a_hundred(build, written):
    assert written in refusal(build, 96.0).hint
    assert "write 1" in refusal(build, 100.0).hint
    assert refusal(build, math.nextafter(100.0, 200.0)).hint is None
    assert "write" in refusal(build, 1.5).hint
    assert refusal(build, -0.5).hint is None
