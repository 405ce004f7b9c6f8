"""What a study's own numbers are asked about: on which side of which end of the usual.

The ends are common practice, no source. The study is the one of round numbers: 900 N.m at every
speed up to 2200 rpm, hence 207.3 kW; a machine of 15 t with 5 t on it, rolling on 0.75 m.
"""

import pytest

from converter_match.library.check import oddities
from converter_match.study.criteria import CATALOGUE
from converter_match.study.measurement import Measurement
from converter_match.study.study import Claim, Limits, Tolerance
from tests.examples import RPM
from tests.machines import machine
from tests.study_examples import combination, flat_engine, study

TORQUE, SPEED = 900.0, 2200 * RPM
POWER = TORQUE * SPEED
LADEN = 20_000.0  # kg
WEIGHT = LADEN * 9.80665  # N
PACE = 5.0 / 3.6  # m/s
PLAIN = study()


def asked(given):
    """Code, and what it is about, of everything that is odd."""
    return [(note.code, dict(note.values).get("what", "")) for note in oddities(given)]


def values(given):
    [note] = oddities(given)
    return dict(note.values)


def about_the_ends(low, high):
    """Yield numbers a hundredth inside and outside of both ends, and whether they are asked of."""
    for end, outside in ((low, 0.99), (high, 1.01)):
        yield end * outside, True
        yield end / outside, False


def rows(table):
    return [
        pytest.param(*key, number, odd, id=f"{'-'.join(map(str, key))}={number:.4g}")
        for *key, low, high in table
        for number, odd in about_the_ends(low, high)
    ]


def test_round_numbers_are_asked_nothing():
    assert asked(PLAIN) == []


HALF_WIDTHS = (
    ("engine-torque", 0.005, 0.15),
    ("k-factor", 0.005, 0.15),
    ("torque-ratio", 0.005, 0.12),
    ("air-pressure", 0.002, 0.05),
    ("air-temperature", 1.0, 25.0),  # K
    ("mass", 0.005, 0.2),
    ("rolling-radius", 0.002, 0.06),
)
UP_TO_THE_WIDEST = [  # a half, beyond which a tolerance is refused
    (quantity, half_width, odd)
    for quantity in ("accessories", "pumps", "rolling-resistance")
    for half_width, odd in ((0.0297, True), (0.0303, False), (0.5, False))
]


@pytest.mark.parametrize(("quantity", "half_width", "odd"), [*rows(HALF_WIDTHS), *UP_TO_THE_WIDEST])
def test_tolerance_is_asked_about_beyond_what_is_usual_of_its_quantity(quantity, half_width, odd):
    found = asked(PLAIN.replace(tolerances=(Tolerance(quantity=quantity, half_width=half_width),)))
    assert found == ([("tolerance-unusual", f"the tolerance of {quantity}")] if odd else [])


@pytest.mark.parametrize(("half_width", "code"), [(0.00099, "tiny"), (0.00101, "unusual")])
def test_share_below_a_thousandth_is_taken_for_percent(half_width, code):
    given = PLAIN.replace(tolerances=(Tolerance(quantity="mass", half_width=half_width),))
    assert asked(given) == [(f"tolerance-{code}", "the tolerance of mass")]


def test_tolerance_of_the_air_in_kelvin_is_no_share():
    given = PLAIN.replace(tolerances=(Tolerance(quantity="air-temperature", half_width=0.0005),))
    assert asked(given) == [("tolerance-unusual", "the tolerance of air-temperature")]


def test_tolerance_of_nothing_at_all_is_meant():
    assert asked(PLAIN.replace(tolerances=(Tolerance(quantity="mass", half_width=0.0),))) == []


@pytest.mark.parametrize(
    ("shift", "odd"), [(0.149, False), (0.151, True), (-0.149, False), (-0.151, True)]
)
def test_shift_is_asked_about_beyond_the_widest_tolerance_either_way(shift, odd):
    item = Tolerance(quantity="engine-torque", half_width=0.03, shift=shift)
    given = PLAIN.replace(tolerances=(item,))
    assert asked(given) == (
        [("tolerance-unusual", "the shift of engine-torque")] if odd else []
    )  # fmt: skip
    if odd:
        said = values(given)
        assert (said["value"], said["low"], said["high"]) == (shift, -0.15, 0.15)


# Of the number that the criterion has without a study.
THRESHOLDS = {
    "least": (0.5, 1.5),
    "most": (0.5, 1.6),
    "margin": (0.15, 6.0),
    "efficiency": (0.7, 1.2),
    "up_to": (0.3, 3.0),
}
EVERY_THRESHOLD = [
    (spec.name, one.name, *THRESHOLDS[one.name])
    for spec in CATALOGUE.values()
    for one in spec.thresholds
    if one.default
]


