"""Oddities appear where they should and stay away just short of it.

The limits are common practice, no source, where no other is named.
"""

import math
from pathlib import Path

import numpy as np
import pytest

from converter_match.components.engine import Accessory, Fuel, SiteCorrection, SpeedTable
from converter_match.components.site import Air, Site
from converter_match.errors import InputError
from converter_match.library.check import oddities
from converter_match.library.intake import converter_rules, guess
from converter_match.library.odd.converter import LAMBDA_AT_STALL, LAMBDA_SPAN
from converter_match.library.read import read_component
from converter_match.library.shipped import shipped
from converter_match.notes import Note
from converter_match.units.notes import note_text
from tests.examples import RPM, converter, engine
from tests.library.sheets import NAMES
from tests.study_examples import study_file

LBF_FT = 0.45359237 * 9.80665 * 0.3048  # N.m, exact by definition


def codes(component):
    found = oddities(component)
    assert all(isinstance(note, Note) and note.message for note in found)
    assert all(note.code == note.code.lower() and " " not in note.code for note in found)
    return {note.code for note in found}


def message(component, code):
    [note] = [note for note in oddities(component) if note.code == code]
    return note_text(note, "si")


@pytest.mark.parametrize(("kind", "name"), NAMES)
def test_nothing_is_odd_about_the_shipped_files(kind, name):
    assert codes(read_component(shipped(kind)[name])) == set()


def test_kind_without_rules_is_never_odd():
    assert oddities("a text") == ()


# --- converters ----------------------------------------------------------------------------------

NU = np.array([0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.86, 0.9, 0.95, 0.99])
MU = np.where(NU < 0.86, 2.2 - 1.2 * NU / 0.86, 1.0)
CAPACITY = np.where(
    NU <= 0.86,
    0.02 * (1 + 0.2 * NU - 0.4 * NU**2),
    0.02 * 0.876 * (np.maximum(1 - NU, 0) / 0.14) ** 0.8,
)


def smooth(**changes):
    rows = {"speed_ratio": NU, "torque_ratio": MU, "capacity": CAPACITY}
    return converter(**(rows | changes))


def edited(values, row, value):
    values = np.array(values)
    values[row] = value
    return values


def test_smooth_converter_is_not_odd():
    assert codes(smooth()) == set()


@pytest.mark.parametrize(("share", "odd"), [(0.99, False), (1.01, True)])
def test_performance_coefficient_at_stall_has_an_upper_limit(share, odd):
    # lambda = C / (rho D^5), VDI 2153; at the limit of 10e-3, times the share
    c = share * 10e-3 * 840 * 0.345**5
    found = codes(smooth(capacity=CAPACITY * c / CAPACITY[0]))
    assert ("stall-capacity-implausible" in found) is odd


@pytest.mark.parametrize(("share", "odd"), [(1.01, False), (0.99, True)])
def test_performance_coefficient_at_stall_has_a_lower_limit(share, odd):
    c = share * 0.5e-3 * 840 * 0.345**5
    found = codes(smooth(capacity=CAPACITY * c / CAPACITY[0]))
    assert ("stall-capacity-implausible" in found) is odd


def test_implausible_capacity_is_said_with_both_units():
    c = 12e-3 * 840 * 0.345**5
    said = message(smooth(capacity=CAPACITY * c / CAPACITY[0]), "stall-capacity-implausible")
    assert "performance coefficient of 0.012" in said
    assert "usual is 0.001 to 0.007, odd is less than 0.0005 or more than 0.01" in said
    assert f"{12e-3 * LBF_FT:.3g}" in said  # 0.0163
    assert f"{12e-3 / LBF_FT:.3g}" in said  # 0.00885, inside the usual range
    k = 1 / math.sqrt(c) / RPM
    assert f"{k:.1f} rpm/sqrt(N.m)" in said
    # 1 rpm/sqrt(lbf.ft) = 0.858814 rpm/sqrt(N.m)
    assert f"{k / 0.858814:.1f} rpm/sqrt(lbf.ft)" in said


