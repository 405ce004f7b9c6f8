import copy
import pickle

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from converter_match.components.engine import Accessory, Engine, Fuel, SiteCorrection, SpeedTable
from converter_match.components.rating import BAND, curve_from_rating
from converter_match.components.site import Air
from converter_match.errors import InputError
from converter_match.notes import Note
from converter_match.units import note_text
from tests.examples import RPM, engine

ROWS = np.array([800, 1000, 1200, 1400, 1600, 1800, 2000, 2200]) * RPM
TORQUE = np.array([700.0, 850, 950, 1000, 980, 940, 880, 803])


def codes(component):
    return [note.code for note in component.notes]


# --- full load and run-out -----------------------------------------------------------------------


def test_full_load_goes_through_the_rows():
    assert np.array_equal(engine().full_load(ROWS), TORQUE)
    assert engine().full_load.domain == (800 * RPM, 2380 * RPM)


def test_run_out_is_a_straight_line_to_zero_at_high_idle_and_is_noted():
    made = engine()
    share = np.linspace(0, 1, 11)
    speed = np.clip(2200 * RPM + share * 180 * RPM, None, made.high_idle)
    np.testing.assert_allclose(made.full_load(speed), 803 * (1 - share), atol=1e-10)
    assert float(made.full_load(made.high_idle)) == 0.0
    assert "run-out-straight" in codes(made)
    # The governor's onset is a corner: full load before it is not bent by the run-out.
    assert made.full_load.kinks == (2200 * RPM,)
    before = made.full_load.with_slope(2199 * RPM)[1]
    after = made.full_load.with_slope(2201 * RPM)[1]
    assert after / before > 5


def test_run_out_given_in_the_rows_is_used_as_given():
    made = engine(
        speed=np.append(ROWS, [2300 * RPM, 2380 * RPM]), torque=np.append(TORQUE, [500.0, 0.0])
    )
    assert made.full_load(2300 * RPM) == 500.0
    assert made.full_load.kinks == (2200 * RPM,)
    assert not {"run-out-straight", "no-row-at-rated-speed", "torque-at-high-idle"} & {*codes(made)}


def test_rated_speed_is_a_corner_even_if_its_row_was_rounded_another_way():
    speed = np.append(ROWS, 2380 * RPM)
    speed[7] *= 1 + 1e-15
    made = engine(speed=speed, torque=np.append(TORQUE, 0.0))
    assert speed[7] != ROWS[7]
    assert made.rated_speed == speed[7]
    assert made.full_load.kinks == (speed[7],)


def test_run_out_rows_without_a_row_at_rated_speed_are_noted():
    # From 880 at 2000 rpm to 0 at 2380 the curve says nothing about the torque at 2200.
    made = engine(speed=np.append(ROWS[:-1], 2380 * RPM), torque=np.append(TORQUE[:-1], 0.0))
    [note] = [note for note in made.notes if note.code == "no-row-at-rated-speed"]
    assert note.kind == "assumption"
    assert "(2200 rpm; neighbours 2000 rpm and 2380 rpm)" in note_text(note, "us")


@pytest.mark.parametrize("ulp", [1 - 4e-16, 1 + 4e-16])
def test_rows_at_the_idle_speeds_but_for_rounding_are_on_them(ulp):
    speed = np.append(ROWS, 2380 * RPM)
    speed[[0, -1]] *= ulp
    made = engine(speed=speed, torque=np.append(TORQUE, 0.0))
    assert made.full_load.domain == (made.low_idle, made.high_idle)
    assert not {"no-torque-near-idle", "run-out-straight"} & {*codes(made)}


def test_torque_left_at_high_idle_is_noted():
    made = engine(speed=np.append(ROWS, 2380 * RPM), torque=np.append(TORQUE, 300.0))
    assert "torque-at-high-idle" in codes(made)


def test_full_load_that_begins_above_idle_is_noted_and_not_extended():
    made = engine(low_idle=700 * RPM)
    assert "no-torque-near-idle" in codes(made)
    with pytest.raises(InputError, match="not known there"):
        made.full_load(700 * RPM)
    assert "no-torque-near-idle" not in codes(engine())


