"""Round trip through every form of capacity and every unit, against pint."""

import numpy as np
import pint
import pytest

from converter_match.library.intake.reading import intake_text
from converter_match.units import spellings

UREG = pint.UnitRegistry()
NU = [0.0, 0.2, 0.4, 0.6, 0.8, 0.88, 0.95]
MU = [2.1, 1.82, 1.55, 1.29, 1.07, 1.0, 1.0]
TORQUE = np.array([251.0, 252.5, 249.0, 240.5, 226.0, 217.0, 112.0])  # N.m at 1000 rpm
AT = UREG.Quantity(1000.0, "rpm").to("rad/s").magnitude
CAPACITY = TORQUE / AT**2
TORQUE_UNITS = {"N.m": "N*m", "kN.m": "kN*m", "daN.m": "daN*m", "lbf.ft": "lbf*ft",
                "lb-ft": "lbf*ft", "lbf.in": "lbf*inch", "kgf.m": "kgf*m"}  # fmt: skip
SPEED_UNITS = {"rpm": "rpm", "r/min": "rpm", "rad/s": "rad/s", "rev/s": "revolution/s"}
POWER_UNITS = {"kW": "kW", "W": "W", "hp": "horsepower", "PS": "metric_horsepower",
               "ft.lbf/s": "ft*lbf/s"}  # fmt: skip


def accepted(heading, values, *lines, **answers):
    text = "\n".join(lines) + "\n" if lines else ""
    text += f"speed ratio;torque ratio;{heading}\n"
    text += "".join(f"{a!r};{b!r};{c!r}\n" for a, b, c in zip(NU, MU, values, strict=True))
    draft = intake_text(text, stator="one-way", **answers)
    assert [problem.text() for problem in draft.open] == []
    return draft.accept()


@pytest.mark.parametrize("speed", SPEED_UNITS)
@pytest.mark.parametrize("torque", TORQUE_UNITS)
def test_k_factor_in_every_unit_agrees_with_pint(speed, torque):
    w = UREG.Quantity(AT, "rad/s").to(SPEED_UNITS[speed]).magnitude
    t = UREG.Quantity(TORQUE, "N*m").to(TORQUE_UNITS[torque]).magnitude
    speed_part = f"({speed})" if "/" in speed else speed
    converter = accepted(f"K-factor [{speed_part}/sqrt({torque})]", (w / np.sqrt(t)).tolist())
    np.testing.assert_allclose(converter.capacity, CAPACITY, rtol=1e-12)


@pytest.mark.parametrize("speed", SPEED_UNITS)
@pytest.mark.parametrize("torque", TORQUE_UNITS)
def test_torque_at_a_speed_in_every_unit_agrees_with_pint(speed, torque):
    n = round(UREG.Quantity(1700.0, "rpm").to(SPEED_UNITS[speed]).magnitude, 6)
    w = UREG.Quantity(n, SPEED_UNITS[speed]).to("rad/s").magnitude
    t = UREG.Quantity(CAPACITY * w**2, "N*m").to(TORQUE_UNITS[torque]).magnitude
    converter = accepted(f"Input torque at {n!r} {speed} ({torque})", t.tolist(), decimal=".")
    np.testing.assert_allclose(converter.capacity, CAPACITY, rtol=1e-12)


@pytest.mark.parametrize("speed", SPEED_UNITS)
@pytest.mark.parametrize("torque", TORQUE_UNITS)
def test_speed_at_a_torque_in_every_unit_agrees_with_pint(speed, torque):
    held = round(UREG.Quantity(150.0, "N*m").to(TORQUE_UNITS[torque]).magnitude, 6)
    load = UREG.Quantity(held, TORQUE_UNITS[torque]).to("N*m").magnitude
    n = UREG.Quantity(np.sqrt(load / CAPACITY), "rad/s").to(SPEED_UNITS[speed]).magnitude
    converter = accepted(f"Input speed at {held!r} {torque} ({speed})", n.tolist(), decimal=".")
    np.testing.assert_allclose(converter.capacity, CAPACITY, rtol=1e-12)


@pytest.mark.parametrize("power", POWER_UNITS)
def test_power_at_a_speed_in_every_unit_agrees_with_pint(power):
    w = UREG.Quantity(2000.0, "rpm").to("rad/s").magnitude
    p = UREG.Quantity(CAPACITY * w**3, "W").to(POWER_UNITS[power]).magnitude
    converter = accepted(f"Absorbed power at 2000 rpm [{power}]", p.tolist())
    # pint's horsepower is rounded to ten digits
    np.testing.assert_allclose(converter.capacity, CAPACITY, rtol=1e-9)