@pytest.mark.parametrize(("criterion", "name", "factor", "odd"), rows(EVERY_THRESHOLD))
def test_threshold_is_held_against_the_criterions_own(criterion, name, factor, odd):
    spec = CATALOGUE[criterion]
    [own] = [one.default for one in spec.thresholds if one.name == name]
    others = {one.name: one.default for one in spec.thresholds}
    if name == "least" and "most" in others:  # the two of a window move together
        others["most"] *= factor
    elif name == "most" and "least" in others:
        others["least"] *= factor
    choice = spec.choice(**(others | {name: own * factor}))
    found = asked(PLAIN.replace(criteria=(choice,)))
    about = f"{name} of the criterion {criterion}"
    assert (("threshold-unusual", about) in found) is odd
    assert {code for code, _ in found} <= {"threshold-unusual"}


def test_threshold_of_zero_asks_for_nothing_and_is_not_asked_about():
    choice = CATALOGUE["top-speed-kept"].choice(margin=0.0)
    assert asked(PLAIN.replace(criteria=(choice,))) == []


def test_threshold_is_said_with_the_number_that_it_stands_instead_of():
    said = values(PLAIN.replace(criteria=(CATALOGUE["continuous-heat"].choice(most=100.0),)))
    assert (said["value"], said["usual"]) == (100.0, 1.0)


LIMITS = (
    ("input_torque", TORQUE, 0.3, 6.0),
    ("input_power", POWER, 0.3, 6.0),
    ("input_speed", SPEED, 0.6, 3.0),
    ("turbine_torque", TORQUE, 0.6, 12.0),
    ("turbine_speed", SPEED, 0.5, 3.0),
    ("engine_speed", SPEED, 0.7, 2.0),
    ("stall_speed_least", SPEED, 0.3, 1.1),
    ("stall_speed_most", SPEED, 0.3, 1.3),
)


@pytest.mark.parametrize(("key", "scale", "share", "odd"), rows(LIMITS))
def test_limit_is_held_against_torque_power_or_speed_of_the_engine(key, scale, share, odd):
    given = PLAIN.replace(limits=Limits(**{key: share * scale}))
    assert asked(given) == ([("limit-unusual", f"limits.{key}")] if odd else [])
    if odd:
        assert values(given)["share"] == pytest.approx(share)


def test_limit_is_held_against_the_greatest_of_the_engines():
    # 5 times 1800 N.m, which is 10 times the 900 N.m of the other.
    given = study(
        combination(engine=flat_engine(1800.0)), limits=Limits(input_torque=5 * 1800.0)
    )  # fmt: skip
    assert asked(given) == []
    assert asked(given.replace(limits=Limits(input_torque=6.1 * 1800.0))) != []


@pytest.mark.parametrize(("share", "odd"), [*about_the_ends(0.02, 1.5)])
def test_heat_limit_is_held_against_the_rated_power(share, odd):
    found = asked(PLAIN.replace(limits=Limits(heat=share * POWER)))
    assert (("heat-limit-unusual", "") in found) is odd


def test_heat_limit_is_held_against_the_greatest_of_the_engines():
    given = study(combination(engine=flat_engine(1800.0)), limits=Limits(heat=1.4 * 2 * POWER))
    assert asked(given) == []
    said = values(given.replace(limits=Limits(heat=1.6 * 2 * POWER)))
    assert said["power"] == pytest.approx(2 * POWER)
    assert (said["low"], said["high"]) == pytest.approx((0.04 * POWER, 3.0 * POWER))


@pytest.mark.parametrize(("share", "odd"), [*about_the_ends(0.025, 1.0), (0.0, False)])
def test_torque_of_the_pumps_is_held_against_the_smallest_of_the_engines(share, odd):
    given = study(combination(engine=flat_engine(1800.0)))
    given = given.replace(duty=given.duty.replace(hydraulic_torque=share * TORQUE))
    assert asked(given) == ([("hydraulic-torque-unusual", "")] if odd else [])


@pytest.mark.parametrize("where", ["continuous_grade", "grades"])
@pytest.mark.parametrize(("grade", "odd"), [(0.0051, False), (0.0049, True), (0.0, False)])
def test_grade_below_half_a_percent_is_taken_for_a_share(where, grade, odd):
    change = {"continuous_grade": None, "grades": (0.0,)} | {
        where: (0.0, grade) if where == "grades" else grade
    }
    found = asked(PLAIN.replace(duty=PLAIN.duty.replace(**change)))
    what = "the steepest of duty.grades" if where == "grades" else "duty.continuous_grade"
    assert found == ([("grade-tiny", what)] if odd else [])


# --- readings and claims -------------------------------------------------------------------------

