"""Two on one shaft as an arrangement: twins, shares, what is deducted from whom, files."""

import json

import numpy as np
import pytest

import converter_match as cm
from converter_match.components.arrangement import Arrangement, LockUpClutch
from converter_match.components.load import Conveyor
from converter_match.components.parallel import Parallel
from converter_match.errors import InputError
from converter_match.judgement.arrangement.solve import solve_arranged
from converter_match.judgement.match.solve import solve
from converter_match.library.read import read_arrangement
from converter_match.library.shipped import find
from converter_match.library.write import component_text, write_component
from tests.examples import RPM, converter, engine
from tests.load_examples import load

SHIPPED = ("two-pairs-on-one-shaft", "two-engines-one-converter", "two-converters-one-engine")


def arranged(couples="pairs", own=None, unit=None, hydraulic_torque=0.0, site=None, **changes):
    of = Arrangement(
        id="two", name="Two", source="a test", parallel=Parallel(couples=couples, **changes)
    )
    return solve_arranged(
        own or engine(), unit or converter(), of, hydraulic_torque=hydraulic_torque, site=site
    )


def rows(result):
    return result.to_dict()["arrangement"]["parts"]["parallel"]["rows"]


def test_twins_give_twice_the_torque_of_one_at_every_speed():
    result = arranged()
    stall = result.match.stall
    first, *_ = rows(result)
    assert first["shaft_torque_nm"] == pytest.approx(2.0 * stall.turbine_torque, rel=1e-9)
    assert first["engine_speeds_rpm"] == pytest.approx([stall.engine_speed / RPM] * 2)
    assert first["shares_percent"] == pytest.approx([50.0, 50.0])
    assert len(rows(result)) == 20
    json.dumps(result.to_dict(), allow_nan=False)
    assert "pair 2" in result.text("us", 90)


@pytest.mark.parametrize("couples", ["pairs", "engines", "converters"])
def test_what_goes_in_comes_out_or_heats(couples):
    result = arranged(couples, efficiency=(0.97, 0.95))
    run = result.part("parallel").detail
    known = np.isfinite(run.torque)
    assert known.sum() > 15
    assert np.all(run.heat[known] > 0.0)
    assert run.output[known] == pytest.approx(run.torque[known] * run.speed[known])
    if couples == "engines":
        # Both engines at the impeller are what the converter absorbs.
        taken = run.units[0].matches(run.speed).reached("up").input_torque
        assert (run.parts[0] + run.parts[1])[known] == pytest.approx(taken[known], rel=1e-9)
    else:
        assert (run.parts[0] + run.parts[1])[known] == pytest.approx(run.torque[known], rel=1e-9)


def test_hydraulics_are_deducted_from_the_first_engine_only():
    run = arranged(hydraulic_torque=150.0).part("parallel").detail
    assert run.parts[0][0] < run.parts[1][0]
    alone = solve(engine(), converter()).stall.turbine_torque
    assert run.parts[1][0] == pytest.approx(alone, rel=1e-9)


def test_the_second_engine_breathes_the_same_air():
    site = cm.Site.at("2500 m", "30 degC")
    own = cm.read("six-cylinder-7l-185kw")
    here = arranged(own=own, site=site).part("parallel").detail
    assert here.parts[1][0] == pytest.approx(here.parts[0][0], rel=1e-9)
    assert here.torque[0] < arranged(own=own).part("parallel").detail.torque[0]


def test_an_uneven_share_and_the_end_of_the_slower_pair_are_warned_of():
    codes = [note.code for note in arranged(ratio=(1.0, 1.4)).notes]
    assert {"parallel-uneven", "parallel-ends", "parallel-stiff"} <= set(codes)
    even = [note.code for note in arranged().notes]
    assert not {"parallel-uneven", "parallel-ends"} & set(even)


def test_an_engine_that_is_lugged_down_is_a_limit():
    result = arranged(own=engine(torque=[60.0] * 8))
    assert result.fails
    assert "parallel-no-stall" in [note.code for note in result.notes]


def test_two_pairs_run_twice_the_load_at_the_speed_of_one():
    result = arranged()
    one = cm.over_load(result.match, load(Conveyor(torque=500.0)))
    both = cm.over_load(result, load(Conveyor(torque=1000.0)))
    assert both.carried[0].turbine_speed == pytest.approx(one.carried[0].turbine_speed, rel=1e-9)
    assert not both.alone
    [row] = both.to_dict()["load"]["equilibria"]
    assert len(row["engine_speeds_rpm"]) == 2
    assert "shaft torque" in both.text()


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: Parallel(couples="engines", converter=converter()), "one converter only"),
        (lambda: Parallel(couples="converters", engine=engine()), "one engine only"),
        (lambda: Parallel(couples="converters", ratio=(1.0, 1.1)), "equal gears"),
        (lambda: Parallel(couples="pairs", ratio=(1.0,)), "one number for each"),
        (lambda: Parallel(couples="pairs", ratio=(1.0, -1.0)), "parallel.ratio (row 2)"),
        (lambda: Parallel(couples="pairs", efficiency=(1.0, 1.1)), "parallel.efficiency (row 2)"),
        (lambda: Parallel(couples="twins"), "pairs | engines"),
        (
            lambda: Arrangement(
                id="a", name="a", source="a", parallel=Parallel(couples="pairs"),
                lock_up=LockUpClutch(engage_by="speed-ratio", engage=0.9, release=0.8),
            ),
            "[parallel] alone",
        ),
    ],
)  # fmt: skip
def test_what_cannot_stand_together_is_refused(make, says):
    with pytest.raises(InputError) as refused:
        make()
    assert says in str(refused.value)


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_file_survives_writing(name, tmp_path):
    of = read_arrangement(find("arrangements", name))
    assert "invented" in of.source
    write_component(of, tmp_path / "again.toml")
    assert read_arrangement(tmp_path / "again.toml") == of
    assert "[parallel]" in component_text(of)


def test_a_file_beside_is_found_and_a_name_that_is_none_is_refused(tmp_path):
    cm.write(cm.read("six-cylinder-7l-185kw").replace(id="mine"), tmp_path / "second.toml")
    text = find("arrangements", SHIPPED[0]).read_text(encoding="utf-8")
    path = tmp_path / "own.toml"
    path.write_text(text.replace('"six-cylinder-7l-185kw"', '"second.toml"'), encoding="utf-8")
    assert read_arrangement(path).parallel.engine.id == "mine"
    path.write_text(text.replace('"six-cylinder-7l-185kw"', '"six-cylinder-7l"'), encoding="utf-8")
    with pytest.raises(InputError) as refused:
        read_arrangement(path)
    said = str(refused.value)
    assert "six-cylinder-7l-185kw" in said
    assert "own.toml" in said
    assert "parallel.engine" in said
    assert "\n" not in said
