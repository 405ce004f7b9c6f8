"""What must hold between two answers of one machine, whatever the machine: one function a relation.

Nothing here knows a right number. A relation changes an input in a way whose effect is known from
the physics or from what the words mean, and holds the two answers against each other. The sentence
of each is its docstring, and `docs/validation.md` lists them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest

import converter_match as cm
from converter_match.components.driveline import Stage
from converter_match.components.engine import Accessory
from converter_match.components.machine import Tracks
from converter_match.components.route import Route
from converter_match.components.tyre import Tyre
from converter_match.constants import GRAVITY
from tests.properties.random_machines import Parts

EXACT = 1e-9
"""Double precision through a root and a few interpolations."""
SLACK = 1e-7
"""By how much "never more" may be missed: the roots are found to that."""
ROUTE_ERROR = 5e-3
"""What docs/route.md promises of its step."""

Relation = Callable[[Parts], None]
MATCH: dict[str, Relation] = {}
WHEELS: dict[str, Relation] = {}
ROUTE: dict[str, Relation] = {}
STUDY: dict[str, Relation] = {}
GROUPS: Mapping[str, dict[str, Relation]] = {
    "the pair": MATCH,
    "at the wheels and in a hold": WHEELS,
    "on a route": ROUTE,
    "in a study": STUDY,
}
TRIED: Mapping[str, tuple[int, int]] = {
    "the pair": (3, 300),
    "at the wheels and in a hold": (1, 100),
    "on a route": (1, 60),
    "in a study": (1, 20),
}
"""On how many random machines: in every run of the tests, and with --hypothesis-profile=long."""


def of(group: dict[str, Relation]) -> Callable[[Relation], Relation]:
    def listed(relation: Relation) -> Relation:
        group[relation.__name__] = relation
        return relation

    return listed


# --- the pair -----------------------------------------------------------------------------------


def stall(engine: Any, converter: Any, **where: Any) -> Any:
    point = cm.solve(engine, converter, **where).stall
    return point


def speed(point: Any) -> float:
    return 0.0 if point is None else float(point.engine_speed)


def same(one: Any, other: Any, rel: float = EXACT) -> None:
    for name in ("engine_speed", "input_torque", "turbine_torque", "heat"):
        assert getattr(one, name) == pytest.approx(getattr(other, name), rel=rel, abs=1e-6)


def more_load(engine: Any, share: float) -> Any:
    extra = Accessory(
        name="more", power=share * engine.rated_power, at_speed=engine.rated_speed, exponent=1.0
    )
    return engine.replace(accessories=(*engine.accessories, extra))


@of(MATCH)
def torque_and_capacity_alike_leave_speeds(p: Parts) -> None:
    """Twice the torque on a converter of twice the capacity runs at the same speeds."""
    bare = p.engine.replace(accessories=())
    twice = bare.replace(torque=2.0 * bare.torque)
    one = stall(bare, p.converter)
    two = stall(twice, p.converter.replace(capacity=2.0 * p.converter.capacity))
    assert speed(two) == pytest.approx(speed(one), rel=EXACT)
    assert two.turbine_torque == pytest.approx(2.0 * one.turbine_torque, rel=EXACT)


@of(MATCH)
def diameter_scales_capacity_by_its_fifth_power(p: Parts) -> None:
    """A converter of another diameter absorbs torque with its fifth power, at one speed."""
    share = float(p.random.uniform(0.8, 1.2))
    scaled = p.converter.scaled(profile_diameter=share * p.converter.profile_diameter)
    assert scaled.capacity == pytest.approx(share**5 * p.converter.capacity, rel=EXACT)


@of(MATCH)
def scaling_there_and_back_changes_nothing(p: Parts) -> None:
    """A converter scaled to another diameter and back is the one it was."""
    there = p.converter.scaled(profile_diameter=1.1 * p.converter.profile_diameter)
    back = there.scaled(profile_diameter=p.converter.profile_diameter)
    assert back.capacity == pytest.approx(p.converter.capacity, rel=EXACT)


@of(MATCH)
def larger_converter_never_stalls_higher(p: Parts) -> None:
    """More capacity never raises the stall speed."""
    more = p.converter.replace(capacity=p.converter.capacity * float(p.random.uniform(1.0, 1.3)))
    assert speed(stall(p.engine, more)) <= speed(stall(p.engine, p.converter)) * (1 + SLACK)


@of(MATCH)
def more_torque_never_stalls_lower(p: Parts) -> None:
    """More engine torque never lowers the stall speed."""
    more = p.engine.replace(torque=p.engine.torque * float(p.random.uniform(1.0, 1.2)))
    assert speed(stall(more, p.converter)) >= speed(stall(p.engine, p.converter)) * (1 - SLACK)


@of(MATCH)
def pumps_never_raise_the_stall(p: Parts) -> None:
    """Torque that the pumps take never raises the stall speed."""
    torque = 0.1 * p.engine.peak_torque[1]
    with_pumps = stall(p.engine, p.converter, hydraulic_torque=torque)
    assert speed(with_pumps) <= speed(stall(p.engine, p.converter)) * (1 + SLACK)


@of(MATCH)
def net_is_gross_without_accessories(p: Parts) -> None:
    """Whether a rating is called gross or net changes no number; what is listed does."""
    gross, net = (p.engine.replace(rating_basis=b, accessories=()) for b in ("gross", "net"))
    same(stall(gross, p.converter), stall(net, p.converter))


@of(MATCH)
def accessory_split_in_two_is_the_accessory(p: Parts) -> None:
    """An accessory in two halves is the accessory."""
    whole = more_load(p.engine, 0.04)
    halves = more_load(more_load(p.engine, 0.02), 0.02)
    same(stall(whole, p.converter), stall(halves, p.converter))


@of(MATCH)
def accessories_have_no_order(p: Parts) -> None:
    """The order in which accessories are listed changes nothing."""
    engine = more_load(more_load(p.engine, 0.02), 0.05)
    turned = engine.replace(accessories=engine.accessories[::-1])
    same(stall(engine, p.converter), stall(turned, p.converter))


@of(MATCH)
def accessory_without_power_is_none(p: Parts) -> None:
    """An accessory that takes nothing changes nothing."""
    same(stall(more_load(p.engine, 0.0), p.converter), stall(p.engine, p.converter))


@of(MATCH)
def accessory_off_never_lowers_the_stall(p: Parts) -> None:
    """An accessory taken off never lowers the stall speed."""
    bare = p.engine.replace(accessories=())
    assert speed(stall(bare, p.converter)) >= speed(stall(p.engine, p.converter)) * (1 - SLACK)


@of(MATCH)
def constant_torque_is_an_accessory_of_exponent_one(p: Parts) -> None:
    """Torque at the flywheel is an accessory whose power goes with speed."""
    torque = 0.06 * p.engine.rated_power / p.engine.rated_speed
    same(
        stall(more_load(p.engine, 0.06), p.converter),
        stall(p.engine, p.converter, hydraulic_torque=torque),
    )


@of(MATCH)
def collinear_row_changes_nothing(p: Parts) -> None:
    """A row added on a straight torque line changes nothing."""
    ends = np.array([p.engine.low_idle, p.engine.rated_speed])
    torque = np.interp(ends, p.engine.speed, p.engine.torque)
    straight = p.engine.replace(speed=ends, torque=torque, accessories=())
    at = np.sort([*ends, float(p.random.uniform(*ends))])
    finer = straight.replace(speed=at, torque=np.interp(at, ends, torque))
    same(stall(straight, p.converter), stall(finer, p.converter), rel=1e-7)


@of(MATCH)
def torque_ratio_multiplies_turbine_torque_alone(p: Parts) -> None:
    """A torque ratio times a factor makes the turbine torque so; the engine does not notice."""
    fixed = p.converter.replace(stator="fixed", coupling_speed_ratio=None)
    more = fixed.replace(torque_ratio=0.9 * fixed.torque_ratio)
    one, two = stall(p.engine, fixed), stall(p.engine, more)
    assert speed(two) == pytest.approx(speed(one), rel=EXACT)
    assert two.turbine_torque == pytest.approx(0.9 * one.turbine_torque, rel=EXACT)


@of(MATCH)
def power_in_is_power_out_and_heat(p: Parts) -> None:
    """At every point the power put in is what comes out and the heat."""
    points = cm.points(cm.solve(p.engine, p.converter), np.linspace(0.0, 0.95, 9)).from_idle()
    left, right = points.input_power, points.output_power + points.heat
    assert np.allclose(left, right, rtol=EXACT, equal_nan=True)


@of(MATCH)
def efficiency_is_speed_ratio_times_torque_ratio(p: Parts) -> None:
    """Efficiency is speed ratio times torque ratio."""
    points = cm.points(cm.solve(p.engine, p.converter), [0.0, 0.3, 0.6, 0.8]).from_idle()
    product = points.speed_ratio * points.torque_ratio
    assert np.allclose(points.efficiency, product, rtol=EXACT, equal_nan=True)


@of(MATCH)
def engine_speed_follows_the_root_of_the_torque(p: Parts) -> None:
    """At stall the speed is K times the root of the torque, K read off the sheet."""
    point = stall(p.engine, p.converter)
    k = float(p.converter.capacity_at(0.0)) ** -0.5
    assert point.engine_speed == pytest.approx(k * point.input_torque**0.5, rel=1e-7)


@of(MATCH)
def many_points_at_once_are_the_points_one_by_one(p: Parts) -> None:
    """Many speed ratios at once give what each gives alone."""
    match, ratios = cm.solve(p.engine, p.converter), p.random.uniform(0.0, 0.95, 5)
    many = cm.points(match, ratios).from_idle().engine_speed
    alone = [float(cm.points(match, x).from_idle().engine_speed) for x in ratios]
    assert np.allclose(many, alone, rtol=EXACT, equal_nan=True)


@of(MATCH)
def points_have_no_order(p: Parts) -> None:
    """Speed ratios asked in another order are answered in that order."""
    match, ratios = cm.solve(p.engine, p.converter), p.random.uniform(0.0, 0.95, 6)
    order = p.random.permutation(6)
    one = cm.points(match, ratios).from_idle().engine_speed[order]
    other = cm.points(match, ratios[order]).from_idle().engine_speed
    assert np.array_equal(one, other, equal_nan=True)


@of(MATCH)
def points_are_on_the_engine_and_on_the_converter(p: Parts) -> None:
    """What the converter absorbs at a point is what the engine has left there."""
    bare = p.engine.replace(accessories=())
    point = stall(bare, p.converter)
    absorbed = float(p.converter.capacity_at(0.0)) * point.engine_speed**2
    assert point.input_torque == pytest.approx(absorbed, rel=1e-7)
    if point.engine_speed <= bare.rated_speed:
        left = float(bare.full_load(point.engine_speed))
        assert point.input_torque == pytest.approx(left, rel=1e-6)


@of(MATCH)
def point_is_found_again_by_its_turbine_speed(p: Parts) -> None:
    """A point asked for by its turbine speed is the point of its speed ratio."""
    match = cm.solve(p.engine, p.converter)
    point = cm.points(match, 0.5).from_idle()
    turbine = float(point.turbine_speed)
    if np.isfinite(turbine):
        found = cm.points_at_turbine_speed(match, turbine)
        if int(found.count) == 1:
            again = float(found.reached("up").engine_speed)
            assert again == pytest.approx(float(point.engine_speed), rel=1e-6)


@of(MATCH)
def reference_air_is_no_correction(p: Parts) -> None:
    """At the air of its rating an engine gives its rating."""
    site = cm.Site(id="a", name="a", source="a", air_pressure=99e3, air_temperature=298.15,
                   relative_humidity=0.0)  # fmt: skip
    same(stall(p.engine, p.converter, site=site), stall(p.engine, p.converter), rel=1e-7)


@of(MATCH)
def higher_up_never_more_torque(p: Parts) -> None:
    """Higher up the stall speed is never higher."""
    low, high = (cm.Site.at(f"{m} m", "20 degC") for m in (1200, 2400))
    at_low, at_high = (speed(stall(p.engine, p.converter, site=s)) for s in (low, high))
    assert at_high <= at_low * (1 + SLACK)


@of(MATCH)
def hotter_air_never_more_torque(p: Parts) -> None:
    """In hotter air the stall speed is never higher."""
    cool, hot = (cm.Site.at("1000 m", f"{c} degC") for c in (20, 40))
    at_cool, at_hot = (speed(stall(p.engine, p.converter, site=s)) for s in (cool, hot))
    assert at_hot <= at_cool * (1 + SLACK)


@of(MATCH)
def names_change_no_number(p: Parts) -> None:
    """Other names change no number."""
    renamed = p.engine.replace(id="x", name="y", source="z")
    same(stall(renamed, p.converter), stall(p.engine, p.converter))


@of(MATCH)
def inertia_changes_no_steady_number(p: Parts) -> None:
    """Inertia changes no steady point."""
    heavy = p.engine.replace(inertia=10.0 * p.engine.inertia)
    same(stall(heavy, p.converter), stall(p.engine, p.converter))


@of(MATCH)
def diameter_alone_changes_no_match(p: Parts) -> None:
    """A capacity that is known needs no diameter."""
    same(stall(p.engine, p.converter.replace(profile_diameter=None)), stall(p.engine, p.converter))


@of(MATCH)
def file_written_and_read_matches_alike(p: Parts) -> None:
    """A pair written to files and read again matches as it did."""
    with TemporaryDirectory() as folder:
        paths = [Path(folder) / f"{kind}.toml" for kind in ("engine", "converter")]
        for part, path in zip((p.engine, p.converter), paths, strict=True):
            cm.write(part, path)
        same(stall(*cm.read(*paths)), stall(p.engine, p.converter))


@of(MATCH)
def units_of_the_file_change_no_number(p: Parts) -> None:
    """A sheet in lbf.ft and hp matches as the same sheet in N.m and kW does."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "engine.toml"
        cm.write(p.engine, path)
        text = path.read_text(encoding="utf-8")
        turned = ", ".join(repr(float(x)) for x in cm.from_si(p.engine.torque, "lbf.ft", "torque"))
        column = f'torque = {{ unit = "lbf.ft", values = [{turned}] }}'
        # Written as the torque, or as the power where that has fewer digits.
        text, found = re.subn(r"^(torque|power) = \{ .*values = .*\}$", column, text, count=1,
                              flags=re.MULTILINE)  # fmt: skip
        assert found
        path.write_text(text, encoding="utf-8")
        same(stall(cm.read(path), p.converter), stall(p.engine, p.converter), rel=1e-8)


