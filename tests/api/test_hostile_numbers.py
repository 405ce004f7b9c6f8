"""Whatever stands where a number is due: a public function answers, or says what is wrong.

Nothing but the promised `InputError` comes out: no other exception, no warning.
"""

import inspect
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

import converter_match as cm
from converter_match.errors import InputError
from tests.examples import converter, engine
from tests.machines import machine, surface

NOT_A_NUMBER = (
    float("nan"), float("inf"), -float("inf"), np.float64("nan"), np.float32("inf"), np.ma.masked,
    1j, "", "nan", "inf", "1,5", "12 parsecs", "-", b"1", [], [1.0, 2.0], {}, object(), 10**400,
    Decimal("NaN"), np.datetime64("2031-05-04"), np.array([1.0, 2.0]), np.array(None),
)  # fmt: skip
"""Never taken: the function refuses."""
NUMBERS = (
    0, 0.0, -0.0, -1, -1e-9, 5e-324, 1e-12, 1e-3, 1.0, 85, 1e4, 1e9, 1e30, 1e308, -1e308,
    True, np.float32(2.0), np.int8(-5), np.uint64(2**63), Fraction(1, 3), Decimal("2.5"),
    "0 rpm", "-40 degC", "85 degC", "1e308 N.m", "1e-300 kg", "200 %",
)  # fmt: skip
"""Taken or refused, as it may be: but answered, or refused with an InputError."""

E, C, LINE, TRUCK, LIFT = cm.read(
    "six-cylinder-9l-240kw", "single-stage-390mm-full-range", "six-speed-hauler",
    "articulated-hauler-25t", "log-loader-hydraulics",
)  # fmt: skip
LOCK_UP = cm.read("ore-hauler-lock-up")
BLADES = cm.read("loader-390mm")
MATCH = cm.solve(E, C)
ROUTE = "quarry-to-crusher"


def run():
    return cm.published("full_throttle_run")


