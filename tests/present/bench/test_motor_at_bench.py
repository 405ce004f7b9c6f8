"""A motor at the bench: chosen like an engine, drawn at both torques, compared where it can be."""

import numpy as np
import pytest

from converter_match.errors import InputError
from converter_match.judgement.motor.solve import solve_motor
from converter_match.library.write import component_text
from converter_match.present.bench.app import MatchBench
from converter_match.present.bench.keeping import Keeper
from converter_match.present.bench.shelf import load_shelf
from converter_match.present.bench.state import BenchState, Setting
from converter_match.present.bench.view import view
from tests.motors import motor

CONVERTER = "single-stage-260mm"
TRUCK = Setting(engine="lift-truck-80v-30kw", converter=CONVERTER)
ENGINE = Setting(engine="four-cylinder-2l5-45kw", converter=CONVERTER)


@pytest.fixture(scope="module")
def shelf():
    return load_shelf()


@pytest.fixture(scope="module")
def both(shelf):
    return view(BenchState(a=ENGINE, b=TRUCK), shelf)


def test_own_and_shipped_motors_stand_beside_the_engines_and_are_marked(tmp_path):
    (tmp_path / "mine.toml").write_text(component_text(motor(id="mine")), encoding="utf-8")
    offered = load_shelf(tmp_path).movers()
    assert offered[0] == ("own: motor: Motor for tests", "mine")
    assert ENGINE.engine in dict(offered).values()
    assert dict(offered)["own: motor: Motor for tests"] == "mine"
    assert any(words.startswith("motor: ") and id == TRUCK.engine for words, id in offered)


def test_a_motor_with_an_engines_id_is_still_to_be_had(tmp_path):
    text = component_text(motor(id=ENGINE.engine))
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    shelf = load_shelf(tmp_path)
    assert shelf.mover(f"{ENGINE.engine} (motor)").name == "Motor for tests"
    assert shelf.mover(ENGINE.engine).name != "Motor for tests"


def test_a_constant_torque_motor_stalls_at_k_root_t_at_both_torques(shelf):
    # Closed form: omega = sqrt(T / C), C the converter's capacity at stall.
    own, mover, _ = shelf.with_own(motor(peak_time=60.0), shelf.converter(CONVERTER))
    shown = view(BenchState(a=Setting(engine=mover, converter=CONVERTER)), own)
    capacity = float(shelf.converter(CONVERTER).capacity_at(0.0))
    marks = {mark.name: mark for mark in shown.scene.panels[0].marks}
    for name, torque in (("stall, peak", 200.0), ("stall, continuous", 100.0)):
        speed = np.sqrt(torque / capacity) * 30.0 / np.pi
        if speed < 1500.0:  # above its corner the torque is no longer constant
            assert marks[name].x == pytest.approx(speed, rel=1e-3)
            assert marks[name].y == pytest.approx(torque, rel=1e-3)
    assert any(speed in marks for speed in ("stall, peak", "stall, continuous"))


def test_both_torques_are_drawn_and_named(both):
    lines = {line.id: line for panel in both.scene.panels for line in panel.lines}
    assert lines["b/gross"].label.startswith("B peak torque")
    assert lines["b/net"].label.startswith("B continuous torque")
    for key in ("torque", "efficiency", "heat"):
        assert lines[f"b/{key}-peak"].stroke == f"{key}-dashed"
        assert lines[f"b/{key}-continuous"].stroke == key
    assert both.scene.panels[0].x_label.startswith("engine or motor")


def test_candidate_less_present_and_blank_with_a_reason(both):
    rows = {row.name: row for row in both.figures}
    stall = rows["stall speed"]
    assert float(stall.difference) == float(stall.b) - float(stall.a)
    limit = rows["governed limit, turbine speed"]
    assert (limit.b, limit.difference) == ("not of a motor", "")
    held = rows["stall held by the winding, cold"]
    assert (held.a, held.difference) == ("not of an engine", "")
    assert float(held.b) > 0.0
    assert any(
        side == "b" and note.code == "figures-of-an-engine-do-not-apply"
        for side, note in both.notes
    )


def test_controls_that_do_not_apply_are_off_and_the_voltage_moves_the_match(shelf, tmp_path):
    live = MatchBench(shelf, BenchState(a=ENGINE), keeper=Keeper(tmp_path))
    c = live.controls
    assert c["voltage"] not in live._sliders.children
    c["engine"].value = TRUCK.engine
    assert c["altitude"].disabled
    assert "does not apply" in c["altitude"].tooltip
    assert c["voltage"] in live._sliders.children
    live.controls["voltage"].value = 72.0
    expected = solve_motor(shelf.mover(TRUCK.engine), shelf.converter(CONVERTER), voltage=72.0)
    assert live.match.peak.stall == expected.peak.stall
    live.controls["engine"].value = ENGINE.engine
    assert live.state.a.voltage is None
    assert not live.controls["altitude"].disabled
    assert live.last_error is None
    live.close()


def test_what_cannot_be_saved_with_a_motor_says_why(both, shelf, tmp_path):
    keeper, state = Keeper(tmp_path), BenchState(a=ENGINE, b=TRUCK)
    for content, why in (("study", "motor-study"), ("csv", "JSON")):
        with pytest.raises(InputError, match=why):
            keeper.save("x", content, both, state, shelf)
    assert not list(tmp_path.iterdir())
    keeper.save("x", "json", both, state, shelf)
    assert [path.name for path in tmp_path.iterdir()] == ["x.json"]