def test_accessories_on_a_net_rating_are_noted():
    assert "accessories-on-net-rating" in codes(engine(rating_basis="net"))
    assert "accessories-on-net-rating" not in codes(engine(rating_basis="gross"))
    assert "accessories-on-net-rating" not in codes(engine(rating_basis="net", accessories=()))


def test_notes_given_come_first():
    assert engine(given_notes=(Note("first", "x"),)).notes[0].code == "first"


def test_peak_torque_and_rated_power():
    made = engine()
    assert made.peak_torque == (1400 * RPM, 1000.0)
    assert made.rated_power == pytest.approx(803 * 2200 * RPM)


def test_peak_torque_is_that_of_the_working_speeds():
    # Highest at 600 rpm, below the low idle of 1000 rpm: the engine never runs there.
    lugged = engine(
        low_idle=1000 * RPM,
        speed=np.array([600, 1200, 1400, 2200]) * RPM,
        torque=[1300.0, 1100.0, 950.0, 800.0],
    )
    assert lugged.peak_torque[0] == pytest.approx(1000 * RPM, rel=1e-15)
    assert 1100.0 < lugged.peak_torque[1] < 1300.0
    assert lugged.peak_torque[1] == lugged.full_load(1000 * RPM)


# --- validation ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"low_idle": 2300 * RPM}, "low_idle: low idle must be below the rated speed.*2300 rpm"),
        ({"high_idle": 2200 * RPM}, "high_idle: high idle must be above the rated speed"),
        ({"low_idle": 0.0}, "low_idle: out of range; found 0"),
        ({"high_idle": np.inf}, "high_idle: out of range"),
        ({"rated_speed": "2200"}, "rated_speed: not a number; found '2200'"),
        ({"displacement": -1.0}, "displacement: out of range"),
        ({"inertia": 0.0}, "inertia: out of range"),
        ({"rating_basis": "brutto"}, "rating_basis: not a known choice.*gross | net"),
        ({"governing": "sped"}, "governing: .*did you mean 'speed'"),
        ({"aspiration": "turbo"}, "aspiration: .*turbocharged"),
        ({"torque": TORQUE - 701}, r"full_load.torque \(row 1\): below zero; found -1"),
        ({"torque": 0 * TORQUE}, "full_load.torque: the torque is zero everywhere"),
        ({"torque": TORQUE[:-1]}, "7 values of full_load.torque for 8 of full_load.speed"),
        ({"torque": ["a"] * 8}, "full_load.torque: not a list of numbers"),
        ({"speed": ROWS[::-1]}, "full_load.speed does not increase at row 2"),
        ({"speed": ROWS * 0.99}, "stops short of the rated speed.*2178 rpm.*2200 rpm"),
        ({"speed": ROWS * 1.1}, "full-load row outside.*2420 rpm.*2380 rpm"),
        ({"speed": ROWS - ROWS[0]}, "full-load row outside|stops short"),
        ({"speed": np.linspace(2250, 2380, 8) * RPM}, "begins at or above the rated speed"),
    ],
)
def test_bad_data_are_refused_by_name(fields, message):
    with pytest.raises(InputError, match=message):
        engine(**fields)


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"power": -1.0}, r"accessory 'fan'.power: out of range; found -1"),
        ({"power": np.nan}, r"accessory 'fan'.power: out of range"),
        ({"at_speed": 0.0}, r"accessory 'fan'.at_speed: out of range"),
        ({"exponent": 5.5}, r"accessory 'fan'.exponent: out of range.*0 to 5"),
        ({"exponent": np.nan}, r"accessory 'fan'.exponent: out of range"),
    ],
)
def test_bad_accessories_are_refused_by_name(fields, message):
    with pytest.raises(InputError, match=message):
        Accessory(**{"name": "fan", "power": 11e3, "at_speed": 230.0, "exponent": 3.0} | fields)


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"method": "iso-3047"}, "site_correction.method: .*did you mean 'iso-3046'"),
        ({"engine_factor": 1.3}, "site_correction.engine_factor: .*0 to 1.2"),
        ({"mechanical_efficiency": 1.0}, "site_correction.mechanical_efficiency"),
        ({"derate_altitude": [0, 1000]}, "needs both altitude and factor"),
        ({"method": "derate-table"}, "needs the table"),
        ({"derate_altitude": [0, 1000], "derate_factor": [1.0, 0.0]}, "derate.factor: out of"),
        ({"derate_altitude": [0, 0], "derate_factor": [1.0, 0.9]}, r"derate\.altitude repeats"),
    ],
)
def test_bad_site_corrections_are_refused_by_name(fields, message):
    with pytest.raises(InputError, match=message):
        SiteCorrection(**fields)