@pytest.mark.parametrize("unknown", ["profile_diameter", "oil_density"])
def test_without_diameter_or_density_k_itself_is_judged(unknown):
    assert codes(smooth(**{unknown: None})) == set()
    assert codes(smooth(capacity=100 * CAPACITY, **{unknown: None})) == {"stall-k-unusual"}


@pytest.mark.parametrize(
    ("at_stall", "odd"), [(1.45, True), (1.55, False), (4.9, False), (5.1, True)]
)
def test_torque_ratio_at_stall(at_stall, odd):
    mu = np.where(NU < 0.86, at_stall - (at_stall - 1) * (NU / 0.86) ** 0.35, 1.0)
    assert ("stall-torque-ratio-unusual" in codes(smooth(torque_ratio=mu))) is odd


@pytest.mark.parametrize(("rise", "odd"), [(0.008, False), (0.03, True)])
def test_torque_ratio_that_rises(rise, odd):
    found = codes(smooth(torque_ratio=edited(MU, 2, MU[1] + rise)))
    assert ("torque-ratio-rises" in found) is odd


@pytest.mark.parametrize(("last", "odd"), [(0.985, False), (0.97, True)])
def test_torque_ratio_below_one_behind_a_one_way_stator(last, odd):
    found = codes(smooth(torque_ratio=edited(MU, -1, last)))
    assert ("torque-ratio-below-one" in found) is odd


@pytest.mark.parametrize("row", [1, NU.size - 2])
def test_row_beside_an_end_that_bends_the_capacity_is_found_too(row):
    # A fixed stator has no kink at a coupling point: all rows are one piece.
    smooth_line = 0.05 - 0.01 * NU
    rows = {"torque_ratio": 2.2 - 1.4 * NU, "stator": "fixed", "coupling_speed_ratio": None}
    assert "capacity-wiggles" not in codes(smooth(**rows, capacity=smooth_line))
    bent = edited(smooth_line, row, smooth_line[row] * 1.3)
    assert "capacity-wiggles" in codes(smooth(**rows, capacity=bent))


def test_fixed_stator_may_go_below_one():
    rows = {"torque_ratio": 2.2 - 1.4 * NU, "stator": "fixed", "coupling_speed_ratio": None}
    assert "torque-ratio-below-one" not in codes(smooth(**rows))


def test_missing_row_at_the_coupling_point():
    keep = NU != 0.86
    rows = {
        "speed_ratio": NU[keep],
        "torque_ratio": MU[keep],
        "capacity": CAPACITY[keep],
    }
    assert codes(smooth(**rows)) == {"no-row-at-coupling-point"}


@pytest.mark.parametrize(("factor", "odd"), [(1.01, False), (1.05, True), (0.95, True)])
def test_row_that_bends_the_capacity_to_and_fro(factor, odd):
    found = smooth(capacity=edited(CAPACITY, 4, CAPACITY[4] * factor))
    assert ("capacity-wiggles" in codes(found)) is odd
    if odd:
        assert "at speed ratio 0.4 " in message(found, "capacity-wiggles")


def test_capacity_with_a_maximum_does_not_wiggle():
    # Static model quadratic in both speeds (A. J. Kotwicki, SAE 820393; second-hand): pump torque
    # 3.4325 wp^2 + 2.2210 wp wt - 4.6041 wt^2, in 1e-3 N.m/(rad/s)^2. K has a minimum at 0.24.
    nu = np.arange(0.0, 0.86, 0.05)
    capacity = 1e-3 * (3.4325 + 2.2210 * nu - 4.6041 * nu**2)
    turbine = 1e-3 * (5.7656 + 0.3107 * nu - 5.4323 * nu**2)
    real = converter(
        speed_ratio=nu,
        torque_ratio=turbine / capacity,
        capacity=capacity,
        coupling_speed_ratio=None,
        profile_diameter=0.245,
    )
    assert np.argmax(capacity) > 0
    assert codes(real) == {"ends-early"}


