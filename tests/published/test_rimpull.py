"""Tractive effort, grades and weight transfer against handbooks and manuals."""

import csv
import math

import numpy as np
import pytest

from converter_match.components.driveline import Driveline, Gear, Stage
from converter_match.components.machine import Balance, Machine
from converter_match.components.surface import Surface
from converter_match.components.tyre import Tyre, tyre_size
from converter_match.library.shipped import data_folder
from converter_match.library.surfaces import find_surface, penetration_resistance, read_surfaces
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.turbine import TurbineShaft
from converter_match.physics.wheels.road_load import RoadLoad
from converter_match.physics.wheels.wheels import at_wheels, gear_drives
from converter_match.units import from_si, to_si
from tests.examples import converter, engine

TON = to_si(1.0, "short ton", "mass")
ROAD, PULL, TYRES = {"topic": "Road load"}, {"topic": "Pull at the wheels"}, {"topic": "Tyres"}
HOMEWORK = "homework answers of a university course in construction equipment"


def machine(radius=0.75, mass=86 * TON, **changes):
    fields = {
        "id": "m",
        "name": "m",
        "source": "round numbers",
        "mass_empty": mass,
        "running_gear": Tyre(rolling_radius=radius),
    }
    return Machine(**(fields | changes))


def driveline(*ratios, efficiency=1.0, **changes):
    gears = tuple(
        Gear(name=str(i + 1), ratio=ratio, efficiency=efficiency) for i, ratio in enumerate(ratios)
    )
    stages = (Stage(name="final", ratio=20.0, efficiency=1.0),)
    return Driveline(
        id="d", name="d", source="round numbers", gears=gears, **({"stages": stages} | changes)
    )


def road(rolling, mass=86 * TON, **changes):
    return RoadLoad(mass=mass, rolling_resistance=rolling, air_density=1.225, **changes)


# University construction-equipment course, homework answers (seen): 86 short tons, rolling
# resistance 120 lb/ton. 1720 lb is the grade assistance result on -5 %.
@pytest.mark.parametrize(
    ("grade", "pounds", "effective"), [(0.0, 10_320, 6), (0.02, 13_760, 8), (-0.05, 1_720, 1)]
)
def test_haul_road_homework_resistance(grade, pounds, effective, published_case):
    rolling = to_si(120.0, "lb/short ton", "weight_share")
    resistance = from_si(float(road(rolling).resistance(grade, 0.0)), "lbf", "force")
    # The homework takes sin a for tan a and cos a for 1: on 5 % they differ by 1.25e-3 of the
    # grade part, 5 % of 172,000 lb.
    published_case(
        **ROAD, source=HOMEWORK, tag="seen", quantity="resistance [lbf]",
        inputs=f"86 short tons, 120 lb/short ton, grade {100 * grade:+g} %", published=pounds,
        ours=resistance, tolerance=1.5e-3 * abs(grade) * 172_000 + 1e-6,
        why="the source takes the slope for its sine and 1 for its cosine",
    )  # fmt: skip
    published_case(
        **ROAD, source=HOMEWORK, tag="seen", quantity="effective grade [%]",
        inputs=f"120 lb/short ton, grade {100 * grade:+g} %", published=effective,
        ours=100 * (rolling + grade), tolerance=1e-10, why="double precision",
    )  # fmt: skip


def test_one_percent_of_grade_is_twenty_pounds_a_short_ton(published_case):
    # Definition; US Army subcourse TR0603 (seen) prints 20 lb/ton per percent.
    force = from_si(float(road(0.0, mass=TON).resistance(0.01, 0.0)), "lbf", "force")
    published_case(
        **ROAD, source="US Army subcourse TR0603; a definition", tag="seen",
        quantity="grade resistance [lbf]", inputs="one short ton on 1 %", published=20.0,
        ours=force, relative=1e-4, why="the source takes the slope for its sine: 5e-5",
    )  # fmt: skip
    assert to_si(20.0, "lb/short ton", "weight_share") == pytest.approx(0.01)


