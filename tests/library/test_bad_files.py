"""Every kind of bad file gets one line: file, field, what was found, what is right."""

import pytest

from tests.library.sheets import (
    CONVERTER,
    ENGINE,
    LOOSE,
    POWER_ENGINE,
    RATING_LINE,
    SITE,
    changed,
    refusal,
)

DIAMETER = '{ unit = "mm", value = 345 }'


# (sheet, (old, new), field, words that must stand in the message)
CASES = {
    # --- keys
    "missing-key": (
        CONVERTER,
        ('stator = "one-way"\n', ""),
        "stator",
        ["missing", "one-way | fixed | none"],
    ),
    "missing-quantity": (
        ENGINE,
        ('low_idle = { unit = "rpm", value = 800 }\n', ""),
        "low_idle",
        ["missing", "{ unit = ..., value = ... }", "rpm"],
    ),
    "missing-source": (
        SITE,
        ('source = "', 'soruce = "'),
        "soruce",
        ["unknown key 'soruce'", "did you mean 'source'?"],
    ),
    "unknown-key": (
        CONVERTER,
        ("torque_ratio =", "torqe_ratio ="),
        "characteristic.torqe_ratio",
        ["unknown key 'torqe_ratio'", "found [2.2, 2.07", "did you mean 'torque_ratio'"],
    ),
    "unknown-key-far-from-any": (
        CONVERTER,
        ("[limits]\n", "[limits]\nxyzzy = 1\n"),
        "limits.xyzzy",
        ["unknown key", "expected one of input_torque, input_speed"],
    ),
    "unknown-table": (ENGINE, ("[full_load]", "[fulload]"), "fulload", ["'full_load'"]),
    "unknown-key-in-quantity": (
        CONVERTER,
        (DIAMETER, '{ unit = "mm", vaule = 345 }'),
        "profile_diameter.vaule",
        ["unknown key", "found 345", "did you mean 'value'?"],
    ),
    "neither-curve-nor-rating": (
        RATING_LINE,
        ("[rating]", "[interface]"),
        "full_load",
        ["missing", "[rating]"],
    ),
    # --- units
    "wrong-dimension": (
        CONVERTER,
        (DIAMETER, '{ unit = "kg", value = 345 }'),
        "profile_diameter.unit",
        ["'kg' is a mass unit", "expected a length unit such as mm"],
    ),
    "unknown-unit": (
        ENGINE,
        ('unit = "rpm", value = 800', 'unit = "rmp", value = 800'),
        "low_idle.unit",
        ["unknown angular speed unit", "found 'rmp'", "did you mean 'rpm'"],
    ),
    "no-unit": (
        CONVERTER,
        (DIAMETER, "{ value = 345 }"),
        "profile_diameter.unit",
        ["no unit given", "expected a length unit such as mm"],
    ),
    "unit-of-another-form": (
        CONVERTER,
        ("rpm/(lbf*ft)**0.5", "N*m"),
        "characteristic.capacity.unit",
        ["'N*m' is a torque", "expected a K-factor unit"],
    ),
    "capacity-without-unit": (
        CONVERTER,
        ('unit = "rpm/(lbf*ft)**0.5", ', ""),
        "characteristic.capacity.unit",
        ["no unit given", "K-factor"],
    ),
    "bare-number": (
        CONVERTER,
        (DIAMETER, "345"),
        "profile_diameter",
        ["a bare number hides its unit: write { unit = ..., value = 345 }", "found 345"],
    ),
    "bare-list": (
        SITE,
        (
            'altitude = { unit = "m", value = 350, also = { unit = "ft", value = 1148 } }',
            "altitude = [350]",
        ),
        "altitude",
        ["one value is due here", "found [350]"],
    ),
    "bare-ratio": (
        CONVERTER,
        ("{ value = 0.86 }", "0.86"),
        "coupling_speed_ratio",
        ["write { value = 0.86 }"],
    ),
    "text-for-a-quantity": (
        CONVERTER,
        (DIAMETER, '"345 mm"'),
        "profile_diameter",
        ["text where a quantity is due", 'write { unit = "mm", value = 345 }'],
    ),
    "column-for-a-value": (
        CONVERTER,
        (DIAMETER, '{ unit = "mm", values = [345] }'),
        "profile_diameter.values",
        ["one value is due here", "found [345]"],
    ),
    "value-for-a-column": (
        ENGINE,
        ("values = [602, ", "value = 602, other = [602, "),
        "full_load.torque.value",
        ["a column of values is due here", "found 602"],
    ),
    # --- numbers
    "nan": (
        CONVERTER,
        (DIAMETER, '{ unit = "mm", value = nan }'),
        "profile_diameter.value",
        ["not a finite number", "found nan"],
    ),
    "infinity-in-a-column": (
        CONVERTER,
        ("72.1", "inf"),
        "characteristic.capacity.values[0]",
        ["not a finite number", "found inf"],
    ),
    "nan-in-a-plain-list": (
        CONVERTER,
        ("2.07", "nan"),
        "characteristic.torque_ratio[1]",
        ["not a finite number"],
    ),
    "true": (
        CONVERTER,
        (DIAMETER, '{ unit = "mm", value = true }'),
        "profile_diameter.value",
        ["not a number", "found True"],
    ),
    "number-in-quotes": (
        CONVERTER,
        ("2.20", '"2.20"'),
        "characteristic.torque_ratio[0]",
        ["not a number", "found '2.20'", "without quotes"],
    ),
    "decimal-comma-in-quotes": (
        CONVERTER,
        (DIAMETER, '{ unit = "mm", value = "1,5" }'),
        "profile_diameter.value",
        ["found '1,5'", "decimal comma? write 1.5"],
    ),
    "decimal-comma-for-a-quantity": (
        CONVERTER,
        (DIAMETER, '"1,5 m"'),
        "profile_diameter",
        ['decimal comma? write { unit = "m", value = 1.5 }'],
    ),
    "number-for-a-text": (
        CONVERTER,
        ('id = "single-stage-345mm-tight"', "id = 345"),
        "id",
        ["a text in quotes is due here", "found 345"],
    ),
    "empty-text": (SITE, ('id = "timber-valley-hot-humid"', 'id = " "'), "id", ["is empty"]),
    "absurd-size": (
        CONVERTER,
        (DIAMETER, '{ unit = "mm", value = 345e40 }'),
        "profile_diameter.value",
        ["of a size that no machine has", "is the unit right?"],
    ),
    "digits-without-end": (
        CONVERTER,
        (DIAMETER, f'{{ unit = "mm", value = {"9" * 400} }}'),
        "profile_diameter.value",
        ["number too large"],
    ),
    "negative-diameter": (
        CONVERTER,
        (DIAMETER, '{ unit = "mm", value = -345 }'),
        "profile_diameter",
        ["found '-345 mm'", "above zero"],
    ),
    # --- choices
    "not-a-choice": (
        CONVERTER,
        ('stator = "one-way"', 'stator = "oneway"'),
        "stator",
        ["not a known choice", "found 'oneway'", "one-way | fixed | none", "mean 'one-way'"],
    ),
    "form-of-capacity": (
        CONVERTER,
        ("k_factor", "k-factor"),
        "characteristic.capacity.form",
        ["found 'k-factor'", "did you mean 'k_factor'?"],
    ),
    # --- rows
    "unsorted-speeds": (
        ENGINE,
        ("values = [800, 900, 1000, 1200", "values = [800, 1000, 900, 1200"),
        "full_load.speed.values[2]",
        ["row 3 does not increase", "found '900 rpm after 1000 rpm'"],
    ),
    "duplicate-speeds": (
        ENGINE,
        ("values = [800, 900, 1000, 1200", "values = [800, 900, 900, 1200"),
        "full_load.speed.values[2]",
        ["row 3 repeats", "found '900 rpm after 900 rpm'"],
    ),
    "unsorted-speed-ratios": (
        CONVERTER,
        ("0.10, 0.20", "0.20, 0.10"),
        "characteristic.speed_ratio[2]",
        ["row 3 does not increase", "found '0.1 after 0.2'"],
    ),
    "row-missing": (
        CONVERTER,
        ("72.1, ", ""),
        "characteristic.capacity.values",
        ["the same number of rows", "13 values of capacity for 14 of speed_ratio"],
    ),
    "decimal-comma-in-a-row": (
        ENGINE,
        ("[602, 725, ", "[602, 725,5, "),
        "full_load.torque.values",
        ["15 values of torque for 14", "is 725,5 a decimal comma? write 725.5"],
    ),
    "negative-torque": (
        ENGINE,
        ("values = [602", "values = [-602"),
        "full_load.torque.values[0]",
        ["below zero", "found '-602 N*m'", "zero or more"],
    ),
    "negative-power": (
        POWER_ENGINE,
        ("values = [41.8", "values = [-41.8"),
        "full_load.power.values[0]",
        ["below zero", "found '-41.8 kW'"],
    ),
    "negative-drag": (
        ENGINE,
        ("values = [66", "values = [-66"),
        "motoring.torque.values[0]",
        ["below zero", "as a positive number"],
    ),
    "engine-speed-zero": (
        ENGINE,
        ("values = [800, 900, 1000, 1200", "values = [0, 900, 1000, 1200"),
        "full_load.speed.values[0]",
        ["not above zero", "found '0 rpm'"],
    ),
    "negative-k-factor": (
        CONVERTER,
        ("72.1", "-72.1"),
        "characteristic.capacity.values[0]",
        ["above zero", "found '-72.1 rpm/(lbf*ft)**0.5'"],
    ),
    # --- physics
    "efficiency-above-one": (
        CONVERTER,
        ("1.00, 1.00, 1.00, 1.00, 1.00]", "1.30, 1.00, 1.00, 1.00, 1.00]"),
        "characteristic.torque_ratio[9]",
        ["efficiency above 1", "0.86 x torque ratio 1.3 = 1.1180", "at most 1.1628"],
    ),
    "efficiency-column-above-one": (
        LOOSE,
        ("0.238", "1.238"),
        "characteristic.efficiency[1]",
        ["efficiency above 1", "found 1.238", 'unit = "percent"'],
    ),
    "efficiency-column-contradicts": (
        LOOSE,
        ("0.238", "0.338"),
        "characteristic.efficiency[1]",
        ["row 2 contradicts the torque ratio", "found 0.338", "about 0.238"],
    ),
    "coupling-point-elsewhere": (
        CONVERTER,
        ("{ value = 0.86 }", "{ value = 0.5 }"),
        "coupling_speed_ratio.value",
        ["torque ratio 1.51 at speed ratio 0.5"],
    ),
    "curve-ends-before-rated-speed": (
        ENGINE,
        (
            'rated_speed = { unit = "rpm", value = 2200',
            'rated_speed = { unit = "rpm", value = 2300',
        ),
        "full_load.speed.values",
        ["stops short of the rated speed", "2200 rpm", "2300 rpm"],
    ),
    "high-idle-below-rated": (
        ENGINE,
        ('high_idle = { unit = "rpm", value = 2380', 'high_idle = { unit = "rpm", value = 2100'),
        "high_idle.value",
        ["found '2100 rpm'", "above 2200 rpm"],
    ),
    "rating-contradicts-itself": (
        RATING_LINE,
        ('"N*m", value = 390', '"N*m", value = 290'),
        "rating.peak_torque.value",
        ["below the torque at rated power", "290 N.m"],
    ),
    "accessory": (
        ENGINE,
        ("value = 11.0", "value = -11.0"),
        "accessory[0].power.value",
        ["found '-11 kW'", "zero or more"],
    ),
    "accessory-with-both": (
        ENGINE,
        ("exponent = 3", 'exponent = 3\ntorque = { unit = "N*m", value = 50 }'),
        "accessory[0].torque",
        ["power or torque, not both"],
    ),
    "gauge-pressure": (
        SITE,
        ('unit = "kPa", value = 97.0', 'unit = "kPa", value = 0.5'),
        "air_pressure.value",
        ["found '0.5 kPa'", "30 to 115 kPa absolute", "gauge pressure"],
    ),
    "humidity": (
        SITE,
        ('"percent", value = 85', '"percent", value = 850'),
        "relative_humidity.value",
        ["found '850 percent'", "0 to 100 percent"],
    ),
    "reference-air": (
        ENGINE,
        ('unit = "kPa", value = 99', 'unit = "kPa", value = 9.9'),
        "reference_air.pressure",
        ["found '9.9 kPa'"],
    ),
}


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_message_names_file_field_value_and_what_is_right(tmp_path, case):
    sheet, change, field, words = case
    error = refusal(tmp_path, changed(sheet, change))
    assert error.field == field
    for word in words:
        assert word in str(error)
    assert "more problem" not in str(error)