def test_few_rows_and_an_early_end():
    few = converter(
        speed_ratio=[0, 0.4, 0.8, 0.85],
        torque_ratio=[2.2, 1.7, 1.12, 1.05],
        capacity=[0.02, 0.02, 0.018, 0.017],
        coupling_speed_ratio=None,
    )
    assert codes(few) == {"few-rows", "ends-early"}
    assert "only 4 rows" in message(few, "few-rows")


def test_no_row_at_stall():
    late = smooth(speed_ratio=NU[1:], torque_ratio=MU[1:], capacity=CAPACITY[1:])
    assert codes(late) == {"no-stall-row"}


@pytest.mark.parametrize(
    ("best", "odd"), [(0.68, True), (0.72, False), (0.90, False), (0.94, True)]
)
def test_peak_efficiency(best, odd):
    # A fixed stator's torque ratio, straight to zero at nu0: the best efficiency is mu0 nu0 / 4.
    mu = np.maximum(4 * best * (1 - NU), 0)
    found = codes(smooth(torque_ratio=mu, stator="fixed", coupling_speed_ratio=None))
    assert ("peak-efficiency-unusual" in found) is odd


@pytest.mark.parametrize(("share", "odd"), [(0.0, False), (0.04, False), (0.10, True)])
def test_capacity_at_equal_speeds(share, odd):
    rows = {
        "speed_ratio": np.append(NU, 1.0),
        "torque_ratio": np.append(MU, 1.0),
        "capacity": np.append(CAPACITY, share * CAPACITY.max()),
    }
    rows["capacity"][-2] = max(CAPACITY[-1], 1.2 * rows["capacity"][-1])
    assert ("capacity-at-synchronism" in codes(smooth(**rows))) is odd


@pytest.mark.parametrize(("density", "odd"), [(740.0, True), (760.0, False), (960.0, True)])
def test_oil_density(density, odd):
    assert ("oil-density-unusual" in codes(smooth(oil_density=density))) is odd


# --- engines -------------------------------------------------------------------------------------


def usual(**changes):
    fields = {
        "displacement": 7e-3,
        "reference_air": Air(pressure=99e3, temperature=298.15),
    }
    return engine(**(fields | changes))


def test_usual_engine_is_not_odd():
    assert codes(usual()) == set()


@pytest.mark.parametrize(
    ("rise", "odd"), [(0.04, True), (0.06, False), (0.59, False), (0.61, True)]
)
def test_torque_rise(rise, odd):
    speed = np.array([800, 1100, 1400, 1700, 2200]) * RPM
    torque = [800, 900, 900, 880, 900 / (1 + rise)]
    assert ("torque-rise-unusual" in codes(usual(speed=speed, torque=torque))) is odd


@pytest.mark.parametrize(
    ("aspiration", "bar", "odd"),
    [
        ("naturally-aspirated", 12.5, False),
        ("naturally-aspirated", 13.5, True),
        ("turbocharged", 25, False),
        ("turbocharged", 27, True),
        ("turbocharged-aftercooled", 31, False),
        ("turbocharged-aftercooled", 33, True),
        ("turbocharged-aftercooled", 7, True),
        (None, 31, False),
        (None, 4, True),
    ],
)
def test_mean_effective_pressure(aspiration, bar, odd):
    # Four-stroke: work of two turns, p V = 4 pi T; peak torque is 1000 N.m.
    displacement = 4 * math.pi * 1000 / (bar * 1e5)
    found = codes(usual(displacement=displacement, aspiration=aspiration))
    assert ("mean-pressure-implausible" in found) is odd