@of(MATCH)
def size_for_its_own_stall_is_its_own_size(p: Parts) -> None:
    """The converter sized for the stall speed that it has is of its own diameter."""
    point = stall(p.engine, p.converter)
    if point.engine_speed < 0.98 * p.engine.rated_speed:
        sized = cm.size(p.engine, p.converter, point.engine_speed)
        assert sized.diameter == pytest.approx(p.converter.profile_diameter, rel=1e-6)


@of(MATCH)
def higher_stall_asks_for_a_smaller_converter(p: Parts) -> None:
    """A higher stall speed asks for a smaller diameter."""
    low, high = (share * p.engine.rated_speed for share in (0.75, 0.85))
    sizes = [cm.size(p.engine, p.converter, wanted).diameter for wanted in (low, high)]
    assert sizes[1] <= sizes[0] * (1 + SLACK)


@of(MATCH)
def lower_governor_never_faster(p: Parts) -> None:
    """A lower governor setting never makes the engine faster, whatever the turbine does."""
    if p.engine.governing == "torque":
        return
    match = cm.solve(p.engine, p.converter)
    lower = cm.solve(
        p.engine.replace(high_idle=p.engine.rated_speed * 1.03), p.converter
    )  # the droop line is steeper, and lies lower
    for x in (0.0, 0.4, 0.8):
        one, two = (float(cm.points(m, x).from_idle().engine_speed) for m in (match, lower))
        if np.isfinite(one) and np.isfinite(two):
            assert two <= one * (1 + SLACK)