def test_rimpull_is_375_horsepower_times_efficiency_over_miles_an_hour(published_case):
    # Unit identity, 1 hp = 375 lb.mph; printed in every civil-engineering text on haulers.
    supply = engine_supply(engine(accessories=()))
    chain = driveline(2.0, efficiency=0.8)
    shaft = TurbineShaft(supply, converter())
    points = at_wheels(shaft.lock_up_drive, chain, chain.gears[0], machine())
    moving = points.force > 0
    power = from_si(points.turbine.input_power, "hp", "power")
    speed = from_si(points.wheel_speed, "mph", "velocity")
    force = from_si(points.force, "lbf", "force")
    published_case(
        **PULL, source="every civil-engineering text on haulers; 1 hp = 375 lb·mph", tag="computed",
        quantity="rimpull [lbf] = 375 hp × efficiency / mph",
        inputs=f"lock-up drive, efficiency 0.8, {moving.sum()} speeds",
        published=(375.0 * power * 0.8 / speed)[moving], ours=force[moving], relative=1e-12,
        why="an identity of units; double precision",
    )  # fmt: skip


def test_rimpull_homework(published_case):
    # Homework answer (seen): 310 hp at 80 %: 93,000 / mph; 6,200 lb at 15 mph.
    power, speed = to_si(310.0, "hp", "power"), to_si(15.0, "mph", "velocity")
    radius, ratio = 0.75, 40.0
    wheel = speed / radius
    flat = engine(
        accessories=(),
        speed=np.array([0.5, 1.0, 1.5]) * wheel * ratio,
        torque=np.full(3, power / (wheel * ratio)),
        low_idle=0.5 * wheel * ratio,
        rated_speed=1.5 * wheel * ratio,
        high_idle=1.6 * wheel * ratio,
    )
    chain = driveline(2.0, efficiency=0.8)
    shaft = TurbineShaft(engine_supply(flat), converter())
    point = at_wheels(
        shaft.at("lock-up", wheel * ratio), chain, chain.gears[0], machine(radius=radius)
    )
    assert from_si(float(point.wheel_speed), "mph", "velocity") == pytest.approx(15.0)
    published_case(
        **PULL, source=HOMEWORK, tag="seen", quantity="rimpull [lbf]",
        inputs="310 hp at 80 %, 15 mph", published=6_200,
        ours=from_si(float(point.force), "lbf", "force"), relative=1e-6,
        why="exact in the source's units; the speed is found to 1e-6",
    )  # fmt: skip


def test_overall_stall_torque_ratio_is_stall_ratio_times_gear_reduction(published_case):
    # US Army TM 9-2520-249-34&P (seen).
    supply = engine_supply(engine())
    bare = converter()
    chain = driveline(3.0, stages=())
    drive = gear_drives(TurbineShaft(supply, bare), chain, machine())[0]
    stall = drive.at(0.0)
    output = float(stall.force) * machine().rolling_radius
    overall = output / float(stall.turbine.input_torque)
    published_case(
        **PULL, source="US Army TM 9-2520-249-34&P", tag="seen",
        quantity="overall torque ratio at stall = stall torque ratio × gear reduction",
        inputs="stall torque ratio 2.2, gear 3.0", published=2.2 * 3.0, ours=overall,
        relative=1e-6, why="a product; the wheel radius cancels",
    )  # fmt: skip


def test_weight_moves_to_the_rear_axle_by_half_a_percent_for_each_percent_of_grade(
    published_case,
):
    # R. L. Nichols and D. A. Day, Moving the Earth (seen): rear-drive dump truck, about 50 % of
    # empty and 70 % of loaded weight on the drive wheels; about 0.5 % per percent of grade. That
    # is a centre of gravity half a wheelbase high.
    truck = machine(
        payload=86 * TON,
        balance=Balance(
            driven_axle="rear",
            driven_share_empty=0.5,
            driven_share_laden=0.7,
            wheelbase=4.0,
            gravity_height_empty=2.0,
            gravity_height_laden=2.0,
        ),
    )
    hard = Surface(name="hard", rolling_resistance=0.02, traction=0.6)
    for load, level in (("empty", 0.5), ("laden", 0.7)):
        road_load = RoadLoad.of(truck, hard, load=load, air_density=1.225)
        share = [float(road_load.driven_weight(grade)) / road_load.weight for grade in (0, 0.01)]
        assert share[0] == pytest.approx(level)
        published_case(
            **ROAD, source="R. L. Nichols and D. A. Day, Moving the Earth", tag="seen",
            quantity="weight moved to the driven rear axle [% for each % of grade]",
            inputs=f"rear-drive dump truck, {load}, {100 * level:g} % on the driven wheels",
            published=0.5, ours=100 * (share[1] - share[0]), tolerance=0.01,
            why="cosine of the grade: 0.005",
        )  # fmt: skip
        backwards = RoadLoad.of(truck, hard, load=load, air_density=1.225, direction="reverse")
        assert float(backwards.driven_weight(0.01)) < road_load.weight * level


