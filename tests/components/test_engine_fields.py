"""An engine's data by field: what is refused where, and a rating line worked out by hand."""

import math

import numpy as np
import pytest

from converter_match.components.engine import (
    ASPIRATIONS,
    METHODS,
    Accessory,
    Engine,
    Fuel,
    SiteCorrection,
    SpeedTable,
)
from converter_match.components.rating import curve_from_rating
from converter_match.components.site import Air, Site
from converter_match.errors import InputError
from converter_match.notes import Note
from tests.examples import RPM, engine

ROWS = np.array([800, 1000, 1200, 1400, 1600, 1800, 2000, 2200]) * RPM
TORQUE = np.array([700.0, 850, 950, 1000, 980, 940, 880, 803])


def refusal(build):
    with pytest.raises(InputError) as caught:
        build()
    return caught.value


def rows(speed_rpm, torque=None):
    speed = np.array(speed_rpm, float) * RPM
    return engine(speed=speed, torque=np.full(speed.size, 500.0) if torque is None else torque)


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"rating_basis": "brutto"}, "rating_basis"),
        ({"governing": "allspeed"}, "governing"),
        ({"aspiration": "turbo"}, "aspiration"),
        ({"low_idle": 2200 * RPM}, "low_idle"),
        ({"high_idle": 2200 * RPM}, "high_idle"),
        ({"speed": list("abcdefgh")}, "full_load.speed"),
        ({"torque": list("abcdefgh")}, "full_load.torque"),
        ({"torque": TORQUE[:-1]}, "full_load.torque"),
        ({"speed": ROWS[::-1]}, "full_load.speed"),
        ({"torque": np.where(TORQUE == 950, np.nan, TORQUE)}, "full_load.torque"),
        ({"torque": np.where(TORQUE == 950, -1e-9, TORQUE)}, "full_load.torque[2]"),
        ({"torque": 0 * TORQUE}, "full_load.torque"),
    ],
)
def test_bad_data_are_refused_by_their_field(fields, field):
    assert refusal(lambda: engine(**fields)).field == field


@pytest.mark.parametrize(
    ("speed", "problem"),
    [
        ([2200, 2300], "begins at or above the rated speed"),
        ([2201, 2300], "begins at or above the rated speed"),
        ([800, 2199.999], "stops short of the rated speed"),
        ([0, 2200], "outside the engine's speed range"),
        ([-100, 2200], "outside the engine's speed range"),
        ([800, 2380.001], "outside the engine's speed range"),
    ],
)
def test_curve_that_does_not_fit_the_speeds_is_refused(speed, problem):
    error = refusal(lambda: rows(speed))
    assert error.field == "full_load.speed"
    assert problem in error.problem


@pytest.mark.parametrize(
    "speed", [[800, 2200], [2199, 2200], [0.1, 2200], [800, 2200 * (1 - 5e-10)], [800, 2200, 2380]]
)
def test_curve_that_just_fits_is_taken(speed):
    assert rows(speed).torque.size == len(speed)


def test_row_outside_the_range_is_the_one_that_is_shown():
    assert refusal(lambda: rows([-100, 2200])).found == "-100 rpm"
    assert refusal(lambda: rows([800, 2400])).found == "2400 rpm"


def test_torque_may_be_zero_at_some_rows_and_the_words_may_be_any_of_the_list():
    assert rows([800, 2200, 2380], [500.0, 400.0, 0.0]).torque[-1] == 0.0
    assert rows([800, 2200], [0.5, 0.0]).peak_torque == (800 * RPM, 0.5)
    for aspiration in (*ASPIRATIONS, None):
        assert engine(aspiration=aspiration).aspiration == aspiration
    for basis in ("gross", "net"):
        for governing in ("speed", "torque"):
            made = engine(rating_basis=basis, governing=governing, accessories=())
            assert (made.rating_basis, made.governing) == (basis, governing)


def test_lists_become_tuples_and_arrays_read_only():
    fan = Accessory(name="fan", power=1e3, at_speed=200.0, exponent=3)
    made = engine(accessories=[fan], interface=[["a", "b"]], given_notes=[Note("told", "Told.")])
    assert made.accessories == (fan,)
    assert made.interface == (("a", "b"),)
    assert isinstance(made.given_notes, tuple)
    assert not made.speed.flags.writeable
    assert not made.torque.flags.writeable


