"""What is assumed beyond speed ratio 1, against the three tables that are published."""

import csv

import numpy as np
import pytest

from converter_match.library.shipped import data_folder
from converter_match.physics.arrangement.overrun import with_overrun
from converter_match.physics.arrangement.overrun_shapes import PUBLISHED, overrun_shape
from tests.examples import converter

TOPIC = "Overrun"
LABORATORY = (
    "National Renewable Energy Laboratory (US), data file of May 2000 (drive and coast tables of "
    "one converter)"
)
STALL_SPEED, STALL_TORQUE = 1444.0, 100.0  # rpm, N.m: first row of the drive table


def columns(name):
    """Columns of numbers of a published file, by their heading."""
    with (data_folder() / "published" / name).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return rows, {
        key: np.array([float(row[key]) for row in rows])
        for key in rows[0]
        if key not in ("table", "tag", "source")
    }


def coasting():
    """(speed ratio, capacity over that at stall) of the coasting converter, from its rows."""
    _, table = columns("coast_table_80nm.csv")
    ratio, speed = table["input_over_output_speed"], table["output_speed_rpm_at_minus_80Nm_output"]
    # What reaches the impeller is 0.987 of the turbine's 80 N.m.
    share = -(0.987 * 80.0) / (ratio * speed) ** 2 / (STALL_TORQUE / STALL_SPEED**2)
    return 1.0 / ratio, share


@pytest.mark.parametrize(
    ("name", "table"),
    [("type-approval model", "eu-generic"), ("guideline sample", "guideline-sample")],
)
def test_shapes_are_the_rows_of_their_tables(name, table):
    rows, values = columns("overrun_tables.csv")
    mine = np.array([row["table"] == table for row in rows])
    nu, share = PUBLISHED[name]
    assert nu.tolist() == [1.0, *values["speed_ratio"][mine]]
    given = values["pump_torque_over_stall_pump_torque_same_pump_speed"][mine]
    assert share.tolist() == [0.0, *given]


def test_shape_of_the_coasting_converter_follows_from_its_rows(published_case):
    nu, share = coasting()
    slips = (nu > 1.0) & (nu <= 1.0 / 0.3 + 1e-9)
    assert PUBLISHED["coasting test"][0][1:] == pytest.approx(nu[slips])
    published_case(
        topic=TOPIC, tag="computed", source=LABORATORY,
        quantity="impeller torque over that at stall, same impeller speed",
        inputs="output speed at -80 N·m, input/output speed ratio 0.9, 0.7, 0.5; torque ratio "
        "1/0.987; stall 1444 rpm at 100 N·m",
        published=np.interp(1.0 / np.array([0.9, 0.7, 0.5]), nu[slips], share[slips]).tolist(),
        ours=np.interp(1.0 / np.array([0.9, 0.7, 0.5]), *PUBLISHED["coasting test"]).tolist(),
        relative=1e-9, why="arithmetic",
    )  # fmt: skip


def test_every_published_table_lies_in_the_band_that_is_assumed(published_case):
    # The middle is their geometric mean: the tables lie within a factor of 2.7 of it.
    nu = np.array([1.1, 1.25, 1.5, 2.0])
    middle = np.interp(nu, *overrun_shape())
    apart = [np.interp(nu, *table) / middle for table in PUBLISHED.values()]
    published_case(
        topic=TOPIC, tag="seen",
        source="type-approval model of a European Commission research centre; guideline sample of "
        "a transmission research association; " + LABORATORY,
        quantity="assumed capacity beyond speed ratio 1 lies between the tables",
        inputs="speed ratios 1.1, 1.25, 1.5, 2",
        published=f"tables from {np.min(apart):.1f} to {np.max(apart):.1f} times the middle",
        ours=f"middle and band of {len(PUBLISHED)} tables",
        agrees=bool(np.min(apart) < 1.0 < np.max(apart) < 2.0), why="a span, not a figure",
    )  # fmt: skip


def test_mirroring_the_drive_table_overstates_its_own_coast_table():
    # The same converter was tested both ways: C(1/nu) nu^2 of its drive rows against coasting.
    _, drive = columns("drive_table_100nm.csv")
    nu, share = coasting()
    for ratio in (0.90, 0.85, 0.80):
        speed = np.interp(ratio, drive["speed_ratio"], drive["input_speed_rpm_at_100Nm"])
        mirrored = -((STALL_SPEED / speed) ** 2) / ratio**2
        assert 1.2 < mirrored / np.interp(1.0 / ratio, nu, share) < 1.8


def test_a_converter_without_such_rows_takes_the_middle():
    unit = with_overrun(converter(), assume=True)
    nu, share = overrun_shape()
    assert unit.capacity_at(nu) == pytest.approx(share * unit.capacity_at(0.0), rel=1e-12)