@of(MATCH)
def blades_scaled_alike_keep_the_torque_ratio(p: Parts) -> None:
    """Blading larger in every length has the same torque ratio, and D^5 of the capacity."""
    small, share = cm.read("loader-390mm"), float(p.random.uniform(0.8, 1.25))
    lengths = ("impeller_exit_radius", "turbine_exit_radius", "stator_exit_radius",
               "profile_diameter")  # fmt: skip
    changes = {name: share * getattr(small, name) for name in lengths}
    large = small.replace(**changes, flow_area=share**2 * small.flow_area)
    one, two = cm.from_blading(small), cm.from_blading(large)
    assert two.torque_ratio_at(0.4) == pytest.approx(one.torque_ratio_at(0.4), rel=1e-6)
    ratio = float(two.capacity_at(0.4) / one.capacity_at(0.4))
    assert ratio == pytest.approx(share**5, rel=1e-6)


@of(MATCH)
def denser_oil_absorbs_in_proportion(p: Parts) -> None:
    """Blading in oil of another density absorbs torque in proportion."""
    thin, share = cm.read("loader-390mm"), float(p.random.uniform(0.9, 1.1))
    dense = thin.replace(oil_density=share * thin.oil_density)
    one, two = cm.from_blading(thin), cm.from_blading(dense)
    ratio = float(two.capacity_at(0.3) / one.capacity_at(0.3))
    assert ratio == pytest.approx(share, rel=1e-6)