def test_implausible_mean_pressure_is_said_with_both_torque_units():
    displacement = 4 * math.pi * 1000 / 30e5
    said = message(usual(displacement=displacement), "mean-pressure-implausible")
    assert "mean effective pressure of 30.0 bar" in said
    assert f"{30 * LBF_FT:.1f} bar" in said
    assert f"{30 / LBF_FT:.1f} bar" in said


@pytest.mark.parametrize(("kilowatt_per_litre", "odd"), [(5.5, True), (6.5, False), (81, True)])
def test_specific_power(kilowatt_per_litre, odd):
    displacement = usual().rated_power / (kilowatt_per_litre * 1e6)
    assert ("specific-power-unusual" in codes(usual(displacement=displacement))) is odd


def test_without_displacement_power_is_judged_by_itself():
    assert codes(usual(displacement=None, torque=4 * usual().torque)) == set()
    assert codes(usual(displacement=None, torque=100 * usual().torque)) == {"rated-power-unusual"}


def test_no_row_at_rated_speed():
    speed = np.array([800, 1000, 1200, 1400, 1600, 1800, 2000, 2250]) * RPM
    assert codes(usual(speed=speed)) == {"no-row-at-rated-speed"}


@pytest.mark.parametrize(("factor", "odd"), [(1.0, False), (1.2, True)])
def test_power_that_peaks_below_rated_speed(factor, odd):
    torque = edited(usual().torque, 6, usual().torque[6] * factor)  # at 2000 rpm
    assert ("power-peaks-below-rated-speed" in codes(usual(torque=torque))) is odd


@pytest.mark.parametrize(
    ("droop", "odd"), [(0.02, True), (0.04, False), (0.14, False), (0.16, True)]
)
def test_droop(droop, odd):
    assert ("droop-unusual" in codes(usual(high_idle=2200 * RPM * (1 + droop)))) is odd


def test_speeds_in_the_wrong_unit():
    factor = 1 / RPM  # rad/s where rpm was meant
    fast = usual(
        low_idle=800 * RPM * factor,
        rated_speed=2200 * RPM * factor,
        high_idle=2380 * RPM * factor,
        speed=usual().speed * factor,
        accessories=(),
        rating_basis="net",
        displacement=None,
    )
    assert codes(fast) == {"low-idle-unusual", "rated-speed-unusual"}


@pytest.mark.parametrize(("grams", "odd"), [(178, True), (182, False), (348, False), (352, True)])
def test_specific_fuel_consumption(grams, odd):
    table = SpeedTable(
        speed=np.array([800, 2200]) * RPM, value=[grams * 1e-3 / 3.6e6] * 2, name="fuel.bsfc"
    )
    found = usual(fuel=Fuel(specific=table))
    assert ("fuel-consumption-unusual" in codes(found)) is odd
    if odd:
        assert f"{grams} g/kWh" in message(found, "fuel-consumption-unusual")


def test_what_a_site_correction_needs():
    bare = usual(aspiration=None, reference_air=None)
    assert codes(bare) == {"aspiration-missing", "reference-air-missing"}
    assert codes(bare.replace(site_correction=SiteCorrection(method="none"))) == set()


def test_gross_rating_without_accessories():
    assert codes(usual(accessories=())) == {"gross-without-accessories"}
    assert codes(usual(accessories=(), rating_basis="net")) == set()


def test_net_rating_with_a_fan_deducts_it_twice():
    assert codes(usual(rating_basis="net")) == {"deducted-twice"}
    assert "has fan deducted already" in message(usual(rating_basis="net"), "deducted-twice")
    pump = (Accessory(name="charge pump", power=3e3, at_speed=2200 * RPM, exponent=1.0),)
    assert codes(usual(rating_basis="net", accessories=pump)) == set()


@pytest.mark.parametrize(("share", "odd"), [(0.28, False), (0.32, True)])
def test_accessories_that_take_too_much(share, odd):
    power = share * usual().rated_power
    pump = Accessory(name="pump", power=power / 2, at_speed=1100 * RPM, exponent=1.0)
    assert ("accessories-heavy" in codes(usual(accessories=(pump,)))) is odd


