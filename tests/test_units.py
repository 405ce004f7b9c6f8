"""Units at the door: printed figures, spellings, refusals, numbers, labels."""

from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from converter_match.errors import InputError
from converter_match.units import (
    DIMENSIONS,
    dimensions_of,
    display_unit,
    from_si,
    label,
    show,
    si_unit,
    spellings,
    to_si,
)
from converter_match.units.refusals import REFUSALS
from converter_match.units.spelling import normalise

EVERY_SPELLING = [(name, unit) for name in DIMENSIONS for unit in spellings(name)]


# --- printed figures ------------------------------------------------------------------------------


def test_k_factor_in_newton_metres_is_0_858814_of_that_in_pound_feet():
    # root of 1 lbf.ft in N.m, inverted; six digits printed
    in_si = to_si(1.0, "rpm/sqrt(lbf.ft)", "k_factor")
    assert from_si(in_si, "rpm/sqrt(N.m)", "k_factor") == pytest.approx(0.858814, abs=5e-7)


def test_k_factor_of_the_regulation_example():
    # 40 CFR 1037.570: 1000.0 r/min at 150.8 and 150.3 N.m, mean 150.55: K 81.5 (r/min)/(N.m)^0.5
    speed = to_si(1000.0, "r/min", "angular_speed")
    torque = to_si(150.55, "N.m", "torque")
    k = from_si(speed / math.sqrt(torque), "(r/min)/(N·m)^0.5", "k_factor")
    assert k == pytest.approx(81.5, abs=0.05)


def test_k_factor_and_capacity_coefficient_are_one_thing_in_two_dresses():
    # C = 1/K^2 by definition, in trade units as in SI
    k = to_si(65.0, "rpm/sqrt(lbf.ft)", "k_factor")
    assert to_si(1.0 / 65.0**2, "lbf.ft/rpm^2", "capacity_coefficient") == pytest.approx(
        1.0 / k**2, rel=1e-13
    )


def test_one_horsepower_is_375_pounds_of_pull_at_one_mile_an_hour():
    # the identity behind rimpull (lb) = 375 hp / mph
    power = to_si(375.0, "lbf", "force") * to_si(1.0, "mph", "velocity")
    assert from_si(power, "hp", "power") == pytest.approx(1.0, rel=1e-14)


@pytest.mark.parametrize(
    ("number", "unit", "kelvin"),
    [(100.0, "degC", 373.15), (212.0, "°F", 373.15), (-40.0, "degF", 233.15), (-40.0, "C", 233.15)],
)
def test_fixed_points_of_the_temperature_scales(number, unit, kelvin):
    # boiling point of water by definition of the Fahrenheit scale; both scales meet at -40
    assert to_si(number, unit, "temperature") == pytest.approx(kelvin, abs=1e-11)


def test_a_temperature_difference_has_no_offset():
    assert to_si(18.0, "degF", "temperature_difference") == pytest.approx(10.0, rel=1e-15)
    assert to_si(10.0, "degC", "temperature_difference") == 10.0


