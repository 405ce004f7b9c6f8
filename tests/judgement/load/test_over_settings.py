"""A pair over the settings of its converter, against matches of its members one by one."""

import pytest

from converter_match.components.load import Conveyor
from converter_match.errors import InputError
from converter_match.judgement.load.family import over_settings
from converter_match.judgement.load.load import over_load
from converter_match.judgement.match.solve import solve
from tests.examples import converter, engine
from tests.load_examples import family, load


def test_each_setting_is_the_match_of_its_own_converter_in_the_same_air():
    whole = family()
    done = over_settings(solve(engine(), whole, hydraulic_torque=60.0))
    assert [one.setting for one in done.each] == [0.0, 10.0]
    for one, member in zip(done.each, whole.members, strict=True):
        alone = solve(engine(), member, hydraulic_torque=60.0)
        assert one.match.stall.engine_speed == pytest.approx(alone.stall.engine_speed, rel=1e-12)
    rows = done.to_dict()["family"]["settings"]
    assert [row["characteristic"] for row in rows] == ["given", "given"]
    # Less capacity: the engine stalls faster.
    assert rows[1]["stall_speed_rpm"] > rows[0]["stall_speed_rpm"]


@pytest.mark.slow
def test_a_load_comes_to_its_own_speed_at_each_setting():
    belt = load(Conveyor(torque=500.0))
    done = over_settings(solve(engine(), family()), belt)
    rows = done.to_dict()["family"]["settings"]
    for row, one in zip(rows, done.each, strict=True):
        alone = over_load(one.match, belt).to_dict()["load"]["lines"][0]
        assert row["turbine_speed_rpm"] == pytest.approx(alone["turbine_speed_rpm"])


def test_a_setting_at_which_the_engine_is_lugged_down_is_named():
    done = over_settings(solve(engine(torque=[60.0] * 8), family()))
    assert {note.code for note in done.notes} >= {"setting-does-not-match"}
    assert done.to_dict()["family"]["settings"][0]["stall_speed_rpm"] is None
    done.text()


def test_a_converter_that_is_not_adjustable_is_refused():
    with pytest.raises(InputError, match="not adjustable"):
        over_settings(solve(engine(), converter()))