def test_few_rows_of_full_load():
    few = usual(speed=np.array([800, 1400, 1800, 2200]) * RPM, torque=[700, 1000, 940, 803])
    assert codes(few) == {"few-rows"}


# --- sites ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pressure", "odd"), [(101.3e3, True), (79.5e3, False), (76.2e3, False), (83.6e3, True)]
)
def test_pressure_reduced_to_sea_level(pressure, odd):
    # ISO 2533: 79.495 kPa at 2000 m (from memory)
    site = Site(id="s", name="s", source="s", altitude=2000.0, air_pressure=pressure)
    assert ("pressure-and-altitude-disagree" in codes(site)) is odd
    if odd:
        assert "79.5 kPa" in message(site, "pressure-and-altitude-disagree")


@pytest.mark.parametrize(("celsius", "odd"), [(-50, True), (-40, False), (50, False), (60, True)])
def test_air_temperature(celsius, odd):
    site = Site(id="s", name="s", source="s", air_temperature=celsius + 273.15)
    assert ("air-temperature-unusual" in codes(site)) is odd


def test_oddities_can_be_shown_in_us_units():
    [note] = oddities(usual(high_idle=2200 * RPM * 1.02, accessories=usual().accessories))
    assert "2244 rpm" in note_text(note, "us")
    [heavy] = oddities(
        usual(accessories=(Accessory(name="pump", power=1e5, at_speed=2200 * RPM, exponent=1.0),))
    )
    assert "134 hp" in note_text(heavy, "us")  # 1 hp = 745.7 W


def test_intake_and_check_call_the_same_performance_coefficient_usual():
    # The page for people and the rules of both are one span.
    page = (Path(__file__).parents[2] / "docs" / "intake.md").read_text(encoding="utf-8")
    said = " ".join(page.split())
    assert guess.LAMBDA_SPAN is converter_rules.LAMBDA_SPAN is LAMBDA_SPAN
    assert "at stall outside {:g} to {:g}".format(*LAMBDA_SPAN) in said
    assert "odd only below {:g} or above {:g}".format(*LAMBDA_AT_STALL) in said


# --- a unit or a factor of ten, in whatever file it stands ---------------------------------------


def edited_file(tmp_path, kind, name, *changes):
    text = shipped(kind)[name].read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    path = tmp_path / "edited.toml"
    path.write_text(text, encoding="utf-8")
    return path


LAMBDA = """\
schema = "converter-match/converter/1"
id = "by-lambda"
name = "By its performance coefficient"
source = "made for a test"
stator = "fixed"
oil_density = { unit = "kg/m3", value = 850 }
profile_diameter = { unit = "UNIT", value = 370 }

[characteristic]
speed_ratio = [0, 0.2, 0.4, 0.6, 0.8, 0.95]
torque_ratio = [2.2, 1.9, 1.6, 1.3, 1.05, 0.9]
capacity = { form = "performance_coefficient", values = [3e-3, 3.1e-3, 3e-3, 2.8e-3, 2e-3, 1e-3] }
"""


@pytest.mark.parametrize(("unit", "odd"), [("mm", False), ("cm", None), ("in", None)])
def test_diameter_of_a_converter_by_its_coefficient_is_asked_about(tmp_path, unit, odd):
    path = tmp_path / "lambda.toml"
    path.write_text(LAMBDA.replace("UNIT", unit), encoding="utf-8")
    if odd is None:  # a converter of 3.7 m or 9.4 m there is not
        with pytest.raises(InputError, match=r"profile_diameter.value: no such value"):
            read_component(path)
        return
    assert ("profile-diameter-unusual" in codes(read_component(path))) is odd