# --- many hands, one unit -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "plain", "dimension"),
    [
        *[
            (text, "lb.ft", "torque")
            for text in (
                "lb-ft",
                "lb*ft",
                "lb ft",
                "lb·ft",
                "lb⋅ft",
                " lb - ft ",
                "lb_ft",
                "lb. ft.",
            )
        ],
        *[
            (text, "N.m", "torque")
            for text in ("N-m", "N*m", "N m", "N · m", "\tN.m\n", "N‑m", "N×m")
        ],
        ("LB-FT", "lbf.ft", "torque"),
        ("in.-lb.", "lbf.in", "torque"),
        *[
            (text, "kg.m2", "inertia")
            for text in ("kg*m**2", "kg m^2", "kg·m²", "kg-m2", "kg*m^(2)", "kg*(m**2)")
        ],
        *[
            (text, "m/s2", "acceleration")
            for text in ("m/s**2", "m / s²", "m·s⁻²", "m s-2", "m s^-2")
        ],
        *[
            (text, "rpm", "angular_speed")
            for text in ("min-1", "min⁻¹", "1 / min", "(r/min)", "r.p.m.")
        ],
        *[
            (text, "rpm/sqrt(lbf.ft)", "k_factor")
            for text in (
                "rpm/sqrt(lb-ft)",
                "rpm/(lbf*ft)**0.5",
                "rpm/(lbf*ft)**(1/2)",
                "rpm/(lb ft)^1/2",
                "rpm/(lb·ft)^½",
                "rpm/(lb·ft)⁰.⁵",
                "rpm/(ft-lb)^.5",
                "rpm/√(lb-ft)",
                "rpm/√lb-ft",
                "rpm / sqrt( ft lbf )",
                "(rev/min)/(lbf.ft)^0.5",
                "RPM/sqrt(LB-FT)",
            )
        ],
        *[
            (text, "rpm/sqrt(N.m)", "k_factor")
            for text in (
                "rpm/(N*m)**0.5",
                "(r/min)/(N.m)^0.5",
                "r/min/sqrt(Nm)",
                "rpm/Nm^0.5",
                "min⁻¹/√Nm",
                "(1/min)/√(N·m)",
            )
        ],
        *[
            (text, "N.m/(rad/s)^2", "capacity_coefficient")
            for text in ("N*m/(rad/s)**2", "Nm/(rad/s)²", "N·m·s²/rad²", "N.m.s2")
        ],
        *[
            (text, "lbf.ft/rpm^2", "capacity_coefficient")
            for text in ("lbf*ft/rpm**2", "lb-ft/(rpm)^2", "lb-ft/(rpm^2)", "ft-lb/rpm²")
        ],
        ("kg/m**3", "kg/m3", "density"),
        ("lb/gal (US)", "lb/US gal", "density"),
        ("g/(kW·h)", "g/kWh", "specific_fuel"),
        ("g/kW-h", "g/kWh", "specific_fuel"),
        ("lb/bhp-hr", "lb/(hp.h)", "specific_fuel"),
        ("kJ/(kg °C)", "kJ/(kg.K)", "specific_heat"),
        ("BTU/(lb·°F)", "BTU/(lb.degF)", "specific_heat"),
        ("℃", "degC", "temperature"),
        ("ºF", "degF", "temperature"),
        ("º C", "degC", "temperature"),
        ("deg. F", "degF", "temperature"),
        ("°", "deg", "angle"),
        ("㎏", "kg", "mass"),
        ("in. Hg", "inHg", "pressure"),
        ("inH₂O", "inH2O", "pressure"),
        ("bar (a)", "bar", "pressure"),
        ("metric_horsepower", "PS", "power"),
        ("cu. in.", "in3", "volume"),
        (" % ", "percent", "ratio"),
        ("", "1", "ratio"),
        ("-", "1", "ratio"),
        ("–", "1", "ratio"),
    ],
)
def test_different_hands_write_the_same_unit(written, plain, dimension):
    assert to_si(37.0, written, dimension) == to_si(37.0, plain, dimension)


@pytest.mark.parametrize(
    "spelling", ["rpm/lbf.ft**0.5", "rpm*sqrt(N.m)", "sqrt(N.m)/rpm", "rpm/Nm"]
)
def test_a_root_over_half_the_torque_is_not_a_k_factor(spelling):
    with pytest.raises(InputError, match=r"unknown K-factor unit.*did you mean"):
        to_si(60.0, spelling, "k_factor")


@pytest.mark.slow
@given(st.one_of(st.text(max_size=30), st.text("Nmlbftrpkgs/().*^-√²⁻·½° 0512", max_size=12)))
def test_any_text_is_either_a_unit_or_refused_with_the_one_error(text):
    for dimension in ("torque", "k_factor", "density"):
        try:
            assert to_si(1.0, text, dimension) > 0.0
        except InputError:
            continue


