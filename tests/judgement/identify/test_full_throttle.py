"""A full-throttle run made by hand: what was put into it comes out, and nothing is drawn on."""

import numpy as np
import pytest

from converter_match.components.full_throttle import FullThrottleRun
from converter_match.errors import InputError
from converter_match.judgement.identify.full_throttle import FirstGear, RoadAssumed
from converter_match.library.published_run import published
from tests.examples import converter

MASS, REDUCTION, EFFICIENCY = 2500.0, 20.0, 0.92
ROAD = RoadAssumed(mass=MASS)


def made(efficiency=EFFICIENCY, second=13.0):
    """A run of an engine with one torque, 400 N.m, in two gears of 20 and 13 rad/m."""
    unit = converter()
    rows = []
    for reduction, ratios in ((REDUCTION, np.linspace(0.1, 0.96, 40)),
                              (second, np.linspace(0.8, 0.96, 20))):  # fmt: skip
        omega = np.sqrt(400.0 / unit.capacity_at(ratios))
        speed = ratios * omega / reduction
        force = efficiency * reduction * unit.torque_ratio_at(ratios) * 400.0
        drag = 0.012 * MASS * 9.80665 + 0.5 * 1.225 * 1.3 * speed**2
        rows.append((omega, speed, ratios, (force - drag) / (1.03 * MASS)))
    omega, speed, ratios, acceleration = np.concatenate(rows, axis=1)
    return FullThrottleRun(
        id="made", name="Made", source="made for a test", time=np.arange(60) / 4.0,
        engine_speed=omega, road_speed=speed, speed_ratio=ratios, acceleration=acceleration,
    )  # fmt: skip


@pytest.fixture(scope="module")
def first():
    return FirstGear(made(), converter(), ROAD, (0.0, 9.75))


def test_efficiency_and_torque_that_were_put_in_come_out(first):
    assert first.reduction == pytest.approx(REDUCTION, rel=1e-12)
    assert first.efficiency == pytest.approx(EFFICIENCY, rel=1e-9)
    assert first.scatter == pytest.approx(0.0, abs=1e-9)
    assert first.torque[first.inside] == pytest.approx(np.full(40, 400.0), rel=1e-9)
    assert np.isnan(first.torque[~first.inside]).all()
    # Beyond the speeds of the first gear the ends are held.
    assert first.torque_at([0.0, 1e4]) == pytest.approx([400.0, 400.0], rel=1e-6)


def test_next_gear_of_the_same_engine_starts_on_the_run_and_takes_no_force_from_it(first):
    own = first.next_gear(10.0, 14.75)
    assert own.reduction == pytest.approx(13.0, rel=1e-12)
    # Its times are not those of its accelerations: only the first row is laid over.
    speed, engine = own.foretold
    assert speed[0] == pytest.approx(first.run.road_speed[40], rel=1e-6)
    assert engine[0] == pytest.approx(first.run.engine_speed[40], rel=0.005)
    slower = FirstGear(
        first.run.replace(acceleration=np.where(first.inside, first.run.acceleration, 0.0)),
        converter(), ROAD, (0.0, 9.75),
    ).next_gear(10.0, 14.75)  # fmt: skip
    assert slower.foretold[0] == pytest.approx(speed)


def test_rows_near_speed_ratio_one_have_no_part_in_the_efficiency(first):
    off = first.run.replace(
        acceleration=np.where(first.run.speed_ratio > 0.8, 0.0, first.run.acceleration)
    )
    assert FirstGear(off, converter(), ROAD, (0.0, 9.75)).efficiency == first.efficiency


def test_every_number_says_whether_it_is_measured_assumed_or_fitted(first):
    rows = {row["key"]: row["origin"] for row in first.to_dict()["first_gear"]}
    assert rows["drag_area"] == "assumed"
    assert rows["reduction"] == "measured"
    assert rows["efficiency"] == "fitted"
    assert {note.code for note in first.assumptions} == {
        "road-assumed", "engine-ends-held", "inertia-in-fit",
    }  # fmt: skip


def test_run_that_is_too_short_or_not_a_run_is_refused(first):
    with pytest.raises(InputError, match="too few rows"):
        FirstGear(first.run, converter(), ROAD, (100.0, 200.0)).reduction  # noqa: B018
    with pytest.raises(InputError, match="do not rise"):
        first.run.replace(time=np.zeros(60))
    with pytest.raises(InputError, match="road_speed"):
        first.run.replace(road_speed=[1.0, 2.0])
    with pytest.raises(InputError, match="acceleration"):
        first.run.replace(acceleration=np.full(60, np.nan))


def test_published_parts_are_found_by_name():
    assert published("full_throttle_run").time.size == 79
    assert published("converter_273mm").stator == "one-way"
    with pytest.raises(InputError, match="did you mean 'converter_273mm'"):
        published("converter_273")