# --- at the wheels and in a hold ----------------------------------------------------------------


def wheels(p: Parts, *, grades: Any = (0.06,), load: str = "laden", **changes: Any) -> Any:
    match = changes.pop("match", None) or cm.solve(
        changes.pop("engine", p.engine), changes.pop("converter", p.converter)
    )
    return cm.tractive(
        match,
        changes.pop("driveline", p.driveline),
        changes.pop("machine", p.machine),
        changes.pop("surface", p.surface),
        grades=list(grades),
        load=load,  # type: ignore[arg-type]
    )


def climbs(p: Parts, **changes: Any) -> list[float]:
    """Return the speeds on the grades; 0 where the machine does not climb."""
    return [row.speed or 0.0 for row in wheels(p, **changes).grades]


def never_faster(slow: list[float], fast: list[float]) -> None:
    assert all(a <= b * (1 + 1e-6) for a, b in zip(slow, fast, strict=True))


@of(WHEELS)
def more_mass_never_faster_uphill(p: Parts) -> None:
    """A heavier machine is never faster uphill."""
    heavy = p.machine.replace(mass_empty=1.15 * p.machine.mass_empty)
    never_faster(climbs(p, machine=heavy), climbs(p))


@of(WHEELS)
def softer_ground_never_faster(p: Parts) -> None:
    """More rolling resistance is never faster."""
    soft = p.surface.replace(rolling_resistance=1.4 * p.surface.rolling_resistance)
    never_faster(climbs(p, surface=soft), climbs(p))