def test_accessory_is_power_over_speed_at_its_reference():
    assert Accessory(name="a", power=11e3, at_speed=220.0, exponent=3).reference_torque == 50.0
    error = refusal(lambda: Accessory(name="a", power=math.inf, at_speed=220.0, exponent=3))
    assert error.field == "accessory 'a'.power"


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"speed": ["a", "b"]}, "speed"),
        ({"value": ["a", "b"]}, "drag"),
        ({"speed": [2.0, 1.0]}, "speed"),
        ({"value": [1.0]}, "drag"),
        ({"value": [1.0, math.inf]}, "drag"),
        ({"value": [1.0, -1e-12]}, "drag[1]"),
    ],
)
def test_table_that_cannot_be_is_refused_by_its_name(fields, field):
    table = {"speed": [1.0, 2.0], "value": [0.0, 3.0], "name": "drag"}
    assert refusal(lambda: SpeedTable(**(table | fields))).field == field
    made = SpeedTable(**table)
    assert float(made.curve(1.5)) == pytest.approx(1.5)
    assert not made.value.flags.writeable
    assert not made.speed.flags.writeable


def test_fuel_data_may_be_missing():
    assert Fuel() == Fuel(specific=None, idle_rate=None, lower_heating_value=None, density=None)


TABLE = {"derate_altitude": [0.0, 1000.0, 3000.0], "derate_factor": [1.0, 0.97, 1.2]}


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"method": "iso-3047"}, "site_correction.method"),
        ({"method": "derate-table"}, "site_correction.derate"),
        ({"derate_altitude": [0.0, 1e3]}, "site_correction.derate"),
        ({"derate_factor": [1.0, 0.9]}, "site_correction.derate"),
        (TABLE | {"derate_altitude": ["a"] * 3}, "site_correction.derate.altitude"),
        (TABLE | {"derate_factor": ["a"] * 3}, "site_correction.derate.factor"),
        (TABLE | {"derate_altitude": [0.0, 2e3, 1e3]}, "site_correction.derate.altitude"),
        (TABLE | {"derate_factor": [1.0, 0.9]}, "site_correction.derate.factor"),
        (TABLE | {"derate_factor": [1.0, 0.9, math.nan]}, "site_correction.derate.factor"),
        (TABLE | {"derate_factor": [1.0, 0.0, 0.9]}, "site_correction.derate.factor"),
        (TABLE | {"derate_factor": [1.0, 1.21, 0.9]}, "site_correction.derate.factor"),
    ],
)
def test_site_correction_that_cannot_be_is_refused_by_its_field(fields, field):
    assert refusal(lambda: SiteCorrection(**fields)).field == field


@pytest.mark.parametrize("method", [*METHODS, None])
def test_every_method_may_have_a_table_and_keeps_it_read_only(method):
    made = SiteCorrection(method=method, **TABLE)
    assert made.derate_altitude.tolist() == TABLE["derate_altitude"]
    assert made.derate_factor.tolist() == TABLE["derate_factor"]
    assert not made.derate_altitude.flags.writeable
    assert not made.derate_factor.flags.writeable
    assert made == SiteCorrection(method=method, **TABLE)


def test_site_needs_one_of_altitude_pressure_and_temperature():
    names = {"id": "s", "name": "s", "source": "test"}
    assert refusal(lambda: Site(**names, relative_humidity=0.5)).field == "altitude"
    for given in ({"altitude": 0.0}, {"air_pressure": 9e4}, {"air_temperature": 290.0}):
        assert Site(**names, **given).relative_humidity is None


def test_dry_pressure_is_what_the_vapour_leaves():
    assert Air(pressure=99e3, temperature=298.0, vapour_pressure=2e3).dry_pressure == 97e3
    assert Air(pressure=99e3, temperature=298.0).dry_pressure == 99e3


# --- the rating line -----------------------------------------------------------------------------

LINE = {
    "rated_power": 150e3,
    "rated_speed": 200.0,
    "peak_torque": 1000.0,
    "peak_torque_speed": 100.0,
    "low_idle": 80.0,
}