CALLS = {
    "solve.hydraulic_torque": lambda x: cm.solve(E, C, hydraulic_torque=x),
    "at_setting.setting": lambda x: cm.at_setting(cm.read("adjustable-stator-365mm"), x),
    "couple_directly.ratio": lambda x: cm.couple_directly(cm.read("lift-truck-80v-30kw"), ratio=x),
    "couple_directly.efficiency": lambda x: cm.couple_directly(
        cm.read("lift-truck-80v-30kw"), efficiency=x
    ),
    "couple_directly.voltage": lambda x: cm.couple_directly(
        cm.read("lift-truck-80v-30kw"), voltage=x
    ),
    "couple_directly.hydraulic_torque": lambda x: cm.couple_directly(
        cm.read("lift-truck-80v-30kw"), hydraulic_torque=x
    ),
    "arrange.hydraulic_torque": lambda x: cm.arrange(E, C, LOCK_UP, hydraulic_torque=x),
    "Site.at.altitude": lambda x: cm.solve(E, C, site=cm.Site.at(x)),
    "Site.at.air_temperature": lambda x: cm.solve(E, C, site=cm.Site.at("500 m", x)),
    "Site.at.relative_humidity": lambda x: cm.solve(E, C, site=cm.Site.at("500 m", None, x)),
    "governed_lower.high_idle": lambda x: cm.governed_lower(MATCH, [x]),
    "points.speed_ratio": lambda x: cm.points(MATCH, x),
    "points.speed_ratio[]": lambda x: cm.points(MATCH, [0.1, x]),
    "points_at_turbine_speed.turbine_speed": lambda x: cm.points_at_turbine_speed(MATCH, x),
    "velocity_triangles.speed_ratio": lambda x: cm.velocity_triangles(BLADES, x, "1800 rpm"),
    "velocity_triangles.impeller_speed": lambda x: cm.velocity_triangles(BLADES, 0.5, x),
    "tractive.grades": lambda x: cm.tractive(MATCH, LINE, TRUCK, "firm smooth earth", grades=[x]),
    "accelerate.to_speed": lambda x: cm.accelerate(
        MATCH, LINE, TRUCK, "firm smooth earth", to_speed=x
    ),
    "accelerate.grade": lambda x: cm.accelerate(
        MATCH, LINE, TRUCK, "firm smooth earth", to_speed="20 km/h", grade=x
    ),
    "haul.braking": lambda x: cm.haul(MATCH, LINE, TRUCK, ROUTE, braking=x),
    "haul.oil_start": lambda x: cm.haul(MATCH, LINE, TRUCK, ROUTE, oil_start=x),
    "hold.oil_start": lambda x: cm.hold(MATCH, TRUCK, oil_start=x),
    "work_cycle.oil_start": lambda x: cm.work_cycle(
        MATCH, LINE, TRUCK, "loader-truck-loading", oil_start=x
    ),
    "stall_test.oil_temperature": lambda x: cm.stall_test(MATCH, oil_temperature=x),
    "stall_test.relief_torque": lambda x: cm.stall_test(MATCH, relief_torque=x),
    "stall_test.coverage": lambda x: cm.stall_test(MATCH, coverage=x),
    "stall_test.published": lambda x: cm.stall_test(MATCH, published=("1500 rpm", x)),
    "stall_test.maker_hold": lambda x: cm.stall_test(MATCH, maker_hold=x),
    "stall_test.tolerances": lambda x: cm.stall_test(MATCH, tolerances={"capacity": x}),
    "size.engine_speed": lambda x: cm.size(E, C, x),
    "size.speed_ratio": lambda x: cm.size(E, C, "1700 rpm", speed_ratio=x),
    "size.efficiency": lambda x: cm.size(E, C, "1700 rpm", speed_ratio=0.7, efficiency=x),
    "engine_wanted.stall_speed": lambda x: cm.engine_wanted(E, C, x),
    "size_on_route.diameters": lambda x: cm.size_on_route(
        E, C, LINE, TRUCK, ROUTE, diameters=("380 mm", x)
    ),
    "size_on_route.limits": lambda x: cm.size_on_route(
        E, C, LINE, TRUCK, ROUTE, diameters=("385 mm", "390 mm"), limits={"input_torque": x}
    ),
    "run_up.duration": lambda x: cm.run_up(MATCH, duration=x),
    "close_lock_up.closing_time": lambda x: cm.close_lock_up(
        MATCH, LOCK_UP, LINE, TRUCK, gear="3", closing_time=x
    ),
    "close_lock_up.duration": lambda x: cm.close_lock_up(
        MATCH, LOCK_UP, LINE, TRUCK, gear="3", duration=x
    ),
    "to_si.value": lambda x: cm.to_si(x, "rpm", "angular_speed"),
    "from_si.value": lambda x: cm.from_si(x, "rpm", "angular_speed"),
    "Engine.rated_speed": lambda x: engine(rated_speed=x),
    "Engine.low_idle": lambda x: engine(low_idle=x),
    "Engine.high_idle": lambda x: engine(high_idle=x),
    "Engine.inertia": lambda x: engine(inertia=x),
    "Engine.displacement": lambda x: engine(displacement=x),
    "Engine.torque_band": lambda x: engine(torque_band=x),
    "Converter.profile_diameter": lambda x: converter(profile_diameter=x),
    "Converter.oil_density": lambda x: converter(oil_density=x),
    "Converter.coupling_speed_ratio": lambda x: converter(coupling_speed_ratio=x),
    "Converter.impeller_inertia": lambda x: converter(impeller_inertia=x),
    "Machine.mass_empty": lambda x: machine(mass_empty=x),
    "Machine.payload": lambda x: machine(payload=x),
    "Machine.frontal_area": lambda x: machine(frontal_area=x),
    "Machine.running_drag": lambda x: machine(running_drag=x),
    "Surface.rolling_resistance": lambda x: surface(rolling_resistance=x),
    "Surface.traction": lambda x: surface(traction=x),
    "Site.altitude": lambda x: cm.Site(id="a", name="a", source="a", altitude=x),
    "Site.air_pressure": lambda x: cm.Site(id="a", name="a", source="a", air_pressure=x),
}
HARMLESS = ("to_si.value", "from_si.value")
"""Whether a number is finite is for the reader of these to judge; they take arrays."""


SLOW = ("haul", "work_cycle", "size_on_route", "accelerate", "close_lock_up", "tractive")


def refused(call, value):
    """Return whether a call refuses; anything but an InputError comes through."""
    try:
        call(value)
    except InputError:
        return True
    return False


@pytest.mark.slow
@pytest.mark.parametrize("name", CALLS)
def test_what_is_no_number_is_refused_with_an_input_error(name):
    for value in NOT_A_NUMBER:
        arrays = name.startswith("points") and isinstance(value, list | np.ndarray)
        if arrays or name in HARMLESS:
            refused(CALLS[name], value)
        else:
            assert refused(CALLS[name], value), repr(value)