@of(WHEELS)
def steeper_never_faster(p: Parts) -> None:
    """A steeper grade is never climbed faster."""
    flat, steep = climbs(p, grades=(0.03, 0.07))
    assert steep <= flat * (1 + 1e-6)


@of(WHEELS)
def grades_have_no_order(p: Parts) -> None:
    """Grades asked in another order are answered alike."""
    one, other = (wheels(p, grades=grades).grades for grades in ((0.02, 0.08), (0.08, 0.02)))
    by_grade = [{row.grade: (row.speed, row.gear) for row in rows} for rows in (one, other)]
    assert by_grade[0] == by_grade[1]


@of(WHEELS)
def more_grip_never_less_grade(p: Parts) -> None:
    """On ground that grips better the machine never climbs less."""
    grippy = p.surface.replace(traction=min(1.2 * p.surface.traction, 1.2))
    one, other = wheels(p), wheels(p, surface=grippy)
    low, high = (_steepest(found) for found in (one, other))
    assert high >= low * (1 - 1e-6)


def _steepest(found: Any) -> float:
    rows = [getattr(row, "grade", None) for row in found.gradeability]
    return max([value for value in rows if value is not None], default=0.0)


@of(WHEELS)
def more_grip_is_never_slower(p: Parts) -> None:
    """On ground that grips better, slip being less, no grade is climbed slower."""
    grippy = p.surface.replace(traction=min(1.2 * p.surface.traction, 1.2))
    never_faster(climbs(p), climbs(p, surface=grippy))