@pytest.mark.parametrize(("speed", "odd"), [(1700, False), (17_000, True), (170, True)])
def test_reference_speed_that_no_impeller_is_tested_at_travels_with_the_converter(
    tmp_path, speed, odd
):
    text = LAMBDA.replace("UNIT", "mm")
    torque = 'capacity = { form = "torque_at_speed", unit = "N*m", reference_speed = { unit = "rpm"'
    text = text[: text.index("capacity = {")] + (
        f"{torque}, value = {speed} }}, values = [690, 700, 700, 640, 460, 230] }}\n"
    )
    path = tmp_path / "torque.toml"
    path.write_text(text, encoding="utf-8")
    found = {note.code for note in read_component(path).notes}
    assert ("reference-speed-unusual" in found) is odd


def machine_with(tmp_path, *changes):
    return read_component(edited_file(tmp_path, "machines", "wheel-loader-17t", *changes))


def test_cooler_whose_thousands_are_left_out_is_asked_about(tmp_path):
    given = machine_with(tmp_path)
    rating = given.cooler.heat[-1] / given.cooler.difference[-1]
    small = given.replace(cooler=given.cooler.replace(heat=given.cooler.heat / 1000))
    large = given.replace(cooler=given.cooler.replace(heat=given.cooler.heat * 1000))
    assert codes(small) == codes(large) == {"cooler-size-unusual"}
    # Heat over temperature difference, in kW/K.
    assert f"{rating / 1e6:.3g} kW/K" in message(small, "cooler-size-unusual")


def test_payload_of_ten_times_the_machine_is_asked_about(tmp_path):
    assert codes(machine_with(tmp_path).replace(payload=52_000.0)) == {"payload-unusual"}


@pytest.mark.parametrize(("inertia", "odd"), [(1.5, False), (1500.0, True), (0.001, True)])
def test_inertia_of_an_engine_is_asked_about(inertia, odd):
    assert ("inertia-unusual" in codes(engine(inertia=inertia))) is odd


@pytest.mark.parametrize("power", [1.0, 1e6])
def test_power_off_by_a_thousand_is_asked_about(power):
    given = engine()
    factor = power * 1e3 / given.rated_power
    assert "rated-power-unusual" in codes(given.replace(torque=given.torque * factor))


@pytest.mark.parametrize(
    ("change", "more", "code"),
    [
        (("value = 4 }", "value = 0.04 }"), "", "grade-tiny"),
        (("values = [0, 8] }", "values = [0, 0.08] }"), "", "grade-tiny"),
        (("", ""), '[limits]\nheat = { unit = "BTU/h", value = 200 }\n', "heat-limit-unusual"),
        (("", ""), '[limits]\nheat = { unit = "kW", value = 60000 }\n', "heat-limit-unusual"),
        (
            ("value = 4 }\n", 'value = 4 }\nhydraulic_torque = { unit = "kN*m", value = 160 }\n'),
            "", "hydraulic-torque-unusual",
        ),
        (
            ("", ""),
            '[[tolerance]]\nquantity = "mass"\nhalf_width = { unit = "percent", value = 0.03 }\n',
            "tolerance-tiny",
        ),
    ],
)  # fmt: skip
def test_number_of_a_study_is_asked_about_in_check_and_in_the_study(tmp_path, change, more, code):
    from converter_match.library.checked import check_file
    from converter_match.library.study_file import read_study

    plain = study_file(tmp_path)
    assert read_study(plain).odd == ()
    path = study_file(tmp_path, change, more=more)
    study = read_study(path)
    assert [note.code for _, note in study.odd] == [code]
    assert [note.code for _, note in check_file(str(path)).odd] == [code]


def test_route_of_grades_that_are_none_is_asked_about(tmp_path):
    from converter_match.library.route_csv import read_route

    path = tmp_path / "road.csv"
    for grade, odd in (("0.08", True), ("8", False), ("0", False)):
        path.write_text(
            f"length [m],grade [%],surface\n100,{grade},firm smooth earth\n", encoding="utf-8"
        )
        assert ("grade-tiny" in codes(read_route(path))) is odd