def test_tables_and_fuel_are_checked():
    with pytest.raises(InputError, match=r"motoring torque \(row 2\): below zero; found -5"):
        SpeedTable(speed=[80.0, 250.0], value=[60.0, -5.0], name="motoring torque")
    with pytest.raises(InputError, match=r"fuel\.density: out of range"):
        Fuel(density=0.0)
    table = SpeedTable(speed=[80.0, 250.0], value=[60.0, 120.0], name="motoring torque")
    assert table.curve(165.0) == pytest.approx(90.0)


# --- an engine is a value ------------------------------------------------------------------------


def full():
    return engine(
        motoring=SpeedTable(speed=[80.0, 250.0], value=[60.0, 120.0], name="motoring torque"),
        fuel=Fuel(specific=SpeedTable(speed=[80.0, 240.0], value=[6e-8, 6e-8], name="bsfc")),
        reference_air=Air(pressure=99e3, temperature=298.0),
        site_correction=SiteCorrection(derate_altitude=[0, 2000], derate_factor=[1.0, 0.9]),
        interface=[["housing", "2"]],
    )


@pytest.mark.parametrize("carry", [copy.deepcopy, lambda e: pickle.loads(pickle.dumps(e))])
def test_engine_survives_copying_and_stays_read_only(carry):
    made = full()
    made.full_load(200.0)  # fills what is cached
    back = carry(made)
    assert back == made
    assert hash(back) == hash(made)
    assert back.notes == made.notes
    assert not back.torque.flags.writeable
    assert not back.motoring.value.flags.writeable


@pytest.mark.parametrize(
    "other",
    [
        {"torque_band": 0.01},
        {"accessories": ()},
        {"fuel": None},
        {"motoring": SpeedTable(speed=[80.0, 250.0], value=[60.0, 121.0], name="motoring torque")},
        {"reference_air": Air(pressure=99.1e3, temperature=298.0)},
        {"site_correction": SiteCorrection()},
        {"rating_standard": "ISO 14396"},
    ],
    ids=lambda fields: next(iter(fields)),
)
def test_any_difference_makes_it_another_engine(other):
    assert full() != full().replace(**other)
    assert full() == full().replace(name="Test engine")


def test_accessories_whose_numbers_follow_each_other_do_not_run_together():
    def fan(power, at_speed):
        return engine(
            accessories=(Accessory(name="f", power=power, at_speed=at_speed, exponent=3),)
        )

    assert fan(11000.0, 230.0) != fan(11000.02, 30.0)
    assert fan(11000, 230) == fan(11000.0, np.float64(230.0))


def test_accessories_given_as_a_list_cannot_be_changed_afterwards():
    mine = [Accessory(name="f", power=1.0, at_speed=230.0, exponent=3)]
    made = engine(accessories=mine)
    mine.clear()
    assert len(made.accessories) == 1
    assert made == engine(accessories=made.accessories)


# --- from a rating line --------------------------------------------------------------------------

HABITS = {"rating_basis": "gross", "governing": "speed"}


@st.composite
def ratings(draw):
    idle = draw(st.floats(500, 1000)) * RPM
    rated = draw(st.floats(1800, 3500)) * RPM
    peak_speed = idle + draw(st.floats(0.1, 0.9)) * (rated - idle)
    power = draw(st.floats(2e4, 5e5))
    return {
        "rated_power": power,
        "rated_speed": rated,
        "peak_torque": power / rated * draw(st.floats(1.0, 1.6)),
        "peak_torque_speed": peak_speed,
        "low_idle": idle,
    }