@of(WHEELS)
def radius_and_axle_alike_leave_the_road_speed(p: Parts) -> None:
    """Wheels larger by a factor on an axle shorter by it drive the road alike."""
    first, *others = p.driveline.stages
    line = p.driveline.replace(
        stages=(Stage(name="bevel", ratio=1.1 * first.ratio, efficiency=first.efficiency), *others)
    )
    gear = p.machine.running_gear
    larger = (
        Tracks(sprocket_radius=1.1 * gear.sprocket_radius)
        if isinstance(gear, Tracks)
        else Tyre(rolling_radius=1.1 * gear.rolling_radius)
    )
    changed = climbs(p, driveline=line, machine=p.machine.replace(running_gear=larger))
    assert changed == pytest.approx(climbs(p), rel=1e-7)


@of(WHEELS)
def stage_split_in_two_is_the_stage(p: Parts) -> None:
    """A reduction in two stages of the root of its ratio and efficiency is the reduction."""
    first, *others = p.driveline.stages
    half = replace(first, ratio=first.ratio**0.5, efficiency=first.efficiency**0.5)
    line = p.driveline.replace(
        stages=(replace(half, name="one"), replace(half, name="two"), *others)
    )
    assert climbs(p, driveline=line) == pytest.approx(climbs(p), rel=1e-7)


@of(WHEELS)
def stages_have_no_order(p: Parts) -> None:
    """The order of the reductions changes nothing."""
    line = p.driveline.replace(stages=p.driveline.stages[::-1])
    assert climbs(p, driveline=line) == pytest.approx(climbs(p), rel=EXACT)


@of(WHEELS)
def better_meshes_never_slower(p: Parts) -> None:
    """Better gear meshes never make it slower uphill."""
    gears = tuple(gear.replace(efficiency=0.99) for gear in p.driveline.gears)
    never_faster(climbs(p), climbs(p, driveline=p.driveline.replace(gears=gears)))


@of(WHEELS)
def reverse_gear_is_not_driven_forward(p: Parts) -> None:
    """A reverse gear changes nothing forward."""
    without = p.driveline.replace(gears=p.driveline.forward)
    assert climbs(p, driveline=without) == pytest.approx(climbs(p), rel=EXACT)


@of(WHEELS)
def load_is_mass(p: Parts) -> None:
    """A laden machine is an empty one of its laden mass."""
    whole = p.machine.replace(mass_empty=p.machine.mass("laden"), payload=0.0)
    assert climbs(p, machine=whole) == pytest.approx(climbs(p), rel=EXACT)


@of(WHEELS)
def empty_never_slower_uphill(p: Parts) -> None:
    """Empty it is never slower uphill than laden."""
    never_faster(climbs(p), climbs(p, load="empty"))


@of(WHEELS)
def more_air_drag_never_faster(p: Parts) -> None:
    """A larger front is never faster."""
    wide = p.machine.replace(frontal_area=1.5 * p.machine.frontal_area)
    never_faster(climbs(p, machine=wide, grades=(0.0,)), climbs(p, grades=(0.0,)))


@of(WHEELS)
def drag_of_axles_on_the_level_is_rolling_resistance(p: Parts) -> None:
    """On the level the drag of the axles is rolling resistance by another name."""
    drag = p.machine.running_drag / (p.machine.mass("laden") * GRAVITY)
    ground = p.surface.replace(rolling_resistance=p.surface.rolling_resistance + drag)
    other = climbs(p, machine=p.machine.replace(running_drag=0.0), surface=ground, grades=(0.0,))
    assert other == pytest.approx(climbs(p, grades=(0.0,)), rel=1e-6)


@of(WHEELS)
def more_engine_never_slower_uphill(p: Parts) -> None:
    """More engine torque is never slower uphill."""
    more = p.engine.replace(torque=1.05 * p.engine.torque)
    never_faster(climbs(p), climbs(p, engine=more))


@of(WHEELS)
def pumps_never_faster_uphill(p: Parts) -> None:
    """Pumps that take torque never make it faster uphill."""
    torque = 0.08 * p.engine.peak_torque[1]
    loaded = cm.solve(p.engine, p.converter, hydraulic_torque=torque)
    never_faster(climbs(p, match=loaded), climbs(p))