# --- refusals -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("unit", "dimension", "candidates"),
    [
        ("Hz", "angular_speed", ["rev/s", "rad/s"]),
        ("1/s", "angular_speed", ["rev/s", "rad/s"]),
        ("s⁻¹", "angular_speed", ["rev/s", "rad/s"]),
        ("mW", "power", ["W", "kW", "MW"]),
        ("mw", "power", ["W", "kW", "MW"]),
        ("ton", "mass", ["t (1000 kg)", "short ton (2000 lb)", "long ton (2240 lb)"]),
        ("gal", "volume", ["US gal", "imp gal"]),
        ("GPM", "volume_flow", ["US gal/min", "imp gal/min"]),
        ("lb/gal", "density", ["lb/US gal", "lb/imp gal"]),
        ("psig", "pressure", ["psi (absolute)", "gauge", "add the air pressure"]),
        ("barg", "pressure", ["bar (absolute)", "gauge"]),
        ("bar (g)", "pressure", ["bar (absolute)", "gauge"]),
        ("kPa gauge", "pressure", ["kPa (absolute)", "gauge"]),
        ("Mpa", "pressure", ["kPa", "MPa"]),
        ("nm", "torque", ["nanometre", "N.m"]),
        ("mN.m", "torque", ["N.m", "kN.m"]),
        ("kg", "force", ["mass", "kgf", "kN"]),
        ("kgf.m2", "inertia", ["four times", "kg.m2"]),
        ("deg", "temperature", ["degC", "degF", "K"]),
        ("g/kW", "specific_fuel", ["lacks the hour", "g/kWh"]),
        ("kcal", "energy", ["kcal_IT", "kcal_th"]),
    ],
)
def test_an_ambiguous_spelling_is_refused_with_its_candidates(unit, dimension, candidates):
    with pytest.raises(InputError) as caught:
        to_si(1.0, unit, dimension)
    message = str(caught.value)
    assert message.startswith(repr(unit))
    assert [c for c in candidates if c not in message] == []


@pytest.mark.parametrize("dimension", sorted(REFUSALS))
def test_whatever_a_refusal_offers_is_accepted(dimension):
    for refusal in REFUSALS[dimension]:
        for spelling in refusal.spellings.split(", "):
            with pytest.raises(InputError, match="expected"):
                to_si(1.0, spelling, dimension)
        for offer in refusal.expected.replace(" or ", ", ").split(", "):
            assert to_si(1.0, offer.partition(" (")[0], dimension) > 0.0


@pytest.mark.parametrize(
    ("unit", "dimension", "message"),
    [
        (
            "kW",
            "torque",
            "'kW' is a power unit; expected a torque unit such as N.m, lbf.ft, kgf.m",
        ),
        (
            "lb",
            "torque",
            "'lb' is a mass or force unit; expected a torque unit such as N.m, lbf.ft, kgf.m",
        ),
        (
            "rpm",
            "k_factor",
            "'rpm' is an angular speed unit; expected a K-factor unit such as "
            "rpm/sqrt(N.m), rpm/sqrt(lbf.ft), (rad/s)/sqrt(N.m)",
        ),
        (
            "L/h",
            "fuel_rate",
            "'L/h' is a volume flow unit; expected a fuel mass flow unit such as kg/h, g/s, lb/h",
        ),
        ("", "angle", "no unit given; expected an angle unit such as deg, rad"),
        (
            "kilowat",
            "power",
            "unknown power unit; found 'kilowat'; expected a power unit such as kW, hp, PS; "
            "did you mean 'kilowatt' or 'kilowatts' or 'watt'?",
        ),
    ],
)
def test_a_wrong_unit_is_named_for_what_it_is(unit, dimension, message):
    with pytest.raises(InputError) as caught:
        from_si(1.0, unit, dimension)
    assert str(caught.value) == message


def test_of_two_units_as_near_the_one_in_trade_use_is_named_first():
    # 'rmp' is as near to rev/s, which is 60 times off, as to rev/min; engines are read in rpm.
    with pytest.raises(InputError, match=r"found 'rmp'.*did you mean 'rpm' or "):
        to_si(1800, "rmp", "angular_speed")
    with pytest.raises(InputError, match=r"did you mean 'rps' or "):
        to_si(30, "rpss", "angular_speed")


def test_the_message_says_where_the_unit_stands():
    with pytest.raises(InputError, match=r"^engine\.toml: rated_power: 'Nm' is a torque unit"):
        to_si(1.0, "Nm", "power", source="engine.toml", field="rated_power")


def test_a_unit_that_is_not_text_is_refused():
    with pytest.raises(InputError, match=r"a unit must be text; found 3; expected a power unit"):
        to_si(1.0, 3, "power")