@given(ratings())
def test_curve_from_a_rating_line_goes_through_both_given_points(rating):
    made = Engine.from_rating(**rating, **HABITS, high_idle=rating["rated_speed"] * 1.08)
    assert made.full_load(rating["peak_torque_speed"]) == pytest.approx(rating["peak_torque"])
    assert made.rated_power == pytest.approx(rating["rated_power"], rel=1e-12)
    at = np.linspace(*made.full_load.domain, 999)
    assert np.max(made.full_load(at)) <= rating["peak_torque"] * (1 + 1e-12)
    assert made.full_load.domain == (rating["low_idle"], rating["rated_speed"] * 1.08)
    below = at <= rating["peak_torque_speed"]
    assert np.all(np.diff(made.full_load(at[below])) >= -1e-9 * rating["peak_torque"])
    assert np.all(np.diff(made.full_load(at[~below])) <= 1e-9 * rating["peak_torque"])


@given(ratings())
def test_curve_from_a_rating_line_says_that_it_is_an_estimate(rating):
    made = Engine.from_rating(
        **rating,
        **HABITS,
        high_idle=rating["rated_speed"] * 1.08,
        given_notes=(Note("mine", "x"),),
    )
    assert codes(made)[:2] == ["mine", "curve-from-rating"]
    assert made.notes[1].kind == "assumption"
    assert made.torque_band == BAND > 0
    assert f"{100 * BAND:.0f} %" in made.notes[1].message


def test_between_the_given_points_the_curve_is_the_stated_parabola():
    made = Engine.from_rating(
        rated_power=700 * 2200 * RPM,
        rated_speed=2200 * RPM,
        peak_torque=800.0,
        peak_torque_speed=1400 * RPM,
        low_idle=700 * RPM,
        high_idle=2400 * RPM,
        **HABITS,
    )
    # Halfway a parabola has lost a quarter; the interpolant between rows is good to about 1e-3.
    assert made.full_load(1800 * RPM) == pytest.approx(800 - 100 / 4, rel=1e-3)
    # At half the peak-torque speed the torque is down by 30 % (common practice, no source).
    assert made.full_load(700 * RPM) == pytest.approx(560.0)


def test_basis_and_governing_of_a_rating_line_are_not_guessed():
    line = {
        "rated_power": 138e3,
        "rated_speed": 2200 * RPM,
        "peak_torque": 800.0,
        "peak_torque_speed": 1400 * RPM,
        "low_idle": 700 * RPM,
        "high_idle": 2400 * RPM,
    }
    for missing in HABITS:
        with pytest.raises(TypeError, match=missing):
            Engine.from_rating(**line, **{key: HABITS[key] for key in HABITS if key != missing})


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"rated_power": 0.0}, "rating.rated_power: out of range"),
        ({"peak_torque": np.nan}, "rating.peak_torque: out of range"),
        ({"low_idle": -1.0}, "rating.low_idle: out of range"),
        ({"peak_torque_speed": 2300 * RPM}, "rating.peak_torque_speed: .*2300 rpm.*800 .. 2200"),
        ({"peak_torque_speed": 700 * RPM}, "rating.peak_torque_speed: .*between low idle and"),
        ({"peak_torque": 799.0}, "rating.peak_torque: .*799 N.m.*at least 800 N.m"),
    ],
)
def test_rating_line_that_contradicts_itself_is_refused(fields, message):
    rating = {
        "rated_power": 800 * 2200 * RPM,
        "rated_speed": 2200 * RPM,
        "peak_torque": 1000.0,
        "peak_torque_speed": 1400 * RPM,
        "low_idle": 800 * RPM,
    }
    with pytest.raises(InputError, match=message):
        curve_from_rating(**rating | fields)


@given(ratings())
def test_rating_line_with_torque_that_only_falls_is_taken(rating):
    assume(rating["peak_torque_speed"] < 0.6 * rating["rated_speed"])
    level = rating | {"peak_torque": rating["rated_power"] / rating["rated_speed"]}
    estimate = curve_from_rating(**level)
    above = estimate.speed >= level["peak_torque_speed"]
    np.testing.assert_allclose(estimate.torque[above], level["peak_torque"], rtol=1e-12)