def hold(p: Parts, machine: Any = None, **start: Any) -> float:
    found = cm.hold(cm.solve(p.engine, p.converter), machine or p.machine, **start)
    return float("inf") if found.seconds is None else float(found.seconds)


@of(WHEELS)
def more_oil_holds_no_shorter(p: Parts) -> None:
    """More oil is never too hot sooner in a stall hold."""
    oil = replace(p.machine.oil, volume=1.5 * p.machine.oil.volume)
    assert hold(p, p.machine.replace(oil=oil)) >= hold(p) * (1 - 1e-6)


@of(WHEELS)
def more_metal_holds_no_shorter(p: Parts) -> None:
    """More metal that warms with the oil is never too hot sooner."""
    oil = replace(p.machine.oil, metal_mass=2.0 * p.machine.oil.metal_mass)
    assert hold(p, p.machine.replace(oil=oil)) >= hold(p) * (1 - 1e-6)


@of(WHEELS)
def hotter_start_holds_no_longer(p: Parts) -> None:
    """Oil that is hotter at the start is never too hot later."""
    assert hold(p, oil_start="90 degC") <= hold(p, oil_start="70 degC") * (1 + 1e-6)


@of(WHEELS)
def lower_limit_holds_no_longer(p: Parts) -> None:
    """A lower oil limit is never reached later."""
    oil = replace(p.machine.oil, temperature_limit=383.15)
    assert hold(p, p.machine.replace(oil=oil)) <= hold(p) * (1 + 1e-6)


@of(WHEELS)
def hold_stalls_as_the_match_does(p: Parts) -> None:
    """A stall hold runs at the speed of the match, but for the density of warmer oil."""
    match = cm.solve(p.engine, p.converter)
    found = cm.hold(match, p.machine)
    assert found.band.middle == pytest.approx(match.stall.engine_speed, rel=0.05)


# --- on a route ---------------------------------------------------------------------------------


def road(p: Parts, grades: Any = (0.0, 0.05, 0.02), lengths: Any = 150.0, **changes: Any) -> Route:
    grade, length = np.broadcast_arrays(np.asarray(grades, float), np.asarray(lengths, float))
    fields: dict[str, Any] = {
        "id": "road", "name": "Road", "source": "a test", "length": length, "grade": grade,
        "surface": (p.surface,) * grade.size, "speed_limit": np.full(grade.size, np.inf),
        "load": ("laden",) * grade.size, "stop_time": np.full(grade.size, np.nan),
    }  # fmt: skip
    return Route(**(fields | changes))


def drive(p: Parts, route: Route | None = None, machine: Any = None, **start: Any) -> Any:
    match = cm.solve(p.engine, p.converter)
    return cm.haul(match, p.driveline, machine or p.machine, route or road(p), **start)


def time_of(trip: Any) -> float:
    return float("inf") if trip.fails else float(trip.time)


@of(ROUTE)
def segment_split_in_two_takes_as_long(p: Parts) -> None:
    """A segment in two halves takes as long."""
    whole = time_of(drive(p))
    halves = road(p, np.repeat((0.0, 0.05, 0.02), 2), 75.0)
    if np.isfinite(whole):
        assert time_of(drive(p, halves)) == pytest.approx(whole, rel=ROUTE_ERROR)


@of(ROUTE)
def heavier_is_never_sooner_there(p: Parts) -> None:
    """A heavier machine is never sooner there."""
    heavy = p.machine.replace(mass_empty=1.2 * p.machine.mass_empty)
    assert time_of(drive(p, machine=heavy)) >= time_of(drive(p)) * (1 - ROUTE_ERROR)


@of(ROUTE)
def limit_beyond_reach_changes_nothing(p: Parts) -> None:
    """A speed limit that nothing reaches changes nothing."""
    limited = road(p, speed_limit=np.full(3, 100.0))
    one, other = time_of(drive(p)), time_of(drive(p, limited))
    assert one == other or other == pytest.approx(one, rel=1e-6)