SETTINGS = {
    "speed-on-grade": {"gear": "1", "grade": 0.1},
    "pull": {"gear": "1"},
    "engine-torque": {"engine_speed": 1400 * RPM},
    "torque-ratio": {"speed_ratio": 0.4},
}
READINGS = (
    ("stall-speed", SPEED, 0.25, 1.15),
    ("speed-on-grade", PACE, 0.1, 20.0),
    ("top-speed", PACE, 0.8, 25.0),
    ("pull", WEIGHT, 0.05, 1.2),
    ("engine-torque", TORQUE, 0.2, 1.3),
    ("weight", LADEN, 0.25, 1.4),
    ("rolling-radius", 0.75, 0.8, 1.25),
    ("torque-ratio", 1.0, 0.8, 6.0),
)
CLAIMS = (
    ("stall-speed", SPEED, 0.25, 1.15),
    ("stall-input-torque", TORQUE, 0.3, 1.2),
    ("stall-turbine-torque", TORQUE, 0.6, 6.0),
    ("stall-torque-ratio", 1.0, 1.0, 6.0),
    ("stall-heat", POWER, 0.1, 1.2),
    ("coupling-speed-ratio", 1.0, 0.5, 1.0),
    ("coupling-engine-speed", SPEED, 0.3, 1.2),
    ("coupling-turbine-speed", SPEED, 0.25, 1.2),
    ("best-efficiency", 1.0, 0.7, 0.98),
    ("tractive-effort", WEIGHT, 0.02, 1.2),
    ("steepest-grade", 1.0, 0.03, 1.0),
    ("speed-on-grade", PACE, 0.1, 20.0),
    ("top-speed", PACE, 0.8, 25.0),
)
DOUBT = (Tolerance(quantity="mass", half_width=0.05),)


def with_reading(quantity, value, *, share=0.01, **changes):
    fields = {
        "quantity": quantity, "combination": "new", "value": value, "deviation": share * value,
    }  # fmt: skip
    item = Measurement(**fields, **(SETTINGS.get(quantity, {}) | changes))
    return PLAIN.replace(tolerances=DOUBT, measurements=(item,))


@pytest.mark.parametrize(("quantity", "scale", "share", "odd"), rows(READINGS))
def test_reading_is_held_against_the_size_of_what_is_read(quantity, scale, share, odd):
    given = with_reading(quantity, share * scale)
    what = f"measurement[0] ({quantity})"
    assert asked(given) == ([("limit-unusual", what)] if odd else [])
    if odd:
        assert values(given)["share"] == pytest.approx(share)


@pytest.mark.parametrize(("quantity", "scale", "share", "odd"), rows(CLAIMS))
def test_claim_is_held_against_the_size_of_what_is_claimed(quantity, scale, share, odd):
    fields = {"quantity": quantity, "value": share * scale, "given": "", "combination": "new"}
    found = asked(PLAIN.replace(claims=(Claim(**fields),)))
    assert found == ([("limit-unusual", f"claim[0] ({quantity})")] if odd else [])


@pytest.mark.parametrize(("share", "odd"), [*about_the_ends(0.0015, 0.06)])
def test_deviation_of_an_instrument_is_a_share_of_its_reading(share, odd):
    given = with_reading("stall-speed", 0.8 * SPEED, share=share)
    assert asked(given) == ([("deviation-unusual", "measurement[0] (stall-speed)")] if odd else [])
    if odd:
        assert values(given)["share"] == pytest.approx(share)


@pytest.mark.parametrize(("share", "odd"), [*about_the_ends(0.25, 1.4)])
def test_mass_of_the_day_is_held_against_the_laden_machine(share, odd):
    given = with_reading("top-speed", 3 * PACE, mass=share * LADEN)
    what = "the mass of measurement[0] (top-speed)"
    assert asked(given) == ([("limit-unusual", what)] if odd else [])


def test_reading_is_held_against_the_machine_it_was_taken_on():
    # 30 t are 1.5 times the laden machine of the present one, and 0.75 times the other's.
    large = machine(mass_empty=30_000.0, payload=10_000.0)
    fields = {"quantity": "weight", "value": 30_000.0, "deviation": 300.0}
    for on, odd in (("present", True), ("new", False)):
        item = Measurement(combination=on, **fields)
        given = study(combination(machine=large), tolerances=DOUBT, measurements=(item,))
        assert bool(asked(given)) is odd


def test_second_row_is_called_the_second():
    items = tuple(
        Measurement(
            quantity="stall-speed", combination=on, value=of * SPEED, deviation=0.01 * SPEED
        )
        for on, of in (("present", 0.8), ("new", 1.2))
    )
    given = PLAIN.replace(tolerances=DOUBT, measurements=items)
    assert asked(given) == [("limit-unusual", "measurement[1] (stall-speed)")]


def test_claim_about_no_machine_is_asked_nothing_of_one():
    bare = combination(driveline=None, machine=None)
    claim = Claim(quantity="tractive-effort", value=10 * WEIGHT, given="", combination="new")
    assert asked(study(bare, present=None, claims=(claim,))) == []
