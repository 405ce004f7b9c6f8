"""Good files: what is in them arrives, in SI, with every assumption said."""

import math
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import converter_match
from converter_match.components.converter import Converter
from converter_match.components.engine import Engine
from converter_match.components.engine_limits import EngineLimits
from converter_match.components.site import Site
from converter_match.library.read import (
    read_component,
    read_converter,
    read_engine,
    read_site,
)
from converter_match.library.shipped import shipped
from converter_match.library.write import write_component
from converter_match.units import note_text
from tests.library.sheets import (
    CONVERTER,
    ENGINE,
    LOOSE,
    NAMES,
    POWER_ENGINE,
    RATING_LINE,
    SITE,
    changed,
    saved,
    text_of,
)

RPM = math.pi / 30
# Exact by definition: 1 lb = 0.45359237 kg, g = 9.80665 m/s2, 1 ft = 0.3048 m.
LBF_FT = 0.45359237 * 9.80665 * 0.3048
TYPES = {"converters": Converter, "engines": Engine, "sites": Site}


def codes(component):
    return [note.code for note in component.notes]


@pytest.mark.parametrize(("kind", "name"), NAMES)
def test_shipped_file_can_be_read_and_is_named_after_its_id(kind, name):
    component = read_component(shipped(kind)[name])
    assert isinstance(component, TYPES[kind])
    assert component.id == name
    assert component.source


# --- converters ----------------------------------------------------------------------------------


def test_converter_arrives_in_si():
    found = read_converter(shipped("converters")["single-stage-345mm-tight"])
    assert found.stator == "one-way"
    assert found.profile_diameter == pytest.approx(0.345, rel=1e-15)
    assert found.oil_density == 840.0
    assert found.coupling == 0.86
    assert found.speed_ratio[1] == 0.1
    assert found.torque_ratio[0] == 2.2
    assert found.limits.input_torque == 1230.0
    assert found.limits.input_speed == pytest.approx(3050 * RPM, rel=1e-15)
    assert found.limits.oil_temperature == pytest.approx(393.15, rel=1e-15)
    assert found.impeller_inertia == 0.352
    assert dict(found.interface)["housing"] == "SAE 2"
    # K = omega / sqrt(T) (40 CFR 1037.570), so T / omega^2 = 1 / K^2.
    k = 72.1 * RPM / math.sqrt(LBF_FT)
    assert found.capacity[0] == pytest.approx(1 / k**2, rel=1e-14)


def sheet_with(capacity):
    return f"""\
schema = "converter-match/converter/1"
id = "a"
name = "a"
source = "made up for a test"
stator = "fixed"
profile_diameter = {{ unit = "mm", value = 400 }}
oil_density = {{ unit = "kg/L", value = 0.85 }}
[characteristic]
speed_ratio = [0.0, 0.5, 0.9]
torque_ratio = [2.5, 1.6, 0.9]
capacity = {capacity}
"""


# One converter, C = 0.03 N.m/(rad/s)^2 at stall, in the clothes of every form. The arithmetic is
# that of the definitions: K = 1/sqrt(C), T = C w^2, P = C w^3, lambda = C / (rho D^5).
W1000 = 1000 * RPM
FORMS = {
    "k in SI": ("k_factor", "(rad/s)/sqrt(N.m)", "", 1 / math.sqrt(0.03)),
    "k in rpm and N.m": ("k_factor", "rpm/(N*m)**0.5", "", 1 / math.sqrt(0.03) / RPM),
    # 1 rpm/sqrt(lbf.ft) = 0.858814 rpm/sqrt(N.m), to the six digits printed
    "k in rpm and lbf.ft": (
        "k_factor",
        "rpm/sqrt(lbf-ft)",
        "",
        1 / math.sqrt(0.03) / RPM / 0.858814,
    ),
    "torque at 1000 rpm": ("torque_at_speed", "N*m", "1000", 0.03 * W1000**2),
    "torque in lbf.ft": ("torque_at_speed", "lbf*ft", "1000", 0.03 * W1000**2 / LBF_FT),
    "power at 1000 rpm": ("power_at_speed", "kW", "1000", 0.03 * W1000**3 / 1e3),
    "power in hp": ("power_at_speed", "hp", "1000", 0.03 * W1000**3 / 745.69987158227),
    "capacity coefficient": ("capacity_coefficient", "N*m/(rad/s)**2", "", 0.03),
    "lambda": ("performance_coefficient", "1", "", 0.03 / (850 * 0.4**5)),
    "lambda without unit": ("performance_coefficient", None, "", 0.03 / (850 * 0.4**5)),
}


