"""What the bench shows of a pair: curves, points, guides and what is said where there is none."""

from dataclasses import replace

import numpy as np
import pytest

from converter_match.judgement.match.solve import solve
from converter_match.present.bench.exports import Exports
from converter_match.present.bench.shown import mover_name, shown
from tests.examples import RPM, converter, engine
from tests.study_examples import flat_engine, loose


def test_a_flat_engine_is_shown_with_its_torque_its_points_and_its_speeds():
    # 900 N m at every speed up to the governor, K = 60 rpm/sqrt(N m) at stall, 82 at coupling.
    seen = shown(solve(flat_engine(), converter()))
    assert [each.stroke for each in seen.supplied] == ["gross", "net"]
    for each in seen.supplied:
        below = each.speed < 2200 * RPM
        assert each.torque[below] == pytest.approx(900.0)
        assert each.torque[-1] < 1.0
        assert each.speed[0] == pytest.approx(800 * RPM)
        assert each.speed[-1] == pytest.approx(2380 * RPM, rel=1e-3)
    points = {code: point for code, _, point, _ in seen.points}
    assert points["stall"].engine_speed == pytest.approx(60 * 900**0.5 * RPM, rel=1e-6)
    assert list(points) == ["stall", "coupling", "governed_limit"]
    # 82 sqrt(900) = 2460 rpm is beyond the governor: the pair meets on its droop line.
    assert 2200 * RPM < points["coupling"].engine_speed < 2380 * RPM
    assert points["governed_limit"].engine_speed == pytest.approx(2200 * RPM)
    assert seen.guides == (
        (800 * RPM, "low idle"), (2200 * RPM, "rated"), (2380 * RPM, "high idle"),
    )  # fmt: skip
    assert (seen.no_stall, seen.also) == ("", "")
    assert (seen.mover, seen.mover_id) == ("Test engine", "test-engine")
    [locus] = seen.loci
    assert (locus.name, locus.dashed) == ("", False)
    # Efficiency is torque ratio times speed ratio: 80 % between 0.5 and 0.6, 1.43 x 0.6 = 0.858.
    assert 0.5 < seen.ranges[0].low < 0.6
    assert {item.level for item in seen.ranges} == {0.8}


def test_gross_is_the_rating_in_the_air_of_the_site_and_net_what_accessories_leave():
    result = solve(engine(), converter())
    gross, net = shown(result).supplied
    assert np.interp(1400 * RPM, gross.speed, gross.torque) == pytest.approx(1000.0, rel=1e-3)
    # A fan of 11 kW with the cube of speed and a pump of 3 kW with its power 1.4, at 2200 rpm.
    share = 1400 / 2200
    lost = (11e3 * share**3 + 3e3 * share**1.4) / (1400 * RPM)
    assert np.interp(1400 * RPM, net.speed, net.torque) == pytest.approx(1000.0 - lost, rel=1e-3)


def test_where_stall_is_on_the_governor_it_is_one_point_and_said():
    result = solve(flat_engine(), loose(90.0))  # 90 sqrt(900) = 2700 rpm: above high idle
    seen = shown(result)
    stall = next(row for row in seen.points if row[0] == "stall")
    assert "governed_limit" not in [row[0] for row in seen.points]
    assert stall[3] == seen.also == result.governor_words != ""


def test_a_pair_that_does_not_meet_says_why():
    weak = shown(solve(flat_engine(100.0), converter()))
    # 60 sqrt(100) = 600 rpm is below low idle.
    assert weak.no_stall == "the engine cannot hold idle in gear"
    assert weak.also == ""
    assert "stall" not in [row[0] for row in weak.points]
    assert mover_name(solve(flat_engine(100.0, name="Weak"), converter())) == "Weak"


def test_exports_say_what_is_written_and_what_waits():
    queue = Exports(changed=lambda: None)
    assert queue.words() == ""
    assert replace(queue, waiting=["a"], last="saved").words() == "writing a …"
    assert replace(queue, waiting=["a", "b", "c"]).words() == "writing a … then b, c"
    assert replace(queue, last="saved: a").words() == "saved: a"


def test_without_a_loop_an_export_is_done_at_once_and_told_once():
    told = []
    queue = Exports(changed=lambda: told.append(queue.last))
    queue.put("a", list, lambda write: f"saved {len(write())}")
    assert (queue.words(), told) == ("saved 0", ["saved 0"])
    queue.finish()
    assert queue.words() == "saved 0"