@pytest.mark.slow
@pytest.mark.parametrize("name", CALLS)
def test_any_number_is_answered_or_refused_with_an_input_error(name):
    for value in NUMBERS[:: 5 if name.split(".")[0] in SLOW else 1]:
        refused(CALLS[name], value)


MASKED = np.ma.array([0.1, 0.2, 0.3], mask=[False, True, False])


@pytest.mark.slow
@pytest.mark.parametrize(
    "call",
    [
        lambda x: cm.points(MATCH, x),
        lambda x: cm.points_at_turbine_speed(MATCH, x),
        lambda x: cm.to_si(x, "rpm", "angular_speed"),
        lambda x: cm.tractive(MATCH, LINE, TRUCK, "firm smooth earth", grades=x),
        lambda x: converter(torque_ratio=x),
        lambda x: engine(torque=x),
    ],
)
def test_masked_array_is_refused(call):
    with pytest.raises(InputError):
        call(MASKED)


ANOTHER_UNIT = {
    "solve.hydraulic_torque": ("180 N.m in N.mm", 180_000),
    "couple_directly.hydraulic_torque": ("10 N.m in N.mm", 10_000),
    "couple_directly.voltage": ("80 V in mV", 80_000),
    "Site.at.altitude": ("20,000 ft", 20_000),
    "Site.at.air_temperature": ("35 degC", 35),
    "Site.at.relative_humidity": ("60 percent", 60),
    "points.speed_ratio": ("50 percent", 50),
    "points_at_turbine_speed.turbine_speed": ("1500 rpm", 1500),
    "velocity_triangles.impeller_speed": ("1800 rpm", 1800),
    "tractive.grades": ("8 percent", 8),
    "accelerate.to_speed": ("20 km/h in m/h", 20_000),
    "accelerate.grade": ("2 percent", 2),
    "haul.oil_start": ("70 degC", 70),
    "hold.oil_start": ("85 degC", 85),
    "work_cycle.oil_start": ("158 degF", 158),
    "stall_test.oil_temperature": ("80 degC", 80),
    "stall_test.relief_torque": ("250 N.m in N.mm", 250_000),
    "stall_test.coverage": ("90 percent", 90),
    "stall_test.published": ("1900 rpm", 1900),
    "stall_test.maker_hold": ("8 s in ms", 8000),
    "stall_test.tolerances": ("4 percent", 4),
    "size.engine_speed": ("1700 rpm", 1700),
    "engine_wanted.stall_speed": ("1800 rpm", 1800),
    "size_on_route.diameters": ("390 mm", 390),
    "size_on_route.limits": ("1.2 kN.m", 1.2),
    "run_up.duration": ("5 s in ms", 5000),
    "close_lock_up.duration": ("5 s in ms", 5000),
    "Engine.rated_speed": ("2200 rpm", 2200),
    "Engine.low_idle": ("800 rpm", 800),
    "Engine.displacement": ("7 L", 7),
    "Converter.profile_diameter": ("345 mm", 345),
    "Converter.oil_density": ("0.85 kg/L", 0.85),
    "Machine.mass_empty": ("17 t", 17),
    "Machine.frontal_area": ("7 m2 in cm2", 70_000),
    "Surface.rolling_resistance": ("3 percent", 3),
    "Surface.traction": ("60 percent", 60),
    "Site.air_pressure": ("90 kPa", 90),
    "full_throttle.mass": ("1.5 t", 1.5),
    "full_throttle.turning": ("3 percent", 3),
    "full_throttle.drag_area": ("1.3 m2 in cm2", 13_000),
    "try_on_route.limits": ("110 degC", 110),
}
"""What is meant -> the number without its unit, which SI takes for something else."""


@pytest.mark.parametrize("name", ANOTHER_UNIT)
def test_number_in_another_unit_than_that_of_si_is_refused(name):
    meant, value = ANOTHER_UNIT[name]
    with pytest.raises(InputError) as refused:
        (CALLS | LONGER)[name](value)
    assert refused.value.expected, meant


@pytest.mark.slow
def test_speed_that_nothing_reaches_is_said_in_the_result():
    # 20 km/h as 20 m/s, which a machine might have.
    far = cm.accelerate(MATCH, LINE, TRUCK, "firm smooth earth", to_speed=30.0)
    assert "speed-not-reached" in {note.code for note in far.notes}