@pytest.mark.parametrize("form", FORMS.values(), ids=FORMS)
def test_every_form_of_capacity_is_the_same_converter(tmp_path, form):
    name, unit, reference, at_stall = form
    exponent = -0.5 if name == "k_factor" else 1.0
    values = [at_stall * share**exponent for share in (1.0, 0.9, 0.5)]
    parts = [f'form = "{name}"', f"values = {values}"]
    parts += [f'unit = "{unit}"'] if unit is not None else []
    parts += [f'reference_speed = {{ unit = "rpm", value = {reference} }}'] if reference else []
    found = read_converter(saved(tmp_path, sheet_with(f"{{ {', '.join(parts)} }}")))
    # C goes with the square of K, whose factor has six digits; the other factors are exact.
    tolerance = 1.3e-6 if unit == "rpm/sqrt(lbf-ft)" else 1e-13
    assert found.capacity == pytest.approx([0.03, 0.027, 0.015], rel=tolerance)


def test_ratios_may_be_in_percent(tmp_path):
    text = changed(
        LOOSE,
        ("[2.60, 2.38,", '{ unit = "percent", values = [260, 238,'),
        ("2.18, 1.98, 1.79, 1.60, 1.41, 1.22, 1.09, 1.00, 1.00, 1.00, 1.00, 1.00]",
         "218, 198, 179, 160, 141, 122, 109, 100, 100, 100, 100, 100] }"),
    )  # fmt: skip
    found = read_converter(saved(tmp_path, text))
    expected = read_converter(shipped("converters")["single-stage-345mm-loose"])
    assert found.torque_ratio == pytest.approx(expected.torque_ratio, rel=1e-15)


def test_fluid_coupling_may_go_without_torque_ratio_and_it_is_said(tmp_path):
    text = text_of(("converters", "fluid-coupling-360mm"))
    without = "\n".join(line for line in text.splitlines() if not line.startswith("torque_ratio"))
    found = read_converter(saved(tmp_path, without))
    assert np.all(found.torque_ratio == 1.0)
    assert "torque-ratio-taken-as-one" in codes(found)
    with_it = read_converter(saved(tmp_path, text))
    assert "torque-ratio-taken-as-one" not in codes(with_it)


def test_efficiency_column_within_its_printed_digits_passes_and_beyond_them_is_noted(tmp_path):
    # speed ratio 0.1 x torque ratio 2.38 = 0.238; two decimals in each explain 0.015 at most
    near = read_converter(saved(tmp_path, changed(LOOSE, ("0.238", "0.25"))))
    assert codes(near) == []
    off = read_converter(saved(tmp_path, changed(LOOSE, ("0.238", "0.26"))))
    assert codes(off) == ["efficiency-column-off"]
    assert "Row 2" in off.notes[0].message


def test_notes_of_a_file_arrive(tmp_path):
    text = text_of(CONVERTER) + (
        '\n[[note]]\ncode = "read-off-a-curve"\nmessage = "Read off a printed curve, about 2 %."\n'
    )
    [note] = read_converter(saved(tmp_path, text)).given_notes
    assert (note.code, note.kind) == ("read-off-a-curve", "assumption")


def test_interface_keeps_texts_counts_and_quantities_as_given(tmp_path):
    text = text_of(LOOSE).split("[interface]")[0] + (
        '[interface]\nhousing = "SAE 2"\nring_gear_teeth = 138\n'
        'pilot = { unit = "in", value = 1.5 }\n'
    )
    found = read_converter(saved(tmp_path, text))
    assert found.interface == (
        ("housing", "SAE 2"),
        ("ring_gear_teeth", "138"),
        ("pilot", "1.5 in"),
    )