def test_rating_line_is_two_parabolas_with_their_vertex_at_peak_torque():
    made = curve_from_rating(**LINE)
    np.testing.assert_allclose(
        made.speed[:6], [80, 83 + 1 / 3, 86 + 2 / 3, 90, 93 + 1 / 3, 96 + 2 / 3]
    )
    np.testing.assert_allclose(made.speed[6:], np.linspace(100.0, 200.0, 15))
    # Below: 30 % of the peak at half the peak-torque speed, so 0.3 (20 / 50)^2 at idle.
    assert made.torque[0] == pytest.approx(1000 * (1 - 0.3 * 0.16))
    assert made.torque[3] == pytest.approx(1000 * (1 - 0.3 * 0.04))
    # Above: 750 N.m at rated speed, so 62.5 less than peak half way.
    assert made.torque[13] == pytest.approx(937.5)
    assert made.torque[-1] == pytest.approx(750.0)
    assert made.torque[6] == 1000.0
    # 150 kW over 180 rad/s is 833.3; the parabola would give 1000 - 250 x 0.64 = 840 at 180.
    at = made.speed.tolist().index(pytest.approx(1250 / 7))
    assert made.torque[at] == pytest.approx(150e3 / (1250 / 7))


def test_lugging_is_held_below_a_quarter_of_the_peak_torque_speed():
    # (1 - w / w_peak) / 0.5 reaches 1.5 at a quarter; beyond, the fall stays 0.3 x 2.25.
    made = curve_from_rating(**(LINE | {"low_idle": 10.0}))
    assert made.torque[0] == pytest.approx(1000 * (1 - 0.3 * 2.25))
    assert made.torque[1] == pytest.approx(1000 * (1 - 0.3 * 2.25))  # at 25
    assert made.torque[2] == pytest.approx(1000 * (1 - 0.3 * 1.44))  # at 40


def test_power_at_peak_torque_may_be_the_greatest():
    # 1000 N.m at 180 rad/s is 180 kW, above the 150 kW at 200 rad/s: the run down is a parabola.
    made = curve_from_rating(**(LINE | {"peak_torque_speed": 180.0}))
    assert made.torque[-8] == pytest.approx(min(937.5, 180e3 / 190))
    assert np.all(made.torque * made.speed <= 180e3 * (1 + 1e-12))


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"peak_torque": 749.0}, "rating.peak_torque"),
        ({"peak_torque_speed": 80.0}, "rating.peak_torque_speed"),
        ({"peak_torque_speed": 200.0}, "rating.peak_torque_speed"),
        ({"low_idle": 120.0}, "rating.peak_torque_speed"),
    ],
)
def test_rating_line_that_contradicts_itself_is_refused_by_its_field(changes, field):
    assert refusal(lambda: curve_from_rating(**(LINE | changes))).field == field


def test_peak_torque_may_be_the_torque_at_rated_power_but_for_rounding():
    made = curve_from_rating(**(LINE | {"peak_torque": 750.0 * (1 - 5e-10)}))
    assert made.torque.max() == pytest.approx(750.0)
    with pytest.raises(InputError):
        curve_from_rating(**(LINE | {"peak_torque": 750.0 * (1 - 2e-9)}))


def test_rating_line_makes_an_engine_that_says_so():
    told = Note("told", "Told.")
    made = Engine.from_rating(
        **LINE,
        high_idle=220.0,
        rating_basis="net",
        governing="torque",
        given_notes=(told,),
    ).replace(displacement=0.007, aspiration="turbocharged")
    assert (made.id, made.name) == ("from-rating", "Engine from its rating line")
    assert made.source == "rating line"
    assert (made.rating_basis, made.governing) == ("net", "torque")
    assert (made.low_idle, made.rated_speed, made.high_idle) == (80.0, 200.0, 220.0)
    assert (made.displacement, made.aspiration) == (0.007, "turbocharged")
    # Common practice, no source: good to about 6 % between the points.
    assert made.torque_band == 0.06
    assert [note.code for note in made.given_notes] == ["told", "curve-from-rating"]
    assert made.given_notes[1].kind == "assumption"
    assert "+-6 %" in made.given_notes[1].message
    named = Engine.from_rating(
        **LINE, high_idle=220.0, rating_basis="net", governing="torque",
        id="i", name="n", source="s",
    )  # fmt: skip
    assert (named.id, named.name, named.source) == ("i", "n", "s")
    assert len(named.given_notes) == 1