def test_unusual_number_is_taken_with_its_unit():
    for call, value in (
        (lambda x: cm.solve(E, C, hydraulic_torque=x), 0.5),
        (lambda x: cm.run_up(MATCH, duration=x), 700.0),
    ):
        with pytest.raises(InputError, match="unusual for a number without its unit"):
            call(value)
    assert cm.solve(E, C, hydraulic_torque="0.5 N.m")


@pytest.mark.slow
def test_degrees_celsius_for_kelvin_are_asked_about():
    with pytest.raises(InputError, match="degC read as K"):
        cm.hold(MATCH, TRUCK, oil_start=85)
    with pytest.raises(InputError, match="degC read as K"):
        cm.stall_test(MATCH, oil_temperature=80)
    assert cm.hold(MATCH, TRUCK, oil_start="85 degC")


NUMERIC = ("Quantity", "float", "ArrayLike", "Scalar", "int")
ELSEWHERE = {
    "full_throttle", "identify", "evidence", "run_study", "uncertainty", "readings_form", "picture",
    "try_on_route", "pick_chart", "shortlist", "AcceptanceTest", "Note",
}  # fmt: skip
"""Their numbers need a log, a study or a picture; `test_numbers_of_longer_calls` has them."""
COMPONENTS = {
    "Arrangement", "Converter", "Driveline", "Engine", "Machine", "Motor", "Site", "Study",
    "Surface",
}  # fmt: skip


def test_every_public_function_that_takes_a_number_is_among_them():
    tried = {name.split(".")[0] for name in CALLS}
    for name in cm.__all__:
        thing = getattr(cm, name)
        if not callable(thing) or name in ELSEWHERE | COMPONENTS or name == "InputError":
            continue
        for argument in inspect.signature(thing).parameters.values():
            kinds = str(argument.annotation).replace("'", "").replace("|", " ").split()
            kinds = [kind.strip("[],") for kind in kinds]
            if any(kind in NUMERIC for kind in kinds):
                assert name in tried, f"{name}({argument.name})"


LONGER = {
    "full_throttle.mass": lambda x: cm.full_throttle(
        run(), cm.published("converter_273mm"), mass=x, first_gear=(0.5, 3.0)
    ),
    "full_throttle.first_gear": lambda x: cm.full_throttle(
        run(), cm.published("converter_273mm"), mass="1500 kg", first_gear=(0.5, x)
    ),
    "full_throttle.turning": lambda x: cm.full_throttle(
        run(), cm.published("converter_273mm"), mass="1500 kg", first_gear=(0.5, 3.0), turning=x
    ),
    "full_throttle.drag_area": lambda x: cm.full_throttle(
        run(), cm.published("converter_273mm"), mass="1500 kg", first_gear=(0.5, 3.0), drag_area=x
    ),
    "run_study.draws": lambda x: cm.run_study(STUDY, draws=x),
    "run_study.seed": lambda x: cm.run_study(STUDY, draws=3, seed=x),
    "evidence.draws": lambda x: cm.evidence(STUDY, draws=x),
    "uncertainty.draws": lambda x: cm.uncertainty(STUDY, draws=x),
    "shortlist.draws": lambda x: cm.shortlist("parts.toml", draws=x),
    "shortlist.seed": lambda x: cm.shortlist("parts.toml", draws=0, seed=x),
    "shortlist.jobs": lambda x: cm.shortlist("parts.toml", draws=0, jobs=x),
    "try_on_route.limits": lambda x: cm.try_on_route(
        E, [C], LINE, TRUCK, ROUTE, limits={"oil_temperature": x}
    ),
    "try_on_route.hydraulic_torque": lambda x: cm.try_on_route(
        E, [C], LINE, TRUCK, ROUTE, hydraulic_torque=x
    ),
}
STUDY = cm.read("loader-stall-too-low")
PARTS = """
schema = "converter-match/catalogue/1"
id = "parts"
name = "Two parts"
source = "invented"
study = "loader-stall-too-low"
engines = ["six-cylinder-7l-185kw"]
converters = ["single-stage-345mm-tight"]
"""


@pytest.mark.slow
@pytest.mark.parametrize("name", LONGER)
def test_numbers_of_longer_calls(name, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("parts.toml").write_text(PARTS, encoding="utf-8")
    for value in (*NOT_A_NUMBER, -1, 0, 0.5, 1e9, True, "3", Fraction(1, 3)):
        refused(LONGER[name], value)