# --- engines -------------------------------------------------------------------------------------


def test_engine_arrives_in_si():
    found = read_engine(shipped("engines")["six-cylinder-7l-185kw"])
    assert found.rating_basis == "gross"
    assert found.rating_standard == "ISO 14396"
    assert found.low_idle == pytest.approx(800 * RPM, rel=1e-15)
    assert found.torque[0] == 602.0
    assert found.displacement == pytest.approx(0.007, rel=1e-15)
    assert found.reference_air.pressure == 99e3
    assert found.reference_air.temperature == 298.15
    fan = found.accessories[0]
    assert (fan.name, fan.power, fan.exponent) == ("cooling fan", 11e3, 3.0)
    assert found.motoring.value[0] == 66.0
    # 213 g in 3.6e6 J
    assert found.fuel.specific.value[0] == pytest.approx(213e-3 / 3.6e6, rel=1e-14)
    assert found.fuel.idle_rate == pytest.approx(1.16 / 3600, rel=1e-14)
    assert found.inertia == 1.45
    assert found.site_correction.method == "diesel-iso-1585"
    assert found.site_correction.engine_factor == 0.43


def test_power_becomes_torque(tmp_path):
    found = read_engine(shipped("engines")["six-cylinder-10l5-138kw"])
    # T = P / omega: 138 kW at 2100 rpm
    assert found.torque[-1] == pytest.approx(138e3 / (2100 * RPM), rel=1e-14)


def test_accessory_may_be_given_by_its_torque(tmp_path):
    power = 'power = { unit = "kW", value = 11.0, also = { unit = "hp", value = 14.8 } }'
    text = changed(ENGINE, (power, 'torque = { unit = "N*m", value = 50 }'))
    fan = read_engine(saved(tmp_path, text)).accessories[0]
    assert fan.power == pytest.approx(50 * 2200 * RPM, rel=1e-14)
    assert fan.reference_torque == pytest.approx(50, rel=1e-14)


def test_exhaust_brake_and_derate_table_arrive():
    hauler = read_engine(shipped("engines")["six-cylinder-9l-240kw"])
    assert hauler.exhaust_brake.value[0] == 275.0
    dozer = read_engine(shipped("engines")["six-cylinder-15l-400kw"])
    assert dozer.site_correction.derate_altitude[1] == 1500.0
    assert dozer.site_correction.derate_factor[-1] == 0.81


def test_rating_line_makes_an_estimated_curve_that_says_so():
    found = read_engine(shipped("engines")["four-cylinder-3l6-74kw-rating-line"])
    assert found.rated_power == pytest.approx(74e3, rel=1e-12)
    assert found.peak_torque[1] == pytest.approx(390.0, rel=1e-12)
    assert "curve-from-rating" in codes(found)
    assert found.torque_band > 0


@pytest.mark.parametrize(
    "written",
    [
        '{ unit = "rpm", value = 2200 }',
        '{ unit = "1/min", value = 2200.0 }',
        '{ unit = "rad/s", value = 230.383461263 }',
        '{ unit = "rev/s", value = 36.6666666666667 }',
    ],
)
def test_rated_speed_is_its_row_to_the_last_bit_in_whatever_unit(tmp_path, written):
    old = 'rated_speed = { unit = "rpm", value = 2200 }'
    found = read_engine(saved(tmp_path, changed(ENGINE, (old, f"rated_speed = {written}"))))
    assert found.rated_speed in found.speed.tolist()


def test_limits_of_an_engine_are_kept_as_given(tmp_path):
    text = changed(
        ENGINE, ("[interface]", '[limits]\ntilt = { unit = "deg", value = 30 }\n\n[interface]')
    )
    found = read_engine(saved(tmp_path, text))
    assert found.limits == EngineLimits(others=(("tilt", "30 deg"),))
    assert "limits.tilt" not in dict(found.interface)
    [said] = [note for note in found.notes if note.code == "engine-limits-not-checked"]
    assert "limits.tilt" in note_text(said, "si")


