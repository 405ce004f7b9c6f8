"""A library against a study: the order follows the criteria."""

import pytest

from converter_match.errors import InputError
from converter_match.judgement.verdict.ranking import rank_library
from converter_match.study.study import Combination, Limits, Study
from tests.examples import RPM, converter, engine

GOOD = converter(id="good")
LOOSE = converter(id="loose", capacity=GOOD.capacity * 0.4)
NO_STALL = converter(
    id="no-stall", speed_ratio=GOOD.speed_ratio[1:], torque_ratio=GOOD.torque_ratio[1:],
    capacity=GOOD.capacity[1:],
)  # fmt: skip


def study(**changes):
    own = Combination(id="new", name="New", engine=engine(), converter=LOOSE)
    return Study(id="s", name="S", source="test", candidates=(own,), **changes)


def test_the_one_with_fewest_failures_is_first_and_the_refused_last():
    found = rank_library(study(), [GOOD, NO_STALL])
    assert [row.converter.id for row in found.rows] == ["good", "loose", "no-stall"]
    failed = [len(row.assessment.failed_shoulds) for row in found.rows[:2]]
    assert failed[0] < failed[1]
    assert "does not include stall" in found.rows[2].refused
    assert "does not include stall" in found.text()


def test_no_winner_where_a_must_fails_with_all():
    limits = Limits(engine_speed=2000 * RPM)  # high idle is 2380
    found = rank_library(study(limits=limits), [GOOD])
    assert found.winner is None
    assert found.to_dict()["winner"] is None
    assert not any(row.best for row in found.rows)


def test_the_candidate_is_named_and_must_be_there():
    assert rank_library(study(), [], "new").candidate == "new"
    with pytest.raises(InputError, match="did you mean 'new'"):
        rank_library(study(), [], "nwe")


def test_the_table_and_the_frame_say_the_same():
    ranking = rank_library(study(), [GOOD, NO_STALL])
    frame = ranking.to_frame("")
    assert list(frame["converter"]) == ["good", "loose", "no-stall"]
    assert frame["stall_turbine_torque_nm"][0] == ranking.rows[0].stall_torque
    lines = ranking.text().splitlines()
    assert [line.split()[1] for line in lines[3:6]] == ["good", "loose", "no-stall"]
    assert lines[5].split()[2] == "refused"