@pytest.mark.parametrize("ask", [spellings, si_unit, lambda name: display_unit(name, "si")])
def test_an_unknown_dimension_names_the_nearest(ask):
    with pytest.raises(
        InputError, match=r"unknown dimension; found 'torqe'; did you mean 'torque'"
    ):
        ask("torqe")


@pytest.mark.parametrize(
    ("value", "message"),
    [
        ("1,5", r"p: not a number; found '1,5'.*decimal comma\? write 1\.5$"),
        ("-0,125", r"decimal comma\? write -0\.125$"),
        ("1,500", r"decimal comma\? write 1\.500; thousands separator\? write 1500$"),
        ("185 kW", r"write the number 185 and the unit 'kW' apart$"),
        ("185", r"found '185'; expected a number without quotes$"),
        ("1e5", r"found '1e5'; expected a number without quotes$"),
        ("", r"found ''; expected a number"),
        (True, r"p: not a number; found True"),
        (np.True_, r"p.*: not a number; found True"),
        (None, r"found None"),
        ({"value": 3}, r"not a number"),
        (3 + 4j, r"not a number"),
        ([1.0, "2,5"], r"p \(row 2\): not a number; found '2,5'.*write 2\.5"),
        ([1.0, False], r"p \(row 2\): not a number; found False"),
        ([[1.0, 2.0], [3.0, None]], r"p \(row 2, column 2\): not a number; found None"),
        ([[1.0, 2.0], [3.0]], r"p: numbers do not form a table; expected rows of one length"),
        (np.array(["7"]), r"p \(row 1\): not a number; found '7'"),
        (np.array([True]), r"p \(row 1\): not a number; found True"),
        (np.array([1.0, None], dtype=object), r"p \(row 2\): not a number; found None"),
        (np.array([1j]), r"not a number"),
        (np.array(["2020-01-01"], dtype="datetime64[ns]"), r"not a number"),
        (10**400, r"number too large"),
    ],
)
def test_what_is_not_a_number_is_refused(value, message):
    with pytest.raises(InputError, match=message):
        to_si(value, "kW", "power", field="p")


# --- numbers in, numbers out ----------------------------------------------------------------------


@pytest.mark.parametrize(
    "number", [3, 3.0, np.float64(3), np.float32(3), np.int16(3), np.array(3.0)]
)
def test_a_single_number_comes_back_as_a_python_float(number):
    assert type(to_si(number, "kW", "power")) is float
    assert type(from_si(number, "kW", "power")) is float
    assert to_si(number, "kW", "power") == 3000.0


@pytest.mark.parametrize("many", [[1, 2.5], (1, 2.5), np.array([1, 2.5])])
def test_many_numbers_come_back_as_a_new_float_array(many):
    converted = to_si(many, "kN.m", "torque")
    assert converted.dtype == np.float64
    assert converted.tolist() == [1000.0, 2500.0]
    assert np.asarray(many).tolist() == [1.0, 2.5]


def test_the_array_is_a_copy_even_where_the_unit_is_si():
    given_numbers = np.array([1.0, 2.0])
    converted = to_si(given_numbers, "N.m", "torque")
    converted[0] = 9.0
    assert given_numbers.tolist() == [1.0, 2.0]


def test_the_shape_is_kept():
    assert to_si(np.ones((2, 3, 1)), "psi", "pressure").shape == (2, 3, 1)
    assert to_si([], "psi", "pressure").shape == (0,)


def test_numbers_that_are_not_finite_pass_for_the_reader_to_judge():
    assert math.isnan(to_si(math.nan, "kW", "power"))
    assert to_si([math.inf, -math.inf], "degF", "temperature").tolist() == [math.inf, -math.inf]


@given(st.sampled_from(EVERY_SPELLING), st.floats(-1e9, 1e9, allow_subnormal=False))
def test_there_and_back_gives_the_same_number(spelling, number):
    dimension, unit = spelling
    back = from_si(to_si(number, unit, dimension), unit, dimension)
    # Two roundings of a factor; a temperature has its offset, at most 460, added and taken off.
    assert back == pytest.approx(
        number, rel=1e-14, abs=1e-12 if dimension == "temperature" else 0.0
    )