@pytest.mark.parametrize(
    ("key", "entry", "si"),
    [
        ("speed", '{ unit = "rpm", value = 2300 }', 2300 * RPM),
        ("speed", '"2300 rpm"', 2300 * RPM),
        ("torque", '{ unit = "lbf.ft", value = 300 }', 300 * LBF_FT),
        ("power", '{ unit = "kW", value = 60 }', 60e3),
    ],
)
def test_limits_of_an_engine_arrive_in_si_and_go_back_into_a_file(tmp_path, key, entry, si):
    text = changed(ENGINE, ("[interface]", f"[limits]\n{key} = {entry}\n\n[interface]"))
    found = read_engine(saved(tmp_path, text))
    assert getattr(found.limits, key) == pytest.approx(si, rel=1e-15)
    assert found.limits.unread == found.limits.others == ()
    write_component(found, tmp_path / "again.toml")
    assert read_engine(tmp_path / "again.toml") == found


@pytest.mark.parametrize(
    "entry",
    [
        '"see the plate"',
        '{ unit = "deg", value = 30 }',
        "2400",
        '"much rpm"',
        '"-3 rpm"',
        '"nan rpm"',
    ],
)
def test_limit_of_an_engine_that_is_no_speed_is_named_and_kept(tmp_path, entry):
    text = changed(ENGINE, ("[interface]", f"[limits]\nspeed = {entry}\n\n[interface]"))
    found = read_engine(saved(tmp_path, text))
    assert found.limits.speed is None
    [(key, said)] = found.limits.unread
    assert key == "speed"
    assert said.split()[0] in entry
    write_component(found, tmp_path / "again.toml")
    assert read_engine(tmp_path / "again.toml") == found


# --- sites ---------------------------------------------------------------------------------------


def test_site_arrives_in_si():
    found = read_site(shipped("sites")["timber-valley-hot-humid"])
    assert found.altitude == 350.0
    assert found.air_pressure == 97e3
    assert found.air_temperature == pytest.approx(309.15, rel=1e-15)
    assert found.relative_humidity == pytest.approx(0.85, rel=1e-15)


def test_site_in_us_units(tmp_path):
    text = changed(
        SITE,
        ('unit = "m", value = 350', 'unit = "ft", value = 1000'),
        ('unit = "degC", value = 36', 'unit = "degF", value = 95'),
        ('unit = "kPa", value = 97.0', 'unit = "inHg", value = 28.86'),
    )
    found = read_site(saved(tmp_path, text))
    assert found.altitude == pytest.approx(304.8, rel=1e-15)
    assert found.air_temperature == pytest.approx(308.15, rel=1e-15)  # 95 degF = 35 degC
    # 1013.25 hPa is 29.92 inHg in aviation, to its four digits
    assert found.air_pressure == pytest.approx(28.86 * 101325 / 29.92, rel=2e-4)


# --- what reading costs --------------------------------------------------------------------------


@pytest.mark.slow
def test_reader_is_imported_without_pydantic_and_reads_without_pandas_or_figures():
    code = (
        "import sys\n"
        "import converter_match.library.read as read, converter_match.library.shipped as s\n"
        "print('pydantic' in sys.modules)\n"
        "read.read_converter(s.shipped('converters')['single-stage-345mm-tight'])\n"
        "print(*sorted({'pandas', 'matplotlib', 'jinja2'} & set(sys.modules)))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(converter_match.__file__).parents[1],
    )
    assert done.stdout.split("\n") == ["False", "", ""]


def test_rating_line_and_power_sheet_have_no_other_notes():
    for sheet, expected in ((RATING_LINE, {"curve-from-rating"}), (POWER_ENGINE, set())):
        kind, name = sheet
        found = read_component(shipped(kind)[name])
        assert {note.code for note in found.given_notes} == expected
