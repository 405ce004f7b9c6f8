"""A match with an estimated converter: exact at stall, least and most beyond it, and warnings."""

import numpy as np
import pytest

from converter_match.components.converter import ConverterLimits
from converter_match.components.converter_estimate import estimated_converter
from converter_match.components.stall_datum import StallDatum
from converter_match.judgement.arrangement.solve import solve_arranged
from converter_match.judgement.match.solve import solve
from converter_match.library.read import read_arrangement, read_converter, read_engine
from converter_match.library.shipped import shipped
from converter_match.library.write import component_text, write_component
from tests.examples import RPM, engine


def known(ratio=(2.1, 2.3), speed=1900 * RPM, torque=880.0, **more):
    datum = StallDatum(engine_speed=speed, input_torque=torque, torque_ratio=ratio)
    fields = {"id": "known", "name": "Known", "source": "test", "stator": "one-way"}
    return estimated_converter(datum, **(fields | more))


def test_an_engine_that_gives_the_torque_of_the_datum_stalls_at_its_speed():
    # Net torque as in the datum, so the match is the datum itself, with every shape.
    bare = engine(accessories=())
    torque = float(np.interp(1900.0, [1800.0, 2000.0], [940.0, 880.0]))
    unit = known(torque=torque)
    result = solve(bare, unit)
    for item in (result, *result.alternatives):
        assert item.stall.engine_speed == pytest.approx(1900 * RPM, rel=2e-3)
    speeds = [item.stall.engine_speed for item in (result, *result.alternatives)]
    assert max(speeds) == pytest.approx(min(speeds), rel=1e-12)


def test_least_and_most_are_those_of_matches_with_each_alternative():
    result = solve(engine(), known())
    [block] = [item for item in result.blocks() if item.name == "estimate" and item.title]
    rows = {row["code"]: row for row in block.records()}
    for code, pick in (("coupling", "coupling"), ("stall", "stall")):
        powers = [getattr(item, pick).output_power / 1e3 for item in (result, *result.alternatives)]
        assert rows[code]["output_power_kw"] == pytest.approx([min(powers), max(powers)])
        assert rows[code]["found_in"] == f"{len(powers)} of {len(powers)}"


def test_a_limit_that_only_another_shape_exceeds_is_warned_of():
    bare = engine()
    plain = solve(bare, known())
    highest = [
        max(item.locus.points.input_torque[item.locus.points.found])
        for item in (plain, *plain.alternatives)
    ]
    assert max(highest) > highest[0] * (1 + 1e-6)
    limit = 0.5 * (highest[0] + max(highest))
    limited = known(limits=ConverterLimits(input_torque=float(limit)))
    result = solve(bare, limited)
    [said] = [note for note in result.notes if note.code == "estimate-may-warn"]
    assert "limit input torque" in dict(said.values)["items"]
    assert "limit-input-torque" not in [note.code for note in result.notes]


@pytest.mark.slow
def test_a_torque_divider_divides_every_alternative():
    arrangement = read_arrangement(shipped("arrangements")["dozer-torque-divider"])
    large = read_engine(shipped("engines")["six-cylinder-15l-400kw"])
    near = read_converter(shipped("converters")["single-stage-420mm"])
    stall = solve(large, near).stall
    unit = known(speed=stall.engine_speed, torque=stall.input_torque)
    result = solve_arranged(large, unit, arrangement).match
    assert len(result.alternatives) == len(unit.alternatives)
    least, most = result.converter.band(0.0)["torque_ratio"]
    assert least < result.converter.torque_ratio_at(0.0) < most


@pytest.mark.slow
def test_its_file_holds_the_datum_and_reads_back_as_the_same_estimate(tmp_path):
    for unit in (known(), known((2.2, 2.2)), known(None), known(profile_diameter=0.345)):
        text = component_text(unit)
        assert "[stall_datum]" in text
        assert "[characteristic]" not in text
        path = tmp_path / "known.toml"
        write_component(unit, path, overwrite=True)
        assert read_converter(path) == unit
