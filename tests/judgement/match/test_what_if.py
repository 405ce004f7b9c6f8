"""What if one thing changes: the table's look-up against closed forms and against the package."""

import math
from dataclasses import replace

import numpy as np
import pytest

from converter_match import shipped
from converter_match.components.site import Site
from converter_match.judgement.match.solve import solve
from converter_match.judgement.match.what_if import MOST_OFF, what_if
from converter_match.library.read import read_converter, read_engine
from tests.examples import RPM, converter
from tests.study_examples import flat_engine


@pytest.fixture(scope="module")
def flat():
    return what_if(solve(flat_engine(500.0), converter()))


@pytest.fixture(scope="module")
def demo():
    return what_if(
        solve(
            read_engine(shipped("engines")["six-cylinder-7l-185kw"]),
            read_converter(shipped("converters")["single-stage-345mm-tight"]),
            site=Site.at("1500 m", "30 degC"),
        )
    )


def test_on_a_flat_curve_stall_speed_goes_with_the_root(flat):
    # K = 60 rpm/sqrt(N.m): 60 sqrt((0.9 x 500 - 50) / 0.8)
    [row] = flat.looked_up(0.9, 0.8, 50.0)
    assert row[0] == pytest.approx(60 * math.sqrt((450 - 50) / 0.8) * RPM, rel=1e-3)
    [row] = flat.looked_up(1.0, 1.0, 0.0)
    assert row[0] == pytest.approx(60 * math.sqrt(500) * RPM, rel=1e-3)


@pytest.mark.slow
def test_no_setting_of_the_sliders_is_off_by_more_than_is_said(demo):
    assert demo.off <= MOST_OFF
    rng = np.random.default_rng(77)
    worst = 0.0
    for _ in range(25):
        torque, capacity = rng.uniform(0.8, 1.2), rng.uniform(0.7, 1.4)
        share, pump = rng.choice(demo.air_factor), rng.uniform(*demo.pump_ends)
        [row] = demo.looked_up(torque * share, capacity, pump)
        engine = demo.result.engine
        unit = demo.result.converter
        weaker = replace(demo.result.supply, constant=demo.result.supply.constant + pump,
                         factor=demo.result.supply.factor * torque * share)  # fmt: skip
        for k in (0, 12, int(np.argmin(np.abs(demo.speed_ratio - unit.coupling)))):
            # Another way to the same match: halving between idle and high idle.
            need = capacity * demo.capacity[k]
            low, high = weaker.domain
            if weaker.torque(low) <= need * low**2:
                assert np.isnan(row[k])
                continue
            for _ in range(60):
                middle = 0.5 * (low + high)
                ahead = float(weaker.torque(middle)) > need * middle**2
                low, high = (middle, high) if ahead else (low, middle)
            worst = max(worst, abs((row[k] / low) ** 3 - 1))
        assert engine.rated_speed > 0
    assert worst <= 1.5 * demo.off + 1e-4


def test_altitude_is_counted_from_where_the_pair_is(demo):
    here = int(np.searchsorted(demo.altitude, demo.altitude_now))
    assert demo.altitude_now == 1500.0
    assert demo.air_factor[here] == pytest.approx(1.0, rel=1e-12)
    assert np.all(np.diff(demo.air_factor) <= 1e-12)
    at_3000 = solve(demo.result.engine, demo.result.converter, site=Site.at("3000 m", "30 degC"))
    share = float(demo.air_factor[np.searchsorted(demo.altitude, 3000.0)])
    [row] = demo.looked_up(share, 1.0, 0.0)
    assert row[0] == pytest.approx(at_3000.stall.engine_speed, rel=1e-3)


@pytest.mark.slow
def test_air_that_cannot_be_told_of_leaves_its_slider_out():
    # Its data say nothing of how it breathes.
    engine = read_engine(shipped("engines")["six-cylinder-9l-240kw"])
    table = what_if(solve(engine, converter()))
    assert table.altitude.size == 0
    assert [note.code for note in table.notes] == ["what-if-no-air"]
