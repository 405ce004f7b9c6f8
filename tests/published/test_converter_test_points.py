"""Conversion and scaling of converter test points against regulations that print them."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from converter_match.components.capacity_forms import CapacityBasis, from_capacity, to_capacity
from converter_match.components.coupling import AT_UNITY
from converter_match.curves import Curve
from converter_match.physics.engine.supply import engine_supply
from converter_match.physics.match.solver import match
from converter_match.units import from_si, to_si
from tests.examples import RPM, converter, engine

PUBLISHED = Path(__file__).resolve().parents[2] / "data" / "published"
AT_1000_RPM = CapacityBasis(reference_speed=1000 * RPM)
K = "K [rpm/√(N·m)]"
CFR = {"topic": "Converter test points", "source": "40 CFR 1037.570 (86 FR 34488, 2021)"}
EU = {
    "topic": "Converter test points",
    "source": "Commission Regulation (EU) 2017/2400, Annex VI, appendix 9 (exponent garbled in the "
    "copy seen, read as a square)",
}


def rows(name):
    with (PUBLISHED / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def k_factor(torque_at_1000_rpm):
    """K [rpm/sqrt(N.m)] from the pump torque [N.m] at 1000 rpm, by way of the capacity."""
    capacity = to_capacity("torque_at_speed", torque_at_1000_rpm, AT_1000_RPM)
    return from_si(from_capacity("k_factor", capacity, AT_1000_RPM), "rpm/sqrt(N.m)", "k_factor")


# --- 40 CFR 1037.570 (86 FR 34488, 2021, as amended): worked example at nu = 0, 1000.0 r/min ------


def test_worked_example_of_40_cfr_1037_570(published_case):
    # Seen: turbine 332.4 and 333.6 N.m, pump 150.8 and 150.3 N.m, repeats averaged as ratios.
    # Computed with the rounding the section asks for: torque ratio 2.21, K 81.5.
    first, second, mean = rows("cfr_1037_570_example.csv")
    readings = [
        (float(row["turbine_torque_nm"]), float(row["pump_torque_nm"])) for row in (first, second)
    ]
    assert readings == [(332.4, 150.8), (333.6, 150.3)]
    ratio = np.mean([turbine / pump for turbine, pump in readings])
    k = np.mean([float(k_factor(pump)) for _, pump in readings])
    assert (mean["torque_ratio"], mean["k_factor_rpm_per_sqrt_nm"]) == ("2.21", "81.5")
    inputs = "1000.0 r/min, turbine 332.4 and 333.6 N·m, pump 150.8 and 150.3 N·m (seen)"
    digits = "half of the last digit that the section asks for"
    published_case(
        **CFR, tag="computed", quantity="torque ratio at stall", inputs=inputs,
        published=2.21, ours=ratio, tolerance=0.005, why=digits,
    )  # fmt: skip
    published_case(
        **CFR, tag="computed", quantity=f"{K} at stall", inputs=inputs,
        published=81.5, ours=k, tolerance=0.05, why=digits,
    )  # fmt: skip


def test_row_that_is_one_to_the_digits_of_the_regulation_counts_as_one(published_case):
    # Torque ratio is reported to two decimals: 1.00 stands for 0.995 to 1.005.
    published_case(
        **CFR, tag="seen", quantity="how near to 1 a torque ratio counts as 1",
        inputs="torque ratio reported to two decimals", published=0.5e-2, ours=AT_UNITY,
        tolerance=0, why="half of the last digit, exactly",
    )  # fmt: skip


def test_grid_of_the_regulation_is_taken():
    # nu = 0.00 to 0.95, by 0.10 up to 0.60 and by 0.05 from there.
    nu = np.round(np.concatenate([np.arange(0, 0.65, 0.1), np.arange(0.65, 0.96, 0.05)]), 2)
    mu = np.round(np.maximum(2.21 - 1.21 * nu / 0.85, 1.0), 2)
    k = np.round(81.5 + 20 * nu**3 + 60 * np.maximum(nu - 0.8, 0), 1)
    unit = converter(
        speed_ratio=nu,
        torque_ratio=mu,
        capacity=1 / (k * RPM) ** 2,
        coupling_speed_ratio=None,
    )
    assert nu.size == 14
    assert unit.coupling == 0.85
    shown = from_si(unit.capacity_in("k_factor", nu), "rpm/sqrt(N.m)", "k_factor")
    # The grid is the regulation's, K is made up: no published figure, and no row of the page.
    assert shown == pytest.approx(k, rel=1e-13)


# --- Commission Regulation (EU) 2017/2400, Annex VI, appendix 9: generic converter ----------------
# T_pump at 1000 rpm and stall = 0.80 T_max (1000 / (0.70 n_rated))^2 (the exponent is garbled in
# the copy seen and read as a square); 0.8, 0.5 and 0 of it at 0.6, 0.9 and 1.0 of the overrun
# speed ratio.


def generic(t_max, n_rated):
    """The generic converter, with an overrun speed ratio of 1 and torque ratio left at 1."""
    at_stall = 0.80 * t_max * (1000 / (0.70 * n_rated)) ** 2
    share = np.array([[float(row["share_of_overrun_speed_ratio"]),
                       float(row["share_of_stall_pump_torque"])]
                      for row in rows("eu_2017_2400_generic.csv")])  # fmt: skip
    assert share.tolist() == [[0, 1], [0.6, 0.8], [0.9, 0.5], [1, 0]]
    return converter(
        stator="none",
        speed_ratio=share[:, 0],
        torque_ratio=np.ones(4),
        capacity=to_capacity("torque_at_speed", at_stall * share[:, 1], AT_1000_RPM),
        coupling_speed_ratio=None,
    )


def test_k_factors_of_the_generic_converter(published_case):
    # Example, computed: T_max 1000 N.m, n_rated 2000 rpm.
    unit = generic(1000.0, 2000.0)
    for row, printed in zip(
        rows("eu_2017_2400_generic.csv"), ["49.497", "55.340", "70.000", ""], strict=True
    ):
        nu = float(row["share_of_overrun_speed_ratio"])
        assert row["k_factor_rpm_per_sqrt_nm"] == printed
        k = float(from_si(unit.capacity_in("k_factor", nu), "rpm/sqrt(N.m)", "k_factor"))
        if not printed:
            assert math.isinf(k)
            continue
        published_case(
            **EU, tag="computed", quantity=f"{K} of the generic converter",
            inputs=f"T_max 1000 N·m, n_rated 2000 rpm; at {nu} of the overrun speed ratio",
            published=float(printed), ours=k, tolerance=5e-4, why="half of the last digit",
        )  # fmt: skip


@pytest.mark.parametrize(("t_max", "n_rated"), [(1000, 2000), (780, 2300), (2600, 1800)])
def test_generic_converter_stalls_a_flat_engine_at_seven_tenths_of_rated_speed(
    t_max, n_rated, published_case
):
    # By construction: an engine of 0.80 T_max at every speed stalls at 0.70 n_rated.
    low, high = 0.3 * n_rated * RPM, 1.1 * n_rated * RPM
    flat = Curve([low, high], [0.80 * t_max, 0.80 * t_max])
    made = engine(
        accessories=(),
        low_idle=low,
        rated_speed=n_rated * RPM,
        high_idle=high,
        speed=np.array([0.3, 1.0]) * n_rated * RPM,
        torque=[t_max, t_max],
    )
    unit = generic(t_max, n_rated)
    stall = match(engine_supply(made, source=flat), unit, 0.0).from_idle()
    published_case(
        **EU, tag="computed", quantity="stall speed [rpm], by construction",
        inputs=f"flat engine of 0.80 T_max; T_max {t_max} N·m, n_rated {n_rated} rpm",
        published=0.70 * n_rated, ours=stall.engine_speed / RPM, relative=1e-14,
        why="double precision",
    )  # fmt: skip
    assert stall.stable
    # T = C omega^2 with C down to 0.8: the flat engine runs up with 1 / sqrt(0.8).
    moving = match(engine_supply(made, source=flat), unit, 0.6).from_idle()
    assert moving.engine_speed / stall.engine_speed == pytest.approx(0.8**-0.5, rel=1e-14)


# --- units of K ----------------------------------------------------------------------------------


def test_k_in_the_two_unit_systems(published_case):
    # 1 lbf.ft = 0.45359237 kg x 9.80665 m/s^2 x 0.3048 m exactly (international pound and foot), so
    # K[rpm/sqrt(N.m)] = 0.858814 K[rpm/sqrt(lbf.ft)].
    exact = 1 / math.sqrt(0.45359237 * 9.80665 * 0.3048)
    assert f"{exact:.6f}" == "0.858814"
    one = to_si(1.0, "rpm/sqrt(lbf.ft)", "k_factor")
    published_case(
        topic="Units", source="international pound and foot, standard gravity (definitions)",
        tag="computed", quantity="1 rpm/√(lbf·ft) in rpm/√(N·m)",
        inputs="0.45359237 kg, 9.80665 m/s², 0.3048 m", published=exact,
        ours=from_si(one, "rpm/sqrt(N.m)", "k_factor"), relative=1e-14, why="double precision",
    )  # fmt: skip
    # The same converter by either K absorbs the same torque: 100 lbf.ft at 1000 rpm and K 100.
    capacity = to_capacity("k_factor", to_si(100.0, "rpm/sqrt(lbf.ft)", "k_factor"), AT_1000_RPM)
    torque = from_si(float(capacity) * (1000 * RPM) ** 2, "lbf.ft", "torque")
    assert torque == pytest.approx(100.0, rel=1e-14)


# --- shop rule ------------------------------------------------------------------------------------


def test_stall_a_third_lower_on_a_flat_engine_means_two_thirds_of_k():
    # "A freewheeling stator lowers stall speed by about a third": common practice, no source. On a
    # flat curve T = (omega / K)^2, so stall speed is proportional to K.
    flat = Curve([800 * RPM, 2380 * RPM], [900.0, 900.0])
    supply = engine_supply(engine(accessories=()), source=flat)
    free = match(supply, converter(), 0.0, capacity_factor=(3 / 2) ** 2).from_idle()
    held = match(supply, converter(), 0.0).from_idle()
    # What the rule means for K, and no check of the rule: double precision.
    assert float(free.engine_speed / held.engine_speed) == pytest.approx(2 / 3, rel=1e-13)