@given(
    st.sampled_from(EVERY_SPELLING),
    st.lists(st.floats(-1e9, 1e9, allow_subnormal=False), min_size=1, max_size=5),
)
def test_an_array_converts_as_its_elements_do(spelling, numbers):
    dimension, unit = spelling
    one_by_one = [to_si(number, unit, dimension) for number in numbers]
    assert to_si(np.array(numbers), unit, dimension).tolist() == one_by_one
    assert to_si(numbers, unit, dimension).tolist() == one_by_one


# --- for people to read ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("dimension", "metric", "customary"),
    [
        ("angular_speed", "rpm", "rpm"),
        ("torque", "N.m", "lbf.ft"),
        ("power", "kW", "hp"),
        ("velocity", "km/h", "mph"),
        ("temperature", "degC", "degF"),
        ("length", "mm", "in"),
        ("mass", "kg", "lb"),
        ("pressure", "kPa", "inHg"),
        ("force", "kN", "lbf"),
        ("k_factor", "rpm/sqrt(N.m)", "rpm/sqrt(lbf.ft)"),
    ],
)
def test_the_display_units_of_the_two_systems(dimension, metric, customary):
    assert display_unit(dimension, "si") == metric
    assert display_unit(dimension, "us") == customary


@pytest.mark.parametrize("system", ["si", "us"])
@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_every_quantity_can_be_shown_and_its_label_read_back(dimension, system):
    number, unit = show(300.0, dimension, system)
    assert to_si(number, unit, dimension) == pytest.approx(300.0, rel=1e-14)


@pytest.mark.parametrize(
    ("dimension", "system", "text"),
    [
        ("torque", "si", "N·m"),
        ("torque", "us", "lbf·ft"),
        ("angular_speed", "us", "rpm"),
        ("temperature", "si", "°C"),
        ("temperature", "us", "°F"),
        ("angle", "si", "°"),
        ("k_factor", "si", "rpm/√(N·m)"),
        ("capacity_coefficient", "si", "N·m/(rad/s)²"),
        ("capacity_coefficient", "us", "lbf·ft/rpm²"),
        ("inertia", "si", "kg·m²"),
        ("density", "us", "lb/ft³"),
        ("specific_fuel", "us", "lb/(hp·h)"),
        ("specific_heat", "us", "BTU/(lb·°F)"),
        ("ratio", "si", ""),
    ],
)
def test_the_label_is_what_stands_on_an_axis(dimension, system, text):
    assert show(1.0, dimension, system)[1] == text


def test_a_label_raises_powers_and_leaves_names_alone():
    assert label("m.s^-2") == "m·s⁻²"
    assert label("inH2O") == "inH2O"
    assert label("kWh") == "kWh"


def test_show_converts_arrays():
    number, unit = show(np.array([273.15, 373.15]), "temperature", "us")
    assert unit == "°F"
    assert number == pytest.approx([32.0, 212.0], abs=1e-11)


def test_an_unknown_system_is_refused():
    with pytest.raises(InputError, match=r"unknown unit system; found 'SI'; expected si or us"):
        show(1.0, "torque", "SI")


def test_a_spelling_tells_which_quantities_it_can_measure():
    assert dimensions_of("lb-ft") == ("torque", "energy")
    assert dimensions_of("°C") == ("temperature", "temperature_difference")
    assert dimensions_of("furlong") == ()


@pytest.mark.slow
def test_each_quantity_that_a_spelling_can_measure_is_found_however_it_is_written():
    # A unit that is written as listed is found without folding the others: it must be listed alike
    # under every quantity that has it.
    keys = {name: set(map(normalise, spellings(name))) for name in DIMENSIONS}
    for text in {text for name in DIMENSIONS for text in spellings(name)}:
        assert dimensions_of(text) == tuple(n for n in DIMENSIONS if normalise(text) in keys[n])


def test_importing_units_loads_neither_pint_nor_scipy():
    code = (
        "import sys, converter_match.units as u; u.to_si(1.0, 'hp', 'power');"
        "print([m for m in ('pint', 'scipy', 'pandas', 'matplotlib') if m in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"