@pytest.mark.parametrize("speed", ["rpm", "rad/s"])
@pytest.mark.parametrize("torque", ["N.m", "lbf.ft"])
def test_capacity_coefficient_in_every_unit_agrees_with_pint(speed, torque):
    unit = f"{TORQUE_UNITS[torque]}/({SPEED_UNITS[speed]})**2"
    c = UREG.Quantity(CAPACITY, "N*m/(rad/s)**2").to(unit).magnitude
    speed_part = f"({speed})" if "/" in speed else speed
    converter = accepted(f"capacity coefficient [{torque}/{speed_part}^2]", c.tolist())
    np.testing.assert_allclose(converter.capacity, CAPACITY, rtol=1e-12)


@pytest.mark.parametrize(("diameter", "unit"), [(0.36, "m"), (360.0, "mm"), (14.173228, "in")])
def test_performance_coefficient_agrees_with_pint(diameter, unit):
    metres = UREG.Quantity(diameter, unit).to("m").magnitude
    coefficient = CAPACITY / (850.0 * metres**5)
    lines = [f"profile diameter: {diameter} {unit}", "oil density: 850 kg/m3"]
    converter = accepted("lambda", coefficient.tolist(), *lines)
    np.testing.assert_allclose(converter.capacity, CAPACITY, rtol=1e-12)


@pytest.mark.parametrize("power", POWER_UNITS)
def test_engine_power_in_every_unit_agrees_with_pint(power):
    rpm = np.array([800.0, 1200.0, 1600.0, 2000.0, 2200.0])
    torque = np.array([560.0, 740.0, 770.0, 705.0, 655.0])
    w = UREG.Quantity(rpm, "rpm").to("rad/s").magnitude
    shown = UREG.Quantity(torque * w, "W").to(POWER_UNITS[power]).magnitude
    text = f"engine speed [rpm];power [{power}]\n" + "".join(
        f"{a!r};{b!r}\n" for a, b in zip(rpm.tolist(), shown.tolist(), strict=True)
    )
    draft = intake_text(text, rating_basis="gross", governing="speed", low_idle="700 rpm",
                        rated_speed="2200 rpm", high_idle="2400 rpm")  # fmt: skip
    np.testing.assert_allclose(draft.accept().torque, torque, rtol=1e-9)


@pytest.mark.parametrize("spelling", spellings("torque"))
def test_every_spelling_of_a_torque_unit_is_found_in_a_heading(spelling):
    draft = intake_text(
        f"speed ratio;torque ratio;input torque at 1000 rpm [{spelling}]\n"
        "0;2.1;251\n0.5;1.4;240\n0.9;1;150\n"
    )
    column = draft.sheet.one("torque_at_speed")
    assert column.unit == spelling
    assert column.unit_from == "heading"


def test_grid_of_the_test_procedure_is_accepted_as_it_is():
    """40 CFR 1037.570 and (EU) 2017/2400, Annex VI: speed ratios 0 to 0.95, and their digits.

    The procedure reports torque ratio to two decimals, K to one, the speed ratio to two.
    """
    nu = [0.00, 0.10, 0.20, 0.30, 0.40, 0.50, 0.60, 0.65, 0.70, 0.75, 0.80, 0.85, 0.90, 0.95]
    mu = [2.21, 2.06, 1.91, 1.77, 1.63, 1.49, 1.36, 1.29, 1.22, 1.15, 1.08, 1.02, 1.00, 1.00]
    k = [81.5, 81.3, 81.4, 81.8, 82.4, 83.3, 84.6, 85.4, 86.4, 87.6, 89.0, 90.8, 99.6, 128.0]
    text = "Speed ratio,Torque ratio,K [(r/min)/(N.m)^0.5]\n" + "".join(
        f"{a:.2f},{b:.2f},{c:.1f}\n" for a, b, c in zip(nu, mu, k, strict=True)
    )
    draft = intake_text(text, stator="one-way")
    assert draft.open == ()
    converter = draft.accept()
    np.testing.assert_array_equal(converter.speed_ratio, nu)
    np.testing.assert_array_equal(converter.torque_ratio, mu)
    # The worked example of 40 CFR 1037.570 at nu = 0: K 81.5 (r/min)/(N.m)^0.5.
    assert converter.capacity[0] == pytest.approx(
        UREG.Quantity(81.5, "rpm").to("rad/s").magnitude ** -2, rel=1e-12
    )


def test_repeats_within_the_tolerance_of_a_test_are_averaged_on_request():
    """40 CFR 1037.570, worked example at nu = 0: two readings, 150.8 and 150.3 N.m."""
    text = (
        "speed ratio;turbine torque [N.m];pump torque at 1000 rpm [N.m]\n"
        "0;332.4;150.8\n0;333.6;150.3\n0.5;220;147\n0.9;110;110\n0.95;70;70\n"
    )
    draft = intake_text(text, stator="one-way", confirm="repeat:2")
    converter = draft.accept()
    assert round(float(converter.torque_ratio[0]), 2) == 2.21
    k = 1000 / np.sqrt(converter.capacity[0] * AT**2)
    assert round(float(k), 1) == 81.5
