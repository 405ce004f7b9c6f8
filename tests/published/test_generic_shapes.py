"""Shapes that estimates are made of, against the tables that they come from.

A converter that *is* one of the published ones, known by its stall only, has to lie in the band
that is estimated for it, at every speed ratio.
"""

import csv

import numpy as np
import pytest

from converter_match.components.converter import Converter
from converter_match.components.converter_estimate import estimated_converter
from converter_match.components.generic_shapes import MEASURED, REGULATION, speed_ratio_at
from converter_match.components.stall_datum import StallDatum
from converter_match.library.shipped import data_folder
from tests.examples import RPM

BENCH = (
    "National Renewable Energy Laboratory (US), Creation and Validation of a New Automatic "
    "Transmission Model, August 2000: bench curve, read off a figure"
)
DRIVE = (
    "National Renewable Energy Laboratory (US), data file of May 2000: drive table at 100 N·m, "
    "without its last row"
)
EU = (
    "Commission Regulation (EU) 2017/2400, Annex VI, appendix 9 (exponent garbled in the copy "
    "seen, read as a square)"
)
PLACES = [0.2, 0.5, 0.8]


def columns(name):
    with (data_folder() / "published" / name).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return {
        key: np.array([float(row[key]) for row in rows])
        for key in rows[0]
        if "tag" not in key and key != "source" and all(row[key] for row in rows)
    }


def tables():
    """(speed ratio, torque ratio or None, capacity [N.m/(rad/s)^2]) of each published table."""
    bench = columns("converter_273mm.csv")
    drive = {key: values[:-1] for key, values in columns("drive_table_100nm.csv").items()}
    eu = columns("eu_2017_2400_generic.csv")
    speed = drive["input_speed_rpm_at_100Nm"] * RPM
    return {
        "bench": (
            bench["speed_ratio"],
            bench["torque_ratio"],
            bench["k_rad_s_per_sqrt_Nm"] ** -2.0,
        ),
        "drive": (drive["speed_ratio"], drive["torque_ratio"], 100.0 / speed**2),
        "eu": (
            eu["share_of_overrun_speed_ratio"],
            None,
            eu["share_of_stall_pump_torque"]
            * eu["pump_torque_at_1000_rpm_nm"][0]
            / (1000 * RPM) ** 2,
        ),
    }


def datum(name):
    """The stall of a published table, and all that is asked of the estimate."""
    _, mu, capacity = tables()[name]
    ratio = None if mu is None else (float(mu[0]), float(mu[0]))
    speed = 2000 * RPM
    known = StallDatum(
        engine_speed=speed, input_torque=float(capacity[0]) * speed**2, torque_ratio=ratio
    )
    return estimated_converter(known, id=name, name=name, source="published", stator="one-way")


@pytest.mark.parametrize(("number", "name"), [(0, "bench"), (1, "drive")])
def test_measured_shapes_are_their_tables(number, name):
    nu, mu, capacity = tables()[name]
    shape = MEASURED[number]
    at = speed_ratio_at(shape.place, shape.coupling)
    # The drive table has no row at its coupling point: the shape has one more there.
    given = np.array([np.argmin(np.abs(at - row)) for row in nu])
    assert at[given] == pytest.approx(nu, abs=1e-12)
    assert shape.torque_share[given] == pytest.approx((mu - 1.0) / (mu[0] - 1.0), abs=1e-12)
    assert shape.capacity_share[given] == pytest.approx(capacity / capacity[0], rel=1e-12)
    assert (at[-1], shape.capacity_share[-1]) == (1.0, 0.0)


def test_the_regulations_shape_is_its_table():
    eu = columns("eu_2017_2400_generic.csv")
    assert REGULATION["speed_ratio"].tolist() == eu["share_of_overrun_speed_ratio"].tolist()
    assert REGULATION["capacity_share"].tolist() == eu["share_of_stall_pump_torque"].tolist()


@pytest.mark.parametrize(("name", "source"), [("bench", BENCH), ("drive", DRIVE), ("eu", EU)])
def test_a_published_converter_known_by_its_stall_lies_in_its_band(published_case, name, source):
    nu, mu, capacity = tables()[name]
    estimate = datum(name)
    fine = np.linspace(0.0, float(nu[-1]), 500)
    between = np.union1d(fine, nu)
    if name == "eu":  # in straight lines, as the regulation draws them
        course = {"capacity": np.interp(between, nu, capacity)}
    else:
        whole = Converter(
            id=name, name=name, source=source, stator="one-way",
            speed_ratio=nu, torque_ratio=mu, capacity=capacity,
        )  # fmt: skip
        course = {
            "torque_ratio": whole.torque_ratio_at(between),
            "capacity": whole.capacity_at(between),
        }
    band = estimate.band(between)
    for key, values in course.items():
        least, most = band[key]
        assert np.all(values >= least - 1e-9 * np.abs(least)), key
        assert np.all(values <= most + 1e-9 * np.abs(most)), key
    least, most = estimate.band(PLACES)["capacity"]
    given = np.interp(PLACES, nu, capacity)
    published_case(
        topic="Estimate from a stall datum", tag="seen", source=source,
        quantity="capacity over that at stall, held within the estimated band",
        inputs=f"stall of the {name} table; speed ratio 0.2, 0.5, 0.8",
        published=(given / capacity[0]).tolist(),
        ours=(np.clip(given, least, most) / capacity[0]).tolist(),
        relative=1e-9, why="within the band, nothing is cut off",
    )  # fmt: skip


def test_the_band_is_no_wider_than_the_tables_are_apart():
    # Their capacities over stall lie within 24 % of each other up to the coupling points.
    nu = np.linspace(0.0, 0.85, 50)
    shares = np.stack(
        [np.interp(nu, at, capacity / capacity[0]) for at, _, capacity in tables().values()]
    )
    apart = float(np.max(shares.max(axis=0) / shares.min(axis=0)))
    least, most = datum("bench").band(nu)["capacity"]
    assert float(np.max(most / least)) == pytest.approx(apart, rel=0.06)