def test_tyres_roll_as_far_as_the_etrto_relation_says(published_case):
    # ETRTO, second-hand: rolling circumference 3.05 free diameters radial, 2.99 cross-ply; radius
    # 0.971 and 0.952 of the free radius (computed).
    for designation, factor in (("650/65R25", 0.971), ("650/65-25", 0.952)):
        size = tyre_size(designation)
        # 25 in rim and two section heights of 65 % of 650 mm, from the designation itself.
        assert size.free_diameter == pytest.approx(25 * 0.0254 + 2 * 0.65 * 0.650)
        published_case(
            **TYRES, source="ETRTO: rolling circumference 3.05 diameters radial, 2.99 cross-ply",
            tag="second-hand", quantity="rolling radius / free radius", inputs=designation,
            published=factor, ours=size.rolling_radius / (size.free_diameter / 2),
            tolerance=5e-4, why="half of the last digit",
        )  # fmt: skip


# Overall diameters in tyre tables, from memory; the assumed section heights are said to be good
# to about 4 %.
@pytest.mark.parametrize(
    ("designation", "diameter"),
    [
        ("23.5R25", 1.617),
        ("17.5R25", 1.350),
        ("29.5R25", 1.875),
        ("12.00-20", 1.122),
        ("18.00R33", 1.845),
        ("14.00R24", 1.370),
        ("8.25-15", 0.832),
        ("28x9-15", 0.711),
    ],
)
def test_free_diameter_from_a_designation_is_near_the_tables(designation, diameter, published_case):
    published_case(
        **TYRES, source="tables of tyre sizes", tag="memory", quantity="free diameter [m]",
        inputs=designation, published=diameter, ours=tyre_size(designation).free_diameter,
        relative=0.04, why="what the assumed section height is good to",
    )  # fmt: skip


def test_shipped_surfaces_are_the_published_rows(published_case):
    surfaces = read_surfaces()
    with (data_folder() / "published" / "surfaces.csv").open(encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if not row["surface"].startswith("any")]
    for row in rows:
        surface = find_surface(f"{row['surface']}, {row['vehicle']}", surfaces)
        key = {"rolling_resistance": "rolling_resistance", "traction_coefficient": "traction"}
        got = getattr(surface, key[row["quantity"]])
        published_case(
            **ROAD, source=row["source"], tag=row["tag"],
            quantity=f"{row['quantity'].replace('_', ' ')}, {row['unit']}",
            inputs=f"{row['surface']}, {row['vehicle']}", published=float(row["value"]),
            ours=got * (2000 if "ton" in row["unit"] else 1), relative=1e-12,
            why="taken over; double precision",
        )  # fmt: skip
        assert row["source"] in surface.source


def test_rolling_resistance_by_tyre_penetration(published_case):
    # Peurifoy; Nunnally (second-hand, two copies agree): (40 + 30 p) lb/ton, 2 % + 1.5 % an inch.
    for inches in (0, 1, 4):
        share = penetration_resistance(inches * 0.0254)
        assert share == pytest.approx((40 + 30 * inches) / 2000)
        published_case(
            **ROAD, source="Peurifoy; Nunnally (two copies agree)", tag="second-hand",
            quantity="rolling resistance [% of weight]", inputs=f"tyre penetration {inches} in",
            published=2 + 1.5 * inches, ours=100 * share, relative=1e-12, why="double precision",
        )  # fmt: skip


def test_force_that_holds_a_grade_is_weight_times_sine_on_a_frictionless_hill(published_case):
    # Elementary statics: nothing of ours in it.
    for angle in (5.0, 30.0, 60.0):
        a = math.radians(angle)
        held = float(road(0.0).grade_held(road(0.0).weight * math.sin(a), 0.0))
        published_case(
            **ROAD, source="elementary statics", tag="computed", quantity="gradeability",
            inputs=f"frictionless hill of {angle:g}°, force = weight × sine",
            published=math.tan(a), ours=held, relative=1e-9, why="tangent of the angle",
        )  # fmt: skip