@of(ROUTE)
def lower_limit_is_never_sooner_there(p: Parts) -> None:
    """A lower speed limit is never sooner there."""
    limited = road(p, speed_limit=np.full(3, 4.0))
    assert time_of(drive(p, limited)) >= time_of(drive(p)) * (1 - ROUTE_ERROR)


@of(ROUTE)
def twice_the_cooler_is_never_hotter(p: Parts) -> None:
    """Twice the cooler never makes hotter oil."""
    cooler = replace(p.machine.cooler, heat=2.0 * p.machine.cooler.heat)
    cooled = drive(p, machine=p.machine.replace(cooler=cooler), oil_start="80 degC")
    plain = drive(p, oil_start="80 degC")
    if plain.hottest_oil is not None:
        assert cooled.hottest_oil <= plain.hottest_oil + 1e-6


@of(ROUTE)
def hotter_start_is_never_cooler(p: Parts) -> None:
    """Oil hotter at the start is never cooler at its hottest."""
    cool, hot = (drive(p, oil_start=f"{c} degC") for c in (60, 85))
    if cool.hottest_oil is not None:
        assert hot.hottest_oil >= cool.hottest_oil - 1e-6


@of(ROUTE)
def same_trip_twice_is_the_same(p: Parts) -> None:
    """The same trip is the same trip."""
    assert time_of(drive(p)) == time_of(drive(p))


# --- in a study ---------------------------------------------------------------------------------


def study(p: Parts, *ids: str, engines: Mapping[str, Any] | None = None, **changes: Any) -> Any:
    from converter_match.study.study import Combination, Duty, Study

    def combination(name: str) -> Combination:
        return Combination(
            id=name, name=name, engine=(engines or {}).get(name, p.engine),
            converter=p.converter, driveline=p.driveline, machine=p.machine,
        )  # fmt: skip

    fields: dict[str, Any] = {
        "id": "s", "name": "s", "source": "a test", "present": combination("present"),
        "candidates": tuple(combination(name) for name in ids),
        "duty": Duty(surface=p.surface, grades=(0.0, 0.05)),
    }  # fmt: skip
    return cm.run_study(Study(**(fields | changes)), draws=0)


def verdicts(result: Any, combination: str) -> dict[str, Any]:
    return {
        finding.spec.name: finding.verdict for finding in result.assessment(combination).findings
    }


@of(STUDY)
def identical_candidates_get_one_verdict(p: Parts) -> None:
    """Two candidates of the same parts get the same verdicts."""
    result = study(p, "a", "b")
    assert verdicts(result, "a") == verdicts(result, "b")


@of(STUDY)
def candidates_have_no_order(p: Parts) -> None:
    """Candidates in another order get the verdicts that they had."""
    engines = {"a": p.engine, "b": p.engine.replace(torque=0.9 * p.engine.torque)}
    one, other = study(p, "a", "b", engines=engines), study(p, "b", "a", engines=engines)
    assert all(verdicts(one, name) == verdicts(other, name) for name in "ab")


@of(STUDY)
def another_candidate_changes_no_verdict(p: Parts) -> None:
    """A further candidate changes no verdict on the first."""
    engines = {"b": p.engine.replace(torque=0.8 * p.engine.torque)}
    alone, beside = study(p, "a"), study(p, "a", "b", engines=engines)
    assert verdicts(alone, "a") == verdicts(beside, "a")


@of(STUDY)
def tighter_limit_never_turns_no_to_yes(p: Parts) -> None:
    """A tighter limit never makes a verdict better."""
    from converter_match.study.study import Limits

    heat = 0.3 * p.engine.rated_power
    loose, tight = (study(p, "a", limits=Limits(heat=share * heat)) for share in (1.0, 0.7))
    before, after = verdicts(loose, "a"), verdicts(tight, "a")
    assert all(after[name].severity >= verdict.severity for name, verdict in before.items())


@of(STUDY)
def what_stays_as_it_is_keeps_everything(p: Parts) -> None:
    """A candidate that is the present machine keeps all that the present machine does."""
    found = verdicts(study(p, "a"), "a")
    kept = {name: verdict for name, verdict in found.items() if name.endswith("-kept")}
    assert kept
    assert not [name for name, verdict in kept.items() if verdict.name == "FAIL"]
